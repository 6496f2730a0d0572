/* mask.c - Which pixels of a spot to measure it by.
 *
 *   light of a pixel ^      ______ top       driven: half of the exposure drives it to the top as
 *                    |    .'                 well, and it reads more than half
 *                    |  .' .--- clear        clear: reads half
 *                    |.'.'
 *                    '--------------> exposure
 *
 * A codec smears what is driven over its neighbours, in blocks, and spares means over many pixels:
 * so the halo is measured where it is wide and bright enough, as far from the driven pixels as that
 * is so; else the rim close to the core; else all of the outline.
 */
#include "light/mask.h"

#include <math.h>

enum {
    HALO_WISHES = 2, /* the first ones */
    LEAST_PIXELS = 8,
    SMEAR_PX = 2 /* a driven pixel reaches so far into its neighbours' values */
};
#define RIM_SHARE    0.2F  /* of the peak: worth measuring */
#define HALO_SHARE   0.05F /* of the peak: worth measuring where many pixels are */
#define PLAIN_SHARE  0.25F /* of what was there before: more than the room and neighbours do */
#define ALONE_SHARE  0.33  /* of the way to a known place that the halo measured may reach */
#define OTHER_SHARE  0.8F  /* of the peak: as bright as a lamp */
#define OTHER_TIMES  2.0   /* as far from another lamp as from its own a pixel must be */
#define STEEP_SHARE  0.7F  /* of the dark picture's steepness a pixel must rise by to be measured */
#define TOP          0.92F /* linear light from which a colour counts as driven to the top */
#define CLEAR        0.5F  /* linear light up to which a colour is far from the top */
#define TELLING_RISE 0.05F /* linear light that a colour must gain to say how much */

/* Which pixels would do. */
struct wish {
    double reach_px;   /* Most from the centre. */
    float least_rise;  /* Of all light, linear, ... */
    float least_share; /* ... and over the most light of a colour that was there. */
    float most_light;  /* Of the colour, lit. */
    int least_count;   /* Samples that must be there. */
    bool is_halo;      /* None near a driven one, and none of another lamp. */
};

/* What is searched for pixels. */
struct search {
    const struct lamp_patch *patch;
    const struct lamp_spot *spot;
    int others[LAMP_PATCH_COUNT]; /* Samples as bright as a lamp that are not of this one. */
    int other_count;
};

/* How much of one colour the lamp adds on the pixels it is measured by, and whether it drives them
 * to the top. */
struct swing {
    float rise;
    bool is_driven;
};

/* How steep the dark picture is at a sample, in one colour: there a pixel's motion looks like
 * light. */
static float steepness(const struct lamp_patch *p, int k, int c)
{
    int i = k % LAMP_PATCH_SIDE;
    int j = k / LAMP_PATCH_SIDE;
    float most = 0;
    const int next[4] = {i > 0 ? k - 1 : k, i < LAMP_PATCH_SIDE - 1 ? k + 1 : k,
                         j > 0 ? k - LAMP_PATCH_SIDE : k,
                         j < LAMP_PATCH_SIDE - 1 ? k + LAMP_PATCH_SIDE : k};
    for (int n = 0; n < 4; n++) {
        most = fmaxf(most, fabsf(p->dark[next[n]][c] - p->dark[k][c]));
    }
    return most;
}

static float largest(const float rgb[3])
{
    return fmaxf(rgb[0], fmaxf(rgb[1], rgb[2]));
}

static int clamp_side(int at)
{
    return at < 0 ? 0 : (at < LAMP_PATCH_SIDE ? at : LAMP_PATCH_SIDE - 1);
}

/* Whether a colour is driven to the top close to a sample. */
static bool is_smeared(const struct lamp_patch *p, int k, int c)
{
    int reach = (int)ceil(SMEAR_PX / p->step);
    int i = k % LAMP_PATCH_SIDE;
    int j = k / LAMP_PATCH_SIDE;
    for (int y = clamp_side(j - reach); y <= clamp_side(j + reach); y++) {
        for (int x = clamp_side(i - reach); x <= clamp_side(i + reach); x++) {
            if (p->lit[y * LAMP_PATCH_SIDE + x][c] >= TOP) {
                return true;
            }
        }
    }
    return false;
}

static double away_px(struct lamp_point a, struct lamp_point b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

/* Another lamp may be lit at the same time; what is close by is a piece of this one's lens. */
static void find_others(struct search *search, float peak_rise)
{
    const struct lamp_patch *p = search->patch;
    const double lens_px = 2 * search->spot->radius_px + 2;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        if (!p->inside[k] && p->rise[k] > OTHER_SHARE * peak_rise &&
            away_px(lamp_patch_place(p, k), search->spot->centre) > lens_px) {
            search->others[search->other_count++] = k;
        }
    }
}

/* Whether much of the light at a point may be another lamp's: halos fall off with distance,
 * squared. */
static bool is_near_other(const struct search *search, struct lamp_point at)
{
    const struct lamp_spot *spot = search->spot;
    const double least_px = OTHER_TIMES * away_px(at, spot->centre) - spot->radius_px;
    for (int n = 0; n < search->other_count; n++) {
        if (away_px(at, lamp_patch_place(search->patch, search->others[n])) < least_px) {
            return true;
        }
    }
    return false;
}

