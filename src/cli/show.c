/* show.c - A report on standard output, as suits whoever reads it, and the exit status that goes
 * with it. */
#include "cli/show.h"

#include <langinfo.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "cli/complain.h"

int show_columns(void)
{
    enum { COLUMNS = 80, COLUMNS_MAX = 120 };
    struct winsize size;
    if (isatty(STDOUT_FILENO) != 1 || ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 ||
        size.ws_col == 0) {
        return COLUMNS;
    }
    return size.ws_col < COLUMNS_MAX ? size.ws_col : COLUMNS_MAX;
}

/* Blocks are drawn where the user's locale can show them; the rest of the program stays in the C
 * locale. */
bool show_is_ascii(void)
{
    locale_t user = newlocale(LC_CTYPE_MASK, "", (locale_t)0);
    if (user == (locale_t)0) {
        return true;
    }
    bool is_ascii = strcmp(nl_langinfo_l(CODESET, user), "UTF-8") != 0;
    freelocale(user);
    return is_ascii;
}

bool show_has_colour(void)
{
    const char *no_colour = getenv("NO_COLOR");
    return isatty(STDOUT_FILENO) == 1 && (no_colour == NULL || no_colour[0] == '\0');
}

enum lamp_err show_report(const struct arguments *arguments, const struct lamp_report *report)
{
    if (options_has(arguments, "json")) {
        return lamp_report_write_json(report, stdout);
    }
    const struct lamp_text_rules rules = {.has_colour = show_has_colour(),
                                          .is_ascii = show_is_ascii(),
                                          .width = show_columns(),
                                          .explains = options_has(arguments, "explain")};
    return lamp_report_write_text(report, &rules, stdout);
}

int show_status(const struct lamp_report *report)
{
    bool decided = report->lamp_count > 0;
    for (size_t i = 0; i < report->lamp_count; i++) {
        decided &= report->lamp[i].match.verdict != LAMP_VERDICT_UNDECIDED;
    }
    return decided ? EXIT_TOLD : EXIT_UNDECIDED;
}
