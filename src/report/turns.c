/* turns.c - The lengths of all lamps of a report by turns, in the order of time. */
#include "report/turns.h"

void lamp_turns_begin(struct lamp_turns *turns, const struct lamp_report *report)
{
    turns->report = report;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &report->lamp[i];
        lamp_roles_begin(&turns->roles[i], lamp->length, lamp->length_count, &lamp->rhythm);
    }
}

/* The lamp whose next length begins first; the count of lamps if none has one left. */
static size_t find_earliest(const struct lamp_turns *turns)
{
    size_t count = turns->report->lamp_count;
    size_t found = count;
    int64_t least_ns = INT64_MAX;
    for (size_t i = 0; i < count; i++) {
        const struct lamp_roles *roles = &turns->roles[i];
        if (roles->at < roles->count && roles->length[roles->at].start_ns < least_ns) {
            least_ns = roles->length[roles->at].start_ns;
            found = i;
        }
    }
    return found;
}

bool lamp_turns_next(struct lamp_turns *turns, struct lamp_turn *out)
{
    size_t lamp = find_earliest(turns);
    if (lamp == turns->report->lamp_count) {
        return false;
    }
    struct lamp_roles *roles = &turns->roles[lamp];
    *out = (struct lamp_turn){.lamp = lamp,
                              .length = &roles->length[roles->at],
                              .is_first = roles->at == 0,
                              .is_last = roles->at + 1 == roles->count};
    return lamp_roles_next(roles, &out->role);
}
