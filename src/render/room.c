/* room.c - The light of the room: ripple, sway, a passing shadow, a hand in the picture. */
#include "render/room.h"

#include <math.h>
#include <stddef.h>

#include "base/number.h"
#include "render/random.h"

/* Time between two shadows, and period of the sway of the room's light, s. */
#define SHADOW_S 6.0
#define SWAY_S   15.0

double room_light(const struct lamp_scene_rules *rules, int64_t start_ns, int64_t exposure_ns)
{
    const double start_s = (double)start_ns / LAMP_NS_PER_S;
    const double sway = 1 + rules->ambient_drift * sin(TURN * start_s / SWAY_S);
    const double from = TURN * rules->ripple_hz * start_s;
    const double length = TURN * rules->ripple_hz * (double)exposure_ns / LAMP_NS_PER_S;
    const double ripple = 1 + rules->ripple * (cos(from) - cos(from + length)) / length;
    return rules->ambient * sway * ripple;
}

/* A band aslant, a third of the picture wide, that crosses from left to right. */
void room_cast_shadow(const struct lamp_scene_rules *rules, double t_s, int y_px, float *row)
{
    if (rules->shadow <= 0) {
        return;
    }
    const double width = rules->width_px;
    const double half = width / 6;
    const double turns = t_s / SHADOW_S;
    const double middle = (turns - floor(turns)) * 2 * width - 0.4 * width - 0.4 * y_px;
    const int from = (int)fmax(0, middle - half);
    const int to = (int)fmin(width, middle + half);
    for (int x = from; x < to; x++) {
        const double off = (x - middle) / half;
        const float left = 1 - (float)(rules->shadow * (1 - off * off) * (1 - off * off));
        for (int c = 0; c < 3; c++) {
            row[(size_t)x * 4 + (size_t)c] *= left;
        }
    }
}

/* A finger or the ball of the hand: a line with round ends, in picture heights from the hand's
 * middle. */
struct limb {
    float x0;
    float y0;
    float x1;
    float y1;
    float half;
};

static const struct limb limbs[] = {
    {0.06F, 0.10F, 0.40F, 0.40F, 0.21F},     {-0.02F, -0.02F, -0.26F, -0.30F, 0.055F},
    {0.08F, -0.05F, -0.10F, -0.38F, 0.058F}, {0.18F, -0.04F, 0.06F, -0.34F, 0.055F},
    {-0.02F, 0.14F, -0.28F, 0.02F, 0.062F},
};

static float limb_distance(const struct limb *limb, float x, float y)
{
    const float dx = limb->x1 - limb->x0;
    const float dy = limb->y1 - limb->y0;
    const float along = ((x - limb->x0) * dx + (y - limb->y0) * dy) / (dx * dx + dy * dy);
    const float kept = along < 0 ? 0 : along > 1 ? 1 : along;
    return hypotf(x - limb->x0 - kept * dx, y - limb->y0 - kept * dy) - limb->half;
}

static float hand_distance(float x, float y)
{
    float least = 1e9F;
    for (size_t i = 0; i < sizeof limbs / sizeof *limbs; i++) {
        least = fminf(least, limb_distance(&limbs[i], x, y));
    }
    return least;
}

void room_draw_hand(const struct lamp_scene_rules *rules, double t_s, int y_px, float light,
                    float *row)
{
    static const float skin[3] = {4.4F, 2.5F, 1.75F};
    const float high = (float)rules->height_px;
    const float wide = (float)rules->width_px / high;
    const float x0 = wide * 0.88F + 0.12F * sinf((float)(TURN * t_s / 2.7));
    const float y0 = 0.95F + 0.06F * sinf((float)(TURN * t_s / 1.9 + 1));
    const float y = (float)y_px / high - y0;
    const int first = (int)fmaxf(0, (x0 - 0.45F) * high);
    for (int x_px = y < -0.5F ? rules->width_px : first; x_px < rules->width_px; x_px++) {
        const float x = (float)x_px / high - x0;
        const float distance = hand_distance(x, y);
        const float cover = fminf(fmaxf(0.5F - distance * 90, 0), 1);
        const float shade =
            1 - 0.45F * fmaxf(0, 1 - fmaxf(hand_distance(x - 0.02F, y - 0.03F), 0) * 14);
        const float round = fminf(1, 0.45F + 9 * fmaxf(-distance, 0)) * (1 - 0.25F * (x + y));
        for (int c = 0; c < 3; c++) {
            float *at = &row[(size_t)x_px * 4 + (size_t)c];
            const float behind = *at * shade;
            *at = behind + cover * (skin[c] * light * round - behind);
        }
    }
}
