/* rhythm_copy.c - A copy of an edger or of lengths goes its own way. */
/* layers: base rhythm codebook light */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/edge.h"
#include "lampread/flash.h"
#include "support/suite.h"

#define MS INT64_C(1000000)

enum { SAMPLES = 5000, EDGES_MAX = 2000 };

/* Light at 30 samples a second: a rhythm, and noise that repeats for each seed. */
static struct lamp_sample sample_at(int i, unsigned seed)
{
    unsigned mixed = (unsigned)i * 2654435761U + seed * 40503U;
    double noise = ((mixed >> 8) % 1000 / 1000.0 - 0.5) * 0.02;
    int phase = i % (40 + (int)(seed % 5));
    return (struct lamp_sample){.t_ns = (int64_t)i * 33333333,
                                .level =
                                    (phase < 6 || (phase > 11 && phase < 18) ? 0.5 : 0.01) + noise};
}

static struct lamp_edger *new_edger(void)
{
    struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_edger *edger = NULL;
    ck_assert_int_eq(lamp_edger_new(&rules, &edger), LAMP_OK);
    return edger;
}

/* Read it all; every `every` samples a copy is finished, 0: never. */
static size_t read_light(unsigned seed, int every, struct lamp_edge *edge)
{
    struct lamp_edger *edger = new_edger();
    struct lamp_edger *copy = new_edger();
    size_t count = 0;
    for (int i = 0; i < SAMPLES; i++) {
        struct lamp_sample sample = sample_at(i, seed);
        ck_assert_int_eq(lamp_edger_push(edger, &sample), LAMP_OK);
        if (every > 0 && i % every == 0) {
            ck_assert_int_eq(lamp_edger_copy(copy, edger), LAMP_OK);
            ck_assert_int_eq(lamp_edger_flush(copy), LAMP_OK);
        }
        while (count < EDGES_MAX && lamp_edger_next(edger, &edge[count])) {
            count++;
        }
    }
    ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
    while (count < EDGES_MAX && lamp_edger_next(edger, &edge[count])) {
        count++;
    }
    lamp_edger_free(edger);
    lamp_edger_free(copy);
    return count;
}

START_TEST(edges_are_the_same_however_often_a_copy_was_finished)
{
    static struct lamp_edge without[EDGES_MAX];
    static struct lamp_edge with[EDGES_MAX];
    size_t count = read_light((unsigned)_i + 1, 0, without);
    ck_assert_uint_gt(count, 100);
    ck_assert_uint_eq(read_light((unsigned)_i + 1, 97 + 13 * _i, with), count);
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(with[i].t_ns, without[i].t_ns);
        ck_assert_int_eq(with[i].sd_ns, without[i].sd_ns);
        ck_assert(with[i].lit == without[i].lit);
    }
}
END_TEST

START_TEST(light_goes_on_until_it_changes)
{
    struct lamp_edger *edger = new_edger();
    struct lamp_edger *copy = new_edger();
    int i = 0;
    for (; i < 40 * 10 + 25; i++) { /* ends in the dark, well before the next flash */
        struct lamp_sample sample = sample_at(i, 0);
        ck_assert_int_eq(lamp_edger_push(edger, &sample), LAMP_OK);
    }
    ck_assert_int_eq(lamp_edger_copy(copy, edger), LAMP_OK);
    ck_assert_int_eq(lamp_edger_flush(copy), LAMP_OK);
    struct lamp_edger_tail tail;
    lamp_edger_see_tail(copy, &tail);
    ck_assert(tail.is_known);
    for (; i < 40 * 11; i++) {
        struct lamp_sample sample = sample_at(i, 0);
        ck_assert_int_eq(lamp_edger_push(edger, &sample), LAMP_OK);
        ck_assert(lamp_edger_goes_on(edger, &tail));
    }
    struct lamp_sample flash = sample_at(i, 0);
    ck_assert_int_eq(lamp_edger_push(edger, &flash), LAMP_OK);
    ck_assert(!lamp_edger_goes_on(edger, &tail));
    lamp_edger_free(edger);
    lamp_edger_free(copy);
}
END_TEST

START_TEST(copied_lengths_end_without_ending_the_others)
{
    struct lamp_lengths *lengths = NULL;
    struct lamp_lengths *copy = NULL;
    ck_assert_int_eq(lamp_lengths_new(&lengths), LAMP_OK);
    ck_assert_int_eq(lamp_lengths_new(&copy), LAMP_OK);
    lamp_lengths_begin(lengths, 0, false);
    for (int i = 1; i <= 3 * LAMP_LENGTHS_MAX; i++) {
        const struct lamp_edge edge = {.t_ns = i * 100 * MS, .lit = i % 2 == 1};
        lamp_lengths_push(lengths, &edge);
    }
    size_t before;
    (void)lamp_lengths_all(lengths, &before);
    lamp_lengths_copy(copy, lengths);
    lamp_lengths_end(copy, (3 * LAMP_LENGTHS_MAX + 1) * 100 * MS);
    size_t count;
    const struct lamp_length *all = lamp_lengths_all(copy, &count);
    ck_assert_uint_eq(count, LAMP_LENGTHS_MAX);
    ck_assert(all[count - 1].cut_after);
    ck_assert_uint_eq(lamp_lengths_lost(copy), lamp_lengths_lost(lengths) + 1);
    all = lamp_lengths_all(lengths, &count);
    ck_assert_uint_eq(count, before);
    ck_assert(!all[count - 1].cut_after);
    lamp_lengths_free(lengths);
    lamp_lengths_free(copy);
}
END_TEST

int main(void)
{
    TCase *all = suite_begin("rhythm_copy");
    tcase_set_timeout(all, SUITE_TIMEOUT_S);
    tcase_add_loop_test(all, edges_are_the_same_however_often_a_copy_was_finished, 0, 3);
    tcase_add_test(all, light_goes_on_until_it_changes);
    tcase_add_test(all, copied_lengths_end_without_ending_the_others);
    return suite_end();
}
