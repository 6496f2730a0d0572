/* spot.c - A closer look at one spot, pixel by pixel: its outline, and which pixels to measure it by.
 *
 *      . . . . . . .      core: driven white when lit; it says on or off, not how much
 *    . . + + + + . .      rim (+): coloured, not white; its light is in proportion to the exposure,
 *   . + + # # # + + .     so a half-lit frame reads half
 *   . + # # # # # + .     ring (.): the surroundings, whose light is taken away
 *   . + + # # # + + .
 *    . . + + + + . .
 */
#include "light/spot.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SIDE = 72,           /* samples of a patch each way */
    RING_ANGLES = 16,
    RING_CIRCLES = 3,
    RING_LEAST = 12,     /* points of a ring that must be in the picture */
    LOOKS_MAX = 6,       /* times a patch is made larger */
    ALIGN_PX = 4,        /* px by which a spot may move unlike the rest of the picture */
    ALIGN_STEP = 3,      /* samples between those compared for that */
    SLACK = 2            /* samples by which the board may have moved beyond what was followed */
};
#define OUTLINE_SHARE 0.5F  /* of the peak: inside the outline */
#define RIM_SHARE     0.2F  /* of the peak: worth measuring */
#define TOP           0.92F /* linear light from which a colour counts as driven to the top */
#define WHITE         0.96F /* coded value from which a pixel counts as driven white */
#define ALIGN_CAP     0.04  /* linear light: larger differences count as this much */
#define SMALL_PART    120.0 /* an outline smaller than a square of that part of the picture's width ... */
#define SMALL_RISE    0.08F /* ... must gain so much linear light: less is noise and texture */
#define LARGEST_SHARE 0.3   /* of the picture's smaller side: half the side of the largest patch */

/* Samples around a point of the first frame, `step` px apart. */
struct patch {
    struct lamp_point centre; /* px of the first frame; sample (SIDE/2, SIDE/2) */
    double step;
    float lit[SIDE * SIDE][3];
    float dark[SIDE * SIDE][3];
    float bright[SIDE * SIDE][3]; /* the brightest of the dark patch within SLACK */
    float rise[SIDE * SIDE];  /* smoothed largest gain of R, G, B from dark to lit; negative outside the picture */
    float peak[SIDE * SIDE];  /* coded peak when lit */
    bool inside[SIDE * SIDE]; /* in the outline */
};

static bool pixel_at(const struct lamp_linear *linear, const struct lamp_held *held, struct lamp_point p, float rgb[3],
                     float *peak)
{
    struct lamp_point q = lamp_motion_apply(&held->motion, p);
    int x = (int)floor(q.x);
    int y = (int)floor(q.y);
    if (x < 0 || y < 0 || x >= held->frame.y.width_px || y >= held->frame.y.height_px) {
        return false;
    }
    *peak = lamp_linear_pixel(linear, &held->frame, x, y, rgb);
    return true;
}

static struct lamp_point place_of(const struct patch *p, int k)
{
    return (struct lamp_point){p->centre.x + (k % SIDE - SIDE / 2) * p->step,
                               p->centre.y + (k / SIDE - SIDE / 2) * p->step};
}

static int compare_floats(const void *a, const void *b)
{
    float x = *(const float *)a;
    float y = *(const float *)b;
    return (x > y) - (x < y);
}

/* Without a dark frame, the patch's border stands for what the lamp's place would look like. */
static void fill_dark_from_border(struct patch *p)
{
    float border[4 * SIDE];
    float middle[3];
    for (int c = 0; c < 3; c++) {
        size_t n = 0;
        for (int k = 0; k < SIDE; k++) {
            border[n++] = p->lit[k][c];
            border[n++] = p->lit[(SIDE - 1) * SIDE + k][c];
            border[n++] = p->lit[k * SIDE][c];
            border[n++] = p->lit[k * SIDE + SIDE - 1][c];
        }
        qsort(border, n, sizeof border[0], compare_floats);
        middle[c] = border[n / 2];
    }
    for (int k = 0; k < SIDE * SIDE; k++) {
        memcpy(p->dark[k], middle, sizeof middle);
    }
}

/* Only what grows: a neighbour that goes out as this lamp lights is not part of it. The sum over the colours sets the
 * white core off against a wide coloured halo. */
static float rise_of(const float lit[3], const float dark[3])
{
    float sum = 0;
    for (int c = 0; c < 3; c++) {
        sum += fmaxf(lit[c] - dark[c], 0);
    }
    return sum / 3;
}

