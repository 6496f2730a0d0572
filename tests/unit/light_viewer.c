/* light_viewer.c - Lamps are found, followed and measured in rendered pictures. */
/* layers: base rhythm codebook light render */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/light.h"
#include "lampread/render.h"
#include "support/suite.h"

enum { READINGS_MAX = 20000 };

struct seen {
    struct lamp_viewer *viewer;
    struct lamp_renderer *renderer;
    struct lamp_reading *reading;
    size_t count;
};

static struct lamp_scene_lamp lamp_at(double x, double y, enum lamp_colour colour,
                                      const char *notation)
{
    static const struct lamp_timing timing = {200000000, 600000000, 200000000, 700000000,
                                              1800000000};
    struct lamp_scene_lamp lamp = lamp_scene_lamp_default();
    struct lamp_pattern pattern;
    struct lamp_error error;
    lamp.x_px = x;
    lamp.y_px = y;
    lamp.colour = colour;
    ck_assert_int_eq(lamp_pattern_parse(notation, &pattern, NULL, &error), LAMP_OK);
    ck_assert_int_eq(lamp_script_rules_play(&pattern, &timing, &lamp.script, &error), LAMP_OK);
    return lamp;
}

static struct lamp_scene_rules scene_of(const struct lamp_scene_lamp *lamp, size_t count,
                                        double seconds)
{
    struct lamp_scene_rules scene = lamp_scene_rules_default();
    scene.lamp = lamp;
    scene.lamp_count = count;
    scene.shutter.duration_ns = (int64_t)(seconds * 1e9);
    return scene;
}

static struct seen see(const struct lamp_scene_rules *scene, const struct lamp_region *pointed)
{
    struct seen seen = {.reading = calloc(READINGS_MAX, sizeof *seen.reading)};
    struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_error error;
    ck_assert_ptr_nonnull(seen.reading);
    ck_assert_int_eq(lamp_renderer_new(scene, &seen.renderer, &error), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_new(&rules, &seen.viewer), LAMP_OK);
    if (pointed != NULL) {
        ck_assert_int_eq(lamp_viewer_point(seen.viewer, pointed), LAMP_OK);
    }
    struct lamp_frame frame;
    while (lamp_renderer_next(seen.renderer, &frame)) {
        ck_assert_int_eq(lamp_viewer_push(seen.viewer, &frame), LAMP_OK);
        while (lamp_viewer_next(seen.viewer, &seen.reading[seen.count])) {
            ck_assert_uint_lt(++seen.count, READINGS_MAX);
        }
    }
    return seen;
}

static void forget(struct seen *seen)
{
    lamp_viewer_free(seen->viewer);
    lamp_renderer_free(seen->renderer);
    free(seen->reading);
}

static bool is_at(const struct lamp_region *place, const struct lamp_region *lamp)
{
    double dx = place->x_px + place->w_px / 2.0 - lamp->x_px - lamp->w_px / 2.0;
    double dy = place->y_px + place->h_px / 2.0 - lamp->y_px - lamp->h_px / 2.0;
    return hypot(dx, dy) < 0.8 * (lamp->w_px + lamp->h_px) / 2;
}

/* The most lamp-like place on a lamp of the scene, -1 if there is none. */
static int place_of(const struct seen *seen, size_t lamp, bool by_shine)
{
    struct lamp_region truth = lamp_renderer_region(seen->renderer, lamp);
    int best = -1;
    float most = 0;
    for (size_t i = 0; i < lamp_viewer_place_count(seen->viewer); i++) {
        struct lamp_place place;
        lamp_viewer_place(seen->viewer, i, &place);
        float value = by_shine ? place.shine : place.likeness;
        if (is_at(&place.region, &truth) && value > most) {
            most = value;
            best = (int)i;
        }
    }
    return most >= 0.5F ? best : -1;
}

static double level_of(const struct lamp_reading *reading)
{
    return (double)(reading->rgb[0] + reading->rgb[1] + reading->rgb[2]) / 3;
}

