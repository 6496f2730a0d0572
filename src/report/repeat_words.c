/* repeat_words.c - Where a repeat differs from the pattern, in words. */
#include "report/repeats.h"
#include "report/words.h"

/* Most differences told of one repeat. */
enum { DIFFERENCES_TOLD = 3 };

/* The number of a flash in the cycle, counted from 1: of the step at `at`, or the last before it.
 */
static size_t flash_number(const struct lamp_repeats *repeats, size_t at)
{
    size_t number = 0;
    for (size_t i = 0; i <= at; i++) {
        number += lamp_taken_is_lit(repeats->cycle[i]);
    }
    return number;
}

static void tell_dark(const struct lamp_repeat_step *step, const char *which, const char *time,
                      struct lamp_text *out)
{
    const char *wanted = step->wanted == LAMP_TAKEN_REST ? "rest" : "pause";
    if (step->sameness == LAMP_MORE) {
        lamp_text_add(out, "dark for %s after the %s flash", time, which);
    } else if (step->sameness == LAMP_MISSING) {
        lamp_text_add(out, "no %s after the %s flash", wanted, which);
    } else {
        lamp_text_add(out, "%s of %s after the %s flash", wanted, time, which);
    }
}

static void tell_flash(const struct lamp_repeat_step *step, const char *which, const char *time,
                       struct lamp_text *out)
{
    bool wants_long = step->wanted == LAMP_TAKEN_LONG;
    if (step->sameness == LAMP_MORE) {
        lamp_text_add(out, "one flash more (%s) after the %s", time, which);
    } else if (step->sameness == LAMP_MISSING) {
        lamp_text_add(out, "%s flash missing", which);
    } else if (step->seen == LAMP_TAKEN_ODD) {
        lamp_text_add(out, "%s flash lasts %s", which, time);
    } else {
        lamp_text_add(out, "%s flash %s, not %s", which, wants_long ? "short" : "long",
                      wants_long ? "long" : "short");
    }
}

static void tell_step(const struct lamp_repeats *repeats, const struct lamp_repeat_step *step,
                      const struct lamp_length *length, struct lamp_text *out)
{
    char time[32] = "";
    char which[32];
    lamp_words_ordinal(flash_number(repeats, step->at), which, sizeof which);
    bool of_flash = lamp_taken_is_lit(repeats->cycle[step->at]);
    if (step->sameness != LAMP_MISSING) {
        lamp_words_time((double)length[step->length].ns / 1e9, time, sizeof time);
        of_flash = length[step->length].lit;
    }
    if (of_flash) {
        tell_flash(step, which, time, out);
    } else {
        tell_dark(step, which, time, out);
    }
}

void lamp_repeats_tell(const struct lamp_repeats *repeats, size_t index,
                       const struct lamp_length *length, struct lamp_text *out)
{
    const struct lamp_repeat *repeat = &repeats->at[index];
    size_t told = 0;
    for (size_t i = 0; i < repeat->step_count; i++) {
        const struct lamp_repeat_step *step = &repeats->step[repeat->first_step + i];
        if (step->sameness == LAMP_SAME || told > DIFFERENCES_TOLD) {
            continue;
        }
        lamp_text_add(out, "%s", told > 0 ? ", " : "");
        if (told++ == DIFFERENCES_TOLD) {
            lamp_text_add(out, "and more");
        } else {
            tell_step(repeats, step, length, out);
        }
    }
}
