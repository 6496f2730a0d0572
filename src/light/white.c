/* white.c - The white parts of a picture: what the room lights, and no part outshines. */
#include "light/white.h"

#include <math.h>

enum { CODES = 256, SHARE = 150 };

/* Video range (ITU-R BT.601 and BT.709): black, and how many codes above it white and the extremes
 * of chroma lie. */
#define BLACK     16.0F
#define LUMA_SPAN 219.0F
#define CHROMA    224.0F
#define FULL_SPAN 255.0F

static int code_of(float luma)
{
    int code = (int)luma;
    return code < 0 ? 0 : (code < CODES ? code : CODES - 1);
}

/* Near enough to every transfer curve. */
static float light_of(float share)
{
    return powf(fminf(fmaxf(share, 0), 1), 2.2F);
}

/* The code that one block in SHARE reaches. */
static int find_code(const struct lamp_coarse *coarse)
{
    size_t histogram[CODES] = {0};
    size_t count = lamp_coarse_count(coarse);
    for (size_t k = 0; k < count; k++) {
        histogram[code_of(coarse->y[k])]++;
    }
    size_t above = 0;
    int code = CODES - 1;
    while (code > 0 && (above += histogram[code]) * SHARE < count) {
        code--;
    }
    return code;
}

void lamp_white_find(const struct lamp_coarse *coarse, bool is_full_range, struct lamp_white *out)
{
    int code = find_code(coarse);
    size_t count = 0;
    float y = 0;
    float u = 0;
    float v = 0;
    for (size_t k = 0; k < lamp_coarse_count(coarse); k++) {
        if (code_of(coarse->y[k]) >= code) {
            y += coarse->y[k] - (is_full_range ? 0 : BLACK);
            u += coarse->u[k] - 128;
            v += coarse->v[k] - 128;
            count++;
        }
    }
    float video = is_full_range ? BLACK + LUMA_SPAN / FULL_SPAN * (float)code : (float)code;
    float each = 1 / (float)(count > 0 ? count : 1);
    y *= each / (is_full_range ? FULL_SPAN : LUMA_SPAN);
    u *= each / (is_full_range ? FULL_SPAN : CHROMA);
    v *= each / (is_full_range ? FULL_SPAN : CHROMA);
    out->code = (float)code;
    out->light = light_of(video / FULL_SPAN);
    /* BT.601 shares are near enough. */
    out->rgb[0] = light_of(y + 1.402F * v);
    out->rgb[1] = light_of(y - 0.344F * u - 0.714F * v);
    out->rgb[2] = light_of(y + 1.772F * u);
}
