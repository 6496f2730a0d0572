/* screen.c - A small steady display on a terminal: a few lines, drawn over in place.
 *
 *   watching /dev/video0   0:42   30 frames/s   Ctrl-C ends
 *   status (green, at 392,182): code 2 long 3 short
 *     on  [##########]  ██▁██▁█▁█▁█▁▁▁▁▁▁▁▁▁██▁██▁█▁█▁█▁  10 s   3 repeats
 *   ! the camera moved: ...
 */
#include "cli/screen.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "base/number.h"
#include "cli/show.h"

enum { LAMPS_SHOWN = 3, COLUMNS_MAX = 160, LINE_BYTES = 4 * COLUMNS_MAX + 64, BAR_COLUMNS = 10 };

/* What surrounds the strip: mark, bar, span and repeats. */
enum { AROUND_STRIP = 40, STRIP_LEAST = 8 };

static const double strip_s = 10;
static const double redraw_s = 0.1;

/* A page of lines, each cut to the width so that none wraps. */
struct sheet {
    int columns;
    int count;
    char line[SCREEN_LINES_MAX][LINE_BYTES];
    int length[SCREEN_LINES_MAX];
};

void screen_begin(struct screen *screen)
{
    *screen = (struct screen){.has_colour = show_has_colour(), .is_ascii = show_is_ascii()};
}

static int terminal_columns(void)
{
    struct winsize size;
    bool is_known = ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0;
    int columns = is_known ? size.ws_col : 80;
    return columns < COLUMNS_MAX ? columns : COLUMNS_MAX;
}

/* Cut UTF-8 text after so many characters, one column each. @return how many are left. */
static int cut(char *text, int columns)
{
    int shown = 0;
    for (char *c = text; *c != '\0'; c++) {
        bool begins = ((unsigned char)*c & 0xC0) != 0x80;
        if (begins && shown == columns) {
            *c = '\0';
            break;
        }
        shown += begins;
    }
    return shown;
}

