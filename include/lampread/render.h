/* render.h - Play a pattern as light seen by a camera, with the true edges beside it.
 *
 *   pattern --script--> light over time --tracer--> samples          quick: thousands of traces a
 * second
 *                            |
 *                            '--------renderer----> clip, gif, stills   lamp, board, camera, codec
 *
 * A unit test that uses it links the layers base, codebook, light and render.
 */
#ifndef LAMPREAD_RENDER_H
#define LAMPREAD_RENDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "lampread/error.h"
#include "lampread/light.h"
#include "lampread/pattern.h"
#include "lampread/trace.h"

/** Most changes of level in one script. */
#define LAMP_SCRIPT_PIECES_MAX (1 << 22)

/** Longest script, ns: one day. */
#define LAMP_SCRIPT_NS_MAX (INT64_C(86400) * 1000000000)

/** What a lamp truly does. */
enum lamp_script_kind {
    LAMP_SCRIPT_STEADY_OFF,
    LAMP_SCRIPT_STEADY_ON,
    LAMP_SCRIPT_WAVE,    /**< One cycle of lit and dark lengths, repeated. */
    LAMP_SCRIPT_FLICKER, /**< Goes on and off irregularly. */
    LAMP_SCRIPT_SAG,     /**< Lit, but dims irregularly to random depths: a supply that sags. */
    LAMP_SCRIPT_FADE     /**< Swells and sinks smoothly, as a raised cosine. */
};

/** How irregular lengths are drawn. */
enum lamp_script_lengths {
    LAMP_LENGTHS_EXPONENTIAL, /**< A random telegraph: no memory. */
    LAMP_LENGTHS_LOG_NORMAL,  /**< Lengths of one scale, `spread` apart. */
    LAMP_LENGTHS_BURSTS       /**< Quick bursts between long quiet lengths. */
};

/** What a lamp does, flat. Fields that its kind does not use are ignored. */
struct lamp_script_rules {
    enum lamp_script_kind kind; /**< Default STEADY_ON. */
    int64_t duration_ns;        /**< How long, > 0; default 10 s. After it the last level holds. */
    struct lamp_wave wave;      /**< WAVE: one cycle, lit first. */
    double
        scale; /**< WAVE, FADE: every length times this (a clock 10 % slow: 1.1), > 0; default 1. */
    double jitter;   /**< WAVE: sd of each length, share of it, 0..0.3; default 0. */
    int64_t late_ns; /**< WAVE: each length runs late by 0 to this, evenly (kernel timers); default
                        0. */
    double start_phase; /**< WAVE, FADE: place in the cycle at time 0, 0..1 exclusive; default 0. */
    bool is_inverted;   /**< WAVE, FLICKER: lit and dark change places; default false. */
    enum lamp_script_lengths lengths; /**< FLICKER, SAG; default LOG_NORMAL. */
    int64_t lit_mean_ns;              /**< FLICKER, SAG: mean lit length; default 180 ms. */
    int64_t dark_mean_ns;             /**< FLICKER, SAG: mean dark or dim length; default 120 ms. */
    double spread; /**< LOG_NORMAL: sd of the logarithm of a length; default 0.9. */
    double
        depth_least; /**< SAG: share of the light lost in the shallowest dip, 0..1; default 0.25. */
    double depth_most; /**< SAG: in the deepest, 0..1; default 0.85. */
    int64_t ramp_ns;   /**< SAG: time to fall and to recover; default 6 ms. */
    int64_t period_ns; /**< FADE: > 0; default 3 s. */
    double dark_level; /**< Light of the dark lamp, 0..1; default 0. */
    uint64_t seed;     /**< Same seed, same light, everywhere; default 1. */
};

/** The true light of one lamp, 0 to 1 over time. */
struct lamp_script;

/** The default rules. */
struct lamp_script_rules lamp_script_rules_default(void);

/**
 * Set kind and wave of `rules` from `pattern`, played with `timing`; other fields stay.
 * @return LAMP_OK, LAMP_BAD_USE where the pattern cannot be played; `rules` untouched on failure.
 */
enum lamp_err lamp_script_rules_play(const struct lamp_pattern *pattern,
                                     const struct lamp_timing *timing,
                                     struct lamp_script_rules *rules, struct lamp_error *error);

/**
 * Write a script.
 * @param out    freed by the caller with lamp_script_free; untouched on failure.
 * @param error  may be NULL; place is the field at fault.
 * @return LAMP_OK, LAMP_BAD_USE, LAMP_FULL, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_script_new(const struct lamp_script_rules *rules, struct lamp_script **out,
                              struct lamp_error *error);

/** Light at `t_ns`, 0..1; before 0 the first level, after the end the last. */
double lamp_script_level(const struct lamp_script *script, int64_t t_ns);

