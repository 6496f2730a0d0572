/* irregular.h - Light left to chance, in the ways that failing supplies and busy lamps are. */
#ifndef LAMP_TEST_IRREGULAR_H
#define LAMP_TEST_IRREGULAR_H

#include "support/lengths.h"

/** Kinds of irregular light. */
enum irregular {
    IRREGULAR_EXPONENTIAL, /**< Either state ends at any moment alike: random telegraph. */
    IRREGULAR_DEAD_TIME,   /**< So too, but never sooner than a dead time. */
    IRREGULAR_LOG_NORMAL,  /**< Log sd 0.35 to 1.2. */
    IRREGULAR_UNIFORM,     /**< Evenly between a length and several times that. */
    IRREGULAR_BURSTS,      /**< Fast for a while, then long darks. */
    IRREGULAR_TICKS,       /**< Random multiples of 50 ms. */
    IRREGULAR_DIPS,        /**< Dips of nearly one width at random times. */
    IRREGULAR_FLASHES,     /**< Flashes of nearly one width at random times. */
    IRREGULAR_UNSTEADY,    /**< Nearly periodic, with 20 % to 40 % jitter. */
    IRREGULAR_ACTIVITY,    /**< 30/30 ms for every event of a busy disk, by chance idle. */
    IRREGULAR_COUNT
};

static const char *const irregular_name[IRREGULAR_COUNT] = {
    "exponential", "dead time", "log-normal", "uniform",  "bursts",
    "ticks",       "dips",      "flashes",    "unsteady", "activity"};

/** One process with its own parameters. */
struct irregular_light {
    enum irregular kind;
    double mean_ms[2]; /**< Dark, lit. */
    double spread;
    double share;
};

static inline struct irregular_light irregular_new(enum irregular kind, struct chance *chance)
{
    double lit_ms = 40 * exp(chance_between(chance, 0, 2.5));
    struct irregular_light light = {.kind = kind, .share = chance_between(chance, 0.2, 0.9)};
    light.mean_ms[1] = lit_ms;
    light.mean_ms[0] = lit_ms * exp(chance_between(chance, -0.7, 1.5));
    light.spread = kind == IRREGULAR_UNSTEADY ? chance_between(chance, 0.2, 0.4)
                                              : chance_between(chance, 0.35, 1.2);
    if (kind == IRREGULAR_DIPS || kind == IRREGULAR_FLASHES) {
        light.mean_ms[kind == IRREGULAR_FLASHES] = chance_between(chance, 40, 200);
        light.mean_ms[kind != IRREGULAR_FLASHES] = chance_between(chance, 150, 1500);
    }
    return light;
}

/** The next length of `light`, ms. */
static inline double irregular_next(const struct irregular_light *light, bool lit,
                                    struct chance *chance)
{
    double mean = light->mean_ms[lit];
    double random = -log(chance_even(chance));
    switch (light->kind) {
    case IRREGULAR_EXPONENTIAL: return mean * random;
    case IRREGULAR_DEAD_TIME: return mean * (0.3 + 0.7 * random);
    case IRREGULAR_LOG_NORMAL: return mean * exp(light->spread * chance_normal(chance));
    case IRREGULAR_UNIFORM: return mean * chance_between(chance, 0.3, 0.3 + 2 * light->spread);
    case IRREGULAR_BURSTS:
        return !lit && chance_even(chance) > light->share ? 8 * mean * random
                                                          : mean * exp(0.3 * chance_normal(chance));
    case IRREGULAR_TICKS: return 50 * floor(1 + mean / 50 * random);
    case IRREGULAR_DIPS:
    case IRREGULAR_FLASHES:
        return lit == (light->kind == IRREGULAR_FLASHES) ? mean * exp(0.04 * chance_normal(chance))
                                                         : mean * (0.1 + 0.9 * random);
    case IRREGULAR_UNSTEADY: return mean * fmax(1 + light->spread * chance_normal(chance), 0.1);
    case IRREGULAR_ACTIVITY:
        return lit || chance_even(chance) < light->share ? 30 : 30 + 300 * random;
    case IRREGULAR_COUNT: break;
    }
    return mean;
}

/** Play `light` from some time on. */
static inline struct played irregular_play(const struct irregular_light *light, struct view view,
                                           struct chance *chance)
{
    struct played played = played_new(view, true, chance);
    while (played_add(&played, irregular_next(light, played.lit, chance))) {
    }
    return played;
}

#endif
