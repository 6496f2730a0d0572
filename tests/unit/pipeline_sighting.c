/* pipeline_sighting.c - What is told of a place that stays as it is. */
/* layers: base pipeline source light rhythm codebook match finding */
#include "pipeline/sighting.h"

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

int main(void)
{
    const TTest *const tests[] = {a_place_that_shone_when_it_was_found_is_steady,
                                  a_place_that_was_found_by_a_change_is_not_lit_throughout,
                                  a_pointed_place_that_does_not_shine_is_dark};
    return suite_run("sighting", tests, sizeof tests / sizeof *tests);
}
