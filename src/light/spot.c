/* spot.c - A closer look at one spot: its outline, its colour, and its surroundings.
 *
 *      . . . . . . .      core (#): driven white when lit; it says on or off, not how much
 *    . . + + + + . .      rim (+): coloured, not white; its light is in proportion to the exposure,
 *   . + + # # # + + .     so a half-lit frame reads half
 *   . + # # # # # + .     ring (.): the surroundings, whose light is taken away
 *   . + + # # # + + .
 *    . . + + + + . .
 */
#include "light/spot.h"

#include <math.h>
#include <string.h>

#include "light/mask.h"
#include "light/measure.h"
#include "light/patch.h"

enum {
    RING_CIRCLES = 2,
    RING_ANGLES = LAMP_RING_MAX / RING_CIRCLES,
    LOOKS_MAX = 6 /* times a patch is made larger */
};
#define OUTLINE_SHARE 0.5F  /* of the peak: inside the outline */
#define COLOUR_SHARE  0.1F  /* of the peak: bright enough to have a colour */
#define WHITE         0.96F /* coded value from which a pixel counts as driven white */
#define HALO_RING     0.6F  /* of what a halo's pixels gain that the ring about them may gain */
#define SMALL_PART \
    120.0 /* an outline smaller than that part of the picture's width, squared, ... */
#define SMALL_RISE    0.08F /* ... must gain so much linear light: less is noise and texture */
#define LARGEST_SHARE 0.3   /* of the picture's smaller side: half the side of the largest patch */

static int peak_near_middle(const struct lamp_patch *p, double near_px)
{
    int best = LAMP_PATCH_SIDE * (LAMP_PATCH_SIDE / 2) + LAMP_PATCH_SIDE / 2;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        double dx = (k % LAMP_PATCH_SIDE - LAMP_PATCH_SIDE / 2) * p->step;
        double dy = (k / LAMP_PATCH_SIDE - LAMP_PATCH_SIDE / 2) * p->step;
        if (fmax(fabs(dx), fabs(dy)) <= near_px && p->rise[k] > p->rise[best]) {
            best = k;
        }
    }
    return best;
}

/* Mark what hangs together with `seed` and rises to a share of it, `margin` samples or more from
 * what is out of reach. @return samples marked; *touches if that stopped it. */
static int flood(struct lamp_patch *p, int seed, float least, int margin, bool *touches)
{
    int stack[LAMP_PATCH_COUNT];
    int depth = 0;
    int count = 0;
    int from = LAMP_PATCH_SIDE / 2 - p->reach + margin;
    int to = LAMP_PATCH_SIDE - 1 - from;
    memset(p->inside, 0, sizeof p->inside);
    *touches = false;
    stack[depth++] = seed;
    p->inside[seed] = true;
    while (depth > 0) {
        int k = stack[--depth];
        int i = k % LAMP_PATCH_SIDE;
        int j = k / LAMP_PATCH_SIDE;
        count++;
        if (i <= from || j <= from || i >= to || j >= to) {
            *touches = true;
            continue;
        }
        const int next[4] = {k - 1, k + 1, k - LAMP_PATCH_SIDE, k + LAMP_PATCH_SIDE};
        for (int n = 0; n < 4; n++) {
            if (!p->inside[next[n]] && p->rise[next[n]] >= least) {
                p->inside[next[n]] = true;
                stack[depth++] = next[n];
            }
        }
    }
    return count;
}

/* Outline, centre and sides from the marked samples. */
static void outline(const struct lamp_patch *p, int count, struct lamp_spot *spot,
                    struct lamp_look *look)
{
    int left = LAMP_PATCH_SIDE, right = 0, top = LAMP_PATCH_SIDE, bottom = 0;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        if (p->inside[k]) {
            left = k % LAMP_PATCH_SIDE < left ? k % LAMP_PATCH_SIDE : left;
            right = k % LAMP_PATCH_SIDE > right ? k % LAMP_PATCH_SIDE : right;
            top = k / LAMP_PATCH_SIDE < top ? k / LAMP_PATCH_SIDE : top;
            bottom = k / LAMP_PATCH_SIDE > bottom ? k / LAMP_PATCH_SIDE : bottom;
        }
    }
    spot->half_w_px = (right - left + 1) * p->step / 2;
    spot->half_h_px = (bottom - top + 1) * p->step / 2;
    spot->radius_px = fmax(spot->half_w_px, spot->half_h_px);
    spot->centre.x = p->centre.x + ((left + right) / 2.0 - LAMP_PATCH_SIDE / 2) * p->step;
    spot->centre.y = p->centre.y + ((top + bottom) / 2.0 - LAMP_PATCH_SIDE / 2) * p->step;
    look->fill = (float)count / (float)((right - left + 1) * (bottom - top + 1));
}

static void add_mean(float sum[3], const float rgb[3])
{
    for (int c = 0; c < 3; c++) {
        sum[c] += rgb[c];
    }
}

