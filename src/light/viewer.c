/* viewer.c - Frames in, readings out: finds places, follows them, measures each on every frame. */
#include "lampread/light.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/coarse.h"
#include "light/find.h"
#include "light/follow.h"
#include "light/place.h"
#include "light/ripple.h"

enum {
    KEPT = LAMP_FRAMES_KEPT,
    QUEUE_MAX = LAMP_PLACES_MAX * (KEPT + 2), /* readings of one frame, if every place began on it */
    SIDE_MIN_PX = 16,
    LOOKS_MAX = 6,             /* closer looks on one frame */
    LOOK_AGAIN = 60,           /* frames between looks for lamps that only shine */
    DROPPED = 1000,            /* changes that were not a lamp's, for a place that was none */
    GRACE_NS = 2000000000      /* a place without a lamp's changes gives way after that long */
};

#define STRONGER 1.4 /* times a change must be as strong to be taken for the lamp itself, and the earlier one for its glow */
#define GLANCE   0.5F /* strictness of a first glance at a change, before a closer look */
#define STILL_PX 1.0 /* motion of the picture below which places need no anchor */

struct lamp_viewer {
    struct lamp_viewer_rules rules;
    struct lamp_viewer_counts counts;
    struct lamp_coarse coarse;
    struct lamp_follower *follower;
    struct lamp_finder *finder;
    struct lamp_linear linear;
    struct lamp_ripple ripple;
    struct lamp_held held[KEPT];  /* held[frames % KEPT] is the newest */
    int held_count;
    struct lamp_spotted pending[LAMP_SPOTTED_MAX]; /* seen on the frame before, looked at now that the edge is over */
    size_t pending_count;
    struct lamp_watched place[LAMP_PLACES_MAX];
    size_t place_count;
    struct lamp_reading queue[QUEUE_MAX];
    size_t queue_count, queue_taken;
    int64_t scene_ns;             /* first frame of this scene */
    double gain_least, gain_most;
    bool has_size;
    int width_px, height_px;
};

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

/* ---- readings ------------------------------------------------------------------------------------------------- */

static struct lamp_held *held_back(struct lamp_viewer *v, int back)
{
    return &v->held[(v->counts.frames + (uint64_t)(KEPT - back)) % KEPT];
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
        reading.rgb[c] = light->core[c] - light->ring[c];
    }
    w->has_begun = true;
    w->needs_break = false;
    if (v->queue_count < QUEUE_MAX) {
        v->queue[v->queue_count++] = reading;
    }
}

static void measure(struct lamp_viewer *v, size_t index, const struct lamp_held *held)
{
    struct lamp_watched *w = &v->place[index];
    struct lamp_light light;
    if (w->is_out_of_sight) {
        return;
    }
    struct lamp_offset shift = {(short)w->anchor.shift_x, (short)w->anchor.shift_y};
    if (!lamp_spot_measure(&v->linear, held, &w->spot, shift, &light)) {
        w->needs_break = true;
        return;
    }
    lamp_watched_learn(w, &light);
    give(v, index, held->frame.t_ns, held->frame.exposure_ns, &light);
}

/* A new place is measured on the frames still held. Before them it did not change, or it would have been found: its
 * light on the oldest one stands for all since the scene began. */
static void measure_held(struct lamp_viewer *v, size_t index, bool was_calm)
{
    int oldest = v->held_count - 1;
    const struct lamp_held *first = held_back(v, oldest);
    const struct lamp_offset here = {0, 0};
    struct lamp_light light;
    if (was_calm && first->frame.t_ns > v->scene_ns &&
        lamp_spot_measure(&v->linear, first, &v->place[index].spot, here, &light)) {
        lamp_watched_learn(&v->place[index], &light);
        give(v, index, v->scene_ns, 0, &light);
    }
    for (int back = oldest; back >= 0; back--) {
        measure(v, index, held_back(v, back));
    }
}

