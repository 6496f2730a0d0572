/* palette.c - The few colours of a GIF, by median cut (P. Heckbert, "Color image quantization",
 * SIGGRAPH 1982). */
#include "render/palette.h"

#include <string.h>

#define CELLS (PALETTE_STEPS * PALETTE_STEPS * PALETTE_STEPS)

/* A box of colours, its corners in steps, both included. */
struct cut {
    int low[3];
    int high[3];
    uint64_t count;
};

static int limit(int value)
{
    return value < 0 ? 0 : value > 255 ? 255 : value;
}

/* ITU-R BT.709-6 in 16 bits: from limited range Y'CbCr. */
void frame_row_rgb(const struct lamp_frame *frame, int y_px, uint8_t *out)
{
    const uint8_t *luma = (const uint8_t *)frame->y.at + y_px * frame->y.stride_bytes;
    const uint8_t *cb = (const uint8_t *)frame->u.at + y_px / 2 * frame->u.stride_bytes;
    const uint8_t *cr = (const uint8_t *)frame->v.at + y_px / 2 * frame->v.stride_bytes;
    for (int x = 0; x < frame->y.width_px; x++) {
        const int light = (luma[x] - 16) * 76309 + 32768;
        const int blue = cb[x / 2] - 128;
        const int red = cr[x / 2] - 128;
        out[0] = (uint8_t)limit((light + 117489 * red) >> 16);
        out[1] = (uint8_t)limit((light - 13975 * blue - 34925 * red) >> 16);
        out[2] = (uint8_t)limit((light + 138438 * blue) >> 16);
        out += 3;
    }
}

static size_t cell_of(int red, int green, int blue)
{
    return ((size_t)red * PALETTE_STEPS + (size_t)green) * PALETTE_STEPS + (size_t)blue;
}

void palette_count_frame(struct palette_count *count, const struct lamp_frame *frame)
{
    uint8_t rgb[LAMP_SCENE_SIDE_MAX * 3];
    for (int y = 0; y < frame->y.height_px; y++) {
        frame_row_rgb(frame, y, rgb);
        const uint8_t *at = rgb;
        for (int x = 0; x < frame->y.width_px; x++, at += 3) {
            count->of[cell_of(at[0] / 8, at[1] / 8, at[2] / 8)]++;
        }
    }
}

/* How many pixels a box has in each step along channel `axis`. */
static void count_along(const struct palette_count *count, const struct cut *cut, int axis,
                        uint64_t along[PALETTE_STEPS])
{
    memset(along, 0, PALETTE_STEPS * sizeof *along);
    const int *low = cut->low;
    const int wide[3] = {cut->high[0] - low[0] + 1, cut->high[1] - low[1] + 1,
                         cut->high[2] - low[2] + 1};
    for (int i = 0; i < wide[0] * wide[1] * wide[2]; i++) {
        const int at[3] = {low[0] + i / (wide[1] * wide[2]), low[1] + i / wide[2] % wide[1],
                           low[2] + i % wide[2]};
        along[at[axis]] += count->of[cell_of(at[0], at[1], at[2])];
    }
}

/* Draw the box in to the colours that occur. */
static void shrink(const struct palette_count *count, struct cut *cut)
{
    for (int axis = 0; axis < 3; axis++) {
        uint64_t along[PALETTE_STEPS];
        count_along(count, cut, axis, along);
        while (cut->low[axis] < cut->high[axis] && along[cut->low[axis]] == 0) {
            cut->low[axis]++;
        }
        while (cut->high[axis] > cut->low[axis] && along[cut->high[axis]] == 0) {
            cut->high[axis]--;
        }
        cut->count = 0;
        for (int i = cut->low[axis]; i <= cut->high[axis]; i++) {
            cut->count += along[i];
        }
    }
}

static int longest_axis(const struct cut *cut)
{
    int longest = 0;
    for (int axis = 1; axis < 3; axis++) {
        if (cut->high[axis] - cut->low[axis] > cut->high[longest] - cut->low[longest]) {
            longest = axis;
        }
    }
    return longest;
}

