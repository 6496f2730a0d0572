/* camera_list.c - The cameras of this machine, or what is missing that there is none. */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "source/camera_mode.h"
#include "source/camera_words.h"
#include "source/form.h"

enum { NUMBERS_MAX = 256 };

static const char folder[] = "/dev";
static const char prefix[] = "video";

/* The numbers of the devices, in order. */
struct numbers {
    size_t count;
    int at[NUMBERS_MAX];
};

static void add_number(struct numbers *numbers, int number)
{
    size_t at = numbers->count;
    if (at == NUMBERS_MAX) {
        return;
    }
    for (; at > 0 && numbers->at[at - 1] > number; at--) {
        numbers->at[at] = numbers->at[at - 1];
    }
    numbers->at[at] = number;
    numbers->count++;
}

/* The number in the name of a device, -1 if it is none of a camera. */
static int number_in(const char *name)
{
    const char *digits = name + sizeof prefix - 1;
    char *end = NULL;
    if (strncmp(name, prefix, sizeof prefix - 1) != 0 || *digits < '0' || *digits > '9') {
        return -1;
    }
    long number = strtol(digits, &end, 10);
    return *end == '\0' && number < 10000 ? (int)number : -1;
}

static void find_numbers(struct numbers *out)
{
    DIR *open_folder = opendir(folder);
    const struct dirent *entry;
    while (open_folder != NULL && (entry = readdir(open_folder)) != NULL) {
        int number = number_in(entry->d_name);
        if (number >= 0) {
            add_number(out, number);
        }
    }
    if (open_folder != NULL) {
        (void)closedir(open_folder);
    }
}

static void describe_modes(struct lamp_video *video, struct lamp_camera *out)
{
    struct lamp_video_mode mode[LAMP_VIDEO_MODES_MAX];
    const struct lamp_mode_wish any = {0};
    size_t count = lamp_video_modes(video, mode);
    size_t best = lamp_mode_choose(mode, count, &any);
    for (size_t i = 0; i < count; i++) {
        bool is_best_to_come = best > i && best < count;
        size_t room = LAMP_CAMERA_MODES_MAX - (is_best_to_come ? 1U : 0U);
        if (out->mode_count >= room) {
            out->mode_left_out++;
            continue;
        }
        struct lamp_camera_mode *told = &out->mode[out->mode_count];
        memcpy(told->format, mode[i].code, sizeof told->format);
        told->width_px = mode[i].width_px;
        told->height_px = mode[i].height_px;
        told->rate_hz = lamp_video_rate_hz(&mode[i]);
        out->mode_best = i == best ? out->mode_count : out->mode_best;
        out->mode_count++;
    }
    if (out->mode_count == 0) {
        (void)snprintf(out->trouble, sizeof out->trouble,
                       "it names no picture format: nothing feeds it yet");
    }
}

/* @return false for a device that carries no pictures: it is no camera. */
static bool describe(const char *path, struct lamp_camera *out)
{
    struct lamp_video *video = NULL;
    int problem = 0;
    *out = (struct lamp_camera){.mode_count = 0};
    (void)snprintf(out->path, sizeof out->path, "%s", path);
    if (!lamp_video_open(path, &video, &problem)) {
        (void)snprintf(out->trouble, sizeof out->trouble, "%s",
                       lamp_camera_trouble(LAMP_CAMERA_OPENING, problem));
        return problem != ENOTTY;
    }
    const struct lamp_video_identity *identity = lamp_video_identity_of(video);
    enum lamp_video_kind kind = lamp_video_kind_of(video);
    (void)snprintf(out->name, sizeof out->name, "%s", identity->name);
    (void)snprintf(out->driver, sizeof out->driver, "%s", identity->driver);
    if (kind == LAMP_VIDEO_CAMERA) {
        describe_modes(video, out);
    } else {
        (void)snprintf(out->trouble, sizeof out->trouble, "%s", lamp_camera_unfit(kind));
    }
    lamp_video_close(video);
    return kind == LAMP_VIDEO_CAMERA || kind == LAMP_VIDEO_MUTE;
}

static const char *missing_words(size_t device_count)
{
    if (device_count > 0) {
        return "the video devices of this machine carry no pictures of a camera: plug one in";
    }
    return "no camera is plugged in, or the kernel has no driver for it (no /dev/video*): plug one "
           "in and look at \"lsusb\" and \"sudo dmesg\"; in a container or virtual machine, hand "
           "the device through";
}

void lamp_source_list_cameras(struct lamp_camera_list *out)
{
    struct numbers numbers = {0};
    *out = (struct lamp_camera_list){.count = 0};
    find_numbers(&numbers);
    for (size_t i = 0; i < numbers.count && out->count < LAMP_CAMERAS_MAX; i++) {
        char path[64];
        (void)snprintf(path, sizeof path, "%s/%s%d", folder, prefix, numbers.at[i]);
        if (describe(path, &out->camera[out->count])) {
            out->count++;
        } else {
            out->hidden_count++;
        }
    }
    if (out->count == 0) {
        out->camera[0] = (struct lamp_camera){.mode_count = 0};
        (void)snprintf(out->missing, sizeof out->missing, "%s", missing_words(numbers.count));
    }
}
