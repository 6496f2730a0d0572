/* words.h - Verdicts, confidence and what is missing, in words for people. */
#ifndef LAMP_REPORT_WORDS_H
#define LAMP_REPORT_WORDS_H

#include <stddef.h>

#include "base/text.h"
#include "lampread/report.h"

/** Write a length of time for people, three figures: "204 ms", "1.79 s", "2 min 5 s". */
void lamp_words_time(double seconds, char *out, size_t size);

/** Write a share as a percentage that never rounds up to certainty: "99.8 %", "over 99.9 %". */
void lamp_words_percent(double share, char *out, size_t size);

/** Write "1st", "2nd", "3rd", "4th". */
void lamp_words_ordinal(size_t number, char *out, size_t size);

/** How sure: "sure", "quite sure", "likely", "not sure". Static. */
const char *lamp_words_confidence(double confidence);

/** What would settle an undecided lamp, as a whole sentence without a full stop. Static; "" for
 * NOTHING. */
const char *lamp_words_lack(enum lamp_lack lack);

/** Write a measured pattern in codebook notation, its numbers rounded to what a reading is good
 * for. */
void lamp_words_pattern(const struct lamp_pattern *pattern, char out[LAMP_NOTATION_MAX]);

/** Add the verdict on `lamp` with its pattern: "code 2 long 5 short", "blinks at 2.5 Hz, lit 50 %
 * of the time". */
void lamp_words_verdict(const struct lamp_report_lamp *lamp, struct lamp_text *out);

/** Add `text` as valid UTF-8 without control characters, so that a file name cannot drive the
 * terminal; '?' for others. */
void lamp_words_plain(const char *text, struct lamp_text *out);

#endif
