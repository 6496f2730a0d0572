/* encode.c - Frames into a file: the only place that knows the media library's encoders. */
#include "render/encode.h"

#include <errno.h>
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/display.h>
#include <libavutil/opt.h>
#include <math.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "render/pixels.h"

/* Time stamps in a second: divides all usual rates, and is what containers of broadcast use. */
#define TICKS_PER_S 90000

/* Hundredths of a second from one GIF frame to the next: players take a shorter time for 10 (common
 * practice, no source). */
#define GIF_TICKS_MIN 2

/* A fixed count, so that the bytes do not depend on the machine. */
#define THREADS 2

struct codec {
    const char *name;
    const char *encoder; /* The library's name. */
    enum pixels pixels;
    bool has_ten_bits;
    double worst; /* Value of its quality setting at quality 0 and 100; equal: it has none. */
    double best;
    const char *options[4][2];
};

static const struct codec codecs[] = {
    {"h264", "libx264", PIXELS_AS_THEY_ARE, true, 47, 8, {{"preset", "veryfast"}}},
    {"hevc",
     "libx265",
     PIXELS_AS_THEY_ARE,
     true,
     49,
     10,
     {{"preset", "ultrafast"}, {"x265-params", "log-level=none:frame-threads=1:pools=2:info=0"}}},
    {"vp9",
     "libvpx-vp9",
     PIXELS_AS_THEY_ARE,
     true,
     62,
     10,
     {{"deadline", "realtime"}, {"cpu-used", "7"}}},
    {"av1",
     "libaom-av1",
     PIXELS_AS_THEY_ARE,
     true,
     62,
     10,
     {{"usage", "realtime"}, {"cpu-used", "8"}}},
    {"mjpeg", "mjpeg", PIXELS_FULL_RANGE, false, 31, 2, {{NULL}}},
    {"gif", "gif", PIXELS_PALETTE, false, 0, 0, {{NULL}}},
    {"png", "png", PIXELS_RGB, false, 0, 0, {{NULL}}},
    {"pgm", "pgm", PIXELS_GREY, false, 0, 0, {{NULL}}},
};

struct encoder {
    const struct encode_rules *rules;
    const struct codec *codec;
    AVFormatContext *format;
    AVCodecContext *context;
    AVStream *stream;
    AVFrame *frame;
    AVPacket *packet;
    int64_t last_pts;
    bool is_begun; /* The header was written. */
};

const char *encode_codec_for(const char *container)
{
    static const char *const table[][2] = {
        {"webm", "vp9"}, {"avi", "mjpeg"}, {"gif", "gif"}, {"image2", "png"}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (strcmp(table[i][0], container) == 0) {
            return table[i][1];
        }
    }
    return "h264";
}

static const struct codec *find_codec(const char *name)
{
    for (size_t i = 0; i < sizeof codecs / sizeof *codecs; i++) {
        if (strcmp(codecs[i].name, name) == 0) {
            return &codecs[i];
        }
    }
    return NULL;
}

/* What the media library says of a failed call. */
static enum lamp_err fail_media(const struct encode_rules *rules, const char *what, int code,
                                struct lamp_error *error)
{
    if (code == AVERROR(ENOMEM)) {
        return lamp_fail_memory(error);
    }
    char words[AV_ERROR_MAX_STRING_SIZE] = "";
    (void)av_strerror(code, words, sizeof words);
    return lamp_fail(error, LAMP_CANNOT_WRITE, rules->name, "%s: %s", what, words);
}

static enum AVPixelFormat pixel_format(const struct codec *codec, int bits)
{
    switch (codec->pixels) {
    case PIXELS_AS_THEY_ARE: return bits == 8 ? AV_PIX_FMT_YUV420P : AV_PIX_FMT_YUV420P10;
    case PIXELS_FULL_RANGE: return AV_PIX_FMT_YUVJ420P;
    case PIXELS_PALETTE: return AV_PIX_FMT_PAL8;
    case PIXELS_RGB: return AV_PIX_FMT_RGB24;
    case PIXELS_GREY: return AV_PIX_FMT_GRAY8;
    }
    return AV_PIX_FMT_NONE;
}

