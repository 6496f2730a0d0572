/* camera_picture.c - Frames as a camera sends them to planes of light, kept a while. */
#include "source/camera_picture.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { KEPT = LAMP_FRAMES_KEPT + 1 };

/* Pictures in turn. */
struct ring {
    struct lamp_room room[KEPT];
    unsigned next;
};

struct lamp_developer {
    struct lamp_video_layout layout;
    struct lamp_jpeg *jpeg; /* NULL where frames are not coded */
    struct ring whole, partial;
};

enum lamp_err lamp_developer_new(const struct lamp_video_layout *layout,
                                 struct lamp_developer **out)
{
    struct lamp_developer *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    made->layout = *layout;
    if (layout->mode.format == LAMP_VIDEO_MJPEG && lamp_jpeg_new(&made->jpeg) != LAMP_OK) {
        free(made);
        return LAMP_NO_MEMORY;
    }
    *out = made;
    return LAMP_OK;
}

/* Bytes of one frame that is not coded, and where its second and third plane begin. */
struct extent {
    size_t stride; /* of the first plane */
    size_t chroma_stride;
    size_t u_at;
    size_t v_at;
    size_t size;
};

static struct extent extent_of(const struct lamp_video_layout *layout)
{
    size_t rows = (size_t)layout->mode.height_px;
    size_t half = (rows + 1) / 2;
    size_t width = (size_t)layout->mode.width_px;
    size_t least = layout->mode.format == LAMP_VIDEO_YUYV ? (width + 1) / 2 * 4 : width;
    size_t told = layout->stride_bytes > 0 ? (size_t)layout->stride_bytes : 0;
    struct extent extent = {.stride = told > least ? told : least};
    extent.size = extent.stride * rows;
    if (layout->mode.format == LAMP_VIDEO_NV12) {
        extent.chroma_stride = extent.stride;
        extent.u_at = extent.size;
        extent.size += extent.stride * half;
    } else if (layout->mode.format == LAMP_VIDEO_YU12 ||
               layout->mode.format == LAMP_VIDEO_CONVERTED) {
        extent.chroma_stride =
            extent.stride / 2 > (width + 1) / 2 ? extent.stride / 2 : (width + 1) / 2;
        extent.u_at = extent.size;
        extent.v_at = extent.size + extent.chroma_stride * half;
        extent.size += 2 * extent.chroma_stride * half;
    }
    return extent;
}

static void copy_rows(uint8_t *to, size_t width, const uint8_t *from, size_t stride, size_t rows)
{
    for (size_t y = 0; y < rows; y++) {
        memcpy(to + y * width, from + y * stride, width);
    }
}

/* Bytes that lie `step` apart, in rows that lie `stride` apart. */
struct comb {
    const uint8_t *from;
    size_t stride;
    size_t step;
};

static void pick_rows(uint8_t *to, size_t width, size_t rows, struct comb comb)
{
    for (size_t y = 0; y < rows; y++) {
        for (size_t x = 0; x < width; x++) {
            to[y * width + x] = comb.from[y * comb.stride + x * comb.step];
        }
    }
}

/* Planes of a picture, one after the other in its room. */
struct sheet {
    uint8_t *y, *u, *v;
    size_t width, rows, chroma_width, chroma_rows;
};

static void split_packed(const struct sheet *sheet, const uint8_t *from, size_t stride)
{
    const struct comb y = {from, stride, 2};
    const struct comb u = {from + 1, stride, 4};
    const struct comb v = {from + 3, stride, 4};
    pick_rows(sheet->y, sheet->width, sheet->rows, y);
    pick_rows(sheet->u, sheet->chroma_width, sheet->rows, u);
    pick_rows(sheet->v, sheet->chroma_width, sheet->rows, v);
}

