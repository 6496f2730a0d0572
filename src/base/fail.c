/* fail.c - Say what went wrong, once, where the caller will look for it. */
#include "base/fail.h"

#include <stdarg.h>
#include <stdio.h>

static void flatten(char *text)
{
    for (; *text != '\0'; text++) {
        if ((unsigned char)*text < ' ' || *text == 0x7f) {
            *text = ' ';
        }
    }
}

enum lamp_err lamp_fail(struct lamp_error *error, enum lamp_err code, const char *place, const char *format, ...)
{
    if (error == NULL) {
        return code;
    }
    struct lamp_error made;
    va_list rest;
    va_start(rest, format);
    (void)vsnprintf(made.sentence, sizeof made.sentence, format, rest);
    va_end(rest);
    (void)snprintf(made.place, sizeof made.place, "%s", place);
    flatten(made.place);
    flatten(made.sentence);
    *error = made;
    return code;
}

enum lamp_err lamp_fail_memory(struct lamp_error *error)
{
    return lamp_fail(error, LAMP_NO_MEMORY, "", "out of memory");
}
