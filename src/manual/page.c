/* page.c - The commands' tables as a page of the manual, in mdoc. */
#include <assert.h>
#include <string.h>

#include "manual/write.h"

void manual_path(char out[PATH_BYTES_MAX], const char *above, const char *name)
{
    int size = snprintf(out, PATH_BYTES_MAX, "%s %s", above, name);
    assert(size > 0 && size < PATH_BYTES_MAX); /* the tables are ours */
    (void)size;
}

static const char marker[] = ".\\\" @commands@\n";

/* Text as roff has it: a blank line parts paragraphs, and nothing in it is taken for a request. */
static void write_text(const char *text, FILE *out)
{
    char after = '\0'; /* The character before. */
    for (bool begins = true; *text != '\0'; text++) {
        if (begins && (*text == '.' || *text == '\'')) {
            (void)fputs("\\&", out);
        }
        if (*text == '\\') {
            (void)fputs("\\e", out);
        } else if (text[0] == '\n' && text[1] == '\n') {
            (void)fputs("\n.Pp", out);
        } else if (text[0] == ' ' && after == '.') {
            (void)fputc('\n', out); /* roff sets the space after a sentence itself */
        } else {
            (void)fputc(*text, out);
        }
        begins = *text == '\n' || (*text == ' ' && after == '.');
        after = *text;
    }
    (void)fputc('\n', out);
}

static void write_option(const struct option_rule *rule, FILE *out)
{
    (void)fputs(".It", out);
    if (rule->letter != 0) {
        (void)fprintf(out, " Fl %c ,", rule->letter);
    }
    (void)fprintf(out, " Fl \\-%s", rule->name);
    if (rule->value != NULL) {
        (void)fprintf(out, " Ar %s", rule->value);
    }
    (void)fputc('\n', out);
    write_text(rule->help, out);
    if (rule->repeats) {
        (void)fputs("(repeatable)\n", out);
    }
}

static void write_command(const struct command *command, const char *path, FILE *out)
{
    (void)fprintf(out, ".Ss %s %s\n", path, command->operands);
    write_text(command->summary, out);
    if (command->notes != NULL) {
        (void)fputs(".Pp\n", out);
        write_text(command->notes, out);
    }
    if (command->option_count > 0) {
        (void)fputs(".Bl -tag -width Ds\n", out);
        for (size_t i = 0; i < command->option_count; i++) {
            write_option(&command->option[i], out);
        }
        (void)fputs(".El\n", out);
    }
}

/* NOLINTNEXTLINE(misc-no-recursion): as deep as commands stand below commands. */
static void write_below(const struct command *family, const char *path, FILE *out)
{
    for (size_t i = 0; i < family->below_count; i++) {
        const struct command *command = family->below[i];
        char name[PATH_BYTES_MAX];
        manual_path(name, path, command->name);
        if (command->below != NULL) {
            write_below(command, name, out);
        } else {
            write_command(command, name, out);
        }
    }
}

void manual_write_page(const struct command *root, FILE *in, FILE *out)
{
    char line[1024];
    while (fgets(line, sizeof line, in) != NULL) {
        if (strcmp(line, marker) == 0) {
            write_below(root, root->name, out);
        } else {
            (void)fputs(line, out);
        }
    }
}
