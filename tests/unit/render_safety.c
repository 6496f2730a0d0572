/* render_safety.c - The flash limits of WCAG 2 SC 2.3.1, by its numbers. */
/* layers: base light rhythm codebook render */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/render_make.h"
#include "support/suite.h"

/* A picture that fills a page of 1024 x 768, at half its size. */
enum { PAGE_W = 512, PAGE_H = 384 };

static uint8_t luma[PAGE_W * PAGE_H];
static uint8_t cb[PAGE_W * PAGE_H / 4];
static uint8_t cr[PAGE_W * PAGE_H / 4];

/* A patch that flashes between two colours, Y'CbCr in limited range; its size in pixels of the
 * page. */
struct patch {
    int w_px;
    int h_px;
    double rate_hz;
    int dark[3];
    int light[3];
};

static void paint(const struct patch *patch, bool is_light)
{
    const int *code = is_light ? patch->light : patch->dark;
    for (int y = 0; y < patch->h_px / 2; y++) {
        memset(&luma[(48 + y) * PAGE_W + 48], code[0], (size_t)patch->w_px / 2);
    }
    for (int y = 0; y < patch->h_px / 4; y++) {
        memset(&cb[(24 + y) * PAGE_W / 2 + 24], code[1], (size_t)patch->w_px / 4);
        memset(&cr[(24 + y) * PAGE_W / 2 + 24], code[2], (size_t)patch->w_px / 4);
    }
}

static struct lamp_flash_limit watch_patch(const struct patch *patch)
{
    memset(luma, 16, sizeof luma);
    memset(cb, 128, sizeof cb);
    memset(cr, 128, sizeof cr);
    struct lamp_flash_watch *watch = NULL;
    ck_assert_int_eq(lamp_flash_watch_new(&watch), LAMP_OK);
    struct lamp_frame frame = {.bits = 8, .matrix = LAMP_MATRIX_BT709};
    frame.y = (struct lamp_plane){luma, PAGE_W, PAGE_W, PAGE_H};
    frame.u = (struct lamp_plane){cb, PAGE_W / 2, PAGE_W / 2, PAGE_H / 2};
    frame.v = (struct lamp_plane){cr, PAGE_W / 2, PAGE_W / 2, PAGE_H / 2};
    for (int i = 0; i < 45; i++) {
        const double turns = i / 30.0 * patch->rate_hz;
        paint(patch, turns - floor(turns) < 0.5);
        frame.t_ns = i * S / 30;
        lamp_flash_watch_push(watch, &frame);
    }
    const struct lamp_flash_limit limit = lamp_flash_watch_limit(watch);
    lamp_flash_watch_free(watch);
    return limit;
}

#define GREY(code)     \
    {                  \
        code, 128, 128 \
    }

START_TEST(three_flashes_a_second_over_everything_are_kept_and_four_are_not)
{
    struct patch patch = {800, 600, 3, GREY(16), GREY(235)};
    ck_assert(watch_patch(&patch).is_kept);
    patch.rate_hz = 4;
    const struct lamp_flash_limit limit = watch_patch(&patch);
    ck_assert(!limit.is_kept);
    ck_assert_double_gt(limit.at_s, 0.8);
    ck_assert_double_lt(limit.at_s, 1.1);
    /* No more than one 10 degree field can be filled: 341 x 256 px, here in whole cells of 8 px. */
    ck_assert_double_eq_tol(limit.area_px, 344 * 256, 1);
}
END_TEST

/* 21 824 px are 341 cells of 8 x 8 px: 11 x 31. */
START_TEST(a_quarter_of_a_field_is_kept_and_a_cell_more_is_not)
{
    struct patch patch = {11 * 8, 31 * 8, 5, GREY(16), GREY(235)};
    struct lamp_flash_limit limit = watch_patch(&patch);
    ck_assert(limit.is_kept);
    ck_assert_double_eq_tol(limit.area_px, LAMP_FLASH_AREA_PX, 1e-6);
    patch.w_px += 8;
    limit = watch_patch(&patch);
    ck_assert(!limit.is_kept);
}
END_TEST

START_TEST(four_times_a_quarter_field_is_a_field)
{
    ck_assert_int_eq(341 * 256 / 4, LAMP_FLASH_AREA_PX);
}
END_TEST

/* Relative luminance of grey code c: ((c / 255 + 0.055) / 1.055)^2.4 of full range (IEC 61966-2-1).
 */
START_TEST(changes_of_less_than_a_tenth_of_full_luminance_do_not_count)
{
    /* 16 + 219 * 0.34 = 90: luminance 0.095; 93: 0.102. */
    struct patch patch = {800, 600, 6, GREY(16), GREY(90)};
    ck_assert(watch_patch(&patch).is_kept);
    patch.light[0] = 93;
    ck_assert(!watch_patch(&patch).is_kept);
}
END_TEST

/* 216: luminance 0.816. */
START_TEST(changes_among_bright_images_do_not_count)
{
    const struct patch patch = {800, 600, 6, GREY(216), GREY(235)};
    ck_assert(watch_patch(&patch).is_kept);
}
END_TEST

/* Red of full saturation, BT.709: Y' 63, Cb 102, Cr 240; its luminance 0.2126. A dimmer one: change
 * of luminance 0.05. */
START_TEST(saturated_red_counts_at_a_smaller_change)
{
    const struct patch red = {800, 600, 5, GREY(16), {40, 115, 184}};
    ck_assert(!watch_patch(&red).is_kept);
    const struct patch grey = {800, 600, 5, GREY(16), GREY(70)};
    ck_assert(watch_patch(&grey).is_kept);
}
END_TEST

START_TEST(irregular_flashing_counts_by_its_worst_second)
{
    struct lamp_scene_rules rules = lamp_scene_rules_default();
    struct lamp_scene_lamp lamp = lamp_scene_lamp_default();
    lamp.script.kind = LAMP_SCRIPT_FLICKER;
    lamp.script.lit_mean_ns = lamp.script.dark_mean_ns = 60 * MS;
    lamp.x_px = 160;
    lamp.y_px = 90;
    rules.lamp = &lamp;
    rules.lamp_count = 1;
    rules.shutter.duration_ns = 3 * S;
    rules.width_px = 320;
    rules.height_px = 180;
    for (int i = 0; i < 2; i++) {
        lamp.size_px = i == 0 ? 6 : 100;
        struct lamp_renderer *renderer = make_renderer(&rules);
        struct lamp_flash_watch *watch = NULL;
        ck_assert_int_eq(lamp_flash_watch_new(&watch), LAMP_OK);
        struct lamp_frame frame;
        while (lamp_renderer_next(renderer, &frame)) {
            lamp_flash_watch_push(watch, &frame);
        }
        ck_assert(lamp_flash_watch_limit(watch).is_kept == (i == 0));
        lamp_flash_watch_free(watch);
        lamp_renderer_free(renderer);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        three_flashes_a_second_over_everything_are_kept_and_four_are_not,
        a_quarter_of_a_field_is_kept_and_a_cell_more_is_not,
        four_times_a_quarter_field_is_a_field,
        changes_of_less_than_a_tenth_of_full_luminance_do_not_count,
        changes_among_bright_images_do_not_count,
        saturated_red_counts_at_a_smaller_change,
        irregular_flashing_counts_by_its_worst_second,
    };
    return suite_run("safety", tests, sizeof tests / sizeof tests[0]);
}
