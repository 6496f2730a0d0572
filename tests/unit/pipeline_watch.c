/* pipeline_watch.c - What a watcher tells, when, and how often. */
/* layers: base pipeline source light rhythm codebook match finding report */
#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "lampread/codebook.h"
#include "lampread/watch.h"
#include "pipeline/outlook.h"
#include "support/replay.h"
#include "support/scratch.h"
#include "support/suite.h"

#define S INT64_C(1000000000)

static const int code_ms[] = {600, 200, 600, 200, 200, 200, 200, 200, 200, 1800};
static const int code_period_ms = 600 + 200 + 600 + 200 + 4 * 200 + 200 + 1800;

static const char book_text[] =
    "book: tern-t2\nboard: Tern T2 (invented)\nsource: invented for these tests\n"
    "lamps: {status: {colour: green, shows: processor}}\n"
    "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms, tolerance: "
    "25 %}\n"
    "codes:\n  - {id: memory, lamp: status, pattern: 2 long 3 short, means: Memory}\n"
    "  - {id: running, lamp: status, pattern: blink 2.5 Hz, means: Running}\n";

enum { NEWS_ROOM = 100 };

/* All that was told of one recording. */
struct told {
    struct lamp_news news[NEWS_ROOM];
    enum lamp_verdict verdict[NEWS_ROOM]; /* of the lamp, for news of one */
    size_t count;
};

static void take_news(struct lamp_watcher *watcher, struct told *told)
{
    struct lamp_news news;
    while (lamp_watcher_next(watcher, &news)) {
        ck_assert_uint_lt(told->count, NEWS_ROOM);
        const struct lamp_report *view = lamp_watcher_view(watcher);
        if (news.kind == LAMP_NEWS_VERDICT) {
            told->verdict[told->count] = view->lamp[news.lamp].match.verdict;
        }
        told->news[told->count++] = news;
    }
}

static void watch_all(const char *path, struct told *told)
{
    static const struct lamp_book *books[1];
    struct lamp_book *book = NULL;
    ck_assert_int_eq(lamp_book_parse(book_text, sizeof book_text - 1, "book", &book, NULL),
                     LAMP_OK);
    books[0] = book;
    struct lamp_reader_rules reading = lamp_reader_rules_default();
    reading.book = books;
    reading.book_count = 1;
    const struct lamp_watcher_rules rules = lamp_watcher_rules_default();
    struct lamp_watcher *watcher = NULL;
    ck_assert_int_eq(lamp_watcher_new(&rules, &reading, &watcher, NULL), LAMP_OK);
    struct lamp_source *source = open_replay(path, 0);
    struct lamp_item item;
    enum lamp_err err;
    *told = (struct told){.count = 0};
    do {
        err = lamp_watcher_step(watcher, source, &item, NULL);
        take_news(watcher, told);
    } while (err == LAMP_OK || err == LAMP_NOT_YET);
    ck_assert_int_eq(err, LAMP_END);
    lamp_watcher_free(watcher);
    lamp_source_free(source);
    lamp_book_free(book);
}

/* -- verdicts -- */

/* Two clean repeats that agree decide a code: the trace begins with a group, so its third rest has
 * been seen to begin after two periods and a group. */
START_TEST(a_code_is_told_within_a_repeat_and_100_ms_of_the_light_that_decides_it)
{
    struct told told;
    const char *path = write_trace("code.csv", code_ms, 10, 40, (unsigned)_i + 11);
    watch_all(path, &told);
    ck_assert_uint_eq(told.count, 1);
    ck_assert_int_eq(told.verdict[0], LAMP_VERDICT_CODE);
    double decided_s = 3 * code_period_ms / 1000.0;
    ck_assert_double_le(told.news[0].t_s, decided_s + code_period_ms / 1000.0 + 0.1);
}
END_TEST

START_TEST(a_part_of_a_code_that_looks_like_a_blink_is_not_told_as_one)
{
    static const int many_ms[] = {200, 200, 200, 200, 200, 200, 200, 200,
                                  200, 200, 200, 200, 200, 200, 200, 1800};
    struct told told;
    watch_all(write_trace("many.csv", many_ms, 16, 40, 3), &told);
    for (size_t i = 0; i < told.count; i++) {
        ck_assert_int_ne(told.verdict[i], LAMP_VERDICT_BLINK);
    }
}
END_TEST

