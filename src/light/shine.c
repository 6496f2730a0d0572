/* shine.c - Whether a spot sheds light of its own on what is around it.
 *
 *              light of the lamp's colour, against the others
 *      board  '
 *      ------ ' ''--..__            a lamp: falls off smoothly, on all sides
 *             ' --.________         a part: its colour ends where it ends
 *         spot|near|mid|far|out
 *
 * What is around a spot has texture, and other parts stand in it. So each ring is taken in sectors,
 * each sector by its median, in the ratio of the colours, which light and shade do not change; and
 * what counts is a fall from ring to ring that most of the sectors have. A plateau, as
 * under a row of gold pins on a black strip, does not fall; a neighbour, or a lamp beside the spot,
 * is on one side only.
 */
#include "light/shine.h"

#include <math.h>
#include <string.h>

enum {
    SECTORS = 8,
    SECTORS_LEAST = 5, /* that must be in the picture */
    ANGLES = 4,        /* of a sector */
    CIRCLES = 4,       /* of a ring */
    POINTS = ANGLES * CIRCLES,
    NEAR = 0, /* the rings */
    MID = 1,
    FAR = 2,
    OUT = 3,
    RINGS = 4,
    TINTS = 4, /* red, green and blue, each against the other two, and all light */
    ALL_LIGHT = 3
};
#define FLOOR 0.005F /* linear light below which a ratio is noise */

#define SD_OF_MEDIAN                                                             \
    1.86F /* times the median deviation, over the root of how many: normal noise \
           */

/* What surrounds a spot. */
struct rings {
    float tint[RINGS][SECTORS][TINTS]; /* natural logarithms */
    bool is_seen[RINGS][SECTORS];
};

/* Puts the values in order. */
static float quantile(float *values, int n, float share)
{
    for (int i = 1; i < n; i++) {
        float v = values[i];
        int at = i;
        for (; at > 0 && values[at - 1] > v; at--) {
            values[at] = values[at - 1];
        }
        values[at] = v;
    }
    float at = share * (float)(n - 1);
    int i = (int)at;
    return i + 1 < n ? values[i] + (at - (float)i) * (values[i + 1] - values[i]) : values[i];
}

static void tints_of(const float rgb[3], float tint[TINTS])
{
    float sum = rgb[0] + rgb[1] + rgb[2];
    for (int c = 0; c < 3; c++) {
        tint[c] = logf((rgb[c] + FLOOR) / ((sum - rgb[c]) / 2 + FLOOR));
    }
    tint[ALL_LIGHT] = logf(sum / 3 + FLOOR);
}

/* Frames about one spot. */
struct looked {
    const struct lamp_linear *linear;
    const struct lamp_held *const *held;
    int count;
    struct lamp_point centre;
    struct lamp_offset shift;
};

/* Mean light at a point from the centre, px of the first frame. @return false if no frame shows it.
 */
static bool light_at(const struct looked *look, double dx, double dy, float rgb[3])
{
    int n = 0;
    memset(rgb, 0, 3 * sizeof *rgb);
    for (int i = 0; i < look->count; i++) {
        const struct lamp_held *held = look->held[i];
        struct lamp_point p = {look->centre.x + dx, look->centre.y + dy};
        float one[3];
        p = lamp_motion_apply(&held->motion, p);
        if (lamp_linear_point(look->linear, &held->frame, p.x + (double)look->shift.x,
                              p.y + (double)look->shift.y, one)) {
            float room = lamp_held_room(held, (float)floor(p.y + (double)look->shift.y));
            n++;
            for (int c = 0; c < 3; c++) {
                rgb[c] += one[c] / room;
            }
        }
    }
    for (int c = 0; c < 3 && n > 0; c++) {
        rgb[c] /= (float)n;
    }
    return n > 0;
}

