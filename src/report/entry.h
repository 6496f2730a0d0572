/* entry.h - A codebook entry for a rhythm that no book knows, ready to paste. */
#ifndef LAMP_REPORT_ENTRY_H
#define LAMP_REPORT_ENTRY_H

#include "base/text.h"
#include "lampread/report.h"

/** Add the entry of `lamp`, a YAML list item for "codes:", each line begun with `indent` spaces. */
void lamp_entry_write(const struct lamp_report_lamp *lamp, int indent, struct lamp_text *out);

#endif
