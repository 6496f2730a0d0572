/* peek.c - What was seen so far, told while light goes on.
 *
 *   strand   ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~> goes on
 *              | copy, finish       | goes on as it was: the last length
 *   preview     '--> lengths, shape  '--> is longer, nothing else is new
 */
#include <stdlib.h>

#include "base/number.h"
#include "pipeline/preview.h"
#include "pipeline/reader.h"

/* Finishing a copy weighs its whole window. A place that changes is looked at again after so much
 * for each sample of it, 2048 at most (0.4 s), and one that does not after so long. */
static const int64_t spacing_ns_per_sample = 200000;
static const int64_t longest_spacing_ns = INT64_C(5000000000);

/* One peek weighs about so many samples and leaves further places to the next, so that frames are
 * not kept waiting: some 30 ms. */
enum { SAMPLES_AT_ONCE = 2 * LAMP_EDGER_WINDOW };

/* What is known of a place, or of a trace. */
struct look {
    struct lamp_preview preview[LAMP_CHANNEL_COUNT];
    uint32_t life;
    int64_t at_ns; /* the light up to here was weighed */
};

struct lamp_peeker {
    struct lamp_strand *scratch[2]; /* for samples, and for edges that come ready */
    struct look place[LAMP_PLACES_MAX];
    struct look trace[LAMP_SOURCE_LAMPS_MAX];
    size_t first;     /* place that is looked at first, a different one each time */
    uint64_t weighed; /* samples, by this peek */
    struct lamp_conclusion told;
};

void lamp_peeker_free(struct lamp_peeker *peeker)
{
    if (peeker == NULL) {
        return;
    }
    for (size_t j = 0; j < LAMP_CHANNEL_COUNT; j++) {
        for (size_t i = 0; i < LAMP_PLACES_MAX; i++) {
            lamp_preview_fini(&peeker->place[i].preview[j]);
        }
        for (size_t i = 0; i < LAMP_SOURCE_LAMPS_MAX; i++) {
            lamp_preview_fini(&peeker->trace[i].preview[j]);
        }
    }
    lamp_strand_free(peeker->scratch[0]);
    lamp_strand_free(peeker->scratch[1]);
    free(peeker);
}

static enum lamp_err make_peeker(struct lamp_reader *reader)
{
    struct lamp_peeker *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    enum lamp_err err = lamp_strand_new(&reader->rules.edger, &made->scratch[0]);
    if (err == LAMP_OK) {
        err = lamp_strand_new(NULL, &made->scratch[1]);
    }
    if (err != LAMP_OK) {
        lamp_peeker_free(made);
        return err;
    }
    reader->peeker = made;
    return LAMP_OK;
}

static bool holds(const struct look *look, struct lamp_strand *const *strand, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!lamp_preview_holds(&look->preview[i], strand[i])) {
            return false;
        }
    }
    return true;
}

/* Samples that a look at the strands of `look` weighed last, each. */
static uint64_t samples_of(const struct look *look)
{
    uint64_t samples = look->preview[0].view.shape.sample_count;
    return samples < LAMP_EDGER_WINDOW ? samples : LAMP_EDGER_WINDOW;
}

static bool is_due(const struct lamp_peeker *peeker, const struct look *look, bool goes_on,
                   int64_t now_ns)
{
    int64_t changing_ns = (int64_t)samples_of(look) * spacing_ns_per_sample;
    int64_t spacing_ns = goes_on ? longest_spacing_ns : changing_ns;
    return !look->preview[0].is_made ||
           (now_ns - look->at_ns >= spacing_ns && peeker->weighed < SAMPLES_AT_ONCE);
}

/* Bring a look at strands that belong together up to date. */
static enum lamp_err look_at(struct lamp_peeker *peeker, struct look *look,
                             struct lamp_strand *const *strand, size_t count, int64_t end_ns)
{
    bool has_edges = lamp_strand_takes_edges(strand[0]);
    int64_t now_ns = lamp_strand_newest_ns(strand[0]);
    bool goes_on = holds(look, strand, count);
    if (!has_edges && !is_due(peeker, look, goes_on, now_ns)) {
        for (size_t i = 0; goes_on && i < count; i++) {
            lamp_preview_lengthen(&look->preview[i], strand[i]);
        }
        return LAMP_OK;
    }
    enum lamp_err err = LAMP_OK;
    for (size_t i = 0; err == LAMP_OK && i < count; i++) {
        err = lamp_preview_take(&look->preview[i], strand[i], peeker->scratch[has_edges], end_ns);
    }
    peeker->weighed += count * samples_of(look);
    look->at_ns = now_ns;
    return err;
}

/* A place that began anew has nothing to do with what was seen there before. */
static void forget_former(struct look *look, uint32_t life)
{
    for (size_t i = 0; look->life != life && i < LAMP_CHANNEL_COUNT; i++) {
        lamp_preview_fini(&look->preview[i]);
    }
    look->life = life;
}

static enum lamp_err look_at_place(struct lamp_reader *reader, size_t index)
{
    struct lamp_peeker *peeker = reader->peeker;
    struct look *look = &peeker->place[index];
    forget_former(look, reader->life[index]);
    enum lamp_err err = look_at(peeker, look, reader->bundle[index].strand, LAMP_CHANNEL_COUNT, 0);
    for (size_t i = 0; i < LAMP_CHANNEL_COUNT; i++) {
        peeker->told.place[index][i] = look->preview[i].view;
    }
    return err;
}

static enum lamp_err look_at_trace(struct lamp_reader *reader, size_t index, int64_t end_ns)
{
    struct lamp_peeker *peeker = reader->peeker;
    struct look *look = &peeker->trace[index];
    enum lamp_err err = look_at(peeker, look, &reader->trace[index], 1, end_ns);
    peeker->told.trace[index] = look->preview[0].view;
    return err;
}

static enum lamp_err look_at_all(struct lamp_reader *reader, int64_t end_ns)
{
    struct lamp_peeker *peeker = reader->peeker;
    enum lamp_err err = LAMP_OK;
    peeker->weighed = 0;
    peeker->first++;
    for (size_t n = 0; err == LAMP_OK && n < LAMP_PLACES_MAX; n++) {
        size_t i = (peeker->first + n) % LAMP_PLACES_MAX;
        err = reader->has_bundle[i] ? look_at_place(reader, i) : LAMP_OK;
    }
    for (size_t n = 0; err == LAMP_OK && n < LAMP_SOURCE_LAMPS_MAX; n++) {
        size_t i = (peeker->first + n) % LAMP_SOURCE_LAMPS_MAX;
        err = reader->trace[i] != NULL ? look_at_trace(reader, i, end_ns) : LAMP_OK;
    }
    return err;
}

enum lamp_err lamp_reader_peek(struct lamp_reader *reader, const struct lamp_source *source,
                               const struct lamp_report **out)
{
    enum lamp_err err = reader->peeker == NULL ? make_peeker(reader) : LAMP_OK;
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_conclusion *told = &reader->peeker->told;
    err = look_at_all(reader, lamp_conclude_begin(reader, source, told));
    if (err != LAMP_OK) {
        return err;
    }
    lamp_conclude(reader, source, told);
    *out = &told->report;
    return LAMP_OK;
}
