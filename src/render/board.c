/* board.c - An invented board, laid out by chance around the lamps, lit by the room.
 *
 * Measures are those of real boards at close range: the picture shows about 34 mm from top to
 * bottom.
 */
#include "render/board.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "render/parts.h"
#include "render/random.h"

/* Board shown from top to bottom of the picture, mm. */
#define SHOWN_MM 34.0

/* Most parts of one board. */
#define PLACES_MAX 512

/* Chip sites that are tried. */
#define CHIPS 9

/* Small parts that are tried. */
#define SMALL_PARTS 70

struct layout {
    struct canvas *canvas;
    struct random random;
    double half_w_mm; /* Of what the canvas shows. */
    double half_h_mm;
    float mask[3]; /* Colour of the solder mask. */
    size_t count;
    struct place taken[PLACES_MAX];
};

const float *board_lamp_rgb(enum lamp_colour colour)
{
    static const float table[][3] = {
        [LAMP_COLOUR_UNKNOWN] = {0.04F, 1.0F, 0.16F}, [LAMP_COLOUR_RED] = {1.0F, 0.03F, 0.02F},
        [LAMP_COLOUR_ORANGE] = {1.0F, 0.30F, 0.01F},  [LAMP_COLOUR_YELLOW] = {1.0F, 0.72F, 0.02F},
        [LAMP_COLOUR_GREEN] = {0.04F, 1.0F, 0.16F},   [LAMP_COLOUR_BLUE] = {0.02F, 0.12F, 1.0F},
        [LAMP_COLOUR_PURPLE] = {0.60F, 0.05F, 1.0F},  [LAMP_COLOUR_WHITE] = {0.95F, 1.0F, 0.97F},
    };
    const size_t index = (size_t)colour < sizeof table / sizeof *table ? (size_t)colour : 0;
    return table[index];
}

double board_lamp_size_px(const struct lamp_scene_lamp *lamp, int height_px)
{
    return lamp->size_px > 0 ? lamp->size_px : 0.95 * height_px / SHOWN_MM;
}

/* Take a place unless a part is there already. */
static bool take(struct layout *layout, const struct place *place, double air_mm)
{
    if (layout->count == PLACES_MAX) {
        return false;
    }
    for (size_t i = 0; i < layout->count; i++) {
        const struct place *other = &layout->taken[i];
        if (fabs(place->x_mm - other->x_mm) < place->half_w_mm + other->half_w_mm + air_mm &&
            fabs(place->y_mm - other->y_mm) < place->half_h_mm + other->half_h_mm + air_mm) {
            return false;
        }
    }
    layout->taken[layout->count++] = *place;
    return true;
}

/* A place of a size somewhere on the board; false where none was found. */
static bool find_place(struct layout *layout, double half_w_mm, double half_h_mm, struct place *out)
{
    for (int tries = 0; tries < 30; tries++) {
        const struct place place = {
            random_between(&layout->random, -layout->half_w_mm, layout->half_w_mm),
            random_between(&layout->random, -layout->half_h_mm, layout->half_h_mm), half_w_mm,
            half_h_mm};
        if (take(layout, &place, 0.9)) {
            *out = place;
            return true;
        }
    }
    return false;
}

static struct ink mask_ink(const struct layout *layout, float times, float cover)
{
    const float *mask = layout->mask;
    return (struct ink){{mask[0] * times, mask[1] * times, mask[2] * times, 0.06F}, cover, 0};
}

static void choose_mask(struct layout *layout)
{
    static const float masks[][3] = {{0.010F, 0.060F, 0.028F},
                                     {0.008F, 0.032F, 0.085F},
                                     {0.018F, 0.050F, 0.022F},
                                     {0.012F, 0.014F, 0.016F}};
    const size_t which = (size_t)(random_bits(&layout->random) % (sizeof masks / sizeof *masks));
    memcpy(layout->mask, masks[which], sizeof layout->mask);
    const struct ink base = mask_ink(layout, 1, 1);
    struct canvas *canvas = layout->canvas;
    for (size_t i = 0; i < (size_t)canvas->width_px * (size_t)canvas->height_px; i++) {
        memcpy(&canvas->at[i * CANVAS_DEPTH], base.value, sizeof base.value);
    }
}

