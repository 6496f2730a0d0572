/* sighting.c - A light that may be a lamp: what was seen of it, before it is chosen and named. */
#include "pipeline/sighting.h"

#include "pipeline/split.h"

static void read_rhythm(struct lamp_sighting *sighting, const struct lamp_rhythm_rules *rules)
{
    const struct lamp_strand_view *view = &sighting->view;
    lamp_rhythm_read(view->length, view->count, view->has_shape ? &view->shape : NULL, rules,
                     &sighting->rhythm);
}

/* The light of a whole place, or what the channels of one part of it swing by. */
static void take_light(struct lamp_sighting *sighting, const struct lamp_place *place,
                       const struct lamp_strand_view *view, const struct lamp_part *part)
{
    double sum = 0;
    for (size_t i = 0; i < 3; i++) {
        double swing = view[i].shape.lit_level - view[i].shape.dark_level;
        double steady = swing > 0 ? swing : view[i].shape.lit_level;
        double light = sighting->parts == 1   ? (double)place->lit_rgb[i]
                       : part->has_channel[i] ? steady
                                              : 0;
        sighting->rgb[i] = (float)light;
        sum += light;
    }
    sighting->brightness = sum / 3;
    sighting->colour = lamp_colour_of(sighting->rgb);
}

size_t lamp_sightings_of_place(const struct lamp_place *place, size_t index,
                               const struct lamp_bundle *bundle,
                               const struct lamp_rhythm_rules *rules, struct lamp_sighting out[3])
{
    struct lamp_strand_view view[LAMP_CHANNEL_COUNT];
    for (size_t i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        lamp_strand_see(bundle->strand[i], &view[i]);
    }
    struct lamp_split split;
    lamp_split_decide(view, &split);
    for (size_t i = 0; i < split.count; i++) {
        out[i] = (struct lamp_sighting){.view = view[split.part[i].strand],
                                        .is_pointed = place->is_pointed,
                                        .has_region = true,
                                        .region = place->region,
                                        .place = index,
                                        .parts = split.count,
                                        .channel = split.part[i].strand,
                                        .likeness = place->likeness,
                                        .shine = place->shine};
        take_light(&out[i], place, view, &split.part[i]);
        read_rhythm(&out[i], rules);
    }
    return split.count;
}

void lamp_sighting_of_trace(const char *name, size_t index, const struct lamp_strand *strand,
                            const struct lamp_rhythm_rules *rules, struct lamp_sighting *out)
{
    *out = (struct lamp_sighting){.name = name,
                                  .is_pointed = true,
                                  .place = index,
                                  .parts = 1,
                                  .channel = LAMP_CHANNEL_ALL,
                                  .likeness = 1,
                                  .shine = 1};
    lamp_strand_see(strand, &out->view);
    out->brightness = out->view.shape.lit_level;
    read_rhythm(out, rules);
}
