/* codebook_books.c - The shipped books can be read, say where their facts come from, and clash only
 * where they must. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/codebook.h"
#include "support/suite.h"

#define MS(x) ((int64_t)(x)*1000000)

#define FOLDER LAMP_PROJECT_DIR "/codebooks/"

static struct lamp_book *open_book(const char *id)
{
    char path[512];
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    snprintf(path, sizeof path, FOLDER "%s.yaml", id);
    ck_assert_msg(lamp_book_open(path, &book, &error) == LAMP_OK, "%s: %s", error.place,
                  error.sentence);
    return book;
}

static const struct lamp_code *code_of(const struct lamp_book *book, const char *id)
{
    for (size_t i = 0; i < book->code_count; i++) {
        if (strcmp(book->code[i].id, id) == 0) {
            return &book->code[i];
        }
    }
    ck_abort_msg("%s has no %s", book->id, id);
    return NULL;
}

START_TEST(every_file_in_the_folder_is_a_book_called_like_its_file)
{
    int count = 0;
    DIR *folder = opendir(FOLDER);
    ck_assert_ptr_nonnull(folder);
    for (struct dirent *entry; (entry = readdir(folder)) != NULL;) {
        char *end = strstr(entry->d_name, ".yaml");
        if (end == NULL) {
            continue;
        }
        *end = '\0';
        struct lamp_book *book = open_book(entry->d_name);
        ck_assert_str_eq(book->id, entry->d_name);
        lamp_book_free(book);
        count++;
    }
    (void)closedir(folder);
    ck_assert_int_ge(count, 14);
}
END_TEST

static const char *const published[] = {"canopen",       "cip",        "drive-bay", "ethercat",
                                        "iec-60073",     "ieee-p1621", "j1939",     "linux-leds",
                                        "marine-lights", "picmg-3-0",  "profinet",  "un-reg-48"};

START_TEST(each_published_entry_names_its_standard_and_how_it_was_read)
{
    struct lamp_book *book = open_book(published[_i]);
    for (size_t i = 0; i < book->code_count; i++) {
        const char *basis = book->code[i].basis;
        ck_assert_msg(basis != NULL, "%s: %s", book->id, book->code[i].id);
        ck_assert_msg(strstr(basis, "read in the primary text") != NULL ||
                          strstr(basis, "read in a restatement") != NULL ||
                          strstr(basis, "arithmetic from") != NULL,
                      "%s: %s: %s", book->id, book->code[i].id, basis);
    }
    lamp_book_free(book);
}
END_TEST

static const char *const invented[] = {"heron-h1", "plover-p2"};

START_TEST(each_invented_board_is_marked_and_has_a_full_set_of_codes)
{
    struct lamp_book *book = open_book(invented[_i]);
    bool has_kind[LAMP_PATTERN_FLICKER + 1] = {false};
    ck_assert_ptr_nonnull(strstr(book->board, "(invented)"));
    ck_assert_ptr_nonnull(strstr(book->source, "invented"));
    ck_assert_uint_ge(book->code_count, 12);
    ck_assert_uint_ge(book->finding_count, 4);
    for (size_t i = 0; i < book->code_count; i++) {
        has_kind[book->code[i].pattern.kind] = true;
    }
    for (int kind = LAMP_PATTERN_GROUPS; kind <= LAMP_PATTERN_FLICKER; kind++) {
        ck_assert_msg(has_kind[kind], "%s has no pattern of kind %d", book->id, kind);
    }
    lamp_book_free(book);
}
END_TEST

/* Entries and the sequences of the published rows, lit/dark by turns, ms. Basis: R is a restatement
 * of the standard, P its primary text, D arithmetic from the row. */
