/* group.h - Lengths to rhythm: classes, groups, repeats, regularity. Knows no codebook. */
#ifndef LAMPREAD_GROUP_H
#define LAMPREAD_GROUP_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/edge.h"
#include "lampread/flash.h"
#include "lampread/pattern.h"

/** The kind of rhythm, as told to the user. */
enum lamp_verdict {
    LAMP_VERDICT_STEADY_ON,
    LAMP_VERDICT_STEADY_OFF,
    LAMP_VERDICT_BLINK,
    LAMP_VERDICT_CODE,
    LAMP_VERDICT_UNLISTED,
    LAMP_VERDICT_FLICKER,
    LAMP_VERDICT_FADE,
    LAMP_VERDICT_UNDECIDED
};

/** What would have to be better for a verdict. */
enum lamp_lack {
    LAMP_LACK_NOTHING,
    LAMP_LACK_LENGTH,      /**< Too short a recording: no whole repeat. */
    LAMP_LACK_REPEAT,      /**< One more repeat would settle it. */
    LAMP_LACK_LIGHT,       /**< Too faint against the noise. */
    LAMP_LACK_RATE,        /**< The lamp is too fast for the frame rate. */
    LAMP_LACK_AGREEMENT,   /**< The repeats differ. */
    LAMP_LACK_DISTINCTION, /**< Several entries fit as well. */
    LAMP_LACK_FRAMES       /**< Frames are missing wherever one more flash would be. */
};

/** A rhythm, without a book. Holds nothing to free. */
struct lamp_rhythm {
    enum lamp_verdict verdict;   /**< Never CODE: groups that repeat are UNLISTED until a book knows them. */
    double confidence;           /**< That the verdict is right, 0..1; 0 for UNDECIDED, which claims nothing. */
    enum lamp_lack lack;         /**< Why UNDECIDED. */
    struct lamp_pattern pattern; /**< GROUPS where groups were seen, BLINK, STEADY_..., FLICKER; NONE otherwise. */
    struct lamp_timing timing;   /**< Measured mean lengths of the classes. */
    struct lamp_timing timing_sd;/**< Their standard deviations. */
    double rate_hz;              /**< BLINK: cycles a second; 0 otherwise. */
    double duty;                 /**< BLINK: lit share; 0 otherwise. */
    unsigned repeats_seen;       /**< Whole repeats, rest to rest. */
    unsigned repeats_agreeing;   /**< Of these, those equal to the pattern. */
    double regularity;           /**< Log-likelihood of the lengths as a repeating rhythm over that as irregular light, nats. */
    double edges_per_s;          /**< Edges over the time seen. */
    bool word_gaps[LAMP_SYMBOLS_MAX]; /**< For Morse: which pauses of the pattern part words. */
    char morse[LAMP_MORSE_MAX];  /**< Text where groups are valid Morse, "" otherwise. */
};

/** How rhythms are read. */
struct lamp_rhythm_rules {
    double jitter;          /**< Natural variation of a length, share of it, sd; default 0.03. */
    unsigned least_repeats; /**< Whole repeats needed for a verdict of groups; default 2. */
    unsigned least_cycles;  /**< Lit-dark cycles needed for a blink, one less if slow and all alike; default 3. */
    unsigned least_edges;   /**< Edges needed to call light irregular; default 9. */
};

struct lamp_rhythm_rules lamp_rhythm_rules_default(void);

/**
 * Name the rhythm of a row of lengths.
 * @param lengths  oldest first; may hold breaks (cut_after, cut_before).
 * @param shape    what the edger learnt of the trace; NULL for edges from a pin or VCD (hard edges, known levels).
 * @note Looks at the newest 512 lengths, in about a millisecond; takes about 400 KB of stack.
 */
void lamp_rhythm_read(const struct lamp_length *lengths, size_t count, const struct lamp_light_shape *shape,
                      const struct lamp_rhythm_rules *rules, struct lamp_rhythm *out);

/** "code", "steady-on", ... as in the JSON. Static. */
const char *lamp_verdict_name(enum lamp_verdict verdict);

#endif
