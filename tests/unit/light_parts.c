/* light_parts.c - The pieces that the viewer is made of: block means, linear light, motion, ripple,
 * colour names. */
/* layers: base light */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "lampread/light.h"
#include "light/coarse.h"
#include "light/follow.h"
#include "light/linear.h"
#include "light/motion.h"
#include "light/ripple.h"
#include "support/suite.h"

static double textured(double x, double y)
{
    return 110 + 50 * sin(x / 9) * cos(y / 13) + 30 * sin(x / 31 + y / 17) +
           20 * cos(x / 5.5 - y / 7.3);
}

START_TEST(block_means_equal_the_plain_sums)
{
    enum { W = 643, H = 362 };
    static uint8_t y[W * H];
    static uint8_t u[(W + 1) / 2 * (H / 2)];
    struct lamp_frame frame = {
        .bits = 8, .y = {y, W, W, H}, .u = {u, (W + 1) / 2, (W + 1) / 2, H / 2}};
    frame.v = frame.u;
    for (int i = 0; i < W * H; i++) {
        y[i] = (uint8_t)(i * 7 + i / W * 13);
    }
    for (size_t i = 0; i < sizeof u; i++) {
        u[i] = (uint8_t)(i * 11);
    }
    struct lamp_coarse coarse;
    ck_assert_int_eq(lamp_coarse_init(&coarse, W, H), LAMP_OK);
    lamp_coarse_take(&coarse, &frame);
    int b = coarse.block_px;
    ck_assert_int_gt(b, 1);
    for (int j = 0; j < coarse.height; j++) {
        for (int i = 0; i < coarse.width; i++) {
            double sum = 0;
            for (int k = 0; k < b * b; k++) {
                sum += y[(j * b + k / b) * W + i * b + k % b];
            }
            ck_assert_double_eq_tol((double)coarse.y[j * coarse.width + i], sum / (b * b), 0.01);
        }
    }
    lamp_coarse_fini(&coarse);
}
END_TEST

/* Wide pictures have blocks of 8 px and more, of which every other row is read. */
START_TEST(large_block_means_equal_the_sums_of_the_rows_read)
{
    enum { W = 2576, H = 80 };
    static uint8_t y[W * H];
    struct lamp_frame frame = {.bits = 8, .y = {y, W, W, H}};
    for (int i = 0; i < W * H; i++) {
        y[i] = (uint8_t)(255 - i * 31 % 61 - i / W * 7 % 90);
    }
    struct lamp_coarse coarse;
    ck_assert_int_eq(lamp_coarse_init(&coarse, W, H), LAMP_OK);
    lamp_coarse_take(&coarse, &frame);
    int b = coarse.block_px;
    ck_assert_int_ge(b, 8);
    for (int j = 0; j < coarse.height; j++) {
        for (int i = 0; i < coarse.width; i++) {
            double sum = 0;
            for (int k = 0; k < b * b / 2; k++) {
                sum += y[(j * b + k / b * 2) * W + i * b + k % b];
            }
            ck_assert_double_eq_tol((double)coarse.y[j * coarse.width + i], sum / (b * b / 2),
                                    0.01);
        }
    }
    lamp_coarse_fini(&coarse);
}
END_TEST

START_TEST(deep_pixels_have_the_same_means)
{
    enum { W = 320, H = 200 };
    static uint8_t shallow[W * H];
    static uint16_t deep[W * H];
    for (int i = 0; i < W * H; i++) {
        shallow[i] = (uint8_t)(i % 251);
        deep[i] = (uint16_t)(shallow[i] * 1023 / 255);
    }
    struct lamp_frame frame = {.bits = 8, .y = {shallow, W, W, H}};
    struct lamp_coarse a;
    struct lamp_coarse b;
    ck_assert_int_eq(lamp_coarse_init(&a, W, H), LAMP_OK);
    ck_assert_int_eq(lamp_coarse_init(&b, W, H), LAMP_OK);
    lamp_coarse_take(&a, &frame);
    frame = (struct lamp_frame){.bits = 10, .y = {deep, W * 2, W, H}};
    lamp_coarse_take(&b, &frame);
    for (size_t k = 0; k < lamp_coarse_count(&a); k++) {
        ck_assert_double_eq_tol((double)a.y[k], (double)b.y[k], 0.3);
        ck_assert(a.u[k] > 127.9F && a.u[k] < 128.1F);
    }
    lamp_coarse_fini(&a);
    lamp_coarse_fini(&b);
}
END_TEST

