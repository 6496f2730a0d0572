/* camera.c - A camera, live: held still, stamped by its driver, put back at the end. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/camera_control.h"
#include "source/camera_count.h"
#include "source/camera_memory.h"
#include "source/camera_mode.h"
#include "source/camera_picture.h"
#include "source/camera_words.h"
#include "source/form.h"

enum {
    SETTLING_FRAMES = 4, /* taken before what was set holds, and drivers stamp them oddly */
    FAULTS_MAX = 30      /* in a row that a conversion may have before it is given up */
};
#define HOLE_FRAMES 4.5 /* intervals between two frames that make a hole */
static const int64_t whole_every_ns = INT64_C(500000000);
static const int64_t stall_ns = INT64_C(2000000000);

enum { WISH_SIDE_MAX_PX = 16384, WISH_RATE_MAX_HZ = 1000, SETTING_MODE = 0 };

struct camera {
    struct lamp_input *input;
    struct lamp_video *video;
    struct lamp_video_layout layout;
    struct lamp_control_owner owner;
    struct lamp_changes changes;
    struct lamp_memory *memory; /* NULL where there is none */
    struct lamp_developer *developer;
    struct lamp_count count;
    int64_t exposure_ns; /* 0 where not known */
    int64_t waiting_since_ns;
    struct lamp_picture_part part; /* wanted of the next frames */
    int64_t whole_ns;              /* when the last whole picture was taken */
    int settling;
    int fault_count; /* in a row */
    bool is_lent;    /* the driver's buffer of the last JPEG, ... */
    unsigned lent;   /* ... until the next frame is asked for */
};

static int64_t now_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * LAMP_NS_PER_S + now.tv_nsec;
}

static bool suits_camera(const struct lamp_sniff *sniff)
{
    const char *slash = strrchr(sniff->name, '/');
    const char *base = slash != NULL ? slash + 1 : sniff->name;
    return sniff->is_device && strncmp(base, "gpiochip", 8) != 0;
}

static enum lamp_err fail(struct camera *camera, enum lamp_camera_step step, int problem,
                          struct lamp_error *error)
{
    enum lamp_err code = problem == ENOMEM ? LAMP_NO_MEMORY : LAMP_BAD_SOURCE;
    return lamp_fail(error, code, camera->input->name, "%s", lamp_camera_trouble(step, problem));
}

/* -- opening -- */

static enum lamp_err check_rules(const struct lamp_input *input, struct lamp_error *error)
{
    const struct lamp_source_rules *rules = &input->rules;
    bool has_size = rules->camera.width_px >= 0 && rules->camera.width_px <= WISH_SIDE_MAX_PX &&
                    rules->camera.height_px >= 0 && rules->camera.height_px <= WISH_SIDE_MAX_PX;
    bool has_rate = rules->camera.rate_hz >= 0 && rules->camera.rate_hz <= (double)WISH_RATE_MAX_HZ;
    bool has_exposure =
        rules->camera.exposure_ns >= 0 && rules->camera.exposure_ns <= LAMP_NS_PER_S;
    if (has_size && has_rate && has_exposure) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, input->name,
                     "expected a picture of up to %d pixels a side, up to %d frames a second, an "
                     "exposure of up to 1 s",
                     WISH_SIDE_MAX_PX, WISH_RATE_MAX_HZ);
}

static enum lamp_err open_device(struct camera *camera, struct lamp_error *error)
{
    int problem = 0;
    if (!lamp_video_open(camera->input->name, &camera->video, &problem)) {
        return fail(camera, LAMP_CAMERA_OPENING, problem, error);
    }
    const char *unfit = lamp_camera_unfit(lamp_video_kind_of(camera->video));
    if (unfit != NULL) {
        return lamp_fail(error, LAMP_BAD_SOURCE, camera->input->name, "%s", unfit);
    }
    camera->owner = lamp_video_controls(camera->video);
    return LAMP_OK;
}

