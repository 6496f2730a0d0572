/* webcam_frame.c - Frames of the simulated camera: exposed, damaged where that was asked for, sent
 * in payloads. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "webcam.h"

static const double ns_per_s = 1e9;
static const double ns_per_100us = 1e5;
static const char *const fate_names[FATES] = {"sent",      "error", "short",   "truncated",
                                              "corrupted", "lost",  "stalled", "unread"};

/* -- sensor -- */

static const double bright_exposure_100us = 156; /* what the camera chooses on a bright bench */

/* A room too dim for the frame rate: with exposure priority the camera halves the rate. */
static int64_t interval_ns(const struct webcam *webcam)
{
    const int32_t *control = webcam->uvc.control;
    int64_t agreed_ns = uvc_stream(&webcam->uvc).interval_ns;
    bool may_slow = control[UVC_EXPOSURE_AUTO] != 1 && control[UVC_EXPOSURE_PRIORITY] != 0;
    bool is_dim = bright_exposure_100us / webcam->room * ns_per_100us > (double)agreed_ns;
    return may_slow && is_dim ? 2 * agreed_ns : agreed_ns;
}

/* By itself the camera follows the room, and gives way to the lamp, a fifth of the way each frame.
 */
static int choose_exposure(struct webcam *webcam, int lit_permille)
{
    double most_100us = (double)interval_ns(webcam) / ns_per_100us;
    double wanted_100us = webcam->uvc.control[UVC_EXPOSURE];
    if (webcam->uvc.control[UVC_EXPOSURE_AUTO] != 1) {
        double aim_100us = bright_exposure_100us / webcam->room * (1 - 0.25 * lit_permille / 1000);
        webcam->auto_exposure_100us += 0.2 * (aim_100us - webcam->auto_exposure_100us);
        wanted_100us = 8 * (int)(webcam->auto_exposure_100us / 8); /* sensors have steps */
    }
    int exposure_100us = (int)(wanted_100us < most_100us ? wanted_100us : most_100us);
    exposure_100us = exposure_100us < 1 ? 1 : exposure_100us;
    if (webcam->uvc.control[UVC_EXPOSURE_AUTO] != 1) {
        webcam->uvc.control[UVC_EXPOSURE] = exposure_100us;
    }
    return exposure_100us;
}

static int lit_permille(const struct webcam *webcam, int64_t end_ns, int exposure_100us)
{
    int64_t exposure_ns = (int64_t)(exposure_100us * ns_per_100us);
    return (int)(light_lit_ns(&webcam->light, end_ns - exposure_ns, end_ns) * 1000 / exposure_ns);
}

static struct picture take_picture(struct webcam *webcam, int exposure_100us, int lit)
{
    const int32_t *control = webcam->uvc.control;
    struct uvc_stream stream = uvc_stream(&webcam->uvc);
    struct picture_look look = {.width_px = stream.size.width_px,
                                .height_px = stream.size.height_px,
                                .is_jpeg = stream.is_jpeg,
                                .lit_permille = lit,
                                .exposure_100us = exposure_100us,
                                .gain = control[UVC_GAIN],
                                .brightness = control[UVC_BRIGHTNESS],
                                .warmth_k = control[UVC_WARMTH_AUTO] ? 4600 : control[UVC_WARMTH],
                                .noise = (webcam->frame + PICTURE_NOISES) % PICTURE_NOISES};
    return picture_make(webcam->maker, &look);
}

/* -- frames -- */

static enum fate draw_fate(const struct webcam *webcam, int64_t now_ns)
{
    if (now_ns < webcam->stalled_until_ns) {
        return STALLED;
    }
    if (webcam->bytes != NULL) {
        return UNREAD; /* the one before is still on its way: nobody takes them fast enough */
    }
    for (enum fate fate = ERROR; fate <= LOST; fate++) {
        if (webcam->every[fate] > 0 && webcam->frame % webcam->every[fate] == 0) {
            return fate;
        }
    }
    return SENT;
}