START_TEST(a_blink_is_told_once)
{
    static const int blink_ms[] = {200, 200};
    struct told told;
    watch_all(write_trace("blink.csv", blink_ms, 2, 60, 3), &told);
    ck_assert_uint_eq(told.count, 1);
    ck_assert_int_eq(told.verdict[0], LAMP_VERDICT_BLINK);
    ck_assert_double_le(told.news[0].t_s, 12);
}
END_TEST

START_TEST(a_lamp_that_begins_to_blink_is_told_anew)
{
    static const int late_ms[] = {15000, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500,
                                  500,   500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 500};
    struct told told;
    watch_all(write_trace("late.csv", late_ms, 24, 26, 3), &told);
    ck_assert_uint_ge(told.count, 2);
    ck_assert_int_eq(told.verdict[0], LAMP_VERDICT_STEADY_ON);
    ck_assert_double_le(told.news[0].t_s, 6);
    ck_assert_int_ne(told.verdict[1], LAMP_VERDICT_STEADY_ON);
}
END_TEST

START_TEST(a_lamp_too_fast_for_the_frame_rate_is_told_once)
{
    static const int fast_ms[] = {34, 33};
    struct told told;
    unsigned times = 0;
    watch_all(write_trace("fast.csv", fast_ms, 2, 20, 3), &told);
    for (size_t i = 0; i < told.count; i++) {
        times +=
            told.news[i].kind == LAMP_NEWS_TROUBLE && told.news[i].trouble == LAMP_TROUBLE_FAST;
        ck_assert_int_ne(told.verdict[i], LAMP_VERDICT_CODE);
    }
    ck_assert_uint_eq(times, 1);
}
END_TEST

/* -- troubles -- */

enum { SIDE = 96, RATE = 10 };

/* What the camera sees at one time: a board with texture, moved by `shift`; a hand; glare. */
enum scene { SCENE_BOARD, SCENE_HAND, SCENE_BLACK, SCENE_WHITE, SCENE_ELSEWHERE };

static unsigned char pixel(enum scene scene, int x, int y, int frame)
{
    unsigned noise = ((unsigned)(x * 31 + y * 17 + frame * 7) * 2654435761U) >> 30;
    if (scene == SCENE_ELSEWHERE) {
        x += 37;
        y += 53;
    }
    unsigned block = (unsigned)(x / 8 * 7 + y / 8 * 13) * 2654435761U >> 25;
    switch (scene) {
    case SCENE_HAND: return (unsigned char)(60 + noise);
    case SCENE_BLACK: return (unsigned char)(2 + noise);
    case SCENE_WHITE: return 255;
    case SCENE_BOARD:
    case SCENE_ELSEWHERE: break;
    }
    return (unsigned char)(40 + block + noise);
}

/* Pictures of a scene from second `change_s[i]` on. @return the folder. */
static const char *film(const char *name, const enum scene *scene, const int *change_s,
                        size_t count, int end_s)
{
    const char *folder = scratch_path(name);
    ck_assert_int_eq(mkdir(folder, 0700), 0);
    size_t at = 0;
    for (int i = 0; i < end_s * RATE; i++) {
        at += at + 1 < count && i >= change_s[at + 1] * RATE;
        char path[512];
        (void)snprintf(path, sizeof path, "%s/f%04d.pgm", folder, i);
        FILE *file = fopen(path, "wb");
        ck_assert_ptr_nonnull(file);
        (void)fprintf(file, "P5 %d %d 255\n", SIDE, SIDE);
        for (int p = 0; p < SIDE * SIDE; p++) {
            (void)fputc(pixel(scene[at], p % SIDE, p / SIDE, i), file);
        }
        (void)fclose(file);
    }
    return folder;
}

