/* render.h - Play a pattern as light seen by a camera, with the true edges beside it.
 *
 *   pattern --script--> light over time --tracer--> samples          quick: thousands of traces a
 * second
 *                            |
 *                            '--------renderer----> clip, gif, stills   lamp, board, camera, codec
 *
 * A unit test that uses it links the layers base, light, rhythm, codebook and render.
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
#include "lampread/source.h"
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
enum lamp_chance {
    LAMP_CHANCE_EXPONENTIAL, /**< A random telegraph: no memory. */
    LAMP_CHANCE_LOG_NORMAL,  /**< Lengths of one scale, `spread` apart. */
    LAMP_CHANCE_BURSTS       /**< Quick bursts between long quiet lengths. */
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
    enum lamp_chance chance; /**< FLICKER, SAG; default LOG_NORMAL. */
    int64_t lit_mean_ns;     /**< FLICKER, SAG: mean lit length; default 180 ms. */
    int64_t dark_mean_ns;    /**< FLICKER, SAG: mean dark or dim length; default 120 ms. */
    double spread;           /**< LOG_NORMAL: sd of the logarithm of a length; default 0.9. */
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

/** Take the next frame's time; false at the end. The first is at start_ns; exposures never overlap,
 * stamps always increase.
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
    unsigned lamp; /**< Lamps seen by one shutter have noise of their own: 0, 1, ...; default 0. */
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

/** Most lamps in one scene. */
#define LAMP_SCENE_LAMPS_MAX 16

/** Largest picture side, px. */
#define LAMP_SCENE_SIDE_MAX 8192

/** A lamp on the board. Lamps in one place make a two-colour lamp. */
struct lamp_scene_lamp {
    const char *name;    /**< Borrowed; NULL: "lamp-1", "lamp-2", ... */
    const char *pattern; /**< What it plays, as told in the truth file; borrowed, may be NULL. */
    double x_px;         /**< Centre on the first frame. */
    double y_px;
    double size_px;          /**< Width of the lamp's body, > 0; 0: what suits the picture. */
    enum lamp_colour colour; /**< UNKNOWN: green. */
    double brightness; /**< Light of its core, linear, 1 = white; more clips to white; default 8. */
    struct lamp_script_rules script; /**< What it does; its duration is that of the clip. */
};

/** A board with lamps, the room it is in, and the camera that sees it. */
struct lamp_scene_rules {
    int width_px;                       /**< Even; default 640. */
    int height_px;                      /**< Even; default 360. */
    const struct lamp_scene_lamp *lamp; /**< Borrowed until the renderer is made. */
    size_t lamp_count;                  /**< <= LAMP_SCENE_LAMPS_MAX; default 0. */
    uint64_t seed;                      /**< Of board, noise and motion; default 1. */

    double
        ambient;   /**< Mean light of the board, linear, 0..1; 0.02 is a dim bench; default 0.09. */
    double ripple; /**< Room light ripples by +- this share, 0..1; default 0. */
    double ripple_hz;     /**< Rate of the ripple, 100 or 120 on mains; > 0; default 100. */
    double ambient_drift; /**< Room light sways by +- this share over 15 s, 0..0.9; default 0. */
    double shadow;  /**< Share of the room light that a passing shadow takes, 0..1; default 0. */
    bool has_hand;  /**< A hand moves in a corner of the picture; default false. */
    double bloom;   /**< Light that the lens spreads around a lamp, 0..4, 1 is a clean phone;
                       default 1. */
    double blur_px; /**< Softness of the lens, sd, 0..8; default 0.7. */

    struct lamp_shutter_rules shutter;
    int64_t readout_ns; /**< Rolling shutter: from first row to last, >= 0; default 20 ms. */
    double shake_px; /**< Sd of the hand's movement; small turns and zoom go with it; 0..40; default
                        0. */
    double
        drift_px_s; /**< Slow movement, turning back after an eighth of the picture; default 0. */
    double
        auto_exposure; /**< How far the camera evens out brightness, 0 (fixed) to 1; default 0. */
    int64_t auto_exposure_ns; /**< Its time constant, > 0; default 400 ms. */
    double warmth;            /**< White balance off by this, -1 (blue) to 1 (orange); default 0. */
    double read_noise;        /**< Sd of a pixel in the dark, linear; default 0.003. */
    double shot_noise;        /**< Sd that light adds at white; default 0.012. */
    enum lamp_transfer transfer; /**< SRGB or BT709; default BT709. */
    int bits;                    /**< 8 or 10; default 8. */
};

/** Renders a scene, frame by frame. */
struct lamp_renderer;

/** The default lamp: green, steady, in no place. */
struct lamp_scene_lamp lamp_scene_lamp_default(void);

