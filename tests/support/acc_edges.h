/* acc_edges.h - How far measured edges lie from the true ones. */
#ifndef LAMP_TESTS_ACC_EDGES_H
#define LAMP_TESTS_ACC_EDGES_H

#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "lampread/flash.h"

/** Sums over many edges. */
struct acc_errors {
    size_t edges[2];   /**< Measured edges that have a true one: going off, coming on. */
    double sum_ms[2];  /**< Of their errors, measured - true. */
    double squares[2]; /**< Of the same, ms squared. */
    size_t lengths;    /**< Lengths whose both ends have a true edge. */
    double z_squares;  /**< Of their errors over their told sd. */
    size_t missing;    /**< True edges in view that were not measured. */
    size_t spurious;   /**< Measured edges that are not true. */
};

/** What truly happened, as the camera could have seen it. */
struct acc_truth {
    const struct lamp_edge *edge;
    size_t count;
    int64_t shift_ns;  /**< Added to the true times. */
    int64_t window_ns; /**< A measured edge farther than this from every true one is spurious. */
};

/** Compare `count` measured lengths with what truly happened. */
void acc_errors_add(struct acc_errors *errors, const struct acc_truth *truth,
                    const struct lamp_length *length, size_t count);

/** Mean error of all edges, ms. */
double acc_errors_bias_ms(const struct acc_errors *errors);

/** How much later edges that come on are placed than those that go off, beside the truth, ms: not 0
 * where a lamp that saturates the camera seems lit too long. */
double acc_errors_lag_ms(const struct acc_errors *errors);

/** Standard deviation of the error about its mean, ms. */
double acc_errors_sd_ms(const struct acc_errors *errors);

/** Root mean square of the errors of lengths over their told sd: 1 where what is told is true. */
double acc_errors_z(const struct acc_errors *errors);

#endif
