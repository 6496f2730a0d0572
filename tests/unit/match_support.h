/* match_support.h - Lengths as a camera would see them, made with seeded noise, and books made by
 * hand. */
#ifndef LAMP_TESTS_MATCH_SUPPORT_H
#define LAMP_TESTS_MATCH_SUPPORT_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/match.h"

#define SIM_LENGTHS_MAX 1024

/* A generator of its own, so that a seed gives the same light everywhere (xorshift64*, Vigna 2016).
 */
struct sim_random {
    uint64_t state;
};

static inline double sim_uniform(struct sim_random *random)
{
    random->state ^= random->state >> 12;
    random->state ^= random->state << 25;
    random->state ^= random->state >> 27;
    return (double)((random->state * 2685821657736338717ULL) >> 11) / 9007199254740992.0;
}

static inline double sim_between(struct sim_random *random, double low, double high)
{
    return low + (high - low) * sim_uniform(random);
}

static inline size_t sim_below(struct sim_random *random, size_t count)
{
    return (size_t)(sim_uniform(random) * (double)count) % count;
}

static inline double sim_normal(struct sim_random *random)
{
    double radius = sqrt(-2 * log(1 - sim_uniform(random)));
    return radius * cos(6.283185307179586 * sim_uniform(random));
}

static inline struct sim_random sim_seeded(uint64_t seed)
{
    struct sim_random random = {.state = seed * 0x9E3779B97F4A7C15ULL + 0x2545F4914F6CDD1DULL};
    for (int i = 0; i < 8; i++) {
        (void)sim_uniform(&random);
    }
    return random;
}

/* How the light departs from its wave, and the camera from the light. */
struct sim_rules {
    double scale;     /* Common time scale. */
    double departure; /* Most that a class of lengths is off, share; uniform. */
    double jitter;    /* Of each length, share, sd. */
    double sd_s;      /* Of each edge, s. */
    double told;      /* The sd that is told over the true one. */
    double cycles;    /* How long is seen. */
    double lost;      /* Chance that a flash is not seen. */
    double extra;     /* Chance of a glitch in a length. */
};

static inline struct sim_rules sim_rules_default(void)
{
    return (struct sim_rules){
        .scale = 1, .departure = 0, .jitter = 0.01, .sd_s = 0.004, .told = 1, .cycles = 4};
}

struct sim_light {
    size_t count;
    struct lamp_length length[SIM_LENGTHS_MAX];
};

struct sim_edges {
    size_t count;
    double t_s[SIM_LENGTHS_MAX];
    bool lit[SIM_LENGTHS_MAX];
};

static inline void sim_edge(struct sim_edges *edges, double t_s, bool lit)
{
    if (edges->count < SIM_LENGTHS_MAX - 8) {
        edges->t_s[edges->count] = t_s;
        edges->lit[edges->count++] = lit;
    }
}

/* Edges in view, measured, to lengths; the first and the last are cut. */
static inline void sim_see(const struct sim_edges *edges, double end_s,
                           const struct sim_rules *rules, struct sim_random *random,
                           struct sim_light *out)
{
    double before = 0;
    out->count = 0;
    for (size_t i = 0; i <= edges->count; i++) {
        bool is_last = i == edges->count;
        double t = is_last ? end_s : edges->t_s[i] + rules->sd_s * sim_normal(random);
        t = fmax(t, before + 1e-3);
        out->length[out->count++] = (struct lamp_length){
            .start_ns = (int64_t)(before * 1e9),
            .ns = (int64_t)((t - before) * 1e9),
            .sd_ns = (int64_t)(rules->sd_s * rules->told * (i == 0 || is_last ? 1 : 1.4142) * 1e9),
            .lit = is_last ? edges->count > 0 && edges->lit[i - 1] : !edges->lit[i],
            .cut_before = i == 0,
            .cut_after = is_last,
        };
        before = t;
    }
}

/* Whether a flash goes unseen, or a glitch breaks a length. */
static inline void sim_step(struct sim_edges *edges, double t_s, double length_s, bool lit,
                            const struct sim_rules *rules, struct sim_random *random)
{
    bool is_gone = edges->count > 0 && lit && sim_uniform(random) < rules->lost;
    if (is_gone) {
        return;
    }
    if (edges->count == 0 || edges->lit[edges->count - 1] != lit) {
        sim_edge(edges, t_s, lit);
    }
    if (sim_uniform(random) < rules->extra) {
        double at = t_s + length_s * sim_between(random, 0.2, 0.7);
        sim_edge(edges, at, !lit);
        sim_edge(edges, at + length_s * sim_between(random, 0.05, 0.2), lit);
    }
}

