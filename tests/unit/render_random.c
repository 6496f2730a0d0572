/* render_random.c - Draws are the published ones, and are distributed as they say. */
/* layers: base light rhythm codebook render */
#include <check.h>
#include <math.h>

#include "render/random.h"
#include "support/render_make.h"
#include "support/suite.h"

enum { DRAWS = 200000 };

/* xoshiro256** from state 1, 2, 3, 4: outputs as its other implementations test them (from memory).
 */
START_TEST(the_generator_gives_the_published_numbers)
{
    static const uint64_t expected[] = {UINT64_C(11520), UINT64_C(0), UINT64_C(1509978240),
                                        UINT64_C(1215971899390074240)};
    struct random random = {.state = {1, 2, 3, 4}};
    for (size_t i = 0; i < sizeof expected / sizeof *expected; i++) {
        ck_assert_uint_eq(random_bits(&random), expected[i]);
    }
}
END_TEST

START_TEST(seeds_and_streams_give_different_numbers)
{
    uint64_t seen[4];
    for (uint64_t i = 0; i < 4; i++) {
        struct random random;
        random_init(&random, i / 2, i % 2);
        seen[i] = random_bits(&random);
        for (uint64_t k = 0; k < i; k++) {
            ck_assert_uint_ne(seen[k], seen[i]);
        }
    }
}
END_TEST

struct moments {
    double mean;
    double sd;
    double kurtosis;
};

static struct moments measure(double (*draw)(struct random *))
{
    static double values[DRAWS];
    struct random random;
    random_init(&random, 7, 7);
    double sum = 0;
    for (int i = 0; i < DRAWS; i++) {
        values[i] = draw(&random);
        sum += values[i];
    }
    const double mean = sum / DRAWS;
    double second = 0;
    double fourth = 0;
    for (int i = 0; i < DRAWS; i++) {
        const double square = (values[i] - mean) * (values[i] - mean);
        second += square / DRAWS;
        fourth += square * square / DRAWS;
    }
    return (struct moments){mean, sqrt(second), fourth / (second * second)};
}

static double draw_log_normal(struct random *random)
{
    return random_log_normal(random, 0.5);
}

START_TEST(even_draws_have_the_moments_of_an_even_distribution)
{
    const struct moments m = measure(random_even);
    ck_assert_double_eq_tol(m.mean, 0.5, 0.004);
    ck_assert_double_eq_tol(m.sd, sqrt(1.0 / 12), 0.004);
    ck_assert_double_eq_tol(m.kurtosis, 1.8, 0.03);
}
END_TEST

START_TEST(normal_draws_have_the_moments_of_a_normal_distribution)
{
    const struct moments m = measure(random_normal);
    ck_assert_double_eq_tol(m.mean, 0, 0.012);
    ck_assert_double_eq_tol(m.sd, 1, 0.01);
    ck_assert_double_eq_tol(m.kurtosis, 3, 0.08);
}
END_TEST

START_TEST(exponential_draws_have_mean_and_sd_of_1)
{
    const struct moments m = measure(random_exponential);
    ck_assert_double_eq_tol(m.mean, 1, 0.012);
    ck_assert_double_eq_tol(m.sd, 1, 0.02);
}
END_TEST

/* Mean 1; sd sqrt(exp(s^2) - 1). */
START_TEST(log_normal_draws_have_mean_1_and_the_spread_asked_for)
{
    const struct moments m = measure(draw_log_normal);
    ck_assert_double_eq_tol(m.mean, 1, 0.008);
    ck_assert_double_eq_tol(m.sd, sqrt(exp(0.25) - 1), 0.02);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        the_generator_gives_the_published_numbers,
        seeds_and_streams_give_different_numbers,
        even_draws_have_the_moments_of_an_even_distribution,
        normal_draws_have_the_moments_of_a_normal_distribution,
        exponential_draws_have_mean_and_sd_of_1,
        log_normal_draws_have_mean_1_and_the_spread_asked_for,
    };
    return suite_run("random", tests, sizeof tests / sizeof tests[0]);
}
