/* ask.c - Questions to a person at a terminal. */
#include "cli/ask.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

bool ask_can(void)
{
    return isatty(STDIN_FILENO) == 1 && isatty(STDOUT_FILENO) == 1;
}

bool ask(const char *question, char *out, size_t size)
{
    (void)printf("%s: ", question);
    (void)fflush(stdout);
    if (fgets(out, (int)size, stdin) == NULL) {
        (void)putchar('\n');
        return false;
    }
    size_t first = strspn(out, " \t");
    size_t length = strlen(out);
    while (length > first && strchr(" \t\r\n", out[length - 1]) != NULL) {
        length--;
    }
    out[length] = '\0';
    memmove(out, out + first, length - first + 1);
    return out[0] != '\0';
}
