/* discover.c - From spots that changed or shine to places worth measuring. */
#include <math.h>
#include <string.h>

#include "light/measure.h"
#include "light/scout.h"
#include "light/shine.h"
#include "light/viewer.h"

enum {
    REFUSED_FRAMES = 45,  /* frames for which a spot that is no lamp is not looked at again */
    SURE_CHANGES = 3,     /* clean ones: a lamp, not a piece of a halo */
    GRACE_NS = 2000000000 /* a place without a lamp's changes gives way after that long */
};
#define REFUSED_TIMES  1.3 /* unless its change is so many times as strong as then */
#define STRONGER       1.4 /* times as strong a change must be for the earlier one to be its glow */
#define GLANCE         0.5F  /* strictness of a first glance at a change, before a closer look */
#define LIKE_A_LAMP    0.3F  /* likeness from which a place may explain a change near it */
#define WORTH_WATCHING 0.02F /* chance that a spot shines from which it is measured */
#define WORTH_KEEPING  0.3F  /* worth from which a place never gives way */
#define SKIN_OVER      0.5F  /* times white what is lit by the room may be, */
#define LAMP_OVER      0.8F  /* and what a lamp is at least */
#define GLOW_REACH     3.0   /* radii of a lamp within which its halo shows in pieces */
#define GLOW_GAIN      0.1F /* share of its light that the lamp must have gained at the same time */
#define BROADER        1.6  /* times as broad a place is that was the glow of this spot */
#define DIMS_TO        0.4F /* share of its light that a lamp keeps if it only dims */
#define DIMMER         0.85F /* share of a lamp's light that what it lights up does not reach */

static bool covers(const struct lamp_watched *w, struct lamp_point p, double margin_px)
{
    return !w->is_out_of_sight &&
           fabs(p.x - w->spot.centre.x) < w->spot.half_w_px * 1.3 + margin_px &&
           fabs(p.y - w->spot.centre.y) < w->spot.half_h_px * 1.3 + margin_px;
}

/* Whether a place stands against a new one that was found by a change of `strength` (0: shining).
 * What only shines gives way to what goes on and off, a weak change to one that is far stronger,
 * what the user pointed at to what is outlined. */
static bool is_taken(const struct lamp_viewer *v, struct lamp_point p, double margin_px,
                     double strength)
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
            w->is_dropped = true;
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

/* How much a place is worth keeping when others want its room. What a hand uncovers, and the hand,
 * is dimmer than white; so is a dim lamp, but there is seldom a crowd of those. */
static float worth_of(const struct lamp_watched *w)
{
    float bright = 1;
    if (w->over_white > 0) {
        bright = fminf(fmaxf((w->over_white - SKIN_OVER) / (LAMP_OVER - SKIN_OVER), 0), 1);
    }
    return w->is_out_of_sight ? 0 : lamp_watched_likeness(w) * bright;
}

/* One that was found as a hand uncovered it is covered again before long. */
static bool had_its_time(const struct lamp_watched *w, int64_t now_ns)
{
    return now_ns - w->since_ns > GRACE_NS || w->clear < LAMP_AROUND_COVERED;
}

/* The index for a new place: a free one, or that of the place worth least that had its time; -1
 * if none gives way. */
static int room_for_place(struct lamp_viewer *v, int64_t now_ns)
{
    if (v->place_count < LAMP_PLACES_MAX) {
        return (int)v->place_count++;
    }
    int worst = -1;
    float least = WORTH_KEEPING;
    for (size_t i = 0; i < v->place_count; i++) {
        const struct lamp_watched *w = &v->place[i];
        float worth = worth_of(w);
        if (!w->is_pointed && had_its_time(w, now_ns) && worth < least) {
            least = worth;
            worst = (int)i;
        }
    }
    return worst;
}

/* A place that was found by a change comes with how its surroundings look. @return NULL if there is
 * no room. */
