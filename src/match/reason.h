/* reason.h - What speaks against an entry, in plain words. */
#ifndef LAMP_MATCH_REASON_H
#define LAMP_MATCH_REASON_H

#include "match/weigh.h"

/** Whether the light itself fits the entry: every length within the tolerance, hardly a flaw. */
bool lamp_reason_light_fits(const struct lamp_contender *contender);

/** Write the gravest reason against `contender`; "" if it fits. */
void lamp_reason_write(const struct lamp_evidence *evidence, const struct lamp_contender *contender,
                       char out[LAMP_REASON_MAX]);

#endif
