/* shutter.c - When a camera takes its frames: jittered, late, lost, at a rate that sways. */
#include <math.h>
#include <stdlib.h>

#include "base/fail.h"
#include "base/number.h"
#include "lampread/render.h"
#include "render/check.h"
#include "render/random.h"

/* Period of the sway of a variable frame rate, s. */
#define SWAY_S 7.0

/* Latest a late frame may be, share of the frame interval. */
#define LATEST 0.9

struct lamp_shutter {
    struct lamp_shutter_rules rules;
    struct random random;
    int64_t exposure_ns;
    double grid_ns; /* Where the next frame would start if it were on time, from start_ns. */
    uint64_t index;
    bool has_last;
    struct lamp_shutter_time last;
};

struct lamp_shutter_rules lamp_shutter_rules_default(void)
{
    return (struct lamp_shutter_rules){
        .rate_hz = 30,
        .exposure_ns = 10000000,
        .duration_ns = INT64_C(10) * LAMP_NS_PER_S,
        .seed = 1,
    };
}

static enum lamp_err check_rules(const struct lamp_shutter_rules *rules, struct lamp_error *error)
{
    const struct range ranges[] = {
        {"rate", rules->rate_hz, 0.1, 1e6},
        {"frame jitter", rules->jitter, 0, 1},
        {"dropped share", rules->drop_share, 0, 0.9},
        {"late share", rules->late_share, 0, 1},
        {"sway", rules->sway, 0, 0.9},
    };
    const struct check checks[] = {
        {"exposure", rules->exposure_ns > 0 && rules->exposure_ns <= LAMP_SCRIPT_NS_MAX,
         "above 0 and at most a day"},
        {"stamp sd", rules->stamp_sd_ns >= 0 && rules->stamp_sd_ns <= LAMP_NS_PER_S, "0 to 1 s"},
        {"start", llabs(rules->start_ns) <= LAMP_SCRIPT_NS_MAX, "within a day"},
        {"duration", rules->duration_ns > 0 && rules->duration_ns <= LAMP_SCRIPT_NS_MAX,
         "above 0 and at most a day"},
    };
    enum lamp_err err = check_ranges(ranges, sizeof ranges / sizeof *ranges, error);
    return err == LAMP_OK ? check_all(checks, sizeof checks / sizeof *checks, error) : err;
}

enum lamp_err lamp_shutter_new(const struct lamp_shutter_rules *rules, struct lamp_shutter **out,
                               struct lamp_error *error)
{
    enum lamp_err err = check_rules(rules, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_shutter *shutter = calloc(1, sizeof *shutter);
    if (shutter == NULL) {
        return lamp_fail_memory(error);
    }
    shutter->rules = *rules;
    random_init(&shutter->random, rules->seed, 1);
    const int64_t interval_ns = llround(LAMP_NS_PER_S * (1 - rules->sway) / rules->rate_hz);
    shutter->exposure_ns = rules->exposure_ns < interval_ns ? rules->exposure_ns : interval_ns;
    *out = shutter;
    return LAMP_OK;
}

/* Every frame draws the same count of numbers, so that one impairment does not change the others'
 * draws. */
static bool take_frame(struct lamp_shutter *shutter, struct lamp_shutter_time *out)
{
    const struct lamp_shutter_rules *rules = &shutter->rules;
    struct random *random = &shutter->random;
    const double interval_ns = LAMP_NS_PER_S / rules->rate_hz;
    double start_ns = shutter->grid_ns + rules->jitter * interval_ns * random_normal(random);
    const bool is_late = random_even(random) < rules->late_share;
    const double late_ns = LATEST * interval_ns * random_even(random);
    const bool is_lost = random_even(random) < rules->drop_share;
    const double stamp_ns = (double)rules->stamp_sd_ns * random_normal(random);
    if (is_late) {
        start_ns += late_ns;
    }
    out->exposure_ns = shutter->exposure_ns;
    out->start_ns = rules->start_ns + llround(fmax(0, start_ns));
    if (shutter->has_last && out->start_ns < shutter->last.start_ns + shutter->last.exposure_ns) {
        out->start_ns = shutter->last.start_ns + shutter->last.exposure_ns;
    }
    out->t_ns = out->start_ns + llround(stamp_ns);
    if (!shutter->has_last) { /* The first frame is where the clock of the clip begins. */
        out->start_ns = rules->start_ns;
        out->t_ns = rules->start_ns;
    }
    if (shutter->has_last && out->t_ns <= shutter->last.t_ns) {
        out->t_ns = shutter->last.t_ns + 1;
    }
    out->index = shutter->index++;
    shutter->grid_ns +=
        interval_ns * (1 + rules->sway * sin(TURN * shutter->grid_ns / (SWAY_S * LAMP_NS_PER_S)));
    return !(is_lost && shutter->has_last);
}

bool lamp_shutter_next(struct lamp_shutter *shutter, struct lamp_shutter_time *out)
{
    struct lamp_shutter_time time;
    while (llround(shutter->grid_ns) < shutter->rules.duration_ns) {
        if (take_frame(shutter, &time)) {
            shutter->has_last = true;
            shutter->last = time;
            *out = time;
            return true;
        }
    }
    return false;
}

void lamp_shutter_free(struct lamp_shutter *shutter)
{
    free(shutter);
}
