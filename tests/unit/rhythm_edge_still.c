/* rhythm_edge_still.c - A lamp that does not change has no edges, whatever the camera adds. */
/* layers: base light rhythm codebook render */
#include "support/edge_read.h"
#include "support/suite.h"

enum { TRACES = 500 };

/* What the camera adds to a lamp that is all along lit, or dark. */
struct still {
    const char *name;
    bool lit;
    double gain;       /* Level of the lit lamp. */
    double noise;      /* Sd of a sample, share of 0.5. */
    double drift;      /* Sway of the gain over 20 s. */
    double ripple;     /* Room light's ripple left in the trace, linear. */
    double drop_share; /* Samples lost. */
    double saw;        /* A codec that pumps: share of the level, once in some frames. */
    double settles;    /* How far off, share, the exposure is as the recording begins. */
    double memory;     /* Noise that lasts: share of it left in the next sample. */
};

static const struct still stills[] = {
    {.name = "clean", .lit = true, .gain = 0.5, .noise = 0.01},
    {.name = "noisy", .lit = true, .gain = 0.5, .noise = 0.1},
    {.name = "drifting", .lit = true, .gain = 0.5, .noise = 0.02, .drift = 0.3},
    {.name = "rippling", .lit = true, .gain = 0.5, .noise = 0.02, .ripple = 0.025},
    {.name = "all",
     .lit = true,
     .gain = 0.5,
     .noise = 0.04,
     .drift = 0.3,
     .ripple = 0.02,
     .drop_share = 0.04},
    {.name = "pumped", .lit = true, .gain = 0.5, .noise = 0.01, .saw = 0.06},
    {.name = "settling", .lit = true, .gain = 0.5, .noise = 0.01, .settles = 0.35},
    {.name = "settling up", .lit = true, .gain = 0.5, .noise = 0.01, .settles = -0.3},
    {.name = "slow noise", .lit = true, .gain = 0.5, .noise = 0.03, .memory = 0.9},
    {.name = "faint", .lit = true, .gain = 0.03, .noise = 0.01, .drift = 0.2},
    {.name = "dark", .lit = false, .gain = 0.5, .noise = 0.005},
    {.name = "dark, slow noise", .lit = false, .gain = 0.5, .noise = 0.003, .memory = 0.9},
};

static struct lamp_sample sample[2000];
static struct edge_reading reading;

static size_t take_still(const struct still *still, size_t seed)
{
    struct lamp_script_rules script_rules = lamp_script_rules_default();
    script_rules.kind = still->lit ? LAMP_SCRIPT_STEADY_ON : LAMP_SCRIPT_STEADY_OFF;
    struct lamp_script *script = make_script(&script_rules);
    struct lamp_tracer_rules rules = clean_rules();
    rules.gain = still->gain;
    rules.read_noise = still->noise * 0.5;
    rules.drift = still->drift;
    rules.ripple = still->ripple;
    rules.ripple_hz = seed % 2 == 0 ? 100 + spread(seed) : 120 - spread(seed);
    rules.tells_exposure = seed % 3 == 0;
    rules.shutter.seed = seed + 1;
    rules.shutter.drop_share = still->drop_share;
    rules.shutter.rate_hz = 29 + 2 * spread(seed);
    rules.shutter.start_ns = (int64_t)(20e9 * spread(seed));
    rules.shutter.duration_ns = (3 + (int64_t)seed % 6) * S;
    const size_t count = take_samples(&rules, script, sample, sizeof sample / sizeof *sample);
    lamp_script_free(script);
    double kept = 0;
    for (size_t i = 0; i < count; i++) {
        const size_t frames = 12 + seed % 40;
        const double since_s = (double)(sample[i].t_ns - sample[0].t_ns) / 1e9;
        sample[i].level *= 1 + still->saw * ((double)(i % frames) / (double)frames - 0.5);
        sample[i].level *= 1 + still->settles * exp(-since_s / 0.35);
        const double base = still->lit ? still->gain : 0;
        kept = still->memory * kept +
               (sample[i].level - base) * sqrt(1 - still->memory * still->memory);
        sample[i].level = still->memory > 0 ? base + kept : sample[i].level;
    }
    return count;
}

START_TEST(a_lamp_that_does_not_change_has_no_edges)
{
    const struct still *still = &stills[_i];
    for (size_t seed = 0; seed < TRACES; seed++) {
        read_samples(sample, take_still(still, seed), &reading);
        ck_assert_msg(reading.count == 0, "%s, trace %zu: %zu edges", still->name, seed,
                      reading.count);
        ck_assert_msg(reading.shape.shape == LAMP_SHAPE_CONSTANT, "%s, trace %zu: shape %d",
                      still->name, seed, (int)reading.shape.shape);
        ck_assert_msg(reading.shape.is_lit == still->lit, "%s, trace %zu: lit", still->name, seed);
        ck_assert(reading.starts_lit == still->lit);
        ck_assert_double_eq(reading.shape.fastest_hz, 0);
    }
}
END_TEST

int main(void)
{
    return suite_run_rows("edge-still", a_lamp_that_does_not_change_has_no_edges,
                          sizeof stills / sizeof *stills);
}
