/* light_bands.c - Bands of rippling room light are told from whole rows, and taken out of them. */
/* layers: base light */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "light/bands.h"
#include "light/reflect.h"
#include "support/suite.h"

enum { W = 160, H = 90, FRAMES = 24 };

/* Light of a board: dark parts, bright parts, a texture. */
static double board(int i, int j)
{
    return 0.22 + 0.08 * sin(i * 0.31) * cos(j * 0.23) + 0.06 * sin(i * 0.07 + j * 0.11);
}

/* What the ripple does to a row: two cycles over the picture, a third of one more each frame. */
static double ripple(int frame, int j, double share)
{
    return 1 + share * sin(6.283185307 * (2.0 * j / H + frame / 3.0));
}

static double code_of(double light)
{
    return 255 * (1.099 * pow(fmin(light, 1), 0.45) - 0.099); /* ITU-R BT.709-6, 1.2 */
}

static const struct lamp_frame as_709 = {
    .bits = 8, .transfer = LAMP_TRANSFER_BT709, .is_full_range = true};

struct filmed {
    struct lamp_coarse coarse;
    struct lamp_bands bands;
    struct lamp_motion still;
};

static void begin(struct filmed *f)
{
    f->still = lamp_motion_none();
    ck_assert_int_eq(lamp_coarse_init(&f->coarse, W, H), LAMP_OK);
    ck_assert_int_eq(f->coarse.width * f->coarse.height, W * H);
    ck_assert_int_eq(lamp_bands_init(&f->bands, &f->coarse), LAMP_OK);
}

static void end(struct filmed *f)
{
    lamp_bands_fini(&f->bands);
    lamp_coarse_fini(&f->coarse);
}

/* `extra` adds light of its own at a point, `shade` takes light away from a third of the width. */
static const float *film(struct filmed *f, int frame, double share, double extra, double shade)
{
    for (int j = 0; j < H; j++) {
        for (int i = 0; i < W; i++) {
            double light = board(i, j) * ripple(frame, j, share);
            light *= i > W / 2 && i < W * 5 / 6 ? 1 - shade : 1;
            light += hypot(i - 40, j - 30) < 6 ? extra : 0;
            f->coarse.y[j * W + i] = (float)code_of(light);
            f->coarse.u[j * W + i] = f->coarse.v[j * W + i] = 128;
        }
    }
    return lamp_bands_push(&f->bands, &f->coarse, &as_709, &f->still);
}

START_TEST(the_light_of_each_row_is_told_over_that_of_the_first_picture)
{
    struct filmed f;
    begin(&f);
    for (int frame = 0; frame < FRAMES; frame++) {
        const float *light = film(&f, frame, 0.4, frame % 2 == 0 ? 0.5 : 0, 0);
        ck_assert(frame == 0 || light != NULL);
        for (int j = 0; j < H && frame > 0; j++) {
            double truth = ripple(frame, j, 0.4) / ripple(0, j, 0.4);
            ck_assert_double_lt(fabs(log((double)light[j] / truth)), 0.12);
        }
    }
    end(&f);
}
END_TEST

START_TEST(a_picture_without_its_bands_is_the_first_one)
{
    struct filmed f;
    begin(&f);
    for (int frame = 0; frame < FRAMES; frame++) {
        (void)film(&f, frame, 0.4, 0, 0);
        for (int k = 0; k < W * H; k++) {
            double first = code_of(board(k % W, k / W) * ripple(0, k / W, 0.4));
            ck_assert_double_lt(fabs((double)f.coarse.y[k] - first), 8);
        }
    }
    end(&f);
}
END_TEST

START_TEST(a_still_picture_has_no_bands)
{
    struct filmed f;
    begin(&f);
    for (int frame = 0; frame < FRAMES; frame++) {
        ck_assert_ptr_null(film(&f, frame, 0, frame % 5 == 0 ? 0.5 : 0, 0));
    }
    end(&f);
}
END_TEST

START_TEST(a_shadow_over_part_of_the_picture_is_no_band)
{
    struct filmed f;
    begin(&f);
    for (int frame = 0; frame < FRAMES; frame++) {
        ck_assert_ptr_null(film(&f, frame, 0, 0, 0.5 * frame / FRAMES));
    }
    end(&f);
}
END_TEST

START_TEST(in_the_mean_of_many_pictures_there_are_no_bands)
{
    struct filmed f;
    float change[LAMP_BAND_ROWS_MAX];
    int levels = 0;
    begin(&f);
    for (int frame = 0; frame < 100; frame++) {
        const float *light = film(&f, frame, 0.4, 0, 0);
        levels += lamp_bands_level(&f.bands, change);
        for (int j = 0; j < H && levels > 0; j++) {
            ck_assert_double_lt(fabs(log((double)light[j] / ripple(frame, j, 0.4))), 0.2);
        }
    }
    ck_assert_int_eq(levels, 1);
    end(&f);
}
END_TEST

static struct lamp_light light_of(float own, float reflects, float room)
{
    struct lamp_light light = {.core = {0}};
    for (int c = 0; c < 3; c++) {
        light.core[c] = own + reflects * room;
        light.ring[c] = 0.05F * room;
        light.room[c] = light.room[3 + c] = room;
    }
    return light;
}

START_TEST(what_a_place_reflects_is_learnt_though_its_lamp_blinks)
{
    struct lamp_reflection r = {.weight = {0}};
    for (int i = 0; i < 300; i++) {
        struct lamp_light light =
            light_of(i / 7 % 2 == 0 ? 0.4F : 0, 0.2F, 1 + 0.4F * sinf((float)i * 2.1F));
        lamp_reflection_learn(&r, &light);
    }
    ck_assert_float_eq_tol(r.rgb[1], 0.2F, 0.02F);
    ck_assert_float_eq_tol(r.rgb[4], 0.05F, 0.005F);
    struct lamp_light light = light_of(0.4F, 0.2F, 1.4F);
    lamp_reflection_take_out(&r, &light);
    ck_assert_float_eq_tol(light.core[1], 0.6F, 0.01F);
}
END_TEST

START_TEST(a_place_that_only_follows_the_room_is_told_from_a_lamp)
{
    struct lamp_reflection part = {.weight = {0}};
    struct lamp_reflection lamp = {.weight = {0}};
    for (int i = 0; i < 90; i++) {
        float room = 1 + 0.4F * sinf((float)i * 2.1F);
        lamp_reflection_note(&part, room, fminf(0.5F * room, 0.6F));
        lamp_reflection_note(&lamp, room, (i / 7 % 2 == 0 ? 0.4F : 0) + 0.05F * room);
    }
    ck_assert_float_gt(lamp_reflection_share(&part), 0.9F);
    ck_assert_float_lt(lamp_reflection_share(&lamp), 0.2F);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        the_light_of_each_row_is_told_over_that_of_the_first_picture,
        a_picture_without_its_bands_is_the_first_one,
        a_still_picture_has_no_bands,
        a_shadow_over_part_of_the_picture_is_no_band,
        in_the_mean_of_many_pictures_there_are_no_bands,
        what_a_place_reflects_is_learnt_though_its_lamp_blinks,
        a_place_that_only_follows_the_room_is_told_from_a_lamp,
    };
    return suite_run("light_bands", tests, sizeof tests / sizeof *tests);
}
