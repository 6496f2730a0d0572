/* portrait.h - A small upright picture of the board for each place, from when its lamp was lit. */
#ifndef LAMP_PIPELINE_PORTRAIT_H
#define LAMP_PIPELINE_PORTRAIT_H

#include "lampread/report.h"
#include "light/linear.h"
#include "pipeline/upright.h"

/** Longest side of a portrait. */
#define LAMP_PORTRAIT_SIDE_PX 480

/** The portrait of one place; begin with all zero. */
struct lamp_kept_portrait {
    struct lamp_portrait shown;
    unsigned char *rgb; /**< Owned; what `shown` shows. */
    double level;       /**< Light of the place on it. */
};

/**
 * Keep `frame` if the place is clearly brighter on it than on the one kept.
 * @param region  where the place is on it, as decoded. @param level  its light.
 * @return LAMP_OK, LAMP_NO_MEMORY (what was kept stays).
 */
enum lamp_err lamp_portrait_offer(struct lamp_kept_portrait *kept, const struct lamp_frame *frame,
                                  const struct lamp_pose *pose, const struct lamp_region *region,
                                  double level);

/** Free what it holds. */
void lamp_portrait_fini(struct lamp_kept_portrait *kept);

#endif
