/* split.c - Whether the light of one place is one lamp, or two colours of light by turns.
 *
 *   red    ▔▔▔▁▁▁▔▔▔▁▁▁       two lamps: their sum   ▔▔▔▔▔▔▔▔▔▔▔▔   is steady
 *   green  ▁▁▁▔▔▔▁▁▁▔▔▔
 */
#include "pipeline/split.h"

#include "pipeline/agree.h"

/* A channel that swings less than this share of the strongest one is left-over cross-talk. */
static const double least_swing = 0.3;

/* And less than this many times its noise, nothing. */
static const double least_over_noise = 6;

/* Edges of one lamp agree in all its channels but for the odd lost one; of two lamps, few do. */
static const double least_agreement = 0.6;

/* Correlation from which two colours are the light of one lamp. Independent lamps have none, lamps
 * by turns a negative one. */
static const double least_unison = 0.8;

/* A steady colour counts as a lamp from this share of the swing of the other on, if that goes this
 * dark. */
static const double least_steady = 0.5;
static const double most_left = 0.25;

/* The sum of all light is one lamp where it has two clean levels and swings as much as its
 * strongest channel does. */
static const double most_noise = 0.12;
static const double least_share = 0.8;

enum { EDGES_LEAST = 3 };

static double swing_of(const struct lamp_strand_view *view)
{
    bool swings =
        view->shape.shape != LAMP_SHAPE_CONSTANT && view->shape.shape != LAMP_SHAPE_SMOOTH;
    bool changes = lamp_edges_count(view->length, view->count) >= EDGES_LEAST;
    return swings && changes ? view->shape.lit_level - view->shape.dark_level : 0;
}

/* Which channels clearly go on and off, strongest first. */
static size_t find_modulated(const struct lamp_strand_view *view, size_t out[3])
{
    double greatest = 0;
    for (size_t i = 0; i < 3; i++) {
        double swing = swing_of(&view[i]);
        greatest = swing > greatest ? swing : greatest;
    }
    size_t count = 0;
    for (size_t i = 0; i < 3; i++) {
        double swing = swing_of(&view[i]);
        if (swing <= 0 || swing < least_swing * greatest ||
            swing < least_over_noise * view[i].shape.noise) {
            continue;
        }
        size_t at = count++;
        for (; at > 0 && swing_of(&view[out[at - 1]]) < swing; at--) {
            out[at] = out[at - 1];
        }
        out[at] = i;
    }
    return count;
}

/* One lamp lights both: they go up and down together, or at least their edges coincide. Light that
 * dips to all depths crosses its levels at other times in each colour, and is still one. */
static bool are_together(const struct lamp_strand_view *view, const struct lamp_unison *unison,
                         size_t a, size_t b)
{
    double rate_hz = view[a].shape.rate_hz;
    double frame_ns = rate_hz > 0 ? 1e9 / rate_hz : 0;
    return lamp_unison_of(unison, (int)a, (int)b) >= least_unison ||
           lamp_edges_agree(view[a].length, view[a].count, view[b].length, view[b].count,
                            (int64_t)frame_ns) >= least_agreement;
}

static void add_channel(const struct lamp_strand_view *view, const struct lamp_unison *unison,
                        size_t channel, struct lamp_split *split)
{
    for (size_t i = 0; i < split->count; i++) {
        if (are_together(view, unison, (size_t)split->part[i].strand, channel)) {
            split->part[i].has_channel[channel] = true;
            return;
        }
    }
    struct lamp_part *part = &split->part[split->count++];
    *part = (struct lamp_part){.strand = (enum lamp_channel)channel};
    part->has_channel[channel] = true;
}

/* A colour that stays on while the blinking one goes dark: it must be pure then, or it is only the
 * lens in room light. */
static void add_steady(const struct lamp_strand_view *view, struct lamp_split *split)
{
    const struct lamp_light_shape *blinking = &view[split->part[0].strand].shape;
    double swing = blinking->lit_level - blinking->dark_level;
    for (size_t i = 0; i < 3; i++) {
        const struct lamp_light_shape *shape = &view[i].shape;
        double others = 0;
        for (size_t j = 0; j < 3; j++) {
            bool darker = j == i || view[j].shape.dark_level <= others;
            others = darker ? others : view[j].shape.dark_level;
        }
        if (shape->shape == LAMP_SHAPE_CONSTANT && shape->is_lit &&
            shape->lit_level >= least_steady * swing && others <= most_left * shape->lit_level) {
            struct lamp_part *part = &split->part[split->count++];
            *part = (struct lamp_part){.strand = (enum lamp_channel)i};
            part->has_channel[i] = true;
            return;
        }
    }
}

/* Colours by turns cancel in the sum, and two rates make more than two levels of it: neither is one
 * lamp. Glow of a neighbour that falls on a lamp by turns does neither. */
static bool is_one_lamp(const struct lamp_strand_view *view, double strongest)
{
    const struct lamp_light_shape *all = &view[LAMP_CHANNEL_ALL].shape;
    double swing = swing_of(&view[LAMP_CHANNEL_ALL]);
    return all->shape == LAMP_SHAPE_TWO_LEVEL && swing > 0 && all->noise < most_noise * swing &&
           3 * swing >= least_share * strongest;
}

/* The strand that shows one lamp best: all its light, unless that has no two clean levels and the
 * light of one colour has. A neighbour of another colour spoils the one and not the other. */
static enum lamp_channel best_strand(const struct lamp_strand_view *view, const size_t *modulated,
                                     size_t count)
{
    enum lamp_shape all = view[LAMP_CHANNEL_ALL].shape.shape;
    size_t best = LAMP_CHANNEL_ALL;
    double most = 0;
    for (size_t i = 0; i < count && (all == LAMP_SHAPE_SMOOTH || all == LAMP_SHAPE_UNEVEN); i++) {
        const struct lamp_light_shape *shape = &view[modulated[i]].shape;
        double clarity = swing_of(&view[modulated[i]]) / (shape->noise + 1e-6);
        if (shape->shape == LAMP_SHAPE_TWO_LEVEL && clarity > most) {
            most = clarity;
            best = modulated[i];
        }
    }
    return (enum lamp_channel)best;
}

void lamp_split_decide(const struct lamp_strand_view view[LAMP_CHANNEL_COUNT],
                       const struct lamp_unison *unison, struct lamp_split *out)
{
    size_t modulated[3];
    size_t count = find_modulated(view, modulated);
    struct lamp_split split = {.count = 0};
    for (size_t i = 0; i < count; i++) {
        add_channel(view, unison, modulated[i], &split);
    }
    if (split.count == 1 && count == 1) {
        add_steady(view, &split);
    } else if (split.count > 1 && is_one_lamp(view, swing_of(&view[modulated[0]]))) {
        split.count = 1;
    }
    if (split.count < 2) {
        enum lamp_channel strand = best_strand(view, modulated, count);
        split = (struct lamp_split){
            .count = 1, .part = {{.strand = strand, .has_channel = {true, true, true}}}};
    }
    *out = split;
}
