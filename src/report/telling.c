/* telling.c - One lamp told for people: what was seen, what it means, what to do next. */
#include "report/telling.h"

#include <math.h>

#include "base/number.h"
#include "report/entry.h"
#include "report/strip.h"
#include "report/words.h"

enum { OTHERS_TOLD = 4 };

/* Candidates less likely than this are no help to anyone, unless nothing else is near. */
static const double least_told = 0.001;

void lamp_tell_row(const struct lamp_strings *strings, const char *label, struct lamp_page *page)
{
    struct lamp_text row = {0};
    for (size_t i = 0; i < strings->count; i++) {
        lamp_text_add(&row, i > 0 ? ", %s" : "%s", strings->at[i]);
    }
    if (row.length > 0) {
        lamp_page_item(page, label, row.at);
    }
    page->text.failed |= row.failed;
    lamp_text_fini(&row);
}

void lamp_tell_steps(const struct lamp_strings *steps, const char *label, struct lamp_page *page)
{
    for (size_t i = 0; i < steps->count; i++) {
        lamp_page_say(page, i == 0 ? label : "", "%zu. %s", i + 1, steps->at[i]);
    }
}

static void add_heading(const struct lamp_report_lamp *lamp, struct lamp_text *line)
{
    lamp_words_plain(lamp->name, line);
    const char *colour = lamp_colour_name(lamp->colour);
    const char *parting = " (";
    if (colour != NULL) {
        lamp_text_add(line, "%s%s", parting, colour);
        parting = ", ";
    }
    if (lamp->has_region) {
        lamp_text_add(line, "%sat %d,%d", parting, lamp->region.x_px + lamp->region.w_px / 2,
                      lamp->region.y_px + lamp->region.h_px / 2);
    }
    lamp_text_add(line, colour != NULL || lamp->has_region ? "): " : ": ");
    lamp_words_verdict(lamp, line);
    if (lamp->match.verdict != LAMP_VERDICT_UNDECIDED) {
        char percent[32];
        lamp_words_percent(lamp->match.confidence, percent, sizeof percent);
        lamp_text_add(line, " - %s (%s)", lamp_words_confidence(lamp->match.confidence), percent);
    }
}

enum lamp_err lamp_report_headline(const struct lamp_report_lamp *lamp, char *out, size_t size)
{
    struct lamp_text line = {0};
    add_heading(lamp, &line);
    bool failed = line.failed;
    if (!failed) {
        (void)snprintf(out, size, "%s", line.at);
    }
    lamp_text_fini(&line);
    return failed ? LAMP_NO_MEMORY : LAMP_OK;
}

static void tell_heading(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    struct lamp_text line = {0};
    add_heading(lamp, &line);
    page->text.failed |= line.failed;
    if (!line.failed) {
        lamp_page_heading(page, line.at);
    }
    lamp_text_fini(&line);
}

/* Light that has no flashes to draw. */
static bool has_no_flashes(const struct lamp_report_lamp *lamp)
{
    enum lamp_verdict verdict = lamp->match.verdict;
    return verdict == LAMP_VERDICT_STEADY_ON || verdict == LAMP_VERDICT_STEADY_OFF ||
           verdict == LAMP_VERDICT_FADE || lamp->length_count < 2;
}

/* Terminal colours nearest to the lamp's; 0 where there is none. */
static int ink_of(enum lamp_colour colour)
{
    static const int ink[] = {
        [LAMP_COLOUR_RED] = 31,   [LAMP_COLOUR_ORANGE] = 33, [LAMP_COLOUR_YELLOW] = 33,
        [LAMP_COLOUR_GREEN] = 32, [LAMP_COLOUR_BLUE] = 34,   [LAMP_COLOUR_PURPLE] = 35,
        [LAMP_COLOUR_WHITE] = 0,  [LAMP_COLOUR_UNKNOWN] = 0};
    return ink[colour];
}

static void tell_strip(const struct lamp_report_lamp *lamp, bool is_ascii, struct lamp_page *page)
{
    enum { SPAN_COLUMNS = 10 };
    struct lamp_strip strip;
    const struct lamp_strip_rules rules = {.columns = page->width - LAMP_PAGE_INDENT - SPAN_COLUMNS,
                                           .is_ascii = is_ascii};
    if (has_no_flashes(lamp) ||
        !lamp_strip_draw(&rules, lamp->length, lamp->length_count, &lamp->rhythm, &strip)) {
        return;
    }
    char span[32];
    char line[sizeof strip.light + sizeof span];
    lamp_words_time((double)strip.span_ns / LAMP_NS_PER_S, span, sizeof span);
    (void)snprintf(line, sizeof line, "%s %s", strip.light, span);
    lamp_page_line(page, "light", line, ink_of(lamp->colour));
    if (strip.marks[0] != '\0') {
        lamp_page_line(page, "", strip.marks, 0);
    }
}

static void add_length(const char *name, int64_t ns, struct lamp_text *out)
{
    if (ns > 0) {
        char text[32];
        lamp_words_time((double)ns / LAMP_NS_PER_S, text, sizeof text);
        lamp_text_add(out, "%s%s %s", out->length > 0 ? ", " : "", name, text);
    }
}

static void tell_timing(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    const struct lamp_rhythm *rhythm = &lamp->rhythm;
    struct lamp_text line = {0};
    if (rhythm->pattern.kind == LAMP_PATTERN_GROUPS) {
        add_length("short", rhythm->timing.short_ns, &line);
        add_length("long", rhythm->timing.long_ns, &line);
        add_length("gap", rhythm->timing.gap_ns, &line);
        add_length("pause", rhythm->timing.pause_ns, &line);
        add_length("rest", rhythm->timing.rest_ns, &line);
    }
    if (line.length > 0 && rhythm->repeats_seen > 0) {
        lamp_text_add(&line, "; %u of %u repeats alike", rhythm->repeats_agreeing,
                      rhythm->repeats_seen);
    }
    if (line.length > 0) {
        lamp_page_item(page, "timing", line.at);
    }
    page->text.failed |= line.failed;
    lamp_text_fini(&line);
}

