/* script.c - The true light of one lamp: pieces of level over time, and the edges between them.
 *
 *   level 1 |   .----.    .----.          every piece runs straight from one level to another, so
 * that the light |   |    |    |    |          over any exposure is an exact integral: areas up to
 * each piece are kept 0 |---'    '----'    '--- 0 ^start of a piece
 */
#include <math.h>
#include <stdlib.h>

#include "base/array.h"
#include "base/fail.h"
#include "base/number.h"
#include "lampread/render.h"
#include "render/check.h"
#include "render/random.h"

/* No irregular length is shorter: a lamp driver that faints for less is not seen as flicker. */
#define SHORTEST_NS 1000000

/* Straight pieces in one period of a fade: the cosine is met to 1e-3 of full light. */
#define FADE_PIECES 64

struct piece {
    int64_t start_ns;
    double from;
    double to;
    double area; /* Integral of the level from 0 to start_ns, ns. */
};

struct lamp_script {
    struct lamp_script_rules rules;
    struct random random;
    struct piece *piece;
    size_t piece_count;
    size_t piece_room;
    struct lamp_edge *edge;
    size_t edge_count;
    size_t edge_room;
    bool starts_lit;
};

struct lamp_script_rules lamp_script_rules_default(void)
{
    return (struct lamp_script_rules){
        .kind = LAMP_SCRIPT_STEADY_ON,
        .duration_ns = INT64_C(10) * LAMP_NS_PER_S,
        .scale = 1,
        .chance = LAMP_CHANCE_LOG_NORMAL,
        .lit_mean_ns = 180000000,
        .dark_mean_ns = 120000000,
        .spread = 0.9,
        .depth_least = 0.25,
        .depth_most = 0.85,
        .ramp_ns = 6000000,
        .period_ns = INT64_C(3) * LAMP_NS_PER_S,
        .seed = 1,
    };
}

/* Start a piece that holds `level` at `t_ns`; the one before runs up to here. Pieces before 0 give
 * way to later ones. */
static enum lamp_err add_piece(struct lamp_script *script, int64_t t_ns, double from, double to)
{
    if (t_ns <= 0) {
        script->piece_count = 0;
    }
    enum lamp_err err =
        lamp_array_room((void **)&script->piece, &script->piece_room, script->piece_count,
                        sizeof *script->piece, LAMP_SCRIPT_PIECES_MAX);
    if (err == LAMP_OK) {
        script->piece[script->piece_count++] =
            (struct piece){.start_ns = t_ns, .from = from, .to = to};
    }
    return err;
}

static enum lamp_err add_edge(struct lamp_script *script, int64_t t_ns, bool lit)
{
    if (t_ns <= 0) {
        script->starts_lit = lit;
        return LAMP_OK;
    }
    enum lamp_err err =
        lamp_array_room((void **)&script->edge, &script->edge_room, script->edge_count,
                        sizeof *script->edge, LAMP_SCRIPT_PIECES_MAX);
    if (err == LAMP_OK) {
        script->edge[script->edge_count++] = (struct lamp_edge){.t_ns = t_ns, .lit = lit};
    }
    return err;
}

/* The lamp goes on or off at `t_ns`. */
static enum lamp_err switch_lamp(struct lamp_script *script, int64_t t_ns, bool lit)
{
    const double level = lit ? 1 : script->rules.dark_level;
    enum lamp_err err = add_piece(script, t_ns, level, level);
    return err == LAMP_OK ? add_edge(script, t_ns, lit) : err;
}

static int64_t wave_length_ns(const struct lamp_wave *wave)
{
    int64_t sum = 0;
    for (size_t i = 0; i < wave->count; i++) {
        sum += wave->length_ns[i];
    }
    return sum;
}

/* A length of the wave as it is truly played: scaled, jittered, late. */
static int64_t draw_wave_length(struct lamp_script *script, int64_t nominal_ns)
{
    const struct lamp_script_rules *rules = &script->rules;
    const double share = fmax(0.1, 1 + rules->jitter * random_normal(&script->random));
    const double late_ns = (double)rules->late_ns * random_even(&script->random);
    const int64_t ns = llround((double)nominal_ns * rules->scale * share + late_ns);
    return ns > 1 ? ns : 1;
}

static enum lamp_err write_wave(struct lamp_script *script)
{
    const struct lamp_wave *wave = &script->rules.wave;
    const double cycle_ns = (double)wave_length_ns(wave) * script->rules.scale;
    int64_t t_ns = -llround(cycle_ns * script->rules.start_phase);
    enum lamp_err err = LAMP_OK;
    for (size_t i = 0; err == LAMP_OK && t_ns < script->rules.duration_ns;
         i = (i + 1) % wave->count) {
        err = switch_lamp(script, t_ns, (i % 2 == 0) != script->rules.is_inverted);
        t_ns += draw_wave_length(script, wave->length_ns[i]);
    }
    return err;
}

