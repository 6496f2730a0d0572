/* count.c - What an alignment says of an entry: repeats clean and flawed, flashes lost, extra,
 * miscounted. */
#include "match/count.h"

#include <math.h>

/* A glitch is shorter than this share of the entry's shortest length of its kind. */
#define GLITCH_MOST 0.5

/* A length that fits nowhere but is off by no more than this and STRAY_MEASURED of its deviations
 * is the measurement's fault, log. */
#define STRAY_SD       0.12
#define STRAY_MEASURED 4.0
#define STRAY_MOST     0.35

/* A cut dark that stands for the rest must be this much longer than any other dark. */
#define REST_MARGIN 1.3

bool lamp_step_is_matched(const struct lamp_step *step, const struct lamp_sight *sight)
{
    return step->kind == LAMP_STEP_ONE && !step->is_odd && !sight->seen[step->seen].is_bound;
}

/* How a step meets the rest of the cycle. */
enum meeting { MEETS_NOT, MEETS_WHOLE, MEETS_FIRST, MEETS_LAST };

static enum meeting meet_rest(const struct lamp_model *model, const struct lamp_step *step)
{
    size_t back = (step->at + model->count - model->rest) % model->count;
    if (step->kind != LAMP_STEP_LOST) {
        return back == 0 ? MEETS_WHOLE : MEETS_NOT;
    }
    static const enum meeting meetings[] = {MEETS_LAST, MEETS_WHOLE, MEETS_FIRST};
    return back < 3 ? meetings[back] : MEETS_NOT;
}

static bool shows_rest(const struct lamp_model *model, const struct lamp_seen *seen, double scale)
{
    return !seen->is_bound || seen->s > REST_MARGIN * scale * model->next_longest_s;
}

/* Whether a length only strays from what was expected, by less than a class: the measurement's
 * fault. Dark before the first and after the last cycle may last as long as it likes: a board
 * begins and ends some time. */
static bool only_strays(const struct lamp_model *model, const struct lamp_sight *sight,
                        const struct lamp_step *step)
{
    const struct lamp_seen *seen = &sight->seen[step->seen];
    double most = fmin(STRAY_SD + STRAY_MEASURED * sqrt(seen->measured), STRAY_MOST);
    return seen->is_bound ? step->at == model->rest : fabs(step->off) < most;
}

/* Whether a step is not as the entry has it. */
static bool is_flaw(const struct lamp_model *model, const struct lamp_sight *sight,
                    const struct lamp_step *step)
{
    return step->kind != LAMP_STEP_ONE || (step->is_odd && !only_strays(model, sight, step));
}

/* Repeats, while they are followed. */
struct repeats {
    bool is_open;  /* The rest before was seen. */
    bool is_clean; /* No flaw since. */
};

/* A row of lengths begins or ends: flaws of a repeat that was not seen whole are flaws all the
 * same. */
static void break_off(struct repeats *repeats, struct lamp_fit *fit)
{
    fit->repeats_flawed += !repeats->is_clean;
    *repeats = (struct repeats){.is_open = false, .is_clean = true};
}

static void close_repeat(struct repeats *repeats, bool shows_rest, struct lamp_fit *fit)
{
    fit->repeats_clean += repeats->is_open && shows_rest && repeats->is_clean;
    fit->repeats_flawed += !repeats->is_clean;
    *repeats = (struct repeats){.is_open = shows_rest, .is_clean = true};
}

/* A flash lost beside the rest is of the cycle before it or of the one after; the other is whole.
 */
void lamp_count_repeats(const struct lamp_model *model, const struct lamp_sight *sight,
                        const struct lamp_alignment *alignment, struct lamp_fit *fit)
{
    struct repeats repeats = {.is_open = false, .is_clean = true};
    for (size_t i = 0; i < alignment->count; i++) {
        const struct lamp_step *step = &alignment->step[i];
        enum meeting meeting = meet_rest(model, step);
        bool flaws = is_flaw(model, sight, step);
        if (step->starts) {
            break_off(&repeats, fit);
        }
        repeats.is_clean = repeats.is_clean && (!flaws || meeting == MEETS_FIRST);
        if (meeting != MEETS_NOT) {
            close_repeat(&repeats, shows_rest(model, &sight->seen[step->seen], fit->scale), fit);
            repeats.is_clean = !flaws || meeting != MEETS_FIRST;
        }
    }
    break_off(&repeats, fit);
}

static double shortest_of(const struct lamp_model *model, bool is_lit)
{
    double shortest = INFINITY;
    for (size_t c = 0; c < model->class_count; c++) {
        shortest = model->class_is_lit[c] == is_lit ? fmin(shortest, model->class_s[c]) : shortest;
    }
    return shortest;
}

/* Whether a step is what no camera does to the entry, as far as can be seen: a glitch as long as a
 * flash, a gap in place of the rest, a flash lost just where the view begins or ends. */
static bool is_miscount(const struct lamp_model *model, const struct lamp_sight *sight,
                        const struct lamp_step *step, double scale)
{
    const struct lamp_seen *seen = &sight->seen[step->seen];
    if (step->kind == LAMP_STEP_EXTRA) {
        return seen[-1].s > GLITCH_MOST * scale * shortest_of(model, seen[-1].is_lit);
    }
    if (step->kind == LAMP_STEP_LOST) {
        return seen->is_bound;
    }
    return step->is_odd && !only_strays(model, sight, step);
}

void lamp_count_steps(const struct lamp_model *model, const struct lamp_sight *sight,
                      const struct lamp_alignment *alignment, struct lamp_fit *fit)
{
    bool seen_at[LAMP_WAVE_MAX] = {false};
    for (size_t i = 0; i < alignment->count; i++) {
        const struct lamp_step *step = &alignment->step[i];
        fit->odd += step->is_odd;
        fit->lost += step->kind == LAMP_STEP_LOST;
        fit->extra += step->kind == LAMP_STEP_EXTRA;
        fit->miscounted += is_miscount(model, sight, step, fit->scale);
        if (lamp_step_is_matched(step, sight)) {
            fit->matched++;
            fit->positions_seen += !seen_at[step->at];
            seen_at[step->at] = true;
        }
    }
}
