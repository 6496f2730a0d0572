/* reasons.h - Why a lamp has its verdict: its lengths, its repeats, and what would settle it. */
#ifndef LAMP_REPORT_REASONS_H
#define LAMP_REPORT_REASONS_H

#include "lampread/report.h"
#include "report/page.h"

/** Tell it on `page`. */
void lamp_tell_reasons(const struct lamp_report_lamp *lamp, struct lamp_page *page);

#endif
