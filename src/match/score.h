/* score.h - How well lengths fit one entry, played over and over from any moment on. */
#ifndef LAMP_MATCH_SCORE_H
#define LAMP_MATCH_SCORE_H

#include <stdbool.h>
#include <stddef.h>

#include "match/sight.h"

/** Most different lengths that a cycle is made of; nearly equal ones share where there are more. */
#define LAMP_MODEL_CLASSES_MAX 16

/** One cycle of an entry, the shortest that repeats to its wave, and the classes of its lengths. */
struct lamp_model {
    size_t count;                           /**< Lengths, even, lit first; 0: steady or flicker. */
    unsigned char class_of[LAMP_WAVE_MAX];  /**< Class of each length. */
    size_t class_count;                     /**< Classes; lit and dark ones never share. */
    double class_s[LAMP_MODEL_CLASSES_MAX]; /**< Nominal length of each class, s. */
    bool class_is_lit[LAMP_MODEL_CLASSES_MAX]; /**< Lit or dark. */
    double period_s;                           /**< Of the cycle, nominal. */
    double tolerance;      /**< Of each length, after one common scale; 0.02..0.9. */
    size_t rest;           /**< Index of the longest dark. */
    double next_longest_s; /**< Longest dark that is not of the class of the rest, 0 if none. */
};

/** How an entry fits. */
struct lamp_fit {
    double log_likelihood; /**< Nats, over irregular light. */
    double scale;          /**< Common time scale, measured over nominal. */
    size_t matched;        /**< Whole lengths that are where the entry has them. */
    size_t odd;            /**< Lengths that fit nowhere. */
    size_t lost;           /**< Pairs of edges that the entry has and were not seen. */
    size_t extra;          /**< Pairs of edges that were seen and the entry has not. */
    size_t
        miscounted; /**< Of `extra`, those as long as the entry's own lengths: hardly glitches. */
    size_t positions_seen; /**< Lengths of the cycle that were seen whole at least once. */
    size_t repeats_clean;  /**< Cycles from rest to rest with every length where it belongs. */
    size_t repeats_flawed; /**< Cycles from rest to rest with lost, extra or odd lengths. */
    bool is_within;        /**< One common scale brings every class into the tolerance. */
    bool has_room;         /**< And the tolerance is not strained by it. */
    size_t class_seen[LAMP_MODEL_CLASSES_MAX]; /**< Matched lengths of each class. */
    double class_s[LAMP_MODEL_CLASSES_MAX];    /**< Their mean, s; 0 where none was seen. */
};

/** Make the model of `code`. */
void lamp_model_make(const struct lamp_code *code, struct lamp_model *out);

/** Rough fit: one alignment with lengths anywhere in the tolerance. Only log_likelihood, scale are
 * exact enough to rank. */
void lamp_fit_roughly(const struct lamp_model *model, const struct lamp_sight *sight,
                      double edge_price, struct lamp_fit *out);

/** Full fit: the lengths of the classes and the common scale are estimated with the alignment. */
void lamp_fit_fully(const struct lamp_model *model, const struct lamp_sight *sight,
                    double edge_price, struct lamp_fit *out);

#endif
