/* agree.c - Whether the rhythm, read without a book, contradicts an entry. */
#include "match/agree.h"

#include <math.h>

/* Repeats that must agree before the rhythm's count of flashes is believed over any entry. */
#define REPEATS_BELIEVED 2

/* How far apart two lengths may be, besides the tolerance, and still be the same, log. */
#define SLACK 0.25

static bool wave_of_blink(const struct lamp_rhythm *rhythm, struct lamp_wave *out)
{
    if (!(rhythm->rate_hz > 0) || !(rhythm->duty > 0 && rhythm->duty < 1)) {
        return false;
    }
    out->count = 2;
    out->length_ns[0] = (int64_t)fmax(1, rhythm->duty / rhythm->rate_hz * 1e9);
    out->length_ns[1] = (int64_t)fmax(1, (1 - rhythm->duty) / rhythm->rate_hz * 1e9);
    return true;
}

bool lamp_rhythm_wave(const struct lamp_rhythm *rhythm, struct lamp_wave *out)
{
    if (rhythm->verdict == LAMP_VERDICT_BLINK) {
        return wave_of_blink(rhythm, out);
    }
    return rhythm->pattern.kind == LAMP_PATTERN_GROUPS &&
           lamp_pattern_play(&rhythm->pattern, &rhythm->timing, out, NULL) == LAMP_OK &&
           out->count >= 2;
}

static bool agrees_from(const struct lamp_wave *wave, const struct lamp_model *model, double scale,
                        size_t phase)
{
    size_t count = wave->count > model->count ? wave->count : model->count;
    double most = log1p(model->tolerance) + SLACK;
    for (size_t i = 0; i < count; i++) {
        double seen = (double)wave->length_ns[(i + phase) % wave->count] * 1e-9;
        double wanted = model->class_s[model->class_of[i % model->count]] * scale;
        if (fabs(log(seen / wanted)) > most) {
            return false;
        }
    }
    return true;
}

/* The same light may be written twice over ("2 short, pause, 2 short"): the shorter cycle then
 * repeats in the longer. */
static bool repeats_in(const struct lamp_wave *wave, const struct lamp_model *model, double scale)
{
    if (wave->count % model->count != 0 && model->count % wave->count != 0) {
        return false;
    }
    for (size_t phase = 0; phase < wave->count; phase += 2) {
        if (agrees_from(wave, model, scale, phase)) {
            return true;
        }
    }
    return false;
}

bool lamp_rhythm_contradicts(const struct lamp_rhythm *rhythm, const struct lamp_model *model,
                             double scale)
{
    struct lamp_wave wave = {.count = 0};
    if (rhythm->verdict != LAMP_VERDICT_UNLISTED || rhythm->repeats_agreeing < REPEATS_BELIEVED ||
        !lamp_rhythm_wave(rhythm, &wave)) {
        return false;
    }
    return wave.count != model->count && !repeats_in(&wave, model, scale);
}

bool lamp_rhythm_supports(const struct lamp_rhythm *rhythm, const struct lamp_model *model,
                          double scale)
{
    struct lamp_wave wave = {.count = 0};
    return rhythm->repeats_agreeing >= REPEATS_BELIEVED && lamp_rhythm_wave(rhythm, &wave) &&
           repeats_in(&wave, model, scale);
}
