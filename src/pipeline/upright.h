/* upright.h - Regions between the picture as decoded and the picture as it is shown. */
#ifndef LAMP_PIPELINE_UPRIGHT_H
#define LAMP_PIPELINE_UPRIGHT_H

#include "lampread/light.h"

/** A picture as decoded, and the clockwise turn that shows it upright: 0, 90, 180 or 270. */
struct lamp_pose {
    int width_px;
    int height_px;
    int rotation_deg;
};

/** Size of the upright picture. */
int lamp_upright_width(const struct lamp_pose *pose);
int lamp_upright_height(const struct lamp_pose *pose);

/** The part of a region that lies in the decoded picture, at least one pixel. */
struct lamp_region lamp_region_inside(const struct lamp_pose *pose,
                                      const struct lamp_region *decoded);

/** A region of the decoded picture on the upright one. */
struct lamp_region lamp_region_upright(const struct lamp_pose *pose,
                                       const struct lamp_region *decoded);

/** A region of the upright picture on the decoded one. */
struct lamp_region lamp_region_decoded(const struct lamp_pose *pose,
                                       const struct lamp_region *upright);

#endif
