/* figure_light.c - A lamp's light over time: overview, samples, levels, edges, flashes, entries. */
#include <math.h>
#include <stdio.h>

#include "report/figure.h"
#include "report/lay.h"
#include "report/words.h"

#define LIGHT_HEIGHT_PT    92.0
#define OVERVIEW_HEIGHT_PT 22.0
#define FLASH_HEIGHT_PT    10.0
#define EDGE_HALF_PT       13.0
#define STEADY_HEIGHT_PT   44.0

enum { ENTRIES_DRAWN = 3 };

struct scale {
    double top_pt;
    double height_pt;
    double low;
    double high;
};

static struct scale scale_of(const struct lamp_columns *columns, double top_pt, double height_pt)
{
    struct scale scale = {.top_pt = top_pt, .height_pt = height_pt, .low = 0, .high = 1};
    if (lamp_columns_range(columns, &scale.low, &scale.high)) {
        scale.low = fmin(scale.low, 0);
        double margin = 0.06 * fmax(scale.high - scale.low, 1e-6);
        scale.low -= margin;
        scale.high += margin;
    }
    return scale;
}

static double y_of(const struct scale *scale, double level)
{
    double share = (level - scale->low) / (scale->high - scale->low);
    return scale->top_pt + scale->height_pt * (1 - share);
}

static bool is_exact(const struct lamp_columns *columns)
{
    for (size_t i = 0; i < LAMP_COLUMNS; i++) {
        if (columns->at[i].count > 1) {
            return false;
        }
    }
    return true;
}

/* Samples one by one: a thin line joins them, a dot marks each where there is room. */
static void draw_exact(const struct lamp_columns *columns, const struct lamp_figure_axis *axis,
                       const struct scale *scale, bool has_dots, struct lamp_paper *paper)
{
    double last[2] = {0, 0};
    bool has_last = false;
    for (size_t i = 0; i < LAMP_COLUMNS; i++) {
        const struct lamp_column *column = &columns->at[i];
        if (column->count == 0) {
            continue;
        }
        double here[2] = {lamp_figure_x(axis, (double)column->first_ns), y_of(scale, column->low)};
        if (has_last) {
            lamp_paper_line(paper, last, here, (struct lamp_paper_pen){LAMP_PAPER_DARK, 0.5, 0});
        }
        if (has_dots) {
            lamp_paper_fill(paper, (double[4]){here[0] - 0.8, here[1] - 0.8, 1.6, 1.6},
                            LAMP_PAPER_BLACK);
        }
        last[0] = here[0];
        last[1] = here[1];
        has_last = true;
    }
}

/* The range of each column, reaching to that of the one before: what the light did between them. */
static void draw_ranges(const struct lamp_columns *columns, const struct lamp_figure_axis *axis,
                        const struct scale *scale, struct lamp_paper *paper)
{
    double width_pt = fmax(axis->width_pt / LAMP_COLUMNS, 0.5);
    const struct lamp_column *last = NULL;
    for (size_t i = 0; i < LAMP_COLUMNS; i++) {
        const struct lamp_column *column = &columns->at[i];
        if (column->count == 0) {
            continue;
        }
        float high = last != NULL ? fmaxf(column->high, last->low) : column->high;
        float low = last != NULL ? fminf(column->low, last->high) : column->low;
        double left_pt = axis->left_pt + axis->width_pt * (double)i / LAMP_COLUMNS;
        double top_pt = y_of(scale, high);
        lamp_paper_fill(
            paper, (double[4]){left_pt, top_pt, width_pt, fmax(y_of(scale, low) - top_pt, 0.5)},
            LAMP_PAPER_DARK);
        last = column;
    }
}

static void draw_samples(const struct lamp_columns *columns, const struct lamp_figure_axis *axis,
                         const struct scale *scale, struct lamp_paper *paper)
{
    if (is_exact(columns)) {
        double count = 0;
        for (size_t i = 0; i < LAMP_COLUMNS; i++) {
            count += columns->at[i].count;
        }
        draw_exact(columns, axis, scale, axis->width_pt > 2.2 * count, paper);
    } else {
        draw_ranges(columns, axis, scale, paper);
    }
}

static bool is_in(const struct lamp_length *length, const struct lamp_figure_axis *axis)
{
    return lamp_length_end_ns(length) > axis->start_ns &&
           length->start_ns < axis->start_ns + axis->span_ns;
}

