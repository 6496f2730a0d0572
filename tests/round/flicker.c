/* flicker.c - Percent flicker and flicker index of waves whose figures are known.
 *
 * percent flicker = (max - min) / (max + min) (CIE International Lighting Vocabulary; primary
 * text); flicker index = area above the mean over the whole area, over whole periods (IEC 60050
 * 845-22-094; primary text). The figures of the waves below are arithmetic from these.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "support/acc_read.h"

struct wave {
    const char *name;
    enum lamp_script_kind kind;
    double duty;  /* WAVE: lit share */
    double least; /* light of the dark lamp, of the lit one's */
};

static const struct wave waves[] = {
    {"square, lit 10 %", LAMP_SCRIPT_WAVE, 0.1, 0},
    {"square, lit 25 %", LAMP_SCRIPT_WAVE, 0.25, 0},
    {"square, lit 50 %", LAMP_SCRIPT_WAVE, 0.5, 0},
    {"square, lit 75 %", LAMP_SCRIPT_WAVE, 0.75, 0},
    {"square, lit 90 %", LAMP_SCRIPT_WAVE, 0.9, 0},
    {"square, lit 50 %, dark 0.3", LAMP_SCRIPT_WAVE, 0.5, 0.3},
    {"square, lit 30 %, dark 0.1", LAMP_SCRIPT_WAVE, 0.3, 0.1},
    {"raised cosine", LAMP_SCRIPT_FADE, 0, 0},
    {"raised cosine, least 0.2", LAMP_SCRIPT_FADE, 0, 0.2},
    {"raised cosine, least 0.5", LAMP_SCRIPT_FADE, 0, 0.5},
    {"steady", LAMP_SCRIPT_STEADY_ON, 0, 1},
};

static double true_percent(const struct wave *wave)
{
    return 100 * (1 - wave->least) / (1 + wave->least);
}

/* Square: d (1 - mean) / mean, mean = d + (1 - d) least. Cosine of modulation m: m / pi. */
static double true_index(const struct wave *wave)
{
    const double pi = 3.14159265358979;
    if (wave->kind == LAMP_SCRIPT_FADE) {
        return true_percent(wave) / 100 / pi;
    }
    if (wave->kind == LAMP_SCRIPT_STEADY_ON) {
        return 0;
    }
    const double mean = wave->duty + (1 - wave->duty) * wave->least;
    return wave->duty * (1 - mean) / mean;
}

static struct lamp_script *play(const struct wave *wave)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    struct lamp_script *script = NULL;
    struct lamp_error error = {.place = ""};
    const double period_ns = 4e8;
    rules.kind = wave->kind;
    rules.wave.count = 2;
    rules.wave.length_ns[0] = (int64_t)(period_ns * (wave->duty > 0 ? wave->duty : 0.5));
    rules.wave.length_ns[1] = (int64_t)period_ns - rules.wave.length_ns[0];
    rules.period_ns = (int64_t)(5 * period_ns);
    rules.dark_level = wave->kind == LAMP_SCRIPT_STEADY_ON ? 0 : wave->least;
    rules.duration_ns = INT64_C(12000000000);
    acc_must(lamp_script_new(&rules, &script, &error), &error);
    return script;
}

static bool check(const struct wave *wave, double rate_hz, double noise, double tolerance)
{
    struct lamp_script *script = play(wave);
    struct lamp_tracer_rules tracer = lamp_tracer_rules_default();
    const struct lamp_reader_rules rules = lamp_reader_rules_default();
    tracer.shutter.rate_hz = rate_hz;
    tracer.shutter.exposure_ns = (int64_t)(0.3e9 / rate_hz);
    tracer.shutter.duration_ns = lamp_script_duration_ns(script);
    tracer.read_noise = noise;
    tracer.shot_noise = 0;
    struct acc_reading reading = acc_read_trace(&rules, &tracer, script);
    const struct lamp_light_shape *shape = &reading.report->lamp[0].shape;
    const bool is_good = fabs(shape->percent_flicker - true_percent(wave)) < 100 * tolerance &&
                         fabs(shape->flicker_index - true_index(wave)) < tolerance;
    printf("%-28s %5.0f Hz %7.3f %9.1f %% %6.1f %% %9.4f %7.4f%s\n", wave->name, rate_hz, noise,
           true_percent(wave), shape->percent_flicker, true_index(wave), shape->flicker_index,
           is_good ? "" : " !");
    acc_reading_fini(&reading);
    lamp_script_free(script);
    return is_good;
}

int main(void)
{
    enum { WAVES = sizeof waves / sizeof *waves };
    int faults = 0;
    printf("wave                            rate   noise   percent    told     index    told\n");
    for (size_t i = 0; i < WAVES; i++) {
        faults += !check(&waves[i], 1000, 0.001, 0.01);
        faults += !check(&waves[i], 60, 0.005, 0.04);
    }
    printf("%d waves, %d faults\n", (int)WAVES, faults);
    return faults == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
