/* strip.c - A lamp's light as one line of text, to scale. */
#include "report/strip.h"

#include <math.h>
#include <string.h>

#include "report/taken.h"

/* Two cells stand in one column: the left and the right half of a character. */
enum cell { CELL_UNKNOWN, CELL_DARK, CELL_LIT };
enum { CELLS_MAX = 2 * LAMP_STRIP_COLUMNS_MAX, COLUMNS_MIN = 8 };

/* A stretch of time, cut into cells. */
struct scale {
    int64_t start_ns;
    int64_t span_ns;
    int cells;
};

static bool is_rest(const struct lamp_length *length, const struct lamp_timing *timing)
{
    return !length->lit && lamp_taken_nearest(length, timing) == LAMP_TAKEN_REST;
}

/* Time that suits `columns`: two repeats if they can be drawn, one anyway, else all that can be
 * told apart. */
static int64_t choose_span(const struct lamp_length *length, size_t count,
                           const struct lamp_rhythm *rhythm, int columns)
{
    int64_t all_ns = lamp_length_end_ns(&length[count - 1]) - length[0].start_ns;
    int64_t finest_ns = lamp_finest_ns(length, count, rhythm);
    int64_t period_ns = lamp_period_ns(rhythm);
    int64_t drawable_ns = finest_ns < all_ns / columns ? columns * finest_ns : all_ns;
    int64_t wanted_ns = drawable_ns;
    if (period_ns > 0) {
        int repeats = rhythm->pattern.kind == LAMP_PATTERN_BLINK ? 8 : 2;
        int64_t many_ns = period_ns <= all_ns / repeats ? repeats * period_ns : all_ns;
        wanted_ns = many_ns < drawable_ns ? many_ns : drawable_ns;
        wanted_ns = wanted_ns > period_ns ? wanted_ns : period_ns;
    }
    return wanted_ns < all_ns ? wanted_ns : all_ns;
}

/* Widen the columns, in time, so that the finest length takes whole ones and equal flashes look
 * equal. */
static int64_t even_column(int64_t column_ns, int64_t finest_ns)
{
    bool is_drawable = column_ns > 0 && finest_ns >= column_ns && finest_ns != INT64_MAX;
    return is_drawable ? finest_ns / (finest_ns / column_ns) : column_ns;
}

/* Where to begin: at the newest flash after a rest that leaves the whole span, else as late as
 * possible. */
static int64_t choose_start(const struct lamp_length *length, size_t count,
                            const struct lamp_rhythm *rhythm, int64_t span_ns)
{
    int64_t latest_ns = lamp_length_end_ns(&length[count - 1]) - span_ns;
    bool in_groups = rhythm->pattern.kind == LAMP_PATTERN_GROUPS && rhythm->timing.rest_ns > 0;
    for (size_t i = count; i-- > 1;) {
        bool begins = length[i].lit && (!in_groups || is_rest(&length[i - 1], &rhythm->timing));
        if (begins && length[i].start_ns <= latest_ns) {
            return length[i].start_ns;
        }
    }
    return latest_ns > length[0].start_ns ? latest_ns : length[0].start_ns;
}

/* The time and the columns that are drawn: from the start of a repeat on, no more than was seen. */
static struct scale choose_scale(const struct lamp_length *length, size_t count,
                                 const struct lamp_rhythm *rhythm, int columns)
{
    int64_t span_ns = choose_span(length, count, rhythm, columns);
    int64_t start_ns = choose_start(length, count, rhythm, span_ns);
    int64_t column_ns = even_column(span_ns / columns, lamp_finest_ns(length, count, rhythm));
    int64_t left_ns = lamp_length_end_ns(&length[count - 1]) - start_ns;
    if (column_ns <= 0) {
        return (struct scale){.start_ns = start_ns, .span_ns = span_ns, .cells = 2 * columns};
    }
    int drawn = left_ns / column_ns < columns ? (int)(left_ns / column_ns) : columns;
    return (struct scale){.start_ns = start_ns, .span_ns = drawn * column_ns, .cells = 2 * drawn};
}

/* Where a time falls, in cells; times out of view keep their side. */
static double cell_of(const struct scale *scale, int64_t t_ns)
{
    double cell = (double)(t_ns - scale->start_ns) * scale->cells / (double)scale->span_ns;
    return fmin(fmax(cell, -1), scale->cells + 1);
}

static int cell_at(const struct scale *scale, int64_t t_ns)
{
    return (int)floor(cell_of(scale, t_ns));
}

