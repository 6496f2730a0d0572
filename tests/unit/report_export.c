/* report_export.c - What is exported of a report tells its groups, and reads back to its lengths.
 */
/* layers: base source light rhythm codebook match finding report */
#include "lampread/export.h"
#include "report/role.h"
#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"
#include "unit/report_support.h"

static char *flashes_of(const struct made_report *made)
{
    FILE *file = tmpfile();
    ck_assert_ptr_nonnull(file);
    ck_assert_int_eq(lamp_report_write_flashes(&made->report, file), LAMP_OK);
    return read_back(file);
}

START_TEST(flashes_tell_class_group_and_repeat)
{
    static struct made_report made;
    make_report(&made);
    char *text = flashes_of(&made);
    ck_assert_ptr_nonnull(strstr(
        text, "\r\nstatus,0.500000000,0.603000000,0.199000000,0.004000000,long,gap,1,,\r\n"));
    ck_assert_ptr_nonnull(strstr(text, ",0.201000000,1.790000000,0.004000000,short,rest,1,,\r\n"));
    ck_assert_ptr_nonnull(strstr(
        text, "\r\nstatus,4.095000000,0.603000000,0.199000000,0.004000000,long,gap,1,1,\r\n"));
    free(text);
}
END_TEST

/* "1 short, pause, 2 short", seen from the middle of its second group on. */
START_TEST(groups_of_a_repeat_cut_at_its_start_are_counted_from_its_end)
{
    const int64_t ms[] = {50, 200, 200, 1800, 200, 700, 200, 200, 200, 1800};
    const unsigned group[] = {2, 2, 2, 0, 1, 0, 2, 2, 2, 0};
    struct lamp_length length[10];
    struct lamp_rhythm rhythm = {
        .timing = {
            .short_ns = 200 * MS, .gap_ns = 200 * MS, .pause_ns = 700 * MS, .rest_ns = 1800 * MS}};
    rhythm.pattern = (struct lamp_pattern){.kind = LAMP_PATTERN_GROUPS, .count = 4};
    rhythm.pattern.symbol[1] = LAMP_SYMBOL_PAUSE;
    for (size_t i = 0; i < 10; i++) {
        length[i] = (struct lamp_length){.ns = ms[i] * MS, .lit = i % 2 == 0, .cut_before = i == 0};
    }
    struct lamp_roles roles;
    struct lamp_role role;
    lamp_roles_begin(&roles, length, 10, &rhythm);
    for (size_t i = 0; i < 10; i++) {
        ck_assert(lamp_roles_next(&roles, &role));
        ck_assert_uint_eq(role.group, group[i]);
        ck_assert_uint_eq(role.repeat, i >= 4);
    }
    ck_assert(!lamp_roles_next(&roles, &role));
}
END_TEST

static void expect(struct lamp_source *source, enum lamp_item_kind kind, int64_t t_ms, bool lit)
{
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
    ck_assert_int_eq(item.kind, kind);
    ck_assert_int_eq(lamp_item_time_ns(&item), t_ms * MS);
    ck_assert(kind == LAMP_ITEM_BREAK || item.edge.lit == lit);
}

/* dark 0.5 s, lit 0.3 s and out of view; lit when it is back at 2 s, for 0.4 s, then dark 1 s. */
START_TEST(a_break_is_read_back_as_a_break)
{
    static struct made_report made;
    make_report(&made);
    const struct lamp_length length[] = {
        {.ns = 500 * MS, .cut_before = true},
        {.start_ns = 500 * MS, .ns = 300 * MS, .sd_ns = MS, .lit = true, .cut_after = true},
        {.start_ns = 2000 * MS, .ns = 400 * MS, .sd_ns = MS, .lit = true, .cut_before = true},
        {.start_ns = 2400 * MS, .ns = 1000 * MS, .cut_after = true}};
    made.lamp.length = length;
    made.lamp.length_count = 4;
    FILE *file = fopen(scratch_path("f.csv"), "wb");
    ck_assert_int_eq(lamp_report_write_flashes(&made.report, file), LAMP_OK);
    (void)fclose(file);
    struct lamp_source *source = open_source(scratch_path("f.csv"));
    expect(source, LAMP_ITEM_EDGE, 0, false);
    expect(source, LAMP_ITEM_EDGE, 500, true);
    expect(source, LAMP_ITEM_BREAK, 800, false);
    expect(source, LAMP_ITEM_EDGE, 2000, true);
    expect(source, LAMP_ITEM_EDGE, 2400, false);
    expect(source, LAMP_ITEM_BREAK, 3400, false);
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    lamp_source_free(source);
}
END_TEST

START_TEST(a_wave_shows_groups_and_where_the_lamp_is_out_of_view)
{
    static struct made_report made;
    make_report(&made);
    FILE *file = tmpfile();
    made.length[6].cut_after = true;
    made.length[7].cut_before = true;
    made.length[7].start_ns += 10 * MS;
    ck_assert_int_eq(lamp_report_write_edges(&made.report, file), LAMP_OK);
    char *text = read_back(file);
    ck_assert_ptr_nonnull(strstr(text, "$var integer 32 !g status_group $end"));
    /* "long" in ASCII: 6c 6f 6e 67, without the zero that it begins with. */
    ck_assert_ptr_nonnull(strstr(text, "\nb1101100011011110110111001100111 !c\n"));
    ck_assert_ptr_nonnull(strstr(text, "\nx!\n"));
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {flashes_tell_class_group_and_repeat,
                                  groups_of_a_repeat_cut_at_its_start_are_counted_from_its_end,
                                  a_break_is_read_back_as_a_break,
                                  a_wave_shows_groups_and_where_the_lamp_is_out_of_view};
    return suite_run("report_export", tests, sizeof tests / sizeof tests[0]);
}
