/* camera_count.c - Times from a camera's stamps, and frames missing by its sequence numbers. */
#include "source/camera_count.h"

#include <inttypes.h>

/* A jump of more is a driver that began to count anew. */
static const uint32_t jump_most = 100000;

enum { NOTE_LOST = 1, NOTE_BROKEN, NOTE_BACKWARD, NOTE_UNSTAMPED };

static void count_lost(struct lamp_count *count, uint32_t sequence)
{
    uint32_t step = sequence - count->sequence; /* wraps as the numbers do */
    if (count->has_first && step > 1 && step < jump_most) {
        count->lost += step - 1;
    }
    count->sequence = sequence;
}

bool lamp_count_frame(struct lamp_count *count, const struct lamp_video_frame *frame, int64_t *t_ns)
{
    count_lost(count, frame->sequence);
    if (!count->has_first) {
        count->has_first = true;
        count->origin_ns = frame->t_ns;
    }
    if (frame->is_damaged) {
        count->broken++;
        return false;
    }
    int64_t at_ns = frame->t_ns - count->origin_ns;
    if (at_ns < count->last_ns) {
        count->backward++;
        return false;
    }
    count->unstamped += !frame->is_by_driver;
    count->last_ns = at_ns;
    *t_ns = at_ns;
    return true;
}

void lamp_count_broken(struct lamp_count *count)
{
    count->broken++;
}

void lamp_count_tell(const struct lamp_count *count, struct lamp_notes *notes)
{
    if (count->lost > 0) {
        lamp_notes_say(notes, NOTE_LOST,
                       "frames lost on the way from the camera: %" PRIu64
                       "; the computer or the USB bus is too busy",
                       count->lost);
    }
    if (count->broken > 0) {
        lamp_notes_say(notes, NOTE_BROKEN, "damaged frames left out: %" PRIu64, count->broken);
    }
    if (count->backward > 0) {
        lamp_notes_say(notes, NOTE_BACKWARD,
                       "frames left out because they go back in time: %" PRIu64, count->backward);
    }
    if (count->unstamped > 0) {
        lamp_notes_say(notes, NOTE_UNSTAMPED,
                       "the camera's driver does not stamp its frames: they are timed by their "
                       "arrival, which is less exact");
    }
}
