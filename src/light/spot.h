/* spot.h - A closer look at one spot, pixel by pixel: its outline, and which pixels to measure it
 * by. */
#ifndef LAMP_LIGHT_SPOT_H
#define LAMP_LIGHT_SPOT_H

#include <stdbool.h>

#include "lampread/light.h"
#include "light/linear.h"
#include "light/motion.h"

/** Most pixels measured for one colour of the lamp, and for the ring around it. */
#define LAMP_MASK_MAX 96
#define LAMP_RING_MAX 32

/** Most pixels of the core that tell the lamp's own light from a neighbour's on its rim. */
#define LAMP_GATE_MAX 24

/** Parts of a place's light that the room has a share in: its R, G, B and its ring's. */
#define LAMP_REFLECTING 6

/** Linear light of a place and about it, R, G, B. */
struct lamp_light {
    float core[3]; /**< Of the lamp's pixels. */
    float ring[3]; /**< Of the ring close around it, which its halo may reach. */
    float far[3];  /**< Of a ring farther out: what the room's light, hands and shadows do. Told as
                      it  were in the room's usual light. */
    float room[LAMP_REFLECTING]; /**< The room's light on the core in R, G, B, and on the ring, over
                                    its usual light. */
};

/** Pixels, relative to another. */
struct lamp_offset {
    float x, y;
};

/** A frame with how it moved; the frame's planes and the light are borrowed. */
struct lamp_held {
    struct lamp_frame frame;
    struct lamp_motion motion; /**< From the first frame to this one. */
    const float *light; /**< The room's light in each row of blocks, over its usual light; NULL: no
                           bands. */
    int block_px;
};

/** The room's light in a row of pixels (0, 1, ...), over its usual light. */
static inline float lamp_held_room(const struct lamp_held *held, float y_px)
{
    if (held->light == NULL) {
        return 1;
    }
    int count = held->frame.y.height_px / held->block_px;
    float row = (y_px + 0.5F) / (float)held->block_px - 0.5F;
    row = row < 0 ? 0 : (row > (float)(count - 1) ? (float)(count - 1) : row);
    int at = (int)row < count - 1 ? (int)row : count - 2;
    return held->light[at] + (row - (float)at) * (held->light[at + 1] - held->light[at]);
}

/** What to measure. Holds nothing to free. */
struct lamp_spot {
    struct lamp_point centre;    /**< px of the first frame. */
    double radius_px;            /**< Half of the larger side of the outline. */
    double half_w_px, half_h_px; /**< Half sides of the outline. */
    struct {
        int count;
        struct lamp_offset at[LAMP_MASK_MAX];
        bool is_driven; /**< It does after all, and another colour tells how much instead. */
    } mask[3]; /**< For R, G, B: pixels whose value the lit lamp does not drive to the top. */
    bool has_one_mask; /**< All three are the same pixels. */
    struct {
        int count;
        struct lamp_offset at[LAMP_GATE_MAX];
        bool is_set;           /**< False where there was no dark frame to compare with. */
        float lit[3], dark[3]; /**< Their light when the lamp was lit and dark. */
        float rim[3];          /**< Light of the masks above the ring when it was lit, */
        float dark_rim[3]; /**< ... and when it was dark: a pale lens is brighter than its ring. */
    } gate;                /**< Pixels of the core, driven white or not. */
    float reflecting_y[LAMP_REFLECTING]; /**< Rows that the dark core and ring reflect from, px. */
    struct lamp_offset ring[LAMP_RING_MAX]; /**< Pixels of the surroundings. */
    struct lamp_offset far[LAMP_RING_MAX];  /**< Pixels farther out. */
};

/** Where to look. */
struct lamp_aim {
    struct lamp_point centre; /**< px of the first frame. */
    double near_px;           /**< How far from there the brightest point may be. */
    double alone_px;          /**< How far off the nearest lamp is that is known already; says
                                 nothing without a dark frame. */
};

/** What the closer look found. */
struct lamp_look {
    struct lamp_light lit, dark; /**< Linear light; the core is all of the outline here. */
    struct lamp_light
        reflected; /**< The same of the dark lamp as measured, in the room's usual light.
                    */
    float
        darker[3]; /**< Share of its ring's light that the dark lamp's pixels do not have, 0..1. */
    float rim_rgb[3]; /**< Light the lamp adds on pixels it does not drive white. */
    float peak;       /**< Largest of R', G', B' in the outline, lit, 0..1. */
    float fill;       /**< Pixels of the outline over those of its rectangle: a disc has 0.79. */
};

/**
 * Look closely at what differs between two frames near a point.
 * @param dark  NULL: what stands out from the surroundings in `lit`.
 * @return false if there is nothing compact.
 * @note Takes about 160 KB of stack: memory that ran out would look like no lamp.
 */
bool lamp_spot_find(const struct lamp_linear *linear, const struct lamp_held *lit,
                    const struct lamp_held *dark, const struct lamp_aim *aim, struct lamp_spot *out,
                    struct lamp_look *look);

/** A spot of all pixels of a rectangle of the first frame. */
void lamp_spot_of_region(const struct lamp_region *region, struct lamp_spot *out);

#endif
