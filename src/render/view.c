/* view.c - The board and the lamps' light as a moved camera sees them, row by row. */
#include "render/view.h"

#include <math.h>
#include <string.h>

struct walk view_walk(const struct lamp_scene_rules *rules, const struct pose *pose, int margin_px,
                      int y_px)
{
    const double cx = rules->width_px / 2.0;
    const double cy = rules->height_px / 2.0;
    const double dx = cos(pose->turn_rad) * pose->zoom;
    const double dy = sin(pose->turn_rad) * pose->zoom;
    const double down = y_px - cy;
    return (struct walk){
        .x = cx - cx * dx - down * dy + margin_px + pose->x_px,
        .y = cy - cx * dy + down * dx + margin_px + pose->y_px,
        .dx = dx,
        .dy = dy,
        .count = rules->width_px,
    };
}

/* Add what lies between four pixels of a picture of `stride` floats a row, times `scale`. */
static inline void add_between(const float *at, size_t stride, const float share[2], float scale,
                               float *out)
{
    const float *below = at + stride;
    const float right = share[0];
    const float down = share[1];
    for (int c = 0; c < CANVAS_DEPTH; c++) {
        const float upper = at[c] + right * (at[CANVAS_DEPTH + c] - at[c]);
        const float lower = below[c] + right * (below[CANVAS_DEPTH + c] - below[c]);
        out[c] += scale * (upper + down * (lower - upper));
    }
}

static bool is_on_grid(const struct walk *walk)
{
    return walk->dx == 1 && walk->dy == 0 && walk->x == floor(walk->x) && walk->y == floor(walk->y);
}

void view_board(const struct canvas *board, const struct walk *walk, float light, float *row)
{
    const size_t stride = (size_t)board->width_px * CANVAS_DEPTH;
    const size_t count = (size_t)walk->count * CANVAS_DEPTH;
    if (is_on_grid(walk)) {
        const float *at = &board->at[(size_t)walk->y * stride + (size_t)walk->x * CANVAS_DEPTH];
        for (size_t i = 0; i < count; i++) {
            row[i] = light * at[i];
        }
        return;
    }
    memset(row, 0, count * sizeof *row);
    const float right = (float)board->width_px - 1.001F;
    const float bottom = (float)board->height_px - 1.001F;
    for (int x = 0; x < walk->count; x++) {
        const float fx = fminf(fmaxf((float)(walk->x + x * walk->dx), 0), right);
        const float fy = fminf(fmaxf((float)(walk->y + x * walk->dy), 0), bottom);
        const float share[2] = {fx - (float)(int)fx, fy - (float)(int)fy};
        add_between(&board->at[(size_t)(int)fy * stride + (size_t)(int)fx * CANVAS_DEPTH], stride,
                    share, light, &row[(size_t)x * CANVAS_DEPTH]);
    }
}

bool view_meets(const struct glow *glow, const struct walk *walk)
{
    const double middle = walk->y - glow->y_px + walk->dy * walk->count / 2;
    const double slack = fabs(walk->dy) * walk->count / 2;
    return middle + slack >= 0 && middle - slack < glow->side_px;
}

void view_glow(const struct glow *glow, const struct walk *walk, float light, float *row)
{
    const size_t stride = (size_t)glow->side_px * CANVAS_DEPTH;
    const float most = (float)(glow->side_px - 1);
    const double from_x = walk->x - glow->x_px;
    const double from_y = walk->y - glow->y_px;
    const int first = (int)fmax(0, -from_x / walk->dx);
    const int last = (int)fmin(walk->count, (glow->side_px - from_x) / walk->dx + 1);
    for (int x = first; x < last; x++) {
        const float fx = (float)(from_x + x * walk->dx);
        const float fy = (float)(from_y + x * walk->dy);
        if (fx < 0 || fy < 0 || fx >= most || fy >= most) {
            continue;
        }
        const float share[2] = {fx - (float)(int)fx, fy - (float)(int)fy};
        add_between(&glow->at[(size_t)(int)fy * stride + (size_t)(int)fx * CANVAS_DEPTH], stride,
                    share, light, &row[(size_t)x * CANVAS_DEPTH]);
    }
}
