/* source_pin.c - A pin's changes become edges; what is lost, too short or too fast is told. */
/* layers: base source pipeline light rhythm codebook match finding fake-gpio */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "lampread/pipeline.h"
#include "support/fake_gpio.h"
#include "support/read_source.h"
#include "support/suite.h"

#define US INT64_C(1000)
#define MS (1000 * US)
#define S  (1000 * MS)

static struct lamp_source *open_pin(const struct lamp_source_rules *rules)
{
    struct lamp_source *source = NULL;
    struct lamp_error error = {.sentence = ""};
    enum lamp_err err = lamp_source_open("gpiochip0:3", rules, &source, &error);
    ck_assert_msg(err == LAMP_OK, "%s", error.sentence);
    return source;
}

static struct lamp_source *open_plain(void)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    return open_pin(&rules);
}

static struct lamp_source *open_debounced(int64_t debounce_ns)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    rules.pin.debounce_ns = debounce_ns;
    return open_pin(&rules);
}

/* The next edge, waited for at most a minute. */
static struct lamp_edge next_edge(struct lamp_source *source)
{
    struct lamp_item item;
    enum lamp_err err = LAMP_NOT_YET;
    for (int64_t end_ns = fake.now_ns + 60 * S; err == LAMP_NOT_YET && fake.now_ns < end_ns;) {
        err = lamp_source_next(source, &item, NULL);
    }
    ck_assert_int_eq(err, LAMP_OK);
    ck_assert_int_eq(item.kind, LAMP_ITEM_EDGE);
    ck_assert_uint_eq(item.lamp, 0);
    return item.edge;
}

static void expect_edge(struct lamp_source *source, int64_t t_ns, bool lit)
{
    struct lamp_edge edge = next_edge(source);
    ck_assert_int_eq(edge.t_ns, t_ns);
    ck_assert_int_eq(edge.lit, lit);
    ck_assert_int_gt(edge.sd_ns, 0);
}

static void expect_value(struct lamp_source *source, int64_t t_ns, bool lit)
{
    struct lamp_edge edge = next_edge(source);
    ck_assert_int_eq(edge.t_ns, t_ns);
    ck_assert_int_eq(edge.lit, lit);
    ck_assert_int_eq(edge.sd_ns, 0);
}

static void expect_nothing(struct lamp_source *source)
{
    struct lamp_item item;
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_NOT_YET);
}

static void close_pin(struct lamp_source *source)
{
    lamp_source_free(source);
    ck_assert_int_eq(fake.open_count, 0);
}

START_TEST(a_line_begins_with_its_value_at_time_zero)
{
    for (int lit = 0; lit <= 1; lit++) {
        fake_begin();
        fake.value = lit;
        struct lamp_source *source = open_plain();
        expect_value(source, 0, lit);
        expect_nothing(source);
        ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_PIN);
        ck_assert_uint_eq(info_of(source).frame_count, 1);
        ck_assert_uint_eq(lamp_source_lamp_count(source), 1);
        close_pin(source);
    }
}
END_TEST

START_TEST(each_change_is_an_edge_at_its_stamp)
{
    fake_begin();
    fake_event(100 * MS, true, 0);
    fake_event(300 * MS, false, 0);
    fake_event(301 * MS, true, 0);
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    expect_edge(source, 300 * MS, false);
    expect_edge(source, 301 * MS, true);
    expect_nothing(source);
    ck_assert_uint_eq(info_of(source).dropped_count, 0);
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    close_pin(source);
}
END_TEST

START_TEST(the_line_is_asked_for_as_the_rules_say)
{
    static const enum lamp_pull pulls[] = {LAMP_PULL_AS_IS, LAMP_PULL_NONE, LAMP_PULL_UP,
                                           LAMP_PULL_DOWN};
    for (size_t i = 0; i < 4; i++) {
        fake_begin();
        struct lamp_source_rules rules = lamp_source_rules_default();
        rules.pin.pull = pulls[i];
        rules.pin.is_active_low = i % 2 == 1;
        struct lamp_source *source = open_pin(&rules);
        ck_assert_uint_eq(fake.wish.offset, 3);
        ck_assert_int_eq(fake.wish.pull, pulls[i]);
        ck_assert_int_eq(fake.wish.is_active_low, i % 2 == 1);
        close_pin(source);
    }
}
END_TEST

