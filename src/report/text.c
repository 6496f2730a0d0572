/* text.c - The report for people: each lamp's verdict first, then what to do, then what was read.
 */
#include <string.h>

#include "base/number.h"
#include "lampread/report.h"
#include "report/page.h"
#include "report/reasons.h"
#include "report/telling.h"
#include "report/words.h"

enum { WIDTH_MIN = 40, CARES_MAX = 32 };

/* Cautions gathered from all that lists checks, each told once. */
struct cares {
    const char *at[CARES_MAX];
    size_t count;
};

static void add_cares(const struct lamp_strings *cautions, struct cares *cares)
{
    for (size_t i = 0; i < cautions->count; i++) {
        bool known = false;
        for (size_t j = 0; j < cares->count; j++) {
            known |= strcmp(cares->at[j], cautions->at[i]) == 0;
        }
        if (!known && cares->count < CARES_MAX) {
            cares->at[cares->count++] = cautions->at[i];
        }
    }
}

static void tell_finding(const struct lamp_finding *finding, struct lamp_page *page)
{
    lamp_page_heading(page, "Taken together");
    lamp_tell_row(&finding->suspect, "suspect", page);
    for (size_t i = 0; i < finding->because_count; i++) {
        lamp_page_item(page, i == 0 ? "because" : "", finding->because[i]);
    }
    lamp_tell_steps(&finding->check, "next", page);
    lamp_page_gap(page);
}

static void tell_cares(const struct cares *cares, struct lamp_page *page)
{
    for (size_t i = 0; i < cares->count; i++) {
        lamp_page_item(page, i == 0 ? "care" : "", cares->at[i]);
    }
    if (cares->count > 0) {
        lamp_page_gap(page);
    }
}

static void add_counts(const struct lamp_source_info *source, struct lamp_text *line)
{
    static const char *const items[] = {
        [LAMP_SOURCE_CLIP] = "frame",   [LAMP_SOURCE_STILLS] = "picture",
        [LAMP_SOURCE_TRACE] = "sample", [LAMP_SOURCE_EDGES] = "edge",
        [LAMP_SOURCE_CAMERA] = "frame", [LAMP_SOURCE_PIN] = "edge"};
    const char *item = items[source->kind];
    char number[32];
    lamp_text_add(line, ", %llu %s%s", (unsigned long long)source->frame_count, item,
                  source->frame_count == 1 ? "" : "s");
    if (source->rate_hz > 0) {
        lamp_number_format((double)(long)(source->rate_hz * 100 + 0.5) / 100, number,
                           sizeof number);
        lamp_text_add(line, " at %s a second", number);
    }
    if (source->dropped_count > 0) {
        lamp_text_add(line, ", %llu missing", (unsigned long long)source->dropped_count);
    }
    if (source->width_px > 0) {
        bool turned = source->rotation_deg % 180 != 0;
        lamp_text_add(line, ", %d x %d pixels", turned ? source->height_px : source->width_px,
                      turned ? source->width_px : source->height_px);
    }
}

static void tell_source(const struct lamp_report *report, struct lamp_page *page)
{
    static const char *const kinds[] = {
        [LAMP_SOURCE_CLIP] = "clip",     [LAMP_SOURCE_STILLS] = "stills",
        [LAMP_SOURCE_TRACE] = "trace",   [LAMP_SOURCE_EDGES] = "edges",
        [LAMP_SOURCE_CAMERA] = "camera", [LAMP_SOURCE_PIN] = "pin"};
    struct lamp_text line = {0};
    char time[32];
    lamp_words_plain(report->source.name, &line);
    lamp_words_time(report->source.duration_s, time, sizeof time);
    lamp_text_add(&line, ": %s of %s", kinds[report->source.kind], time);
    add_counts(&report->source, &line);
    page->text.failed |= line.failed;
    if (!line.failed) {
        lamp_page_item(page, "read", line.at);
    }
    lamp_text_fini(&line);
    for (size_t i = 0; i < report->warning_count; i++) {
        lamp_page_item(page, i == 0 ? "note" : "", report->warning[i]);
    }
}

static void tell_nothing(struct lamp_page *page)
{
    lamp_page_heading(page, "No lamp seen");
    lamp_page_item(page, "try",
                   "point at it: --lamp NAME=X,Y, in pixels from the top left of the picture");
    lamp_page_item(page, "", "or film from nearer, with less room light, the lamp in focus");
    lamp_page_gap(page);
}

enum lamp_err lamp_report_write_text(const struct lamp_report *report,
                                     const struct lamp_text_rules *rules, FILE *out)
{
    struct lamp_page page = {.width = rules->width < WIDTH_MIN ? WIDTH_MIN : rules->width,
                             .has_colour = rules->has_colour};
    struct cares cares = {.count = 0};
    struct lamp_strings usual = lamp_cautions();
    if (report->lamp_count == 0) {
        tell_nothing(&page);
    }
    for (size_t i = 0; i < report->lamp_count; i++) {
        if (lamp_tell(&report->lamp[i], report->has_book, rules->is_ascii, &page)) {
            add_cares(&usual, &cares);
        }
        if (rules->explains) {
            lamp_tell_reasons(&report->lamp[i], &page);
        }
        lamp_page_gap(&page);
    }
    for (size_t i = 0; i < report->finding_count; i++) {
        tell_finding(&report->finding[i], &page);
        add_cares(&report->finding[i].caution, &cares);
    }
    tell_cares(&cares, &page);
    tell_source(report, &page);
    return lamp_page_finish(&page, out);
}
