/* jpeg.c - JPEG pictures to planes as coded: whole, or only the part that is asked for. */
#include "source/jpeg.h"

#include <setjmp.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

/* These two need what stands above them. */
#include <jerror.h>
#include <jpeglib.h>

enum { PARTS = 3, BLOCK_ROWS_MAX = 4 * DCTSIZE };

struct lamp_jpeg {
    struct jpeg_decompress_struct codec;
    struct jpeg_error_mgr errors;
    jmp_buf away;    /* where an error leads */
    bool is_damaged; /* a warning said so */
    bool is_made;
};

/* A pixel of a picture. */
struct pixel {
    int column, row;
};

/* -- errors: the library's default is to print and to exit -- */

static void leave(j_common_ptr codec)
{
    struct lamp_jpeg *jpeg = codec->client_data;
    longjmp(jpeg->away, 1);
}

/* Cameras pad pictures and leave out the end marker; all other warnings mean wrong pixels. */
static bool is_harmless(int code)
{
    return code == JWRN_JPEG_EOF || code == JWRN_EXTRANEOUS_DATA || code == JWRN_TOO_MUCH_DATA ||
           code == JWRN_JFIF_MAJOR || code == JWRN_ADOBE_XFORM;
}

static void take_message(j_common_ptr codec, int level)
{
    struct lamp_jpeg *jpeg = codec->client_data;
    if (level < 0 && !is_harmless(codec->err->msg_code)) {
        jpeg->is_damaged = true;
    }
}

static void be_silent(j_common_ptr codec)
{
    (void)codec;
}

enum lamp_err lamp_jpeg_new(struct lamp_jpeg **out)
{
    struct lamp_jpeg *jpeg = calloc(1, sizeof *jpeg);
    if (jpeg == NULL) {
        return LAMP_NO_MEMORY;
    }
    jpeg->codec.err = jpeg_std_error(&jpeg->errors);
    jpeg->errors.error_exit = leave;
    jpeg->errors.emit_message = take_message;
    jpeg->errors.output_message = be_silent;
    jpeg->codec.client_data = jpeg;
    if (setjmp(jpeg->away) != 0) {
        lamp_jpeg_free(jpeg);
        return LAMP_NO_MEMORY;
    }
    jpeg_create_decompress(&jpeg->codec);
    jpeg->is_made = true;
    *out = jpeg;
    return LAMP_OK;
}

void lamp_jpeg_free(struct lamp_jpeg *jpeg)
{
    if (jpeg != NULL) {
        if (jpeg->is_made) {
            jpeg_destroy_decompress(&jpeg->codec);
        }
        free(jpeg);
    }
}

enum lamp_err lamp_room_make(struct lamp_room *room, size_t size)
{
    if (size <= room->size) {
        return LAMP_OK;
    }
    uint8_t *made = malloc(size);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    free(room->at);
    *room = (struct lamp_room){made, size};
    return LAMP_OK;
}

/* Several scans would have to be held in memory as a whole, and no camera sends them. */
static bool is_fit(struct jpeg_decompress_struct *codec, const struct lamp_jpeg_wish *wish)
{
    bool is_grey = codec->num_components == 1 && codec->jpeg_color_space == JCS_GRAYSCALE;
    bool is_colour = codec->num_components == PARTS && codec->jpeg_color_space == JCS_YCbCr;
    const jpeg_component_info *luma = codec->comp_info;
    return (is_grey || is_colour) && codec->data_precision == 8 &&
           (int)codec->image_width == wish->width_px &&
           (int)codec->image_height == wish->height_px && !codec->progressive_mode &&
           jpeg_has_multiple_scans(codec) == FALSE &&
           luma->h_samp_factor == codec->max_h_samp_factor &&
           luma->v_samp_factor == codec->max_v_samp_factor;
}

