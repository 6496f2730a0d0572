/* source_export.c - What the writers of traces and edges write, the sources read back exactly. */
/* layers: base source light rhythm codebook match finding report */
#include <check.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>

#include "lampread/export.h"
#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

static uint64_t draw_state =
    20260102; /* Seed: a linear congruential generator (MMIX's constants). */

static uint64_t draw(void)
{
    draw_state = draw_state * 6364136223846793005ULL + 1442695040888963407ULL;
    return draw_state >> 11;
}

static double draw_share(void)
{
    return (double)draw() / 9007199254740992.0;
}

static char *read_text(const char *path)
{
    static char text[1 << 16];
    FILE *file = fopen(path, "rb");
    ck_assert_ptr_nonnull(file);
    size_t size = fread(text, 1, sizeof text - 1, file);
    text[size] = '\0';
    (void)fclose(file);
    return text;
}

START_TEST(a_trace_is_read_back_to_the_last_bit)
{
    static const char *const lamps[] = {"status", "power, red", "say \"on\"", "two\r\nlines",
                                        "gr\xc3\xbcn"};
    enum { ROWS = 2000 };
    static struct lamp_sample samples[ROWS];
    FILE *file = fopen(scratch_path("t.csv"), "wb");
    ck_assert_int_eq(lamp_export_trace_begin(file, true), LAMP_OK);
    int64_t t_ns = -5000000000;
    for (int i = 0; i < ROWS; i++) {
        t_ns += (int64_t)(draw() % 40000000);
        samples[i] =
            (struct lamp_sample){.t_ns = t_ns, .level = (draw_share() - 0.1) * pow(10, -(i % 12))};
        samples[i].exposure_ns = i % 3 == 0 ? 0 : (int64_t)(draw() % 33000000);
        ck_assert_int_eq(
            lamp_export_trace_push(file, true, lamps[i % 5 == 3 ? 0 : i % 5], &samples[i]),
            LAMP_OK);
    }
    (void)fclose(file);
    struct lamp_source *source = open_source(scratch_path("t.csv"));
    struct lamp_item item;
    for (int i = 0; i < ROWS; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_str_eq(lamp_source_lamp_name(source, item.lamp), lamps[i % 5 == 3 ? 0 : i % 5]);
        ck_assert_int_eq(item.sample.t_ns, samples[i].t_ns);
        ck_assert_int_eq(item.sample.exposure_ns, samples[i].exposure_ns);
        ck_assert(memcmp(&item.sample.level, &samples[i].level, sizeof(double)) == 0);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

START_TEST(a_trace_is_written_as_the_standard_has_it)
{
    FILE *file = fopen(scratch_path("t.csv"), "wb");
    const struct lamp_sample sample = {.t_ns = 1000000001, .level = 0.1};
    ck_assert_int_eq(lamp_export_trace_begin(file, false), LAMP_OK);
    ck_assert_int_eq(lamp_export_trace_push(file, false, "a\"b", &sample), LAMP_OK);
    (void)fclose(file);
    ck_assert_str_eq(read_text(scratch_path("t.csv")),
                     "time_s,lamp,level\r\n1.000000001,\"a\"\"b\",0.1\r\n");
}
END_TEST

START_TEST(edges_are_read_back_to_the_step)
{
    const struct lamp_export_lamp lamps[] = {
        {"status", false, false}, {"power-red", true, false}, {"x", false, false}};
    struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    rules.step_ns = _i == 0 ? 1 : 1000;
    rules.start_ns = 2000000000;
    enum { EDGES = 3000 };
    static struct lamp_edge edges[EDGES];
    static size_t lamp_of[EDGES];
    bool is_lit[3] = {false, true, false};
    struct lamp_export_edges *writer = NULL;
    FILE *file = fopen(scratch_path("t.vcd"), "wb");
    ck_assert_int_eq(lamp_export_edges_new(file, &rules, lamps, 3, &writer), LAMP_OK);
    int64_t t_ns = rules.start_ns;
    for (int i = 0; i < EDGES; i++) {
        t_ns += (int64_t)(draw() % 5 == 0 ? 0 : draw() % 300000000);
        lamp_of[i] = draw() % 3;
        is_lit[lamp_of[i]] = !is_lit[lamp_of[i]];
        edges[i] = (struct lamp_edge){.t_ns = t_ns, .sd_ns = 5, .lit = is_lit[lamp_of[i]]};
        ck_assert_int_eq(lamp_export_edges_push(writer, lamp_of[i], &edges[i]), LAMP_OK);
    }
    ck_assert_int_eq(lamp_export_edges_flush(writer, t_ns + 1500000000), LAMP_OK);
    lamp_export_edges_free(writer);
    (void)fclose(file);
    struct lamp_source *source = open_source(scratch_path("t.vcd"));
    struct lamp_item item;
    for (size_t i = 0; i < 3; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_str_eq(lamp_source_lamp_name(source, item.lamp), lamps[i].name);
        ck_assert_int_eq(item.edge.t_ns, rules.start_ns);
        ck_assert_int_eq(item.edge.sd_ns, 0);
        ck_assert_int_eq(item.edge.lit, lamps[i].starts_lit);
    }
    for (int i = 0; i < EDGES; i++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_uint_eq(item.lamp, lamp_of[i]);
        ck_assert_int_le(llabs(item.edge.t_ns - edges[i].t_ns), rules.step_ns / 2);
        ck_assert_int_eq(item.edge.lit, edges[i].lit);
    }
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    double duration_s = (double)(t_ns - rules.start_ns) * 1e-9 + 1.5;
    ck_assert_double_eq_tol(info_of(source).duration_s, duration_s, (double)rules.step_ns * 1e-9);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

START_TEST(edges_are_written_as_the_standard_has_it)
{
    const struct lamp_export_lamp lamps[] = {{"led", false, false}, {"power", true, false}};
    const struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    struct lamp_export_edges *writer = NULL;
    FILE *file = fopen(scratch_path("t.vcd"), "wb");
    ck_assert_int_eq(lamp_export_edges_new(file, &rules, lamps, 2, &writer), LAMP_OK);
    ck_assert_int_eq(
        lamp_export_edges_push(writer, 0, &(struct lamp_edge){.t_ns = 1499, .lit = true}), LAMP_OK);
    ck_assert_int_eq(
        lamp_export_edges_push(writer, 1, &(struct lamp_edge){.t_ns = 1500, .lit = false}),
        LAMP_OK);
    ck_assert_int_eq(lamp_export_edges_push(writer, 0, &(struct lamp_edge){.t_ns = 400}),
                     LAMP_BAD_USE);
    ck_assert_int_eq(lamp_export_edges_push(writer, 2, &(struct lamp_edge){.t_ns = 9000}),
                     LAMP_BAD_USE);
    ck_assert_int_eq(lamp_export_edges_flush(writer, 3000), LAMP_OK);
    lamp_export_edges_free(writer);
    (void)fclose(file);
    ck_assert_str_eq(
        read_text(scratch_path("t.vcd")),
        "$version lampread $end\n$timescale 1 us $end\n$scope module lamps $end\n"
        "$var wire 1 ! led $end\n$var wire 1 \" power $end\n$upscope $end\n$enddefinitions $end\n"
        "#0\n$dumpvars\n0!\n1\"\n$end\n#1\n1!\n#2\n0\"\n#3\n");
}
END_TEST

static const struct lamp_export_lamp unfit[][2] = {
    {{"two words", false, false}, {"b", false, false}},
    {{"", false, false}, {"b", false, false}},
    {{"$end", false, false}, {"b", false, false}},
    {{"gr\xc3\xbcn", false, false}, {"b", false, false}},
    {{"same", false, false}, {"same", true, false}},
    {{"\\x", false, false}, {"b", false, false}},
};

START_TEST(names_that_a_vcd_cannot_hold_are_refused)
{
    const struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    struct lamp_export_edges *writer = NULL;
    FILE *file = fopen(scratch_path("t.vcd"), "wb");
    ck_assert_int_eq(lamp_export_edges_new(file, &rules, unfit[_i], 2, &writer), LAMP_BAD_USE);
    ck_assert_ptr_null(writer);
    ck_assert_int_eq(ftell(file), 0);
    (void)fclose(file);
}
END_TEST

START_TEST(a_full_disk_is_told)
{
    FILE *file = fopen("/dev/full", "wb");
    if (file == NULL) {
        printf("skipped: no /dev/full here\n");
        return;
    }
    (void)setvbuf(file, NULL, _IONBF, 0);
    ck_assert_int_eq(lamp_export_trace_begin(file, false), LAMP_CANNOT_WRITE);
    struct lamp_export_edges *writer = NULL;
    const struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    ck_assert_int_eq(lamp_export_edges_new(file, &rules, unfit[0] + 1, 1, &writer),
                     LAMP_CANNOT_WRITE);
    ck_assert_ptr_null(writer);
    (void)fclose(file);
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_export");
    tcase_add_test(all, a_trace_is_read_back_to_the_last_bit);
    tcase_add_test(all, a_trace_is_written_as_the_standard_has_it);
    tcase_add_loop_test(all, edges_are_read_back_to_the_step, 0, 2);
    tcase_add_test(all, edges_are_written_as_the_standard_has_it);
    tcase_add_loop_test(all, names_that_a_vcd_cannot_hold_are_refused, 0, COUNT(unfit));
    tcase_add_test(all, a_full_disk_is_told);
    int status = suite_end();
    scratch_end();
    return status;
}
