/* tally.h - How much time was spent at each level, in memory that does not grow. */
#ifndef LAMP_RHYTHM_TALLY_H
#define LAMP_RHYTHM_TALLY_H

#include <stddef.h>

/** Bins on either side of 0, and in all. */
#define LAMP_TALLY_HALF 512
#define LAMP_TALLY_BINS 1024

/** Time by level. Begin with all zero. The range doubles as it must; a level is kept to 1/512 of
 * the largest. */
struct lamp_tally {
    double reach; /**< Bins span -reach to reach. */
    double time_s[LAMP_TALLY_BINS];
};

/** Add time spent at a level. */
void lamp_tally_add(struct lamp_tally *tally, double level, double time_s);

/** The level below which `share` (0..1) of the time was spent; 0 if there was none. */
double lamp_tally_quantile(const struct lamp_tally *tally, double share);

/**
 * Flicker index: area above the mean over total area (IEC 60050 845-22-094); levels below 0 count
 * as 0.
 * @return 0..1, 0 if there was no light.
 */
double lamp_tally_index(const struct lamp_tally *tally);

#endif
