/* follow.h - How the picture moved since the first frame, and how the camera's gain changed. */
#ifndef LAMP_LIGHT_FOLLOW_H
#define LAMP_LIGHT_FOLLOW_H

#include <stdbool.h>

#include "lampread/error.h"
#include "light/coarse.h"
#include "light/motion.h"

/** What one frame's comparison with the key frame gave. */
struct lamp_following {
    struct lamp_motion motion; /**< From the first frame (or the first after a cut) to this one. */
    double gain;               /**< Luma code values, this frame over the first one. */
    double change;    /**< Mean difference of block luma to the frame before, 8-bit codes. */
    bool is_cut;      /**< Nothing of the frame before is left: a new scene; motion begins anew. */
    bool is_in_doubt; /**< The same, but it may be a damaged picture: the next frames will tell. */
    bool is_repeat;   /**< Equal to the frame before, where frames otherwise differ. */
};

struct lamp_follower;

/** Make a follower of pictures like `coarse`. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_follower_new(const struct lamp_coarse *coarse, struct lamp_follower **out);

/** Compare the next picture. */
void lamp_follower_push(struct lamp_follower *follower, const struct lamp_coarse *coarse,
                        struct lamp_following *out);

/** Blocks around (x, y) px of the first frame are a lamp's: do not follow them. */
void lamp_follower_leave_out(struct lamp_follower *follower, struct lamp_point centre,
                             double radius_px);

/** Free; NULL is fine. */
void lamp_follower_free(struct lamp_follower *follower);

#endif
