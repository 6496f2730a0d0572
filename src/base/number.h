/* number.h - Numbers and quantities as people write them, the same in every locale. */
#ifndef LAMP_BASE_NUMBER_H
#define LAMP_BASE_NUMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** Nanoseconds in a second. */
#define LAMP_NS_PER_S 1000000000

/**
 * Read a decimal number ("2", "-0.5", "1e-3"; a point, whatever the locale) at `text`.
 * @return bytes read, 0 if there is no finite number; `out` is set only on success.
 */
size_t lamp_number_read(const char *text, double *out);

/** Read a whole string as a number. */
bool lamp_number_parse(const char *text, double *out);

/**
 * Read a length of time with its unit ("200 ms", "1.8s", "40 us", "2 min") at `text`.
 * @return bytes read, 0 if there is none or it is not above 0 and below a day.
 */
size_t lamp_duration_read(const char *text, int64_t *out_ns);

/** Read a whole string as a length of time. */
bool lamp_duration_parse(const char *text, int64_t *out_ns);

/**
 * Read a whole string as plain seconds ("-0.25", "1700000000.123456789", "1e-3"), exact to the ns
 * where it has no exponent. @return false where it is no number, or beyond 4e9 s.
 */
bool lamp_seconds_parse(const char *text, int64_t *out_ns);

/** Write a length of time shortest, so that it reads back the same: "200 ms", "1.8 s". */
void lamp_duration_format(int64_t ns, char *out, size_t size);

/** Write a number shortest with a point, so that it reads back the same to 9 digits. */
void lamp_number_format(double value, char *out, size_t size);

#endif