static struct lamp_watched *add_place(struct lamp_viewer *v, const struct lamp_spot *spot,
                                      const struct lamp_look *look,
                                      const struct lamp_spotted *spotted,
                                      const struct lamp_around *around)
{
    const bool changed = around != NULL;
    int64_t now_ns = lamp_viewer_held(v, 0)->frame.t_ns;
    int index = pointed_at(v, spot->centre);
    struct lamp_region kept = {0};
    bool is_pointed = index >= 0;
    if (is_pointed) {
        kept = v->place[index].region;
    } else {
        index = room_for_place(v, now_ns);
    }
    if (index < 0) {
        return NULL;
    }
    struct lamp_watched *w = &v->place[index];
    lamp_watched_init(w, spot, look, changed);
    if (changed) {
        w->around = *around;
    }
    w->since_ns = now_ns;
    w->since_frame = v->counts.frames;
    w->strength = changed ? spotted->strength : 0;
    lamp_watched_compare(w, &v->white);
    if (is_pointed) {
        w->is_pointed = true;
        w->region = kept;
    }
    lamp_follower_leave_out(v->follower, spot->centre, 2 * spot->radius_px + v->coarse.block_px);
    lamp_anchor_set(&w->anchor, lamp_viewer_held(v, 0), spot);
    lamp_viewer_begin_place(v, (size_t)index, spotted->was_calm && changed);
    return w;
}

/* The two held frames that differ most about a point: how long ago the brighter and the darker
 * were. */
static bool choose_frames(struct lamp_viewer *v, struct lamp_point at, int *lit, int *dark)
{
    struct lamp_spot probe;
    int block = v->coarse.block_px;
    struct lamp_region region = {(int)(at.x - block), (int)(at.y - block), 2 * block, 2 * block};
    const struct lamp_offset here = {0, 0};
    struct lamp_light light[LAMP_FRAMES_KEPT] = {{.core = {0}}};
    lamp_spot_of_region(&region, &probe);
    for (int back = 0; back < v->held_count; back++) {
        if (!lamp_spot_measure(&v->linear, lamp_viewer_held(v, back), &probe, here, &light[back])) {
            return false;
        }
    }
    float most = 0;
    for (int k = 0; k < v->held_count * v->held_count * 3; k++) {
        int a = k / 3 / v->held_count;
        int b = k / 3 % v->held_count;
        float room = fmaxf(light[a].room[k % 3] / light[b].room[k % 3], 1);
        float step = light[a].core[k % 3] - light[b].core[k % 3] * room;
        if (step > most) {
            most = step;
            *lit = a;
            *dark = b;
        }
    }
    for (int c = 0; c < 3 && most > 0; c++) {
        light[*dark].core[c] *= fmaxf(light[*lit].room[c] / light[*dark].room[c], 1);
    }
    return most > 0 && lamp_light_is_clean(&light[*lit], &light[*dark], GLANCE);
}

/* A change that was looked at: two frames, how long ago, and what differs between them. */
struct change {
    int lit, dark;
    struct lamp_spot spot;
    struct lamp_look look;
    struct lamp_around around;
};

/* How much of its lit light, above the ring, a place gained from the dark frame to the lit one. */
static float gain_of(const struct lamp_viewer *v, const struct lamp_watched *w,
                     const struct change *change)
{
    const struct lamp_offset shift = {(float)w->anchor.shift.x, (float)w->anchor.shift.y};
    struct lamp_light lit;
    struct lamp_light dark;
    if (!lamp_spot_measure(&v->linear, lamp_viewer_held(v, change->lit), &w->spot, shift, &lit) ||
        !lamp_spot_measure(&v->linear, lamp_viewer_held(v, change->dark), &w->spot, shift, &dark)) {
        return 0;
    }
    lamp_reflection_take_out(&w->reflection, &lit);
    lamp_reflection_take_out(&w->reflection, &dark);
    float most = 0;
    for (int c = 0; c < 3; c++) {
        float now = lamp_watched_own(w, &lit, c);
        float gain = now - lamp_watched_own(w, &dark, c);
        most = now > 0.01F && gain / now > most ? gain / now : most;
    }
    return most;
}

