/* webcam_uvc.h - The camera as USB requests see it: its descriptors, its controls, the stream
 * agreed on. */
#ifndef LAMP_TESTS_HARDWARE_WEBCAM_UVC_H
#define LAMP_TESTS_HARDWARE_WEBCAM_UVC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/** Most picture sizes. */
#define UVC_SIZES_MAX 4

/** Most bytes of one payload of the stream, its header included. */
#define UVC_PAYLOAD_MAX 16384

/** The controls, in the order of the table in webcam_uvc.c. */
enum uvc_control {
    UVC_EXPOSURE_AUTO,     /**< 1: manual, 8: the camera chooses the exposure. */
    UVC_EXPOSURE_PRIORITY, /**< 1: it may slow the stream down for it. */
    UVC_EXPOSURE,          /**< In 100 us. */
    UVC_BRIGHTNESS,
    UVC_GAIN,
    UVC_LINE_FREQUENCY,
    UVC_WARMTH,      /**< White balance, K. */
    UVC_WARMTH_AUTO, /**< 1: the camera chooses it. */
    UVC_CONTROLS
};

struct uvc_size {
    int width_px;
    int height_px;
};

/** State of the device. What it is stands in the first fields; the rest is set by uvc_reset. */
struct uvc {
    const char *name; /**< What it calls itself. */
    struct uvc_size sizes[UVC_SIZES_MAX];
    int size_count;
    bool has_jpeg; /**< Its formats: MJPEG first, then YUYV, at least one of them. */
    bool has_yuyv;
    int32_t control[UVC_CONTROLS]; /**< Values now. */
    bool is_streaming;
    uint8_t probe[26];  /**< The stream that is asked for (UVC 1.0, 4.3.1.1). */
    uint8_t commit[26]; /**< The stream that runs. */
};

/** What the stream sends. */
struct uvc_stream {
    bool is_jpeg;
    struct uvc_size size;
    int64_t interval_ns;
};

/** Controls to their defaults, no stream: as after being plugged in. */
void uvc_reset(struct uvc *uvc);

/**
 * Answer a request on endpoint 0.
 * @param setup  its 8 bytes.
 * @param data   in: what came with it; out: the answer, at most 4096 bytes.
 * @return how many bytes the answer has, 0 where it has none; -1: the request is refused.
 */
int uvc_request(struct uvc *uvc, const uint8_t setup[8], uint8_t *data, size_t size_bytes);

/** The stream that was agreed on. */
struct uvc_stream uvc_stream(const struct uvc *uvc);

/** Write "name value default" of each control. */
void uvc_write_controls(const struct uvc *uvc, FILE *file);

#endif