/* The planes' places in the room, each made of whole blocks. */
static enum lamp_err lay_out(const struct jpeg_decompress_struct *codec, struct lamp_room *room,
                             struct lamp_plane plane[PARTS])
{
    size_t from[PARTS + 1] = {0};
    for (int i = 0; i < codec->num_components; i++) {
        const jpeg_component_info *part = &codec->comp_info[i];
        size_t stride = (size_t)part->width_in_blocks * DCTSIZE;
        size_t rows = (size_t)codec->total_iMCU_rows * (size_t)part->v_samp_factor * DCTSIZE;
        plane[i] = (struct lamp_plane){.stride_bytes = (ptrdiff_t)stride,
                                       .width_px = (int)part->downsampled_width,
                                       .height_px = (int)part->downsampled_height};
        from[i + 1] = from[i] + stride * rows;
    }
    enum lamp_err err = lamp_room_make(room, from[codec->num_components]);
    for (int i = 0; i < codec->num_components && err == LAMP_OK; i++) {
        plane[i].at = room->at + from[i];
    }
    return err;
}

/* Decode the block rows of all parts at the library's place, one row of units high. */
static void decode_units(struct jpeg_decompress_struct *codec, struct lamp_room *room,
                         const struct lamp_plane plane[PARTS])
{
    JSAMPROW row[PARTS][BLOCK_ROWS_MAX];
    JSAMPARRAY rows[PARTS] = {row[0], row[1], row[2]};
    size_t unit = codec->output_scanline / (unsigned)(codec->max_v_samp_factor * DCTSIZE);
    for (int i = 0; i < codec->num_components; i++) {
        size_t high = (size_t)codec->comp_info[i].v_samp_factor * DCTSIZE;
        size_t from = (size_t)((const uint8_t *)plane[i].at - room->at);
        for (size_t k = 0; k < high; k++) {
            row[i][k] = room->at + from + (unit * high + k) * (size_t)plane[i].stride_bytes;
        }
    }
    (void)jpeg_read_raw_data(codec, rows, (JDIMENSION)(codec->max_v_samp_factor * DCTSIZE));
}

/* A component that is not needed is entropy decoded and no more; the library asks before each
 * block. */
static void set_needed(struct jpeg_decompress_struct *codec, bool is_needed)
{
    for (int i = 0; i < codec->num_components; i++) {
        codec->comp_info[i].component_needed = is_needed ? TRUE : FALSE;
    }
}

/* Rows of the part at their full width, straight to the planes. */
static void decode_rows(struct jpeg_decompress_struct *codec, struct lamp_room *room,
                        const struct lamp_plane plane[PARTS], struct lamp_picture_part *part)
{
    int high = codec->max_v_samp_factor * DCTSIZE;
    while ((int)codec->output_scanline < part->end_row_px) {
        set_needed(codec, (int)codec->output_scanline + high > part->first_row_px);
        decode_units(codec, room, plane);
    }
    part->first_column_px = 0;
    part->end_column_px = plane[0].width_px;
    part->first_row_px = part->first_row_px / high * high;
    part->end_row_px = (int)codec->output_scanline < plane[0].height_px
                           ? (int)codec->output_scanline
                           : plane[0].height_px;
}

/* Give the pixels of a row, components by turns, to the planes; those of chroma come repeated. */
static void share_out(const struct jpeg_decompress_struct *codec, const JSAMPLE *pixels,
                      const struct lamp_plane plane[PARTS], struct lamp_room *room, struct pixel at)
{
    int parts = codec->num_components;
    for (int i = 0; i < parts; i++) {
        int across = codec->max_h_samp_factor / codec->comp_info[i].h_samp_factor;
        int down = codec->max_v_samp_factor / codec->comp_info[i].v_samp_factor;
        if (at.row % down != 0) {
            continue;
        }
        size_t from = (size_t)((const uint8_t *)plane[i].at - room->at);
        uint8_t *to =
            room->at + from + (at.row / down) * plane[i].stride_bytes + at.column / across;
        for (int x = 0; x < (int)codec->output_width; x += across) {
            *to++ = pixels[x * parts + i];
        }
    }
}

