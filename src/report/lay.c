/* lay.c - An entry's cycle laid along the edges that were seen, on one common time scale. */
#include "report/lay.h"

#include <math.h>

/* Most edges that are looked at; more say no more of where the cycle lies. A longer cycle cannot be
 * drawn legibly. */
enum { EDGES_LOOKED_AT = 96, PASSES = 6, WAVE_MOST = 256 };

/* Scales that are believed. */
#define SCALE_LEAST 0.5
#define SCALE_MOST  2.0

struct layer {
    const struct lamp_wave *wave;
    const struct lamp_length *length;
    size_t count;
    double nominal_ns; /* of the cycle */
    double near_ns;    /* an edge this far off or farther has no partner */
};

static double nearer(double a_ns, double b_ns, double to_ns)
{
    return fabs(a_ns - to_ns) < fabs(b_ns - to_ns) ? a_ns : b_ns;
}

/* Where in the wave, counted from its start, the edge of kind `lit` nearest to `t_ns` is. */
static double nearest(const struct layer *layer, double t_ns, bool lit)
{
    double cycles = floor(t_ns / layer->nominal_ns);
    double best = INFINITY;
    for (int turn = -1; turn <= 1; turn++) {
        double at_ns = (cycles + turn) * layer->nominal_ns;
        for (size_t k = 0; k < layer->wave->count; k++) {
            best = (k % 2 == 0) == lit ? nearer(at_ns, best, t_ns) : best;
            at_ns += (double)layer->wave->length_ns[k];
        }
    }
    return best;
}

static bool is_edge(const struct layer *layer, size_t i)
{
    return !layer->length[i].cut_before;
}

static double cost_of(const struct layer *layer, const struct lamp_laid *laid)
{
    double sum = 0;
    for (size_t i = 0; i < layer->count; i++) {
        if (is_edge(layer, i)) {
            double t_ns = ((double)layer->length[i].start_ns - laid->start_ns) / laid->scale;
            double off = fabs(nearest(layer, t_ns, layer->length[i].lit) - t_ns);
            sum += fmin(off / layer->near_ns, 1);
        }
    }
    return sum;
}

/* Least squares over the edges that have a partner. */
static void refine(const struct layer *layer, struct lamp_laid *laid)
{
    double n = 0;
    double sum_x = 0;
    double sum_y = 0;
    double sum_xx = 0;
    double sum_xy = 0;
    double base_ns = laid->start_ns;
    for (size_t i = 0; i < layer->count; i++) {
        double y = (double)layer->length[i].start_ns - base_ns;
        double t_ns = y / laid->scale;
        double x = is_edge(layer, i) ? nearest(layer, t_ns, layer->length[i].lit) : INFINITY;
        if (fabs(x - t_ns) < layer->near_ns) {
            n += 1;
            sum_x += x;
            sum_y += y;
            sum_xx += x * x;
            sum_xy += x * y;
        }
    }
    double spread = n * sum_xx - sum_x * sum_x;
    double scale = spread > 0 ? (n * sum_xy - sum_x * sum_y) / spread : laid->scale;
    if (n > 2 && scale > SCALE_LEAST && scale < SCALE_MOST) {
        laid->scale = scale;
        laid->start_ns = base_ns + (sum_y - scale * sum_x) / n;
    }
}

/* Begin the wave's flash `k` where length `i` begins. */
static void try_at(const struct layer *layer, size_t i, double scale, struct lamp_laid *best,
                   double *least)
{
    double at_ns = 0;
    for (size_t k = 0; k < layer->wave->count; k++) {
        struct lamp_laid laid = {.start_ns = (double)layer->length[i].start_ns - scale * at_ns,
                                 .scale = scale};
        double cost = k % 2 == 0 ? cost_of(layer, &laid) : INFINITY;
        if (cost < *least) {
            *least = cost;
            *best = laid;
        }
        at_ns += (double)layer->wave->length_ns[k];
    }
}

bool lamp_lay(const struct lamp_wave *wave, double scale, const struct lamp_length *length,
              size_t count, struct lamp_laid *out)
{
    struct layer layer = {.wave = wave, .length = length, .count = count};
    layer.count = count < EDGES_LOOKED_AT ? count : EDGES_LOOKED_AT;
    double shortest_ns = INFINITY;
    for (size_t k = 0; k < wave->count; k++) {
        layer.nominal_ns += (double)wave->length_ns[k];
        shortest_ns = fmin(shortest_ns, (double)wave->length_ns[k]);
    }
    layer.near_ns = 0.6 * shortest_ns;
    double least = INFINITY;
    size_t tried = 0;
    for (size_t i = 0; wave->count >= 2 && wave->count <= WAVE_MOST && i < layer.count && tried < 4;
         i++) {
        if (length[i].lit && is_edge(&layer, i)) {
            try_at(&layer, i, scale, out, &least);
            tried++;
        }
    }
    for (int pass = 0; least < INFINITY && pass < PASSES; pass++) {
        refine(&layer, out);
    }
    out->period_ns = out->scale * layer.nominal_ns;
    return least < INFINITY;
}
