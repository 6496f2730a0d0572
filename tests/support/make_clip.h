/* make_clip.h - Make small clips with known pictures and times: the library that reads them is not
 * asked to. */
#ifndef LAMP_TESTS_MAKE_CLIP_H
#define LAMP_TESTS_MAKE_CLIP_H

#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/display.h>
#include <libavutil/opt.h>
#include <libavutil/pixdesc.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/** What a clip shall hold. Picture i is grey of level 40 + 10 (i mod 16) of 255, with a bright
 * square when i is odd. */
struct clip_plan {
    const char *encoder; /**< "libx264", "ffv1", "gif", ... */
    enum AVPixelFormat format;
    int width_px;
    int height_px;
    int picture_count;
    const int64_t *stamp_ms; /**< One a picture; NULL: every 40 ms. */
    int turn_deg;            /**< Clockwise turn that shows it upright. */
    bool has_index_first;    /**< MP4: readable although cut off. */
    enum AVColorRange range; /**< This and the next two: 0 for not specified. */
    enum AVColorSpace matrix;
    enum AVColorTransferCharacteristic transfer;
};

static int64_t planned_ms(const struct clip_plan *plan, int picture)
{
    return plan->stamp_ms == NULL ? 40 * (int64_t)picture : plan->stamp_ms[picture];
}

static unsigned planned_level(int picture)
{
    return 40 + 10 * ((unsigned)picture % 16);
}

/* Level `level` of 255 in every component that carries light; 128 in chroma; alpha full. */
static void paint(AVFrame *frame, int picture)
{
    const AVPixFmtDescriptor *desc = av_pix_fmt_desc_get((enum AVPixelFormat)frame->format);
    bool is_rgb = (desc->flags & AV_PIX_FMT_FLAG_RGB) != 0;
    for (int c = 0; c < desc->nb_components; c++) {
        bool is_chroma = !is_rgb && desc->nb_components > 2 && (c == 1 || c == 2);
        int width = is_chroma ? AV_CEIL_RSHIFT(frame->width, desc->log2_chroma_w) : frame->width;
        int height = is_chroma ? AV_CEIL_RSHIFT(frame->height, desc->log2_chroma_h) : frame->height;
        unsigned level = c == 3 ? 255 : is_chroma ? 128 : planned_level(picture);
        const AVComponentDescriptor *comp = &desc->comp[c];
        for (int y = 0; y < height; y++) {
            uint8_t *row = frame->data[comp->plane] + (ptrdiff_t)y * frame->linesize[comp->plane] +
                           comp->offset;
            for (int x = 0; x < width; x++) {
                bool is_square =
                    picture % 2 == 1 && x >= 8 && x < 16 && y >= 8 && y < 16 && !is_chroma;
                unsigned value = (is_square ? 220 : level) << (comp->depth - 8);
                memcpy(row + (ptrdiff_t)x * comp->step, &value, comp->depth > 8 ? 2 : 1);
            }
        }
    }
}

static bool write_packets(AVCodecContext *coder, AVFormatContext *file, AVPacket *packet)
{
    for (;;) {
        int code = avcodec_receive_packet(coder, packet);
        if (code == AVERROR(EAGAIN) || code == AVERROR_EOF) {
            return true;
        }
        if (code < 0) {
            return false;
        }
        packet->duration = av_rescale_q(40, (AVRational){1, 1000}, coder->time_base);
        av_packet_rescale_ts(packet, coder->time_base, file->streams[0]->time_base);
        packet->stream_index = 0;
        if (av_interleaved_write_frame(file, packet) < 0) {
            return false;
        }
    }
}

