/* role.c - What each length of a lamp was taken for: its class, its group, its repeat. */
#include "report/role.h"

#include "report/taken.h"

const char *lamp_class_name(enum lamp_class class)
{
    static const char *const names[] = {
        [LAMP_CLASS_NONE] = "",   [LAMP_CLASS_SHORT] = "short", [LAMP_CLASS_LONG] = "long",
        [LAMP_CLASS_GAP] = "gap", [LAMP_CLASS_PAUSE] = "pause", [LAMP_CLASS_REST] = "rest"};
    return names[class];
}

enum lamp_class lamp_role_class(const struct lamp_length *length, const struct lamp_timing *timing)
{
    static const enum lamp_class classes[LAMP_TAKEN_COUNT] = {
        [LAMP_TAKEN_SHORT] = LAMP_CLASS_SHORT, [LAMP_TAKEN_LONG] = LAMP_CLASS_LONG,
        [LAMP_TAKEN_GAP] = LAMP_CLASS_GAP,     [LAMP_TAKEN_PAUSE] = LAMP_CLASS_PAUSE,
        [LAMP_TAKEN_REST] = LAMP_CLASS_REST,   [LAMP_TAKEN_ODD] = LAMP_CLASS_NONE,
        [LAMP_TAKEN_CUT] = LAMP_CLASS_NONE};
    enum lamp_taken nearest = lamp_taken_nearest(length, timing);
    bool has_class = length->ns > 0 && lamp_taken_ns(nearest, timing) > 0;
    return has_class ? classes[nearest] : LAMP_CLASS_NONE;
}

/* A length that was cut is at least as long as what was seen of it, and only a rest needs no more.
 */
static enum lamp_class class_of(const struct lamp_roles *roles, size_t index)
{
    const struct lamp_length *length = &roles->length[index];
    if (roles->rhythm->pattern.kind != LAMP_PATTERN_GROUPS) {
        return LAMP_CLASS_NONE;
    }
    enum lamp_class class = lamp_role_class(length, &roles->rhythm->timing);
    bool is_cut = length->cut_before || length->cut_after;
    return is_cut && class != LAMP_CLASS_REST ? LAMP_CLASS_NONE : class;
}

static unsigned group_count(const struct lamp_pattern *pattern)
{
    unsigned count = 1;
    for (size_t i = 0; i < pattern->count; i++) {
        count += pattern->symbol[i] == LAMP_SYMBOL_PAUSE;
    }
    return count;
}

/* The group of a repeat that came into view in its middle: counted back from the rest that ends it.
 * 0 if it does not end in view. */
static unsigned find_group(const struct lamp_roles *roles)
{
    unsigned pauses = 0;
    unsigned groups = group_count(&roles->rhythm->pattern);
    for (size_t i = roles->at; i < roles->count; i++) {
        enum lamp_class class = class_of(roles, i);
        if (class == LAMP_CLASS_REST) {
            return pauses < groups ? groups - pauses : 0;
        }
        pauses += class == LAMP_CLASS_PAUSE;
        if (roles->length[i].cut_after) {
            return 0;
        }
    }
    return 0;
}

void lamp_roles_begin(struct lamp_roles *roles, const struct lamp_length *length, size_t count,
                      const struct lamp_rhythm *rhythm)
{
    *roles = (struct lamp_roles){.length = length, .count = count, .rhythm = rhythm};
}

bool lamp_roles_next(struct lamp_roles *roles, struct lamp_role *out)
{
    if (roles->at == roles->count) {
        return false;
    }
    enum lamp_class class = class_of(roles, roles->at);
    bool in_group = class != LAMP_CLASS_PAUSE && class != LAMP_CLASS_REST;
    if (roles->at == 0 || roles->length[roles->at].cut_before) {
        roles->group = class_of(roles, roles->at) == LAMP_CLASS_REST ? 0 : find_group(roles);
    }
    *out = (struct lamp_role){
        .class = class, .group = in_group ? roles->group : 0, .repeat = roles->repeat};
    roles->group += class == LAMP_CLASS_PAUSE && roles->group > 0;
    if (class == LAMP_CLASS_REST) {
        roles->group = 1;
        roles->repeat++;
    }
    roles->at++;
    return true;
}
