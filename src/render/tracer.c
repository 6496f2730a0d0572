/* tracer.c - What a camera makes of one lamp's light, without a picture: samples with noise, drift
 * and ripple. */
#include <math.h>
#include <stdlib.h>

#include "base/fail.h"
#include "base/number.h"
#include "lampread/render.h"
#include "render/check.h"
#include "render/random.h"

/* Period of the drift of the gain, s. */
#define DRIFT_S 20.0

struct lamp_tracer {
    struct lamp_tracer_rules rules;
    const struct lamp_script *script;
    struct lamp_shutter *shutter;
    struct random random;
    double seen; /* The light as auto exposure has it, 0..1. */
    bool has_last;
    int64_t last_ns;
};

struct lamp_tracer_rules lamp_tracer_rules_default(void)
{
    return (struct lamp_tracer_rules){
        .shutter = lamp_shutter_rules_default(),
        .gain = 0.5,
        .read_noise = 0.003,
        .shot_noise = 0.01,
        .pumping_ns = 400000000,
        .ripple_hz = 100,
        .ceiling = 1,
        .tells_exposure = true,
    };
}

static enum lamp_err check_rules(const struct lamp_tracer_rules *rules, struct lamp_error *error)
{
    const struct range ranges[] = {
        {"gain", rules->gain, 1e-6, 1e6},        {"offset", rules->offset, -1e6, 1e6},
        {"read noise", rules->read_noise, 0, 1}, {"shot noise", rules->shot_noise, 0, 1},
        {"drift", rules->drift, 0, 0.9},         {"pumping", rules->pumping, 0, 0.9},
        {"ripple", rules->ripple, 0, 1e6},       {"ripple rate", rules->ripple_hz, 0.01, 1e6},
    };
    const struct check checks[] = {
        {"pumping time", rules->pumping_ns > 0, "above 0"},
    };
    enum lamp_err err = check_ranges(ranges, sizeof ranges / sizeof *ranges, error);
    return err == LAMP_OK ? check_all(checks, sizeof checks / sizeof *checks, error) : err;
}

enum lamp_err lamp_tracer_new(const struct lamp_tracer_rules *rules,
                              const struct lamp_script *script, struct lamp_tracer **out,
                              struct lamp_error *error)
{
    enum lamp_err err = check_rules(rules, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_tracer *tracer = calloc(1, sizeof *tracer);
    if (tracer == NULL) {
        return lamp_fail_memory(error);
    }
    err = lamp_shutter_new(&rules->shutter, &tracer->shutter, error);
    if (err != LAMP_OK) {
        free(tracer);
        return err;
    }
    tracer->rules = *rules;
    tracer->script = script;
    random_init(&tracer->random, rules->shutter.seed, 100 + (uint64_t)rules->lamp);
    *out = tracer;
    return LAMP_OK;
}

/* Auto exposure follows the light with a lag and takes gain away. */
static double follow_exposure(struct lamp_tracer *tracer, int64_t t_ns, double light)
{
    const double gain = 1 - tracer->rules.pumping * tracer->seen;
    if (tracer->has_last) {
        const double passed = (double)(t_ns - tracer->last_ns) / (double)tracer->rules.pumping_ns;
        tracer->seen += (light - tracer->seen) * (1 - exp(-passed));
    }
    tracer->has_last = true;
    tracer->last_ns = t_ns;
    return gain;
}

/* Mean of a ripple of amplitude 1 over an exposure. */
static double mean_ripple(double rate_hz, const struct lamp_shutter_time *time)
{
    const double turn = TURN * rate_hz / LAMP_NS_PER_S;
    const double start = turn * (double)time->start_ns;
    const double length = turn * (double)time->exposure_ns;
    return (cos(start) - cos(start + length)) / length;
}

static double add_noise(struct lamp_tracer *tracer, double level)
{
    const double read = tracer->rules.read_noise;
    const double shot = tracer->rules.shot_noise;
    return level +
           sqrt(read * read + shot * shot * fmax(0, level)) * random_normal(&tracer->random);
}

bool lamp_tracer_next(struct lamp_tracer *tracer, struct lamp_sample *out)
{
    struct lamp_shutter_time time;
    if (!lamp_shutter_next(tracer->shutter, &time)) {
        return false;
    }
    const struct lamp_tracer_rules *rules = &tracer->rules;
    const double light =
        lamp_script_mean(tracer->script, time.start_ns, time.start_ns + time.exposure_ns);
    const double turns = (double)time.start_ns / (DRIFT_S * LAMP_NS_PER_S);
    const double drift = 1 + rules->drift * sin(TURN * turns);
    const double pumped = follow_exposure(tracer, time.start_ns, light);
    double level = rules->offset + rules->gain * drift * pumped * light;
    level += rules->ripple * mean_ripple(rules->ripple_hz, &time);
    out->t_ns = time.t_ns;
    out->exposure_ns = rules->tells_exposure ? time.exposure_ns : 0;
    out->level = fmin(add_noise(tracer, level), rules->ceiling);
    return true;
}

void lamp_tracer_free(struct lamp_tracer *tracer)
{
    if (tracer != NULL) {
        lamp_shutter_free(tracer->shutter);
        free(tracer);
    }
}
