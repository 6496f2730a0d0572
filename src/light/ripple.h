/* ripple.h - Whether the room's light ripples, and at what rate the camera sees it. */
#ifndef LAMP_LIGHT_RIPPLE_H
#define LAMP_LIGHT_RIPPLE_H

#include <stdint.h>

/** Frames whose gain is kept. */
#define LAMP_RIPPLE_KEPT 256

/** The newest gains of the picture. Begin with all zero. */
struct lamp_ripple {
    double gain[LAMP_RIPPLE_KEPT];
    int64_t t_ns[LAMP_RIPPLE_KEPT];
    unsigned count; /**< Frames pushed. */
};

/** Note the gain of a frame. */
void lamp_ripple_push(struct lamp_ripple *ripple, int64_t t_ns, double gain);

/** Rate of the strongest ripple, Hz as seen by the camera; 0 if there is none worth a word. */
double lamp_ripple_rate(const struct lamp_ripple *ripple);

#endif
