/* picture.c - Decoded pictures as planes of light. */
#include "source/picture.h"

#include <libavutil/display.h>
#include <libavutil/frame.h>
#include <libavutil/pixdesc.h>
#include <libswscale/swscale.h>
#include <math.h>
#include <stdlib.h>

enum { KEPT = LAMP_FRAMES_KEPT + 1 };

struct lamp_keeper {
    AVFrame *kept[KEPT];
    size_t next;
    struct SwsContext *converter;
};

enum lamp_err lamp_keeper_new(struct lamp_keeper **out)
{
    struct lamp_keeper *keeper = calloc(1, sizeof *keeper);
    if (keeper == NULL) {
        return LAMP_NO_MEMORY;
    }
    for (size_t i = 0; i < KEPT; i++) {
        keeper->kept[i] = av_frame_alloc();
        if (keeper->kept[i] == NULL) {
            lamp_keeper_free(keeper);
            return LAMP_NO_MEMORY;
        }
    }
    *out = keeper;
    return LAMP_OK;
}

void lamp_keeper_free(struct lamp_keeper *keeper)
{
    if (keeper == NULL) {
        return;
    }
    for (size_t i = 0; i < KEPT; i++) {
        av_frame_free(&keeper->kept[i]);
    }
    sws_freeContext(keeper->converter);
    free(keeper);
}

static bool is_colourless(const AVPixFmtDescriptor *desc)
{
    return desc->nb_components < 3 && !(desc->flags & (AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL));
}

static bool is_rgb(const AVPixFmtDescriptor *desc)
{
    return (desc->flags & (AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL)) != 0;
}

/* Whether each component lies in a plane of its own, one after the other, in this machine's byte
 * order. */
static bool has_bare_planes(const AVPixFmtDescriptor *desc)
{
    const uint64_t unfit = AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_BITSTREAM |
                           AV_PIX_FMT_FLAG_HWACCEL | AV_PIX_FMT_FLAG_FLOAT | AV_PIX_FMT_FLAG_BAYER |
                           (AV_NE(0, 1) ? 0 : AV_PIX_FMT_FLAG_BE);
    int component_count = is_colourless(desc) ? 1 : 3;
    if ((desc->flags & unfit) != 0) {
        return false;
    }
    for (int i = 0; i < component_count; i++) {
        const AVComponentDescriptor *comp = &desc->comp[i];
        if (comp->plane != i || comp->shift != 0 || comp->offset != 0 || comp->depth < 8 ||
            comp->depth > 16 || comp->step != (comp->depth > 8 ? 2 : 1)) {
            return false;
        }
    }
    return true;
}

/* The planar format that loses nothing of a picture that has to be converted. */
static enum AVPixelFormat planar_for(const AVPixFmtDescriptor *desc)
{
    bool is_deep = desc->comp[0].depth > 8;
    if (is_colourless(desc)) {
        return is_deep ? AV_PIX_FMT_GRAY16 : AV_PIX_FMT_GRAY8;
    }
    if (!is_rgb(desc) && desc->log2_chroma_h > 0) {
        return is_deep ? AV_PIX_FMT_YUV420P16 : AV_PIX_FMT_YUV420P;
    }
    if (!is_rgb(desc) && desc->log2_chroma_w > 0) {
        return is_deep ? AV_PIX_FMT_YUV422P16 : AV_PIX_FMT_YUV422P;
    }
    return is_deep ? AV_PIX_FMT_YUV444P16 : AV_PIX_FMT_YUV444P;
}

static bool is_full_range(const AVFrame *frame, const AVPixFmtDescriptor *desc, bool is_photo)
{
    switch (frame->color_range) {
    case AVCOL_RANGE_JPEG: return true;
    case AVCOL_RANGE_MPEG: return is_rgb(desc);
    default: break;
    }
    switch (frame->format) {
    case AV_PIX_FMT_YUVJ411P:
    case AV_PIX_FMT_YUVJ420P:
    case AV_PIX_FMT_YUVJ422P:
    case AV_PIX_FMT_YUVJ440P:
    case AV_PIX_FMT_YUVJ444P: return true;
    default: return is_photo || is_rgb(desc);
    }
}

/* Below 720 lines an unspecified clip is ITU-R BT.601, from there on BT.709; a photograph is JFIF,
 * which is BT.601. */
static enum lamp_matrix matrix_of(const AVFrame *frame, const AVPixFmtDescriptor *desc,
                                  bool is_photo)
{
    int lines = frame->height < frame->width ? frame->height : frame->width;
    if (is_rgb(desc)) {
        return LAMP_MATRIX_BT709;
    }
    switch (frame->colorspace) {
    case AVCOL_SPC_BT709:
    case AVCOL_SPC_SMPTE240M: return LAMP_MATRIX_BT709;
    case AVCOL_SPC_FCC:
    case AVCOL_SPC_BT470BG:
    case AVCOL_SPC_SMPTE170M: return LAMP_MATRIX_BT601;
    case AVCOL_SPC_BT2020_NCL:
    case AVCOL_SPC_BT2020_CL: return LAMP_MATRIX_BT2020;
    default: return is_photo || lines < 720 ? LAMP_MATRIX_BT601 : LAMP_MATRIX_BT709;
    }
}

