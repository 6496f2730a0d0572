/* align.c - The likeliest way to lay lengths along an entry's cycle, with lost and extra edges.
 *
 *   cycle  k   0   1   2   3   4   5   0   1 ...       best[j][k]: likelihood of the lengths up to
 * j, |   |   '---.---'   |   |               if j is the one that ends with k of the cycle. seen j
 * 0   1       2       3   4               Lit lengths meet even k only, dark ones odd k, one one
 * lost    one one              so a row needs half the cycle.
 */
#include "match/align.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <string.h>

/* A length that fits nowhere costs this much more than a lost pair of edges, nats. */
#define ODD_PRICE_MORE 2.0

#define HALF_WAVE_MAX (LAMP_WAVE_MAX / 2)
#define ROWS_KEPT     4
#define NEVER         (-DBL_MAX / 4)

/* Marks a step that begins a segment. */
#define BEGINS 4

struct aligner {
    const struct lamp_model *model;
    const struct lamp_sight *sight;
    const struct lamp_guess *guess;
    double edge_price;
    double one[LAMP_SIGHT_MAX][LAMP_MODEL_CLASSES_MAX]; /* Length j as one of a class. */
    bool odd[LAMP_SIGHT_MAX][LAMP_MODEL_CLASSES_MAX];
    double extra[LAMP_SIGHT_MAX][LAMP_MODEL_CLASSES_MAX]; /* Lengths j-2 to j as one of a class. */
    double start[LAMP_MODEL_CLASSES_MAX]; /* A segment begins with one of a class. */
    double span_mean[LAMP_WAVE_MAX];      /* Lengths k-2 to k of the cycle together, log. */
    double span_doubt[LAMP_WAVE_MAX];
    double best[ROWS_KEPT][HALF_WAVE_MAX];
    unsigned char from[LAMP_SIGHT_MAX][HALF_WAVE_MAX];
};

static double weigh(const struct lamp_seen *seen, double mean, double doubt)
{
    double variance = seen->variance + doubt;
    return seen->is_bound ? lamp_log_above(seen->log, mean, variance)
                          : lamp_log_normal(seen->log, mean, variance);
}

static void weigh_one(struct aligner *aligner, size_t j, size_t c)
{
    const struct lamp_seen *seen = &aligner->sight->seen[j];
    double fits = weigh(seen, aligner->guess->mean[c], aligner->guess->doubt[c]);
    double mishap = seen->broad - aligner->edge_price - ODD_PRICE_MORE;
    aligner->odd[j][c] = !(fits >= mishap);
    aligner->one[j][c] = aligner->odd[j][c] ? mishap : fits;
}

/* Lengths j-2 to j as one: the edges between them cancel, so only the outer edges bring doubt. */
static void join_three(const struct lamp_seen *last, struct lamp_seen *out)
{
    const struct lamp_seen *first = last - 2;
    const struct lamp_seen *middle = last - 1;
    *out = *last;
    out->s = first->s + middle->s + last->s;
    out->log = log(out->s);
    out->sd_s = sqrt(0.5 * (first->sd_s * first->sd_s + last->sd_s * last->sd_s));
    double share = fmin(out->sd_s / out->s, 0.5);
    out->variance = fmax(share * share, fmin(first->variance, last->variance) / 2);
    out->is_bound = first->is_bound || last->is_bound;
    out->broad = middle->broad + fmin(first->broad, last->broad);
}

static void weigh_length(struct aligner *aligner, size_t j)
{
    const struct lamp_seen *seen = &aligner->sight->seen[j];
    struct lamp_seen joined = *seen;
    bool can_join = j >= 2 && !seen->starts && !seen[-1].starts;
    if (can_join) {
        join_three(seen, &joined);
    }
    for (size_t c = 0; c < aligner->model->class_count; c++) {
        if (aligner->model->class_is_lit[c] != seen->is_lit) {
            continue;
        }
        weigh_one(aligner, j, c);
        double fits =
            can_join ? weigh(&joined, aligner->guess->mean[c], aligner->guess->doubt[c]) : 0;
        aligner->extra[j][c] = can_join ? fits + joined.broad - aligner->edge_price : NEVER;
    }
}

static void weigh_cycle(struct aligner *aligner)
{
    const struct lamp_model *model = aligner->model;
    double s[LAMP_MODEL_CLASSES_MAX];
    for (size_t c = 0; c < model->class_count; c++) {
        s[c] = exp(aligner->guess->mean[c]);
        aligner->start[c] = log(model->class_s[c] / model->period_s);
    }
    for (size_t k = 0; k < model->count; k++) {
        double sum = 0;
        double doubt = 0;
        for (size_t back = 0; back < 3; back++) {
            size_t c = model->class_of[(k + 2 * model->count - back) % model->count];
            sum += s[c];
            doubt += aligner->guess->doubt[c] * s[c] * s[c];
        }
        aligner->span_mean[k] = log(sum);
        aligner->span_doubt[k] = doubt / (sum * sum);
    }
}

static double *row(struct aligner *aligner, size_t j)
{
    return aligner->best[j % ROWS_KEPT];
}

