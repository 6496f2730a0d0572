/* source_camera_control.c - The mode a camera is read in; all that is set is put back. */
/* layers: base source */
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "source/camera_control.h"
#include "source/camera_memory.h"
#include "source/camera_mode.h"
#include "support/scratch.h"
#include "support/suite.h"

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))
#define MS         INT64_C(1000000)

/* -- modes -- */

static const struct lamp_video_mode webcam[] = {
    {LAMP_VIDEO_YUYV, "YUYV", 640, 480, 1, 30},    {LAMP_VIDEO_YUYV, "YUYV", 1280, 720, 1, 10},
    {LAMP_VIDEO_YUYV, "YUYV", 1920, 1080, 1, 5},   {LAMP_VIDEO_MJPEG, "MJPG", 640, 480, 1, 60},
    {LAMP_VIDEO_MJPEG, "MJPG", 1280, 720, 1, 60},  {LAMP_VIDEO_MJPEG, "MJPG", 1920, 1080, 1, 30},
    {LAMP_VIDEO_MJPEG, "MJPG", 3840, 2160, 1, 30}, {LAMP_VIDEO_MJPEG, "MJPG", 320, 240, 1, 120},
};
static const struct lamp_video_mode laptop[] = {
    {LAMP_VIDEO_MJPEG, "MJPG", 1280, 720, 1, 30},
    {LAMP_VIDEO_YUYV, "YUYV", 640, 480, 1, 30},
    {LAMP_VIDEO_GREY, "GREY", 1280, 720, 1, 30},
};
static const struct lamp_video_mode bare[] = {
    {LAMP_VIDEO_GREY, "GREY", 1280, 960, 0, 0},
    {LAMP_VIDEO_CONVERTED, "BA81", 1280, 960, 0, 0},
};
static const struct lamp_video_mode small[] = {
    {LAMP_VIDEO_YUYV, "YUYV", 160, 120, 1, 30},
    {LAMP_VIDEO_YUYV, "YUYV", 320, 240, 1, 30},
};
static const struct lamp_video_mode fast[] = {
    {LAMP_VIDEO_MJPEG, "MJPG", 1280, 720, 1, 120},
    {LAMP_VIDEO_MJPEG, "MJPG", 1280, 720, 1, 60},
    {LAMP_VIDEO_MJPEG, "MJPG", 1920, 1080, 1001, 60000},
};

static const struct {
    const char *why;
    const struct lamp_video_mode *mode;
    size_t count;
    struct lamp_mode_wish wish;
    size_t best;
} choices[] = {
    {"rate before size, but no picture too small",
     webcam,
     sizeof webcam / sizeof *webcam,
     {0, 0, 0},
     4},
    {"a size that is asked for", webcam, sizeof webcam / sizeof *webcam, {1920, 1080, 0}, 5},
    {"a rate that is asked for", webcam, sizeof webcam / sizeof *webcam, {0, 0, 120}, 7},
    {"size and rate", webcam, sizeof webcam / sizeof *webcam, {640, 480, 30}, 0},
    {"the nearest size", webcam, sizeof webcam / sizeof *webcam, {1270, 700, 0}, 4},
    {"size at one rate, colour before grey", laptop, sizeof laptop / sizeof *laptop, {0, 0, 0}, 0},
    {"colour even where it is converted", bare, sizeof bare / sizeof *bare, {0, 0, 0}, 1},
    {"the largest of small ones", small, sizeof small / sizeof *small, {0, 0, 0}, 1},
    {"of rates that are plenty the lowest", fast, sizeof fast / sizeof *fast, {0, 0, 0}, 1},
    {"no mode at all", NULL, 0, {0, 0, 0}, 0},
};

START_TEST(the_mode_that_reads_lamps_best_is_chosen)
{
    ck_assert_msg(lamp_mode_choose(choices[_i].mode, choices[_i].count, &choices[_i].wish) ==
                      choices[_i].best,
                  "%s", choices[_i].why);
}
END_TEST

START_TEST(a_mode_that_was_not_wished_for_is_known)
{
    const struct lamp_mode_wish wish = {1280, 720, 30};
    ck_assert(lamp_mode_fits(&laptop[0], &wish));
    ck_assert(!lamp_mode_fits(&webcam[4], &wish));
    ck_assert(!lamp_mode_fits(&laptop[1], &wish));
}
END_TEST

