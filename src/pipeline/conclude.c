/* conclude.c - From all the light that was seen to a report. */
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "pipeline/naming.h"
#include "pipeline/reader.h"
#include "pipeline/select.h"
#include "pipeline/warn.h"

static enum lamp_err finish_light(struct lamp_reader *reader, int64_t end_ns)
{
    for (size_t i = 0; i < LAMP_PLACES_MAX; i++) {
        enum lamp_err failed =
            reader->has_bundle[i] ? lamp_bundle_finish(&reader->bundle[i]) : LAMP_OK;
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
        enum lamp_err failed =
            reader->trace[i] != NULL ? lamp_strand_finish(reader->trace[i], end_ns) : LAMP_OK;
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    return LAMP_OK;
}

/* What the strands saw, now that they are finished. */
static void see_light(const struct lamp_reader *reader, struct lamp_conclusion *out)
{
    for (size_t i = 0; i < LAMP_PLACES_MAX; i++) {
        for (size_t j = 0; reader->has_bundle[i] && j < LAMP_CHANNEL_COUNT; j++) {
            lamp_strand_see(reader->bundle[i].strand[j], &out->place[i][j]);
        }
    }
    for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
        if (reader->trace[i] != NULL) {
            lamp_strand_see(reader->trace[i], &out->trace[i]);
        }
    }
}

static void sight_places(const struct lamp_reader *reader, struct lamp_conclusion *out)
{
    size_t count = reader->viewer != NULL ? lamp_viewer_place_count(reader->viewer) : 0;
    for (size_t i = 0; i < count && i < LAMP_PLACES_MAX; i++) {
        if (!reader->has_bundle[i]) {
            continue;
        }
        struct lamp_place place;
        lamp_viewer_place(reader->viewer, i, &place);
        struct lamp_sighting *first = &out->sighting[out->sighting_count];
        size_t parts = lamp_sightings_of_place(&place, i, out->place[i], &reader->bundle[i].unison,
                                               &reader->rules.rhythm, first);
        for (size_t j = 0; j < parts; j++) {
            first[j].name = i < reader->rules.pointer_count ? reader->rules.pointer[i].name : NULL;
        }
        out->sighting_count += parts;
    }
}

static void sight_traces(const struct lamp_reader *reader, const struct lamp_source *source,
                         struct lamp_conclusion *out)
{
    for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
        if (reader->trace[i] != NULL) {
            const char *name = source != NULL ? lamp_source_lamp_name(source, i) : NULL;
            lamp_sighting_of_trace(name, i, &out->trace[i], &reader->rules.rhythm,
                                   &out->sighting[out->sighting_count++]);
        }
    }
}

/* Entries of books that the user did not choose are named, never told: the verdict stays the
 * rhythm's. */
static void match_shelf(const struct lamp_evidence *evidence, const struct lamp_reader_rules *rules,
                        struct lamp_match *match)
{
    struct lamp_match shelf;
    lamp_match(evidence, rules->shelf, rules->shelf_count, &rules->match, &shelf);
    match->candidate_count = 0;
    for (size_t i = 0; i < shelf.candidate_count; i++) {
        const struct lamp_candidate *candidate = &shelf.candidate[i];
        bool is_steady = candidate->code->pattern.kind == LAMP_PATTERN_STEADY_ON ||
                         candidate->code->pattern.kind == LAMP_PATTERN_STEADY_OFF;
        if (candidate->against[0] == '\0' && !is_steady) {
            match->candidate[match->candidate_count++] = *candidate;
        }
    }
}

static void match_lamp(const struct lamp_reader_rules *rules, const struct lamp_sighting *sighting,
                       struct lamp_report_lamp *lamp)
{
    bool is_known = sighting->name != NULL &&
                    lamp_name_is_known(sighting->name, rules->book, rules->book_count);
    struct lamp_evidence evidence = {.length = lamp->length,
                                     .length_count = lamp->length_count,
                                     .rhythm = &lamp->rhythm,
                                     .shape = sighting->view.has_shape ? &lamp->shape : NULL,
                                     .lamp_name = is_known ? sighting->name : NULL,
                                     .colour = lamp->colour};
    lamp_match(&evidence, rules->book, rules->book_count, &rules->match, &lamp->match);
    if (rules->book_count == 0 && rules->shelf_count > 0) {
        match_shelf(&evidence, rules, &lamp->match);
    }
    if (sighting->name != NULL && !is_known && rules->book_count > 0) {
        lamp_warn_lamp(lamp, "no chosen codebook has a lamp of this name: it is compared with the "
                             "codes of every lamp");
    }
}

