/* select.c - Which sightings are lamps, and in what order they are told. */
#include "pipeline/select.h"

#include <math.h>
#include <stdlib.h>

#include "pipeline/agree.h"

/* How much a light must look like a lamp to be told as one, by what its light does. A rhythm speaks
 * for a lamp; a steady shine may be glare and irregular change a hand. Set on rendered and recorded
 * clips. */
static const double least_shine_steady = 0.5;
static const double least_likeness_irregular = 0.5;
static const double least_likeness_rhythm = 0.2;

/* A lamp is hardly dimmer than this share of what is white on the board; skin, sleeves and parts
 * that a hand uncovers are. A rhythm speaks for a dim one; to tell that it is irregular more is
 * asked than to tell that nothing can be said. */
static const double least_over_white_irregular = 0.8;
static const double least_over_white_undecided = 0.5;

/* Light of hard edges has no more than this share of soft ones. */
static const double most_soft = 0.5;

/* Irregular light of a lower percent flicker is as good as steady: a pin of gold that the hand
 * moves by parts of a pixel has it, and what a shadow passes over, without edges. */
static const double least_percent = 12;
static const double least_percent_edgeless = 50;

/* Edges that a reflection shares with its lamp, and how bright it can be. */
static const double least_shared = 0.7;
static const double least_shared_poorly = 0.5;
static const double most_reflected = 0.5;

/* Light of both colours of a lamp over that of one of them. */
static const double most_mixed = 8;

/* A lamp driven white is measured by its rim, and an image of it may seem as bright; close beside
 * the lamp, what is smaller by that much and brighter by no more is one. */
static const double most_of_area = 0.5;
static const double most_brighter = 1.5;

/* What does not blink regularly must have this share of the strongest lamp's light: less is glow on
 * the board, moved a little by the hand. */
static const double least_power = 0.08;

/* Linear light from which a core is driven to the top. */
static const double least_core_driven = 0.8;

/* Radii of a lamp within which steady light of its colour is its glow. */
static const double glow_reach = 4.0;

/* Regions that share this much of the smaller one are one place. */
static const double least_overlap = 0.3;

static bool is_steady(const struct lamp_sighting *sighting)
{
    enum lamp_verdict verdict = sighting->rhythm.verdict;
    return verdict == LAMP_VERDICT_STEADY_ON || verdict == LAMP_VERDICT_STEADY_OFF;
}

static bool is_rhythmic(const struct lamp_sighting *sighting)
{
    enum lamp_verdict verdict = sighting->rhythm.verdict;
    return verdict == LAMP_VERDICT_BLINK || verdict == LAMP_VERDICT_UNLISTED;
}

/* It goes on and off at once; shadows and hands come slowly. */
static bool has_hard_edges(const struct lamp_sighting *sighting)
{
    const struct lamp_light_shape *shape = &sighting->view.shape;
    return shape->shape == LAMP_SHAPE_TWO_LEVEL && shape->soft_share < most_soft;
}

static bool is_dim(const struct lamp_sighting *sighting)
{
    bool may_have_rhythm =
        sighting->rhythm.verdict == LAMP_VERDICT_UNDECIDED && has_hard_edges(sighting);
    double least = may_have_rhythm ? least_over_white_undecided : least_over_white_irregular;
    return sighting->over_white > 0 && (double)sighting->over_white < least;
}

static bool is_shallow(const struct lamp_sighting *sighting)
{
    const struct lamp_strand_view *view = &sighting->view;
    if (!view->has_shape) {
        return false;
    }
    if (lamp_edges_count(view->length, view->count) > 0) {
        return view->shape.percent_flicker < least_percent;
    }
    return view->shape.shape != LAMP_SHAPE_CONSTANT &&
           view->shape.percent_flicker < least_percent_edgeless;
}

static bool shines(const struct lamp_sighting *sighting)
{
    return (double)sighting->shine >= least_shine_steady;
}

static bool is_like_a_lamp(const struct lamp_sighting *sighting)
{
    if (sighting->is_pointed) {
        return true;
    }
    if (sighting->rhythm.verdict == LAMP_VERDICT_STEADY_OFF) {
        return false; /* dark throughout is only told where the user pointed */
    }
    if (is_steady(sighting)) {
        return shines(sighting);
    }
    if (is_rhythmic(sighting)) {
        return (double)sighting->likeness >= least_likeness_rhythm;
    }
    return (double)sighting->likeness >= least_likeness_irregular && !is_dim(sighting) &&
           (shines(sighting) || !is_shallow(sighting));
}

