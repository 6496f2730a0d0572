/* reader.c - Take a recording through all stages, one item at a time. */
#include "pipeline/reader.h"

#include <stdlib.h>
#include <string.h>

#include "base/fail.h"

/* A pointer without a size is this share of the picture's width, and never less than can be
 * measured. */
enum { POINTER_SHARE = 40, POINTER_LEAST_PX = 6 };

struct lamp_reader_rules lamp_reader_rules_default(void)
{
    return (struct lamp_reader_rules){.viewer = lamp_viewer_rules_default(),
                                      .edger = lamp_edger_rules_default(),
                                      .rhythm = lamp_rhythm_rules_default(),
                                      .match = lamp_match_rules_default()};
}

static bool is_given_before(const struct lamp_reader_rules *rules, size_t index)
{
    for (size_t i = 0; i < index; i++) {
        if (strcmp(rules->pointer[i].name, rules->pointer[index].name) == 0) {
            return true;
        }
    }
    return false;
}

static enum lamp_err check_pointers(const struct lamp_reader_rules *rules, struct lamp_error *error)
{
    for (size_t i = 0; i < rules->pointer_count; i++) {
        if (is_given_before(rules, i)) {
            return lamp_fail(error, LAMP_BAD_USE, rules->pointer[i].name,
                             "two lamps are given this name; each needs its own");
        }
    }
    return LAMP_OK;
}

enum lamp_err lamp_reader_new(const struct lamp_reader_rules *rules, struct lamp_reader **out,
                              struct lamp_error *error)
{
    enum lamp_err failed = check_pointers(rules, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    struct lamp_reader *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return lamp_fail_memory(error);
    }
    made->rules = *rules;
    made->spool.file = rules->spool;
    *out = made;
    return LAMP_OK;
}

/* Where the user points, on the picture as decoded. */
static enum lamp_err place_pointer(const struct lamp_reader *reader,
                                   const struct lamp_pointer *pointer, struct lamp_region *out,
                                   struct lamp_error *error)
{
    int width_px = lamp_upright_width(&reader->pose);
    int height_px = lamp_upright_height(&reader->pose);
    int side_px =
        width_px / POINTER_SHARE > POINTER_LEAST_PX ? width_px / POINTER_SHARE : POINTER_LEAST_PX;
    bool has_size = pointer->w_px > 0 && pointer->h_px > 0;
    struct lamp_region upright = {pointer->x_px, pointer->y_px, pointer->w_px, pointer->h_px};
    if (!has_size) {
        upright = (struct lamp_region){pointer->x_px - side_px / 2, pointer->y_px - side_px / 2,
                                       side_px, side_px};
    }
    bool is_inside = pointer->x_px >= 0 && pointer->y_px >= 0 && pointer->x_px < width_px &&
                     pointer->y_px < height_px &&
                     (!has_size || (pointer->w_px <= width_px - pointer->x_px &&
                                    pointer->h_px <= height_px - pointer->y_px));
    if (!is_inside) {
        return lamp_fail(error, LAMP_BAD_USE, pointer->name,
                         "this lamp is pointed at outside of the picture, which is %d x %d pixels",
                         width_px, height_px);
    }
    *out = lamp_region_decoded(&reader->pose, &upright);
    return LAMP_OK;
}

static enum lamp_err point_all(struct lamp_reader *reader, struct lamp_error *error)
{
    for (size_t i = 0; i < reader->rules.pointer_count; i++) {
        struct lamp_region region;
        enum lamp_err failed = place_pointer(reader, &reader->rules.pointer[i], &region, error);
        if (failed == LAMP_OK) {
            failed = lamp_viewer_point(reader->viewer, &region);
        } else {
            return failed;
        }
        if (failed != LAMP_OK) {
            return lamp_fail(error, failed, reader->rules.pointer[i].name,
                             "one lamp too many is pointed at");
        }
    }
    return LAMP_OK;
}

static enum lamp_err begin_pictures(struct lamp_reader *reader, struct lamp_error *error)
{
    const struct lamp_source_info *info = &reader->info;
    reader->pose = (struct lamp_pose){info->width_px, info->height_px, info->rotation_deg};
    enum lamp_err failed = lamp_viewer_new(&reader->rules.viewer, &reader->viewer);
    return failed == LAMP_OK ? point_all(reader, error) : lamp_fail_memory(error);
}