static void fill_lamp(const struct lamp_reader *reader, const struct lamp_sighting *sighting,
                      struct lamp_report_lamp *lamp)
{
    lamp->colour = sighting->colour;
    lamp->has_region = sighting->has_region;
    if (sighting->has_region) {
        struct lamp_region inside = lamp_region_inside(&reader->pose, &sighting->region);
        lamp->region = lamp_region_upright(&reader->pose, &inside);
    }
    if (sighting->has_region && reader->portrait[sighting->place].rgb != NULL) {
        lamp->portrait = &reader->portrait[sighting->place].shown;
    }
    lamp->shape = sighting->view.shape;
    lamp->rhythm = sighting->rhythm;
    lamp->length = sighting->view.length;
    lamp->length_count = sighting->view.count;
    lamp->length_lost = sighting->view.lost;
}

static void fill_lamps(const struct lamp_reader *reader, size_t count, struct lamp_conclusion *out)
{
    struct lamp_report *report = &out->report;
    char name[LAMP_REPORT_LAMPS_MAX][LAMP_NAME_MAX];
    report->lamp_count = count < LAMP_REPORT_LAMPS_MAX ? count : LAMP_REPORT_LAMPS_MAX;
    lamp_name_all(out->sighting, report->lamp_count, reader->rules.book, reader->rules.book_count,
                  name);
    for (size_t i = 0; i < report->lamp_count; i++) {
        struct lamp_report_lamp *lamp = &report->lamp[i];
        memset(lamp, 0, sizeof *lamp);
        memcpy(lamp->name, name[i], LAMP_NAME_MAX);
        fill_lamp(reader, &out->sighting[i], lamp);
        match_lamp(&reader->rules, &out->sighting[i], lamp);
        lamp_warn_of_light(lamp, report);
    }
    lamp_warn_of_twins(report);
}

static void find_faults(const struct lamp_reader_rules *rules, struct lamp_report *report)
{
    struct lamp_lamp_state state[LAMP_REPORT_LAMPS_MAX];
    for (size_t i = 0; i < report->lamp_count; i++) {
        state[i] =
            (struct lamp_lamp_state){.name = report->lamp[i].name, .match = &report->lamp[i].match};
    }
    report->finding_count =
        lamp_findings_make(state, report->lamp_count, rules->given, rules->given_count, rules->book,
                           rules->book_count, report->finding);
}

static void warn_of_left_out(struct lamp_conclusion *out, size_t lamps)
{
    size_t count[LAMP_LEFT_OUT_COUNT] = {0};
    for (size_t i = lamps; i < out->sighting_count; i++) {
        count[out->sighting[i].left_out]++;
    }
    size_t unlike = count[LAMP_LEFT_OUT_UNLIKE];
    size_t reflections = count[LAMP_LEFT_OUT_REFLECTION];
    if (unlike > 0) {
        lamp_warn_report(&out->report, "left out: %zu light%s that %s not look like %s", unlike,
                         unlike == 1 ? "" : "s", unlike == 1 ? "does" : "do",
                         unlike == 1 ? "a lamp" : "lamps");
    }
    if (reflections > 0) {
        lamp_warn_report(&out->report, "left out: %zu reflection%s of the lamps above", reflections,
                         reflections == 1 ? "" : "s");
    }
    if (lamps > LAMP_REPORT_LAMPS_MAX) {
        lamp_warn_report(&out->report, "%zu lamps were seen; the brightest %d are told", lamps,
                         LAMP_REPORT_LAMPS_MAX);
    }
}

int64_t lamp_conclude_begin(const struct lamp_reader *reader, const struct lamp_source *source,
                            struct lamp_conclusion *out)
{
    struct lamp_report *report = &out->report;
    *report = (struct lamp_report){.lamp = out->lamp, .has_book = reader->rules.book_count > 0};
    report->source = reader->info;
    if (source != NULL) {
        lamp_source_describe(source, &report->source);
    }
    if (reader->viewer != NULL) {
        lamp_viewer_describe(reader->viewer, &report->counts);
    }
    const char *warning;
    for (size_t i = 0; source != NULL && (warning = lamp_source_warning(source, i)) != NULL; i++) {
        lamp_warn_report(report, "%s", warning);
    }
    lamp_warn_of_pictures(report);
    return reader->first_ns + (int64_t)(report->source.duration_s * LAMP_NS_PER_S);
}

void lamp_conclude(const struct lamp_reader *reader, const struct lamp_source *source,
                   struct lamp_conclusion *out)
{
    out->sighting_count = 0;
    sight_places(reader, out);
    sight_traces(reader, source, out);
    size_t lamps = lamp_select(out->sighting, out->sighting_count);
    warn_of_left_out(out, lamps);
    fill_lamps(reader, lamps, out);
    find_faults(&reader->rules, &out->report);
}

enum lamp_err lamp_reader_report(struct lamp_reader *reader, const struct lamp_source *source,
                                 const struct lamp_report **out)
{
    struct lamp_conclusion *told = &reader->told;
    enum lamp_err failed = finish_light(reader, lamp_conclude_begin(reader, source, told));
    if (failed != LAMP_OK) {
        return failed;
    }
    see_light(reader, told);
    lamp_conclude(reader, source, told);
    lamp_reader_rewind_samples(reader);
    *out = &told->report;
    return LAMP_OK;
}