static void divide(float sum[3], int n)
{
    for (int c = 0; c < 3; c++) {
        sum[c] /= (float)(n > 0 ? n : 1);
    }
}

/* The colour of the light where nothing is driven white. */
static void look_at_rim(const struct lamp_patch *p, float peak_rise, const struct lamp_spot *spot,
                        struct lamp_look *look)
{
    int count = 0;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        struct lamp_point at = lamp_patch_place(p, k);
        bool is_near =
            hypot(at.x - spot->centre.x, at.y - spot->centre.y) < 1.7 * spot->radius_px + 1;
        if (is_near && p->rise[k] > COLOUR_SHARE * peak_rise && p->peak[k] < WHITE) {
            for (int c = 0; c < 3; c++) {
                look->rim_rgb[c] += fmaxf(p->lit[k][c] - p->dark[k][c], 0);
            }
            count++;
        }
    }
    divide(look->rim_rgb, count);
}

/* Points on circles from one radius to another. */
static void circles(double from, double to, struct lamp_offset out[LAMP_RING_MAX])
{
    for (int n = 0; n < LAMP_RING_MAX; n++) {
        int circle = n / RING_ANGLES;
        double angle = (n % RING_ANGLES + circle / 2.0) * 6.283185307 / RING_ANGLES;
        double at = from + (to - from) * circle / (RING_CIRCLES - 1);
        out[n] = (struct lamp_offset){(float)(at * cos(angle)), (float)(at * sin(angle))};
    }
}

/* `reach_px`: how far from the centre the lamp is measured. */
static void make_rings(struct lamp_spot *spot, double reach_px)
{
    double r = spot->radius_px;
    double near = fmax(1.9 * r + 2, reach_px + 1);
    double far = 4.5 * r + 10;
    circles(near, near + fmin(fmax(r, 4), 30), spot->ring);
    circles(far, far * 1.5, spot->far);
}

/* What a closer look compares. */
struct scene {
    const struct lamp_held *lit, *dark;
    const struct lamp_patch *patch;
};

/* Whether the ring gains so much of the light that what is above it says little. */
static bool is_in_halo(const struct lamp_linear *linear, const struct scene *scene,
                       const struct lamp_spot *spot)
{
    const struct lamp_offset here = {0, 0};
    struct lamp_light now;
    struct lamp_light was;
    if (!lamp_spot_measure(linear, scene->lit, spot, here, &now) ||
        !lamp_spot_measure(linear, scene->dark, spot, here, &was)) {
        return true;
    }
    float core = 0;
    float ring = 0;
    for (int c = 0; c < 3; c++) {
        core += now.core[c] - was.core[c];
        ring += now.ring[c] - was.ring[c];
    }
    return ring > HALO_RING * core;
}

/* Measured is the halo, if there is a wide one that ends, or else the rim. */
static void choose_pixels(const struct lamp_linear *linear, const struct scene *scene,
                          struct lamp_outline outline, struct lamp_spot *spot)
{
    double reach_px = lamp_mask_choose(scene->patch, &outline, spot);
    make_rings(spot, outline.has_halo ? reach_px : 0);
    if (outline.has_halo && is_in_halo(linear, scene, spot)) {
        outline.has_halo = false;
        (void)lamp_mask_choose(scene->patch, &outline, spot);
        make_rings(spot, 0);
    }
}

static float darker_than(float ring, float core)
{
    return core < ring ? 1 - fmaxf(core, 0) / ring : 0;
}

static void look_at(const struct lamp_linear *linear, const struct lamp_patch *p,
                    const struct lamp_held *lit, const struct lamp_held *dark,
                    const struct lamp_spot *spot, struct lamp_look *look)
{
    const struct lamp_offset here = {0, 0};
    if (!lamp_spot_measure(linear, lit, spot, here, &look->lit)) {
        look->lit = (struct lamp_light){.room = {1, 1, 1, 1, 1, 1}};
    }
    if (dark == NULL || !lamp_spot_measure(linear, dark, spot, here, &look->dark)) {
        look->dark = look->lit;
    }
    for (int c = 0; c < 3 && dark != NULL; c++) {
        look->reflected.core[c] = look->dark.core[c] / look->dark.room[c];
        look->reflected.ring[c] = look->dark.ring[c] / look->dark.room[3 + c];
        look->darker[c] = darker_than(look->reflected.ring[c], look->reflected.core[c]);
        look->dark.ring[c] *= fmaxf(look->lit.room[c] / look->dark.room[c], 1);
    }
    float now[3] = {0};
    float was[3] = {0};
    int count = 0;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        if (p->inside[k]) {
            add_mean(now, p->lit[k]);
            add_mean(was, p->dark[k]);
            look->peak = p->peak[k] > look->peak ? p->peak[k] : look->peak;
            count++;
        }
    }
    divide(now, count);
    divide(was, count);
    for (int c = 0; c < 3 && dark == NULL; c++) {
        look->lit.far[c] *= look->lit.room[c]; /* as the place and its ring are */
        look->dark.far[c] = look->lit.far[c];
    }
    memcpy(look->lit.core, now, sizeof now);
    memcpy(look->dark.core, was, sizeof was);
}

