/* traces.c - Rendered traces by the thousand: no wrong codes, calibrated confidence, edge errors.
 *
 * traces [--quick] [--verbose] [--seed N] [--irregular N] [--unlisted N] [--fast N] [--mixed N]
 * traces --one irregular:N|unlisted:N|fast:N|mixed:N [--save FILE.csv]   one of them, told at
 * length
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_edges.h"
#include "support/acc_file.h"
#include "support/acc_judge.h"
#include "support/acc_light.h"
#include "support/acc_options.h"
#include "support/acc_read.h"

/* The demo books, all chosen at once: every entry may be told wrongly. */
static const char *const demo_books[] = {"heron-h1", "plover-p2"};

struct options {
    uint64_t seed;
    int irregular;
    int unlisted;
    int fast;
    int mixed;
    const char *one;
    bool is_quick;
    const char *save;
    bool is_verbose;
};

/* Of told entries, by the confidence told with them; of first candidates, by theirs. */
enum { BANDS = 6, TENTHS = 10 };
static const double band_from[BANDS] = {0, 0.9, 0.95, 0.99, 0.999, 0.9999};

struct calibration {
    int told[BANDS];
    int right[BANDS];
    int first[TENTHS];
    int first_right[TENTHS];
};

struct tally {
    int outcome[ACC_OUTCOMES];
    int verdict[LAMP_VERDICT_UNDECIDED + 1];
};

static struct lamp_reader_rules rules_for(const struct acc_pool *pool)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    rules.book = (const struct lamp_book *const *)pool->book;
    rules.book_count = pool->book_count;
    return rules;
}

/* Of several lamps in a trace there is one here. */
static const struct lamp_report_lamp *only_lamp(const struct acc_reading *reading)
{
    return reading->report->lamp_count > 0 ? &reading->report->lamp[0] : NULL;
}

/* What is too quick for the frames may look steady or slow, and be shown as it is; flicker it is
 * not, nor a blink at another rate. */
static enum acc_outcome judge_fast(const struct lamp_report_lamp *lamp,
                                   const struct acc_light *light)
{
    if (lamp == NULL) {
        return ACC_NOT_FOUND;
    }
    const struct lamp_wave *wave = &light->script.wave;
    const double true_hz = 1e9 / (double)(wave->length_ns[0] + wave->length_ns[1]);
    switch (lamp->match.verdict) {
    case LAMP_VERDICT_CODE:
    case LAMP_VERDICT_FLICKER: return ACC_WRONG;
    case LAMP_VERDICT_BLINK:
        return wave->count == 2 && fabs(lamp->rhythm.rate_hz / true_hz - 1) < 0.1 ? ACC_RIGHT
                                                                                  : ACC_WRONG;
    case LAMP_VERDICT_UNDECIDED: return ACC_UNDECIDED;
    default: return ACC_OTHER;
    }
}

/* Told to be what it is: for irregular light that is the verdict, with or without an entry. */
static enum acc_outcome judge(const struct lamp_report_lamp *lamp, const struct acc_light *light)
{
    if (lamp != NULL && light->is_irregular && lamp->match.verdict == LAMP_VERDICT_FLICKER) {
        return ACC_RIGHT;
    }
    if (light->is_fast) {
        return judge_fast(lamp, light);
    }
    if (lamp != NULL && light->code == NULL && !light->is_irregular && acc_told(lamp) == NULL &&
        (lamp->match.verdict == LAMP_VERDICT_UNLISTED ||
         lamp->match.verdict == LAMP_VERDICT_BLINK)) {
        return ACC_RIGHT;
    }
    return acc_judge(lamp, light->code);
}

static bool is_bad(enum acc_outcome outcome)
{
    return outcome == ACC_WRONG || outcome == ACC_FLICKER_CODE;
}

/* No other light here is steady: to say so is to send the user away from a fault. */
static bool is_missed(const struct lamp_report_lamp *lamp, const struct acc_light *light)
{
    return lamp != NULL && !light->is_fast &&
           (lamp->match.verdict == LAMP_VERDICT_STEADY_ON ||
            lamp->match.verdict == LAMP_VERDICT_STEADY_OFF);
}

static struct acc_reading read_light(const struct acc_pool *pool, const struct acc_light *light)
{
    const struct lamp_reader_rules rules = rules_for(pool);
    struct lamp_script *script = acc_light_script(light);
    struct acc_reading reading = acc_read_trace(&rules, &light->tracer, script);
    lamp_script_free(script);
    return reading;
}