/* -- controls -- */

/* A camera as a table, which writes down what is done to it. */
struct table {
    bool has[LAMP_CONTROL_COUNT];
    bool refuses[LAMP_CONTROL_COUNT];
    struct lamp_control_range range[LAMP_CONTROL_COUNT];
    int32_t value[LAMP_CONTROL_COUNT];
    char log[256];
};

static bool table_range(void *owner, enum lamp_control control, struct lamp_control_range *out)
{
    const struct table *table = owner;
    *out = table->range[control];
    return table->has[control];
}

static bool table_get(void *owner, enum lamp_control control, int32_t *out)
{
    const struct table *table = owner;
    *out = table->value[control];
    return table->has[control];
}

static bool table_set(void *owner, enum lamp_control control, int32_t value)
{
    struct table *table = owner;
    size_t used = strlen(table->log);
    (void)snprintf(table->log + used, sizeof table->log - used, "%d=%d ", (int)control, value);
    if (!table->has[control] || table->refuses[control]) {
        return false;
    }
    table->value[control] = value;
    return true;
}

static struct lamp_control_owner owner_of(struct table *table)
{
    return (struct lamp_control_owner){table, table_range, table_get, table_set};
}

/* Auto exposure 3 (of 1 and 3), 15.6 ms, gain, white and focus automatic. */
static struct table usual_camera(void)
{
    struct table table = {.log = ""};
    for (int i = 0; i < LAMP_CONTROL_COUNT; i++) {
        table.has[i] = true;
        table.range[i] = (struct lamp_control_range){0, 1, 1, 0};
        table.value[i] = 1;
    }
    table.range[LAMP_CONTROL_EXPOSURE_AUTO] = (struct lamp_control_range){0, 3, 1, 0xa};
    table.value[LAMP_CONTROL_EXPOSURE_AUTO] = 3;
    table.range[LAMP_CONTROL_EXPOSURE] = (struct lamp_control_range){1, 10000, 1, 0};
    table.value[LAMP_CONTROL_EXPOSURE] = 156;
    return table;
}

static const struct lamp_hold_wish at_30_hz = {0, 33333333};

START_TEST(controls_are_put_back_in_the_reverse_order)
{
    struct table table = usual_camera();
    const struct table before = table;
    struct lamp_control_owner owner = owner_of(&table);
    struct lamp_changes changes;
    lamp_controls_plan(&owner, &at_30_hz, &changes);
    ck_assert_str_eq(table.log, ""); /* a plan changes nothing */
    lamp_controls_apply(&owner, &changes);
    ck_assert_str_eq(table.log, "0=1 1=0 2=100 3=0 4=0 5=0 ");
    ck_assert_int_eq(lamp_controls_exposure_ns(&owner), 10 * MS);
    table.log[0] = '\0';
    ck_assert_uint_eq(lamp_controls_restore(&owner, &changes, false), 0);
    ck_assert_str_eq(table.log, "5=1 4=1 3=1 2=156 1=1 0=3 ");
    ck_assert_mem_eq(table.value, before.value, sizeof table.value);
}
END_TEST

START_TEST(what_a_camera_has_not_or_refuses_is_left_alone)
{
    struct table table = usual_camera();
    struct lamp_control_owner owner = owner_of(&table);
    struct lamp_changes changes;
    table.has[LAMP_CONTROL_FOCUS_AUTO] = false;
    table.refuses[LAMP_CONTROL_GAIN_AUTO] = true;
    table.value[LAMP_CONTROL_WHITE_AUTO] = 0;
    lamp_controls_plan(&owner, &at_30_hz, &changes);
    lamp_controls_apply(&owner, &changes);
    ck_assert_uint_eq(changes.count, 3); /* exposure mode, priority, exposure */
    table.log[0] = '\0';
    (void)lamp_controls_restore(&owner, &changes, false);
    ck_assert_str_eq(table.log, "2=156 1=1 0=3 ");
}
END_TEST

