/* source_pace.c - Rate, duration and missing frames from time stamps. */
/* layers: base source */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "source/pace.h"
#include "support/suite.h"

static struct lamp_pace pace;

static void push_ms(int64_t t_ms)
{
    lamp_pace_push(&pace, 0, t_ms * 1000000, 0);
}

START_TEST(time_stamps_rounded_to_a_millisecond_give_the_true_rate)
{
    static const double rates_hz[] = {24000 / 1001.0, 25, 30000 / 1001.0, 30, 59.94, 119.88, 240};
    lamp_pace_init(&pace);
    for (int i = 0; i < 500; i++) {
        push_ms(llround(i * 1000 / rates_hz[_i]));
    }
    ck_assert_double_eq_tol(1e9 / lamp_pace_interval_ns(&pace), rates_hz[_i], rates_hz[_i] * 0.003);
    ck_assert_uint_eq(lamp_pace_dropped(&pace), 0);
}
END_TEST

START_TEST(missing_frames_are_counted_among_frames_that_jitter)
{
    uint64_t missing = 0;
    uint32_t draw = 7; /* Seed: a linear congruential generator. */
    lamp_pace_init(&pace);
    for (int i = 0; i < 1000; i++) {
        draw = draw * 1664525 + 1013904223;
        if (i % 25 == 10 && i > 0) {
            missing++;
            continue;
        }
        push_ms(llround(i * 1000 / 30.0 + (double)(draw >> 24) / 256 * 4 - 2));
    }
    ck_assert_uint_eq(lamp_pace_dropped(&pace), missing);
}
END_TEST

START_TEST(a_rate_that_varies_smoothly_drops_nothing)
{
    lamp_pace_init(&pace);
    double t_ms = 0;
    for (int i = 0; i < 1000; i++) {
        push_ms(llround(t_ms));
        t_ms += 33 + 30 * (0.5 + 0.5 * sin(i / 50.0));
    }
    ck_assert_uint_eq(lamp_pace_dropped(&pace), 0);
}
END_TEST

START_TEST(a_rate_that_is_halved_for_long_drops_nothing)
{
    lamp_pace_init(&pace);
    int64_t t_ms = 0;
    for (int i = 0; i < 600; i++) {
        push_ms(t_ms);
        t_ms += i < 350 ? 33 : 67;
    }
    ck_assert_uint_eq(lamp_pace_dropped(&pace), 0);
}
END_TEST

START_TEST(the_last_item_lasts_as_long_as_it_says_or_as_is_usual)
{
    lamp_pace_init(&pace);
    ck_assert_double_eq(lamp_pace_duration_s(&pace), 0);
    ck_assert_double_eq(lamp_pace_interval_ns(&pace), 0);
    lamp_pace_push(&pace, 0, 5000000, 20000000);
    ck_assert_double_eq_tol(lamp_pace_duration_s(&pace), 0.02, 1e-12);
    lamp_pace_push(&pace, 0, 45000000, 0);
    ck_assert_double_eq_tol(lamp_pace_duration_s(&pace), 0.08, 1e-12);
    lamp_pace_push(&pace, 0, 85000000, 500000000);
    ck_assert_double_eq_tol(lamp_pace_duration_s(&pace), 0.58, 1e-12);
}
END_TEST

START_TEST(extreme_time_stamps_are_counted)
{
    lamp_pace_init(&pace);
    lamp_pace_push(&pace, 0, INT64_MIN / 2, 0);
    lamp_pace_push(&pace, 0, INT64_MAX / 2, 0);
    lamp_pace_push(&pace, 0, INT64_MAX / 2, 0);
    lamp_pace_push(&pace, 0, INT64_MAX / 2 + 1, 0);
    ck_assert_uint_eq(pace.item_count, 4);
    ck_assert_double_gt(lamp_pace_duration_s(&pace), 9.2e9);
}
END_TEST

int main(void)
{
    TCase *all = suite_begin("source_pace");
    tcase_add_loop_test(all, time_stamps_rounded_to_a_millisecond_give_the_true_rate, 0, 7);
    tcase_add_test(all, missing_frames_are_counted_among_frames_that_jitter);
    tcase_add_test(all, a_rate_that_varies_smoothly_drops_nothing);
    tcase_add_test(all, a_rate_that_is_halved_for_long_drops_nothing);
    tcase_add_test(all, the_last_item_lasts_as_long_as_it_says_or_as_is_usual);
    tcase_add_test(all, extreme_time_stamps_are_counted);
    return suite_end();
}
