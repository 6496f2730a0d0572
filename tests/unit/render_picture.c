/* render_picture.c - Pictures: the lamp's light is the script's, rows are exposed by turns, the
 * camera does as asked. */
/* layers: base light rhythm codebook render */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "render/motion.h"
#include "render/sensor.h"
#include "support/render_make.h"
#include "support/suite.h"

static struct lamp_scene_lamp lamp;

/* A small dark scene with one lamp that does not clip, no noise, all rows exposed at once. */
static struct lamp_scene_rules plain_rules(void)
{
    struct lamp_scene_rules rules = lamp_scene_rules_default();
    lamp = lamp_scene_lamp_default();
    lamp.x_px = 100.5;
    lamp.y_px = 60.5;
    lamp.size_px = 12;
    lamp.brightness = 0.5;
    lamp.colour = LAMP_COLOUR_WHITE;
    rules.width_px = 200;
    rules.height_px = 120;
    rules.lamp = &lamp;
    rules.lamp_count = 1;
    rules.ambient = 0;
    rules.readout_ns = 0;
    rules.read_noise = 0;
    rules.shot_noise = 0;
    rules.shutter.duration_ns = 2 * S;
    return rules;
}

static double luma_at(const struct lamp_frame *frame, int x, int y)
{
    const uint8_t *row = (const uint8_t *)frame->y.at + y * frame->y.stride_bytes;
    if (frame->bits == 8) {
        return (row[x] - 16) / 219.0;
    }
    return (((const uint16_t *)(const void *)row)[x] - 64) / 876.0;
}

/* ITU-R BT.709-6 item 1.2, turned round. */
static double linear_709(double code)
{
    return code < 0.081 ? code / 4.5 : pow((code + 0.099) / 1.099, 1 / 0.45);
}

static double mean_luma(const struct lamp_frame *frame)
{
    double sum = 0;
    for (int y = 0; y < frame->y.height_px; y++) {
        for (int x = 0; x < frame->y.width_px; x++) {
            sum += luma_at(frame, x, y);
        }
    }
    return sum / frame->y.width_px / frame->y.height_px;
}

START_TEST(transfer_curves_turn_round_to_light)
{
    for (int i = 0; i <= 1000; i++) {
        const double light = i / 1000.0;
        ck_assert_double_eq_tol(linear_709(sensor_encode(LAMP_TRANSFER_BT709, light)), light, 2e-4);
        const double code = sensor_encode(LAMP_TRANSFER_SRGB, light);
        const double back =
            code <= 0.04045 ? code / 12.92 : pow((code + 0.055) / 1.055, 2.4); /* IEC 61966-2-1 */
        ck_assert_double_eq_tol(back, light, 1e-5);
    }
}
END_TEST

