/* refine.c - The lengths of an entry combined with those of one recording more. */
#include "codebook/refine.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "codebook/cycle.h"
#include "codebook/write.h"

/* Boards of one kind differ by this much in their clocks, share, sd: common practice, no source. A
 * recording that measures one board finely does not know the others better than that. */
#define BOARD_SD 0.01

/* A length with what is known of it. */
struct known {
    double ns;
    double variance; /* Measurement and boards. */
    double sd_ns;    /* Measurement. */
};

static struct known known_of(double ns, const struct lamp_taught *taught)
{
    double sd_ns = (double)taught->sd_ns;
    double boards = BOARD_SD * ns;
    return (struct known){ns, sd_ns * sd_ns + boards * boards / (double)taught->recordings, sd_ns};
}

/* The light of a draft beside that of the entry. */
struct beside {
    const struct lamp_code *code;
    const struct lamp_draft *draft;
    struct lamp_cycle was;
    struct lamp_cycle is;
    size_t turn;   /* Length of `is` at which `was` begins. */
    double square; /* Sum of the combined lengths' measurement variances. */
    size_t count;
};

/* An entry that was not measured yet, or does not say how well, gives way to the measurement. */
static double combine(struct beside *beside, double was_ns, double is_ns)
{
    struct known now = known_of(is_ns, &beside->draft->taught);
    double share = 1;
    double sd_ns = now.sd_ns;
    if (beside->code->taught.recordings > 0) {
        struct known old = known_of(was_ns, &beside->code->taught);
        share = old.variance / (old.variance + now.variance);
        sd_ns = hypot(share * now.sd_ns, (1 - share) * old.sd_ns);
    }
    beside->square += sd_ns * sd_ns;
    beside->count++;
    return share * is_ns + (1 - share) * was_ns;
}

static double distance(const struct beside *beside, size_t turn)
{
    double sum = 0;
    for (size_t i = 0; i < beside->was.count; i++) {
        double is = (double)beside->is.length_ns[(turn + i) % beside->is.count];
        sum += fabs(log(is / (double)beside->was.length_ns[i]));
    }
    return sum;
}

/* Turn the draft so that it lies best along the entry. @return false if it never lies within the
 * tolerance. */
static bool turn(struct beside *beside)
{
    const struct lamp_slack slack = {beside->code->tolerance, 0};
    double least = INFINITY;
    for (size_t at = 0; at < beside->is.count; at += 2) {
        double now = distance(beside, at);
        if (now < least && lamp_cycle_fits_from(&beside->is, at, &beside->was, 0, &slack)) {
            least = now;
            beside->turn = at;
        }
    }
    return least < INFINITY;
}

static double is_ns(const struct beside *beside, size_t i)
{
    assert(beside->is.count > 0);
    return (double)beside->is.length_ns[(beside->turn + i) % beside->is.count];
}

/* Mean of what was measured where the entry has a length of `nominal_ns` on this side; 0 where it
 * has none. */
static double measured_ns(const struct beside *beside, int64_t nominal_ns, bool is_lit)
{
    double sum = 0;
    double count = 0;
    for (size_t i = is_lit ? 0 : 1; i < beside->was.count; i += 2) {
        if (beside->was.length_ns[i] == nominal_ns) {
            sum += is_ns(beside, i);
            count++;
        }
    }
    return count > 0 ? sum / count : 0;
}

static void refine_groups(struct beside *beside, struct lamp_refined *out)
{
    int64_t *const to[LAMP_WRITE_KEYS] = {&out->timing.short_ns, &out->timing.long_ns,
                                          &out->timing.gap_ns, &out->timing.pause_ns,
                                          &out->timing.rest_ns};
    for (size_t i = 0; i < LAMP_WRITE_KEYS; i++) {
        int64_t was = lamp_write_key_ns(&beside->code->timing, &lamp_write_keys[i]);
        double now = was > 0 ? measured_ns(beside, was, i < 2) : 0;
        *to[i] = now > 0 ? llround(combine(beside, (double)was, now)) : 0;
    }
}

/* Morse has one length; what was measured of it is the time scale of the whole cycle. */
static void refine_morse(struct beside *beside, struct lamp_refined *out)
{
    double was = 0;
    double is = 0;
    for (size_t i = 0; i < beside->was.count; i++) {
        was += (double)beside->was.length_ns[i];
        is += is_ns(beside, i);
    }
    double unit = (double)beside->code->timing.short_ns;
    out->timing.short_ns = llround(combine(beside, unit, unit * is / was));
}

static void refine_exact(struct beside *beside, struct lamp_refined *out)
{
    for (size_t i = 0; i < out->pattern.count; i++) {
        double was = (double)beside->code->wave.length_ns[i];
        out->pattern.length_ns[i] = llround(combine(beside, was, is_ns(beside, i)));
    }
}

static void refine_blink(struct beside *beside, struct lamp_refined *out)
{
    double lit = combine(beside, (double)beside->was.length_ns[0], is_ns(beside, 0));
    double dark = combine(beside, (double)beside->was.length_ns[1], is_ns(beside, 1));
    out->pattern.rate_hz = LAMP_NS_PER_S / (lit + dark);
    out->pattern.duty = lit / (lit + dark);
}

static enum lamp_err refuse(const struct beside *beside, bool is_other_pattern,
                            struct lamp_error *error)
{
    const struct lamp_code *code = beside->code;
    char notation[LAMP_NOTATION_MAX];
    if (!is_other_pattern) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "the lengths depart from those of '%s' (line %d) by more than its "
                         "tolerance; expected another --id, or light of that code",
                         code->id, code->line);
    }
    lamp_pattern_format(&beside->draft->pattern, notation);
    return lamp_fail(error, LAMP_BAD_USE, "",
                     "'%s' (line %d) has another pattern than the light, which is %.100s; expected "
                     "another --id, or light of that code",
                     code->id, code->line, notation);
}

static void refine_kind(struct beside *beside, struct lamp_refined *out)
{
    switch (beside->code->pattern.kind) {
    case LAMP_PATTERN_GROUPS: refine_groups(beside, out); break;
    case LAMP_PATTERN_MORSE: refine_morse(beside, out); break;
    case LAMP_PATTERN_EXACT: refine_exact(beside, out); break;
    case LAMP_PATTERN_BLINK: refine_blink(beside, out); break;
    default: break;
    }
}

enum lamp_err lamp_refine(const struct lamp_code *code, const struct lamp_draft *draft,
                          struct lamp_refined *out, struct lamp_error *error)
{
    struct lamp_wave wave = {.count = 0};
    (void)lamp_pattern_play(&draft->pattern, &draft->timing, &wave, NULL);
    struct beside beside = {.code = code,
                            .draft = draft,
                            .was = lamp_cycle_of(&code->wave),
                            .is = lamp_cycle_of(&wave)};
    bool is_steady = beside.was.count == 0;
    bool is_other = beside.was.count != beside.is.count ||
                    (is_steady && code->pattern.kind != draft->pattern.kind);
    if (is_other || (!is_steady && !turn(&beside))) {
        return refuse(&beside, is_other, error);
    }
    unsigned recordings = code->taught.recordings + draft->taught.recordings;
    *out = (struct lamp_refined){
        .pattern = code->pattern,
        .taught = {.recordings = recordings < LAMP_TAUGHT_MAX ? recordings : LAMP_TAUGHT_MAX}};
    refine_kind(&beside, out);
    if (beside.count > 0) {
        out->taught.sd_ns = llround(ceil(sqrt(beside.square / (double)beside.count)));
    }
    return LAMP_OK;
}
