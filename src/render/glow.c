/* glow.c - The light of one lamp in the picture: core, halo, light on the board, mirror images in
 * shiny parts.
 *
 *     light |   __            core: clips to white, because a sensor's colours leak into each other
 *           |  |  |
 *           | /    \__        halo of the lens, carries the colour
 *           |/        ''--..  light on the board, times what the board reflects
 *           '----------------> distance
 */
#include "render/glow.h"

#include <math.h>
#include <stdlib.h>

#include "render/board.h"

/* Reach of a glow, in core widths. */
#define REACH 11.0

/* Share of a lamp's light that the sensor takes for white. */
#define LEAK 0.05F

/* How strong each kind of spreading is and how wide, in core widths. */
struct spread {
    double strength;
    double width;
    double fall;
};

static const struct spread near_halo = {0.055, 0.8, 1.5};
static const struct spread far_halo = {0.0035, 4.0, 1.2};
static const struct spread on_board = {0.030, 1.5, 1.5};
static const struct spread in_mirror = {0.016, 3.0, 1.3};

static double spread_at(const struct spread *spread, double widths)
{
    const double x = widths / spread->width;
    return spread->strength / pow(1 + x * x, spread->fall);
}

/* Light at a distance, for each channel; `texel` is the board there. */
static void light_at(const struct lamp_scene_rules *rules, const struct lamp_scene_lamp *lamp,
                     double widths, const float *texel, float out[CANVAS_DEPTH])
{
    const float *rgb = board_lamp_rgb(lamp->colour);
    const double edge = 1 - widths * widths / (REACH * REACH);
    const double window = edge > 0 ? edge * edge : 0;
    const double core = 1 / (1 + exp((widths - 0.40) / 0.06));
    const double halo =
        rules->bloom * (spread_at(&near_halo, widths) + spread_at(&far_halo, widths));
    const double mirror = texel[3] > 0.3F ? (double)texel[3] * spread_at(&in_mirror, widths) : 0;
    for (int c = 0; c < 3; c++) {
        const double colour = (double)(rgb[c] + LEAK) * lamp->brightness;
        const double lit = (double)texel[c] * spread_at(&on_board, widths);
        out[c] = (float)(colour * window * (core + halo + lit + mirror));
    }
    out[3] = 0;
}

enum lamp_err glow_paint(const struct lamp_scene_rules *rules, const struct lamp_scene_lamp *lamp,
                         const struct canvas *board, int margin_px, struct glow *out)
{
    const double size_px = board_lamp_size_px(lamp, rules->height_px);
    const int reach_px = (int)ceil(size_px * REACH);
    struct glow glow = {.side_px = 2 * reach_px + 1};
    glow.x_px = (int)floor(lamp->x_px) + margin_px - reach_px;
    glow.y_px = (int)floor(lamp->y_px) + margin_px - reach_px;
    glow.at = malloc((size_t)glow.side_px * (size_t)glow.side_px * CANVAS_DEPTH * sizeof *glow.at);
    if (glow.at == NULL) {
        return LAMP_NO_MEMORY;
    }
    static const float nothing[CANVAS_DEPTH] = {0};
    for (int y = 0; y < glow.side_px; y++) {
        for (int x = 0; x < glow.side_px; x++) {
            const int bx = glow.x_px + x;
            const int by = glow.y_px + y;
            const bool is_inside =
                bx >= 0 && by >= 0 && bx < board->width_px && by < board->height_px;
            const size_t at = ((size_t)by * (size_t)board->width_px + (size_t)bx) * CANVAS_DEPTH;
            const double distance =
                hypot(bx + 0.5 - lamp->x_px - margin_px, by + 0.5 - lamp->y_px - margin_px);
            light_at(rules, lamp, distance / size_px, is_inside ? &board->at[at] : nothing,
                     &glow.at[((size_t)y * (size_t)glow.side_px + (size_t)x) * CANVAS_DEPTH]);
        }
    }
    *out = glow;
    return LAMP_OK;
}

void glow_fini(struct glow *glow)
{
    free(glow->at);
    glow->at = NULL;
}
