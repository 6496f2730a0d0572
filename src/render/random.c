/* random.c - Chance from a seed: the same draws on every machine.
 *
 * xoshiro256** seeded by SplitMix64, written from the published description: D. Blackman, S. Vigna,
 * "Scrambled linear pseudorandom number generators", ACM Trans. Math. Softw. 47 (2021); both
 * algorithms are in the public domain. Logarithm and exponential are our own, from + - * / alone,
 * because those of C libraries differ in the last bit.
 */
#include "render/random.h"

#include <math.h>

static uint64_t split_mix(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static uint64_t turn_left(uint64_t bits, int by)
{
    return (bits << by) | (bits >> (64 - by));
}

void random_init(struct random *random, uint64_t seed, uint64_t stream)
{
    uint64_t state = stream;
    state = seed ^ split_mix(&state);
    *random = (struct random){.has_spare = false};
    for (int i = 0; i < 4; i++) {
        random->state[i] = split_mix(&state);
    }
}

uint64_t random_bits(struct random *random)
{
    uint64_t *s = random->state;
    const uint64_t result = turn_left(s[1] * 5, 7) * 9;
    const uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = turn_left(s[3], 45);
    return result;
}

double random_even(struct random *random)
{
    return (double)(random_bits(random) >> 11) * 0x1.0p-53;
}

double random_between(struct random *random, double least, double most)
{
    return least + (most - least) * random_even(random);
}

/* Natural logarithm of x > 0: ln(m 2^k) = k ln 2 + 2 artanh((m-1)/(m+1)), m between 0.7 and 1.42.
 */
static double plain_log(double x)
{
    int k = 0;
    double m = frexp(x, &k);
    if (m < 0.70710678118654752) {
        m *= 2;
        k--;
    }
    const double z = (m - 1) / (m + 1);
    double sum = 0;
    for (int n = 21; n >= 1; n -= 2) {
        sum = sum * z * z + 1.0 / n;
    }
    return k * 0.69314718055994531 + 2 * z * sum;
}

/* e^x for |x| < 700: halve until small, sum the series, square back. */
static double plain_exp(double x)
{
    const double small = x / 1024;
    double sum = 1;
    for (int n = 12; n >= 1; n--) {
        sum = 1 + sum * small / n;
    }
    for (int i = 0; i < 10; i++) {
        sum *= sum;
    }
    return sum;
}

/* Marsaglia's polar method (SIAM Review 6 (1964) 260). */
double random_normal(struct random *random)
{
    if (random->has_spare) {
        random->has_spare = false;
        return random->spare;
    }
    double x;
    double y;
    double square;
    do {
        x = random_between(random, -1, 1);
        y = random_between(random, -1, 1);
        square = x * x + y * y;
    } while (square >= 1 || square <= 0);
    const double stretch = sqrt(-2 * plain_log(square) / square);
    random->has_spare = true;
    random->spare = y * stretch;
    return x * stretch;
}

double random_exponential(struct random *random)
{
    return -plain_log(1 - random_even(random));
}

double random_log_normal(struct random *random, double spread)
{
    return plain_exp(spread * random_normal(random) - spread * spread / 2);
}
