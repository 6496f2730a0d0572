/* container.h - A video file taken apart: the packets of its video, and what it says of times. */
#ifndef LAMP_SOURCE_CONTAINER_H
#define LAMP_SOURCE_CONTAINER_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/error.h"
#include "source/form.h"

struct AVCodecParameters;
struct AVPacket;

/** A video file that is open. */
struct lamp_container;

/**
 * Open a video file and choose its video; other streams are passed over unread.
 * @param out  freed by the caller. @return LAMP_OK, LAMP_BAD_SOURCE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_container_open(const struct lamp_sniff *sniff, struct lamp_container **out,
                                  struct lamp_error *error);

/** How the video is coded; borrowed until the container is freed. */
const struct AVCodecParameters *lamp_container_coded(const struct lamp_container *container);

/** Picture size and clockwise turn that the file claims. */
void lamp_container_picture(const struct lamp_container *container, int *width_px, int *height_px,
                            int *turn_deg);

/**
 * Read the next packet of the video.
 * @param out  borrowed until the next call.
 * @return LAMP_OK; LAMP_END; LAMP_BAD_SOURCE if this packet is damaged (the next call goes on);
 * LAMP_NO_MEMORY.
 */
enum lamp_err lamp_container_read(struct lamp_container *container, const struct AVPacket **out);

/** Whether the end came because the rest of the file could not be read. */
bool lamp_container_is_broken(const struct lamp_container *container);

/**
 * A time stamp as time on the clip's clock, which begins at the start of the video or at the first
 * stamp asked for.
 * @return false if there is no stamp or it cannot be one.
 */
bool lamp_container_time_ns(struct lamp_container *container, int64_t stamp, int64_t *out);

/** A length of ticks in ns; 0 where it is not known or cannot be one. */
int64_t lamp_container_length_ns(const struct lamp_container *container, int64_t ticks);

/** How long the file says the video is, ns; 0 where it does not say. */
int64_t lamp_container_told_ns(const struct lamp_container *container);

/** The frame interval that the file claims, ns; that of 30 frames/s where it claims none. */
double lamp_container_interval_ns(const struct lamp_container *container);

/** Share of the file's bytes read so far; negative where it cannot be known. */
double lamp_container_progress(const struct lamp_container *container);

/** Close and free; NULL is fine. */
void lamp_container_free(struct lamp_container *container);

#endif
