/* glance.c - What a strand would say if its light ended now, kept while the light goes on as it
 * was. */
#include "pipeline/glance.h"

#include <stdlib.h>
#include <string.h>

#include "base/array.h"

bool lamp_glance_holds(const struct lamp_glance *glance, const struct lamp_strand *strand)
{
    return glance->is_made && lamp_strand_goes_on(strand, &glance->tail);
}

static enum lamp_err make_room(struct lamp_glance *glance, size_t count)
{
    enum lamp_err err = LAMP_OK;
    while (err == LAMP_OK && glance->room < count) {
        err = lamp_array_room((void **)&glance->length, &glance->room, glance->room,
                              sizeof *glance->length, LAMP_LENGTHS_MAX);
    }
    return err;
}

enum lamp_err lamp_glance_take(struct lamp_glance *glance, const struct lamp_strand *strand,
                               struct lamp_strand *scratch, int64_t end_ns)
{
    enum lamp_err err = lamp_strand_copy(scratch, strand);
    if (err == LAMP_OK) {
        err = lamp_strand_finish(scratch, end_ns);
    }
    struct lamp_strand_view view;
    if (err == LAMP_OK) {
        lamp_strand_see(scratch, &view);
        err = make_room(glance, view.count);
    }
    if (err != LAMP_OK) {
        return err;
    }
    if (view.count > 0) {
        memcpy(glance->length, view.length, view.count * sizeof *view.length);
    }
    view.length = glance->length;
    glance->view = view;
    lamp_strand_see_tail(scratch, &glance->tail);
    glance->end_ns = lamp_strand_newest_ns(strand);
    glance->is_made = true;
    return LAMP_OK;
}

void lamp_glance_lengthen(struct lamp_glance *glance, const struct lamp_strand *strand)
{
    int64_t more_ns = lamp_strand_newest_ns(strand) - glance->end_ns;
    if (glance->view.count > 0 && more_ns > 0) {
        glance->length[glance->view.count - 1].ns += more_ns;
        glance->view.shape.last_ns += more_ns;
        glance->end_ns += more_ns;
    }
}

void lamp_glance_fini(struct lamp_glance *glance)
{
    free(glance->length);
    *glance = (struct lamp_glance){0};
}
