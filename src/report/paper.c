/* paper.c - A sheet to draw on, written as SVG, PNG or PDF. */
#include "report/paper.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "base/utf8.h"
#include "report/words.h"

/* Pixels a point in a PNG; fewer where the figure would be larger than an image can be. */
#define PNG_SCALE     2.0
#define PNG_SIDE_MOST 30000.0

struct lamp_paper {
    cairo_surface_t *surface;
    cairo_t *cairo;
    enum lamp_plot_format format;
    FILE *file;
    bool is_scratch;
    bool failed;       /* a write failed */
    bool lacks_memory; /* a text is not whole */
    struct lamp_text svg;
    struct lamp_text title;
};

static cairo_status_t take_bytes(void *closure, const unsigned char *bytes, unsigned size)
{
    struct lamp_paper *paper = closure;
    if (paper->format == LAMP_PLOT_SVG) {
        lamp_text_add(&paper->svg, "%.*s", (int)size, (const char *)bytes);
        return paper->svg.failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
    }
    paper->failed |= fwrite(bytes, 1, size, paper->file) != size;
    return paper->failed ? CAIRO_STATUS_WRITE_ERROR : CAIRO_STATUS_SUCCESS;
}

static cairo_surface_t *surface_for(struct lamp_paper *paper, double width_pt, double height_pt)
{
    if (paper->is_scratch) {
        return cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, NULL);
    }
    if (paper->format == LAMP_PLOT_SVG) {
        return cairo_svg_surface_create_for_stream(take_bytes, paper, width_pt, height_pt);
    }
    if (paper->format == LAMP_PLOT_PDF) {
        return cairo_pdf_surface_create_for_stream(take_bytes, paper, width_pt, height_pt);
    }
    double most = width_pt > height_pt ? width_pt : height_pt;
    double scale = PNG_SCALE * most > PNG_SIDE_MOST ? PNG_SIDE_MOST / most : PNG_SCALE;
    cairo_surface_t *made = cairo_image_surface_create(
        CAIRO_FORMAT_RGB24, (int)(width_pt * scale + 0.5), (int)(height_pt * scale + 0.5));
    cairo_surface_set_device_scale(made, scale, scale);
    return made;
}

static enum lamp_err open_paper(struct lamp_paper *made, double width_pt, double height_pt,
                                struct lamp_paper **out)
{
    made->surface = surface_for(made, width_pt, height_pt);
    made->cairo = cairo_create(made->surface);
    if (cairo_status(made->cairo) != CAIRO_STATUS_SUCCESS) {
        (void)lamp_paper_finish(made);
        return LAMP_NO_MEMORY;
    }
    *out = made;
    return LAMP_OK;
}

enum lamp_err lamp_paper_new_scratch(struct lamp_paper **out)
{
    struct lamp_paper *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    made->is_scratch = true;
    return open_paper(made, 0, 0, out);
}

enum lamp_err lamp_paper_new(const struct lamp_paper_rules *rules, FILE *out_file,
                             struct lamp_paper **out)
{
    struct lamp_paper *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    made->format = rules->format;
    made->file = out_file;
    lamp_words_plain(rules->title, &made->title);
    enum lamp_err failed = open_paper(made, rules->width_pt, rules->height_pt, out);
    if (failed != LAMP_OK) {
        return failed;
    }
    if (rules->format == LAMP_PLOT_PDF && made->title.at != NULL) {
        cairo_pdf_surface_set_metadata(made->surface, CAIRO_PDF_METADATA_TITLE, made->title.at);
    }
    cairo_set_source_rgb(made->cairo, 1, 1, 1);
    cairo_paint(made->cairo);
    return LAMP_OK;
}

void lamp_paper_turn(struct lamp_paper *paper)
{
    cairo_show_page(paper->cairo);
}

void lamp_paper_place(struct lamp_paper *paper, double x_pt, double y_pt)
{
    cairo_identity_matrix(paper->cairo);
    cairo_translate(paper->cairo, x_pt, y_pt);
}

