/* alloc.c - Wherever memory runs out, it is told, nothing is half done, and nothing is lost. */
#include "alloc/alloc.h"

#include <check.h>
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "lampread/export.h"
#include "lampread/lampread.h"
#include "support/scratch.h"
#include "support/suite.h"

#define CAPTURES LAMP_PROJECT_DIR "/captures/"

enum { NTH_MOST = 20000, FRAMES = 8, SIDE_PX = 96 };

/* One thing to do with the library, from beginning to end. @return what it answered. */
struct work {
    const char *name;
    enum lamp_err (*run)(void);
};

/* A place to write to that takes no memory of the library. */
static FILE *nowhere;

/* What does not hold, noted until there is memory to say so. */
static const char *broken;
#define HOLDS(what) ((what) ? (void)0 : (void)(broken = broken == NULL ? #what : broken))

/* -- what is done -- */

static enum lamp_err open_book(void)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {.place = ""};
    enum lamp_err err = lamp_book_open(LAMP_PROJECT_DIR "/codebooks/heron-h1.yaml", &book, &error);
    HOLDS(err == LAMP_OK ? book != NULL : book == NULL);
    HOLDS((err == LAMP_OK) == (error.sentence[0] == '\0'));
    lamp_book_free(book);
    return err;
}

static enum lamp_err find_book(void)
{
    struct lamp_book *book = NULL;
    struct lamp_book **all = NULL;
    size_t count = 7;
    enum lamp_err err = lamp_book_find("heron-h1", &book, NULL);
    HOLDS(err == LAMP_OK ? book != NULL : book == NULL);
    lamp_book_free(book);
    if (err != LAMP_OK) {
        return err;
    }
    err = lamp_book_find_all(&all, &count);
    HOLDS(err == LAMP_OK ? all != NULL : all == NULL && count == 7);
    for (size_t i = 0; err == LAMP_OK && i < count; i++) {
        lamp_book_free(all[i]);
    }
    free(all);
    return err;
}

static enum lamp_err read_source(const char *path)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error = {.place = ""};
    struct lamp_item item;
    rules.thread_count = 1;
    enum lamp_err err = lamp_source_open(path, &rules, &source, &error);
    HOLDS(err == LAMP_OK ? source != NULL : source == NULL);
    for (int i = 0; err == LAMP_OK && i < 200; i++) {
        err = lamp_source_next(source, &item, &error);
    }
    HOLDS((err == LAMP_OK || err == LAMP_END) == (error.sentence[0] == '\0'));
    lamp_source_free(source);
    return err == LAMP_END ? LAMP_OK : err;
}

static enum lamp_err read_trace(void)
{
    return read_source(CAPTURES "fade/input.csv");
}

static enum lamp_err read_edges(void)
{
    return read_source(CAPTURES "photodiode/input.vcd");
}

static enum lamp_err read_stills(void)
{
    return read_source(scratch_path("stills"));
}

static enum lamp_err read_clip(void)
{
    return read_source(CAPTURES "steady/input.mp4");
}

/* Grey with a bright square that comes and goes. */
static struct lamp_frame frame_of(int index)
{
    static uint8_t pixels[LAMP_FRAMES_KEPT][SIDE_PX * SIDE_PX];
    uint8_t *at = pixels[index % LAMP_FRAMES_KEPT];
    for (int k = 0; k < SIDE_PX * SIDE_PX; k++) {
        int x = k % SIDE_PX;
        int y = k / SIDE_PX;
        bool is_lamp = index % 4 >= 2 && x >= 40 && x < 48 && y >= 40 && y < 48;
        at[k] = (uint8_t)(is_lamp ? 230 : 60 + (x * 7 + y * 13) % 23);
    }
    return (struct lamp_frame){.t_ns = index * INT64_C(33000000),
                               .bits = 8,
                               .y = {at, SIDE_PX, SIDE_PX, SIDE_PX},
                               .is_full_range = true};
}

