/* figure_repeats.c - The repeats of a lamp, one under another on a common time axis. */
#include <stdio.h>

#include "report/figure.h"
#include "report/words.h"

#define ROW_PT 14.0

enum { ROWS_MOST = 12, DIFFERING_MOST = 8 };

/* Whether repeat `i` is drawn: those that differ first, then the newest of the others. */
static void choose(const struct lamp_repeats *repeats, bool *is_drawn, size_t *count)
{
    size_t differing = 0;
    *count = 0;
    for (size_t i = repeats->count; i-- > 0;) {
        is_drawn[i] =
            repeats->at[i].is_whole && !repeats->at[i].is_alike && differing < DIFFERING_MOST;
        differing += is_drawn[i];
    }
    *count = differing;
    for (size_t i = repeats->count; i-- > 0;) {
        if (repeats->at[i].is_alike && *count < ROWS_MOST) {
            is_drawn[i] = true;
            ++*count;
        }
    }
}

/* What the steps of one row share. */
struct row {
    const struct lamp_repeats *repeats;
    const struct lamp_repeat *repeat;
    const struct lamp_length *length;
    const struct lamp_figure_axis *axis;
    double y_pt;
};

static void draw_step(const struct row *row, const struct lamp_repeat_step *step,
                      struct lamp_paper *paper)
{
    const struct lamp_figure_axis *axis = row->axis;
    const struct lamp_length *length = row->length;
    const struct lamp_repeats *repeats = row->repeats;
    int64_t from_ns = repeats->offset_ns[step->at];
    int64_t ns = repeats->step_ns[step->at];
    bool is_missing = step->sameness == LAMP_MISSING;
    if (!is_missing) {
        from_ns = length[step->length].start_ns - row->repeat->start_ns;
        ns = length[step->length].ns;
    }
    double from_pt = lamp_figure_x(axis, (double)from_ns);
    double box[4] = {from_pt, row->y_pt, lamp_figure_x(axis, (double)(from_ns + ns)) - from_pt, 8};
    bool is_lit = is_missing ? lamp_taken_is_lit(step->wanted) : length[step->length].lit;
    if (is_lit && !is_missing) {
        lamp_paper_fill(paper, box, LAMP_PAPER_BLACK);
    }
    if (step->sameness != LAMP_SAME && box[2] > 0) {
        box[0] -= 1;
        box[1] -= 1.5;
        box[2] += 2;
        box[3] += 3;
        lamp_paper_outline(paper, box,
                           (struct lamp_paper_pen){LAMP_PAPER_RED, 1.2, is_missing ? 2 : 0});
    }
}

/* In the rest at the end of the row, as far as it has room. */
static void write_difference(const struct lamp_figure *figure, size_t index,
                             const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                             double y_pt)
{
    const struct lamp_repeats *repeats = &figure->repeats;
    struct lamp_text text = {0};
    double left_pt = lamp_figure_x(axis, (double)repeats->offset_ns[repeats->cycle_count - 1]);
    double right_pt = axis->left_pt + axis->width_pt;
    const struct lamp_paper_words words = {
        .size_pt = 7.5, .side = LAMP_PAPER_RIGHT, .room_pt = right_pt - left_pt - 6};
    lamp_repeats_tell(repeats, index, figure->lamp->length, &text);
    const char *whole = lamp_paper_text(paper, &text);
    if (whole[0] != '\0' && words.room_pt > 40) {
        (void)lamp_paper_write(paper, right_pt, y_pt + 6, &words, whole);
    }
    lamp_text_fini(&text);
}

static void draw_row(const struct lamp_figure *figure, size_t index,
                     const struct lamp_figure_axis *axis, struct lamp_paper *paper, double y_pt)
{
    const struct lamp_repeats *repeats = &figure->repeats;
    const struct lamp_repeat *repeat = &repeats->at[index];
    char label[48];
    const struct lamp_paper_words words = {
        .size_pt = 7.5, .side = LAMP_PAPER_RIGHT, .ink = LAMP_PAPER_DARK};
    (void)snprintf(label, sizeof label, "%.2f s", (double)repeat->start_ns / 1e9);
    (void)lamp_paper_write(paper, axis->left_pt - 4, y_pt + 7, &words, label);
    lamp_paper_line(
        paper, (double[2]){axis->left_pt, y_pt + 8},
        (double[2]){lamp_figure_x(axis, (double)(repeat->end_ns - repeat->start_ns)), y_pt + 8},
        (struct lamp_paper_pen){LAMP_PAPER_BLACK, 0.5, 0});
    const struct row row = {repeats, repeat, figure->lamp->length, axis, y_pt};
    for (size_t i = 0; i < repeat->step_count; i++) {
        draw_step(&row, &repeats->step[repeat->first_step + i], paper);
    }
    if (!repeat->is_alike) {
        write_difference(figure, index, axis, paper, y_pt);
    }
}

/* Where each flash should begin and end. */
static void draw_guides(const struct lamp_repeats *repeats, const struct lamp_figure_axis *axis,
                        struct lamp_paper *paper, double top_pt, double bottom_pt)
{
    for (size_t i = 0; i < repeats->cycle_count; i++) {
        for (int end = 0; end < 2 && lamp_taken_is_lit(repeats->cycle[i]); end++) {
            double x_pt = lamp_figure_x(
                axis, (double)(repeats->offset_ns[i] + (end == 1 ? repeats->step_ns[i] : 0)));
            lamp_paper_line(paper, (double[2]){x_pt, top_pt}, (double[2]){x_pt, bottom_pt},
                            (struct lamp_paper_pen){LAMP_PAPER_GREY, 0.4, 0});
        }
    }
}

double lamp_figure_draw_repeats(const struct lamp_figure *figure, struct lamp_paper *paper,
                                double y_pt)
{
    const struct lamp_repeats *repeats = &figure->repeats;
    bool is_drawn[2 * LAMP_LENGTHS_MAX + LAMP_CYCLE_STEPS_MAX] = {false};
    size_t count = 0;
    if (repeats->whole_count < 2 || repeats->period_ns <= 0) {
        return y_pt;
    }
    choose(repeats, is_drawn, &count);
    char caption[160];
    (void)snprintf(
        caption, sizeof caption,
        "Repeats one under another: %zu whole, %zu of them alike%s; grey: the mean edges",
        repeats->whole_count, repeats->alike_count,
        count < repeats->whole_count ? ", some of them drawn" : "");
    y_pt = lamp_figure_caption(paper, y_pt, caption);
    struct lamp_figure_axis axis = {LAMP_FIGURE_LEFT_PT, LAMP_FIGURE_WIDTH_PT - LAMP_FIGURE_LEFT_PT,
                                    0, repeats->period_ns + repeats->period_ns / 20};
    draw_guides(repeats, &axis, paper, y_pt, y_pt + ROW_PT * (double)count);
    for (size_t i = 0; i < repeats->count; i++) {
        if (is_drawn[i]) {
            draw_row(figure, i, &axis, paper, y_pt + 2);
            y_pt += ROW_PT;
        }
    }
    return lamp_figure_draw_axis(&axis, paper, y_pt + 3) + 6;
}
