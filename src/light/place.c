/* place.c - One place that may be a lamp: what to measure, and how much it behaves like a lamp.
 *
 * A lamp adds light of its own: its place changes far more than the ring around it, and in the ratio of their light,
 * not only in the difference. A hand, a shadow, ripple of the room light or a moving edge change both alike.
 */
#include "light/place.h"

#include <math.h>
#include <string.h>

#define DARK_FLOOR   0.003F /* linear light added before a ratio is taken: below it is noise */
#define CLEAN_TIMES  2.5F   /* how many times more light a lamp gains than its ring */
#define CLEAN_RATIO  1.3F   /* how many times more, on a log scale */
#define CLEAN_MARGIN 0.10F  /* and by how much at least */

static float largest(const float rgb[3])
{
    float most = rgb[0] > rgb[1] ? rgb[0] : rgb[1];
    return most > rgb[2] ? most : rgb[2];
}

static float smallest(const float rgb[3])
{
    float least = rgb[0] < rgb[1] ? rgb[0] : rgb[1];
    return least < rgb[2] ? least : rgb[2];
}

/* Largest change over the three colours, as a log ratio. */
static float log_change(const float a[3], const float b[3])
{
    float most = 0;
    for (int c = 0; c < 3; c++) {
        float change = fabsf(logf((fmaxf(a[c], 0) + DARK_FLOOR) / (fmaxf(b[c], 0) + DARK_FLOOR)));
        most = change > most ? change : most;
    }
    return most;
}

static float change(const float a[3], const float b[3])
{
    float most = 0;
    for (int c = 0; c < 3; c++) {
        most = fmaxf(most, fabsf(a[c] - b[c]));
    }
    return most;
}

static bool is_clean_change(const float core_a[3], const float core_b[3], const float ring_a[3], const float ring_b[3])
{
    return change(core_a, core_b) > CLEAN_TIMES * change(ring_a, ring_b) &&
           log_change(core_a, core_b) > CLEAN_RATIO * log_change(ring_a, ring_b) + CLEAN_MARGIN;
}

bool lamp_look_is_clean(const struct lamp_look *look, double least_contrast)
{
    float most = 0;
    for (int c = 0; c < 3; c++) {
        float step = fabsf((look->core_lit[c] - look->ring_lit[c]) - (look->core_dark[c] - look->ring_dark[c]));
        most = step > most ? step : most;
    }
    return (double)most > least_contrast && look->fill > 0.3F &&
           is_clean_change(look->core_lit, look->core_dark, look->ring_lit, look->ring_dark);
}

void lamp_watched_init(struct lamp_watched *w, const struct lamp_spot *spot, const struct lamp_look *look, bool changed)
{
    *w = (struct lamp_watched){.spot = *spot, .peak = look->peak, .fill = look->fill, .is_by_change = changed};
    for (int c = 0; c < 3; c++) {
        w->lit_rgb[c] = look->core_lit[c] - (changed ? look->core_dark[c] : look->ring_lit[c]);
        w->rim_rgb[c] = look->rim_rgb[c];
    }
    w->region = (struct lamp_region){.x_px = (int)floor(spot->centre.x - spot->half_w_px),
                                     .y_px = (int)floor(spot->centre.y - spot->half_h_px),
                                     .w_px = (int)ceil(2 * spot->half_w_px),
                                     .h_px = (int)ceil(2 * spot->half_h_px)};
}

void lamp_watched_point(struct lamp_watched *w, const struct lamp_region *region)
{
    *w = (struct lamp_watched){.is_pointed = true, .region = *region};
    lamp_spot_of_region(region, &w->spot);
}

/* Two states with hysteresis, whose levels follow slowly; each crossing is judged by what lamp and ring were in the
 * state before and are now, one sample after the crossing, so that a half-exposed frame does not decide. */
void lamp_watched_learn(struct lamp_watched *w, const float core[3], const float ring[3])
{
    float above[3];
    for (int c = 0; c < 3; c++) {
        above[c] = core[c] - ring[c];
    }
    float level = largest(above);
    if (!w->has_begun) {
        w->low = w->high = level;
        memcpy(w->now_core, core, sizeof w->now_core);
        memcpy(w->now_ring, ring, sizeof w->now_ring);
        return;
    }
    w->low = level < w->low ? level : w->low + 0.002F * (level - w->low);
    w->high = level > w->high ? level : w->high + 0.002F * (level - w->high);
    float span = w->high - w->low;
    float share = span > 0 ? (level - w->low) / span : 0;
    bool is_high = w->is_high ? share > 0.35F : share > 0.65F;
    if (is_high != w->is_high && span > 0.15F * fabsf(w->high) + 0.003F) {
        bool is_clean = is_clean_change(core, w->now_core, ring, w->now_ring);
        w->clean_count += is_clean;
        w->dirty_count += !is_clean;
        memcpy(w->other_core, w->now_core, sizeof w->other_core);
        memcpy(w->other_ring, w->now_ring, sizeof w->other_ring);
    }
    w->is_high = is_high;
    memcpy(w->now_core, core, sizeof w->now_core);
    memcpy(w->now_ring, ring, sizeof w->now_ring);
}

/* Coloured light, 0 (white) to 1; from the rim, which is not driven white. */
static float saturation(const struct lamp_watched *w)
{
    const float *rgb = largest(w->rim_rgb) > 0 ? w->rim_rgb : w->lit_rgb;
    float most = largest(rgb);
    return most > 0 ? (most - fmaxf(smallest(rgb), 0)) / most : 0;
}

static float ramp(float value, float from, float to)
{
    return fminf(fmaxf((value - from) / (to - from), 0), 1);
}

float lamp_watched_likeness(const struct lamp_watched *w)
{
    if (w->is_pointed) {
        return 1;
    }
    float round = fminf(w->fill / 0.6F, 1);
    float colour = saturation(w);
    unsigned changes = w->clean_count + w->dirty_count;
    float bright = ramp(w->height, 0.8F, 1.0F) * ramp(w->peak, 0.6F, 0.9F);
    if (changes >= 2) {
        float clean = (float)w->clean_count / (float)changes;
        float shines = fmaxf(ramp(colour, 0.2F, 0.5F), bright);
        return round * clean * (0.2F + 0.8F * shines);
    }
    /* Never seen to change: only a bright, coloured, compact light is called a lamp. */
    return round * bright * ramp(colour, 0.25F, 0.6F);
}