/* Steps of the time stamps: AVI and numbered stills only count frames. */
static AVRational time_base(const struct encode_rules *rules, const struct codec *codec)
{
    if (strcmp(rules->container, "avi") == 0 || strcmp(rules->container, "image2") == 0) {
        return av_inv_q(av_d2q(rules->rate_hz, 1000000));
    }
    return (AVRational){1, codec->pixels == PIXELS_PALETTE ? 100 : TICKS_PER_S};
}

static void tag_colour(AVCodecContext *context, const struct codec *codec,
                       enum lamp_transfer transfer)
{
    const bool is_full = codec->pixels != PIXELS_AS_THEY_ARE;
    const bool is_yuv = codec->pixels == PIXELS_AS_THEY_ARE || codec->pixels == PIXELS_FULL_RANGE;
    context->color_primaries = AVCOL_PRI_BT709;
    context->color_trc = transfer == LAMP_TRANSFER_SRGB ? AVCOL_TRC_IEC61966_2_1 : AVCOL_TRC_BT709;
    context->colorspace = is_yuv ? AVCOL_SPC_BT709 : AVCOL_SPC_RGB;
    context->color_range = is_full ? AVCOL_RANGE_JPEG : AVCOL_RANGE_MPEG;
    context->chroma_sample_location = AVCHROMA_LOC_CENTER;
}

/* Quality 0 to 100 as the codec's own setting. */
static void set_quality(AVCodecContext *context, const struct codec *codec, int quality)
{
    const double share = quality / 100.0;
    if (codec->pixels == PIXELS_FULL_RANGE) {
        const double coarse =
            codec->best + (codec->worst - codec->best) * (1 - share) * (1 - share);
        context->flags |= AV_CODEC_FLAG_QSCALE;
        context->global_quality = (int)lround(FF_QP2LAMBDA * coarse);
    } else if (codec->worst > codec->best) {
        (void)av_opt_set_double(context->priv_data, "crf",
                                codec->worst + (codec->best - codec->worst) * share, 0);
    }
}

static void set_options(struct encoder *encoder)
{
    const struct encode_rules *rules = encoder->rules;
    const struct codec *codec = encoder->codec;
    AVCodecContext *context = encoder->context;
    context->width = rules->scene->width_px;
    context->height = rules->scene->height_px;
    context->pix_fmt = pixel_format(codec, rules->scene->bits);
    context->time_base = time_base(rules, codec);
    context->framerate = av_d2q(rules->rate_hz, 1000000);
    context->gop_size = (int)fmax(1, round(2 * rules->rate_hz));
    if (codec->pixels != PIXELS_AS_THEY_ARE || strcmp(rules->container, "avi") == 0) {
        context->max_b_frames = 0;
    }
    context->thread_count = THREADS;
    context->flags |= AV_CODEC_FLAG_BITEXACT;
    if ((encoder->format->oformat->flags & AVFMT_GLOBALHEADER) != 0) {
        context->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
    }
    if (strcmp(codec->name, "hevc") == 0) {
        context->codec_tag = MKTAG('h', 'v', 'c', '1');
    }
    tag_colour(context, codec, rules->scene->transfer);
    set_quality(context, codec, rules->quality);
    for (size_t i = 0; codec->options[i][0] != NULL; i++) {
        (void)av_opt_set(context->priv_data, codec->options[i][0], codec->options[i][1], 0);
    }
}

/* Numbered stills hold pictures that stand alone; for files the media library knows. */
static bool can_hold(const struct encoder *encoder, const AVCodec *codec)
{
    if (strcmp(encoder->rules->container, "image2") == 0) {
        return encoder->codec->pixels == PIXELS_RGB || encoder->codec->pixels == PIXELS_GREY;
    }
    return avformat_query_codec(encoder->format->oformat, codec->id, FF_COMPLIANCE_NORMAL) > 0;
}

