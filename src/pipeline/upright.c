/* upright.c - Regions between the picture as decoded and the picture as it is shown. */
#include "pipeline/upright.h"

int lamp_upright_width(const struct lamp_pose *pose)
{
    return pose->rotation_deg % 180 == 0 ? pose->width_px : pose->height_px;
}

int lamp_upright_height(const struct lamp_pose *pose)
{
    return pose->rotation_deg % 180 == 0 ? pose->height_px : pose->width_px;
}

/* Turn a region of a width by height picture clockwise. */
static struct lamp_region turned(const struct lamp_pose *pose, const struct lamp_region *region)
{
    int from_right = pose->width_px - region->x_px - region->w_px;
    int from_bottom = pose->height_px - region->y_px - region->h_px;
    switch (pose->rotation_deg) {
    case 90: return (struct lamp_region){from_bottom, region->x_px, region->h_px, region->w_px};
    case 180: return (struct lamp_region){from_right, from_bottom, region->w_px, region->h_px};
    case 270: return (struct lamp_region){region->y_px, from_right, region->h_px, region->w_px};
    default: return *region;
    }
}

static void clip(int *at, int *size, int room)
{
    int first = *at < 0 ? 0 : *at < room ? *at : room - 1;
    int last = *at + *size > room ? room : *at + *size;
    *size = last > first ? last - first : 1;
    *at = first;
}

struct lamp_region lamp_region_inside(const struct lamp_pose *pose,
                                      const struct lamp_region *decoded)
{
    struct lamp_region inside = *decoded;
    clip(&inside.x_px, &inside.w_px, pose->width_px);
    clip(&inside.y_px, &inside.h_px, pose->height_px);
    return inside;
}

struct lamp_region lamp_region_upright(const struct lamp_pose *pose,
                                       const struct lamp_region *decoded)
{
    return turned(pose, decoded);
}

struct lamp_region lamp_region_decoded(const struct lamp_pose *pose,
                                       const struct lamp_region *upright)
{
    const struct lamp_pose back = {.width_px = lamp_upright_width(pose),
                                   .height_px = lamp_upright_height(pose),
                                   .rotation_deg = (360 - pose->rotation_deg) % 360};
    return turned(&back, upright);
}