static void paint(const struct lamp_length *length, const struct scale *scale, enum cell *cells)
{
    int first = (int)round(cell_of(scale, length->start_ns));
    int last = (int)round(cell_of(scale, lamp_length_end_ns(length)));
    for (int i = first < 0 ? 0 : first; i < last && i < scale->cells; i++) {
        cells[i] = length->lit ? CELL_LIT : CELL_DARK;
    }
}

/* A length too short to fill a cell still shows, so that the flashes can be counted. */
static void paint_middle(const struct lamp_length *length, const struct scale *scale,
                         enum cell *cells)
{
    int middle = cell_at(scale, length->start_ns + length->ns / 2);
    if (middle >= 0 && middle < scale->cells) {
        cells[middle] = length->lit ? CELL_LIT : CELL_DARK;
    }
}

static void mark(const struct lamp_length *length, const struct lamp_timing *timing,
                 const struct scale *scale, char *marks)
{
    static const char *const words[LAMP_TAKEN_COUNT] = {"s", "L", "", "pause", "rest", "", ""};
    const char *word = words[lamp_taken_nearest(length, timing)];
    int columns = scale->cells / 2;
    int first = cell_at(scale, length->start_ns) / 2;
    int last = cell_at(scale, lamp_length_end_ns(length)) / 2;
    int size = (int)strlen(word);
    int at = cell_at(scale, length->start_ns + length->ns / 2) / 2 - size / 2;
    bool fits = length->lit || last - first >= size;
    if (fits && length->start_ns >= scale->start_ns && at >= 0 && at + size <= columns) {
        memcpy(marks + at, word, (size_t)size);
    }
}

static const char *glyph(enum cell left, enum cell right, bool is_ascii)
{
    if (left != CELL_LIT && right != CELL_LIT) {
        bool unknown = left == CELL_UNKNOWN && right == CELL_UNKNOWN;
        return unknown ? " " : is_ascii ? "_" : "▁";
    }
    if (is_ascii) {
        return "#";
    }
    return left != CELL_LIT ? "▐" : right != CELL_LIT ? "▌" : "█";
}

static void draw_light(const enum cell *cells, int columns, bool is_ascii, char *out)
{
    for (int i = 0; i < columns; i++) {
        const char *drawn = glyph(cells[2 * (size_t)i], cells[2 * (size_t)i + 1], is_ascii);
        size_t size = strlen(drawn);
        memcpy(out, drawn, size);
        out += size;
    }
    *out = '\0';
}

static void trim(char *marks)
{
    size_t size = strlen(marks);
    while (size > 0 && marks[size - 1] == ' ') {
        marks[--size] = '\0';
    }
}

static bool is_in_view(const struct lamp_length *length, const struct scale *scale)
{
    return lamp_length_end_ns(length) > scale->start_ns &&
           length->start_ns < scale->start_ns + scale->span_ns;
}

static void paint_all(const struct lamp_length *length, size_t count, const struct scale *scale,
                      enum cell *cells)
{
    for (size_t i = 0; i < count; i++) {
        paint(&length[i], scale, cells);
    }
    for (size_t i = 0; i < count; i++) {
        if (is_in_view(&length[i], scale)) {
            paint_middle(&length[i], scale, cells);
        }
    }
}

static void mark_all(const struct lamp_length *length, size_t count,
                     const struct lamp_timing *timing, const struct scale *scale, char *marks)
{
    for (size_t i = 0; i < count; i++) {
        if (is_in_view(&length[i], scale)) {
            mark(&length[i], timing, scale, marks);
        }
    }
}

bool lamp_strip_draw(const struct lamp_strip_rules *rules, const struct lamp_length *length,
                     size_t count, const struct lamp_rhythm *rhythm, struct lamp_strip *out)
{
    if (count == 0 || lamp_length_end_ns(&length[count - 1]) <= length[0].start_ns) {
        return false;
    }
    int columns = rules->columns < COLUMNS_MIN ? COLUMNS_MIN : rules->columns;
    columns = columns > LAMP_STRIP_COLUMNS_MAX ? LAMP_STRIP_COLUMNS_MAX : columns;
    struct scale scale = choose_scale(length, count, rhythm, columns);
    columns = scale.cells / 2;
    enum cell cells[CELLS_MAX] = {CELL_UNKNOWN};
    memset(out->marks, ' ', (size_t)columns);
    out->marks[columns] = '\0';
    paint_all(length, count, &scale, cells);
    if (rhythm->pattern.kind == LAMP_PATTERN_GROUPS) {
        mark_all(length, count, &rhythm->timing, &scale, out->marks);
    }
    draw_light(cells, columns, rules->is_ascii, out->light);
    trim(out->marks);
    out->start_ns = scale.start_ns;
    out->span_ns = scale.span_ns;
    return true;
}