/* The picture is copied, so that damage done to it stays its own. */
static void put_on_wire(struct webcam *webcam, const struct picture *picture, enum fate fate)
{
    webcam->bytes = malloc(picture->size_bytes);
    if (webcam->bytes == NULL) {
        return;
    }
    memcpy(webcam->bytes, picture->bytes, picture->size_bytes);
    webcam->size_bytes =
        fate == SHORT || fate == TRUNCATED ? picture->size_bytes / 2 : picture->size_bytes;
    webcam->sent_bytes = 0;
    webcam->has_error = fate == ERROR;
    webcam->frame_bit ^= 1;
    for (size_t i = picture->size_bytes / 4; fate == CORRUPTED && i < webcam->size_bytes; i += 97) {
        webcam->bytes[i] ^= 0x5a;
    }
}

/* What the next exposure will have seen is known before it ends, so that it is sent in the moment
 * it does. The picture is made halfway there: sooner, it would keep the kernel from stamping the
 * frame before. */
int64_t webcam_work_ns(const struct webcam *webcam)
{
    return webcam->next.end_ns - (webcam->next.is_ready ? 0 : interval_ns(webcam) / 2);
}

static void prepare_frame(struct webcam *webcam)
{
    struct exposed *next = &webcam->next;
    webcam->frame++;
    next->exposure_100us = choose_exposure(webcam, lit_permille(webcam, next->end_ns, 1));
    next->lit_permille = lit_permille(webcam, next->end_ns, next->exposure_100us);
    next->picture = take_picture(webcam, next->exposure_100us, next->lit_permille);
    next->is_ready = true;
}

static void take_frame(struct webcam *webcam)
{
    struct exposed *next = &webcam->next;
    enum fate fate = draw_fate(webcam, next->end_ns);
    if (fate < LOST) {
        put_on_wire(webcam, &next->picture, fate);
    }
    if (webcam->frames != NULL) {
        (void)fprintf(webcam->frames, "%d,%d,%.6f,%.4f,%.3f,%s\n", webcam->stream, webcam->frame,
                      (double)next->end_ns / ns_per_s, next->exposure_100us / 1e4,
                      next->lit_permille / 1e3, fate_names[fate]);
    }
    next->end_ns += interval_ns(webcam);
    next->is_ready = false;
}

void webcam_work(struct webcam *webcam)
{
    if (!webcam->runs || light_now_ns() < webcam_work_ns(webcam)) {
        return;
    }
    if (webcam->next.is_ready) {
        take_frame(webcam);
    } else {
        prepare_frame(webcam);
    }
}

static void end_frame(struct webcam *webcam)
{
    free(webcam->bytes);
    webcam->bytes = NULL;
}

/* Each read of the host takes one payload: a header of two bytes, then as much of the frame as
 * fits. */
static bool send_payload(struct webcam *webcam)
{
    uint8_t payload[UVC_PAYLOAD_MAX];
    size_t most_bytes = webcam->usb.reads[0].size_bytes < sizeof payload
                            ? webcam->usb.reads[0].size_bytes
                            : sizeof payload;
    size_t part_bytes = webcam->size_bytes - webcam->sent_bytes;
    part_bytes = part_bytes > most_bytes - 2 ? most_bytes - 2 : part_bytes;
    bool is_last = webcam->sent_bytes + part_bytes == webcam->size_bytes;
    payload[0] = 2;
    payload[1] =
        (uint8_t)(0x80 | (webcam->has_error ? 0x40 : 0) | (is_last ? 0x02 : 0) | webcam->frame_bit);
    memcpy(payload + 2, webcam->bytes + webcam->sent_bytes, part_bytes);
    webcam->sent_bytes += part_bytes;
    if (is_last) {
        end_frame(webcam);
    }
    return usb_give(&webcam->usb, payload, part_bytes + 2);
}

void webcam_send(struct webcam *webcam)
{
    bool is_there = true;
    while (is_there && webcam->bytes != NULL && webcam->usb.read_count > 0) {
        is_there = send_payload(webcam);
    }
}

void webcam_follow_stream(struct webcam *webcam)
{
    if (webcam->uvc.is_streaming && !webcam->runs) {
        webcam->stream++;
        for (webcam->frame = -PICTURE_NOISES; webcam->frame < 0;) {
            prepare_frame(webcam); /* the sensor runs in: the first frame is not late */
        }
        webcam->next = (struct exposed){.end_ns = light_now_ns() + 40 * 1000000};
    }
    webcam->runs = webcam->uvc.is_streaming;
    if (!webcam->runs) {
        end_frame(webcam);
    }
}