/* One track: straight, aslant, straight, with bare board beside it; ends in a plated hole or not.
 */
static void paint_track(struct layout *layout, const double corner_mm[4][2], double half_mm,
                        bool has_hole)
{
    const struct ink bare = mask_ink(layout, 0.62F, 0.9F);
    const struct ink copper = mask_ink(layout, 1.25F, 1);
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < 3; i++) {
            const struct line line = {corner_mm[i][0], corner_mm[i][1], corner_mm[i + 1][0],
                                      corner_mm[i + 1][1], pass == 0 ? half_mm + 0.13 : half_mm};
            canvas_line(layout->canvas, &line, pass == 0 ? &bare : &copper);
        }
    }
    if (has_hole) {
        const struct ink ring = mask_ink(layout, 1.6F, 1);
        const struct ink pit = mask_ink(layout, 0.3F, 1);
        canvas_disc(layout->canvas, corner_mm[3][0], corner_mm[3][1], 0.32, &ring);
        canvas_disc(layout->canvas, corner_mm[3][0], corner_mm[3][1], 0.14, &pit);
    }
}

/* A bundle of tracks side by side. */
static void paint_bundle(struct layout *layout)
{
    struct random *random = &layout->random;
    const double x = random_between(random, -layout->half_w_mm, layout->half_w_mm);
    const double y = random_between(random, -layout->half_h_mm, layout->half_h_mm);
    const double a = random_between(random, 2, 8);
    const double slant = random_between(random, 1, 4) * (random_even(random) < 0.5 ? 1 : -1);
    const double b = random_between(random, 2, 11);
    const bool is_upright = random_even(random) < 0.4;
    const bool has_holes = random_even(random) < 0.6;
    const int count = 1 + (int)(random_even(random) * 7);
    for (int i = 0; i < count; i++) {
        const double side = i * 0.55;
        const double bend = slant > 0 ? -side * 0.41 : side * 0.41;
        const double end = a + fabs(slant) + b + (has_holes ? (i % 2) * 0.9 : 0);
        double corner[4][2] = {{0, side},
                               {a + bend, side},
                               {a + bend + fabs(slant), side + slant},
                               {end, side + slant}};
        for (int k = 0; k < 4; k++) {
            const double along = corner[k][0];
            const double across = corner[k][1];
            corner[k][0] = x + (is_upright ? across : along);
            corner[k][1] = y + (is_upright ? along : across);
        }
        paint_track(layout, (const double(*)[2])corner, 0.1, has_holes);
    }
}

static void paint_label(struct layout *layout, const struct place *part, char letter, int number)
{
    const struct ink silk = {{0.36F, 0.36F, 0.34F, 0.05F}, 0.85F, 0};
    char text[16];
    (void)snprintf(text, sizeof text, "%c%d", letter, number);
    const double at[2] = {part->x_mm - 0.7, part->y_mm - part->half_h_mm - 1.15};
    canvas_text(layout->canvas, at, 0.8, text, &silk);
}

static void paint_outline(struct layout *layout, const struct place *part)
{
    const struct ink silk = {{0.36F, 0.36F, 0.34F, 0.05F}, 0.8F, 0};
    const double x0 = part->x_mm - part->half_w_mm - 0.3;
    const double x1 = part->x_mm + part->half_w_mm + 0.3;
    const double y0 = part->y_mm - part->half_h_mm - 0.3;
    const double y1 = part->y_mm + part->half_h_mm + 0.3;
    const struct line sides[] = {{x0, y0, x1, y0, 0.07},
                                 {x1, y0, x1, y1, 0.07},
                                 {x1, y1, x0, y1, 0.07},
                                 {x0, y1, x0, y0, 0.07}};
    for (size_t i = 0; i < sizeof sides / sizeof *sides; i++) {
        canvas_line(layout->canvas, &sides[i], &silk);
    }
}

