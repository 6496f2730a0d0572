/* footage.c - Real footage, where it is present: each lamp of its truth against what is told of it.
 *
 * $LAMPREAD_FOOTAGE names a folder with clips and a truth.json; without it, ../shared/footage
 * beside the project. The clips were made by others and are not part of this project.
 */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_judge.h"
#include "support/acc_pool.h"
#include "support/acc_read.h"

/* Both are chosen, so that a code can be claimed; none of the clips shows one. */
static const char *const books[] = {"heron-h1", "plover-p2"};

/* What is known of one lamp. */
struct truth {
    const char *name;
    struct lamp_region region;
    double on_ms; /* 0: not known */
    double off_ms;
    bool changes; /* it was seen to go on and off */
};

/* What holds is asserted, so that it goes on to hold; the rest is told as not yet. */
static const char *const holds[] = {
    "02.gif:gpio12_left", "02.gif:gpio13_right", "04.gif:B_channel", "04.gif:G_channel",
    "10.mp4:RED",         "10.mp4:YELLOW",       "10.mp4:GREEN",     "13.gif:PA4_left",
    "13.gif:PA3_right",   "15.gif:LED",          "17.gif:LED",       "21.mp4:row0_col2",
    "23.gif:star_top",
};

struct score {
    int lamps;
    int right;
    int faults; /* codes claimed, and what held before */
};

static const char *folder_of(char room[512])
{
    const char *given = getenv("LAMPREAD_FOOTAGE");
    (void)snprintf(room, 512, "%s", given != NULL ? given : LAMP_PROJECT_DIR "/../shared/footage");
    return room;
}

static double number_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : 0;
}

static bool truth_of(const json_t *lamp, struct truth *out)
{
    const json_t *region = json_object_get(lamp, "region");
    if (json_array_size(region) != 4) {
        return false;
    }
    int side[4];
    for (size_t i = 0; i < 4; i++) {
        side[i] = (int)json_integer_value(json_array_get(region, i));
    }
    *out = (struct truth){.name = json_string_value(json_object_get(lamp, "name")),
                          .changes = json_array_size(json_object_get(lamp, "measured_runs")) > 1,
                          .region = {side[0], side[1], side[2], side[3]},
                          .on_ms = number_of(lamp, "expected_in_clip_on_ms"),
                          .off_ms = number_of(lamp, "expected_in_clip_off_ms")};
    return true;
}

/* A name that begins with a colour, or with its first letter and a low line, is of that colour. */
static enum lamp_colour colour_in(const char *name)
{
    static const struct {
        const char *begins;
        enum lamp_colour colour;
    } known[] = {{"R_", LAMP_COLOUR_RED},        {"G_", LAMP_COLOUR_GREEN},
                 {"B_", LAMP_COLOUR_BLUE},       {"RED", LAMP_COLOUR_RED},
                 {"YELLOW", LAMP_COLOUR_YELLOW}, {"GREEN", LAMP_COLOUR_GREEN}};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (strncmp(name, known[i].begins, strlen(known[i].begins)) == 0) {
            return known[i].colour;
        }
    }
    return LAMP_COLOUR_UNKNOWN;
}

/* Distance between two regions over the size of the true one, 0 where they overlap; of several that
 * do, the one nearest by its middle. */
static double distance(const struct lamp_region *told, const struct lamp_region *truth)
{
    const double dx = fmax(
        0, fmax(told->x_px - (truth->x_px + truth->w_px), truth->x_px - (told->x_px + told->w_px)));
    const double dy = fmax(
        0, fmax(told->y_px - (truth->y_px + truth->h_px), truth->y_px - (told->y_px + told->h_px)));
    const double middle_dx = told->x_px + 0.5 * told->w_px - truth->x_px - 0.5 * truth->w_px;
    const double middle_dy = told->y_px + 0.5 * told->h_px - truth->y_px - 0.5 * truth->h_px;
    return (hypot(dx, dy) + 0.1 * hypot(middle_dx, middle_dy)) / fmax(truth->w_px, truth->h_px);
}

static const struct lamp_report_lamp *lamp_of(const struct lamp_report *report,
                                              const struct truth *truth)
{
    const struct lamp_report_lamp *best = NULL;
    const enum lamp_colour colour = colour_in(truth->name);
    double least = 1.5;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &report->lamp[i];
        const bool is_other = colour != LAMP_COLOUR_UNKNOWN && lamp->colour != colour;
        const double away = distance(&lamp->region, &truth->region) + (is_other ? 0.04 : 0);
        if (away < least) {
            least = away;
            best = lamp;
        }
    }
    return best;
}

/* Median of the lengths that were seen whole, ms; 0 if there is none. */
static double median_ms(const struct lamp_report_lamp *lamp, bool lit)
{
    double ms[64];
    size_t count = 0;
    for (size_t i = 0; i < lamp->length_count && count < 64; i++) {
        const struct lamp_length *length = &lamp->length[i];
        if (length->lit != lit || length->cut_before || length->cut_after) {
            continue;
        }
        size_t at = count++;
        const double value = (double)length->ns / 1e6;
        for (; at > 0 && ms[at - 1] > value; at--) {
            ms[at] = ms[at - 1];
        }
        ms[at] = value;
    }
    return count > 0 ? ms[count / 2] : 0;
}

