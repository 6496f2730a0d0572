/* sighting.c - A light that may be a lamp: what was seen of it, before it is chosen and named. */
#include "pipeline/sighting.h"

#include "pipeline/split.h"

/* Shine from which a pointed lamp that never changed is lit, and up to which it is dark. */
static const float lit_shine = 0.4F;
static const float dark_shine = 0.15F;

/* Light without a rhythm, as far as its edges show it. */
static bool seems_irregular(const struct lamp_rhythm *rhythm)
{
    return rhythm->verdict == LAMP_VERDICT_FLICKER ||
           (rhythm->verdict == LAMP_VERDICT_UNDECIDED && rhythm->lack == LAMP_LACK_RATE);
}

/* A lamp too fast for the frames looks irregular, which it must not be called. To look for its
 * cycle takes longer than all the rest, so that is done only where it matters. */
static void read_rhythm(struct lamp_sighting *sighting, const struct lamp_rhythm_rules *rules)
{
    struct lamp_strand_view *view = &sighting->view;
    struct lamp_rhythm *rhythm = &sighting->rhythm;
    const struct lamp_light_shape *shape = view->has_shape ? &view->shape : NULL;
    lamp_rhythm_read(view->length, view->count, shape, rules, rhythm);
    if (view->edger != NULL && seems_irregular(rhythm)) {
        view->shape.cycle = lamp_edger_find_cycle(view->edger);
        lamp_rhythm_read(view->length, view->count, shape, rules, rhythm);
    }
}

/* The place was seen lit in the colour of this part: its strongest channel is one of the part's. */
static bool shows_part(const struct lamp_place *place, const struct lamp_part *part)
{
    size_t strongest = 0;
    for (size_t i = 1; i < 3; i++) {
        strongest = place->lit_rgb[i] > place->lit_rgb[strongest] ? i : strongest;
    }
    return part->has_channel[strongest];
}

/* What one channel adds to the light of a part that the place was not seen lit in: what it swings
 * by, or shines with. */
static float channel_light(const struct lamp_light_shape *shape)
{
    double swing = shape->lit_level - shape->dark_level;
    return (float)(swing > 0 ? swing : shape->lit_level);
}

/* The light of a whole place, or of one part of it. */
static void take_light(struct lamp_sighting *sighting, const struct lamp_place *place,
                       const struct lamp_strand_view *view, const struct lamp_part *part)
{
    bool is_shown = sighting->parts == 1 || shows_part(place, part);
    double sum = 0;
    for (size_t i = 0; i < 3; i++) {
        float light = is_shown ? place->lit_rgb[i] : channel_light(&view[i].shape);
        sighting->rgb[i] = part->has_channel[i] ? light : 0;
        sum += (double)sighting->rgb[i];
    }
    sighting->brightness = sum / 3;
    sighting->colour = lamp_colour_of(sighting->rgb);
}

/* A lamp that was pointed at and never changed may be dark: its lens is often brighter than the
 * board. What shines sheds light on its surroundings; in between it cannot be told. */
static void judge_pointed(struct lamp_sighting *sighting)
{
    struct lamp_rhythm *rhythm = &sighting->rhythm;
    if (!sighting->is_pointed || rhythm->verdict != LAMP_VERDICT_STEADY_ON ||
        sighting->shine >= lit_shine) {
        return;
    }
    bool is_dark = sighting->shine <= dark_shine;
    rhythm->verdict = is_dark ? LAMP_VERDICT_STEADY_OFF : LAMP_VERDICT_UNDECIDED;
    rhythm->lack = is_dark ? LAMP_LACK_NOTHING : LAMP_LACK_LIGHT;
    rhythm->pattern.kind = is_dark ? LAMP_PATTERN_STEADY_OFF : LAMP_PATTERN_NONE;
    sighting->view.shape.is_lit = !is_dark;
}

/* What was found because it changed, and is then as good as constant where it is measured, may be a
 * lens so bright in the room that only the light about it shows what the lamp does. */
static void judge_changed(struct lamp_sighting *sighting)
{
    struct lamp_rhythm *rhythm = &sighting->rhythm;
    if (rhythm->verdict == LAMP_VERDICT_STEADY_ON && sighting->shine >= lit_shine) {
        rhythm->verdict = LAMP_VERDICT_UNDECIDED;
        rhythm->lack = LAMP_LACK_LIGHT;
        rhythm->confidence = 0;
        rhythm->pattern.kind = LAMP_PATTERN_NONE;
    }
}

/* NOLINTNEXTLINE(readability-function-size): what is known of a place comes from six sides */
size_t lamp_sightings_of_place(const struct lamp_place *place, size_t index,
                               const struct lamp_strand_view view[LAMP_CHANNEL_COUNT],
                               const struct lamp_unison *unison,
                               const struct lamp_rhythm_rules *rules, struct lamp_sighting out[3])
{
    struct lamp_split split;
    lamp_split_decide(view, unison, &split);
    for (size_t i = 0; i < split.count; i++) {
        out[i] = (struct lamp_sighting){.view = view[split.part[i].strand],
                                        .is_pointed = place->is_pointed,
                                        .has_region = true,
                                        .region = place->region,
                                        .place = index,
                                        .parts = split.count,
                                        .channel = split.part[i].strand,
                                        .likeness = place->likeness,
                                        .shine = place->shine,
                                        .core = place->core,
                                        .over_white = place->over_white};
        take_light(&out[i], place, view, &split.part[i]);
        read_rhythm(&out[i], rules);
        judge_pointed(&out[i]);
        if (place->is_by_change) {
            judge_changed(&out[i]);
        }
    }
    return split.count;
}

void lamp_sighting_of_trace(const char *name, size_t index, const struct lamp_strand_view *view,
                            const struct lamp_rhythm_rules *rules, struct lamp_sighting *out)
{
    *out = (struct lamp_sighting){.name = name,
                                  .is_pointed = true,
                                  .place = index,
                                  .parts = 1,
                                  .channel = LAMP_CHANNEL_ALL,
                                  .likeness = 1,
                                  .shine = 1};
    out->view = *view;
    out->brightness = out->view.shape.lit_level;
    read_rhythm(out, rules);
}
