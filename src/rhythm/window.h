/* window.h - The samples that an edger looks at together, and what was made of each. */
#ifndef LAMP_RHYTHM_WINDOW_H
#define LAMP_RHYTHM_WINDOW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"

/** Median size of a second difference of normal noise, sds: 0.6745 times root 6. */
#define LAMP_SECOND_DIFFERENCE_SDS 1.652

/**
 * What one sample is. A lamp is in one state when the exposure begins and in one when it ends; a
 * soft edge (LAMP_RISING, LAMP_SINKING) takes several samples.
 */
enum lamp_kind {
    LAMP_KIND_DARK,    /**< Dark all along. */
    LAMP_KIND_LIT,     /**< Lit all along. */
    LAMP_KIND_ON,      /**< Came on during the exposure: partly lit. */
    LAMP_KIND_OFF,     /**< Went off during the exposure: partly lit. */
    LAMP_KIND_FLASH,   /**< On and off again within the exposure. */
    LAMP_KIND_BREAK,   /**< Off and on again within the exposure. */
    LAMP_KIND_RISING,  /**< On the way up, for longer than an exposure. */
    LAMP_KIND_SINKING, /**< On the way down. */
    LAMP_KIND_COUNT
};

/** A state between samples. */
enum lamp_state { LAMP_STATE_DARK, LAMP_STATE_LIT, LAMP_STATE_UP, LAMP_STATE_DOWN };

/** The samples and, beside each, what analysis made of it. */
struct lamp_window {
    size_t count;
    size_t decided; /**< The first ones, kept as context: their kinds stand. */
    int64_t t_ns[LAMP_EDGER_WINDOW];
    int64_t exposure_ns[LAMP_EDGER_WINDOW]; /**< 0 where not known. */
    double level[LAMP_EDGER_WINDOW];
    uint8_t kind[LAMP_EDGER_WINDOW]; /**< enum lamp_kind. */

    /* Set by lamp_window_prepare. */
    double t_s[LAMP_EDGER_WINDOW];    /**< Start of exposure after that of the first sample. */
    double span_s[LAMP_EDGER_WINDOW]; /**< To the start of the next sample; the last one's is the
                                         interval. */
    double interval_s;                /**< Median span; 0 with fewer than two samples. */
    double
        stamp_sd_s; /**< How much stamps jitter, as far as it can be told from true unevenness. */
    double exposure_s; /**< Median of the known exposures; 0 if none is known. */

    /* Set by lamp_levels_fit. */
    double dark[LAMP_EDGER_WINDOW]; /**< Level of the dark lamp at each sample. */
    double lit[LAMP_EDGER_WINDOW];  /**< Level of the lit lamp at each sample. */

    /* Scratch, so that working on a window takes no memory. */
    double room[4][LAMP_EDGER_WINDOW];                /**< Of whoever works on the window. */
    uint8_t back[LAMP_EDGER_WINDOW][LAMP_KIND_COUNT]; /**< Of lamp_path_find. */
    double weight[LAMP_EDGER_WINDOW];                 /**< Of lamp_levels_fit, and what follows. */
    double one[LAMP_EDGER_WINDOW];
    double kept_dark[LAMP_EDGER_WINDOW];
    double kept_lit[LAMP_EDGER_WINDOW];
    uint8_t kept_kind[LAMP_EDGER_WINDOW];
    uint8_t last_kind[LAMP_EDGER_WINDOW];
};

/** Add a sample; there is room. */
void lamp_window_add(struct lamp_window *window, const struct lamp_sample *sample);

/** Work out spans, interval and exposure. */
void lamp_window_prepare(struct lamp_window *window);

/** Whether a sample was lost after sample `i` of a prepared window. */
bool lamp_window_has_gap(const struct lamp_window *window, size_t i);

/** Forget the first `count` samples; they were decided. */
void lamp_window_drop(struct lamp_window *window, size_t count);

/** The state as the exposure of a sample of this kind begins. */
enum lamp_state lamp_kind_begin(enum lamp_kind kind);

/** The state as it ends. */
enum lamp_state lamp_kind_end(enum lamp_kind kind);

/** Whether a sample of this kind holds part of a soft edge. */
bool lamp_kind_is_soft(enum lamp_kind kind);

/** The value at `share` (0..1) of `count` values in order; `sorted` is put in order. 0 if there are
 * none. */
double lamp_quantile(double *sorted, size_t count, double share);

#endif