static const struct {
    const char *book;
    const char *id;
    size_t count;
    int ms[16];
} rows[] = {
    /* CiA 303-3 (R) and ETG.1300 (R). */
    {"canopen", "run-flickering", 2, {50, 50}},
    {"canopen", "run-blinking", 2, {200, 200}},
    {"canopen", "run-single-flash", 2, {200, 1000}},
    {"canopen", "err-double-flash", 4, {200, 200, 200, 1000}},
    {"canopen", "run-triple-flash", 6, {200, 200, 200, 200, 200, 1000}},
    {"canopen", "err-quadruple-flash", 8, {200, 200, 200, 200, 200, 200, 200, 1000}},
    {"ethercat", "err-double-flash", 4, {200, 200, 200, 1000}},
    {"ethercat", "run-single-flash", 2, {200, 1000}},
    /* SFF-8489 (R, half lit assumed). */
    {"drive-bay", "locate", 2, {125, 125}},
    {"drive-bay", "activity", 2, {125, 125}},
    {"drive-bay", "rebuild", 2, {500, 500}},
    /* IEEE P1621 draft, CIP, PROFINET, PICMG 3.0 (R), SAE J1939-73 (R, duty from memory). */
    {"ieee-p1621", "brief-flash", 2, {100, 1900}},
    {"cip", "flashing", 2, {500, 500}},
    {"profinet", "bus-fault", 2, {250, 250}},
    {"profinet", "signal", 2, {500, 500}},
    {"picmg-3-0", "deactivation", 2, {100, 900}},
    {"picmg-3-0", "activation", 2, {900, 100}},
    {"j1939", "slow", 2, {500, 500}},
    {"j1939", "fast", 2, {250, 250}},
    /* IALA R0110 (R). */
    {"marine-lights", "mo-a-7s", 4, {500, 500, 1500, 4500}},
    {"marine-lights", "iso-10s", 2, {5000, 5000}},
    {"marine-lights", "oc-2-1-12s", 6, {1000, 1000, 4000, 1000, 4000, 1000}},
    /* Linux and U-Boot (P). */
    {"linux-leds", "timer", 2, {500, 500}},
    {"linux-leds", "u-boot", 2, {500, 500}},
    {"linux-leds", "activity-idle", 2, {10, 990}},
    {"linux-leds", "activity-half", 2, {10, 90}},
    {"linux-leds", "activity-full", 2, {90, 10}},
    {"linux-leds", "panic", 2, {200, 200}},
    {"linux-leds", "disk-sustained", 2, {30, 30}},
    {"linux-leds", "network-sustained", 2, {50, 50}},
};

START_TEST(a_published_entry_plays_the_published_sequence)
{
    struct lamp_book *book = open_book(rows[_i].book);
    const struct lamp_code *code = code_of(book, rows[_i].id);
    ck_assert_uint_eq(code->wave.count, rows[_i].count);
    for (size_t i = 0; i < rows[_i].count; i++) {
        ck_assert_int_eq(code->wave.length_ns[i], MS(rows[_i].ms[i]));
    }
    lamp_book_free(book);
}
END_TEST

/* Linux kernel, ledtrig-heartbeat (P): period = 300 + floor(6720 x 2048 / (5 x load x 2048 + 7 x
 * 2048)) ms; 70 lit, period / 4 - 70 dark, 70 lit, the rest dark. */
START_TEST(the_heartbeat_follows_the_kernel_formula)
{
    static const int loads[] = {0, 1, 5};
    struct lamp_book *book = open_book("linux-leds");
    char id[32];
    snprintf(id, sizeof id, "heartbeat-load-%d", loads[_i]);
    const struct lamp_code *code = code_of(book, id);
    int period = 300 + 6720 * 2048 / (5 * loads[_i] * 2048 + 7 * 2048);
    int dark = period / 4 - 70;
    ck_assert_uint_eq(code->wave.count, 4);
    ck_assert_int_eq(code->wave.length_ns[0], MS(70));
    ck_assert_int_eq(code->wave.length_ns[1], MS(dark));
    ck_assert_int_eq(code->wave.length_ns[2], MS(70));
    ck_assert_int_eq(code->wave.length_ns[3], MS(period - dark - 140));
    lamp_book_free(book);
}
END_TEST

/* Rates given as a range: both ends must lie within one scale by the tolerance. IEC 60073 and UN
 * Reg. 48 (R), IALA (R). */
