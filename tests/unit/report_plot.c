/* report_plot.c - A plot shows the edges where the report has them, and what differs between
 * repeats is found. */
/* layers: base report rhythm codebook light finding */
#include <math.h>

#include "lampread/plot.h"
#include "report/columns.h"
#include "report/lay.h"
#include "report/repeats.h"
#include "report/stretch.h"
#include "report/ticks.h"
#include "support/suite.h"
#include "unit/report_support.h"

START_TEST(marks_of_an_axis_are_round_and_inside)
{
    for (double span = 0.013; span < 5000; span *= 1.7) {
        double from = span / 3;
        struct lamp_ticks ticks = lamp_ticks_choose(from, span, 9);
        double last = ticks.first + (double)(ticks.count - 1) * ticks.step;
        ck_assert_uint_ge(ticks.count, 3);
        ck_assert_uint_le(ticks.count, 10);
        ck_assert(ticks.first >= from - 1e-9 * span && last <= from + span * (1 + 1e-5));
        char near[2][32];
        lamp_ticks_write(&ticks, 0, near[0], sizeof near[0]);
        lamp_ticks_write(&ticks, 1, near[1], sizeof near[1]);
        ck_assert_str_ne(near[0], near[1]);
        ck_assert_double_eq_tol(atof(near[1]), ticks.first + ticks.step, ticks.step * 1e-6);
    }
}
END_TEST

START_TEST(columns_keep_the_range_of_any_number_of_samples)
{
    struct lamp_columns *columns = calloc(1, sizeof *columns);
    ck_assert_ptr_nonnull(columns);
    columns->span_ns = 1000 * MS;
    for (int i = 0; i < 100000; i++) {
        double level = i == 777 ? 0.9 : i == 888 ? -0.1 : 0.5;
        lamp_columns_push(columns, &(struct lamp_sample){.t_ns = i * MS / 100, .level = level});
    }
    lamp_columns_push(columns, &(struct lamp_sample){.t_ns = 1000 * MS, .level = 7});
    double low;
    double high;
    ck_assert(lamp_columns_range(columns, &low, &high));
    ck_assert_double_eq_tol(low, -0.1, 1e-6);
    ck_assert_double_eq_tol(high, 0.9, 1e-6);
    free(columns);
}
END_TEST

START_TEST(repeats_are_found_whole_and_alike)
{
    struct made_report made;
    struct lamp_repeats repeats;
    make_report(&made);
    ck_assert_int_eq(
        lamp_repeats_find(made.lamp.length, made.lamp.length_count, &made.lamp.rhythm, &repeats),
        LAMP_OK);
    ck_assert_uint_eq(repeats.whole_count, 3);
    ck_assert_uint_eq(repeats.alike_count, 3);
    for (size_t i = 1; i < repeats.count; i++) { /* the first is the rest that was cut */
        const int64_t period_ns = INT64_C(3595) * MS;
        ck_assert_int_eq(repeats.at[i].start_ns, 500 * MS + ((int64_t)i - 1) * period_ns);
    }
    lamp_repeats_fini(&repeats);
}
END_TEST

START_TEST(a_missing_flash_is_named_by_its_number)
{
    struct made_report made;
    struct lamp_repeats repeats;
    struct lamp_text text = {0};
    make_report(&made);
    /* The second flash of the second repeat: lengths 9 to 11 are one dark. */
    made.length[8].ns += made.length[9].ns + made.length[10].ns;
    for (size_t i = 9; i + 2 < made.lamp.length_count; i++) {
        made.length[i] = made.length[i + 2];
    }
    made.lamp.length_count -= 2;
    ck_assert_int_eq(
        lamp_repeats_find(made.lamp.length, made.lamp.length_count, &made.lamp.rhythm, &repeats),
        LAMP_OK);
    ck_assert_uint_eq(repeats.whole_count, 3);
    ck_assert_uint_eq(repeats.alike_count, 2);
    ck_assert(!repeats.at[2].is_alike);
    lamp_repeats_tell(&repeats, 2, made.lamp.length, &text);
    ck_assert_str_eq(text.at, "2nd flash missing");
    lamp_text_fini(&text);
    lamp_repeats_fini(&repeats);
}
END_TEST