/* ---- finding -------------------------------------------------------------------------------------------------- */

static bool covers(const struct lamp_watched *w, struct lamp_point p, double margin_px)
{
    return !w->is_out_of_sight && fabs(p.x - w->spot.centre.x) < w->spot.half_w_px * 1.3 + margin_px &&
           fabs(p.y - w->spot.centre.y) < w->spot.half_h_px * 1.3 + margin_px;
}

/* Whether a place stands against a new one that was found by a change of `strength` (0: shining). What only shines gives
 * way to what goes on and off, a weak change to one that is far stronger, what the user pointed at to what is outlined. */
static bool is_taken(const struct lamp_viewer *v, struct lamp_point p, double margin_px, double strength)
{
    for (size_t i = 0; i < v->place_count; i++) {
        const struct lamp_watched *w = &v->place[i];
        if (covers(w, p, margin_px) && w->peak > 0 && strength <= STRONGER * w->strength) {
            return true;
        }
    }
    return false;
}

/* What was found at a point before was this lamp, seen less well. */
static void drop_weaker(struct lamp_viewer *v, struct lamp_point p)
{
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        if (!w->is_pointed && covers(w, p, 0)) {
            w->is_out_of_sight = true;
            w->clean_count = 0;
            w->dirty_count = DROPPED;
        }
    }
}

static int pointed_at(const struct lamp_viewer *v, struct lamp_point p)
{
    for (size_t i = 0; i < v->place_count; i++) {
        if (v->place[i].is_pointed && v->place[i].peak <= 0 && covers(&v->place[i], p, 2)) {
            return (int)i;
        }
    }
    return -1;
}

/* The index for a new place: a free one, or that of the least lamp-like place that had its time; -1 if none gives way. */
static int room_for_place(struct lamp_viewer *v, int64_t now_ns)
{
    if (v->place_count < LAMP_PLACES_MAX) {
        return (int)v->place_count++;
    }
    int worst = -1;
    float least = 0.3F;
    for (size_t i = 0; i < v->place_count; i++) {
        const struct lamp_watched *w = &v->place[i];
        float likeness = w->is_out_of_sight ? 0 : lamp_watched_likeness(w);
        if (!w->is_pointed && now_ns - w->since_ns > GRACE_NS && likeness < least) {
            least = likeness;
            worst = (int)i;
        }
    }
    return worst;
}

static void add_place(struct lamp_viewer *v, const struct lamp_spot *spot, const struct lamp_look *look,
                      const struct lamp_spotted *spotted, bool changed)
{
    int64_t now_ns = held_back(v, 0)->frame.t_ns;
    int index = pointed_at(v, spot->centre);
    struct lamp_region kept = {0};
    bool is_pointed = index >= 0;
    if (is_pointed) {
        kept = v->place[index].region;
    } else {
        index = room_for_place(v, now_ns);
    }
    if (index < 0) {
        return;
    }
    struct lamp_watched *w = &v->place[index];
    lamp_watched_init(w, spot, look, changed);
    w->since_ns = now_ns;
    w->since_frame = v->counts.frames;
    w->strength = changed ? spotted->strength : 0;
    if (is_pointed) {
        w->is_pointed = true;
        w->region = kept;
    }
    lamp_follower_leave_out(v->follower, spot->centre, 2 * spot->radius_px + v->coarse.block_px);
    lamp_anchor_set(&w->anchor, held_back(v, 0), spot);
    measure_held(v, (size_t)index, spotted->was_calm && changed);
}