/* An irregular length with the given mean. */
static int64_t draw_length(struct lamp_script *script, int64_t mean_ns)
{
    struct random *random = &script->random;
    double share = 1;
    switch (script->rules.chance) {
    case LAMP_CHANCE_EXPONENTIAL: share = random_exponential(random); break;
    case LAMP_CHANCE_LOG_NORMAL: share = random_log_normal(random, script->rules.spread); break;
    case LAMP_CHANCE_BURSTS:
        /* 5 in 6 lengths are 0.25 of the mean, 1 in 6 are 4.75 of it: the mean stays. */
        share = (random_even(random) < 1.0 / 6 ? 4.75 : 0.25) * random_exponential(random);
        break;
    }
    const int64_t ns = llround((double)mean_ns * share);
    return ns > SHORTEST_NS ? ns : SHORTEST_NS;
}

static enum lamp_err write_flicker(struct lamp_script *script)
{
    bool lit = random_even(&script->random) < 0.5;
    int64_t t_ns = 0;
    enum lamp_err err = LAMP_OK;
    while (err == LAMP_OK && t_ns < script->rules.duration_ns) {
        err = switch_lamp(script, t_ns, lit != script->rules.is_inverted);
        t_ns += draw_length(script, lit ? script->rules.lit_mean_ns : script->rules.dark_mean_ns);
        lit = !lit;
    }
    return err;
}

/* One dip from full light at `t_ns`; moves `t_ns` to its end. */
static enum lamp_err write_dip(struct lamp_script *script, int64_t *t_ns)
{
    const struct lamp_script_rules *rules = &script->rules;
    const double low = 1 - random_between(&script->random, rules->depth_least, rules->depth_most);
    const int64_t ramp_ns = rules->ramp_ns;
    const int64_t low_ns = draw_length(script, rules->dark_mean_ns);
    enum lamp_err err = ramp_ns > 0 ? add_piece(script, *t_ns, 1, low) : LAMP_OK;
    if (err == LAMP_OK) {
        err = add_piece(script, *t_ns + ramp_ns, low, low);
    }
    if (err == LAMP_OK && ramp_ns > 0) {
        err = add_piece(script, *t_ns + ramp_ns + low_ns, low, 1);
    }
    *t_ns += 2 * ramp_ns + low_ns;
    return err == LAMP_OK ? add_piece(script, *t_ns, 1, 1) : err;
}

static enum lamp_err write_sag(struct lamp_script *script)
{
    script->starts_lit = true;
    int64_t t_ns = 0;
    enum lamp_err err = add_piece(script, 0, 1, 1);
    while (err == LAMP_OK) {
        t_ns += draw_length(script, script->rules.lit_mean_ns);
        if (t_ns >= script->rules.duration_ns) {
            break;
        }
        err = write_dip(script, &t_ns);
    }
    return err;
}

/* Light of a fade at `turns` of its period; brightest at 0. */
static double fade_level(const struct lamp_script *script, double turns)
{
    const double dark = script->rules.dark_level;
    return dark + (1 - dark) * (0.5 + 0.5 * cos(TURN * turns));
}

static enum lamp_err write_fade(struct lamp_script *script)
{
    const double piece_ns = (double)script->rules.period_ns * script->rules.scale / FADE_PIECES;
    script->starts_lit = true;
    enum lamp_err err = LAMP_OK;
    for (int64_t i = 0; err == LAMP_OK; i++) {
        const int64_t t_ns = llround((double)i * piece_ns);
        if (t_ns >= script->rules.duration_ns) {
            break;
        }
        const double turns = script->rules.start_phase + (double)i / FADE_PIECES;
        err = add_piece(script, t_ns, fade_level(script, turns),
                        fade_level(script, turns + 1.0 / FADE_PIECES));
    }
    return err;
}

static enum lamp_err write_pieces(struct lamp_script *script)
{
    switch (script->rules.kind) {
    case LAMP_SCRIPT_STEADY_OFF: return switch_lamp(script, 0, false);
    case LAMP_SCRIPT_STEADY_ON: return switch_lamp(script, 0, true);
    case LAMP_SCRIPT_WAVE: return write_wave(script);
    case LAMP_SCRIPT_FLICKER: return write_flicker(script);
    case LAMP_SCRIPT_SAG: return write_sag(script);
    case LAMP_SCRIPT_FADE: return write_fade(script);
    }
    return LAMP_BAD_USE;
}

/* The level within a piece of `ns` length, `in_ns` after its start. */
static double level_within(const struct piece *piece, double in_ns, double ns)
{
    return piece->from + (piece->to - piece->from) * (ns > 0 ? fmin(in_ns / ns, 1) : 1);
}

/* Length of piece `i`; the last one ends with the script. */
static double piece_ns(const struct lamp_script *script, size_t i)
{
    const int64_t end_ns =
        i + 1 < script->piece_count ? script->piece[i + 1].start_ns : script->rules.duration_ns;
    return (double)(end_ns - script->piece[i].start_ns);
}