static void add_line(struct sheet *sheet, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void add_line(struct sheet *sheet, const char *format, ...)
{
    if (sheet->count == SCREEN_LINES_MAX) {
        return;
    }
    char *line = sheet->line[sheet->count];
    va_list rest;
    va_start(rest, format);
    (void)vsnprintf(line, LINE_BYTES, format, rest);
    va_end(rest);
    sheet->length[sheet->count++] = cut(line, sheet->columns - 1);
}

/* Share of lit light from `from_ns` to `to_ns`; negative where none was seen. */
static double lit_share(const struct lamp_report_lamp *lamp, int64_t from_ns, int64_t to_ns)
{
    int64_t lit_ns = 0;
    int64_t seen_ns = 0;
    for (size_t i = lamp->length_count; i-- > 0;) {
        const struct lamp_length *length = &lamp->length[i];
        int64_t end_ns = length->start_ns + length->ns;
        if (end_ns <= from_ns) {
            break;
        }
        int64_t begin_ns = length->start_ns > from_ns ? length->start_ns : from_ns;
        int64_t part_ns = (end_ns < to_ns ? end_ns : to_ns) - begin_ns;
        seen_ns += part_ns > 0 ? part_ns : 0;
        lit_ns += part_ns > 0 && length->lit ? part_ns : 0;
    }
    return seen_ns > 0 ? (double)lit_ns / (double)seen_ns : -1;
}

static void draw_strip(const struct screen *screen, const struct lamp_report_lamp *lamp,
                       int columns, char *out)
{
    const struct lamp_length *last = &lamp->length[lamp->length_count - 1];
    const char *lit = screen->is_ascii ? "#" : "\xE2\x96\x88";
    const char *dark = screen->is_ascii ? "_" : "\xE2\x96\x81";
    int64_t step_ns = (int64_t)(strip_s * LAMP_NS_PER_S / columns);
    /* Whole steps since the beginning of time: the strip moves a column at a time and does not
     * shimmer. */
    int64_t end = (last->start_ns + last->ns) / step_ns;
    out[0] = '\0';
    for (int i = 0; i < columns; i++) {
        double share =
            lit_share(lamp, (end - columns + i) * step_ns, (end - columns + i + 1) * step_ns);
        const char *cell = share < 0 ? " " : share >= 0.5 ? lit : dark;
        size_t length = strlen(cell);
        memcpy(out, cell, length + 1);
        out += length;
    }
}

static void draw_bar(const struct lamp_report_lamp *lamp, bool is_lit, double brightest, char *out)
{
    double level = is_lit ? lamp->shape.lit_level : lamp->shape.dark_level;
    double share = brightest > 0 ? fmin(fmax(level / brightest, 0), 1) : is_lit;
    for (int i = 0; i < BAR_COLUMNS; i++) {
        out[i] = i < share * BAR_COLUMNS - 0.5 ? '#' : '.';
    }
    out[BAR_COLUMNS] = '\0';
}

static void add_rhythm(const struct screen *screen, struct sheet *sheet,
                       const struct lamp_report_lamp *lamp, double brightest)
{
    char strip[3 * COLUMNS_MAX + 1];
    char bar[BAR_COLUMNS + 1];
    if (lamp->length_count == 0) {
        add_line(sheet, "  not seen yet");
        return;
    }
    bool is_lit = lamp->length[lamp->length_count - 1].lit;
    int columns = sheet->columns - AROUND_STRIP;
    draw_bar(lamp, is_lit, brightest, bar);
    draw_strip(screen, lamp, columns > STRIP_LEAST ? columns : STRIP_LEAST, strip);
    add_line(sheet, "  %s [%s] %s %.0f s  %u repeat%s", is_lit ? "on " : "off", bar, strip, strip_s,
             lamp->rhythm.repeats_seen, lamp->rhythm.repeats_seen == 1 ? "" : "s");
}

/* A verdict that is not certain yet is shown as a guess. */
static void add_lamp(const struct screen *screen, struct sheet *sheet,
                     const struct lamp_watcher *watcher, size_t index, double brightest)
{
    const struct lamp_report_lamp *lamp = &lamp_watcher_view(watcher)->lamp[index];
    char headline[512];
    if (lamp_report_headline(lamp, headline, sizeof headline) != LAMP_OK) {
        return;
    }
    bool is_told = lamp_watcher_is_told(watcher, index);
    bool is_open = lamp->match.verdict == LAMP_VERDICT_UNDECIDED;
    const char *means =
        is_told && lamp->match.has_entry ? lamp->match.candidate[0].code->means : "";
    add_line(sheet, "%s%s%s%s", headline, is_told || is_open ? "" : " - so far",
             means[0] != '\0' ? ": " : "", means);
    add_rhythm(screen, sheet, lamp, brightest);
}

static void fill(const struct screen *screen, struct sheet *sheet,
                 const struct lamp_watcher *watcher, const char *name)
{
    const struct lamp_report *view = lamp_watcher_view(watcher);
    long seconds = (long)lamp_watcher_time_s(watcher);
    double rate_hz = view != NULL ? view->source.rate_hz : 0;
    char rate[32] = "";
    if (rate_hz > 0) {
        (void)snprintf(rate, sizeof rate, "   %.3g a second", rate_hz);
    }
    add_line(sheet, "watching %s   %ld:%02ld%s   Ctrl-C ends", name, seconds / 60, seconds % 60,
             rate);
    double brightest = 0;
    size_t count = view != NULL ? view->lamp_count : 0;
    for (size_t i = 0; i < count; i++) {
        brightest = fmax(brightest, view->lamp[i].shape.lit_level);
    }
    for (size_t i = 0; i < count && i < LAMPS_SHOWN; i++) {
        add_lamp(screen, sheet, watcher, i, brightest);
    }
    if (count > LAMPS_SHOWN) {
        add_line(sheet, "and %zu more", count - LAMPS_SHOWN);
    } else if (count == 0) {
        add_line(sheet, "no lamp seen yet");
    }
    enum lamp_trouble trouble = lamp_watcher_trouble(watcher);
    if (trouble != LAMP_TROUBLE_COUNT) {
        add_line(sheet, "! %s", lamp_trouble_words(trouble));
    }
}

/* Up to the first line of what stands. A line that a narrower window wrapped takes several. */
static void go_up(const struct screen *screen, int columns)
{
    int rows = 0;
    for (int i = 0; i < screen->line_count; i++) {
        rows += screen->length[i] > columns ? (screen->length[i] + columns - 1) / columns : 1;
    }
    if (rows > 0) {
        (void)printf("\033[%dA", rows);
    }
    (void)printf("\r");
}

static double clock_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Colours: the name of what is watched stands out, trouble more so. */
static const char *ink_of(const struct screen *screen, const char *line)
{
    return !screen->has_colour ? ""
           : line[0] == '!'    ? "\033[1;31m"
           : line[0] != ' '    ? "\033[1m"
                               : "";
}

void screen_draw(struct screen *screen, const struct lamp_watcher *watcher, const char *name)
{
    double now_s = clock_s();
    if (now_s - screen->drawn_s < redraw_s) {
        return;
    }
    struct sheet sheet = {.columns = terminal_columns()};
    fill(screen, &sheet, watcher, name);
    bool is_resized = sheet.columns != screen->columns;
    go_up(screen, sheet.columns);
    if (is_resized) {
        (void)printf("\033[J");
    }
    for (int i = 0; i < sheet.count; i++) {
        const char *ink = ink_of(screen, sheet.line[i]);
        (void)printf("%s%s%s\033[K\n", ink, sheet.line[i], ink[0] != '\0' ? "\033[0m" : "");
    }
    (void)printf("\033[J");
    (void)fflush(stdout);
    memcpy(screen->length, sheet.length, sizeof screen->length);
    screen->columns = sheet.columns;
    screen->line_count = sheet.count;
    screen->drawn_s = now_s;
}

void screen_clear(struct screen *screen)
{
    if (screen->line_count > 0) {
        go_up(screen, terminal_columns());
        (void)printf("\033[J");
        (void)fflush(stdout);
    }
    screen->line_count = 0;
    screen->drawn_s = 0;
}
