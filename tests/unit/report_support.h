/* report_support.h - Reports made by hand, and what a writer wrote, as a string. */
#ifndef LAMP_TESTS_REPORT_SUPPORT_H
#define LAMP_TESTS_REPORT_SUPPORT_H

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/report.h"

#define MS INT64_C(1000000)

/** A book of one lamp and two codes, and a lamp that shows "2 long 1 short" three times. */
struct made_report {
    struct lamp_report report;
    struct lamp_report_lamp lamp;
    struct lamp_length length[64];
    struct lamp_book book;
    struct lamp_book_lamp book_lamp;
    struct lamp_code code[2];
    const char *suspect[2];
    const char *check[2];
};

static inline void add_length(struct made_report *made, int64_t ms, bool lit)
{
    struct lamp_report_lamp *lamp = &made->lamp;
    struct lamp_length *length = &made->length[lamp->length_count];
    int64_t start_ns = lamp->length_count == 0 ? 0 : length[-1].start_ns + length[-1].ns;
    *length =
        (struct lamp_length){.start_ns = start_ns, .ns = ms * MS, .sd_ns = 4 * MS, .lit = lit};
    lamp->length_count++;
}

static inline void make_rhythm(struct made_report *made)
{
    struct lamp_rhythm *rhythm = &made->lamp.rhythm;
    *rhythm = (struct lamp_rhythm){.verdict = LAMP_VERDICT_UNLISTED, .confidence = 0.998};
    rhythm->pattern.kind = LAMP_PATTERN_GROUPS;
    rhythm->pattern.count = 3;
    rhythm->pattern.symbol[0] = LAMP_SYMBOL_LONG;
    rhythm->pattern.symbol[1] = LAMP_SYMBOL_LONG;
    rhythm->pattern.symbol[2] = LAMP_SYMBOL_SHORT;
    rhythm->timing = (struct lamp_timing){
        .short_ns = 201 * MS, .long_ns = 603 * MS, .gap_ns = 199 * MS, .rest_ns = 1790 * MS};
    rhythm->repeats_seen = 3;
    rhythm->repeats_agreeing = 3;
    add_length(made, 500, false);
    for (int i = 0; i < 3; i++) {
        const int64_t ms[] = {603, 199, 603, 199, 201, 1790};
        for (size_t j = 0; j < 6; j++) {
            add_length(made, ms[j], j % 2 == 0);
        }
    }
    made->length[0].cut_before = true;
    made->length[made->lamp.length_count - 1].cut_after = true;
}

static inline void make_book(struct made_report *made)
{
    made->suspect[0] = "memory module";
    made->suspect[1] = "module socket";
    made->check[0] = "Reseat the module";
    made->check[1] = "Fit a module known to be good";
    made->book_lamp = (struct lamp_book_lamp){.name = "status", .colour = LAMP_COLOUR_GREEN};
    made->code[0] = (struct lamp_code){.id = "memory",
                                       .lamp = "status",
                                       .means = "Memory test failed",
                                       .suspect = {2, made->suspect},
                                       .check = {2, made->check}};
    made->code[1] = (struct lamp_code){.id = "clock", .lamp = "status", .means = "No clock"};
    made->book = (struct lamp_book){.id = "tern-t2",
                                    .board = "Tern T2 (invented)",
                                    .lamp_count = 1,
                                    .lamp = &made->book_lamp,
                                    .code_count = 2,
                                    .code = made->code};
}

static inline void make_match(struct made_report *made)
{
    struct lamp_match *match = &made->lamp.match;
    *match = (struct lamp_match){
        .verdict = LAMP_VERDICT_CODE, .confidence = 0.998, .has_entry = true, .candidate_count = 2};
    match->candidate[0] =
        (struct lamp_candidate){.book = &made->book, .code = &made->code[0], .confidence = 0.998};
    match->candidate[1] =
        (struct lamp_candidate){.book = &made->book, .code = &made->code[1], .confidence = 0.001};
    (void)snprintf(match->candidate[1].against, LAMP_REASON_MAX, "3rd flash missing");
}

/** Fill `made` with a report of one lamp that shows a code. */
static inline void make_report(struct made_report *made)
{
    *made = (struct made_report){
        .lamp = {.name = "status", .colour = LAMP_COLOUR_GREEN, .has_region = true}};
    made->lamp.region = (struct lamp_region){312, 140, 12, 14};
    make_rhythm(made);
    make_book(made);
    make_match(made);
    made->lamp.length = made->length;
    made->report = (struct lamp_report){.lamp = &made->lamp, .lamp_count = 1, .has_book = true};
    made->report.source = (struct lamp_source_info){.kind = LAMP_SOURCE_CLIP,
                                                    .name = "board.mp4",
                                                    .duration_s = 14.2,
                                                    .frame_count = 426,
                                                    .rate_hz = 30,
                                                    .width_px = 640,
                                                    .height_px = 360};
}

/** Keep the verdict of the rhythm alone: no book has it. */
static inline void make_unlisted(struct made_report *made)
{
    made->lamp.match.verdict = LAMP_VERDICT_UNLISTED;
    made->lamp.match.has_entry = false;
}

/** What was written to `file`, which is closed; freed by the caller. */
static inline char *read_back(FILE *file)
{
    long size = ftell(file);
    ck_assert_int_ge(size, 0);
    char *text = calloc(1, (size_t)size + 1);
    ck_assert_ptr_nonnull(text);
    rewind(file);
    ck_assert_uint_eq(fread(text, 1, (size_t)size, file), (size_t)size);
    (void)fclose(file);
    return text;
}

/** The report as text of `width` columns; freed by the caller. */
static inline char *text_of(const struct made_report *made, int width, bool has_colour)
{
    FILE *file = tmpfile();
    ck_assert_ptr_nonnull(file);
    const struct lamp_text_rules rules = {.width = width, .has_colour = has_colour};
    ck_assert_int_eq(lamp_report_write_text(&made->report, &rules, file), LAMP_OK);
    return read_back(file);
}

/** The report as JSON; freed by the caller. */
static inline char *json_of(const struct made_report *made)
{
    FILE *file = tmpfile();
    ck_assert_ptr_nonnull(file);
    ck_assert_int_eq(lamp_report_write_json(&made->report, file), LAMP_OK);
    return read_back(file);
}

#endif
