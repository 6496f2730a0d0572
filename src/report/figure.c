/* figure.c - The figure of one lamp: its verdict and numbers, then its light and its repeats. */
#include "report/figure.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "report/ticks.h"
#include "report/words.h"

/* Longest side of the board's picture. */
#define PORTRAIT_PT 220.0

enum { LINES_MOST = 3, CANDIDATES_TOLD = 3 };

double lamp_figure_x(const struct lamp_figure_axis *axis, double t_ns)
{
    double share = (t_ns - (double)axis->start_ns) / (double)axis->span_ns;
    return axis->left_pt + axis->width_pt * fmin(fmax(share, 0), 1);
}

double lamp_figure_caption(struct lamp_paper *paper, double y_pt, const char *text)
{
    const struct lamp_paper_words words = {
        .size_pt = 8, .ink = LAMP_PAPER_DARK, .room_pt = LAMP_FIGURE_WIDTH_PT};
    (void)lamp_paper_write(paper, 0, y_pt + 9, &words, text);
    return y_pt + 14;
}

double lamp_figure_draw_axis(const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                             double y_pt)
{
    const struct lamp_paper_words words = {.size_pt = 8, .side = LAMP_PAPER_MIDDLE};
    struct lamp_ticks ticks =
        lamp_ticks_choose((double)axis->start_ns / 1e9, (double)axis->span_ns / 1e9, 9);
    double right_pt = axis->left_pt + axis->width_pt;
    lamp_paper_line(paper, (double[2]){axis->left_pt, y_pt}, (double[2]){right_pt, y_pt},
                    (struct lamp_paper_pen){LAMP_PAPER_BLACK, 0.6, 0});
    for (size_t i = 0; i < ticks.count; i++) {
        char text[32];
        double x_pt = lamp_figure_x(axis, (ticks.first + (double)i * ticks.step) * 1e9);
        lamp_ticks_write(&ticks, i, text, sizeof text);
        lamp_paper_line(paper, (double[2]){x_pt, y_pt}, (double[2]){x_pt, y_pt + 3},
                        (struct lamp_paper_pen){LAMP_PAPER_BLACK, 0.6, 0});
        (void)lamp_paper_write(paper, x_pt, y_pt + 11.5, &words, text);
    }
    const struct lamp_paper_words unit = {.size_pt = 8};
    (void)lamp_paper_write(paper, 0, y_pt + 11.5, &unit, "seconds");
    return y_pt + 18;
}

/* Bytes of `text` that make one line; a word that is longer than the line is left to be cut. */
static size_t line_of(struct lamp_paper *paper, const struct lamp_paper_words *words,
                      const char *text)
{
    size_t best = 0;
    for (size_t i = 0; best == 0 || text[best] != '\0'; i++) {
        if (text[i] != ' ' && text[i] != '\0') {
            continue;
        }
        struct lamp_text line = {0};
        lamp_text_add(&line, "%.*s", (int)i, text);
        const char *begun = lamp_paper_text(paper, &line);
        bool fits = begun[0] != '\0' && lamp_paper_measure(paper, words, begun) <= words->room_pt;
        lamp_text_fini(&line);
        if (!fits && best > 0) {
            break;
        }
        best = i > 0 ? i : best;
        if (text[i] == '\0' || !fits) {
            break;
        }
    }
    return best;
}

/* Text over several lines, the last of which is cut if there would be more. */
static double write_lines(struct lamp_paper *paper, double x_pt, double y_pt,
                          const struct lamp_paper_words *words, const char *raw)
{
    struct lamp_text plain = {0};
    lamp_words_plain(raw, &plain);
    const char *text = lamp_paper_text(paper, &plain);
    for (int i = 0; i < LINES_MOST && *text != '\0'; i++) {
        size_t size = i + 1 < LINES_MOST ? line_of(paper, words, text) : strlen(text);
        struct lamp_text line = {0};
        lamp_text_add(&line, "%.*s", (int)size, text);
        y_pt += words->size_pt * 1.25;
        (void)lamp_paper_write(paper, x_pt, y_pt, words, lamp_paper_text(paper, &line));
        lamp_text_fini(&line);
        text += size;
        text += strspn(text, " ");
    }
    lamp_text_fini(&plain);
    return y_pt;
}

