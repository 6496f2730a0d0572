/* pipeline_strand.c - Samples and edges become lengths, and a break in sight stays a break. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/strand.h"

#include <math.h>

#include "support/suite.h"
#include "unit/pipeline_support.h"

/* Push samples at 100 a second, lit for `on` of every `period` of them. */
static void push_blink(struct lamp_strand *strand, int first, int count, bool after_break)
{
    for (int i = first; i < first + count; i++) {
        struct lamp_sample sample = {.t_ns = i * 10 * MS,
                                     .exposure_ns = 5 * MS,
                                     .level = i % 50 < 20 ? 0.5 : 0.0 + 0.001 * (i % 3)};
        ck_assert_int_eq(lamp_strand_push(strand, &sample, after_break && i == first), LAMP_OK);
    }
}

static struct lamp_strand *new_strand(void)
{
    struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_strand *strand = NULL;
    ck_assert_int_eq(lamp_strand_new(&rules, &strand), LAMP_OK);
    return strand;
}

START_TEST(samples_of_a_blink_become_its_lengths)
{
    struct lamp_strand *strand = new_strand();
    push_blink(strand, 0, 500, false);
    ck_assert_int_eq(lamp_strand_finish(strand, 0), LAMP_OK);
    struct lamp_strand_view view;
    lamp_strand_see(strand, &view);
    ck_assert_uint_eq(view.count, 20);
    ck_assert(view.length[0].lit && view.length[0].cut_before);
    for (size_t i = 1; i + 1 < view.count; i++) {
        int64_t expected_ns = view.length[i].lit ? 200 * MS : 300 * MS;
        ck_assert_int_le(llabs(view.length[i].ns - expected_ns), 10 * MS);
    }
    lamp_strand_free(strand);
}
END_TEST

START_TEST(a_break_cuts_the_lengths_on_both_sides)
{
    struct lamp_strand *strand = new_strand();
    push_blink(strand, 0, 260, false);
    push_blink(strand, 1010, 250, true);
    ck_assert_int_eq(lamp_strand_finish(strand, 0), LAMP_OK);
    struct lamp_strand_view view;
    lamp_strand_see(strand, &view);
    size_t breaks = 0;
    for (size_t i = 0; i + 1 < view.count; i++) {
        breaks += view.length[i].cut_after && view.length[i + 1].cut_before;
        ck_assert_int_lt(view.length[i].ns, 400 * MS);
    }
    ck_assert_uint_eq(breaks, 1);
    lamp_strand_free(strand);
}
END_TEST

START_TEST(light_that_never_changes_is_one_length_cut_at_both_ends)
{
    for (int lit = 0; lit <= 1; lit++) {
        struct lamp_strand *strand = new_strand();
        for (int i = 0; i < 300; i++) {
            struct lamp_sample sample = {.t_ns = i * 33 * MS,
                                         .level = lit * 0.4 + 0.0005 * (i % 5)};
            ck_assert_int_eq(lamp_strand_push(strand, &sample, false), LAMP_OK);
        }
        ck_assert_int_eq(lamp_strand_finish(strand, 0), LAMP_OK);
        struct lamp_strand_view view;
        lamp_strand_see(strand, &view);
        ck_assert_uint_eq(view.count, 1);
        ck_assert_int_eq(view.length[0].lit, lit);
        ck_assert(view.length[0].cut_before && view.length[0].cut_after);
        lamp_strand_free(strand);
    }
}
END_TEST

START_TEST(edges_that_come_ready_need_no_edger)
{
    struct lamp_strand *strand = NULL;
    ck_assert_int_eq(lamp_strand_new(NULL, &strand), LAMP_OK);
    for (int i = 0; i < 6; i++) {
        struct lamp_edge edge = {.t_ns = (100 + 250 * i) * MS, .sd_ns = i, .lit = i % 2 == 0};
        lamp_strand_take_edge(strand, &edge);
    }
    ck_assert_int_eq(lamp_strand_finish(strand, 2000 * MS), LAMP_OK);
    struct lamp_strand_view view;
    lamp_strand_see(strand, &view);
    ck_assert(!view.has_shape);
    ck_assert_uint_eq(view.count, 6);
    ck_assert_int_eq(view.length[1].ns, 250 * MS);
    ck_assert_int_eq(view.length[5].ns, 650 * MS);
    ck_assert(view.length[5].cut_after);
    lamp_strand_free(strand);
}
END_TEST

/* The lengths of edges whose third came after others were lost, `lit` then. */
static void lose_edges(bool lit, struct lamp_strand **strand, struct lamp_strand_view *view)
{
    const struct lamp_edge edges[] = {{.t_ns = 0, .lit = false},
                                      {.t_ns = 500 * MS, .sd_ns = 1, .lit = true},
                                      {.t_ns = 900 * MS, .sd_ns = 0, .lit = lit},
                                      {.t_ns = 1200 * MS, .sd_ns = 1, .lit = !lit}};
    ck_assert_int_eq(lamp_strand_new(NULL, strand), LAMP_OK);
    for (size_t i = 0; i < sizeof edges / sizeof edges[0]; i++) {
        lamp_strand_take_edge(*strand, &edges[i]);
    }
    ck_assert_int_eq(lamp_strand_finish(*strand, 2000 * MS), LAMP_OK);
    lamp_strand_see(*strand, view);
}

START_TEST(the_light_between_lost_edges_is_not_known)
{
    struct lamp_strand *strand = NULL;
    struct lamp_strand_view view;
    lose_edges(false, &strand, &view);
    ck_assert_uint_eq(view.count, 3);
    ck_assert(!view.length[0].lit && view.length[0].ns == 500 * MS);
    ck_assert(!view.length[1].lit && view.length[1].cut_before);
    ck_assert_int_eq(view.length[1].start_ns, 900 * MS);
    ck_assert_int_eq(view.length[1].ns, 300 * MS);
    ck_assert_int_eq(view.length[2].ns, 800 * MS);
    lamp_strand_free(strand);
}
END_TEST

START_TEST(a_lamp_that_lost_a_pulse_is_not_steady)
{
    struct lamp_strand *strand = NULL;
    struct lamp_strand_view view;
    lose_edges(true, &strand, &view);
    ck_assert_uint_eq(view.count, 4);
    ck_assert(!view.length[1].lit && view.length[1].cut_before && view.length[1].cut_after);
    ck_assert_int_le(view.length[1].ns, 1);
    ck_assert(view.length[2].lit && view.length[2].cut_before);
    ck_assert_int_eq(view.length[2].start_ns, 900 * MS);
    lamp_strand_free(strand);
}
END_TEST

START_TEST(no_light_is_no_length)
{
    struct lamp_strand *strand = new_strand();
    ck_assert_int_eq(lamp_strand_finish(strand, 0), LAMP_OK);
    struct lamp_strand_view view;
    lamp_strand_see(strand, &view);
    ck_assert_uint_eq(view.count, 0);
    lamp_strand_free(strand);
    lamp_strand_free(NULL);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {samples_of_a_blink_become_its_lengths,
                                  a_break_cuts_the_lengths_on_both_sides,
                                  light_that_never_changes_is_one_length_cut_at_both_ends,
                                  edges_that_come_ready_need_no_edger,
                                  the_light_between_lost_edges_is_not_known,
                                  a_lamp_that_lost_a_pulse_is_not_steady,
                                  no_light_is_no_length};
    return suite_run("strand", tests, sizeof tests / sizeof tests[0]);
}
