/* video_mode.c - The modes of a camera device: which it has, and how pictures of one are laid out.
 */
#include <errno.h>
#include <linux/videodev2.h>
#include <string.h>

#include "source/video_device.h"

/* Sizes asked of a camera that takes any. */
static const struct {
    __u32 width, height;
} usual_sizes[] = {{640, 480}, {800, 600}, {1280, 720}, {1280, 960}, {1920, 1080}};

static const struct {
    __u32 fourcc;
    enum lamp_video_format format;
} formats[] = {
    {V4L2_PIX_FMT_MJPEG, LAMP_VIDEO_MJPEG}, {V4L2_PIX_FMT_JPEG, LAMP_VIDEO_MJPEG},
    {V4L2_PIX_FMT_GREY, LAMP_VIDEO_GREY},   {V4L2_PIX_FMT_NV12, LAMP_VIDEO_NV12},
    {V4L2_PIX_FMT_YUV420, LAMP_VIDEO_YU12}, {V4L2_PIX_FMT_YUYV, LAMP_VIDEO_YUYV},
};

/* Modes as they are collected. */
struct list {
    struct lamp_video_mode *at;
    size_t count;
};

double lamp_video_rate_hz(const struct lamp_video_mode *mode)
{
    return mode->interval_top == 0 ? 0 : (double)mode->interval_bottom / mode->interval_top;
}

static enum lamp_video_format format_of(__u32 fourcc)
{
    for (size_t i = 0; i < sizeof formats / sizeof *formats; i++) {
        if (formats[i].fourcc == fourcc) {
            return formats[i].format;
        }
    }
    return LAMP_VIDEO_CONVERTED;
}

static __u32 fourcc_in(const char code[5])
{
    return v4l2_fourcc((__u32)code[0], (__u32)code[1], (__u32)code[2], (__u32)code[3]);
}

static void add(struct list *list, __u32 fourcc, __u32 width, __u32 height, struct v4l2_fract every)
{
    if (list->count == LAMP_VIDEO_MODES_MAX || width == 0 || height == 0 || width > 16384 ||
        height > 16384) {
        return;
    }
    struct lamp_video_mode *mode = &list->at[list->count++];
    *mode = (struct lamp_video_mode){.format = format_of(fourcc),
                                     .width_px = (int)width,
                                     .height_px = (int)height,
                                     .interval_top = every.numerator,
                                     .interval_bottom = every.denominator};
    for (int i = 0; i < 4; i++) {
        char letter = (char)(fourcc >> (8 * i) & 0x7f);
        mode->code[i] = (char)(letter >= ' ' && letter < 0x7f ? letter : '?');
    }
}

/* Of a camera that takes any rate in a range, the fastest and 60 a second are looked at. */
static void add_rates(struct list *list, const struct lamp_video *video, __u32 fourcc, __u32 width,
                      __u32 height)
{
    struct v4l2_frmivalenum rate = {.pixel_format = fourcc, .width = width, .height = height};
    const struct v4l2_fract unknown = {0, 0};
    const struct v4l2_fract usual = {1, 60};
    while (rate.index < LAMP_VIDEO_MODES_MAX &&
           lamp_video_ask(video, VIDIOC_ENUM_FRAMEINTERVALS, &rate) == 0) {
        if (rate.type == V4L2_FRMIVAL_TYPE_DISCRETE) {
            add(list, fourcc, width, height, rate.discrete);
            rate.index++;
            continue;
        }
        double fastest_s = (double)rate.stepwise.min.numerator / rate.stepwise.min.denominator;
        add(list, fourcc, width, height, fastest_s < 1.0 / 60 ? usual : rate.stepwise.min);
        return;
    }
    if (rate.index == 0) {
        add(list, fourcc, width, height, unknown);
    }
}

static void add_any_size(struct list *list, const struct lamp_video *video, __u32 fourcc,
                         const struct v4l2_frmsize_stepwise *range)
{
    size_t before = list->count;
    for (size_t i = 0; i < sizeof usual_sizes / sizeof *usual_sizes; i++) {
        __u32 width = usual_sizes[i].width;
        __u32 height = usual_sizes[i].height;
        if (width >= range->min_width && width <= range->max_width && height >= range->min_height &&
            height <= range->max_height) {
            add_rates(list, video, fourcc, width, height);
        }
    }
    if (list->count == before) {
        add_rates(list, video, fourcc, range->max_width, range->max_height);
    }
}

static void add_sizes(struct list *list, const struct lamp_video *video, __u32 fourcc)
{
    struct v4l2_frmsizeenum size = {.pixel_format = fourcc};
    while (size.index < LAMP_VIDEO_MODES_MAX &&
           lamp_video_ask(video, VIDIOC_ENUM_FRAMESIZES, &size) == 0) {
        if (size.type != V4L2_FRMSIZE_TYPE_DISCRETE) {
            add_any_size(list, video, fourcc, &size.stepwise);
            return;
        }
        add_rates(list, video, fourcc, size.discrete.width, size.discrete.height);
        size.index++;
    }
}