static void paint_chips(struct layout *layout)
{
    struct random *random = &layout->random;
    for (int i = 0; i < CHIPS; i++) {
        const bool is_square = i < 2 || random_even(random) < 0.3;
        const double half = is_square ? random_between(random, 3.2, i == 0 ? 6.5 : 4.5) : 3;
        struct place place;
        if (find_place(layout, is_square ? half : random_between(random, 2.2, 4.5), half, &place)) {
            part_chip(layout->canvas, &place, is_square, random);
            paint_label(layout, &place, 'U', i + 1);
        }
    }
}

static void paint_large(struct layout *layout)
{
    struct place place;
    const double edge_mm = layout->half_h_mm;
    const struct place row = {-layout->half_w_mm * 0.35, -edge_mm + 2.2, 2.54 * 4, 1.27};
    if (take(layout, &row, 0.3)) {
        part_pins(layout->canvas, &row);
        paint_outline(layout, &row);
    }
    const struct place socket = {layout->half_w_mm - 4.5, random_between(&layout->random, -4, 4),
                                 3.6, 4.2};
    if (take(layout, &socket, 0.3)) {
        part_socket(layout->canvas, &socket);
    }
    for (int side = -1; side <= 1; side += 2) {
        const struct place corner = {side * (layout->half_w_mm - 3.2), edge_mm - 3, 1.9, 1.9};
        if (take(layout, &corner, 0.5)) {
            part_hole(layout->canvas, &corner);
        }
    }
    for (int i = 0; i < 3; i++) {
        const double half = random_between(&layout->random, 1.9, 3.1);
        if (find_place(layout, half, half, &place)) {
            part_can(layout->canvas, &place);
        }
    }
}

static void paint_small_part(struct layout *layout, int number)
{
    struct random *random = &layout->random;
    const bool is_black = random_even(random) < 0.5;
    const bool lies = random_even(random) < 0.6;
    const double size = random_even(random) < 0.7 ? 0.5 : 0.8;
    struct place place;
    if (!find_place(layout, lies ? size * 2 : size, lies ? size : size * 2, &place)) {
        return;
    }
    place.half_w_mm *= 0.8;
    place.half_h_mm *= 0.8;
    part_small(layout->canvas, &place, is_black);
    if (random_even(random) < 0.5) {
        paint_label(layout, &place, is_black ? 'R' : 'C', number);
    }
}

static void paint_small(struct layout *layout)
{
    for (int i = 1; i <= SMALL_PARTS; i++) {
        paint_small_part(layout, i);
    }
}

/* Lamps first: what is laid out later keeps clear of them. */
static void take_lamps(struct layout *layout, const struct lamp_scene_rules *rules, int margin_px)
{
    for (size_t i = 0; i < rules->lamp_count; i++) {
        const struct lamp_scene_lamp *lamp = &rules->lamp[i];
        const double size_mm =
            board_lamp_size_px(lamp, rules->height_px) / layout->canvas->px_per_mm;
        double at[2];
        canvas_to_mm(layout->canvas, lamp->x_px + margin_px, lamp->y_px + margin_px, at);
        const struct place place = {at[0], at[1], size_mm + 0.5, size_mm * 0.6 + 0.2};
        (void)take(layout, &place, 0);
    }
}

static void paint_lamps(struct layout *layout, const struct lamp_scene_rules *rules, int margin_px)
{
    for (size_t i = 0; i < rules->lamp_count; i++) {
        const struct lamp_scene_lamp *lamp = &rules->lamp[i];
        const double size_mm =
            board_lamp_size_px(lamp, rules->height_px) / layout->canvas->px_per_mm;
        double at[2];
        canvas_to_mm(layout->canvas, lamp->x_px + margin_px, lamp->y_px + margin_px, at);
        const struct place body = {at[0], at[1], size_mm * 0.62, size_mm * 0.5};
        part_lamp(layout->canvas, &body, board_lamp_rgb(lamp->colour));
        paint_label(layout, &body, 'D', (int)i + 1);
    }
}