START_TEST(a_wait_ends_when_the_rules_say)
{
    fake_begin();
    struct lamp_source_rules rules = lamp_source_rules_default();
    rules.wait_ns = 7 * MS;
    struct lamp_source *source = open_pin(&rules);
    expect_value(source, 0, false);
    int64_t before_ns = fake.now_ns;
    expect_nothing(source);
    ck_assert_int_eq(fake.now_ns - before_ns, 7 * MS);
    ck_assert_int_eq(fake.longest_wait_ns, 7 * MS);
    close_pin(source);
}
END_TEST

START_TEST(with_no_wait_events_at_hand_are_still_taken)
{
    fake_begin();
    struct lamp_source_rules rules = lamp_source_rules_default();
    rules.wait_ns = 0;
    fake_event(5 * MS, true, 0);
    struct lamp_source *source = open_pin(&rules);
    expect_value(source, 0, false);
    expect_nothing(source);
    fake.now_ns += 10 * MS;
    expect_edge(source, 5 * MS, true);
    close_pin(source);
}
END_TEST

START_TEST(a_change_while_the_value_is_read_is_taken_once)
{
    fake_begin();
    fake.read_ns = 50 * US;
    fake.value = true;
    fake_event(-10 * US, true, 0); /* before it was read */
    fake_event(20 * US, true, 0);  /* the value holds it */
    fake_event(2 * MS, false, 0);
    struct lamp_source *source = open_plain();
    expect_value(source, 0, true);
    expect_edge(source, 2 * MS, false);
    ck_assert_uint_eq(info_of(source).dropped_count, 0);
    close_pin(source);
}
END_TEST

START_TEST(a_change_missed_between_two_alike_is_told_as_lost)
{
    fake_begin();
    fake_event(100 * MS, true, 0);
    fake_event(200 * MS, true, 0);
    fake_event(300 * MS, false, 0);
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    expect_value(source, 200 * MS, true);
    expect_edge(source, 300 * MS, false);
    ck_assert_uint_eq(info_of(source).dropped_count, 1);
    ck_assert(has_warning(source, "lost, at least: 1"));
    close_pin(source);
}
END_TEST

START_TEST(a_hole_in_the_numbers_is_told_as_lost)
{
    fake_begin();
    fake.deal = (struct lamp_gpio_deal){.is_numbered = true, .queue_count = 1024};
    fake_event(100 * MS, true, 1);
    fake_event(200 * MS, false, 2);
    fake_event(900 * MS, true, 7); /* alternates all the same */
    fake_event(950 * MS, false, 8);
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    expect_edge(source, 200 * MS, false);
    expect_value(source, 900 * MS, true);
    expect_edge(source, 950 * MS, false);
    ck_assert_uint_eq(info_of(source).dropped_count, 4);
    close_pin(source);
}
END_TEST

START_TEST(numbers_go_round_without_a_loss)
{
    fake_begin();
    fake.deal = (struct lamp_gpio_deal){.is_numbered = true, .queue_count = 1024};
    fake_event(-2 * MS, true, UINT32_MAX - 1); /* only to set the number */
    fake_event(100 * MS, true, UINT32_MAX);
    fake_event(200 * MS, false, 0);
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    expect_edge(source, 200 * MS, false);
    ck_assert_uint_eq(info_of(source).dropped_count, 0);
    close_pin(source);
}
END_TEST

/* A queue of 16 that was full lost what came after: an even number shows in no other way. */
static struct lamp_source *fill_queue(void)
{
    for (int i = 0; i < 16; i++) {
        fake_event((i + 1) * MS, i % 2 == 0, 0);
    }
    struct lamp_source *source = open_plain();
    fake.now_ns += 500 * MS;
    expect_value(source, 0, false);
    for (int i = 0; i < 16; i++) {
        expect_edge(source, (i + 1) * MS, i % 2 == 0);
    }
    return source;
}

