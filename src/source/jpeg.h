/* jpeg.h - JPEG pictures to planes of Y'CbCr as coded: whole, or only the part that is asked for.
 *
 *   rows above    entropy decoded, for what follows depends on it, but not transformed
 *   beside it     the same
 *   the part      decoded in full, equal to that of the whole picture
 *   rows below    not looked at
 */
#ifndef LAMP_SOURCE_JPEG_H
#define LAMP_SOURCE_JPEG_H

#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

/** A decoder, used for one picture after the other. */
struct lamp_jpeg;

/** Memory for the planes of one picture; begin with all zero, free `at`. */
struct lamp_room {
    uint8_t *at;
    size_t size;
};

/** Make the room at least `size` bytes large; what it held is lost. @return LAMP_OK,
 * LAMP_NO_MEMORY. */
enum lamp_err lamp_room_make(struct lamp_room *room, size_t size);

/** What is wanted of a picture. */
struct lamp_jpeg_wish {
    int width_px; /**< The size that it must have. */
    int height_px;
    struct lamp_picture_part part; /**< Within the picture. */
};

/** A picture as it came. */
struct lamp_coded {
    const uint8_t *at;
    size_t size;
};

/** Make a decoder. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_jpeg_new(struct lamp_jpeg **out);

/**
 * Decode one picture of one scan, grey or Y'CbCr.
 * @param room  where the planes go, made larger as needed.
 * @param out   set but for its times; its planes lie in `room`. Whole blocks are decoded, so that
 * the valid part may be a little larger than was wanted.
 * @return LAMP_OK; LAMP_BAD_SOURCE (cut off, damaged, another size or kind); LAMP_NO_MEMORY.
 */
enum lamp_err lamp_jpeg_decode(struct lamp_jpeg *jpeg, struct lamp_coded coded,
                               const struct lamp_jpeg_wish *wish, struct lamp_room *room,
                               struct lamp_frame *out);

/** Free; NULL is fine. */
void lamp_jpeg_free(struct lamp_jpeg *jpeg);

#endif
