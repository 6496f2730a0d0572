/* spool.c - Every sample of a reading in a file, so that memory does not grow, until it is known
 * which are a lamp's. */
#include "pipeline/spool.h"

static void keep(struct lamp_spool *spool, const struct lamp_spooled *spooled)
{
    if (spool->is_read) {
        spool->failed |= fseek(spool->file, 0, SEEK_END) != 0;
        spool->is_read = false;
    }
    spool->failed |= fwrite(spooled, sizeof *spooled, 1, spool->file) != 1;
}

void lamp_spool_reading(struct lamp_spool *spool, const struct lamp_reading *reading)
{
    if (spool->file == NULL) {
        return;
    }
    spool->life[reading->place] += reading->begins;
    struct lamp_spooled spooled = {.t_ns = reading->t_ns,
                                   .exposure_ns = reading->exposure_ns,
                                   .place = (uint32_t)reading->place,
                                   .life = spool->life[reading->place]};
    lamp_bundle_levels(reading, spooled.level);
    keep(spool, &spooled);
}

void lamp_spool_sample(struct lamp_spool *spool, size_t index, const struct lamp_sample *sample)
{
    if (spool->file == NULL) {
        return;
    }
    struct lamp_spooled spooled = {.t_ns = sample->t_ns,
                                   .exposure_ns = sample->exposure_ns,
                                   .level = {[LAMP_CHANNEL_ALL] = sample->level},
                                   .place = (uint32_t)index};
    keep(spool, &spooled);
}

void lamp_spool_rewind(struct lamp_spool *spool)
{
    if (spool->file != NULL) {
        spool->failed |= fflush(spool->file) != 0 || fseek(spool->file, 0, SEEK_SET) != 0;
        spool->is_read = true;
    }
}

enum lamp_err lamp_spool_next(struct lamp_spool *spool, struct lamp_spooled *out)
{
    struct lamp_spooled spooled;
    while (!spool->failed && fread(&spooled, sizeof spooled, 1, spool->file) == 1) {
        if (spooled.place >= LAMP_PLACES_MAX || spooled.life == spool->life[spooled.place]) {
            *out = spooled;
            return LAMP_OK;
        }
    }
    return spool->failed || ferror(spool->file) != 0 ? LAMP_CANNOT_WRITE : LAMP_END;
}
