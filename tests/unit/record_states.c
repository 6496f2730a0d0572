/* record_states.c - What a pin gave and a trace kept reads back edge by edge, losses and all. */
/* layers: base record report source pipeline light rhythm codebook match finding fake-gpio */
#include <check.h>
#include <stdlib.h>

#include "lampread/pipeline.h"
#include "lampread/record.h"
#include "support/fake_gpio.h"
#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

#define MS INT64_C(1000000)
#define S  (1000 * MS)

enum { KEPT_MOST = 256 };

/* What the pin gave. */
struct given {
    size_t count;
    struct lamp_edge edge[KEPT_MOST];
    double duration_s;
};

/* A kind of light on a line. */
struct line {
    const char *name;
    bool is_lit; /* as it is opened */
    void (*play)(void);
    bool has_loss;
};

static void play_nothing(void)
{
}

static void play_code(void)
{
    static const int ms[] = {203, 197, 201, 199, 204, 1801};
    int64_t t_ns = 512 * MS + 345678;
    for (int i = 0; i < 60; i++) {
        fake_event(t_ns, i % 2 == 0, 0);
        t_ns += ms[i % 6] * MS + i * 1237;
    }
}

/* Lengths of all kinds, a few of 40 ns. */
static void play_flicker(void)
{
    uint32_t chance = 7;
    int64_t t_ns = 100 * MS;
    for (int i = 0; i < 120; i++) {
        fake_event(t_ns, i % 2 == 0, 0);
        chance = chance * 1664525U + 1013904223U;
        t_ns += i % 31 == 0 ? 40 : (chance >> 8) % (250 * MS) + 1;
    }
}

static void play_code_with_a_loss(void)
{
    play_code();
    fake.event[20].is_active = !fake.event[20].is_active; /* two alike */
}

static void play_a_lost_pulse(void)
{
    fake_event(5 * S, true, 0);
}

static const struct line lines[] = {
    {"dark", false, play_nothing, false},
    {"lit", true, play_nothing, false},
    {"code", false, play_code, false},
    {"flicker", false, play_flicker, false},
    {"code, loss", false, play_code_with_a_loss, true},
    {"lost pulse", true, play_a_lost_pulse, true},
};

static struct lamp_source *open_line(const struct line *line)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    fake_begin();
    fake.value = line->is_lit;
    line->play();
    ck_assert_int_eq(lamp_source_open("gpiochip0:3", &rules, &source, NULL), LAMP_OK);
    return source;
}

/* Keep 25 s of a line. Without an end it is left as by a run that was killed. */
static void keep_line(const struct line *line, const char *path, bool finishes, struct given *given)
{
    struct lamp_recorder_rules rules = lamp_recorder_rules_default();
    struct lamp_source *source = open_line(line);
    struct lamp_recorder *recorder = NULL;
    rules.replaces = true;
    ck_assert_int_eq(lamp_recorder_new(path, &rules, source, &recorder, NULL), LAMP_OK);
    given->count = 0;
    for (int64_t end_ns = fake.now_ns + 25 * S; fake.now_ns < end_ns;) {
        struct lamp_item item;
        enum lamp_err answer = lamp_source_next(source, &item, NULL);
        if (answer == LAMP_OK) {
            given->edge[given->count++] = item.edge;
            ck_assert_int_eq(lamp_recorder_push(recorder, source, &item, NULL), LAMP_OK);
        } else {
            ck_assert_int_eq(answer, LAMP_NOT_YET);
            ck_assert_int_eq(lamp_recorder_wait(recorder, source, NULL), LAMP_OK);
        }
    }
    given->duration_s = info_of(source).duration_s;
    if (finishes) {
        ck_assert_int_eq(lamp_recorder_finish(recorder, source, NULL), LAMP_OK);
    }
    lamp_recorder_free(recorder);
    lamp_source_free(source);
}

/* How many edges a file holds; each must be the one that was given. */
static size_t count_same(const char *path, const struct given *given)
{
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    size_t count = 0;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
        ck_assert_int_eq(item.kind, LAMP_ITEM_EDGE);
        ck_assert_uint_lt(count, given->count);
        ck_assert_int_eq(item.edge.t_ns, given->edge[count].t_ns);
        ck_assert_int_eq(item.edge.sd_ns, given->edge[count].sd_ns);
        ck_assert_int_eq(item.edge.lit, given->edge[count].lit);
        count++;
    }
    lamp_source_free(source);
    return count;
}

START_TEST(edges_read_back_to_the_nanosecond_with_their_sd_and_their_losses)
{
    struct given given;
    const char *path = scratch_path("pin.csv");
    keep_line(&lines[_i], path, true, &given);
    ck_assert_uint_eq(count_same(path, &given), given.count);
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
    }
    ck_assert_double_eq_tol(info_of(source).duration_s, given.duration_s, 1e-8);
    ck_assert_uint_eq(lamp_source_lamp_count(source), 1);
    ck_assert_str_eq(lamp_source_lamp_name(source, 0), "gpiochip0:3");
    ck_assert_int_eq(has_warning(source, "edges are missing: "), lines[_i].has_loss);
    ck_assert_ptr_null(lamp_source_warning(source, lines[_i].has_loss));
    lamp_source_free(source);
}
END_TEST

