/* acc_shot.h - One clip of a demo board whose lamp plays an entry, filmed and read. */
#ifndef LAMP_TESTS_ACC_SHOT_H
#define LAMP_TESTS_ACC_SHOT_H

#include <stdbool.h>

#include "support/acc_edges.h"
#include "support/acc_judge.h"
#include "support/acc_pool.h"
#include "support/acc_read.h"

/** A clip to be made. Lamp 0 plays the entry; lamp 1 is another lamp of the board, lit throughout.
 */
struct acc_shot {
    const struct acc_entry *entry;
    struct lamp_scene_lamp lamp[2];
    struct lamp_scene_rules scene; /**< Its lamps are set when it is filmed. */
    double cycles;                 /**< Seen of the rhythm. */
    double least_s;                /**< Shortest clip, s. */
    bool starts_in_rest; /**< Begins in the middle of the last dark of a cycle, not at any phase. */
    const char *ending;  /**< Goes through a file of this ending; NULL: straight to the reader. */
    const char *codec;   /**< Of the file. */
    int quality;         /**< Of the file, 0 to 100. */
};

/** What came of it. */
struct acc_result {
    enum acc_outcome outcome;
    int extra;      /**< Lamps told where there are none. */
    char told[512]; /**< What was told of lamp 0, in words. */
};

/** A good clip of `entry`: 30 frames a second, 10 ms exposure, still, four cycles from any phase
 * and six seconds at least.
 */
void acc_shot_init(struct acc_shot *shot, const struct acc_entry *entry, uint64_t seed);

/** Film it at 320 x 180, from so near that the lamps are 8 px wide. Comes before other settings. */
void acc_shot_halve(struct acc_shot *shot);

/** Film and read it; the errors of its edges are added to `errors`. */
struct acc_result acc_shot_take(const struct acc_shot *rules, struct acc_errors *errors);

/** Write it to `path` with clean quality, for a closer look. */
void acc_shot_save(const struct acc_shot *rules, const char *path);

/** Film, read, and write the report for people to standard output. */
void acc_shot_tell(const struct acc_shot *rules);

#endif
