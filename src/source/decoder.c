/* decoder.c - Coded pictures in, decoded pictures out, damaged ones left out. */
#include "source/decoder.h"

#include <assert.h>
#include <libavcodec/avcodec.h>
#include <libavutil/cpu.h>
#include <libavutil/mem.h>
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "source/picture.h"

static_assert(LAMP_STILL_PADDING >= AV_INPUT_BUFFER_PADDING_SIZE,
              "the decoders read past the end of a still");
static_assert(LAMP_NO_STAMP == AV_NOPTS_VALUE, "the decoders' own mark is handed on");

enum {
    EXPOSURE_MOST_S = 60,        /* a longer exposure is damage */
    MEMORY_LEFT_BYTES = 16 << 20 /* memory is not short while so much can be had */
};

/* Packets given last that are kept, so that a picture can be handed on with its coded bytes: more
 * than a decoder holds back. */
enum { PACKETS_KEPT = 2 * LAMP_DECODER_THREADS_MAX };

struct lamp_decoder {
    AVCodecContext *codec;
    AVPacket *packet;
    AVFrame *frame;
    AVPacket *kept[PACKETS_KEPT]; /* Of JPEGs only. */
    size_t kept_count;            /* All that ever were. */
};

/* What the codings of stills begin with. */
static const struct {
    const char *first;
    size_t size;
    enum AVCodecID id;
} still_codings[] = {
    {"\xff\xd8\xff", 3, AV_CODEC_ID_MJPEG},
    {"\x89PNG\r\n\x1a\n", 8, AV_CODEC_ID_PNG},
    {"BM", 2, AV_CODEC_ID_BMP},
    {"P2", 2, AV_CODEC_ID_PGM},
    {"P5", 2, AV_CODEC_ID_PGM},
    {"P3", 2, AV_CODEC_ID_PPM},
    {"P6", 2, AV_CODEC_ID_PPM},
    {"II*\0", 4, AV_CODEC_ID_TIFF},
    {"MM\0*", 4, AV_CODEC_ID_TIFF},
};

static enum AVCodecID still_coding(const unsigned char *bytes, size_t size)
{
    for (size_t i = 0; i < sizeof still_codings / sizeof still_codings[0]; i++) {
        if (size > still_codings[i].size &&
            memcmp(bytes, still_codings[i].first, still_codings[i].size) == 0) {
            return still_codings[i].id;
        }
    }
    return AV_CODEC_ID_NONE;
}

static int choose_threads(int asked)
{
    if (asked > 0) {
        return asked;
    }
    int processors = av_cpu_count();
    if (processors <= 1) {
        return 1;
    }
    return processors + 1 < LAMP_DECODER_THREADS_MAX ? processors + 1 : LAMP_DECODER_THREADS_MAX;
}

enum lamp_err lamp_decoder_failure(int code)
{
    if (code != AVERROR(ENOMEM)) {
        return LAMP_BAD_SOURCE;
    }
    void *probe = av_malloc(MEMORY_LEFT_BYTES);
    enum lamp_err err = probe == NULL ? LAMP_NO_MEMORY : LAMP_BAD_SOURCE;
    av_free(probe);
    return err;
}

static enum lamp_err open_codec(struct lamp_decoder *decoder, const AVCodec *codec,
                                const AVCodecParameters *coded)
{
    int got = coded == NULL ? 0 : avcodec_parameters_to_context(decoder->codec, coded);
    decoder->codec->max_pixels = LAMP_PICTURE_PIXELS_MAX;
    if (got >= 0) {
        got = avcodec_open2(decoder->codec, codec, NULL);
    }
    if (got < 0) {
        return lamp_decoder_failure(got);
    }
    return LAMP_OK;
}

