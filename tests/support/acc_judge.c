/* acc_judge.c - Whether what was told of a lamp is what it played. */
#include "support/acc_judge.h"

#include <math.h>
#include <stdio.h>

const char *acc_outcome_name(enum acc_outcome outcome)
{
    static const char *const names[ACC_OUTCOMES] = {
        "right", "no entry", "undecided", "not found", "flicker called code", "WRONG CODE"};
    return names[outcome];
}

const struct lamp_code *acc_told(const struct lamp_report_lamp *lamp)
{
    const struct lamp_match *match = &lamp->match;
    bool is_told = match->has_entry && match->verdict != LAMP_VERDICT_UNDECIDED;
    return is_told ? match->candidate[0].code : NULL;
}

static bool has_rhythm(const struct lamp_code *code)
{
    return code->wave.count > 0;
}

bool acc_claims_code(const struct lamp_report_lamp *lamp)
{
    const struct lamp_code *told = acc_told(lamp);
    return lamp->match.verdict == LAMP_VERDICT_CODE || (told != NULL && has_rhythm(told));
}

enum acc_outcome acc_judge(const struct lamp_report_lamp *lamp, const struct lamp_code *code)
{
    if (lamp == NULL) {
        return ACC_NOT_FOUND;
    }
    const struct lamp_code *told = acc_told(lamp);
    if (told != NULL && told == code) {
        return ACC_RIGHT;
    }
    bool is_irregular = code == NULL || code->pattern.kind == LAMP_PATTERN_FLICKER;
    if (acc_claims_code(lamp)) {
        return is_irregular ? ACC_FLICKER_CODE : ACC_WRONG;
    }
    if (told != NULL) {
        return ACC_WRONG;
    }
    return lamp->match.verdict == LAMP_VERDICT_UNDECIDED ? ACC_UNDECIDED : ACC_OTHER;
}

/* Distance of the centres over the larger size. */
static double distance(const struct lamp_region *a, const struct lamp_region *b)
{
    const double dx = a->x_px + 0.5 * a->w_px - b->x_px - 0.5 * b->w_px;
    const double dy = a->y_px + 0.5 * a->h_px - b->y_px - 0.5 * b->h_px;
    const double a_size = fmax(a->w_px, a->h_px);
    return hypot(dx, dy) / fmax(a_size, fmax(b->w_px, b->h_px));
}

const struct lamp_report_lamp *acc_lamp_at(const struct lamp_report *report,
                                           const struct lamp_region *region)
{
    const struct lamp_report_lamp *best = NULL;
    double least = 1.5;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const double away = distance(&report->lamp[i].region, region);
        if (report->lamp[i].has_region && away < least) {
            least = away;
            best = &report->lamp[i];
        }
    }
    return best;
}

void acc_describe(const struct lamp_report_lamp *lamp, char *out, size_t size)
{
    if (lamp == NULL) {
        (void)snprintf(out, size, "not found");
        return;
    }
    const struct lamp_match *match = &lamp->match;
    char pattern[LAMP_NOTATION_MAX];
    lamp_pattern_format(&lamp->rhythm.pattern, pattern);
    const struct lamp_code *told = acc_told(lamp);
    (void)snprintf(out, size, "%s %.3f%s%s; rhythm %s (%s), repeats %u of %u, %s, lack %d",
                   lamp_verdict_name(match->verdict), match->confidence, told != NULL ? " " : "",
                   told != NULL ? told->id : "", lamp_verdict_name(lamp->rhythm.verdict), pattern,
                   lamp->rhythm.repeats_agreeing, lamp->rhythm.repeats_seen,
                   lamp_colour_name(lamp->colour) != NULL ? lamp_colour_name(lamp->colour)
                                                          : "no colour",
                   (int)match->lack);
}
