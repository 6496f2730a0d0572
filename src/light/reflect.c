/* reflect.c - What of a place's light is the room's, which ripples, and not its own.
 *
 *   light of the place = its own + what it reflects * the room's light
 *
 * A lamp's own light knows nothing of the ripple, so what it reflects is the slope of its light
 * over the room's. It is learnt from one frame to the next, where the lamp mostly has not changed;
 * where it has, the change is off by far more than usual and counts for little.
 */
#include "light/reflect.h"

#include <math.h>
#include <string.h>

#define DOUBT       0.05F /* change of the room's light, squared, that a first guess is worth */
#define OFF_MOST    3.0F  /* times what is usual that a change counts as being off by at most */
#define USUAL_STEP  1.1F  /* ratio by which the usual follows what is seen, towards its median */
#define TOP         1.0F  /* linear light that a pixel can tell */
#define DRIVEN      0.9F  /* the same where some of the place's pixels may be at the top */
#define BLINDING    0.8F  /* linear light of the dark pixels that leaves little room for a lamp's */
#define NOTES_LEAST 30    /* levels told until they say whether the room's light did them */
#define USUAL_LEAST 1e-4F /* linear light */

static void learn_one(struct lamp_reflection *r, int k, float change, float room_change)
{
    float off = change - r->rgb[k] * room_change;
    if (!(r->usual[k] > 0)) {
        r->usual[k] = fmaxf(fabsf(off), USUAL_LEAST);
    }
    float most = OFF_MOST * r->usual[k];
    r->usual[k] *= fabsf(off) > r->usual[k] ? USUAL_STEP : 1 / USUAL_STEP;
    r->usual[k] = fmaxf(r->usual[k], USUAL_LEAST);
    off = fminf(fmaxf(off, -most), most);
    r->rgb[k] += off * room_change / r->weight[k];
}

static void take_both(const struct lamp_light *light, float out[LAMP_REFLECTING])
{
    memcpy(out, light->core, sizeof light->core);
    memcpy(out + 3, light->ring, sizeof light->ring);
}

void lamp_reflection_know(struct lamp_reflection *r, const struct lamp_light *dark)
{
    take_both(dark, r->rgb);
    r->is_known = true;
}

void lamp_reflection_learn(struct lamp_reflection *r, const struct lamp_light *light)
{
    float now[LAMP_REFLECTING];
    take_both(light, now);
    for (int k = 0; k < LAMP_REFLECTING && r->has_last && !r->is_known; k++) {
        float room_change = light->room[k] - r->last_room[k];
        /* Light driven to the top does not tell what changes it. */
        if (room_change * room_change > 0 && fmaxf(now[k], r->last[k]) < DRIVEN) {
            r->weight[k] = (r->weight[k] > 0 ? r->weight[k] : DOUBT) + room_change * room_change;
            learn_one(r, k, now[k] - r->last[k], room_change);
        }
    }
    memcpy(r->last, now, sizeof now);
    memcpy(r->last_room, light->room, sizeof r->last_room);
    r->has_last = true;
}

void lamp_reflection_take_out(const struct lamp_reflection *r, struct lamp_light *light)
{
    for (int c = 0; c < 3; c++) {
        float reflects = r->rgb[c] * light->room[c];
        light->core[c] -= (reflects < TOP ? reflects : fmaxf(TOP, r->rgb[c])) - r->rgb[c];
        light->ring[c] -= (light->room[3 + c] - 1) * r->rgb[3 + c];
    }
    for (int k = 0; k < LAMP_REFLECTING; k++) {
        light->room[k] = 1;
    }
}

void lamp_reflection_level(struct lamp_reflection *r, const float change[LAMP_REFLECTING])
{
    for (int k = 0; k < LAMP_REFLECTING; k++) {
        r->rgb[k] /= change[k];
        r->last_room[k] *= change[k];
    }
}

void lamp_reflection_note(struct lamp_reflection *r, float room, float level)
{
    double power = 1;
    for (int k = 0; k < 5; k++, power *= (double)room - 1) {
        r->sum[k] += power;
        if (k < 3) {
            r->level_sum[k] += power * (double)level;
        }
    }
    r->level_square += (double)(level * level);
}

/* Of a parabola over the room's light: where a place is driven to the top, it does not follow in
 * proportion. */
float lamp_reflection_share(const struct lamp_reflection *r)
{
    double n = r->sum[0];
    if (n < NOTES_LEAST) {
        return 0;
    }
    double a = r->sum[2] / n - r->sum[1] * r->sum[1] / (n * n);
    double b = r->sum[3] / n - r->sum[1] * r->sum[2] / (n * n);
    double d = r->sum[4] / n - r->sum[2] * r->sum[2] / (n * n);
    double y = r->level_sum[0] / n;
    double p = r->level_sum[1] / n - y * r->sum[1] / n;
    double q = r->level_sum[2] / n - y * r->sum[2] / n;
    double variance = r->level_square / n - y * y;
    double spread = a * d - b * b;
    if (!(spread > 1e-9) || !(variance > 0)) {
        return 0;
    }
    return (float)((d * p * p - 2 * b * p * q + a * q * q) / (spread * variance));
}

bool lamp_reflection_is_blinding(const struct lamp_reflection *r, const float lit_rgb[3],
                                 const float room[3])
{
    int most = 0;
    for (int c = 1; c < 3; c++) {
        most = lit_rgb[c] > lit_rgb[most] ? c : most;
    }
    return r->is_known && room[most] > 1 && r->rgb[most] * room[most] > BLINDING;
}
