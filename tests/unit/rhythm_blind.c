/* rhythm_blind.c - Frames that are missing wherever one more flash would be: no count is told. */
/* layers: base light rhythm codebook render */
#include "lampread/flash.h"
#include "lampread/group.h"
#include "support/edge_read.h"
#include "support/lengths.h"
#include "support/suite.h"

enum { FLASH_MS = 40, GAP_MS = 260, REST_MS = 1500, FLASHES = 5 };
enum { REPEAT_MS = FLASHES * FLASH_MS + (FLASHES - 1) * GAP_MS + REST_MS, REPEATS = 6 };

/* In each repeat these frames are missing. */
struct loss {
    int64_t from_ms; /* after the repeat begins; not below 0 */
    int64_t to_ms;
    int spared;       /* a repeat that lost none, -1 for none such */
    double by_chance; /* share of all frames that is missing besides */
};

static bool is_lost(const struct loss *loss, struct chance *chance, int64_t t_ns)
{
    const int64_t ms = t_ns / MS;
    if (chance_even(chance) < loss->by_chance) {
        return true;
    }
    return ms / REPEAT_MS != loss->spared && ms % REPEAT_MS >= loss->from_ms &&
           ms % REPEAT_MS < loss->to_ms;
}

static struct lamp_lengths *to_lengths(const struct edge_reading *reading)
{
    struct lamp_lengths *lengths = NULL;
    ck_assert_int_eq(lamp_lengths_new(&lengths), LAMP_OK);
    lamp_lengths_begin(lengths, reading->shape.first_ns, reading->starts_lit);
    for (size_t i = 0; i < reading->count; i++) {
        lamp_lengths_push(lengths, &reading->edge[i]);
    }
    lamp_lengths_note_hole(lengths, &reading->hole);
    lamp_lengths_end(lengths, reading->shape.last_ns);
    return lengths;
}

/* Five short flashes by turns with a rest, filmed without the frames of `loss`. */
static struct lamp_rhythm read_without(const struct loss *loss)
{
    static struct lamp_sample sample[EDGE_ROOM];
    static struct edge_reading reading;
    int wave_ms[2 * FLASHES];
    for (size_t i = 0; i < 2 * FLASHES; i++) {
        wave_ms[i] = i % 2 == 0 ? FLASH_MS : GAP_MS;
    }
    wave_ms[2 * FLASHES - 1] = REST_MS;
    struct lamp_script_rules script_rules = wave_rules(wave_ms, 2 * FLASHES);
    script_rules.duration_ns = REPEATS * (int64_t)REPEAT_MS * MS;
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter.duration_ns = script_rules.duration_ns;
    rules.shutter.rate_hz = 60;
    rules.shutter.exposure_ns = 10 * MS;
    struct lamp_script *script = make_script(&script_rules);
    const size_t count = take_samples(&rules, script, sample, EDGE_ROOM);
    lamp_script_free(script);
    struct chance chance = {1};
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (!is_lost(loss, &chance, sample[i].t_ns)) {
            sample[kept++] = sample[i];
        }
    }
    read_samples(sample, kept, &reading);
    struct lamp_lengths *lengths = to_lengths(&reading);
    size_t length_count;
    const struct lamp_length *length = lamp_lengths_all(lengths, &length_count);
    const struct lamp_rhythm_rules rhythm_rules = lamp_rhythm_rules_default();
    struct lamp_rhythm rhythm;
    lamp_rhythm_read(length, length_count, &reading.shape, &rhythm_rules, &rhythm);
    lamp_lengths_free(lengths);
    return rhythm;
}

static void expect_told(const struct loss *loss)
{
    const struct lamp_rhythm rhythm = read_without(loss);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNLISTED);
    ck_assert_uint_eq(rhythm.pattern.count, FLASHES);
}

START_TEST(a_flash_that_hides_in_every_repeat_leaves_it_undecided)
{
    const int64_t last_ms = REPEAT_MS - REST_MS - FLASH_MS;
    const struct loss loss = {last_ms - 40, last_ms + FLASH_MS + 40, -1, 0};
    const struct lamp_rhythm rhythm = read_without(&loss);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(rhythm.lack, LAMP_LACK_FRAMES);
    ck_assert_double_eq(rhythm.confidence, 0);
}
END_TEST

START_TEST(nothing_missing_is_told)
{
    expect_told(&(struct loss){0, 0, -1, 0});
}
END_TEST

/* Something may hide in each rest but one, and there nothing does. */
START_TEST(one_repeat_that_shows_the_place_is_enough)
{
    const int64_t rest_ms = REPEAT_MS - REST_MS + 400;
    expect_told(&(struct loss){rest_ms, rest_ms + 120, 2, 0});
    const struct loss in_all = {rest_ms, rest_ms + 120, -1, 0};
    ck_assert_int_eq(read_without(&in_all).lack, LAMP_LACK_FRAMES);
}
END_TEST

START_TEST(a_hole_too_small_for_a_flash_hides_none)
{
    const int64_t rest_ms = REPEAT_MS - REST_MS + 400;
    expect_told(&(struct loss){rest_ms, rest_ms + 25, -1, 0});
}
END_TEST

START_TEST(frames_lost_by_chance_hide_nothing)
{
    expect_told(&(struct loss){0, 0, -1, 0.02});
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        a_flash_that_hides_in_every_repeat_leaves_it_undecided,
        nothing_missing_is_told,
        one_repeat_that_shows_the_place_is_enough,
        a_hole_too_small_for_a_flash_hides_none,
        frames_lost_by_chance_hide_nothing,
    };
    return suite_run("blind", tests, sizeof tests / sizeof tests[0]);
}
