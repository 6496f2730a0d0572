/* edge_read.h - Samples through an edger, and its edges held against the true ones. */
#ifndef LAMP_TESTS_EDGE_READ_H
#define LAMP_TESTS_EDGE_READ_H

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/edge.h"
#include "support/render_make.h"

/** Most samples and edges of one test trace. */
#define EDGE_ROOM 20000

/** All that an edger said. */
struct edge_reading {
    struct lamp_edge edge[EDGE_ROOM];
    size_t count;
    struct lamp_light_shape shape;
    bool starts_lit;
    struct lamp_hole hole; /**< After the last edge. */
};

/** Take the edges that wait. */
static inline void take_edges(struct lamp_edger *edger, struct edge_reading *out)
{
    while (out->count < EDGE_ROOM && lamp_edger_next(edger, &out->edge[out->count])) {
        out->count++;
    }
}

/** Read samples with given rules. */
static inline void read_with(const struct lamp_edger_rules *rules, const struct lamp_sample *sample,
                             size_t count, struct edge_reading *out)
{
    struct lamp_edger *edger = NULL;
    ck_assert_int_eq(lamp_edger_new(rules, &edger), LAMP_OK);
    out->count = 0;
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(lamp_edger_push(edger, &sample[i]), LAMP_OK);
        take_edges(edger, out);
    }
    ck_assert_int_eq(lamp_edger_flush(edger), LAMP_OK);
    take_edges(edger, out);
    lamp_edger_describe(edger, &out->shape);
    out->starts_lit = lamp_edger_starts_lit(edger);
    out->hole = lamp_edger_hole(edger);
    lamp_edger_free(edger);
}

/** Read samples with the default rules. */
static inline void read_samples(const struct lamp_sample *sample, size_t count,
                                struct edge_reading *out)
{
    const struct lamp_edger_rules rules = lamp_edger_rules_default();
    read_with(&rules, sample, count, out);
}

/** Edges alternate, and never go back in time. */
static inline void check_order(const struct edge_reading *reading)
{
    for (size_t i = 0; i < reading->count; i++) {
        ck_assert_int_ge(reading->edge[i].sd_ns, 0);
        ck_assert(reading->edge[i].lit == (reading->starts_lit == (i % 2 == 1)));
        ck_assert(i == 0 || reading->edge[i].t_ns >= reading->edge[i - 1].t_ns);
    }
}

/** How found edges compare with true ones, summed over traces. Begin with all zero. */
struct edge_score {
    size_t missed;
    size_t extra;
    size_t on_count;
    size_t off_count;
    double on_s;      /**< Sum of errors of edges on, s, */
    double off_s;     /**< and of edges off. */
    double squares;   /**< Sum of squares of errors, s^2. */
    double z_squares; /**< Sum of squares of errors over their told sd. */
};

/** What true edges to compare. */
struct edge_truth {
    const struct lamp_edge *edge;
    size_t count;
    int64_t
        from_ns; /**< Edges outside are neither missed nor extra: they may be cut by the ends. */
    int64_t to_ns;
    int64_t reach_ns; /**< Farthest error of an edge that counts as found. */
};

static inline void add_error(struct edge_score *score, const struct lamp_edge *found,
                             int64_t true_ns)
{
    const double error = (double)(found->t_ns - true_ns) / 1e9;
    const double z = error / ((double)found->sd_ns / 1e9);
    *(found->lit ? &score->on_s : &score->off_s) += error;
    *(found->lit ? &score->on_count : &score->off_count) += 1;
    score->squares += error * error;
    score->z_squares += z * z;
}

/** The nearest unused edge of the same direction within reach; count if there is none. */
static inline size_t find_nearest(const struct edge_reading *reading, const bool *used,
                                  const struct lamp_edge *edge, int64_t reach_ns)
{
    size_t best = reading->count;
    int64_t best_ns = reach_ns;
    for (size_t i = 0; i < reading->count; i++) {
        const int64_t off_ns = llabs(reading->edge[i].t_ns - edge->t_ns);
        if (!used[i] && reading->edge[i].lit == edge->lit && off_ns < best_ns) {
            best = i;
            best_ns = off_ns;
        }
    }
    return best;
}

/** Add one trace to a score. */
static inline void score_edges(const struct edge_reading *reading, const struct edge_truth *truth,
                               struct edge_score *score)
{
    static bool used[EDGE_ROOM];
    memset(used, 0, sizeof used);
    for (size_t i = 0; i < truth->count; i++) {
        const struct lamp_edge *edge = &truth->edge[i];
        const bool is_inside = edge->t_ns > truth->from_ns && edge->t_ns < truth->to_ns;
        const size_t found = find_nearest(reading, used, edge, truth->reach_ns);
        if (found < reading->count) {
            used[found] = true;
        }
        if (is_inside && found < reading->count) {
            add_error(score, &reading->edge[found], edge->t_ns);
        }
        score->missed += is_inside && found == reading->count;
    }
    for (size_t i = 0; i < reading->count; i++) {
        score->extra += !used[i];
    }
}

/** Play a script to a camera, read it and add it to a score. */
static inline void play_and_score(const struct lamp_script_rules *script_rules,
                                  const struct lamp_tracer_rules *rules,
                                  struct edge_reading *reading, struct edge_score *score)
{
    static struct lamp_sample sample[EDGE_ROOM];
    struct lamp_script *script = make_script(script_rules);
    const size_t count = take_samples(rules, script, sample, EDGE_ROOM);
    const int64_t interval_ns = llround(1e9 / rules->shutter.rate_hz);
    read_samples(sample, count, reading);
    check_order(reading);
    struct edge_truth truth = {.from_ns = sample[0].t_ns + 2 * interval_ns,
                               .to_ns = sample[count - 1].t_ns - 2 * interval_ns,
                               .reach_ns = 2 * interval_ns};
    truth.edge = lamp_script_edges(script, &truth.count);
    score_edges(reading, &truth, score);
    lamp_script_free(script);
}

static inline double score_sd_s(const struct edge_score *score)
{
    const size_t count = score->on_count + score->off_count;
    return count > 0 ? sqrt(score->squares / (double)count) : 0;
}

/** Sd of errors over told sds: 1 if these are honest. */
static inline double score_z(const struct edge_score *score)
{
    const size_t count = score->on_count + score->off_count;
    return count > 0 ? sqrt(score->z_squares / (double)count) : 0;
}

/** The `i`th of numbers that are spread evenly over 0..1, in no order. */
static inline double spread(size_t i)
{
    return fmod(0.5 + 0.6180339887498949 * (double)i, 1);
}

#endif
