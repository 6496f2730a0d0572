/* viewer.c - Frames in, readings out: finds places, follows them, measures each on every frame. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/measure.h"
#include "light/viewer.h"

enum {
    SIDE_MIN_PX = 16,
    LOOK_AGAIN = 120, /* frames between looks for lamps that only shine, */
    LOOK_AROUND = 16, /* ... and at what those found so far shed around */
    BANDS_KNOWN = 60  /* frames with bands until the room's usual light is known without them */
};
#define STILL_PX 1.0 /* motion of the picture below which places need no anchor */

struct lamp_viewer_rules lamp_viewer_rules_default(void)
{
    return (struct lamp_viewer_rules){.finds = true, .least_contrast = 0.02};
}

enum lamp_err lamp_viewer_new(const struct lamp_viewer_rules *rules, struct lamp_viewer **out)
{
    struct lamp_viewer *v = calloc(1, sizeof *v);
    if (v == NULL) {
        return LAMP_NO_MEMORY;
    }
    v->rules = *rules;
    v->motion = lamp_motion_none();
    *out = v;
    return LAMP_OK;
}

enum lamp_err lamp_viewer_point(struct lamp_viewer *v, const struct lamp_region *region)
{
    if (v->place_count == LAMP_PLACES_MAX / 2) {
        return LAMP_FULL;
    }
    lamp_watched_point(&v->place[v->place_count++], region);
    return LAMP_OK;
}

/* -- readings -- */

const struct lamp_held *lamp_viewer_held(const struct lamp_viewer *v, int back)
{
    return &v->held[(v->counts.frames + (uint64_t)(LAMP_FRAMES_KEPT - back)) % LAMP_FRAMES_KEPT];
}

static void give(struct lamp_viewer *v, size_t index, int64_t t_ns, int64_t exposure_ns,
                 const struct lamp_light *light)
{
    struct lamp_watched *w = &v->place[index];
    struct lamp_reading reading = {.place = index,
                                   .t_ns = t_ns,
                                   .exposure_ns = exposure_ns,
                                   .begins = !w->has_begun,
                                   .after_break = w->has_begun && w->needs_break};
    for (int c = 0; c < 3; c++) {
        reading.rgb[c] = lamp_watched_own(w, light, c);
        reading.is_driven[c] = w->spot.mask[c].is_driven;
    }
    w->has_begun = true;
    w->needs_break = false;
    if (v->queue_count < LAMP_QUEUE_MAX) {
        v->queue[v->queue_count++] = reading;
    }
}

void lamp_viewer_measure(struct lamp_viewer *v, size_t index, const struct lamp_held *held)
{
    struct lamp_watched *w = &v->place[index];
    struct lamp_light light;
    if (w->is_out_of_sight) {
        return;
    }
    struct lamp_offset shift = {(float)w->anchor.shift.x, (float)w->anchor.shift.y};
    if (!lamp_spot_measure(&v->linear, held, &w->spot, shift, &light)) {
        w->needs_break = true;
        return;
    }
    if (!held->frame.is_partial) {
        w->clear = lamp_around_look(&w->around, held, &w->spot, w->anchor.shift);
    }
    if (w->clear < LAMP_AROUND_COVERED) {
        w->needs_break = true;
        return;
    }
    bool is_calm = lamp_focus_watch(&v->focus, index, w, &light);
    if (held->frame.is_partial && !is_calm) {
        return; /* the whole pictures that come now will tell whether a shadow fell or it is damaged
                 */
    }
    if (lamp_reflection_is_blinding(&w->reflection, w->lit_rgb, light.room)) {
        return;
    }
    float room = light.room[1];
    lamp_reflection_learn(&w->reflection, &light);
    lamp_reflection_take_out(&w->reflection, &light);
    lamp_reflection_note(&w->reflection, room, lamp_watched_level(w, &light));
    lamp_shade_note(&w->shade, &light);
    lamp_watched_learn(w, &light);
    give(v, index, held->frame.t_ns, held->frame.exposure_ns, &light);
}

/* A new place is measured on the frames still held, as far as no part of a picture was taken
 * between them: the lamp may have changed on that. Before them it did not change, or it would have
 * been found: its light on the oldest one stands for all since the scene began. */
void lamp_viewer_begin_place(struct lamp_viewer *v, size_t index, bool was_calm)
{
    bool is_unbroken = !v->focus.had_part;
    int unbroken =
        is_unbroken || v->focus.row_count > v->held_count ? v->held_count : v->focus.row_count;
    int oldest = unbroken - 1;
    const struct lamp_held *first = lamp_viewer_held(v, oldest);
    const struct lamp_offset here = {0, 0};
    struct lamp_light light;
    if (was_calm && is_unbroken && first->frame.t_ns > v->scene_ns &&
        lamp_spot_measure(&v->linear, first, &v->place[index].spot, here, &light)) {
        lamp_reflection_take_out(&v->place[index].reflection, &light);
        lamp_watched_learn(&v->place[index], &light);
        give(v, index, v->scene_ns, 0, &light);
    }
    for (int back = oldest; back >= 0; back--) {
        lamp_viewer_measure(v, index, lamp_viewer_held(v, back));
    }
}

