/* stills.c - A folder of numbered pictures: each number is one frame, a number that is missing a
 * dropped one. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/decoder.h"
#include "source/form.h"
#include "source/picture.h"
#include "source/series.h"

/* Largest file of one picture, bytes. */
enum { STILL_BYTES_MAX = 256 * 1024 * 1024 };

/* Of a series of LAMP_SERIES_DIGITS_MAX digits the last time still fits its type. */
static const double rate_least_hz = 0.5;
static const double rate_most_hz = 1e6;

enum still_note { NOTE_OTHERS = 1, NOTE_DAMAGED, NOTE_SIZE };

struct stills {
    struct lamp_input *input;
    struct lamp_series series;
    size_t next;
    uint32_t last_number;
    struct lamp_decoder *decoder;
    struct lamp_keeper *keeper;
    unsigned char *bytes; /* Of one file. */
    size_t room;
    int width_px;
    int height_px;
    int turn_deg;
    uint64_t damaged_count;
    uint64_t odd_size_count;
    char first_damaged[LAMP_SERIES_NAME_MAX];
};

static bool suits_stills(const struct lamp_sniff *sniff)
{
    return sniff->is_folder;
}

static void close_stills(void *state)
{
    struct stills *stills = state;
    lamp_series_fini(&stills->series);
    lamp_decoder_free(stills->decoder);
    lamp_keeper_free(stills->keeper);
    free(stills->bytes);
    free(stills);
}

static enum lamp_err open_stills(struct lamp_input *input, const struct lamp_sniff *sniff,
                                 void **state, struct lamp_error *error)
{
    (void)sniff;
    if (!(input->rules.stills_rate_hz >= rate_least_hz &&
          input->rules.stills_rate_hz <= rate_most_hz)) {
        return lamp_fail(error, LAMP_BAD_USE, input->name,
                         "the frame rate of stills must be from 0.5 to 1000000 Hz");
    }
    struct stills *stills = calloc(1, sizeof *stills);
    if (stills == NULL) {
        return lamp_fail_memory(error);
    }
    stills->input = input;
    enum lamp_err err = lamp_keeper_new(&stills->keeper);
    err = err == LAMP_OK ? lamp_series_find(input->name, &stills->series, error)
                         : lamp_fail_memory(error);
    if (err != LAMP_OK) {
        close_stills(stills);
        return err;
    }
    if (stills->series.other_count > 0) {
        lamp_notes_say(&input->notes, NOTE_OTHERS,
                       "other pictures in the folder, not of the series: %zu",
                       stills->series.other_count);
    }
    *state = stills;
    return LAMP_OK;
}

static bool make_room(struct stills *stills, size_t size)
{
    if (size > stills->room) {
        unsigned char *grown = realloc(stills->bytes, size);
        if (grown == NULL) {
            return false;
        }
        stills->bytes = grown;
        stills->room = size;
    }
    return true;
}

/* A whole open file with the padding that decoders want behind it. */
static enum lamp_err read_bytes(struct stills *stills, FILE *file, size_t *size)
{
    if (fseek(file, 0, SEEK_END) != 0) {
        return LAMP_BAD_SOURCE;
    }
    long end = ftell(file);
    if (end <= 0 || end > STILL_BYTES_MAX || fseek(file, 0, SEEK_SET) != 0) {
        return LAMP_BAD_SOURCE;
    }
    if (!make_room(stills, (size_t)end + LAMP_STILL_PADDING)) {
        return LAMP_NO_MEMORY;
    }
    *size = fread(stills->bytes, 1, (size_t)end, file);
    memset(stills->bytes + *size, 0, LAMP_STILL_PADDING);
    return *size == (size_t)end ? LAMP_OK : LAMP_BAD_SOURCE;
}

static enum lamp_err read_still(struct stills *stills, const char *name, size_t *size)
{
    size_t path_size = strlen(stills->input->name) + strlen(name) + 2;
    char *path = malloc(path_size);
    if (path == NULL) {
        return LAMP_NO_MEMORY;
    }
    (void)snprintf(path, path_size, "%s/%s", stills->input->name, name);
    FILE *file = fopen(path, "rb");
    free(path);
    if (file == NULL) {
        return LAMP_BAD_SOURCE;
    }
    enum lamp_err err = read_bytes(stills, file, size);
    (void)fclose(file);
    return err;
}