static void tell_mode(struct camera *camera, const struct lamp_mode_wish *wish)
{
    const struct lamp_video_mode *mode = &camera->layout.mode;
    double rate_hz = lamp_video_rate_hz(mode);
    char rate[64] = "";
    if (rate_hz > 0) {
        (void)snprintf(rate, sizeof rate, ", %.4g frames a second", rate_hz);
    }
    lamp_notes_say(&camera->input->settings, SETTING_MODE, "pictures of %d x %d, %s%s",
                   mode->width_px, mode->height_px, mode->code, rate);
    if (!lamp_mode_fits(mode, wish)) {
        lamp_notes_say(&camera->input->notes, LAMP_COUNT_NOTES,
                       "the camera does not have what was asked for: it takes pictures of %d x "
                       "%d%s",
                       mode->width_px, mode->height_px, rate);
    }
}

static enum lamp_err set_mode(struct camera *camera, struct lamp_error *error)
{
    const struct lamp_source_rules *rules = &camera->input->rules;
    struct lamp_mode_wish wish = {rules->camera.width_px, rules->camera.height_px,
                                  rules->camera.rate_hz};
    struct lamp_video_mode mode[LAMP_VIDEO_MODES_MAX];
    size_t count = lamp_video_modes(camera->video, mode);
    size_t best = lamp_mode_choose(mode, count, &wish);
    if (best == count) {
        return lamp_fail(error, LAMP_BAD_SOURCE, camera->input->name,
                         "the camera names no picture format: nothing feeds it yet, or it is no "
                         "camera; see \"lampread sources\"");
    }
    int problem = lamp_video_set_mode(camera->video, &mode[best], &camera->layout);
    if (problem == 0) {
        tell_mode(camera, &wish);
        problem = lamp_video_claim(camera->video);
    }
    return problem == 0 ? LAMP_OK : fail(camera, LAMP_CAMERA_SETTING, problem, error);
}

/* What is about to be set is written down before, for the case that this run is killed. */
static void set_controls(struct camera *camera)
{
    double rate_hz = lamp_video_rate_hz(&camera->layout.mode);
    struct lamp_hold_wish wish = {camera->input->rules.camera.exposure_ns,
                                  (int64_t)(1e9 / (rate_hz > 0 ? rate_hz : 30))};
    lamp_controls_plan(&camera->owner, &wish, &camera->changes);
    bool is_kept = camera->memory != NULL && lamp_memory_keep(camera->memory, &camera->changes);
    if (!is_kept && camera->changes.count > 0) {
        lamp_notes_say(
            &camera->input->settings, LAMP_CONTROL_COUNT + 1,
            "there is nowhere to note the camera's settings: a run that is killed leaves "
            "them changed");
    }
    lamp_controls_apply(&camera->owner, &camera->changes);
    if (is_kept) {
        (void)lamp_memory_keep(camera->memory, &camera->changes); /* as the camera took them */
    }
    lamp_controls_tell(&camera->changes, &camera->input->settings);
}

static enum lamp_err hold_still(struct camera *camera, struct lamp_error *error)
{
    struct lamp_changes left;
    enum lamp_memory_answer answer =
        lamp_memory_open(lamp_video_identity_of(camera->video), &left, &camera->memory);
    if (answer == LAMP_MEMORY_BUSY) {
        return fail(camera, LAMP_CAMERA_OPENING, EBUSY, error);
    }
    if (left.count > 0) {
        (void)lamp_controls_restore(&camera->owner, &left, true);
        lamp_notes_say(&camera->input->settings, LAMP_CONTROL_COUNT + 2,
                       "the camera was put back first as it was before a run that was killed");
    }
    if (!camera->input->rules.camera.leaves_controls) {
        set_controls(camera);
    }
    camera->exposure_ns = lamp_controls_exposure_ns(&camera->owner);
    return LAMP_OK;
}