/* A fourth is irregular, a fourth unlisted, the rest are entries that are seen for one cycle to
 * five and a half. */
static void make_mixed(struct acc_light *light, const struct acc_pool *pool, uint64_t seed)
{
    switch (seed % 4) {
    case 0: acc_light_irregular(light, seed / 4); return;
    case 1: acc_light_unlisted(light, pool, seed); return;
    default: acc_light_listed(light, pool, 1 + (double)(seed / 4 % 45) / 10, seed); return;
    }
}

static void make(struct acc_light *light, const struct acc_pool *pool, const char *kind,
                 uint64_t seed)
{
    if (strcmp(kind, "irregular") == 0) {
        acc_light_irregular(light, seed);
        return;
    }
    if (strcmp(kind, "unlisted") == 0) {
        acc_light_unlisted(light, pool, seed);
        return;
    }
    if (strcmp(kind, "fast") == 0) {
        acc_light_fast(light, seed);
        return;
    }
    make_mixed(light, pool, seed);
}

static void calibrate(struct calibration *calibration, const struct lamp_report_lamp *lamp,
                      const struct acc_light *light)
{
    const struct lamp_match *match = &lamp->match;
    if (match->candidate_count == 0) {
        return;
    }
    const double first = match->candidate[0].confidence;
    const bool is_right = match->candidate[0].code == light->code;
    const int tenth = first >= 1 ? TENTHS - 1 : (int)(first * TENTHS);
    calibration->first[tenth]++;
    calibration->first_right[tenth] += is_right;
    if (!acc_claims_code(lamp) || acc_told(lamp) == NULL) {
        return;
    }
    int band = BANDS - 1;
    while (band > 0 && match->confidence < band_from[band]) {
        band--;
    }
    calibration->told[band]++;
    calibration->right[band] += is_right;
}

static void print_trace(const struct lamp_report_lamp *lamp, const struct acc_light *light,
                        const char *kind, uint64_t seed)
{
    char told[512];
    acc_describe(lamp, told, sizeof told);
    printf("  %s: --one %s:%llu: %s: %s\n", acc_outcome_name(judge(lamp, light)), kind,
           (unsigned long long)seed, light->kind, told);
}

static void print_tally(const struct tally *tally, const char *kind, int count)
{
    printf("%s: %d traces\n ", kind, count);
    for (int i = 0; i < ACC_OUTCOMES; i++) {
        printf(" %s %d%s", acc_outcome_name((enum acc_outcome)i), tally->outcome[i],
               i + 1 < ACC_OUTCOMES ? "," : "\n ");
    }
    for (int i = 0; i <= LAMP_VERDICT_UNDECIDED; i++) {
        printf(" %s %d", lamp_verdict_name((enum lamp_verdict)i), tally->verdict[i]);
    }
    printf("\n\n");
}

static void take_count(struct tally *tally, const struct lamp_report_lamp *lamp,
                       enum acc_outcome outcome)
{
    tally->outcome[outcome]++;
    if (lamp != NULL) {
        tally->verdict[lamp->match.verdict]++;
    }
}

/* Read `count` traces of one kind, naming each that is told wrongly. @return how many codes are. */
static int run(const struct acc_pool *pool, const char *kind, const struct options *options,
               int count, struct calibration *calibration)
{
    struct tally tally = {.outcome = {0}};
    for (int i = 0; i < count; i++) {
        struct acc_light light;
        const uint64_t seed = options->seed + (uint64_t)i;
        make(&light, pool, kind, seed);
        struct acc_reading reading = read_light(pool, &light);
        const struct lamp_report_lamp *lamp = only_lamp(&reading);
        const enum acc_outcome outcome = judge(lamp, &light);
        take_count(&tally, lamp, outcome);
        if (lamp != NULL) {
            calibrate(calibration, lamp, &light);
        }
        if (is_bad(outcome) || is_missed(lamp, &light) ||
            (options->is_verbose && outcome != ACC_RIGHT)) {
            print_trace(lamp, &light, kind, seed);
        }
        acc_reading_fini(&reading);
    }
    print_tally(&tally, kind, count);
    return tally.outcome[ACC_WRONG] + tally.outcome[ACC_FLICKER_CODE];
}