START_TEST(what_follows_a_queue_that_was_full_is_told_as_lost)
{
    fake_begin();
    struct lamp_source *source = fill_queue();
    fake_event(-1 * MS, true, 0); /* is there at once */
    expect_value(source, 499 * MS + fake.read_ns, true);
    ck_assert_uint_eq(info_of(source).dropped_count, 1);
    close_pin(source);
}
END_TEST

START_TEST(the_line_is_read_again_where_nothing_follows_a_queue_that_was_full)
{
    fake_begin();
    struct lamp_source *source = fill_queue();
    fake.value = true;
    expect_value(source, 500 * MS + fake.read_ns, true);
    expect_nothing(source);
    ck_assert_uint_eq(info_of(source).dropped_count, 1);
    ck_assert(has_warning(source, "lost, at least: 1"));
    close_pin(source);
}
END_TEST

START_TEST(two_changes_at_one_time_keep_their_order)
{
    fake_begin();
    fake_event(fake.read_ns, true, 0); /* just when the value was there */
    fake_event(100 * MS, false, 0);
    fake_event(100 * MS, true, 0);
    fake_event(100 * MS, false, 0);
    fake_event(90 * MS, true, 0); /* a stamp that runs back */
    fake_event(200 * MS, false, 0);
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    expect_edge(source, fake.read_ns, true);
    expect_edge(source, 100 * MS, false);
    expect_edge(source, 100 * MS + 1, true);
    expect_edge(source, 100 * MS + 2, false);
    expect_edge(source, 100 * MS + 3, true);
    expect_edge(source, 200 * MS, false);
    close_pin(source);
}
END_TEST

START_TEST(bounces_are_left_out_and_the_edge_is_the_first_of_them)
{
    fake_begin();
    fake_event(100 * MS, true, 0);
    fake_event(101 * MS, false, 0);
    fake_event(102 * MS, true, 0);
    fake_event(103 * MS, false, 0);
    fake_event(104 * MS, true, 0); /* stays */
    fake_event(400 * MS, false, 0);
    struct lamp_source *source = open_debounced(5 * MS);
    expect_value(source, 0, false);
    struct lamp_edge edge = next_edge(source);
    ck_assert_int_eq(edge.t_ns, 100 * MS);
    ck_assert(edge.lit);
    /* The light came on anywhere in those 4 ms. */
    ck_assert_int_le(llabs(edge.sd_ns - llround(hypot(0.02 * MS, 4 * MS / sqrt(3)))), 1);
    ck_assert_int_ge(fake.now_ns - INT64_C(3600) * S, 109 * MS); /* not before it has lasted */
    ck_assert_int_lt(fake.now_ns - INT64_C(3600) * S, 110 * MS); /* and not after that */
    edge = next_edge(source);
    ck_assert_int_eq(edge.t_ns, 400 * MS);
    ck_assert_int_eq(edge.sd_ns, 20 * US); /* as without a debounce */
    ck_assert(has_warning(source, "shorter than the debounce, left out: 2"));
    ck_assert_uint_eq(info_of(source).dropped_count, 0);
    close_pin(source);
}
END_TEST

START_TEST(a_change_that_lasts_just_as_long_as_the_debounce_is_kept)
{
    fake_begin();
    fake_event(100 * MS, true, 0);
    fake_event(105 * MS, false, 0);
    fake_event(200 * MS, true, 0);
    fake_event(205 * MS - 1, false, 0);
    struct lamp_source *source = open_debounced(5 * MS);
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    expect_edge(source, 105 * MS, false);
    for (int i = 0; i < 10; i++) {
        expect_nothing(source);
    }
    ck_assert(has_warning(source, "left out: 1"));
    close_pin(source);
}
END_TEST

START_TEST(a_bounce_too_short_to_be_read_back_is_a_bounce)
{
    fake_begin();
    fake_event(100 * MS, true, 0);
    fake_event(101 * MS, true, 0);
    fake_event(300 * MS, true, 0);
    struct lamp_source *source = open_debounced(5 * MS);
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    for (int i = 0; i < 10; i++) {
        expect_nothing(source);
    }
    ck_assert_uint_eq(info_of(source).dropped_count, 0);
    ck_assert(has_warning(source, "left out: 2"));
    close_pin(source);
}
END_TEST

