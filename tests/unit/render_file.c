/* render_file.c - Files: read back as they were rendered, whole or not at all, the truth beside
 * them. */
/* layers: base source light rhythm codebook render */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "lampread/source.h"
#include "support/render_make.h"
#include "support/scratch.h"
#include "support/suite.h"

/* libx265 3.5 keeps some memory of its own when it is closed: the leak sanitizer is told so. */
const char *__lsan_default_suppressions(void); /* NOLINT(bugprone-reserved-identifier) */
const char *__lsan_default_suppressions(void)  /* NOLINT(bugprone-reserved-identifier) */
{
    return "leak:libx265";
}

static struct lamp_scene_lamp lamp;

/* A small scene whose frames come at irregular times. */
static struct lamp_render_rules small_rules(void)
{
    struct lamp_render_rules rules = lamp_render_rules_default();
    lamp = lamp_scene_lamp_default();
    lamp.name = "status";
    lamp.pattern = "on 200 ms, off 300 ms";
    lamp.x_px = 80;
    lamp.y_px = 50;
    lamp.size_px = 10;
    lamp.script = wave_rules((const int[]){200, 300}, 2);
    rules.scene.width_px = 160;
    rules.scene.height_px = 96;
    rules.scene.lamp = &lamp;
    rules.scene.lamp_count = 1;
    rules.scene.shutter.duration_ns = 2 * S;
    rules.scene.shutter.drop_share = 0.1;
    rules.scene.shutter.late_share = 0.2;
    rules.quality = 90;
    return rules;
}

static void render(const struct lamp_render_rules *rules, const char *path)
{
    struct lamp_error error = {.place = ""};
    const enum lamp_err err = lamp_render_file(rules, path, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
}

/* Whole file as text; empty if there is none. */
static const char *text_of(const char *path)
{
    static char text[65536];
    FILE *file = fopen(path, "rb");
    size_t size = 0;
    if (file != NULL) {
        size = fread(text, 1, sizeof text - 1, file);
        (void)fclose(file);
    }
    text[size] = '\0';
    return text;
}

static bool exists(const char *name)
{
    return access(scratch_path(name), F_OK) == 0;
}

static double mean_luma(const struct lamp_frame *frame)
{
    double sum = 0;
    for (int y = 0; y < frame->y.height_px; y++) {
        const uint8_t *row = (const uint8_t *)frame->y.at + y * frame->y.stride_bytes;
        for (int x = 0; x < frame->y.width_px; x++) {
            const double code =
                frame->bits == 8 ? row[x] : ((const uint16_t *)(const void *)row)[x] / 4.0;
            sum += frame->is_full_range ? code / 255 : (code - 16) / 219;
        }
    }
    return sum / frame->y.width_px / frame->y.height_px;
}

/* Every frame read back: its time within `stamp_ns`, its mean luma within `most`. */
static void expect_same(const struct lamp_render_rules *rules, const char *path, int64_t stamp_ns,
                        double most)
{
    struct lamp_source *source = NULL;
    struct lamp_error error = {.place = ""};
    const struct lamp_source_rules source_rules = lamp_source_rules_default();
    const enum lamp_err err = lamp_source_open(path, &source_rules, &source, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
    struct lamp_renderer *renderer = make_renderer(&rules->scene);
    struct lamp_frame frame;
    struct lamp_item item;
    int count = 0;
    for (; lamp_renderer_next(renderer, &frame); count++) {
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        ck_assert_int_eq(item.kind, LAMP_ITEM_FRAME);
        ck_assert_msg(llabs(item.frame.t_ns - frame.t_ns) <= stamp_ns,
                      "%s frame %d: %ld us for %ld us", path, count, (long)item.frame.t_ns / 1000,
                      (long)frame.t_ns / 1000);
        ck_assert_double_eq_tol(mean_luma(&item.frame), mean_luma(&frame), most);
    }
    ck_assert_int_gt(count, 40);
    ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_END);
    lamp_renderer_free(renderer);
    lamp_source_free(source);
}

/* Stamps: MP4 counts 90 000 a second, Matroska milliseconds, GIF hundredths, frames two apart at
 * least. */
static const struct {
    const char *name;
    const char *codec;
    int bits;
    int64_t stamp_ns;
} forms[] = {
    {"a.mp4", NULL, 8, 12000},     {"a.mov", "h264", 8, 12000},   {"a.mkv", "h264", 10, 600000},
    {"h.mp4", "hevc", 8, 12000},   {"h.mkv", "hevc", 10, 600000}, {"a.webm", NULL, 8, 600000},
    {"v.mkv", "vp9", 10, 600000},  {"x.mp4", "av1", 8, 12000},    {"x.mkv", "av1", 10, 600000},
    {"m.mkv", "mjpeg", 8, 600000}, {"m.mov", "mjpeg", 8, 12000},  {"g.gif", NULL, 8, 15100000},
};

START_TEST(a_clip_reads_back_with_its_frames_and_times)
{
    struct lamp_render_rules rules = small_rules();
    rules.codec = forms[_i].codec;
    rules.scene.bits = forms[_i].bits;
    const char *path = scratch_path(forms[_i].name);
    struct lamp_error error = {.place = ""};
    const enum lamp_err err = lamp_render_file(&rules, path, &error);
    if (err == LAMP_CANNOT_WRITE && strstr(error.sentence, "needs the encoder") != NULL) {
        (void)printf("skipped: %s: %s\n", error.place, error.sentence);
        return;
    }
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
    expect_same(&rules, path, forms[_i].stamp_ns, 0.02);
}
END_TEST

START_TEST(an_avi_keeps_lost_frames_as_gaps)
{
    struct lamp_render_rules rules = small_rules();
    rules.scene.shutter.late_share = 0;
    render(&rules, scratch_path("a.avi"));
    expect_same(&rules, scratch_path("a.avi"), 1000, 0.02);
}
END_TEST

START_TEST(stills_are_numbered_with_gaps_for_lost_frames)
{
    for (int i = 0; i < 2; i++) {
        struct lamp_render_rules rules = small_rules();
        rules.scene.shutter.late_share = 0;
        rules.codec = i == 0 ? NULL : "pgm";
        const char *path = scratch_path(i == 0 ? "stills/" : "100%/");
        render(&rules, path);
        expect_same(&rules, path, 1000, 0.02);
    }
    ck_assert(exists("stills/frame000001.png"));
    ck_assert(exists("100%/frame000001.pgm"));
}
END_TEST

START_TEST(a_folder_that_holds_something_is_left_as_it_is)
{
    struct lamp_render_rules rules = small_rules();
    struct lamp_error error;
    render(&rules, scratch_path("full/"));
    ck_assert_int_eq(lamp_render_file(&rules, scratch_path("full/"), &error), LAMP_CANNOT_WRITE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "is there already"));
    ck_assert(exists("full/frame000001.png"));
    ck_assert(!exists("full.part"));
}
END_TEST