/* Begin at 0 and add up areas. */
static void close_pieces(struct lamp_script *script)
{
    struct piece *piece = script->piece;
    piece[0].start_ns = 0;
    for (size_t i = 1; i < script->piece_count; i++) {
        piece[i].area =
            piece[i - 1].area + piece_ns(script, i - 1) * (piece[i - 1].from + piece[i - 1].to) / 2;
    }
}

static size_t find_piece(const struct lamp_script *script, int64_t t_ns)
{
    size_t low = 0;
    size_t high = script->piece_count;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (script->piece[middle].start_ns <= t_ns) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}

double lamp_script_level(const struct lamp_script *script, int64_t t_ns)
{
    const size_t i = find_piece(script, t_ns);
    const double in_ns = fmax(0, (double)(t_ns - script->piece[i].start_ns));
    return level_within(&script->piece[i], in_ns, piece_ns(script, i));
}

/* Integral of the level from 0 to `t_ns`, ns. */
static double area_to(const struct lamp_script *script, int64_t t_ns)
{
    const size_t i = find_piece(script, t_ns);
    const struct piece *piece = &script->piece[i];
    const double in_ns = (double)(t_ns - piece->start_ns);
    const double ns = piece_ns(script, i);
    if (in_ns < 0) {
        return in_ns * piece->from;
    }
    const double sloped_ns = fmin(in_ns, ns);
    return piece->area + sloped_ns * (piece->from + level_within(piece, sloped_ns, ns)) / 2 +
           (in_ns - sloped_ns) * piece->to;
}

double lamp_script_mean(const struct lamp_script *script, int64_t from_ns, int64_t to_ns)
{
    return (area_to(script, to_ns) - area_to(script, from_ns)) / (double)(to_ns - from_ns);
}

bool lamp_script_starts_lit(const struct lamp_script *script)
{
    return script->starts_lit;
}

const struct lamp_edge *lamp_script_edges(const struct lamp_script *script, size_t *count)
{
    *count = script->edge_count;
    return script->edge;
}

int64_t lamp_script_duration_ns(const struct lamp_script *script)
{
    return script->rules.duration_ns;
}

static bool wave_is_usable(const struct lamp_wave *wave)
{
    const size_t most = sizeof wave->length_ns / sizeof *wave->length_ns;
    if (wave->count == 0 || wave->count % 2 != 0 || wave->count > most) {
        return false;
    }
    for (size_t i = 0; i < wave->count; i++) {
        if (wave->length_ns[i] <= 0 || wave->length_ns[i] > LAMP_SCRIPT_NS_MAX) {
            return false;
        }
    }
    return true;
}

static bool is_length(int64_t ns)
{
    return ns > 0 && ns <= LAMP_SCRIPT_NS_MAX;
}

static enum lamp_err check_rules(const struct lamp_script_rules *rules, struct lamp_error *error)
{
    const struct range ranges[] = {
        {"scale", rules->scale, 0.01, 100},
        {"jitter", rules->jitter, 0, 0.3},
        {"start phase", rules->start_phase, 0, 0.999999999},
        {"spread", rules->spread, 0, 3},
        {"shallowest dip", rules->depth_least, 0, 1},
        {"deepest dip", rules->depth_most, 0, 1},
        {"dark level", rules->dark_level, 0, 1},
    };
    const struct check checks[] = {
        {"duration", is_length(rules->duration_ns), "above 0 and at most a day"},
        {"wave", rules->kind != LAMP_SCRIPT_WAVE || wave_is_usable(&rules->wave),
         "an even count of lengths above 0"},
        {"lateness", rules->late_ns == 0 || is_length(rules->late_ns), "0 to a day"},
        {"mean lit length", is_length(rules->lit_mean_ns), "above 0 and at most a day"},
        {"mean dark length", is_length(rules->dark_mean_ns), "above 0 and at most a day"},
        {"ramp", rules->ramp_ns == 0 || is_length(rules->ramp_ns), "0 to a day"},
        {"period", rules->period_ns > SHORTEST_NS && is_length(rules->period_ns), "above 1 ms"},
    };
    enum lamp_err err = check_ranges(ranges, sizeof ranges / sizeof *ranges, error);
    return err == LAMP_OK ? check_all(checks, sizeof checks / sizeof *checks, error) : err;
}

enum lamp_err lamp_script_new(const struct lamp_script_rules *rules, struct lamp_script **out,
                              struct lamp_error *error)
{
    enum lamp_err err = check_rules(rules, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_script *script = calloc(1, sizeof *script);
    if (script == NULL) {
        return lamp_fail_memory(error);
    }
    script->rules = *rules;
    random_init(&script->random, rules->seed, 0);
    err = write_pieces(script);
    if (err != LAMP_OK) {
        lamp_script_free(script);
        return lamp_fail(error, err, "",
                         err == LAMP_FULL ? "the light changes too often" : "out of memory");
    }
    close_pieces(script);
    *out = script;
    return LAMP_OK;
}

void lamp_script_free(struct lamp_script *script)
{
    if (script != NULL) {
        free(script->piece);
        free(script->edge);
        free(script);
    }
}
