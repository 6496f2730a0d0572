/* webcam_picture.c - What the camera's sensor sees: an invented board with one lamp, as YUYV or
 * JPEG. */
#include "webcam_picture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jpeglib.h>

enum { KEPT_MAX = 64, CODES = 4096, JPEG_QUALITY = 90 };

/* The lamp's place and size in any picture: 0.62 of the width, 0.40 of the height, a 40th of the
 * width wide each way. */
static const double lamp_x = 0.62;
static const double lamp_y = 0.40;
static const double lamp_radius = 1.0 / 40;

/* Radii from its middle to where its light ends. */
static const double lamp_reach = 8;

/* Exposure and gain at which code 255 is light 1. */
static const double plain_exposure_100us = 156;
static const double plain_gain = 64;

struct kept {
    struct picture_look look;
    uint8_t *bytes;
    size_t size_bytes;
};

struct picture_maker {
    double room;
    float colour[3];
    bool is_bare;
    int width_px; /* of board and lamp below */
    int height_px;
    float *board; /* light of the board, 3 a pixel */
    float *lamp;  /* light of the lit lamp */
    struct {
        struct picture_look look; /* nothing lit */
        uint8_t *ycc;
    } dark[PICTURE_NOISES];
    uint8_t *ycc;            /* the picture in the making */
    uint8_t code[CODES + 1]; /* sRGB code of light 0..1 */
    struct kept kept[KEPT_MAX];
    size_t turn;
};

static bool find_colour(const char *name, float out[3])
{
    static const struct {
        const char *name;
        float light[3];
    } colours[] = {{"green", {0.04F, 1.0F, 0.22F}},
                   {"red", {1.0F, 0.05F, 0.04F}},
                   {"amber", {1.0F, 0.45F, 0.02F}},
                   {"blue", {0.03F, 0.16F, 1.0F}},
                   {"white", {1.0F, 0.97F, 0.9F}}};
    for (size_t i = 0; i < sizeof colours / sizeof *colours; i++) {
        if (strcmp(colours[i].name, name) == 0) {
            memcpy(out, colours[i].light, sizeof colours[i].light);
            return true;
        }
    }
    return false;
}

/* IEC 61966-2-1. */
static double srgb(double light)
{
    return light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055;
}

struct picture_maker *picture_maker_new(double room, const char *colour, bool is_bare)
{
    struct picture_maker *maker = calloc(1, sizeof *maker);
    if (maker == NULL || !find_colour(colour, maker->colour)) {
        free(maker);
        return NULL;
    }
    maker->room = room;
    maker->is_bare = is_bare;
    for (int i = 0; i <= CODES; i++) {
        maker->code[i] = (uint8_t)lround(255 * srgb((double)i / CODES));
    }
    return maker;
}

/* A number without order from two others. */
static unsigned scatter(unsigned a, unsigned b)
{
    unsigned n = a * 2654435761U ^ (b + 0x9e3779b9U) * 2246822519U;
    n ^= n >> 15;
    n *= 2654435761U;
    return n ^ n >> 13;
}

/* Dark green board, a few black parts with bright legs, and a fine texture over all. */
static void paint_board(float *at, double x, double y, unsigned texture)
{
    static const struct {
        double left, top, right, bottom;
    } parts[] = {{0.08, 0.12, 0.34, 0.46},
                 {0.42, 0.60, 0.58, 0.90},
                 {0.72, 0.66, 0.94, 0.84},
                 {0.44, 0.08, 0.52, 0.3}};
    float light[3] = {0.02F, 0.07F, 0.035F};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        bool is_across = x > parts[i].left && x < parts[i].right;
        bool is_part = is_across && y > parts[i].top && y < parts[i].bottom;
        bool is_leg = is_across && !is_part &&
                      fabs(y - (parts[i].top + parts[i].bottom) / 2) <
                          (parts[i].bottom - parts[i].top) / 2 + 0.02 &&
                      (int)(x * 100) % 2 == 0;
        for (int c = 0; c < 3 && (is_part || is_leg); c++) {
            light[c] = is_part ? 0.012F : 0.35F;
        }
    }
    for (int c = 0; c < 3; c++) {
        at[c] = light[c] * (0.8F + 0.4F * (float)(texture % 256) / 255);
    }
}

