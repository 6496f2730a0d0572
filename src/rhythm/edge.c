/* edge.c - Turn brightness into edges, placed between samples.
 *
 *     |<-- context -->|<---- decided now ---->|<-- looked ahead at -->|
 *     |    decided    |                       |    decided next time  |  a full window
 *
 * Samples gather until the window is full; then all of it is weighed together and the part with
 * enough on either side is decided. A flush decides all of it.
 */
#include "lampread/edge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/number.h"
#include "rhythm/crossing.h"
#include "rhythm/fold.h"
#include "rhythm/level.h"
#include "rhythm/place.h"
#include "rhythm/shape.h"
#include "rhythm/window.h"

/* Decided samples kept before, and undecided ones looked ahead at after, those being decided. */
#define CONTEXT 256
#define AHEAD   896

/* Most edges that may wait to be taken. */
#define WAITING_MAX (1 << 20)

/* Light is full scale at 1; farther than this from 0 nothing is measured. */
#define LEVEL_MAX 1e6

/* Edges over which the highest rate must hold: two whole cycles. */
#define FAST_EDGES 5

/* Light goes on as it was within this share of the step between two levels, so many sds of one. */
#define TAIL_STEP_SHARE 0.25
#define TAIL_SDS        4

/* An exposure told from edges is given from so many on. */
#define EXPOSURE_EDGES 4

/* Edges waiting to be taken. */
struct waiting {
    struct lamp_edge *at;
    size_t room;
    size_t count;
    size_t taken;
};

struct lamp_edger {
    struct lamp_edger_rules rules;
    struct lamp_window window;
    size_t accounted;          /* Samples of the window that are in `sums`. */
    struct lamp_levels levels; /* The last two that were found. */
    bool has_levels;
    struct lamp_exposure exposure;
    struct lamp_shape_sums sums;

    struct waiting waiting;
    struct lamp_edge held; /* Held until its length is known not to be a glitch. */
    bool is_held;
    int64_t newest_ns[FAST_EDGES]; /* Times of the newest edges. */
    uint64_t edge_count;
    bool first_is_lit;
    int64_t edge_ns;       /* The last edge placed, given or dropped. */
    struct lamp_hole hole; /* The longest since then, and that it lies in itself. */

    uint64_t sample_count;
    int64_t first_ns;
    int64_t newest_sample_ns;
    double interval_s;
    double fastest_hz;
    uint64_t glitch_count;
    uint64_t gap_count;
};

struct lamp_edger_rules lamp_edger_rules_default(void)
{
    return (struct lamp_edger_rules){
        .least_step = 0.12, .least_level = 0.004, .least_length_ns = 0};
}

enum lamp_err lamp_edger_new(const struct lamp_edger_rules *rules, struct lamp_edger **out)
{
    struct lamp_edger *edger = calloc(1, sizeof *edger);
    if (edger == NULL) {
        return LAMP_NO_MEMORY;
    }
    edger->rules = *rules;
    *out = edger;
    return LAMP_OK;
}

void lamp_edger_reset(struct lamp_edger *edger)
{
    const struct lamp_edger_rules rules = edger->rules;
    struct waiting waiting = edger->waiting;
    waiting.count = 0;
    waiting.taken = 0;
    memset(edger, 0, sizeof *edger);
    edger->rules = rules;
    edger->waiting = waiting;
}

void lamp_edger_free(struct lamp_edger *edger)
{
    if (edger != NULL) {
        free(edger->waiting.at);
        free(edger);
    }
}

/* Make room for all edges that one window can give. */
static enum lamp_err reserve(struct waiting *waiting)
{
    enum lamp_err err = LAMP_OK;
    while (err == LAMP_OK && waiting->room < waiting->count + (size_t)2 * LAMP_EDGER_WINDOW + 1) {
        err = lamp_array_room((void **)&waiting->at, &waiting->room, waiting->room,
                              sizeof *waiting->at, WAITING_MAX);
    }
    return err;
}