static int strongest(const float rgb[3])
{
    int most = rgb[1] > rgb[0] ? 1 : 0;
    return rgb[2] > rgb[most] ? 2 : most;
}

static float above_room(const struct lamp_light *light)
{
    float most = 0;
    for (int c = 0; c < 3; c++) {
        most = fmaxf(most, light->core[c] - light->far[c]);
    }
    return most;
}

/* What a lamp does to its surroundings is less light than it gains itself. Something pale that the
 * room alone makes bright may be as bright as the lamp when its halo comes on top. */
static bool is_dimmer(const struct lamp_watched *w, const struct change *change)
{
    int most = strongest(w->lit_rgb);
    float gained = change->look.lit.core[most] - change->look.dark.core[most];
    return above_room(&change->look.lit) < DIMMER * w->above_room ||
           (w->is_by_change && gained < DIMMER * w->lit_rgb[most]);
}

/* Whether a change is what a known place does to its surroundings, or does itself. A lamp that
 * dims without going out keeps a white core: only its halo is seen to change, in pieces. */
static bool is_light_of(const struct lamp_viewer *v, const struct lamp_watched *w,
                        const struct change *change)
{
    const struct lamp_spot *spot = &change->spot;
    double distance = hypot(spot->centre.x - w->spot.centre.x, spot->centre.y - w->spot.centre.y);
    if (w->is_out_of_sight || w->peak <= 0 || lamp_watched_likeness(w) < LIKE_A_LAMP ||
        distance > GLOW_REACH * w->spot.radius_px + spot->radius_px + 2) {
        return false;
    }
    bool is_inside = covers(w, spot->centre, 0);
    if (is_inside && !w->is_by_change) {
        return above_room(&change->look.dark) > DIMS_TO * above_room(&change->look.lit);
    }
    if (gain_of(v, w, change) < GLOW_GAIN) {
        return false;
    }
    return is_inside ? w->spot.radius_px < BROADER * spot->radius_px : is_dimmer(w, change);
}

/* Learn how the surroundings of a place look, from a change of its own or of what came before it.
 */
static void learn_around(const struct lamp_viewer *v, struct lamp_watched *w,
                         const struct change *change)
{
    if (!w->around.is_known) {
        (void)lamp_around_take(&w->around, lamp_viewer_held(v, change->lit),
                               lamp_viewer_held(v, change->dark), &w->spot, w->anchor.shift);
    }
}

/* Something came before the places there, or went. */
static void note_covered(struct lamp_viewer *v, const struct change *change)
{
    for (size_t i = 0; i < v->place_count; i++) {
        if (covers(&v->place[i], change->spot.centre, 0)) {
            learn_around(v, &v->place[i], change);
        }
    }
}

/* Whether a known place explains a change; it then counts as found by it. */
static bool is_explained(struct lamp_viewer *v, const struct lamp_spotted *spotted,
                         const struct change *change)
{
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        if (is_light_of(v, w, change)) {
            if (covers(w, change->spot.centre, 0) && gain_of(v, w, change) >= GLOW_GAIN) {
                learn_around(v, w, change);
                w->is_by_change = true;
                w->strength = fmax(w->strength, spotted->strength);
            }
            return true;
        }
    }
    return false;
}

/* Where to look at a change. A place that covers the spot is the same lamp. */
static struct lamp_aim aim_at(const struct lamp_viewer *v, struct lamp_point centre)
{
    struct lamp_aim aim = {centre, 2.0 * v->coarse.block_px, INFINITY};
    for (size_t i = 0; i < v->place_count; i++) {
        const struct lamp_watched *w = &v->place[i];
        if (w->clean_count >= SURE_CHANGES && w->clean_count > w->dirty_count && !w->is_dropped &&
            !covers(w, centre, v->coarse.block_px)) {
            const struct lamp_point at = w->spot.centre;
            aim.alone_px = fmin(aim.alone_px, hypot(at.x - centre.x, at.y - centre.y));
        }
    }
    return aim;
}