/* Correlation of a place's readings with the true light over each exposure. */
static double agreement(const struct seen *seen, int place, size_t lamp, int64_t exposure_ns)
{
    const struct lamp_script *script = lamp_renderer_script(seen->renderer, lamp);
    int64_t delay = lamp_renderer_row_delay_ns(seen->renderer, lamp);
    double n = 0, sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
    for (size_t i = 0; i < seen->count; i++) {
        const struct lamp_reading *r = &seen->reading[i];
        if (r->place != (size_t)place) {
            continue;
        }
        double a = level_of(r);
        double b = lamp_script_mean(script, r->t_ns + delay, r->t_ns + delay + exposure_ns);
        n++;
        sa += a;
        sb += b;
        saa += a * a;
        sbb += b * b;
        sab += a * b;
    }
    return (sab - sa * sb / n) / sqrt((saa - sa * sa / n) * (sbb - sb * sb / n));
}

static void check_found(const struct lamp_scene_rules *scene, double least_agreement)
{
    struct seen seen = see(scene, NULL);
    for (size_t lamp = 0; lamp < scene->lamp_count; lamp++) {
        bool is_steady = scene->lamp[lamp].script.kind == LAMP_SCRIPT_STEADY_ON;
        int place = place_of(&seen, lamp, is_steady);
        ck_assert_msg(place >= 0, "lamp %zu was not found", lamp);
        if (!is_steady) {
            double r = agreement(&seen, place, lamp, scene->shutter.exposure_ns);
            ck_assert_msg(r > least_agreement, "lamp %zu is measured with agreement %.3f only",
                          lamp, r);
        }
    }
    forget(&seen);
}

static struct lamp_scene_lamp four_lamps[4];

static void set_four_lamps(void)
{
    four_lamps[0] = lamp_at(190, 144, LAMP_COLOUR_GREEN, "2 long 3 short");
    four_lamps[1] = lamp_at(300, 190, LAMP_COLOUR_RED, "steady on");
    four_lamps[2] = lamp_at(410, 237, LAMP_COLOUR_BLUE, "blink 1 Hz");
    four_lamps[3] = lamp_at(518, 284, LAMP_COLOUR_YELLOW, "1 long 4 short");
}

START_TEST(lamps_blinking_and_steady_are_found_and_measured)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 6);
    check_found(&scene, 0.98);
}
END_TEST

START_TEST(lamps_are_followed_through_a_shaking_hand)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 6);
    scene.shake_px = 6;
    check_found(&scene, 0.95);
}
END_TEST

START_TEST(lamps_are_followed_through_slow_drift)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 6);
    scene.drift_px_s = 15;
    check_found(&scene, 0.95);
}
END_TEST

START_TEST(lamps_are_measured_in_a_dark_room)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 6);
    scene.ambient = 0.01;
    check_found(&scene, 0.98);
}
END_TEST

START_TEST(ripple_of_the_room_light_and_pumping_exposure_leave_the_lamps)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 6);
    scene.ripple = 0.25;
    scene.auto_exposure = 0.6;
    scene.shutter.exposure_ns = 6000000;
    check_found(&scene, 0.95);
}
END_TEST

/* What blinks and is none of the scene's lamps. */
static int count_strangers(const struct seen *seen, size_t lamps)
{
    int count = 0;
    for (size_t i = 0; i < lamp_viewer_place_count(seen->viewer); i++) {
        struct lamp_place place;
        bool is_known = false;
        lamp_viewer_place(seen->viewer, i, &place);
        for (size_t lamp = 0; lamp < lamps; lamp++) {
            struct lamp_region truth = lamp_renderer_region(seen->renderer, lamp);
            is_known = is_known || is_at(&place.region, &truth);
        }
        count += !is_known && place.likeness >= 0.2F;
    }
    return count;
}

/* Half of the light ripples at 100 Hz, and 30 frames a second, each exposed for a fifth of a cycle,
 * make of that two bands that pass over the board ten times a second. */