START_TEST(an_entry_is_laid_at_the_scale_it_was_played_at)
{
    const struct lamp_wave wave = {
        .count = 6, .length_ns = {600 * MS, 200 * MS, 600 * MS, 200 * MS, 200 * MS, 1800 * MS}};
    for (double scale = 0.85; scale < 1.2; scale += 0.07) {
        struct lamp_length length[20];
        int64_t at_ns = 350 * MS;
        for (size_t i = 0; i < 20; i++) {
            int64_t ns = (int64_t)(scale * (double)wave.length_ns[(i + 2) % 6]);
            length[i] = (struct lamp_length){.start_ns = at_ns, .ns = ns, .lit = i % 2 == 0};
            at_ns += ns;
        }
        struct lamp_laid laid;
        ck_assert(lamp_lay(&wave, 0.99 * scale, length, 20, &laid));
        ck_assert_double_eq_tol(laid.scale, scale, 0.001);
        /* The wave is taken up at its third length, 800 ms in. */
        double cycles =
            ((double)length[0].start_ns - scale * 800e6 - laid.start_ns) / laid.period_ns;
        ck_assert_double_eq_tol(cycles, round(cycles), 0.002);
    }
}
END_TEST

/* The plot of `made` with a sample every 20 ms; freed by the caller. */
static char *plot_of(struct made_report *made, enum lamp_plot_format format)
{
    struct lamp_plot *plot;
    const struct lamp_length *last = &made->length[made->lamp.length_count - 1];
    int64_t end_ns = last->start_ns + last->ns;
    made->lamp.shape = (struct lamp_light_shape){.shape = LAMP_SHAPE_TWO_LEVEL,
                                                 .sample_count = 600,
                                                 .last_ns = end_ns,
                                                 .lit_level = 0.6,
                                                 .dark_level = 0.02};
    ck_assert_int_eq(lamp_plot_new(&made->report, &plot), LAMP_OK);
    for (int64_t t_ns = 0; t_ns < end_ns; t_ns += 20 * MS) {
        lamp_plot_push(plot, 0, &(struct lamp_sample){.t_ns = t_ns, .level = 0.3});
    }
    FILE *file = tmpfile();
    ck_assert_ptr_nonnull(file);
    ck_assert_int_eq(lamp_plot_write(plot, format, file), LAMP_OK);
    lamp_plot_free(plot);
    return read_back(file);
}

/* Where the upright blue lines of an SVG are, in its units. */
static size_t find_edges(const char *svg, double *x, size_t room)
{
    size_t count = 0;
    for (const char *at = strstr(svg, "<path "); at != NULL; at = strstr(at + 1, "<path ")) {
        const char *end = strchr(at, '>');
        const char *blue = strstr(at, "stroke:rgb(0%,44.7");
        const char *drawn = strstr(at, " d=\"M ");
        double from[2];
        double to[2];
        if (blue != NULL && blue < end && drawn != NULL && drawn < end &&
            sscanf(drawn, " d=\"M %lf %lf L %lf %lf", &from[0], &from[1], &to[0], &to[1]) == 4 &&
            fabs(from[0] - to[0]) < 1e-6) {
            ck_assert_uint_lt(count, room);
            x[count++] = from[0];
        }
    }
    return count;
}

START_TEST(edges_stand_where_the_report_has_them)
{
    struct made_report made;
    double x[64];
    make_report(&made);
    char *svg = plot_of(&made, LAMP_PLOT_SVG);
    ck_assert_ptr_nonnull(svg);
    size_t count = find_edges(svg, x, 64);
    ck_assert_uint_eq(count, made.lamp.length_count - 1);
    /* All lie on one line of x over time: that through the first and the last. */
    double first_s = (double)made.length[1].start_ns / 1e9;
    double last_s = (double)made.length[count].start_ns / 1e9;
    double pt_a_s = (x[count - 1] - x[0]) / (last_s - first_s);
    ck_assert_double_gt(pt_a_s, 20);
    for (size_t i = 0; i < count; i++) {
        double t_s = (double)made.length[i + 1].start_ns / 1e9;
        ck_assert_double_eq_tol(x[i], x[0] + (t_s - first_s) * pt_a_s, 0.05);
    }
    free(svg);
}
END_TEST

