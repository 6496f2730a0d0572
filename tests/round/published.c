/* published.c - Published light patterns, played and read back with the shipped book that holds
 * each. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "round/published_rows.h"
#include "support/acc_file.h"
#include "support/acc_judge.h"
#include "support/acc_options.h"
#include "support/acc_pool.h"
#include "support/acc_shot.h"

static const char *const books[] = {"canopen",    "ethercat",  "drive-bay",     "iec-60073",
                                    "ieee-p1621", "cip",       "profinet",      "picmg-3-0",
                                    "j1939",      "un-reg-48", "marine-lights", "linux-leds"};
enum { BOOKS = sizeof books / sizeof *books, ROWS = sizeof published / sizeof *published };

/* Frame rates of the traces, Hz: those of video, which no lamp runs in step with; the last column
 * is a pin's edges. */
static const double rates_hz[] = {29.97, 59.94, 119.88, 1000};
enum { RATES = sizeof rates_hz / sizeof *rates_hz };

enum found {
    FOUND_TOLD,      /* its own entry is told */
    FOUND_LISTED,    /* undecided, its own entry among those that fit */
    FOUND_UNDECIDED, /* nothing is told */
    FOUND_OTHER,     /* a verdict without an entry */
    FOUND_STEADY,    /* that of a light without a rhythm is told */
    FOUND_WRONG      /* another entry is told */
};
static const char *const found_name[] = {"told",     "listed", "undecided",
                                         "no entry", "steady", "WRONG"};

struct score {
    int bad;
    int rows;
};

static size_t length_count(const struct published_row *row)
{
    size_t count = 0;
    while (count < PUBLISHED_LENGTHS_MAX && row->length_ms[count] > 0) {
        count++;
    }
    return count;
}

/* Five cycles, and never less than four seconds. */
static struct lamp_script_rules script_of(const struct published_row *row)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    double cycle_ms = 0;
    rules.kind = row->kind == PUBLISHED_ON    ? LAMP_SCRIPT_STEADY_ON
                 : row->kind == PUBLISHED_OFF ? LAMP_SCRIPT_STEADY_OFF
                                              : LAMP_SCRIPT_WAVE;
    rules.wave.count = length_count(row);
    for (size_t i = 0; i < rules.wave.count; i++) {
        rules.wave.length_ns[i] = (int64_t)(row->length_ms[i] * 1e6);
        cycle_ms += row->length_ms[i];
    }
    rules.start_phase = 0.37;
    rules.duration_ns = (int64_t)(fmax(5.4 * cycle_ms, 4000) * 1e6);
    return rules;
}

static struct lamp_script *make_script(const struct lamp_script_rules *rules)
{
    struct lamp_script *script = NULL;
    struct lamp_error error = {.place = ""};
    acc_must(lamp_script_new(rules, &script, &error), &error);
    return script;
}

/* A camera of this rate must show every length of the row for one whole frame at least: 1/F + E
 * (arithmetic of the shortest pulse certain to give one full frame), E half of the interval. */
static bool can_show(const struct published_row *row, double rate_hz)
{
    double least_ms = HUGE_VAL;
    for (size_t i = 0; i < length_count(row); i++) {
        least_ms = fmin(least_ms, row->length_ms[i]);
    }
    return least_ms > 1500 / rate_hz;
}

/* Whether an entry is told as one that may be meant: nothing speaks against it. */
static bool is_listed(const struct lamp_match *match, const struct lamp_code *code)
{
    for (size_t i = 0; i < match->candidate_count; i++) {
        if (match->candidate[i].code == code) {
            return match->candidate[i].against[0] == '\0';
        }
    }
    return false;
}

static enum found find(const struct lamp_report *report, const struct acc_entry *own,
                       const char *twin_ids)
{
    if (report->lamp_count == 0) {
        return FOUND_UNDECIDED;
    }
    const struct lamp_report_lamp *lamp = &report->lamp[0];
    const struct lamp_code *told = acc_told(lamp);
    if (told == own->code) {
        return FOUND_TOLD;
    }
    if (told != NULL) {
        const bool is_twin =
            acc_list_has(twin_ids, ' ', told->id) && is_listed(&lamp->match, own->code);
        return is_twin ? FOUND_LISTED : told->wave.count == 0 ? FOUND_STEADY : FOUND_WRONG;
    }
    if (is_listed(&lamp->match, own->code)) {
        return FOUND_LISTED;
    }
    return lamp->match.verdict == LAMP_VERDICT_UNDECIDED ? FOUND_UNDECIDED : FOUND_OTHER;
}