/* Whether an outline is no more than noise and texture. */
static bool is_slight(const struct lamp_patch *p, const struct lamp_held *lit, int count, int peak)
{
    double small = lit->frame.y.width_px / SMALL_PART;
    return count < 5 || (count * p->step * p->step < small * small && p->rise[peak] < SMALL_RISE);
}

/* A glance at the middle of a patch, before all of it is taken: most changes are texture that
 * moved. @return true if all of it would show no more. */
static bool shows_nothing(const struct lamp_linear *linear, const struct lamp_held *lit,
                          const struct lamp_held *dark, double near_px, struct lamp_patch *p)
{
    double wanted = (near_px + lit->frame.y.width_px / SMALL_PART) / p->step;
    bool touches;
    p->reach = (int)fmin(wanted + 1 + LAMP_PATCH_MARGIN, LAMP_PATCH_SIDE / 2);
    lamp_patch_take(linear, lit, dark, p);
    int peak = peak_near_middle(p, near_px);
    if (!(p->rise[peak] > 0)) {
        return true;
    }
    int count = flood(p, peak, OUTLINE_SHARE * p->rise[peak], LAMP_PATCH_MARGIN, &touches);
    return !touches && is_slight(p, lit, count, peak);
}

bool lamp_spot_find(const struct lamp_linear *linear, const struct lamp_held *lit,
                    const struct lamp_held *dark, const struct lamp_aim *aim, struct lamp_spot *out,
                    struct lamp_look *look)
{
    struct lamp_patch patch;
    struct lamp_patch *p = &patch;
    int smaller = lit->frame.y.width_px < lit->frame.y.height_px ? lit->frame.y.width_px
                                                                 : lit->frame.y.height_px;
    double half = fmax(aim->near_px * 3, 10);
    bool is_found = false;
    for (int looks = 0; looks < LOOKS_MAX && half < smaller * LARGEST_SHARE + 12 && !is_found;
         looks++, half *= 1.7) {
        p->centre = (struct lamp_point){floor(aim->centre.x) + 0.5, floor(aim->centre.y) + 0.5};
        p->step = fmax(1, ceil(2 * half / LAMP_PATCH_SIDE));
        if (looks == 0 && dark != NULL && shows_nothing(linear, lit, dark, aim->near_px, p)) {
            break;
        }
        p->reach = LAMP_PATCH_SIDE / 2;
        lamp_patch_take(linear, lit, dark, p);
        int peak = peak_near_middle(p, aim->near_px);
        if (!(p->rise[peak] > 0)) {
            break;
        }
        bool touches;
        int count = flood(p, peak, OUTLINE_SHARE * p->rise[peak], 0, &touches);
        if (touches) {
            continue;
        }
        if (is_slight(p, lit, count, peak)) {
            break;
        }
        struct lamp_spot spot = {0};
        struct lamp_look found = {0};
        outline(p, count, &spot, &found);
        const struct lamp_outline outlined = {count, p->rise[peak], aim->alone_px, dark != NULL};
        choose_pixels(linear, &(struct scene){lit, dark, p}, outlined, &spot);
        look_at_rim(p, p->rise[peak], &spot, &found);
        if (dark != NULL) {
            lamp_spot_set_rows(linear, dark, &spot);
            lamp_spot_set_gate(linear, lit, dark, &spot);
        }
        look_at(linear, p, lit, dark, &spot, &found);
        *out = spot;
        *look = found;
        is_found = true;
    }
    return is_found;
}

void lamp_spot_of_region(const struct lamp_region *region, struct lamp_spot *out)
{
    *out = (struct lamp_spot){
        .centre = {region->x_px + region->w_px / 2.0, region->y_px + region->h_px / 2.0},
        .half_w_px = region->w_px / 2.0,
        .half_h_px = region->h_px / 2.0};
    out->radius_px = fmax(out->half_w_px, out->half_h_px);
    int step = 1;
    while ((region->w_px / step + 1) * (region->h_px / step + 1) > LAMP_MASK_MAX) {
        step++;
    }
    int n = 0;
    for (int y = 0; y < region->h_px; y += step) {
        for (int x = 0; x < region->w_px; x += step) {
            out->mask[0].at[n++] = (struct lamp_offset){(float)(x + 0.5 - out->half_w_px),
                                                        (float)(y + 0.5 - out->half_h_px)};
        }
    }
    out->mask[0].count = n;
    out->mask[1] = out->mask[2] = out->mask[0];
    out->has_one_mask = true;
    make_rings(out, 0);
}