static const struct {
    const char *book;
    const char *id;
    double least_hz;
    double most_hz;
} ranges[] = {
    {"iec-60073", "normal-flashing", 1.4, 2.8},
    {"iec-60073", "slow-flashing", 0.4, 0.8},
    {"un-reg-48", "direction-indicator", 1.0, 2.0},
    {"marine-lights", "quick", 50 / 60.0, 80 / 60.0},
    {"marine-lights", "very-quick", 80 / 60.0, 160 / 60.0},
    {"marine-lights", "ultra-quick", 160 / 60.0, 300 / 60.0},
};

START_TEST(a_tolerance_covers_the_range_of_rates_and_little_more)
{
    struct lamp_book *book = open_book(ranges[_i].book);
    const struct lamp_code *code = code_of(book, ranges[_i].id);
    double nominal = code->pattern.rate_hz;
    ck_assert_double_ge(nominal * (1 + code->tolerance), ranges[_i].most_hz);
    ck_assert_double_le(nominal / (1 + code->tolerance), ranges[_i].least_hz);
    ck_assert_double_le(nominal * (1 + code->tolerance), ranges[_i].most_hz * 1.02);
    ck_assert_double_ge(nominal / (1 + code->tolerance), ranges[_i].least_hz * 0.98);
    lamp_book_free(book);
}
END_TEST

/* All clashes inside shipped books, at a camera's usual 30 frames a second: each is in the
 * published numbers. */
static const char *const clashing[][3] = {
    {"linux-leds", "timer", "u-boot"}, /* both 500/500 */
    {"linux-leds", "disk-sustained",
     "network-sustained"},                    /* 30/30 and 50/50: 20 ms apart, 30/30 too quick */
    {"marine-lights", "quick", "very-quick"}, /* both hold 80 a minute */
    {"marine-lights", "very-quick", "ultra-quick"}, /* both hold 160 a minute */
};

static bool is_expected(const char *book, const struct lamp_clash *clash)
{
    for (size_t i = 0; i < sizeof clashing / sizeof clashing[0]; i++) {
        if (strcmp(clashing[i][0], book) == 0 && strcmp(clashing[i][1], clash->a->id) == 0 &&
            strcmp(clashing[i][2], clash->b->id) == 0) {
            return true;
        }
    }
    return false;
}

START_TEST(shipped_books_clash_only_where_the_published_numbers_do)
{
    static const char *const books[] = {"canopen",       "cip",        "drive-bay", "ethercat",
                                        "iec-60073",     "ieee-p1621", "j1939",     "linux-leds",
                                        "marine-lights", "picmg-3-0",  "profinet",  "un-reg-48",
                                        "heron-h1",      "plover-p2"};
    size_t found = 0;
    for (size_t i = 0; i < sizeof books / sizeof books[0]; i++) {
        struct lamp_book *book = open_book(books[i]);
        struct lamp_clash clash[16];
        size_t count = lamp_book_clashes(book, 30, clash, 16);
        ck_assert_uint_le(count, 16);
        for (size_t k = 0; k < count; k++) {
            ck_assert_msg(is_expected(books[i], &clash[k]), "%s: %s ~ %s", books[i], clash[k].a->id,
                          clash[k].b->id);
        }
        found += count;
        lamp_book_free(book);
    }
    ck_assert_uint_eq(found, sizeof clashing / sizeof clashing[0]);
}
END_TEST

/* Two patterns, the tolerance in per cent, the frame rate, and whether they clash. */
static const struct {
    const char *a;
    const char *b;
    int percent;
    double rate_hz;
    bool clash;
} pairs[] = {
    {"steady on", "steady on", 25, 30, true},
    {"steady on", "steady off", 25, 30, false},
    {"flicker", "flicker", 25, 30, true},
    {"flicker", "blink 1 Hz", 25, 30, false},
    {"blink 2.5 Hz", "on 200 ms, off 200 ms", 5, 0, true},
    {"blink 2.5 Hz", "on 100 ms, off 300 ms", 25, 30, false},
    {"blink 1 Hz", "blink 2 Hz", 25, 30, false},
    {"blink 1 Hz", "blink 1.1 Hz", 25, 30, true},
    {"blink 1 Hz", "blink 1.1 Hz", 1, 240, false},
    {"4 short", "5 short", 25, 30, false},
    {"2 long 3 short", "3 short 2 long", 25, 0, false}, /* the rest tells where they begin */
    {"on 200 ms, off 200 ms, on 600 ms, off 900 ms", "on 600 ms, off 900 ms, on 200 ms, off 200 ms",
     5, 0, true},
    {"2 short, pause, 2 short", "2 short", 5, 0, false},
    {"on 200 ms, off 1 s, on 200 ms, off 1.1 s", "on 200 ms, off 1 s", 25, 30, true},
    {"on 1 s, off 1 s, on 1 s, off 1 s", "blink 0.5 Hz", 1, 0,
     true}, /* the same light, written twice as long */
    {"1 long", "1 short", 25, 30, false},
    {"morse T", "on 600 ms, off 1400 ms", 1, 0, true},
    {"blink 20 Hz", "blink 40 Hz", 5, 30, true}, /* both too quick for the camera */
    {"blink 20 Hz", "blink 40 Hz", 5, 240, false},
};

