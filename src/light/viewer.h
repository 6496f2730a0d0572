/* viewer.h - What the viewer knows, shared by the file that measures places and the one that
 * discovers them. */
#ifndef LAMP_LIGHT_VIEWER_H
#define LAMP_LIGHT_VIEWER_H

#include "lampread/light.h"
#include "light/bands.h"
#include "light/coarse.h"
#include "light/find.h"
#include "light/focus.h"
#include "light/follow.h"
#include "light/place.h"
#include "light/ripple.h"
#include "light/scout.h"

/** Most readings that wait: of one frame if every place began on it, and of the parts of pictures
 * since the last whole one. */
#define LAMP_QUEUE_PARTS_MAX ((size_t)LAMP_PLACES_MAX * 64)
#define LAMP_QUEUE_MAX       ((size_t)LAMP_PLACES_MAX * (LAMP_FRAMES_KEPT + 2) + LAMP_QUEUE_PARTS_MAX)

/** Spots that were looked at and are no lamps, kept for a while so as not to look again and again.
 */
#define LAMP_REFUSED_MAX 64

/** One of them. */
struct lamp_refusal {
    struct lamp_point centre;
    double strength;
    uint64_t frame;
};

struct lamp_viewer {
    struct lamp_viewer_rules rules;
    struct lamp_viewer_counts counts;
    struct lamp_coarse coarse;
    struct lamp_follower *follower;
    struct lamp_finder *finder;
    struct lamp_scout *scout;
    struct lamp_linear linear;
    struct lamp_ripple ripple;
    struct lamp_focus focus;
    struct lamp_bands bands;
    struct lamp_motion motion;               /* of the frame before */
    struct lamp_held held[LAMP_FRAMES_KEPT]; /* held[frames % LAMP_FRAMES_KEPT] is the newest */
    int held_count;
    struct lamp_spotted pending[LAMP_SPOTTED_MAX]; /* seen on the frame before, looked at now that
                                                      the edge is over */
    size_t pending_count;
    struct lamp_refusal refused[LAMP_REFUSED_MAX];
    unsigned refused_count; /* all of them; the newest are kept */
    struct lamp_watched place[LAMP_PLACES_MAX];
    size_t place_count;
    struct lamp_reading queue[LAMP_QUEUE_MAX];
    size_t queue_count, queue_ready, queue_taken; /* those of parts wait for a whole frame */
    uint64_t doubt_count; /* frames just before that are damaged, or of a new scene */
    struct lamp_white white;
    int64_t scene_ns; /* first frame of this scene */
    double gain_least, gain_most;
    bool has_size;
    int width_px, height_px;
};

/** The frame `back` frames ago, 0 for the newest; back < viewer->held_count. */
const struct lamp_held *lamp_viewer_held(const struct lamp_viewer *viewer, int back);

/** Measure a place on one frame, or on a part of one that holds it. */
void lamp_viewer_measure(struct lamp_viewer *viewer, size_t index, const struct lamp_held *held);

/** Frames are missing before this one. */
void lamp_viewer_note_hole(struct lamp_viewer *viewer);

/** Measure what a part of a picture holds; the readings wait for a whole one. */
void lamp_viewer_measure_part(struct lamp_viewer *viewer, const struct lamp_frame *frame);

/** A whole picture shows whether the parts before it may be believed. */
void lamp_viewer_confirm_parts(struct lamp_viewer *viewer, const struct lamp_following *following);

/** Decide on a whole picture, all being measured, whether parts will do for the next ones. */
void lamp_viewer_glance(struct lamp_viewer *viewer, const struct lamp_following *following);

/** Measure a new place on the frames still held; `was_calm`: it did not change before them. */
void lamp_viewer_begin_place(struct lamp_viewer *viewer, size_t index, bool was_calm);

/** Look at the pointed places on the newest frame: are they lit? */
void lamp_viewer_appraise_pointed(struct lamp_viewer *viewer);

/** Find places that go on or off, on the newest frame. */
void lamp_viewer_discover_changed(struct lamp_viewer *viewer);

/** Whether something changed on the newest frame that no known place stands for. */
bool lamp_viewer_sees_news(const struct lamp_viewer *viewer);

/** Forget the places that only shine: they were judged in a light that was not known to be banded.
 */
void lamp_viewer_forget_shining(struct lamp_viewer *viewer);

/** Find places that only shine, on the newest frame. */
void lamp_viewer_discover_shining(struct lamp_viewer *viewer);

/** Look at what the places that did not change so far shed on what is around them: every look sees
 * the same parts between other pixels, with other noise, so their mean is surer. */
void lamp_viewer_look_around(struct lamp_viewer *viewer);

#endif
