/* video_device.h - An open camera device, shared by the files that ask it for modes, controls and
 * frames. */
#ifndef LAMP_SOURCE_VIDEO_DEVICE_H
#define LAMP_SOURCE_VIDEO_DEVICE_H

#include "source/video.h"

/** Memory of the device's that frames come in. */
struct lamp_video_buffer {
    void *at;
    size_t size;
};

struct lamp_video {
    int file;
    enum lamp_video_kind kind;
    struct lamp_video_identity identity;
    struct lamp_video_buffer buffer[LAMP_VIDEO_BUFFERS_MAX];
    unsigned buffer_count;
    bool is_started;
};

/** Ask the device; repeated where a signal came between. @return 0, or errno. */
int lamp_video_ask(const struct lamp_video *video, unsigned long request, void *argument);

/** Map `size` bytes of the device's memory. @return NULL on failure. */
void *lamp_video_map(const struct lamp_video *video, size_t size, int64_t offset);

/** Unmap them. */
void lamp_video_unmap(void *at, size_t size);

/** Stop frames and let all buffers go. */
void lamp_video_stop(struct lamp_video *video);

#endif