/* A frame that failed is given again: it must neither be lost nor leave anything behind. */
static enum lamp_err view_frames(void)
{
    const struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_viewer *viewer = NULL;
    struct lamp_viewer_counts counts;
    struct lamp_reading reading;
    enum lamp_err first = LAMP_OK;
    enum lamp_err err = lamp_viewer_new(&rules, &viewer);
    HOLDS(err == LAMP_OK ? viewer != NULL : viewer == NULL);
    for (int i = 0; err == LAMP_OK && i < FRAMES; i++) {
        struct lamp_frame frame = frame_of(i);
        first = lamp_viewer_push(viewer, &frame);
        err = first == LAMP_OK ? LAMP_OK : lamp_viewer_push(viewer, &frame);
        first = err == LAMP_OK ? first : err;
        while (lamp_viewer_next(viewer, &reading)) {
        }
        if (err == LAMP_OK) {
            lamp_viewer_describe(viewer, &counts);
            HOLDS(counts.frames == (uint64_t)i + 1);
        }
        if (first != LAMP_OK) {
            break;
        }
    }
    lamp_viewer_free(viewer);
    return err == LAMP_OK ? first : err;
}

static enum lamp_err write_report(const struct lamp_report *report)
{
    const struct lamp_text_rules rules = {.width = 80};
    enum lamp_err err = lamp_report_write_text(report, &rules, nowhere);
    return err == LAMP_OK ? lamp_report_write_json(report, nowhere) : err;
}

/* Read a recording through all stages, and tell it; `book` may be NULL. */
static enum lamp_err tell(struct lamp_source *source, const struct lamp_book *book,
                          struct lamp_error *error)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    struct lamp_reader *reader = NULL;
    const struct lamp_report *report = NULL;
    rules.book = &book;
    rules.book_count = book != NULL;
    enum lamp_err err = lamp_reader_new(&rules, &reader, error);
    HOLDS(err == LAMP_OK ? reader != NULL : reader == NULL);
    for (int i = 0; err == LAMP_OK && i < 1000; i++) {
        err = lamp_reader_step(reader, source, error);
    }
    if (err == LAMP_END || err == LAMP_OK) {
        err = lamp_reader_report(reader, source, &report);
        HOLDS(err == LAMP_OK ? report != NULL : report == NULL);
    }
    if (err == LAMP_OK) {
        HOLDS(report->lamp_count > 0);
        err = write_report(report);
    }
    lamp_reader_free(reader);
    return err;
}

static enum lamp_err tell_file(const char *path, const char *book_path)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_book *book = NULL;
    struct lamp_error error = {.place = ""};
    rules.thread_count = 1;
    enum lamp_err err = book_path == NULL ? LAMP_OK : lamp_book_open(book_path, &book, &error);
    if (err == LAMP_OK) {
        err = lamp_source_open(path, &rules, &source, &error);
    }
    if (err == LAMP_OK) {
        err = tell(source, book, &error);
    }
    lamp_source_free(source);
    lamp_book_free(book);
    return err;
}

static enum lamp_err tell_trace(void)
{
    return tell_file(scratch_path("code.csv"), LAMP_PROJECT_DIR "/codebooks/heron-h1.yaml");
}

static enum lamp_err tell_edges(void)
{
    return tell_file(CAPTURES "photodiode/input.vcd", NULL);
}

static enum lamp_err outline_book(void)
{
    const struct lamp_outline_lamp lamp = {"status", LAMP_COLOUR_GREEN, "processor"};
    const struct lamp_outline outline = {
        .id = "shop", .board = "Board 7", .source = "ours", .lamp = &lamp, .lamp_count = 1};
    struct lamp_error error = {.place = ""};
    char *text = NULL;
    enum lamp_err err = lamp_book_outline(&outline, &text, &error);
    HOLDS(err == LAMP_OK ? text != NULL : text == NULL);
    free(text);
    return err;
}

