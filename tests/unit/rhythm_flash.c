/* rhythm_flash.c - Edges become lengths that keep what was seen of them and how well. */
/* layers: base rhythm codebook light */
#include <check.h>

#include "lampread/flash.h"
#include "support/suite.h"

static struct lamp_lengths *made(void)
{
    struct lamp_lengths *lengths = NULL;
    ck_assert_int_eq(lamp_lengths_new(&lengths), LAMP_OK);
    return lengths;
}

static void push(struct lamp_lengths *lengths, int64_t t_ns, int64_t sd_ns, bool lit)
{
    lamp_lengths_push(lengths, &(struct lamp_edge){.t_ns = t_ns, .sd_ns = sd_ns, .lit = lit});
}

START_TEST(lengths_alternate_and_the_ends_are_cut)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 100, false);
    push(lengths, 300, 3, true);
    push(lengths, 700, 4, false);
    lamp_lengths_end(lengths, 900);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, 3);
    ck_assert(at[0].start_ns == 100 && at[0].ns == 200 && !at[0].lit && at[0].cut_before &&
              !at[0].cut_after);
    ck_assert(at[1].start_ns == 300 && at[1].ns == 400 && at[1].lit && !at[1].cut_before &&
              !at[1].cut_after);
    ck_assert(at[2].start_ns == 700 && at[2].ns == 200 && !at[2].lit && !at[2].cut_before &&
              at[2].cut_after);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(the_sd_of_a_length_is_that_of_both_its_edges)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 0, false);
    push(lengths, 1000, 30, true);
    push(lengths, 2000, 40, false);
    lamp_lengths_end(lengths, 3000);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    ck_assert_int_eq(at[0].sd_ns, 30);
    ck_assert_int_eq(at[1].sd_ns, 50);
    ck_assert_int_eq(at[2].sd_ns, 40);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(an_edge_that_changes_nothing_is_counted_and_ignored)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 0, true);
    push(lengths, 100, 1, true);
    push(lengths, 200, 1, false);
    push(lengths, 300, 1, false);
    lamp_lengths_end(lengths, 400);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, 2);
    ck_assert(at[0].ns == 200 && at[1].ns == 200);
    ck_assert_uint_eq(lamp_lengths_ignored(lengths), 2);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(an_edge_at_the_very_start_only_says_how_it_starts)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 0, false);
    push(lengths, 0, 0, true);
    push(lengths, 500, 1, false);
    lamp_lengths_end(lengths, 800);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, 2);
    ck_assert(at[0].lit && at[0].cut_before && at[0].ns == 500);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(an_edge_before_any_beginning_begins_a_length_whose_start_was_not_seen)
{
    struct lamp_lengths *lengths = made();
    push(lengths, 500, 1, true);
    push(lengths, 800, 1, false);
    lamp_lengths_end(lengths, 900);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, 2);
    ck_assert(at[0].cut_before && !at[0].cut_after);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(a_break_cuts_the_lengths_on_both_sides_of_it)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 0, true);
    lamp_lengths_end(lengths, 100);
    lamp_lengths_begin(lengths, 300, true);
    lamp_lengths_begin(lengths, 400, false); /* Without an end in between: one is meant. */
    lamp_lengths_end(lengths, 700);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, 3);
    for (size_t i = 0; i < count; i++) {
        ck_assert(at[i].cut_before && at[i].cut_after);
    }
    ck_assert(at[0].ns == 100 && at[1].ns == 100 && at[2].ns == 300 && !at[2].lit);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(time_that_runs_backwards_makes_no_negative_length)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 1000, false);
    push(lengths, 2000, 1, true);
    push(lengths, 1500, 1, false);
    lamp_lengths_end(lengths, 1200);
    size_t count;
    const struct lamp_length *at = lamp_lengths_all(lengths, &count);
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_ge(at[i].ns, 0);
    }
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(the_newest_lengths_are_kept_in_one_row_and_the_others_counted)
{
    struct lamp_lengths *lengths = made();
    const size_t pushed = 5 * LAMP_LENGTHS_MAX + 7;
    lamp_lengths_begin(lengths, 0, false);
    for (size_t i = 1; i <= pushed; i++) {
        push(lengths, (int64_t)i * 10, 1, i % 2 == 1);
        size_t count;
        const struct lamp_length *at = lamp_lengths_all(lengths, &count);
        ck_assert_uint_eq(count, i < LAMP_LENGTHS_MAX ? i : LAMP_LENGTHS_MAX);
        ck_assert_int_eq(at[count - 1].start_ns, (int64_t)(i - 1) * 10);
        ck_assert_int_eq(at[0].start_ns, (int64_t)(i - count) * 10);
    }
    ck_assert_uint_eq(lamp_lengths_lost(lengths), pushed - LAMP_LENGTHS_MAX);
    lamp_lengths_free(lengths);
}
END_TEST

START_TEST(a_reset_forgets_all)
{
    struct lamp_lengths *lengths = made();
    lamp_lengths_begin(lengths, 0, true);
    push(lengths, 10, 1, true);
    push(lengths, 20, 1, false);
    lamp_lengths_reset(lengths);
    lamp_lengths_end(lengths, 50);
    size_t count;
    (void)lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, 0);
    ck_assert_uint_eq(lamp_lengths_ignored(lengths), 0);
    lamp_lengths_free(lengths);
    lamp_lengths_free(NULL);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        lengths_alternate_and_the_ends_are_cut,
        the_sd_of_a_length_is_that_of_both_its_edges,
        an_edge_that_changes_nothing_is_counted_and_ignored,
        an_edge_at_the_very_start_only_says_how_it_starts,
        an_edge_before_any_beginning_begins_a_length_whose_start_was_not_seen,
        a_break_cuts_the_lengths_on_both_sides_of_it,
        time_that_runs_backwards_makes_no_negative_length,
        the_newest_lengths_are_kept_in_one_row_and_the_others_counted,
        a_reset_forgets_all,
    };
    return suite_run("flash", tests, sizeof tests / sizeof tests[0]);
}