/** Mean light from `from_ns` to `to_ns` (> from_ns): the exact integral over the length. */
double lamp_script_mean(const struct lamp_script *script, int64_t from_ns, int64_t to_ns);

/** Whether the lamp is lit at time 0. */
bool lamp_script_starts_lit(const struct lamp_script *script);

/** True edges after time 0, with sd 0, borrowed until the script is freed; none for STEADY, SAG and
 * FADE. */
const struct lamp_edge *lamp_script_edges(const struct lamp_script *script, size_t *count);

/** How long the script is, ns. */
int64_t lamp_script_duration_ns(const struct lamp_script *script);

/** Free; NULL is fine. */
void lamp_script_free(struct lamp_script *script);

/** When a camera takes its frames. */
struct lamp_shutter_rules {
    double rate_hz;      /**< Frames a second, > 0; default 30. */
    int64_t exposure_ns; /**< Exposure; cut to the frame interval; default 10 ms. */
    double jitter;       /**< Sd of a frame's start, share of the interval; default 0. */
    double drop_share;   /**< Share of frames lost, 0..0.9; default 0. */
    double late_share;   /**< Share of frames taken late by up to 0.9 of the interval; stamps stay
                            true; default 0. */
    double sway; /**< Frame interval sways by +- this share over 7 s (variable frame rate), 0..0.9;
                    default 0. */
    int64_t stamp_sd_ns; /**< Sd of the stamp against the true start; default 0. */
    int64_t start_ns;    /**< Start of the first frame on the script's clock; default 0. */
    int64_t duration_ns; /**< No frame starts this long after the first, > 0; default 10 s. */
    uint64_t seed;       /**< Default 1. */
};

/** One frame's time. */
struct lamp_shutter_time {
    int64_t t_ns;        /**< What the camera says. */
    int64_t start_ns;    /**< When the exposure truly began. */
    int64_t exposure_ns; /**< How long it truly was. */
    uint64_t index;      /**< Which frame, lost ones counted, from 0. */
};

struct lamp_shutter;

/** The default rules. */
struct lamp_shutter_rules lamp_shutter_rules_default(void);

/** Make a shutter. @param out freed by the caller. @return LAMP_OK, LAMP_BAD_USE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_shutter_new(const struct lamp_shutter_rules *rules, struct lamp_shutter **out,
                               struct lamp_error *error);

/** Take the next frame's time; false at the end. Exposures never overlap, stamps always increase.
 */
bool lamp_shutter_next(struct lamp_shutter *shutter, struct lamp_shutter_time *out);

/** Free; NULL is fine. */
void lamp_shutter_free(struct lamp_shutter *shutter);

/** What a camera makes of one lamp's light, without a picture. */
struct lamp_tracer_rules {
    struct lamp_shutter_rules shutter;
    double gain;        /**< Level of the lit lamp, linear, > 0; default 0.5. */
    double offset;      /**< Added to every level; default 0. */
    double read_noise;  /**< Sd of one sample in the dark, linear; default 0.003. */
    double shot_noise;  /**< Sd that light adds at level 1; grows with the square root of the level;
                           default 0.01. */
    double drift;       /**< Gain sways by +- this share over 20 s, 0..0.9; default 0. */
    double pumping;     /**< Share of the gain that auto exposure takes away while the lamp is lit,
                           0..0.9; default 0. */
    int64_t pumping_ns; /**< Time constant of auto exposure, > 0; default 400 ms. */
    double ripple;      /**< Amplitude of the room light's ripple that is left in the trace, linear;
                           default 0. */
    double ripple_hz;   /**< Its rate, > 0; default 100. */
    double ceiling;     /**< Levels are cut here; default 1. */
    bool tells_exposure; /**< Whether samples carry their exposure; default true. */
};

/** Makes samples of one script. */
struct lamp_tracer;

/** The default rules. */
struct lamp_tracer_rules lamp_tracer_rules_default(void);

/**
 * Make a tracer.
 * @param script  borrowed until the tracer is freed.
 * @param out     freed by the caller; untouched on failure.
 * @return LAMP_OK, LAMP_BAD_USE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_tracer_new(const struct lamp_tracer_rules *rules,
                              const struct lamp_script *script, struct lamp_tracer **out,
                              struct lamp_error *error);

/** Take the next sample; false at the end. */
bool lamp_tracer_next(struct lamp_tracer *tracer, struct lamp_sample *out);

/** Free; NULL is fine. */
void lamp_tracer_free(struct lamp_tracer *tracer);

#endif