static struct lamp_tracer_rules tracer_of(double rate_hz, int64_t duration_ns)
{
    struct lamp_tracer_rules tracer = lamp_tracer_rules_default();
    tracer.shutter.rate_hz = rate_hz;
    tracer.shutter.exposure_ns = (int64_t)(0.5e9 / rate_hz);
    tracer.shutter.duration_ns = duration_ns;
    tracer.tells_exposure = false;
    return tracer;
}

static struct acc_reading read_row(const struct acc_entry *own, const struct published_row *row,
                                   size_t column)
{
    struct lamp_reader_rules reader = lamp_reader_rules_default();
    reader.book = &own->book;
    reader.book_count = 1;
    const struct lamp_script_rules rules = script_of(row);
    struct lamp_script *script = make_script(&rules);
    const char *name = own->code->lamp != NULL ? own->code->lamp : "lamp";
    struct acc_reading reading;
    if (column < RATES) {
        const struct lamp_tracer_rules tracer = tracer_of(rates_hz[column], rules.duration_ns);
        reading = acc_read_trace_file(&reader, &tracer, script, name);
    } else {
        reading = acc_read_edges_file(&reader, script, name);
    }
    lamp_script_free(script);
    return reading;
}

/* @return the book that a row is in, which must hold it. */
static const struct acc_entry *entry_of(const struct acc_pool *pool,
                                        const struct published_row *row)
{
    const struct acc_entry *own = acc_pool_find(pool, row->book, row->id);
    if (own == NULL) {
        (void)fprintf(stderr, "%s %s: book %s has no entry %s\n", row->standard, row->name,
                      row->book, row->id);
        exit(EXIT_FAILURE);
    }
    return own;
}

static void print_cell(enum found found, bool must, struct score *score)
{
    const bool is_good = found == FOUND_TOLD || found == FOUND_LISTED;
    const bool is_bad = found == FOUND_WRONG || (must && !is_good);
    char cell[32];
    (void)snprintf(cell, sizeof cell, "%s%s", found_name[found],
                   is_bad    ? "!"
                   : is_good ? ""
                             : " *");
    printf(" %-11s", cell);
    score->bad += is_bad;
}

static void print_row(const struct acc_pool *pool, const struct published_row *row,
                      struct score *score)
{
    const struct acc_entry *own = entry_of(pool, row);
    printf("%-23s %c %-20s", row->standard, row->basis, row->name);
    for (size_t column = 0; column <= RATES; column++) {
        struct acc_reading reading = read_row(own, row, column);
        const bool must = column == RATES || can_show(row, rates_hz[column]);
        print_cell(find(reading.report, own, row->twins), must, score);
        acc_reading_fini(&reading);
    }
    printf("\n");
    score->rows++;
}

static void print_rows(const struct acc_pool *pool, struct score *score)
{
    printf("published patterns, played and read back with the book that holds each; its lamp is "
           "named\n"
           "basis: P primary text, R restatement. listed: undecided between entries that share the "
           "light. *: the "
           "camera\ncannot show each length for one whole frame, so nothing need be told. !: a "
           "fault.\n\n"
           "standard                  row                  29.97 Hz    59.94 Hz    119.88 Hz     "
           "1000 Hz     edges\n");
    for (size_t i = 0; i < ROWS; i++) {
        print_row(pool, &published[i], score);
    }
    printf("\n");
}

/* All entries that share a light, by BOOK:ID. */
static bool lists_all(const struct acc_pool *pool, const struct lamp_match *match,
                      const char *entries, char *missing)
{
    bool all = true;
    for (size_t i = 0; i < pool->count; i++) {
        char id[160];
        const struct acc_entry *entry = &pool->entry[i];
        (void)snprintf(id, sizeof id, "%s:%s", entry->book->id, entry->code->id);
        if (acc_list_has(entries, ' ', id) && !is_listed(match, entry->code)) {
            (void)snprintf(missing, 160, "%s", id);
            all = false;
        }
    }
    return all;
}

static struct acc_reading read_twins(const struct acc_pool *pool, const struct published_twins *row,
                                     bool chosen)
{
    struct published_row wave = {.kind = PUBLISHED_WAVE};
    memcpy(wave.length_ms, row->length_ms, sizeof row->length_ms);
    const struct lamp_script_rules rules = script_of(&wave);
    struct lamp_script *script = make_script(&rules);
    struct lamp_reader_rules reader = lamp_reader_rules_default();
    const struct lamp_book *const *all = (const struct lamp_book *const *)pool->book;
    reader.book = chosen ? all : NULL;
    reader.book_count = chosen ? pool->book_count : 0;
    reader.shelf = chosen ? NULL : all;
    reader.shelf_count = chosen ? 0 : pool->book_count;
    const struct lamp_tracer_rules tracer = tracer_of(120, rules.duration_ns);
    struct acc_reading reading = acc_read_trace(&reader, &tracer, script);
    lamp_script_free(script);
    return reading;
}

