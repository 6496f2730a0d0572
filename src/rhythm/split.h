/* split.h - Lengths and their classes to groups: where the rests are. */
#ifndef LAMP_RHYTHM_SPLIT_H
#define LAMP_RHYTHM_SPLIT_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/flash.h"
#include "rhythm/class.h"

/** Lengths by turns, lit and dark, at most LAMP_ROW_MAX, and the class of each. */
struct lamp_row {
    const struct lamp_length *at; /**< Borrowed. */
    size_t count;
    struct lamp_classes lit;
    struct lamp_classes dark;
    short of[LAMP_ROW_MAX]; /**< Class of each length among those of its side, LAMP_CLASS_ODD
                                     or _CUT. */
};

/** What a group is made of; gaps go without saying. */
enum lamp_token {
    LAMP_TOKEN_SHORT,
    LAMP_TOKEN_LONG,
    LAMP_TOKEN_PAUSE, /**< The dark between groups of one repeat. */
    LAMP_TOKEN_WIDE,  /**< A longer one: between words. */
    LAMP_TOKEN_ANY,   /**< A flash not seen whole. */
    LAMP_TOKEN_ODD    /**< A length that fits no class. */
};

/** Flashes between two rests. */
struct lamp_segment {
    size_t from; /**< Its tokens: from..to-1. */
    size_t to;
    bool has_start;  /**< The rest before it was seen. */
    bool has_end;    /**< The rest after it was seen. */
    bool is_odd;     /**< It holds an odd length. */
    bool joins;      /**< One rest parts it from the segment before. */
    size_t id;       /**< Whole segments that are equal have one id. */
    double surprise; /**< How unlikely its order is by chance, with its rest, nats. */
};

/** A row parted at its rests. Holds nothing to free. */
struct lamp_groups {
    size_t token_count;
    enum lamp_token token[LAMP_ROW_MAX];
    size_t count;
    struct lamp_segment segment[LAMP_ROW_MAX];
    unsigned longer; /**< Darks that are longer than the rest, and not by lost flashes. */
};

/** Whether the segment was seen from rest to rest. */
bool lamp_segment_is_whole(const struct lamp_segment *segment);

/** Part `row` at its longest class of darks; at every dark where there is one class only. */
void lamp_groups_split(const struct lamp_row *row, struct lamp_groups *out);

/** Whether a length is longer than `log_ns` even though a part of it may not have been seen. */
bool lamp_length_exceeds(const struct lamp_length *length, double log_ns);

#endif