START_TEST(the_turn_asked_for_is_read_back)
{
    for (int turn = 0; turn < 360; turn += 90) {
        struct lamp_render_rules rules = small_rules();
        rules.rotation_deg = turn;
        render(&rules, scratch_path("turned.mp4"));
        struct lamp_source *source = NULL;
        const struct lamp_source_rules source_rules = lamp_source_rules_default();
        ck_assert_int_eq(lamp_source_open(scratch_path("turned.mp4"), &source_rules, &source, NULL),
                         LAMP_OK);
        struct lamp_source_info info;
        struct lamp_item item;
        ck_assert_int_eq(lamp_source_next(source, &item, NULL), LAMP_OK);
        lamp_source_describe(source, &info);
        ck_assert_int_eq(info.rotation_deg, turn);
        lamp_source_free(source);
    }
}
END_TEST

START_TEST(the_truth_stands_beside_the_clip)
{
    struct lamp_render_rules rules = small_rules();
    lamp.name = "a \"quoted\" \\ name";
    rules.scene.shutter.start_ns = 100 * MS;
    render(&rules, scratch_path("truth.mp4"));
    const char *text = text_of(scratch_path("truth.mp4.truth.json"));
    static const char *const parts[] = {
        "{\"format\": 1, ",
        "\"name\": \"a \\\"quoted\\\" \\\\ name\"",
        "\"colour\": \"green\"",
        "\"pattern\": \"on 200 ms, off 300 ms\"",
        "\"starts_lit\": true",
        "\"edges\": [{\"t_s\": 0.100000000, \"lit\": false}, {\"t_s\": 0.400000000, \"lit\": true}",
        "{\"t_s\": 1.900000000, \"lit\": true}]",
    };
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        ck_assert_msg(strstr(text, parts[i]) != NULL, "%s is not in %s", parts[i], text);
    }
    rules.hides_truth = true;
    render(&rules, scratch_path("bare.mp4"));
    ck_assert(!exists("bare.mp4.truth.json"));
}
END_TEST

START_TEST(the_same_rules_give_the_same_bytes)
{
    static const char *const names[] = {"1.mp4", "1.gif", "1.mkv"};
    for (size_t i = 0; i < 3; i++) {
        static char first[4 << 20];
        static char second[4 << 20];
        size_t sizes[2];
        struct lamp_render_rules rules = small_rules();
        for (int k = 0; k < 2; k++) {
            render(&rules, scratch_path(names[i]));
            FILE *file = fopen(scratch_path(names[i]), "rb");
            ck_assert_ptr_nonnull(file);
            sizes[k] = fread(k == 0 ? first : second, 1, sizeof first, file);
            (void)fclose(file);
        }
        ck_assert_uint_gt(sizes[0], 1000);
        ck_assert_uint_lt(sizes[0], sizeof first);
        ck_assert_uint_eq(sizes[0], sizes[1]);
        ck_assert_int_eq(memcmp(first, second, sizes[0]), 0);
    }
}
END_TEST

