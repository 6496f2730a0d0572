/* complain.c - The only place that prints errors and picks exit statuses. */
#include "cli/complain.h"

#include <stdarg.h>
#include <stdio.h>

static int status_of(enum lamp_err code)
{
    switch (code) {
    case LAMP_OK: return EXIT_TOLD;
    case LAMP_BAD_BOOK: return EXIT_BOOK;
    case LAMP_BAD_USE:
    case LAMP_FULL:
    case LAMP_CANNOT_WRITE: return EXIT_USAGE;
    case LAMP_END:
    case LAMP_NOT_YET:
    case LAMP_NO_MEMORY:
    case LAMP_BAD_SOURCE: break;
    }
    return EXIT_SOURCE;
}

static const char *sentence_of(enum lamp_err code, const struct lamp_error *error)
{
    if (error->sentence[0] != '\0') {
        return error->sentence;
    }
    return code == LAMP_NO_MEMORY ? "out of memory" : "this failed, and no reason was given";
}

int complain(enum lamp_err code, const struct lamp_error *error)
{
    const char *parting = error->place[0] != '\0' ? ": " : "";
    (void)fprintf(stderr, "lampread: %s%s%s\n", error->place, parting, sentence_of(code, error));
    return status_of(code);
}

void mention(const char *format, ...)
{
    va_list rest;
    va_start(rest, format);
    (void)fputs("lampread: ", stderr);
    (void)vfprintf(stderr, format, rest);
    (void)fputc('\n', stderr);
    va_end(rest);
}
