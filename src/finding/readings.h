/* readings.h - Bench readings: looked up by name, compared, said. */
#ifndef LAMP_FINDING_READINGS_H
#define LAMP_FINDING_READINGS_H

#include "lampread/finding.h"

/** The bench readings that were given. Borrowed. */
struct lamp_readings {
    const struct lamp_given *given;
    size_t count;
};

/** The reading called `key`, the last if it was given twice; NULL: not known. */
const struct lamp_given *lamp_readings_find(const struct lamp_readings *readings, const char *key);

/** Whether a reading fits the value of a condition: a word, or a comparison with a unit. */
bool lamp_given_fits(const struct lamp_given *given, const char *value);

/** "current 0.5 A". */
void lamp_given_say(const struct lamp_given *given, char out[LAMP_REASON_MAX]);

#endif
