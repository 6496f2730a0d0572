/* pipeline_upright.c - Regions turn with the picture, and back. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/upright.h"

#include "support/suite.h"

static void assert_region(struct lamp_region region, int x_px, int y_px, int w_px, int h_px)
{
    ck_assert_int_eq(region.x_px, x_px);
    ck_assert_int_eq(region.y_px, y_px);
    ck_assert_int_eq(region.w_px, w_px);
    ck_assert_int_eq(region.h_px, h_px);
}

/* A region in the decoded top left corner of a 640 x 360 picture goes to the corner that the turn
 * takes it to. */
START_TEST(the_top_left_corner_goes_where_a_clockwise_turn_takes_it)
{
    const struct lamp_region corner = {0, 0, 30, 20};
    struct lamp_pose pose = {640, 360, 0};
    assert_region(lamp_region_upright(&pose, &corner), 0, 0, 30, 20);
    pose.rotation_deg = 90;
    assert_region(lamp_region_upright(&pose, &corner), 340, 0, 20, 30);
    pose.rotation_deg = 180;
    assert_region(lamp_region_upright(&pose, &corner), 610, 340, 30, 20);
    pose.rotation_deg = 270;
    assert_region(lamp_region_upright(&pose, &corner), 0, 610, 20, 30);
}
END_TEST

START_TEST(the_picture_turned_a_quarter_swaps_its_sides)
{
    const struct lamp_pose pose = {640, 360, 90};
    ck_assert_int_eq(lamp_upright_width(&pose), 360);
    ck_assert_int_eq(lamp_upright_height(&pose), 640);
}
END_TEST

START_TEST(a_region_turned_and_turned_back_is_the_same)
{
    for (int turn = 0; turn < 360; turn += 90) {
        const struct lamp_pose pose = {641, 359, turn};
        for (int i = 0; i < 100; i++) {
            const struct lamp_region region = {i * 6, i * 3, 1 + i % 7, 1 + i % 11};
            struct lamp_region upright = lamp_region_upright(&pose, &region);
            assert_region(lamp_region_decoded(&pose, &upright), region.x_px, region.y_px,
                          region.w_px, region.h_px);
        }
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {the_top_left_corner_goes_where_a_clockwise_turn_takes_it,
                                  the_picture_turned_a_quarter_swaps_its_sides,
                                  a_region_turned_and_turned_back_is_the_same};
    return suite_run("upright", tests, sizeof tests / sizeof tests[0]);
}
