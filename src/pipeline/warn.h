/* warn.h - What makes a reading less sure, in words. */
#ifndef LAMP_PIPELINE_WARN_H
#define LAMP_PIPELINE_WARN_H

#include "lampread/report.h"

/** Add one warning of the whole recording, printf-style, shortened at a whole character. */
void lamp_warn_report(struct lamp_report *report, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/** Add one warning of a lamp. */
void lamp_warn_lamp(struct lamp_report_lamp *lamp, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/** Add what the pictures say of the recording: cuts, repeated frames, motion, exposure, frame rate.
 */
void lamp_warn_of_pictures(struct lamp_report *report);

/** Add what the light of `lamp` says of its reading: too fast, too dim, soft, cut short, like the
 * room light. */
void lamp_warn_of_light(struct lamp_report_lamp *lamp, const struct lamp_report *report);

/** Name lamps that were seen to be the very same rhythm twice, so that one is not read as two
 * faults. */
void lamp_warn_of_twins(struct lamp_report *report);

#endif