/* -- one frame -- */

static void forget_size(struct lamp_viewer *v)
{
    lamp_coarse_fini(&v->coarse);
    lamp_bands_fini(&v->bands);
    lamp_follower_free(v->follower);
    lamp_finder_free(v->finder);
    lamp_scout_free(v->scout);
    v->follower = NULL;
    v->finder = NULL;
    v->scout = NULL;
}

/* The first frame sets the size; one that failed for want of memory may be pushed again. */
static enum lamp_err set_size(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    if (v->has_size) {
        bool is_same = frame->y.width_px == v->width_px && frame->y.height_px == v->height_px;
        return is_same ? LAMP_OK : LAMP_BAD_SOURCE;
    }
    if (frame->y.width_px < SIDE_MIN_PX || frame->y.height_px < SIDE_MIN_PX ||
        frame->y.width_px > 16384) {
        return LAMP_BAD_SOURCE;
    }
    enum lamp_err err = lamp_coarse_init(&v->coarse, frame->y.width_px, frame->y.height_px);
    if (err == LAMP_OK) {
        err = lamp_follower_new(&v->coarse, &v->follower);
    }
    if (err == LAMP_OK) {
        err = lamp_finder_new(&v->coarse, &v->finder);
    }
    if (err == LAMP_OK) {
        err = lamp_scout_new(&v->coarse, &v->scout);
    }
    if (err == LAMP_OK) {
        err = lamp_bands_init(&v->bands, &v->coarse);
    }
    if (err != LAMP_OK) {
        forget_size(v);
        return err;
    }
    v->has_size = true;
    v->width_px = frame->y.width_px;
    v->height_px = frame->y.height_px;
    return LAMP_OK;
}

/* What was refused stays so: in a recording that cuts back and forth the same spots come up again,
 * and each time they are looked at they take a look from others. */
static void begin_scene(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    v->scene_ns = frame->t_ns;
    v->held_count = 0;
    v->pending_count = 0;
    v->focus = (struct lamp_focus){.is_on = false};
    for (size_t i = 0; i < v->place_count; i++) {
        v->place[i].is_out_of_sight = !v->place[i].is_pointed;
        v->place[i].needs_break = true;
    }
}

static void note_camera(struct lamp_viewer *v, const struct lamp_following *following)
{
    struct lamp_point corner[2] = {{0, 0}, {v->width_px, v->height_px}};
    v->counts.offset_px = 0;
    for (int i = 0; i < 2; i++) {
        double distance = lamp_motion_distance(&following->motion, corner[i]);
        v->counts.offset_px = fmax(v->counts.offset_px, distance);
    }
    v->counts.motion_px = fmax(v->counts.motion_px, v->counts.offset_px);
    v->gain_least = v->counts.frames == 0 ? following->gain : fmin(v->gain_least, following->gain);
    v->gain_most = fmax(v->gain_most, following->gain);
    v->counts.cuts += following->is_cut;
    v->counts.repeats += following->is_repeat;
}

/* A frame that may be damaged is left out, and the light goes on as if it were lost; the frames
 * before it are no longer kept next to those that come. @return whether the frame is such a one. */
static bool leave_out_doubtful(struct lamp_viewer *v, const struct lamp_following *following)
{
    if (following->is_in_doubt) {
        v->doubt_count++;
        v->held_count = 0;
        v->focus.row_count = 0;
        return true;
    }
    v->counts.damaged += following->is_cut ? 0 : v->doubt_count;
    v->doubt_count = 0;
    return false;
}

/* The usual light became known better: what places reflect is told in it. */
static bool level_bands(struct lamp_viewer *v)
{
    float row[LAMP_BAND_ROWS_MAX];
    if (!lamp_bands_level(&v->bands, row)) {
        return false;
    }
    const struct lamp_held as_before = {
        .frame = lamp_viewer_held(v, 0)->frame, .light = row, .block_px = v->coarse.block_px};
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        double y = floor(lamp_motion_apply(&v->motion, w->spot.centre).y);
        float change[LAMP_REFLECTING];
        for (int k = 0; k < LAMP_REFLECTING; k++) {
            change[k] = lamp_held_room(&as_before, (float)y + w->spot.reflecting_y[k]);
        }
        lamp_reflection_level(&w->reflection, change);
    }
    return true;
}

static void look_at_places(struct lamp_viewer *v, const struct lamp_following *following,
                           bool is_look_due)
{
    bool is_moving = v->counts.motion_px > STILL_PX;
    for (size_t i = 0; i < v->place_count; i++) {
        if (is_moving && !v->place[i].is_out_of_sight) {
            lamp_anchor_follow(&v->place[i].anchor, lamp_viewer_held(v, 0), &v->place[i].spot);
        }
        lamp_viewer_measure(v, i, lamp_viewer_held(v, 0));
    }
    if (v->rules.finds) {
        lamp_finder_push(v->finder, &v->coarse, following);
        lamp_viewer_discover_changed(v);
        if (is_look_due) {
            lamp_white_find(&v->coarse, lamp_viewer_held(v, 0)->frame.is_full_range, &v->white);
            lamp_viewer_discover_shining(v);
        }
        if (v->counts.frames % LOOK_AROUND == 0) {
            lamp_viewer_look_around(v);
        }
    }
}

