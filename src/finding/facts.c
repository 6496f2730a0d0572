/* facts.c - What holds on every bench, whatever the board.
 *
 * Each fact is common practice, no source, unless it says otherwise. A fact fires only on what was
 * given or seen: a reading that is absent is not known, never zero.
 */
#include "finding/facts.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "finding/caution.h"

/* Below this a board draws nothing to speak of; a lone indicator takes less, A. Common practice, no
 * source. */
#define CURRENT_NONE_A 0.002

/* From this on a converter or more is at work, A. Common practice, no source. */
#define CURRENT_SOME_A 0.02

/* "About 0.5 A at 5 V". Common practice, no source; the margins are ours. */
#define SUPPLY_LOW_V  4.5
#define SUPPLY_HIGH_V 5.5
#define DEAD_LOW_A    0.35
#define DEAD_HIGH_A   0.8

/* "About 1 ohm to ground is a short", on rails for which a healthy board has far more. Core rails
 * are left out: a large processor's own supply pins may read about as low. Common practice, no
 * source. */
#define SHORT_OHM     3.0
#define SHORT_LEAST_V 1.7

#define STRINGS(row)                      \
    {                                     \
        sizeof(row) / sizeof(row)[0], row \
    }

struct fact {
    bool (*holds)(const struct lamp_bench *bench, struct lamp_finding *out);
    struct lamp_strings suspect;
    struct lamp_strings check;
    enum lamp_danger danger;
};

void lamp_finding_because(struct lamp_finding *finding, const char *format, ...)
{
    if (finding->because_count == LAMP_BECAUSE_MAX) {
        return;
    }
    va_list rest;
    va_start(rest, format);
    (void)vsnprintf(finding->because[finding->because_count++], LAMP_REASON_MAX, format, rest);
    va_end(rest);
}

static void say_lamp(const struct lamp_lamp_state *state, struct lamp_finding *out)
{
    char words[LAMP_REASON_MAX];
    lamp_state_say(state, words);
    lamp_finding_because(out, "%s", words);
}

static void say_given(const struct lamp_given *given, struct lamp_finding *out)
{
    char words[LAMP_REASON_MAX];
    lamp_given_say(given, words);
    lamp_finding_because(out, "%s", words);
}

static void say_shows(const struct lamp_bench *bench, const struct lamp_lamp_state *state,
                      struct lamp_finding *out)
{
    const char *shows = lamp_bench_shows(bench, state->name);
    if (shows != NULL) {
        lamp_finding_because(out, "the %.60s lamp shows: %.60s", state->name, shows);
    }
}

static const struct lamp_given *given_in(const struct lamp_bench *bench, const char *key,
                                         enum lamp_unit unit)
{
    const struct lamp_given *given = lamp_readings_find(&bench->readings, key);
    return given != NULL && given->unit == unit ? given : NULL;
}

/* The first lamp of power (or of anything else) with one of two verdicts. */
static const struct lamp_lamp_state *find_lamp(const struct lamp_bench *bench, bool is_power,
                                               enum lamp_verdict a, enum lamp_verdict b)
{
    for (size_t i = 0; i < bench->lamp_count; i++) {
        const struct lamp_lamp_state *state = &bench->lamp[i];
        bool fits = state->match->verdict == a || state->match->verdict == b;
        if (fits && lamp_bench_is_power(bench, state->name) == is_power) {
            return state;
        }
    }
    return NULL;
}

/* "3V3-to-ground", "5V-to-ground", "1V8-to-ground": the rail's voltage from its name, 0 where it
 * does not say. */
static double rail_volts(const char *key)
{
    char *rest = NULL;
    long whole = strtol(key, &rest, 10);
    if (rest == key || *rest != 'V' || whole < 0 || whole > 100) {
        return 0;
    }
    double volts = (double)whole;
    double place = 1;
    for (const char *digit = rest + 1; *digit >= '0' && *digit <= '9'; digit++) {
        place /= 10;
        volts += (*digit - '0') * place;
    }
    return volts;
}

static bool rail_is_shorted(const struct lamp_bench *bench, struct lamp_finding *out)
{
    for (size_t i = 0; i < bench->readings.count; i++) {
        const struct lamp_given *given = &bench->readings.given[i];
        double volts = rail_volts(given->key);
        bool to_ground =
            strstr(given->key, "-to-ground") != NULL || strstr(given->key, "-to-gnd") != NULL;
        if (!to_ground || given->unit != LAMP_UNIT_OHM || given->value > SHORT_OHM ||
            volts < SHORT_LEAST_V) {
            continue;
        }
        say_given(given, out);
        if (given->value > 0.05) { /* P = V^2 / R. */
            lamp_finding_because(
                out,
                "at the rail's own %.3g V it would turn %.1f W into heat: the short shows itself",
                volts, volts * volts / given->value);
        }
        return true;
    }
    return false;
}