/* Middle tints of one sector of a ring. @return false if it is not wholly in the picture. */
static bool take_sector(const struct looked *look, int sector, double from, double to,
                        float tint[TINTS])
{
    float value[TINTS][POINTS];
    for (int k = 0; k < POINTS; k++) {
        int circle = k / ANGLES;
        double turn = sector * ANGLES + k % ANGLES + 0.5 * (circle % 2);
        double angle = turn * 6.283185307 / (SECTORS * ANGLES);
        double at = from + (to - from) * circle / (CIRCLES - 1);
        float rgb[3];
        float now[TINTS];
        if (!light_at(look, at * cos(angle), at * sin(angle), rgb)) {
            return false;
        }
        tints_of(rgb, now);
        for (int t = 0; t < TINTS; t++) {
            value[t][k] = now[t];
        }
    }
    for (int t = 0; t < TINTS; t++) {
        tint[t] = quantile(value[t], POINTS, 0.5F);
    }
    return true;
}

static void take_rings(const struct looked *look, double radius_px, struct rings *out)
{
    /* Beyond what blur and coarse chroma smear over an edge, and farther apart farther out. */
    static const double radii[RINGS][2] = {{1.25, 1.75}, {1.8, 2.4}, {2.5, 3.4}, {3.5, 5}};
    static const double px[RINGS][2] = {{2, 3.5}, {4, 5.5}, {6, 8.5}, {9, 14}};
    for (int ring = 0; ring < RINGS; ring++) {
        double from = radii[ring][0] * radius_px + px[ring][0];
        double to = radii[ring][1] * radius_px + px[ring][1];
        for (int s = 0; s < SECTORS; s++) {
            out->is_seen[ring][s] = take_sector(look, s, from, to, out->tint[ring][s]);
        }
    }
}

/* The fall of a tint from one ring to another in the sectors that show both, in order. @return how
 * many. */
static int falls(const struct rings *rings, int tint, int from, int to, float value[SECTORS])
{
    int n = 0;
    for (int s = 0; s < SECTORS; s++) {
        if (rings->is_seen[from][s] && rings->is_seen[to][s]) {
            value[n++] = rings->tint[from][s][tint] - rings->tint[to][s][tint];
        }
    }
    if (n > 0) {
        (void)quantile(value, n, 0.5F);
    }
    return n;
}

/* What a share of the sectors do not exceed as the fall; -1 where too few are seen. */
static float fall(const struct rings *rings, int tint, int from, int to, float share)
{
    float value[SECTORS];
    int n = falls(rings, tint, from, to, value);
    return n < SECTORS_LEAST ? -1 : quantile(value, n, share);
}

/* The fall that the half of the sectors that agree best have, less what they differ by. */
static float agreed_fall(const struct rings *rings, int tint, int from, int to)
{
    float value[SECTORS];
    int n = falls(rings, tint, from, to, value);
    int half = (n + 1) / 2;
    if (n < SECTORS_LEAST) {
        return -1;
    }
    int best = 0;
    for (int i = 1; i + half <= n; i++) {
        if (value[i + half - 1] - value[i] < value[best + half - 1] - value[best]) {
            best = i;
        }
    }
    float sum = 0;
    for (int i = best; i < best + half; i++) {
        sum += value[i];
    }
    return sum / (float)half - (value[best + half - 1] - value[best]);
}

static float least_of(const float *values, int n)
{
    float least = values[0];
    for (int i = 1; i < n; i++) {
        least = fminf(least, values[i]);
    }
    return least;
}

/* A tint of one ring, and how sure that is: its sectors differ where parts stand in it. */
static float level(const struct rings *rings, int tint, int ring, float *sd)
{
    float value[SECTORS];
    int n = 0;
    for (int s = 0; s < SECTORS; s++) {
        if (rings->is_seen[ring][s]) {
            value[n++] = rings->tint[ring][s][tint];
        }
    }
    if (n < SECTORS_LEAST) {
        *sd = INFINITY;
        return 0;
    }
    float middle = quantile(value, n, 0.5F);
    for (int i = 0; i < n; i++) {
        value[i] = fabsf(value[i] - middle);
    }
    *sd = SD_OF_MEDIAN * quantile(value, n, 0.5F) / sqrtf((float)n);
    return middle;
}