/* Split a box at its median; the upper part goes to `upper`. */
static void split(const struct palette_count *count, struct cut *cut, struct cut *upper)
{
    const int axis = longest_axis(cut);
    uint64_t along[PALETTE_STEPS];
    count_along(count, cut, axis, along);
    uint64_t below = along[cut->low[axis]];
    int at = cut->low[axis];
    while (at + 1 < cut->high[axis] && below * 2 < cut->count) {
        below += along[++at];
    }
    *upper = *cut;
    upper->low[axis] = at + 1;
    cut->high[axis] = at;
    shrink(count, cut);
    shrink(count, upper);
}

/* The box to split next: rare colours far apart count as well as common ones near each other. NULL
 * if none can be. */
static struct cut *next_cut(struct cut *cuts, size_t used)
{
    struct cut *best = NULL;
    double most = 0;
    for (size_t i = 0; i < used; i++) {
        const int axis = longest_axis(&cuts[i]);
        const double wide = cuts[i].high[axis] - cuts[i].low[axis];
        const double worth =
            wide * wide * wide *
            (double)(cuts[i].count > 4096 ? 4096 + cuts[i].count / 64 : cuts[i].count);
        if (wide > 0 && worth > most) {
            most = worth;
            best = &cuts[i];
        }
    }
    return best;
}

/* Mean colour of a box. */
static void mean_colour(const struct palette_count *count, const struct cut *cut, uint8_t rgb[3])
{
    for (int axis = 0; axis < 3; axis++) {
        uint64_t along[PALETTE_STEPS];
        count_along(count, cut, axis, along);
        uint64_t sum = 0;
        for (int i = cut->low[axis]; i <= cut->high[axis]; i++) {
            sum += along[i] * (uint64_t)(8 * i + 4);
        }
        rgb[axis] = (uint8_t)(cut->count > 0 ? sum / cut->count : 0);
    }
}

static int square(int value)
{
    return value * value;
}

static uint8_t nearest_colour(const struct palette *palette, size_t used, const int rgb[3])
{
    size_t nearest = 0;
    int least = INT32_MAX;
    for (size_t i = 0; i < used; i++) {
        const uint8_t *at = palette->rgb[i];
        const int distance =
            2 * square(at[0] - rgb[0]) + 4 * square(at[1] - rgb[1]) + square(at[2] - rgb[2]);
        if (distance < least) {
            least = distance;
            nearest = i;
        }
    }
    return (uint8_t)nearest;
}

void palette_choose(const struct palette_count *count, struct palette *out)
{
    struct cut cuts[PALETTE_COLOURS] = {
        {.high = {PALETTE_STEPS - 1, PALETTE_STEPS - 1, PALETTE_STEPS - 1}}};
    size_t used = 1;
    shrink(count, &cuts[0]);
    while (used < PALETTE_COLOURS) {
        struct cut *cut = next_cut(cuts, used);
        if (cut == NULL) {
            break;
        }
        split(count, cut, &cuts[used]);
        used++;
    }
    *out = (struct palette){.rgb = {{0}}};
    for (size_t i = 0; i < used; i++) {
        mean_colour(count, &cuts[i], out->rgb[i]);
    }
    for (int i = 0; i < CELLS; i++) {
        const int rgb[3] = {i / (PALETTE_STEPS * PALETTE_STEPS) * 8 + 4,
                            i / PALETTE_STEPS % PALETTE_STEPS * 8 + 4, i % PALETTE_STEPS * 8 + 4};
        out->nearest[i] = nearest_colour(out, used, rgb);
    }
}

void palette_row(const struct palette *palette, const struct lamp_frame *frame, int y_px,
                 uint8_t *out)
{
    uint8_t row[LAMP_SCENE_SIDE_MAX * 3];
    /* Bayer's 4 x 4 order, centred on 0, as wide as one step. */
    static const int order[4][4] = {{0, 8, 2, 10}, {12, 4, 14, 6}, {3, 11, 1, 9}, {15, 7, 13, 5}};
    frame_row_rgb(frame, y_px, row);
    for (int x = 0; x < frame->y.width_px; x++) {
        const int lift = (order[y_px % 4][x % 4] - 8) / 2;
        const uint8_t *rgb = &row[3 * (size_t)x];
        out[x] = palette->nearest[cell_of(limit(rgb[0] + lift) / 8, limit(rgb[1] + lift) / 8,
                                          limit(rgb[2] + lift) / 8)];
    }
}
