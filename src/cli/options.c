/* options.c - Commands and their options as tables: read, checked and explained from one place. */
#include "cli/options.h"

#include <getopt.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"

static const struct option_rule help_rule = {
    .name = "help", .letter = 'h', .help = "show this help"};

/* The command's tables in the form that getopt_long reads; val is the option's index, help comes
 * last. */
struct getopt_tables {
    struct option longs[OPTIONS_MAX + 2];
    char shorts[2 * OPTIONS_MAX + 4];
};

static void add_short(char **at, const struct option_rule *rule)
{
    if (rule->letter != 0) {
        *(*at)++ = rule->letter;
        if (rule->value != NULL) {
            *(*at)++ = ':';
        }
    }
}

static void make_tables(const struct command *command, struct getopt_tables *out)
{
    *out = (struct getopt_tables){0};
    char *at = out->shorts;
    *at++ = ':'; /* a missing value is told from an unknown option */
    for (size_t i = 0; i <= command->option_count; i++) {
        const struct option_rule *rule =
            i < command->option_count ? &command->option[i] : &help_rule;
        out->longs[i] = (struct option){
            .name = rule->name,
            .has_arg = rule->value != NULL ? required_argument : no_argument,
            .val = 256 + (int)i,
        };
        add_short(&at, rule);
    }
}

static const struct option_rule *rule_of(const struct command *command, int answer)
{
    for (size_t i = 0; i < command->option_count; i++) {
        if (answer == 256 + (int)i || (answer != 0 && answer == command->option[i].letter)) {
            return &command->option[i];
        }
    }
    return answer == 256 + (int)command->option_count || answer == help_rule.letter ? &help_rule
                                                                                    : NULL;
}

static enum lamp_err fail_unknown(const struct command *command, const char *word,
                                  struct lamp_error *error)
{
    const char *names[OPTIONS_MAX + 1];
    for (size_t i = 0; i < command->option_count; i++) {
        names[i] = command->option[i].name;
    }
    names[command->option_count] = help_rule.name;
    const char *bare = word + strspn(word, "-");
    char name[LAMP_PLACE_MAX];
    (void)snprintf(name, sizeof name, "%.*s", (int)strcspn(bare, "="), bare);
    const char *nearest = lamp_text_nearest(name, names, command->option_count + 1);
    if (nearest == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, word, "unknown option; --help lists them");
    }
    return lamp_fail(error, LAMP_BAD_USE, word, "unknown option; the nearest is --%s", nearest);
}

static enum lamp_err keep_option(const struct option_rule *rule, const char *value,
                                 struct arguments *out, struct lamp_error *error)
{
    if (rule == &help_rule) {
        out->wants_help = true;
        return LAMP_OK;
    }
    char place[LAMP_PLACE_MAX];
    (void)snprintf(place, sizeof place, "--%s", rule->name);
    if (!rule->repeats && options_has(out, rule->name)) {
        return lamp_fail(error, LAMP_BAD_USE, place,
                         "this option was given twice; once is expected");
    }
    if (out->option_count == OPTIONS_GIVEN_MAX) {
        return lamp_fail(error, LAMP_FULL, place, "more than %d options", OPTIONS_GIVEN_MAX);
    }
    out->option[out->option_count++] = (struct option_given){.rule = rule, .value = value};
    return LAMP_OK;
}

static enum lamp_err keep_answer(const struct command *command, int answer, const char *word,
                                 struct arguments *out, struct lamp_error *error)
{
    int told = answer == '?' || answer == ':' ? optopt : answer;
    const struct option_rule *rule = rule_of(command, told);
    if (answer == ':' && rule != NULL) {
        return lamp_fail(error, LAMP_BAD_USE, word, "a value is missing; expected %s", rule->value);
    }
    if (answer == '?' && rule != NULL) {
        return lamp_fail(error, LAMP_BAD_USE, word, "this option takes no value");
    }
    if (rule == NULL) {
        return fail_unknown(command, word, error);
    }
    return keep_option(rule, optarg, out, error);
}

static enum lamp_err count_operands(const struct command *command,
                                    const struct arguments *arguments, struct lamp_error *error)
{
    if (arguments->wants_help) {
        return LAMP_OK;
    }
    if (arguments->operand_count < command->least_operands) {
        return lamp_fail(error, LAMP_BAD_USE, command->name, "something is missing; expected %s",
                         command->operands);
    }
    if (arguments->operand_count > command->most_operands) {
        return lamp_fail(error, LAMP_BAD_USE, arguments->operand[command->most_operands],
                         "one word too many for 'lampread %s'", command->name);
    }
    return LAMP_OK;
}

