/* jpeg_make.h - JPEG pictures as cameras send them, made from rendered frames. */
#ifndef LAMP_TESTS_JPEG_MAKE_H
#define LAMP_TESTS_JPEG_MAKE_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

/* It needs what stands above it. */
#include <jpeglib.h>

#include "lampread/source.h"

/** How a picture is coded. */
struct jpeg_kind {
    int across;       /**< Luma pixels to one of chroma, in a row: 1, 2 or 4. */
    int down;         /**< The same in a column: 1 or 2. */
    int quality;      /**< 1 to 100. */
    int restart_rows; /**< Restart markers after so many rows of units; 0: none. */
    bool is_grey;
    bool is_progressive;
};

/** A coded picture; free `at`. */
struct jpeg_bytes {
    unsigned char *at;
    unsigned long size;
};

static inline int jpeg_sample(const struct lamp_frame *frame, const struct lamp_plane *plane, int x,
                              int y)
{
    const uint8_t *row = (const uint8_t *)plane->at +
                         plane->stride_bytes * (y * plane->height_px / frame->y.height_px);
    return row[x * plane->width_px / frame->y.width_px];
}

/** Code an 8-bit frame; its codes are taken as they are. */
static inline struct jpeg_bytes jpeg_make(const struct lamp_frame *frame,
                                          const struct jpeg_kind *kind)
{
    struct jpeg_compress_struct codec;
    struct jpeg_error_mgr errors;
    struct jpeg_bytes made = {NULL, 0};
    int parts = kind->is_grey ? 1 : 3;
    codec.err = jpeg_std_error(&errors);
    jpeg_create_compress(&codec);
    jpeg_mem_dest(&codec, &made.at, &made.size);
    codec.image_width = (JDIMENSION)frame->y.width_px;
    codec.image_height = (JDIMENSION)frame->y.height_px;
    codec.input_components = parts;
    codec.in_color_space = kind->is_grey ? JCS_GRAYSCALE : JCS_YCbCr;
    jpeg_set_defaults(&codec);
    jpeg_set_quality(&codec, kind->quality, TRUE);
    codec.comp_info[0].h_samp_factor = kind->is_grey ? 1 : kind->across;
    codec.comp_info[0].v_samp_factor = kind->is_grey ? 1 : kind->down;
    codec.restart_in_rows = kind->restart_rows;
    if (kind->is_progressive) {
        jpeg_simple_progression(&codec);
    }
    jpeg_start_compress(&codec, TRUE);
    uint8_t *line = malloc((size_t)frame->y.width_px * 3);
    for (int y = 0; line != NULL && y < frame->y.height_px; y++) {
        for (int x = 0; x < frame->y.width_px; x++) {
            line[x * parts] = (uint8_t)jpeg_sample(frame, &frame->y, x, y);
            if (parts == 3) {
                line[x * 3 + 1] = (uint8_t)jpeg_sample(frame, &frame->u, x, y);
                line[x * 3 + 2] = (uint8_t)jpeg_sample(frame, &frame->v, x, y);
            }
        }
        JSAMPROW row = line;
        (void)jpeg_write_scanlines(&codec, &row, 1);
    }
    jpeg_finish_compress(&codec);
    jpeg_destroy_compress(&codec);
    free(line);
    return made;
}

#endif