static void print_twin(const struct acc_pool *pool, const struct published_twins *row, bool chosen,
                       struct score *score)
{
    struct acc_reading reading = read_twins(pool, row, chosen);
    const struct lamp_report_lamp *lamp = &reading.report->lamp[0];
    const struct lamp_code *told = acc_told(lamp);
    char missing[160] = "";
    const bool all = lists_all(pool, &lamp->match, row->entries, missing);
    printf("%-8s %-16s %s, %zu listed", row->name, chosen ? "all books chosen" : "none chosen",
           lamp_verdict_name(lamp->match.verdict), lamp->match.candidate_count);
    if (told != NULL) {
        printf(", picked %s !", told->id);
    }
    if (!all) {
        printf(", not listed: %s !", missing);
    }
    printf("\n");
    score->bad += !all || told != NULL;
    acc_reading_fini(&reading);
}

static void print_twins(const struct acc_pool *pool, struct score *score)
{
    printf("one light, several meanings: every shipped book, no lamp named, 120 Hz\n");
    for (size_t i = 0; i < sizeof twins / sizeof *twins; i++) {
        print_twin(pool, &twins[i], true, score);
        print_twin(pool, &twins[i], false, score);
    }
    printf("\n");
}

/* A sample of the rows as pictures: found, its colour told, read with the book chosen and no lamp
 * pointed at. */
static void print_pictures(const struct acc_pool *pool, struct score *score)
{
    static const struct {
        const char *book;
        const char *id;
        double rate_hz;
    } samples[] = {
        {"canopen", "run-blinking", 30},
        {"canopen", "err-quadruple-flash", 30},
        {"ethercat", "run-single-flash", 30},
        {"canopen", "err-flickering", 60},
        {"drive-bay", "rebuild", 30},
        {"picmg-3-0", "deactivation", 30},
        {"ieee-p1621", "brief-flash", 30},
        {"linux-leds", "heartbeat-load-0", 60},
        {"iec-60073", "normal-flashing", 30},
        {"marine-lights", "mo-a-7s", 30},
        {"picmg-3-0", "safe", 30},
    };
    printf("a sample of them as pictures of 640 x 360, exposure 10 ms, nothing pointed at\n");
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        struct acc_shot shot;
        struct acc_errors errors = {.lengths = 0};
        const struct acc_entry *own = acc_pool_find(pool, samples[i].book, samples[i].id);
        acc_shot_init(&shot, own, 11 + i);
        shot.scene.shutter.rate_hz = samples[i].rate_hz;
        shot.least_s = 6;
        shot.cycles = 5.4;
        shot.scene.readout_ns = 10000000;
        const struct acc_result result = acc_shot_take(&shot, &errors);
        const bool is_bad = result.outcome != ACC_RIGHT;
        printf("%-14s %-20s %3.0f Hz  %s%s%s\n", samples[i].book, samples[i].id, samples[i].rate_hz,
               acc_outcome_name(result.outcome), is_bad ? " ! " : "", is_bad ? result.told : "");
        score->bad += is_bad;
    }
    printf("\n");
}

/* The one-shot trigger fires 100/100 once (kernel source, P): a single flash is no code. */
static void print_one_shot(const struct acc_pool *pool, struct score *score)
{
    struct published_row once = {.kind = PUBLISHED_WAVE, .length_ms = {100, 60000}};
    struct lamp_script_rules rules = script_of(&once);
    rules.start_phase = 0.97;
    rules.duration_ns = INT64_C(6000000000);
    struct lamp_script *script = make_script(&rules);
    struct lamp_reader_rules reader = lamp_reader_rules_default();
    const struct lamp_book *book = acc_pool_find(pool, "linux-leds", "timer")->book;
    reader.book = &book;
    reader.book_count = 1;
    const struct lamp_tracer_rules tracer = tracer_of(60, rules.duration_ns);
    struct acc_reading reading = acc_read_trace(&reader, &tracer, script);
    const bool is_bad =
        reading.report->lamp_count == 1 && acc_claims_code(&reading.report->lamp[0]);
    printf("Linux one-shot trigger, one flash of 100 ms (P): %s%s\n\n",
           lamp_verdict_name(reading.report->lamp[0].match.verdict), is_bad ? " !" : "");
    score->bad += is_bad;
    acc_reading_fini(&reading);
    lamp_script_free(script);
}

int main(void)
{
    struct acc_pool pool;
    struct score score = {.bad = 0};
    acc_pool_open(&pool, books, BOOKS);
    print_rows(&pool, &score);
    print_twins(&pool, &score);
    print_one_shot(&pool, &score);
    print_pictures(&pool, &score);
    printf("%d rows, %d faults\n", score.rows, score.bad);
    acc_pool_close(&pool);
    return score.rows == ROWS && score.bad == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
