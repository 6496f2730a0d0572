/* motion.c - How a hand-held camera moves: slow wandering, breathing and tremor, as a sum of waves,
 * and a drift.
 *
 * Wandering is strongest where it is slow, as in a random walk; tremor of the hand lies at 8 to 12
 * Hz (common practice, no source). Waves, not steps, so that the path does not depend on the frame
 * rate.
 */
#include "render/motion.h"

#include <math.h>

#include "render/random.h"

/* Turn and zoom that go with one pixel of shake. */
#define TURN_PER_PX 0.0012
#define ZOOM_PER_PX 0.0012

/* No wave strays farther than this many sd of the whole. */
#define STRAY 3.5

/* Waves from 0.15 to 9 Hz, each at random phase; sd of the sum is 1. */
static void draw_sway(struct sway *sway, struct random *random)
{
    double power = 0;
    for (int i = 0; i < MOTION_WAVES; i++) {
        const double rate = 0.15 * pow(60, (i + random_even(random)) / MOTION_WAVES);
        sway->rate_hz[i] = rate;
        sway->phase[i] = TURN * random_even(random);
        sway->amplitude[i] = 1 / pow(rate, 0.8);
        power += sway->amplitude[i] * sway->amplitude[i] / 2;
    }
    for (int i = 0; i < MOTION_WAVES; i++) {
        sway->amplitude[i] /= sqrt(power);
    }
}

/* How far from where it was at time 0. */
static double sway_at(const struct sway *sway, double t_s)
{
    double sum = 0;
    for (int i = 0; i < MOTION_WAVES; i++) {
        const double phase = sway->phase[i];
        sum += sway->amplitude[i] * (sin(TURN * sway->rate_hz[i] * t_s + phase) - sin(phase));
    }
    return fmin(fmax(sum, -STRAY), STRAY);
}

void motion_init(struct motion *motion, double shake_px, double drift_px_s, int side_px,
                 uint64_t seed)
{
    struct random random;
    random_init(&random, seed, 20);
    *motion = (struct motion){
        .shake_px = shake_px, .drift_px_s = drift_px_s, .drift_most_px = side_px / 8.0};
    draw_sway(&motion->across, &random);
    draw_sway(&motion->down, &random);
    draw_sway(&motion->turn, &random);
    draw_sway(&motion->zoom, &random);
    const double direction = TURN * random_even(&random);
    motion->drift_x = cos(direction);
    motion->drift_y = sin(direction);
}

/* A drift that turns back at both ends: 0, most, 0, -most, 0, ... */
static double drift_at(const struct motion *motion, double t_s)
{
    const double most = motion->drift_most_px;
    const double along = fmod(motion->drift_px_s * t_s, 4 * most);
    return along < most ? along : along < 3 * most ? 2 * most - along : along - 4 * most;
}

struct pose motion_at(const struct motion *motion, double t_s)
{
    const double drift = drift_at(motion, t_s);
    const double shake = motion->shake_px;
    return (struct pose){
        .x_px = shake * sway_at(&motion->across, t_s) + drift * motion->drift_x,
        .y_px = shake * sway_at(&motion->down, t_s) + drift * motion->drift_y,
        .turn_rad = TURN_PER_PX * shake * sway_at(&motion->turn, t_s),
        .zoom = 1 + ZOOM_PER_PX * shake * sway_at(&motion->zoom, t_s),
    };
}

int motion_reach_px(const struct motion *motion, int width_px)
{
    const double shake =
        motion->shake_px * STRAY * (1 + (TURN_PER_PX + ZOOM_PER_PX) * width_px / 2);
    const double drift = motion->drift_px_s > 0 ? motion->drift_most_px : 0;
    return (int)ceil(shake + drift) + 4;
}
