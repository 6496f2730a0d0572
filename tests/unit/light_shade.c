/* light_shade.c - A part that a shadow falls on is told from a lamp. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "light/shade.h"
#include "support/suite.h"

enum { FRAMES = 120, PERIOD = 40 };

/* What a part reflects and a lamp adds, linear; the board about it reflects less. */
static const float part = 0.3F;
static const float board = 0.03F;

static struct lamp_light light_of(float place, float around)
{
    struct lamp_light light = {.core = {place, place, place}, .far = {around, around, around}};
    return light;
}

/* From 0 to 1 and back. */
static float swing(int frame)
{
    return 0.5F - 0.5F * cosf(6.2831853F * (float)frame / PERIOD);
}

START_TEST(a_part_in_a_shadow_goes_with_its_surroundings)
{
    for (float depth = 0.2F; depth < 0.9F; depth += 0.2F) {
        struct lamp_shade shade = {.count = 0};
        for (int i = 0; i < FRAMES; i++) {
            const float room = 1 - depth * swing(i);
            const struct lamp_light light = light_of(part * room, board * room);
            lamp_shade_note(&shade, &light);
        }
        ck_assert_float_gt(lamp_shade_share(&shade), 0.8F);
    }
}
END_TEST

START_TEST(a_lamp_does_not_though_it_lights_up_a_dark_room)
{
    for (float shed = 0; shed < 0.05F; shed += 0.01F) {
        struct lamp_shade shade = {.count = 0};
        for (int i = 0; i < FRAMES; i++) {
            const struct lamp_light light =
                light_of(board / 4 + swing(i), board / 4 + shed * swing(i));
            lamp_shade_note(&shade, &light);
        }
        ck_assert_float_lt(lamp_shade_share(&shade), 0.5F);
    }
}
END_TEST

/* A lamp that blinks while shadows pass and the camera changes its exposure. */
START_TEST(a_lamp_that_blinks_in_passing_shadows_does_not)
{
    struct lamp_shade shade = {.count = 0};
    for (int i = 0; i < FRAMES; i++) {
        const float room = 1 - 0.5F * swing(i);
        const struct lamp_light light =
            light_of(part * room + (i / 7 % 2 == 0 ? 0.6F : 0), board * room);
        lamp_shade_note(&shade, &light);
    }
    ck_assert_float_lt(lamp_shade_share(&shade), 0.5F);
}
END_TEST

START_TEST(steady_light_and_few_frames_say_nothing)
{
    struct lamp_shade shade = {.count = 0};
    ck_assert_float_eq(lamp_shade_share(&shade), 0);
    for (int i = 0; i < FRAMES; i++) {
        const struct lamp_light light = light_of(part, board);
        lamp_shade_note(&shade, &light);
    }
    ck_assert_float_eq(lamp_shade_share(&shade), 0);
    shade = (struct lamp_shade){.count = 0};
    for (int i = 0; i < 20; i++) {
        const struct lamp_light light = light_of(part * (1 + swing(i)), board * (1 + swing(i)));
        lamp_shade_note(&shade, &light);
    }
    ck_assert_float_eq(lamp_shade_share(&shade), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {a_part_in_a_shadow_goes_with_its_surroundings,
                                  a_lamp_does_not_though_it_lights_up_a_dark_room,
                                  a_lamp_that_blinks_in_passing_shadows_does_not,
                                  steady_light_and_few_frames_say_nothing};
    return suite_run("shade", tests, sizeof tests / sizeof *tests);
}
