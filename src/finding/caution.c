/* caution.c - The usual cautions, which go with every list of checks. */
#include "finding/caution.h"

#define COUNT(row) (sizeof(row) / sizeof(row)[0])

static const char hot[] = "Parts on a faulty board can be hot enough to burn: let it cool, test "
                          "with a probe, not a finger";
static const char limit[] = "Set the current limit of the bench supply before connecting: a short "
                            "can burn parts and tracks";
static const char fumes[] =
    "If anything smokes or smells, switch off at once; ventilate, and do not breathe the fumes";
static const char unplug[] = "Unplug every supply, and let capacitors discharge, before measuring "
                             "resistance or touching the board";
static const char mains[] = "Work on mains parts is for licensed persons, under the local codes";
static const char flashing[] =
    "Flashing light can harm people with photosensitive epilepsy: do not make them watch it";

static const char *const all[] = {hot, limit, fumes, unplug, mains, flashing};
static const char *const powered[] = {hot, limit, fumes, mains};
static const char *const shorted[] = {unplug, limit, hot, fumes, mains};
static const char *const flickering[] = {unplug, hot, flashing, mains};

struct lamp_strings lamp_cautions(void)
{
    return (struct lamp_strings){COUNT(all), all};
}

struct lamp_strings lamp_cautions_for(enum lamp_danger danger)
{
    switch (danger) {
    case LAMP_DANGER_POWERED: return (struct lamp_strings){COUNT(powered), powered};
    case LAMP_DANGER_SHORT: return (struct lamp_strings){COUNT(shorted), shorted};
    case LAMP_DANGER_FLICKER: return (struct lamp_strings){COUNT(flickering), flickering};
    }
    return lamp_cautions();
}