/* Columns of the part only: the library leaves out what is above and beside it. */
static void decode_columns(struct jpeg_decompress_struct *codec, struct lamp_room *room,
                           const struct lamp_plane plane[PARTS], struct lamp_picture_part *part)
{
    int high = codec->max_v_samp_factor * DCTSIZE;
    JDIMENSION column = (JDIMENSION)part->first_column_px;
    JDIMENSION width = (JDIMENSION)(part->end_column_px - part->first_column_px);
    jpeg_crop_scanline(codec, &column, &width);
    JSAMPARRAY rows = (*codec->mem->alloc_sarray)((j_common_ptr)codec, JPOOL_IMAGE,
                                                  width * (JDIMENSION)codec->num_components,
                                                  (JDIMENSION)codec->rec_outbuf_height);
    part->first_row_px = part->first_row_px / high * high;
    (void)jpeg_skip_scanlines(codec, (JDIMENSION)part->first_row_px);
    while ((int)codec->output_scanline < part->end_row_px) {
        int row = (int)codec->output_scanline;
        int count = (int)jpeg_read_scanlines(codec, rows, (JDIMENSION)codec->rec_outbuf_height);
        for (int i = 0; i < count; i++) {
            share_out(codec, rows[i], plane, room, (struct pixel){(int)column, row + i});
        }
    }
    part->first_column_px = (int)column;
    part->end_column_px = (int)(column + width);
    part->end_row_px = (int)codec->output_scanline;
}

/* Pixels by turns cost more than planes, so a wide part is taken at its full width. */
static bool is_narrow(const struct lamp_picture_part *part, int width_px)
{
    return 2 * (part->end_column_px - part->first_column_px) < width_px;
}

static void describe(const struct lamp_plane *plane, const struct lamp_picture_part *part,
                     struct lamp_frame *out)
{
    *out = (struct lamp_frame){.bits = 8,
                               .y = plane[0],
                               .u = plane[1],
                               .v = plane[2],
                               .matrix = LAMP_MATRIX_BT601,
                               .transfer = LAMP_TRANSFER_SRGB,
                               .is_full_range = true,
                               .part = *part};
    out->is_partial = part->end_row_px - part->first_row_px < plane[0].height_px ||
                      part->end_column_px - part->first_column_px < plane[0].width_px;
}

/* All that may jump away. */
static enum lamp_err decode(struct lamp_jpeg *jpeg, struct lamp_coded coded,
                            const struct lamp_jpeg_wish *wish, struct lamp_room *room,
                            struct lamp_frame *out)
{
    struct jpeg_decompress_struct *codec = &jpeg->codec;
    struct lamp_plane plane[PARTS] = {{0}};
    jpeg_mem_src(codec, coded.at, (unsigned long)coded.size);
    (void)jpeg_read_header(codec, TRUE);
    if (!is_fit(codec, wish)) {
        return LAMP_BAD_SOURCE;
    }
    struct lamp_picture_part part = wish->part;
    if (part.end_row_px == 0) {
        part = (struct lamp_picture_part){0, wish->width_px, 0, wish->height_px};
    }
    bool is_raw = !is_narrow(&part, wish->width_px);
    codec->raw_data_out = is_raw ? TRUE : FALSE;
    codec->out_color_space = codec->jpeg_color_space;
    codec->do_fancy_upsampling = FALSE;
    (void)jpeg_start_decompress(codec);
    enum lamp_err err = lay_out(codec, room, plane);
    if (err == LAMP_OK) {
        (is_raw ? decode_rows : decode_columns)(codec, room, plane, &part);
        describe(plane, &part, out);
    }
    return err == LAMP_OK && jpeg->is_damaged ? LAMP_BAD_SOURCE : err;
}

enum lamp_err lamp_jpeg_decode(struct lamp_jpeg *jpeg, struct lamp_coded coded,
                               const struct lamp_jpeg_wish *wish, struct lamp_room *room,
                               struct lamp_frame *out)
{
    struct lamp_frame frame = {0};
    if (coded.size < 4) {
        return LAMP_BAD_SOURCE; /* the library takes no empty picture */
    }
    jpeg->is_damaged = false;
    if (setjmp(jpeg->away) != 0) {
        jpeg_abort_decompress(&jpeg->codec);
        return jpeg->errors.msg_code == JERR_OUT_OF_MEMORY ? LAMP_NO_MEMORY : LAMP_BAD_SOURCE;
    }
    enum lamp_err err = decode(jpeg, coded, wish, room, &frame);
    jpeg_abort_decompress(&jpeg->codec); /* what is left of the picture is not looked at */
    if (err == LAMP_OK) {
        *out = frame;
    }
    return err;
}
