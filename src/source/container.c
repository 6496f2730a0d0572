/* container.c - A video file taken apart: the packets of its video, and what it says of times. */
#include "source/container.h"

#include <libavformat/avformat.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/decoder.h"
#include "source/picture.h"

/* The containers that are read. Playlists are not among them: a recording never opens another file.
 */
static const char containers[] =
    "mov,matroska,avi,gif,apng,mpegts,mpeg,mpegvideo,m4v,h264,hevc,obu,av1,ivf,ogg,flv,"
    "asf,mjpeg,mpjpeg,yuv4mpegpipe,nut,mxf,dv";

/* Failures to read in a row after which the rest of a file is given up. */
enum { TRIES_MOST = 16 };

/* Times beyond this are damage, and below it they can be added. */
static const int64_t time_most = INT64_MAX / 4;

struct lamp_container {
    AVFormatContext *file;
    AVStream *stream;
    AVPacket *packet;
    int64_t
        start; /* Time stamp at which the clip's clock begins; LAMP_NO_STAMP until it is known. */
    bool is_broken;
};

/* An MP4 or MOV file writes its index last: a recording that was cut off has none. */
static enum lamp_err refuse_file(const struct lamp_sniff *sniff, enum lamp_err err,
                                 struct lamp_error *error)
{
    if (err == LAMP_NO_MEMORY) {
        return lamp_fail_memory(error);
    }
    if (sniff->size > 8 && memcmp(sniff->head + 4, "ftyp", 4) == 0) {
        return lamp_fail(
            error, LAMP_BAD_SOURCE, sniff->name,
            "the recording was cut off before its index was written: nothing in it can be read");
    }
    if (lamp_decoder_is_still((const unsigned char *)sniff->head, sniff->size)) {
        return lamp_fail(
            error, LAMP_BAD_SOURCE, sniff->name,
            "this is one still picture: expected a video file or a folder of numbered pictures");
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name,
                     "this cannot be read: expected a video file, a trace (CSV) or edges (VCD)");
}

/* The name goes to the library as a file's, whatever it looks like ("a:b.mp4"). */
static enum lamp_err open_file(struct lamp_container *container, const char *name)
{
    size_t size = strlen(name) + sizeof "file:";
    char *url = malloc(size);
    AVDictionary *options = NULL;
    enum lamp_err err = LAMP_NO_MEMORY;
    if (url != NULL && av_dict_set(&options, "format_whitelist", containers, 0) >= 0 &&
        av_dict_set(&options, "protocol_whitelist", "file", 0) >= 0) {
        (void)snprintf(url, size, "file:%s", name);
        int code = avformat_open_input(&container->file, url, NULL, &options);
        err = code < 0 ? lamp_decoder_failure(code) : LAMP_OK;
    }
    av_dict_free(&options);
    free(url);
    return err;
}

static bool is_video(const AVStream *stream)
{
    return stream->codecpar->codec_type == AVMEDIA_TYPE_VIDEO &&
           (stream->disposition & AV_DISPOSITION_ATTACHED_PIC) == 0;
}

static AVStream *find_video(AVFormatContext *file)
{
    int best = av_find_best_stream(file, AVMEDIA_TYPE_VIDEO, -1, -1, NULL, 0);
    if (best >= 0 && is_video(file->streams[best])) {
        return file->streams[best];
    }
    for (unsigned i = 0; i < file->nb_streams; i++) {
        if (is_video(file->streams[i])) {
            return file->streams[i];
        }
    }
    return NULL;
}

static enum lamp_err choose_stream(struct lamp_container *container, const char *name,
                                   struct lamp_error *error)
{
    AVFormatContext *file = container->file;
    (void)avformat_find_stream_info(file, NULL); /* What it fails to find out, decoding will. */
    container->stream = find_video(file);
    if (container->stream == NULL) {
        return lamp_fail(error, LAMP_BAD_SOURCE, name, "there is no video in it");
    }
    for (unsigned i = 0; i < file->nb_streams; i++) {
        bool is_chosen = file->streams[i] == container->stream;
        file->streams[i]->discard = is_chosen ? AVDISCARD_DEFAULT : AVDISCARD_ALL;
    }
    container->start = container->stream->start_time;
    return LAMP_OK;
}

enum lamp_err lamp_container_open(const struct lamp_sniff *sniff, struct lamp_container **out,
                                  struct lamp_error *error)
{
    struct lamp_container *container = calloc(1, sizeof *container);
    if (container == NULL || (container->packet = av_packet_alloc()) == NULL) {
        free(container);
        return lamp_fail_memory(error);
    }
    av_log_set_level(
        AV_LOG_QUIET); /* What the libraries would print, this layer says in its warnings. */
    enum lamp_err err = open_file(container, sniff->name);
    err = err == LAMP_OK ? choose_stream(container, sniff->name, error)
                         : refuse_file(sniff, err, error);
    if (err != LAMP_OK) {
        lamp_container_free(container);
        return err;
    }
    *out = container;
    return LAMP_OK;
}