/* Blue and vermilion of M. Okabe and K. Ito, "Color Universal Design", 2008. */
static void set_ink(struct lamp_paper *paper, enum lamp_paper_ink ink)
{
    static const double inks[][3] = {
        [LAMP_PAPER_BLACK] = {0, 0, 0},        [LAMP_PAPER_DARK] = {0.27, 0.27, 0.27},
        [LAMP_PAPER_GREY] = {0.6, 0.6, 0.6},   [LAMP_PAPER_LIGHT] = {0.88, 0.88, 0.88},
        [LAMP_PAPER_BLUE] = {0, 0.447, 0.698}, [LAMP_PAPER_RED] = {0.835, 0.369, 0}};
    cairo_set_source_rgb(paper->cairo, inks[ink][0], inks[ink][1], inks[ink][2]);
}

static void stroke(struct lamp_paper *paper, struct lamp_paper_pen pen)
{
    set_ink(paper, pen.ink);
    cairo_set_line_width(paper->cairo, pen.width_pt);
    cairo_set_dash(paper->cairo, &pen.dash_pt, pen.dash_pt > 0 ? 1 : 0, 0);
    cairo_stroke(paper->cairo);
}

void lamp_paper_line(struct lamp_paper *paper, const double from_pt[2], const double to_pt[2],
                     struct lamp_paper_pen pen)
{
    cairo_move_to(paper->cairo, from_pt[0], from_pt[1]);
    cairo_line_to(paper->cairo, to_pt[0], to_pt[1]);
    stroke(paper, pen);
}

void lamp_paper_fill(struct lamp_paper *paper, const double box_pt[4], enum lamp_paper_ink ink)
{
    set_ink(paper, ink);
    cairo_rectangle(paper->cairo, box_pt[0], box_pt[1], box_pt[2], box_pt[3]);
    cairo_fill(paper->cairo);
}

void lamp_paper_outline(struct lamp_paper *paper, const double box_pt[4], struct lamp_paper_pen pen)
{
    cairo_rectangle(paper->cairo, box_pt[0], box_pt[1], box_pt[2], box_pt[3]);
    stroke(paper, pen);
}

static void copy_pixels(cairo_surface_t *image, const unsigned char *rgb, int width_px,
                        int height_px)
{
    unsigned char *to = cairo_image_surface_get_data(image);
    size_t stride = (size_t)cairo_image_surface_get_stride(image);
    for (int i = 0; i < width_px * height_px; i++) {
        const unsigned char *from = &rgb[3 * (size_t)i];
        uint32_t pixel = (uint32_t)from[0] << 16 | (uint32_t)from[1] << 8 | from[2];
        memcpy(to + (size_t)(i / width_px) * stride + 4 * (size_t)(i % width_px), &pixel,
               sizeof pixel);
    }
    cairo_surface_mark_dirty(image);
}

void lamp_paper_show(struct lamp_paper *paper, const double box_pt[4], const unsigned char *rgb,
                     int width_px, int height_px)
{
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width_px, height_px);
    if (paper->is_scratch || cairo_surface_status(image) != CAIRO_STATUS_SUCCESS) {
        cairo_surface_destroy(image);
        return;
    }
    copy_pixels(image, rgb, width_px, height_px);
    cairo_save(paper->cairo);
    cairo_translate(paper->cairo, box_pt[0], box_pt[1]);
    cairo_scale(paper->cairo, box_pt[2] / width_px, box_pt[3] / height_px);
    cairo_set_source_surface(paper->cairo, image, 0, 0);
    cairo_paint(paper->cairo);
    cairo_restore(paper->cairo);
    cairo_surface_destroy(image);
}

static double width_of(struct lamp_paper *paper, const char *text)
{
    cairo_text_extents_t extents;
    cairo_text_extents(paper->cairo, text, &extents);
    return extents.x_advance;
}