static bool edge_is_in(const struct lamp_length *length, const struct lamp_figure_axis *axis)
{
    return !length->cut_before && length->start_ns >= axis->start_ns &&
           length->start_ns <= axis->start_ns + axis->span_ns;
}

/* The edge that begins length `i`: its sd is not kept apart, that of a length is of both its ends.
 */
static double sd_of_edge(const struct lamp_length *length)
{
    return (double)length->sd_ns / sqrt(2);
}

static void draw_edges(const struct lamp_report_lamp *lamp, const struct lamp_figure_axis *axis,
                       const struct scale *scale, struct lamp_paper *paper)
{
    double middle_pt = scale->top_pt + scale->height_pt / 2;
    for (size_t i = 0; i < lamp->length_count; i++) {
        const struct lamp_length *length = &lamp->length[i];
        if (!edge_is_in(length, axis)) {
            continue;
        }
        double t_ns = (double)length->start_ns;
        double x_pt = lamp_figure_x(axis, t_ns);
        double sd_ns = sd_of_edge(length);
        lamp_paper_line(paper, (double[2]){x_pt, middle_pt - EDGE_HALF_PT},
                        (double[2]){x_pt, middle_pt + EDGE_HALF_PT},
                        (struct lamp_paper_pen){LAMP_PAPER_BLUE, 0.5, 0});
        lamp_paper_line(paper, (double[2]){lamp_figure_x(axis, t_ns - 2 * sd_ns), middle_pt},
                        (double[2]){lamp_figure_x(axis, t_ns + 2 * sd_ns), middle_pt},
                        (struct lamp_paper_pen){LAMP_PAPER_BLUE, 2, 0});
    }
}

static void draw_level(const struct lamp_figure_axis *axis, const struct scale *scale, double level,
                       const char *name, struct lamp_paper *paper)
{
    char text[48];
    double y_pt = y_of(scale, level);
    const struct lamp_paper_words words = {
        .size_pt = 7.5, .side = LAMP_PAPER_RIGHT, .ink = LAMP_PAPER_DARK};
    (void)snprintf(text, sizeof text, "%s %.2g", name, fabs(level) < 0.0005 ? 0 : level);
    lamp_paper_line(paper, (double[2]){axis->left_pt, y_pt},
                    (double[2]){axis->left_pt + axis->width_pt, y_pt},
                    (struct lamp_paper_pen){LAMP_PAPER_GREY, 0.7, 3});
    (void)lamp_paper_write(paper, axis->left_pt - 3, y_pt + 2.5, &words, text);
}

/* Light begins at 0, which is told where it is not the dark level anyway. */
static void draw_zero(const struct lamp_figure_axis *axis, const struct scale *scale,
                      double dark_level, struct lamp_paper *paper)
{
    if (dark_level > 0.15 * scale->high) {
        draw_level(axis, scale, 0, "", paper);
    }
}

static void draw_levels(const struct lamp_report_lamp *lamp, const struct lamp_figure_axis *axis,
                        const struct scale *scale, struct lamp_paper *paper)
{
    bool has_two = lamp->shape.shape == LAMP_SHAPE_TWO_LEVEL && lamp->length_count > 1;
    if (has_two) {
        draw_zero(axis, scale, lamp->shape.dark_level, paper);
        draw_level(axis, scale, lamp->shape.dark_level, "dark", paper);
        draw_level(axis, scale, lamp->shape.lit_level, "lit", paper);
    } else if (lamp->shape.shape == LAMP_SHAPE_CONSTANT) {
        draw_level(axis, scale, lamp->shape.lit_level, lamp->shape.is_lit ? "lit" : "dark", paper);
    }
}