/* A core that outshines the picture, and light shed on the board around it. */
static void paint_lamp(float *at, double away, const float colour[3])
{
    double light = away < 1            ? 3.0
                   : away < lamp_reach ? 0.9 * exp(-(away - 1) / 0.9) + 0.02 / (1 + away * away)
                                       : 0;
    for (int c = 0; c < 3; c++) {
        at[c] = (float)light * colour[c];
    }
}

static void *must(void *memory)
{
    if (memory == NULL) {
        (void)fputs("hardware-webcam: out of memory\n", stderr);
        exit(EXIT_FAILURE);
    }
    return memory;
}

static void set_size(struct picture_maker *maker, int width_px, int height_px)
{
    if (maker->width_px == width_px && maker->height_px == height_px) {
        return;
    }
    size_t count = (size_t)width_px * (size_t)height_px * 3;
    maker->board = must(realloc(maker->board, count * sizeof *maker->board));
    maker->lamp = must(realloc(maker->lamp, count * sizeof *maker->lamp));
    maker->ycc = must(realloc(maker->ycc, count));
    for (size_t i = 0; i < PICTURE_NOISES; i++) {
        maker->dark[i].ycc = must(realloc(maker->dark[i].ycc, count));
    }
    maker->width_px = width_px;
    maker->height_px = height_px;
    for (int y = 0; y < height_px; y++) {
        for (int x = 0; x < width_px; x++) {
            size_t at = 3 * ((size_t)y * (size_t)width_px + (size_t)x);
            double away = hypot(x + 0.5 - lamp_x * width_px, y + 0.5 - lamp_y * height_px) /
                          (lamp_radius * width_px);
            paint_board(maker->board + at, (double)x / width_px, (double)y / height_px,
                        scatter((unsigned)x / 2, (unsigned)y / 2));
            paint_lamp(maker->lamp + at, away, maker->colour);
        }
    }
}

static int clip(int code)
{
    return code < 0 ? 0 : code > 255 ? 255 : code;
}

/* BT.601, full range, in 16 bits after the point. */
static void to_ycc(const int rgb[3], uint8_t out[3])
{
    out[0] = (uint8_t)clip((19595 * rgb[0] + 38470 * rgb[1] + 7471 * rgb[2] + 32768) >> 16);
    out[1] =
        (uint8_t)clip(((-11059 * rgb[0] - 21709 * rgb[1] + 32768 * rgb[2] + 32768) >> 16) + 128);
    out[2] = (uint8_t)clip(((32768 * rgb[0] - 27439 * rgb[1] - 5329 * rgb[2] + 32768) >> 16) + 128);
}

/* A part of the picture, rows and columns from `from` up to `to`. */
static void expose(const struct picture_maker *maker, const struct picture_look *look,
                   const int from[2], const int to[2], uint8_t *ycc)
{
    double factor = look->exposure_100us / plain_exposure_100us * look->gain / plain_gain;
    double warmth = look->warmth_k / 4600.0;
    float gain[3] = {(float)(factor * warmth), (float)factor, (float)(factor / warmth)};
    float room = (float)maker->room;
    float lit = (float)look->lit_permille / 1000;
    for (int y = from[1]; y < to[1]; y++) {
        for (int x = from[0]; x < to[0]; x++) {
            size_t i = (size_t)y * (size_t)look->width_px + (size_t)x;
            unsigned noise = scatter((unsigned)i, (unsigned)look->noise);
            int rgb[3];
            for (size_t c = 0; c < 3; c++) {
                float light =
                    gain[c] * (room * maker->board[3 * i + c] + lit * maker->lamp[3 * i + c]);
                int code = maker->code[light >= 1 ? CODES : (int)(light * CODES)];
                rgb[c] = clip(code + look->brightness - 128 + (int)(noise >> 8 * c & 7) - 3);
            }
            to_ycc(rgb, ycc + 3 * i);
        }
    }
}

/* A frame takes the time of its lamp's surroundings, not of the whole board: that is the same from
 * frame to frame. */
static void expose_all(struct picture_maker *maker, const struct picture_look *look)
{
    struct picture_look dark;
    memcpy(&dark, look, sizeof dark);
    dark.lit_permille = 0;
    uint8_t *ycc = maker->dark[look->noise].ycc;
    if (memcmp(&maker->dark[look->noise].look, &dark, sizeof dark) != 0) {
        memcpy(&maker->dark[look->noise].look, &dark, sizeof dark);
        expose(maker, &dark, (const int[]){0, 0}, (const int[]){look->width_px, look->height_px},
               ycc);
    }
    memcpy(maker->ycc, ycc, (size_t)look->width_px * (size_t)look->height_px * 3);
    int reach_px = (int)(lamp_reach * lamp_radius * look->width_px) + 1;
    int x = (int)(lamp_x * look->width_px);
    int y = (int)(lamp_y * look->height_px);
    expose(maker, look, (const int[]){x - reach_px, y - reach_px},
           (const int[]){x + reach_px, y + reach_px}, maker->ycc);
}