static int overlap_px(int a, int a_size, int b, int b_size)
{
    int first = a > b ? a : b;
    int last = a + a_size < b + b_size ? a + a_size : b + b_size;
    return last > first ? last - first : 0;
}

static bool do_overlap(const struct lamp_sighting *a, const struct lamp_sighting *b)
{
    const struct lamp_region *p = &a->region;
    const struct lamp_region *q = &b->region;
    double shared = (double)overlap_px(p->x_px, p->w_px, q->x_px, q->w_px) *
                    overlap_px(p->y_px, p->h_px, q->y_px, q->h_px);
    double smaller = fmin((double)p->w_px * p->h_px, (double)q->w_px * q->h_px);
    return shared > least_overlap * smaller;
}

static double centre_distance(const struct lamp_sighting *a, const struct lamp_sighting *b)
{
    const struct lamp_region *p = &a->region;
    const struct lamp_region *q = &b->region;
    double dx = p->x_px + 0.5 * p->w_px - q->x_px - 0.5 * q->w_px;
    double dy = p->y_px + 0.5 * p->h_px - q->y_px - 0.5 * q->h_px;
    return hypot(dx, dy);
}

static double size_of(const struct lamp_sighting *sighting)
{
    return fmax(sighting->region.w_px, sighting->region.h_px);
}

/* Near enough to lie in the glow: within `radii` half sizes of the lamp. */
static bool is_beside(const struct lamp_sighting *lamp, const struct lamp_sighting *other,
                      double radii)
{
    return centre_distance(lamp, other) <= radii * size_of(lamp) / 2;
}

/* Nearer than two lamps are mounted: a bright lamp drowns its own middle, and its rim is found in
 * pieces. */
static bool is_piece_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    return do_overlap(lamp, other) ||
           centre_distance(lamp, other) <= 0.75 * (size_of(lamp) + size_of(other));
}

/* A reflection keeps its lamp's colour or fades to white: light of another hue is another lamp's.
 */
static bool may_be_light_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    bool known = other->colour != LAMP_COLOUR_UNKNOWN && other->colour != LAMP_COLOUR_WHITE;
    return !known || other->colour == lamp->colour || lamp->colour == LAMP_COLOUR_UNKNOWN ||
           lamp->colour == LAMP_COLOUR_WHITE;
}

static bool share_edges(const struct lamp_sighting *a, const struct lamp_sighting *b, double least)
{
    double rate_hz = a->view.shape.rate_hz;
    int64_t frame_ns = rate_hz > 0 ? (int64_t)(1e9 / rate_hz) : 0;
    return lamp_edges_agree(a->view.length, a->view.count, b->view.length, b->view.count,
                            frame_ns) >= least;
}

static bool change_together(const struct lamp_sighting *a, const struct lamp_sighting *b)
{
    return share_edges(a, b, least_shared);
}

/* Light without rhythm in both: edges that differ are no sign of two lamps then. */
static bool is_irregular(const struct lamp_sighting *sighting)
{
    enum lamp_verdict verdict = sighting->rhythm.verdict;
    return verdict == LAMP_VERDICT_FLICKER || verdict == LAMP_VERDICT_FADE;
}

static bool are_irregular(const struct lamp_sighting *a, const struct lamp_sighting *b)
{
    return is_irregular(a) && is_irregular(b);
}

static double area_of(const struct lamp_sighting *sighting)
{
    return (double)sighting->region.w_px * sighting->region.h_px;
}

/* Much smaller than the lamp it is beside, and no brighter to speak of. Its core is not driven as
 * far: otherwise it is the lamp, and the larger one a part that it lights up. */
static bool is_small_beside(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    return area_of(other) < most_of_area * area_of(lamp) && other->core < lamp->core &&
           other->brightness < most_brighter * lamp->brightness &&
           is_beside(lamp, other, glow_reach);
}

/* All the light of a lamp: how bright, and how large. */
static double power_of(const struct lamp_sighting *sighting)
{
    return sighting->brightness * area_of(sighting);
}

/* A two-colour lamp that was found twice: where its light was told apart, its mixture is no third
 * lamp. What is far more than the part is no mixture with it, but a lamp that the part mirrors. */
