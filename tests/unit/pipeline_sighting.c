/* pipeline_sighting.c - What is told of a place that stays as it is. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/sighting.h"

#include <math.h>

#include "support/lengths.h"
#include "support/suite.h"
#include "unit/pipeline_support.h"

/* A place that shines steadily. */
static struct lamp_sighting read_steady(const struct lamp_place *place)
{
    struct made_strand strand[LAMP_CHANNEL_COUNT];
    struct lamp_strand_view view[LAMP_CHANNEL_COUNT];
    for (size_t i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        make_constant(&strand[i], 0.8);
        view[i] = strand[i].view;
    }
    const struct lamp_unison unison = {.count = 0};
    const struct lamp_rhythm_rules rules = lamp_rhythm_rules_default();
    struct lamp_sighting out[3];
    ck_assert_uint_eq(lamp_sightings_of_place(place, 0, view, &unison, &rules, out), 1);
    return out[0];
}

START_TEST(a_place_that_shone_when_it_was_found_is_steady)
{
    const struct lamp_place place = {.likeness = 1, .shine = 0.9F};
    ck_assert_int_eq(read_steady(&place).rhythm.verdict, LAMP_VERDICT_STEADY_ON);
}
END_TEST

/* A pale lens, driven white by the room: something went on and off there, and none of it is seen.
 */
START_TEST(a_place_that_was_found_by_a_change_is_not_lit_throughout)
{
    const struct lamp_place place = {.likeness = 1, .shine = 0.9F, .is_by_change = true};
    const struct lamp_sighting sighting = read_steady(&place);
    ck_assert_int_eq(sighting.rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(sighting.rhythm.lack, LAMP_LACK_LIGHT);
    ck_assert_double_eq(sighting.rhythm.confidence, 0);
}
END_TEST

START_TEST(a_pointed_place_that_does_not_shine_is_dark)
{
    struct lamp_place place = {.is_pointed = true, .likeness = 1, .shine = 0.1F};
    ck_assert_int_eq(read_steady(&place).rhythm.verdict, LAMP_VERDICT_STEADY_OFF);
    place.shine = 0.3F;
    ck_assert_int_eq(read_steady(&place).rhythm.verdict, LAMP_VERDICT_UNDECIDED);
}
END_TEST

enum {
    FLASHES = 9,
    ON_MS = 25,
    OFF_MS = 20,
    REST_MS = 492,
    CYCLE_MS = FLASHES * (ON_MS + OFF_MS) + REST_MS
};

/* Time lit from 0 to `t_ms`, of nine flashes and a rest again and again. */
static double lit_ms(double t_ms)
{
    const double cycles = floor(t_ms / CYCLE_MS);
    const double within = t_ms - cycles * CYCLE_MS;
    const double flashes = fmin(floor(within / (ON_MS + OFF_MS)), FLASHES);
    const double rest = within - flashes * (ON_MS + OFF_MS);
    const double now = flashes < FLASHES ? fmin(rest, ON_MS) : 0;
    return (cycles * FLASHES + flashes) * ON_MS + now;
}

/* Filmed at 30 frames a second, of which one in twenty is lost. */
static struct lamp_strand *film_fast_code(void)
{
    const struct lamp_edger_rules rules = lamp_edger_rules_default();
    struct lamp_strand *strand = NULL;
    struct chance chance = {7};
    ck_assert_int_eq(lamp_strand_new(&rules, &strand), LAMP_OK);
    for (int i = 0; i < 600; i++) {
        const double t_ms = i * 1000 / 30.0;
        const double exposure_ms = 26.8;
        const struct lamp_sample sample = {
            .t_ns = llround(t_ms * 1e6),
            .exposure_ns = llround(exposure_ms * 1e6),
            .level = 0.02 + 0.5 * (lit_ms(t_ms + exposure_ms) - lit_ms(t_ms)) / exposure_ms +
                     0.003 * chance_normal(&chance)};
        if (chance_even(&chance) > 0.05) {
            ck_assert_int_eq(lamp_strand_push(strand, &sample, false), LAMP_OK);
        }
    }
    ck_assert_int_eq(lamp_strand_finish(strand, 0), LAMP_OK);
    return strand;
}

/* Its edges alone say flicker, and surely. */
START_TEST(a_code_too_fast_for_the_frames_is_no_flicker)
{
    const struct lamp_rhythm_rules rules = lamp_rhythm_rules_default();
    struct lamp_strand *strand = film_fast_code();
    struct lamp_strand_view view;
    struct lamp_rhythm rhythm;
    struct lamp_sighting sighting;
    lamp_strand_see(strand, &view);
    lamp_rhythm_read(view.length, view.count, &view.shape, &rules, &rhythm);
    ck_assert_int_eq(rhythm.verdict, LAMP_VERDICT_FLICKER);
    lamp_sighting_of_trace("status", 0, &view, &rules, &sighting);
    ck_assert_int_eq(sighting.rhythm.verdict, LAMP_VERDICT_UNDECIDED);
    ck_assert_int_eq(sighting.rhythm.lack, LAMP_LACK_RATE);
    lamp_strand_free(strand);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {a_code_too_fast_for_the_frames_is_no_flicker,
                                  a_place_that_shone_when_it_was_found_is_steady,
                                  a_place_that_was_found_by_a_change_is_not_lit_throughout,
                                  a_pointed_place_that_does_not_shine_is_dark};
    return suite_run("sighting", tests, sizeof tests / sizeof *tests);
}