/* Play `wave` from a random moment on, and look at it for some cycles. */
static inline void sim_play(const struct lamp_wave *wave, const struct sim_rules *rules,
                            struct sim_random *random, struct sim_light *out)
{
    double off[LAMP_WAVE_MAX];
    double period = 0;
    for (size_t k = 0; k < wave->count; k++) {
        off[k] = 1 + rules->departure * sim_between(random, -1, 1);
        for (size_t i = 0; i < k; i++) { /* Equal lengths are one class and off together. */
            if (i % 2 == k % 2 && wave->length_ns[i] == wave->length_ns[k]) {
                off[k] = off[i];
            }
        }
        period += (double)wave->length_ns[k] * 1e-9 * rules->scale * off[k];
    }
    double begin = period * sim_uniform(random);
    double end_s = period * rules->cycles;
    struct sim_edges edges = {.count = 0};
    double t = -begin;
    for (size_t k = 0; t < end_s; k = (k + 1) % wave->count) {
        double length = (double)wave->length_ns[k] * 1e-9 * rules->scale * off[k];
        length *= fmax(1 + rules->jitter * sim_normal(random), 0.2);
        if (t > 0) {
            sim_step(&edges, t, length, k % 2 == 0, rules, random);
        }
        t += length;
    }
    sim_see(&edges, end_s, rules, random, out);
}

/* Irregular light: lengths from broad distributions, seen for `edge_count` edges. */
static inline void sim_irregular(size_t edge_count, const struct sim_rules *rules,
                                 struct sim_random *random, struct sim_light *out)
{
    struct sim_edges edges = {.count = 0};
    double lit = exp(sim_between(random, log(0.04), log(0.5)));
    double dark = exp(sim_between(random, log(0.04), log(0.8)));
    double spread = sim_between(random, 0.45, 1.0);
    bool is_poisson = sim_uniform(random) < 0.3;
    double t = 0;
    for (size_t i = 0; i <= edge_count; i++) {
        double mean = i % 2 == 0 ? lit : dark;
        double length = is_poisson ? -mean * log(1 - sim_uniform(random))
                                   : mean * exp(spread * sim_normal(random));
        t += fmax(length, 0.02);
        if (i < edge_count) {
            sim_edge(&edges, t, i % 2 == 1);
        }
    }
    sim_see(&edges, t, rules, random, out);
}

/* The invented book that most of these tests read with. */
static const char sim_book_text[] =
    "book: demo\nboard: Demo (invented)\nsource: invented for tests\n"
    "lamps:\n  power: {colour: red, shows: 3.3 V rail}\n  status: {colour: green, shows: "
    "processor}\n"
    "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms, tolerance: "
    "25 %}\n"
    "codes:\n"
    "  - {id: two, lamp: status, pattern: 2 short, means: a}\n"
    "  - {id: three, lamp: status, pattern: 3 short, means: a}\n"
    "  - {id: four, lamp: status, pattern: 4 short, means: a}\n"
    "  - {id: five, lamp: status, pattern: 5 short, means: a}\n"
    "  - {id: seven, lamp: status, pattern: 7 short, means: a}\n"
    "  - {id: three-long, lamp: status, pattern: 3 long, means: a}\n"
    "  - {id: clock, lamp: status, pattern: 1 long 3 short, means: a}\n"
    "  - {id: memory, lamp: status, pattern: 1 long 8 short, means: a}\n"
    "  - {id: supply, lamp: status, pattern: 2 long 3 short, means: a}\n"
    "  - {id: hot, lamp: status, pattern: 2 long 5 short, means: a}\n"
    "  - {id: two-one, lamp: status, pattern: \"2 short, pause, 1 short\", means: a}\n"
    "  - {id: two-four, lamp: status, pattern: \"2 short, pause, 4 short\", means: a}\n"
    "  - {id: three-three-one, lamp: status, pattern: \"3 short, pause, 3 short, pause, 1 short\", "
    "means: a}\n"
    "  - {id: help, lamp: status, pattern: morse SOS, means: a}\n"
    "  - {id: uneven, lamp: status, pattern: \"on 100 ms, off 300 ms, on 400 ms, off 1500 ms\", "
    "means: a}\n"
    "  - {id: stopped, lamp: status, pattern: \"on 200 ms, off 1000 ms\", means: a}\n"
    "  - {id: waiting, lamp: status, pattern: blink 2.5 Hz, means: a}\n"
    "  - {id: running, lamp: status, pattern: steady on, means: a}\n"
    "  - {id: restarts, lamp: power, pattern: blink 1.25 Hz 30 %, means: a}\n"
    "  - {id: rail-up, lamp: power, pattern: steady on, means: a}\n";

static inline struct lamp_book *sim_parse(const char *text)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {.place = ""};
    if (lamp_book_parse(text, strlen(text), "test", &book, &error) != LAMP_OK) {
        fprintf(stderr, "%s: %s\n", error.place, error.sentence);
        exit(1);
    }
    return book;
}

