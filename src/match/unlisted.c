/* unlisted.c - How well the lengths fit a code that no book lists: classes of lengths in a row that
 * repeats. */
#include <float.h>
#include <math.h>
#include <string.h>

#include "match/sight.h"

/* Lengths of one class follow each other within this step of the logarithm. */
#define CLASS_STEP 0.25

#define CLASSES_MAX 12

/* Longest row of classes that is tried. */
#define ROW_MAX 64

/* Share of lengths that are of another class than the row says: a lost flash, a glitch. */
#define SLIP 0.03

/* What an unknown class costs besides its mean: its spread is unknown too, nats. */
#define SPREAD_PRICE 1.0

/* Spread of the lengths that codes are made of, sd of the logarithm. */
#define CLASS_MEAN_SD 1.2

struct length_class {
    bool is_lit;
    size_t count;
    double mean;
    double spread; /* Variance beyond that of each length. */
    double log_share;
};

struct classes {
    size_t count;
    struct length_class at[CLASSES_MAX];
    unsigned char of[LAMP_SIGHT_MAX]; /* Class of each length; the likeliest of a bound. */
};

static size_t sort_whole(const struct lamp_sight *sight, bool lit, size_t order[LAMP_SIGHT_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < sight->count; i++) {
        if (sight->seen[i].is_lit != lit || sight->seen[i].is_bound) {
            continue;
        }
        size_t at = count++;
        for (; at > 0 && sight->seen[order[at - 1]].log > sight->seen[i].log; at--) {
            order[at] = order[at - 1];
        }
        order[at] = i;
    }
    return count;
}

static void split_into_classes(const struct lamp_sight *sight, bool lit, struct classes *out)
{
    size_t order[LAMP_SIGHT_MAX];
    size_t count = sort_whole(sight, lit, order);
    size_t first = out->count;
    for (size_t i = 0; i < count; i++) {
        bool is_new =
            i == 0 || sight->seen[order[i]].log - sight->seen[order[i - 1]].log > CLASS_STEP;
        if (is_new && out->count - first < CLASSES_MAX / 2) {
            out->at[out->count++] = (struct length_class){.is_lit = lit};
        }
        out->of[order[i]] = (unsigned char)(out->count - 1);
    }
}

static void measure_class(const struct lamp_sight *sight, struct classes *classes, size_t index)
{
    struct length_class *class = &classes->at[index];
    double sum = 0;
    double squares = 0;
    double noise = 0;
    double of_kind = 0;
    for (size_t i = 0; i < sight->count; i++) {
        const struct lamp_seen *seen = &sight->seen[i];
        of_kind += !seen->is_bound && seen->is_lit == class->is_lit;
        if (!seen->is_bound && classes->of[i] == index) {
            class->count++;
            sum += seen->log;
            squares += seen->log * seen->log;
            noise += seen->variance;
        }
    }
    double count = (double)class->count;
    class->mean = sum / count;
    class->spread = fmax(squares / count - class->mean * class->mean - noise / count, 0);
    class->log_share = log(count / of_kind);
}

/* The class of a bound: the commonest that is long enough, else the longest. */
static unsigned char likeliest_class(const struct lamp_seen *seen, const struct classes *classes)
{
    size_t likeliest = 0;
    double best = -DBL_MAX;
    for (size_t c = 0; c < classes->count; c++) {
        const struct length_class *class = &classes->at[c];
        double fit = lamp_log_above(seen->log, class->mean, seen->variance + class->spread) +
                     class->log_share;
        if (class->is_lit == seen->is_lit && fit > best) {
            best = fit;
            likeliest = c;
        }
    }
    return (unsigned char)likeliest;
}

static void place_bounds(const struct lamp_sight *sight, struct classes *classes)
{
    for (size_t i = 0; i < sight->count; i++) {
        if (sight->seen[i].is_bound) {
            classes->of[i] = likeliest_class(&sight->seen[i], classes);
        }
    }
}

static double weigh_lengths(const struct lamp_sight *sight, const struct classes *classes)
{
    double sum = 0;
    for (size_t i = 0; i < sight->count; i++) {
        const struct lamp_seen *seen = &sight->seen[i];
        const struct length_class *class = &classes->at[classes->of[i]];
        double variance = seen->variance + class->spread;
        if (class->is_lit !=
            seen->is_lit) { /* All of its kind are bounds: nothing is known of it. */
            continue;
        }
        sum += seen->is_bound ? lamp_log_above(seen->log, class->mean, variance)
                              : lamp_log_normal(seen->log, class->mean, variance);
    }
    return sum;
}