static bool draws_but_no_life(const struct lamp_bench *bench, struct lamp_finding *out)
{
    const struct lamp_given *supply = given_in(bench, "supply", LAMP_UNIT_VOLT);
    const struct lamp_given *current = given_in(bench, "current", LAMP_UNIT_AMPERE);
    const struct lamp_lamp_state *dark =
        find_lamp(bench, false, LAMP_VERDICT_STEADY_OFF, LAMP_VERDICT_STEADY_OFF);
    if (supply == NULL || current == NULL || dark == NULL || supply->value < SUPPLY_LOW_V ||
        supply->value > SUPPLY_HIGH_V || current->value < DEAD_LOW_A ||
        current->value > DEAD_HIGH_A) {
        return false;
    }
    for (size_t i = 0; i < bench->lamp_count; i++) {
        const struct lamp_lamp_state *state = &bench->lamp[i];
        if (state->match->verdict != LAMP_VERDICT_STEADY_OFF &&
            !lamp_bench_is_power(bench, state->name)) {
            return false;
        }
    }
    say_lamp(dark, out);
    lamp_finding_because(out, "current %.3g A at %.3g V, although nothing runs", current->value,
                         supply->value);
    return true;
}

static bool power_is_dark_but_draws(const struct lamp_bench *bench, struct lamp_finding *out)
{
    const struct lamp_lamp_state *power =
        find_lamp(bench, true, LAMP_VERDICT_STEADY_OFF, LAMP_VERDICT_STEADY_OFF);
    const struct lamp_given *current = given_in(bench, "current", LAMP_UNIT_AMPERE);
    if (power == NULL || current == NULL || current->value < CURRENT_SOME_A) {
        return false;
    }
    say_lamp(power, out);
    say_shows(bench, power, out);
    say_given(current, out);
    return true;
}

static bool power_is_dark_and_draws_nothing(const struct lamp_bench *bench,
                                            struct lamp_finding *out)
{
    const struct lamp_lamp_state *power =
        find_lamp(bench, true, LAMP_VERDICT_STEADY_OFF, LAMP_VERDICT_STEADY_OFF);
    const struct lamp_given *current = given_in(bench, "current", LAMP_UNIT_AMPERE);
    if (power == NULL || current == NULL || fabs(current->value) > CURRENT_NONE_A) {
        return false;
    }
    say_lamp(power, out);
    say_given(current, out);
    return true;
}

static bool power_restarts(const struct lamp_bench *bench, struct lamp_finding *out)
{
    const struct lamp_lamp_state *power =
        find_lamp(bench, true, LAMP_VERDICT_BLINK, LAMP_VERDICT_FLICKER);
    if (power == NULL ||
        power->match->has_entry) { /* A book that has an entry for it knows better. */
        return false;
    }
    say_lamp(power, out);
    say_shows(bench, power, out);
    return true;
}

/* An activity lamp is irregular on a healthy board (Linux LED triggers): flicker is a sign only
 * without traffic. */
static bool is_absent(const struct lamp_bench *bench, const char *key)
{
    const struct lamp_given *given = lamp_readings_find(&bench->readings, key);
    return given != NULL &&
           (strcmp(given->word, "none") == 0 || strcmp(given->word, "removed") == 0);
}

static bool is_present(const struct lamp_bench *bench, const char *key)
{
    return lamp_readings_find(&bench->readings, key) != NULL && !is_absent(bench, key);
}

static bool flickers_without_traffic(const struct lamp_bench *bench, struct lamp_finding *out)
{
    const struct lamp_lamp_state *lamp =
        find_lamp(bench, false, LAMP_VERDICT_FLICKER, LAMP_VERDICT_FLICKER);
    if (lamp == NULL || !is_absent(bench, "storage") || is_present(bench, "network")) {
        return false;
    }
    say_lamp(lamp, out);
    lamp_finding_because(out, "no storage is fitted, so no storage traffic explains it");
    const struct lamp_lamp_state *power =
        find_lamp(bench, true, LAMP_VERDICT_STEADY_ON, LAMP_VERDICT_STEADY_ON);
    if (power != NULL) {
        say_lamp(power, out);
    }
    return true;
}

static bool flickers_maybe_with_traffic(const struct lamp_bench *bench, struct lamp_finding *out)
{
    const struct lamp_lamp_state *lamp =
        find_lamp(bench, false, LAMP_VERDICT_FLICKER, LAMP_VERDICT_FLICKER);
    if (lamp == NULL || (is_absent(bench, "storage") && !is_present(bench, "network"))) {
        return false;
    }
    say_lamp(lamp, out);
    if (is_present(bench, "storage") || is_present(bench, "network")) {
        lamp_finding_because(
            out,
            "storage or network is connected: an activity lamp is irregular on a healthy board");
    } else {
        lamp_finding_because(out, "whether storage is fitted was not told: traffic may explain it");
    }
    return true;
}