/* Samples that are as wished in colour `c`. @return how many. */
static int choose(const struct search *search, int c, const struct wish *wish, int *chosen)
{
    const struct lamp_patch *p = search->patch;
    int count = 0;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        const struct lamp_point at = lamp_patch_place(p, k);
        if (p->rise[k] > wish->least_rise && p->lit[k][c] < wish->most_light &&
            p->rise[k] > wish->least_share * largest(p->dark[k]) &&
            p->rise[k] > STEEP_SHARE * steepness(p, k, c) &&
            away_px(at, search->spot->centre) < wish->reach_px &&
            !(wish->is_halo && (is_smeared(p, k, c) || is_near_other(search, at)))) {
            chosen[count++] = k;
        }
    }
    return count;
}

/* All samples of the outline. @return how many. */
static int choose_inside(const struct lamp_patch *p, int *chosen)
{
    int count = 0;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        if (p->inside[k]) {
            chosen[count++] = k;
        }
    }
    return count;
}

/* At most `most` of the chosen samples, spread over them, as pixels about the centre. @return how
 * many. */
static int spread(const struct lamp_patch *p, const struct lamp_spot *spot, const int *chosen,
                  int count, int most, struct lamp_offset *out)
{
    int every = (count + most - 1) / most;
    int kept = 0;
    for (int n = 0; n < count; n += every) {
        struct lamp_point at = lamp_patch_place(p, chosen[n]);
        out[kept++] =
            (struct lamp_offset){(float)(at.x - spot->centre.x), (float)(at.y - spot->centre.y)};
    }
    return kept;
}

static struct swing swing_of(const struct lamp_patch *p, const int *chosen, int count, int c)
{
    float lit = 0;
    float dark = 0;
    for (int n = 0; n < count; n++) {
        lit += p->lit[chosen[n]][c];
        dark += p->dark[chosen[n]][c];
    }
    float n = (float)(count > 0 ? count : 1);
    return (struct swing){(lit - dark) / n, lit / n > TOP};
}

/* Pixels to measure one colour by. */
static struct swing choose_mask(const struct search *search, const struct lamp_outline *outline,
                                int c, struct lamp_spot *spot)
{
    const struct lamp_patch *p = search->patch;
    const double r = spot->radius_px;
    const double halo_px = fmin(3.2 * r + 4, ALONE_SHARE * outline->alone_px);
    const int few = (int)fmax(outline->count / 8, LEAST_PIXELS);
    const int many = (int)fmax(outline->count / 2, LEAST_PIXELS);
    const float peak = outline->peak_rise;
    const struct wish wish[] = {
        {halo_px, HALO_SHARE * peak, PLAIN_SHARE, CLEAR, many, true},
        {halo_px, HALO_SHARE * peak, 0, CLEAR, many, true},
        {r + 1, RIM_SHARE * peak, 0, TOP, few, false},
        {1.5 * r + 1, RIM_SHARE * peak, 0, TOP, few, false},
        {2.2 * r + 2, RIM_SHARE / 2 * peak, 0, TOP, few, false},
    };
    int chosen[LAMP_PATCH_COUNT];
    int count = 0;
    bool is_enough = false;
    for (size_t n = outline->has_halo ? 0 : HALO_WISHES;
         n < sizeof wish / sizeof *wish && !is_enough; n++) {
        count = choose(search, c, &wish[n], chosen);
        is_enough = count >= wish[n].least_count;
    }
    if (!is_enough) {
        count = choose_inside(p, chosen);
    }
    spot->mask[c].count = spread(p, spot, chosen, count, LAMP_MASK_MAX, spot->mask[c].at);
    return swing_of(p, chosen, count, c);
}

/* A colour that is driven to the top wherever it is measured is left to the others, if one of them
 * says how much. */
static void mark_driven(struct lamp_spot *spot, const struct swing swing[3])
{
    bool is_told = false;
    for (int c = 0; c < 3; c++) {
        is_told |= !swing[c].is_driven && swing[c].rise > TELLING_RISE;
    }
    for (int c = 0; c < 3; c++) {
        spot->mask[c].is_driven = is_told && swing[c].is_driven;
    }
}

/* Some pixels of the outline. */
static void choose_gate(const struct lamp_patch *p, struct lamp_spot *spot)
{
    int chosen[LAMP_PATCH_COUNT];
    int count = choose_inside(p, chosen);
    spot->gate.count = spread(p, spot, chosen, count, LAMP_GATE_MAX, spot->gate.at);
}

static double reach_of(const struct lamp_spot *spot)
{
    double reach_px = 0;
    for (int c = 0; c < 3; c++) {
        for (int n = 0; n < spot->mask[c].count; n++) {
            const struct lamp_offset *at = &spot->mask[c].at[n];
            reach_px = fmax(reach_px, hypot((double)at->x, (double)at->y));
        }
    }
    return reach_px;
}

double lamp_mask_choose(const struct lamp_patch *patch, const struct lamp_outline *outline,
                        struct lamp_spot *spot)
{
    struct search search = {.patch = patch, .spot = spot, .other_count = 0};
    struct swing swing[3];
    if (outline->has_halo) {
        find_others(&search, outline->peak_rise);
    }
    for (int c = 0; c < 3; c++) {
        swing[c] = choose_mask(&search, outline, c, spot);
    }
    mark_driven(spot, swing);
    choose_gate(patch, spot);
    return reach_of(spot);
}