/* The fall of a tint between the middles of two rings that is sure. */
static float sure_fall(const struct rings *rings, int tint, int from, int to)
{
    float from_sd;
    float to_sd;
    float whole = level(rings, tint, from, &from_sd) - level(rings, tint, to, &to_sd);
    return whole - hypotf(from_sd, to_sd);
}

/* A way to tell the fall of a tint from one ring to another. */
typedef float fall_of(const struct rings *rings, int tint, int from, int to);

/* Colour falls off at once where it is shed, and goes on falling; of two rings one may be full of
 * parts. The shares make the tests alike: each gives about what the fall next to the spot is for a
 * lamp. */
static float glow_by(fall_of *fall_between, const struct rings *rings, int tint)
{
    float goes_on = fmaxf(1.2F * fall_between(rings, tint, MID, FAR),
                          0.8F * fall_between(rings, tint, MID, OUT));
    const float asked[] = {fall_between(rings, tint, NEAR, MID), goes_on + 0.03F,
                           fall_between(rings, tint, NEAR, OUT) / 2.2F};
    return least_of(asked, sizeof asked / sizeof asked[0]);
}

/* A lamp that changes all colours about it, as in a dark room, need not do so evenly: then it is
 * enough that the colour falls manifold, on all sides and out to where a part's surroundings are
 * the board again. */
static float great_glow(const struct rings *rings, int tint)
{
    const float asked[] = {fall(rings, tint, NEAR, OUT, 0.25F) / 8,
                           fall(rings, tint, MID, FAR, 0.25F) / 4,
                           fall(rings, tint, FAR, OUT, 0.25F) / 4};
    return least_of(asked, sizeof asked / sizeof asked[0]);
}

/* The middle of a ring is on the board as long as parts stand in less than half of it; in a crowd
 * it is not, but then the sectors do not agree. Either test is passed by some parts, both by few.
 */
static float coloured_glow(const struct rings *rings, int tint)
{
    float even = fminf(glow_by(sure_fall, rings, tint), glow_by(agreed_fall, rings, tint) + 0.03F);
    return fmaxf(even, great_glow(rings, tint));
}

/* Light and shade of the parts around are in the way here, so that more is asked far out, where
 * only a bright lamp still reaches. */
static float white_glow(const struct rings *rings)
{
    const float asked[] = {fall(rings, ALL_LIGHT, NEAR, OUT, 0.25F) / 2,
                           fall(rings, ALL_LIGHT, MID, OUT, 0.25F),
                           fall(rings, ALL_LIGHT, NEAR, MID, 0.5F),
                           1.5F * fall(rings, ALL_LIGHT, MID, FAR, 0.5F) + 0.05F,
                           fall(rings, ALL_LIGHT, NEAR, MID, 0.25F) + 0.2F};
    return least_of(asked, sizeof asked / sizeof asked[0]);
}

bool lamp_glow_measure(const struct lamp_linear *linear, const struct lamp_held *const held[],
                       int count, const struct lamp_spot *spot, struct lamp_offset shift,
                       struct lamp_glow *out)
{
    struct rings rings;
    const struct looked look = {linear, held, count, spot->centre, shift};
    take_rings(&look, spot->radius_px, &rings);
    int seen = 0;
    for (int s = 0; s < SECTORS; s++) {
        seen += rings.is_seen[OUT][s];
    }
    if (seen < SECTORS_LEAST) {
        return false;
    }
    out->coloured = coloured_glow(&rings, 0);
    for (int c = 1; c < 3; c++) {
        out->coloured = fmaxf(out->coloured, coloured_glow(&rings, c));
    }
    out->white = white_glow(&rings);
    return true;
}
