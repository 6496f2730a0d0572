/* plot.c - Draw what was read: a figure a lamp, on one sheet or on pages. */
#include "lampread/plot.h"

#include <stdlib.h>
#include <string.h>

#include "report/figure.h"

/* Around a figure, and an A4 page (ISO 216), pt. */
#define MARGIN_PT      18.0
#define PAGE_WIDTH_PT  595.28
#define PAGE_HEIGHT_PT 841.89
#define PAGE_TOP_PT    50.0
#define APART_PT       24.0

struct lamp_plot {
    const struct lamp_report *report;
    struct lamp_figure figure[LAMP_REPORT_LAMPS_MAX];
};

bool lamp_plot_format_of(const char *path, enum lamp_plot_format *out)
{
    static const char *const endings[] = {
        [LAMP_PLOT_SVG] = ".svg", [LAMP_PLOT_PNG] = ".png", [LAMP_PLOT_PDF] = ".pdf"};
    size_t size = strlen(path);
    for (int i = LAMP_PLOT_SVG; i <= LAMP_PLOT_PDF; i++) {
        if (size > 4 && strcmp(path + size - 4, endings[i]) == 0) {
            *out = (enum lamp_plot_format)i;
            return true;
        }
    }
    return false;
}

static struct lamp_columns *columns_for(const struct lamp_stretch_of_time *stretch)
{
    struct lamp_columns *made = calloc(1, sizeof *made);
    if (made != NULL) {
        made->start_ns = stretch->start_ns;
        made->span_ns = stretch->span_ns;
    }
    return made;
}

static enum lamp_err begin_figure(const struct lamp_report *report, size_t index,
                                  struct lamp_figure *out)
{
    const struct lamp_report_lamp *lamp = &report->lamp[index];
    out->report = report;
    out->lamp = lamp;
    enum lamp_err failed =
        lamp_repeats_find(lamp->length, lamp->length_count, &lamp->rhythm, &out->repeats);
    out->has_light = lamp_stretch_whole(lamp, &out->whole);
    if (failed != LAMP_OK || !out->has_light) {
        return failed;
    }
    lamp_stretch_choose(lamp, &out->repeats, &out->part);
    bool is_part = out->part.span_ns < out->whole.span_ns;
    out->detail = columns_for(&out->part);
    out->overview = is_part ? columns_for(&out->whole) : NULL;
    return out->detail == NULL || (is_part && out->overview == NULL) ? LAMP_NO_MEMORY : LAMP_OK;
}

enum lamp_err lamp_plot_new(const struct lamp_report *report, struct lamp_plot **out)
{
    struct lamp_plot *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    made->report = report;
    for (size_t i = 0; i < report->lamp_count; i++) {
        if (begin_figure(report, i, &made->figure[i]) != LAMP_OK) {
            lamp_plot_free(made);
            return LAMP_NO_MEMORY;
        }
    }
    *out = made;
    return LAMP_OK;
}

void lamp_plot_push(struct lamp_plot *plot, size_t lamp, const struct lamp_sample *sample)
{
    struct lamp_figure *figure = &plot->figure[lamp];
    if (figure->detail != NULL) {
        lamp_columns_push(figure->detail, sample);
    }
    if (figure->overview != NULL) {
        lamp_columns_push(figure->overview, sample);
    }
}

/* All figures one below another, or each on its page. @return the height of what was drawn. */
static double draw_all(const struct lamp_plot *plot, bool has_pages, struct lamp_paper *paper)
{
    double y_pt = MARGIN_PT;
    if (plot->report->lamp_count == 0) {
        const struct lamp_paper_words words = {.size_pt = 14, .is_bold = true};
        lamp_paper_place(paper, MARGIN_PT, MARGIN_PT);
        (void)lamp_paper_write(paper, 0, 14, &words, "No lamp seen");
        return MARGIN_PT * 3;
    }
    for (size_t i = 0; i < plot->report->lamp_count; i++) {
        if (has_pages) {
            lamp_paper_place(paper, (PAGE_WIDTH_PT - LAMP_FIGURE_WIDTH_PT) / 2, PAGE_TOP_PT);
            (void)lamp_figure_draw(&plot->figure[i], paper, 0);
            lamp_paper_turn(paper);
            continue;
        }
        lamp_paper_place(paper, MARGIN_PT, y_pt);
        y_pt += lamp_figure_draw(&plot->figure[i], paper, 0);
        y_pt += i + 1 < plot->report->lamp_count ? APART_PT : 0;
    }
    return y_pt + MARGIN_PT;
}

static enum lamp_err measure(const struct lamp_plot *plot, double *height_pt)
{
    struct lamp_paper *scratch;
    enum lamp_err failed = lamp_paper_new_scratch(&scratch);
    if (failed != LAMP_OK) {
        return failed;
    }
    *height_pt = draw_all(plot, false, scratch);
    return lamp_paper_finish(scratch);
}

enum lamp_err lamp_plot_write(const struct lamp_plot *plot, enum lamp_plot_format format, FILE *out)
{
    bool has_pages = format == LAMP_PLOT_PDF;
    double height_pt = PAGE_HEIGHT_PT;
    struct lamp_paper *paper;
    char title[512] = "No lamp seen";
    enum lamp_err failed = has_pages ? LAMP_OK : measure(plot, &height_pt);
    if (failed == LAMP_OK && plot->report->lamp_count > 0) {
        failed = lamp_report_headline(&plot->report->lamp[0], title, sizeof title);
    }
    double width_pt = has_pages ? PAGE_WIDTH_PT : LAMP_FIGURE_WIDTH_PT + 2 * MARGIN_PT;
    if (failed == LAMP_OK) {
        const struct lamp_paper_rules rules = {format, width_pt, height_pt, title};
        failed = lamp_paper_new(&rules, out, &paper);
    }
    if (failed != LAMP_OK) {
        return failed;
    }
    (void)draw_all(plot, has_pages, paper);
    return lamp_paper_finish(paper);
}

void lamp_plot_free(struct lamp_plot *plot)
{
    for (size_t i = 0; plot != NULL && i < LAMP_REPORT_LAMPS_MAX; i++) {
        lamp_repeats_fini(&plot->figure[i].repeats);
        free(plot->figure[i].overview);
        free(plot->figure[i].detail);
    }
    free(plot);
}