static enum lamp_err make(enum AVCodecID id, const AVCodecParameters *coded, int thread_count,
                          struct lamp_decoder **out)
{
    const AVCodec *codec = avcodec_find_decoder(id);
    if (codec == NULL) {
        return LAMP_BAD_SOURCE;
    }
    struct lamp_decoder *decoder = calloc(1, sizeof *decoder);
    if (decoder == NULL) {
        return LAMP_NO_MEMORY;
    }
    enum lamp_err err = LAMP_NO_MEMORY;
    decoder->codec = avcodec_alloc_context3(codec);
    decoder->packet = av_packet_alloc();
    decoder->frame = av_frame_alloc();
    if (decoder->codec != NULL && decoder->packet != NULL && decoder->frame != NULL) {
        decoder->codec->thread_count = thread_count;
        decoder->codec->thread_type =
            thread_count > 1 ? FF_THREAD_FRAME | FF_THREAD_SLICE : FF_THREAD_SLICE;
        /* Pictures that no other is made from need no smoothing of their block edges: it costs time
         * and says nothing of lamps. */
        decoder->codec->skip_loop_filter = AVDISCARD_NONREF;
        err = open_codec(decoder, codec, coded);
    }
    if (err != LAMP_OK) {
        lamp_decoder_free(decoder);
        return err;
    }
    *out = decoder;
    return LAMP_OK;
}

enum lamp_err lamp_decoder_new(const AVCodecParameters *coded, int thread_count,
                               struct lamp_decoder **out)
{
    return make(coded->codec_id, coded, choose_threads(thread_count), out);
}

enum lamp_err lamp_decoder_new_still(const unsigned char *bytes, size_t size,
                                     struct lamp_decoder **out)
{
    return make(still_coding(bytes, size), NULL, 1, out);
}

bool lamp_decoder_is_still(const unsigned char *bytes, size_t size)
{
    return still_coding(bytes, size) != AV_CODEC_ID_NONE;
}

bool lamp_decoder_suits(const struct lamp_decoder *decoder, const unsigned char *bytes, size_t size)
{
    return decoder->codec->codec_id == still_coding(bytes, size);
}

const char *lamp_decoder_coding(const AVCodecParameters *coded)
{
    return avcodec_get_name(coded->codec_id);
}

bool lamp_decoder_is_photo(const struct lamp_decoder *decoder)
{
    static const enum AVCodecID photos[] = {AV_CODEC_ID_MJPEG, AV_CODEC_ID_PNG, AV_CODEC_ID_APNG,
                                            AV_CODEC_ID_BMP,   AV_CODEC_ID_PGM, AV_CODEC_ID_PPM,
                                            AV_CODEC_ID_TIFF,  AV_CODEC_ID_GIF};
    for (size_t i = 0; i < sizeof photos / sizeof photos[0]; i++) {
        if (decoder->codec->codec_id == photos[i]) {
            return true;
        }
    }
    return false;
}

bool lamp_decoder_is_paced(const struct lamp_decoder *decoder)
{
    return decoder->codec->codec_id == AV_CODEC_ID_GIF ||
           decoder->codec->codec_id == AV_CODEC_ID_APNG;
}

/* Keep a reference to a JPEG; where there is no memory for it, it is only not handed on. */
static void keep_coded(struct lamp_decoder *decoder, const AVPacket *packet)
{
    if (packet == NULL || packet->pts == LAMP_NO_STAMP ||
        decoder->codec->codec_id != AV_CODEC_ID_MJPEG) {
        return;
    }
    AVPacket **slot = &decoder->kept[decoder->kept_count++ % PACKETS_KEPT];
    av_packet_free(slot);
    *slot = av_packet_clone(packet);
}

/* The packet that a picture with this time stamp was decoded from, NULL if it is not known. */
static const AVPacket *find_coded(const struct lamp_decoder *decoder, int64_t stamp)
{
    for (size_t i = 0; i < PACKETS_KEPT && stamp != LAMP_NO_STAMP; i++) {
        const AVPacket *packet = decoder->kept[i];
        if (packet != NULL && packet->pts == stamp) {
            return packet;
        }
    }
    return NULL;
}

