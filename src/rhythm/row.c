/* row.c - The newest lengths of a lamp, and the classes that either side may have. */
#include "rhythm/row.h"

#include <math.h>

/* A side whose lengths are known to no better than this share of them cannot show what its own
 * scatter is. */
#define COARSE 0.12

/* What one timer makes differs by no more than so many sds and this share of it. */
#define EVEN_SDS   2.0
#define EVEN_SHARE 0.01

/* Lengths come back if this share of either side's do, of so many pairs at least. */
#define RETURN_SHARE 0.9
#define RETURN_SIDE  3
#define RETURN_ALL   8

/* Flashes are short or long; darks are gaps, pauses and rests, and in Morse those between words. */
#define LIT_CLASSES  2
#define DARK_CLASSES 4

bool lamp_lengths_join(const struct lamp_length *lengths, size_t i)
{
    return i > 0 && !lengths[i - 1].cut_after && !lengths[i].cut_before;
}

static void measure(struct lamp_side *side, const struct lamp_length *length, size_t index)
{
    size_t i = side->measures.count++;
    side->measures.ns[i] = fmax((double)length->ns, LAMP_LENGTH_LEAST_NS);
    side->measures.sd_ns[i] = (double)length->sd_ns;
    side->index[i] = index;
}

static void find_classes(struct lamp_side *side, double jitter, size_t most)
{
    double sum = 0;
    for (size_t i = 0; i < side->measures.count; i++) {
        double share = side->measures.sd_ns[i] / side->measures.ns[i];
        sum += fmin(share * share, 1);
    }
    side->is_coarse = sum > COARSE * COARSE * (double)side->measures.count;
    lamp_classes_find(&side->measures, &(struct lamp_class_rules){.jitter = jitter, .most = most},
                      side->bands);
}

static void count_all(const struct lamp_length *lengths, size_t count, struct lamp_reading *out)
{
    out->edges = 0;
    out->seen_ns = 0;
    for (size_t i = 0; i < count; i++) {
        out->edges += lamp_lengths_join(lengths, i);
        out->seen_ns += lengths[i].ns;
    }
}

void lamp_reading_take(const struct lamp_length *lengths, size_t count, double jitter,
                       double least_ns, struct lamp_reading *out)
{
    count_all(lengths, count, out);
    size_t skipped = count > LAMP_ROW_MAX ? count - LAMP_ROW_MAX : 0;
    out->at = skipped > 0 ? lengths + skipped : lengths;
    out->count = count - skipped;
    out->lit.measures.count = 0;
    out->dark.measures.count = 0;
    for (size_t i = 0; i < out->count; i++) {
        const struct lamp_length *length = &out->at[i];
        if (!length->cut_before && !length->cut_after && (double)length->ns >= least_ns) {
            measure(length->lit ? &out->lit : &out->dark, length, i);
        }
    }
    find_classes(&out->lit, jitter, LIT_CLASSES);
    find_classes(&out->dark, jitter, DARK_CLASSES);
}

void lamp_reading_row(const struct lamp_reading *reading, enum lamp_band lit_band,
                      enum lamp_band dark_band, struct lamp_row *out)
{
    out->at = reading->at;
    out->count = reading->count;
    out->lit = reading->lit.bands[lit_band];
    out->dark = reading->dark.bands[dark_band];
    for (size_t i = 0; i < out->count; i++) {
        out->of[i] = LAMP_CLASS_CUT;
    }
    for (size_t i = 0; i < reading->lit.measures.count; i++) {
        out->of[reading->lit.index[i]] = out->lit.of[i];
    }
    for (size_t i = 0; i < reading->dark.measures.count; i++) {
        out->of[reading->dark.index[i]] = out->dark.of[i];
    }
}

static bool are_even(const struct lamp_length *a, const struct lamp_length *b, double share)
{
    const double most =
        EVEN_SDS * hypot((double)a->sd_ns, (double)b->sd_ns) + share * (double)(a->ns + b->ns) / 2;
    return a->lit != b->lit || fabs((double)(a->ns - b->ns)) <= most;
}

/* Whether a length is like all of its class before it. */
static bool is_even_at(const struct lamp_row *row, size_t i)
{
    for (size_t j = 0; j < i && row->of[i] == 0; j++) {
        if (row->of[j] == 0 && !are_even(&row->at[i], &row->at[j], EVEN_SHARE)) {
            return false;
        }
    }
    return true;
}

bool lamp_row_is_even(const struct lamp_row *row)
{
    for (size_t i = 0; i < row->count; i++) {
        if (!is_even_at(row, i)) {
            return false;
        }
    }
    return true;
}

/* Whether lengths `period` places apart are alike, on either side. */
static bool returns_after(const struct lamp_row *row, size_t period, double share)
{
    size_t pairs[2] = {0, 0};
    size_t alike[2] = {0, 0};
    for (size_t i = period; i < row->count; i++) {
        const struct lamp_length *now = &row->at[i];
        if (row->of[i] == LAMP_CLASS_CUT || row->of[i - period] == LAMP_CLASS_CUT) {
            continue;
        }
        pairs[now->lit]++;
        alike[now->lit] +=
            now->lit == row->at[i - period].lit && are_even(now, &row->at[i - period], share);
    }
    const size_t all = pairs[0] + pairs[1];
    return pairs[0] >= RETURN_SIDE && pairs[1] >= RETURN_SIDE && all >= RETURN_ALL &&
           all + 2 >= period && (double)alike[0] >= RETURN_SHARE * (double)pairs[0] &&
           (double)alike[1] >= RETURN_SHARE * (double)pairs[1];
}

bool lamp_row_returns(const struct lamp_row *row, double jitter)
{
    for (size_t period = 4; 2 * period <= row->count + 2; period += 2) {
        if (returns_after(row, period, 2 * jitter)) {
            return true;
        }
    }
    return false;
}
