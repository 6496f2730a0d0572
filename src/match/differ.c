/* differ.c - Where two cycles of light differ most, in plain words. */
#include "match/differ.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* From this ratio on a flash is "long" or "short" against what was expected, not just some ms off.
 */
#define OTHER_CLASS 1.5

/* One length's departure beyond this counts no more: a whole flash is out of place. */
#define OFF_MOST 1.5

/* Cycles that differ by more flashes, or longer ones, are not compared flash by flash: they are
 * just far apart. */
#define FLASHES_COMPARED 4
#define LENGTHS_COMPARED 64
#define FAR_APART        4.0

/* Two cycles laid beside each other, seconds, with as many lengths each. */
struct pair {
    size_t count;
    double wanted[LAMP_WAVE_MAX];
    double seen[LAMP_WAVE_MAX];
    double slack; /* Log of what the tolerance allows. */
};

/* The names of the book's words for darks, by how they rank in the entry. */
enum dark { DARK_ONLY, DARK_GAP, DARK_PAUSE, DARK_REST };

static const char *ordinal(size_t number, char out[24])
{
    static const char *const endings[] = {"th", "st", "nd", "rd"};
    size_t last = number % 10;
    bool is_teen = number % 100 / 10 == 1;
    (void)snprintf(out, 24, "%zu%s", number, endings[last > 3 || is_teen ? 0 : last]);
    return out;
}

static double distance(const struct pair *pair, size_t phase)
{
    double sum = 0;
    for (size_t i = 0; i < pair->count; i++) {
        sum += fmin(fabs(log(pair->seen[(i + phase) % pair->count] / pair->wanted[i])), OFF_MOST);
    }
    return sum;
}

/* Turn what was seen so that it lies best beside what was wanted. */
static double turn(struct pair *pair)
{
    double turned[LAMP_WAVE_MAX];
    size_t best = 0;
    for (size_t phase = 2; phase < pair->count; phase += 2) {
        best = distance(pair, phase) < distance(pair, best) ? phase : best;
    }
    double least = distance(pair, best);
    for (size_t i = 0; i < pair->count; i++) {
        turned[i] = pair->seen[(i + best) % pair->count];
    }
    memcpy(pair->seen, turned, pair->count * sizeof turned[0]);
    return least;
}

static double shortest_dark(const struct pair *pair)
{
    double least = INFINITY;
    for (size_t i = 1; i < pair->count; i += 2) {
        least = fmin(least, pair->wanted[i]);
    }
    return least;
}

static double longest_dark(const struct pair *pair)
{
    double most = 0;
    for (size_t i = 1; i < pair->count; i += 2) {
        most = fmax(most, pair->wanted[i]);
    }
    return most;
}

static enum dark rank_dark(const struct pair *pair, size_t at)
{
    double least = shortest_dark(pair);
    double most = longest_dark(pair);
    if (!(most > least)) {
        return DARK_ONLY;
    }
    if (!(pair->wanted[at] < most)) {
        return DARK_REST;
    }
    return pair->wanted[at] > least ? DARK_PAUSE : DARK_GAP;
}

static void say_flash(const struct pair *pair, size_t at, char out[LAMP_REASON_MAX])
{
    char which[24];
    double ratio = pair->seen[at] / pair->wanted[at];
    const char *name = pair->count == 2 ? "" : ordinal(at / 2 + 1, which);
    const char *space = pair->count == 2 ? "" : " ";
    if (ratio > OTHER_CLASS && pair->count > 2) {
        (void)snprintf(out, LAMP_REASON_MAX, "%s flash long, not short", name);
    } else if (ratio < 1 / OTHER_CLASS && pair->count > 2) {
        (void)snprintf(out, LAMP_REASON_MAX, "%s flash short, not long", name);
    } else {
        (void)snprintf(out, LAMP_REASON_MAX, "%s%sflash %.3g s expected, %.3g s seen", name, space,
                       pair->wanted[at], pair->seen[at]);
    }
}

static void say_dark(const struct pair *pair, size_t at, char out[LAMP_REASON_MAX])
{
    static const char *const names[] = {"dark", "gap", "pause", "rest"};
    char which[24];
    enum dark rank = rank_dark(pair, at);
    double ratio = pair->seen[at] / pair->wanted[at];
    (void)ordinal(at / 2 + 1, which);
    if (rank == DARK_PAUSE && ratio < 1 / OTHER_CLASS) {
        (void)snprintf(out, LAMP_REASON_MAX, "no pause seen after the %s flash", which);
    } else if (rank == DARK_GAP && ratio > OTHER_CLASS) {
        (void)snprintf(out, LAMP_REASON_MAX, "a pause seen after the %s flash, not a gap", which);
    } else {
        (void)snprintf(out, LAMP_REASON_MAX, "%s %.3g s expected, %.3g s seen", names[rank],
                       pair->wanted[at], pair->seen[at]);
    }
}

/* The common time scale: the middle one of the ratios. */
static double middle_scale(const struct pair *pair)
{
    double logs[LAMP_WAVE_MAX] = {0};
    for (size_t i = 0; i < pair->count; i++) {
        double value = log(pair->seen[i] / pair->wanted[i]);
        size_t at = i;
        for (; at > 0 && logs[at - 1] > value; at--) {
            logs[at] = logs[at - 1];
        }
        logs[at] = value;
    }
    return 0.5 * (logs[(pair->count - 1) / 2] + logs[pair->count / 2]);
}

