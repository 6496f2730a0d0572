/* screen.h - A small steady display on a terminal: a few lines, drawn over in place. */
#ifndef LAMP_CLI_SCREEN_H
#define LAMP_CLI_SCREEN_H

#include <stdbool.h>

#include "lampread/watch.h"

/** Most lines of the display. */
#define SCREEN_LINES_MAX 10

/** The display; begin with screen_begin. Nothing of the terminal is changed that would have to be
 * put back: no mode, no cursor, no second screen. */
struct screen {
    bool has_colour;
    bool is_ascii;
    int columns;                  /**< At the last drawing. */
    int line_count;               /**< Drawn and still standing. */
    int length[SCREEN_LINES_MAX]; /**< Of each, in columns. */
    double drawn_s;               /**< On the clock. */
};

/** Begin on standard output. */
void screen_begin(struct screen *screen);

/** Draw, if the last drawing is a tenth of a second ago. @param name  what is watched. */
void screen_draw(struct screen *screen, const struct lamp_watcher *watcher, const char *name);

/** Take the display away, so that lines can be written; the next drawing is below them. */
void screen_clear(struct screen *screen);

#endif
