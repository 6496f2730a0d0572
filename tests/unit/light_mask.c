/* light_mask.c - A lamp is measured where a half-exposed frame reads half. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <math.h>
#include <string.h>

#include "light/mask.h"
#include "support/suite.h"

enum { RED, GREEN, BLUE, MIDDLE = LAMP_PATCH_SIDE / 2, RADIUS = 4, SMEAR = 1, COUNT_LEAST = 8 };

static const double far_off_px = 1e6;
static const float board_light = 0.02F;

/* One or two lamps that shine green; the second, of the same light, is that far to the right. */
struct shot {
    float core;         /* Linear light that the lens would have if 1 were not the top. */
    float shed;         /* Of that, as a halo that falls off with the distance in radii, squared. */
    int other_px;       /* 0: there is none. */
    float exposure;     /* Share of a whole one. */
    bool is_red_driven; /* On all pixels. */
};

static float light_from(const struct shot *shot, float x, float y)
{
    const float away = hypotf(x, y) / RADIUS;
    return shot->core * (away <= 1 ? 1 : shot->shed / (away * away));
}

/* Light of a pixel before the codec; both lamps add, and the top is 1. */
static float light_at(const struct shot *shot, int i, int j)
{
    const float x = (float)(i - MIDDLE);
    const float y = (float)(j - MIDDLE);
    const float lamp = light_from(shot, x, y);
    const float other = shot->other_px > 0 ? light_from(shot, x - (float)shot->other_px, y) : 0;
    return fminf(board_light + shot->exposure * (lamp + other), 1);
}

/* A codec smears a pixel over its neighbours. */
static float smeared_at(const struct shot *shot, int i, int j)
{
    float sum = 0;
    for (int y = j - SMEAR; y <= j + SMEAR; y++) {
        for (int x = i - SMEAR; x <= i + SMEAR; x++) {
            sum += light_at(shot, x, y);
        }
    }
    return sum / ((2 * SMEAR + 1) * (2 * SMEAR + 1));
}

/* The patch of a lamp that was dark and is lit for a whole exposure. @return samples inside. */
static int take(const struct shot *shot, struct lamp_patch *patch)
{
    int inside = 0;
    memset(patch, 0, sizeof *patch);
    patch->centre = (struct lamp_point){100, 100};
    patch->step = 1;
    patch->reach = MIDDLE;
    for (int k = 0; k < LAMP_PATCH_COUNT; k++) {
        const int i = k % LAMP_PATCH_SIDE;
        const int j = k / LAMP_PATCH_SIDE;
        for (int c = 0; c < 3; c++) {
            patch->dark[k][c] = board_light;
            patch->lit[k][c] = board_light;
        }
        patch->lit[k][RED] = shot->is_red_driven ? 1 : board_light;
        patch->lit[k][GREEN] = smeared_at(shot, i, j);
        patch->rise[k] = patch->lit[k][GREEN] - board_light;
        patch->peak[k] = patch->lit[k][GREEN];
        patch->inside[k] = hypot(i - MIDDLE, j - MIDDLE) <= RADIUS;
        inside += patch->inside[k];
    }
    return inside;
}

static struct lamp_spot choose(const struct shot *shot, bool has_halo, double alone_px)
{
    static struct lamp_patch patch; /* Large. */
    const int inside = take(shot, &patch);
    const struct lamp_outline outline = {inside, 1 - board_light, alone_px, has_halo};
    struct lamp_spot spot = {.centre = patch.centre, .radius_px = RADIUS};
    const double reach_px = lamp_mask_choose(&patch, &outline, &spot);
    for (int n = 0; n < spot.mask[GREEN].count; n++) {
        const struct lamp_offset *at = &spot.mask[GREEN].at[n];
        ck_assert_double_le(hypot((double)at->x, (double)at->y), reach_px + 1e-6);
    }
    return spot;
}

/* The share of the lit light that the mask reads of an exposure that the lamp was lit for. */
static double read_share(const struct lamp_spot *spot, const struct shot *shot, float exposure)
{
    struct shot part = *shot;
    part.exposure = exposure;
    double lit = 0;
    double seen = 0;
    for (int n = 0; n < spot->mask[GREEN].count; n++) {
        const int i = MIDDLE + (int)lroundf(spot->mask[GREEN].at[n].x);
        const int j = MIDDLE + (int)lroundf(spot->mask[GREEN].at[n].y);
        lit += (double)(smeared_at(shot, i, j) - board_light);
        seen += (double)(smeared_at(&part, i, j) - board_light);
    }
    return seen / lit;
}

static double nearest_px(const struct lamp_spot *spot)
{
    double nearest = far_off_px;
    for (int n = 0; n < spot->mask[GREEN].count; n++) {
        const struct lamp_offset *at = &spot->mask[GREEN].at[n];
        nearest = fmin(nearest, hypot((double)at->x, (double)at->y));
    }
    return nearest;
}

static double farthest_px(const struct lamp_spot *spot)
{
    double farthest = 0;
    for (int n = 0; n < spot->mask[GREEN].count; n++) {
        const struct lamp_offset *at = &spot->mask[GREEN].at[n];
        farthest = fmax(farthest, hypot((double)at->x, (double)at->y));
    }
    return farthest;
}