static bool begin_clip(const struct clip_plan *plan, const char *path, AVFormatContext *file,
                       AVCodecContext *coder)
{
    AVStream *stream = avformat_new_stream(file, NULL);
    AVDictionary *coding = NULL;
    AVDictionary *options = NULL;
    coder->width = plan->width_px;
    coder->height = plan->height_px;
    coder->pix_fmt = plan->format;
    coder->time_base =
        strcmp(plan->encoder, "gif") == 0 ? (AVRational){1, 100} : (AVRational){1, 1000};
    if (strcmp(file->oformat->name, "avi") == 0) {
        coder->time_base = (AVRational){1, 25};
    }
    coder->gop_size = 12;
    coder->thread_count = 1;
    coder->framerate = (AVRational){25, 1};
    coder->color_range = plan->range;
    coder->colorspace = plan->matrix == AVCOL_SPC_RGB ? AVCOL_SPC_UNSPECIFIED : plan->matrix;
    coder->color_trc =
        plan->transfer == AVCOL_TRC_RESERVED0 ? AVCOL_TRC_UNSPECIFIED : plan->transfer;
    coder->bit_rate = 4000000;
    coder->strict_std_compliance = FF_COMPLIANCE_UNOFFICIAL;
    if ((file->oformat->flags & AVFMT_GLOBALHEADER) != 0) {
        coder->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
    }
    av_dict_set(&coding, "cpu-used", "8", 0);
    av_dict_set(&coding, "preset", "ultrafast", 0);
    av_dict_set(&coding, "x265-params", "log-level=none", 0);
    if (plan->has_index_first) {
        av_dict_set(&options, "movflags", "faststart", 0);
    }
    bool done = stream != NULL && avcodec_open2(coder, NULL, &coding) >= 0;
    av_dict_free(&coding);
    if (done) {
        stream->time_base = coder->time_base;
        done = avcodec_parameters_from_context(stream->codecpar, coder) >= 0;
        if (plan->turn_deg != 0) {
            uint8_t *matrix =
                av_stream_new_side_data(stream, AV_PKT_DATA_DISPLAYMATRIX, 9 * sizeof(int32_t));
            av_display_rotation_set((int32_t *)(void *)matrix, plan->turn_deg);
        }
        bool is_file = (file->oformat->flags & AVFMT_NOFILE) == 0;
        done = done && (!is_file || avio_open(&file->pb, path, AVIO_FLAG_WRITE) >= 0);
        done = done && avformat_write_header(file, &options) >= 0;
    }
    av_dict_free(&options);
    return done;
}

static bool write_pictures(const struct clip_plan *plan, AVFormatContext *file,
                           AVCodecContext *coder)
{
    AVPacket *packet = av_packet_alloc();
    bool done = packet != NULL;
    for (int i = 0; done && i < plan->picture_count; i++) {
        AVFrame *frame = av_frame_alloc();
        frame->format = plan->format;
        frame->width = plan->width_px;
        frame->height = plan->height_px;
        frame->pts = av_rescale_q(planned_ms(plan, i), (AVRational){1, 1000}, coder->time_base);
        done = av_frame_get_buffer(frame, 0) >= 0;
        if (done) {
            paint(frame, i);
            done = avcodec_send_frame(coder, frame) >= 0 && write_packets(coder, file, packet);
        }
        av_frame_free(&frame);
    }
    done = done && avcodec_send_frame(coder, NULL) >= 0 && write_packets(coder, file, packet);
    av_packet_free(&packet);
    return done;
}

static bool encode_clip(const struct clip_plan *plan, const char *path)
{
    const AVCodec *codec = avcodec_find_encoder_by_name(plan->encoder);
    AVFormatContext *file = NULL;
    av_log_set_level(AV_LOG_QUIET);
    if (codec == NULL || avformat_alloc_output_context2(&file, NULL, NULL, path) < 0) {
        return false;
    }
    AVCodecContext *coder = avcodec_alloc_context3(codec);
    bool done = coder != NULL && begin_clip(plan, path, file, coder) &&
                write_pictures(plan, file, coder) && av_write_trailer(file) >= 0;
    if ((file->oformat->flags & AVFMT_NOFILE) == 0) {
        avio_closep(&file->pb);
    }
    avcodec_free_context(&coder);
    avformat_free_context(file);
    return done;
}

/**
 * Make the clip; the container is told from the path. False if this machine has not the encoder. It
 * is made in a process of its own, so that what the encoders leave behind is not taken for the
 * reader's.
 */
static bool make_clip(const struct clip_plan *plan, const char *path)
{
    pid_t child = fork();
    if (child == 0) {
        _exit(encode_clip(plan, path) ? 0 : 1);
    }
    int status = 1;
    return child > 0 && waitpid(child, &status, 0) == child && WIFEXITED(status) &&
           WEXITSTATUS(status) == 0;
}

#endif
