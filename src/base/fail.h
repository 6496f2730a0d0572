/* fail.h - Say what went wrong, once, where the caller will look for it. */
#ifndef LAMP_BASE_FAIL_H
#define LAMP_BASE_FAIL_H

#include "lampread/error.h"

/**
 * Fill `error` (may be NULL) and answer `code`, so that a failing line reads `return lamp_fail(...)`.
 * Line breaks and control characters in the sentence become spaces.
 */
enum lamp_err lamp_fail(struct lamp_error *error, enum lamp_err code, const char *place, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/** lamp_fail for memory. */
enum lamp_err lamp_fail_memory(struct lamp_error *error);

#endif