static inline const struct lamp_code *sim_code(const struct lamp_book *book, const char *id)
{
    for (size_t i = 0; i < book->code_count; i++) {
        if (strcmp(book->code[i].id, id) == 0) {
            return &book->code[i];
        }
    }
    fprintf(stderr, "no code %s\n", id);
    exit(1);
}

/* One lamp, as the pipeline would give it: at 30 frames/s, with the rhythm read from the lengths.
 */
struct sim_sighting {
    const struct sim_light *light;
    const char *lamp_name;
    enum lamp_colour colour;
    struct lamp_rhythm rhythm;
};

static inline struct lamp_match sim_match(struct sim_sighting *sighting,
                                          const struct lamp_book *const *books, size_t book_count)
{
    const struct lamp_light_shape shape = {.shape = LAMP_SHAPE_TWO_LEVEL, .rate_hz = 30};
    const struct lamp_rhythm_rules rhythm_rules = lamp_rhythm_rules_default();
    const struct lamp_match_rules rules = lamp_match_rules_default();
    const struct sim_light *light = sighting->light;
    if (light != NULL) {
        lamp_rhythm_read(light->length, light->count, NULL, &rhythm_rules, &sighting->rhythm);
    }
    const struct lamp_evidence evidence = {
        .length = light != NULL ? light->length : NULL,
        .length_count = light != NULL ? light->count : 0,
        .rhythm = &sighting->rhythm,
        .shape = &shape,
        .lamp_name = sighting->lamp_name,
        .colour = sighting->colour,
    };
    struct lamp_match match;
    lamp_match(&evidence, books, book_count, &rules, &match);
    return match;
}

/* Whether two cycles of light are the same within `tolerance` of each length and of one common
 * scale. */
static inline bool sim_same_light(const struct lamp_wave *a, const struct lamp_wave *b,
                                  double tolerance)
{
    for (size_t turn = 0; a->count == b->count && turn < b->count; turn += 2) {
        double low = log1p(-tolerance);
        double high = log1p(tolerance);
        for (size_t i = 0; i < a->count; i++) {
            double ratio =
                log((double)a->length_ns[i] / (double)b->length_ns[(i + turn) % b->count]);
            low = fmax(low, ratio - log1p(tolerance));
            high = fmin(high, ratio - log1p(-tolerance));
        }
        if (low <= high) {
            return true;
        }
    }
    return false;
}

static inline bool sim_is_listed(const struct lamp_book *book, const struct lamp_wave *wave)
{
    for (size_t i = 0; i < book->code_count; i++) {
        if (sim_same_light(wave, &book->code[i].wave, book->code[i].tolerance)) {
            return true;
        }
    }
    return false;
}

static inline void sim_random_pattern(struct sim_random *random, struct lamp_pattern *out)
{
    memset(out, 0, sizeof *out);
    out->kind = LAMP_PATTERN_GROUPS;
    size_t groups = 1 + sim_below(random, 3);
    for (size_t g = 0; g < groups; g++) {
        if (g > 0) {
            out->symbol[out->count++] = LAMP_SYMBOL_PAUSE;
        }
        size_t longs = sim_uniform(random) < 0.4 ? 1 + sim_below(random, 3) : 0;
        size_t shorts = sim_below(random, 9);
        for (size_t i = 0; i < longs; i++) {
            out->symbol[out->count++] = LAMP_SYMBOL_LONG;
        }
        for (size_t i = 0; i < shorts || (longs == 0 && i == 0); i++) {
            out->symbol[out->count++] = LAMP_SYMBOL_SHORT;
        }
    }
}

/* A code that `book` does not list: other counts, and now and then other lengths too. */
static inline void sim_unlisted(const struct lamp_book *book, struct sim_random *random,
                                struct lamp_wave *out)
{
    do {
        struct lamp_pattern pattern;
        struct lamp_timing timing = book->timing;
        sim_random_pattern(random, &pattern);
        if (sim_uniform(random) < 0.4) {
            timing.short_ns = (int64_t)(sim_between(random, 60, 400) * 1e6);
            timing.long_ns = 3 * timing.short_ns;
            timing.gap_ns = (int64_t)(sim_between(random, 60, 400) * 1e6);
            timing.pause_ns = (int64_t)((double)timing.gap_ns * sim_between(random, 2, 4));
            timing.rest_ns = (int64_t)((double)timing.pause_ns * sim_between(random, 1.8, 4));
        }
        if (lamp_pattern_play(&pattern, &timing, out, NULL) != LAMP_OK) {
            out->count = 0;
        }
    } while (out->count < 2 || sim_is_listed(book, out));
}

#endif