/* The two held frames that differ most about a point: how long ago the brighter and the darker were. */
static bool choose_frames(struct lamp_viewer *v, struct lamp_point at, int *lit, int *dark)
{
    struct lamp_spot probe;
    int block = v->coarse.block_px;
    struct lamp_region region = {(int)(at.x - block), (int)(at.y - block), 2 * block, 2 * block};
    const struct lamp_offset here = {0, 0};
    struct lamp_light light[KEPT];
    lamp_spot_of_region(&region, &probe);
    for (int back = 0; back < v->held_count; back++) {
        if (!lamp_spot_measure(&v->linear, held_back(v, back), &probe, here, &light[back])) {
            return false;
        }
    }
    float most = 0;
    for (int k = 0; k < v->held_count * v->held_count * 3; k++) {
        int a = k / 3 / v->held_count;
        int b = k / 3 % v->held_count;
        float step = light[a].core[k % 3] - light[b].core[k % 3];
        if (step > most) {
            most = step;
            *lit = a;
            *dark = b;
        }
    }
    return most > 0 && lamp_light_is_clean(&light[*lit], &light[*dark], GLANCE);
}

static bool look_at_change(struct lamp_viewer *v, const struct lamp_spotted *spotted, struct lamp_spot *spot,
                           struct lamp_look *look)
{
    int lit = 0;
    int dark = 0;
    return choose_frames(v, spotted->centre, &lit, &dark) &&
           lamp_spot_find(&v->linear, held_back(v, lit), held_back(v, dark), spotted->centre,
                          2.0 * v->coarse.block_px, spot, look) &&
           !is_taken(v, spot->centre, 0, spotted->strength) && lamp_look_is_clean(look, v->rules.least_contrast);
}

/* A place is as strong as its strongest change; the edge it was found by may still have been under way. */
static void strengthen(struct lamp_viewer *v, const struct lamp_spotted *spotted)
{
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        bool is_same_edge = v->counts.frames - w->since_frame < KEPT;
        if (covers(w, spotted->centre, 0) && w->strength > 0 && spotted->strength > w->strength &&
            (is_same_edge || spotted->strength <= STRONGER * w->strength)) {
            w->strength = spotted->strength;
        }
    }
}

static void look_closer(struct lamp_viewer *v)
{
    int looks = 0;
    for (size_t i = 0; i < v->pending_count && looks < LOOKS_MAX; i++) {
        struct lamp_spot spot;
        struct lamp_look look;
        if (is_taken(v, v->pending[i].centre, v->coarse.block_px, v->pending[i].strength)) {
            continue;
        }
        looks++;
        if (look_at_change(v, &v->pending[i], &spot, &look)) {
            drop_weaker(v, spot.centre);
            add_place(v, &spot, &look, &v->pending[i], true);
        }
    }
    v->pending_count = lamp_finder_changed(v->finder, v->pending);
    for (size_t i = 0; i < v->pending_count; i++) {
        strengthen(v, &v->pending[i]);
    }
}

static void look_for_shining(struct lamp_viewer *v)
{
    struct lamp_spotted spotted[LAMP_SPOTTED_MAX];
    size_t count = lamp_finder_shining(v->finder, spotted);
    for (size_t i = 0; i < count; i++) {
        struct lamp_spot spot;
        struct lamp_look look;
        if (!is_taken(v, spotted[i].centre, v->coarse.block_px, 0) &&
            lamp_spot_find(&v->linear, held_back(v, 0), NULL, spotted[i].centre, 2.0 * v->coarse.block_px, &spot, &look) &&
            !is_taken(v, spot.centre, 0, 0)) {
            add_place(v, &spot, &look, &spotted[i], false);
        }
    }
}

/* ---- one frame ------------------------------------------------------------------------------------------------ */

static enum lamp_err set_size(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    if (v->has_size) {
        bool is_same = frame->y.width_px == v->width_px && frame->y.height_px == v->height_px;
        return is_same ? LAMP_OK : LAMP_BAD_SOURCE;
    }
    if (frame->y.width_px < SIDE_MIN_PX || frame->y.height_px < SIDE_MIN_PX || frame->y.width_px > 16384) {
        return LAMP_BAD_SOURCE;
    }
    enum lamp_err err = lamp_coarse_init(&v->coarse, frame->y.width_px, frame->y.height_px);
    if (err == LAMP_OK && v->follower == NULL) {
        err = lamp_follower_new(&v->coarse, &v->follower);
    }
    if (err == LAMP_OK && v->finder == NULL) {
        err = lamp_finder_new(&v->coarse, &v->finder);
    }
    v->has_size = err == LAMP_OK;
    v->width_px = frame->y.width_px;
    v->height_px = frame->y.height_px;
    return err;
}