static double write_row(struct lamp_paper *paper, double y_pt, const char *label, const char *text)
{
    enum { LABEL_PT = 52 };
    const struct lamp_paper_words left = {.size_pt = 9, .ink = LAMP_PAPER_DARK};
    const struct lamp_paper_words right = {.size_pt = 9,
                                           .room_pt = LAMP_FIGURE_WIDTH_PT - LABEL_PT};
    (void)lamp_paper_write(paper, 0, y_pt + 9 * 1.25, &left, label);
    return write_lines(paper, LABEL_PT, y_pt, &right, text) + 1;
}

static double write_text(struct lamp_paper *paper, double y_pt, const char *label,
                         struct lamp_text *text)
{
    const char *whole = lamp_paper_text(paper, text);
    double end_pt = whole[0] != '\0' ? write_row(paper, y_pt, label, whole) : y_pt;
    lamp_text_fini(text);
    return end_pt;
}

static double write_title(const struct lamp_report_lamp *lamp, struct lamp_paper *paper,
                          double y_pt)
{
    const struct lamp_paper_words big = {
        .size_pt = 14, .is_bold = true, .room_pt = LAMP_FIGURE_WIDTH_PT};
    const struct lamp_match *match = &lamp->match;
    struct lamp_text title = {0};
    lamp_text_add(&title, "%s: ", lamp->name);
    lamp_words_verdict(lamp, &title);
    y_pt = write_lines(paper, 0, y_pt, &big, lamp_paper_text(paper, &title));
    lamp_text_fini(&title);
    const struct lamp_paper_words small = {.size_pt = 11, .room_pt = LAMP_FIGURE_WIDTH_PT};
    if (match->verdict != LAMP_VERDICT_UNDECIDED) {
        char percent[32];
        lamp_words_percent(match->confidence, percent, sizeof percent);
        lamp_text_add(&title, "%s (%s)", lamp_words_confidence(match->confidence), percent);
    }
    if (match->has_entry) {
        lamp_text_add(&title, "%s%s", title.length > 0 ? ": " : "",
                      match->candidate[0].code->means);
    }
    y_pt = write_lines(paper, 0, y_pt, &small, lamp_paper_text(paper, &title));
    lamp_text_fini(&title);
    return y_pt + 4;
}

static void add_class(const char *name, int64_t ns, int64_t sd_ns, struct lamp_text *out)
{
    char text[32];
    if (ns > 0) {
        lamp_words_time((double)ns / 1e9, text, sizeof text);
        lamp_text_add(out, "%s%s %s", out->length > 0 ? ", " : "", name, text);
    }
    if (ns > 0 && sd_ns > 0) {
        lamp_words_time((double)sd_ns / 1e9, text, sizeof text);
        lamp_text_add(out, " (sd %s)", text);
    }
}

static double write_numbers(const struct lamp_report_lamp *lamp, struct lamp_paper *paper,
                            double y_pt)
{
    const struct lamp_rhythm *rhythm = &lamp->rhythm;
    struct lamp_text text = {0};
    if (rhythm->pattern.kind == LAMP_PATTERN_GROUPS) {
        add_class("short", rhythm->timing.short_ns, rhythm->timing_sd.short_ns, &text);
        add_class("long", rhythm->timing.long_ns, rhythm->timing_sd.long_ns, &text);
        add_class("gap", rhythm->timing.gap_ns, rhythm->timing_sd.gap_ns, &text);
        add_class("pause", rhythm->timing.pause_ns, rhythm->timing_sd.pause_ns, &text);
        add_class("rest", rhythm->timing.rest_ns, rhythm->timing_sd.rest_ns, &text);
        y_pt = write_text(paper, y_pt, "timing", &text);
    }
    if (rhythm->morse[0] != '\0') {
        y_pt = write_row(paper, y_pt, "morse", rhythm->morse);
    }
    if (lamp->match.verdict == LAMP_VERDICT_FLICKER) {
        text = (struct lamp_text){0};
        lamp_text_add(&text, "%.1f changes a second", rhythm->edges_per_s);
        if (lamp->shape.sample_count > 0) {
            lamp_text_add(&text, ", percent flicker %.0f %%, flicker index %.2f",
                          lamp->shape.percent_flicker, lamp->shape.flicker_index);
        }
        y_pt = write_text(paper, y_pt, "measured", &text);
    }
    return y_pt;
}

