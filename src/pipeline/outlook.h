/* outlook.h - Whether the picture as it comes can show a lamp at all. */
#ifndef LAMP_PIPELINE_OUTLOOK_H
#define LAMP_PIPELINE_OUTLOOK_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/light.h"
#include "lampread/source.h"
#include "lampread/watch.h"

/** What one frame looks like as a whole, code values 0 to 1. */
struct lamp_aspect {
    double spread;      /**< Standard deviation. */
    double brightest;   /**< Exceeded by one point in a hundred. */
    double white_share; /**< Of points driven to the top. */
};

/** Trouble that may stand: begun and ended only after it was so for a while. */
struct lamp_hurdle {
    bool stands;
    bool is_changing; /**< What is seen is not what stands, */
    int64_t since_ns; /**< since then. */
};

/** The pictures of one source; begin with all zero. */
struct lamp_outlook {
    struct lamp_hurdle hurdle[LAMP_TROUBLE_COUNT];
    double usual_spread; /**< Of pictures without trouble, 0: not known yet. */
    int64_t usual_since_ns;
    bool has_frame;
    uint64_t cuts;     /**< By the last look. */
    double motion_px;  /**< Of some time ago. */
    int64_t motion_ns; /**< That time. */
    int64_t moved_ns;  /**< Last seen to move. */
    bool has_moved;
    int64_t blocked_ns; /**< Last seen plain or white or dark. */
    bool was_blocked;
};

/** Look at one frame as a whole. @param out not NULL. */
void lamp_aspect_see(const struct lamp_frame *frame, struct lamp_aspect *out);

/** Take what a frame looks like. @param sees_lamps  lamps are seen, so it is not too dark. */
void lamp_outlook_push(struct lamp_outlook *outlook, const struct lamp_aspect *aspect, int64_t t_ns,
                       bool sees_lamps);

/** Take what the viewer says of the camera's motion. @param width_px  of the picture. */
void lamp_outlook_follow(struct lamp_outlook *outlook, const struct lamp_viewer_counts *counts,
                         int width_px, int64_t t_ns);

/**
 * Say whether something is seen at `t_ns`; it stands once it was seen for `begin_ns`, and no more
 * once it was not for `end_ns`.
 */
void lamp_hurdle_see(struct lamp_hurdle *hurdle, bool is_seen, int64_t t_ns, int64_t begin_ns,
                     int64_t end_ns);

#endif