START_TEST(a_part_lit_frame_has_its_share_of_the_light)
{
    struct lamp_scene_rules rules = plain_rules();
    static const int lengths_ms[] = {170, 230};
    lamp.script = wave_rules(lengths_ms, 2);
    rules.shutter.exposure_ns = 20 * MS;
    rules.bits = 10;
    struct lamp_renderer *renderer = make_renderer(&rules);
    struct lamp_frame frame;
    double full = 0;
    int part_lit = 0;
    while (lamp_renderer_next(renderer, &frame)) {
        const double share = lamp_script_mean(lamp_renderer_script(renderer, 0), frame.t_ns,
                                              frame.t_ns + rules.shutter.exposure_ns);
        const double light = linear_709(luma_at(&frame, 100, 60));
        full = frame.t_ns == 0 ? light : full;
        ck_assert_double_eq_tol(light / full, share, 0.01);
        part_lit += share > 0.05 && share < 0.95;
    }
    ck_assert_double_gt(full, 0.3);
    ck_assert_int_ge(part_lit, 4);
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(the_row_of_a_lamp_is_exposed_later_by_its_delay)
{
    struct lamp_scene_rules rules = plain_rules();
    static const int lengths_ms[] = {170, 230};
    lamp.script = wave_rules(lengths_ms, 2);
    rules.readout_ns = 24 * MS;
    rules.bits = 10;
    struct lamp_renderer *renderer = make_renderer(&rules);
    const int64_t delay_ns = lamp_renderer_row_delay_ns(renderer, 0);
    ck_assert_int_eq(delay_ns, 12100 * MS / 1000);
    struct lamp_frame frame;
    double full = 0;
    while (lamp_renderer_next(renderer, &frame)) {
        const int64_t start_ns = frame.t_ns + delay_ns;
        const double share = lamp_script_mean(lamp_renderer_script(renderer, 0), start_ns,
                                              start_ns + rules.shutter.exposure_ns);
        const double light = linear_709(luma_at(&frame, 100, 60));
        full = frame.t_ns == 0 ? light : full;
        ck_assert_double_eq_tol(light / full, share, 0.03);
    }
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(room_ripple_shows_as_bands_that_a_whole_ripple_of_exposure_hides)
{
    for (int exposure_ms = 3; exposure_ms <= 10; exposure_ms += 7) {
        struct lamp_scene_rules rules = plain_rules();
        rules.lamp_count = 0;
        rules.ambient = 0.2;
        rules.bits = 10;
        struct lamp_renderer *even = make_renderer(&rules);
        rules.ripple = 0.4;
        rules.readout_ns = 30 * MS;
        rules.shutter.exposure_ns = exposure_ms * MS;
        struct lamp_renderer *rippled = make_renderer(&rules);
        struct lamp_frame a;
        struct lamp_frame b;
        ck_assert(lamp_renderer_next(even, &a));
        ck_assert(lamp_renderer_next(rippled, &b));
        double least = 2;
        double most = 0;
        for (int y = 0; y < 120; y++) {
            double sums[2] = {0};
            for (int x = 0; x < 200; x++) {
                sums[0] += linear_709(luma_at(&a, x, y));
                sums[1] += linear_709(luma_at(&b, x, y));
            }
            least = fmin(least, sums[1] / sums[0]);
            most = fmax(most, sums[1] / sums[0]);
        }
        /* Mean of a ripple over an exposure: sinc(f E), 0.858 for 3 ms at 100 Hz. */
        ck_assert_double_eq_tol(most, exposure_ms == 3 ? 1 + 0.4 * 0.858 : 1, 0.02);
        ck_assert_double_eq_tol(least, exposure_ms == 3 ? 1 - 0.4 * 0.858 : 1, 0.02);
        lamp_renderer_free(even);
        lamp_renderer_free(rippled);
    }
}
END_TEST

/* Sd of one pixel over time in linear light, against read and shot noise as asked. */
START_TEST(noise_of_a_pixel_has_the_sd_asked_for)
{
    struct lamp_scene_rules rules = plain_rules();
    rules.lamp_count = 0;
    rules.ambient = 0.2;
    rules.read_noise = 0.01;
    rules.shot_noise = 0.03;
    rules.bits = 10;
    rules.shutter.duration_ns = 20 * S;
    struct lamp_renderer *renderer = make_renderer(&rules);
    struct lamp_frame frame;
    enum { PIXELS = 400 };
    static double sum[PIXELS];
    static double square[PIXELS];
    double frames = 0;
    for (; lamp_renderer_next(renderer, &frame); frames++) {
        for (int i = 0; i < PIXELS; i++) {
            const double light = linear_709(luma_at(&frame, i % 20 * 9, i / 20 * 5));
            sum[i] += light;
            square[i] += light * light;
        }
    }
    double ratio = 0;
    int counted = 0;
    for (int i = 0; i < PIXELS; i++) {
        const double mean = sum[i] / frames;
        /* Luma sums three channels that are noisy each by itself: sd times sqrt of the sum of
         * squared weights, where the channels are alike. */
        const double expected = sqrt(0.0001 + 0.0009 * mean) *
                                sqrt(0.2126 * 0.2126 + 0.7152 * 0.7152 + 0.0722 * 0.0722);
        if (mean > 0.05 && mean < 0.9) {
            ratio += sqrt(square[i] / frames - mean * mean) / expected;
            counted++;
        }
    }
    ck_assert_int_gt(counted, 100);
    ck_assert_double_eq_tol(ratio / counted, 1, 0.1);
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(auto_exposure_darkens_the_board_when_a_lamp_lights)
{
    struct lamp_scene_rules rules = plain_rules();
    static const int lengths_ms[] = {1000, 1000};
    lamp.script = wave_rules(lengths_ms, 2);
    lamp.script.start_phase = 0.5;
    lamp.size_px = 40;
    lamp.brightness = 20;
    rules.ambient = 0.1;
    rules.auto_exposure = 1;
    struct lamp_renderer *renderer = make_renderer(&rules);
    struct lamp_frame frame;
    double dark = 0;
    double lit = 0;
    while (lamp_renderer_next(renderer, &frame)) {
        dark = frame.t_ns < 990 * MS ? luma_at(&frame, 2, 110) : dark;
        lit = luma_at(&frame, 2, 110);
    }
    ck_assert_double_lt(lit, 0.9 * dark);
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(warmth_reddens_and_cold_turns_blue)
{
    struct lamp_scene_rules rules = plain_rules();
    rules.lamp_count = 0;
    rules.ambient = 0.2;
    double reds[3];
    for (int i = 0; i < 3; i++) {
        rules.warmth = i - 1;
        struct lamp_renderer *renderer = make_renderer(&rules);
        struct lamp_frame frame;
        ck_assert(lamp_renderer_next(renderer, &frame));
        reds[i] = 0;
        for (int k = 0; k < 60; k++) {
            const uint8_t *red = (const uint8_t *)frame.v.at + k * frame.v.stride_bytes;
            reds[i] += red[50] / 60.0;
        }
        lamp_renderer_free(renderer);
    }
    ck_assert_double_gt(reds[2], reds[1] + 1);
    ck_assert_double_lt(reds[0], reds[1] - 1);
}
END_TEST

START_TEST(a_shaken_camera_begins_where_asked_and_stays_within_reach)
{
    struct motion motion;
    motion_init(&motion, 3, 20, 360, 5);
    const struct pose first = motion_at(&motion, 0);
    ck_assert_double_eq(first.x_px, 0);
    ck_assert_double_eq(first.y_px, 0);
    ck_assert_double_eq(first.zoom, 1);
    const int reach = motion_reach_px(&motion, 640);
    double square = 0;
    for (int i = 1; i <= 30000; i++) {
        const struct pose pose = motion_at(&motion, i / 100.0);
        ck_assert_double_le(hypot(pose.x_px, 0), reach);
        ck_assert_double_le(fabs(pose.y_px), reach);
    }
    motion_init(&motion, 3, 0, 360, 5);
    double mean = 0;
    for (int i = 1; i <= 30000; i++) {
        const double x = motion_at(&motion, i / 100.0).x_px;
        mean += x / 30000;
        square += x * x / 30000;
    }
    ck_assert_double_eq_tol(sqrt(square - mean * mean), 3, 0.6);
}
END_TEST

START_TEST(shake_moves_the_picture_and_no_shake_leaves_it_still)
{
    for (int shakes = 0; shakes < 2; shakes++) {
        struct lamp_scene_rules rules = plain_rules();
        rules.ambient = 0.2;
        rules.shake_px = 3 * shakes;
        struct lamp_renderer *renderer = make_renderer(&rules);
        struct lamp_frame first;
        struct lamp_frame later;
        ck_assert(lamp_renderer_next(renderer, &first));
        for (int i = 0; i < 4; i++) {
            ck_assert(lamp_renderer_next(renderer, &later));
        }
        const int same = memcmp(first.y.at, later.y.at, 200 * 120) == 0;
        ck_assert_int_eq(same, !shakes);
        lamp_renderer_free(renderer);
    }
}
END_TEST

START_TEST(two_lamps_in_one_place_show_their_own_colours)
{
    struct lamp_scene_rules rules = plain_rules();
    static const int lengths_ms[] = {500, 500};
    struct lamp_scene_lamp pair[2] = {lamp, lamp};
    pair[0].colour = LAMP_COLOUR_RED;
    pair[1].colour = LAMP_COLOUR_GREEN;
    pair[0].script = pair[1].script = wave_rules(lengths_ms, 2);
    pair[1].script.is_inverted = true;
    rules.lamp = pair;
    rules.lamp_count = 2;
    struct lamp_renderer *renderer = make_renderer(&rules);
    struct lamp_frame frame;
    while (lamp_renderer_next(renderer, &frame)) {
        const int red = ((const uint8_t *)frame.v.at + 30 * frame.v.stride_bytes)[50];
        if (frame.t_ns % S < 450 * MS) {
            ck_assert_msg(red > 150, "%d at %ld", red, (long)frame.t_ns);
        } else if (frame.t_ns % S > 510 * MS && frame.t_ns % S < 950 * MS) {
            ck_assert_int_lt(red, 110);
        }
    }
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(a_hand_and_a_shadow_change_the_picture)
{
    struct lamp_scene_rules rules = plain_rules();
    rules.ambient = 0.1;
    struct lamp_renderer *plain = make_renderer(&rules);
    rules.has_hand = true;
    struct lamp_renderer *hand = make_renderer(&rules);
    rules.has_hand = false;
    rules.shadow = 0.7;
    struct lamp_renderer *shadow = make_renderer(&rules);
    struct lamp_frame frames[3];
    double least = 1;
    while (lamp_renderer_next(plain, &frames[0])) {
        ck_assert(lamp_renderer_next(hand, &frames[1]));
        ck_assert(lamp_renderer_next(shadow, &frames[2]));
        ck_assert_double_gt(mean_luma(&frames[1]), mean_luma(&frames[0]) + 0.005);
        least = fmin(least, mean_luma(&frames[2]) / mean_luma(&frames[0]));
    }
    ck_assert_double_lt(least, 0.95);
    lamp_renderer_free(plain);
    lamp_renderer_free(hand);
    lamp_renderer_free(shadow);
}
END_TEST

START_TEST(frames_stay_readable_as_long_as_sources_keep_them)
{
    struct lamp_scene_rules rules = plain_rules();
    rules.read_noise = 0.01;
    struct lamp_renderer *renderer = make_renderer(&rules);
    struct lamp_frame first;
    ck_assert(lamp_renderer_next(renderer, &first));
    uint8_t copy[200 * 120];
    memcpy(copy, first.y.at, sizeof copy);
    for (int i = 0; i < LAMP_FRAMES_KEPT; i++) {
        struct lamp_frame next;
        ck_assert(lamp_renderer_next(renderer, &next));
        ck_assert_int_eq(memcmp(copy, first.y.at, sizeof copy), 0);
    }
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(the_same_seed_gives_the_same_pictures_and_another_does_not)
{
    struct lamp_scene_rules rules = plain_rules();
    rules.read_noise = 0.01;
    rules.ambient = 0.1;
    rules.shake_px = 1;
    struct lamp_renderer *a = make_renderer(&rules);
    struct lamp_renderer *b = make_renderer(&rules);
    rules.seed = 2;
    struct lamp_renderer *c = make_renderer(&rules);
    for (int i = 0; i < 5; i++) {
        struct lamp_frame frames[3];
        ck_assert(lamp_renderer_next(a, &frames[0]));
        ck_assert(lamp_renderer_next(b, &frames[1]));
        ck_assert(lamp_renderer_next(c, &frames[2]));
        ck_assert_int_eq(memcmp(frames[0].y.at, frames[1].y.at, 200 * 120 * 3 / 2), 0);
        ck_assert_int_ne(memcmp(frames[0].y.at, frames[2].y.at, 200 * 120), 0);
    }
    lamp_renderer_free(a);
    lamp_renderer_free(b);
    lamp_renderer_free(c);
}
END_TEST

START_TEST(lost_frames_are_counted)
{
    struct lamp_scene_rules rules = plain_rules();
    rules.width_px = rules.height_px = 16;
    lamp.x_px = lamp.y_px = 8;
    lamp.size_px = 2;
    rules.shutter.drop_share = 0.3;
    rules.shutter.duration_ns = 20 * S;
    struct lamp_renderer *renderer = make_renderer(&rules);
    struct lamp_frame frame;
    uint64_t frames = 0;
    while (lamp_renderer_next(renderer, &frame)) {
        frames++;
    }
    uint64_t given;
    uint64_t lost;
    lamp_renderer_count(renderer, &given, &lost);
    ck_assert_uint_eq(given, frames);
    ck_assert_uint_gt(lost, 130);
    ck_assert_uint_lt(lost, 230);
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(scenes_out_of_range_are_refused_by_name)
{
    struct lamp_scene_rules bad[7];
    for (int i = 0; i < 7; i++) {
        bad[i] = plain_rules();
    }
    struct lamp_scene_lamp outside = lamp_scene_lamp_default();
    outside.x_px = 500;
    bad[0].width_px = 641;
    bad[1].bits = 9;
    bad[2].lamp = &outside;
    bad[3].lamp_count = LAMP_SCENE_LAMPS_MAX + 1;
    bad[4].transfer = LAMP_TRANSFER_PQ;
    bad[5].shake_px = NAN;
    bad[6].shutter.exposure_ns = 0;
    static const char *const places[] = {"size",     "bits",  "lamp place across", "lamps",
                                         "transfer", "shake", "exposure"};
    for (int i = 0; i < 7; i++) {
        struct lamp_error error;
        struct lamp_renderer *renderer = NULL;
        ck_assert_int_eq(lamp_renderer_new(&bad[i], &renderer, &error), LAMP_BAD_USE);
        ck_assert_str_eq(error.place, places[i]);
        ck_assert_ptr_null(renderer);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        transfer_curves_turn_round_to_light,
        a_part_lit_frame_has_its_share_of_the_light,
        the_row_of_a_lamp_is_exposed_later_by_its_delay,
        room_ripple_shows_as_bands_that_a_whole_ripple_of_exposure_hides,
        noise_of_a_pixel_has_the_sd_asked_for,
        auto_exposure_darkens_the_board_when_a_lamp_lights,
        warmth_reddens_and_cold_turns_blue,
        a_shaken_camera_begins_where_asked_and_stays_within_reach,
        shake_moves_the_picture_and_no_shake_leaves_it_still,
        two_lamps_in_one_place_show_their_own_colours,
        a_hand_and_a_shadow_change_the_picture,
        frames_stay_readable_as_long_as_sources_keep_them,
        the_same_seed_gives_the_same_pictures_and_another_does_not,
        lost_frames_are_counted,
        scenes_out_of_range_are_refused_by_name,
    };
    return suite_run("picture", tests, sizeof tests / sizeof tests[0]);
}