/* The room's lamp stands upper left: its light falls off across the board, and is mirrored faintly
 * in the mask. */
static double light_row(struct canvas *canvas, int y)
{
    double sum = 0;
    const double v = (double)y / canvas->height_px - 0.5;
    float *texel = &canvas->at[(size_t)y * (size_t)canvas->width_px * CANVAS_DEPTH];
    for (int x = 0; x < canvas->width_px; x++) {
        const double u = (double)x / canvas->width_px - 0.5;
        const double fall = 1.1 - 0.45 * u - 0.35 * v - 0.5 * (u * u + v * v);
        const double mirror =
            0.035 * exp(-((u + 0.28) * (u + 0.28) * 9 + (v + 0.3) * (v + 0.3) * 12));
        for (int c = 0; c < 3; c++) {
            texel[c] = (float)((double)texel[c] * fall + mirror);
            sum += (double)texel[c];
        }
        texel += CANVAS_DEPTH;
    }
    return sum;
}

/* Light the board; its mean light is 1. */
static void light_board(struct canvas *canvas)
{
    double sum = 0;
    for (int y = 0; y < canvas->height_px; y++) {
        sum += light_row(canvas, y);
    }
    const float even = (float)(3.0 * canvas->width_px * canvas->height_px / sum);
    for (size_t i = 0; i < (size_t)canvas->width_px * (size_t)canvas->height_px; i++) {
        for (int c = 0; c < 3; c++) {
            canvas->at[i * CANVAS_DEPTH + (size_t)c] *= even;
        }
    }
}

/* Weave of the board and unevenness of the mask, so that no surface is flat. */
static void grain_board(struct layout *layout)
{
    struct canvas *canvas = layout->canvas;
    for (size_t i = 0; i < (size_t)canvas->width_px * (size_t)canvas->height_px; i++) {
        const float share = 1 + 0.07F * (float)random_normal(&layout->random);
        for (int c = 0; c < 3; c++) {
            canvas->at[i * CANVAS_DEPTH + (size_t)c] *= share > 0 ? share : 0;
        }
    }
}

static void paint_all(struct layout *layout, const struct lamp_scene_rules *rules, int margin_px)
{
    const struct ink silk = {{0.38F, 0.38F, 0.36F, 0.05F}, 0.85F, 0};
    choose_mask(layout);
    const int bundles = (int)(layout->half_w_mm * layout->half_h_mm / 6);
    for (int i = 0; i < bundles; i++) {
        paint_bundle(layout);
    }
    take_lamps(layout, rules, margin_px);
    const struct place title = {-layout->half_w_mm * 0.3, layout->half_h_mm - 3, 5.5, 1.2};
    if (take(layout, &title, 0)) {
        canvas_text(layout->canvas, (double[2]){title.x_mm - 5, title.y_mm - 0.8}, 1.6, "DEMO-1",
                    &silk);
    }
    paint_large(layout);
    paint_chips(layout);
    paint_small(layout);
    paint_lamps(layout, rules, margin_px);
    grain_board(layout);
}

enum lamp_err board_paint(const struct lamp_scene_rules *rules, int margin_px, struct canvas *out)
{
    struct canvas canvas;
    enum lamp_err err =
        canvas_init(&canvas, rules->width_px + 2 * margin_px, rules->height_px + 2 * margin_px);
    if (err != LAMP_OK) {
        return err;
    }
    const double px_per_mm = rules->height_px / SHOWN_MM;
    canvas_lay(&canvas, px_per_mm, -4);
    struct layout layout = {.canvas = &canvas,
                            .half_w_mm = rules->width_px / px_per_mm / 2,
                            .half_h_mm = rules->height_px / px_per_mm / 2};
    random_init(&layout.random, rules->seed, 10);
    paint_all(&layout, rules, margin_px);
    light_board(&canvas);
    err = canvas_blur(&canvas, rules->blur_px);
    if (err != LAMP_OK) {
        canvas_fini(&canvas);
        return err;
    }
    *out = canvas;
    return LAMP_OK;
}