/* Black for lit, a line for dark, each flash named where there is room. */
static double draw_flashes(const struct lamp_report_lamp *lamp, const struct lamp_figure_axis *axis,
                           struct lamp_paper *paper, double y_pt, bool has_names)
{
    static const char *const names[] = {
        [LAMP_TAKEN_SHORT] = "s",     [LAMP_TAKEN_LONG] = "L",    [LAMP_TAKEN_GAP] = "",
        [LAMP_TAKEN_PAUSE] = "pause", [LAMP_TAKEN_REST] = "rest", [LAMP_TAKEN_ODD] = "?",
        [LAMP_TAKEN_CUT] = ""};
    double base_pt = y_pt + FLASH_HEIGHT_PT;
    for (size_t i = 0; i < lamp->length_count; i++) {
        const struct lamp_length *length = &lamp->length[i];
        if (!is_in(length, axis)) {
            continue;
        }
        double from_pt = lamp_figure_x(axis, (double)length->start_ns);
        double to_pt = lamp_figure_x(axis, (double)lamp_length_end_ns(length));
        enum lamp_taken taken = lamp_taken_for(length, &lamp->rhythm.timing);
        const struct lamp_paper_words words = {.size_pt = 7.5,
                                               .side = LAMP_PAPER_MIDDLE,
                                               .ink = taken == LAMP_TAKEN_ODD ? LAMP_PAPER_RED
                                                                              : LAMP_PAPER_BLACK};
        if (length->lit) {
            lamp_paper_fill(paper, (double[4]){from_pt, y_pt, to_pt - from_pt, FLASH_HEIGHT_PT},
                            LAMP_PAPER_BLACK);
        } else {
            lamp_paper_line(paper, (double[2]){from_pt, base_pt}, (double[2]){to_pt, base_pt},
                            (struct lamp_paper_pen){LAMP_PAPER_BLACK, 0.6, 0});
        }
        bool has_room = to_pt - from_pt >
                        (length->lit ? 3 : lamp_paper_measure(paper, &words, names[taken]) + 2);
        if (has_names && has_room) {
            (void)lamp_paper_write(paper, (from_pt + to_pt) / 2, base_pt + 8.5, &words,
                                   names[taken]);
        }
    }
    return base_pt + (has_names ? 13 : 5);
}

static bool has_edges(const struct lamp_report_lamp *lamp)
{
    return lamp->length_count > 1 && lamp->match.verdict != LAMP_VERDICT_FADE;
}

static void outline_wave(const struct lamp_wave *wave, const struct lamp_laid *laid,
                         const struct lamp_figure_axis *axis, struct lamp_paper *paper, double y_pt)
{
    double end_ns = (double)(axis->start_ns + axis->span_ns);
    double at_ns =
        laid->start_ns +
        floor(((double)axis->start_ns - laid->start_ns) / laid->period_ns) * laid->period_ns;
    for (size_t k = 0; at_ns < end_ns; k = (k + 1) % wave->count) {
        double next_ns = at_ns + laid->scale * (double)wave->length_ns[k];
        if (k % 2 == 0 && next_ns > (double)axis->start_ns) {
            double from_pt = lamp_figure_x(axis, at_ns);
            double box[4] = {from_pt, y_pt, lamp_figure_x(axis, next_ns) - from_pt, 7};
            lamp_paper_fill(paper, box, LAMP_PAPER_LIGHT);
            lamp_paper_outline(paper, box, (struct lamp_paper_pen){LAMP_PAPER_DARK, 0.6, 0});
        }
        at_ns = next_ns;
    }
    lamp_paper_line(paper, (double[2]){axis->left_pt, y_pt + 7},
                    (double[2]){axis->left_pt + axis->width_pt, y_pt + 7},
                    (struct lamp_paper_pen){LAMP_PAPER_DARK, 0.5, 0});
}

/* The lengths that touch the axis. */
static const struct lamp_length *lengths_in(const struct lamp_report_lamp *lamp,
                                            const struct lamp_figure_axis *axis, size_t *count)
{
    size_t first = 0;
    while (first < lamp->length_count && !is_in(&lamp->length[first], axis)) {
        first++;
    }
    *count = 0;
    while (first + *count < lamp->length_count && is_in(&lamp->length[first + *count], axis)) {
        ++*count;
    }
    return &lamp->length[first];
}

static bool is_drawable(const struct lamp_laid *laid, const struct lamp_wave *wave,
                        const struct lamp_figure_axis *axis)
{
    double cycles = (double)axis->span_ns / laid->period_ns;
    return cycles * (double)wave->count < 2 * axis->width_pt;
}