/* The mode that the device is in; some drivers list none. */
static void add_present(struct list *list, const struct lamp_video *video)
{
    struct v4l2_format now = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    struct v4l2_streamparm pace = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    struct v4l2_fract every = {0, 0};
    if (lamp_video_ask(video, VIDIOC_G_FMT, &now) != 0) {
        return;
    }
    if (lamp_video_ask(video, VIDIOC_G_PARM, &pace) == 0 &&
        pace.parm.capture.timeperframe.denominator > 0) {
        every = pace.parm.capture.timeperframe;
    }
    add(list, now.fmt.pix.pixelformat, now.fmt.pix.width, now.fmt.pix.height, every);
}

size_t lamp_video_modes(struct lamp_video *video, struct lamp_video_mode out[LAMP_VIDEO_MODES_MAX])
{
    struct list list = {out, 0};
    struct v4l2_fmtdesc format = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    while (format.index < LAMP_VIDEO_MODES_MAX &&
           lamp_video_ask(video, VIDIOC_ENUM_FMT, &format) == 0) {
        if ((format.flags & V4L2_FMT_FLAG_EMULATED) == 0) {
            add_sizes(&list, video, format.pixelformat);
        }
        format.index++;
    }
    if (list.count == 0) {
        add_present(&list, video);
    }
    return list.count;
}

static __u32 coding_of(const struct v4l2_pix_format *pix)
{
    __u32 usual = V4L2_MAP_YCBCR_ENC_DEFAULT(pix->colorspace);
    return pix->ycbcr_enc != V4L2_YCBCR_ENC_DEFAULT ? pix->ycbcr_enc : usual;
}

static enum lamp_matrix matrix_of(const struct v4l2_pix_format *pix)
{
    switch (coding_of(pix)) {
    case V4L2_YCBCR_ENC_709: return LAMP_MATRIX_BT709;
    case V4L2_YCBCR_ENC_BT2020: return LAMP_MATRIX_BT2020;
    default: return LAMP_MATRIX_BT601;
    }
}

/* NOLINTNEXTLINE(readability-function-cognitive-complexity): the macro is complex */
static __u32 curve_of(const struct v4l2_pix_format *pix)
{
    __u32 usual = V4L2_MAP_XFER_FUNC_DEFAULT(pix->colorspace);
    return pix->xfer_func != V4L2_XFER_FUNC_DEFAULT ? pix->xfer_func : usual;
}

static enum lamp_transfer transfer_of(const struct v4l2_pix_format *pix)
{
    switch (curve_of(pix)) {
    case V4L2_XFER_FUNC_SRGB: return LAMP_TRANSFER_SRGB;
    case V4L2_XFER_FUNC_NONE: return LAMP_TRANSFER_LINEAR;
    default: return LAMP_TRANSFER_BT709;
    }
}

static bool has_full_range(const struct v4l2_pix_format *pix)
{
    __u32 usual = V4L2_MAP_QUANTIZATION_DEFAULT(false, pix->colorspace, coding_of(pix));
    __u32 range = pix->quantization != V4L2_QUANTIZATION_DEFAULT ? pix->quantization : usual;
    return range == V4L2_QUANTIZATION_FULL_RANGE;
}

/* A camera that cannot set its rate keeps it. @return the interval it has. */
static struct v4l2_fract set_interval(const struct lamp_video *video, struct v4l2_fract every)
{
    struct v4l2_streamparm pace = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    const struct v4l2_fract unknown = {0, 0};
    if (every.numerator > 0) {
        pace.parm.capture.timeperframe = every;
        (void)lamp_video_ask(video, VIDIOC_S_PARM, &pace);
    }
    struct v4l2_streamparm now = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    if (lamp_video_ask(video, VIDIOC_G_PARM, &now) != 0 ||
        now.parm.capture.timeperframe.denominator == 0) {
        return unknown;
    }
    return now.parm.capture.timeperframe;
}

int lamp_video_set_mode(struct lamp_video *video, const struct lamp_video_mode *mode,
                        struct lamp_video_layout *out)
{
    __u32 fourcc =
        mode->format == LAMP_VIDEO_CONVERTED ? V4L2_PIX_FMT_YUV420 : fourcc_in(mode->code);
    struct v4l2_format wanted = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    wanted.fmt.pix.width = (__u32)mode->width_px;
    wanted.fmt.pix.height = (__u32)mode->height_px;
    wanted.fmt.pix.pixelformat = fourcc;
    wanted.fmt.pix.field = V4L2_FIELD_ANY;
    int problem = lamp_video_ask(video, VIDIOC_S_FMT, &wanted);
    if (problem != 0) {
        return problem;
    }
    if (wanted.fmt.pix.pixelformat != fourcc || wanted.fmt.pix.width == 0 ||
        wanted.fmt.pix.height == 0 || wanted.fmt.pix.width > 16384 ||
        wanted.fmt.pix.height > 16384) {
        return EINVAL;
    }
    struct v4l2_fract every =
        set_interval(video, (struct v4l2_fract){mode->interval_top, mode->interval_bottom});
    out->mode = *mode;
    out->mode.width_px = (int)wanted.fmt.pix.width;
    out->mode.height_px = (int)wanted.fmt.pix.height;
    out->mode.interval_top = every.numerator;
    out->mode.interval_bottom = every.denominator;
    out->stride_bytes = (int)wanted.fmt.pix.bytesperline;
    out->matrix = matrix_of(&wanted.fmt.pix);
    out->transfer = transfer_of(&wanted.fmt.pix);
    out->is_full_range = has_full_range(&wanted.fmt.pix);
    return 0;
}
