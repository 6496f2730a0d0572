/* place.c - One place that may be a lamp: what to measure, and how much it behaves like a lamp.
 *
 * A lamp adds light of its own: its place changes far more than the ring around it, and in the
 * ratio of their light, not only in the difference. A hand, a shadow, ripple of the room light or a
 * moving edge change both alike.
 */
#include "light/place.h"

#include <math.h>
#include <string.h>

#define ROOM_FLOOR                                                                                 \
    0.02F /* linear light added before the room's ratio is taken: a lamp's halo reaches far in the \
             dark */
#define CLEAN_TIMES 1.5F   /* how many times more light a lamp gains than the picture farther out */
#define DRIVEN      0.8F   /* linear light from which a colour may be driven to the top */
#define WHITE_EVEN  0.18F  /* glow at which a white spot is as likely a part as a lamp, */
#define WHITE_WIDTH 0.015F /* ... and how far from there it is e times as likely */
#define ROOM_SHARE                                                                               \
    0.6F /* of what a place did that the room's light or a shadow must have done for it to be no \
            lamp */
#define OUTSHINES    1.15F /* times as bright as what is white a white lamp is that is surely lit */
#define NOT_TOLD     0.3F  /* how much a place shines that may be lit or dark */
#define COLD_ODDS    5.0F  /* log odds of green or blue light that outshines what is white */
#define WASHED_ODDS  9.0F  /* log odds of light of which one colour alone is driven to the top */
#define WASHED_WHITE 0.95F /* share of its least colour that all of a washed-out core have */
#define GOLD_ODDS    5.0F  /* log odds against gold that is neither bright nor sheds any light */
#define PALE_BOARD   0.5F  /* share of white's light from which a board hides its parts' rims */
#define PALE         0.35F /* saturation of a rim whose colour says little */
#define OWN_SHARE    0.5F  /* of its change that must be its own, not the room's */

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

/* How much of the change in one colour is not what the room's light does to the place. */
static float own_change(const struct lamp_light *a, const struct lamp_light *b, int c)
{
    float room = (a->far[c] + ROOM_FLOOR) / (b->far[c] + ROOM_FLOOR);
    return (a->core[c] - b->core[c]) - b->core[c] * (room - 1);
}

/* Judged by the colour that changes most. */
bool lamp_light_is_clean(const struct lamp_light *a, const struct lamp_light *b, float strictness)
{
    int most = 0;
    float far = 0;
    for (int c = 0; c < 3; c++) {
        if (fabsf(a->core[c] - b->core[c]) > fabsf(a->core[most] - b->core[most])) {
            most = c;
        }
        far = fmaxf(far, fabsf(a->far[c] - b->far[c]));
    }
    const struct lamp_light *bright = a->core[most] > b->core[most] ? a : b;
    const struct lamp_light *dim = bright == a ? b : a;
    float change = bright->core[most] - dim->core[most];
    return change > strictness * CLEAN_TIMES * far &&
           own_change(bright, dim, most) > strictness * OWN_SHARE * change;
}

bool lamp_look_is_clean(const struct lamp_look *look, double least_contrast)
{
    float most = 0;
    for (int c = 0; c < 3; c++) {
        float step = fabsf((look->lit.core[c] - look->lit.ring[c]) -
                           (look->dark.core[c] - look->dark.ring[c]));
        most = step > most ? step : most;
    }
    return (double)most > least_contrast && look->fill > 0.3F &&
           lamp_light_is_clean(&look->lit, &look->dark, 1);
}

/* What a lamp sheds on its ring: light of its own colour that the picture farther out has not. */
static float halo_of(const struct lamp_light *light, int c)
{
    float own = light->core[c] - light->far[c];
    float shed = light->ring[c] - light->far[c];
    float white = shed;
    for (int k = 0; k < 3; k++) {
        white = fminf(white, light->ring[k] - light->far[k]);
    }
    return own > 0 ? (shed - fmaxf(white, 0)) / own : 0;
}

void lamp_watched_appraise(struct lamp_watched *w, const struct lamp_look *look, bool changed)
{
    int most = 0;
    for (int c = 0; c < 3; c++) {
        w->lit_rgb[c] = look->lit.core[c] - (changed ? look->dark.core[c] : look->lit.ring[c]);
        w->rim_rgb[c] = look->rim_rgb[c];
        w->core_rgb[c] = look->lit.core[c];
        w->far_rgb[c] = look->lit.far[c];
        float best = look->lit.core[most] - look->lit.far[most];
        most = look->lit.core[c] - look->lit.far[c] > best ? c : most;
    }
    w->fill = look->fill;
    w->clip = look->lit.core[most];
    w->above_room = look->lit.core[most] - look->lit.far[most];
    w->halo = halo_of(&look->lit, most);
    w->glare = (look->lit.ring[most] - look->lit.far[most]) / fmaxf(w->above_room, 0.01F);
}

