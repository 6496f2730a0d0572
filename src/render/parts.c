/* parts.c - What sits on a board: chips, small parts, cans, connectors, lamp bodies. Invented, no
 * maker's. */
#include "render/parts.h"

#include <math.h>
#include <stddef.h>

static const struct ink tin = {{0.42F, 0.42F, 0.40F, 0.9F}, 1, 0};
static const struct ink dull_tin = {{0.27F, 0.27F, 0.26F, 0.5F}, 1, 0};
static const struct ink gold = {{0.50F, 0.33F, 0.10F, 0.8F}, 1, 0};
static const struct ink plastic = {{0.014F, 0.014F, 0.015F, 0.12F}, 1, 0};
static const struct ink gleam = {{0.9F, 0.9F, 0.88F, 0.9F}, 0.5F, 0.35F};
static const struct ink shade = {{0.004F, 0.005F, 0.005F, 0}, 0.55F, 0.7F};
static const struct ink hole = {{0.004F, 0.004F, 0.004F, 0}, 1, 0};

/* A soft shadow to the lower right; the lamp of the room is upper left. */
static void cast_shadow(struct canvas *canvas, const struct place *place, double high_mm)
{
    const struct box box = {place->x_mm + 0.45 * high_mm, place->y_mm + 0.6 * high_mm,
                            place->half_w_mm, place->half_h_mm, 0.3};
    struct ink soft = shade;
    soft.soft_mm = (float)(0.3 + high_mm);
    canvas_box(canvas, &box, &soft);
}

static void paint_box(struct canvas *canvas, const struct place *place, double round_mm,
                      const struct ink *ink)
{
    canvas_box(
        canvas,
        &(struct box){place->x_mm, place->y_mm, place->half_w_mm, place->half_h_mm, round_mm}, ink);
}

static void paint_foot(struct canvas *canvas, const struct place *foot)
{
    const struct place tip = {foot->x_mm, foot->y_mm, foot->half_w_mm * 0.55,
                              foot->half_h_mm * 0.55};
    paint_box(canvas, foot, 0.05, &dull_tin);
    paint_box(canvas, &tip, 0.05, &tin);
}

/* Feet on both sides of a body, `foot_mm` long: left and right, or above and below. */
static void paint_feet(struct canvas *canvas, const struct place *body, double foot_mm,
                       bool is_side)
{
    const double pitch_mm = 0.8;
    const double run_mm = is_side ? body->half_h_mm : body->half_w_mm;
    const int count = (int)((2 * run_mm - 0.8) / pitch_mm);
    for (int i = 0; i <= count; i++) {
        const double along = pitch_mm * (i - count / 2.0);
        const double across = (is_side ? body->half_w_mm : body->half_h_mm) + foot_mm / 2;
        for (int side = -1; side <= 1; side += 2) {
            const struct place upright = {body->x_mm + along, body->y_mm + side * across, 0.2,
                                          foot_mm / 2};
            const struct place lying = {body->x_mm + side * across, body->y_mm + along, foot_mm / 2,
                                        0.2};
            paint_foot(canvas, is_side ? &lying : &upright);
        }
    }
}

/* Lettering that cannot be read, as laser marks are at this size. */
static void paint_marks(struct canvas *canvas, const struct place *body, struct random *random)
{
    const struct ink mark = {{0.07F, 0.07F, 0.07F, 0.1F}, 0.75F, 0};
    const double high_mm = fmin(0.75, body->half_h_mm * 0.4);
    for (int row = 0; row < 2; row++) {
        double x_mm = body->x_mm - body->half_w_mm * 0.65;
        const double y_mm = body->y_mm + (row - 0.6) * high_mm * 1.8;
        while (x_mm < body->x_mm + body->half_w_mm * (row == 0 ? 0.6 : 0.25)) {
            const double w_mm = random_between(random, 0.2, 0.5) * high_mm;
            const double up_mm = random_between(random, 0, 0.4) * high_mm;
            canvas_line(canvas, &(struct line){x_mm, y_mm + up_mm, x_mm, y_mm + high_mm, 0.05},
                        &mark);
            canvas_line(canvas, &(struct line){x_mm, y_mm + up_mm, x_mm + w_mm, y_mm + up_mm, 0.05},
                        &mark);
            x_mm += high_mm * 0.8;
        }
    }
}

