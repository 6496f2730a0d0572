/* pipeline_agree.c - Edges are partners where direction and time agree. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/agree.h"

#include "support/suite.h"
#include "unit/pipeline_support.h"

static const int64_t blink_ms[] = {200, 300};

static double agreement(const struct made_strand *a, const struct made_strand *b)
{
    return lamp_edges_agree(a->length, a->view.count, b->length, b->view.count, 33 * MS);
}

static void shift(struct made_strand *made, int64_t ns)
{
    for (size_t i = 0; i < made->view.count; i++) {
        made->length[i].start_ns += ns;
    }
}

START_TEST(the_same_edges_agree_wholly)
{
    struct made_strand a;
    struct made_strand b;
    make_strand(&a, true, blink_ms, 2, 20);
    make_strand(&b, true, blink_ms, 2, 20);
    shift(&b, 20 * MS);
    ck_assert_double_eq_tol(agreement(&a, &b), 1, 1e-9);
}
END_TEST

START_TEST(opposite_edges_do_not_agree)
{
    const int64_t even_ms[] = {250};
    struct made_strand a;
    struct made_strand b;
    make_strand(&a, true, even_ms, 1, 20);
    make_strand(&b, false, even_ms, 1, 20);
    ck_assert_double_eq_tol(agreement(&a, &b), 0, 1e-9);
}
END_TEST

START_TEST(late_edges_do_not_agree)
{
    struct made_strand a;
    struct made_strand b;
    make_strand(&a, true, blink_ms, 2, 20);
    make_strand(&b, true, blink_ms, 2, 20);
    shift(&b, 100 * MS);
    ck_assert_double_eq_tol(agreement(&a, &b), 0, 1e-9);
}
END_TEST

START_TEST(one_lost_flash_costs_only_its_own_edges)
{
    struct made_strand a;
    struct made_strand b;
    make_strand(&a, true, blink_ms, 2, 21);
    make_strand(&b, true, blink_ms, 2, 21);
    b.length[9].ns += b.length[10].ns + b.length[11].ns; /* dark, (lit), dark become one */
    for (size_t i = 10; i + 2 < 21; i++) {
        b.length[i] = b.length[i + 2];
    }
    b.view.count -= 2;
    ck_assert_double_eq_tol(agreement(&a, &b), 2 * 18.0 / (20 + 18), 1e-9);
}
END_TEST

START_TEST(two_steady_lights_agree_and_a_steady_one_with_a_blinking_one_does_not)
{
    struct made_strand a;
    struct made_strand b;
    struct made_strand c;
    make_constant(&a, 0.4);
    make_constant(&b, 0.2);
    make_strand(&c, true, blink_ms, 2, 20);
    ck_assert_double_eq_tol(agreement(&a, &b), 1, 1e-9);
    ck_assert_double_eq_tol(agreement(&a, &c), 0, 1e-9);
}
END_TEST

START_TEST(an_unsure_edge_has_more_room)
{
    struct made_strand a;
    struct made_strand b;
    make_strand(&a, true, blink_ms, 2, 20);
    make_strand(&b, true, blink_ms, 2, 20);
    shift(&b, 50 * MS);
    ck_assert_double_eq_tol(agreement(&a, &b), 0, 1e-9);
    for (size_t i = 0; i < 20; i++) {
        b.length[i].sd_ns = 20 * MS;
    }
    ck_assert_double_eq_tol(agreement(&a, &b), 1, 1e-9);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        the_same_edges_agree_wholly,
        opposite_edges_do_not_agree,
        late_edges_do_not_agree,
        one_lost_flash_costs_only_its_own_edges,
        two_steady_lights_agree_and_a_steady_one_with_a_blinking_one_does_not,
        an_unsure_edge_has_more_room};
    return suite_run("agree", tests, sizeof tests / sizeof tests[0]);
}