static void set_font(struct lamp_paper *paper, const struct lamp_paper_words *words)
{
    cairo_select_font_face(paper->cairo, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                           words->is_bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(paper->cairo, words->size_pt);
}

/* `text` made valid, and cut with an ellipsis if it does not fit. */
static void fit(struct lamp_paper *paper, const struct lamp_paper_words *words, const char *text,
                struct lamp_text *out)
{
    lamp_words_plain(text, out);
    if (out->failed || out->length == 0 || !(words->room_pt > 0) ||
        width_of(paper, out->at) <= words->room_pt) {
        return;
    }
    struct lamp_text cut = {0};
    for (size_t size = out->length; size > 0 && !cut.failed;) {
        size = lamp_utf8_fit(out->at, out->length, size - 1);
        lamp_text_fini(&cut);
        cut = (struct lamp_text){0};
        lamp_text_add(&cut, "%.*s\xe2\x80\xa6", (int)size, out->at);
        if (cut.failed || width_of(paper, cut.at) <= words->room_pt) {
            break;
        }
    }
    lamp_text_fini(out);
    *out = cut;
}

const char *lamp_paper_text(struct lamp_paper *paper, const struct lamp_text *text)
{
    paper->lacks_memory |= text->failed;
    return text->failed || text->length == 0 ? "" : text->at;
}

double lamp_paper_measure(struct lamp_paper *paper, const struct lamp_paper_words *words,
                          const char *text)
{
    set_font(paper, words);
    return width_of(paper, text);
}

double lamp_paper_write(struct lamp_paper *paper, double x_pt, double y_pt,
                        const struct lamp_paper_words *words, const char *text)
{
    struct lamp_text fitted = {0};
    set_font(paper, words);
    fit(paper, words, text, &fitted);
    if (lamp_paper_text(paper, &fitted)[0] == '\0') {
        lamp_text_fini(&fitted);
        return 0;
    }
    double width = width_of(paper, fitted.at);
    double left = words->side == LAMP_PAPER_MIDDLE  ? x_pt - width / 2
                  : words->side == LAMP_PAPER_RIGHT ? x_pt - width
                                                    : x_pt;
    set_ink(paper, words->ink);
    cairo_move_to(paper->cairo, left, y_pt);
    cairo_show_text(paper->cairo, fitted.at);
    lamp_text_fini(&fitted);
    return width;
}

static void write_escaped(struct lamp_paper *paper, const char *text)
{
    for (; *text != '\0'; text++) {
        const char *escaped = *text == '&'   ? "&amp;"
                              : *text == '<' ? "&lt;"
                              : *text == '>' ? "&gt;"
                                             : NULL;
        paper->failed |=
            escaped != NULL ? fputs(escaped, paper->file) == EOF : fputc(*text, paper->file) == EOF;
    }
}

/* The title goes in for those who hear pictures read. */
static void write_svg(struct lamp_paper *paper)
{
    const char *head = paper->svg.at != NULL ? strstr(paper->svg.at, "<svg") : NULL;
    const char *rest = head != NULL ? strchr(head, '>') : NULL;
    if (rest == NULL) {
        return;
    }
    size_t size = (size_t)(rest + 1 - paper->svg.at);
    paper->failed |= fwrite(paper->svg.at, 1, size, paper->file) != size;
    paper->failed |= fputs("\n<title>", paper->file) == EOF;
    write_escaped(paper, paper->title.at != NULL ? paper->title.at : "");
    paper->failed |= fputs("</title>", paper->file) == EOF || fputs(rest + 1, paper->file) == EOF;
}

enum lamp_err lamp_paper_finish(struct lamp_paper *paper)
{
    cairo_status_t status = cairo_status(paper->cairo);
    bool is_whole = status == CAIRO_STATUS_SUCCESS && !paper->is_scratch;
    if (is_whole && paper->format == LAMP_PLOT_PNG) {
        status = cairo_surface_write_to_png_stream(paper->surface, take_bytes, paper);
    }
    cairo_destroy(paper->cairo);
    cairo_surface_finish(paper->surface);
    status = status == CAIRO_STATUS_SUCCESS ? cairo_surface_status(paper->surface) : status;
    cairo_surface_destroy(paper->surface);
    if (is_whole && paper->format == LAMP_PLOT_SVG && !paper->svg.failed) {
        write_svg(paper);
    }
    bool lacks_memory = paper->lacks_memory || paper->svg.failed || paper->title.failed;
    bool failed = paper->failed || (is_whole && fflush(paper->file) != 0);
    lamp_text_fini(&paper->svg);
    lamp_text_fini(&paper->title);
    free(paper);
    return failed || status == CAIRO_STATUS_WRITE_ERROR     ? LAMP_CANNOT_WRITE
           : lacks_memory || status != CAIRO_STATUS_SUCCESS ? LAMP_NO_MEMORY
                                                            : LAMP_OK;
}
