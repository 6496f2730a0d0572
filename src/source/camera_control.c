/* camera_control.c - A camera held still while it is read: what is set, and how all is put back. */
#include "source/camera_control.h"

#include <math.h>

#include "base/number.h"

/* Values of the exposure menu (V4L2, enum v4l2_exposure_auto_type). */
enum { EXPOSURE_MANUAL = 1, EXPOSURE_SHUTTER_PRIORITY = 2, EXPOSURE_UNIT_NS = 100000 };

/* Values of the mains frequency (V4L2, enum v4l2_power_line_frequency). */
enum { RIPPLE_50_HZ = 1, RIPPLE_60_HZ = 2 };

static const int64_t usual_exposure_ns = 8000000;

/* What a control is said to be when it was set; NULL where that depends on its value. */
static const char *const held[LAMP_CONTROL_COUNT] = {
    [LAMP_CONTROL_EXPOSURE_AUTO] = "automatic exposure off",
    [LAMP_CONTROL_EXPOSURE_PRIORITY] = "long exposures in the dark off",
    [LAMP_CONTROL_GAIN_AUTO] = "automatic gain off",
    [LAMP_CONTROL_WHITE_AUTO] = "automatic white balance off",
    [LAMP_CONTROL_FOCUS_AUTO] = "automatic focus off",
};

int64_t lamp_controls_good_exposure_ns(int64_t interval_ns, int32_t ripple)
{
    int64_t most_ns = interval_ns / 2;
    /* The room's light ripples at twice the mains frequency: 10 ms or 8.33 ms. */
    int64_t period_ns = ripple == RIPPLE_50_HZ ? 10000000 : 8333333;
    if (period_ns <= most_ns + EXPOSURE_UNIT_NS) {
        return period_ns;
    }
    return most_ns < usual_exposure_ns ? most_ns : usual_exposure_ns;
}

static bool wanted_mode(const struct lamp_control_range *range, int32_t *out)
{
    static const int32_t fit[] = {EXPOSURE_MANUAL, EXPOSURE_SHUTTER_PRIORITY};
    for (size_t i = 0; i < sizeof fit / sizeof *fit; i++) {
        if ((range->choice >> fit[i] & 1) != 0) {
            *out = fit[i];
            return true;
        }
    }
    return false;
}

static int32_t wanted_exposure(const struct lamp_control_owner *owner,
                               const struct lamp_control_range *range,
                               const struct lamp_hold_wish *wish)
{
    int32_t ripple = -1;
    if (!owner->get(owner->owner, LAMP_CONTROL_RIPPLE, &ripple)) {
        ripple = -1;
    }
    int64_t wanted_ns = wish->exposure_ns > 0
                            ? wish->exposure_ns
                            : lamp_controls_good_exposure_ns(wish->interval_ns, ripple);
    int64_t units = (wanted_ns + EXPOSURE_UNIT_NS / 2) / EXPOSURE_UNIT_NS;
    int64_t steps = (units - range->least + range->step / 2) / range->step;
    int64_t value = range->least + (steps > 0 ? steps : 0) * range->step;
    return (int32_t)(value < range->most ? value : range->most);
}

static bool wanted_value(const struct lamp_control_owner *owner, enum lamp_control control,
                         const struct lamp_hold_wish *wish, int32_t *out)
{
    struct lamp_control_range range;
    if (control == LAMP_CONTROL_RIPPLE || !owner->range(owner->owner, control, &range)) {
        return false;
    }
    if (control == LAMP_CONTROL_EXPOSURE_AUTO) {
        return wanted_mode(&range, out);
    }
    *out = control == LAMP_CONTROL_EXPOSURE ? wanted_exposure(owner, &range, wish) : 0;
    return true;
}

void lamp_controls_plan(const struct lamp_control_owner *owner, const struct lamp_hold_wish *wish,
                        struct lamp_changes *out)
{
    out->count = 0;
    for (int i = 0; i < LAMP_CONTROL_COUNT; i++) {
        struct lamp_change change = {.control = (enum lamp_control)i};
        if (wanted_value(owner, change.control, wish, &change.now) &&
            owner->get(owner->owner, change.control, &change.before) &&
            change.before != change.now) {
            out->at[out->count++] = change;
        }
    }
}

void lamp_controls_apply(const struct lamp_control_owner *owner, struct lamp_changes *changes)
{
    size_t kept = 0;
    for (size_t i = 0; i < changes->count; i++) {
        struct lamp_change change = changes->at[i];
        int32_t taken = 0;
        if (!owner->set(owner->owner, change.control, change.now)) {
            continue;
        }
        /* A camera may round a value; what it made of it is what is ours. */
        change.now = owner->get(owner->owner, change.control, &taken) ? taken : change.now;
        changes->at[kept++] = change;
    }
    changes->count = kept;
}

static bool is_ours(const struct lamp_control_owner *owner, const struct lamp_change *change)
{
    int32_t now = 0;
    return owner->get(owner->owner, change->control, &now) && now == change->now;
}

size_t lamp_controls_restore(const struct lamp_control_owner *owner,
                             const struct lamp_changes *changes, bool only_ours)
{
    size_t failed = 0;
    for (size_t i = changes->count; i-- > 0;) {
        const struct lamp_change *change = &changes->at[i];
        if (!only_ours || is_ours(owner, change)) {
            failed += !owner->set(owner->owner, change->control, change->before);
        }
    }
    return failed;
}

int64_t lamp_controls_exposure_ns(const struct lamp_control_owner *owner)
{
    int32_t mode = 0;
    int32_t units = 0;
    bool is_auto = owner->get(owner->owner, LAMP_CONTROL_EXPOSURE_AUTO, &mode) &&
                   mode != EXPOSURE_MANUAL && mode != EXPOSURE_SHUTTER_PRIORITY;
    if (is_auto || !owner->get(owner->owner, LAMP_CONTROL_EXPOSURE, &units) || units <= 0) {
        return 0;
    }
    return (int64_t)units * EXPOSURE_UNIT_NS;
}

void lamp_controls_tell(const struct lamp_changes *changes, struct lamp_notes *notes)
{
    for (size_t i = 0; i < changes->count; i++) {
        const struct lamp_change *change = &changes->at[i];
        int key = (int)change->control + 1;
        if (change->control == LAMP_CONTROL_EXPOSURE) {
            lamp_notes_say(notes, key, "exposure set to %.1f ms while the camera is read",
                           change->now * (EXPOSURE_UNIT_NS / 1e6));
        } else {
            lamp_notes_say(notes, key, "%s while the camera is read", held[change->control]);
        }
    }
}
