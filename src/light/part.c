/* part.c - Parts of pictures: measured between whole ones, confirmed by the next of those. */
#include "light/viewer.h"

/* What the places did in a hole is not known, and no frame before it stands beside those after it.
 */
void lamp_viewer_note_hole(struct lamp_viewer *v)
{
    v->focus.had_part = true;
    v->focus.row_count = 0;
    for (size_t i = 0; i < v->place_count; i++) {
        v->place[i].needs_break = true;
    }
}

/* Whether the part of a picture holds all that is measured of a place. */
static bool is_held_by(const struct lamp_watched *w, const struct lamp_held *part)
{
    struct lamp_picture_part needed;
    const struct lamp_picture_part *given = &part->frame.part;
    lamp_focus_part_of(w, &part->motion, &needed);
    lamp_focus_clip(&needed, part->frame.y.width_px, part->frame.y.height_px);
    return needed.first_row_px >= given->first_row_px && needed.end_row_px <= given->end_row_px &&
           needed.first_column_px >= given->first_column_px &&
           needed.end_column_px <= given->end_column_px;
}

/* Of a part of a picture the known places are measured, where the last whole one had them. */
void lamp_viewer_measure_part(struct lamp_viewer *v, const struct lamp_frame *frame)
{
    if (v->held_count == 0) {
        return;
    }
    struct lamp_held part = {
        .frame = *frame, .motion = lamp_viewer_held(v, 0)->motion, .block_px = v->coarse.block_px};
    if (v->queue_count > LAMP_QUEUE_PARTS_MAX - LAMP_PLACES_MAX) {
        v->queue_ready = v->queue_count; /* no whole picture came for long */
    }
    v->focus.had_part = true;
    v->focus.row_count = 0;
    for (size_t i = 0; i < v->place_count; i++) {
        if (is_held_by(&v->place[i], &part)) {
            lamp_viewer_measure(v, i, &part);
        } else {
            v->place[i].needs_break = true;
        }
    }
}

/* Whether the picture stood still while parts of it were read is known from the next whole one. If
 * it did not, what was read may be of something beside the lamps: it is let go. */
void lamp_viewer_confirm_parts(struct lamp_viewer *v, const struct lamp_following *following)
{
    if (v->queue_count == v->queue_ready) {
        return;
    }
    if (!following->is_cut &&
        lamp_focus_is_still(&v->focus, &following->motion, v->width_px, v->height_px)) {
        v->queue_ready = v->queue_count;
        return;
    }
    v->queue_count = v->queue_ready;
    for (size_t i = 0; i < v->place_count; i++) {
        v->place[i].needs_break = true;
    }
}

void lamp_viewer_glance(struct lamp_viewer *v, const struct lamp_following *following)
{
    struct lamp_glance seen = {.t_ns = lamp_viewer_held(v, 0)->frame.t_ns,
                               .motion = &following->motion,
                               .is_new = lamp_viewer_sees_news(v),
                               .width_px = v->width_px,
                               .height_px = v->height_px};
    lamp_focus_glance(&v->focus, &seen, v->place, v->place_count);
}

void lamp_viewer_focus(const struct lamp_viewer *v, struct lamp_picture_part *out)
{
    *out = (struct lamp_picture_part){.end_row_px = 0};
    if (v->bands.seen_count > 0) {
        return; /* the bands of the room's light show on whole frames only */
    }
    lamp_focus_part(&v->focus, v->place, v->place_count, out);
    lamp_focus_clip(out, v->width_px, v->height_px);
    if (out->end_row_px <= out->first_row_px || out->end_column_px <= out->first_column_px) {
        *out = (struct lamp_picture_part){.end_row_px = 0};
    }
}
