/* pipeline_peek.c - A peek says what was seen so far, and leaves the reader as it was. */
/* layers: base pipeline source light rhythm codebook match finding report */
#include <check.h>
#include <stdlib.h>

#include "lampread/pipeline.h"
#include "lampread/report.h"
#include "support/replay.h"
#include "support/scratch.h"
#include "support/suite.h"

static const int code_ms[] = {600, 200, 600, 200, 200, 200, 200, 200, 200, 1800};

/* A report as JSON. @return freed by the caller. */
static char *written(const struct lamp_report *report)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    ck_assert_ptr_nonnull(out);
    ck_assert_int_eq(lamp_report_write_json(report, out), LAMP_OK);
    (void)fclose(out);
    return text;
}

static struct lamp_reader *new_reader(void)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    struct lamp_reader *reader = NULL;
    ck_assert_int_eq(lamp_reader_new(&rules, &reader, NULL), LAMP_OK);
    return reader;
}

/* Read `items` of a recording; peek after items by chance, one in `one_in` (0: never). */
static void read_some(struct lamp_reader *reader, struct lamp_source *source, unsigned items,
                      unsigned one_in, unsigned seed)
{
    enum lamp_err err = LAMP_OK;
    for (unsigned taken = 0; taken < items && err != LAMP_END;) {
        err = lamp_reader_step(reader, source, NULL);
        ck_assert(err == LAMP_OK || err == LAMP_NOT_YET || err == LAMP_END);
        taken += err == LAMP_OK;
        seed = seed * 1103515245U + 12345U;
        const struct lamp_report *report = NULL;
        if (one_in > 0 && err == LAMP_OK && (seed >> 16) % one_in == 0) {
            ck_assert_int_eq(lamp_reader_peek(reader, source, &report), LAMP_OK);
            ck_assert_ptr_nonnull(report);
        }
    }
}

/* The report of all of a recording. @return freed by the caller. */
static char *report_after(const char *path, unsigned one_in, unsigned seed)
{
    struct lamp_source *source = open_replay(path, 0);
    struct lamp_reader *reader = new_reader();
    const struct lamp_report *report = NULL;
    read_some(reader, source, UINT32_MAX, one_in, seed);
    ck_assert_int_eq(lamp_reader_report(reader, source, &report), LAMP_OK);
    char *text = written(report);
    lamp_reader_free(reader);
    lamp_source_free(source);
    return text;
}

static void check_undisturbed(const char *path, unsigned one_in, unsigned seed)
{
    char *without = report_after(path, 0, 0);
    char *with = report_after(path, one_in, seed);
    ck_assert_str_eq(with, without);
    free(with);
    free(without);
}

START_TEST(a_report_is_the_same_after_any_number_of_peeks_at_a_trace)
{
    const char *path = write_trace("peek.csv", code_ms, 10, 100, (unsigned)_i + 7);
    check_undisturbed(path, 5 + 20 * (unsigned)_i, (unsigned)_i);
}
END_TEST

static const char *const captures[] = {"code/input.mp4", "hand-held/input.mp4",
                                       "photodiode/input.vcd", "fade/input.csv"};

START_TEST(a_report_is_the_same_after_any_number_of_peeks_at_a_capture)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/captures/%s", LAMP_PROJECT_DIR, captures[_i]);
    check_undisturbed(path, 12, (unsigned)_i + 3);
}
END_TEST

START_TEST(a_peek_says_what_a_report_would)
{
    const char *path = write_trace("same.csv", code_ms, 10, 40, (unsigned)_i + 70);
    unsigned items = 200 + 231 * (unsigned)_i;
    char *text[2];
    for (int peeks = 0; peeks < 2; peeks++) {
        struct lamp_source *source = open_replay(path, 0);
        struct lamp_reader *reader = new_reader();
        const struct lamp_report *report = NULL;
        read_some(reader, source, items, 0, 0);
        enum lamp_err err = peeks ? lamp_reader_peek(reader, source, &report)
                                  : lamp_reader_report(reader, source, &report);
        ck_assert_int_eq(err, LAMP_OK);
        text[peeks] = written(report);
        lamp_reader_free(reader);
        lamp_source_free(source);
    }
    ck_assert_str_eq(text[1], text[0]);
    free(text[0]);
    free(text[1]);
}
END_TEST

/* What is not looked at anew is at most a second behind, and never ahead. */
START_TEST(frequent_peeks_keep_up_with_the_light)
{
    struct lamp_source *source = open_replay(write_trace("up.csv", code_ms, 10, 60, 5), 0);
    struct lamp_reader *reader = new_reader();
    for (int i = 0; i < 500; i++) {
        const struct lamp_report *report = NULL;
        read_some(reader, source, 3, 0, 0);
        ck_assert_int_eq(lamp_reader_peek(reader, source, &report), LAMP_OK);
        const struct lamp_report_lamp *lamp = &report->lamp[0];
        const struct lamp_length *last = &lamp->length[lamp->length_count - 1];
        int64_t behind_ns = (int64_t)(report->source.duration_s * 1e9) - last->start_ns - last->ns;
        ck_assert_int_ge(behind_ns, -40000000);
        ck_assert_int_le(behind_ns, 1000000000);
    }
    lamp_reader_free(reader);
    lamp_source_free(source);
}
END_TEST

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("pipeline_peek");
    tcase_add_loop_test(all, a_report_is_the_same_after_any_number_of_peeks_at_a_trace, 0, 3);
    tcase_add_loop_test(all, a_report_is_the_same_after_any_number_of_peeks_at_a_capture, 0,
                        sizeof captures / sizeof captures[0]);
    tcase_add_loop_test(all, a_peek_says_what_a_report_would, 0, 4);
    tcase_add_test(all, frequent_peeks_keep_up_with_the_light);
    int status = suite_end();
    scratch_end();
    return status;
}
