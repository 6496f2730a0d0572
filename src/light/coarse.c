/* coarse.c - A small copy of a frame: the mean of each block of pixels. */
#include "light/coarse.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* About 160 blocks in a row: a lamp is then a block or a few, whatever the picture's size. */
enum { BLOCKS_WANTED = 160, BLOCK_PX_MAX = 32, COLUMNS_MAX = 16384, SKIP_ROWS_PX = 8 };

#define EVEN_BYTES UINT32_C(0x00ff00ff)
#define LOW_HALF   UINT32_C(0x0000ffff)

enum lamp_err lamp_coarse_init(struct lamp_coarse *coarse, int width_px, int height_px)
{
    int block = 1;
    while (block < BLOCK_PX_MAX && block * 2 * BLOCKS_WANTED <= width_px) {
        block *= 2;
    }
    struct lamp_coarse made = {
        .block_px = block, .width = width_px / block, .height = height_px / block};
    size_t count = lamp_coarse_count(&made);
    made.y = calloc(3 * count, sizeof *made.y);
    if (made.y == NULL) {
        return LAMP_NO_MEMORY;
    }
    made.u = made.y + count;
    made.v = made.u + count;
    *coarse = made;
    return LAMP_OK;
}

void lamp_coarse_fini(struct lamp_coarse *coarse)
{
    free(coarse->y);
    *coarse = (struct lamp_coarse){0};
}

static const uint8_t *row_at(const struct lamp_plane *plane, int row)
{
    return (const uint8_t *)plane->at + plane->stride_bytes * row;
}

/* Column sums over some rows; the widening add over a row is what the compiler vectorises. */
static void add_row_8(uint16_t *restrict sums, const uint8_t *restrict row, int count)
{
    for (int x = 0; x < count; x++) {
        sums[x] = (uint16_t)(sums[x] + row[x]);
    }
}

static void add_row_16(uint32_t *restrict sums, const uint16_t *restrict row, int count)
{
    for (int x = 0; x < count; x++) {
        sums[x] += row[x];
    }
}

static void means_8(const uint16_t *restrict sums, int block_w, float scale, float *restrict out,
                    int count)
{
    for (int i = 0; i < count; i++) {
        unsigned sum = 0;
        for (int x = 0; x < block_w; x++) {
            sum += sums[i * block_w + x];
        }
        out[i] = (float)sum * scale;
    }
}

static void means_16(const uint32_t *restrict sums, int block_w, float scale, float *restrict out,
                     int count)
{
    for (int i = 0; i < count; i++) {
        uint32_t sum = 0;
        for (int x = 0; x < block_w; x++) {
            sum += sums[i * block_w + x];
        }
        out[i] = (float)sum * scale;
    }
}

/* How many pixels of a plane stand for one block along an axis; a subsampled plane may have under
 * one. */
struct blocks {
    int w; /* plane pixels a block is wide, >= 1 */
    int h;
    int row_step; /* rows from one that is read to the next */
    float scale;  /* from a sum to the 8-bit scale */
};

/* Four pixels at a time: a word of four bytes is added as two sums of two, each with room for 128
 * rows. */
static void add_words(uint32_t *restrict sums, const uint8_t *restrict row, int words)
{
    for (int i = 0; i < words; i++) {
        uint32_t pixels;
        memcpy(&pixels, row + 4 * (ptrdiff_t)i, sizeof pixels);
        sums[i] += (pixels & EVEN_BYTES) + (pixels >> 8 & EVEN_BYTES);
    }
}

static float word_total(uint32_t sums)
{
    return (float)(int)((sums + (sums >> 16)) & LOW_HALF);
}

static void means_of_words(const uint32_t *restrict sums, int block_words, float scale,
                           float *restrict out, int count)
{
    if (block_words == 1) {
        for (int i = 0; i < count; i++) {
            out[i] = word_total(sums[i]) * scale;
        }
        return;
    }
    if (block_words == 2) {
        for (ptrdiff_t i = 0; i < count; i++) {
            out[i] = word_total(sums[2 * i] + sums[2 * i + 1]) * scale;
        }
        return;
    }
    for (int i = 0; i < count; i++) {
        float sum = 0;
        for (int k = 0; k < block_words; k++) {
            sum += word_total(sums[i * block_words + k]);
        }
        out[i] = sum * scale;
    }
}

