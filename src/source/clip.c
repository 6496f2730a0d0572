/* clip.c - Video files: pictures with their time, in order, as far as the file is whole. */
#include <inttypes.h>
#include <stdlib.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/container.h"
#include "source/decoder.h"
#include "source/form.h"
#include "source/picture.h"

/* A file may end so much before the length it claims, and three intervals, without a word. */
static const double end_slack_ns = 0.25e9;

enum clip_note { NOTE_DAMAGED = 1, NOTE_BACKWARD, NOTE_UNSTAMPED, NOTE_SIZE, NOTE_END };

struct clip {
    struct lamp_input *input;
    struct lamp_container *container;
    struct lamp_decoder *decoder;
    struct lamp_keeper *keeper;
    int width_px;
    int height_px;
    int turn_deg;
    bool is_fed_up; /* No packet is left. */
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
    lamp_container_free(clip->container);
    free(clip);
}

static enum lamp_err open_decoder(struct clip *clip, struct lamp_error *error)
{
    const struct AVCodecParameters *coded = lamp_container_coded(clip->container);
    enum lamp_err err = lamp_keeper_new(&clip->keeper);
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
    clip->input = input;
    enum lamp_err err = lamp_container_open(sniff, &clip->container, error);
    if (err == LAMP_OK) {
        err = open_decoder(clip, error);
    }
    if (err != LAMP_OK) {
        close_clip(clip);
        return err;
    }
    lamp_container_picture(clip->container, &clip->width_px, &clip->height_px, &clip->turn_deg);
    *state = clip;
    return LAMP_OK;
}

static void note_damage(struct clip *clip)
{
    clip->damaged_count++;
    lamp_notes_say(&clip->input->notes, NOTE_DAMAGED, "damaged pictures left out: %" PRIu64,
                   clip->damaged_count);
}

static enum lamp_err feed(struct clip *clip)
{
    const struct AVPacket *packet = NULL;
    enum lamp_err err = lamp_container_read(clip->container, &packet);
    if (err == LAMP_END) {
        clip->is_fed_up = true;
        packet = NULL;
    }
    if (err == LAMP_OK || err == LAMP_END) {
        err = lamp_decoder_feed(clip->decoder, packet);
    }
    if (err == LAMP_BAD_SOURCE) {
        note_damage(clip);
        return LAMP_OK;
    }
    return err;
}

static double usual_interval_ns(const struct clip *clip)
{
    double interval_ns = lamp_pace_interval_ns(&clip->input->pace);
    return interval_ns > 0 ? interval_ns : lamp_container_interval_ns(clip->container);
}

/* When a picture was taken; one without a time stamp follows the one before at the usual interval.
 */
static int64_t time_of(struct clip *clip, int64_t stamp)
{
    const struct lamp_pace *pace = &clip->input->pace;
    int64_t t_ns;
    if (lamp_container_time_ns(clip->container, stamp, &t_ns)) {
        return t_ns;
    }
    clip->unstamped_count++;
    lamp_notes_say(&clip->input->notes, NOTE_UNSTAMPED,
                   "pictures without a time stamp, timed by the frame rate: %" PRIu64,
                   clip->unstamped_count);
    return pace->item_count == 0 ? 0 : pace->last_ns + (int64_t)usual_interval_ns(clip);
}

/* Whether the picture is of the size of those before it; the first one says what that is. */
static bool has_the_size(struct clip *clip, const struct lamp_picture *picture)
{
    const struct lamp_pace *pace = &clip->input->pace;
    if (pace->item_count == 0) {
        clip->width_px = picture->width_px;
        clip->height_px = picture->height_px;
        clip->turn_deg = picture->turn_deg >= 0 ? picture->turn_deg : clip->turn_deg;
    }
    if (picture->width_px == clip->width_px && picture->height_px == clip->height_px) {
        return true;
    }
    clip->is_over = true;
    lamp_notes_say(&clip->input->notes, NOTE_SIZE,
                   "the picture changes from %dx%d to %dx%d after %.1f s: the rest was not read",
                   clip->width_px, clip->height_px, picture->width_px, picture->height_px,
                   (double)pace->last_ns * 1e-9);
    return false;
}

static bool is_in_order(struct clip *clip, int64_t t_ns)
{
    const struct lamp_pace *pace = &clip->input->pace;
    if (pace->item_count == 0 || t_ns >= pace->last_ns) {
        return true;
    }
    clip->backward_count++;
    lamp_notes_say(&clip->input->notes, NOTE_BACKWARD,
                   "pictures left out because they go back in time: %" PRIu64,
                   clip->backward_count);
    return false;
}

/* One decoded picture to an item; LAMP_END where it was left out. */
static enum lamp_err give(struct clip *clip, const struct lamp_picture *picture,
                          struct lamp_item *out)
{
    int64_t t_ns = time_of(clip, picture->stamp);
    if (!has_the_size(clip, picture) || !is_in_order(clip, t_ns)) {
        return LAMP_END;
    }
    struct lamp_item item = {.kind = LAMP_ITEM_FRAME};
    enum lamp_err err = lamp_keeper_keep(clip->keeper, picture->frame,
                                         lamp_decoder_is_photo(clip->decoder), &item.frame);
    if (err != LAMP_OK) {
        return err;
    }
    item.frame.t_ns = t_ns;
    item.frame.exposure_ns = picture->exposure_ns;
    item.frame.coded = picture->coded;
    item.frame.coded_size = picture->coded_size;
    lamp_pace_push(&clip->input->pace, 0, t_ns,
                   lamp_container_length_ns(clip->container, picture->length));
    *out = item;
    return LAMP_OK;
}

static void note_end(struct clip *clip)
{
    const struct lamp_pace *pace = &clip->input->pace;
    double end_ns = (double)pace->first_ns + lamp_pace_duration_s(pace) * LAMP_NS_PER_S;
    double told_ns = (double)lamp_container_told_ns(clip->container);
    if (lamp_container_is_broken(clip->container)) {
        lamp_notes_say(&clip->input->notes, NOTE_END,
                       "the file is damaged after %.1f s: the rest was not read", end_ns * 1e-9);
    } else if (told_ns > end_ns + end_slack_ns && told_ns > end_ns + 3 * usual_interval_ns(clip)) {
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
    int64_t told_ns = lamp_container_told_ns(clip->container);
    if (clip->is_over) {
        return 1;
    }
    return told_ns > 0 ? (double)clip->input->pace.last_ns / (double)told_ns
                       : lamp_container_progress(clip->container);
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
