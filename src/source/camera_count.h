/* camera_count.h - What a camera's stamps and sequence numbers say: times, and frames that are
 * missing. */
#ifndef LAMP_SOURCE_CAMERA_COUNT_H
#define LAMP_SOURCE_CAMERA_COUNT_H

#include "source/notes.h"
#include "source/video.h"

/** Keys of the notes that are told: 1 to LAMP_COUNT_NOTES - 1. */
#define LAMP_COUNT_NOTES 8

/** Frames counted; begin with all zero. */
struct lamp_count {
    bool has_first;
    uint32_t sequence; /**< Of the last frame. */
    int64_t origin_ns; /**< Stamp of the first frame: time 0. */
    int64_t last_ns;
    uint64_t lost;      /**< Frames that the sequence numbers say are missing. */
    uint64_t broken;    /**< Frames that came damaged. */
    uint64_t backward;  /**< Frames stamped before the one before them. */
    uint64_t unstamped; /**< Frames timed by their arrival. */
};

/**
 * Count one frame. @param t_ns  set to its time, from 0.
 * @return false if it is left out: damaged, or stamped before the one before it.
 */
bool lamp_count_frame(struct lamp_count *count, const struct lamp_video_frame *frame,
                      int64_t *t_ns);

/** The frame that was counted last is broken after all. */
void lamp_count_broken(struct lamp_count *count);

/** Say in words what is amiss. */
void lamp_count_tell(const struct lamp_count *count, struct lamp_notes *notes);

#endif
