/* pipeline_support.h - Lengths and strands made by hand. */
#ifndef LAMP_TESTS_PIPELINE_SUPPORT_H
#define LAMP_TESTS_PIPELINE_SUPPORT_H

#include <string.h>

#include "pipeline/sighting.h"

#define MS INT64_C(1000000)

enum { MADE_LENGTHS = 64 };

/** Lengths by turns, and the view of a strand that holds them. */
struct made_strand {
    struct lamp_length length[MADE_LENGTHS];
    struct lamp_strand_view view;
};

/** A strand of 30 frames/s that is lit or dark by turns for `ms`, cycling through `ms_count`
 * lengths, `count` in all. */
static inline void make_strand(struct made_strand *made, bool lit, const int64_t *ms,
                               size_t ms_count, size_t count)
{
    *made = (struct made_strand){.view = {.has_shape = true, .count = count}};
    int64_t at_ns = 0;
    for (size_t i = 0; i < count && i < MADE_LENGTHS; i++) {
        int64_t ns = ms[i % ms_count] * MS;
        made->length[i] = (struct lamp_length){.start_ns = at_ns,
                                               .ns = ns,
                                               .sd_ns = 5 * MS,
                                               .lit = (i % 2 == 0) == lit,
                                               .cut_before = i == 0,
                                               .cut_after = i + 1 == count};
        at_ns += ns;
    }
    made->view.length = made->length;
    made->view.shape =
        (struct lamp_light_shape){.shape = count > 1 ? LAMP_SHAPE_TWO_LEVEL : LAMP_SHAPE_CONSTANT,
                                  .sample_count = 300,
                                  .rate_hz = 30,
                                  .lit_level = 0.5,
                                  .dark_level = 0,
                                  .noise = 0.005,
                                  .is_lit = lit,
                                  .last_ns = at_ns};
}

/** A strand that never changes, at `level`. */
static inline void make_constant(struct made_strand *made, double level)
{
    const int64_t ms[] = {10000};
    make_strand(made, level > 0.01, ms, 1, 1);
    made->view.shape.lit_level = level;
    made->view.shape.dark_level = level;
}

#endif
