/* write.h - Entries written as they stand in a book. */
#ifndef LAMP_CODEBOOK_WRITE_H
#define LAMP_CODEBOOK_WRITE_H

#include "base/text.h"
#include "lampread/teach.h"

/** A length as it is written: to three figures, a microsecond at least. */
int64_t lamp_write_rounded_ns(int64_t ns);

/** Add a length of time. */
void lamp_write_length(int64_t ns, struct lamp_text *out);

/** Add "{short: 200 ms, gap: 200 ms, ...}" of the lengths that are not 0. */
void lamp_write_timing(const struct lamp_timing *timing, struct lamp_text *out);

/** Add "{recordings: 2, sd: 0.8 ms}". */
void lamp_write_taught(const struct lamp_taught *taught, struct lamp_text *out);

/** Add the pattern in notation, as a YAML scalar, its lengths rounded. */
void lamp_write_pattern(const struct lamp_pattern *pattern, struct lamp_text *out);

/** Add the entry as an item of a list in lines of its own, each begun with `indent` spaces. */
void lamp_write_block(const struct lamp_draft *draft, int indent, struct lamp_text *out);

/** Add the entry as an item between brackets. */
void lamp_write_flow(const struct lamp_draft *draft, struct lamp_text *out);

/** The two names of the five lengths: as keys, and where they are. */
struct lamp_write_key {
    const char *name;
    size_t at; /**< Byte of it in struct lamp_timing. */
};

enum { LAMP_WRITE_KEYS = 5 };
extern const struct lamp_write_key lamp_write_keys[LAMP_WRITE_KEYS];

/** The length of `timing` that `key` names. */
int64_t lamp_write_key_ns(const struct lamp_timing *timing, const struct lamp_write_key *key);

#endif