void lamp_watched_init(struct lamp_watched *w, const struct lamp_spot *spot,
                       const struct lamp_look *look, bool changed)
{
    *w = (struct lamp_watched){.spot = *spot,
                               .peak = look->peak,
                               .is_by_change = changed,
                               .clean_count = changed,
                               .clear = 1};
    memcpy(w->darker, look->darker, sizeof w->darker);
    if (changed) {
        lamp_reflection_know(&w->reflection, &look->reflected);
    }
    lamp_watched_appraise(w, look, changed);
    w->region = (struct lamp_region){.x_px = (int)floor(spot->centre.x - spot->half_w_px),
                                     .y_px = (int)floor(spot->centre.y - spot->half_h_px),
                                     .w_px = (int)ceil(2 * spot->half_w_px),
                                     .h_px = (int)ceil(2 * spot->half_h_px)};
}

void lamp_watched_glow(struct lamp_watched *w, const struct lamp_glow *glow, int frames)
{
    w->looks += (unsigned)frames;
    float weight = (float)frames / (float)w->looks;
    w->glow.coloured += weight * (glow->coloured - w->glow.coloured);
    w->glow.white += weight * (glow->white - w->glow.white);
}

void lamp_watched_point(struct lamp_watched *w, const struct lamp_region *region)
{
    *w = (struct lamp_watched){.is_pointed = true, .region = *region, .clear = 1};
    lamp_spot_of_region(region, &w->spot);
}

float lamp_watched_own(const struct lamp_watched *w, const struct lamp_light *light, int c)
{
    return light->core[c] - (1 - w->darker[c]) * light->ring[c];
}

float lamp_watched_level(const struct lamp_watched *w, const struct lamp_light *light)
{
    float own[3];
    for (int c = 0; c < 3; c++) {
        own[c] = lamp_watched_own(w, light, c);
    }
    return largest(own);
}

static void settle(struct lamp_watched *w, const struct lamp_light *light)
{
    w->settled = *light;
    w->settled_clear = w->clear;
}

/* Two states with hysteresis, whose levels follow slowly. A change is judged one frame late,
 * against the last frame on which the old state was settled, so that half-exposed frames do not
 * decide. */
void lamp_watched_learn(struct lamp_watched *w, const struct lamp_light *light)
{
    float level = lamp_watched_level(w, light);
    if (!w->has_begun) {
        w->low = w->high = level;
        settle(w, light);
        return;
    }
    w->low = level < w->low ? level : w->low + 0.002F * (level - w->low);
    w->high = level > w->high ? level : w->high + 0.002F * (level - w->high);
    float span = w->high - w->low;
    float share = span > 0 ? (level - w->low) / span : 0;
    if (w->is_due) {
        bool is_clear = fminf(w->clear, w->settled_clear) >= LAMP_AROUND_CLEAR;
        bool is_clean = is_clear && lamp_light_is_clean(light, &w->settled, 1);
        w->clean_count += is_clean;
        w->dirty_count += !is_clean;
        w->is_due = false;
        settle(w, light);
        return;
    }
    bool is_high = w->is_high ? share > 0.35F : share > 0.65F;
    w->is_due = is_high != w->is_high && span > 0.15F * fabsf(w->high) + 0.003F;
    w->is_high = is_high;
    if (!w->is_due && (share < 0.2F || share > 0.8F)) {
        settle(w, light);
    }
}

/* Coloured light, 0 (white) to 1; from the rim, which is not driven white. */
static float saturation(const struct lamp_watched *w)
{
    const float *rgb = largest(w->rim_rgb) > 0 ? w->rim_rgb : w->lit_rgb;
    float most = largest(rgb);
    return most > 0 ? (most - fmaxf(smallest(rgb), 0)) / most : 0;
}

/* What the camera adds to all colours alike takes most of the least. */
static void unwash(const struct lamp_watched *w, float rgb[3])
{
    float least = smallest(w->core_rgb);
    for (int c = 0; c < 3; c++) {
        rgb[c] = w->core_rgb[c] - WASHED_WHITE * least;
    }
}