/* Texture that moved by a pixel or two differs from frame to frame, but shows nothing that was not near it before.
 * So a pixel rises only by what exceeds the brightest it had within a little slack: rows first, then columns. */
static void take_brightest(struct patch *p)
{
    float rows[SIDE * SIDE][3];
    for (int pass = 0; pass < 2; pass++) {
        float(*from)[3] = pass == 0 ? p->dark : rows;
        float(*to)[3] = pass == 0 ? rows : p->bright;
        for (int k = 0; k < SIDE * SIDE; k++) {
            int at = pass == 0 ? k % SIDE : k / SIDE;
            int step = pass == 0 ? 1 : SIDE;
            memcpy(to[k], from[k], sizeof to[k]);
            for (int d = -SLACK; d <= SLACK; d++) {
                for (int c = 0; c < 3 && at + d >= 0 && at + d < SIDE; c++) {
                    to[k][c] = fmaxf(to[k][c], from[k + d * step][c]);
                }
            }
        }
    }
}

static void smooth_rise(struct patch *p, const float *raw)
{
    for (int k = 0; k < SIDE * SIDE; k++) {
        float sum = 0;
        int n = 0;
        for (int d = 0; d < 9; d++) {
            int i = k % SIDE + d % 3 - 1;
            int j = k / SIDE + d / 3 - 1;
            if (i >= 0 && j >= 0 && i < SIDE && j < SIDE && raw[j * SIDE + i] >= 0) {
                sum += raw[j * SIDE + i];
                n++;
            }
        }
        p->rise[k] = raw[k] < 0 || n == 0 ? -1 : sum / (float)n;
    }
}

/* Green of one sample against the other patch at a shift; large differences (the lamp itself) count no more than others. */
static double mismatch(const struct lamp_linear *linear, const struct lamp_held *dark, const struct patch *p, int dx, int dy)
{
    double sum = 0;
    for (int j = ALIGN_STEP; j < SIDE; j += ALIGN_STEP) {
        for (int i = ALIGN_STEP; i < SIDE; i += ALIGN_STEP) {
            int k = j * SIDE + i;
            struct lamp_point at = place_of(p, k);
            float rgb[3];
            float unused;
            at.x += dx;
            at.y += dy;
            double d = pixel_at(linear, dark, at, rgb, &unused) ? fabs((double)(rgb[1] - p->lit[k][1])) : ALIGN_CAP;
            sum += fmin(d, ALIGN_CAP);
        }
    }
    return sum;
}

/* The shift, px, that brings the dark frame onto the lit one about this spot: what lies nearer or farther than most of
 * the picture moves a little differently. */
static struct lamp_point align(const struct lamp_linear *linear, const struct lamp_held *dark, const struct patch *p)
{
    struct lamp_point best = {0, 0};
    double least = 0.93 * mismatch(linear, dark, p, 0, 0); /* moved only if that is clearly better */
    for (int dy = -ALIGN_PX; dy <= ALIGN_PX; dy++) {
        for (int dx = -ALIGN_PX; dx <= ALIGN_PX; dx++) {
            double m = mismatch(linear, dark, p, dx, dy);
            if (m < least) {
                least = m;
                best = (struct lamp_point){dx, dy};
            }
        }
    }
    return best;
}

static void take_patch(const struct lamp_linear *linear, const struct lamp_held *lit, const struct lamp_held *dark,
                       struct patch *p)
{
    float raw[SIDE * SIDE];
    float unused;
    for (int k = 0; k < SIDE * SIDE; k++) {
        if (!pixel_at(linear, lit, place_of(p, k), p->lit[k], &p->peak[k])) {
            memset(p->lit[k], 0, sizeof p->lit[k]);
        }
    }
    struct lamp_point shift = dark == NULL ? (struct lamp_point){0, 0} : align(linear, dark, p);
    for (int k = 0; k < SIDE * SIDE; k++) {
        struct lamp_point at = place_of(p, k);
        struct lamp_point shifted = {at.x + shift.x, at.y + shift.y};
        bool is_seen = pixel_at(linear, lit, at, p->lit[k], &p->peak[k]) &&
                       (dark == NULL || pixel_at(linear, dark, shifted, p->dark[k], &unused));
        raw[k] = is_seen ? 0 : -1;
        if (!is_seen) {
            memset(p->lit[k], 0, sizeof p->lit[k]);
            memset(p->dark[k], 0, sizeof p->dark[k]);
            p->peak[k] = 0;
        }
    }
    if (dark == NULL) {
        fill_dark_from_border(p);
    }
    take_brightest(p);
    for (int k = 0; k < SIDE * SIDE; k++) {
        raw[k] = raw[k] < 0 ? -1 : rise_of(p->lit[k], p->bright[k]);
    }
    smooth_rise(p, raw);
}