/* A portrait is kept of the newest frame, whole, if a reading is of it. */
static enum lamp_err take_portrait(struct lamp_reader *reader, const struct lamp_frame *frame,
                                   const struct lamp_reading *reading)
{
    double level[LAMP_CHANNEL_COUNT];
    struct lamp_region region;
    struct lamp_kept_portrait *kept = &reader->portrait[reading->place];
    if (!reader->rules.keeps_portraits) {
        return LAMP_OK;
    }
    if (reading->begins) {
        lamp_portrait_fini(kept);
    }
    if (reading->t_ns != frame->t_ns || frame->is_partial ||
        !lamp_viewer_where(reader->viewer, reading->place, &region)) {
        return LAMP_OK;
    }
    lamp_bundle_levels(reading, level);
    return lamp_portrait_offer(kept, frame, &reader->pose, &region, level[LAMP_CHANNEL_ALL]);
}

static enum lamp_err take_reading(struct lamp_reader *reader, const struct lamp_reading *reading)
{
    struct lamp_bundle *bundle = &reader->bundle[reading->place];
    lamp_spool_reading(&reader->spool, reading);
    reader->life[reading->place] += reading->begins;
    if (reading->begins && reader->has_bundle[reading->place]) {
        lamp_bundle_fini(bundle);
        reader->has_bundle[reading->place] = false;
    }
    if (!reader->has_bundle[reading->place]) {
        enum lamp_err failed = lamp_bundle_init(bundle, &reader->rules.edger);
        if (failed != LAMP_OK) {
            return failed;
        }
        reader->has_bundle[reading->place] = true;
    }
    return lamp_bundle_push(bundle, reading);
}