static bool is_near(double told_ms, double true_ms, double frame_ms)
{
    return fabs(told_ms - true_ms) <= fmax(0.1 * true_ms, 1.1 * frame_ms);
}

/* Lengths as they truly are, and told as a blink or, where too little was seen, not decided. */
static bool is_right(const struct lamp_report_lamp *lamp, const struct truth *truth)
{
    if (lamp == NULL || acc_claims_code(lamp)) {
        return false;
    }
    const enum lamp_verdict verdict = lamp->match.verdict;
    const bool is_steady = verdict == LAMP_VERDICT_STEADY_ON || verdict == LAMP_VERDICT_STEADY_OFF;
    if (truth->on_ms <= 0) {
        return verdict != LAMP_VERDICT_BLINK && !(is_steady && truth->changes);
    }
    const double frame_ms = lamp->shape.rate_hz > 0 ? 1000 / lamp->shape.rate_hz : 0;
    const bool fits = is_near(median_ms(lamp, true), truth->on_ms, frame_ms) &&
                      is_near(median_ms(lamp, false), truth->off_ms, frame_ms);
    return fits && (verdict == LAMP_VERDICT_BLINK || verdict == LAMP_VERDICT_UNDECIDED ||
                    verdict == LAMP_VERDICT_UNLISTED);
}

static bool is_held(const char *file, const char *name)
{
    char key[128];
    (void)snprintf(key, sizeof key, "%s:%s", file, name);
    for (size_t i = 0; i < sizeof holds / sizeof *holds; i++) {
        if (strcmp(holds[i], key) == 0) {
            return true;
        }
    }
    return false;
}

static void print_lamp(const char *file, const struct lamp_report *report,
                       const struct truth *truth, struct score *score)
{
    const struct lamp_report_lamp *lamp = lamp_of(report, truth);
    const bool right = is_right(lamp, truth);
    const bool held = is_held(file, truth->name);
    char told[512];
    acc_describe(lamp, told, sizeof told);
    printf("%-7s %-14s %5.0f %5.0f  %5.0f %5.0f  %-9s %s\n", file, truth->name, truth->on_ms,
           truth->off_ms, lamp != NULL ? median_ms(lamp, true) : 0,
           lamp != NULL ? median_ms(lamp, false) : 0,
           right  ? held ? "right" : "right, new"
           : held ? "LOST"
                  : "not yet",
           told);
    score->lamps++;
    score->right += right;
    score->faults += held && !right;
}

static void count_claims(const char *file, const struct lamp_report *report, struct score *score)
{
    for (size_t i = 0; i < report->lamp_count; i++) {
        if (acc_claims_code(&report->lamp[i])) {
            char told[512];
            acc_describe(&report->lamp[i], told, sizeof told);
            printf("%-7s CODE CLAIMED at %d,%d: %s\n", file, report->lamp[i].region.x_px,
                   report->lamp[i].region.y_px, told);
            score->faults++;
        }
    }
}

static void check_clip(const char *folder, const json_t *clip, const struct acc_pool *pool,
                       struct score *score)
{
    char path[1024];
    size_t index;
    const json_t *lamp;
    const char *file = json_string_value(json_object_get(clip, "file"));
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    rules.book = (const struct lamp_book *const *)pool->book;
    rules.book_count = pool->book_count;
    (void)snprintf(path, sizeof path, "%s/%s", folder, file);
    struct acc_reading reading = acc_read_file(&rules, path);
    json_array_foreach(json_object_get(clip, "lamps"), index, lamp)
    {
        struct truth truth;
        if (truth_of(lamp, &truth)) {
            print_lamp(file, reading.report, &truth, score);
        }
    }
    count_claims(file, reading.report, score);
    printf("%-7s %zu lamps told\n", file, reading.report->lamp_count);
    acc_reading_fini(&reading);
}

int main(void)
{
    char folder[512];
    char path[600];
    (void)snprintf(path, sizeof path, "%s/truth.json", folder_of(folder));
    json_error_t error;
    json_t *clips = json_load_file(path, 0, &error);
    if (clips == NULL) {
        printf("skipped: no footage (%s: %s)\n", path, error.text);
        return EXIT_SUCCESS;
    }
    struct acc_pool pool;
    struct score score = {.lamps = 0};
    size_t index;
    const json_t *clip;
    acc_pool_open(&pool, books, 2);
    printf("true lengths and told ones in ms; 0: not known\n"
           "file    lamp              on   off     on   off  \n");
    json_array_foreach(clips, index, clip)
    {
        check_clip(folder, clip, &pool, &score);
    }
    printf("%d lamps, %d right, %d faults\n", score.lamps, score.right, score.faults);
    acc_pool_close(&pool);
    json_decref(clips);
    return score.lamps > 0 && score.faults == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