const AVCodecParameters *lamp_container_coded(const struct lamp_container *container)
{
    return container->stream->codecpar;
}

void lamp_container_picture(const struct lamp_container *container, int *width_px, int *height_px,
                            int *turn_deg)
{
    size_t size = 0;
    const uint8_t *matrix =
        av_stream_get_side_data(container->stream, AV_PKT_DATA_DISPLAYMATRIX, &size);
    bool is_turned = matrix != NULL && size >= 9 * sizeof(int32_t);
    *width_px = container->stream->codecpar->width;
    *height_px = container->stream->codecpar->height;
    *turn_deg = is_turned ? lamp_picture_turn_deg((const int32_t *)(const void *)matrix) : 0;
}

/* One attempt; LAMP_END where the end of the file was reached, LAMP_BAD_SOURCE where something else
 * failed. */
static enum lamp_err try_read(struct lamp_container *container)
{
    const AVIOContext *io = container->file->pb;
    av_packet_unref(container->packet);
    int code = av_read_frame(container->file, container->packet);
    if (code >= 0) {
        return LAMP_OK;
    }
    if (code == AVERROR_EOF) {
        container->is_broken = io != NULL && io->error < 0 && io->error != AVERROR_EOF;
        return LAMP_END;
    }
    return lamp_decoder_failure(code);
}

enum lamp_err lamp_container_read(struct lamp_container *container, const AVPacket **out)
{
    for (int tries = 0; tries < TRIES_MOST;) {
        enum lamp_err err = try_read(container);
        if (err == LAMP_END || err == LAMP_NO_MEMORY) {
            return err;
        }
        if (err == LAMP_BAD_SOURCE) {
            tries++;
        } else if (container->packet->stream_index == container->stream->index) {
            *out = container->packet;
            return (container->packet->flags & AV_PKT_FLAG_CORRUPT) != 0 ? LAMP_BAD_SOURCE
                                                                         : LAMP_OK;
        }
    }
    container->is_broken = true;
    return LAMP_END;
}

bool lamp_container_is_broken(const struct lamp_container *container)
{
    return container->is_broken;
}

static bool is_usable(int64_t time)
{
    return time > -time_most && time < time_most;
}

static int64_t to_ns(const struct lamp_container *container, int64_t ticks)
{
    return av_rescale_q(ticks, container->stream->time_base, (AVRational){1, LAMP_NS_PER_S});
}

bool lamp_container_time_ns(struct lamp_container *container, int64_t stamp, int64_t *out)
{
    if (!is_usable(stamp)) {
        return false;
    }
    if (!is_usable(container->start)) {
        container->start = stamp;
    }
    int64_t t_ns = to_ns(container, stamp - container->start);
    if (!is_usable(t_ns)) {
        return false;
    }
    *out = t_ns;
    return true;
}

int64_t lamp_container_length_ns(const struct lamp_container *container, int64_t ticks)
{
    int64_t length_ns = ticks > 0 && is_usable(ticks) ? to_ns(container, ticks) : 0;
    return is_usable(length_ns) ? length_ns : 0;
}

int64_t lamp_container_told_ns(const struct lamp_container *container)
{
    const AVFormatContext *file = container->file;
    int64_t told_ns = lamp_container_length_ns(container, container->stream->duration);
    if (told_ns > 0) {
        return told_ns;
    }
    bool is_told = file->duration > 0 && is_usable(file->duration) && file->nb_streams == 1 &&
                   file->duration_estimation_method != AVFMT_DURATION_FROM_BITRATE;
    return is_told ? av_rescale(file->duration, LAMP_NS_PER_S, AV_TIME_BASE) : 0;
}

double lamp_container_interval_ns(const struct lamp_container *container)
{
    AVRational rate = av_guess_frame_rate(container->file, container->stream, NULL);
    return rate.num > 0 && rate.den > 0 ? LAMP_NS_PER_S / av_q2d(rate) : LAMP_NS_PER_S / 30.0;
}

double lamp_container_progress(const struct lamp_container *container)
{
    AVIOContext *io = container->file->pb;
    int64_t size = io == NULL ? 0 : avio_size(io);
    return size > 0 ? (double)avio_tell(io) / (double)size : -1;
}

void lamp_container_free(struct lamp_container *container)
{
    if (container == NULL) {
        return;
    }
    av_packet_free(&container->packet);
    avformat_close_input(&container->file);
    free(container);
}
