/* clash.h - Whether a camera can tell two entries apart at all. */
#ifndef LAMP_CODEBOOK_CLASH_H
#define LAMP_CODEBOOK_CLASH_H

#include "codebook/cycle.h"

/** What is learnt of an entry once, so that most pairs are told apart without looking at their
 * lengths. */
struct lamp_gist {
    const struct lamp_code *code;
    struct lamp_cycle cycle;
    bool is_too_quick; /**< For the camera. */
};

/** How a camera of `rate_hz` frames a second sees an entry; 0: one that misses nothing. */
struct lamp_gist lamp_gist_of(const struct lamp_code *code, double rate_hz);

/** What such a camera cannot see of a length, ns. */
double lamp_clash_blur_ns(double rate_hz);

/** Whether they may be of one lamp. */
bool lamp_clash_share_a_lamp(const struct lamp_code *a, const struct lamp_code *b);

/** Whether the light of one lies within the tolerance of the other. */
bool lamp_clash_are_alike(const struct lamp_gist *a, const struct lamp_gist *b, double blur_ns);

#endif