static bool is_mixture_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    return lamp->parts > other->parts && is_piece_of(lamp, other) &&
           power_of(other) < most_mixed * power_of(lamp);
}

/* Whether something lit in one colour can look to be of the other: it has a colour of its own. */
static bool is_next_to(enum lamp_colour light, enum lamp_colour seen)
{
    static const enum lamp_colour circle[] = {LAMP_COLOUR_RED,    LAMP_COLOUR_ORANGE,
                                              LAMP_COLOUR_YELLOW, LAMP_COLOUR_GREEN,
                                              LAMP_COLOUR_BLUE,   LAMP_COLOUR_PURPLE};
    enum { COLOURS = sizeof circle / sizeof circle[0] };
    for (size_t i = 0; i < COLOURS; i++) {
        enum lamp_colour next = circle[(i + 1) % COLOURS];
        if ((light == circle[i] && seen == next) || (light == next && seen == circle[i])) {
            return true;
        }
    }
    return light == seen || seen == LAMP_COLOUR_WHITE || light == LAMP_COLOUR_WHITE;
}

/* Steady light of a lamp's colour close to it, and weaker: what it lights up. */
static bool is_glow_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    return is_steady(other) && !other->is_pointed && is_next_to(lamp->colour, other->colour) &&
           power_of(other) < most_reflected * power_of(lamp) && is_beside(lamp, other, glow_reach);
}

/* A lamp by what it sheds, and driven to the top: measured on its rim, of which little may be seen.
 */
static bool shines_driven(const struct lamp_sighting *sighting)
{
    return shines(sighting) && (double)sighting->core >= least_core_driven;
}

/* Too weak for a lamp of its own beside the strongest, unless its rhythm or its shine speaks for
 * it. */
static bool is_too_weak(const struct lamp_sighting *sighting, double strongest)
{
    return sighting->has_region && !sighting->is_pointed && !is_rhythmic(sighting) &&
           !is_steady(sighting) && !shines_driven(sighting) &&
           power_of(sighting) < least_power * strongest;
}

static double strongest_power(const struct lamp_sighting *sighting, size_t count)
{
    double strongest = 0;
    for (size_t i = 0; i < count; i++) {
        if (sighting[i].left_out == LAMP_LEFT_OUT_NOT && sighting[i].has_region) {
            strongest = fmax(strongest, power_of(&sighting[i]));
        }
    }
    return strongest;
}

/* A piece of a lamp's rim, or the same lamp found again: it goes with the lamp, or has no rhythm to
 * say otherwise. */
static bool is_rim_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    bool says_nothing = is_steady(other) || are_irregular(lamp, other);
    return is_piece_of(lamp, other) && may_be_light_of(lamp, other) &&
           (says_nothing || change_together(lamp, other));
}

/* The image of a lamp in something shiny: weaker, its colour or white, and it goes with the lamp.
 */
static bool is_image_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    bool has_edges = lamp_edges_count(other->view.length, other->view.count) > 0;
    bool is_weaker = other->brightness < most_reflected * lamp->brightness;
    return (is_weaker || is_small_beside(lamp, other)) && may_be_light_of(lamp, other) &&
           (has_edges || is_beside(lamp, other, glow_reach)) && change_together(lamp, other);
}

/* What a lamp lights up, seen so poorly that no rhythm comes of it: half of its edges are the
 * lamp's, which has one. */
static bool is_poor_image_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    bool says_nothing = !is_rhythmic(other) && !is_steady(other);
    return says_nothing && is_rhythmic(lamp) && may_be_light_of(lamp, other) &&
           other->core <= lamp->core && is_beside(lamp, other, glow_reach) &&
           share_edges(lamp, other, least_shared_poorly);
}

/* One was no longer seen when the other began to be: a cut, or a hand before the lens, was between.
 */
static bool take_turns(const struct lamp_sighting *a, const struct lamp_sighting *b)
{
    if (a->view.count == 0 || b->view.count == 0) {
        return false;
    }
    const struct lamp_length *a_last = &a->view.length[a->view.count - 1];
    const struct lamp_length *b_last = &b->view.length[b->view.count - 1];
    return a_last->start_ns + a_last->ns <= b->view.length[0].start_ns ||
           b_last->start_ns + b_last->ns <= a->view.length[0].start_ns;
}

