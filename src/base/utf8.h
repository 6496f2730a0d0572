/* utf8.h - Text as Unicode characters: read, check, shorten without cutting one in two. */
#ifndef LAMP_BASE_UTF8_H
#define LAMP_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/**
 * Read one character of `left` bytes at `text` (RFC 3629: no overlong forms, no surrogates).
 * @return bytes read, 0 if it is no UTF-8 or nothing is left; `out` is set only on success.
 */
size_t lamp_utf8_read(const char *text, size_t left, uint32_t *out);

/** Whether a terminal would do something else with this character than show it: controls, line and
 * direction marks. */
bool lamp_utf8_is_control(uint32_t character);

/** Most bytes of `text`, at most `room`, that end with a whole character. */
size_t lamp_utf8_fit(const char *text, size_t size, size_t room);

#endif
