/* role.c - What each length of a lamp was taken for: its class, its group, its repeat. */
#include "report/role.h"

#include <math.h>

const char *lamp_class_name(enum lamp_class class)
{
    static const char *const names[] = {
        [LAMP_CLASS_NONE] = "",   [LAMP_CLASS_SHORT] = "short", [LAMP_CLASS_LONG] = "long",
        [LAMP_CLASS_GAP] = "gap", [LAMP_CLASS_PAUSE] = "pause", [LAMP_CLASS_REST] = "rest"};
    return names[class];
}

/* How far a length is from a nominal one, on a log scale; far where there is no such class. */
static double distance(int64_t ns, int64_t nominal_ns)
{
    return ns > 0 && nominal_ns > 0 ? fabs(log((double)ns / (double)nominal_ns)) : INFINITY;
}

/* In doubt the class that stands first. */
enum lamp_class lamp_role_class(const struct lamp_length *length, const struct lamp_timing *timing)
{
    const struct {
        enum lamp_class class;
        bool lit;
        int64_t ns;
    } classes[] = {{LAMP_CLASS_SHORT, true, timing->short_ns},
                   {LAMP_CLASS_LONG, true, timing->long_ns},
                   {LAMP_CLASS_GAP, false, timing->gap_ns},
                   {LAMP_CLASS_PAUSE, false, timing->pause_ns},
                   {LAMP_CLASS_REST, false, timing->rest_ns}};
    enum lamp_class found = LAMP_CLASS_NONE;
    double least = INFINITY;
    for (size_t i = 0; i < sizeof classes / sizeof classes[0]; i++) {
        double away = distance(length->ns, classes[i].ns);
        if (classes[i].lit == length->lit && away < least) {
            least = away;
            found = classes[i].class;
        }
    }
    return found;
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
