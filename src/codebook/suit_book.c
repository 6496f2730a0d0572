/* suit_book.c - A draft made to stand in a book: its words checked, its lengths beside the book's.
 */
#include "codebook/suit_book.h"

#include <math.h>
#include <string.h>

#include "base/fail.h"
#include "codebook/word.h"

static enum lamp_err check_words(const struct lamp_strings *words, const char *what,
                                 struct lamp_error *error)
{
    enum lamp_err err = LAMP_OK;
    for (size_t i = 0; err == LAMP_OK && i < words->count; i++) {
        err = lamp_word_check(words->at[i], what, error);
    }
    return err;
}

enum lamp_err lamp_suit_words(const struct lamp_draft *draft, struct lamp_error *error)
{
    enum lamp_err err = lamp_word_check_id(draft->id, "an id", error);
    if (err == LAMP_OK && draft->lamp != NULL) {
        err = lamp_word_check_id(draft->lamp, "a lamp's name", error);
    }
    if (err == LAMP_OK && draft->means != NULL) {
        err = lamp_word_check(draft->means, "means", error);
    }
    if (err == LAMP_OK && draft->basis != NULL) {
        err = lamp_word_check(draft->basis, "basis", error);
    }
    if (err == LAMP_OK) {
        err = check_words(&draft->suspect, "suspect", error);
    }
    return err == LAMP_OK ? check_words(&draft->check, "check", error) : err;
}

/* Flashes of one length are called short or long as the book has them. */
static void rename_flashes(struct lamp_draft *draft, const struct lamp_timing *book)
{
    bool is_short = draft->timing.short_ns > 0;
    int64_t length_ns = is_short ? draft->timing.short_ns : draft->timing.long_ns;
    bool is_one = is_short != (draft->timing.long_ns > 0);
    if (draft->pattern.kind != LAMP_PATTERN_GROUPS || !is_one || book->short_ns == 0 ||
        book->long_ns == 0) {
        return;
    }
    bool should_be_short = fabs(log((double)length_ns / (double)book->short_ns)) <=
                           fabs(log((double)length_ns / (double)book->long_ns));
    draft->timing.short_ns = should_be_short ? length_ns : 0;
    draft->timing.long_ns = should_be_short ? 0 : length_ns;
    for (size_t i = 0; i < draft->pattern.count; i++) {
        if (draft->pattern.symbol[i] != LAMP_SYMBOL_PAUSE) {
            draft->pattern.symbol[i] = should_be_short ? LAMP_SYMBOL_SHORT : LAMP_SYMBOL_LONG;
        }
    }
}

static int64_t either(int64_t own_ns, int64_t book_ns)
{
    return own_ns > 0 ? own_ns : book_ns;
}

/* Whether the lengths of the draft, beside those that the book gives, are in the order that a book
 * must have. */
static bool holds_order(const struct lamp_timing *own, const struct lamp_timing *book)
{
    int64_t gap = either(own->gap_ns, book->gap_ns);
    int64_t pause = either(own->pause_ns, book->pause_ns);
    int64_t rest = either(own->rest_ns, book->rest_ns);
    int64_t longer = either(own->long_ns, book->long_ns);
    return (longer == 0 || longer > either(own->short_ns, book->short_ns)) &&
           (pause == 0 || pause > gap) && (rest == 0 || rest > gap);
}

/* What the book's lengths forbid to be written in notation is written length by length. */
enum lamp_err lamp_suit_book(struct lamp_draft *draft, const struct lamp_book *book,
                             struct lamp_error *error)
{
    struct lamp_wave wave = {.count = 0};
    rename_flashes(draft, &book->timing);
    if (draft->pattern.kind != LAMP_PATTERN_GROUPS || holds_order(&draft->timing, &book->timing)) {
        return LAMP_OK;
    }
    enum lamp_err err = lamp_pattern_play(&draft->pattern, &draft->timing, &wave, error);
    if (err != LAMP_OK || wave.count > LAMP_SYMBOLS_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "the lengths are at odds with those of the book, and a cycle has too many "
                         "to write each of them");
    }
    draft->pattern = (struct lamp_pattern){.kind = LAMP_PATTERN_EXACT, .count = wave.count};
    memcpy(draft->pattern.length_ns, wave.length_ns, wave.count * sizeof wave.length_ns[0]);
    draft->timing = (struct lamp_timing){0};
    return LAMP_OK;
}
