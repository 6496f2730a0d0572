/* flash.h - Edges to lengths: lit and dark by turns, each with its uncertainty. */
#ifndef LAMPREAD_FLASH_H
#define LAMPREAD_FLASH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "lampread/error.h"

/** Most lengths that are kept for one lamp: the newest; older ones are counted, see lamp_lengths_lost. */
#define LAMP_LENGTHS_MAX 4096

/** The time between two edges. */
struct lamp_length {
    int64_t start_ns; /**< When it began. */
    int64_t ns;       /**< How long it was; the part that was seen where it is cut. */
    int64_t sd_ns;    /**< Standard deviation of ns. */
    bool lit;         /**< Lit, or dark. */
    bool cut_before;  /**< Its beginning was not seen: ns is a lower bound, and nothing joins it to the one before. */
    bool cut_after;   /**< Its end was not seen. */
    struct lamp_hole hole; /**< The longest in it, or across one of its ends: a change and back may hide there. */
};

struct lamp_lengths;

/** Make an empty row of lengths. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_lengths_new(struct lamp_lengths **out);

/** The light is in view from `t_ns` on, lit or dark. Call at the start and after each end. */
void lamp_lengths_begin(struct lamp_lengths *lengths, int64_t t_ns, bool lit);

/** An edge. Ignored (counted) if it does not change the state. */
void lamp_lengths_push(struct lamp_lengths *lengths, const struct lamp_edge *edge);

/** The length that is open now has this hole, if it is its longest. */
void lamp_lengths_note_hole(struct lamp_lengths *lengths, const struct lamp_hole *hole);

/** The light is out of view from `t_ns` on: end of the recording, or a break. */
void lamp_lengths_end(struct lamp_lengths *lengths, int64_t t_ns);

/** The lengths kept, oldest first, borrowed until the next call that is not const; `count` is set. */
const struct lamp_length *lamp_lengths_all(const struct lamp_lengths *lengths, size_t *count);

/** How many older lengths were let go. */
uint64_t lamp_lengths_lost(const struct lamp_lengths *lengths);

/** How many edges were ignored because they did not change the state. */
uint64_t lamp_lengths_ignored(const struct lamp_lengths *lengths);

/** Make `to` what `from` is. */
void lamp_lengths_copy(struct lamp_lengths *to, const struct lamp_lengths *from);

/** Forget all. */
void lamp_lengths_reset(struct lamp_lengths *lengths);

/** Free; NULL is fine. */
void lamp_lengths_free(struct lamp_lengths *lengths);

#endif