/** The default rules. */
struct lamp_scene_rules lamp_scene_rules_default(void);

/**
 * Make a renderer.
 * @param out  freed by the caller; untouched on failure.
 * @return LAMP_OK, LAMP_BAD_USE, LAMP_FULL, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_renderer_new(const struct lamp_scene_rules *rules, struct lamp_renderer **out,
                                struct lamp_error *error);

/**
 * Take the next frame: 4:2:0, limited range, BT.709 matrix, as a clip would be decoded.
 * @param out  its planes stay readable for LAMP_FRAMES_KEPT more frames.
 * @return false at the end.
 */
bool lamp_renderer_next(struct lamp_renderer *renderer, struct lamp_frame *out);

/** True light of lamp `index` (< lamp_count), borrowed until the renderer is freed. */
const struct lamp_script *lamp_renderer_script(const struct lamp_renderer *renderer, size_t index);

/** Where lamp `index` is on the first frame. */
struct lamp_region lamp_renderer_region(const struct lamp_renderer *renderer, size_t index);

/** How long after a frame's stamp the row of lamp `index` begins to be exposed, ns: edges are seen
 * this much earlier. */
int64_t lamp_renderer_row_delay_ns(const struct lamp_renderer *renderer, size_t index);

/** Frames given, and frames lost, so far. */
void lamp_renderer_count(const struct lamp_renderer *renderer, uint64_t *given, uint64_t *lost);

/** Free; NULL is fine. */
void lamp_renderer_free(struct lamp_renderer *renderer);

/** Flash limits of WCAG 2 SC 2.3.1, on a page of 1024 x 768 that the picture fills. */
#define LAMP_FLASH_PER_S_MAX 3
#define LAMP_FLASH_AREA_PX   21824

/** The worst flashing seen, for a person to read. */
struct lamp_flash_limit {
    bool is_kept; /**< No second has more than LAMP_FLASH_PER_S_MAX flashes over LAMP_FLASH_AREA_PX
                     or more. */
    double at_s;  /**< When it was first broken. */
    double area_px; /**< Largest area of a 10 degree field (341 x 256 of the page) that flashed too
                       often at once. */
};

/** Watches pictures for flashing that can harm. */
struct lamp_flash_watch;

/** Make a watch. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_flash_watch_new(struct lamp_flash_watch **out);

/** Look at one frame of 8 or more bits; all frames are of one size. */
void lamp_flash_watch_push(struct lamp_flash_watch *watch, const struct lamp_frame *frame);

/** What was seen so far. */
struct lamp_flash_limit lamp_flash_watch_limit(const struct lamp_flash_watch *watch);

/** Free; NULL is fine. */
void lamp_flash_watch_free(struct lamp_flash_watch *watch);

/** How a scene is written to a file. */
struct lamp_render_rules {
    struct lamp_scene_rules scene;
    const char *codec; /**< "h264", "hevc", "vp9", "av1", "mjpeg", "gif", "png", "pgm"; NULL: what
                          suits the ending. */
    int quality;       /**< 0 (small) to 100 (clean); default 70. */
    int rotation_deg; /**< Clockwise turn that the file asks of players: 0, 90, 180, 270; default 0.
                       */
    bool any_flash;   /**< Keep on where the flash limits are broken; default false: refuse. */
    bool hides_truth; /**< Leave out FILE.truth.json; default false. */
};

/** A file being rendered. */
struct lamp_render;

/** The default rules. */
struct lamp_render_rules lamp_render_rules_default(void);

/**
 * Begin to render into `path`: .mp4 .mov .mkv .webm .avi .gif, or a folder (ends in "/") of
 * numbered stills.
 * @param rules  borrowed until the render is freed.
 * @param out    freed by the caller; untouched on failure.
 * @return LAMP_OK, LAMP_BAD_USE, LAMP_FULL, LAMP_CANNOT_WRITE (the missing encoder is named),
 * LAMP_NO_MEMORY.
 */
enum lamp_err lamp_render_new(const struct lamp_render_rules *rules, const char *path,
                              struct lamp_render **out, struct lamp_error *error);

/**
 * Render one frame.
 * @return LAMP_OK; LAMP_END once all is written and the file has its name; LAMP_BAD_USE if the
 * flash limits are broken; LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_render_step(struct lamp_render *render, struct lamp_error *error);

/** Share done so far, 0 to 1. */
double lamp_render_progress(const struct lamp_render *render);

/** Free; before LAMP_END this gives the file up and leaves an older one as it was. NULL is fine. */
void lamp_render_free(struct lamp_render *render);

/** All of it in one call. @return as lamp_render_new and lamp_render_step; LAMP_OK when done. */
enum lamp_err lamp_render_file(const struct lamp_render_rules *rules, const char *path,
                               struct lamp_error *error);

#endif
