/* figure.h - The figure of one lamp: verdict, light, edges, flashes, the entry, the repeats. */
#ifndef LAMP_REPORT_FIGURE_H
#define LAMP_REPORT_FIGURE_H

#include "report/columns.h"
#include "report/paper.h"
#include "report/repeats.h"
#include "report/stretch.h"

/** Width of a figure, and its part that is a time axis, pt. */
#define LAMP_FIGURE_WIDTH_PT 480.0
#define LAMP_FIGURE_LEFT_PT  48.0

/** All that one figure is drawn from. */
struct lamp_figure {
    const struct lamp_report *report;
    const struct lamp_report_lamp *lamp;
    struct lamp_repeats repeats;
    bool has_light; /**< There is a stretch to draw. */
    struct lamp_stretch_of_time whole;
    struct lamp_stretch_of_time part;
    struct lamp_columns *overview; /**< NULL where the part is the whole, or there is no light. */
    struct lamp_columns *detail;   /**< NULL where there is no light. */
};

/** A time axis on the sheet. */
struct lamp_figure_axis {
    double left_pt;
    double width_pt;
    int64_t start_ns;
    int64_t span_ns;
};

/** Where time `t_ns` falls, kept within the axis. */
double lamp_figure_x(const struct lamp_figure_axis *axis, double t_ns);

/** Draw from `y_pt` down. @return where the figure ends. */
double lamp_figure_draw(const struct lamp_figure *figure, struct lamp_paper *paper, double y_pt);

/** Its parts, each drawn from `y_pt` down. @return where it ends. */
double lamp_figure_draw_light(const struct lamp_figure *figure, struct lamp_paper *paper,
                              double y_pt);
double lamp_figure_draw_groups(const struct lamp_report_lamp *lamp,
                               const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                               double y_pt);
double lamp_figure_draw_entries(const struct lamp_figure *figure,
                                const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                                double y_pt);
double lamp_figure_draw_repeats(const struct lamp_figure *figure, struct lamp_paper *paper,
                                double y_pt);

/** The seconds below an axis. @return where it ends. */
double lamp_figure_draw_axis(const struct lamp_figure_axis *axis, struct lamp_paper *paper,
                             double y_pt);

/** A caption above a part. @return where the part may begin. */
double lamp_figure_caption(struct lamp_paper *paper, double y_pt, const char *text);

#endif
