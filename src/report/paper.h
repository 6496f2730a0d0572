/* paper.h - A sheet to draw on, written as SVG, PNG or PDF. */
#ifndef LAMP_REPORT_PAPER_H
#define LAMP_REPORT_PAPER_H

#include <stdio.h>

#include "base/text.h"
#include "lampread/plot.h"

/** Inks: greys, and two colours that also part without colour and to the colour-blind. */
enum lamp_paper_ink {
    LAMP_PAPER_BLACK,
    LAMP_PAPER_DARK,  /**< Text beside the point. */
    LAMP_PAPER_GREY,  /**< Lines that help. */
    LAMP_PAPER_LIGHT, /**< Grounds. */
    LAMP_PAPER_BLUE,
    LAMP_PAPER_RED
};

/** How text stands to its point. */
enum lamp_paper_side { LAMP_PAPER_LEFT, LAMP_PAPER_MIDDLE, LAMP_PAPER_RIGHT };

/** Text to write. */
struct lamp_paper_words {
    double size_pt;
    bool is_bold;
    enum lamp_paper_side side;
    enum lamp_paper_ink ink;
    double room_pt; /**< Longer text is cut with an ellipsis; 0: none is. */
};

/** How a line is drawn. */
struct lamp_paper_pen {
    enum lamp_paper_ink ink;
    double width_pt;
    double dash_pt; /**< Length of its dashes, 0: none. */
};

/** What a sheet is. */
struct lamp_paper_rules {
    enum lamp_plot_format format;
    double width_pt;
    double height_pt;
    const char *title; /**< Of the file, UTF-8. */
};

struct lamp_paper;

/** Make a sheet that keeps nothing, to measure on. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_paper_new_scratch(struct lamp_paper **out);

/** Make a sheet. @param out_file  borrowed until it is finished. @return LAMP_OK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_paper_new(const struct lamp_paper_rules *rules, FILE *out_file,
                             struct lamp_paper **out);

/** Go on with a new page (PDF). */
void lamp_paper_turn(struct lamp_paper *paper);

/** Move what is drawn from here on, from the upper left corner of the sheet. */
void lamp_paper_place(struct lamp_paper *paper, double x_pt, double y_pt);

/** A line. */
void lamp_paper_line(struct lamp_paper *paper, const double from_pt[2], const double to_pt[2],
                     struct lamp_paper_pen pen);

/** A filled rectangle: x, y, width, height. */
void lamp_paper_fill(struct lamp_paper *paper, const double box_pt[4], enum lamp_paper_ink ink);

/** Its outline. */
void lamp_paper_outline(struct lamp_paper *paper, const double box_pt[4],
                        struct lamp_paper_pen pen);

/** A picture of width x height pixels, R, G, B each, in the box. */
void lamp_paper_show(struct lamp_paper *paper, const double box_pt[4], const unsigned char *rgb,
                     int width_px, int height_px);

/** Text on the base line at (x, y). @return its width, pt. */
double lamp_paper_write(struct lamp_paper *paper, double x_pt, double y_pt,
                        const struct lamp_paper_words *words, const char *text);

/** What `text` holds, "" where that is nothing. If it is not whole for want of memory the sheet is
 * not, either, and says so when it is finished. */
const char *lamp_paper_text(struct lamp_paper *paper, const struct lamp_text *text);

/** How wide text would be, pt. */
double lamp_paper_measure(struct lamp_paper *paper, const struct lamp_paper_words *words,
                          const char *text);

/** Put it into the file, and free. @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY. */
enum lamp_err lamp_paper_finish(struct lamp_paper *paper);

#endif
