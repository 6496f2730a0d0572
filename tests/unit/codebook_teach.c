/* codebook_teach.c - A draft taken into a book changes its entry and no other byte; what cannot be
 * taken is refused. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "lampread/teach.h"
#include "support/scratch.h"
#include "support/suite.h"

#define MS(x) ((int64_t)(x)*1000000)

/* The parts that the table of broken books is made of. */
#define HEAD   "book: b\nboard: B\nsource: ours\n"
#define LAMPS  "lamps: {power: {colour: red}, status: {}}\n"
#define TIMING "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms}\n"
#define CODE   "- {id: a, lamp: status, pattern: 1 short, means: A}\n"
#define CODES  "codes:\n" CODE
#define WHOLE  HEAD LAMPS TIMING CODES

/* And those of the books that are taught. */
#define TOP   HEAD "lamps:\n  status: {colour: green}   # the green one\n  power: {}\n" TIMING
#define ENTRY "  - {id: a, lamp: status, pattern: 1 short, means: A}\n"

static const char *const suspects[] = {"memory, \"fast\"", "yes", "- dash", "1e3"};

/* Two long, one short, on lamp `lamp`. */
static struct lamp_draft draft_of(const char *id, const char *lamp)
{
    struct lamp_draft draft = {
        .id = id,
        .lamp = lamp,
        .colour = LAMP_COLOUR_RED,
        .timing = {.short_ns = MS(210), .long_ns = MS(630), .gap_ns = MS(190), .rest_ns = MS(1750)},
        .taught = {1, MS(2)},
        .means = "Memory: test #2 failed, see \\ 'page' 4 \xc2\xb5",
        .basis = "taught from x.mp4",
        .suspect = {4, suspects},
        .check = {2, suspects}};
    ck_assert_int_eq(lamp_pattern_parse("2 long 1 short", &draft.pattern, NULL, NULL), LAMP_OK);
    return draft;
}

static struct lamp_teaching add(const char *text, const struct lamp_draft *draft)
{
    struct lamp_teaching teaching = {0};
    struct lamp_error error = {0};
    enum lamp_err err = lamp_book_add(text, strlen(text), "b.yaml", draft, &teaching, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s: %s", text, error.place, error.sentence);
    return teaching;
}

static struct lamp_error refused(const char *text, const struct lamp_draft *draft,
                                 enum lamp_err expected)
{
    struct lamp_teaching teaching = {0};
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_book_add(text, strlen(text), "b.yaml", draft, &teaching, &error),
                     expected);
    ck_assert_ptr_null(teaching.text);
    ck_assert_ptr_null(teaching.book);
    return error;
}

/* Books in many hands; all but the first keep every byte. */
static const char *const forms[] = {
    TOP "codes: []\n",
    TOP "codes:\n" ENTRY,
    TOP "codes:\n- id: a\n  pattern: 1 short\n  means: A\n",
    TOP "codes:\n" ENTRY "    # of that entry\n  # of the next\nfindings: []\n",
    TOP "codes:\n" ENTRY "# the end",
    TOP "codes:\n  - {id: a, pattern: 1 short, means: A}",
    TOP
    "codes:\n  - id: a\n    pattern: 1 short\n    means: >\n      A and\n      so on\n\n# end\n",
    TOP "codes:\n  - id: a\n    pattern: 1 short\n    means: |\n      A\n  # between\n"
        "  - id: z\n    pattern: 3 short\n    means: 'it''s'   # said\nfindings:\n"
        "- when: {status: a}\n  suspect: x\n",
    TOP "codes: [{id: a, pattern: 1 short, means: A}, # one\n  {id: z, pattern: 3 short, means: "
        "Z}\n  ]\n",
    "{book: b, board: B, source: s, timing: {short: 1 s, long: 3 s, gap: 1 s, pause: 3 s, rest: 7 "
    "s}, "
    "codes: [], lamps: {status: {}}}\n",
    "\xef\xbb\xbf" TOP "codes:\n" ENTRY,
    "# first\n---\n" TOP "codes:\n" ENTRY "...\n",
    TOP "codes:\n  - &x {id: a, pattern: 1 short, means: A}\n  - {id: z, pattern: flicker, means: "
        "Z, check: &l [b]}\n"
        "  - {id: y, pattern: 4 short, means: Y, check: *l}\n",
    TOP "codes:\n  -\n    id: a\n    pattern: 1 short\n    means: A\n",
};