static bool look_at_change(struct lamp_viewer *v, const struct lamp_spotted *spotted,
                           struct change *change)
{
    const struct lamp_held *lit;
    const struct lamp_held *dark;
    if (!choose_frames(v, spotted->centre, &change->lit, &change->dark)) {
        return false;
    }
    lit = lamp_viewer_held(v, change->lit);
    dark = lamp_viewer_held(v, change->dark);
    const struct lamp_aim aim = aim_at(v, spotted->centre);
    const struct lamp_point here = {0, 0};
    if (!lamp_spot_find(&v->linear, lit, dark, &aim, &change->spot, &change->look) ||
        is_taken(v, change->spot.centre, 0, spotted->strength) ||
        !lamp_look_is_clean(&change->look, v->rules.least_contrast)) {
        return false;
    }
    if (!lamp_around_take(&change->around, lit, dark, &change->spot, here)) {
        note_covered(v, change);
        return false;
    }
    return !is_explained(v, spotted, change);
}

/* A place is as strong as its strongest change; the edge it was found by may still have been under
 * way. */
static void strengthen(struct lamp_viewer *v, const struct lamp_spotted *spotted)
{
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        bool is_same_edge = v->counts.frames - w->since_frame < LAMP_FRAMES_KEPT;
        if (covers(w, spotted->centre, 0) && w->strength > 0 && spotted->strength > w->strength &&
            (is_same_edge || spotted->strength <= STRONGER * w->strength)) {
            w->strength = spotted->strength;
        }
    }
}

/* Whether a spot was looked at lately, for a change as strong, and was none. */
static bool was_refused(const struct lamp_viewer *v, const struct lamp_spotted *spotted)
{
    for (unsigned i = 0; i < LAMP_REFUSED_MAX && i < v->refused_count; i++) {
        const struct lamp_refusal *r = &v->refused[i];
        if (v->counts.frames - r->frame < REFUSED_FRAMES &&
            hypot(r->centre.x - spotted->centre.x, r->centre.y - spotted->centre.y) <
                1.5 * v->coarse.block_px &&
            spotted->strength < REFUSED_TIMES * r->strength) {
            return true;
        }
    }
    return false;
}

static void refuse(struct lamp_viewer *v, const struct lamp_spotted *spotted)
{
    v->refused[v->refused_count++ % LAMP_REFUSED_MAX] =
        (struct lamp_refusal){spotted->centre, spotted->strength, v->counts.frames};
}

void lamp_viewer_discover_changed(struct lamp_viewer *v)
{
    for (size_t i = 0; i < v->pending_count; i++) {
        struct change change = {0};
        if (is_taken(v, v->pending[i].centre, v->coarse.block_px, v->pending[i].strength) ||
            was_refused(v, &v->pending[i])) {
            continue;
        }
        if (look_at_change(v, &v->pending[i], &change)) {
            drop_weaker(v, change.spot.centre);
            (void)add_place(v, &change.spot, &change.look, &v->pending[i], &change.around);
        } else {
            refuse(v, &v->pending[i]);
        }
    }
    v->pending_count = lamp_finder_changed(v->finder, v->pending);
    for (size_t i = 0; i < v->pending_count; i++) {
        strengthen(v, &v->pending[i]);
    }
}

bool lamp_viewer_sees_news(const struct lamp_viewer *v)
{
    for (size_t i = 0; i < v->pending_count; i++) {
        const struct lamp_spotted *spotted = &v->pending[i];
        if (!is_taken(v, spotted->centre, v->coarse.block_px, spotted->strength) &&
            !was_refused(v, spotted)) {
            return true;
        }
    }
    return false;
}

void lamp_viewer_forget_shining(struct lamp_viewer *v)
{
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        if (!w->is_pointed && !w->is_by_change) {
            w->is_out_of_sight = true;
            w->is_dropped = true;
        }
    }
}