enum lamp_err lamp_decoder_feed(struct lamp_decoder *decoder, const AVPacket *packet)
{
    keep_coded(decoder, packet);
    int got = avcodec_send_packet(decoder->codec, packet);
    if (got >= 0 || got == AVERROR_EOF) {
        return LAMP_OK;
    }
    return lamp_decoder_failure(got);
}

enum lamp_err lamp_decoder_feed_still(struct lamp_decoder *decoder, unsigned char *bytes,
                                      size_t size)
{
    if (size > INT_MAX) {
        return LAMP_BAD_SOURCE;
    }
    avcodec_flush_buffers(decoder->codec);
    decoder->packet->data = bytes;
    decoder->packet->size = (int)size;
    decoder->packet->flags = AV_PKT_FLAG_KEY;
    enum lamp_err err = lamp_decoder_feed(decoder, decoder->packet);
    av_packet_unref(decoder->packet);
    return err;
}

static int turn_of(const AVFrame *frame)
{
    const AVFrameSideData *matrix = av_frame_get_side_data(frame, AV_FRAME_DATA_DISPLAYMATRIX);
    return matrix == NULL ? -1 : lamp_picture_turn_deg((const int32_t *)(const void *)matrix->data);
}

/* Cameras write "1:60" s (Exif 2.3, tag 33434); the library pads the numbers with blanks. */
static int64_t exposure_of(const AVFrame *frame)
{
    const AVDictionaryEntry *entry = av_dict_get(frame->metadata, "ExposureTime", NULL, 0);
    const char *parted = entry == NULL ? NULL : strchr(entry->value, ':');
    double top;
    double bottom;
    if (parted == NULL || lamp_number_read(entry->value + strspn(entry->value, " "), &top) == 0 ||
        lamp_number_read(parted + 1 + strspn(parted + 1, " "), &bottom) == 0) {
        return 0;
    }
    double seconds = top / bottom;
    return seconds > 0 && seconds < EXPOSURE_MOST_S ? (int64_t)llround(seconds * LAMP_NS_PER_S) : 0;
}

static bool is_damaged(const AVFrame *frame)
{
    return (frame->flags & AV_FRAME_FLAG_CORRUPT) != 0 || frame->decode_error_flags != 0;
}

enum lamp_err lamp_decoder_take(struct lamp_decoder *decoder, struct lamp_picture *out)
{
    AVFrame *frame = decoder->frame;
    int got = avcodec_receive_frame(decoder->codec, frame);
    if (got == AVERROR(EAGAIN) || got == AVERROR_EOF) {
        return LAMP_END;
    }
    if (got < 0) {
        return lamp_decoder_failure(got);
    }
    if (is_damaged(frame)) {
        return LAMP_BAD_SOURCE;
    }
    const AVPacket *coded = find_coded(decoder, frame->best_effort_timestamp);
    *out = (struct lamp_picture){
        .coded = coded == NULL ? NULL : coded->data,
        .coded_size = coded == NULL ? 0 : (size_t)coded->size,
        .frame = frame,
        .stamp = frame->best_effort_timestamp,
        .length = frame->pkt_duration > 0 ? frame->pkt_duration : 0,
        .exposure_ns = exposure_of(frame),
        .width_px = frame->width,
        .height_px = frame->height,
        .turn_deg = turn_of(frame),
    };
    return LAMP_OK;
}

void lamp_decoder_free(struct lamp_decoder *decoder)
{
    if (decoder == NULL) {
        return;
    }
    for (size_t i = 0; i < PACKETS_KEPT; i++) {
        av_packet_free(&decoder->kept[i]);
    }
    avcodec_free_context(&decoder->codec);
    av_packet_free(&decoder->packet);
    av_frame_free(&decoder->frame);
    free(decoder);
}
