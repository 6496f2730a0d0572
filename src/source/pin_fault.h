/* pin_fault.h - Why a pin cannot be read, in words a person can act on. */
#ifndef LAMP_SOURCE_PIN_FAULT_H
#define LAMP_SOURCE_PIN_FAULT_H

#include "lampread/error.h"
#include "lampread/source.h"

/** Why the chip at `path` cannot be opened. @param code  errno. */
void lamp_pin_say_closed(const char *path, int code, char out[LAMP_SENTENCE_MAX]);

/** Which chips there are, or what it means that there are none. */
void lamp_pin_say_chips(char out[LAMP_SENTENCE_MAX]);

/** A line that something else has. */
enum lamp_err lamp_pin_fail_used(const char *name, const struct lamp_pin *line,
                                 struct lamp_error *error);

/** A line that is an output. */
enum lamp_err lamp_pin_fail_output(const char *name, struct lamp_error *error);

/** A line that could not be taken as an input. @param code  errno. */
enum lamp_err lamp_pin_fail_watch(const char *name, const struct lamp_source_rules *rules, int code,
                                  struct lamp_error *error);

/** A line that could be read and no longer can. @param code  errno. */
enum lamp_err lamp_pin_fail_gone(const char *name, int code, struct lamp_error *error);

#endif
