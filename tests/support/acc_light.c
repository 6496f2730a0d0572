/* acc_light.c - Light to be read: listed, unlisted and irregular, and cameras that see it badly. */
#include "support/acc_light.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_read.h"
#include "support/irregular.h"

static const double ns_per_ms = 1e6;

/* How a camera sees it: from good to bad, each part by itself. */
static struct lamp_tracer_rules draw_camera(struct chance *chance)
{
    static const double rates_hz[] = {24, 25, 30, 30, 30, 50, 60};
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    struct lamp_shutter_rules *shutter = &rules.shutter;
    shutter->rate_hz = rates_hz[(size_t)chance_int(chance, 0, 6)];
    double share = exp(chance_between(chance, log(0.05), 0));
    shutter->exposure_ns = (int64_t)(share * 1e9 / shutter->rate_hz);
    shutter->jitter = chance_int(chance, 0, 1) * chance_between(chance, 0, 0.05);
    shutter->drop_share = chance_int(chance, 0, 1) * chance_between(chance, 0, 0.05);
    shutter->late_share = chance_int(chance, 0, 1) * chance_between(chance, 0, 0.03);
    shutter->sway = chance_int(chance, 0, 3) == 0 ? chance_between(chance, 0, 0.2) : 0;
    shutter->stamp_sd_ns =
        (int64_t)(chance_int(chance, 0, 1) * chance_between(chance, 0, 1) * ns_per_ms);
    shutter->seed = chance_bits(chance);
    rules.gain = exp(chance_between(chance, log(0.03), log(0.9)));
    rules.read_noise = rules.gain * exp(chance_between(chance, log(0.003), log(0.06)));
    rules.drift = chance_int(chance, 0, 1) * chance_between(chance, 0, 0.2);
    rules.pumping = chance_int(chance, 0, 1) * chance_between(chance, 0, 0.4);
    rules.ripple = chance_int(chance, 0, 1) * rules.gain * chance_between(chance, 0, 0.04);
    rules.ripple_hz = chance_int(chance, 0, 1) == 0 ? 100 : 120;
    rules.tells_exposure = chance_int(chance, 0, 3) == 0;
    return rules;
}

static void set_duration(struct acc_light *light, double duration_s)
{
    light->tracer.shutter.duration_ns = (int64_t)(duration_s * 1e9);
    light->script.duration_ns = light->tracer.shutter.duration_ns + 1000000000;
}

static struct acc_light begin(struct chance *chance, uint64_t seed, uint64_t stream)
{
    /* Mixed twice: the states of neighbouring seeds must not be draws of one another. */
    struct chance mixer = {.state = seed};
    mixer.state = chance_bits(&mixer) + stream;
    *chance = (struct chance){.state = chance_bits(&mixer)};
    struct acc_light light = {.script = lamp_script_rules_default()};
    light.tracer = draw_camera(chance);
    light.script.seed = chance_bits(chance);
    return light;
}

/* One cycle that is longer than any clip is light without a repeat. */
static void play_irregular(struct acc_light *light, enum irregular kind, struct chance *chance)
{
    const struct irregular_light source = irregular_new(kind, chance);
    struct lamp_wave *wave = &light->script.wave;
    light->script.kind = LAMP_SCRIPT_WAVE;
    const int most = LAMP_WAVE_MAX;
    double sum_s = 0;
    for (wave->count = 0; wave->count < (size_t)most; wave->count++) {
        double ms = fmax(irregular_next(&source, wave->count % 2 == 0, chance), 1);
        wave->length_ns[wave->count] = (int64_t)(ms * ns_per_ms);
        sum_s += ms / 1e3;
    }
    set_duration(light, fmin(chance_between(chance, 6, 30), 0.9 * sum_s));
    (void)snprintf(light->kind, sizeof light->kind, "irregular, %s", irregular_name[kind]);
}

void acc_light_irregular(struct acc_light *light, uint64_t seed)
{
    enum { CHANCES = 3, SCRIPTED = CHANCES + 1 };
    static const char *const chances[CHANCES] = {"exponential", "log-normal", "bursts"};
    struct chance chance;
    *light = begin(&chance, seed, 1);
    light->is_irregular = true;
    const int kind = (int)(seed % (uint64_t)(IRREGULAR_COUNT + SCRIPTED));
    if (kind >= SCRIPTED) {
        play_irregular(light, (enum irregular)(kind - SCRIPTED), &chance);
        return;
    }
    struct lamp_script_rules *script = &light->script;
    script->kind = kind < CHANCES ? LAMP_SCRIPT_FLICKER : LAMP_SCRIPT_SAG;
    script->chance = (enum lamp_chance)(kind < CHANCES ? kind : chance_int(&chance, 0, 2));
    script->lit_mean_ns = (int64_t)(ns_per_ms * 40 * exp(chance_between(&chance, 0, 2.5)));
    script->dark_mean_ns =
        (int64_t)((double)script->lit_mean_ns * exp(chance_between(&chance, -0.7, 1.5)));
    script->spread = chance_between(&chance, 0.4, 1.2);
    script->is_inverted = kind < CHANCES && chance_int(&chance, 0, 1) == 1;
    set_duration(light, chance_between(&chance, 6, 30));
    (void)snprintf(light->kind, sizeof light->kind, "%s, %s",
                   kind < CHANCES ? "flicker" : "sagging supply", chances[script->chance]);
}