/* Whether `now` is `was` with bytes put in at one place. */
static bool is_one_insertion(const char *was, const char *now)
{
    size_t length = strlen(was);
    size_t front = 0;
    size_t back = 0;
    while (front < length && was[front] == now[front]) {
        front++;
    }
    while (back < length && was[length - 1 - back] == now[strlen(now) - 1 - back]) {
        back++;
    }
    return front + back >= length;
}

START_TEST(an_entry_is_added_and_no_other_byte_changes)
{
    const char *text = forms[_i];
    struct lamp_draft draft = draft_of("new", "status");
    struct lamp_teaching teaching = add(text, &draft);
    bool is_empty = strstr(text, "codes: []\n") != NULL;
    ck_assert_msg(is_empty || is_one_insertion(text, teaching.text), "%s", teaching.text);
    ck_assert_int_eq(teaching.taking, LAMP_TAKING_ADDED);
    ck_assert_str_eq(teaching.code->id, "new");
    ck_assert_str_eq(teaching.code->means, draft.means);
    ck_assert_uint_eq(teaching.code->suspect.count, 4);
    ck_assert_str_eq(teaching.code->suspect.at[0], suspects[0]);
    ck_assert_int_eq(teaching.code->timing.long_ns, MS(630));
    ck_assert_uint_eq(teaching.code->taught.recordings, 1);
    ck_assert_int_eq(teaching.code->taught.sd_ns, MS(2));
    ck_assert(!teaching.adds_lamp);
    lamp_teaching_fini(&teaching);
}
END_TEST

START_TEST(lines_that_end_with_carriage_returns_get_more_of_the_kind)
{
    struct lamp_draft draft = draft_of("new", NULL);
    struct lamp_teaching teaching = add(
        "book: b\r\nboard: B\r\nsource: s\r\ncodes:\r\n- {id: a, pattern: flicker, means: A}\r\n",
        &draft);
    for (const char *at = teaching.text; (at = strchr(at, '\n')) != NULL; at++) {
        ck_assert(at[-1] == '\r');
    }
    lamp_teaching_fini(&teaching);
}
END_TEST

START_TEST(a_lamp_that_the_book_lacks_is_named_before_the_codes)
{
    struct lamp_draft draft = draft_of("new", "fault");
    struct lamp_teaching teaching = add(TOP "codes:\n" ENTRY, &draft);
    ck_assert(teaching.adds_lamp);
    ck_assert_ptr_nonnull(strstr(teaching.text, "  power: {}\n  fault: {colour: red}\ntiming"));
    ck_assert_int_eq(teaching.book->lamp[2].colour, LAMP_COLOUR_RED);
    lamp_teaching_fini(&teaching);
    teaching =
        add(HEAD TIMING "# the codes\ncodes:\n- {id: a, pattern: 1 short, means: A}\n", &draft);
    ck_assert_ptr_nonnull(
        strstr(teaching.text, "}\nlamps:\n  fault: {colour: red}\n# the codes\n"));
    lamp_teaching_fini(&teaching);
}
END_TEST

/* Whoever names the flashes of the book names these too. */
START_TEST(flashes_of_one_length_are_called_as_the_book_calls_them)
{
    struct lamp_draft draft = draft_of("new", "status");
    ck_assert_int_eq(lamp_pattern_parse("2 short", &draft.pattern, NULL, NULL), LAMP_OK);
    draft.timing =
        (struct lamp_timing){.short_ns = MS(590), .gap_ns = MS(600), .rest_ns = MS(2000)};
    struct lamp_teaching teaching = add(TOP "codes:\n" ENTRY, &draft);
    ck_assert_ptr_nonnull(strstr(teaching.text, "pattern: 2 long\n"));
    ck_assert_int_eq(teaching.code->wave.length_ns[0], MS(590));
    lamp_teaching_fini(&teaching);
}
END_TEST

