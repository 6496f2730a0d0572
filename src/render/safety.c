/* safety.c - Watch pictures for flashing that can harm.
 *
 * WCAG 2 SC 2.3.1, "three flashes or below threshold": a flash is a pair of opposing changes of
 * relative luminance by 10 % of full or more, the darker of the two below 0.80; more than three in
 * any one second are too many where they fill more than 21 824 px (a quarter of a 10 degree field,
 * 341 x 256 px) of a page of 1024 x 768. Red flashes count as well: pairs of changes of (R - G - B)
 * x 320 by more than 20 where R / (R + G + B) >= 0.8 (these two numbers: from memory). ITU-R
 * BT.1702 asks for less: a quarter of the whole screen, and 20 cd/m2, which is 10 % of a screen of
 * 200 cd/m2.
 *
 *    page                    each cell of 8 x 8 px of the page keeps the times of its last changes;
 *   .----------------.       cells that flash too often are added up over every 10 degree field
 *   |  .------.      |
 *   |  | 10deg|      |
 *   '----------------'
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "lampread/render.h"

#define PAGE_W_PX  1024
#define PAGE_H_PX  768
#define FIELD_W_PX 341
#define FIELD_H_PX 256
#define CELL_PX    8

/* Two changes make a flash: with so many in one second there are too many. */
#define CHANGES_MAX (2 * (LAMP_FLASH_PER_S_MAX + 1))

/* Smallest change of relative luminance, lightest dark side, smallest change of redness, least
 * share of red. */
#define LEAST_CHANGE   0.1F
#define DARKER_BELOW   0.8F
#define LEAST_REDNESS  (20.0F / 320)
#define LEAST_RED_PART 0.8F

/* Follows one value and keeps when it last turned. */
struct turns {
    float low; /* Extremes since the last change. */
    float high;
    int8_t direction; /* 0 before the first change. */
    uint8_t next;
    int64_t t_ns[CHANGES_MAX];
};

struct cell {
    struct turns light;
    struct turns red;
};

struct lamp_flash_watch {
    int columns;
    int rows;
    double cell_w_px; /* Of the page. */
    double cell_h_px;
    struct cell *cell;
    float *sum;     /* Light, red, count of each cell. */
    uint32_t *area; /* Cells above and to the left that flash too often. */
    float linear[256];
    bool is_begun;
    bool has_failed; /* Memory ran out: no clip is called safe. */
    struct lamp_flash_limit limit;
};

enum lamp_err lamp_flash_watch_new(struct lamp_flash_watch **out)
{
    struct lamp_flash_watch *watch = calloc(1, sizeof *watch);
    if (watch == NULL) {
        return LAMP_NO_MEMORY;
    }
    watch->limit.is_kept = true;
    for (int i = 0; i < 256; i++) { /* WCAG 2, relative luminance: IEC 61966-2-1 */
        const double code = i / 255.0;
        watch->linear[i] =
            (float)(code <= 0.04045 ? code / 12.92 : pow((code + 0.055) / 1.055, 2.4));
    }
    *out = watch;
    return LAMP_OK;
}

/* The picture fills the page; a cell has at least two pixels a side. */
static void lay_cells(struct lamp_flash_watch *watch, int width_px, int height_px)
{
    const double scale = fmin((double)PAGE_W_PX / width_px, (double)PAGE_H_PX / height_px);
    watch->columns = (int)fmax(1, fmin(round(width_px * scale / CELL_PX), width_px / 2.0));
    watch->rows = (int)fmax(1, fmin(round(height_px * scale / CELL_PX), height_px / 2.0));
    watch->cell_w_px = width_px * scale / watch->columns;
    watch->cell_h_px = height_px * scale / watch->rows;
    const size_t count = (size_t)watch->columns * (size_t)watch->rows;
    watch->cell = calloc(count, sizeof *watch->cell);
    watch->sum = calloc(count * 3, sizeof *watch->sum);
    watch->area =
        calloc(((size_t)watch->columns + 1) * ((size_t)watch->rows + 1), sizeof *watch->area);
    watch->has_failed = watch->cell == NULL || watch->sum == NULL || watch->area == NULL;
    watch->limit.is_kept = !watch->has_failed;
    watch->is_begun = true;
}

