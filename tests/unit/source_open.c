/* source_open.c - What cannot be opened, each with its own line. */
/* layers: base source */
#include <check.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

static void expect_refusal(const char *name, const char *part)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error;
    ck_assert_int_eq(lamp_source_open(name, &rules, &source, &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_null(source);
    ck_assert_str_eq(error.place, name);
    ck_assert_msg(strstr(error.sentence, part) != NULL, "%s", error.sentence);
    ck_assert_int_eq(lamp_source_open(name, &rules, &source, NULL), LAMP_BAD_SOURCE);
}

START_TEST(a_missing_file_is_told)
{
    expect_refusal(scratch_path("nowhere.mp4"), "no such file or folder");
    expect_refusal("", "name of the recording is empty");
}
END_TEST

START_TEST(an_empty_file_is_told)
{
    expect_refusal(scratch_write("empty.mp4", "", 0), "the file is empty");
}
END_TEST

START_TEST(a_pipe_is_told_and_not_waited_for)
{
    ck_assert_int_eq(mkfifo(scratch_path("pipe"), 0600), 0);
    expect_refusal(scratch_path("pipe"), "this is a pipe or socket");
}
END_TEST

START_TEST(a_device_is_told)
{
    expect_refusal("/dev/null", "this is a device");
}
END_TEST

START_TEST(a_file_that_may_not_be_read_is_told)
{
    if (geteuid() == 0) {
        printf("skipped: root may read everything\n");
        return;
    }
    const char *path = scratch_write("private.mp4", "x", 1);
    ck_assert_int_eq(chmod(path, 0), 0);
    expect_refusal(path, "no permission to read it");
}
END_TEST

START_TEST(links_in_a_circle_are_told)
{
    ck_assert_int_eq(symlink(scratch_path("b"), scratch_path("a")), 0);
    ck_assert_int_eq(symlink(scratch_path("a"), scratch_path("b")), 0);
    expect_refusal(scratch_path("a"), "in a circle");
}
END_TEST

/* Files of other kinds. */
static const struct {
    const char *name;
    const char *bytes;
    size_t size;
    const char *part;
} others[] = {
    {"letter.txt", "Dear reader, here is no light.\n", 31,
     "expected a video file, a trace (CSV) or edges (VCD)"},
    {"random.mp4", "\x93\x01\xfe\x7f\x00\x11\x22\x33\x44", 9, "expected a video file"},
    {"zeros.mkv", "\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0", 16, "expected a video file"},
    {"head.mp4",
     "\0\0\0\x18"
     "ftypisom\0\0\0\0isommp42",
     24, "cut off before its index"},
    {"one.png", "\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16, "this is one still picture"},
    {"list.m3u8", "#EXTM3U\n#EXTINF:1,\n/etc/passwd\n", 32, "expected a video file"},
    {"list.ffconcat", "ffconcat version 1.0\nfile a.mp4\n", 32, "expected a video file"},
};

START_TEST(a_file_of_another_kind_is_told)
{
    expect_refusal(scratch_write(others[_i].name, others[_i].bytes, others[_i].size),
                   others[_i].part);
}
END_TEST

START_TEST(a_source_that_was_never_opened_can_be_freed)
{
    lamp_source_free(NULL);
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_open");
    tcase_add_test(all, a_missing_file_is_told);
    tcase_add_test(all, an_empty_file_is_told);
    tcase_add_test(all, a_pipe_is_told_and_not_waited_for);
    tcase_add_test(all, a_device_is_told);
    tcase_add_test(all, a_file_that_may_not_be_read_is_told);
    tcase_add_test(all, links_in_a_circle_are_told);
    tcase_add_loop_test(all, a_file_of_another_kind_is_told, 0, COUNT(others));
    tcase_add_test(all, a_source_that_was_never_opened_can_be_freed);
    int status = suite_end();
    scratch_end();
    return status;
}
