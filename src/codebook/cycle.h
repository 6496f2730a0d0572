/* cycle.h - One cycle of an entry's light, and whether another lies within its tolerance. */
#ifndef LAMP_CODEBOOK_CYCLE_H
#define LAMP_CODEBOOK_CYCLE_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/codebook.h"

/** Edges are placed to about a quarter of a frame; a cycle shorter than 2.5 frames is not read at
 * all. */
#define LAMP_FRAMES_OF_BLUR    0.25
#define LAMP_FRAMES_OF_A_CYCLE 2.5

/** By how much a length may differ. */
struct lamp_slack {
    double tolerance; /**< Share of it. */
    double blur_ns;   /**< And what the camera cannot see. */
};

/** The scales that bring lengths into a tolerance, as they come. */
struct lamp_scale_range {
    double least;
    double most; /**< Below least: none does. */
};

/** The shortest repeating part of a wave. Borrows from it. */
struct lamp_cycle {
    const int64_t *length_ns;
    size_t count; /**< 0: steady or flicker. */
};

struct lamp_cycle lamp_cycle_of(const struct lamp_wave *wave);

/** Every scale within the tolerance. */
struct lamp_scale_range lamp_scale_range_of(const struct lamp_slack *slack);

/** Narrow the range to scales that bring length `is_ns` within the slack of `wanted_ns`. @return
 * whether there is one. */
bool lamp_scale_range_take(struct lamp_scale_range *range, const struct lamp_slack *slack,
                           int64_t is_ns, int64_t wanted_ns);

/** Whether `a`, begun at its length `first`, lies within the slack of `b`, begun at `begin`, after
 * one scale within it. */
bool lamp_cycle_fits_from(const struct lamp_cycle *a, size_t first, const struct lamp_cycle *b,
                          size_t begin, const struct lamp_slack *slack);

/** Whether `a`, begun at any flash, lies within the slack of `b`. */
bool lamp_cycle_fits(const struct lamp_cycle *a, const struct lamp_cycle *b,
                     const struct lamp_slack *slack);

/** Whether the quickest lit-dark pair is over before the camera has looked often enough. */
bool lamp_cycle_is_too_quick(const struct lamp_cycle *cycle, double least_cycle_ns);

#endif
