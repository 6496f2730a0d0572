/* clip.c - Video files: packets out of the container, pictures with their time. */
#include <libavformat/avformat.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/decoder.h"
#include "source/form.h"
#include "source/picture.h"

/* The containers that are read. Playlists are not among them: a recording never opens another file.
 */
static const char containers[] =
    "mov,matroska,avi,gif,apng,mpegts,mpeg,mpegvideo,m4v,h264,hevc,obu,av1,ivf,ogg,flv,"
    "asf,mjpeg,mpjpeg,yuv4mpegpipe,nut,mxf,dv";

/* Failures to read in a row after which the rest of a file is given up. */
enum { TRIES_MOST = 16 };

/* Time stamps beyond this are damage, and leave room to add them. */
static const int64_t stamp_most = INT64_MAX / 4;

enum clip_note { NOTE_DAMAGED = 1, NOTE_BACKWARD, NOTE_UNSTAMPED, NOTE_SIZE, NOTE_END };

struct clip {
    struct lamp_input *input;
    AVFormatContext *file;
    AVStream *stream;
    AVPacket *packet;
    struct lamp_decoder *decoder;
    struct lamp_keeper *keeper;
    int64_t start; /* Time stamp at which the clip's clock begins, ticks; LAMP_NO_STAMP until it is
                      known. */
    int width_px;
    int height_px;
    int turn_deg;
    bool is_fed_up; /* No packet is left. */
    bool is_broken; /* The rest of the file cannot be read. */
    bool is_over;   /* No picture is left. */
    uint64_t damaged_count;
    uint64_t backward_count;
    uint64_t unstamped_count;
};

static bool suits_clip(const struct lamp_sniff *sniff)
{
    return !sniff->is_folder;
}

static void close_clip(void *state)
{
    struct clip *clip = state;
    lamp_decoder_free(clip->decoder);
    lamp_keeper_free(clip->keeper);
    av_packet_free(&clip->packet);
    avformat_close_input(&clip->file);
    free(clip);
}

