/* replay.c - A recording given at its own pace, or faster, as a live source would give it.
 *
 *   recording  |o  o  o  o  o  o ...      due = began + (stamp - first stamp) / speed
 *   clock      |---------->|
 *   given      |o  o  o  o |              the next one is held until it is due: not yet
 */
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/fail.h"
#include "base/number.h"
#include "source/form.h"

static const char prefix[] = "replay:";

/* Without a pace of its own a replay still has nothing new now and then, as every live source. */
enum { ITEMS_BETWEEN_PAUSES = 8 };

static const double slowest = 0.01;
static const double fastest = 1e6;

struct replay {
    struct lamp_input *input;
    struct lamp_source *within;
    struct lamp_item held; /* Taken and not yet given. */
    bool has_held;
    bool has_begun;
    bool is_over;         /* The recording has no more; its end may be yet to come. */
    int64_t end_ns;       /* That end. */
    int64_t began_ns;     /* On the clock, when the first item was given. */
    int64_t first_ns;     /* Its stamp. */
    unsigned until_pause; /* Items until the next pause, without a pace. */
};

static bool suits_replay(const struct lamp_sniff *sniff)
{
    return sniff->is_absent && strncmp(sniff->name, prefix, sizeof prefix - 1) == 0;
}

static void close_replay(void *state)
{
    struct replay *replay = state;
    lamp_source_free(replay->within);
    free(replay);
}

static enum lamp_err open_replay(struct lamp_input *input, const struct lamp_sniff *sniff,
                                 void **state, struct lamp_error *error)
{
    double speed = input->rules.replay_speed;
    if (!(speed == 0 || (speed >= slowest && speed <= fastest))) {
        return lamp_fail(error, LAMP_BAD_USE, sniff->name,
                         "a replay's speed is 0 (as fast as can be) or %g to %g times its own",
                         slowest, fastest);
    }
    const char *name = sniff->name + sizeof prefix - 1;
    if (strncmp(name, prefix, sizeof prefix - 1) == 0) {
        return lamp_fail(error, LAMP_BAD_USE, sniff->name, "a replay cannot be replayed");
    }
    struct replay *replay = calloc(1, sizeof *replay);
    if (replay == NULL) {
        return lamp_fail_memory(error);
    }
    replay->input = input;
    replay->until_pause = ITEMS_BETWEEN_PAUSES;
    enum lamp_err err = lamp_source_open(name, &input->rules, &replay->within, error);
    if (err != LAMP_OK) {
        close_replay(replay);
        return err;
    }
    *state = replay;
    return LAMP_OK;
}

static int64_t clock_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * LAMP_NS_PER_S + now.tv_nsec;
}

/* How much of the recording's time has gone by since its first item. */
static int64_t passed_ns(const struct replay *replay)
{
    double passed = (double)(clock_ns() - replay->began_ns) * replay->input->rules.replay_speed;
    return passed < 9e18 ? (int64_t)passed : INT64_MAX;
}

static void sleep_for(int64_t ns)
{
    struct timespec rest = {.tv_sec = (time_t)(ns / LAMP_NS_PER_S),
                            .tv_nsec = (long)(ns % LAMP_NS_PER_S)};
    (void)nanosleep(&rest, NULL); /* a signal that cuts it short wants to be looked at */
}

/* Wait for `t_ns` of the recording for as long as a caller may be kept. @return whether it has
 * come.
 */
static bool wait_for(struct replay *replay, int64_t t_ns)
{
    double speed = replay->input->rules.replay_speed;
    int64_t due_ns = t_ns - replay->first_ns;
    int64_t early_ns = due_ns - passed_ns(replay);
    if (early_ns <= 0) {
        return true;
    }
    double rest_ns = (double)early_ns / speed;
    int64_t most_ns = replay->input->rules.wait_ns;
    sleep_for(rest_ns < (double)most_ns ? (int64_t)rest_ns + 1 : most_ns);
    return due_ns <= passed_ns(replay);
}

static bool is_due(struct replay *replay)
{
    if (replay->input->rules.replay_speed > 0) {
        return wait_for(replay, lamp_item_time_ns(&replay->held));
    }
    if (replay->until_pause > 0) {
        replay->until_pause--;
        return true;
    }
    replay->until_pause = ITEMS_BETWEEN_PAUSES;
    return false;
}