static void print_calibration(const struct calibration *calibration)
{
    printf("entry told with confidence    told   right   share\n");
    for (int i = 1; i < BANDS; i++) {
        printf("  %6.4f to %6.4f          %6d  %6d", band_from[i],
               i + 1 < BANDS ? band_from[i + 1] : 1.0, calibration->told[i], calibration->right[i]);
        if (calibration->told[i] > 0) {
            printf("   %.3f", (double)calibration->right[i] / calibration->told[i]);
        }
        printf("\n");
    }
    printf("first candidate, told or not\n");
    for (int i = 0; i < TENTHS; i++) {
        printf("  %6.1f to %6.1f          %6d  %6d", i / 10.0, (i + 1) / 10.0,
               calibration->first[i], calibration->first_right[i]);
        if (calibration->first[i] > 0) {
            printf("   %.3f", (double)calibration->first_right[i] / calibration->first[i]);
        }
        printf("\n");
    }
    printf("\n");
}

/* A code with all kinds of lengths, none of them a whole number of frames. */
static struct lamp_script_rules edge_script(uint64_t seed, double duration_s)
{
    static const int lengths_ms[] = {217, 243, 217, 243, 641, 771, 217, 1913};
    struct lamp_script_rules rules = lamp_script_rules_default();
    struct chance chance = {.state = seed};
    rules.kind = LAMP_SCRIPT_WAVE;
    rules.wave.count = sizeof lengths_ms / sizeof *lengths_ms;
    for (size_t i = 0; i < rules.wave.count; i++) {
        rules.wave.length_ns[i] = lengths_ms[i] * INT64_C(1000000);
    }
    rules.jitter = 0.02;
    rules.start_phase = chance_even(&chance);
    rules.seed = chance_bits(&chance);
    rules.duration_ns = (int64_t)((duration_s + 1) * 1e9);
    return rules;
}

static void measure_edges(struct acc_errors *errors, double rate_hz, double share, bool tells,
                          uint64_t seed)
{
    const double duration_s = 16;
    const struct lamp_script_rules rules = edge_script(seed, duration_s);
    const struct acc_light light = {.script = rules};
    struct lamp_script *script = acc_light_script(&light);
    struct lamp_tracer_rules tracer = lamp_tracer_rules_default();
    tracer.shutter.rate_hz = rate_hz;
    tracer.shutter.exposure_ns = (int64_t)(share * 1e9 / rate_hz);
    tracer.shutter.duration_ns = (int64_t)(duration_s * 1e9);
    tracer.shutter.seed = seed;
    tracer.tells_exposure = tells;
    const struct lamp_reader_rules reader = lamp_reader_rules_default();
    struct acc_reading reading = acc_read_trace(&reader, &tracer, script);
    struct acc_truth truth = {.window_ns = (int64_t)fmin(1.5e9 / rate_hz, 1.0e8)};
    truth.edge = lamp_script_edges(script, &truth.count);
    const struct lamp_report_lamp *lamp = only_lamp(&reading);
    if (lamp != NULL) {
        acc_errors_add(errors, &truth, lamp->length, lamp->length_count);
    }
    acc_reading_fini(&reading);
    lamp_script_free(script);
}

static void print_errors(const struct options *options, double rate_hz, double share, int clips)
{
    printf("%7.0f  %8.2f", rate_hz, share);
    for (int tells = 1; tells >= 0; tells--) {
        struct acc_errors errors = {.lengths = 0};
        for (int i = 0; i < clips; i++) {
            measure_edges(&errors, rate_hz, share, tells == 1, options->seed + (uint64_t)i);
        }
        printf("  %7.2f %6.2f %5.2f %7zu %7zu ", acc_errors_bias_ms(&errors),
               acc_errors_sd_ms(&errors), acc_errors_z(&errors), errors.missing, errors.spurious);
    }
    printf("\n");
}

static void print_edges(const struct options *options, int clips)
{
    static const double rates_hz[] = {10, 15, 25, 30, 60, 120, 240};
    static const double shares[] = {0.05, 0.1, 0.3, 0.6, 1};
    printf(
        "edges of traces, noise as by default; z is the rms error of a length over its told sd\n"
        "                     exposure told                        exposure not told\n"
        "rate_hz  exposure  bias_ms  sd_ms     z  missed  untrue   bias_ms  sd_ms     z  missed  "
        "untrue\n");
    for (size_t i = 0; i < sizeof rates_hz / sizeof *rates_hz; i++) {
        for (size_t j = 0; j < sizeof shares / sizeof *shares; j++) {
            print_errors(options, rates_hz[i], shares[j], clips);
        }
    }
    printf("\n");
}