static bool say_scale(const struct pair *pair, double scale, char out[LAMP_REASON_MAX])
{
    for (size_t i = 0; i < pair->count; i++) {
        if (fabs(log(pair->seen[i] / pair->wanted[i]) - scale) > pair->slack) {
            return false;
        }
    }
    if (!(fabs(scale) > pair->slack)) {
        return false;
    }
    (void)snprintf(out, LAMP_REASON_MAX, "%.0f %% %s than the book, which allows %.0f %%",
                   100 * expm1(fabs(scale)), scale > 0 ? "slower" : "faster",
                   100 * expm1(pair->slack));
    return true;
}

static void say_worst(const struct pair *pair, char out[LAMP_REASON_MAX])
{
    double scale = middle_scale(pair);
    if (say_scale(pair, scale, out)) {
        return;
    }
    double allowed = fmin(fmax(scale, -pair->slack), pair->slack);
    size_t worst = 0;
    double most = 0;
    for (size_t i = 0; i < pair->count; i++) {
        double off = fabs(log(pair->seen[i] / pair->wanted[i]) - allowed);
        if (off > most + 1e-9) {
            most = off;
            worst = i;
        }
    }
    if (most <= pair->slack) {
        out[0] = '\0';
    } else if (worst % 2 == 0) {
        say_flash(pair, worst, out);
    } else {
        say_dark(pair, worst, out);
    }
}

/* What was wanted without flash `gone`: the shorter of the darks beside it goes with it. */
static void leave_out(const struct pair *full, size_t gone, struct pair *out)
{
    assert(full->count > 2);
    size_t dark_before = (2 * gone + full->count - 1) % full->count;
    size_t dark_after = 2 * gone + 1;
    size_t dark = full->wanted[dark_before] < full->wanted[dark_after] ? dark_before : dark_after;
    out->count = 0;
    /* From the flash after it on, so that the cycle begins lit. */
    for (size_t i = 0; i < full->count; i++) {
        size_t at = (2 * gone + 2 + i) % full->count;
        if (at != 2 * gone && at != dark) {
            out->wanted[out->count++] = full->wanted[at];
        }
    }
    memcpy(out->seen, full->seen, out->count * sizeof out->seen[0]);
}

/* The last flash whose absence explains what was seen best; `off` is what then still differs. */
static size_t find_missing(const struct pair *full, double *off)
{
    size_t best = 0;
    *off = INFINITY;
    for (size_t gone = full->count / 2; gone-- > 0;) {
        struct pair rest;
        leave_out(full, gone, &rest);
        double left = turn(&rest);
        if (left < *off - 1e-9) {
            *off = left;
            best = gone;
        }
    }
    return best;
}

static void say_count(struct pair *pair, size_t wanted, size_t seen, char out[LAMP_REASON_MAX])
{
    char which[24];
    if (wanted == seen + 1) {
        double off;
        pair->count = 2 * wanted;
        size_t missing = find_missing(pair, &off);
        (void)snprintf(out, LAMP_REASON_MAX, "%s flash missing", ordinal(missing + 1, which));
    } else if (seen == wanted + 1) {
        (void)snprintf(out, LAMP_REASON_MAX, "one flash more seen than expected");
    } else {
        (void)snprintf(out, LAMP_REASON_MAX, "%zu %s expected, %zu seen", wanted,
                       wanted == 1 ? "flash" : "flashes", seen);
    }
}

void lamp_differ_write(const struct lamp_model *model, const struct lamp_wave *seen,
                       char out[LAMP_REASON_MAX])
{
    struct pair pair = {.count = 0};
    pair.slack = log1p(model->tolerance);
    for (size_t i = 0; i < model->count; i++) {
        pair.wanted[i] = model->class_s[model->class_of[i]];
    }
    for (size_t i = 0; i < seen->count; i++) {
        pair.seen[i] = (double)seen->length_ns[i] * 1e-9;
    }
    if (model->count != seen->count) {
        say_count(&pair, model->count / 2, seen->count / 2, out);
        return;
    }
    pair.count = model->count;
    (void)turn(&pair);
    say_worst(&pair, out);
}

static void lay_longer_first(const struct lamp_model *model, const struct lamp_wave *seen,
                             struct pair *out)
{
    bool is_seen_longer = seen->count > model->count;
    double *of_model = is_seen_longer ? out->seen : out->wanted;
    double *of_seen = is_seen_longer ? out->wanted : out->seen;
    for (size_t i = 0; i < model->count; i++) {
        of_model[i] = model->class_s[model->class_of[i]];
    }
    for (size_t i = 0; i < seen->count; i++) {
        of_seen[i] = (double)seen->length_ns[i] * 1e-9;
    }
    out->count = is_seen_longer ? seen->count : model->count;
}

double lamp_differ_distance(const struct lamp_model *model, const struct lamp_wave *seen)
{
    struct pair pair = {.count = 0};
    size_t shorter = seen->count < model->count ? seen->count : model->count;
    lay_longer_first(model, seen, &pair);
    size_t more = (pair.count - shorter) / 2;
    if (more > FLASHES_COMPARED || pair.count > LENGTHS_COMPARED) {
        return FAR_APART + (double)more;
    }
    for (size_t i = 0; i < more; i++) {
        struct pair rest;
        double off;
        leave_out(&pair, find_missing(&pair, &off), &rest);
        memcpy(rest.seen, pair.seen, shorter * sizeof pair.seen[0]);
        pair = rest;
    }
    return turn(&pair) + (double)more;
}
