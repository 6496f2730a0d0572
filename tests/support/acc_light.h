/* acc_light.h - Light to be read: listed, unlisted and irregular, and cameras that see it badly. */
#ifndef LAMP_TESTS_ACC_LIGHT_H
#define LAMP_TESTS_ACC_LIGHT_H

#include <stdbool.h>

#include "support/acc_pool.h"
#include "support/lengths.h"

/** What a lamp does, and what a camera makes of it. */
struct acc_light {
    struct lamp_script_rules script;
    struct lamp_tracer_rules tracer;
    const struct lamp_code *code; /**< What it plays; NULL where no book lists it. */
    bool is_irregular;
    bool is_fast;  /**< Too quick for the frames. */
    char kind[64]; /**< In words. */
};

/** Light without a repeat: chance of many kinds, a supply that sags, traffic of a kernel. */
void acc_light_irregular(struct acc_light *light, uint64_t seed);

/** Groups, exact lengths or a blink that no entry of `pool` fits within its tolerance and a fifth
 * more. */
void acc_light_unlisted(struct acc_light *light, const struct acc_pool *pool, uint64_t seed);

/** An entry of `pool` that has a rhythm, seen for `repeats` cycles from any phase. */
void acc_light_listed(struct acc_light *light, const struct acc_pool *pool, double repeats,
                      uint64_t seed);

/** A blink or groups too quick for the camera: 0.35 to 2.6 flashes a frame, flashes of 0.5 to 2.5
 * frames. What the frames show of it is irregular, slow or steady. */
void acc_light_fast(struct acc_light *light, uint64_t seed);

/** A script of `light`, freed by the caller. */
struct lamp_script *acc_light_script(const struct acc_light *light);

#endif