enum lamp_err options_read(const struct command *command, int argc, char **argv,
                           struct arguments *out, struct lamp_error *error)
{
    struct getopt_tables tables;
    make_tables(command, &tables);
    struct arguments read = {0};
    opterr = 0;
    optind = 0; /* glibc: begin anew, whatever was scanned before */
    for (;;) {
        int before = optind > 0 ? optind : 1;
        int answer = getopt_long(argc, argv, tables.shorts, tables.longs, NULL);
        if (answer == -1) {
            break;
        }
        const char *word = argv[optind > before ? optind - 1 : before];
        if (answer == '?' || answer == ':') {
            word = argv[optind - 1];
        }
        enum lamp_err failed = keep_answer(command, answer, word, &read, error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    read.operand = argv + optind;
    read.operand_count = (size_t)(argc - optind);
    enum lamp_err failed = count_operands(command, &read, error);
    if (failed == LAMP_OK) {
        *out = read;
    }
    return failed;
}

const struct command *options_command(const struct command *command, const char *name,
                                      struct lamp_error *error)
{
    const char *names[OPTIONS_MAX];
    for (size_t i = 0; i < command->below_count; i++) {
        if (strcmp(command->below[i]->name, name) == 0) {
            return command->below[i];
        }
        names[i] = command->below[i]->name;
    }
    const char *nearest = lamp_text_nearest(name, names, command->below_count);
    struct lamp_text known = {0};
    for (size_t i = 0; i < command->below_count; i++) {
        lamp_text_add(&known, i > 0 ? ", %s" : "%s", names[i]);
    }
    if (nearest != NULL) {
        (void)lamp_fail(error, LAMP_BAD_USE, name, "unknown command; the nearest is '%s'", nearest);
    } else {
        (void)lamp_fail(error, LAMP_BAD_USE, name, "unknown command; there are %s",
                        known.failed ? "others" : known.at);
    }
    lamp_text_fini(&known);
    return NULL;
}

size_t options_count(const struct arguments *arguments, const char *name)
{
    size_t count = 0;
    for (size_t i = 0; i < arguments->option_count; i++) {
        count += strcmp(arguments->option[i].rule->name, name) == 0;
    }
    return count;
}

bool options_has(const struct arguments *arguments, const char *name)
{
    return options_count(arguments, name) > 0;
}

const char *options_each(const struct arguments *arguments, const char *name, size_t index)
{
    for (size_t i = 0; i < arguments->option_count; i++) {
        if (strcmp(arguments->option[i].rule->name, name) == 0 && index-- == 0) {
            return arguments->option[i].value;
        }
    }
    return NULL;
}

const char *options_value(const struct arguments *arguments, const char *name)
{
    return options_each(arguments, name, 0);
}

enum lamp_err options_number(const struct arguments *arguments, const char *name,
                             const double range[2], double *value, struct lamp_error *error)
{
    const char *text = options_value(arguments, name);
    if (text == NULL) {
        return LAMP_OK;
    }
    double read;
    if (!lamp_number_parse(text, &read) || read < range[0] || read > range[1]) {
        char place[LAMP_PLACE_MAX];
        (void)snprintf(place, sizeof place, "--%s", name);
        return lamp_fail(error, LAMP_BAD_USE, place, "'%s' is not a number from %g to %g", text,
                         range[0], range[1]);
    }
    *value = read;
    return LAMP_OK;
}

void options_offers(const char *offers, const char *value, char *out, size_t size)
{
    bool has_files = strstr(value, "FILE") != NULL || strstr(value, "SOURCE") != NULL;
    bool has_words = strchr(value, '|') != NULL &&
                     value[strspn(value, "abcdefghijklmnopqrstuvwxyz0123456789-|")] == '\0';
    (void)snprintf(out, size, "%s",
                   offers != NULL ? offers
                   : has_files    ? "@files"
                   : has_words    ? value
                                  : "");
    for (char *at = strchr(out, '|'); offers == NULL && at != NULL; at = strchr(at, '|')) {
        *at = ' ';
    }
}

static void explain_option(const struct option_rule *rule, FILE *out)
{
    char left[64];
    char letter[8] = "";
    if (rule->letter != 0) {
        (void)snprintf(letter, sizeof letter, "-%c, ", rule->letter);
    }
    (void)snprintf(left, sizeof left, "%s--%s %s", letter, rule->name,
                   rule->value != NULL ? rule->value : "");
    (void)fprintf(out, "  %-30s %s%s\n", left, rule->help, rule->repeats ? " (repeatable)" : "");
}

static void explain_below(const struct command *command, FILE *out)
{
    (void)fputs("\ncommands\n", out);
    for (size_t i = 0; i < command->below_count; i++) {
        const struct command *below = command->below[i];
        char left[64];
        (void)snprintf(left, sizeof left, "%s %s", below->name, below->operands);
        (void)fprintf(out, "  %-30s %s\n", left, below->summary);
    }
}

void options_explain(const struct command *command, const char *path, FILE *out)
{
    const char *operands = command->below != NULL ? "COMMAND" : command->operands;
    (void)fprintf(out, "%s\n\nusage: %s%s%s%s\n", command->summary, path,
                  operands[0] != '\0' ? " " : "", operands,
                  command->option_count > 0 ? " [OPTION]..." : "");
    if (command->below != NULL) {
        explain_below(command, out);
    }
    (void)fputs("\noptions\n", out);
    for (size_t i = 0; i < command->option_count; i++) {
        explain_option(&command->option[i], out);
    }
    explain_option(&help_rule, out);
    if (command->notes != NULL) {
        (void)fprintf(out, "\n%s\n", command->notes);
    }
}