static enum lamp_transfer transfer_of(const AVFrame *frame, const AVPixFmtDescriptor *desc,
                                      bool is_photo)
{
    switch (frame->color_trc) {
    case AVCOL_TRC_BT709:
    case AVCOL_TRC_SMPTE170M:
    case AVCOL_TRC_SMPTE240M:
    case AVCOL_TRC_BT1361_ECG:
    case AVCOL_TRC_BT2020_10:
    case AVCOL_TRC_BT2020_12: return LAMP_TRANSFER_BT709;
    case AVCOL_TRC_IEC61966_2_1:
    case AVCOL_TRC_IEC61966_2_4:
    case AVCOL_TRC_GAMMA22:
    case AVCOL_TRC_GAMMA28: return LAMP_TRANSFER_SRGB;
    case AVCOL_TRC_LINEAR: return LAMP_TRANSFER_LINEAR;
    case AVCOL_TRC_SMPTE2084: return LAMP_TRANSFER_PQ;
    case AVCOL_TRC_ARIB_STD_B67: return LAMP_TRANSFER_HLG;
    default: return is_photo || is_rgb(desc) ? LAMP_TRANSFER_SRGB : LAMP_TRANSFER_BT709;
    }
}

/* Room for a converted picture in a kept one, which is used again where it fits. */
static enum lamp_err make_room(AVFrame *room, const AVFrame *decoded, enum AVPixelFormat format)
{
    if (room->format == format && room->width == decoded->width &&
        room->height == decoded->height && room->buf[0] != NULL && av_frame_is_writable(room) > 0) {
        return LAMP_OK;
    }
    av_frame_unref(room);
    room->format = format;
    room->width = decoded->width;
    room->height = decoded->height;
    return av_frame_get_buffer(room, 0) < 0 ? LAMP_NO_MEMORY : LAMP_OK;
}

/* Range and matrix stay as they are; RGB becomes full-range BT.709. */
static enum lamp_err convert(struct lamp_keeper *keeper, const AVFrame *decoded, bool is_full,
                             AVFrame *room)
{
    keeper->converter = sws_getCachedContext(
        keeper->converter, decoded->width, decoded->height, decoded->format, room->width,
        room->height, room->format,
        SWS_BILINEAR | SWS_ACCURATE_RND | SWS_FULL_CHR_H_INP | SWS_FULL_CHR_H_INT, NULL, NULL,
        NULL);
    if (keeper->converter == NULL) {
        return LAMP_BAD_SOURCE;
    }
    const int *matrix = sws_getCoefficients(SWS_CS_ITU709);
    (void)sws_setColorspaceDetails(keeper->converter, matrix, is_full, matrix, is_full, 0, 1 << 16,
                                   1 << 16);
    int rows = sws_scale(keeper->converter, (const uint8_t *const *)decoded->data,
                         decoded->linesize, 0, decoded->height, room->data, room->linesize);
    return rows == decoded->height ? LAMP_OK : LAMP_BAD_SOURCE;
}

static struct lamp_plane plane_of(const AVFrame *frame, const AVPixFmtDescriptor *desc, int plane)
{
    bool is_chroma = plane > 0;
    return (struct lamp_plane){
        .at = frame->data[plane],
        .stride_bytes = frame->linesize[plane],
        .width_px = is_chroma ? AV_CEIL_RSHIFT(frame->width, desc->log2_chroma_w) : frame->width,
        .height_px = is_chroma ? AV_CEIL_RSHIFT(frame->height, desc->log2_chroma_h) : frame->height,
    };
}

static void describe_planes(const AVFrame *frame, struct lamp_frame *out)
{
    const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(frame->format);
    out->bits = desc->comp[0].depth;
    out->y = plane_of(frame, desc, 0);
    out->u = (struct lamp_plane){0};
    out->v = (struct lamp_plane){0};
    if (!is_colourless(desc)) {
        out->u = plane_of(frame, desc, 1);
        out->v = plane_of(frame, desc, 2);
    }
}

enum lamp_err lamp_keeper_keep(struct lamp_keeper *keeper, AVFrame *decoded, bool is_photo,
                               struct lamp_frame *out)
{
    const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get(decoded->format);
    if (desc == NULL || (desc->flags & AV_PIX_FMT_FLAG_HWACCEL) != 0) {
        return LAMP_BAD_SOURCE;
    }
    struct lamp_frame frame = {
        .matrix = matrix_of(decoded, desc, is_photo),
        .transfer = transfer_of(decoded, desc, is_photo),
        .is_full_range = is_full_range(decoded, desc, is_photo),
    };
    AVFrame *room = keeper->kept[keeper->next];
    if (has_bare_planes(desc)) {
        av_frame_unref(room);
        av_frame_move_ref(room, decoded);
    } else {
        enum lamp_err err = make_room(room, decoded, planar_for(desc));
        if (err == LAMP_OK) {
            err = convert(keeper, decoded, frame.is_full_range, room);
        }
        if (err != LAMP_OK) {
            return err;
        }
        av_frame_unref(decoded);
    }
    keeper->next = (keeper->next + 1) % KEPT;
    describe_planes(room, &frame);
    *out = frame;
    return LAMP_OK;
}

int lamp_picture_turn_deg(const int32_t *matrix)
{
    double counter_clockwise = av_display_rotation_get(matrix);
    if (isnan(counter_clockwise)) {
        return 0;
    }
    int quarters = (int)lround(-counter_clockwise / 90);
    return ((quarters % 4 + 4) % 4) * 90;
}
