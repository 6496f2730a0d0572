/* coarse.h - A small copy of a frame: the mean of each block of pixels. */
#ifndef LAMP_LIGHT_COARSE_H
#define LAMP_LIGHT_COARSE_H

#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

/** Block means of one picture, code values on the 8-bit scale (0..255), row by row. */
struct lamp_coarse {
    int block_px; /**< Width and height of a block, 1 to 32, a power of two. */
    int width;    /**< Blocks in a row. */
    int height;   /**< Rows of blocks. */
    float *y;     /**< Luma. */
    float *u;     /**< Cb, 128 where the picture is grey. */
    float *v;     /**< Cr, as u. */
};

/** Make room for pictures of this size. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_coarse_init(struct lamp_coarse *coarse, int width_px, int height_px);

/** Take the block means of `frame`, whose size must be the one given to init; blocks of 8 px or
 * more are read on every other row. */
void lamp_coarse_take(struct lamp_coarse *coarse, const struct lamp_frame *frame);

/** Blocks in all. */
static inline size_t lamp_coarse_count(const struct lamp_coarse *coarse)
{
    return (size_t)coarse->width * (size_t)coarse->height;
}

/** Free the room. */
void lamp_coarse_fini(struct lamp_coarse *coarse);

#endif