/* The recording's lamps are named, and its faults told, as they come up. */
static void copy_words(struct replay *replay)
{
    struct lamp_names *names = &replay->input->names;
    while (names->count < lamp_source_lamp_count(replay->within)) {
        (void)lamp_names_add(names, lamp_source_lamp_name(replay->within, names->count));
    }
    const char *note;
    for (int i = 0; (note = lamp_source_warning(replay->within, (size_t)i)) != NULL; i++) {
        lamp_notes_say(&replay->input->notes, i + 1, "%s", note);
    }
}

static enum lamp_err hold(struct replay *replay, struct lamp_error *error)
{
    enum lamp_err err = lamp_source_next(replay->within, &replay->held, error);
    copy_words(replay);
    if (err != LAMP_OK) {
        struct lamp_source_info info;
        lamp_source_describe(replay->within, &info);
        replay->is_over = true;
        replay->end_ns = replay->first_ns + (int64_t)(info.duration_s * LAMP_NS_PER_S);
        return err;
    }
    replay->has_held = true;
    if (!replay->has_begun) {
        replay->has_begun = true;
        replay->first_ns = lamp_item_time_ns(&replay->held);
        replay->began_ns = clock_ns();
    }
    return LAMP_OK;
}

static enum lamp_err next_replay(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct replay *replay = state;
    enum lamp_err err = replay->has_held ? LAMP_OK : hold(replay, error);
    bool has_pace = replay->has_begun && replay->input->rules.replay_speed > 0;
    if (err == LAMP_END && has_pace && !wait_for(replay, replay->end_ns)) {
        return LAMP_NOT_YET;
    }
    if (err != LAMP_OK) {
        return err;
    }
    if (!is_due(replay)) {
        return LAMP_NOT_YET;
    }
    *out = replay->held;
    replay->has_held = false;
    lamp_pace_push(&replay->input->pace, out->lamp, lamp_item_time_ns(out), 0);
    return LAMP_OK;
}

/* Between edges the light goes on as it is for as long as the clock runs, but not past an edge that
 * is only late in being given. */
static void describe_edges(const struct replay *replay, struct lamp_source_info *out)
{
    const struct lamp_pace *pace = &replay->input->pace;
    int64_t shown_ns = out->frame_count == 0 ? 0 : pace->last_ns - pace->first_ns;
    if (replay->has_begun && replay->input->rules.replay_speed > 0) {
        int64_t next_ns = replay->has_held ? lamp_item_time_ns(&replay->held) : replay->end_ns;
        int64_t clock_says_ns = passed_ns(replay);
        int64_t most_ns = next_ns - replay->first_ns;
        int64_t now_ns = clock_says_ns < most_ns ? clock_says_ns : most_ns;
        shown_ns = now_ns > shown_ns ? now_ns : shown_ns;
    }
    out->rate_hz = 0;
    out->dropped_count = 0;
    out->duration_s = (double)shown_ns / LAMP_NS_PER_S;
}

static void describe_replay(const void *state, struct lamp_source_info *out)
{
    const struct replay *replay = state;
    struct lamp_source_info within;
    lamp_source_describe(replay->within, &within);
    out->is_live = true;
    out->kind = within.kind;
    out->width_px = within.width_px;
    out->height_px = within.height_px;
    out->rotation_deg = within.rotation_deg;
    if (within.kind == LAMP_SOURCE_EDGES) {
        describe_edges(replay, out);
    }
    if (replay->is_over) {
        bool runs_on = out->duration_s < within.duration_s && within.kind == LAMP_SOURCE_EDGES;
        out->duration_s =
            runs_on && replay->input->rules.replay_speed > 0 ? out->duration_s : within.duration_s;
        out->rate_hz = within.rate_hz;
        out->dropped_count = within.dropped_count;
    }
}

static double replay_progress(const void *state)
{
    const struct replay *replay = state;
    return lamp_source_progress(replay->within);
}

const struct lamp_form lamp_form_replay = {
    .kind = LAMP_SOURCE_CLIP, /* that of the recording is told */
    .suits = suits_replay,
    .open = open_replay,
    .next = next_replay,
    .describe = describe_replay,
    .progress = replay_progress,
    .close = close_replay,
};