static void fill(const struct lamp_video_layout *layout, const struct extent *extent,
                 const uint8_t *from, const struct sheet *sheet)
{
    size_t stride = extent->chroma_stride;
    if (layout->mode.format == LAMP_VIDEO_YUYV) {
        split_packed(sheet, from, extent->stride);
        return;
    }
    copy_rows(sheet->y, sheet->width, from, extent->stride, sheet->rows);
    if (layout->mode.format == LAMP_VIDEO_NV12) {
        const struct comb u = {from + extent->u_at, stride, 2};
        const struct comb v = {from + extent->u_at + 1, stride, 2};
        pick_rows(sheet->u, sheet->chroma_width, sheet->chroma_rows, u);
        pick_rows(sheet->v, sheet->chroma_width, sheet->chroma_rows, v);
    } else if (layout->mode.format != LAMP_VIDEO_GREY) {
        copy_rows(sheet->u, sheet->chroma_width, from + extent->u_at, stride, sheet->chroma_rows);
        copy_rows(sheet->v, sheet->chroma_width, from + extent->v_at, stride, sheet->chroma_rows);
    }
}

static struct lamp_plane plane_of(const uint8_t *at, size_t width, size_t rows)
{
    return (struct lamp_plane){
        .at = at, .stride_bytes = (ptrdiff_t)width, .width_px = (int)width, .height_px = (int)rows};
}

static struct sheet sheet_for(const struct lamp_video_layout *layout)
{
    struct sheet sheet = {.width = (size_t)layout->mode.width_px,
                          .rows = (size_t)layout->mode.height_px};
    if (layout->mode.format != LAMP_VIDEO_GREY) {
        sheet.chroma_width = (sheet.width + 1) / 2;
        sheet.chroma_rows =
            layout->mode.format == LAMP_VIDEO_YUYV ? sheet.rows : (sheet.rows + 1) / 2;
    }
    return sheet;
}

static enum lamp_err develop_bare(struct lamp_developer *developer, const uint8_t *bytes,
                                  size_t size, struct lamp_room *room, struct lamp_frame *out)
{
    const struct lamp_video_layout *layout = &developer->layout;
    struct extent extent = extent_of(layout);
    struct sheet sheet = sheet_for(layout);
    size_t chroma = sheet.chroma_width * sheet.chroma_rows;
    if (size < extent.size) {
        return LAMP_BAD_SOURCE;
    }
    enum lamp_err err = lamp_room_make(room, sheet.width * sheet.rows + 2 * chroma);
    if (err != LAMP_OK) {
        return err;
    }
    sheet.y = room->at;
    sheet.u = sheet.y + sheet.width * sheet.rows;
    sheet.v = sheet.u + chroma;
    fill(layout, &extent, bytes, &sheet);
    *out = (struct lamp_frame){.bits = 8,
                               .y = plane_of(sheet.y, sheet.width, sheet.rows),
                               .matrix = layout->matrix,
                               .transfer = layout->transfer,
                               .is_full_range = layout->is_full_range};
    if (chroma > 0) {
        out->u = plane_of(sheet.u, sheet.chroma_width, sheet.chroma_rows);
        out->v = plane_of(sheet.v, sheet.chroma_width, sheet.chroma_rows);
    }
    return LAMP_OK;
}

enum lamp_err lamp_developer_push(struct lamp_developer *developer, const uint8_t *bytes,
                                  size_t size, const struct lamp_picture_part *part,
                                  struct lamp_frame *out)
{
    const struct lamp_video_mode *mode = &developer->layout.mode;
    bool is_partial = developer->jpeg != NULL && part->end_row_px > 0;
    struct ring *ring = is_partial ? &developer->partial : &developer->whole;
    struct lamp_room *room = &ring->room[ring->next];
    struct lamp_jpeg_wish wish = {mode->width_px, mode->height_px, *part};
    enum lamp_err err =
        developer->jpeg != NULL
            ? lamp_jpeg_decode(developer->jpeg, (struct lamp_coded){bytes, size}, &wish, room, out)
            : develop_bare(developer, bytes, size, room, out);
    if (err == LAMP_OK) {
        ring->next = (ring->next + 1) % KEPT;
        out->is_partial = is_partial; /* even where whole blocks make all of the part wanted */
    }
    return err;
}

void lamp_developer_free(struct lamp_developer *developer)
{
    if (developer == NULL) {
        return;
    }
    for (int i = 0; i < KEPT; i++) {
        free(developer->whole.room[i].at);
        free(developer->partial.room[i].at);
    }
    lamp_jpeg_free(developer->jpeg);
    free(developer);
}