/* ITU-R BT.709-6, item 1.2, and IEC 61966-2-1: code value to light. BT.709 at L = 0.018: V = 0.081;
 * at L = 0.5 by its formula V = 1.099 * 0.5^0.45 - 0.099 = 0.7055. sRGB: V = 0.5 is L = 0.2140. */
START_TEST(transfer_curves_are_undone)
{
    static const struct {
        enum lamp_transfer transfer;
        float coded;
        double light;
    } rows[] = {{LAMP_TRANSFER_BT709, 0.7055F, 0.5}, {LAMP_TRANSFER_BT709, 0.081F, 0.018},
                {LAMP_TRANSFER_SRGB, 0.5F, 0.2140},  {LAMP_TRANSFER_LINEAR, 0.3F, 0.3},
                {LAMP_TRANSFER_BT709, 1.0F, 1.0},    {LAMP_TRANSFER_SRGB, 0.0F, 0.0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lamp_frame frame = {.bits = 8, .transfer = rows[i].transfer};
        struct lamp_linear linear = {0};
        lamp_linear_set(&linear, &frame);
        ck_assert_double_eq_tol((double)lamp_linear_light(&linear, rows[i].coded), rows[i].light,
                                0.002);
    }
}
END_TEST

/* 100 % colour bars in limited-range 8-bit BT.709: white 235/128/128, red 63/102/240, green
 * 173/42/26, blue 32/240/118 (from ITU-R BT.709-6's matrix and its quantisation, items 3.2 to 3.4).
 */
START_TEST(colour_bars_come_out_as_pure_colours)
{
    static const struct {
        float yuv[3];
        double rgb[3];
    } rows[] = {{{235, 128, 128}, {1, 1, 1}},
                {{63, 102, 240}, {1, 0, 0}},
                {{173, 42, 26}, {0, 1, 0}},
                {{32, 240, 118}, {0, 0, 1}},
                {{16, 128, 128}, {0, 0, 0}}};
    struct lamp_frame frame = {.bits = 8, .matrix = LAMP_MATRIX_BT709};
    struct lamp_linear linear = {0};
    lamp_linear_set(&linear, &frame);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        float rgb[3];
        lamp_linear_rgb_coded(&linear, rows[i].yuv, rgb);
        for (int c = 0; c < 3; c++) {
            ck_assert_double_eq_tol((double)rgb[c], rows[i].rgb[c], 0.01);
        }
    }
}
END_TEST

START_TEST(a_motion_and_its_way_back_are_none)
{
    struct lamp_motion m = {1.02, -0.03, 12.5, -7.25};
    struct lamp_motion back = lamp_motion_invert(&m);
    struct lamp_motion both = lamp_motion_chain(&back, &m);
    ck_assert_double_eq_tol(both.a, 1, 1e-12);
    ck_assert_double_eq_tol(both.b, 0, 1e-12);
    ck_assert_double_eq_tol(both.tx, 0, 1e-9);
    ck_assert_double_eq_tol(both.ty, 0, 1e-9);
}
END_TEST

/* A picture moved by a known shift, turn and zoom, its gain changed: the follower must say by how
 * much. */
