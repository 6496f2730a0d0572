/* pixels.c - Frames in the form that an encoder takes. */
#include "render/pixels.h"

#include <string.h>

static void copy_plane(const struct lamp_plane *plane, int bits, uint8_t *to, ptrdiff_t stride)
{
    const size_t bytes = (size_t)plane->width_px * (bits == 8 ? 1 : 2);
    for (int y = 0; y < plane->height_px; y++) {
        memcpy(to + y * stride, (const uint8_t *)plane->at + y * plane->stride_bytes, bytes);
    }
}

static int limit(int value)
{
    return value < 0 ? 0 : value > 255 ? 255 : value;
}

/* From limited range to full: luma 16..235 to 0..255. */
static void stretch_luma(const struct lamp_plane *plane, uint8_t *to, ptrdiff_t stride)
{
    for (int y = 0; y < plane->height_px; y++) {
        const uint8_t *from = (const uint8_t *)plane->at + y * plane->stride_bytes;
        for (int x = 0; x < plane->width_px; x++) {
            to[y * stride + x] = (uint8_t)limit(((from[x] - 16) * 510 + 219) / 438);
        }
    }
}

/* From limited range to full: chroma 16..240 to 0..255, 128 stays. */
static void stretch_chroma(const struct lamp_plane *plane, uint8_t *to, ptrdiff_t stride)
{
    for (int y = 0; y < plane->height_px; y++) {
        const uint8_t *from = (const uint8_t *)plane->at + y * plane->stride_bytes;
        for (int x = 0; x < plane->width_px; x++) {
            to[y * stride + x] = (uint8_t)limit(((from[x] - 128) * 510 + 224 * 257) / 448);
        }
    }
}

static void write_palette(const struct lamp_frame *frame, const struct palette *palette,
                          const struct pixels_target *target)
{
    for (int i = 0; i < PALETTE_COLOURS; i++) {
        const uint8_t *rgb = palette->rgb[i];
        const uint32_t colour = UINT32_C(0xff000000) | (uint32_t)rgb[0] << 16 |
                                (uint32_t)rgb[1] << 8 | (uint32_t)rgb[2];
        memcpy(&target->at[1][sizeof colour * (size_t)i], &colour, sizeof colour);
    }
    for (int y = 0; y < frame->y.height_px; y++) {
        palette_row(palette, frame, y, target->at[0] + y * target->stride_bytes[0]);
    }
}

void pixels_write(enum pixels pixels, const struct lamp_frame *frame, const struct palette *palette,
                  const struct pixels_target *target)
{
    const ptrdiff_t *stride = target->stride_bytes;
    switch (pixels) {
    case PIXELS_AS_THEY_ARE:
        copy_plane(&frame->y, frame->bits, target->at[0], stride[0]);
        copy_plane(&frame->u, frame->bits, target->at[1], stride[1]);
        copy_plane(&frame->v, frame->bits, target->at[2], stride[2]);
        break;
    case PIXELS_FULL_RANGE:
        stretch_luma(&frame->y, target->at[0], stride[0]);
        stretch_chroma(&frame->u, target->at[1], stride[1]);
        stretch_chroma(&frame->v, target->at[2], stride[2]);
        break;
    case PIXELS_PALETTE: write_palette(frame, palette, target); break;
    case PIXELS_RGB:
        for (int y = 0; y < frame->y.height_px; y++) {
            frame_row_rgb(frame, y, target->at[0] + y * stride[0]);
        }
        break;
    case PIXELS_GREY: stretch_luma(&frame->y, target->at[0], stride[0]); break;
    }
}
