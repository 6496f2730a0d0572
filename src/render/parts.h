/* parts.h - What sits on a board: chips, small parts, cans, connectors, lamp bodies. Invented, no
 * maker's. */
#ifndef LAMP_RENDER_PARTS_H
#define LAMP_RENDER_PARTS_H

#include "render/canvas.h"
#include "render/random.h"

/** Where a part sits; its outline with pads. */
struct place {
    double x_mm;
    double y_mm;
    double half_w_mm;
    double half_h_mm;
};

/** A black chip with feet on two sides (`is_square` false) or on all four. */
void part_chip(struct canvas *canvas, const struct place *place, bool is_square,
               struct random *random);

/** A small two-ended part, tan (capacitor) or black (resistor), lying along its longer side. */
void part_small(struct canvas *canvas, const struct place *place, bool is_black);

/** A round can capacitor seen from above. */
void part_can(struct canvas *canvas, const struct place *place);

/** A row of pins in a black strip, along the longer side. */
void part_pins(struct canvas *canvas, const struct place *place);

/** A metal socket. */
void part_socket(struct canvas *canvas, const struct place *place);

/** A lamp's body: two bright ends, a clear middle with a hint of `rgb`. */
void part_lamp(struct canvas *canvas, const struct place *place, const float rgb[3]);

/** A plated hole with a bright ring. */
void part_hole(struct canvas *canvas, const struct place *place);

#endif