START_TEST(what_somebody_else_changed_since_is_not_put_back)
{
    struct table table = usual_camera();
    struct lamp_control_owner owner = owner_of(&table);
    struct lamp_changes changes;
    lamp_controls_plan(&owner, &at_30_hz, &changes);
    lamp_controls_apply(&owner, &changes);
    table.value[LAMP_CONTROL_EXPOSURE] = 40;
    table.log[0] = '\0';
    (void)lamp_controls_restore(&owner, &changes, true);
    ck_assert_str_eq(table.log, "5=1 4=1 3=1 1=1 0=3 ");
    ck_assert_int_eq(table.value[LAMP_CONTROL_EXPOSURE], 40);
}
END_TEST

START_TEST(exposure_fits_the_frame_and_the_mains)
{
    ck_assert_int_eq(lamp_controls_good_exposure_ns(33333333, 1), 10 * MS);
    ck_assert_int_eq(lamp_controls_good_exposure_ns(33333333, 2), 8333333);
    ck_assert_int_eq(lamp_controls_good_exposure_ns(33333333, -1), 8333333);
    ck_assert_int_eq(lamp_controls_good_exposure_ns(16666667, 2), 8333333);
    ck_assert_int_eq(lamp_controls_good_exposure_ns(16666667, 1), 8 * MS);
    ck_assert_int_eq(lamp_controls_good_exposure_ns(8333333, 0), 4166666);
}
END_TEST

START_TEST(a_wished_exposure_is_kept_to_what_the_camera_can)
{
    struct table table = usual_camera();
    struct lamp_control_owner owner = owner_of(&table);
    struct lamp_changes changes;
    const struct lamp_hold_wish wish = {INT64_C(4240000), 33333333};
    table.range[LAMP_CONTROL_EXPOSURE] = (struct lamp_control_range){10, 60, 10, 0};
    lamp_controls_plan(&owner, &wish, &changes);
    lamp_controls_apply(&owner, &changes);
    ck_assert_int_eq(table.value[LAMP_CONTROL_EXPOSURE], 40);
    const struct lamp_hold_wish longer = {500 * MS, 33333333};
    lamp_controls_plan(&owner, &longer, &changes);
    lamp_controls_apply(&owner, &changes);
    ck_assert_int_eq(table.value[LAMP_CONTROL_EXPOSURE], 60);
}
END_TEST

START_TEST(an_automatic_exposure_is_not_told_as_known)
{
    struct table table = usual_camera();
    struct lamp_control_owner owner = owner_of(&table);
    ck_assert_int_eq(lamp_controls_exposure_ns(&owner), 0);
    table.value[LAMP_CONTROL_EXPOSURE_AUTO] = 1;
    ck_assert_int_eq(lamp_controls_exposure_ns(&owner), 15600000);
    table.has[LAMP_CONTROL_EXPOSURE] = false;
    ck_assert_int_eq(lamp_controls_exposure_ns(&owner), 0);
}
END_TEST

START_TEST(what_was_set_is_told_in_words)
{
    struct table table = usual_camera();
    struct lamp_control_owner owner = owner_of(&table);
    struct lamp_changes changes;
    static struct lamp_notes notes;
    lamp_controls_plan(&owner, &at_30_hz, &changes);
    lamp_controls_apply(&owner, &changes);
    lamp_controls_tell(&changes, &notes);
    ck_assert_uint_eq(notes.count, 6);
    ck_assert_str_eq(lamp_notes_at(&notes, 2), "exposure set to 10.0 ms while the camera is read");
    ck_assert_str_eq(lamp_notes_at(&notes, 5), "automatic focus off while the camera is read");
}
END_TEST

/* -- memory -- */

static const struct lamp_video_identity camera = {"A camera/../x", "driver", "usb-1.2"};

START_TEST(a_killed_run_leaves_what_the_next_one_puts_back)
{
    const struct lamp_changes set = {
        2, {{LAMP_CONTROL_EXPOSURE_AUTO, 3, 1}, {LAMP_CONTROL_EXPOSURE, 156, 83}}};
    struct lamp_memory *memory = NULL;
    struct lamp_changes left = {.count = 9};
    ck_assert_int_eq(setenv("XDG_RUNTIME_DIR", scratch_folder, 1), 0);
    pid_t child = fork();
    if (child == 0) {
        bool kept = lamp_memory_open(&camera, &left, &memory) == LAMP_MEMORY_OPEN &&
                    left.count == 0 && lamp_memory_keep(memory, &set);
        _exit(kept ? 0 : 1);
    }
    int status = 0;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert_int_eq(status, 0);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &memory), LAMP_MEMORY_OPEN);
    ck_assert_uint_eq(left.count, 2);
    ck_assert_mem_eq(left.at, set.at, 2 * sizeof set.at[0]);
    lamp_memory_clear(memory);
    lamp_memory_free(memory);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &memory), LAMP_MEMORY_OPEN);
    ck_assert_uint_eq(left.count, 0);
    lamp_memory_clear(memory);
    lamp_memory_free(memory);
}
END_TEST

