/* video_stream.c - Frames out of a camera device: buffers, stamps, waiting. */
#include <errno.h>
#include <linux/videodev2.h>
#include <poll.h>
#include <time.h>

#include "source/video_device.h"

enum { BUFFERS = 8, NS_PER_MS = 1000000 };

static struct v4l2_buffer empty_buffer(unsigned index)
{
    return (struct v4l2_buffer){
        .type = V4L2_BUF_TYPE_VIDEO_CAPTURE, .memory = V4L2_MEMORY_MMAP, .index = index};
}

static int map_buffer(struct lamp_video *video, unsigned index)
{
    struct v4l2_buffer buffer = empty_buffer(index);
    int problem = lamp_video_ask(video, VIDIOC_QUERYBUF, &buffer);
    if (problem != 0) {
        return problem;
    }
    void *at = lamp_video_map(video, buffer.length, buffer.m.offset);
    if (at == NULL) {
        return ENOMEM;
    }
    video->buffer[video->buffer_count++] = (struct lamp_video_buffer){at, buffer.length};
    return 0;
}

int lamp_video_claim(struct lamp_video *video)
{
    struct v4l2_requestbuffers wanted = {
        .count = BUFFERS, .type = V4L2_BUF_TYPE_VIDEO_CAPTURE, .memory = V4L2_MEMORY_MMAP};
    int problem = lamp_video_ask(video, VIDIOC_REQBUFS, &wanted);
    if (problem == 0 && wanted.count < 2) {
        problem = ENOMEM;
    }
    for (unsigned i = 0; problem == 0 && i < wanted.count && i < LAMP_VIDEO_BUFFERS_MAX; i++) {
        problem = map_buffer(video, i);
    }
    for (unsigned i = 0; problem == 0 && i < video->buffer_count; i++) {
        problem = lamp_video_give_back(video, i);
    }
    return problem;
}

int lamp_video_start(struct lamp_video *video)
{
    enum v4l2_buf_type type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    int problem = lamp_video_ask(video, VIDIOC_STREAMON, &type);
    video->is_started = problem == 0;
    return problem;
}

void lamp_video_stop(struct lamp_video *video)
{
    enum v4l2_buf_type type = V4L2_BUF_TYPE_VIDEO_CAPTURE;
    if (video->is_started) {
        (void)lamp_video_ask(video, VIDIOC_STREAMOFF, &type);
        video->is_started = false;
    }
    for (unsigned i = 0; i < video->buffer_count; i++) {
        lamp_video_unmap(video->buffer[i].at, video->buffer[i].size);
    }
    video->buffer_count = 0;
}

int lamp_video_give_back(struct lamp_video *video, unsigned index)
{
    struct v4l2_buffer buffer = empty_buffer(index);
    return lamp_video_ask(video, VIDIOC_QBUF, &buffer);
}

static int64_t now_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

/* Some drivers do not say which clock they stamp by. A stamp that is close to now is believed. */
static void take_stamp(const struct v4l2_buffer *buffer, struct lamp_video_frame *out)
{
    int64_t stamp_ns =
        (int64_t)buffer->timestamp.tv_sec * 1000000000 + (int64_t)buffer->timestamp.tv_usec * 1000;
    int64_t arrived_ns = now_ns();
    int64_t age_ns = arrived_ns - stamp_ns;
    bool is_told =
        (buffer->flags & V4L2_BUF_FLAG_TIMESTAMP_MASK) == V4L2_BUF_FLAG_TIMESTAMP_MONOTONIC;
    bool is_near = age_ns > -1000000000 && age_ns < INT64_C(10000000000);
    out->is_by_driver = stamp_ns > 0 && (is_told || is_near);
    out->t_ns = out->is_by_driver ? stamp_ns : arrived_ns;
}

/* Wait until a frame is there. @return LAMP_OK, LAMP_NOT_YET or LAMP_BAD_SOURCE. */
static enum lamp_err await(const struct lamp_video *video, int64_t wait_ns, int *problem)
{
    struct pollfd watched = {.fd = video->file, .events = POLLIN};
    int64_t until_ns = now_ns() + wait_ns;
    int answer;
    do {
        int64_t left_ns = until_ns - now_ns();
        int left_ms = left_ns > 0 ? (int)((left_ns + NS_PER_MS - 1) / NS_PER_MS) : 0;
        answer = poll(&watched, 1, left_ms);
    } while (answer < 0 && errno == EINTR && now_ns() < until_ns);
    if (answer > 0 && (watched.revents & POLLIN) == 0) {
        *problem = ENODEV; /* POLLERR, POLLHUP: it went away */
        return LAMP_BAD_SOURCE;
    }
    return answer > 0 ? LAMP_OK : LAMP_NOT_YET;
}

enum lamp_err lamp_video_take(struct lamp_video *video, int64_t wait_ns,
                              struct lamp_video_frame *out, int *problem)
{
    enum lamp_err err = await(video, wait_ns, problem);
    if (err != LAMP_OK) {
        return err;
    }
    struct v4l2_buffer buffer = empty_buffer(0);
    *problem = lamp_video_ask(video, VIDIOC_DQBUF, &buffer);
    if (*problem == EAGAIN) {
        return LAMP_NOT_YET;
    }
    if (*problem != 0 || buffer.index >= video->buffer_count) {
        *problem = *problem == 0 ? EIO : *problem;
        return LAMP_BAD_SOURCE;
    }
    const struct lamp_video_buffer *from = &video->buffer[buffer.index];
    *out = (struct lamp_video_frame){.index = buffer.index,
                                     .at = from->at,
                                     .size = buffer.bytesused < from->size ? buffer.bytesused
                                                                           : from->size,
                                     .sequence = buffer.sequence,
                                     .is_damaged = (buffer.flags & V4L2_BUF_FLAG_ERROR) != 0};
    take_stamp(&buffer, out);
    return LAMP_OK;
}