static enum lamp_err open_codec(struct encoder *encoder, struct lamp_error *error)
{
    const struct encode_rules *rules = encoder->rules;
    const AVCodec *found = avcodec_find_encoder_by_name(encoder->codec->encoder);
    if (found == NULL) {
        return lamp_fail(error, LAMP_CANNOT_WRITE, rules->name,
                         "%s needs the encoder %s, which this libavcodec lacks", rules->codec,
                         encoder->codec->encoder);
    }
    if (!can_hold(encoder, found)) {
        return lamp_fail(error, LAMP_BAD_USE, rules->name, "such a file cannot hold %s",
                         rules->codec);
    }
    encoder->context = avcodec_alloc_context3(found);
    if (encoder->context == NULL) {
        return lamp_fail_memory(error);
    }
    set_options(encoder);
    const int code = avcodec_open2(encoder->context, found, NULL);
    return code < 0 ? fail_media(rules, encoder->codec->encoder, code, error) : LAMP_OK;
}

static enum lamp_err open_stream(struct encoder *encoder, struct lamp_error *error)
{
    const struct encode_rules *rules = encoder->rules;
    encoder->stream = avformat_new_stream(encoder->format, NULL);
    if (encoder->stream == NULL ||
        avcodec_parameters_from_context(encoder->stream->codecpar, encoder->context) < 0) {
        return lamp_fail_memory(error);
    }
    encoder->stream->time_base = encoder->context->time_base;
    encoder->stream->avg_frame_rate = encoder->context->framerate;
    if (rules->rotation_deg != 0) {
        uint8_t *matrix = av_stream_new_side_data(encoder->stream, AV_PKT_DATA_DISPLAYMATRIX,
                                                  sizeof(int32_t) * 9);
        if (matrix == NULL) {
            return lamp_fail_memory(error);
        }
        av_display_rotation_set((int32_t *)(void *)matrix, rules->rotation_deg);
    }
    return LAMP_OK;
}

static enum lamp_err open_file(struct encoder *encoder, struct lamp_error *error)
{
    const struct encode_rules *rules = encoder->rules;
    int code = 0;
    if ((encoder->format->oformat->flags & AVFMT_NOFILE) == 0) {
        code = avio_open(&encoder->format->pb, rules->path, AVIO_FLAG_WRITE);
    }
    if (code < 0) {
        return fail_media(rules, "cannot be opened", code, error);
    }
    AVDictionary *options = NULL;
    if (strcmp(rules->container, "image2") == 0) {
        (void)av_dict_set(&options, "frame_pts", "1", 0);
    }
    code = avformat_write_header(encoder->format, &options);
    av_dict_free(&options);
    encoder->is_begun = code >= 0;
    return code < 0 ? fail_media(rules, "cannot be begun", code, error) : LAMP_OK;
}

static enum lamp_err make_frame(struct encoder *encoder, struct lamp_error *error)
{
    encoder->packet = av_packet_alloc();
    encoder->frame = av_frame_alloc();
    if (encoder->packet == NULL || encoder->frame == NULL) {
        return lamp_fail_memory(error);
    }
    encoder->frame->format = encoder->context->pix_fmt;
    encoder->frame->width = encoder->context->width;
    encoder->frame->height = encoder->context->height;
    encoder->frame->color_range = encoder->context->color_range;
    return av_frame_get_buffer(encoder->frame, 0) < 0 ? lamp_fail_memory(error) : LAMP_OK;
}

static enum lamp_err open_all(struct encoder *encoder, struct lamp_error *error)
{
    const int code = avformat_alloc_output_context2(
        &encoder->format, NULL, encoder->rules->container, encoder->rules->path);
    if (code < 0) {
        return fail_media(encoder->rules, "this kind of file", code, error);
    }
    encoder->format->flags |= AVFMT_FLAG_BITEXACT;
    enum lamp_err err = open_codec(encoder, error);
    if (err == LAMP_OK) {
        err = open_stream(encoder, error);
    }
    if (err == LAMP_OK) {
        err = make_frame(encoder, error);
    }
    return err == LAMP_OK ? open_file(encoder, error) : err;
}