/* How many level lines of an SVG go from `from` to `to`, in its units. */
static size_t count_level(const char *svg, double from, double to)
{
    size_t count = 0;
    for (const char *at = strstr(svg, " d=\"M "); at != NULL; at = strstr(at + 1, " d=\"M ")) {
        double a[2];
        double b[2];
        count += sscanf(at, " d=\"M %lf %lf L %lf %lf", &a[0], &a[1], &b[0], &b[1]) == 4 &&
                 fabs(a[1] - b[1]) < 1e-6 && fabs(a[0] - from) < 0.05 && fabs(b[0] - to) < 0.05;
    }
    return count;
}

START_TEST(each_group_has_its_bracket)
{
    enum { LENGTHS_A_REPEAT = 6, FLASHES = 3 };
    struct made_report made;
    double x[64];
    make_report(&made);
    char *svg = plot_of(&made, LAMP_PLOT_SVG);
    size_t count = find_edges(svg, x, 64);
    ck_assert_uint_eq(count, 3 * LENGTHS_A_REPEAT);
    for (size_t i = 0; i < count; i += LENGTHS_A_REPEAT) {
        ck_assert_uint_eq(count_level(svg, x[i], x[i + 2 * FLASHES - 1]), 1);
    }
    free(svg);
}
END_TEST

START_TEST(text_from_outside_is_escaped_and_cut)
{
    struct made_report made;
    make_report(&made);
    (void)snprintf(made.lamp.name, sizeof made.lamp.name, "<&\"\xff\xe7\x81\xaf>");
    made.report.source.name = "a/\xf0\x9f\x92\xa1 <script>.mp4";
    made.code[0].means = "A meaning that goes on and on, and on and on, and on and on, and on and "
                         "on, and on and on, and "
                         "on, and on and on, and on and on, and on and on, and on and on, and on, "
                         "and does not end soon";
    char *svg = plot_of(&made, LAMP_PLOT_SVG);
    ck_assert_ptr_nonnull(strstr(svg, "<title>&lt;&amp;\"?\xe7\x81\xaf&gt; "));
    ck_assert_ptr_null(strstr(svg, "<script"));
    free(svg);
}
END_TEST

START_TEST(a_long_recording_is_drawn_by_some_whole_repeats)
{
    struct made_report made;
    struct lamp_repeats repeats;
    struct lamp_stretch_of_time part;
    make_report(&made);
    size_t count = 0;
    struct lamp_length *length = calloc(LAMP_LENGTHS_MAX, sizeof *length);
    ck_assert_ptr_nonnull(length);
    for (int64_t at_ns = 0; count + 6 < 900; count++) {
        length[count] = made.length[1 + count % 6];
        length[count].start_ns = at_ns;
        at_ns += length[count].ns;
    }
    made.lamp.length = length;
    made.lamp.length_count = count;
    ck_assert_int_eq(lamp_repeats_find(length, count, &made.lamp.rhythm, &repeats), LAMP_OK);
    lamp_stretch_choose(&made.lamp, &repeats, &part);
    ck_assert_int_ge(part.span_ns, 2 * repeats.period_ns);
    ck_assert_int_le(part.span_ns, INT64_C(30000) * MS);
    lamp_repeats_fini(&repeats);
    free(length);
}
END_TEST

START_TEST(only_three_endings_are_formats)
{
    enum lamp_plot_format format;
    ck_assert(lamp_plot_format_of("a.svg", &format) && format == LAMP_PLOT_SVG);
    ck_assert(lamp_plot_format_of("b/c.png", &format) && format == LAMP_PLOT_PNG);
    ck_assert(lamp_plot_format_of("x.y.pdf", &format) && format == LAMP_PLOT_PDF);
    ck_assert(!lamp_plot_format_of("a.jpg", &format));
    ck_assert(!lamp_plot_format_of(".svg", &format));
    ck_assert(!lamp_plot_format_of("", &format));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {marks_of_an_axis_are_round_and_inside,
                                  columns_keep_the_range_of_any_number_of_samples,
                                  repeats_are_found_whole_and_alike,
                                  a_missing_flash_is_named_by_its_number,
                                  an_entry_is_laid_at_the_scale_it_was_played_at,
                                  edges_stand_where_the_report_has_them,
                                  each_group_has_its_bracket,
                                  text_from_outside_is_escaped_and_cut,
                                  a_long_recording_is_drawn_by_some_whole_repeats,
                                  only_three_endings_are_formats};
    return suite_run("plot", tests, sizeof tests / sizeof tests[0]);
}