START_TEST(bands_of_rippling_light_leave_the_lamps_and_are_none)
{
    for (int i = 0; i < 2; i++) {
        struct lamp_scene_rules scene = scene_of(four_lamps, 4, 6);
        scene.ripple = 0.5;
        scene.ambient = 0.12;
        scene.shutter.exposure_ns = 2000000;
        scene.shake_px = i == 0 ? 0 : 1;
        check_found(&scene, i == 0 ? 0.95 : 0.85);
        struct seen seen = see(&scene, NULL);
        ck_assert_int_le(count_strangers(&seen, 4), 4); /* without the bands undone: dozens */
        forget(&seen);
    }
}
END_TEST

START_TEST(a_lamp_that_is_dark_at_first_is_found_when_it_lights)
{
    struct lamp_scene_lamp lamp = lamp_at(300, 180, LAMP_COLOUR_GREEN, "on 1 s, off 3 s");
    lamp.script.start_phase = 0.3; /* dark for 2.8 s */
    struct lamp_scene_rules scene = scene_of(&lamp, 1, 5);
    struct seen seen = see(&scene, NULL);
    int place = place_of(&seen, 0, false);
    ck_assert_int_ge(place, 0);
    size_t first = 0;
    while (seen.reading[first].place != (size_t)place) {
        first++;
    }
    ck_assert(seen.reading[first].begins);
    ck_assert_int_eq(seen.reading[first].t_ns, 0); /* dark since the recording began */
    forget(&seen);
}
END_TEST

START_TEST(a_board_without_lamps_has_none)
{
    struct lamp_scene_rules scene = scene_of(NULL, 0, 4);
    scene.shake_px = 4;
    struct seen seen = see(&scene, NULL);
    for (size_t i = 0; i < lamp_viewer_place_count(seen.viewer); i++) {
        struct lamp_place place;
        lamp_viewer_place(seen.viewer, i, &place);
        ck_assert_msg(place.shine < 0.5F, "a steady lamp at %d,%d", place.region.x_px,
                      place.region.y_px);
    }
    forget(&seen);
}
END_TEST

START_TEST(a_pointed_lamp_that_stays_dark_is_measured_dark)
{
    struct lamp_scene_lamp lamp = lamp_at(300, 180, LAMP_COLOUR_GREEN, "steady off");
    struct lamp_scene_rules scene = scene_of(&lamp, 1, 2);
    struct lamp_region region = {290, 172, 20, 16};
    struct seen seen = see(&scene, &region);
    struct lamp_place place;
    lamp_viewer_place(seen.viewer, 0, &place);
    ck_assert(place.is_pointed);
    ck_assert_int_eq(place.region.x_px, 290);
    double least = 9;
    double most = -9;
    size_t count = 0;
    for (size_t i = 0; i < seen.count; i++) {
        if (seen.reading[i].place == 0) {
            least = fmin(least, level_of(&seen.reading[i]));
            most = fmax(most, level_of(&seen.reading[i]));
            count++;
        }
    }
    ck_assert_uint_ge(count, 59);
    ck_assert(most - least < 0.03);
    forget(&seen);
}
END_TEST

/* Light that ripples at four times the frame rate draws bands that stand still. In a bright one the
 * pale body of a dark lamp is driven white, as all is that is white. */
START_TEST(a_pale_dark_lamp_in_a_bright_band_is_not_told_to_shine)
{
    for (int y = 60; y < 320; y += 40) {
        struct lamp_scene_lamp lamp = lamp_at(300, y, LAMP_COLOUR_GREEN, "steady off");
        struct lamp_scene_rules scene = scene_of(&lamp, 1, 1);
        scene.ambient = 0.22;
        scene.ripple = 0.5;
        scene.ripple_hz = 120;
        scene.shutter.exposure_ns = 2000000;
        struct lamp_region region = {290, y - 10, 20, 20};
        struct seen seen = see(&scene, &region);
        struct lamp_place place;
        lamp_viewer_place(seen.viewer, 0, &place);
        ck_assert_msg(place.shine < 0.4F, "%g at %d", (double)place.shine, y);
        forget(&seen);
    }
}
END_TEST

START_TEST(a_pointed_lamp_keeps_its_place_when_it_is_outlined)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 1, 5);
    struct lamp_region region = {178, 132, 26, 26};
    struct seen seen = see(&scene, &region);
    struct lamp_place place;
    lamp_viewer_place(seen.viewer, 0, &place);
    ck_assert(place.is_pointed && place.has_changed);
    ck_assert_int_eq(place.region.w_px, 26);
    ck_assert(agreement(&seen, 0, 0, scene.shutter.exposure_ns) > 0.95);
    forget(&seen);
}
END_TEST

