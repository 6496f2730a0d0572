/* bundle.c - The light of one place in the picture as four strands: red, green and blue alone, and
 * all of it. */
#include "pipeline/bundle.h"

/* Share of the strongest other channel that shows in a channel: the filters of a sensor overlap
 * (common practice, no source). Less would let a red lamp shine in green, more would hide an orange
 * one's green. */
static const double crosstalk = 0.15;

/* Clipping, the codec and the rolling shutter move an edge in pictures by about that much
 * (measured: tests/accuracy). */
static const int64_t picture_sd_ns = 1500000;

enum lamp_err lamp_bundle_init(struct lamp_bundle *bundle, const struct lamp_edger_rules *rules)
{
    *bundle = (struct lamp_bundle){.strand = {NULL}};
    for (int i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        enum lamp_err failed = lamp_strand_new(rules, &bundle->strand[i]);
        if (failed != LAMP_OK) {
            lamp_bundle_fini(bundle);
            return failed;
        }
        lamp_strand_set_floor(bundle->strand[i], picture_sd_ns);
    }
    return LAMP_OK;
}

/* The mean of the colours that say how much. */
static double all_light(const struct lamp_reading *reading)
{
    double sum = 0;
    int count = 0;
    for (int c = 0; c < 3; c++) {
        if (!reading->is_driven[c]) {
            sum += (double)reading->rgb[c];
            count++;
        }
    }
    return count > 0 ? sum / count : 0;
}

static double level_of(const struct lamp_reading *reading, int channel)
{
    if (channel == LAMP_CHANNEL_ALL) {
        return all_light(reading);
    }
    const float *rgb = reading->rgb;
    double one = (double)rgb[(channel + 1) % 3];
    double other = (double)rgb[(channel + 2) % 3];
    double strongest = one > other ? one : other;
    return (double)rgb[channel] - crosstalk * (strongest > 0 ? strongest : 0);
}

void lamp_bundle_levels(const struct lamp_reading *reading, double out[LAMP_CHANNEL_COUNT])
{
    for (int i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        out[i] = level_of(reading, i);
    }
}

enum lamp_err lamp_bundle_push(struct lamp_bundle *bundle, const struct lamp_reading *reading)
{
    double level[LAMP_CHANNEL_COUNT];
    lamp_bundle_levels(reading, level);
    lamp_unison_push(&bundle->unison, level);
    for (int i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        struct lamp_sample sample = {
            .t_ns = reading->t_ns, .exposure_ns = reading->exposure_ns, .level = level[i]};
        enum lamp_err failed = lamp_strand_push(bundle->strand[i], &sample, reading->after_break);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    return LAMP_OK;
}

enum lamp_err lamp_bundle_finish(struct lamp_bundle *bundle)
{
    for (int i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        enum lamp_err failed = lamp_strand_finish(bundle->strand[i], 0);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    return LAMP_OK;
}

void lamp_bundle_fini(struct lamp_bundle *bundle)
{
    for (int i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        lamp_strand_free(bundle->strand[i]);
        bundle->strand[i] = NULL;
    }
}