static size_t back(const struct aligner *aligner, size_t k, size_t steps)
{
    size_t count = aligner->model->count;
    assert(count >= 2);
    return (k + 2 * count - steps) % count;
}

struct offer {
    double value;
    unsigned char from;
};

static void take_better(struct offer *best, double value, enum lamp_step_kind kind, bool begins)
{
    if (value > best->value) {
        best->value = value;
        best->from = (unsigned char)((unsigned)kind | (begins ? BEGINS : 0U));
    }
}

static double before_one(struct aligner *aligner, size_t j, size_t k)
{
    if (aligner->sight->seen[j].starts) {
        return aligner->start[aligner->model->class_of[k]];
    }
    return row(aligner, j - 1)[back(aligner, k, 1) / 2];
}

static double before_lost(struct aligner *aligner, size_t j, size_t k)
{
    if (aligner->sight->seen[j].starts) {
        return aligner->start[aligner->model->class_of[back(aligner, k, 2)]];
    }
    return row(aligner, j - 1)[back(aligner, k, 3) / 2];
}

static struct offer reach(struct aligner *aligner, size_t j, size_t k)
{
    const struct lamp_seen *seen = &aligner->sight->seen[j];
    size_t c = aligner->model->class_of[k];
    struct offer best = {.value = NEVER, .from = LAMP_STEP_ONE};
    take_better(&best, before_one(aligner, j, k) + aligner->one[j][c], LAMP_STEP_ONE, seen->starts);
    double lost = before_lost(aligner, j, k) - aligner->edge_price;
    if (seen->log < aligner->span_mean[k] + 1 &&
        (seen->is_bound || seen->log > aligner->span_mean[k] - 1)) {
        lost += weigh(seen, aligner->span_mean[k], aligner->span_doubt[k]);
        take_better(&best, lost, LAMP_STEP_LOST, seen->starts);
    }
    if (aligner->extra[j][c] > NEVER) {
        double extra = before_one(aligner, j - 2, k) + aligner->extra[j][c];
        take_better(&best, extra, LAMP_STEP_EXTRA, aligner->sight->seen[j - 2].starts);
    }
    return best;
}

static void lay_row(struct aligner *aligner, size_t j)
{
    size_t dark = aligner->sight->seen[j].is_lit ? 0 : 1;
    for (size_t k = dark; k < aligner->model->count; k += 2) {
        struct offer offer = reach(aligner, j, k);
        row(aligner, j)[k / 2] = offer.value;
        aligner->from[j][k / 2] = offer.from;
    }
}

static size_t likeliest_end(struct aligner *aligner, size_t j)
{
    size_t best = 0;
    for (size_t i = 1; i < aligner->model->count / 2; i++) {
        best = row(aligner, j)[i] > row(aligner, j)[best] ? i : best;
    }
    return 2 * best + (aligner->sight->seen[j].is_lit ? 0 : 1);
}

/* Follow the steps back from length j at k, then put them in the order of time. */
static void trace_back(const struct aligner *aligner, size_t j, size_t k,
                       struct lamp_alignment *out)
{
    size_t first = out->count;
    for (bool begins = false; !begins;) {
        unsigned char from = aligner->from[j][k / 2];
        begins = (from & BEGINS) != 0;
        enum lamp_step_kind kind = (enum lamp_step_kind)(from & 3U);
        out->step[out->count++] = (struct lamp_step){
            .kind = kind,
            .seen = j,
            .at = k,
            .off = aligner->sight->seen[j].log - aligner->guess->mean[aligner->model->class_of[k]],
            .is_odd = kind == LAMP_STEP_ONE && aligner->odd[j][aligner->model->class_of[k]],
            .starts = begins,
        };
        j -= kind == LAMP_STEP_EXTRA ? 3 : 1;
        k = back(aligner, k, kind == LAMP_STEP_LOST ? 3 : 1);
    }
    for (size_t a = first, b = out->count - 1; a < b; a++, b--) {
        struct lamp_step step = out->step[a];
        out->step[a] = out->step[b];
        out->step[b] = step;
    }
}

void lamp_align(const struct lamp_model *model, const struct lamp_sight *sight,
                const struct lamp_guess *guess, double edge_price, struct lamp_alignment *out)
{
    assert(model->count >= 2);
    struct aligner aligner;
    aligner.model = model;
    aligner.sight = sight;
    aligner.guess = guess;
    aligner.edge_price = edge_price;
    memset(aligner.best, 0, sizeof aligner.best);
    for (size_t j = 0; j < sight->count; j++) {
        weigh_length(&aligner, j);
    }
    weigh_cycle(&aligner);
    out->count = 0;
    out->log_likelihood = 0;
    for (size_t j = 0; j < sight->count; j++) {
        lay_row(&aligner, j);
        if (j + 1 == sight->count || sight->seen[j + 1].starts) {
            size_t end = likeliest_end(&aligner, j);
            out->log_likelihood += row(&aligner, j)[end / 2];
            trace_back(&aligner, j, end, out);
        }
    }
}
