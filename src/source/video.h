/* video.h - A camera device as the kernel offers it (V4L2, through libv4l2): modes, controls,
 * frames.
 *
 *   open -> modes -> begin -> take, give back, take, ... -> close
 *             '-> controls: range, get, set
 */
#ifndef LAMP_SOURCE_VIDEO_H
#define LAMP_SOURCE_VIDEO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

/** Most modes of one camera that are looked at. */
#define LAMP_VIDEO_MODES_MAX 256

/** Longest name that a driver gives, bytes with the closing zero. */
#define LAMP_VIDEO_NAME_MAX 33

/** Most buffers that frames wait in. */
#define LAMP_VIDEO_BUFFERS_MAX 16

/** How pictures come out of the device. */
enum lamp_video_format {
    LAMP_VIDEO_MJPEG,
    LAMP_VIDEO_GREY,
    LAMP_VIDEO_NV12,
    LAMP_VIDEO_YU12,
    LAMP_VIDEO_YUYV,
    LAMP_VIDEO_CONVERTED /**< Something else, which libv4l2 makes YU12 of. */
};

/** One way of taking pictures. */
struct lamp_video_mode {
    enum lamp_video_format format;
    char code[5]; /**< The four characters of the camera's own format, "MJPG". */
    int width_px;
    int height_px;
    uint32_t interval_top; /**< Frame interval as a fraction of seconds; 0 / 0 where the camera does
                              not say. */
    uint32_t interval_bottom;
};

/** Frames a second, 0 where the camera does not say. */
double lamp_video_rate_hz(const struct lamp_video_mode *mode);

/** What the device says of itself. */
struct lamp_video_identity {
    char name[LAMP_VIDEO_NAME_MAX];
    char driver[LAMP_VIDEO_NAME_MAX];
    char bus[LAMP_VIDEO_NAME_MAX];
};

/** What a device turned out to be. */
enum lamp_video_kind {
    LAMP_VIDEO_CAMERA,
    LAMP_VIDEO_METADATA, /**< Carries what a camera says of its frames. */
    LAMP_VIDEO_OTHER, /**< Shows or processes pictures, or hands them out in no way that is known.
                       */
    LAMP_VIDEO_MUTE   /**< Captures, but cannot stream. */
};

struct lamp_video;

/**
 * Open a device.
 * @param out      closed by the caller; untouched on failure.
 * @param problem  set to the errno of a failure.
 */
bool lamp_video_open(const char *path, struct lamp_video **out, int *problem);

/** What it is. */
enum lamp_video_kind lamp_video_kind_of(const struct lamp_video *video);

/** What it says of itself; borrowed until it is closed. */
const struct lamp_video_identity *lamp_video_identity_of(const struct lamp_video *video);

/** The modes that can be read, at most LAMP_VIDEO_MODES_MAX. @return how many. */
size_t lamp_video_modes(struct lamp_video *video, struct lamp_video_mode out[LAMP_VIDEO_MODES_MAX]);

/** How the pictures of a mode that was set are laid out. */
struct lamp_video_layout {
    struct lamp_video_mode mode; /**< As the device took it. */
    int stride_bytes;            /**< Of the first plane's rows. */
    enum lamp_matrix matrix;
    enum lamp_transfer transfer;
    bool is_full_range;
};

/** Set a mode. @return 0, or errno. */
int lamp_video_set_mode(struct lamp_video *video, const struct lamp_video_mode *mode,
                        struct lamp_video_layout *out);

/** Make buffers: from now on the device is this program's. @return 0, or errno. */
int lamp_video_claim(struct lamp_video *video);

/** Let frames come. @return 0, or errno. */
int lamp_video_start(struct lamp_video *video);

/** A frame, borrowed from the device until it is given back. */
struct lamp_video_frame {
    unsigned index; /**< Of its buffer. */
    const uint8_t *at;
    size_t size;
    int64_t t_ns;      /**< On the monotonic clock. */
    bool is_by_driver; /**< False: the driver gave no monotonic stamp, this is when it arrived. */
    uint32_t sequence;
    bool is_damaged; /**< The driver says so. */
};

/**
 * Wait for the next frame.
 * @return LAMP_OK; LAMP_NOT_YET after wait_ns; LAMP_BAD_SOURCE with `problem` set to errno.
 */
enum lamp_err lamp_video_take(struct lamp_video *video, int64_t wait_ns,
                              struct lamp_video_frame *out, int *problem);

/** Give a frame back. @return 0, or errno. */
int lamp_video_give_back(struct lamp_video *video, unsigned index);

/** Controls that matter to reading lamps, in the order they are set. */
enum lamp_control {
    LAMP_CONTROL_EXPOSURE_AUTO,
    LAMP_CONTROL_EXPOSURE_PRIORITY, /**< Longer exposures at the cost of the frame rate. */
    LAMP_CONTROL_EXPOSURE,          /**< In units of 100 us. */
    LAMP_CONTROL_GAIN_AUTO,
    LAMP_CONTROL_WHITE_AUTO,
    LAMP_CONTROL_FOCUS_AUTO,
    LAMP_CONTROL_RIPPLE, /**< Mains frequency: 0 off, 1 50 Hz, 2 60 Hz, 3 by itself. Only read. */
    LAMP_CONTROL_COUNT
};

/** What values a control takes. */
struct lamp_control_range {
    int32_t least;
    int32_t most;
    int32_t step;    /**< >= 1 */
    uint32_t choice; /**< Of a menu: bit n is set where n may be chosen; else 0. */
};

/** Whatever has controls: a device, or a table in a test. */
struct lamp_control_owner {
    void *owner;
    bool (*range)(void *owner, enum lamp_control control, struct lamp_control_range *out);
    bool (*get)(void *owner, enum lamp_control control, int32_t *out);
    bool (*set)(void *owner, enum lamp_control control, int32_t value);
};

/** The controls of a device, valid until it is closed. */
struct lamp_control_owner lamp_video_controls(struct lamp_video *video);

/** Stop and close; NULL is fine. */
void lamp_video_close(struct lamp_video *video);

#endif
