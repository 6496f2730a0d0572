/* picture.h - Decoded pictures as planes of light: handed out as they are where the planes allow
 * it, and kept a while. */
#ifndef LAMP_SOURCE_PICTURE_H
#define LAMP_SOURCE_PICTURE_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

struct AVFrame;

/** Keeps the last LAMP_FRAMES_KEPT + 1 pictures readable. */
struct lamp_keeper;

/** Make a keeper. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_keeper_new(struct lamp_keeper **out);

/**
 * Keep a decoded picture and describe its planes; t_ns and exposure_ns are left 0. Planar Y'CbCr
 * and grey are not copied. All else (semi-planar, packed, palette, RGB) is converted to planar,
 * once, without scaling.
 * @param decoded   left blank, its reference taken over; untouched on failure.
 * @param is_photo  whether unspecified colour means that of photographs (JFIF, sRGB) rather than
 * that of television.
 * @param out       its planes stay readable until LAMP_FRAMES_KEPT more were kept.
 * @return LAMP_OK, LAMP_BAD_SOURCE (a pixel format that cannot be read), LAMP_NO_MEMORY.
 */
enum lamp_err lamp_keeper_keep(struct lamp_keeper *keeper, struct AVFrame *decoded, bool is_photo,
                               struct lamp_frame *out);

/** Free; NULL is fine. */
void lamp_keeper_free(struct lamp_keeper *keeper);

/** The clockwise turn that shows a picture upright, 0, 90, 180 or 270, from a display matrix of 9
 * values. */
int lamp_picture_turn_deg(const int32_t *matrix);

#endif