/* The same lamp before or after such a break, for too short a time to say anything: what was seen
 * of it otherwise is told. */
static bool is_sight_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    return other->rhythm.verdict == LAMP_VERDICT_UNDECIDED &&
           lamp->rhythm.verdict != LAMP_VERDICT_UNDECIDED && !other->is_pointed &&
           do_overlap(lamp, other) && may_be_light_of(lamp, other) && take_turns(lamp, other);
}

/* Whether `other` is only light of `lamp`. */
static bool is_light_of(const struct lamp_sighting *lamp, const struct lamp_sighting *other)
{
    if (other->place == lamp->place || other->is_pointed || !lamp->has_region) {
        return false;
    }
    return is_sight_of(lamp, other) || is_mixture_of(lamp, other) || is_rim_of(lamp, other) ||
           is_glow_of(lamp, other) || is_image_of(lamp, other) || is_poor_image_of(lamp, other);
}

/* In the order in which they are told. */
enum rank { RANK_TOLD, RANK_UNDECIDED, RANK_STEADY, RANK_LEFT_OUT };

static enum rank rank_of(const struct lamp_sighting *sighting)
{
    if (sighting->left_out != LAMP_LEFT_OUT_NOT) {
        return RANK_LEFT_OUT;
    }
    if (is_steady(sighting)) {
        return RANK_STEADY;
    }
    return sighting->rhythm.verdict == LAMP_VERDICT_UNDECIDED ? RANK_UNDECIDED : RANK_TOLD;
}

/* Lamps before what is left out, changing before steady, what is told of it before what is not,
 * bright before dim; equal ones by where they were found. */
static int compare(const void *a, const void *b)
{
    const struct lamp_sighting *p = a;
    const struct lamp_sighting *q = b;
    if (rank_of(p) != rank_of(q)) {
        return (int)rank_of(p) - (int)rank_of(q);
    }
    if (p->brightness > q->brightness || p->brightness < q->brightness) {
        return p->brightness > q->brightness ? -1 : 1;
    }
    return (p->place > q->place) - (p->place < q->place);
}

/* Pointed ones win over found ones, light told apart over its mixture, a lamp over what is small
 * beside it, then the brighter over the dimmer. */
static bool goes_before(const struct lamp_sighting *a, const struct lamp_sighting *b)
{
    if (a->is_pointed != b->is_pointed) {
        return a->is_pointed;
    }
    if (is_sight_of(a, b) || is_sight_of(b, a)) {
        return is_sight_of(a, b);
    }
    if (is_small_beside(a, b) != is_small_beside(b, a)) {
        return is_small_beside(a, b);
    }
    return a->parts != b->parts && is_piece_of(a, b) ? a->parts > b->parts
                                                     : a->brightness >= b->brightness;
}

static bool is_light_of_any(const struct lamp_sighting *sighting, size_t count, size_t index)
{
    for (size_t i = 0; i < count; i++) {
        if (i != index && sighting[i].left_out == LAMP_LEFT_OUT_NOT &&
            goes_before(&sighting[i], &sighting[index]) &&
            is_light_of(&sighting[i], &sighting[index])) {
            return true;
        }
    }
    return false;
}

static void leave_out_unlike(struct lamp_sighting *sighting, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        sighting[i].left_out =
            is_like_a_lamp(&sighting[i]) ? LAMP_LEFT_OUT_NOT : LAMP_LEFT_OUT_UNLIKE;
    }
    double strongest = strongest_power(sighting, count);
    for (size_t i = 0; i < count; i++) {
        if (is_too_weak(&sighting[i], strongest)) {
            sighting[i].left_out = LAMP_LEFT_OUT_UNLIKE;
        }
    }
}

static void leave_out_light_of_others(struct lamp_sighting *sighting, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (sighting[i].left_out == LAMP_LEFT_OUT_NOT && is_light_of_any(sighting, count, i)) {
            sighting[i].left_out = LAMP_LEFT_OUT_REFLECTION;
        }
    }
}

size_t lamp_select(struct lamp_sighting *sighting, size_t count)
{
    leave_out_unlike(sighting, count);
    leave_out_light_of_others(sighting, count);
    qsort(sighting, count, sizeof *sighting, compare);
    size_t lamps = 0;
    while (lamps < count && sighting[lamps].left_out == LAMP_LEFT_OUT_NOT) {
        lamps++;
    }
    return lamps;
}