static enum lamp_err teach_book(void)
{
    struct lamp_draft draft = {
        .id = "fan", .lamp = "status", .taught = {1, 2000000}, .means = "Fan stopped"};
    struct lamp_teaching teaching = {.text = NULL};
    struct lamp_error error = {.place = ""};
    char *text = NULL;
    size_t size = 0;
    draft.timing = (struct lamp_timing){.short_ns = 200000000, .rest_ns = 1500000000};
    draft.timing.gap_ns = draft.timing.short_ns;
    enum lamp_err err =
        lamp_book_load(LAMP_PROJECT_DIR "/codebooks/heron-h1.yaml", &text, &size, &error);
    if (err == LAMP_OK) {
        err = lamp_pattern_parse("11 short", &draft.pattern, NULL, &error);
    }
    if (err == LAMP_OK) {
        err = lamp_book_add(text, size, "book", &draft, &teaching, &error);
    }
    HOLDS((err == LAMP_OK) == (teaching.text != NULL && teaching.book != NULL));
    lamp_teaching_fini(&teaching);
    free(text);
    return err;
}

/* A lamp that was seen to repeat two flashes, made by hand: only the drawing is to be short of
 * memory. */
static void make_report(struct lamp_report *report, struct lamp_report_lamp *lamp,
                        struct lamp_length length[12])
{
    const int64_t ms[] = {200, 200, 200, 1400};
    int64_t at_ns = 0;
    for (int i = 0; i < 12; i++) {
        length[i] = (struct lamp_length){
            .start_ns = at_ns, .ns = ms[i % 4] * 1000000, .sd_ns = 2000000, .lit = i % 2 == 0};
        at_ns += length[i].ns;
    }
    *lamp = (struct lamp_report_lamp){.name = "status", .length = length, .length_count = 12};
    lamp->shape = (struct lamp_light_shape){
        .shape = LAMP_SHAPE_TWO_LEVEL, .sample_count = 180, .last_ns = at_ns, .lit_level = 0.6};
    lamp->rhythm = (struct lamp_rhythm){
        .verdict = LAMP_VERDICT_UNLISTED,
        .confidence = 0.98,
        .pattern = {.kind = LAMP_PATTERN_GROUPS, .count = 2},
        .timing = {.short_ns = 200000000, .gap_ns = 200000000, .rest_ns = 1400000000},
        .repeats_seen = 3,
        .repeats_agreeing = 3};
    lamp->match = (struct lamp_match){.verdict = LAMP_VERDICT_UNLISTED, .confidence = 0.98};
    *report = (struct lamp_report){
        .source = {.name = "a.csv", .duration_s = 6, .rate_hz = 30}, .lamp = lamp, .lamp_count = 1};
}

static enum lamp_err draw_plot(void)
{
    static const enum lamp_plot_format formats[] = {LAMP_PLOT_SVG, LAMP_PLOT_PDF};
    struct lamp_report report;
    struct lamp_report_lamp lamp;
    struct lamp_length length[12];
    struct lamp_plot *plot = NULL;
    make_report(&report, &lamp, length);
    enum lamp_err err = lamp_plot_new(&report, &plot);
    HOLDS(err == LAMP_OK ? plot != NULL : plot == NULL);
    for (int i = 0; i < 180 && err == LAMP_OK; i++) {
        lamp_plot_push(plot, 0,
                       &(struct lamp_sample){.t_ns = i * INT64_C(33000000), .level = i % 7 * 0.1});
    }
    for (size_t i = 0; i < sizeof formats / sizeof formats[0] && err == LAMP_OK; i++) {
        err = lamp_plot_write(plot, formats[i], nowhere);
    }
    lamp_plot_free(plot);
    return err;
}

static enum lamp_err write_edges(void)
{
    const struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    const struct lamp_export_lamp lamps[] = {{.name = "a"}, {.name = "b", .starts_lit = true}};
    const struct lamp_edge edge = {.t_ns = 1000000, .lit = true};
    struct lamp_export_edges *writer = NULL;
    enum lamp_err err = lamp_export_edges_new(nowhere, &rules, lamps, 2, &writer);
    HOLDS(err == LAMP_OK ? writer != NULL : writer == NULL);
    if (err == LAMP_OK) {
        err = lamp_export_edges_push(writer, 0, &edge);
    }
    lamp_export_edges_free(writer);
    return err;
}

