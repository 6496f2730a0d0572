/* turns.h - The lengths of all lamps of a report by turns, in the order of time. */
#ifndef LAMP_REPORT_TURNS_H
#define LAMP_REPORT_TURNS_H

#include "lampread/report.h"
#include "report/role.h"

/** A length, and what it was taken for. */
struct lamp_turn {
    size_t lamp;
    const struct lamp_length *length;
    struct lamp_role role;
    bool is_first; /**< Of its lamp. */
    bool is_last;  /**< Of its lamp. */
};

/** Begin with lamp_turns_begin. */
struct lamp_turns {
    const struct lamp_report *report;
    struct lamp_roles roles[LAMP_REPORT_LAMPS_MAX];
};

/** Begin with the lamps of `report`, which is borrowed. */
void lamp_turns_begin(struct lamp_turns *turns, const struct lamp_report *report);

/** The next length; false when there is none left. */
bool lamp_turns_next(struct lamp_turns *turns, struct lamp_turn *out);

#endif
