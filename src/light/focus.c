/* focus.c - When it is enough to look at the known lamps, and which part of the picture holds them.
 */
#include "light/focus.h"

#include <math.h>

#include "lampread/light.h"

/* So long nothing new must have been seen: the rest of a code is shorter. */
static const int64_t calm_ns = INT64_C(5000000000);

#define STILL_PX 0.5   /* motion of the picture that is none */
#define REACH_PX 4.0   /* beyond the points measured: chroma between pixels, an anchor's shift */
#define APART    0.02F /* linear light by which surroundings leave what they were when calm */
#define SHARE    0.25F /* and share of it */
#define LIKENESS 0.15F /* of places that may yet be told as lamps, and their shine */
#define SHINE    0.35F

static float brightness(const float rgb[3])
{
    return fmaxf(rgb[0], fmaxf(rgb[1], rgb[2]));
}

bool lamp_focus_is_still(const struct lamp_focus *focus, const struct lamp_motion *motion,
                         int width_px, int height_px)
{
    struct lamp_motion back = lamp_motion_invert(&focus->still);
    struct lamp_motion since = lamp_motion_chain(motion, &back);
    struct lamp_point corner[2] = {{0, 0}, {width_px, height_px}};
    return lamp_motion_distance(&since, corner[0]) <= STILL_PX &&
           lamp_motion_distance(&since, corner[1]) <= STILL_PX;
}

/* What glints on the board is measured on whole frames only. */
static bool matters(const struct lamp_watched *place)
{
    bool is_like = place->is_by_change ? lamp_watched_likeness(place) > LIKENESS
                                       : lamp_watched_shine(place) > SHINE;
    return !place->is_out_of_sight && (place->is_pointed || is_like);
}

/* A lamp that was pointed at but not yet seen lit may be anywhere about the point. */
static bool is_ready(const struct lamp_watched *place, size_t count)
{
    size_t lamp_count = 0;
    for (size_t i = 0; i < count; i++) {
        if (place[i].is_pointed && place[i].peak <= 0) {
            return false;
        }
        lamp_count += matters(&place[i]);
    }
    return lamp_count > 0;
}

static int64_t newest_of(const struct lamp_watched *place, size_t count)
{
    int64_t newest_ns = 0;
    for (size_t i = 0; i < count; i++) {
        if (place[i].is_by_change && place[i].since_ns > newest_ns) {
            newest_ns = place[i].since_ns;
        }
    }
    return newest_ns;
}

static bool is_upset(const struct lamp_focus *focus, const struct lamp_glance *glance,
                     int64_t newest_ns)
{
    return !focus->has_begun || newest_ns != focus->newest_ns ||
           !lamp_focus_is_still(focus, glance->motion, glance->width_px, glance->height_px);
}

void lamp_focus_glance(struct lamp_focus *focus, const struct lamp_glance *glance,
                       const struct lamp_watched *place, size_t count)
{
    int64_t newest_ns = newest_of(place, count);
    if (!is_ready(place, count) || is_upset(focus, glance, newest_ns)) {
        focus->has_begun = true;
        focus->since_ns = glance->t_ns;
        focus->newest_ns = newest_ns;
        focus->still = *glance->motion;
    }
    focus->is_on = glance->t_ns - focus->since_ns >= calm_ns;
    focus->wanted -= focus->wanted > 0;
    if (focus->row_count == 1 && glance->is_new) {
        focus->wanted = LAMP_FRAMES_KEPT + 1; /* it is looked at, and found or refused */
    }
}

bool lamp_focus_watch(struct lamp_focus *focus, size_t index, const struct lamp_watched *place,
                      const struct lamp_light *light)
{
    struct lamp_calm *calm = &focus->calm[index];
    float far = brightness(light->far);
    bool is_apart = far < calm->least - APART - SHARE * calm->least ||
                    far > calm->most + APART + SHARE * calm->most;
    if (!place->has_begun) {
        *calm = (struct lamp_calm){far, far};
    } else if (!focus->is_on) {
        calm->least = fminf(calm->least, far);
        calm->most = fmaxf(calm->most, far);
    } else if (is_apart && matters(place)) {
        focus->is_on = false;
        focus->has_begun = false;
        return false;
    }
    return true;
}

/* How far from its centre a place is measured. */
struct reach {
    float left, right, up, down;
};

static void extend(struct reach *reach, struct lamp_offset to)
{
    reach->left = fminf(reach->left, to.x);
    reach->right = fmaxf(reach->right, to.x);
    reach->up = fminf(reach->up, to.y);
    reach->down = fmaxf(reach->down, to.y);
}

static struct reach reach_of(const struct lamp_spot *spot)
{
    struct reach reach = {0, 0, 0, 0};
    for (int i = 0; i < LAMP_RING_MAX; i++) {
        extend(&reach, spot->ring[i]);
        extend(&reach, spot->far[i]);
    }
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < spot->mask[c].count; i++) {
            extend(&reach, spot->mask[c].at[i]);
        }
    }
    for (int i = 0; i < spot->gate.count; i++) {
        extend(&reach, spot->gate.at[i]);
    }
    return reach;
}

void lamp_focus_part_of(const struct lamp_watched *place, const struct lamp_motion *motion,
                        struct lamp_picture_part *out)
{
    struct reach reach = reach_of(&place->spot);
    struct lamp_point at = lamp_motion_apply(motion, place->spot.centre);
    double x = at.x + place->anchor.shift.x;
    double y = at.y + place->anchor.shift.y;
    *out = (struct lamp_picture_part){
        .first_column_px = (int)floor(x + (double)reach.left - REACH_PX),
        .end_column_px = (int)ceil(x + (double)reach.right + REACH_PX) + 1,
        .first_row_px = (int)floor(y + (double)reach.up - REACH_PX),
        .end_row_px = (int)ceil(y + (double)reach.down + REACH_PX) + 1};
}

void lamp_focus_clip(struct lamp_picture_part *part, int width_px, int height_px)
{
    part->first_column_px = part->first_column_px > 0 ? part->first_column_px : 0;
    part->first_row_px = part->first_row_px > 0 ? part->first_row_px : 0;
    part->end_column_px = part->end_column_px < width_px ? part->end_column_px : width_px;
    part->end_row_px = part->end_row_px < height_px ? part->end_row_px : height_px;
}

/* Make `part` hold `other` too; one of no rows holds nothing yet. */
static void join(struct lamp_picture_part *part, const struct lamp_picture_part *other)
{
    if (part->end_row_px <= part->first_row_px) {
        *part = *other;
        return;
    }
    part->first_column_px = other->first_column_px < part->first_column_px ? other->first_column_px
                                                                           : part->first_column_px;
    part->end_column_px =
        other->end_column_px > part->end_column_px ? other->end_column_px : part->end_column_px;
    part->first_row_px =
        other->first_row_px < part->first_row_px ? other->first_row_px : part->first_row_px;
    part->end_row_px = other->end_row_px > part->end_row_px ? other->end_row_px : part->end_row_px;
}

void lamp_focus_part(const struct lamp_focus *focus, const struct lamp_watched *place, size_t count,
                     struct lamp_picture_part *out)
{
    *out = (struct lamp_picture_part){.end_row_px = 0};
    for (size_t i = 0; i < count && focus->is_on && focus->wanted == 0; i++) {
        struct lamp_picture_part part;
        if (matters(&place[i])) {
            lamp_focus_part_of(&place[i], &focus->still, &part);
            join(out, &part);
        }
    }
}
