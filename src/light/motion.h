/* motion.h - A shift with a little turn and zoom: where a point of the first frame is on a later
 * one. */
#ifndef LAMP_LIGHT_MOTION_H
#define LAMP_LIGHT_MOTION_H

#include <math.h>

/** x' = a x - b y + tx, y' = b x + a y + ty. Pixels of luma. */
struct lamp_motion {
    double a, b, tx, ty;
};

/** A point, px. */
struct lamp_point {
    double x, y;
};

/** No motion. */
static inline struct lamp_motion lamp_motion_none(void)
{
    return (struct lamp_motion){1, 0, 0, 0};
}

/** Where `p` goes. */
static inline struct lamp_point lamp_motion_apply(const struct lamp_motion *m, struct lamp_point p)
{
    return (struct lamp_point){m->a * p.x - m->b * p.y + m->tx, m->b * p.x + m->a * p.y + m->ty};
}

/** First `first`, then `second`. */
static inline struct lamp_motion lamp_motion_chain(const struct lamp_motion *second,
                                                   const struct lamp_motion *first)
{
    struct lamp_point t = lamp_motion_apply(second, (struct lamp_point){first->tx, first->ty});
    return (struct lamp_motion){second->a * first->a - second->b * first->b,
                                second->a * first->b + second->b * first->a, t.x, t.y};
}

/** The way back. */
static inline struct lamp_motion lamp_motion_invert(const struct lamp_motion *m)
{
    double square = m->a * m->a + m->b * m->b;
    struct lamp_motion back = {m->a / square, -m->b / square, 0, 0};
    struct lamp_point t = lamp_motion_apply(&back, (struct lamp_point){m->tx, m->ty});
    back.tx = -t.x;
    back.ty = -t.y;
    return back;
}

/** How far the point moves, px. */
static inline double lamp_motion_distance(const struct lamp_motion *m, struct lamp_point p)
{
    struct lamp_point q = lamp_motion_apply(m, p);
    return hypot(q.x - p.x, q.y - p.y);
}

#endif
