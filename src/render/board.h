/* board.h - An invented board, laid out by chance around the lamps, lit by the room. */
#ifndef LAMP_RENDER_BOARD_H
#define LAMP_RENDER_BOARD_H

#include "lampread/render.h"
#include "render/canvas.h"

/** Linear light of a lamp colour, brightest channel 1. Static. */
const float *board_lamp_rgb(enum lamp_colour colour);

/** Width of a lamp's core, px: as asked, or what suits a picture `height_px` high. */
double board_lamp_size_px(const struct lamp_scene_lamp *lamp, int height_px);

/**
 * Paint the board of `rules` with `margin_px` more on each side than the picture.
 * The mean light of its diffuse colours is 1: it is multiplied with the room's light.
 * @return LAMP_OK, LAMP_NO_MEMORY.
 */
enum lamp_err board_paint(const struct lamp_scene_rules *rules, int margin_px, struct canvas *out);

#endif
