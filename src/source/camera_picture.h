/* camera_picture.h - Frames as a camera sends them to planes of light, kept a while. */
#ifndef LAMP_SOURCE_CAMERA_PICTURE_H
#define LAMP_SOURCE_CAMERA_PICTURE_H

#include "source/jpeg.h"
#include "source/video.h"

/** Turns frames into pictures and keeps them readable. */
struct lamp_developer;

/** Make one for frames of this layout. @param out freed by the caller. @return LAMP_OK,
 * LAMP_NO_MEMORY. */
enum lamp_err lamp_developer_new(const struct lamp_video_layout *layout,
                                 struct lamp_developer **out);

/**
 * Make a picture of a frame; times are left 0.
 * @param part  what is wanted of it; heeded where the frame is coded.
 * @param out  whole pictures stay readable until LAMP_FRAMES_KEPT more whole ones were made,
 *             partial ones until so many more partial ones were.
 * @return LAMP_OK; LAMP_BAD_SOURCE (cut off or damaged); LAMP_NO_MEMORY.
 */
enum lamp_err lamp_developer_push(struct lamp_developer *developer, const uint8_t *bytes,
                                  size_t size, const struct lamp_picture_part *part,
                                  struct lamp_frame *out);

/** Free; NULL is fine. */
void lamp_developer_free(struct lamp_developer *developer);

#endif
