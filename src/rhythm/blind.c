/* blind.c - Whether frames are missing wherever a change and back would have to be seen.
 *
 *   seen     #.#.#........#.#.#........      frames are left out at the end of each group ...
 *   holes    .....##...........##......
 *   truly    #.#.#.#......#.#.#.#......      ... and hide a flash of each: the count is wrong
 */
#include "rhythm/blind.h"

#include <math.h>

/* A flash that is shorter than the others by so much is still one of them. */
#define ROOM_SHARE 0.7

/* A part of all lengths of one class, ns after they begin. */
struct part {
    double from_ns;
    double to_ns;
};

static bool has_room(struct part part, double least_ns)
{
    return part.to_ns - part.from_ns >= least_ns;
}

/* What of `part` lies in the length's hole as well. @param begin_ns when the length began. */
static struct part share_hole(struct part part, const struct lamp_length *length, double begin_ns)
{
    return (struct part){fmax(part.from_ns, (double)length->hole.start_ns - begin_ns),
                         fmin(part.to_ns, (double)length->hole.end_ns - begin_ns)};
}

/* What all whole lengths of the class have in their holes. */
static struct part find_common(const struct lamp_row *row, bool is_lit, short class)
{
    struct part common = {-INFINITY, INFINITY};
    for (size_t i = 0; i < row->count; i++) {
        const struct lamp_length *length = &row->at[i];
        if (length->lit == is_lit && row->of[i] == class) {
            common = share_hole(common, length, (double)length->start_ns);
        }
    }
    return common;
}

/* Whether a length of which one end was not seen shows all of `part`, and nothing hides there. */
static bool is_shown_by(const struct lamp_length *cut, double mean_ns, struct part part,
                        double least_ns)
{
    const double start_ns = (double)cut->start_ns;
    const double end_ns = start_ns + (double)cut->ns;
    const double begin_ns = cut->cut_before ? end_ns - mean_ns : start_ns;
    const bool is_placed = cut->cut_before != cut->cut_after;
    return is_placed && start_ns <= begin_ns + part.from_ns && end_ns >= begin_ns + part.to_ns &&
           !has_room(share_hole(part, cut, begin_ns), least_ns);
}

static bool is_class_blind(const struct lamp_row *row, bool is_lit, short class)
{
    const struct lamp_classes *side = is_lit ? &row->lit : &row->dark;
    const struct lamp_classes *other = is_lit ? &row->dark : &row->lit;
    const double least_ns = ROOM_SHARE * exp(other->mean[0]);
    const struct part common = find_common(row, is_lit, class);
    if (!has_room(common, least_ns)) {
        return false;
    }
    for (size_t i = 0; i < row->count; i++) {
        if (row->at[i].lit == is_lit && row->of[i] == LAMP_CLASS_CUT &&
            is_shown_by(&row->at[i], exp(side->mean[class]), common, least_ns)) {
            return false;
        }
    }
    return true;
}

static bool is_side_blind(const struct lamp_row *row, bool is_lit)
{
    const struct lamp_classes *side = is_lit ? &row->lit : &row->dark;
    for (size_t class = 0; class < side->count; class ++) {
        if (side->members[class] > 0 && is_class_blind(row, is_lit, (short)class)) {
            return true;
        }
    }
    return false;
}

bool lamp_row_is_blind(const struct lamp_row *row)
{
    return row->lit.count > 0 && row->dark.count > 0 &&
           (is_side_blind(row, true) || is_side_blind(row, false));
}
