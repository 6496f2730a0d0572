/* canvas.c - Paint soft-edged shapes in linear light.
 *
 * A shape is the distance of a point to its outline, below 0 inside; its edge is one pixel of that
 * distance wide, so that no picture needs to be painted larger and shrunk.
 */
#include "render/canvas.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "render/random.h"

/* Softest lens, pixels to each side that the normal curve is followed. */
#define BLUR_REACH 32

enum lamp_err canvas_init(struct canvas *canvas, int width_px, int height_px)
{
    float *at = calloc((size_t)width_px * (size_t)height_px * CANVAS_DEPTH, sizeof *at);
    if (at == NULL) {
        return LAMP_NO_MEMORY;
    }
    *canvas = (struct canvas){
        .width_px = width_px, .height_px = height_px, .at = at, .px_per_mm = 1, .cosine = 1};
    return LAMP_OK;
}

void canvas_lay(struct canvas *canvas, double px_per_mm, double turn_deg)
{
    canvas->px_per_mm = px_per_mm;
    canvas->centre_x_px = canvas->width_px / 2.0;
    canvas->centre_y_px = canvas->height_px / 2.0;
    canvas->cosine = cos(turn_deg * TURN / 360);
    canvas->sine = sin(turn_deg * TURN / 360);
}

void canvas_to_mm(const struct canvas *canvas, double x_px, double y_px, double out_mm[2])
{
    const double x = (x_px - canvas->centre_x_px) / canvas->px_per_mm;
    const double y = (y_px - canvas->centre_y_px) / canvas->px_per_mm;
    out_mm[0] = x * canvas->cosine + y * canvas->sine;
    out_mm[1] = y * canvas->cosine - x * canvas->sine;
}

static void to_px(const struct canvas *canvas, double x_mm, double y_mm, double out_px[2])
{
    const double s = canvas->px_per_mm;
    out_px[0] = canvas->centre_x_px + s * (x_mm * canvas->cosine - y_mm * canvas->sine);
    out_px[1] = canvas->centre_y_px + s * (y_mm * canvas->cosine + x_mm * canvas->sine);
}

/* Pixels that a shape may touch. */
struct span {
    int x0;
    int y0;
    int x1;
    int y1;
};

static int clip(double value, int most)
{
    return value < 0 ? 0 : value > most ? most : (int)value;
}

/* All pixels within `reach_mm` of the straight line between two points. */
static struct span span_around(const struct canvas *canvas, const struct line *line,
                               double reach_mm)
{
    double a[2];
    double b[2];
    to_px(canvas, line->x0_mm, line->y0_mm, a);
    to_px(canvas, line->x1_mm, line->y1_mm, b);
    const double reach = reach_mm * canvas->px_per_mm + 1;
    return (struct span){
        clip(floor(fmin(a[0], b[0]) - reach), canvas->width_px),
        clip(floor(fmin(a[1], b[1]) - reach), canvas->height_px),
        clip(ceil(fmax(a[0], b[0]) + reach) + 1, canvas->width_px),
        clip(ceil(fmax(a[1], b[1]) + reach) + 1, canvas->height_px),
    };
}

static void mix(float *texel, const struct ink *ink, float share)
{
    for (int i = 0; i < CANVAS_DEPTH; i++) {
        texel[i] += (ink->value[i] - texel[i]) * share;
    }
}

/* A shape that can tell how far a point lies outside of its outline. */
struct shape {
    double (*distance_mm)(const void *form, const double at_mm[2]);
    const void *form;
    const struct ink *ink;
};

/* Share of a pixel that lies inside an outline `distance_mm` away. */
static float coverage(const struct canvas *canvas, double distance_mm, const struct ink *ink)
{
    const double edge_mm = fmax((double)ink->soft_mm, 1 / canvas->px_per_mm);
    const double inside = 0.5 - distance_mm / edge_mm;
    return (float)fmin(fmax(inside, 0), 1) * ink->cover;
}