static void note_rate(struct lamp_edger *edger, int64_t t_ns)
{
    memmove(edger->newest_ns, edger->newest_ns + 1, (FAST_EDGES - 1) * sizeof *edger->newest_ns);
    edger->newest_ns[FAST_EDGES - 1] = t_ns;
    if (edger->edge_count + 1 < FAST_EDGES - 1) {
        return;
    }
    const bool is_first = edger->edge_count + 1 < FAST_EDGES;
    const int64_t since_ns = edger->newest_ns[is_first ? 1 : 0];
    const double cycles = (is_first ? FAST_EDGES - 2 : FAST_EDGES - 1) / 2.0;
    const double hz = t_ns > since_ns ? cycles * LAMP_NS_PER_S / (double)(t_ns - since_ns) : 0;
    edger->fastest_hz = edger->edge_count + 1 == FAST_EDGES ? hz : fmax(edger->fastest_hz, hz);
}

/* Let an edge wait to be taken. */
static void give(struct lamp_edger *edger, const struct lamp_edge *edge)
{
    note_rate(edger, edge->t_ns);
    if (edger->edge_count++ == 0) {
        edger->first_is_lit = edge->lit;
    }
    edger->waiting.at[edger->waiting.count++] = *edge;
}

static void release(struct lamp_edger *edger)
{
    if (edger->is_held) {
        give(edger, &edger->held);
        edger->is_held = false;
    }
}

static struct lamp_hole longer_hole(struct lamp_hole a, struct lamp_hole b)
{
    return b.end_ns - b.start_ns > a.end_ns - a.start_ns ? b : a;
}

/* Hold an edge back until the next one; the two go together if they are a glitch. */
static void hold(struct lamp_edger *edger, const struct lamp_edge *edge)
{
    if (edger->is_held && edge->t_ns - edger->held.t_ns < edger->rules.least_length_ns) {
        edger->is_held = false;
        edger->glitch_count++;
        edger->hole = longer_hole(edger->hole, longer_hole(edger->held.hole, edge->hole));
        return;
    }
    release(edger);
    edger->held = *edge;
    edger->is_held = true;
    if (edger->rules.least_length_ns <= 0) {
        release(edger);
    }
}

/* The hole before sample `i`. */
static struct lamp_hole hole_before(const struct lamp_window *window, size_t i)
{
    if (i == 0 || !lamp_window_has_gap(window, i - 1)) {
        return (struct lamp_hole){0, 0};
    }
    const int64_t start_ns = window->t_ns[i - 1] + window->exposure_ns[i - 1];
    return (struct lamp_hole){start_ns, window->t_ns[i]};
}

/* Place an edge. @param hole  before the sample that completes it. */
static void emit(struct lamp_edger *edger, const struct lamp_crossing *crossing,
                 struct lamp_hole hole)
{
    struct lamp_place place;
    lamp_edge_place(&edger->window, &edger->levels, &edger->exposure, crossing, &place);
    int64_t t_ns = edger->window.t_ns[0] + llround(place.t_s * LAMP_NS_PER_S);
    if (edger->edge_count + edger->glitch_count + edger->is_held > 0 && t_ns < edger->edge_ns) {
        t_ns = edger->edge_ns;
    }
    edger->edge_ns = t_ns;
    const struct lamp_edge edge = {.t_ns = t_ns,
                                   .sd_ns = llround(place.sd_s * LAMP_NS_PER_S),
                                   .lit = crossing->lit,
                                   .hole = edger->hole};
    edger->hole = hole.end_ns > t_ns ? hole : (struct lamp_hole){0, 0};
    hold(edger, &edge);
}

/* Emit the edges that are complete from sample `from` to before `to`. */
static void emit_all(struct lamp_edger *edger, size_t from, size_t to)
{
    struct lamp_crossing at[LAMP_CROSSINGS_AT_ONCE];
    struct lamp_exposure exposure = edger->exposure;
    for (size_t i = from; i < to; i++) {
        const size_t count = lamp_crossings_at(&edger->window, i, at);
        const struct lamp_hole hole = hole_before(&edger->window, i);
        edger->hole = longer_hole(edger->hole, hole);
        for (size_t c = 0; c < count; c++) {
            emit(edger, &at[c], hole);
            lamp_exposure_note(&exposure, &edger->window, &edger->levels.model, &at[c]);
        }
    }
    edger->exposure = exposure;
}

