/* acc_options.h - Options of the tables, from the command line. */
#ifndef LAMP_TESTS_ACC_OPTIONS_H
#define LAMP_TESTS_ACC_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** What follows an option; a flag is followed by nothing. */
enum acc_option_kind { ACC_OPTION_FLAG, ACC_OPTION_COUNT, ACC_OPTION_SEED, ACC_OPTION_WORD };

/** One option, and where its value goes: bool, int, uint64_t or const char *. */
struct acc_option {
    const char *name;
    enum acc_option_kind kind;
    void *value;
    const char *help;
};

/** Read `word_count` words, the first of which is the program; a word that is no option ends the
 * program with its usage. */
void acc_options_read(const struct acc_option *option, size_t count, int word_count, char **words);

/** Whether `word` stands in `list`, whose words are parted by `mark`; NULL holds none. */
bool acc_list_has(const char *list, char mark, const char *word);

#endif
