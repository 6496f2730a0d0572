/* sorted.h - Lengths in order of size, and how likely a run of them is as one class. */
#ifndef LAMP_RHYTHM_SORTED_H
#define LAMP_RHYTHM_SORTED_H

#include <stddef.h>

#include "rhythm/class.h"

/** Most blocks that lengths are parted into; a class is a run of blocks. */
#define LAMP_BLOCKS_MAX 40

/** The log of what is not known of a class's mean: from 10 ms to 10 s, ln 1000 nats. */
#define LAMP_LOG_RANGE 1.9327

/**
 * Lengths by size, as x = ln(length + shift): a shift of two sd keeps the noise of lengths hardly
 * longer than itself near to even and of one width; for longer ones x is the logarithm.
 */
struct lamp_sorted {
    size_t count;
    double shift_ns;
    double base; /**< What was taken from every x. */
    double x[LAMP_ROW_MAX];
    double ns[LAMP_ROW_MAX];
    size_t index[LAMP_ROW_MAX];        /**< Place in the measures. */
    double sum[LAMP_ROW_MAX + 1];      /**< Of x before each. */
    double square[LAMP_ROW_MAX + 1];   /**< Of x squared. */
    double variance[LAMP_ROW_MAX + 1]; /**< Of the measurement's variance, ns squared. */
    size_t block_count;
    size_t block[LAMP_BLOCKS_MAX + 1]; /**< First length of each block; the last one ends them. */
};

/** What is taken as true of all lengths while they are weighed. */
struct lamp_scatter {
    double jitter;   /**< Natural variation of a length, share of it, sd. */
    double sd_scale; /**< How many times larger the measurement's sd is than told. */
};

/** Sort `measures` (at least one) and part them into blocks at their widest steps. */
void lamp_sorted_make(const struct lamp_measures *measures, struct lamp_sorted *out);

/** Log density of the lengths from..to-1 as one class of a band, its mean and its jitter integrated
 * out. */
double lamp_sorted_evidence(const struct lamp_sorted *sorted, size_t from, size_t to,
                            const struct lamp_scatter *scatter, enum lamp_band band);

/** Variance of the measurement of the lengths from..to-1, ns squared. */
double lamp_sorted_variance(const struct lamp_sorted *sorted, size_t from, size_t to);

#endif