/* The flashes of a lamp dimmed by switching at 1 kHz, 100 ms each. */
START_TEST(a_line_that_does_not_come_to_rest_is_not_known_until_it_does)
{
    fake_begin();
    for (int flash = 0; flash < 2; flash++) {
        for (int i = 0; i < 200; i++) {
            fake_event((500 + 400 * flash) * MS + i * 500 * US, i % 2 == 0, 0);
        }
    }
    struct lamp_source *source = open_debounced(2 * MS);
    expect_value(source, 0, false);
    for (int flash = 0; flash < 2; flash++) {
        for (int i = 0; fake.now_ns < INT64_C(3600) * S + (545 + 400 * flash) * MS; i++) {
            expect_nothing(source);
            ck_assert_double_le(info_of(source).duration_s, 0.5 + 0.4 * flash + 1e-9);
        }
        expect_value(source, (500 + 400 * flash) * MS + 199 * 500 * US, false);
    }
    ck_assert(has_warning(source, "did not come to rest between its changes: 2"));
    close_pin(source);
}
END_TEST

START_TEST(numbered_events_are_debounced_alike)
{
    fake_begin();
    fake.deal = (struct lamp_gpio_deal){.is_numbered = true, .queue_count = 1024};
    fake_event(100 * MS, true, 1);
    fake_event(101 * MS, false, 2);
    fake_event(102 * MS, true, 3);
    fake_event(300 * MS, true, 6); /* two were lost */
    fake_event(400 * MS, false, 7);
    struct lamp_source *source = open_debounced(5 * MS);
    expect_value(source, 0, false);
    expect_edge(source, 100 * MS, true);
    expect_value(source, 300 * MS, true);
    expect_edge(source, 400 * MS, false);
    ck_assert(has_warning(source, "lost, at least: 2"));
    close_pin(source);
}
END_TEST

/* 100 kHz: as many events as are asked for, whenever they are asked for. */
START_TEST(a_storm_is_told_and_does_not_hold_anyone_up)
{
    for (int debounced = 0; debounced <= 1; debounced++) {
        fake_begin();
        struct lamp_source *source = open_debounced(debounced * 5 * MS);
        expect_value(source, 0, false);
        fake.is_storm = true;
        fake.storm_ns = 5 * US;
        struct lamp_item item;
        for (int i = 0; i < 20000; i++) {
            int64_t before_ns = fake.now_ns;
            enum lamp_err err = lamp_source_next(source, &item, NULL);
            ck_assert(err == LAMP_OK || (debounced && err == LAMP_NOT_YET));
            ck_assert_int_le(fake.now_ns - before_ns, 51 * MS);
        }
        ck_assert(has_warning(source, "too fast for a lamp"));
        close_pin(source);
    }
}
END_TEST

START_TEST(a_fast_lamp_is_no_storm)
{
    fake_begin();
    for (int i = 0; i < 1000; i++) { /* 50 flashes a second */
        fake_event((i + 1) * 10 * MS, i % 2 == 0, 0);
    }
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    for (int i = 0; i < 1000; i++) {
        expect_edge(source, (i + 1) * 10 * MS, i % 2 == 0);
    }
    ck_assert_ptr_null(lamp_source_warning(source, 0));
    close_pin(source);
}
END_TEST

START_TEST(a_chip_that_goes_away_says_what_to_do)
{
    fake_begin();
    struct lamp_source *source = open_plain();
    expect_value(source, 0, false);
    fake.gone_ns = fake.now_ns + 10 * MS;
    for (int i = 0; i < 2; i++) {
        struct lamp_item item;
        struct lamp_error error = {.sentence = ""};
        ck_assert_int_eq(lamp_source_next(source, &item, &error), LAMP_BAD_SOURCE);
        ck_assert_str_eq(error.place, "gpiochip0:3");
        ck_assert_ptr_nonnull(strstr(error.sentence, "plug it in and begin again"));
    }
    close_pin(source);
}
END_TEST

