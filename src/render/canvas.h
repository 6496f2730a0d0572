/* canvas.h - Paint soft-edged shapes in linear light. */
#ifndef LAMP_RENDER_CANVAS_H
#define LAMP_RENDER_CANVAS_H

#include "lampread/error.h"

/** Values of one pixel: red, green, blue, and how shiny it is. */
#define CANVAS_DEPTH 4

/** A picture in linear light. Shapes are placed in millimetres of the board, which may lie turned
 * in the picture. */
struct canvas {
    int width_px;
    int height_px;
    float *at; /**< CANVAS_DEPTH values a pixel, row by row. */
    double px_per_mm;
    double centre_x_px; /**< Where millimetre 0, 0 lies. */
    double centre_y_px;
    double cosine; /**< Of the board's turn. */
    double sine;
};

/** What a shape is painted with. */
struct ink {
    float value[CANVAS_DEPTH];
    float cover;   /**< 0 leaves what is there, 1 hides it. */
    float soft_mm; /**< Width of its edge; never below a pixel. */
};

/** A box with round corners. */
struct box {
    double x_mm;
    double y_mm;
    double half_w_mm;
    double half_h_mm;
    double round_mm;
};

/** A line with round ends; a disc where both ends are one. */
struct line {
    double x0_mm;
    double y0_mm;
    double x1_mm;
    double y1_mm;
    double half_mm;
};

/** Make a black canvas. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err canvas_init(struct canvas *canvas, int width_px, int height_px);

/** Lay the board: scale, and turn about the middle of the picture. */
void canvas_lay(struct canvas *canvas, double px_per_mm, double turn_deg);

/** Millimetres of the board at a pixel. */
void canvas_to_mm(const struct canvas *canvas, double x_px, double y_px, double out_mm[2]);

/** Paint a box. */
void canvas_box(struct canvas *canvas, const struct box *box, const struct ink *ink);

/** Paint a line. */
void canvas_line(struct canvas *canvas, const struct line *line, const struct ink *ink);

/** Paint a disc. */
void canvas_disc(struct canvas *canvas, double x_mm, double y_mm, double radius_mm,
                 const struct ink *ink);

/** Paint capital letters, digits and dashes, `high_mm` high, from their upper left corner. */
void canvas_text(struct canvas *canvas, const double at_mm[2], double high_mm, const char *text,
                 const struct ink *ink);

/** Soften as a lens does: a normal curve of sd `sd_px`. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err canvas_blur(struct canvas *canvas, double sd_px);

/** Free what the canvas holds. */
void canvas_fini(struct canvas *canvas);

#endif