START_TEST(two_entries_clash_as_their_light_says)
{
    char text[1024];
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    snprintf(text, sizeof text,
             "book: b\nboard: B\nsource: s\ntiming: {short: 200 ms, long: 600 ms, gap: 200 ms, "
             "pause: 700 ms, rest: 1800 ms, "
             "tolerance: %d %%}\ncodes:\n- {id: a, pattern: \"%s\", means: A}\n- {id: b, pattern: "
             "\"%s\", means: B}\n",
             pairs[_i].percent, pairs[_i].a, pairs[_i].b);
    ck_assert_msg(lamp_book_parse(text, strlen(text), "b", &book, &error) == LAMP_OK, "%s",
                  error.sentence);
    struct lamp_clash clash = {NULL, NULL};
    ck_assert_msg((lamp_book_clashes(book, pairs[_i].rate_hz, &clash, 1) == 1) == pairs[_i].clash,
                  "%s ~ %s", pairs[_i].a, pairs[_i].b);
    ck_assert(!pairs[_i].clash || (strcmp(clash.a->id, "a") == 0 && strcmp(clash.b->id, "b") == 0));
    lamp_book_free(book);
}
END_TEST

START_TEST(entries_of_two_lamps_do_not_clash_and_one_of_any_lamp_does)
{
    static const char text[] = "book: b\nboard: B\nsource: s\nlamps: {p: {}, q: {}}\ncodes:\n"
                               "- {id: a, lamp: p, pattern: steady on, means: A}\n- {id: b, lamp: "
                               "q, pattern: steady on, means: B}\n"
                               "- {id: c, pattern: steady on, means: C}\n";
    struct lamp_book *book = NULL;
    struct lamp_clash clash[1];
    ck_assert_int_eq(lamp_book_parse(text, strlen(text), "b", &book, NULL), LAMP_OK);
    ck_assert_uint_eq(lamp_book_clashes(book, 30, clash, 1), 2);
    ck_assert_str_eq(clash[0].a->id, "a");
    ck_assert_str_eq(clash[0].b->id, "c");
    lamp_book_free(book);
}
END_TEST

#define COUNT(table) (int)(sizeof(table) / sizeof(table)[0])

int main(void)
{
    TCase *tests = suite_begin("codebook_books");
    tcase_add_test(tests, every_file_in_the_folder_is_a_book_called_like_its_file);
    tcase_add_loop_test(tests, each_published_entry_names_its_standard_and_how_it_was_read, 0,
                        COUNT(published));
    tcase_add_loop_test(tests, each_invented_board_is_marked_and_has_a_full_set_of_codes, 0,
                        COUNT(invented));
    tcase_add_loop_test(tests, a_published_entry_plays_the_published_sequence, 0, COUNT(rows));
    tcase_add_loop_test(tests, the_heartbeat_follows_the_kernel_formula, 0, 3);
    tcase_add_loop_test(tests, a_tolerance_covers_the_range_of_rates_and_little_more, 0,
                        COUNT(ranges));
    tcase_add_test(tests, shipped_books_clash_only_where_the_published_numbers_do);
    tcase_add_loop_test(tests, two_entries_clash_as_their_light_says, 0, COUNT(pairs));
    tcase_add_test(tests, entries_of_two_lamps_do_not_clash_and_one_of_any_lamp_does);
    return suite_end();
}
