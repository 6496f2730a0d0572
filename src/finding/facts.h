/* facts.h - What holds on every bench, whatever the board. */
#ifndef LAMP_FINDING_FACTS_H
#define LAMP_FINDING_FACTS_H

#include "finding/state.h"

/** How many facts there are. */
size_t lamp_fact_count(void);

/** Apply fact `index` (< count). @return true if it fires; `out` is set only then. */
bool lamp_fact_apply(size_t index, const struct lamp_bench *bench, struct lamp_finding *out);

/** Add a reason, printf-style; none beyond LAMP_BECAUSE_MAX. */
void lamp_finding_because(struct lamp_finding *finding, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