static double write_against(const struct lamp_figure *figure, struct lamp_paper *paper, double y_pt)
{
    const struct lamp_match *match = &figure->lamp->match;
    if (match->verdict == LAMP_VERDICT_UNDECIDED && match->lack != LAMP_LACK_NOTHING) {
        y_pt = write_row(paper, y_pt, "missing", lamp_words_lack(match->lack));
    }
    bool is_open = !match->has_entry && figure->report->has_book;
    for (size_t i = 0; is_open && i < match->candidate_count && i < CANDIDATES_TOLD; i++) {
        const struct lamp_candidate *candidate = &match->candidate[i];
        struct lamp_text text = {0};
        char percent[32];
        lamp_words_percent(candidate->confidence, percent, sizeof percent);
        lamp_text_add(&text, "%s, \"%s\" (%s)%s%s", candidate->code->id, candidate->code->means,
                      percent, candidate->against[0] != '\0' ? "; against it: " : "",
                      candidate->against);
        y_pt = write_text(paper, y_pt, i == 0 ? "entries" : "", &text);
    }
    return y_pt;
}

static double write_entry(const struct lamp_report_lamp *lamp, struct lamp_paper *paper,
                          double y_pt)
{
    if (!lamp->match.has_entry) {
        return y_pt;
    }
    const struct lamp_candidate *told = &lamp->match.candidate[0];
    struct lamp_text text = {0};
    lamp_text_add(&text, "%s: %s", told->book->id, told->code->id);
    y_pt = write_text(paper, y_pt, "entry", &text);
    text = (struct lamp_text){0};
    for (size_t i = 0; i < told->code->suspect.count; i++) {
        lamp_text_add(&text, i > 0 ? ", %s" : "%s", told->code->suspect.at[i]);
    }
    return write_text(paper, y_pt, "suspect", &text);
}

static double write_source(const struct lamp_report *report, struct lamp_paper *paper, double y_pt)
{
    struct lamp_text text = {0};
    char time[32];
    const char *name = strrchr(report->source.name, '/');
    lamp_words_time(report->source.duration_s, time, sizeof time);
    lamp_text_add(&text, "%s, %s", name != NULL && name[1] != '\0' ? name + 1 : report->source.name,
                  time);
    if (report->source.rate_hz > 0) {
        lamp_text_add(&text, ", %.4g samples a second", report->source.rate_hz);
    }
    return write_text(paper, y_pt, "read", &text);
}

/* The board, the lamp framed. */
static double draw_portrait(const struct lamp_portrait *portrait, struct lamp_paper *paper,
                            double y_pt)
{
    char caption[64];
    (void)snprintf(caption, sizeof caption, "The board at %.2f s; the lamp is framed",
                   (double)portrait->t_ns / 1e9);
    y_pt = lamp_figure_caption(paper, y_pt, caption);
    double longest_px = portrait->w_px > portrait->h_px ? portrait->w_px : portrait->h_px;
    double scale = PORTRAIT_PT / longest_px;
    double height_pt = portrait->h_px * scale;
    const struct lamp_region *lamp = &portrait->lamp;
    double w_pt = fmax(lamp->w_px * scale + 6, 14);
    double h_pt = fmax(lamp->h_px * scale + 6, 14);
    double x_pt = (lamp->x_px + lamp->w_px / 2.0) * scale;
    double middle_pt = y_pt + (lamp->y_px + lamp->h_px / 2.0) * scale;
    lamp_paper_show(paper, (double[4]){0, y_pt, portrait->w_px * scale, height_pt}, portrait->rgb,
                    portrait->w_px, portrait->h_px);
    const double frame[4] = {x_pt - w_pt / 2, middle_pt - h_pt / 2, w_pt, h_pt};
    lamp_paper_outline(paper, frame, (struct lamp_paper_pen){LAMP_PAPER_LIGHT, 3, 0});
    lamp_paper_outline(paper, frame, (struct lamp_paper_pen){LAMP_PAPER_RED, 1.5, 0});
    return y_pt + height_pt + 6;
}

double lamp_figure_draw(const struct lamp_figure *figure, struct lamp_paper *paper, double y_pt)
{
    const struct lamp_report_lamp *lamp = figure->lamp;
    y_pt = write_title(lamp, paper, y_pt);
    y_pt = write_entry(lamp, paper, y_pt);
    y_pt = write_numbers(lamp, paper, y_pt);
    y_pt = write_against(figure, paper, y_pt);
    y_pt = write_source(figure->report, paper, y_pt) + 6;
    if (lamp->portrait != NULL) {
        y_pt = draw_portrait(lamp->portrait, paper, y_pt);
    }
    if (figure->has_light) {
        y_pt = lamp_figure_draw_light(figure, paper, y_pt);
        y_pt = lamp_figure_draw_repeats(figure, paper, y_pt);
    }
    return y_pt;
}