void part_chip(struct canvas *canvas, const struct place *place, bool is_square,
               struct random *random)
{
    const double foot_mm = 0.9;
    struct place body = *place;
    body.half_h_mm -= foot_mm;
    body.half_w_mm -= is_square ? foot_mm : 0;
    paint_feet(canvas, &body, foot_mm, false);
    if (is_square) {
        paint_feet(canvas, &body, foot_mm, true);
    }
    cast_shadow(canvas, &body, 0.6);
    paint_box(canvas, &body, 0.12, &plastic);
    const struct ink edge = {{0.045F, 0.045F, 0.046F, 0.2F}, 0.8F, 0.15F};
    canvas_line(canvas,
                &(struct line){body.x_mm - body.half_w_mm + 0.1, body.y_mm - body.half_h_mm + 0.08,
                               body.x_mm + body.half_w_mm - 0.1, body.y_mm - body.half_h_mm + 0.08,
                               0.06},
                &edge);
    canvas_disc(canvas, body.x_mm - body.half_w_mm + 0.7, body.y_mm + body.half_h_mm - 0.7, 0.28,
                &edge);
    paint_marks(canvas, &body, random);
}

/* Both ends of a part that lies along its longer side, each `share` of it. */
static void paint_ends(struct canvas *canvas, const struct place *place, double share,
                       const struct ink *ink)
{
    const bool lies = place->half_w_mm >= place->half_h_mm;
    for (int side = -1; side <= 1; side += 2) {
        struct place end = *place;
        if (lies) {
            end.half_w_mm *= share;
            end.x_mm += side * (place->half_w_mm - end.half_w_mm);
        } else {
            end.half_h_mm *= share;
            end.y_mm += side * (place->half_h_mm - end.half_h_mm);
        }
        paint_box(canvas, &end, 0.08, ink);
        canvas_disc(canvas, end.x_mm - 0.05, end.y_mm - 0.08, 0.1, &gleam);
    }
}

void part_small(struct canvas *canvas, const struct place *place, bool is_black)
{
    static const struct ink tan_body = {{0.23F, 0.15F, 0.085F, 0.2F}, 1, 0};
    struct place pads = *place;
    pads.half_w_mm += 0.22;
    pads.half_h_mm += 0.12;
    paint_ends(canvas, &pads, 0.36, &dull_tin);
    cast_shadow(canvas, place, 0.3);
    paint_box(canvas, place, 0.06, is_black ? &plastic : &tan_body);
    paint_ends(canvas, place, 0.2, &tin);
}

void part_can(struct canvas *canvas, const struct place *place)
{
    static const struct ink side = {{0.10F, 0.10F, 0.11F, 0.5F}, 1, 0};
    static const struct ink top = {{0.36F, 0.36F, 0.37F, 0.7F}, 1, 0};
    static const struct ink score = {{0.2F, 0.2F, 0.2F, 0.3F}, 0.6F, 0.1F};
    const double r = fmin(place->half_w_mm, place->half_h_mm);
    const double x = place->x_mm;
    const double y = place->y_mm;
    cast_shadow(canvas, &(struct place){x, y, r * 0.8, r * 0.8}, 1.5);
    canvas_box(canvas, &(struct box){x, y, r, r, r * 0.25}, &plastic);
    canvas_disc(canvas, x, y, r * 0.95, &side);
    canvas_disc(canvas, x, y, r * 0.86, &top);
    canvas_line(canvas,
                &(struct line){x - r * 0.55, y - r * 0.45, x - r * 0.55, y + r * 0.45, r * 0.26},
                &plastic);
    canvas_line(canvas, &(struct line){x - r * 0.1, y, x + r * 0.7, y, 0.05}, &score);
    canvas_line(canvas, &(struct line){x + r * 0.3, y - r * 0.5, x + r * 0.3, y + r * 0.5, 0.05},
                &score);
    const struct ink sheen = {{0.8F, 0.8F, 0.8F, 0.9F}, 0.45F, (float)(r * 0.8)};
    canvas_disc(canvas, x + r * 0.1, y - r * 0.4, r * 0.25, &sheen);
}