static void count_gaps(struct lamp_edger *edger, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++) {
        edger->gap_count += lamp_window_has_gap(&edger->window, i);
    }
}

/* Where to stop deciding: not within a soft edge. */
static size_t find_limit(const struct lamp_window *window, size_t wanted)
{
    size_t limit = wanted;
    while (limit > window->decided + 1 &&
           lamp_kind_is_soft((enum lamp_kind)window->kind[limit - 1])) {
        limit--;
    }
    return limit > window->decided + 1 ? limit : wanted;
}

/* Weigh the whole window and decide its samples up to `wanted`. */
static enum lamp_err decide(struct lamp_edger *edger, size_t wanted)
{
    enum lamp_err err = reserve(&edger->waiting);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_window *window = &edger->window;
    if (edger->edge_count + edger->glitch_count + edger->is_held == 0) {
        window->decided = 0;
    }
    struct lamp_levels levels;
    lamp_window_prepare(window);
    lamp_levels_fit(window, &edger->rules, edger->has_levels ? &edger->levels : NULL, &levels);
    if (levels.has_two) {
        lamp_crossings_prune(window, &levels.model, edger->rules.least_step * levels.lit);
    }
    const bool is_smooth = levels.has_two && lamp_shape_is_smooth(window, &levels);
    if (is_smooth || (levels.has_two && lamp_shape_is_settling(window, &levels))) {
        lamp_levels_take_one(window, &edger->rules, &levels);
    }
    lamp_exposure_learn(&edger->exposure, window, &levels);
    const size_t limit = wanted < window->count ? find_limit(window, wanted) : wanted;
    const struct lamp_shape_note note = {
        &levels, &edger->rules, {edger->accounted, window->decided, limit}, is_smooth};
    if (levels.has_two) {
        edger->levels = levels;
        edger->has_levels = true;
        emit_all(edger, window->decided, limit);
    }
    lamp_shape_add(&edger->sums, window, &note);
    count_gaps(edger, edger->accounted, limit);
    edger->interval_s = window->interval_s;
    window->decided = limit;
    edger->accounted = limit;
    return LAMP_OK;
}

/* Decide the older half if need be, and let go of what is no longer needed. */
static enum lamp_err make_room(struct lamp_edger *edger)
{
    struct lamp_window *window = &edger->window;
    const size_t wanted = LAMP_EDGER_WINDOW - AHEAD;
    if (edger->accounted < wanted) {
        enum lamp_err err = decide(edger, wanted);
        if (err != LAMP_OK) {
            return err;
        }
    }
    window->decided = edger->accounted;
    const size_t passed = edger->accounted - CONTEXT;
    lamp_window_drop(window, passed);
    edger->accounted -= passed;
    return LAMP_OK;
}

enum lamp_err lamp_edger_push(struct lamp_edger *edger, const struct lamp_sample *sample)
{
    const bool is_first = edger->sample_count == 0;
    if (isnan(sample->level) || (!is_first && sample->t_ns <= edger->newest_sample_ns)) {
        return LAMP_OK;
    }
    if (edger->window.count == LAMP_EDGER_WINDOW) {
        enum lamp_err err = make_room(edger);
        if (err != LAMP_OK) {
            return err;
        }
    }
    struct lamp_sample kept = *sample;
    kept.level = fmin(fmax(sample->level, -LEVEL_MAX), LEVEL_MAX);
    lamp_window_add(&edger->window, &kept);
    edger->first_ns = is_first ? sample->t_ns : edger->first_ns;
    edger->newest_sample_ns = sample->t_ns;
    edger->sample_count++;
    return LAMP_OK;
}

enum lamp_err lamp_edger_flush(struct lamp_edger *edger)
{
    enum lamp_err err = LAMP_OK;
    if (edger->accounted < edger->window.count) {
        err = decide(edger, edger->window.count);
    }
    if (err == LAMP_OK) {
        release(edger);
    }
    return err;
}