static void paint_row(struct canvas *canvas, const struct shape *shape, const struct span *span,
                      int y)
{
    float *texel =
        &canvas->at[((size_t)y * (size_t)canvas->width_px + (size_t)span->x0) * CANVAS_DEPTH];
    for (int x = span->x0; x < span->x1; x++) {
        double at_mm[2];
        canvas_to_mm(canvas, x + 0.5, y + 0.5, at_mm);
        const float share = coverage(canvas, shape->distance_mm(shape->form, at_mm), shape->ink);
        if (share > 0) {
            mix(texel, shape->ink, share);
        }
        texel += CANVAS_DEPTH;
    }
}

static void paint(struct canvas *canvas, const struct shape *shape, const struct span *span)
{
    for (int y = span->y0; y < span->y1; y++) {
        paint_row(canvas, shape, span, y);
    }
}

static double box_distance(const void *form, const double at_mm[2])
{
    const struct box *box = form;
    const double x = fabs(at_mm[0] - box->x_mm) - box->half_w_mm + box->round_mm;
    const double y = fabs(at_mm[1] - box->y_mm) - box->half_h_mm + box->round_mm;
    return hypot(fmax(x, 0), fmax(y, 0)) + fmin(fmax(x, y), 0) - box->round_mm;
}

void canvas_box(struct canvas *canvas, const struct box *box, const struct ink *ink)
{
    const struct line middle = {box->x_mm, box->y_mm, box->x_mm, box->y_mm, 0};
    const double reach_mm = hypot(box->half_w_mm, box->half_h_mm) + (double)ink->soft_mm;
    const struct span span = span_around(canvas, &middle, reach_mm);
    paint(canvas, &(struct shape){box_distance, box, ink}, &span);
}

static double line_distance(const void *form, const double at_mm[2])
{
    const struct line *line = form;
    const double dx = line->x1_mm - line->x0_mm;
    const double dy = line->y1_mm - line->y0_mm;
    const double px = at_mm[0] - line->x0_mm;
    const double py = at_mm[1] - line->y0_mm;
    const double square = dx * dx + dy * dy;
    const double along = square > 0 ? fmin(fmax((px * dx + py * dy) / square, 0), 1) : 0;
    return hypot(px - along * dx, py - along * dy) - line->half_mm;
}

void canvas_line(struct canvas *canvas, const struct line *line, const struct ink *ink)
{
    const struct span span = span_around(canvas, line, line->half_mm + (double)ink->soft_mm);
    paint(canvas, &(struct shape){line_distance, line, ink}, &span);
}

void canvas_disc(struct canvas *canvas, double x_mm, double y_mm, double radius_mm,
                 const struct ink *ink)
{
    canvas_line(canvas, &(struct line){x_mm, y_mm, x_mm, y_mm, radius_mm}, ink);
}

/* Strokes of a character, each from one to another of nine points:  1 2 3
 *                                                                   4 5 6
 *                                                                   7 8 9  */
static const char *strokes_of(char c)
{
    static const struct {
        char c;
        const char *strokes;
    } table[] = {
        {'0', "13399771"},   {'1', "28"},         {'2', "1336644779"}, {'3', "13399746"},
        {'4', "144639"},     {'5', "3114466997"}, {'6', "3117799664"}, {'7', "1338"},
        {'8', "1339977146"}, {'9', "64411339"},   {'A', "722946"},     {'C', "311779"},
        {'D', "1226688771"}, {'E', "31177945"},   {'J', "399884"},     {'L', "1779"},
        {'M', "71155339"},   {'O', "13399771"},   {'P', "71133664"},   {'R', "7113366459"},
        {'T', "1328"},       {'U', "177993"},     {'-', "46"},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (table[i].c == c) {
            return table[i].strokes;
        }
    }
    return "";
}