static enum lamp_err take_frame(struct lamp_reader *reader, const struct lamp_frame *frame,
                                struct lamp_error *error)
{
    if (reader->viewer == NULL) {
        enum lamp_err failed = begin_pictures(reader, error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    enum lamp_err failed = lamp_viewer_push(reader->viewer, frame);
    if (failed == LAMP_BAD_SOURCE) {
        return lamp_fail(error, failed, reader->info.name,
                         "a picture of %d x %d pixels cannot be read after %d x %d",
                         frame->y.width_px, frame->y.height_px, reader->pose.width_px,
                         reader->pose.height_px);
    }
    struct lamp_reading reading;
    while (failed == LAMP_OK && lamp_viewer_next(reader->viewer, &reading)) {
        failed = take_reading(reader, &reading);
        failed = failed == LAMP_OK ? take_portrait(reader, frame, &reading) : failed;
    }
    return failed == LAMP_OK ? LAMP_OK : lamp_fail_memory(error);
}

/* The strand of a lamp of a trace, made when its first light comes. */
static enum lamp_err strand_for(struct lamp_reader *reader, const struct lamp_item *item,
                                struct lamp_strand **out, struct lamp_error *error)
{
    if (reader->rules.pointer_count > 0) {
        return lamp_fail(error, LAMP_BAD_USE, reader->rules.pointer[0].name,
                         "a trace has no picture to point at; its lamps have names of their own");
    }
    struct lamp_strand **strand = &reader->trace[item->lamp];
    if (*strand == NULL) {
        const struct lamp_edger_rules *rules =
            item->kind == LAMP_ITEM_SAMPLE ? &reader->rules.edger : NULL;
        if (lamp_strand_new(rules, strand) != LAMP_OK) {
            return lamp_fail_memory(error);
        }
    }
    *out = *strand;
    return LAMP_OK;
}

static enum lamp_err take_sample(struct lamp_reader *reader, const struct lamp_item *item,
                                 struct lamp_error *error)
{
    struct lamp_strand *strand = NULL;
    enum lamp_err failed = strand_for(reader, item, &strand, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    lamp_spool_sample(&reader->spool, item->lamp, &item->sample);
    failed = lamp_strand_push(strand, &item->sample, false);
    return failed == LAMP_OK ? LAMP_OK : lamp_fail_memory(error);
}

static enum lamp_err take_break(struct lamp_reader *reader, const struct lamp_item *item,
                                struct lamp_error *error)
{
    struct lamp_strand *strand = NULL;
    enum lamp_err failed = strand_for(reader, item, &strand, error);
    return failed == LAMP_OK ? lamp_strand_finish(strand, item->break_ns) : failed;
}

static enum lamp_err take_edge(struct lamp_reader *reader, const struct lamp_item *item,
                               struct lamp_error *error)
{
    struct lamp_strand *strand = NULL;
    enum lamp_err failed = strand_for(reader, item, &strand, error);
    if (failed == LAMP_OK) {
        lamp_strand_take_edge(strand, &item->edge);
    }
    return failed;
}

enum lamp_err lamp_reader_push(struct lamp_reader *reader, const struct lamp_source_info *info,
                               const struct lamp_item *item, struct lamp_error *error)
{
    reader->info = *info;
    if (!reader->has_first) {
        reader->has_first = true;
        reader->first_ns = lamp_item_time_ns(item);
    }
    switch (item->kind) {
    case LAMP_ITEM_SAMPLE: return take_sample(reader, item, error);
    case LAMP_ITEM_EDGE: return take_edge(reader, item, error);
    case LAMP_ITEM_BREAK: return take_break(reader, item, error);
    case LAMP_ITEM_FRAME: break;
    }
    return take_frame(reader, &item->frame, error);
}

enum lamp_err lamp_reader_take(struct lamp_reader *reader, struct lamp_source *source,
                               struct lamp_item *item, struct lamp_error *error)
{
    enum lamp_err answer = lamp_source_next(source, item, error);
    if (answer != LAMP_OK) {
        return answer;
    }
    struct lamp_source_info info = reader->info;
    if (!reader->has_first) {
        lamp_source_describe(source, &info);
    }
    answer = lamp_reader_push(reader, &info, item, error);
    if (answer == LAMP_OK && info.kind == LAMP_SOURCE_CAMERA) {
        struct lamp_picture_part part;
        lamp_viewer_focus(reader->viewer, &part);
        lamp_source_focus(source, &part);
    }
    return answer;
}

enum lamp_err lamp_reader_step(struct lamp_reader *reader, struct lamp_source *source,
                               struct lamp_error *error)
{
    struct lamp_item item;
    return lamp_reader_take(reader, source, &item, error);
}

/* The next lamp of the report that lies in the place of the reading last read; false if there is no
 * other. */
static bool next_lamp(struct lamp_reader *reader, size_t *lamp)
{
    while (reader->next_lamp < reader->told.report.lamp_count) {
        size_t at = reader->next_lamp++;
        if (reader->told.sighting[at].place == reader->spooled.place) {
            *lamp = at;
            return true;
        }
    }
    return false;
}

enum lamp_err lamp_reader_next_sample(struct lamp_reader *reader, size_t *lamp,
                                      struct lamp_sample *out)
{
    if (reader->spool.file == NULL) {
        return LAMP_BAD_USE;
    }
    while (!next_lamp(reader, lamp)) {
        enum lamp_err answer = lamp_spool_next(&reader->spool, &reader->spooled);
        if (answer != LAMP_OK) {
            return answer;
        }
        reader->next_lamp = 0;
    }
    const struct lamp_spooled *spooled = &reader->spooled;
    *out = (struct lamp_sample){.t_ns = spooled->t_ns,
                                .exposure_ns = spooled->exposure_ns,
                                .level = spooled->level[reader->told.sighting[*lamp].channel]};
    return LAMP_OK;
}

void lamp_reader_rewind_samples(struct lamp_reader *reader)
{
    lamp_spool_rewind(&reader->spool);
    reader->next_lamp = reader->told.report.lamp_count;
}

void lamp_reader_free(struct lamp_reader *reader)
{
    if (reader == NULL) {
        return;
    }
    for (size_t i = 0; i < LAMP_PLACES_MAX; i++) {
        if (reader->has_bundle[i]) {
            lamp_bundle_fini(&reader->bundle[i]);
        }
        lamp_portrait_fini(&reader->portrait[i]);
    }
    for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
        lamp_strand_free(reader->trace[i]);
    }
    lamp_viewer_free(reader->viewer);
    lamp_peeker_free(reader->peeker);
    free(reader);
}