/* Read for 20 s, as a command would. @return the report, borrowed from the reader. */
static const struct lamp_report *report_of(struct lamp_source *source, struct lamp_reader **reader)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    const struct lamp_report *report = NULL;
    ck_assert_int_eq(lamp_reader_new(&rules, reader, NULL), LAMP_OK);
    for (int64_t end_ns = fake.now_ns + 20 * S; fake.now_ns < end_ns;) {
        enum lamp_err err = lamp_reader_step(*reader, source, NULL);
        ck_assert(err == LAMP_OK || err == LAMP_NOT_YET);
    }
    ck_assert_int_eq(lamp_reader_report(*reader, source, &report), LAMP_OK);
    return report;
}

START_TEST(a_steady_line_is_lit_or_dark_for_as_long_as_it_was_watched)
{
    for (int lit = 0; lit <= 1; lit++) {
        fake_begin();
        fake.value = lit;
        struct lamp_source *source = open_plain();
        struct lamp_reader *reader = NULL;
        const struct lamp_report *report = report_of(source, &reader);
        ck_assert_double_eq_tol(report->source.duration_s, 20, 0.1);
        ck_assert_uint_eq(report->lamp_count, 1);
        ck_assert_int_eq(report->lamp[0].match.verdict,
                         lit ? LAMP_VERDICT_STEADY_ON : LAMP_VERDICT_STEADY_OFF);
        ck_assert_uint_eq(report->lamp[0].length_count, 1);
        ck_assert_int_ge(report->lamp[0].length[0].ns, 19900 * MS);
        lamp_reader_free(reader);
        close_pin(source);
    }
}
END_TEST

START_TEST(a_line_that_lost_a_pulse_is_not_called_steady)
{
    fake_begin();
    fake.value = true;
    fake_event(5 * S, true, 0);
    struct lamp_source *source = open_plain();
    struct lamp_reader *reader = NULL;
    const struct lamp_report *report = report_of(source, &reader);
    ck_assert_int_eq(report->lamp[0].match.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_uint_eq(report->source.dropped_count, 1);
    for (size_t i = 0; i < report->warning_count; i++) {
        ck_assert_ptr_null(strstr(report->warning[i], "frames"));
    }
    ck_assert_uint_eq(report->warning_count, 1);
    lamp_reader_free(reader);
    close_pin(source);
}
END_TEST

START_TEST(a_blinking_line_is_read_as_a_blink)
{
    fake_begin();
    for (int i = 0; i < 80; i++) {
        fake_event(123 * MS + i * 250 * MS, i % 2 == 0, 0);
    }
    struct lamp_source *source = open_plain();
    struct lamp_reader *reader = NULL;
    const struct lamp_report *report = report_of(source, &reader);
    ck_assert_int_eq(report->lamp[0].match.verdict, LAMP_VERDICT_BLINK);
    ck_assert_double_eq_tol(report->lamp[0].rhythm.rate_hz, 2, 0.01);
    lamp_reader_free(reader);
    close_pin(source);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_line_begins_with_its_value_at_time_zero,
        each_change_is_an_edge_at_its_stamp,
        the_line_is_asked_for_as_the_rules_say,
        a_wait_ends_when_the_rules_say,
        with_no_wait_events_at_hand_are_still_taken,
        a_change_while_the_value_is_read_is_taken_once,
        a_change_missed_between_two_alike_is_told_as_lost,
        a_hole_in_the_numbers_is_told_as_lost,
        numbers_go_round_without_a_loss,
        what_follows_a_queue_that_was_full_is_told_as_lost,
        the_line_is_read_again_where_nothing_follows_a_queue_that_was_full,
        two_changes_at_one_time_keep_their_order,
        bounces_are_left_out_and_the_edge_is_the_first_of_them,
        a_change_that_lasts_just_as_long_as_the_debounce_is_kept,
        a_bounce_too_short_to_be_read_back_is_a_bounce,
        a_line_that_does_not_come_to_rest_is_not_known_until_it_does,
        numbered_events_are_debounced_alike,
        a_storm_is_told_and_does_not_hold_anyone_up,
        a_fast_lamp_is_no_storm,
        a_chip_that_goes_away_says_what_to_do,
        a_steady_line_is_lit_or_dark_for_as_long_as_it_was_watched,
        a_line_that_lost_a_pulse_is_not_called_steady,
        a_blinking_line_is_read_as_a_blink,
    };
    return suite_run("pin", tests, sizeof tests / sizeof tests[0]);
}