/* A gap longer than the book's pause cannot stand in notation beside it. */
START_TEST(lengths_at_odds_with_the_book_are_written_one_by_one)
{
    struct lamp_draft draft = draft_of("new", "status");
    draft.timing = (struct lamp_timing){
        .short_ns = MS(300), .long_ns = MS(900), .gap_ns = MS(800), .rest_ns = MS(3000)};
    struct lamp_teaching teaching = add(TOP "codes:\n" ENTRY, &draft);
    ck_assert_int_eq(teaching.code->pattern.kind, LAMP_PATTERN_EXACT);
    ck_assert_int_eq(teaching.code->wave.length_ns[1], MS(800));
    lamp_teaching_fini(&teaching);
}
END_TEST

#define TAUGHT                                                                          \
    TOP "codes:\n  - id: new   # mine\n    lamp: status\n    pattern: 2 long 1 short\n" \
        "    timing: {short: 200 ms, long: 600 ms, gap: 200 ms, rest: 1.8 s}\n"         \
        "    means: N\n    taught: {recordings: 3, sd: 2 ms}   # of the shop\n" ENTRY

/* By hand: each mean has the variance sd^2 + (1 % of it)^2 / recordings; 600 ms: 16 of the book,
 * 43.7 of the draft's 630 ms; so 600 + 30 * 16 / (16 + 43.7) = 608.04 ms. */
START_TEST(lengths_are_combined_by_what_is_known_of_them)
{
    struct lamp_draft draft = draft_of("new", "status");
    draft.means = NULL;
    struct lamp_teaching teaching = add(TAUGHT, &draft);
    ck_assert_int_eq(teaching.taking, LAMP_TAKING_REFINED);
    ck_assert_uint_eq(teaching.code->taught.recordings, 4);
    ck_assert_int_eq(teaching.code->timing.long_ns, MS(608));
    ck_assert_int_lt(teaching.code->taught.sd_ns, MS(2));
    ck_assert_ptr_nonnull(strstr(teaching.text, "  - id: new   # mine\n"));
    ck_assert_ptr_nonnull(strstr(teaching.text, "}   # of the shop\n" ENTRY));
    lamp_teaching_fini(&teaching);
}
END_TEST

START_TEST(an_entry_written_by_hand_takes_the_measured_lengths)
{
    struct lamp_draft draft = draft_of("new", "status");
    draft.means = NULL;
    struct lamp_teaching teaching =
        add(TOP "codes:\n  - {id: new, pattern: 2 long 1 short, means: N}\n", &draft);
    ck_assert_int_eq(teaching.code->timing.gap_ns, MS(190));
    ck_assert_uint_eq(teaching.code->taught.recordings, 1);
    ck_assert_ptr_nonnull(
        strstr(teaching.text,
               "means: N, timing: {short: 210 ms, long: 630 ms, gap: 190 ms, rest: 1.75 s}, "
               "taught: {recordings: 1, sd: 2 ms}}\n"));
    lamp_teaching_fini(&teaching);
}
END_TEST

static const struct {
    const char *text;
    const char *id;
    const char *lamp;
    const char *means;
    const char *begins;
} refusals[] = {
    {TAUGHT, "new", "power", NULL, "'new' (line 9) is a code of lamp 'status', not of 'power'"},
    {TAUGHT, "new", "status", "Other", "'new' (line 9) means 'N'; expected another --id"},
    {TAUGHT, "a", "status", NULL,
     "'a' (line 15) has another pattern than the light, which is 2 long"},
    {TAUGHT, "New", "status", "N", "'New' is not an id, expected"},
    {TAUGHT, "next", "status", "two\nlines", "means holds a control character or a line break"},
    {TAUGHT, "next", "status", "\xff", "means is not UTF-8"},
    {TAUGHT, "next", "status", " ", "means is blank, expected text"},
    {TAUGHT, "next", "status", NULL, "a new code has no meaning"},
    {TAUGHT, "next", "Status", "N", "'Status' is not a lamp's name"},
    {TOP "codes:\n- {id: z, pattern: 1 short, means: Z, timing: &t {short: 200 ms, gap: 200 ms}}\n"
         "- {id: new, pattern: 2 long 1 short, means: N, timing: *t}\n",
     "new", NULL, NULL, "what would change is shared by an alias"},
    {TOP "codes:\n- {id: new, pattern: 2 long 1 short, means: N, timing: &t {short: 205 ms}}\n"
         "- {id: z, pattern: 1 short, means: Z, timing: *t}\n",
     "new", NULL, NULL, "the book is written in a way that cannot be extended here"},
};

