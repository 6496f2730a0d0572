/* motion.h - How a hand-held camera moves. */
#ifndef LAMP_RENDER_MOTION_H
#define LAMP_RENDER_MOTION_H

#include <stdint.h>

/** Waves that one movement is made of. */
#define MOTION_WAVES 10

/** One movement over time: the same at any frame rate. */
struct sway {
    double amplitude[MOTION_WAVES];
    double rate_hz[MOTION_WAVES];
    double phase[MOTION_WAVES];
};

/** All movements of a camera. */
struct motion {
    struct sway across;
    struct sway down;
    struct sway turn;
    struct sway zoom;
    double shake_px;
    double drift_px_s;
    double drift_most_px;
    double drift_x; /* Direction. */
    double drift_y;
};

/** Where the camera looks, against where it looked at time 0. */
struct pose {
    double x_px;
    double y_px;
    double turn_rad;
    double zoom; /**< 1 at time 0. */
};

/** Set up for a picture whose shorter side is `side_px`. */
void motion_init(struct motion *motion, double shake_px, double drift_px_s, int side_px,
                 uint64_t seed);

/** The pose at a time. */
struct pose motion_at(const struct motion *motion, double t_s);

/** Farthest that a point of a picture `width_px` wide may move, px. */
int motion_reach_px(const struct motion *motion, int width_px);

#endif
