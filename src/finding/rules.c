/* rules.c - The findings of the books, then what holds on every bench. */
#include <string.h>

#include "finding/facts.h"
#include "finding/state.h"

/* Whether one condition holds; what is not known does not. Adds what it rests on to `out`. */
static bool condition_holds(const struct lamp_bench *bench, const struct lamp_book *book,
                            const struct lamp_condition *condition, struct lamp_finding *out)
{
    char words[LAMP_REASON_MAX];
    if (condition->is_lamp) {
        const struct lamp_lamp_state *state = lamp_bench_find(bench, condition->key);
        if (state == NULL || !lamp_state_fits(state, book, condition->value)) {
            return false;
        }
        lamp_state_say(state, words);
    } else {
        const struct lamp_given *given = lamp_readings_find(&bench->readings, condition->key);
        if (given == NULL || !lamp_given_fits(given, condition->value)) {
            return false;
        }
        lamp_given_say(given, words);
    }
    lamp_finding_because(out, "%s", words);
    return true;
}

static bool apply_rule(const struct lamp_bench *bench, const struct lamp_book *book,
                       const struct lamp_finding_rule *rule, struct lamp_finding *out)
{
    struct lamp_finding made;
    memset(&made, 0, sizeof made);
    for (size_t i = 0; i < rule->condition_count; i++) {
        if (!condition_holds(bench, book, &rule->condition[i], &made)) {
            return false;
        }
    }
    made.suspect = rule->suspect;
    made.check = rule->check;
    made.caution = rule->caution.count > 0 ? rule->caution : lamp_cautions();
    *out = made;
    return true;
}

/* Findings in the order of how much they rest on. */
struct row {
    struct lamp_finding *out;
    size_t count;
    size_t weight[LAMP_FINDINGS_MAX];
};

static void enter(struct row *row, const struct lamp_finding *finding, size_t weight)
{
    size_t at = row->count;
    if (at == LAMP_FINDINGS_MAX) {
        if (row->weight[--at] >= weight) {
            return;
        }
    } else {
        row->count++;
    }
    for (; at > 0 && row->weight[at - 1] < weight; at--) {
        row->out[at] = row->out[at - 1];
        row->weight[at] = row->weight[at - 1];
    }
    row->out[at] = *finding;
    row->weight[at] = weight;
}

static void apply_book(const struct lamp_bench *bench, const struct lamp_book *book,
                       struct row *row)
{
    for (size_t i = 0; i < book->finding_count; i++) {
        struct lamp_finding made;
        if (apply_rule(bench, book, &book->finding[i], &made)) {
            enter(row, &made, book->finding[i].condition_count);
        }
    }
}

/* NOLINTNEXTLINE(readability-function-size): the signature is the public one. */
size_t lamp_findings_make(const struct lamp_lamp_state *lamps, size_t lamp_count,
                          const struct lamp_given *given, size_t given_count,
                          const struct lamp_book *const *books, size_t book_count,
                          struct lamp_finding *out)
{
    const struct lamp_bench bench = {
        .lamp = lamps,
        .lamp_count = lamp_count,
        .readings = {.given = given, .count = given_count},
        .book = books,
        .book_count = book_count,
    };
    struct row row = {.out = out};
    for (size_t b = 0; b < book_count; b++) {
        apply_book(&bench, books[b], &row);
    }
    for (size_t i = 0; i < lamp_fact_count() && row.count < LAMP_FINDINGS_MAX; i++) {
        if (lamp_fact_apply(i, &bench, &out[row.count])) {
            row.count++;
        }
    }
    return row.count;
}
