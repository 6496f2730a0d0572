/* write.c - Entries written as they stand in a book. */
#include "codebook/write.h"

#include <math.h>
#include <string.h>

#include "base/number.h"
#include "codebook/word.h"

const struct lamp_write_key lamp_write_keys[LAMP_WRITE_KEYS] = {
    {"short", offsetof(struct lamp_timing, short_ns)},
    {"long", offsetof(struct lamp_timing, long_ns)},
    {"gap", offsetof(struct lamp_timing, gap_ns)},
    {"pause", offsetof(struct lamp_timing, pause_ns)},
    {"rest", offsetof(struct lamp_timing, rest_ns)},
};

int64_t lamp_write_key_ns(const struct lamp_timing *timing, const struct lamp_write_key *key)
{
    int64_t ns;
    memcpy(&ns, (const char *)timing + key->at, sizeof ns);
    return ns;
}

/* Three figures are finer than a camera sees, and a reader can still take them in. */
int64_t lamp_write_rounded_ns(int64_t ns)
{
    double step = fmax(1e3, pow(10, floor(log10((double)ns)) - 2));
    return (int64_t)fmax(1, round((double)ns / step) * step);
}

void lamp_write_length(int64_t ns, struct lamp_text *out)
{
    char text[32];
    lamp_duration_format(lamp_write_rounded_ns(ns), text, sizeof text);
    lamp_text_add(out, "%s", text);
}

void lamp_write_timing(const struct lamp_timing *timing, struct lamp_text *out)
{
    const char *parting = "{";
    for (size_t i = 0; i < LAMP_WRITE_KEYS; i++) {
        int64_t ns = lamp_write_key_ns(timing, &lamp_write_keys[i]);
        if (ns > 0) {
            lamp_text_add(out, "%s%s: ", parting, lamp_write_keys[i].name);
            lamp_write_length(ns, out);
            parting = ", ";
        }
    }
    lamp_text_add(out, "}");
}

void lamp_write_taught(const struct lamp_taught *taught, struct lamp_text *out)
{
    lamp_text_add(out, "{recordings: %u", taught->recordings);
    if (taught->sd_ns > 0) {
        lamp_text_add(out, ", sd: ");
        lamp_write_length(taught->sd_ns, out);
    }
    lamp_text_add(out, "}");
}

static double rounded(double value)
{
    double step = pow(10, floor(log10(value)) - 3);
    return round(value / step) * step;
}

void lamp_write_pattern(const struct lamp_pattern *pattern, struct lamp_text *out)
{
    char notation[LAMP_NOTATION_MAX];
    struct lamp_pattern clean = *pattern;
    if (pattern->kind == LAMP_PATTERN_EXACT) {
        for (size_t i = 0; i < pattern->count; i++) {
            clean.length_ns[i] = lamp_write_rounded_ns(pattern->length_ns[i]);
        }
    } else if (pattern->kind == LAMP_PATTERN_BLINK) {
        clean.rate_hz = rounded(pattern->rate_hz);
        clean.duty = round(pattern->duty * 100) / 100;
        clean.duty = fmin(fmax(clean.duty, 0.01), 0.99);
    }
    lamp_pattern_format(&clean, notation);
    lamp_word_write(notation, out);
}

/* The parts of an entry by turns, each begun with `before` and its key. */
struct form {
    const char *before; /* Before each part but the first. */
    bool is_flow;
    int indent; /* Spaces before an item of a list. */
    struct lamp_text *out;
};

static void add_word(const struct form *form, const char *key, const char *word)
{
    if (word != NULL) {
        lamp_text_add(form->out, "%s%s: ", form->before, key);
        lamp_word_write(word, form->out);
    }
}

static void add_words(const struct form *form, const char *key, const struct lamp_strings *words)
{
    if (words->count == 0) {
        return;
    }
    lamp_text_add(form->out, "%s%s:%s", form->before, key, form->is_flow ? " [" : "");
    for (size_t i = 0; i < words->count; i++) {
        if (form->is_flow) {
            lamp_text_add(form->out, i > 0 ? ", " : "");
        } else {
            lamp_text_add(form->out, "\n%*s- ", form->indent, "");
        }
        lamp_word_write(words->at[i], form->out);
    }
    lamp_text_add(form->out, "%s", form->is_flow ? "]" : "");
}

static void add_parts(const struct lamp_draft *draft, const struct form *form)
{
    static const struct lamp_timing none = {0};
    struct lamp_text *out = form->out;
    lamp_text_add(out, "id: ");
    lamp_word_write(draft->id, out);
    add_word(form, "lamp", draft->lamp);
    lamp_text_add(out, "%spattern: ", form->before);
    lamp_write_pattern(&draft->pattern, out);
    if (memcmp(&draft->timing, &none, sizeof none) != 0) {
        lamp_text_add(out, "%stiming: ", form->before);
        lamp_write_timing(&draft->timing, out);
    }
    add_word(form, "means", draft->means);
    add_words(form, "suspect", &draft->suspect);
    add_words(form, "check", &draft->check);
    add_word(form, "basis", draft->basis);
    if (draft->taught.recordings > 0) {
        lamp_text_add(out, "%staught: ", form->before);
        lamp_write_taught(&draft->taught, out);
    }
}

void lamp_write_block(const struct lamp_draft *draft, int indent, struct lamp_text *out)
{
    struct lamp_text before = {0};
    lamp_text_add(&before, "\n%*s", indent + 2, "");
    const struct form form = {
        .before = before.at, .is_flow = false, .indent = indent + 4, .out = out};
    out->failed |= before.failed;
    if (!before.failed) {
        lamp_text_add(out, "%*s- ", indent, "");
        add_parts(draft, &form);
        lamp_text_add(out, "\n");
    }
    lamp_text_fini(&before);
}

void lamp_write_flow(const struct lamp_draft *draft, struct lamp_text *out)
{
    const struct form form = {.before = ", ", .is_flow = true, .out = out};
    lamp_text_add(out, "{");
    add_parts(draft, &form);
    lamp_text_add(out, "}");
}
