/* csv.h - The fields of a CSV file, as RFC 4180 has them. */
#ifndef LAMP_REPORT_CSV_H
#define LAMP_REPORT_CSV_H

#include <stdint.h>
#include <stdio.h>

/** Write a time as seconds, to the ns. */
void lamp_csv_write_seconds(FILE *out, int64_t ns);

/** Write a text, in quotes where it has a comma, quote or line break. */
void lamp_csv_write_text(FILE *out, const char *text);

#endif