static enum lamp_err start(struct camera *camera, struct lamp_error *error)
{
    if (lamp_developer_new(&camera->layout, &camera->developer) != LAMP_OK) {
        return lamp_fail_memory(error);
    }
    int problem = lamp_video_start(camera->video);
    camera->settling = SETTLING_FRAMES;
    camera->waiting_since_ns = now_ns();
    return problem == 0 ? LAMP_OK : fail(camera, LAMP_CAMERA_SETTING, problem, error);
}

/* Controls are put back before the frames stop. What cannot be, as the camera is gone, is left for
 * the next run to see to. */
static void close_camera(void *state)
{
    struct camera *camera = state;
    size_t failed =
        camera->video != NULL ? lamp_controls_restore(&camera->owner, &camera->changes, false) : 0;
    if (camera->memory != NULL && failed == 0) {
        lamp_memory_clear(camera->memory);
    }
    lamp_memory_free(camera->memory);
    lamp_video_close(camera->video);
    lamp_developer_free(camera->developer);
    free(camera);
}

static enum lamp_err open_camera(struct lamp_input *input, const struct lamp_sniff *sniff,
                                 void **state, struct lamp_error *error)
{
    enum lamp_err (*const steps[])(struct camera *, struct lamp_error *) = {open_device, set_mode,
                                                                            hold_still, start};
    struct camera *camera = calloc(1, sizeof *camera);
    (void)sniff;
    if (camera == NULL) {
        return lamp_fail_memory(error);
    }
    camera->input = input;
    enum lamp_err err = check_rules(input, error);
    for (size_t i = 0; i < sizeof steps / sizeof *steps && err == LAMP_OK; i++) {
        err = steps[i](camera, error);
    }
    if (err != LAMP_OK) {
        close_camera(camera);
        return err;
    }
    *state = camera;
    return LAMP_OK;
}

/* -- frames -- */

static bool is_whole_due(const struct camera *camera, int64_t t_ns)
{
    return camera->input->pace.item_count == 0 || t_ns - camera->whole_ns >= whole_every_ns;
}

/* Within fewer frames than that no lamp can flash that could be read at all. */
static bool is_after_hole(const struct lamp_pace *pace, int64_t t_ns)
{
    double usual_ns = lamp_pace_interval_ns(pace);
    return usual_ns > 0 && (double)(t_ns - pace->last_ns) > HOLE_FRAMES * usual_ns;
}

/* @return LAMP_OK with an item; LAMP_NOT_YET where the frame was left out; LAMP_NO_MEMORY. */
static enum lamp_err develop(struct camera *camera, const struct lamp_video_frame *frame,
                             struct lamp_item *out)
{
    struct lamp_picture_part part = camera->part;
    struct lamp_item item = {.kind = LAMP_ITEM_FRAME};
    int64_t t_ns = 0;
    if (!lamp_count_frame(&camera->count, frame, &t_ns)) {
        return LAMP_NOT_YET;
    }
    if (is_whole_due(camera, t_ns)) {
        part = (struct lamp_picture_part){.end_row_px = 0};
    }
    enum lamp_err err =
        lamp_developer_push(camera->developer, frame->at, frame->size, &part, &item.frame);
    if (err == LAMP_BAD_SOURCE) {
        lamp_count_broken(&camera->count);
        return LAMP_NOT_YET;
    }
    if (err != LAMP_OK) {
        return err;
    }
    item.frame.t_ns = t_ns;
    item.frame.exposure_ns = camera->exposure_ns;
    if (camera->layout.mode.format == LAMP_VIDEO_MJPEG) {
        item.frame.coded = frame->at;
        item.frame.coded_size = frame->size;
    }
    item.frame.is_after_hole = is_after_hole(&camera->input->pace, t_ns);
    camera->whole_ns = item.frame.is_partial ? camera->whole_ns : t_ns;
    lamp_pace_push(&camera->input->pace, 0, t_ns, 0);
    *out = item;
    return LAMP_OK;
}

