/* vcd_head.h - The declarations of a VCD file: its time scale and its one-bit signals, which are
 * the lamps. */
#ifndef LAMP_SOURCE_VCD_HEAD_H
#define LAMP_SOURCE_VCD_HEAD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "source/form.h"
#include "source/tokens.h"

/** Longest identifier code of a signal, bytes with the closing zero. */
#define LAMP_VCD_CODE_MAX 32

/** Most scopes inside each other. */
#define LAMP_VCD_DEPTH_MAX 32

/** Longest path of scopes, bytes with the closing zero. */
#define LAMP_VCD_PATH_MAX 512

/** What the declarations say. The lamps' names are in the input, in the same order. */
struct lamp_vcd_head {
    int scale; /**< The time unit is 10 to this power, s: -15 to 2. */
    size_t lamp_count;
    char code[LAMP_SOURCE_LAMPS_MAX][LAMP_VCD_CODE_MAX];
    bool has_others; /**< There are signals that are no lamps. */
};

/**
 * Read up to $enddefinitions and name the lamps.
 * @return LAMP_OK, LAMP_BAD_SOURCE with its place, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_vcd_head_read(struct lamp_tokens *tokens, struct lamp_input *input,
                                 struct lamp_vcd_head *out, struct lamp_error *error);

/** Fail at the word that was read last: "WORD" and what was expected. */
enum lamp_err lamp_vcd_fail(const struct lamp_tokens *tokens, const char *file,
                            const char *expected, struct lamp_error *error);

/** Pass over what follows, to the word $end. @return false if the file ends before it. */
bool lamp_vcd_skip(struct lamp_tokens *tokens);

#endif