/* YUYV has the range 16..235. */
static void pack_yuyv(const struct picture_maker *maker, struct kept *out)
{
    size_t count = (size_t)maker->width_px * (size_t)maker->height_px;
    out->size_bytes = 2 * count;
    out->bytes = must(malloc(out->size_bytes));
    for (size_t i = 0; i < count; i++) {
        const uint8_t *pair = maker->ycc + 3 * (i & ~(size_t)1);
        size_t chroma = 1 + i % 2;
        out->bytes[2 * i] = (uint8_t)(16 + maker->ycc[3 * i] * 219 / 255);
        out->bytes[2 * i + 1] =
            (uint8_t)(128 + ((pair[chroma] + pair[3 + chroma]) / 2 - 128) * 224 / 255);
    }
}

/* Leave out the Huffman tables: a reader has to know them, they are those of ISO/IEC 10918-1 annex
 * K. */
static void strip_tables(struct kept *out)
{
    size_t to = 2;
    size_t from = 2;
    while (from + 4 < out->size_bytes && out->bytes[from + 1] != 0xda) {
        size_t length = 2 + ((size_t)out->bytes[from + 2] << 8 | out->bytes[from + 3]);
        if (out->bytes[from + 1] != 0xc4) {
            memmove(out->bytes + to, out->bytes + from, length);
            to += length;
        }
        from += length;
    }
    memmove(out->bytes + to, out->bytes + from, out->size_bytes - from);
    out->size_bytes -= from - to;
}

static void pack_jpeg(const struct picture_maker *maker, struct kept *out)
{
    struct jpeg_error_mgr errors;
    struct jpeg_compress_struct jpeg = {.err = jpeg_std_error(&errors)};
    unsigned char *bytes = NULL;
    unsigned long size_bytes = 0;
    jpeg_create_compress(&jpeg);
    jpeg_mem_dest(&jpeg, &bytes, &size_bytes);
    jpeg.image_width = (JDIMENSION)maker->width_px;
    jpeg.image_height = (JDIMENSION)maker->height_px;
    jpeg.input_components = 3;
    jpeg.in_color_space = JCS_YCbCr;
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, JPEG_QUALITY, TRUE);
    jpeg.comp_info[0].v_samp_factor = 1; /* 4:2:2, as webcams have it */
    jpeg_start_compress(&jpeg, TRUE);
    while (jpeg.next_scanline < jpeg.image_height) {
        JSAMPROW row = maker->ycc + (size_t)jpeg.next_scanline * (size_t)maker->width_px * 3;
        (void)jpeg_write_scanlines(&jpeg, &row, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
    out->bytes = must(bytes);
    out->size_bytes = size_bytes;
    if (maker->is_bare) {
        strip_tables(out);
    }
}

struct picture picture_make(struct picture_maker *maker, const struct picture_look *look)
{
    struct kept *kept = maker->kept;
    while (kept < maker->kept + KEPT_MAX &&
           (kept->bytes == NULL || memcmp(&kept->look, look, sizeof *look) != 0)) {
        kept++;
    }
    if (kept == maker->kept + KEPT_MAX) {
        kept = maker->kept + maker->turn++ % KEPT_MAX;
        free(kept->bytes);
        memcpy(&kept->look, look, sizeof *look);
        set_size(maker, look->width_px, look->height_px);
        expose_all(maker, look);
        (look->is_jpeg ? pack_jpeg : pack_yuyv)(maker, kept);
    }
    return (struct picture){.bytes = kept->bytes, .size_bytes = kept->size_bytes};
}

void picture_maker_free(struct picture_maker *maker)
{
    for (size_t i = 0; maker != NULL && i < KEPT_MAX; i++) {
        free(maker->kept[i].bytes);
    }
    for (size_t i = 0; maker != NULL && i < PICTURE_NOISES; i++) {
        free(maker->dark[i].ycc);
    }
    if (maker != NULL) {
        free(maker->board);
        free(maker->lamp);
        free(maker->ycc);
    }
    free(maker);
}
