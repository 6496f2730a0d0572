/* linear.h - Code values back to light: the matrix and the transfer curve undone. */
#ifndef LAMP_LIGHT_LINEAR_H
#define LAMP_LIGHT_LINEAR_H

#include <stdbool.h>

#include "lampread/source.h"

/** Entries of the transfer table. */
#define LAMP_LINEAR_STEPS 1024

/** How the pixels of one clip become linear R, G, B, 0..1. */
struct lamp_linear {
    bool is_ready;           /**< False until set. */
    enum lamp_matrix matrix; /**< What it was set for. */
    enum lamp_transfer transfer;
    bool is_full_range;
    int bits;
    float y_scale, y_offset;        /**< Luma code to 0..1. */
    float c_scale, c_offset;        /**< Chroma code to -0.5..0.5. */
    float rv, gu, gv, bu;           /**< Chroma shares of R', G', B'. */
    int chroma_shift_x;             /**< log2 of luma pixels a chroma pixel is wide, ... */
    int chroma_shift_y;             /**< ... and high. */
    float curve[LAMP_LINEAR_STEPS]; /**< R', G', B' of 0..1 to linear. */
};

/** Code value of the pixel at (x, y) of a plane, which must be inside, on the plane's own scale. */
static inline float lamp_plane_code(const struct lamp_plane *plane, int bits, int x, int y)
{
    const uint8_t *row = (const uint8_t *)plane->at + plane->stride_bytes * y;
    return bits == 8 ? (float)row[x] : (float)((const uint16_t *)(const void *)row)[x];
}

/** Luma of the pixel at (x, y), which must be inside, on the 8-bit scale. */
static inline float lamp_frame_luma(const struct lamp_frame *frame, int x, int y)
{
    return lamp_plane_code(&frame->y, frame->bits, x, y) / (float)(1 << (frame->bits - 8));
}

/** Set for the frames like `frame`; does nothing if it is set so already. */
void lamp_linear_set(struct lamp_linear *linear, const struct lamp_frame *frame);

/** Code values Y, Cb, Cr (on the frame's own scale) to R', G', B', clamped to 0..1. */
void lamp_linear_rgb_coded(const struct lamp_linear *linear, const float yuv[3], float rgb[3]);

/** R' (or G', B') of 0..1 to linear light of 0..1. */
float lamp_linear_light(const struct lamp_linear *linear, float coded);

/** Linear R, G, B of the pixel at (x, y), which must be inside. @return the largest of R', G', B'.
 */
float lamp_linear_pixel(const struct lamp_linear *linear, const struct lamp_frame *frame, int x,
                        int y, float rgb[3]);

/**
 * Linear R, G, B at a point between pixels, whose centres lie at halves (0.5, 1.5, ...).
 * @return false if the point is outside the picture; nothing is set then.
 */
bool lamp_linear_point(const struct lamp_linear *linear, const struct lamp_frame *frame, double x,
                       double y, float rgb[3]);

#endif
