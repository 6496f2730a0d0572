/* stretch.c - Which stretch of a recording is drawn large. */
#include "report/stretch.h"

#include <math.h>

#include "report/taken.h"

/* Drawn so wide, the finest length is still seen to be one. */
enum { FINEST_DRAWN = 110, BLINKS_DRAWN = 24, SWELLS_DRAWN = 8 };

bool lamp_stretch_whole(const struct lamp_report_lamp *lamp, struct lamp_stretch_of_time *out)
{
    bool has_samples = lamp->shape.sample_count > 0;
    int64_t first_ns = lamp->shape.first_ns;
    int64_t last_ns = lamp->shape.last_ns;
    if (lamp->length_count > 0) {
        int64_t end_ns = lamp_length_end_ns(&lamp->length[lamp->length_count - 1]);
        first_ns = has_samples && first_ns < lamp->length[0].start_ns ? first_ns
                                                                      : lamp->length[0].start_ns;
        last_ns = has_samples && last_ns > end_ns ? last_ns : end_ns;
    }
    if (last_ns <= first_ns) {
        return false;
    }
    *out = (struct lamp_stretch_of_time){first_ns, last_ns - first_ns};
    return true;
}

static int64_t longest_drawn(const struct lamp_report_lamp *lamp, int64_t whole_ns)
{
    int64_t finest_ns = lamp_finest_ns(lamp->length, lamp->length_count, &lamp->rhythm);
    double most_ns = (double)whole_ns;
    if (lamp->match.verdict == LAMP_VERDICT_FADE && lamp->shape.period_s > 0) {
        most_ns = fmin(most_ns, SWELLS_DRAWN * lamp->shape.period_s * 1e9);
    } else if (lamp->length_count > 1 && finest_ns < INT64_MAX) {
        most_ns = fmin(most_ns, FINEST_DRAWN * (double)finest_ns);
        int64_t period_ns = lamp_period_ns(&lamp->rhythm);
        bool blinks = lamp->rhythm.pattern.kind == LAMP_PATTERN_BLINK && period_ns > 0;
        most_ns = blinks ? fmin((double)whole_ns, BLINKS_DRAWN * (double)period_ns) : most_ns;
    }
    return (int64_t)most_ns;
}

/* How many repeats from `first` on are alike, of `count`. */
static size_t count_alike(const struct lamp_repeats *repeats, size_t first, size_t count)
{
    size_t alike = 0;
    for (size_t i = 0; i < count; i++) {
        alike += repeats->at[first + i].is_alike;
    }
    return alike;
}

static bool choose_repeats(const struct lamp_repeats *repeats, int64_t most_ns,
                           struct lamp_stretch_of_time *out)
{
    if (repeats->whole_count == 0 || repeats->period_ns <= 0) {
        return false;
    }
    size_t count = (size_t)(most_ns / repeats->period_ns);
    count = count < 1 ? 1 : count > repeats->count ? repeats->count : count;
    size_t best = 0;
    for (size_t first = 1; first + count <= repeats->count; first++) {
        best =
            count_alike(repeats, first, count) >= count_alike(repeats, best, count) ? first : best;
    }
    const struct lamp_repeat *last = &repeats->at[best + count - 1];
    int64_t margin_ns = repeats->period_ns / 50;
    *out = (struct lamp_stretch_of_time){repeats->at[best].start_ns - margin_ns,
                                         last->end_ns - repeats->at[best].start_ns + 2 * margin_ns};
    return out->span_ns > 0;
}

static void choose_busiest(const struct lamp_report_lamp *lamp, int64_t most_ns,
                           struct lamp_stretch_of_time *out)
{
    size_t most = 0;
    size_t end = 0;
    for (size_t i = 0; i < lamp->length_count; i++) {
        int64_t start_ns = lamp->length[i].start_ns;
        while (end < lamp->length_count && lamp->length[end].start_ns < start_ns + most_ns) {
            end++;
        }
        if (end - i > most) {
            most = end - i;
            out->start_ns = start_ns;
        }
    }
    out->span_ns = most_ns;
}

static void keep_inside(const struct lamp_stretch_of_time *whole, struct lamp_stretch_of_time *out)
{
    int64_t end_ns = whole->start_ns + whole->span_ns;
    out->span_ns = out->span_ns < whole->span_ns ? out->span_ns : whole->span_ns;
    out->start_ns = out->start_ns > whole->start_ns ? out->start_ns : whole->start_ns;
    out->start_ns = out->start_ns + out->span_ns > end_ns ? end_ns - out->span_ns : out->start_ns;
}

void lamp_stretch_choose(const struct lamp_report_lamp *lamp, const struct lamp_repeats *repeats,
                         struct lamp_stretch_of_time *out)
{
    struct lamp_stretch_of_time whole = {0, 1};
    (void)lamp_stretch_whole(lamp, &whole);
    int64_t most_ns = longest_drawn(lamp, whole.span_ns);
    *out = whole;
    if (most_ns >= whole.span_ns) {
        return;
    }
    if (!choose_repeats(repeats, most_ns, out)) {
        choose_busiest(lamp, most_ns, out);
    }
    keep_inside(&whole, out);
}
