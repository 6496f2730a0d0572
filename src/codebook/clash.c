/* clash.c - Entries of a book that a camera cannot tell apart.
 *
 *   a  __/~\_/~\______/~\_/~\______     one cycle of each, begun at any flash, stretched by one
 * common b  /~~\__/~~\________/~~\__/~~\     scale: alike if every length then lies within b's
 * tolerance
 */
#include <string.h>

#include "base/number.h"
#include "lampread/codebook.h"

/* Edges are placed to about a quarter of a frame; a cycle shorter than 2.5 frames is not read at
 * all. */
#define FRAMES_OF_BLUR    0.25
#define FRAMES_OF_A_CYCLE 2.5

/* How finely lengths are seen, ns. */
struct sight {
    double blur_ns;
    double least_cycle_ns;
};

/* The shortest repeating part of a wave, lengths. */
static size_t period_of(const struct lamp_wave *wave)
{
    for (size_t period = 2; period < wave->count; period += 2) {
        if (wave->count % period == 0 &&
            memcmp(wave->length_ns, wave->length_ns + period,
                   (wave->count - period) * sizeof wave->length_ns[0]) == 0) {
            return period;
        }
    }
    return wave->count;
}

/* One cycle of a wave: its shortest repeating part. */
struct cycle {
    const int64_t *length_ns;
    size_t count;
};

/* Whether `a`, begun at `first`, lies within the tolerance of `b` after one common scale within it.
 */
static bool fits_from(const struct cycle *a, size_t first, const struct cycle *b, double tolerance,
                      double blur_ns)
{
    double least = 1 / (1 + tolerance);
    double most = 1 + tolerance;
    size_t count = a->count > b->count ? a->count : b->count;
    for (size_t i = 0; i < count; i++) {
        double is = (double)a->length_ns[(first + i) % a->count];
        double wanted = (double)b->length_ns[i % b->count];
        double low = (wanted * (1 - tolerance) - blur_ns) / is;
        double high = (wanted * (1 + tolerance) + blur_ns) / is;
        least = low > least ? low : least;
        most = high < most ? high : most;
        if (least > most) {
            return false;
        }
    }
    return true;
}

static bool fits(const struct cycle *a, const struct cycle *b, double tolerance, double blur_ns)
{
    bool is_multiple = a->count % b->count == 0 || b->count % a->count == 0;
    for (size_t first = 0; is_multiple && first < a->count; first += 2) {
        if (fits_from(a, first, b, tolerance, blur_ns)) {
            return true;
        }
    }
    return false;
}

/* Whether the quickest lit-dark pair is over before the camera has looked often enough. */
static bool is_too_quick(const struct lamp_wave *wave, const struct sight *sight)
{
    for (size_t i = 0; i + 1 < wave->count; i += 2) {
        if ((double)(wave->length_ns[i] + wave->length_ns[i + 1]) < sight->least_cycle_ns) {
            return true;
        }
    }
    return false;
}

static bool share_a_lamp(const struct lamp_code *a, const struct lamp_code *b)
{
    return a->lamp == NULL || b->lamp == NULL || strcmp(a->lamp, b->lamp) == 0;
}

/* An entry and how many lengths its wave has before it repeats. */
struct side {
    const struct lamp_code *code;
    size_t period;
};

static bool are_alike(const struct side *a, const struct side *b, const struct sight *sight)
{
    const struct lamp_wave *wave_a = &a->code->wave;
    const struct lamp_wave *wave_b = &b->code->wave;
    if (a->period == 0 || b->period == 0) {
        return a->period == b->period && a->code->pattern.kind == b->code->pattern.kind;
    }
    if (is_too_quick(wave_a, sight) && is_too_quick(wave_b, sight)) {
        return true;
    }
    struct cycle cycle_a = {wave_a->length_ns, a->period};
    struct cycle cycle_b = {wave_b->length_ns, b->period};
    return fits(&cycle_a, &cycle_b, b->code->tolerance, sight->blur_ns) ||
           fits(&cycle_b, &cycle_a, a->code->tolerance, sight->blur_ns);
}

size_t lamp_book_clashes(const struct lamp_book *book, double rate_hz, struct lamp_clash *out,
                         size_t room)
{
    double frame_ns = rate_hz > 0 ? LAMP_NS_PER_S / rate_hz : 0;
    struct sight sight = {FRAMES_OF_BLUR * frame_ns, FRAMES_OF_A_CYCLE * frame_ns};
    uint16_t period[LAMP_BOOK_CODES_MAX];
    size_t count = 0;
    for (size_t i = 0; i < book->code_count; i++) {
        struct side b = {&book->code[i], period_of(&book->code[i].wave)};
        period[i] = (uint16_t)b.period;
        for (size_t k = 0; k < i; k++) {
            struct side a = {&book->code[k], period[k]};
            if (!share_a_lamp(a.code, b.code) || !are_alike(&a, &b, &sight)) {
                continue;
            }
            if (count < room) {
                out[count] = (struct lamp_clash){a.code, b.code};
            }
            count++;
        }
    }
    return count;
}
