/* acc_edges.c - How far measured edges lie from the true ones. */
#include "support/acc_edges.h"

#include <math.h>
#include <stdlib.h>

static const size_t none = (size_t)-1;

/* The true edge nearest to `t_ns` that goes the same way; none if there is none in the window. */
static size_t nearest(const struct acc_truth *truth, int64_t t_ns, bool lit)
{
    size_t best = none;
    int64_t least_ns = truth->window_ns;
    for (size_t i = 0; i < truth->count; i++) {
        const int64_t away_ns = llabs(truth->edge[i].t_ns + truth->shift_ns - t_ns);
        if (truth->edge[i].lit == lit && away_ns <= least_ns) {
            least_ns = away_ns;
            best = i;
        }
    }
    return best;
}

static int64_t true_ns(const struct acc_truth *truth, size_t index)
{
    return truth->edge[index].t_ns + truth->shift_ns;
}

static void add_edge(struct acc_errors *errors, int64_t error_ns, bool lit)
{
    const double error_ms = (double)error_ns / 1e6;
    errors->edges[lit]++;
    errors->sum_ms[lit] += error_ms;
    errors->squares[lit] += error_ms * error_ms;
}

static void add_length(struct acc_errors *errors, const struct lamp_length *length,
                       int64_t true_length_ns)
{
    if (length->sd_ns > 0) {
        const double z = (double)(length->ns - true_length_ns) / (double)length->sd_ns;
        errors->lengths++;
        errors->z_squares += z * z;
    }
}

/* True edges inside what was seen, and not at its rims, should have been measured. */
static size_t count_expected(const struct acc_truth *truth, const struct lamp_length *length,
                             size_t count)
{
    size_t expected = 0;
    for (size_t i = 0; i < truth->count; i++) {
        const int64_t t_ns = true_ns(truth, i);
        bool is_seen = false;
        for (size_t j = 0; j < count && !is_seen; j++) {
            const int64_t from_ns =
                length[j].start_ns + (length[j].cut_before ? truth->window_ns : 0);
            const int64_t to_ns =
                length[j].start_ns + length[j].ns - (length[j].cut_after ? truth->window_ns : 0);
            is_seen = t_ns >= from_ns && t_ns <= to_ns;
        }
        expected += is_seen;
    }
    return expected;
}

/* The true edge at which a length begins; none if that was not seen. */
static size_t begin_of(const struct acc_truth *truth, const struct lamp_length *length)
{
    return length->cut_before ? none : nearest(truth, length->start_ns, length->lit);
}

/* The true edge at which a length ends; none if that was not seen. */
static size_t end_of(const struct acc_truth *truth, const struct lamp_length *length)
{
    return length->cut_after ? none : nearest(truth, length->start_ns + length->ns, !length->lit);
}

void acc_errors_add(struct acc_errors *errors, const struct acc_truth *truth,
                    const struct lamp_length *length, size_t count)
{
    size_t matched = 0;
    size_t last = none;
    for (size_t i = 0; i < count; i++) {
        const size_t begin = begin_of(truth, &length[i]);
        const bool is_true = begin != none && begin != last;
        if (is_true) {
            matched++;
            add_edge(errors, length[i].start_ns - true_ns(truth, begin), length[i].lit);
        }
        errors->spurious += !is_true && !length[i].cut_before;
        const size_t end = is_true ? end_of(truth, &length[i]) : none;
        if (end != none && end == begin + 1) {
            add_length(errors, &length[i], true_ns(truth, end) - true_ns(truth, begin));
        }
        last = begin;
    }
    const size_t expected = count_expected(truth, length, count);
    errors->missing += expected > matched ? expected - matched : 0;
}

double acc_errors_bias_ms(const struct acc_errors *errors)
{
    const size_t edges = errors->edges[0] + errors->edges[1];
    return edges > 0 ? (errors->sum_ms[0] + errors->sum_ms[1]) / (double)edges : 0;
}

double acc_errors_lag_ms(const struct acc_errors *errors)
{
    if (errors->edges[0] == 0 || errors->edges[1] == 0) {
        return 0;
    }
    return errors->sum_ms[1] / (double)errors->edges[1] -
           errors->sum_ms[0] / (double)errors->edges[0];
}

double acc_errors_sd_ms(const struct acc_errors *errors)
{
    const size_t edges = errors->edges[0] + errors->edges[1];
    if (edges < 2) {
        return 0;
    }
    const double bias_ms = acc_errors_bias_ms(errors);
    const double mean = (errors->squares[0] + errors->squares[1]) / (double)edges;
    return sqrt(fmax(mean - bias_ms * bias_ms, 0));
}

double acc_errors_z(const struct acc_errors *errors)
{
    return errors->lengths > 0 ? sqrt(errors->z_squares / (double)errors->lengths) : 0;
}