enum lamp_err encoder_new(const struct encode_rules *rules, struct encoder **out,
                          struct lamp_error *error)
{
    const struct codec *codec = find_codec(rules->codec);
    if (codec == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, rules->codec,
                         "unknown codec, expected h264, hevc, vp9, av1, mjpeg, gif, png or pgm");
    }
    if (rules->scene->bits != 8 && !codec->has_ten_bits) {
        return lamp_fail(error, LAMP_BAD_USE, rules->codec,
                         "has 8 bits only; 10 bits need h264, hevc, vp9 or av1");
    }
    if (codec->pixels == PIXELS_PALETTE && rules->rate_hz > 50) {
        return lamp_fail(error, LAMP_BAD_USE, rules->codec, "shows at most 50 frames a second");
    }
    struct encoder *encoder = av_mallocz(sizeof *encoder);
    if (encoder == NULL) {
        return lamp_fail_memory(error);
    }
    av_log_set_level(AV_LOG_QUIET); /* What the library would print, the error says. */
    *encoder = (struct encoder){.rules = rules, .codec = codec, .last_pts = -1};
    enum lamp_err err = open_all(encoder, error);
    if (err != LAMP_OK) {
        encoder_free(encoder);
        return err;
    }
    *out = encoder;
    return LAMP_OK;
}

/* Give the encoder a frame, or NULL at the end, and write what it has ready. */
static enum lamp_err send(struct encoder *encoder, const AVFrame *frame, struct lamp_error *error)
{
    int code = avcodec_send_frame(encoder->context, frame);
    while (code >= 0) {
        code = avcodec_receive_packet(encoder->context, encoder->packet);
        if (code == AVERROR(EAGAIN) || code == AVERROR_EOF) {
            return LAMP_OK;
        }
        if (code >= 0) {
            av_packet_rescale_ts(encoder->packet, encoder->context->time_base,
                                 encoder->stream->time_base);
            code = av_interleaved_write_frame(encoder->format, encoder->packet);
        }
    }
    return fail_media(encoder->rules, "cannot be written", code, error);
}

enum lamp_err encoder_push(struct encoder *encoder, const struct lamp_frame *frame, uint64_t index,
                           struct lamp_error *error)
{
    if (av_frame_make_writable(encoder->frame) < 0) {
        return lamp_fail_memory(error);
    }
    AVFrame *to = encoder->frame;
    const struct pixels_target target = {
        .at = {to->data[0], to->data[1], to->data[2]},
        .stride_bytes = {to->linesize[0], to->linesize[1], to->linesize[2]},
    };
    pixels_write(encoder->codec->pixels, frame, encoder->rules->palette, &target);
    const AVRational base = encoder->context->time_base;
    const double ticks = (double)frame->t_ns * base.den / base.num / LAMP_NS_PER_S;
    const bool is_numbered = strcmp(encoder->rules->container, "image2") == 0;
    int64_t pts = is_numbered ? (int64_t)index + 1 : llround(ticks);
    const int64_t least = encoder->codec->pixels == PIXELS_PALETTE ? GIF_TICKS_MIN : 1;
    if (encoder->last_pts >= 0 && pts < encoder->last_pts + least) {
        pts = encoder->last_pts + least;
    }
    encoder->last_pts = pts;
    encoder->frame->pts = pts;
    return send(encoder, encoder->frame, error);
}

enum lamp_err encoder_finish(struct encoder *encoder, struct lamp_error *error)
{
    enum lamp_err err = send(encoder, NULL, error);
    if (err != LAMP_OK) {
        return err;
    }
    const int code = av_write_trailer(encoder->format);
    encoder->is_begun = false;
    return code < 0 ? fail_media(encoder->rules, "cannot be closed", code, error) : LAMP_OK;
}

void encoder_free(struct encoder *encoder)
{
    if (encoder == NULL) {
        return;
    }
    if (encoder->is_begun) {
        (void)av_write_trailer(encoder->format);
    }
    if (encoder->format != NULL && encoder->format->pb != NULL) {
        (void)avio_closep(&encoder->format->pb);
    }
    avformat_free_context(encoder->format);
    avcodec_free_context(&encoder->context);
    av_frame_free(&encoder->frame);
    av_packet_free(&encoder->packet);
    av_free(encoder);
}
