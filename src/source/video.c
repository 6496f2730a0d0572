/* video.c - A camera device opened, asked and closed through libv4l2. */
#include <errno.h>
#include <fcntl.h>
#include <libv4l2.h>
#include <linux/videodev2.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

#include "source/video_device.h"

enum { VIDEO_MAJOR = 81 }; /* of device files, Linux's admin-guide/devices.txt */

int lamp_video_ask(const struct lamp_video *video, unsigned long request, void *argument)
{
    int answer;
    do {
        answer = v4l2_ioctl(video->file, request, argument);
    } while (answer != 0 && errno == EINTR);
    return answer == 0 ? 0 : errno;
}

void *lamp_video_map(const struct lamp_video *video, size_t size, int64_t offset)
{
    void *at =
        v4l2_mmap(NULL, size, PROT_READ | PROT_WRITE, MAP_SHARED, video->file, (off_t)offset);
    return at == MAP_FAILED ? NULL : at;
}

void lamp_video_unmap(void *at, size_t size)
{
    (void)v4l2_munmap(at, size);
}

/* The library prints to standard error unless it is given a file. */
static void silence(void)
{
    if (v4l2_log_file == NULL) {
        v4l2_log_file = fopen("/dev/null", "we");
    }
}

static enum lamp_video_kind kind_by(const struct v4l2_capability *can)
{
    __u32 caps =
        (can->capabilities & V4L2_CAP_DEVICE_CAPS) != 0 ? can->device_caps : can->capabilities;
    if ((caps & V4L2_CAP_VIDEO_CAPTURE) != 0) {
        return (caps & V4L2_CAP_STREAMING) != 0 ? LAMP_VIDEO_CAMERA : LAMP_VIDEO_MUTE;
    }
    return (caps & V4L2_CAP_META_CAPTURE) != 0 ? LAMP_VIDEO_METADATA : LAMP_VIDEO_OTHER;
}

static void take_name(char out[LAMP_VIDEO_NAME_MAX], const __u8 *name, size_t size)
{
    size_t length = size < LAMP_VIDEO_NAME_MAX ? size : LAMP_VIDEO_NAME_MAX - 1;
    memset(out, 0, LAMP_VIDEO_NAME_MAX);
    for (size_t i = 0; i < length && name[i] != '\0'; i++) {
        out[i] = (char)(name[i] >= ' ' && name[i] < 0x7f ? name[i] : '?');
    }
}

static int identify(struct lamp_video *video)
{
    struct v4l2_capability can = {.capabilities = 0};
    int problem = ioctl(video->file, VIDIOC_QUERYCAP, &can) == 0 ? 0 : errno;
    if (problem == 0) {
        video->kind = kind_by(&can);
        take_name(video->identity.name, can.card, sizeof can.card);
        take_name(video->identity.driver, can.driver, sizeof can.driver);
        take_name(video->identity.bus, can.bus_info, sizeof can.bus_info);
    }
    return problem;
}

/* Only the nodes of cameras are opened: opening another device may make it act. */
static int check_node(const char *path)
{
    struct stat what;
    if (stat(path, &what) != 0) {
        return errno;
    }
    return S_ISCHR(what.st_mode) && major(what.st_rdev) == VIDEO_MAJOR ? 0 : ENOTTY;
}

/* libv4l2 takes cameras only; of other nodes it is enough to know what they are. */
static int begin(struct lamp_video *video, const char *path)
{
    int problem = check_node(path);
    if (problem == 0) {
        video->file = open(path, O_RDWR | O_NONBLOCK | O_CLOEXEC);
        problem = video->file < 0 ? errno : identify(video);
    }
    if (problem == 0 && video->kind == LAMP_VIDEO_CAMERA && v4l2_fd_open(video->file, 0) < 0) {
        problem = errno != 0 ? errno : EINVAL;
    }
    return problem;
}

bool lamp_video_open(const char *path, struct lamp_video **out, int *problem)
{
    struct lamp_video *video = calloc(1, sizeof *video);
    if (video == NULL) {
        *problem = ENOMEM;
        return false;
    }
    video->file = -1;
    silence();
    *problem = begin(video, path);
    if (*problem != 0) {
        lamp_video_close(video);
        return false;
    }
    *out = video;
    return true;
}

enum lamp_video_kind lamp_video_kind_of(const struct lamp_video *video)
{
    return video->kind;
}

const struct lamp_video_identity *lamp_video_identity_of(const struct lamp_video *video)
{
    return &video->identity;
}

void lamp_video_close(struct lamp_video *video)
{
    if (video == NULL) {
        return;
    }
    lamp_video_stop(video);
    if (video->file >= 0) {
        (void)v4l2_close(video->file); /* closes what it does not know as close() does */
    }
    free(video);
}
