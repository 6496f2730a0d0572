/* mask.h - Which pixels of a spot to measure it by. */
#ifndef LAMP_LIGHT_MASK_H
#define LAMP_LIGHT_MASK_H

#include "light/patch.h"

/** What is known of a spot when its pixels are chosen; its samples are marked `inside`. */
struct lamp_outline {
    int count;       /**< Samples inside. */
    float peak_rise; /**< Rise of the brightest. */
    double alone_px; /**< How far off the nearest place is that is known already. */
    bool has_halo;   /**< Light about it that may be measured: not where it is the board's own. */
};

/**
 * Choose spot->mask and what of spot->gate says which pixels; its centre and radius are set.
 * @return how far from the centre the farthest of the masks' pixels is, px.
 */
double lamp_mask_choose(const struct lamp_patch *patch, const struct lamp_outline *outline,
                        struct lamp_spot *spot);

#endif
