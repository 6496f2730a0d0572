/* preview.c - What a strand would say if its light ended now, kept while the light goes on as it
 * was. */
#include "pipeline/preview.h"

#include <stdlib.h>
#include <string.h>

#include "base/array.h"

bool lamp_preview_holds(const struct lamp_preview *preview, const struct lamp_strand *strand)
{
    return preview->is_made && lamp_strand_goes_on(strand, &preview->tail);
}

static enum lamp_err make_room(struct lamp_preview *preview, size_t count)
{
    enum lamp_err err = LAMP_OK;
    while (err == LAMP_OK && preview->room < count) {
        err = lamp_array_room((void **)&preview->length, &preview->room, preview->room,
                              sizeof *preview->length, LAMP_LENGTHS_MAX);
    }
    return err;
}

enum lamp_err lamp_preview_take(struct lamp_preview *preview, const struct lamp_strand *strand,
                                struct lamp_strand *scratch, int64_t end_ns)
{
    enum lamp_err err = lamp_strand_copy(scratch, strand);
    if (err == LAMP_OK) {
        err = lamp_strand_finish(scratch, end_ns);
    }
    struct lamp_strand_view view;
    if (err == LAMP_OK) {
        lamp_strand_see(scratch, &view);
        err = make_room(preview, view.count);
    }
    if (err != LAMP_OK) {
        return err;
    }
    if (view.count > 0) {
        memcpy(preview->length, view.length, view.count * sizeof *view.length);
    }
    view.length = preview->length;
    preview->view = view;
    lamp_strand_see_tail(scratch, &preview->tail);
    preview->end_ns = lamp_strand_newest_ns(strand);
    preview->is_made = true;
    return LAMP_OK;
}

void lamp_preview_lengthen(struct lamp_preview *preview, const struct lamp_strand *strand)
{
    int64_t more_ns = lamp_strand_newest_ns(strand) - preview->end_ns;
    if (preview->view.count > 0 && more_ns > 0) {
        preview->length[preview->view.count - 1].ns += more_ns;
        preview->view.shape.last_ns += more_ns;
        preview->end_ns += more_ns;
    }
}

void lamp_preview_fini(struct lamp_preview *preview)
{
    free(preview->length);
    *preview = (struct lamp_preview){0};
}