static enum lamp_err decode_still(struct stills *stills, size_t size, struct lamp_picture *out)
{
    enum lamp_err err = LAMP_OK;
    if (stills->decoder == NULL || !lamp_decoder_suits(stills->decoder, stills->bytes, size)) {
        lamp_decoder_free(stills->decoder);
        stills->decoder = NULL;
        err = lamp_decoder_new_still(stills->bytes, size, &stills->decoder);
    }
    if (err == LAMP_OK) {
        err = lamp_decoder_feed_still(stills->decoder, stills->bytes, size);
    }
    if (err == LAMP_OK) {
        err = lamp_decoder_take(stills->decoder, out);
    }
    return err == LAMP_END ? LAMP_BAD_SOURCE : err;
}

static void note_damaged(struct stills *stills, const char *name)
{
    if (stills->damaged_count++ == 0) {
        (void)snprintf(stills->first_damaged, sizeof stills->first_damaged, "%s", name);
    }
    char shown[LAMP_WORD_SHOWN_MAX];
    lamp_notes_say(&stills->input->notes, NOTE_DAMAGED,
                   "pictures that cannot be decoded: %" PRIu64 ", first %s", stills->damaged_count,
                   lamp_word_shown(stills->first_damaged, shown));
}

static bool has_the_size(struct stills *stills, const struct lamp_picture *picture)
{
    if (stills->input->pace.item_count == 0) {
        stills->width_px = picture->width_px;
        stills->height_px = picture->height_px;
        stills->turn_deg = picture->turn_deg > 0 ? picture->turn_deg : 0;
    }
    if (picture->width_px == stills->width_px && picture->height_px == stills->height_px) {
        return true;
    }
    stills->odd_size_count++;
    lamp_notes_say(&stills->input->notes, NOTE_SIZE,
                   "pictures left out because they are not %dx%d like the first: %" PRIu64,
                   stills->width_px, stills->height_px, stills->odd_size_count);
    return false;
}

static int64_t time_of(const struct stills *stills, uint32_t number)
{
    double frames = (double)number - (double)stills->series.item[0].number;
    return (int64_t)llround(frames / stills->input->rules.stills_rate_hz * LAMP_NS_PER_S);
}

/* The picture at `index`; LAMP_BAD_SOURCE if it cannot be decoded, LAMP_END if it was left out for
 * its size. */
static enum lamp_err give(struct stills *stills, size_t index, const char *name,
                          struct lamp_item *out)
{
    size_t size = 0;
    struct lamp_picture picture;
    enum lamp_err err = read_still(stills, name, &size);
    if (err == LAMP_OK) {
        err = decode_still(stills, size, &picture);
    }
    if (err != LAMP_OK) {
        return err;
    }
    if (!has_the_size(stills, &picture)) {
        return LAMP_END;
    }
    struct lamp_item item = {.kind = LAMP_ITEM_FRAME};
    err = lamp_keeper_keep(stills->keeper, picture.frame, lamp_decoder_is_photo(stills->decoder),
                           &item.frame);
    if (err != LAMP_OK) {
        return err;
    }
    stills->last_number = stills->series.item[index].number;
    item.frame.t_ns = time_of(stills, stills->last_number);
    item.frame.exposure_ns = picture.exposure_ns;
    lamp_pace_push(&stills->input->pace, 0, item.frame.t_ns,
                   (int64_t)llround(LAMP_NS_PER_S / stills->input->rules.stills_rate_hz));
    *out = item;
    return LAMP_OK;
}

static enum lamp_err next_still(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct stills *stills = state;
    while (stills->next < stills->series.count) {
        char name[LAMP_SERIES_NAME_MAX];
        lamp_series_name(&stills->series, stills->next, name);
        enum lamp_err err = give(stills, stills->next++, name, out);
        if (err == LAMP_OK) {
            return err;
        }
        if (err == LAMP_NO_MEMORY) {
            return lamp_fail_memory(error);
        }
        if (err == LAMP_BAD_SOURCE) {
            note_damaged(stills, name);
        }
    }
    return LAMP_END;
}

static void describe_stills(const void *state, struct lamp_source_info *out)
{
    const struct stills *stills = state;
    out->width_px = stills->width_px;
    out->height_px = stills->height_px;
    out->rotation_deg = stills->turn_deg;
    out->rate_hz = stills->input->rules.stills_rate_hz;
    if (out->frame_count > 0) {
        out->dropped_count =
            (uint64_t)stills->last_number - stills->series.item[0].number + 1 - out->frame_count;
    }
}

static double stills_progress(const void *state)
{
    const struct stills *stills = state;
    return (double)stills->next / (double)stills->series.count;
}

const struct lamp_form lamp_form_stills = {
    .kind = LAMP_SOURCE_STILLS,
    .suits = suits_stills,
    .open = open_stills,
    .next = next_still,
    .describe = describe_stills,
    .progress = stills_progress,
    .close = close_stills,
};