static void take_words(const struct lamp_plane *plane, struct blocks b, float *out, int columns,
                       int rows)
{
    uint32_t sums[COLUMNS_MAX / 4];
    int block_words = b.w / 4;
    int words = columns * block_words;
    for (int j = 0; j < rows; j++) {
        memset(sums, 0, (size_t)words * sizeof *sums);
        for (int y = 0; y < b.h; y += b.row_step) {
            add_words(sums, row_at(plane, j * b.h + y), words);
        }
        means_of_words(sums, block_words, b.scale, out + (ptrdiff_t)j * columns, columns);
    }
}

static void take_plane_8(const struct lamp_plane *plane, struct blocks b, float *out, int columns,
                         int rows)
{
    uint16_t sums[COLUMNS_MAX];
    int used = columns * b.w;
    if (b.w % 4 == 0) {
        take_words(plane, b, out, columns, rows);
        return;
    }
    for (int j = 0; j < rows; j++) {
        memset(sums, 0, (size_t)used * sizeof *sums);
        for (int y = 0; y < b.h; y += b.row_step) {
            add_row_8(sums, row_at(plane, j * b.h + y), used);
        }
        means_8(sums, b.w, b.scale, out + (size_t)j * (size_t)columns, columns);
    }
}

static void take_plane_16(const struct lamp_plane *plane, struct blocks b, float *out, int columns,
                          int rows)
{
    uint32_t sums[COLUMNS_MAX];
    int used = columns * b.w;
    for (int j = 0; j < rows; j++) {
        memset(sums, 0, (size_t)used * sizeof *sums);
        for (int y = 0; y < b.h; y += b.row_step) {
            add_row_16(sums, (const uint16_t *)(const void *)row_at(plane, j * b.h + y), used);
        }
        means_16(sums, b.w, b.scale, out + (size_t)j * (size_t)columns, columns);
    }
}

/* A plane with less than one pixel a block: repeat its nearest pixel. */
static void take_sparse(const struct lamp_plane *plane, int bits, const struct lamp_coarse *coarse,
                        float *out)
{
    float scale = 255.0F / (float)((1 << bits) - 1);
    for (int j = 0; j < coarse->height; j++) {
        const uint8_t *row = row_at(plane, j * plane->height_px / coarse->height);
        for (int i = 0; i < coarse->width; i++) {
            int x = i * plane->width_px / coarse->width;
            float value =
                bits == 8 ? (float)row[x] : (float)((const uint16_t *)(const void *)row)[x];
            out[(size_t)j * (size_t)coarse->width + (size_t)i] = value * scale;
        }
    }
}

static void take_plane(const struct lamp_plane *plane, int bits, const struct lamp_coarse *coarse,
                       float *out)
{
    int w = plane->width_px / coarse->width;
    int h = plane->height_px / coarse->height;
    w = w < coarse->block_px ? w : coarse->block_px;
    h = h < coarse->block_px ? h : coarse->block_px;
    if (w < 1 || h < 1) {
        take_sparse(plane, bits, coarse, out);
        return;
    }
    /* Subsampling is by a power of two, and so is a block: fewer than half a block means half, a
     * quarter, ... */
    while (w & (w - 1)) {
        w--;
    }
    while (h & (h - 1)) {
        h--;
    }
    /* Half of the rows of a large block say as much, and one row of the smoother chroma. */
    bool is_chroma = plane->width_px * 2 <= coarse->width * coarse->block_px + 1;
    int step = coarse->block_px >= SKIP_ROWS_PX && h > 1 ? (is_chroma ? h : 2) : 1;
    float pixels = (float)(w * (h / step));
    struct blocks b = {w, h, step, 255.0F / ((float)((1 << bits) - 1) * pixels)};
    if (bits == 8) {
        take_plane_8(plane, b, out, coarse->width, coarse->height);
    } else {
        take_plane_16(plane, b, out, coarse->width, coarse->height);
    }
}

void lamp_coarse_take(struct lamp_coarse *coarse, const struct lamp_frame *frame)
{
    take_plane(&frame->y, frame->bits, coarse, coarse->y);
    if (frame->u.at == NULL || frame->v.at == NULL) {
        for (size_t i = 0; i < lamp_coarse_count(coarse); i++) {
            coarse->u[i] = coarse->v[i] = 128.0F;
        }
        return;
    }
    take_plane(&frame->u, frame->bits, coarse, coarse->u);
    take_plane(&frame->v, frame->bits, coarse, coarse->v);
}
