/* outline.c - A new book without codes, with comments that tell how to go on. */
#include <string.h>

#include "base/fail.h"
#include "base/text.h"
#include "codebook/word.h"
#include "codebook/write.h"
#include "lampread/teach.h"

/* Lengths that boards commonly have: common practice, no source. */
static const struct lamp_timing common = {.short_ns = 200000000,
                                          .long_ns = 600000000,
                                          .gap_ns = 200000000,
                                          .pause_ns = 700000000,
                                          .rest_ns = 1800000000};

static const char advice[] =
    "codes: []\n"
    "# An entry, by hand or by `lampread book teach RECORDING --book FILE --id ID --means TEXT`:\n"
    "#   - id: memory                  # lower-case letters, digits and hyphens\n"
    "#     lamp: status                # one of 'lamps'; left out: any lamp\n"
    "#     pattern: 1 long 3 short     # or: 2 short, pause, 1 short | on 200 ms, off 1 s |\n"
    "#                                 # blink 2.5 Hz 20 % | morse SOS | steady on | steady off | "
    "flicker\n"
    "#     means: Memory test failed\n"
    "#     suspect: [memory chip, memory supply]\n"
    "#     check:\n"
    "#       - Measure the memory rail against ground\n"
    "# What lamps and bench readings together point at:\n"
    "# findings:\n"
    "#   - when: {status: flicker, current: \"> 0.4 A\"}\n"
    "#     suspect: [core supply]\n";

static enum lamp_err check_lamp(const struct lamp_outline *outline, size_t i,
                                struct lamp_error *error)
{
    const struct lamp_outline_lamp *lamp = &outline->lamp[i];
    enum lamp_err err = lamp_word_check_id(lamp->name, "a lamp's name", error);
    if (err == LAMP_OK && lamp->shows != NULL) {
        err = lamp_word_check(lamp->shows, "what the lamp shows", error);
    }
    for (size_t k = 0; err == LAMP_OK && k < i; k++) {
        if (strcmp(outline->lamp[k].name, lamp->name) == 0) {
            err = lamp_fail(error, LAMP_BAD_USE, "", "lamp '%s' is given twice", lamp->name);
        }
    }
    return err;
}

static enum lamp_err check(const struct lamp_outline *outline, struct lamp_error *error)
{
    const enum lamp_err answers[] = {lamp_word_check_id(outline->id, "a book's id", error),
                                     lamp_word_check(outline->board, "board", error),
                                     lamp_word_check(outline->source, "source", error)};
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        if (answers[i] != LAMP_OK) {
            return answers[i];
        }
    }
    if (outline->lamp_count > LAMP_BOOK_LAMPS_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "", "%zu lamps are given; at most %d can be",
                         outline->lamp_count, LAMP_BOOK_LAMPS_MAX);
    }
    for (size_t i = 0; i < outline->lamp_count; i++) {
        enum lamp_err err = check_lamp(outline, i, error);
        if (err != LAMP_OK) {
            return err;
        }
    }
    return LAMP_OK;
}

static void add_lamp(const struct lamp_outline_lamp *lamp, struct lamp_text *out)
{
    const char *colour = lamp_colour_name(lamp->colour);
    const char *parting = "";
    lamp_text_add(out, "  ");
    lamp_word_write(lamp->name, out);
    lamp_text_add(out, ": {");
    if (colour != NULL) {
        lamp_text_add(out, "colour: %s", colour);
        parting = ", ";
    }
    if (lamp->shows != NULL) {
        lamp_text_add(out, "%sshows: ", parting);
        lamp_word_write(lamp->shows, out);
    }
    lamp_text_add(out, "}\n");
}

static void add_lamps(const struct lamp_outline *outline, struct lamp_text *out)
{
    if (outline->lamp_count == 0) {
        lamp_text_add(out, "# The board's lamps: name, colour, what each shows.\n"
                           "# lamps:\n#   status: {colour: green, shows: processor}\n\n");
        return;
    }
    lamp_text_add(out, "lamps:\n");
    for (size_t i = 0; i < outline->lamp_count; i++) {
        add_lamp(&outline->lamp[i], out);
    }
    lamp_text_add(out, "\n");
}

/* The lengths that were given; the others so that the order that a book must have holds. */
static struct lamp_timing complete(const struct lamp_timing *given)
{
    struct lamp_timing timing = *given;
    if (timing.short_ns == 0) {
        timing.short_ns = timing.long_ns > 0 ? timing.long_ns / 3 : common.short_ns;
    }
    timing.long_ns = timing.long_ns > 0 ? timing.long_ns : 3 * timing.short_ns;
    timing.gap_ns = timing.gap_ns > 0 ? timing.gap_ns : timing.short_ns;
    timing.pause_ns = timing.pause_ns > 0 ? timing.pause_ns : timing.gap_ns / 2 * 7;
    timing.rest_ns = timing.rest_ns > 0 ? timing.rest_ns : 9 * timing.gap_ns;
    return timing;
}

static void add_timing(const struct lamp_outline *outline, struct lamp_text *out)
{
    const struct lamp_timing timing = complete(&outline->timing);
    lamp_text_add(out, "# Nominal lengths; an entry may have its own. The tolerance is of each "
                       "length, after one time scale.\ntiming:\n");
    for (size_t i = 0; i < LAMP_WRITE_KEYS; i++) {
        lamp_text_add(out, "  %s: ", lamp_write_keys[i].name);
        lamp_write_length(lamp_write_key_ns(&timing, &lamp_write_keys[i]), out);
        lamp_text_add(out, "\n");
    }
    lamp_text_add(out, "  tolerance: 25 %%\n\n");
}

enum lamp_err lamp_book_outline(const struct lamp_outline *outline, char **out,
                                struct lamp_error *error)
{
    static const struct {
        const char *key;
        size_t at;
    } heads[] = {{"book", offsetof(struct lamp_outline, id)},
                 {"board", offsetof(struct lamp_outline, board)},
                 {"source", offsetof(struct lamp_outline, source)}};
    struct lamp_text text = {0};
    enum lamp_err err = check(outline, error);
    if (err != LAMP_OK) {
        return err;
    }
    lamp_text_add(&text, "# A codebook: one board's lamps, its codes and what they mean.\n");
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++) {
        const char *word;
        memcpy(&word, (const char *)outline + heads[i].at, sizeof word);
        lamp_text_add(&text, "%s: ", heads[i].key);
        lamp_word_write(word, &text);
        lamp_text_add(&text, "\n");
    }
    lamp_text_add(&text, "\n");
    add_lamps(outline, &text);
    add_timing(outline, &text);
    lamp_text_add(&text, "%s", advice);
    if (text.failed) {
        lamp_text_fini(&text);
        return lamp_fail_memory(error);
    }
    *out = text.at;
    return LAMP_OK;
}