/* Where it cannot be given back the device is gone, which the next frame will tell. */
static void give_back(struct camera *camera, unsigned index)
{
    (void)lamp_video_give_back(camera->video, index);
}

static enum lamp_err take(struct camera *camera, const struct lamp_video_frame *frame,
                          struct lamp_item *out)
{
    enum lamp_err err = LAMP_NOT_YET;
    camera->waiting_since_ns = now_ns();
    camera->fault_count = 0;
    if (camera->settling > 0) {
        camera->settling--;
    } else {
        err = develop(camera, frame, out);
        lamp_count_tell(&camera->count, &camera->input->notes);
    }
    if (err == LAMP_OK && out->frame.coded != NULL) {
        camera->is_lent = true;
        camera->lent = frame->index;
        return err;
    }
    give_back(camera, frame->index);
    return err;
}

/* A frame that libv4l2 could not convert is one that is broken. */
static enum lamp_err take_fault(struct camera *camera, int problem, struct lamp_error *error)
{
    if ((problem == EIO || problem == EPIPE) && ++camera->fault_count < FAULTS_MAX) {
        lamp_count_broken(&camera->count);
        lamp_count_tell(&camera->count, &camera->input->notes);
        return LAMP_NOT_YET;
    }
    return fail(camera, LAMP_CAMERA_READING, problem, error);
}

static void note_stall(struct camera *camera)
{
    if (now_ns() - camera->waiting_since_ns >= stall_ns) {
        lamp_notes_say(&camera->input->notes, LAMP_COUNT_NOTES + 1,
                       "no picture came for 2 s: the camera or its cable stands still; still "
                       "waiting");
    }
}

static enum lamp_err next_frame(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct camera *camera = state;
    int64_t until_ns = now_ns() + camera->input->rules.wait_ns;
    enum lamp_err err;
    if (camera->is_lent) {
        camera->is_lent = false;
        give_back(camera, camera->lent);
    }
    do {
        struct lamp_video_frame frame;
        int problem = 0;
        int64_t left_ns = until_ns - now_ns();
        err = lamp_video_take(camera->video, left_ns > 0 ? left_ns : 0, &frame, &problem);
        if (err == LAMP_OK) {
            err = take(camera, &frame, out);
        } else if (err == LAMP_BAD_SOURCE) {
            err = take_fault(camera, problem, error);
        } else {
            note_stall(camera);
        }
    } while (err == LAMP_NOT_YET && now_ns() < until_ns);
    return err == LAMP_NO_MEMORY ? lamp_fail_memory(error) : err;
}

/* What does not lie in the picture is no part of it. */
static void focus_camera(void *state, const struct lamp_picture_part *part)
{
    struct camera *camera = state;
    const struct lamp_video_mode *mode = &camera->layout.mode;
    bool is_part = part->first_row_px >= 0 && part->first_row_px < part->end_row_px &&
                   part->end_row_px <= mode->height_px && part->first_column_px >= 0 &&
                   part->first_column_px < part->end_column_px &&
                   part->end_column_px <= mode->width_px;
    camera->part = is_part ? *part : (struct lamp_picture_part){.end_row_px = 0};
}

static void describe_camera(const void *state, struct lamp_source_info *out)
{
    const struct camera *camera = state;
    out->width_px = camera->layout.mode.width_px;
    out->height_px = camera->layout.mode.height_px;
    /* Not every camera counts what it leaves out itself: the stamps tell of that. */
    uint64_t counted = camera->count.lost + camera->count.broken;
    out->dropped_count = out->dropped_count > counted ? out->dropped_count : counted;
    out->origin_ns = camera->count.origin_ns;
}

static double camera_progress(const void *state)
{
    (void)state;
    return -1;
}

const struct lamp_form lamp_form_camera = {
    .kind = LAMP_SOURCE_CAMERA,
    .suits = suits_camera,
    .open = open_camera,
    .next = next_frame,
    .describe = describe_camera,
    .focus = focus_camera,
    .progress = camera_progress,
    .close = close_camera,
};
