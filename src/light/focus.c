/* focus.c - When it is enough to look at the known lamps, and which rows of the picture hold them.
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

void lamp_focus_watch(struct lamp_focus *focus, size_t index, const struct lamp_watched *place,
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
    }
}

/* How far above and below its centre a place is measured. */
static void reach_of(const struct lamp_spot *spot, float *up, float *down)
{
    *up = *down = 0;
    for (int i = 0; i < LAMP_RING_MAX; i++) {
        *up = fminf(*up, fminf(spot->ring[i].y, spot->far[i].y));
        *down = fmaxf(*down, fmaxf(spot->ring[i].y, spot->far[i].y));
    }
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < spot->mask[c].count; i++) {
            *up = fminf(*up, spot->mask[c].at[i].y);
            *down = fmaxf(*down, spot->mask[c].at[i].y);
        }
    }
    for (int i = 0; i < spot->gate.count; i++) {
        *up = fminf(*up, spot->gate.at[i].y);
        *down = fmaxf(*down, spot->gate.at[i].y);
    }
}

void lamp_focus_rows_of(const struct lamp_watched *place, const struct lamp_motion *motion,
                        int *first_px, int *end_px)
{
    float up;
    float down;
    reach_of(&place->spot, &up, &down);
    double at = lamp_motion_apply(motion, place->spot.centre).y + place->anchor.shift.y;
    *first_px = (int)floor(at + (double)up - REACH_PX);
    *end_px = (int)ceil(at + (double)down + REACH_PX) + 1;
}

void lamp_focus_rows(const struct lamp_focus *focus, const struct lamp_watched *place, size_t count,
                     int height_px, int *first_px, int *end_px)
{
    int first = height_px;
    int end = 0;
    for (size_t i = 0; i < count && focus->is_on && focus->wanted == 0; i++) {
        int from;
        int to;
        if (matters(&place[i])) {
            lamp_focus_rows_of(&place[i], &focus->still, &from, &to);
            first = from < first ? from : first;
            end = to > end ? to : end;
        }
    }
    bool is_part = end > first;
    *first_px = is_part && first > 0 ? first : 0;
    *end_px = is_part ? (end < height_px ? end : height_px) : 0;
}
