/* webcam.h - The simulated camera as a whole, and the frames it takes. */
#ifndef LAMP_TESTS_HARDWARE_WEBCAM_H
#define LAMP_TESTS_HARDWARE_WEBCAM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "light.h"
#include "webcam_picture.h"
#include "webcam_usb.h"
#include "webcam_uvc.h"

/** What becomes of a frame. */
enum fate { SENT, ERROR, SHORT, TRUNCATED, CORRUPTED, LOST, STALLED, UNREAD, FATES };

/* A frame whose exposure has not ended yet. */
struct exposed {
    int64_t end_ns;
    bool is_ready; /* the rest is known */
    int exposure_100us;
    int lit_permille;
    struct picture picture;
};

struct webcam {
    struct uvc uvc;
    struct usb usb;
    struct light light;
    struct picture_maker *maker;
    double room;
    int commands; /* the FIFO, open */
    const char *commands_path;
    const char *truth_path;
    FILE *frames;
    bool is_over;

    int every[FATES]; /* each how many frames it is done; 0: to none */
    int64_t stalled_until_ns;
    double auto_exposure_100us;

    bool runs; /* a stream has begun */
    int stream;
    int frame;
    struct exposed next;

    uint8_t *bytes; /* the frame on the wire, NULL between frames */
    size_t size_bytes;
    size_t sent_bytes;
    bool has_error;
    uint8_t frame_bit; /* turns over with each frame that the bus carries */
};

/** Begin or end the stream, as the host has asked for meanwhile. */
void webcam_follow_stream(struct webcam *webcam);

/** Do what is due: make the next picture, or put it on the wire. */
void webcam_work(struct webcam *webcam);

/** When there is work again, ns. */
int64_t webcam_work_ns(const struct webcam *webcam);

/** Send what the host's reads take of the frame on the wire. */
void webcam_send(struct webcam *webcam);

#endif
