/* telling.h - One lamp told for people: what was seen, what it means, what to do next. */
#ifndef LAMP_REPORT_TELLING_H
#define LAMP_REPORT_TELLING_H

#include <stdbool.h>

#include "lampread/report.h"
#include "report/page.h"

/** Tell `lamp` on `page`. @param has_book as in struct lamp_report. @return true if checks were
 * listed. */
bool lamp_tell(const struct lamp_report_lamp *lamp, bool has_book, bool is_ascii,
               struct lamp_page *page);

/** Add a numbered list beside `label`. */
void lamp_tell_steps(const struct lamp_strings *steps, const char *label, struct lamp_page *page);

/** Add strings joined by ", " beside `label`; nothing where there are none. */
void lamp_tell_row(const struct lamp_strings *strings, const char *label, struct lamp_page *page);

#endif
