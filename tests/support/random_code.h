/* random_code.h - Codes that no book lists: one to three groups, short and long flashes, any
 * timing. */
#ifndef LAMP_TEST_RANDOM_CODE_H
#define LAMP_TEST_RANDOM_CODE_H

#include "lampread/pattern.h"
#include "support/lengths.h"

/** A code and its light. */
struct random_code {
    struct lamp_pattern pattern;
    double wave[2 * LAMP_SYMBOLS_MAX]; /**< ms, lit first. */
    size_t count;
};

/** Lengths of one code, ms. */
struct code_timing {
    double flash[2]; /**< Short, long. */
    double gap;
    double pause;
    double rest;
};

static inline struct code_timing code_timing_by_chance(struct chance *chance)
{
    struct code_timing timing;
    timing.flash[0] = chance_between(chance, 80, 400);
    timing.flash[1] = timing.flash[0] * chance_between(chance, 2.2, 4);
    timing.gap = fmax(timing.flash[0] * chance_between(chance, 0.7, 1.8), 60);
    timing.pause = fmax(timing.gap, timing.flash[0]) * chance_between(chance, 2.2, 4);
    timing.rest = timing.pause * chance_between(chance, 1.6, 3.5);
    return timing;
}

static inline void code_add_group(struct random_code *code, const struct code_timing *timing,
                                  struct chance *chance)
{
    int flashes = chance_int(chance, 1, 9);
    int kind = chance_int(chance, 0, 3); /* All short, long ones first, mixed, all long. */
    int longs = kind == 1 ? chance_int(chance, 1, 2) : kind == 3 ? flashes : 0;
    for (int i = 0; i < flashes; i++) {
        bool is_long = kind == 2 ? chance_int(chance, 0, 1) == 1 : i < longs;
        code->pattern.symbol[code->pattern.count++] =
            is_long ? LAMP_SYMBOL_LONG : LAMP_SYMBOL_SHORT;
        code->wave[code->count++] = timing->flash[is_long];
        code->wave[code->count++] = timing->gap;
    }
}

static inline size_t code_symbols(const struct random_code *code, enum lamp_symbol symbol)
{
    size_t count = 0;
    for (size_t i = 0; i < code->pattern.count; i++) {
        count += code->pattern.symbol[i] == symbol;
    }
    return count;
}

/** Whether short and long, gap and pause mean anything: one flash a group shows no gap, one length
 * of flash only its ratio to the gap. */
static inline bool code_is_telling(const struct random_code *code, const struct code_timing *timing)
{
    size_t shorts = code_symbols(code, LAMP_SYMBOL_SHORT);
    size_t longs = code_symbols(code, LAMP_SYMBOL_LONG);
    size_t groups = code_symbols(code, LAMP_SYMBOL_PAUSE) + 1;
    double ratio = timing->flash[shorts == 0] / timing->gap;
    bool is_named = (shorts > 0 && longs > 0) || (shorts == 0 ? ratio > 2.0 : ratio < 1.8);
    return shorts + longs > groups && is_named;
}

/** The next code by chance. */
static inline struct random_code random_code_new(struct chance *chance)
{
    for (;;) {
        struct code_timing timing = code_timing_by_chance(chance);
        struct random_code code = {.pattern.kind = LAMP_PATTERN_GROUPS};
        int groups = chance_int(chance, 1, 3);
        for (int i = 0; i < groups; i++) {
            code_add_group(&code, &timing, chance);
            code.wave[code.count - 1] = i + 1 < groups ? timing.pause : timing.rest;
            if (i + 1 < groups) {
                code.pattern.symbol[code.pattern.count++] = LAMP_SYMBOL_PAUSE;
            }
        }
        if (code_is_telling(&code, &timing)) {
            return code;
        }
    }
}

#endif
