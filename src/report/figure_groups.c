/* figure_groups.c - Brackets under the flashes of each group, with what the group is.
 *
 *   s s   L L L   s s
 *   '-'   '---'   '-'
 *    2    3 long   2       in notation where there is room for it; Morse by its letter
 */
#include <stdio.h>

#include "report/figure.h"
#include "report/role.h"
#include "report/taken.h"

#define TOOTH_PT   3.0
#define BRACKET_PT 16.0

/* Flashes with nothing but gaps between them. */
struct group {
    int64_t start_ns;
    int64_t end_ns;
    bool is_open[2]; /* Its beginning was not seen, its end was not. */
    bool is_odd;     /* A flash in it is of no class. */
    struct lamp_pattern pattern;
};

static void add_flash(struct group *group, const struct lamp_length *flash, enum lamp_class class)
{
    struct lamp_pattern *pattern = &group->pattern;
    if (pattern->count == 0) {
        group->start_ns = flash->start_ns;
        group->is_open[0] = group->is_open[0] || flash->cut_before;
    }
    group->end_ns = lamp_length_end_ns(flash);
    group->is_open[1] = flash->cut_after;
    group->is_odd = group->is_odd || class == LAMP_CLASS_NONE || pattern->count == LAMP_SYMBOLS_MAX;
    if (pattern->count < LAMP_SYMBOLS_MAX) {
        pattern->symbol[pattern->count++] =
            class == LAMP_CLASS_LONG ? LAMP_SYMBOL_LONG : LAMP_SYMBOL_SHORT;
    }
}

/* Where a name goes. */
struct room {
    double middle_pt;
    double width_pt;
    double y_pt;
};

static void write_name(const struct group *group, bool has_letters, struct lamp_paper *paper,
                       struct room room)
{
    const struct lamp_paper_words words = {.size_pt = 7.5, .side = LAMP_PAPER_MIDDLE};
    char text[LAMP_NOTATION_MAX] = "?";
    if (group->is_open[0] || group->is_open[1]) {
        return;
    }
    bool is_letter = has_letters && !group->is_odd && lamp_morse_read(&group->pattern, NULL, text);
    if (!is_letter && !group->is_odd) {
        lamp_pattern_format(&group->pattern, text);
    }
    if (!is_letter && !group->is_odd && lamp_paper_measure(paper, &words, text) > room.width_pt) {
        (void)snprintf(text, sizeof text, "%zu", group->pattern.count);
    }
    if (lamp_paper_measure(paper, &words, text) <= room.width_pt) {
        (void)lamp_paper_write(paper, room.middle_pt, room.y_pt, &words, text);
    }
}

/* The least dark between groups: half of it on either side is a name's to use. */
static double room_beside(const struct lamp_timing *timing, const struct lamp_figure_axis *axis)
{
    const int64_t dark_ns = timing->pause_ns > 0 ? timing->pause_ns : timing->rest_ns;
    return 0.8 * axis->width_pt * (double)dark_ns / (double)axis->span_ns;
}

/* Groups that are letters by chance, such as counts of short flashes, are told as what they are. */
static bool is_morse(const struct lamp_report_lamp *lamp)
{
    const struct lamp_match *match = &lamp->match;
    if (match->has_entry) {
        return match->candidate[0].code->pattern.kind == LAMP_PATTERN_MORSE;
    }
    const struct lamp_timing *timing = &lamp->rhythm.timing;
    return lamp->rhythm.morse[0] != '\0' && timing->short_ns > 0 && timing->long_ns > 0;
}

static void draw_bracket(const struct group *group, const struct lamp_figure_axis *axis,
                         const struct lamp_report_lamp *lamp, struct lamp_paper *paper, double y_pt)
{
    const struct lamp_paper_pen pen = {LAMP_PAPER_DARK, 0.6, 0};
    const int64_t end_ns = axis->start_ns + axis->span_ns;
    if (group->pattern.count == 0 || group->end_ns <= axis->start_ns || group->start_ns >= end_ns) {
        return;
    }
    const double from_pt = lamp_figure_x(axis, (double)group->start_ns);
    const double to_pt = lamp_figure_x(axis, (double)group->end_ns);
    const double base_pt = y_pt + TOOTH_PT;
    const double room_pt = to_pt - from_pt + room_beside(&lamp->rhythm.timing, axis);
    lamp_paper_line(paper, (double[2]){from_pt, base_pt}, (double[2]){to_pt, base_pt}, pen);
    if (!group->is_open[0] && group->start_ns >= axis->start_ns) {
        lamp_paper_line(paper, (double[2]){from_pt, y_pt}, (double[2]){from_pt, base_pt}, pen);
    }
    if (!group->is_open[1] && group->end_ns <= end_ns) {
        lamp_paper_line(paper, (double[2]){to_pt, y_pt}, (double[2]){to_pt, base_pt}, pen);
    }
    if (group->start_ns >= axis->start_ns && group->end_ns <= end_ns) {
        write_name(group, is_morse(lamp), paper,
                   (struct room){(from_pt + to_pt) / 2, room_pt, base_pt + 8});
    }
}

double lamp_figure_draw_groups(const struct lamp_report_lamp *lamp,
                               const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                               double y_pt)
{
    struct lamp_roles roles;
    struct lamp_role role;
    struct group group = {.is_open = {true, false}, .pattern.kind = LAMP_PATTERN_GROUPS};
    if (lamp->rhythm.pattern.kind != LAMP_PATTERN_GROUPS) {
        return y_pt;
    }
    lamp_roles_begin(&roles, lamp->length, lamp->length_count, &lamp->rhythm);
    for (size_t i = 0; lamp_roles_next(&roles, &role); i++) {
        const struct lamp_length *length = &lamp->length[i];
        const bool parts = !length->lit && role.class != LAMP_CLASS_GAP;
        if (length->lit) {
            add_flash(&group, length, role.class);
        } else if (parts) {
            const bool is_break = role.class == LAMP_CLASS_NONE;
            group.is_open[1] = group.is_open[1] || is_break;
            draw_bracket(&group, axis, lamp, paper, y_pt);
            group =
                (struct group){.is_open = {is_break, false}, .pattern.kind = LAMP_PATTERN_GROUPS};
        }
    }
    draw_bracket(&group, axis, lamp, paper, y_pt);
    return y_pt + BRACKET_PT;
}