/* Read as a command would. @return the report, borrowed from the reader. */
static const struct lamp_report *report_of(struct lamp_source *source, struct lamp_reader **reader)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    const struct lamp_report *report = NULL;
    enum lamp_err err = LAMP_OK;
    ck_assert_int_eq(lamp_reader_new(&rules, reader, NULL), LAMP_OK);
    for (int64_t end_ns = fake.now_ns + 25 * S; err != LAMP_END && fake.now_ns < end_ns;) {
        err = lamp_reader_step(*reader, source, NULL);
        ck_assert(err == LAMP_OK || err == LAMP_NOT_YET || err == LAMP_END);
    }
    ck_assert_int_eq(lamp_reader_report(*reader, source, &report), LAMP_OK);
    return report;
}

START_TEST(what_is_told_of_the_file_is_what_was_told_of_the_pin)
{
    struct given given;
    struct lamp_reader *reader[2];
    const char *path = scratch_path("told.csv");
    keep_line(&lines[_i], path, true, &given);
    struct lamp_source *source[2] = {open_line(&lines[_i]), open_source(path)};
    const struct lamp_report *pin = report_of(source[0], &reader[0]);
    fake_begin();
    const struct lamp_report *file = report_of(source[1], &reader[1]);
    ck_assert_uint_eq(file->lamp_count, 1);
    ck_assert_int_eq(file->lamp[0].match.verdict, pin->lamp[0].match.verdict);
    ck_assert_double_eq_tol(file->lamp[0].match.confidence, pin->lamp[0].match.confidence, 1e-9);
    ck_assert_uint_eq(file->lamp[0].length_count, pin->lamp[0].length_count);
    for (size_t i = 0; i + 1 < pin->lamp[0].length_count; i++) {
        ck_assert_int_eq(file->lamp[0].length[i].ns, pin->lamp[0].length[i].ns);
        ck_assert_int_eq(file->lamp[0].length[i].sd_ns, pin->lamp[0].length[i].sd_ns);
    }
    for (int i = 0; i < 2; i++) {
        lamp_reader_free(reader[i]);
        lamp_source_free(source[i]);
    }
}
END_TEST

/* A VCD has no deviations, but where an edge is no change of the light it says so too. */
START_TEST(a_vcd_holds_the_losses_of_the_pin)
{
    struct given given;
    const char *path = scratch_path("pin.vcd");
    keep_line(&lines[_i], path, true, &given);
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    size_t count = 0;
    for (; lamp_source_next(source, &item, NULL) == LAMP_OK; count++) {
        ck_assert_uint_lt(count, given.count);
        ck_assert_int_eq(item.edge.sd_ns == 0, given.edge[count].sd_ns == 0);
        ck_assert_int_eq(item.edge.lit, given.edge[count].lit);
        ck_assert_int_le(llabs(item.edge.t_ns - given.edge[count].t_ns + given.edge[0].t_ns), 1000);
    }
    ck_assert_uint_eq(count, given.count);
    lamp_source_free(source);
}
END_TEST

static size_t read_bytes(const char *path, char *out, size_t size)
{
    FILE *file = fopen(path, "rb");
    ck_assert_ptr_nonnull(file);
    size = fread(out, 1, size, file);
    (void)fclose(file);
    return size;
}

/* A run that is killed ends the file after any row. */
START_TEST(a_file_that_ends_after_any_row_holds_the_edges_up_to_there_and_no_other)
{
    static char bytes[1 << 16];
    struct given given;
    const char *path = scratch_path("killed.csv");
    keep_line(&lines[_i], path, false, &given);
    size_t size = read_bytes(path, bytes, sizeof bytes);
    size_t last = 0;
    for (size_t at = (size_t)(strchr(bytes, '\n') - bytes) + 1; at < size;) {
        at = (size_t)(strchr(bytes + at, '\n') - bytes) + 1;
        size_t count = count_same(scratch_write("cut.csv", bytes, at), &given);
        ck_assert_uint_ge(count, last);
        ck_assert_uint_le(count, last + 1);
        last = count;
    }
    ck_assert_uint_eq(last, given.count);
}
END_TEST

START_TEST(a_line_that_waits_is_on_disk_up_to_the_last_second)
{
    struct given given;
    const char *path = scratch_path("waits.csv");
    keep_line(&lines[1], path, false, &given);
    struct lamp_source *source = open_source(path);
    struct lamp_item item;
    while (lamp_source_next(source, &item, NULL) == LAMP_OK) {
    }
    ck_assert_double_gt(info_of(source).duration_s, given.duration_s - 1);
    lamp_source_free(source);
}
END_TEST

int main(void)
{
    enum { LINES = sizeof lines / sizeof lines[0] };
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("record_states");
    tcase_add_loop_test(all, edges_read_back_to_the_nanosecond_with_their_sd_and_their_losses, 0,
                        LINES);
    tcase_add_loop_test(all, a_vcd_holds_the_losses_of_the_pin, 2, LINES);
    tcase_add_loop_test(all, what_is_told_of_the_file_is_what_was_told_of_the_pin, 0, LINES);
    tcase_add_loop_test(
        all, a_file_that_ends_after_any_row_holds_the_edges_up_to_there_and_no_other, 0, LINES);
    tcase_add_test(all, a_line_that_waits_is_on_disk_up_to_the_last_second);
    int status = suite_end();
    scratch_end();
    return status;
}