void part_pins(struct canvas *canvas, const struct place *place)
{
    const double pitch_mm = 2.54;
    const bool lies = place->half_w_mm >= place->half_h_mm;
    const double run_mm = lies ? place->half_w_mm : place->half_h_mm;
    cast_shadow(canvas, place, 1.6);
    paint_box(canvas, place, 0.2, &plastic);
    const int count = (int)((2 * run_mm + 0.1) / pitch_mm);
    for (int i = 0; i < count; i++) {
        const double along = pitch_mm * (i + 0.5) - run_mm;
        struct place pin = {place->x_mm + (lies ? along : 0), place->y_mm + (lies ? 0 : along),
                            0.55, 0.55};
        const struct ink pit = {{0.03F, 0.03F, 0.03F, 0.2F}, 1, 0};
        paint_box(canvas, &pin, 0.1, &pit);
        pin.half_w_mm = pin.half_h_mm = 0.32;
        paint_box(canvas, &pin, 0.05, &gold);
        canvas_disc(canvas, pin.x_mm - 0.08, pin.y_mm - 0.1, 0.1, &gleam);
    }
}

void part_socket(struct canvas *canvas, const struct place *place)
{
    static const struct ink metal = {{0.33F, 0.33F, 0.34F, 0.8F}, 1, 0};
    static const struct ink bright = {{0.75F, 0.75F, 0.75F, 0.9F}, 0.35F, 1.6F};
    static const struct ink seam = {{0.09F, 0.09F, 0.09F, 0.3F}, 0.8F, 0.1F};
    cast_shadow(canvas, place, 1.8);
    paint_box(canvas, place, 0.5, &metal);
    canvas_box(canvas,
               &(struct box){place->x_mm - place->half_w_mm * 0.2,
                             place->y_mm - place->half_h_mm * 0.4, place->half_w_mm * 0.4,
                             place->half_h_mm * 0.12, 0.2},
               &bright);
    for (int side = -1; side <= 1; side += 2) {
        const double x = place->x_mm + side * place->half_w_mm * 0.45;
        canvas_line(canvas,
                    &(struct line){x, place->y_mm + place->half_h_mm * 0.2, x,
                                   place->y_mm + place->half_h_mm, 0.1},
                    &seam);
        canvas_box(canvas, &(struct box){x, place->y_mm - place->half_h_mm * 0.1, 0.5, 0.5, 0.1},
                   &seam);
    }
}

void part_lamp(struct canvas *canvas, const struct place *place, const float rgb[3])
{
    struct place pads = *place;
    pads.half_w_mm += 0.5;
    pads.half_h_mm += 0.06;
    paint_ends(canvas, &pads, 0.32, &tin);
    cast_shadow(canvas, place, 0.25);
    struct ink body = {{0, 0, 0, 0.35F}, 1, 0};
    for (int c = 0; c < 3; c++) {
        body.value[c] = 0.20F + 0.09F * rgb[c];
    }
    paint_box(canvas, place, 0.15, &body);
    const struct ink die = {{0.3F, 0.28F, 0.2F, 0.4F}, 0.6F, 0.15F};
    canvas_disc(canvas, place->x_mm, place->y_mm, 0.18, &die);
    canvas_disc(canvas, place->x_mm - place->half_w_mm * 0.4, place->y_mm - place->half_h_mm * 0.5,
                0.1, &gleam);
}

void part_hole(struct canvas *canvas, const struct place *place)
{
    const double r = place->half_w_mm;
    canvas_disc(canvas, place->x_mm, place->y_mm, r, &gold);
    const struct ink sheen = {{0.9F, 0.75F, 0.4F, 0.9F}, 0.4F, (float)(r * 0.5)};
    canvas_disc(canvas, place->x_mm - r * 0.5, place->y_mm - r * 0.55, r * 0.25, &sheen);
    canvas_disc(canvas, place->x_mm, place->y_mm, r * 0.6, &hole);
}
