/* count.h - What an alignment says of an entry: repeats clean and flawed, flashes lost, extra,
 * miscounted. */
#ifndef LAMP_MATCH_COUNT_H
#define LAMP_MATCH_COUNT_H

#include "match/align.h"

/** Whether a step is one whole length that is where the entry has it. */
bool lamp_step_is_matched(const struct lamp_step *step, const struct lamp_sight *sight);

/** Count matched, odd, lost, extra, miscounted steps and the positions seen. Uses fit->scale. */
void lamp_count_steps(const struct lamp_model *model, const struct lamp_sight *sight,
                      const struct lamp_alignment *alignment, struct lamp_fit *fit);

/** Count repeats, clean and flawed. Uses fit->scale. */
void lamp_count_repeats(const struct lamp_model *model, const struct lamp_sight *sight,
                        const struct lamp_alignment *alignment, struct lamp_fit *fit);

#endif