double lamp_figure_draw_entries(const struct lamp_figure *figure,
                                const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                                double y_pt)
{
    const struct lamp_match *match = &figure->lamp->match;
    size_t most = match->has_entry ? 1 : ENTRIES_DRAWN;
    size_t count;
    const struct lamp_length *length = lengths_in(figure->lamp, axis, &count);
    for (size_t i = 0; figure->report->has_book && i < match->candidate_count && i < most; i++) {
        const struct lamp_candidate *candidate = &match->candidate[i];
        const struct lamp_wave *wave = &candidate->code->wave;
        struct lamp_laid laid;
        if (!lamp_lay(wave, candidate->scale > 0 ? candidate->scale : 1, length, count, &laid) ||
            !is_drawable(&laid, wave, axis)) {
            continue;
        }
        struct lamp_text text = {0};
        lamp_text_add(&text, "entry %s, played at %.2f of the book's lengths%s%s",
                      candidate->code->id, laid.scale,
                      candidate->against[0] != '\0' ? "; against it: " : "", candidate->against);
        y_pt = lamp_figure_caption(paper, y_pt - 2, lamp_paper_text(paper, &text));
        lamp_text_fini(&text);
        outline_wave(wave, &laid, axis, paper, y_pt);
        y_pt += 12;
    }
    return y_pt;
}

static double draw_overview(const struct lamp_figure *figure, struct lamp_paper *paper, double y_pt)
{
    struct lamp_figure_axis axis = {LAMP_FIGURE_LEFT_PT, LAMP_FIGURE_WIDTH_PT - LAMP_FIGURE_LEFT_PT,
                                    figure->whole.start_ns, figure->whole.span_ns};
    double from_pt = lamp_figure_x(&axis, (double)figure->part.start_ns);
    double to_pt = lamp_figure_x(&axis, (double)(figure->part.start_ns + figure->part.span_ns));
    y_pt = lamp_figure_caption(paper, y_pt, "The whole recording; the framed part is drawn below");
    if (figure->lamp->shape.sample_count > 0) {
        struct scale scale = scale_of(figure->overview, y_pt, OVERVIEW_HEIGHT_PT);
        draw_samples(figure->overview, &axis, &scale, paper);
    } else {
        (void)draw_flashes(figure->lamp, &axis, paper, y_pt + 4, false);
    }
    double width_pt = fmax(to_pt - from_pt, 2);
    lamp_paper_outline(paper, (double[4]){from_pt, y_pt - 1.5, width_pt, OVERVIEW_HEIGHT_PT + 3},
                       (struct lamp_paper_pen){LAMP_PAPER_RED, 1.2, 0});
    return lamp_figure_draw_axis(&axis, paper, y_pt + OVERVIEW_HEIGHT_PT + 4) + 2;
}

double lamp_figure_draw_light(const struct lamp_figure *figure, struct lamp_paper *paper,
                              double y_pt)
{
    const struct lamp_report_lamp *lamp = figure->lamp;
    struct lamp_figure_axis axis = {LAMP_FIGURE_LEFT_PT, LAMP_FIGURE_WIDTH_PT - LAMP_FIGURE_LEFT_PT,
                                    figure->part.start_ns, figure->part.span_ns};
    if (figure->overview != NULL) {
        y_pt = draw_overview(figure, paper, y_pt);
    }
    if (lamp->shape.sample_count > 0) {
        y_pt =
            lamp_figure_caption(paper, y_pt,
                                has_edges(lamp) ? "Light, linear; blue: edges, the bar on each is "
                                                  "two standard deviations to either side"
                                                : "Light, linear");
        double height_pt =
            lamp->shape.shape == LAMP_SHAPE_CONSTANT ? STEADY_HEIGHT_PT : LIGHT_HEIGHT_PT;
        struct scale scale = scale_of(figure->detail, y_pt, height_pt);
        draw_levels(lamp, &axis, &scale, paper);
        draw_samples(figure->detail, &axis, &scale, paper);
        if (has_edges(lamp)) {
            draw_edges(lamp, &axis, &scale, paper);
        }
        y_pt += height_pt + 5;
    } else {
        y_pt = lamp_figure_caption(paper, y_pt, "Edges: black is lit");
    }
    if (has_edges(lamp)) {
        y_pt = draw_flashes(lamp, &axis, paper, y_pt,
                            lamp->rhythm.pattern.kind == LAMP_PATTERN_GROUPS);
        y_pt = lamp_figure_draw_groups(lamp, &axis, paper, y_pt);
        y_pt = lamp_figure_draw_entries(figure, &axis, paper, y_pt);
    }
    return lamp_figure_draw_axis(&axis, paper, y_pt) + 6;
}
