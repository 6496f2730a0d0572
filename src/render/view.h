/* view.h - The board and the lamps' light as a moved camera sees them, row by row. */
#ifndef LAMP_RENDER_VIEW_H
#define LAMP_RENDER_VIEW_H

#include "render/glow.h"
#include "render/motion.h"

/** Where a row of the picture lies on the canvas: from a point, by a step a pixel. */
struct walk {
    double x;
    double y;
    double dx;
    double dy;
    int count; /**< Pixels of the row. */
};

/** The walk of row `y_px` under `pose`. */
struct walk view_walk(const struct lamp_scene_rules *rules, const struct pose *pose, int margin_px,
                      int y_px);

/** The board along a walk, times `light`. */
void view_board(const struct canvas *board, const struct walk *walk, float light, float *row);

/** Whether a walk may meet a glow. */
bool view_meets(const struct glow *glow, const struct walk *walk);

/** Add a glow along a walk, times `light`. */
void view_glow(const struct glow *glow, const struct walk *walk, float light, float *row);

#endif