static int code_at(const struct lamp_plane *plane, int bits, int x, int y)
{
    const uint8_t *row = (const uint8_t *)plane->at + y * plane->stride_bytes;
    return bits == 8 ? row[x] : ((const uint16_t *)(const void *)row)[x] >> (bits - 8);
}

static float light_of(const struct lamp_flash_watch *watch, float code)
{
    const int index = (int)code;
    return watch->linear[index < 0 ? 0 : index > 255 ? 255 : index];
}

/* Relative luminance and redness of one pixel; ITU-R BT.709-6. */
static void look_at(const struct lamp_flash_watch *watch, const struct lamp_frame *frame, int x,
                    int y, float out[2])
{
    const bool is_full = frame->is_full_range;
    const float luma_code = (float)code_at(&frame->y, frame->bits, x, y);
    const float luma = is_full ? luma_code : (luma_code - 16) * 255 / 219;
    float cb = 0;
    float cr = 0;
    if (frame->u.at != NULL) {
        const int cx = x * frame->u.width_px / frame->y.width_px;
        const int cy = y * frame->u.height_px / frame->y.height_px;
        const float stretch = is_full ? 1 : 255.0F / 224;
        cb = (float)(code_at(&frame->u, frame->bits, cx, cy) - 128) * stretch;
        cr = (float)(code_at(&frame->v, frame->bits, cx, cy) - 128) * stretch;
    }
    const float red = light_of(watch, luma + 1.5748F * cr + 0.5F);
    const float green = light_of(watch, luma - 0.1873F * cb - 0.4681F * cr + 0.5F);
    const float blue = light_of(watch, luma + 1.8556F * cb + 0.5F);
    out[0] = 0.2126F * red + 0.7152F * green + 0.0722F * blue;
    out[1] = red >= LEAST_RED_PART * (red + green + blue) ? fmaxf(0, red - green - blue) : 0;
}

/* Mean luminance and redness of every cell, from every other pixel of every other row. */
static void add_up_cells(struct lamp_flash_watch *watch, const struct lamp_frame *frame)
{
    memset(watch->sum, 0, (size_t)watch->columns * (size_t)watch->rows * 3 * sizeof *watch->sum);
    for (int y = 0; y < frame->y.height_px; y += 2) {
        const size_t row = (size_t)(y * watch->rows / frame->y.height_px) * (size_t)watch->columns;
        for (int x = 0; x < frame->y.width_px; x += 2) {
            float seen[2];
            look_at(watch, frame, x, y, seen);
            float *sum = &watch->sum[(row + (size_t)(x * watch->columns / frame->y.width_px)) * 3];
            sum[0] += seen[0];
            sum[1] += seen[1];
            sum[2] += 1;
        }
    }
}

static void note_turn(struct turns *turns, int64_t t_ns)
{
    turns->t_ns[turns->next] = t_ns;
    turns->next = (uint8_t)((turns->next + 1) % CHANGES_MAX);
}

/* Follow a value: a change is counted when it has gone `least` from the extreme it last had. */
static void follow(struct turns *turns, float value, float least, float darker_below, int64_t t_ns)
{
    turns->low = fminf(turns->low, value);
    turns->high = fmaxf(turns->high, value);
    const bool rises =
        turns->direction <= 0 && value - turns->low >= least && turns->low < darker_below;
    const bool falls =
        turns->direction >= 0 && turns->high - value >= least && value < darker_below;
    if (rises || falls) {
        turns->direction = rises ? 1 : -1;
        turns->low = turns->high = value;
        note_turn(turns, t_ns);
    }
}

