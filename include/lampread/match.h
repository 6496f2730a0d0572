/* match.h - Which codebook entries fit the light, how likely each, and what speaks against the others. */
#ifndef LAMPREAD_MATCH_H
#define LAMPREAD_MATCH_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/codebook.h"
#include "lampread/flash.h"
#include "lampread/group.h"

/** Most candidates told. */
#define LAMP_CANDIDATES_MAX 8

/** Longest reason, bytes with the closing zero. */
#define LAMP_REASON_MAX 160

/** What is matched: one lamp as it was seen. Everything is borrowed for the call. */
struct lamp_evidence {
    const struct lamp_length *length; /**< Oldest first. */
    size_t length_count;
    const struct lamp_rhythm *rhythm;
    const struct lamp_light_shape *shape; /**< NULL for edges from a pin or VCD. */
    const char *lamp_name;                /**< As the user named it, NULL where not named. */
    enum lamp_colour colour;              /**< As seen, UNKNOWN where not seen. */
};

/** An entry that was compared. */
struct lamp_candidate {
    const struct lamp_book *book; /**< Borrowed from the caller's books. */
    const struct lamp_code *code;
    double confidence;            /**< 0..1; those of all candidates, the unlisted and the irregular rhythm sum to 1. */
    double log_likelihood;        /**< Nats, over the null model of irregular light. */
    double scale;                 /**< Common time scale, measured over nominal. */
    char against[LAMP_REASON_MAX];/**< Where it departs most ("6th flash missing"); "" if it fits. */
};

/** What the match says. Holds nothing to free. */
struct lamp_match {
    enum lamp_verdict verdict;   /**< Final verdict: the rhythm's, or CODE, or UNDECIDED where several fit. */
    double confidence;           /**< That the verdict, and the entry where there is one, is right. */
    enum lamp_lack lack;         /**< Why UNDECIDED. */
    bool has_entry;              /**< candidate[0] is the entry that is told. */
    size_t candidate_count;      /**< <= LAMP_CANDIDATES_MAX, most likely first. */
    struct lamp_candidate candidate[LAMP_CANDIDATES_MAX];
};

/** How entries are weighed. */
struct lamp_match_rules {
    double least_confidence; /**< Least confidence to tell an entry; default 0.9. */
    double edge_price;       /**< Price of a lost or extra pair of edges, nats > 0; default 6. */
};

struct lamp_match_rules lamp_match_rules_default(void);

/** An entry that a pattern was looked up in. */
struct lamp_found {
    const struct lamp_book *book; /**< Borrowed from the caller's books. */
    const struct lamp_code *code;
    double distance;              /**< 0: the same; about 1 for each flash too many and each length of another class. */
    char against[LAMP_REASON_MAX];/**< Where the pattern departs most from the entry; "" if it is within its tolerance. */
};

/**
 * Look a pattern up in books: the entries nearest to it, nearest first. A pattern in notation has no lengths and takes those of each
 * entry; one with lengths of its own is compared with one common time scale within the entry's tolerance.
 * @param timing  lengths of a GROUPS pattern that was measured; NULL: it has none.
 * @param out     room for `room` entries. @return how many there are, at most `room`.
 */
size_t lamp_find_pattern(const struct lamp_pattern *pattern, const struct lamp_timing *timing,
                         const struct lamp_book *const *books, size_t book_count, struct lamp_found *out, size_t room);

/**
 * Compare one lamp with every entry of `books`.
 * @param books  may be NULL if book_count is 0; then the verdict is the rhythm's.
 */
void lamp_match(const struct lamp_evidence *evidence, const struct lamp_book *const *books, size_t book_count,
                const struct lamp_match_rules *rules, struct lamp_match *out);

#endif