/* The unknown mean and spread of each class, integrated out (Laplace): doubt after over doubt
 * before. */
static double price_classes(const struct lamp_sight *sight, const struct classes *classes)
{
    double weight[CLASSES_MAX] = {0};
    for (size_t i = 0; i < sight->count; i++) {
        size_t c = classes->of[i];
        weight[c] +=
            sight->seen[i].is_bound ? 0 : 1 / (sight->seen[i].variance + classes->at[c].spread);
    }
    double sum = 0;
    for (size_t c = 0; c < classes->count; c++) {
        sum -= 0.5 * log1p(weight[c] * CLASS_MEAN_SD * CLASS_MEAN_SD) + SPREAD_PRICE;
    }
    return sum;
}

/* How well lengths [from, to) follow a row of `period` classes, taken up at `phase`; bounds tell
 * nothing. */
static double follow_row(const struct lamp_sight *sight, const struct classes *classes,
                         const unsigned char *row, const size_t bounds[4])
{
    size_t from = bounds[0];
    size_t to = bounds[1];
    size_t period = bounds[2];
    size_t phase = bounds[3];
    double sum = 0;
    for (size_t i = from; i < to; i++) {
        unsigned char expected = row[(i - from + phase) % period];
        const struct length_class *class = &classes->at[classes->of[i]];
        if (classes->at[expected].is_lit != sight->seen[i].is_lit) {
            return -DBL_MAX;
        }
        if (!sight->seen[i].is_bound) {
            sum += expected == classes->of[i] ? log1p(-SLIP) : log(SLIP) + class->log_share;
        }
    }
    return sum;
}

static size_t segment_end(const struct lamp_sight *sight, size_t from)
{
    size_t to = from + 1;
    while (to < sight->count && !sight->seen[to].starts) {
        to++;
    }
    return to;
}

static double follow_anywhere(const struct lamp_sight *sight, const struct classes *classes,
                              const unsigned char *row, const size_t bounds[3])
{
    double best = -DBL_MAX;
    for (size_t phase = 0; phase < bounds[2]; phase++) {
        const size_t at[4] = {bounds[0], bounds[1], bounds[2], phase};
        best = fmax(best, follow_row(sight, classes, row, at));
    }
    return best > -DBL_MAX ? best - log((double)bounds[2] / 2) : best;
}

/* The row as first seen in full in lengths [from, to). */
static double weigh_row(const struct lamp_sight *sight, const struct classes *classes, size_t from,
                        size_t period)
{
    unsigned char row[ROW_MAX];
    double price = 0;
    for (size_t i = 0; i < period; i++) {
        row[i] = classes->of[from + i];
        price += classes->at[row[i]].log_share;
    }
    double sum = price;
    for (size_t at = 0; at < sight->count;) {
        const size_t bounds[3] = {at, segment_end(sight, at), period};
        sum += follow_anywhere(sight, classes, row, bounds);
        at = bounds[1];
    }
    return sum;
}

static double weigh_best_row(const struct lamp_sight *sight, const struct classes *classes)
{
    double loose = 0; /* No row at all: each class drawn by its share. */
    for (size_t i = 0; i < sight->count; i++) {
        loose += sight->seen[i].is_bound ? 0 : classes->at[classes->of[i]].log_share;
    }
    double blink =
        -DBL_MAX; /* A row of two is as likely, before it is seen, as all longer ones together. */
    double best = loose;
    size_t tried = 1;
    for (size_t from = 0; from < sight->count; from = segment_end(sight, from)) {
        size_t begin = sight->seen[from].is_bound ? from + 1 : from;
        size_t end = segment_end(sight, from);
        for (size_t period = 2; period <= ROW_MAX && begin + period < end; period += 2) {
            double *to = period == 2 ? &blink : &best;
            *to = fmax(*to, weigh_row(sight, classes, begin, period));
            tried += period > 2;
        }
    }
    return fmax(blink, best - log((double)tried)) - log(2);
}

double lamp_sight_unlisted(const struct lamp_sight *sight)
{
    struct classes classes;
    memset(&classes, 0, sizeof classes);
    split_into_classes(sight, true, &classes);
    split_into_classes(sight, false, &classes);
    if (classes.count == 0) {
        return sight->irregular;
    }
    for (size_t c = 0; c < classes.count; c++) {
        measure_class(sight, &classes, c);
    }
    place_bounds(sight, &classes);
    return weigh_lengths(sight, &classes) + price_classes(sight, &classes) +
           weigh_best_row(sight, &classes);
}
