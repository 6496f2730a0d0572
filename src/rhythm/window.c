/* window.c - The samples that an edger looks at together, and what was made of each. */
#include "rhythm/window.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"

/* Stamps that jitter by more, share of the interval, are taken for true: frames of very different
 * length. */
#define MOST_JITTER 0.1

/* Samples farther apart than so many intervals have lost one between them. */
#define GAP_INTERVALS 1.5

void lamp_window_add(struct lamp_window *window, const struct lamp_sample *sample)
{
    const size_t i = window->count++;
    window->t_ns[i] = sample->t_ns;
    window->exposure_ns[i] = sample->exposure_ns > 0 ? sample->exposure_ns : 0;
    window->level[i] = sample->level;
    window->kind[i] = LAMP_KIND_DARK;
}

static int compare_numbers(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

double lamp_quantile(double *sorted, size_t count, double share)
{
    if (count == 0) {
        return 0;
    }
    qsort(sorted, count, sizeof *sorted, compare_numbers);
    return sorted[(size_t)(share * (double)(count - 1) + 0.5)];
}

static double find_median_exposure(struct lamp_window *window)
{
    size_t known = 0;
    for (size_t i = 0; i < window->count; i++) {
        if (window->exposure_ns[i] > 0) {
            window->room[0][known++] = (double)window->exposure_ns[i] / LAMP_NS_PER_S;
        }
    }
    return lamp_quantile(window->room[0], known, 0.5);
}

/* Jitter of the stamps: from second differences, which a frame rate that sways leaves small. */
static double measure_jitter(struct lamp_window *window)
{
    size_t count = 0;
    for (size_t i = 0; i + 2 < window->count; i++) {
        window->room[0][count++] = fabs(window->span_s[i + 1] - window->span_s[i]);
    }
    return lamp_quantile(window->room[0], count, 0.5) / LAMP_SECOND_DIFFERENCE_SDS;
}

void lamp_window_prepare(struct lamp_window *window)
{
    const size_t n = window->count;
    for (size_t i = 0; i < n; i++) {
        window->t_s[i] = (double)(window->t_ns[i] - window->t_ns[0]) / LAMP_NS_PER_S;
    }
    for (size_t i = 0; i + 1 < n; i++) {
        window->span_s[i] = window->t_s[i + 1] - window->t_s[i];
        window->room[0][i] = window->span_s[i];
    }
    window->interval_s = n > 1 ? lamp_quantile(window->room[0], n - 1, 0.5) : 0;
    if (n > 0) {
        window->span_s[n - 1] = window->interval_s;
    }
    window->stamp_sd_s = fmin(measure_jitter(window), MOST_JITTER * window->interval_s);
    window->exposure_s = fmin(find_median_exposure(window), window->interval_s);
}

void lamp_window_drop(struct lamp_window *window, size_t count)
{
    const size_t kept = window->count - count;
    memmove(window->t_ns, window->t_ns + count, kept * sizeof *window->t_ns);
    memmove(window->exposure_ns, window->exposure_ns + count, kept * sizeof *window->exposure_ns);
    memmove(window->level, window->level + count, kept * sizeof *window->level);
    memmove(window->kind, window->kind + count, kept * sizeof *window->kind);
    window->count = kept;
    window->decided -= count;
}

enum lamp_state lamp_kind_begin(enum lamp_kind kind)
{
    static const uint8_t begin[LAMP_KIND_COUNT] = {
        [LAMP_KIND_DARK] = LAMP_STATE_DARK,   [LAMP_KIND_LIT] = LAMP_STATE_LIT,
        [LAMP_KIND_ON] = LAMP_STATE_DARK,     [LAMP_KIND_OFF] = LAMP_STATE_LIT,
        [LAMP_KIND_FLASH] = LAMP_STATE_DARK,  [LAMP_KIND_BREAK] = LAMP_STATE_LIT,
        [LAMP_KIND_RISING] = LAMP_STATE_DARK, [LAMP_KIND_SINKING] = LAMP_STATE_LIT,
    };
    return (enum lamp_state)begin[kind];
}

enum lamp_state lamp_kind_end(enum lamp_kind kind)
{
    static const uint8_t end[LAMP_KIND_COUNT] = {
        [LAMP_KIND_DARK] = LAMP_STATE_DARK,  [LAMP_KIND_LIT] = LAMP_STATE_LIT,
        [LAMP_KIND_ON] = LAMP_STATE_LIT,     [LAMP_KIND_OFF] = LAMP_STATE_DARK,
        [LAMP_KIND_FLASH] = LAMP_STATE_DARK, [LAMP_KIND_BREAK] = LAMP_STATE_LIT,
        [LAMP_KIND_RISING] = LAMP_STATE_UP,  [LAMP_KIND_SINKING] = LAMP_STATE_DOWN,
    };
    return (enum lamp_state)end[kind];
}

bool lamp_window_has_gap(const struct lamp_window *window, size_t i)
{
    return window->span_s[i] > GAP_INTERVALS * window->interval_s;
}

bool lamp_kind_is_soft(enum lamp_kind kind)
{
    return kind == LAMP_KIND_RISING || kind == LAMP_KIND_SINKING;
}