/* All that is known of one trace. */
static void tell_one(const struct acc_pool *pool, const struct options *options)
{
    struct acc_light light;
    char told[512];
    const char *mark = strchr(options->one, ':');
    char kind[16];
    (void)snprintf(kind, sizeof kind, "%.*s", mark != NULL ? (int)(mark - options->one) : 15,
                   options->one);
    make(&light, pool, kind, mark != NULL ? strtoull(mark + 1, NULL, 10) : 0);
    if (options->save != NULL) {
        struct lamp_script *script = acc_light_script(&light);
        acc_save_trace(options->save, &light.tracer, script, "status");
        lamp_script_free(script);
    }
    struct acc_reading reading = read_light(pool, &light);
    const struct lamp_report_lamp *lamp = only_lamp(&reading);
    acc_describe(lamp, told, sizeof told);
    const struct lamp_shutter_rules *shutter = &light.tracer.shutter;
    printf("%s\n%.3g Hz, exposure %.2f ms, lost %.3f, late %.3f, sway %.2f, gain %.3f, noise %.4f, "
           "pumping %.2f, "
           "ripple %.4f, %.1f s\n%s: %s\n",
           light.kind, shutter->rate_hz, (double)shutter->exposure_ns / 1e6, shutter->drop_share,
           shutter->late_share, shutter->sway, light.tracer.gain, light.tracer.read_noise,
           light.tracer.pumping, light.tracer.ripple, (double)shutter->duration_ns / 1e9,
           acc_outcome_name(judge(lamp, &light)), told);
    for (size_t i = 0; lamp != NULL && i < lamp->match.candidate_count; i++) {
        const struct lamp_candidate *candidate = &lamp->match.candidate[i];
        printf("  %.4f %8.1f nats, scale %.3f  %s  %s\n", candidate->confidence,
               candidate->log_likelihood, candidate->scale, candidate->code->id,
               candidate->against);
    }
    for (size_t i = 0; lamp != NULL && i < lamp->length_count; i++) {
        printf("%s%.0f+-%.0f ", lamp->length[i].lit ? "#" : "_", (double)lamp->length[i].ns / 1e6,
               (double)lamp->length[i].sd_ns / 1e6);
    }
    printf("\n");
    (void)lamp_report_write_text(reading.report,
                                 &(struct lamp_text_rules){.width = 100, .is_ascii = true}, stdout);
    acc_reading_fini(&reading);
}

static struct options parse(int count, char **words)
{
    struct options options = {
        .seed = 1, .irregular = 1000, .unlisted = 1000, .fast = 1000, .mixed = 4000};
    const struct acc_option known[] = {
        {"--quick", ACC_OPTION_FLAG, &options.is_quick, "140 of each"},
        {"--verbose", ACC_OPTION_FLAG, &options.is_verbose, "tell of each that is not read right"},
        {"--seed", ACC_OPTION_SEED, &options.seed, "N, default 1"},
        {"--irregular", ACC_OPTION_COUNT, &options.irregular, "N, default 1000"},
        {"--unlisted", ACC_OPTION_COUNT, &options.unlisted, "N, default 1000"},
        {"--fast", ACC_OPTION_COUNT, &options.fast, "N, default 1000"},
        {"--mixed", ACC_OPTION_COUNT, &options.mixed, "N, default 4000"},
        {"--one", ACC_OPTION_WORD, &options.one,
         "irregular:N, unlisted:N, fast:N or mixed:N, at length"},
        {"--save", ACC_OPTION_WORD, &options.save, "FILE.csv, keep that trace"},
    };
    acc_options_read(known, sizeof known / sizeof *known, count, words);
    if (options.is_quick) {
        options.irregular = options.unlisted = options.fast = options.mixed = 140;
    }
    return options;
}

int main(int count, char **words)
{
    const struct options options = parse(count, words);
    struct acc_pool pool;
    acc_pool_open(&pool, demo_books, 2);
    if (options.one != NULL) {
        tell_one(&pool, &options);
        acc_pool_close(&pool);
        return EXIT_SUCCESS;
    }
    printf("rendered traces, seeds from %llu; books heron-h1 and plover-p2, both chosen\n\n",
           (unsigned long long)options.seed);
    struct calibration calibration = {.told = {0}};
    struct calibration unused = {.told = {0}};
    int bad = run(&pool, "irregular", &options, options.irregular, &unused);
    bad += run(&pool, "unlisted", &options, options.unlisted, &unused);
    (void)run(&pool, "fast", &options, options.fast, &unused);
    (void)run(&pool, "mixed", &options, options.mixed, &calibration);
    print_calibration(&calibration);
    print_edges(&options, options.mixed > 1000 ? 20 : 2);
    printf("wrong codes from irregular and unlisted light: %d\n", bad);
    acc_pool_close(&pool);
    return bad == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
