/* lengths.h - Rows of lengths for tests: a wave played from any phase, or light left to chance. */
#ifndef LAMP_TEST_LENGTHS_H
#define LAMP_TEST_LENGTHS_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/flash.h"

/** Numbers by chance, the same on every machine: splitmix64. */
struct chance {
    uint64_t state;
};

static inline uint64_t chance_bits(struct chance *chance)
{
    uint64_t z = chance->state += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/** Evenly in 0..1, never 0. */
static inline double chance_even(struct chance *chance)
{
    return ((double)(chance_bits(chance) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double chance_between(struct chance *chance, double least, double most)
{
    return least + (most - least) * chance_even(chance);
}

/** One of least..most. */
static inline int chance_int(struct chance *chance, int least, int most)
{
    return least + (int)(chance_bits(chance) % (uint64_t)(most - least + 1));
}

static inline double chance_normal(struct chance *chance)
{
    double radius = sqrt(-2 * log(chance_even(chance)));
    return radius * cos(6.283185307179586 * chance_even(chance));
}

/** How a row is seen. */
struct view {
    double start_ms; /**< In the true light. */
    double duration_ms;
    double edge_sd_ms; /**< Noise of every edge, and the sd that is told with it. */
};

/** A row in the making: true edges come in, in order, the first length begins at 0. */
struct played {
    struct lamp_lengths *lengths;
    struct view view;
    struct chance *chance;
    bool is_begun;
    bool is_ended;
    bool lit;
    int64_t last_ns;
    double t_ms;
};

static inline struct played played_new(struct view view, bool lit, struct chance *chance)
{
    struct played played = {.view = view, .chance = chance, .lit = lit};
    (void)lamp_lengths_new(&played.lengths);
    return played;
}

/** The light stays as it is for `ms` more, then changes. @return false once the view is over. */
static inline bool played_add(struct played *played, double ms)
{
    double end_ms = played->view.start_ms + played->view.duration_ms;
    if (!played->is_begun && played->t_ms + ms > played->view.start_ms) {
        played->is_begun = true;
        lamp_lengths_begin(played->lengths, 0, played->lit);
    }
    played->t_ms += ms;
    if (played->is_begun && !played->is_ended && played->t_ms >= end_ms) {
        played->is_ended = true;
        lamp_lengths_end(played->lengths, (int64_t)(played->view.duration_ms * 1e6));
    }
    played->lit = !played->lit;
    if (played->is_begun && !played->is_ended) {
        double seen_ms = played->t_ms - played->view.start_ms +
                         played->view.edge_sd_ms * chance_normal(played->chance);
        int64_t t_ns = (int64_t)(seen_ms * 1e6);
        played->last_ns = t_ns > played->last_ns ? t_ns : played->last_ns + 1;
        struct lamp_edge edge = {.t_ns = played->last_ns,
                                 .sd_ns = (int64_t)(played->view.edge_sd_ms * 1e6),
                                 .lit = played->lit};
        lamp_lengths_push(played->lengths, &edge);
    }
    return !played->is_ended;
}

/** Play `wave` (ms, lit first, `count` even) over and over; each length varies by `jitter`, share
 * of it, sd. */
static inline struct played played_wave(const double *wave, size_t count, double jitter,
                                        struct view view, struct chance *chance)
{
    struct played played = played_new(view, true, chance);
    for (size_t i = 0;
         played_add(&played, wave[i] * fmax(1 + jitter * chance_normal(chance), 0.2));) {
        i = (i + 1) % count;
    }
    return played;
}

/** Length of one cycle of `wave`. */
static inline double wave_ms(const double *wave, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += wave[i];
    }
    return sum;
}

#endif
