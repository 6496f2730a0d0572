/* acc_options.c - Options of the tables, from the command line. */
#include "support/acc_options.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static _Noreturn void usage(const struct acc_option *option, size_t count, const char *program)
{
    (void)fprintf(stderr, "usage: %s [OPTION...]\n", program);
    for (size_t i = 0; i < count; i++) {
        (void)fprintf(stderr, "  %-12s %s\n", option[i].name, option[i].help);
    }
    exit(2);
}

static bool take(const struct acc_option *option, const char *word)
{
    char *end = NULL;
    switch (option->kind) {
    case ACC_OPTION_FLAG: break;
    case ACC_OPTION_COUNT: *(int *)option->value = (int)strtol(word, &end, 10); break;
    case ACC_OPTION_SEED: *(uint64_t *)option->value = strtoull(word, &end, 10); break;
    case ACC_OPTION_WORD: *(const char **)option->value = word; return true;
    }
    return end != NULL && end != word && *end == '\0';
}

void acc_options_read(const struct acc_option *option, size_t count, int word_count, char **words)
{
    for (int i = 1; i < word_count; i++) {
        size_t at = 0;
        while (at < count && strcmp(option[at].name, words[i]) != 0) {
            at++;
        }
        if (at == count) {
            usage(option, count, words[0]);
        }
        if (option[at].kind == ACC_OPTION_FLAG) {
            *(bool *)option[at].value = true;
            continue;
        }
        i++;
        if (i == word_count || !take(&option[at], words[i])) {
            usage(option, count, words[0]);
        }
    }
}

bool acc_list_has(const char *list, char mark, const char *word)
{
    const size_t size = strlen(word);
    for (const char *at = list; at != NULL && *at != '\0'; at = strchr(at, mark)) {
        at += *at == mark;
        if (strncmp(at, word, size) == 0 && (at[size] == mark || at[size] == '\0')) {
            return true;
        }
    }
    return false;
}