START_TEST(a_camera_that_a_live_run_reads_is_left_alone)
{
    struct lamp_memory *first = NULL;
    struct lamp_memory *second = NULL;
    struct lamp_changes left;
    ck_assert_int_eq(setenv("XDG_RUNTIME_DIR", scratch_folder, 1), 0);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &first), LAMP_MEMORY_OPEN);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &second), LAMP_MEMORY_BUSY);
    lamp_memory_clear(first);
    lamp_memory_free(first);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &second), LAMP_MEMORY_OPEN);
    lamp_memory_clear(second);
    lamp_memory_free(second);
}
END_TEST

START_TEST(a_memory_that_others_can_write_or_that_is_no_memory_is_not_believed)
{
    static const char *const nonsense[] = {
        "", "lampread camera 2\n0 3 1\n", "lampread camera 1\n0 3\n", "lampread camera 1\n99 3 1\n",
        "lampread camera 1\n0 3 1\nrm -rf\n"};
    struct lamp_memory *memory = NULL;
    struct lamp_changes left;
    const char *file = scratch_path("lampread/usb-1_2-A_camera____x");
    ck_assert_int_eq(setenv("XDG_RUNTIME_DIR", scratch_folder, 1), 0);
    (void)mkdir(scratch_path("lampread"), 0700);
    for (int i = 0; i < COUNT(nonsense); i++) {
        FILE *out = fopen(file, "w");
        ck_assert_ptr_nonnull(out);
        (void)fputs(nonsense[i], out);
        (void)fclose(out);
        ck_assert_int_eq(lamp_memory_open(&camera, &left, &memory), LAMP_MEMORY_OPEN);
        ck_assert_msg(left.count == 0, "%s", nonsense[i]);
        lamp_memory_clear(memory);
        lamp_memory_free(memory);
        ck_assert_int_ne(access(file, F_OK), 0);
    }
    ck_assert_int_eq(symlink("/etc/hostname", file), 0);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &memory), LAMP_MEMORY_NONE);
    ck_assert_int_eq(unlink(file), 0);
    ck_assert_int_eq(chmod(scratch_path("lampread"), 0777), 0);
    ck_assert_int_eq(lamp_memory_open(&camera, &left, &memory), LAMP_MEMORY_NONE);
    ck_assert_int_eq(chmod(scratch_path("lampread"), 0700), 0);
}
END_TEST

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("source_camera_control");
    tcase_set_timeout(all, SUITE_TIMEOUT_S);
    tcase_add_loop_test(all, the_mode_that_reads_lamps_best_is_chosen, 0, COUNT(choices));
    tcase_add_test(all, a_mode_that_was_not_wished_for_is_known);
    tcase_add_test(all, controls_are_put_back_in_the_reverse_order);
    tcase_add_test(all, what_a_camera_has_not_or_refuses_is_left_alone);
    tcase_add_test(all, what_somebody_else_changed_since_is_not_put_back);
    tcase_add_test(all, exposure_fits_the_frame_and_the_mains);
    tcase_add_test(all, a_wished_exposure_is_kept_to_what_the_camera_can);
    tcase_add_test(all, an_automatic_exposure_is_not_told_as_known);
    tcase_add_test(all, what_was_set_is_told_in_words);
    tcase_add_test(all, a_killed_run_leaves_what_the_next_one_puts_back);
    tcase_add_test(all, a_camera_that_a_live_run_reads_is_left_alone);
    tcase_add_test(all, a_memory_that_others_can_write_or_that_is_no_memory_is_not_believed);
    int status = suite_end();
    scratch_end();
    return status;
}
