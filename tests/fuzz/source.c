/* source.c - Bytes as a recording: opened as a file, read to its end, every item held against what
 * sources promise. */
#include <stdbool.h>

#include "fuzz/fuzz.h"
#include "support/scratch.h"

struct lamp_source *fuzz_open(const uint8_t *bytes, size_t size, const char *ending)
{
    static bool has_folder;
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error = {.place = ""};
    char name[32];
    if (!has_folder) {
        MUST(scratch_begin());
        MUST(atexit(scratch_end) == 0);
        has_folder = true;
    }
    rules.thread_count = 1;
    (void)snprintf(name, sizeof name, "input%s", ending);
    enum lamp_err err = lamp_source_open(scratch_write(name, bytes, size), &rules, &source, &error);
    MUST(err == LAMP_OK || err == LAMP_BAD_SOURCE);
    if (err != LAMP_OK) {
        MUST(source == NULL);
        must_be_told(&error);
    }
    return source;
}

/* The corners of a plane can be read: a sanitizer sees where they cannot. */
static unsigned touch(const struct lamp_plane *plane, int bits)
{
    const uint8_t *first = plane->at;
    const uint8_t *last = first + (plane->height_px - 1) * plane->stride_bytes;
    size_t row = (size_t)plane->width_px * (bits > 8 ? 2 : 1);
    return (unsigned)first[0] + first[row - 1] + last[0] + last[row - 1];
}

static void check_frame(const struct lamp_frame *frame)
{
    const struct lamp_plane *planes[] = {&frame->y, &frame->u, &frame->v};
    unsigned sum = 0;
    MUST(frame->bits >= 8 && frame->bits <= 16 && frame->exposure_ns >= 0 && frame->y.at != NULL);
    MUST((frame->u.at == NULL) == (frame->v.at == NULL));
    for (int i = 0; i < 3; i++) {
        if (planes[i]->at != NULL) {
            MUST(planes[i]->width_px > 0 && planes[i]->height_px > 0);
            sum += touch(planes[i], frame->bits);
        }
    }
    MUST(sum <= 3 * 4 * UINT8_MAX); /* of no interest, but the bytes had to be read */
}

/* What one item must be; its time, and of which lamp it is. */
static int64_t check_item(const struct lamp_source *source, const struct lamp_item *item)
{
    if (item->kind == LAMP_ITEM_FRAME) {
        check_frame(&item->frame);
        return item->frame.t_ns;
    }
    MUST(item->lamp < lamp_source_lamp_count(source));
    MUST(lamp_source_lamp_name(source, item->lamp)[0] != '\0');
    if (item->kind == LAMP_ITEM_SAMPLE) {
        MUST(item->sample.level - item->sample.level == 0 && item->sample.exposure_ns >= 0);
        return item->sample.t_ns;
    }
    MUST(item->kind == LAMP_ITEM_BREAK || item->edge.sd_ns >= 0);
    return lamp_item_time_ns(item);
}

static void check_telling(const struct lamp_source *source, size_t count)
{
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    MUST(info.frame_count >= count && info.duration_s >= 0 && info.rate_hz >= 0);
    MUST(lamp_source_progress(source) <= 1);
    for (size_t i = 0; lamp_source_warning(source, i) != NULL; i++) {
        MUST(strchr(lamp_source_warning(source, i), '\n') == NULL);
    }
}

size_t fuzz_read(struct lamp_source *source, size_t most)
{
    int64_t newest_ns[LAMP_SOURCE_LAMPS_MAX];
    struct lamp_item item = {.lamp = 0};
    struct lamp_error error = {.place = ""};
    enum lamp_err err = LAMP_OK;
    size_t count = 0;
    for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
        newest_ns[i] = INT64_MIN;
    }
    while (count < most && (err = lamp_source_next(source, &item, &error)) == LAMP_OK) {
        int64_t t_ns = check_item(source, &item);
        size_t lamp = item.kind == LAMP_ITEM_FRAME ? 0 : item.lamp;
        MUST(t_ns >= newest_ns[lamp]);
        newest_ns[lamp] = t_ns;
        count++;
    }
    MUST(err == LAMP_OK || err == LAMP_END || err == LAMP_BAD_SOURCE);
    if (err == LAMP_BAD_SOURCE) {
        must_be_told(&error);
        MUST(lamp_source_next(source, &item, &error) == LAMP_BAD_SOURCE);
    }
    check_telling(source, count);
    return count;
}