/* Whether `wave`, begun at `turn`, is the wave of `code` within `slack` times its tolerance. */
static bool fits_turned(const struct lamp_wave *wave, const struct lamp_code *code, size_t turn,
                        double slack)
{
    double least = 0;
    double most = HUGE_VAL;
    const double tolerance = slack * code->tolerance;
    for (size_t i = 0; i < wave->count; i++) {
        const double ratio =
            (double)wave->length_ns[(i + turn) % wave->count] / (double)code->wave.length_ns[i];
        least = fmax(least, ratio / (1 + tolerance));
        most = fmin(most, tolerance < 1 ? ratio / (1 - tolerance) : HUGE_VAL);
    }
    return least <= most && most >= 1 - tolerance && least <= 1 + tolerance;
}

/* The cycle of an entry may be given more than once in `wave`, or that of `wave` in the entry. */
static bool fits(const struct lamp_wave *wave, const struct lamp_code *code, double slack)
{
    if (code->wave.count == 0 || wave->count != code->wave.count) {
        return false;
    }
    for (size_t turn = 0; turn < wave->count; turn += 2) {
        if (fits_turned(wave, code, turn, slack)) {
            return true;
        }
    }
    return false;
}

static bool is_listed(const struct lamp_wave *wave, const struct acc_pool *pool)
{
    for (size_t i = 0; i < pool->count; i++) {
        if (fits(wave, pool->entry[i].code, 1.2)) {
            return true;
        }
    }
    return false;
}

static void add_flashes(struct lamp_pattern *pattern, enum lamp_symbol symbol, int count)
{
    for (int i = 0; i < count; i++) {
        pattern->symbol[pattern->count++] = symbol;
    }
}

/* One to three groups of one to nine flashes, the long ones first. */
static struct lamp_pattern draw_groups(struct chance *chance)
{
    struct lamp_pattern pattern = {.kind = LAMP_PATTERN_GROUPS};
    const int groups = chance_int(chance, 1, 3);
    for (int i = 0; i < groups; i++) {
        add_flashes(&pattern, LAMP_SYMBOL_PAUSE, i > 0);
        const int longs = chance_int(chance, 0, 1) * chance_int(chance, 1, 4);
        add_flashes(&pattern, LAMP_SYMBOL_LONG, longs);
        add_flashes(&pattern, LAMP_SYMBOL_SHORT, chance_int(chance, longs > 0 ? 0 : 1, 9));
    }
    return pattern;
}

static struct lamp_timing draw_timing(struct chance *chance)
{
    const double short_ms = exp(chance_between(chance, log(90), log(400)));
    const double gap_ms = short_ms * chance_between(chance, 0.7, 1.6);
    const double pause_ms = gap_ms * chance_between(chance, 2.5, 4);
    return (struct lamp_timing){
        .short_ns = (int64_t)(short_ms * ns_per_ms),
        .long_ns = (int64_t)(short_ms * chance_between(chance, 2.5, 4) * ns_per_ms),
        .gap_ns = (int64_t)(gap_ms * ns_per_ms),
        .pause_ns = (int64_t)(pause_ms * ns_per_ms),
        .rest_ns = (int64_t)(pause_ms * chance_between(chance, 2, 3.5) * ns_per_ms)};
}

static void draw_exact(struct lamp_wave *wave, struct chance *chance)
{
    wave->count = 2 * (size_t)chance_int(chance, 1, 4);
    for (size_t i = 0; i < wave->count; i++) {
        wave->length_ns[i] = (int64_t)(ns_per_ms * exp(chance_between(chance, log(70), log(1500))));
    }
}

static void play_groups(struct acc_light *light, const struct lamp_pattern *pattern,
                        const struct lamp_timing *timing, char notation[LAMP_NOTATION_MAX])
{
    struct lamp_error error = {.place = ""};
    acc_must(lamp_script_rules_play(pattern, timing, &light->script, &error), &error);
    lamp_pattern_format(pattern, notation);
}

/* Half of them keep a book's lengths and only count otherwise than any entry: the nearest misses.
 */
