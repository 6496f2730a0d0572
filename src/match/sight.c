/* sight.c - What was seen of one lamp, made ready for weighing: lengths as logarithms, with their
 * doubts. */
#include "match/sight.h"

#include <math.h>

/* Natural variation of a length, share of it: what lamp_rhythm_rules calls jitter. */
#define JITTER 0.03

/* Least spread of irregular light, sd of the logarithm: narrower lengths are a class, not
 * irregular. */
#define IRREGULAR_SD 0.35

/* A camera's edges are late or early together by up to this share of a frame, depending on the
 * direction. */
#define BIAS_FRAMES 0.1

#define LOG_2_PI 1.8378770664093453

double lamp_log_normal(double x, double mean, double variance)
{
    double off = x - mean;
    return -0.5 * (LOG_2_PI + log(variance) + off * off / variance);
}

double lamp_log_above(double x, double mean, double variance)
{
    double z = (x - mean) / sqrt(variance);
    if (z > 8) { /* erfc underflows late, its logarithm is known: Abramowitz and Stegun 26.2.12,
                    first term. */
        return -0.5 * z * z - log(z) - 0.5 * LOG_2_PI;
    }
    return log(0.5 * erfc(z / sqrt(2)));
}

static void take_length(const struct lamp_length *length, struct lamp_seen *out)
{
    out->s = fmax((double)length->ns * 1e-9, 1e-6);
    out->log = log(out->s);
    out->sd_s = (double)length->sd_ns * 1e-9;
    double share = fmin(out->sd_s / out->s, 0.5);
    out->measured = share * share;
    out->variance = out->measured + JITTER * JITTER;
    out->is_lit = length->lit;
    out->is_bound = length->cut_before || length->cut_after;
    out->broad = 0;
}

/* Irregular light: one broad class of lengths for lit, one for dark, fitted to what was seen. */
static void weigh_irregular(struct lamp_sight *sight, bool lit)
{
    double count = 0;
    double sum = 0;
    double squares = 0;
    for (size_t i = 0; i < sight->count; i++) {
        const struct lamp_seen *seen = &sight->seen[i];
        if (seen->is_lit == lit) {
            count += 1;
            sum += seen->log;
            squares += seen->log * seen->log;
        }
    }
    double mean = count > 0 ? sum / count : 0;
    double variance = count > 0 ? squares / count - mean * mean : 0;
    variance = fmax(variance, IRREGULAR_SD * IRREGULAR_SD);
    for (size_t i = 0; i < sight->count; i++) {
        struct lamp_seen *seen = &sight->seen[i];
        if (seen->is_lit == lit) {
            seen->broad = seen->is_bound ? lamp_log_above(seen->log, mean, variance)
                                         : lamp_log_normal(seen->log, mean, variance);
        }
    }
}

void lamp_sight_take(const struct lamp_evidence *evidence, struct lamp_sight *out)
{
    size_t count = evidence->length_count;
    const struct lamp_length *from = evidence->length;
    if (count > LAMP_SIGHT_MAX) {
        from += count - LAMP_SIGHT_MAX;
        count = LAMP_SIGHT_MAX;
    }
    out->count = count;
    double rate_hz = evidence->shape != NULL ? evidence->shape->rate_hz : 0;
    out->bias_s = rate_hz > 0 ? BIAS_FRAMES / rate_hz : 0;
    for (size_t i = 0; i < count; i++) {
        take_length(&from[i], &out->seen[i]);
        out->seen[i].starts =
            i == 0 || from[i].cut_before || from[i - 1].cut_after || from[i].lit == from[i - 1].lit;
    }
    weigh_irregular(out, true);
    weigh_irregular(out, false);
    out->irregular = 0;
    for (size_t i = 0; i < count; i++) {
        out->irregular += out->seen[i].broad;
    }
}