START_TEST(flashing_that_can_harm_is_refused_unless_asked_for)
{
    struct lamp_render_rules rules = small_rules();
    lamp.size_px = 90;
    lamp.script = wave_rules((const int[]){100, 100}, 2);
    struct lamp_error error;
    (void)scratch_write("f.mp4", "old", 3);
    ck_assert_int_eq(lamp_render_file(&rules, scratch_path("f.mp4"), &error), LAMP_BAD_USE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "WCAG 2 SC 2.3.1"));
    ck_assert_str_eq(text_of(scratch_path("f.mp4")), "old");
    ck_assert(!exists("f.mp4.part"));
    ck_assert(!exists("f.mp4.truth.json"));
    rules.any_flash = true;
    render(&rules, scratch_path("f.mp4"));
}
END_TEST

START_TEST(a_render_given_up_leaves_the_older_file)
{
    struct lamp_render_rules rules = small_rules();
    static const char *const names[] = {"u.mp4", "u.mkv", "u.gif"};
    for (size_t i = 0; i < 3; i++) {
        struct lamp_render *made = NULL;
        (void)scratch_write(names[i], "old", 3);
        ck_assert_int_eq(lamp_render_new(&rules, scratch_path(names[i]), &made, NULL), LAMP_OK);
        ck_assert_int_eq(lamp_render_step(made, NULL), LAMP_OK);
        ck_assert_double_ge(lamp_render_progress(made), 0);
        lamp_render_free(made);
        ck_assert_str_eq(text_of(scratch_path(names[i])), "old");
    }
    ck_assert(!exists("u.mp4.part"));
}
END_TEST

START_TEST(what_cannot_be_written_is_told)
{
    static const struct {
        const char *name;
        const char *codec;
        int bits;
        int quality;
        int turn;
        enum lamp_err err;
        const char *part;
    } table[] = {
        {"a.txt", NULL, 8, 70, 0, LAMP_BAD_USE, "unknown kind of file, expected .mp4"},
        {"a", NULL, 8, 70, 0, LAMP_BAD_USE, "unknown kind of file"},
        {"a.mp4", "h263", 8, 70, 0, LAMP_BAD_USE, "unknown codec, expected h264"},
        {"a.gif", "h264", 8, 70, 0, LAMP_BAD_USE, "cannot hold h264"},
        {"a.webm", "h264", 8, 70, 0, LAMP_BAD_USE, "cannot hold h264"},
        {"s/", "h264", 8, 70, 0, LAMP_BAD_USE, "cannot hold h264"},
        {"a.mp4", "mjpeg", 10, 70, 0, LAMP_BAD_USE, "10 bits need h264"},
        {"a.mp4", NULL, 8, 101, 0, LAMP_BAD_USE, "expected 0 to 100"},
        {"a.mp4", NULL, 8, 70, 45, LAMP_BAD_USE, "0, 90, 180 or 270"},
        {"a.mkv", NULL, 8, 70, 90, LAMP_BAD_USE, "only be kept in .mp4 and .mov"},
        {"none/a.mp4", NULL, 8, 70, 0, LAMP_CANNOT_WRITE, "cannot be opened"},
        {"none/s/", NULL, 8, 70, 0, LAMP_CANNOT_WRITE, "cannot be made"},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct lamp_render_rules rules = small_rules();
        rules.codec = table[i].codec;
        rules.scene.bits = table[i].bits;
        rules.quality = table[i].quality;
        rules.rotation_deg = table[i].turn;
        struct lamp_error error = {.sentence = ""};
        ck_assert_int_eq(lamp_render_file(&rules, scratch_path(table[i].name), &error),
                         table[i].err);
        ck_assert_msg(strstr(error.sentence, table[i].part) != NULL, "%s: %s", error.place,
                      error.sentence);
        ck_assert(strstr(error.place, ".part") == NULL);
    }
}
END_TEST

int main(void)
{
    if (!scratch_begin()) {
        return 1;
    }
    const TTest *const tests[] = {
        an_avi_keeps_lost_frames_as_gaps,
        stills_are_numbered_with_gaps_for_lost_frames,
        a_folder_that_holds_something_is_left_as_it_is,
        the_turn_asked_for_is_read_back,
        the_truth_stands_beside_the_clip,
        the_same_rules_give_the_same_bytes,
        flashing_that_can_harm_is_refused_unless_asked_for,
        a_render_given_up_leaves_the_older_file,
        what_cannot_be_written_is_told,
    };
    const int looped = suite_run_rows("forms", a_clip_reads_back_with_its_frames_and_times,
                                      sizeof forms / sizeof *forms);
    const int status = suite_run("file", tests, sizeof tests / sizeof tests[0]);
    scratch_end();
    return looped != 0 || status != 0;
}