static const struct {
    const char *name;
    enum scene scene[3];
    int change_s[3]; /* at 30 pictures a second by the source's word: a third of it */
    size_t count;
    enum lamp_trouble trouble;
    double begins_s; /* latest */
} events[] = {
    {"hand", {SCENE_BOARD, SCENE_HAND, SCENE_BOARD}, {0, 9, 18}, 3, LAMP_TROUBLE_COVERED, 4.5},
    {"dark", {SCENE_BOARD, SCENE_BLACK, SCENE_BOARD}, {0, 9, 18}, 3, LAMP_TROUBLE_COVERED, 4.5},
    {"lid", {SCENE_BLACK, SCENE_BOARD, SCENE_BOARD}, {0, 24, 25}, 2, LAMP_TROUBLE_DARK, 6},
    {"glare", {SCENE_BOARD, SCENE_WHITE, SCENE_BOARD}, {0, 9, 18}, 3, LAMP_TROUBLE_BRIGHT, 4.5},
    {"bump", {SCENE_BOARD, SCENE_ELSEWHERE, SCENE_ELSEWHERE}, {0, 9, 18}, 2, LAMP_TROUBLE_MOVED, 5},
};

START_TEST(trouble_is_told_once_when_it_begins_and_once_when_it_is_over)
{
    struct told told;
    unsigned begun = 0;
    unsigned over = 0;
    watch_all(film(events[_i].name, events[_i].scene, events[_i].change_s, events[_i].count, 36),
              &told);
    for (size_t i = 0; i < told.count; i++) {
        const struct lamp_news *news = &told.news[i];
        if (news->kind == LAMP_NEWS_TROUBLE || news->kind == LAMP_NEWS_RELIEF) {
            ck_assert_str_eq(lamp_trouble_name(news->trouble),
                             lamp_trouble_name(events[_i].trouble));
            begun += news->kind == LAMP_NEWS_TROUBLE;
            over += news->kind == LAMP_NEWS_RELIEF;
            ck_assert(news->kind == LAMP_NEWS_RELIEF || news->t_s <= events[_i].begins_s);
        }
    }
    ck_assert_uint_eq(begun, 1);
    ck_assert_uint_eq(over, 1);
}
END_TEST

START_TEST(a_board_that_lies_still_is_no_trouble)
{
    const enum scene scene[1] = {SCENE_BOARD};
    const int change_s[1] = {0};
    struct told told;
    watch_all(film("still", scene, change_s, 1, 30), &told);
    ck_assert_uint_eq(told.count, 0);
}
END_TEST

START_TEST(what_lasts_less_than_it_must_is_not_seen)
{
    struct lamp_hurdle hurdle = {0};
    lamp_hurdle_see(&hurdle, true, 0, S, S);
    lamp_hurdle_see(&hurdle, false, S / 2, S, S);
    lamp_hurdle_see(&hurdle, true, S, S, S);
    lamp_hurdle_see(&hurdle, true, S + S / 2, S, S);
    ck_assert(!hurdle.stands);
    lamp_hurdle_see(&hurdle, true, 2 * S, S, S);
    ck_assert(hurdle.stands);
    lamp_hurdle_see(&hurdle, false, 2 * S + 1, S, S);
    ck_assert(hurdle.stands);
    lamp_hurdle_see(&hurdle, false, 3 * S + 1, S, S);
    ck_assert(!hurdle.stands);
}
END_TEST

START_TEST(every_trouble_says_what_to_do)
{
    ck_assert_str_ne(lamp_trouble_name((enum lamp_trouble)_i), "");
    ck_assert_ptr_nonnull(strchr(lamp_trouble_words((enum lamp_trouble)_i), ':'));
    ck_assert_str_ne(lamp_trouble_over((enum lamp_trouble)_i), "");
}
END_TEST

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("pipeline_watch");
    tcase_add_loop_test(all, a_code_is_told_within_a_repeat_and_100_ms_of_the_light_that_decides_it,
                        0, 3);
    tcase_add_test(all, a_part_of_a_code_that_looks_like_a_blink_is_not_told_as_one);
    tcase_add_test(all, a_blink_is_told_once);
    tcase_add_test(all, a_lamp_that_begins_to_blink_is_told_anew);
    tcase_add_test(all, a_lamp_too_fast_for_the_frame_rate_is_told_once);
    tcase_add_loop_test(all, trouble_is_told_once_when_it_begins_and_once_when_it_is_over, 0,
                        sizeof events / sizeof events[0]);
    tcase_add_test(all, a_board_that_lies_still_is_no_trouble);
    tcase_add_test(all, what_lasts_less_than_it_must_is_not_seen);
    tcase_add_loop_test(all, every_trouble_says_what_to_do, 0, LAMP_TROUBLE_COUNT);
    int status = suite_end();
    scratch_end();
    return status;
}
