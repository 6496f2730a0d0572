/* scout.c - Which spots of the coarse picture may shine: those whose surroundings take on their
 * light.
 *
 * The same question as in shine.c, asked of block means about each bright block: there are hundreds
 * of those, most of them tin, lettering and parts, which outshine a lamp in a lit room. A size is
 * not known yet, so several are tried.
 */
#include "light/scout.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    ANGLES = 16,
    ANGLES_LEAST = 10, /* that must be in the picture */
    SIZES = 4,
    RINGS = 3, /* near, mid, far */
    TINTS = 4, /* red, green and blue, each against the other two, and all light */
    APART = 2  /* blocks within which spots are one */
};
#define LEAST_CODE  80.0F  /* of a block that may shine */
#define LEAST_GLOW  0.03   /* fall of the tint that is worth a closer look */
#define COLD_OVER   0.05F  /* share of white's code by which a lamp outshines it for sure */
#define COLD_TINGE  20.0F  /* codes of its colour that say as much */
#define FLOOR       0.005F /* linear light below which a ratio is noise */
#define LIGHT_SHARE 0.5F   /* of a fall of all light: shade makes one too */

static const double near_blocks[SIZES] = {2.7, 4.5, 9, 18};
static const double ring_share[RINGS] = {1, 1.55, 2.3};

/* The coarse picture as logarithms of ratios. */
struct lamp_scout {
    const struct lamp_still *still; /* what is looked at */
    float *at[TINTS];
    int dx[SIZES][RINGS][ANGLES];
    int dy[SIZES][RINGS][ANGLES];
};

static float light_of(float code)
{
    float share = fmaxf(code, 0) / 255;
    return share * share; /* near enough to every transfer curve */
}

static void take_tints(struct lamp_scout *scout, size_t count)
{
    const struct lamp_still *still = scout->still;
    for (size_t k = 0; k < count; k++) {
        float rgb[3];
        float sum = 0;
        for (int c = 0; c < 3; c++) {
            rgb[c] = light_of(still->plane[c][k]);
            sum += rgb[c];
        }
        for (int c = 0; c < 3; c++) {
            scout->at[c][k] = logf((rgb[c] + FLOOR) / ((sum - rgb[c]) / 2 + FLOOR));
        }
        scout->at[3][k] = LIGHT_SHARE * logf(sum / 3 + FLOOR);
    }
}

static void lay_rings(struct lamp_scout *scout)
{
    for (int n = 0; n < SIZES * RINGS * ANGLES; n++) {
        int size = n / (RINGS * ANGLES);
        int ring = n / ANGLES % RINGS;
        double radius = near_blocks[size] * ring_share[ring];
        double angle = n % ANGLES * 6.283185307 / ANGLES;
        scout->dx[size][ring][n % ANGLES] = (int)lround(radius * cos(angle));
        scout->dy[size][ring][n % ANGLES] = (int)lround(radius * sin(angle));
    }
}

/* The value that a quarter do not exceed. */
static float quartile(float *values, int n)
{
    for (int i = 1; i < n; i++) {
        float v = values[i];
        int at = i;
        for (; at > 0 && values[at - 1] > v; at--) {
            values[at] = values[at - 1];
        }
        values[at] = v;
    }
    return values[n / 4];
}

/* Where the rings of one size about a block are in the picture. @return how many angles are. */
static int find_angles(const struct lamp_scout *scout, int size, int i, int j,
                       size_t at[RINGS][ANGLES])
{
    const struct lamp_still *still = scout->still;
    int n = 0;
    for (int a = 0; a < ANGLES; a++) {
        /* What is farthest out is in the picture only if the rest is. */
        int x = i + scout->dx[size][RINGS - 1][a];
        int y = j + scout->dy[size][RINGS - 1][a];
        if (x < 0 || y < 0 || x >= still->width || y >= still->height) {
            continue;
        }
        for (int ring = 0; ring < RINGS; ring++) {
            at[ring][n] = (size_t)(j + scout->dy[size][ring][a]) * (size_t)still->width +
                          (size_t)(i + scout->dx[size][ring][a]);
        }
        n++;
    }
    return n;
}

/* How much the tint it changes most falls off about a block on three quarters of the angles. */
static float glow_at(const struct lamp_scout *scout, int i, int j)
{
    float most = 0;
    for (int size = 0; size < SIZES; size++) {
        size_t at[RINGS][ANGLES];
        int n = find_angles(scout, size, i, j, at);
        for (int t = 0; t < TINTS && n >= ANGLES_LEAST; t++) {
            const float *tint = scout->at[t];
            float step[ANGLES];
            float whole[ANGLES];
            for (int a = 0; a < n; a++) {
                step[a] = tint[at[0][a]] - tint[at[1][a]];
                whole[a] = tint[at[0][a]] - tint[at[2][a]];
            }
            most = fmaxf(most, fminf(2 * quartile(step, n), quartile(whole, n)));
        }
    }
    return most;
}