/* An MP4 or MOV file writes its index last: a recording that was cut off has none. */
static enum lamp_err refuse_file(const struct lamp_sniff *sniff, int code, struct lamp_error *error)
{
    if (code == AVERROR(ENOMEM)) {
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
static enum lamp_err open_file(struct clip *clip, const struct lamp_sniff *sniff,
                               struct lamp_error *error)
{
    size_t size = strlen(sniff->name) + sizeof "file:";
    char *url = malloc(size);
    AVDictionary *options = NULL;
    int code = AVERROR(ENOMEM);
    if (url != NULL && av_dict_set(&options, "format_whitelist", containers, 0) >= 0 &&
        av_dict_set(&options, "protocol_whitelist", "file", 0) >= 0) {
        (void)snprintf(url, size, "file:%s", sniff->name);
        code = avformat_open_input(&clip->file, url, NULL, &options);
    }
    av_dict_free(&options);
    free(url);
    if (code < 0) {
        return refuse_file(sniff, code, error);
    }
    (void)avformat_find_stream_info(clip->file,
                                    NULL); /* What it fails to find out, decoding will. */
    return LAMP_OK;
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

static int stream_turn_deg(const AVStream *stream)
{
    size_t size = 0;
    const uint8_t *matrix = av_stream_get_side_data(stream, AV_PKT_DATA_DISPLAYMATRIX, &size);
    if (matrix == NULL || size < 9 * sizeof(int32_t)) {
        return 0;
    }
    return lamp_picture_turn_deg((const int32_t *)(const void *)matrix);
}

static enum lamp_err choose_stream(struct clip *clip, struct lamp_error *error)
{
    clip->stream = find_video(clip->file);
    if (clip->stream == NULL) {
        return lamp_fail(error, LAMP_BAD_SOURCE, clip->input->name, "there is no video in it");
    }
    for (unsigned i = 0; i < clip->file->nb_streams; i++) {
        AVStream *stream = clip->file->streams[i];
        stream->discard = stream == clip->stream ? AVDISCARD_DEFAULT : AVDISCARD_ALL;
    }
    clip->start = clip->stream->start_time;
    clip->width_px = clip->stream->codecpar->width;
    clip->height_px = clip->stream->codecpar->height;
    clip->turn_deg = stream_turn_deg(clip->stream);
    return LAMP_OK;
}

static enum lamp_err open_decoder(struct clip *clip, struct lamp_error *error)
{
    const AVCodecParameters *coded = clip->stream->codecpar;
    clip->packet = av_packet_alloc();
    enum lamp_err err = clip->packet == NULL ? LAMP_NO_MEMORY : lamp_keeper_new(&clip->keeper);
    if (err == LAMP_OK) {
        err = lamp_decoder_new(coded, clip->input->rules.thread_count, &clip->decoder);
    }
    if (err == LAMP_BAD_SOURCE) {
        return lamp_fail(error, err, clip->input->name,
                         "its video is coded as %s, which cannot be decoded",
                         lamp_decoder_coding(coded));
    }
    return err == LAMP_OK ? LAMP_OK : lamp_fail_memory(error);
}

static enum lamp_err open_clip(struct lamp_input *input, const struct lamp_sniff *sniff,
                               void **state, struct lamp_error *error)
{
    struct clip *clip = calloc(1, sizeof *clip);
    if (clip == NULL) {
        return lamp_fail_memory(error);
    }
    av_log_set_level(
        AV_LOG_QUIET); /* What the libraries would print, this layer says in its warnings. */
    clip->input = input;
    enum lamp_err err = open_file(clip, sniff, error);
    if (err == LAMP_OK) {
        err = choose_stream(clip, error);
    }
    if (err == LAMP_OK) {
        err = open_decoder(clip, error);
    }
    if (err != LAMP_OK) {
        close_clip(clip);
        return err;
    }
    *state = clip;
    return LAMP_OK;
}

static void note_damage(struct clip *clip)
{
    clip->damaged_count++;
    lamp_notes_say(&clip->input->notes, NOTE_DAMAGED, "%llu damaged picture%s left out",
                   (unsigned long long)clip->damaged_count,
                   clip->damaged_count == 1 ? " was" : "s were");
}

/* The next packet of the video, LAMP_END when there is none. */
static enum lamp_err read_packet(struct clip *clip)
{
    for (int tries = 0; tries < TRIES_MOST;) {
        int code = av_read_frame(clip->file, clip->packet);
        if (code == AVERROR_EOF) {
            clip->is_broken = clip->file->pb != NULL && clip->file->pb->error < 0 &&
                              clip->file->pb->error != AVERROR_EOF;
            return LAMP_END;
        }
        if (code == AVERROR(ENOMEM)) {
            return LAMP_NO_MEMORY;
        }
        if (code < 0) {
            tries++;
            continue;
        }
        if (clip->packet->stream_index == clip->stream->index) {
            return LAMP_OK;
        }
        av_packet_unref(clip->packet);
    }
    clip->is_broken = true;
    return LAMP_END;
}

static enum lamp_err feed(struct clip *clip)
{
    enum lamp_err err = read_packet(clip);
    if (err == LAMP_NO_MEMORY) {
        return err;
    }
    clip->is_fed_up = err == LAMP_END;
    bool is_cut = !clip->is_fed_up && (clip->packet->flags & AV_PKT_FLAG_CORRUPT) != 0;
    err = is_cut ? LAMP_BAD_SOURCE
                 : lamp_decoder_feed(clip->decoder, clip->is_fed_up ? NULL : clip->packet);
    av_packet_unref(clip->packet);
    if (err == LAMP_BAD_SOURCE) {
        note_damage(clip);
        return LAMP_OK;
    }
    return err;
}

static double usual_interval_ns(const struct clip *clip)
{
    double interval_ns = lamp_pace_interval_ns(&clip->input->pace);
    AVRational rate = av_guess_frame_rate(clip->file, clip->stream, NULL);
    if (interval_ns > 0) {
        return interval_ns;
    }
    return rate.num > 0 && rate.den > 0 ? LAMP_NS_PER_S / av_q2d(rate) : LAMP_NS_PER_S / 30.0;
}

static int64_t ticks_to_ns(const struct clip *clip, int64_t ticks)
{
    return av_rescale_q(ticks, clip->stream->time_base, (AVRational){1, LAMP_NS_PER_S});
}

static bool is_usable(int64_t stamp)
{
    return stamp > -stamp_most && stamp < stamp_most;
}

/* When a picture was taken; one without a time stamp follows the one before at the usual interval.
 */
static int64_t time_of(struct clip *clip, int64_t stamp)
{
    const struct lamp_pace *pace = &clip->input->pace;
    if (is_usable(stamp)) {
        if (!is_usable(clip->start)) {
            clip->start = stamp;
        }
        int64_t t_ns = ticks_to_ns(clip, stamp - clip->start);
        if (is_usable(t_ns)) {
            return t_ns;
        }
    }
    clip->unstamped_count++;
    lamp_notes_say(&clip->input->notes, NOTE_UNSTAMPED,
                   "%llu picture%s no time stamp: timed by the frame rate",
                   (unsigned long long)clip->unstamped_count,
                   clip->unstamped_count == 1 ? " had" : "s had");
    return pace->item_count == 0 ? 0 : pace->last_ns + (int64_t)usual_interval_ns(clip);
}

static double last_s(const struct clip *clip)
{
    return (double)clip->input->pace.last_ns / LAMP_NS_PER_S;
}

/* Whether the picture belongs to the recording: same size as the others, and not before them. */
static bool is_welcome(struct clip *clip, const struct lamp_picture *picture, int64_t t_ns)
{
    const struct lamp_pace *pace = &clip->input->pace;
    struct lamp_notes *notes = &clip->input->notes;
    if (pace->item_count == 0) {
        clip->width_px = picture->width_px;
        clip->height_px = picture->height_px;
        clip->turn_deg = picture->turn_deg >= 0 ? picture->turn_deg : clip->turn_deg;
        return true;
    }
    if (picture->width_px != clip->width_px || picture->height_px != clip->height_px) {
        clip->is_over = true;
        lamp_notes_say(
            notes, NOTE_SIZE,
            "the picture changes from %dx%d to %dx%d after %.1f s: the rest was not read",
            clip->width_px, clip->height_px, picture->width_px, picture->height_px, last_s(clip));
        return false;
    }
    if (t_ns < pace->last_ns) {
        clip->backward_count++;
        lamp_notes_say(notes, NOTE_BACKWARD, "%llu picture%s back in time and %s left out",
                       (unsigned long long)clip->backward_count,
                       clip->backward_count == 1 ? " went" : "s went",
                       clip->backward_count == 1 ? "was" : "were");
        return false;
    }
    return true;
}

/* One decoded picture to an item; LAMP_END where it was left out. */
static enum lamp_err give(struct clip *clip, const struct lamp_picture *picture,
                          struct lamp_item *out)
{
    int64_t t_ns = time_of(clip, picture->stamp);
    if (!is_welcome(clip, picture, t_ns)) {
        return LAMP_END;
    }
    struct lamp_item item = {.kind = LAMP_ITEM_FRAME};
    int64_t length_ns = is_usable(picture->length) ? ticks_to_ns(clip, picture->length) : 0;
    enum lamp_err err = lamp_keeper_keep(clip->keeper, picture->frame,
                                         lamp_decoder_is_photo(clip->decoder), &item.frame);
    if (err != LAMP_OK) {
        return err;
    }
    item.frame.t_ns = t_ns;
    item.frame.exposure_ns = picture->exposure_ns;
    lamp_pace_push(&clip->input->pace, 0, t_ns, is_usable(length_ns) ? length_ns : 0);
    *out = item;
    return LAMP_OK;
}

/* How long the container says the video is, ns; 0 where it does not say. */
static int64_t told_length_ns(const struct clip *clip)
{
    if (clip->stream->duration > 0 && is_usable(clip->stream->duration)) {
        return ticks_to_ns(clip, clip->stream->duration);
    }
    bool is_told = clip->file->duration > 0 && clip->file->nb_streams == 1 &&
                   clip->file->duration_estimation_method != AVFMT_DURATION_FROM_BITRATE;
    return is_told ? av_rescale(clip->file->duration, LAMP_NS_PER_S, AV_TIME_BASE) : 0;
}

static void note_end(struct clip *clip)
{
    double end_ns = (double)clip->input->pace.first_ns +
                    lamp_pace_duration_s(&clip->input->pace) * LAMP_NS_PER_S;
    double told_ns = (double)told_length_ns(clip);
    double slack_ns = 3 * usual_interval_ns(clip) > 0.25e9 ? 3 * usual_interval_ns(clip) : 0.25e9;
    if (clip->is_broken) {
        lamp_notes_say(&clip->input->notes, NOTE_END,
                       "the file is damaged after %.1f s: the rest was not read", end_ns * 1e-9);
    } else if (told_ns > end_ns + slack_ns) {
        lamp_notes_say(&clip->input->notes, NOTE_END,
                       "the file ends after %.1f s of %.1f s: the rest is missing", end_ns * 1e-9,
                       told_ns * 1e-9);
    }
}

/* One step of decoding: LAMP_OK with an item, LAMP_END without. */
static enum lamp_err step(struct clip *clip, struct lamp_item *out)
{
    struct lamp_picture picture;
    enum lamp_err err = lamp_decoder_take(clip->decoder, &picture);
    if (err == LAMP_OK) {
        err = give(clip, &picture, out);
    } else if (err == LAMP_END && clip->is_fed_up) {
        clip->is_over = true;
        note_end(clip);
    } else if (err == LAMP_END) {
        err = feed(clip) == LAMP_NO_MEMORY ? LAMP_NO_MEMORY : LAMP_END;
    }
    if (err == LAMP_BAD_SOURCE) {
        note_damage(clip);
        return LAMP_END;
    }
    return err;
}

static enum lamp_err next_picture(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct clip *clip = state;
    while (!clip->is_over) {
        enum lamp_err err = step(clip, out);
        if (err != LAMP_END) {
            return err == LAMP_OK ? LAMP_OK : lamp_fail_memory(error);
        }
    }
    return LAMP_END;
}

static void describe_clip(const void *state, struct lamp_source_info *out)
{
    const struct clip *clip = state;
    out->width_px = clip->width_px;
    out->height_px = clip->height_px;
    out->rotation_deg = clip->turn_deg;
    if (lamp_decoder_is_paced(clip->decoder)) {
        out->dropped_count = 0;
    }
}

static double clip_progress(const void *state)
{
    const struct clip *clip = state;
    int64_t told_ns = told_length_ns(clip);
    if (clip->is_over) {
        return 1;
    }
    if (told_ns > 0) {
        return (double)clip->input->pace.last_ns / (double)told_ns;
    }
    int64_t size = clip->file->pb == NULL ? 0 : avio_size(clip->file->pb);
    return size > 0 ? (double)avio_tell(clip->file->pb) / (double)size : -1;
}

const struct lamp_form lamp_form_clip = {
    .kind = LAMP_SOURCE_CLIP,
    .suits = suits_clip,
    .open = open_clip,
    .next = next_picture,
    .describe = describe_clip,
    .progress = clip_progress,
    .close = close_clip,
};