static const struct work works[] = {
    {"open a book", open_book},   {"find books", find_book},        {"read a trace", read_trace},
    {"read edges", read_edges},   {"read stills", read_stills},     {"read a clip", read_clip},
    {"view frames", view_frames}, {"tell a trace", tell_trace},     {"tell edges", tell_edges},
    {"write edges", write_edges}, {"outline a book", outline_book}, {"teach a book", teach_book},
    {"draw a plot", draw_plot},
};

/* -- the files it is done with -- */

static void make_stills(void)
{
    ck_assert_int_eq(mkdir(scratch_path("stills"), 0700), 0);
    for (int i = 0; i < 3; i++) {
        char name[32];
        (void)snprintf(name, sizeof name, "stills/frame%d.pgm", i);
        FILE *file = fopen(scratch_path(name), "wb");
        struct lamp_frame frame = frame_of(i);
        ck_assert_ptr_nonnull(file);
        (void)fprintf(file, "P5\n%d %d\n255\n", SIDE_PX, SIDE_PX);
        ck_assert_uint_eq(fwrite(frame.y.at, 1, SIDE_PX * SIDE_PX, file), SIDE_PX * SIDE_PX);
        ck_assert_int_eq(fclose(file), 0);
    }
}

/* Four short flashes and a rest, over and over. */
static void make_trace(void)
{
    FILE *file = fopen(scratch_path("code.csv"), "w");
    ck_assert_ptr_nonnull(file);
    (void)fprintf(file, "time_s,lamp,level\n");
    for (int i = 0; i < 900; i++) {
        int at = i % 150; /* 30 samples/s */
        bool is_lit = at < 48 && at % 12 < 6;
        (void)fprintf(file, "%.3f,status,%.3f\n", i / 30.0, (is_lit ? 0.6 : 0.01) + i % 3 * 1e-3);
    }
    ck_assert_int_eq(fclose(file), 0);
}

static void make_files(void)
{
    make_stills();
    make_trace();
}

/* -- the tests -- */

static void run_short_of_memory(const struct work *work, enum alloc_mode mode)
{
    long nth = 0;
    bool has_failed = true;
    while (has_failed && nth < NTH_MOST) {
        nth++;
        alloc_begin(mode, nth);
        enum lamp_err err = work->run();
        has_failed = alloc_end();
        ck_assert_msg(broken == NULL, "%s, request %ld: does not hold: %s", work->name, nth,
                      broken);
        ck_assert_msg(err == (has_failed ? LAMP_NO_MEMORY : LAMP_OK), "%s, request %ld: answer %d",
                      work->name, nth, (int)err);
        ck_assert_msg(alloc_held() == 0, "%s, request %ld: %ld blocks were not freed", work->name,
                      nth, alloc_held());
    }
    ck_assert_msg(nth > 1 && nth < NTH_MOST, "%s: %ld requests", work->name, nth);
}

START_TEST(memory_that_runs_out_once_is_told_and_nothing_is_lost)
{
    run_short_of_memory(&works[_i], ALLOC_ONE);
}
END_TEST

START_TEST(memory_that_runs_out_for_good_is_told_and_nothing_is_lost)
{
    run_short_of_memory(&works[_i], ALLOC_ALL);
}
END_TEST

int main(void)
{
    const int count = (int)(sizeof works / sizeof works[0]);
    nowhere = fopen("/dev/null", "w");
    if (nowhere == NULL || !scratch_begin() ||
        setenv("LAMPREAD_BOOKS", LAMP_PROJECT_DIR "/codebooks", 1) != 0) {
        return EXIT_FAILURE;
    }
    TCase *tests = suite_begin("alloc");
    tcase_add_unchecked_fixture(tests, make_files, NULL);
    tcase_add_loop_test(tests, memory_that_runs_out_once_is_told_and_nothing_is_lost, 0, count);
    tcase_add_loop_test(tests, memory_that_runs_out_for_good_is_told_and_nothing_is_lost, 0, count);
    int status = suite_end();
    scratch_end();
    (void)fclose(nowhere);
    return status;
}