bool lamp_edger_next(struct lamp_edger *edger, struct lamp_edge *out)
{
    struct waiting *waiting = &edger->waiting;
    if (waiting->taken == waiting->count) {
        return false;
    }
    *out = waiting->at[waiting->taken++];
    if (waiting->taken == waiting->count) {
        waiting->taken = 0;
        waiting->count = 0;
    }
    return true;
}

struct lamp_hole lamp_edger_hole(const struct lamp_edger *edger)
{
    return edger->hole;
}

void lamp_edger_describe(const struct lamp_edger *edger, struct lamp_light_shape *out)
{
    struct lamp_light_shape shape = {
        .sample_count = edger->sample_count,
        .first_ns = edger->first_ns,
        .last_ns = edger->newest_sample_ns + llround(edger->interval_s * LAMP_NS_PER_S),
        .rate_hz = edger->interval_s > 0 ? 1 / edger->interval_s : 0,
        .fastest_hz = edger->fastest_hz,
        .glitch_count = edger->glitch_count,
        .gap_count = edger->gap_count,
    };
    const bool is_told = edger->exposure.sd_s <= 0 || edger->exposure.edges >= EXPOSURE_EDGES;
    shape.exposure_ns = is_told ? llround(edger->exposure.exposure_s * LAMP_NS_PER_S) : 0;
    lamp_shape_tell(&edger->sums, &edger->rules, &shape);
    *out = shape;
}

enum lamp_cycle_sign lamp_edger_find_cycle(const struct lamp_edger *edger)
{
    struct lamp_fold_light light;
    lamp_fold_take(&edger->window, &light);
    return lamp_fold_look(&light);
}

bool lamp_edger_starts_lit(const struct lamp_edger *edger)
{
    if (edger->edge_count > 0) {
        return !edger->first_is_lit;
    }
    struct lamp_light_shape shape;
    lamp_edger_describe(edger, &shape);
    return shape.shape == LAMP_SHAPE_CONSTANT ? shape.is_lit
                                              : shape.lit_level >= edger->rules.least_level;
}

enum lamp_err lamp_edger_copy(struct lamp_edger *to, const struct lamp_edger *from)
{
    struct waiting waiting = to->waiting;
    waiting.count = from->waiting.count;
    waiting.taken = from->waiting.taken;
    enum lamp_err err = reserve(&waiting);
    to->waiting.at = waiting.at;
    to->waiting.room = waiting.room;
    if (err != LAMP_OK) {
        return err;
    }
    if (waiting.count > 0) {
        memcpy(waiting.at, from->waiting.at, waiting.count * sizeof *waiting.at);
    }
    *to = *from;
    to->waiting = waiting;
    return LAMP_OK;
}

void lamp_edger_see_tail(const struct lamp_edger *edger, struct lamp_edger_tail *out)
{
    const struct lamp_window *window = &edger->window;
    struct lamp_light_shape shape;
    lamp_edger_describe(edger, &shape);
    const size_t last = window->count > 0 ? window->count - 1 : 0;
    const bool is_lit = window->kind[last] == LAMP_KIND_LIT;
    const double step = window->lit[last] - window->dark[last];
    out->t_ns = edger->newest_sample_ns;
    out->is_known = window->count > 0 && (is_lit || window->kind[last] == LAMP_KIND_DARK);
    out->level = is_lit ? window->lit[last] : window->dark[last];
    out->reach = step > 0 ? TAIL_STEP_SHARE * step
                          : fmax(TAIL_SDS * shape.noise, edger->rules.least_level / 2);
}

bool lamp_edger_goes_on(const struct lamp_edger *edger, const struct lamp_edger_tail *tail)
{
    const struct lamp_window *window = &edger->window;
    if (!tail->is_known || window->count == 0 || window->t_ns[0] > tail->t_ns) {
        return false;
    }
    for (size_t i = window->count; i-- > 0 && window->t_ns[i] > tail->t_ns;) {
        if (fabs(window->level[i] - tail->level) > tail->reach) {
            return false;
        }
    }
    return true;
}
