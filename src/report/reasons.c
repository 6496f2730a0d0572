/* reasons.c - Why a lamp has its verdict: its lengths, its repeats, and what would settle it. */
#include "report/reasons.h"

#include <math.h>

#include "report/repeats.h"
#include "report/words.h"

/* Repeats that are written out; a lamp faster than this share of the rate is not read, see
 * DEVELOPERS.md. */
enum { REPEATS_TOLD = 12 };
#define FASTEST_SHARE 0.4

/* What lengths of one kind have in common. */
struct kind {
    size_t count;
    double sum, squares, least, most; /* seconds */
};

static void add_to(struct kind *kind, double s)
{
    kind->least = kind->count == 0 ? s : fmin(kind->least, s);
    kind->most = kind->count == 0 ? s : fmax(kind->most, s);
    kind->sum += s;
    kind->squares += s * s;
    kind->count++;
}

static void tell_kind(const struct kind *kind, const char *label, const char *name,
                      struct lamp_page *page)
{
    char time[4][32];
    double n = (double)kind->count;
    double mean = kind->sum / n;
    double spread = sqrt(fmax(kind->squares / n - mean * mean, 0));
    spread = round(spread * 1e4) / 1e4; /* 0.1 ms: finer says nothing */
    const double told[] = {mean, spread, kind->least, kind->most};
    for (size_t i = 0; i < 4; i++) {
        lamp_words_time(told[i], time[i], sizeof time[i]);
    }
    if (kind->count > 1) {
        lamp_page_say(page, label, "%-11s %s, spread %s, %zu seen, %s to %s", name, time[0],
                      time[1], kind->count, time[2], time[3]);
    } else {
        lamp_page_say(page, label, "%-11s %s, seen once", name, time[0]);
    }
}

static const char *const class_names[] = {[LAMP_TAKEN_SHORT] = "short flash",
                                          [LAMP_TAKEN_LONG] = "long flash",
                                          [LAMP_TAKEN_GAP] = "gap",
                                          [LAMP_TAKEN_PAUSE] = "pause",
                                          [LAMP_TAKEN_REST] = "rest",
                                          [LAMP_TAKEN_ODD] = "odd",
                                          [LAMP_TAKEN_CUT] = ""};

/* Without classes lengths are lit or dark. */
static enum lamp_taken kind_of(const struct lamp_length *length, const struct lamp_rhythm *rhythm)
{
    enum lamp_taken taken = lamp_taken_for(length, &rhythm->timing);
    if (rhythm->pattern.kind == LAMP_PATTERN_GROUPS || taken == LAMP_TAKEN_CUT) {
        return taken;
    }
    return length->lit ? LAMP_TAKEN_SHORT : LAMP_TAKEN_GAP;
}

static void tell_lengths(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    struct kind kinds[LAMP_TAKEN_COUNT] = {{0}};
    bool has_classes = lamp->rhythm.pattern.kind == LAMP_PATTERN_GROUPS;
    for (size_t i = 0; i < lamp->length_count; i++) {
        const struct lamp_length *length = &lamp->length[i];
        enum lamp_taken taken = kind_of(length, &lamp->rhythm);
        add_to(&kinds[taken], (double)length->ns / 1e9);
    }
    const char *label = "lengths";
    for (int i = 0; i < LAMP_TAKEN_CUT; i++) {
        if (kinds[i].count > 0) {
            const char *name = has_classes             ? class_names[i]
                               : i == LAMP_TAKEN_SHORT ? "lit"
                                                       : "dark";
            tell_kind(&kinds[i], label, name, page);
            label = "";
        }
    }
}

static void add_steps(const struct lamp_repeats *repeats, const struct lamp_repeat *repeat,
                      struct lamp_text *out)
{
    static const char *const marks[] = {
        [LAMP_TAKEN_SHORT] = "s", [LAMP_TAKEN_LONG] = "L",  [LAMP_TAKEN_GAP] = "",
        [LAMP_TAKEN_PAUSE] = "-", [LAMP_TAKEN_REST] = "--", [LAMP_TAKEN_ODD] = "?",
        [LAMP_TAKEN_CUT] = "/",   [LAMP_TAKEN_COUNT] = "."};
    size_t at = 0;
    for (size_t i = 0; i < repeat->step_count; i++) {
        const struct lamp_repeat_step *step = &repeats->step[repeat->first_step + i];
        for (; i == 0 && at < step->at; at++) {
            lamp_text_add(out, "  "); /* begun in the middle: aligned with the others */
        }
        lamp_text_add(out, step->sameness == LAMP_MORE ? "+%s " : "%s ", marks[step->seen]);
    }
}