START_TEST(what_gainsays_the_book_is_refused)
{
    struct lamp_draft draft = draft_of(refusals[_i].id, refusals[_i].lamp);
    draft.means = refusals[_i].means;
    struct lamp_error error = refused(refusals[_i].text, &draft, LAMP_BAD_USE);
    ck_assert_msg(strncmp(error.sentence, refusals[_i].begins, strlen(refusals[_i].begins)) == 0,
                  "%s", error.sentence);
}
END_TEST

static const struct {
    const char *text;
    const char *place;
    const char *sentence;
} broken[] = {
#include "codebook_broken.h"
};

START_TEST(nothing_is_taught_to_a_broken_book)
{
    struct lamp_draft draft = draft_of("new", "status");
    struct lamp_error error = refused(broken[_i].text, &draft, LAMP_BAD_BOOK);
    ck_assert_str_eq(error.place, broken[_i].place);
    ck_assert_str_eq(error.sentence, broken[_i].sentence);
}
END_TEST

START_TEST(a_clash_names_the_other_entry)
{
    struct lamp_draft draft = draft_of("next", "status");
    struct lamp_teaching teaching = add(TAUGHT, &draft);
    const struct lamp_code *clash = lamp_teaching_clash(&teaching, 30);
    ck_assert_ptr_nonnull(clash);
    ck_assert_str_eq(clash->id, "new");
    lamp_teaching_fini(&teaching);
}
END_TEST

static void read_file(const char *path, char out[4096])
{
    FILE *file = fopen(path, "rb");
    ck_assert_ptr_nonnull(file);
    out[fread(out, 1, 4095, file)] = '\0';
    (void)fclose(file);
}

START_TEST(a_file_is_replaced_and_its_old_text_and_permissions_kept)
{
    char now[4096];
    struct stat status;
    const char *path = scratch_write("kept.yaml", TAUGHT, strlen(TAUGHT));
    const char *link = scratch_path("link.yaml");
    ck_assert_int_eq(chmod(path, 0640), 0);
    ck_assert_int_eq(symlink("kept.yaml", link), 0);
    ck_assert_int_eq(lamp_book_replace(link, TAUGHT, strlen(TAUGHT), "new\n", 4, NULL), LAMP_OK);
    read_file(path, now);
    ck_assert_str_eq(now, "new\n");
    read_file(scratch_path("kept.yaml~"), now);
    ck_assert_str_eq(now, TAUGHT);
    ck_assert_int_eq(stat(path, &status), 0);
    ck_assert_int_eq(status.st_mode & 0777, 0640);
    ck_assert_int_eq(lstat(link, &status), 0);
    ck_assert(S_ISLNK(status.st_mode));
}
END_TEST

START_TEST(a_file_that_changed_meanwhile_is_left_alone)
{
    char now[4096];
    struct lamp_error error = {0};
    const char *path = scratch_write("changed.yaml", "theirs\n", 7);
    ck_assert_int_eq(lamp_book_replace(path, "mine\n", 5, "new\n", 4, &error), LAMP_CANNOT_WRITE);
    ck_assert_str_eq(error.sentence,
                     "something else changed the file meanwhile; nothing was written");
    read_file(path, now);
    ck_assert_str_eq(now, "theirs\n");
    ck_assert_int_ne(access(scratch_path("changed.yaml~"), F_OK), 0);
}
END_TEST

START_TEST(a_new_book_never_takes_the_place_of_a_file)
{
    struct lamp_error error = {0};
    const char *path = scratch_write("there.yaml", "theirs\n", 7);
    ck_assert_int_eq(lamp_book_create(path, "new\n", 4, false, &error), LAMP_CANNOT_WRITE);
    ck_assert_int_eq(lamp_book_create(path, "new\n", 4, true, &error), LAMP_OK);
    ck_assert_int_eq(lamp_book_create(scratch_path("none/x.yaml"), "new\n", 4, false, &error),
                     LAMP_CANNOT_WRITE);
}
END_TEST

