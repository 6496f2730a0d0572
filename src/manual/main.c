/* main.c - Print what the build makes of the commands' tables: "page TEMPLATE" or "bash". */
#include <string.h>

#include "cli/commands.h"
#include "manual/write.h"

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "bash") == 0) {
        manual_write_bash(&command_lampread, stdout);
        return fflush(stdout) == 0 ? 0 : 1;
    }
    FILE *in = argc == 3 && strcmp(argv[1], "page") == 0 ? fopen(argv[2], "r") : NULL;
    if (in == NULL) {
        (void)fputs("usage: lampread-manual page TEMPLATE | bash\n", stderr);
        return 2;
    }
    manual_write_page(&command_lampread, in, stdout);
    (void)fclose(in);
    return fflush(stdout) == 0 ? 0 : 1;
}