/* How far from another lamp, over how far from its own, the pixel nearest to the other is. */
static double nearest_other_ratio(const struct lamp_spot *spot, int other_px)
{
    double least = far_off_px;
    for (int n = 0; n < spot->mask[GREEN].count; n++) {
        const double x = (double)spot->mask[GREEN].at[n].x;
        const double y = (double)spot->mask[GREEN].at[n].y;
        least = fmin(least, hypot(x - other_px, y) / fmax(hypot(x, y), 1));
    }
    return least;
}

/* An exposure is a sum of light: half of it is half. The core, driven white by less than that,
 * spoils its neighbours in a codec. */
START_TEST(half_an_exposure_reads_half_on_the_halo)
{
    const struct shot shot = {.core = 4, .shed = 0.25F, .exposure = 1};
    const struct lamp_spot halo = choose(&shot, true, far_off_px);
    const struct lamp_spot rim = choose(&shot, false, far_off_px);
    ck_assert_int_ge(halo.mask[GREEN].count, COUNT_LEAST);
    ck_assert_int_ge(rim.mask[GREEN].count, COUNT_LEAST);
    ck_assert_double_gt(nearest_px(&halo), RADIUS + SMEAR);
    for (float exposure = 0.1F; exposure < 0.95F; exposure += 0.1F) {
        ck_assert_double_eq_tol(read_share(&halo, &shot, exposure), (double)exposure, 0.01);
    }
    ck_assert_double_gt(read_share(&rim, &shot, 0.5F), 0.52);
}
END_TEST

/* Pixels next to a sharp edge of the core are far from the top, yet hold some of it. */
START_TEST(half_an_exposure_reads_half_beside_a_sharp_core)
{
    const struct shot shot = {.core = 20, .shed = 0.02F, .exposure = 1};
    const struct lamp_spot spot = choose(&shot, true, far_off_px);
    ck_assert_int_ge(spot.mask[GREEN].count, COUNT_LEAST);
    ck_assert_double_eq_tol(read_share(&spot, &shot, 0.5F), 0.5, 0.02);
}
END_TEST

START_TEST(a_lamp_far_from_the_top_is_measured_on_its_lens)
{
    const struct shot shot = {.core = 0.4F, .shed = 0, .exposure = 1};
    const struct lamp_spot spot = choose(&shot, true, far_off_px);
    ck_assert_int_ge(spot.mask[GREEN].count, COUNT_LEAST);
    ck_assert_double_lt(nearest_px(&spot), 1);
    ck_assert_double_eq_tol(read_share(&spot, &shot, 0.5F), 0.5, 0.001);
}
END_TEST

START_TEST(the_halo_ends_well_before_a_known_place)
{
    const struct shot shot = {.core = 4, .shed = 0.25F, .exposure = 1};
    const double known_px = 40;
    const struct lamp_spot alone = choose(&shot, true, far_off_px);
    const struct lamp_spot beside = choose(&shot, true, known_px);
    ck_assert_int_ge(beside.mask[GREEN].count, COUNT_LEAST);
    ck_assert_double_gt(farthest_px(&alone), known_px / 3);
    ck_assert_double_lt(farthest_px(&beside), known_px / 3);
}
END_TEST

/* Its halo may drop while this one stays lit. */
START_TEST(no_pixel_is_nearer_to_another_lit_lamp)
{
    const struct shot alone = {.core = 4, .shed = 0.25F, .exposure = 1};
    const struct shot both = {.core = 4, .shed = 0.25F, .exposure = 1, .other_px = 22};
    const struct lamp_spot seen_alone = choose(&alone, true, far_off_px);
    const struct lamp_spot seen_both = choose(&both, true, far_off_px);
    ck_assert_int_ge(seen_both.mask[GREEN].count, COUNT_LEAST);
    ck_assert_double_lt(nearest_other_ratio(&seen_alone, both.other_px), 1);
    ck_assert_double_gt(nearest_other_ratio(&seen_both, both.other_px), 1);
}
END_TEST

START_TEST(a_colour_driven_everywhere_is_left_to_the_others)
{
    const struct shot shot = {.core = 0.4F, .shed = 0, .exposure = 1, .is_red_driven = true};
    const struct lamp_spot spot = choose(&shot, true, far_off_px);
    ck_assert(spot.mask[RED].is_driven);
    ck_assert(!spot.mask[GREEN].is_driven);
    ck_assert(!spot.mask[BLUE].is_driven);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {half_an_exposure_reads_half_on_the_halo,
                                  half_an_exposure_reads_half_beside_a_sharp_core,
                                  a_lamp_far_from_the_top_is_measured_on_its_lens,
                                  the_halo_ends_well_before_a_known_place,
                                  no_pixel_is_nearer_to_another_lit_lamp,
                                  a_colour_driven_everywhere_is_left_to_the_others};
    return suite_run("light_mask", tests, sizeof tests / sizeof *tests);
}
