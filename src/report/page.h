/* page.h - Lines for people: a label at the left, text wrapped beside it. */
#ifndef LAMP_REPORT_PAGE_H
#define LAMP_REPORT_PAGE_H

#include <stdbool.h>
#include <stdio.h>

#include "base/text.h"
#include "lampread/error.h"

/** Column at which the text beside a label begins. */
#define LAMP_PAGE_INDENT 12

/** A page being written; begin with the text all zero. */
struct lamp_page {
    struct lamp_text text;
    int width;       /**< Columns. */
    bool has_colour; /**< Terminal colours. */
};

/** How a stretch of text looks on a terminal with colours. */
enum lamp_ink { LAMP_INK_PLAIN, LAMP_INK_HEADING, LAMP_INK_LABEL };

/** Columns that UTF-8 `text` takes, one a character. */
int lamp_page_columns(const char *text, size_t size);

/** Add a heading over the whole width, wrapped. */
void lamp_page_heading(struct lamp_page *page, const char *text);

/** Add `text` beside `label`, wrapped; label "" goes on under the last one. */
void lamp_page_item(struct lamp_page *page, const char *label, const char *text);

/** lamp_page_item, printf-style. */
void lamp_page_say(struct lamp_page *page, const char *label, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** Add one line as it is beside `label`, with ANSI colour `colour` (30..37; 0: none). */
void lamp_page_line(struct lamp_page *page, const char *label, const char *line, int colour);

/** Add an empty line. */
void lamp_page_gap(struct lamp_page *page);

/** Write the page and free what it holds. @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY. */
enum lamp_err lamp_page_finish(struct lamp_page *page, FILE *out);

#endif
