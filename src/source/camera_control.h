/* camera_control.h - A camera held still while it is read: what is set, and how all is put back.
 *
 *   before: auto exposure, auto white, auto focus
 *   held:   exposure short and fixed, white fixed, focus fixed        set in this order
 *   after:  as before                                                put back in the reverse order
 */
#ifndef LAMP_SOURCE_CAMERA_CONTROL_H
#define LAMP_SOURCE_CAMERA_CONTROL_H

#include "source/notes.h"
#include "source/video.h"

/** A control that was changed. */
struct lamp_change {
    enum lamp_control control;
    int32_t before;
    int32_t now;
};

/** What was changed, in the order it was. Holds nothing to free. */
struct lamp_changes {
    size_t count;
    struct lamp_change at[LAMP_CONTROL_COUNT];
};

/** What a camera should be held at. */
struct lamp_hold_wish {
    int64_t exposure_ns; /**< 0: short enough for lamps. */
    int64_t interval_ns; /**< Of frames, > 0. */
};

/**
 * What will be changed, nothing being changed yet: read the controls and decide.
 * A control that is as wanted already, or that the camera does not have, is left alone.
 */
void lamp_controls_plan(const struct lamp_control_owner *owner, const struct lamp_hold_wish *wish,
                        struct lamp_changes *out);

/** Set the controls as planned; those that cannot be set are taken out of `changes`. */
void lamp_controls_apply(const struct lamp_control_owner *owner, struct lamp_changes *changes);

/**
 * Put everything back, the last change first.
 * @param only_ours  leave a control alone whose value is no longer the one that was set.
 * @return how many could not be put back.
 */
size_t lamp_controls_restore(const struct lamp_control_owner *owner,
                             const struct lamp_changes *changes, bool only_ours);

/** The exposure that holds now, ns; 0 where the camera does not tell or sets it by itself. */
int64_t lamp_controls_exposure_ns(const struct lamp_control_owner *owner);

/** The exposure to hold a camera at, ns: at most half of the interval, and where it can be whole
 * periods of the mains ripple. @param ripple  value of LAMP_CONTROL_RIPPLE, -1 if not known. */
int64_t lamp_controls_good_exposure_ns(int64_t interval_ns, int32_t ripple);

/** Say in words what was set. */
void lamp_controls_tell(const struct lamp_changes *changes, struct lamp_notes *notes);

#endif
