/* random.h - Chance from a seed: the same draws on every machine. */
#ifndef LAMP_RENDER_RANDOM_H
#define LAMP_RENDER_RANDOM_H

#include <stdbool.h>
#include <stdint.h>

/** One turn, radians. */
#define TURN 6.283185307179586

/** A generator on the caller's memory. */
struct random {
    uint64_t state[4];
    bool has_spare;
    double spare; /**< The second normal draw of a pair. */
};

/** Begin from `seed`; `stream` sets apart generators that share a seed. */
void random_init(struct random *random, uint64_t seed, uint64_t stream);

/** 64 even bits. */
uint64_t random_bits(struct random *random);

/** Even in 0..1, 1 excluded. */
double random_even(struct random *random);

/** Even from `least` to `most`. */
double random_between(struct random *random, double least, double most);

/** Normal with mean 0 and sd 1. */
double random_normal(struct random *random);

/** Exponential with mean 1. */
double random_exponential(struct random *random);

/** Log-normal with mean 1 whose logarithm has sd `spread`. */
double random_log_normal(struct random *random, double spread);

#endif