static int peak_near_middle(const struct patch *p, double near_px)
{
    int best = SIDE * (SIDE / 2) + SIDE / 2;
    for (int k = 0; k < SIDE * SIDE; k++) {
        double dx = (k % SIDE - SIDE / 2) * p->step;
        double dy = (k / SIDE - SIDE / 2) * p->step;
        if (fmax(fabs(dx), fabs(dy)) <= near_px && p->rise[k] > p->rise[best]) {
            best = k;
        }
    }
    return best;
}

/* Mark what hangs together with `seed` and rises to a share of it. @return samples marked; *touches if at the border. */
static int flood(struct patch *p, int seed, float least, bool *touches)
{
    int stack[SIDE * SIDE];
    int depth = 0;
    int count = 0;
    memset(p->inside, 0, sizeof p->inside);
    *touches = false;
    stack[depth++] = seed;
    p->inside[seed] = true;
    while (depth > 0) {
        int k = stack[--depth];
        int i = k % SIDE;
        int j = k / SIDE;
        count++;
        if (i == 0 || j == 0 || i == SIDE - 1 || j == SIDE - 1) {
            *touches = true;
            continue;
        }
        const int next[4] = {k - 1, k + 1, k - SIDE, k + SIDE};
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
static void outline(const struct patch *p, int count, struct lamp_spot *spot, struct lamp_look *look)
{
    int left = SIDE, right = 0, top = SIDE, bottom = 0;
    for (int k = 0; k < SIDE * SIDE; k++) {
        if (p->inside[k]) {
            left = k % SIDE < left ? k % SIDE : left;
            right = k % SIDE > right ? k % SIDE : right;
            top = k / SIDE < top ? k / SIDE : top;
            bottom = k / SIDE > bottom ? k / SIDE : bottom;
        }
    }
    spot->half_w_px = (right - left + 1) * p->step / 2;
    spot->half_h_px = (bottom - top + 1) * p->step / 2;
    spot->radius_px = fmax(spot->half_w_px, spot->half_h_px);
    spot->centre.x = p->centre.x + ((left + right) / 2.0 - SIDE / 2) * p->step;
    spot->centre.y = p->centre.y + ((top + bottom) / 2.0 - SIDE / 2) * p->step;
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

/* Samples within `reach` that rise and whose colour `c` is not driven to the top. @return how many. */
static int choose_linear(const struct patch *p, const struct lamp_spot *spot, int c, double reach, float least, int *chosen)
{
    int count = 0;
    for (int k = 0; k < SIDE * SIDE; k++) {
        struct lamp_point at = place_of(p, k);
        if (p->rise[k] > least && p->lit[k][c] < TOP &&
            hypot(at.x - spot->centre.x, at.y - spot->centre.y) < reach) {
            chosen[count++] = k;
        }
    }
    return count;
}

/* Pixels to measure one colour by: as near the core as they are in proportion to the light, else all of the outline. */
static void choose_mask(const struct patch *p, float peak_rise, int outline_count, int c, struct lamp_spot *spot)
{
    int chosen[SIDE * SIDE];
    int enough = outline_count / 8 > 8 ? outline_count / 8 : 8;
    int count = choose_linear(p, spot, c, spot->radius_px + 1, RIM_SHARE * peak_rise, chosen);
    if (count < enough) {
        count = choose_linear(p, spot, c, 1.5 * spot->radius_px + 1, RIM_SHARE * peak_rise, chosen);
    }
    if (count < enough) {
        count = choose_linear(p, spot, c, 2.2 * spot->radius_px + 2, RIM_SHARE / 2 * peak_rise, chosen);
    }
    if (count < enough) {
        count = 0;
        for (int k = 0; k < SIDE * SIDE; k++) {
            if (p->inside[k]) {
                chosen[count++] = k;
            }
        }
    }
    int every = (count + LAMP_MASK_MAX - 1) / LAMP_MASK_MAX;
    spot->mask[c].count = 0;
    for (int n = 0; n < count; n += every) {
        struct lamp_point at = place_of(p, chosen[n]);
        spot->mask[c].at[spot->mask[c].count++] =
            (struct lamp_offset){(short)lround(at.x - spot->centre.x), (short)lround(at.y - spot->centre.y)};
    }
}

/* The colour of the light where nothing is driven white. */
static void look_at_rim(const struct patch *p, float peak_rise, const struct lamp_spot *spot, struct lamp_look *look)
{
    int count = 0;
    for (int k = 0; k < SIDE * SIDE; k++) {
        struct lamp_point at = place_of(p, k);
        bool is_near = hypot(at.x - spot->centre.x, at.y - spot->centre.y) < 1.7 * spot->radius_px + 1;
        if (is_near && p->rise[k] > RIM_SHARE / 2 * peak_rise && p->peak[k] < WHITE) {
            for (int c = 0; c < 3; c++) {
                look->rim_rgb[c] += p->lit[k][c] - p->dark[k][c];
            }
            count++;
        }
    }
    divide(look->rim_rgb, count);
}

/* Points on circles from one radius to another. @return how many. */
static int circles(double from, double to, struct lamp_offset *out)
{
    int count = 0;
    for (int circle = 0; circle < RING_CIRCLES; circle++) {
        for (int k = 0; k < RING_ANGLES; k++) {
            double angle = (k + circle / 3.0) * 6.283185307 / RING_ANGLES;
            double at = from + (to - from) * circle / (RING_CIRCLES - 1);
            out[count++] = (struct lamp_offset){(short)lround(at * cos(angle)), (short)lround(at * sin(angle))};
        }
    }
    return count;
}

static void make_rings(struct lamp_spot *spot)
{
    double r = spot->radius_px;
    double near = 1.9 * r + 2;
    double far = 4.5 * r + 10;
    spot->ring_count = circles(near, near + fmin(fmax(r, 4), 30), spot->ring);
    spot->far_count = circles(far, far * 1.5, spot->far);
}

static void look_at(const struct lamp_linear *linear, const struct patch *p, const struct lamp_held *lit,
                    const struct lamp_held *dark, const struct lamp_spot *spot, struct lamp_look *look)
{
    const struct lamp_offset here = {0, 0};
    if (!lamp_spot_measure(linear, lit, spot, here, &look->lit)) {
        look->lit = (struct lamp_light){0};
    }
    if (dark == NULL || !lamp_spot_measure(linear, dark, spot, here, &look->dark)) {
        look->dark = look->lit;
    }
    float now[3] = {0};
    float was[3] = {0};
    int count = 0;
    for (int k = 0; k < SIDE * SIDE; k++) {
        if (p->inside[k]) {
            add_mean(now, p->lit[k]);
            add_mean(was, p->dark[k]);
            look->peak = p->peak[k] > look->peak ? p->peak[k] : look->peak;
            count++;
        }
    }
    divide(now, count);
    divide(was, count);
    memcpy(look->lit.core, now, sizeof now);
    memcpy(look->dark.core, was, sizeof was);
}

bool lamp_spot_find(const struct lamp_linear *linear, const struct lamp_held *lit, const struct lamp_held *dark,
                    struct lamp_point centre, double near_px, struct lamp_spot *out, struct lamp_look *look)
{
    struct patch *p = malloc(sizeof *p);
    if (p == NULL) {
        return false;
    }
    int smaller = lit->frame.y.width_px < lit->frame.y.height_px ? lit->frame.y.width_px : lit->frame.y.height_px;
    double half = fmax(near_px * 3, 10);
    bool is_found = false;
    for (int looks = 0; looks < LOOKS_MAX && half < smaller * LARGEST_SHARE + 12 && !is_found; looks++, half *= 1.7) {
        p->centre = (struct lamp_point){floor(centre.x) + 0.5, floor(centre.y) + 0.5};
        p->step = fmax(1, ceil(2 * half / SIDE));
        take_patch(linear, lit, dark, p);
        int peak = peak_near_middle(p, near_px);
        if (!(p->rise[peak] > 0)) {
            break;
        }
        bool touches;
        int count = flood(p, peak, OUTLINE_SHARE * p->rise[peak], &touches);
        if (touches) {
            continue;
        }
        double small = lit->frame.y.width_px / SMALL_PART;
        if (count < 5 || (count * p->step * p->step < small * small && p->rise[peak] < SMALL_RISE)) {
            break;
        }
        struct lamp_spot spot = {0};
        struct lamp_look found = {0};
        outline(p, count, &spot, &found);
        for (int c = 0; c < 3; c++) {
            choose_mask(p, p->rise[peak], count, c, &spot);
        }
        look_at_rim(p, p->rise[peak], &spot, &found);
        make_rings(&spot);
        look_at(linear, p, lit, dark, &spot, &found);
        *out = spot;
        *look = found;
        is_found = true;
    }
    free(p);
    return is_found;
}

void lamp_spot_of_region(const struct lamp_region *region, struct lamp_spot *out)
{
    *out = (struct lamp_spot){.centre = {region->x_px + region->w_px / 2.0, region->y_px + region->h_px / 2.0},
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
            out->mask[0].at[n++] = (struct lamp_offset){(short)lround(x + 0.5 - out->half_w_px),
                                                        (short)lround(y + 0.5 - out->half_h_px)};
        }
    }
    out->mask[0].count = n;
    out->mask[1] = out->mask[2] = out->mask[0];
    make_rings(out);
}

/* Mean over pixels with a quarter at each end left out, so that a neighbouring lamp in the ring does not count. */
static void middle_mean(float values[LAMP_RING_MAX], int n, float *out)
{
    for (int i = 1; i < n; i++) {
        float v = values[i];
        int at = i;
        for (; at > 0 && values[at - 1] > v; at--) {
            values[at] = values[at - 1];
        }
        values[at] = v;
    }
    float sum = 0;
    int from = n / 4;
    int to = n - n / 4;
    for (int i = from; i < to; i++) {
        sum += values[i];
    }
    *out = sum / (float)(to - from);
}

/* Middle light of the points of a ring that are in the picture. @return how many are. */
static int measure_ring(const struct lamp_linear *linear, const struct lamp_frame *frame, struct lamp_point centre,
                        const struct lamp_offset *at, float ring[3])
{
    float values[3][LAMP_RING_MAX];
    int n = 0;
    for (int i = 0; i < LAMP_RING_MAX; i++) {
        int x = (int)centre.x + at[i].x;
        int y = (int)centre.y + at[i].y;
        if (x >= 0 && y >= 0 && x < frame->y.width_px && y < frame->y.height_px) {
            float rgb[3];
            (void)lamp_linear_pixel(linear, frame, x, y, rgb);
            for (int c = 0; c < 3; c++) {
                values[c][n] = rgb[c];
            }
            n++;
        }
    }
    for (int c = 0; c < 3 && n >= RING_LEAST; c++) {
        middle_mean(values[c], n, &ring[c]);
    }
    return n;
}

/* Mean of one colour over its pixels. */
static bool measure_colour(const struct lamp_linear *linear, const struct lamp_frame *frame, struct lamp_point centre,
                           const struct lamp_spot *spot, int c, float *out)
{
    float sum = 0;
    int count = spot->mask[c].count;
    for (int i = 0; i < count; i++) {
        int x = (int)centre.x + spot->mask[c].at[i].x;
        int y = (int)centre.y + spot->mask[c].at[i].y;
        if (x < 0 || y < 0 || x >= frame->y.width_px || y >= frame->y.height_px) {
            return false;
        }
        float rgb[3];
        (void)lamp_linear_pixel(linear, frame, x, y, rgb);
        sum += rgb[c];
    }
    *out = sum / (float)(count > 0 ? count : 1);
    return count > 0;
}

bool lamp_spot_measure(const struct lamp_linear *linear, const struct lamp_held *held, const struct lamp_spot *spot,
                       struct lamp_offset shift, struct lamp_light *out)
{
    struct lamp_point centre = lamp_motion_apply(&held->motion, spot->centre);
    centre.x = floor(centre.x) + shift.x;
    centre.y = floor(centre.y) + shift.y;
    struct lamp_light light;
    for (int c = 0; c < 3; c++) {
        if (!measure_colour(linear, &held->frame, centre, spot, c, &light.core[c])) {
            return false;
        }
    }
    if (measure_ring(linear, &held->frame, centre, spot->ring, light.ring) < RING_LEAST) {
        return false;
    }
    if (measure_ring(linear, &held->frame, centre, spot->far, light.far) < RING_LEAST) {
        memcpy(light.far, light.ring, sizeof light.far);
    }
    *out = light;
    return true;
}