/* How far a block outshines the board's white parts in green or blue, and is of that colour: what
 * reflects the room's light cannot, but for gold and copper, which are warm. Near 0 for a part, to
 * 1 for a lamp. */
static float cold_light(const struct lamp_still *still, float white, int i, int j)
{
    size_t k = (size_t)j * (size_t)still->width + (size_t)i;
    float cold = fmaxf(still->plane[1][k], still->plane[2][k]);
    float over = fminf(fmaxf(cold / white - 1, 0) / COLD_OVER, 1);
    float tinged = fminf(fmaxf(cold - still->plane[0][k], 0) / COLD_TINGE, 1);
    return over * tinged;
}

static bool is_peak(const struct lamp_still *still, const float *plane, int i, int j)
{
    const float *at = plane + (size_t)j * (size_t)still->width + i;
    for (int n = 0; n < 9; n++) {
        float other = at[(n / 3 - 1) * still->width + n % 3 - 1];
        if (n != 4 && (n > 4 ? other > *at : other >= *at)) {
            return false;
        }
    }
    return true;
}

static bool is_bright_peak(const struct lamp_still *still, int i, int j)
{
    for (int p = 0; p < 3; p++) {
        float code = still->plane[p][(size_t)j * (size_t)still->width + (size_t)i];
        if (code >= LEAST_CODE && is_peak(still, still->plane[p], i, j)) {
            return true;
        }
    }
    return false;
}

/* In order of strength; of spots close to each other only the strongest stays. */
static void put_in(struct lamp_spotted *row, size_t *count, const struct lamp_spotted *spot,
                   double apart_px)
{
    size_t kept = 0;
    for (size_t k = 0; k < *count; k++) {
        bool is_same = fabs(row[k].centre.x - spot->centre.x) <= apart_px &&
                       fabs(row[k].centre.y - spot->centre.y) <= apart_px;
        if (is_same && row[k].strength >= spot->strength) {
            return;
        }
        if (!is_same) {
            row[kept++] = row[k];
        }
    }
    *count = kept < LAMP_SCOUTED_MAX ? kept + 1 : kept;
    size_t at = *count - 1;
    if (kept == LAMP_SCOUTED_MAX && row[at].strength >= spot->strength) {
        return;
    }
    for (; at > 0 && row[at - 1].strength < spot->strength; at--) {
        row[at] = row[at - 1];
    }
    row[at] = *spot;
}

static size_t scout_all(const struct lamp_scout *scout, float white, struct lamp_spotted *out)
{
    const struct lamp_still *still = scout->still;
    const double block = still->block_px;
    size_t count = 0;
    for (int j = 1; j < still->height - 1; j++) {
        for (int i = 1; i < still->width - 1; i++) {
            if (!is_bright_peak(still, i, j)) {
                continue;
            }
            float strength = glow_at(scout, i, j) + cold_light(still, white, i, j);
            struct lamp_spotted spot = {
                {(i + 0.5) * block, (j + 0.5) * block}, (double)strength, true};
            if (spot.strength > LEAST_GLOW) {
                put_in(out, &count, &spot, APART * block);
            }
        }
    }
    return count;
}

size_t lamp_scout_look(struct lamp_scout *scout, const struct lamp_still *still, float white,
                       struct lamp_spotted out[LAMP_SCOUTED_MAX])
{
    scout->still = still;
    take_tints(scout, (size_t)still->width * (size_t)still->height);
    return scout_all(scout, fmaxf(white, LEAST_CODE), out);
}

enum lamp_err lamp_scout_new(const struct lamp_coarse *coarse, struct lamp_scout **out)
{
    size_t count = lamp_coarse_count(coarse);
    struct lamp_scout *scout = malloc(sizeof *scout + TINTS * count * sizeof(float));
    if (scout == NULL) {
        return LAMP_NO_MEMORY;
    }
    scout->still = NULL;
    for (int t = 0; t < TINTS; t++) {
        scout->at[t] = (float *)(void *)(scout + 1) + (size_t)t * count;
    }
    lay_rings(scout);
    *out = scout;
    return LAMP_OK;
}

void lamp_scout_free(struct lamp_scout *scout)
{
    free(scout);
}