static void begin_scene(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    v->scene_ns = frame->t_ns;
    v->held_count = 0;
    v->pending_count = 0;
    for (size_t i = 0; i < v->place_count; i++) {
        v->place[i].is_out_of_sight = !v->place[i].is_pointed;
        v->place[i].needs_break = true;
    }
}

static void note_camera(struct lamp_viewer *v, const struct lamp_following *following)
{
    struct lamp_point corner[2] = {{0, 0}, {v->width_px, v->height_px}};
    for (int i = 0; i < 2; i++) {
        double distance = lamp_motion_distance(&following->motion, corner[i]);
        v->counts.motion_px = fmax(v->counts.motion_px, distance);
    }
    v->gain_least = v->counts.frames == 0 ? following->gain : fmin(v->gain_least, following->gain);
    v->gain_most = fmax(v->gain_most, following->gain);
    v->counts.cuts += following->is_cut;
    v->counts.repeats += following->is_repeat;
}

enum lamp_err lamp_viewer_push(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    enum lamp_err err = set_size(v, frame);
    if (err != LAMP_OK) {
        return err;
    }
    if (v->queue_taken == v->queue_count) {
        v->queue_taken = v->queue_count = 0;
    }
    lamp_linear_set(&v->linear, frame);
    lamp_coarse_take(&v->coarse, frame);
    struct lamp_following following;
    lamp_follower_push(v->follower, &v->coarse, &following);
    note_camera(v, &following);
    if (v->counts.frames == 0 || following.is_cut) {
        begin_scene(v, frame);
    }
    bool is_look_due = v->counts.frames % LOOK_AGAIN == 0 || following.is_cut;
    v->counts.frames++;
    lamp_ripple_push(&v->ripple, frame->t_ns, following.gain);
    *held_back(v, 0) = (struct lamp_held){*frame, following.motion};
    v->held_count = v->held_count < KEPT ? v->held_count + 1 : KEPT;
    if (following.is_repeat) {
        return LAMP_OK; /* the same picture again tells nothing of the time it claims to show */
    }
    bool is_moving = v->counts.motion_px > STILL_PX;
    for (size_t i = 0; i < v->place_count; i++) {
        if (is_moving && !v->place[i].is_out_of_sight) {
            lamp_anchor_follow(&v->place[i].anchor, held_back(v, 0), &v->place[i].spot);
        }
        measure(v, i, held_back(v, 0));
    }
    if (v->rules.finds) {
        lamp_finder_push(v->finder, &v->coarse, &following);
        look_closer(v);
        if (is_look_due) {
            look_for_shining(v);
        }
    }
    return LAMP_OK;
}

bool lamp_viewer_next(struct lamp_viewer *v, struct lamp_reading *out)
{
    if (v->queue_taken == v->queue_count) {
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
                               .likeness = lamp_watched_likeness(w),
                               .shine = lamp_watched_shine(w)};
    memcpy(out->lit_rgb, w->rim_rgb, sizeof out->lit_rgb);
    if (!(w->rim_rgb[0] > 0 || w->rim_rgb[1] > 0 || w->rim_rgb[2] > 0)) {
        memcpy(out->lit_rgb, w->lit_rgb, sizeof out->lit_rgb);
    }
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
        lamp_coarse_fini(&v->coarse);
        lamp_follower_free(v->follower);
        lamp_finder_free(v->finder);
        free(v);
    }
}