static bool lit_without_current(const struct lamp_bench *bench, struct lamp_finding *out)
{
    const struct lamp_given *current = given_in(bench, "current", LAMP_UNIT_AMPERE);
    for (size_t i = 0; current != NULL && current->value == 0 && i < bench->lamp_count; i++) {
        if (lamp_state_gives_light(&bench->lamp[i])) {
            say_lamp(&bench->lamp[i], out);
            lamp_finding_because(out,
                                 "current 0 A, and yet there is light: the reading contradicts it");
            return true;
        }
    }
    return false;
}

static const char *const suspect_reading[] = {"the current reading",
                                              "a second supply that feeds the board"};
static const char *const check_reading[] = {
    "Check the meter's range, fuse and lead, and that the current flows through it",
    "Unplug everything else that may feed the board: USB, debug adapter, network with power, "
    "back-up cell"};

static const char *const suspect_short[] = {"shorted capacitor on the rail",
                                            "shorted part fed by the rail"};
static const char *const check_short[] = {
    "Unplug, and measure the rail against ground again with the leads swapped",
    "Inject at most the rail's own voltage, current-limited, and look for the part that warms "
    "first",
    "After one shorted part is found, measure again before fitting its replacement: there may be a "
    "second, and a part "
    "that ran hot is not proven bad"};

static const char *const suspect_no_life[] = {"a rail", "a part on a rail that takes the current"};
static const char *const check_no_life[] = {
    "Measure each rail against ground, unplugged: about 1 ohm is a short",
    "Look for the part that is warm although nothing runs",
    "Measure each rail under power, against its nominal voltage"};

static const char *const suspect_rail_down[] = {
    "the rail that the power lamp shows", "the converter that makes it", "a short on the rail"};
static const char *const check_rail_down[] = {
    "Unplug, and measure that rail against ground: about 1 ohm is a short",
    "Measure the input, the enable pin and the output of its converter"};

static const char *const suspect_no_input[] = {"supply lead or connector",
                                               "fuse or input protection", "power switch"};
static const char *const check_no_input[] = {
    "Measure the supply voltage at the board's own input",
    "Unplug, and measure the fuse and the input protection for continuity"};

static const char *const suspect_restarts[] = {"the supply, in current limit",
                                               "the converter that makes the rail",
                                               "an overload or short on the rail"};
static const char *const check_restarts[] = {
    "Measure the supply at the board's input while the lamp blinks: does it sag?",
    "Unplug, and measure the rail against ground: about 1 ohm is a short",
    "Try a supply known to be good, with the rated current and a short lead"};

static const char *const suspect_core[] = {"core supply of the processor"};
static const char *const check_core[] = {
    "Unplug, and measure the core rail against ground before applying power again",
    "Measure the core rail under power: its level, and whether it sags"};

static const char *const suspect_traffic[] = {
    "nothing yet: storage or network traffic may explain the flicker",
    "core supply of the processor, if it flickers without them"};
static const char *const check_traffic[] = {
    "Remove storage and unplug the network, then look again and give storage=none"};

/* Surest first. */
static const struct fact facts[] = {
    {rail_is_shorted, STRINGS(suspect_short), STRINGS(check_short), LAMP_DANGER_SHORT},
    {lit_without_current, STRINGS(suspect_reading), STRINGS(check_reading), LAMP_DANGER_POWERED},
    {power_is_dark_and_draws_nothing, STRINGS(suspect_no_input), STRINGS(check_no_input),
     LAMP_DANGER_POWERED},
    {power_is_dark_but_draws, STRINGS(suspect_rail_down), STRINGS(check_rail_down),
     LAMP_DANGER_SHORT},
    {power_restarts, STRINGS(suspect_restarts), STRINGS(check_restarts), LAMP_DANGER_SHORT},
    {draws_but_no_life, STRINGS(suspect_no_life), STRINGS(check_no_life), LAMP_DANGER_SHORT},
    {flickers_without_traffic, STRINGS(suspect_core), STRINGS(check_core), LAMP_DANGER_FLICKER},
    {flickers_maybe_with_traffic, STRINGS(suspect_traffic), STRINGS(check_traffic),
     LAMP_DANGER_FLICKER},
};

size_t lamp_fact_count(void)
{
    return sizeof facts / sizeof facts[0];
}

bool lamp_fact_apply(size_t index, const struct lamp_bench *bench, struct lamp_finding *out)
{
    struct lamp_finding made;
    memset(&made, 0, sizeof made);
    if (!facts[index].holds(bench, &made)) {
        return false;
    }
    made.suspect = facts[index].suspect;
    made.check = facts[index].check;
    made.caution = lamp_cautions_for(facts[index].danger);
    *out = made;
    return true;
}