static void draw_unlisted(struct acc_light *light, const struct acc_pool *pool,
                          struct chance *chance)
{
    const int kind = chance_int(chance, 0, 3);
    if (kind == 0) {
        light->script.kind = LAMP_SCRIPT_WAVE;
        draw_exact(&light->script.wave, chance);
        (void)snprintf(light->kind, sizeof light->kind, "unlisted, %zu exact lengths",
                       light->script.wave.count);
        return;
    }
    const struct lamp_pattern pattern = draw_groups(chance);
    const struct lamp_book *book =
        pool->book[(size_t)chance_int(chance, 0, (int)pool->book_count - 1)];
    const struct lamp_timing timing = kind == 1 ? draw_timing(chance) : book->timing;
    char notation[LAMP_NOTATION_MAX];
    play_groups(light, &pattern, &timing, notation);
    (void)snprintf(light->kind, sizeof light->kind, "%.40s as in %s", notation,
                   kind == 1 ? "no book" : book->id);
}

static void draw_fast_blink(struct acc_light *light, struct chance *chance)
{
    const double hz = chance_between(chance, 0.35, 2.6) * light->tracer.shutter.rate_hz;
    const double lit = chance_between(chance, 0.2, 0.8);
    light->script.kind = LAMP_SCRIPT_WAVE;
    light->script.wave.count = 2;
    light->script.wave.length_ns[0] = (int64_t)(lit * 1e9 / hz);
    light->script.wave.length_ns[1] = (int64_t)((1 - lit) * 1e9 / hz);
    (void)snprintf(light->kind, sizeof light->kind, "fast, %.4g Hz, %.0f %%", hz, 100 * lit);
}

static void draw_fast_groups(struct acc_light *light, struct chance *chance)
{
    const struct lamp_pattern pattern = draw_groups(chance);
    const double short_ns = chance_between(chance, 0.5, 2.5) * 1e9 / light->tracer.shutter.rate_hz;
    const struct lamp_timing timing = {
        .short_ns = (int64_t)short_ns,
        .long_ns = (int64_t)(3 * short_ns),
        .gap_ns = (int64_t)(chance_between(chance, 0.7, 1.5) * short_ns),
        .pause_ns = (int64_t)(chance_between(chance, 3, 7) * short_ns),
        .rest_ns = (int64_t)(chance_between(chance, 8, 25) * short_ns)};
    char notation[LAMP_NOTATION_MAX];
    play_groups(light, &pattern, &timing, notation);
    (void)snprintf(light->kind, sizeof light->kind, "fast, %.30s, short %.3g ms", notation,
                   short_ns / ns_per_ms);
}

void acc_light_fast(struct acc_light *light, uint64_t seed)
{
    struct chance chance;
    *light = begin(&chance, seed, 4);
    light->is_fast = true;
    if (seed % 2 == 0) {
        draw_fast_blink(light, &chance);
    } else {
        draw_fast_groups(light, &chance);
    }
    light->script.start_phase = chance_even(&chance);
    light->script.jitter = chance_int(&chance, 0, 1) * chance_between(&chance, 0, 0.02);
    set_duration(light, chance_between(&chance, 8, 30));
}

static double cycle_s(const struct lamp_wave *wave)
{
    double sum_ns = 0;
    for (size_t i = 0; i < wave->count; i++) {
        sum_ns += (double)wave->length_ns[i];
    }
    return sum_ns / 1e9;
}

void acc_light_unlisted(struct acc_light *light, const struct acc_pool *pool, uint64_t seed)
{
    struct chance chance;
    *light = begin(&chance, seed, 2);
    do {
        draw_unlisted(light, pool, &chance);
    } while (is_listed(&light->script.wave, pool));
    light->script.start_phase = chance_even(&chance);
    light->script.jitter = chance_int(&chance, 0, 1) * chance_between(&chance, 0, 0.03);
    set_duration(light, fmax(chance_between(&chance, 1, 5) * cycle_s(&light->script.wave), 3));
}

void acc_light_listed(struct acc_light *light, const struct acc_pool *pool, double repeats,
                      uint64_t seed)
{
    struct chance chance;
    const struct acc_entry *entry;
    *light = begin(&chance, seed, 3);
    do {
        entry = &pool->entry[chance_int(&chance, 0, (int)pool->count - 1)];
    } while (entry->code->wave.count == 0);
    const struct lamp_script_rules kept = light->script;
    light->script = acc_entry_script(entry);
    light->script.seed = kept.seed;
    light->script.start_phase = chance_even(&chance);
    light->script.scale = chance_between(&chance, 0.9, 1.1);
    light->script.jitter = chance_int(&chance, 0, 1) * chance_between(&chance, 0, 0.03);
    light->code = entry->code;
    set_duration(light, fmax(repeats * cycle_s(&light->script.wave) * light->script.scale, 1));
    (void)snprintf(light->kind, sizeof light->kind, "%s:%s, %.1f cycles", entry->book->id,
                   entry->code->id, repeats);
}

struct lamp_script *acc_light_script(const struct acc_light *light)
{
    struct lamp_script *script = NULL;
    struct lamp_error error = {.place = ""};
    acc_must(lamp_script_new(&light->script, &script, &error), &error);
    return script;
}