/* Another board in another light. */
static struct lamp_renderer *other_board(struct lamp_scene_rules scene, uint64_t seed)
{
    struct lamp_renderer *other = NULL;
    scene.seed = seed;
    scene.ambient = 0.25;
    ck_assert_int_eq(lamp_renderer_new(&scene, &other, NULL), LAMP_OK);
    return other;
}

/* Push the next frame of `renderer` as if it were taken `late_ns` later. */
static void push_next(struct lamp_viewer *viewer, struct lamp_renderer *renderer, int64_t late_ns)
{
    struct lamp_frame frame;
    ck_assert(lamp_renderer_next(renderer, &frame));
    frame.t_ns += late_ns;
    ck_assert_int_eq(lamp_viewer_push(viewer, &frame), LAMP_OK);
}

START_TEST(a_cut_to_another_scene_is_seen_and_ends_the_readings)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 2);
    struct seen seen = see(&scene, NULL);
    ck_assert_uint_gt(lamp_viewer_place_count(seen.viewer), 0);
    struct lamp_renderer *other = other_board(scene, 77);
    struct lamp_viewer_counts counts;
    push_next(seen.viewer, other, 2000000000);
    push_next(seen.viewer, other, 2000000000);
    lamp_viewer_describe(seen.viewer, &counts);
    ck_assert_uint_eq(counts.cuts, 0); /* they could be damaged frames yet */
    push_next(seen.viewer, other, 2000000000);
    lamp_viewer_describe(seen.viewer, &counts);
    ck_assert_uint_eq(counts.cuts, 1);
    ck_assert_uint_eq(counts.damaged, 0);
    struct lamp_reading reading;
    while (lamp_viewer_next(seen.viewer, &reading)) {
        ck_assert(reading.begins);
    }
    lamp_renderer_free(other);
    forget(&seen);
}
END_TEST

/* One frame in ten comes from somewhere else, twice two in a row. */
START_TEST(frames_damaged_beyond_knowing_are_left_out_and_the_light_goes_on)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 1, 4);
    struct lamp_renderer *renderer = NULL;
    struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_viewer *viewer = NULL;
    ck_assert_int_eq(lamp_renderer_new(&scene, &renderer, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_new(&rules, &viewer), LAMP_OK);
    struct lamp_frame frame;
    uint64_t damaged = 0;
    int begun[LAMP_PLACES_MAX] = {0};
    int breaks = 0;
    for (int i = 0; lamp_renderer_next(renderer, &frame); i++) {
        bool is_damaged = i % 10 == 5 || i == 46 || i == 86;
        if (is_damaged) {
            struct lamp_renderer *other = other_board(scene, 200 + 7 * damaged); /* like no other */
            struct lamp_frame wrong;
            ck_assert(lamp_renderer_next(other, &wrong));
            wrong.t_ns = frame.t_ns;
            ck_assert_int_eq(lamp_viewer_push(viewer, &wrong), LAMP_OK);
            lamp_renderer_free(other);
            damaged++;
        } else {
            ck_assert_int_eq(lamp_viewer_push(viewer, &frame), LAMP_OK);
        }
        struct lamp_reading reading;
        while (lamp_viewer_next(viewer, &reading)) {
            begun[reading.place] += reading.begins;
            breaks += reading.after_break;
        }
    }
    struct lamp_viewer_counts counts;
    lamp_viewer_describe(viewer, &counts);
    ck_assert_uint_eq(counts.cuts, 0);
    ck_assert_uint_eq(counts.damaged, damaged);
    ck_assert_int_eq(breaks, 0);
    ck_assert_int_eq(begun[0], 1);
    lamp_viewer_free(viewer);
    lamp_renderer_free(renderer);
}
END_TEST

