/* room.h - The light of the room: ripple, sway, a passing shadow, a hand in the picture. */
#ifndef LAMP_RENDER_ROOM_H
#define LAMP_RENDER_ROOM_H

#include "lampread/render.h"

/** Light of the room over one row's exposure, times what the board reflects. */
double room_light(const struct lamp_scene_rules *rules, int64_t start_ns, int64_t exposure_ns);

/** Darken row `y_px` (4 values a pixel) where the shadow is at `t_s`. */
void room_cast_shadow(const struct lamp_scene_rules *rules, double t_s, int y_px, float *row);

/** Draw what of the hand is in row `y_px`, under room light `light`. */
void room_draw_hand(const struct lamp_scene_rules *rules, double t_s, int y_px, float light,
                    float *row);

#endif