START_TEST(a_new_book_can_be_read)
{
    static const struct lamp_outline_lamp lamps[] = {
        {"status", LAMP_COLOUR_GREEN, "processor: \"main\""}, {"on", LAMP_COLOUR_UNKNOWN, NULL}};
    const struct lamp_outline outline = {.id = "on",
                                         .board = "yes",
                                         .source = "# none",
                                         .lamp = lamps,
                                         .lamp_count = 2,
                                         .timing = {.long_ns = MS(90), .rest_ns = MS(100)}};
    char *text = NULL;
    struct lamp_book *book = NULL;
    struct lamp_error error = {0};
    ck_assert_int_eq(lamp_book_outline(&outline, &text, &error), LAMP_OK);
    ck_assert_msg(lamp_book_parse(text, strlen(text), "new", &book, &error) == LAMP_OK,
                  "%s: %s\n%s", error.place, error.sentence, text);
    ck_assert_str_eq(book->id, "on");
    ck_assert_str_eq(book->board, "yes");
    ck_assert_str_eq(book->source, "# none");
    ck_assert_str_eq(book->lamp[0].shows, "processor: \"main\"");
    ck_assert_str_eq(book->lamp[1].name, "on");
    ck_assert_int_eq(book->timing.long_ns, MS(90));
    lamp_book_free(book);
    free(text);
}
END_TEST

START_TEST(all_faults_are_told_at_their_places)
{
    static const char text[] =
        "book: B b\nboard: B\nlamps: {Power: {}, status: {colour: pink, show: x}}\n"
        "codes:\n- {id: a, lamp: statis, pattern: 1 shirt, mean: A}\n"
        "- {id: a, pattern: steady on, means: A, taught: 0}\n"
        "findings: [{when: {status: a}, suspect: x, chek: y}]\n";
    static const char *const places[] = {":1:1", ":1:7",  ":3:9",  ":3:43", ":3:37", ":5:43",
                                         ":5:3", ":5:17", ":5:36", ":6:49", ":7:44"};
    struct lamp_error fault[LAMP_FAULTS_MAX];
    size_t count = 0;
    const char *path = scratch_write("faults.yaml", text, strlen(text));
    ck_assert_int_eq(lamp_book_faults(path, fault, &count, NULL), LAMP_BAD_BOOK);
    ck_assert_uint_eq(count, sizeof places / sizeof places[0]);
    for (size_t i = 0; i < count; i++) {
        size_t length = strlen(fault[i].place);
        ck_assert_str_eq(fault[i].place + length - strlen(places[i]), places[i]);
        ck_assert(fault[i].sentence[0] != '\0');
    }
}
END_TEST

#define COUNT(table) (int)(sizeof(table) / sizeof(table)[0])

int main(void)
{
    TCase *tests = suite_begin("codebook_teach");
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    tcase_add_loop_test(tests, an_entry_is_added_and_no_other_byte_changes, 0, COUNT(forms));
    tcase_add_test(tests, lines_that_end_with_carriage_returns_get_more_of_the_kind);
    tcase_add_test(tests, a_lamp_that_the_book_lacks_is_named_before_the_codes);
    tcase_add_test(tests, flashes_of_one_length_are_called_as_the_book_calls_them);
    tcase_add_test(tests, lengths_at_odds_with_the_book_are_written_one_by_one);
    tcase_add_test(tests, lengths_are_combined_by_what_is_known_of_them);
    tcase_add_test(tests, an_entry_written_by_hand_takes_the_measured_lengths);
    tcase_add_loop_test(tests, what_gainsays_the_book_is_refused, 0, COUNT(refusals));
    tcase_add_loop_test(tests, nothing_is_taught_to_a_broken_book, 0, COUNT(broken));
    tcase_add_test(tests, a_clash_names_the_other_entry);
    tcase_add_test(tests, a_file_is_replaced_and_its_old_text_and_permissions_kept);
    tcase_add_test(tests, a_file_that_changed_meanwhile_is_left_alone);
    tcase_add_test(tests, a_new_book_never_takes_the_place_of_a_file);
    tcase_add_test(tests, a_new_book_can_be_read);
    tcase_add_test(tests, all_faults_are_told_at_their_places);
    int status = suite_end();
    scratch_end();
    return status;
}
