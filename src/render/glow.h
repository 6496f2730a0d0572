/* glow.h - The light of one lamp in the picture: core, halo, light on the board, mirror images in
 * shiny parts. */
#ifndef LAMP_RENDER_GLOW_H
#define LAMP_RENDER_GLOW_H

#include "lampread/render.h"
#include "render/canvas.h"

/** The light that a fully lit lamp adds, a square of the board's canvas. */
struct glow {
    int x_px; /**< Left edge on the canvas. */
    int y_px;
    int side_px;
    float *at; /**< CANVAS_DEPTH values a pixel. */
};

/** Paint the light of `lamp`; `margin_px` as for the board. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err glow_paint(const struct lamp_scene_rules *rules, const struct lamp_scene_lamp *lamp,
                         const struct canvas *board, int margin_px, struct glow *out);

/** Free what the glow holds. */
void glow_fini(struct glow *glow);

#endif