static enum lamp_err look(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    enum lamp_err err = set_size(v, frame);
    if (err != LAMP_OK) {
        return err;
    }
    if (v->queue_taken == v->queue_count) {
        v->queue_taken = v->queue_ready = v->queue_count = 0;
    }
    lamp_linear_set(&v->linear, frame);
    if (frame->is_after_hole) {
        lamp_viewer_note_hole(v);
    }
    if (frame->is_partial) {
        lamp_viewer_measure_part(v, frame);
        return LAMP_OK;
    }
    lamp_coarse_take(&v->coarse, frame);
    const float *light = lamp_bands_push(&v->bands, &v->coarse, frame, &v->motion);
    struct lamp_following following;
    lamp_follower_push(v->follower, &v->coarse, &following);
    if (leave_out_doubtful(v, &following)) {
        return LAMP_OK;
    }
    v->motion = following.motion;
    note_camera(v, &following);
    lamp_viewer_confirm_parts(v, &following);
    if (following.is_cut) {
        lamp_bands_forget(&v->bands);
        lamp_coarse_take(&v->coarse, frame);
        light = lamp_bands_push(&v->bands, &v->coarse, frame, &v->motion);
    }
    if (v->counts.frames == 0 || following.is_cut) {
        begin_scene(v, frame);
    }
    bool is_look_due = v->counts.frames % LOOK_AGAIN == 0 || following.is_cut;
    if (light != NULL && v->bands.seen_count == 1) {
        lamp_viewer_forget_shining(v);
    }
    if (light != NULL && level_bands(v)) {
        is_look_due = is_look_due || v->bands.seen_count == BANDS_KNOWN;
    }
    v->counts.frames++;
    v->focus.row_count += v->focus.row_count < LAMP_FRAMES_KEPT;
    if (!v->focus.had_part) {
        lamp_ripple_push(&v->ripple, frame->t_ns, following.gain); /* it needs frames in a row */
    }
    v->held[v->counts.frames % LAMP_FRAMES_KEPT] =
        (struct lamp_held){*frame, following.motion, light, v->coarse.block_px};
    v->held_count = v->held_count < LAMP_FRAMES_KEPT ? v->held_count + 1 : LAMP_FRAMES_KEPT;
    if (following.is_repeat) {
        return LAMP_OK; /* the same picture again tells nothing of the time it claims to show */
    }
    if (v->counts.frames == 1) {
        lamp_white_find(&v->coarse, lamp_viewer_held(v, 0)->frame.is_full_range, &v->white);
        lamp_viewer_appraise_pointed(v);
    }
    look_at_places(v, &following, is_look_due);
    lamp_viewer_glance(v, &following);
    return LAMP_OK;
}

enum lamp_err lamp_viewer_push(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    enum lamp_err err = look(v, frame);
    if (!frame->is_partial && v->doubt_count == 0) {
        v->queue_ready = v->queue_count;
    }
    return err;
}

bool lamp_viewer_next(struct lamp_viewer *v, struct lamp_reading *out)
{
    if (v->queue_taken == v->queue_ready) {
        return false;
    }
    *out = v->queue[v->queue_taken++];
    return true;
}

size_t lamp_viewer_place_count(const struct lamp_viewer *v)
{
    return v->place_count;
}

void lamp_viewer_place(const struct lamp_viewer *v, size_t index, struct lamp_place *out)
{
    const struct lamp_watched *w = &v->place[index];
    *out = (struct lamp_place){.region = w->region,
                               .is_pointed = w->is_pointed,
                               .has_changed = w->clean_count > 0,
                               .is_by_change = w->is_by_change,
                               .likeness = lamp_watched_likeness(w),
                               .shine = lamp_watched_shine(w),
                               .core = w->clip,
                               .over_white = w->over_white};
    lamp_watched_colour(w, out->lit_rgb);
}

bool lamp_viewer_where(const struct lamp_viewer *v, size_t index, struct lamp_region *out)
{
    const struct lamp_watched *w = &v->place[index];
    struct lamp_point corner = {w->region.x_px, w->region.y_px};
    struct lamp_point now = lamp_motion_apply(&v->motion, corner);
    *out = w->region;
    out->x_px = (int)lround(now.x + w->anchor.shift.x);
    out->y_px = (int)lround(now.y + w->anchor.shift.y);
    return !w->is_out_of_sight;
}

void lamp_viewer_describe(const struct lamp_viewer *v, struct lamp_viewer_counts *out)
{
    *out = v->counts;
    out->gain_ratio = v->gain_least > 0 ? v->gain_most / v->gain_least : 1;
    out->ripple_hz = lamp_ripple_rate(&v->ripple);
}

void lamp_viewer_free(struct lamp_viewer *v)
{
    if (v != NULL) {
        forget_size(v);
        free(v);
    }
}