static void tell_flicker(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    char rate[32];
    char index[32];
    lamp_number_format(round(10 * lamp->rhythm.edges_per_s) / 10, rate, sizeof rate);
    lamp_number_format(round(100 * lamp->shape.flicker_index) / 100, index, sizeof index);
    if (lamp->shape.sample_count > 0) {
        lamp_page_say(page, "measured",
                      "%s changes a second, percent flicker %.0f %%, flicker index %s", rate,
                      lamp->shape.percent_flicker, index);
    } else {
        lamp_page_say(page, "measured", "%s changes a second", rate);
    }
    if (!lamp->match.has_entry) {
        lamp_page_item(
            page, "means",
            "likely a supply or core-rail fault, unless storage or network traffic explains it: "
            "an activity lamp is irregular on a healthy board");
    }
}

static bool tell_entry(const struct lamp_match *match, struct lamp_page *page)
{
    const struct lamp_candidate *told = &match->candidate[0];
    lamp_page_say(page, "means", "%s [%s: %s]", told->code->means, told->book->id, told->code->id);
    lamp_tell_row(&told->code->suspect, "suspect", page);
    lamp_tell_steps(&told->code->check, "next", page);
    return told->code->check.count > 0;
}

/* With a book chosen a candidate has a chance of being it; without, it is only named. */
static void tell_candidate(const struct lamp_candidate *candidate, bool has_book, const char *label,
                           struct lamp_page *page)
{
    const struct lamp_code *code = candidate->code;
    const char *against = candidate->against;
    if (!has_book) {
        lamp_page_say(page, label, "%s: %s, \"%s\"", candidate->book->id, code->id, code->means);
        return;
    }
    char percent[32];
    lamp_words_percent(candidate->confidence, percent, sizeof percent);
    lamp_page_say(page, label, "%s, \"%s\" (%s)%s%s [%s]", code->id, code->means, percent,
                  against[0] == '\0' ? "" : "; against it: ", against, candidate->book->id);
}

static const char *others_label(const struct lamp_report_lamp *lamp, bool has_book)
{
    if (!has_book) {
        return "also in";
    }
    bool settled = lamp->match.has_entry;
    return settled                                         ? "or else"
           : lamp->match.verdict == LAMP_VERDICT_UNDECIDED ? "so far"
                                                           : "nearest";
}

/* Whether a candidate that was not told is still worth a line: it could be it, or nothing better is
 * known. */
static bool is_worth_telling(const struct lamp_match *match, const struct lamp_candidate *candidate)
{
    return match->verdict == LAMP_VERDICT_UNLISTED || candidate->against[0] == '\0' ||
           candidate->confidence >= least_told;
}

static void tell_others(const struct lamp_report_lamp *lamp, bool has_book, struct lamp_page *page)
{
    const struct lamp_match *match = &lamp->match;
    const char *label = others_label(lamp, has_book);
    size_t told = 0;
    size_t more = 0;
    for (size_t i = match->has_entry ? 1 : 0; i < match->candidate_count; i++) {
        if (!is_worth_telling(match, &match->candidate[i])) {
            continue;
        }
        if (told == OTHERS_TOLD) {
            more++;
        } else {
            tell_candidate(&match->candidate[i], has_book, told++ == 0 ? label : "", page);
        }
    }
    if (more > 0) {
        lamp_page_say(page, "", "and %zu more", more);
    }
    if (told == 0 && !has_book && match->verdict == LAMP_VERDICT_UNLISTED) {
        lamp_page_item(page, label, "no codebook that was found");
    }
}

static void tell_new_entry(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    lamp_page_item(page, "to add",
                   "paste this below \"codes:\" of the board's book once its meaning is known");
    struct lamp_text entry = {0};
    lamp_entry_write(lamp, LAMP_PAGE_INDENT, &entry);
    page->text.failed |= entry.failed;
    if (!entry.failed) {
        lamp_text_add(&page->text, "%s", entry.at);
    }
    lamp_text_fini(&entry);
}

static void tell_notes(const struct lamp_report_lamp *lamp, struct lamp_page *page)
{
    for (size_t i = 0; i < lamp->warning_count; i++) {
        lamp_page_item(page, i == 0 ? "note" : "", lamp->warning[i]);
    }
}

bool lamp_tell(const struct lamp_report_lamp *lamp, bool has_book, bool is_ascii,
               struct lamp_page *page)
{
    const struct lamp_match *match = &lamp->match;
    tell_heading(lamp, page);
    if (match->verdict == LAMP_VERDICT_UNDECIDED && match->lack != LAMP_LACK_NOTHING) {
        lamp_page_item(page, "missing", lamp_words_lack(match->lack));
    }
    bool has_checks = match->has_entry && tell_entry(match, page);
    tell_strip(lamp, is_ascii, page);
    tell_timing(lamp, page);
    if (lamp->rhythm.morse[0] != '\0') {
        lamp_page_say(page, "morse", "%s", lamp->rhythm.morse);
    }
    if (match->verdict == LAMP_VERDICT_FLICKER) {
        tell_flicker(lamp, page);
    }
    tell_others(lamp, has_book, page);
    if (match->verdict == LAMP_VERDICT_UNLISTED) {
        tell_new_entry(lamp, page);
    }
    tell_notes(lamp, page);
    return has_checks;
}