START_TEST(a_known_motion_and_gain_are_measured)
{
    enum { W = 640, H = 360 };
    static uint8_t pixels[W * H];
    struct lamp_frame frame = {.bits = 8, .y = {pixels, W, W, H}};
    struct lamp_coarse coarse;
    struct lamp_follower *follower;
    ck_assert_int_eq(lamp_coarse_init(&coarse, W, H), LAMP_OK);
    ck_assert_int_eq(lamp_follower_new(&coarse, &follower), LAMP_OK);
    for (int step = 0; step < 12; step++) {
        struct lamp_motion m = {1 + 0.002 * step, 0.0015 * step, 2.3 * step, -1.7 * step};
        struct lamp_motion back = lamp_motion_invert(&m);
        double gain = 1 - 0.03 * step;
        for (int k = 0; k < W * H; k++) {
            struct lamp_point p =
                lamp_motion_apply(&back, (struct lamp_point){k % W + 0.5, k / W + 0.5});
            pixels[k] = (uint8_t)(gain * textured(p.x, p.y));
        }
        struct lamp_following following;
        lamp_coarse_take(&coarse, &frame);
        lamp_follower_push(follower, &coarse, &following);
        ck_assert(!following.is_cut);
        ck_assert_double_eq_tol(following.gain, gain, 0.02);
        const struct lamp_point probe[] = {{100, 80}, {320, 180}, {500, 300}};
        for (int k = 0; k < 3; k++) {
            struct lamp_point want = lamp_motion_apply(&m, probe[k]);
            struct lamp_point have = lamp_motion_apply(&following.motion, probe[k]);
            ck_assert_msg(hypot(want.x - have.x, want.y - have.y) < 0.6,
                          "step %d: off by %.2f, %.2f px", step, have.x - want.x, have.y - want.y);
        }
    }
    lamp_follower_free(follower);
    lamp_coarse_fini(&coarse);
}
END_TEST

/* 100 Hz seen by 27 frames a second is 100 - 4 * 27 = -8: 8 Hz. */
START_TEST(ripple_is_told_at_the_rate_the_camera_sees)
{
    struct lamp_ripple ripple = {0};
    struct lamp_ripple calm = {0};
    for (int i = 0; i < 200; i++) {
        double t = i / 27.0;
        lamp_ripple_push(&ripple, (int64_t)(t * 1e9), 1 + 0.05 * sin(6.283185307 * 100 * t));
        lamp_ripple_push(&calm, (int64_t)(t * 1e9), 1 + 0.05 * sin(6.283185307 * 0.2 * t));
    }
    ck_assert_double_eq_tol(lamp_ripple_rate(&ripple), 8, 0.2);
    ck_assert(lamp_ripple_rate(&calm) <= 0);
}
END_TEST

START_TEST(light_gets_the_colour_names_of_indicators)
{
    static const struct {
        float rgb[3];
        enum lamp_colour colour;
    } rows[] = {
        {{0.5F, 0.03F, 0.02F}, LAMP_COLOUR_RED},    {{0.5F, 0.2F, 0.01F}, LAMP_COLOUR_ORANGE},
        {{0.5F, 0.42F, 0.03F}, LAMP_COLOUR_YELLOW}, {{0.05F, 0.5F, 0.1F}, LAMP_COLOUR_GREEN},
        {{0.03F, 0.1F, 0.5F}, LAMP_COLOUR_BLUE},    {{0.4F, 0.05F, 0.5F}, LAMP_COLOUR_PURPLE},
        {{0.5F, 0.48F, 0.45F}, LAMP_COLOUR_WHITE},  {{-0.1F, -0.2F, 0.0F}, LAMP_COLOUR_UNKNOWN}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        ck_assert_int_eq(lamp_colour_of(rows[i].rgb), rows[i].colour);
    }
    ck_assert_int_eq(lamp_colour_named("amber"), LAMP_COLOUR_ORANGE);
    ck_assert_ptr_null(lamp_colour_name(LAMP_COLOUR_UNKNOWN));
}
END_TEST

int main(void)
{
    TCase *tests = suite_begin("light_parts");
    tcase_add_test(tests, block_means_equal_the_plain_sums);
    tcase_add_test(tests, large_block_means_equal_the_sums_of_the_rows_read);
    tcase_add_test(tests, deep_pixels_have_the_same_means);
    tcase_add_test(tests, transfer_curves_are_undone);
    tcase_add_test(tests, colour_bars_come_out_as_pure_colours);
    tcase_add_test(tests, a_motion_and_its_way_back_are_none);
    tcase_add_test(tests, a_known_motion_and_gain_are_measured);
    tcase_add_test(tests, ripple_is_told_at_the_rate_the_camera_sees);
    tcase_add_test(tests, light_gets_the_colour_names_of_indicators);
    return suite_end();
}
