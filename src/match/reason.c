/* reason.c - What speaks against an entry, in plain words. */
#include "match/reason.h"

#include <math.h>
#include <stdio.h>

#include "match/agree.h"
#include "match/differ.h"
#include "match/suit.h"

static size_t count_flaws(const struct lamp_fit *fit)
{
    return fit->lost + fit->extra + fit->odd;
}

/* A camera loses some flashes: most repeats must be without a flaw, not all. */
bool lamp_reason_light_fits(const struct lamp_contender *contender)
{
    const struct lamp_fit *fit = &contender->fit;
    bool is_mostly_clean =
        fit->repeats_clean > 0 && 3 * fit->repeats_flawed <= 2 * fit->repeats_clean;
    return !contender->is_contradicted && fit->matched > 0 && fit->is_within &&
           (count_flaws(fit) == 0 || is_mostly_clean);
}

/* The class whose lengths are furthest from the book's, where no cycle of the rhythm can be
 * compared. */
static bool say_class(const struct lamp_model *model, const struct lamp_fit *fit,
                      char out[LAMP_REASON_MAX])
{
    size_t worst = 0;
    double most = 0;
    for (size_t c = 0; c < model->class_count; c++) {
        double off = fit->class_seen[c] > 0 ? fabs(log(fit->class_s[c] / model->class_s[c])) : 0;
        if (off > most) {
            most = off;
            worst = c;
        }
    }
    if (!(most > log1p(model->tolerance))) {
        return false;
    }
    (void)snprintf(out, LAMP_REASON_MAX, "%s of %.3g s expected, %.3g s seen",
                   model->class_is_lit[worst] ? "flash" : "dark", model->class_s[worst],
                   fit->class_s[worst]);
    return true;
}

static void say_flaws(const struct lamp_fit *fit, char out[LAMP_REASON_MAX])
{
    if (fit->odd > 0 && fit->odd >= fit->lost && fit->odd >= fit->extra) {
        (void)snprintf(out, LAMP_REASON_MAX, "%zu of %zu lengths fit nowhere in it", fit->odd,
                       fit->odd + fit->matched + fit->lost + fit->extra);
    } else if (fit->lost > 0 && fit->lost >= fit->extra) {
        (void)snprintf(out, LAMP_REASON_MAX, "a flash or a gap missing, %zu %s", fit->lost,
                       fit->lost == 1 ? "time" : "times");
    } else if (fit->extra > 0) {
        (void)snprintf(out, LAMP_REASON_MAX, "a flash or a gap more seen than expected, %zu %s",
                       fit->extra, fit->extra == 1 ? "time" : "times");
    } else {
        (void)snprintf(out, LAMP_REASON_MAX, "lengths outside the tolerance");
    }
}

static void say_light(const struct lamp_evidence *evidence, const struct lamp_contender *contender,
                      char out[LAMP_REASON_MAX])
{
    struct lamp_model model;
    struct lamp_wave wave;
    lamp_model_make(contender->code, &model);
    out[0] = '\0';
    if (lamp_rhythm_wave(evidence->rhythm, &wave)) {
        lamp_differ_write(&model, &wave, out);
    }
    if (out[0] == '\0' && !say_class(&model, &contender->fit, out)) {
        say_flaws(&contender->fit, out);
    }
}

static void say_repeats(const struct lamp_contender *contender, char out[LAMP_REASON_MAX])
{
    const struct lamp_fit *fit = &contender->fit;
    if (fit->repeats_clean + fit->repeats_flawed == 0) {
        (void)snprintf(out, LAMP_REASON_MAX, "not seen whole even once");
    } else if (fit->repeats_clean + fit->repeats_flawed == 1) {
        (void)snprintf(out, LAMP_REASON_MAX, "seen only once");
    } else {
        out[0] = '\0';
    }
}

void lamp_reason_write(const struct lamp_evidence *evidence, const struct lamp_contender *contender,
                       char out[LAMP_REASON_MAX])
{
    if (!lamp_reason_light_fits(contender)) {
        say_light(evidence, contender, out);
        return;
    }
    enum lamp_colour wanted = lamp_suit_colour(contender->book, contender->code);
    if (contender->suits < LAMP_SUIT_CONTRADICTS) {
        (void)snprintf(out, LAMP_REASON_MAX, "lamp is %s, not %s",
                       lamp_colour_name(evidence->colour), lamp_colour_name(wanted));
        return;
    }
    say_repeats(contender, out);
}