/* Whether the oldest kept change is within a second: times are after 0, 0 stands for none. */
static bool is_too_often(const struct turns *turns, int64_t t_ns)
{
    const int64_t oldest = turns->t_ns[turns->next];
    return oldest != 0 && t_ns - oldest <= LAMP_NS_PER_S;
}

static void follow_cells(struct lamp_flash_watch *watch, int64_t t_ns, bool is_first)
{
    for (size_t i = 0; i < (size_t)watch->columns * (size_t)watch->rows; i++) {
        struct cell *cell = &watch->cell[i];
        const float *sum = &watch->sum[3 * i];
        const float light = sum[0] / fmaxf(sum[2], 1);
        const float red = sum[1] / fmaxf(sum[2], 1);
        if (is_first) {
            cell->light.low = cell->light.high = light;
            cell->red.low = cell->red.high = red;
        }
        follow(&cell->light, light, LEAST_CHANGE, DARKER_BELOW, t_ns);
        follow(&cell->red, red, LEAST_REDNESS, 2, t_ns);
    }
}

/* Sums over all cells above and to the left, so that a field is four look-ups. */
static bool sum_areas(struct lamp_flash_watch *watch, int64_t t_ns)
{
    const size_t stride = (size_t)watch->columns + 1;
    bool found = false;
    for (size_t y = 0; y < (size_t)watch->rows; y++) {
        for (size_t x = 0; x < (size_t)watch->columns; x++) {
            const struct cell *cell = &watch->cell[y * (size_t)watch->columns + x];
            const bool flashes = is_too_often(&cell->light, t_ns) || is_too_often(&cell->red, t_ns);
            found = found || flashes;
            watch->area[(y + 1) * stride + x + 1] = watch->area[(y + 1) * stride + x] +
                                                    watch->area[y * stride + x + 1] -
                                                    watch->area[y * stride + x] + (flashes ? 1 : 0);
        }
    }
    return found;
}

static size_t least_of(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Largest area that flashes too often in any 10 degree field, px of the page. */
static double worst_field(const struct lamp_flash_watch *watch)
{
    const size_t columns = (size_t)watch->columns;
    const size_t rows = (size_t)watch->rows;
    const size_t stride = columns + 1;
    const size_t wide = least_of(columns, (size_t)ceil(FIELD_W_PX / watch->cell_w_px));
    const size_t high = least_of(rows, (size_t)ceil(FIELD_H_PX / watch->cell_h_px));
    uint32_t most = 0;
    for (size_t y = 0; y + high <= rows; y++) {
        for (size_t x = 0; x + wide <= columns; x++) {
            const uint32_t cells =
                watch->area[(y + high) * stride + x + wide] - watch->area[y * stride + x + wide] -
                watch->area[(y + high) * stride + x] + watch->area[y * stride + x];
            most = cells > most ? cells : most;
        }
    }
    return most * watch->cell_w_px * watch->cell_h_px;
}

void lamp_flash_watch_push(struct lamp_flash_watch *watch, const struct lamp_frame *frame)
{
    const bool is_first = !watch->is_begun;
    if (is_first) {
        lay_cells(watch, frame->y.width_px, frame->y.height_px);
    }
    if (watch->has_failed) {
        return;
    }
    add_up_cells(watch, frame);
    follow_cells(watch, frame->t_ns, is_first);
    if (!sum_areas(watch, frame->t_ns)) {
        return;
    }
    const double area_px = worst_field(watch);
    watch->limit.area_px = fmax(watch->limit.area_px, area_px);
    if (watch->limit.is_kept && area_px > LAMP_FLASH_AREA_PX + 0.5) {
        watch->limit.is_kept = false;
        watch->limit.at_s = (double)frame->t_ns / LAMP_NS_PER_S;
    }
}

struct lamp_flash_limit lamp_flash_watch_limit(const struct lamp_flash_watch *watch)
{
    return watch->limit;
}

void lamp_flash_watch_free(struct lamp_flash_watch *watch)
{
    if (watch != NULL) {
        free(watch->cell);
        free(watch->sum);
        free(watch->area);
        free(watch);
    }
}
