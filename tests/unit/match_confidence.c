/* match_confidence.c - Confidence told against how often it was right, over light of all sorts; the
 * table is printed. */
/* layers: base light rhythm codebook match */
#include <check.h>

#include "match_support.h"
#include "support/suite.h"

#define SEED 31337U
#define RUNS 6000

/* Bounds of the rows of the table. */
static const double bounds[] = {0, 0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99, 1.01};
#define ROWS (sizeof bounds / sizeof bounds[0] - 1)

struct row {
    size_t count;
    size_t right;
    double told;
};

/* A phone clip of any quality: 1 to 6 cycles, 1 to 12 ms, deviations misjudged by half, now and
 * then flaws. */
static struct sim_rules any_rules(struct sim_random *random)
{
    return (struct sim_rules){
        .scale = sim_between(random, 0.9, 1.1),
        .departure = sim_between(random, 0, 0.12),
        .jitter = sim_between(random, 0, 0.03),
        .sd_s = exp(sim_between(random, log(0.001), log(0.012))),
        .told = exp(sim_between(random, log(0.5), log(1.5))),
        .cycles = sim_between(random, 0.8, 6),
        .lost = sim_uniform(random) < 0.3 ? sim_between(random, 0, 0.05) : 0,
        .extra = sim_uniform(random) < 0.2 ? sim_between(random, 0, 0.03) : 0,
    };
}

/* Six in ten show an entry, a quarter an unlisted code, the others irregular light. */
static const struct lamp_code *play_any(const struct lamp_book *book, struct sim_random *random,
                                        struct sim_light *out)
{
    struct sim_rules rules = any_rules(random);
    double kind = sim_uniform(random);
    if (kind < 0.6) {
        const struct lamp_code *code = &book->code[sim_below(random, book->code_count)];
        while (code->wave.count == 0 || strcmp(code->lamp, "status") != 0) {
            code = &book->code[sim_below(random, book->code_count)];
        }
        sim_play(&code->wave, &rules, random, out);
        return code;
    }
    if (kind < 0.85) {
        struct lamp_wave wave;
        sim_unlisted(book, random, &wave);
        sim_play(&wave, &rules, random, out);
    } else {
        sim_irregular(3 + sim_below(random, 60), &rules, random, out);
    }
    return NULL;
}

static void enter(struct row *rows, double told, bool is_right)
{
    for (size_t i = 0; i < ROWS; i++) {
        if (told >= bounds[i] && told < bounds[i + 1]) {
            rows[i].count++;
            rows[i].right += is_right;
            rows[i].told += told;
        }
    }
}

static void print_rows(const struct row *rows)
{
    for (size_t i = 0; i < ROWS; i++) {
        double count = rows[i].count > 0 ? (double)rows[i].count : 1;
        printf("  told %.2f to %.2f: %5zu candidates, mean %.3f, right %.3f\n", bounds[i],
               fmin(bounds[i + 1], 1), rows[i].count, rows[i].told / count,
               (double)rows[i].right / count);
    }
}

START_TEST(of_the_entries_told_at_ninety_percent_nine_in_ten_are_right)
{
    struct lamp_book *book = sim_parse(sim_book_text);
    struct sim_random random = sim_seeded(SEED);
    struct row rows[ROWS] = {{0, 0, 0}};
    size_t told = 0;
    size_t wrong = 0;
    for (size_t i = 0; i < RUNS; i++) {
        struct sim_light light;
        struct sim_sighting sighting = {.light = &light, .lamp_name = "status"};
        const struct lamp_code *truth = play_any(book, &random, &light);
        struct lamp_match match = sim_match(&sighting, (const struct lamp_book *const *)&book, 1);
        for (size_t c = 0; c < match.candidate_count; c++) {
            enter(rows, match.candidate[c].confidence, match.candidate[c].code == truth);
        }
        told += match.has_entry;
        wrong += match.has_entry && match.candidate[0].code != truth;
    }
    printf("seed %u, %d runs: %zu entries told, %zu wrong\n", SEED, RUNS, told, wrong);
    print_rows(rows);
    ck_assert_uint_gt(told, RUNS / 5);
    ck_assert_uint_eq(wrong, 0);
    for (size_t i = 0; i < ROWS;
         i++) { /* Never more sure than right, but for chance: three deviations. */
        double count = (double)rows[i].count;
        double mean = rows[i].told / fmax(count, 1);
        double chance = 3 * sqrt(fmax(mean * (1 - mean), 1e-4) / fmax(count, 1));
        if (count >= 20 && mean >= 0.5) {
            ck_assert_msg((double)rows[i].right / count >= mean - chance - 0.05,
                          "told %.3f, right %.3f of %zu", mean, (double)rows[i].right / count,
                          rows[i].count);
        }
    }
    lamp_book_free(book);
}
END_TEST

int main(void)
{
    TCase *cases = suite_begin("match confidence");
    tcase_add_test(cases, of_the_entries_told_at_ninety_percent_nine_in_ten_are_right);
    return suite_end();
}
