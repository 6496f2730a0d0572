/* pixels.h - Frames in the form that an encoder takes. */
#ifndef LAMP_RENDER_PIXELS_H
#define LAMP_RENDER_PIXELS_H

#include "render/palette.h"

/** Forms of a picture. */
enum pixels {
    PIXELS_AS_THEY_ARE, /**< Limited range Y'CbCr 4:2:0, 8 or 10 bits. */
    PIXELS_FULL_RANGE,  /**< Full range Y'CbCr 4:2:0, 8 bits. */
    PIXELS_PALETTE,     /**< One byte a pixel; colours follow in the second plane. */
    PIXELS_RGB,         /**< R'G'B', three bytes a pixel. */
    PIXELS_GREY         /**< Full range luma. */
};

/** Planes to write to. */
struct pixels_target {
    uint8_t *at[3];
    ptrdiff_t stride_bytes[3];
};

/** Write `frame` in form `pixels`; `palette` is for PIXELS_PALETTE alone. */
void pixels_write(enum pixels pixels, const struct lamp_frame *frame, const struct palette *palette,
                  const struct pixels_target *target);

#endif