/* A colour that is driven to the top seems to change least. */
static bool is_cut_off(const struct lamp_watched *w, const float rgb[3])
{
    const float top = largest(w->core_rgb);
    for (int c = 0; c < 3; c++) {
        if (w->core_rgb[c] >= top && top > DRIVEN && rgb[c] <= smallest(rgb)) {
            return true;
        }
    }
    return false;
}

void lamp_watched_colour(const struct lamp_watched *w, float rgb[3])
{
    memcpy(rgb, largest(w->rim_rgb) > 0 ? w->rim_rgb : w->lit_rgb, 3 * sizeof *rgb);
    if ((w->washed > 0.5F && saturation(w) < PALE) || is_cut_off(w, rgb)) {
        unwash(w, rgb);
    }
}

static float ramp(float value, float from, float to)
{
    return fminf(fmaxf((value - from) / (to - from), 0), 1);
}

static float roundness(const struct lamp_watched *w)
{
    return fminf(w->fill / 0.6F, 1);
}

float lamp_watched_likeness(const struct lamp_watched *w)
{
    unsigned changes = w->clean_count + w->dirty_count;
    if (w->is_pointed) {
        return 1;
    }
    if (w->is_dropped || changes < 2) {
        return lamp_watched_shine(w);
    }
    bool outshines =
        w->over_white > OUTSHINES; /* a small part of a large lamp does, all about it */
    if (lamp_reflection_share(&w->reflection) > ROOM_SHARE ||
        (lamp_shade_share(&w->shade) > ROOM_SHARE && !outshines)) {
        return 0;
    }
    float clean = (float)w->clean_count / (float)changes;
    float shines = fmaxf(ramp(saturation(w), 0.2F, 0.5F), ramp(w->clip, 0.4F, 0.8F));
    return roundness(w) * clean * (0.2F + 0.8F * shines);
}

static float chance(float log_odds)
{
    return 1 / (1 + expf(-log_odds));
}

/* How far a place in green or blue outshines what is white. The room's light cannot make it so: a
 * part reflects less than all of it, and what mirrors lamps and windows in a colour of its own,
 * gold and copper, is warm. */
static float cold_light(const struct lamp_watched *w)
{
    float cold = fmaxf(w->rim_rgb[1], w->rim_rgb[2]);
    float tinged = ramp(cold, 1.1F * w->rim_rgb[0], 1.4F * w->rim_rgb[0]);
    float over = w->over_white > 0 ? ramp(logf(w->over_white), 0.05F, 0.15F) : 0;
    return tinged * over * ramp(w->clip, 0.85F, 0.95F);
}

/* How much a tint is that of gold, copper or card, 0 to 1: blue least, by far. `over` holds the
 * logarithms of R, G, B over white. */
static float goldness(const float over[3], float spread)
{
    float warm = fminf(over[0], over[1]) - over[2];
    return spread > 0 ? ramp(warm / spread, 0.2F, 0.5F) : 0;
}

/* On its rim a lamp or a part covers each pixel by some share, and the board the rest of it: what a
 * white part's rim has more than the board is so much of what white has more. The core may be cut
 * off at the top; that little light is not, and still has its colour. */
static float rim_tint(const struct lamp_watched *w, const struct lamp_white *white, int strongest)
{
    float share[3];
    float others = 0;
    for (int c = 0; c < 3; c++) {
        if (w->far_rgb[c] > PALE_BOARD * white->rgb[c]) {
            return 0;
        }
        share[c] = fmaxf(w->rim_rgb[c], 0) / (white->rgb[c] - w->far_rgb[c]);
        others += c == strongest ? 0 : share[c] / 2;
    }
    return others > 0 && share[strongest] > 0 ? logf(share[strongest] / others) : 0;
}

/* A lamp too bright for the camera is driven to the top in its own colour and nearly so in the
 * others. What mirrors the room's light so brightly has its colour, white, unless it is gold. */
void lamp_watched_compare(struct lamp_watched *w, const struct lamp_white *white)
{
    float over[3];
    w->over_white = white->light > 0 ? w->clip / white->light : 0;
    w->washed = w->beyond = w->gold = w->rim_tint = 0;
    if (!(white->light > 0)) {
        return;
    }
    for (int c = 0; c < 3; c++) {
        over[c] = logf(fmaxf(w->core_rgb[c], 0.01F) / fmaxf(white->rgb[c], 0.01F));
    }
    int strongest = over[1] > over[0] ? 1 : 0;
    strongest = over[2] > over[strongest] ? 2 : strongest;
    float spread = largest(over) - smallest(over);
    w->gold = goldness(over, spread);
    float tinted = ramp(spread, 0.07F, 0.11F) * (1 - ramp(spread, 0.45F, 0.7F));
    w->washed = ramp(largest(w->core_rgb), 0.92F, 0.95F) * tinted * (1 - w->gold) *
                ramp(w->fill, 0.4F, 0.6F);
    w->beyond = ramp(largest(over), 0.05F, 0.1F);
    w->rim_tint = rim_tint(w, white, strongest);
}

