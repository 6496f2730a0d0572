/* palette.h - The few colours of a GIF, and pictures in red, green and blue. */
#ifndef LAMP_RENDER_PALETTE_H
#define LAMP_RENDER_PALETTE_H

#include "lampread/render.h"

/** Colours of a GIF. */
#define PALETTE_COLOURS 256

/** Steps of a channel that colours are counted in. */
#define PALETTE_STEPS 32

/** Colours, and which of them is nearest to any other. */
struct palette {
    uint8_t rgb[PALETTE_COLOURS][3];
    uint8_t nearest[PALETTE_STEPS * PALETTE_STEPS * PALETTE_STEPS];
};

/** How often each colour occurs. */
struct palette_count {
    uint32_t of[PALETTE_STEPS * PALETTE_STEPS * PALETTE_STEPS];
};

/** Count the colours of a frame of 8 bits. */
void palette_count_frame(struct palette_count *count, const struct lamp_frame *frame);

/** Choose the colours by median cut. */
void palette_choose(const struct palette_count *count, struct palette *out);

/** Row `y_px` of a frame of 8 bits as R'G'B', three bytes a pixel. */
void frame_row_rgb(const struct lamp_frame *frame, int y_px, uint8_t *out);

/** Row `y_px` in colours of the palette, dithered in a fixed pattern so that still parts stay
 * still. */
void palette_row(const struct palette *palette, const struct lamp_frame *frame, int y_px,
                 uint8_t *out);

#endif