static void tell_repeats(const struct lamp_report_lamp *lamp, const struct lamp_repeats *repeats,
                         struct lamp_page *page)
{
    const char *label = "repeats";
    size_t first = repeats->count > REPEATS_TOLD ? repeats->count - REPEATS_TOLD : 0;
    for (size_t i = first; i < repeats->count; i++) {
        const struct lamp_repeat *repeat = &repeats->at[i];
        struct lamp_text steps = {0};
        struct lamp_text differs = {0};
        char time[32];
        lamp_words_time((double)repeat->start_ns / 1e9, time, sizeof time);
        add_steps(repeats, repeat, &steps);
        lamp_repeats_tell(repeats, i, lamp->length, &differs);
        page->text.failed |= steps.failed || differs.failed;
        if (!page->text.failed && repeat->start_ns >= 0) {
            lamp_page_say(page, label, "at %-8s %s%s", time, steps.at,
                          repeat->is_alike     ? "alike"
                          : differs.length > 0 ? differs.at
                                               : "not seen whole");
            label = "";
        }
        lamp_text_fini(&steps);
        lamp_text_fini(&differs);
    }
    if (first > 0) {
        lamp_page_say(page, "", "and %zu before them; of all, %zu were seen whole, %zu alike",
                      first, repeats->whole_count, repeats->alike_count);
    }
}

/* How long one repeat takes: as measured, else as the likeliest entry has it; 0 where unknown. */
static double repeat_s(const struct lamp_report_lamp *lamp)
{
    double seen_s = (double)lamp_period_ns(&lamp->rhythm) / 1e9;
    double book_s = 0;
    if (lamp->match.candidate_count > 0) {
        const struct lamp_wave *wave = &lamp->match.candidate[0].code->wave;
        for (size_t i = 0; i < wave->count; i++) {
            book_s += (double)wave->length_ns[i] / 1e9;
        }
    }
    return fmax(seen_s, book_s);
}

static void tell_rate(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    const double least_hz = ceil(lamp->shape.fastest_hz / FASTEST_SHARE);
    if (least_hz > lamp->shape.rate_hz) {
        lamp_page_say(
            page, "to settle",
            "more than %.0f frames a second: the lamp alternates %.3g times a second or faster",
            least_hz, lamp->shape.fastest_hz);
    } else {
        lamp_page_say(page, "to settle",
                      "several times the %.3g frames a second (slow motion): the light repeats, "
                      "though what the frames show of it does not",
                      lamp->shape.rate_hz);
    }
}

static void tell_settle(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    char time[32];
    enum lamp_lack lack = lamp->match.lack;
    double period_s = repeat_s(lamp);
    if (lamp->match.verdict != LAMP_VERDICT_UNDECIDED) {
        return;
    }
    if (lack == LAMP_LACK_RATE && lamp->shape.rate_hz > 0) {
        tell_rate(lamp, page);
    } else if (lack == LAMP_LACK_LIGHT && lamp->shape.noise > 0) {
        lamp_page_say(page, "to settle",
                      "more light: the step between lit and dark is %.1f times the noise",
                      fabs(lamp->shape.lit_level - lamp->shape.dark_level) / lamp->shape.noise);
    } else if (lack == LAMP_LACK_DISTINCTION) {
        lamp_page_item(page, "to settle",
                       "another film of it will not do: the entries above have the same light; "
                       "name the lamp with --lamp, or choose one book");
    } else if (period_s > 0) {
        lamp_words_time(lack == LAMP_LACK_REPEAT ? period_s : 3 * period_s, time, sizeof time);
        lamp_page_say(page, "to settle",
                      lack == LAMP_LACK_REPEAT
                          ? "one more repeat: film about %s more"
                          : "three whole repeats: film for about %s in one piece",
                      time);
    }
}

void lamp_tell_reasons(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    struct lamp_repeats repeats;
    tell_lengths(lamp, page);
    enum lamp_err failed =
        lamp_repeats_find(lamp->length, lamp->length_count, &lamp->rhythm, &repeats);
    page->text.failed |= failed != LAMP_OK;
    if (failed == LAMP_OK && repeats.whole_count > 1) {
        tell_repeats(lamp, &repeats, page);
    }
    lamp_repeats_fini(&repeats);
    tell_settle(lamp, page);
}