/* Its flashes change most of the picture for a frame or two, as damage would. */
START_TEST(flashes_of_a_lamp_that_fills_a_dark_picture_are_no_damage)
{
    struct lamp_scene_lamp lamp = lamp_at(320, 180, LAMP_COLOUR_RED, "2 short 3 short");
    const struct lamp_timing timing = {40000000, 600000000, 250000000, 600000000, 1500000000};
    struct lamp_pattern pattern;
    ck_assert_int_eq(lamp_pattern_parse("2 short 3 short", &pattern, NULL, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_script_rules_play(&pattern, &timing, &lamp.script, NULL), LAMP_OK);
    lamp.size_px = 90;
    struct lamp_scene_rules scene = scene_of(&lamp, 1, 8);
    scene.ambient = 0.01;
    scene.bloom = 4;
    struct seen seen = see(&scene, NULL);
    struct lamp_viewer_counts counts;
    lamp_viewer_describe(seen.viewer, &counts);
    ck_assert_uint_le(counts.damaged, 2); /* the first flash is like nothing before it */
    forget(&seen);
}
END_TEST

START_TEST(a_picture_too_small_or_of_another_size_is_refused)
{
    unsigned char pixels[64 * 64] = {0};
    struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_viewer *viewer;
    struct lamp_frame frame = {.bits = 8, .y = {pixels, 64, 8, 8}};
    ck_assert_int_eq(lamp_viewer_new(&rules, &viewer), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_push(viewer, &frame), LAMP_BAD_SOURCE);
    frame.y.width_px = frame.y.height_px = 64;
    ck_assert_int_eq(lamp_viewer_push(viewer, &frame), LAMP_OK);
    frame.y.width_px = 48;
    ck_assert_int_eq(lamp_viewer_push(viewer, &frame), LAMP_BAD_SOURCE);
    lamp_viewer_free(viewer);
}
END_TEST

START_TEST(readings_of_a_place_never_go_back_in_time)
{
    struct lamp_scene_rules scene = scene_of(four_lamps, 4, 5);
    scene.shake_px = 5;
    scene.has_hand = true;
    struct seen seen = see(&scene, NULL);
    int64_t last[LAMP_PLACES_MAX];
    for (size_t i = 0; i < seen.count; i++) {
        const struct lamp_reading *r = &seen.reading[i];
        ck_assert_uint_lt(r->place, LAMP_PLACES_MAX);
        ck_assert(r->begins || r->t_ns > last[r->place]);
        last[r->place] = r->t_ns;
    }
    forget(&seen);
}
END_TEST

int main(void)
{
    TCase *tests = suite_begin("light_viewer");
    tcase_add_unchecked_fixture(tests, set_four_lamps, NULL);
    tcase_add_test(tests, lamps_blinking_and_steady_are_found_and_measured);
    tcase_add_test(tests, lamps_are_followed_through_a_shaking_hand);
    tcase_add_test(tests, lamps_are_followed_through_slow_drift);
    tcase_add_test(tests, lamps_are_measured_in_a_dark_room);
    tcase_add_test(tests, ripple_of_the_room_light_and_pumping_exposure_leave_the_lamps);
    tcase_add_test(tests, bands_of_rippling_light_leave_the_lamps_and_are_none);
    tcase_add_test(tests, a_lamp_that_is_dark_at_first_is_found_when_it_lights);
    tcase_add_test(tests, a_board_without_lamps_has_none);
    tcase_add_test(tests, a_pointed_lamp_that_stays_dark_is_measured_dark);
    tcase_add_test(tests, a_pale_dark_lamp_in_a_bright_band_is_not_told_to_shine);
    tcase_add_test(tests, a_pointed_lamp_keeps_its_place_when_it_is_outlined);
    tcase_add_test(tests, a_cut_to_another_scene_is_seen_and_ends_the_readings);
    tcase_add_test(tests, frames_damaged_beyond_knowing_are_left_out_and_the_light_goes_on);
    tcase_add_test(tests, flashes_of_a_lamp_that_fills_a_dark_picture_are_no_damage);
    tcase_add_test(tests, a_picture_too_small_or_of_another_size_is_refused);
    tcase_add_test(tests, readings_of_a_place_never_go_back_in_time);
    return suite_end();
}