void canvas_text(struct canvas *canvas, const double at_mm[2], double high_mm, const char *text,
                 const struct ink *ink)
{
    static const double corner[9][2] = {{0, 0},     {0.3, 0}, {0.6, 0}, {0, 0.5}, {0.3, 0.5},
                                        {0.6, 0.5}, {0, 1},   {0.3, 1}, {0.6, 1}};
    for (size_t i = 0; text[i] != '\0'; i++) {
        const double x_mm = at_mm[0] + (double)i * high_mm * 0.85;
        for (const char *stroke = strokes_of(text[i]); *stroke != '\0'; stroke += 2) {
            const double *from = corner[stroke[0] - '1'];
            const double *to = corner[stroke[1] - '1'];
            const struct line line = {x_mm + from[0] * high_mm, at_mm[1] + from[1] * high_mm,
                                      x_mm + to[0] * high_mm, at_mm[1] + to[1] * high_mm,
                                      high_mm * 0.07};
            canvas_line(canvas, &line, ink);
        }
    }
}

/* The mean around pixel `i` of a row of `count`, its last pixels repeated beyond its ends. */
static void blur_pixel(const float *row, int i, int count, const float *weight, float *out)
{
    float sum[CANVAS_DEPTH] = {0};
    for (int k = -BLUR_REACH; k <= BLUR_REACH; k++) {
        const float w = weight[abs(k)];
        const int from = i + k < 0 ? 0 : i + k >= count ? count - 1 : i + k;
        for (int c = 0; w > 0 && c < CANVAS_DEPTH; c++) {
            sum[c] += w * row[(size_t)from * CANVAS_DEPTH + (size_t)c];
        }
    }
    memcpy(out, sum, sizeof sum);
}

/* Blur one row or column of `count` pixels, `step` floats apart; `copy` has room for it. */
static void blur_run(float *at, size_t step, int count, const float *weight, float *copy)
{
    for (int i = 0; i < count; i++) {
        memcpy(&copy[(size_t)i * CANVAS_DEPTH], &at[(size_t)i * step], CANVAS_DEPTH * sizeof *copy);
    }
    for (int i = 0; i < count; i++) {
        blur_pixel(copy, i, count, weight, &at[(size_t)i * step]);
    }
}

/* One side of a normal curve that sums to 1 over both; far weights that change nothing are 0. */
static void weigh(double sd_px, float weight[BLUR_REACH + 1])
{
    double sum = 0;
    for (int k = 0; k <= BLUR_REACH; k++) {
        const double w = k > 4 * sd_px ? 0 : exp(-0.5 * k * k / (sd_px * sd_px));
        sum += k == 0 ? w : 2 * w;
        weight[k] = (float)w;
    }
    for (int k = 0; k <= BLUR_REACH; k++) {
        weight[k] = (float)(weight[k] / sum);
    }
}

enum lamp_err canvas_blur(struct canvas *canvas, double sd_px)
{
    if (sd_px < 0.05) {
        return LAMP_OK;
    }
    const int longest = canvas->width_px > canvas->height_px ? canvas->width_px : canvas->height_px;
    float *copy = malloc((size_t)longest * CANVAS_DEPTH * sizeof *copy);
    if (copy == NULL) {
        return LAMP_NO_MEMORY;
    }
    float weight[BLUR_REACH + 1];
    weigh(sd_px, weight);
    const size_t row = (size_t)canvas->width_px * CANVAS_DEPTH;
    for (int y = 0; y < canvas->height_px; y++) {
        blur_run(&canvas->at[(size_t)y * row], CANVAS_DEPTH, canvas->width_px, weight, copy);
    }
    for (int x = 0; x < canvas->width_px; x++) {
        blur_run(&canvas->at[(size_t)x * CANVAS_DEPTH], row, canvas->height_px, weight, copy);
    }
    free(copy);
    return LAMP_OK;
}

void canvas_fini(struct canvas *canvas)
{
    free(canvas->at);
    canvas->at = NULL;
}