/* The held frame whose light at a point is most as usual. */
static const struct lamp_held *plainest(const struct lamp_viewer *v, struct lamp_point at)
{
    const struct lamp_held *best = lamp_viewer_held(v, 0);
    float least = INFINITY;
    for (int back = 0; back < v->held_count; back++) {
        const struct lamp_held *held = lamp_viewer_held(v, back);
        struct lamp_point here = lamp_motion_apply(&held->motion, at);
        float off = fabsf(lamp_held_room(held, (float)here.y) - 1);
        if (off < least) {
            least = off;
            best = held;
        }
    }
    return best;
}

/* What is around a spot on the frames still held. */
static bool look_around(const struct lamp_viewer *v, const struct lamp_spot *spot,
                        struct lamp_offset shift, struct lamp_glow *out)
{
    const struct lamp_held *held[LAMP_FRAMES_KEPT];
    for (int back = 0; back < v->held_count; back++) {
        held[back] = lamp_viewer_held(v, back);
    }
    return lamp_glow_measure(&v->linear, held, v->held_count, spot, shift, out);
}

void lamp_viewer_look_around(struct lamp_viewer *v)
{
    for (size_t i = 0; i < v->place_count; i++) {
        struct lamp_watched *w = &v->place[i];
        struct lamp_offset shift = {(float)w->anchor.shift.x, (float)w->anchor.shift.y};
        struct lamp_glow glow;
        if (!w->is_out_of_sight && w->clean_count < 2 && look_around(v, &w->spot, shift, &glow)) {
            lamp_watched_glow(w, &glow, v->held_count);
        }
    }
}

/* Whether a spot that stands out is worth being measured. */
static bool may_shine(const struct lamp_viewer *v, const struct lamp_spot *spot,
                      const struct lamp_look *look, const struct lamp_glow *glow)
{
    struct lamp_watched w;
    lamp_watched_init(&w, spot, look, false);
    lamp_watched_compare(&w, &v->white);
    lamp_watched_glow(&w, glow, v->held_count);
    return lamp_watched_shine(&w) > WORTH_WATCHING;
}

static void look_at_shining(struct lamp_viewer *v, const struct lamp_spotted *spotted)
{
    struct lamp_spot spot;
    struct lamp_look look;
    struct lamp_glow glow;
    const struct lamp_offset here = {0, 0};
    const struct lamp_aim aim = {spotted->centre, 2.0 * v->coarse.block_px, INFINITY};
    if (!is_taken(v, spotted->centre, v->coarse.block_px, 0) &&
        lamp_spot_find(&v->linear, plainest(v, spotted->centre), NULL, &aim, &spot, &look) &&
        !is_taken(v, spot.centre, 0, 0) && look_around(v, &spot, here, &glow) &&
        may_shine(v, &spot, &look, &glow)) {
        struct lamp_watched *w = add_place(v, &spot, &look, spotted, NULL);
        if (w != NULL) {
            lamp_watched_glow(w, &glow, v->held_count);
        }
    }
}

void lamp_viewer_discover_shining(struct lamp_viewer *v)
{
    struct lamp_spotted spotted[LAMP_SCOUTED_MAX];
    struct lamp_still still;
    lamp_finder_still(v->finder, &still);
    size_t count = lamp_scout_look(v->scout, &still, v->white.code, spotted);
    for (size_t i = 0; i < count; i++) {
        look_at_shining(v, &spotted[i]);
    }
}

void lamp_viewer_appraise_pointed(struct lamp_viewer *v)
{
    for (size_t i = 0; i < v->place_count && v->place[i].is_pointed; i++) {
        struct lamp_watched *w = &v->place[i];
        struct lamp_spot spot;
        struct lamp_look look;
        const struct lamp_aim aim = {w->spot.centre, w->spot.radius_px, INFINITY};
        if (lamp_spot_find(&v->linear, lamp_viewer_held(v, 0), NULL, &aim, &spot, &look)) {
            lamp_watched_appraise(w, &look, false);
            lamp_watched_compare(w, &v->white);
        }
    }
}
