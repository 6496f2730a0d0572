/* read_rhythm.h - Read the rhythm of a row that was played, and name what was read. */
#ifndef LAMP_TEST_READ_RHYTHM_H
#define LAMP_TEST_READ_RHYTHM_H

#include <check.h>

#include "lampread/group.h"
#include "support/lengths.h"

/** Read `played` without a shape, and free it. */
static inline struct lamp_rhythm rhythm_of(struct played played)
{
    struct lamp_rhythm_rules rules = lamp_rhythm_rules_default();
    struct lamp_rhythm rhythm;
    size_t count;
    const struct lamp_length *lengths = lamp_lengths_all(played.lengths, &count);
    lamp_rhythm_read(lengths, count, NULL, &rules, &rhythm);
    lamp_lengths_free(played.lengths);
    return rhythm;
}

/** Fail with the seed, what was expected and what was read instead. */
static inline void expect_rhythm(const struct lamp_rhythm *rhythm, enum lamp_verdict verdict,
                                 const char *pattern, const char *what, uint64_t seed)
{
    char told[LAMP_NOTATION_MAX];
    lamp_pattern_format(&rhythm->pattern, told);
    bool is_same = pattern == NULL || strcmp(told, pattern) == 0;
    ck_assert_msg(rhythm->verdict == verdict && is_same,
                  "%s, seed %llu: %s \"%s\" instead of %s \"%s\"", what, (unsigned long long)seed,
                  lamp_verdict_name(rhythm->verdict), told, lamp_verdict_name(verdict),
                  pattern != NULL ? pattern : "");
}

#endif