/* How surely a place is a lamp whose colour is washed out. Where the room drives white to the top,
 * parts that are nearly white look so too, and its rim or what it sheds has to bear it out. */
static float washed_light(const struct lamp_watched *w)
{
    float borne_out = fmaxf(ramp(w->glow.coloured, 0.01F, 0.035F), ramp(w->rim_tint, 0.22F, 0.3F));
    return w->washed * fmaxf(w->beyond, borne_out);
}

/* How much a place looks like a gold pin: in a dim room it may be the brightest thing there is. */
static float gold_pin(const struct lamp_watched *w)
{
    return w->gold * (1 - ramp(w->clip, 0.5F, 0.8F)) * (1 - ramp(w->halo, 0.01F, 0.03F));
}

/* How likely a place shines in a colour. It sheds that colour around; all light falls off about it
 * too, unless it stands on dark ground; and it may be brighter than all that is white, which a part
 * is not: where all is driven white, or the picture is dim, that says little. What has no colour
 * itself sheds none, whatever stands around it. The weights are a
 * logistic regression on spots of rendered boards, one in six of them a lamp, with a little more
 * asked. */
static float chance_of_colour(const struct lamp_watched *w)
{
    float colour = ramp(saturation(w), 0.25F, 0.5F);
    float outshines = w->over_white > 0 ? fminf(fmaxf(logf(w->over_white), -0.5F), 0.9F) : 0;
    float coloured = fminf(fmaxf(w->glow.coloured, -0.05F), 0.25F);
    float white = fminf(fmaxf(w->glow.white, -0.4F), 0.1F);
    float log_odds = -8.2F + 41 * coloured + 5.7F * white + 5.6F * colour +
                     3.2F * outshines * (outshines > 0 ? colour : 1) + COLD_ODDS * cold_light(w) +
                     WASHED_ODDS * washed_light(w) - GOLD_ODDS * gold_pin(w);
    return chance(log_odds) * fmaxf(ramp(saturation(w), 0.15F, 0.3F), washed_light(w));
}

/* White light must be driven to the top, outshine the white parts, and shed the more: parts of all
 * sizes are white. */
static float chance_of_white(const struct lamp_watched *w)
{
    float white = chance((w->glow.white - WHITE_EVEN) / WHITE_WIDTH);
    return w->clip > DRIVEN ? white * ramp(w->over_white, 1.2F, 1.5F) : 0;
}

/* The same from its ring alone, as on one frame. */
static float shine_of_ring(const struct lamp_watched *w)
{
    /* Light driven to the top, or brighter than all that is white, needs little halo to be told
     * from a bright part of the board. */
    float bright = ramp(w->clip, 0.3F, 0.7F);
    float not_white = w->over_white > 0 ? ramp(w->over_white, 0.85F, 1.1F) : 1;
    float sheds = not_white * (0.3F + 0.7F * bright) * ramp(w->halo, 0.005F, 0.03F);
    float driven = ramp(w->clip, 0.85F, 0.95F) * ramp(w->halo, 0.003F, 0.01F);
    float outshines = ramp(w->over_white, 2.0F, 3.0F) * ramp(w->halo, 0.003F, 0.01F);
    float shine =
        roundness(w) * ramp(saturation(w), 0.25F, 0.5F) * fmaxf(sheds, fmaxf(driven, outshines));
    /* White light says less: glare and white parts are too many to trust it unasked. */
    float white = ramp(w->clip, 0.8F, 0.95F) * ramp(w->glare, 0.01F, 0.04F);
    if (w->over_white > 0 && w->over_white < OUTSHINES) {
        white = fminf(white, NOT_TOLD); /* where the room drives what is white to the top */
    }
    return w->is_pointed ? fmaxf(shine, white) : shine;
}

float lamp_watched_shine(const struct lamp_watched *w)
{
    if (w->is_dropped) {
        return 0;
    }
    if (w->looks == 0 || w->is_pointed) {
        return shine_of_ring(w);
    }
    float shine = roundness(w) * fmaxf(chance_of_colour(w), chance_of_white(w));
    /* A change that was seen may be a part's, of which the colour is that of the change. */
    return w->is_by_change ? fminf(shine, shine_of_ring(w)) : shine;
}
