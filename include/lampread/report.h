/* report.h - All that is told of one recording, and the writers that tell it. */
#ifndef LAMPREAD_REPORT_H
#define LAMPREAD_REPORT_H

#include <stdbool.h>
#include <stdio.h>

#include "lampread/finding.h"
#include "lampread/flash.h"
#include "lampread/group.h"
#include "lampread/light.h"
#include "lampread/match.h"
#include "lampread/source.h"

/** Ceilings. */
#define LAMP_REPORT_LAMPS_MAX    64
#define LAMP_REPORT_WARNINGS_MAX 16
#define LAMP_NAME_MAX            64

/** A small picture of the board, upright, from when the lamp was lit. */
struct lamp_portrait {
    int w_px;
    int h_px;
    const unsigned char *rgb; /**< R, G, B as coded, row by row from the top; owned by the report's maker. */
    struct lamp_region lamp;  /**< Where the lamp is on it. */
    int64_t t_ns;             /**< When it was taken. */
};

/** One lamp. */
struct lamp_report_lamp {
    char name[LAMP_NAME_MAX];      /**< As pointed, as the book names it, or "lamp-1". */
    enum lamp_colour colour;
    bool has_region;               /**< False for traces and VCD. */
    struct lamp_region region;     /**< On the first frame, upright. */
    struct lamp_light_shape shape; /**< Of its trace; sample_count 0 for edges from VCD. */
    struct lamp_rhythm rhythm;
    struct lamp_match match;       /**< Its verdict is the one told. */
    const struct lamp_length *length; /**< Owned by the report's maker. */
    size_t length_count;
    uint64_t length_lost;          /**< Older lengths that were let go. */
    const struct lamp_portrait *portrait; /**< NULL where none was kept. */
    size_t warning_count;
    char warning[LAMP_REPORT_WARNINGS_MAX][LAMP_REASON_MAX];
};

/** A report. Borrowed from the reader that made it. */
struct lamp_report {
    struct lamp_source_info source;
    struct lamp_viewer_counts counts;  /**< Zero where there are no pictures. */
    bool has_book;                     /**< False: candidates come from the shipped books, only to be named. */
    size_t lamp_count;
    struct lamp_report_lamp *lamp;     /**< Blinking first, then steady, each by brightness. */
    size_t finding_count;
    struct lamp_finding finding[LAMP_FINDINGS_MAX];
    size_t warning_count;              /**< Warnings of the source and the picture as a whole. */
    char warning[LAMP_REPORT_WARNINGS_MAX][LAMP_REASON_MAX];
};

/** How text is written. */
struct lamp_text_rules {
    bool has_colour; /**< Terminal colours. */
    bool is_ascii;   /**< Draw the timing strip with ASCII only. */
    int width;       /**< Columns, >= 40; default 80. */
    bool explains;   /**< Tell why too: lengths, repeats, what would settle it. */
};

/** For people: the verdict first, a timing strip, meaning, checks, cautions. @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY. */
enum lamp_err lamp_report_write_text(const struct lamp_report *report, const struct lamp_text_rules *rules, FILE *out);

/** Most columns of a code's strip, and its longest line, bytes with the closing zero. */
#define LAMP_CODE_COLUMNS_MAX 120
#define LAMP_CODE_STRIP_MAX   (3 * LAMP_CODE_COLUMNS_MAX + 1)

/** A code drawn as light over time. Holds nothing to free. */
struct lamp_code_strip {
    char light[LAMP_CODE_STRIP_MAX];       /**< UTF-8. */
    char marks[LAMP_CODE_COLUMNS_MAX + 1]; /**< "L", "s", "pause", "rest" below it; "" if there are none. */
    int64_t span_ns;                       /**< Time from end to end. */
};

/**
 * Draw a code as it plays with its nominal lengths: two cycles where they fit into `rules->width` columns, else one.
 * @return false for codes without a wave, steady and flicker; `out` is untouched then.
 */
bool lamp_code_strip(const struct lamp_code *code, const struct lamp_text_rules *rules, struct lamp_code_strip *out);

/** For people: one lamp in one line, without what to do: "status (green, at 392,182): code 2 short - sure (99 %)". @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_report_headline(const struct lamp_report_lamp *lamp, char *out, size_t size);

/** Something that happened while light was watched. All strings but `event` may be NULL. */
struct lamp_report_event {
    double t_s;          /**< Since the first light. */
    const char *event;   /**< "verdict", "gone", "trouble", "over" or "end". */
    const char *name;    /**< Of the lamp. */
    const char *trouble; /**< What stands in the way. */
    const char *says;    /**< What to do about it. */
};

/**
 * For programs: one line with one JSON object for an event.
 * @param report  where the lamp is told whole, or, with `lamp` at its lamp_count, all of it; NULL: neither.
 * @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_report_write_json_event(const struct lamp_report_event *event, const struct lamp_report *report,
                                           size_t lamp, FILE *out);

/** For programs: one JSON object, format 1. @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY. */
enum lamp_err lamp_report_write_json(const struct lamp_report *report, FILE *out);

/**
 * The edges as VCD (IEEE 1364, see export.h), which sources read back: a wire for each lamp, `x` while it is out of view. Beside the
 * wire NAME stand NAME_group (integer, 0 between groups), NAME_class (text: short, long, gap, pause or rest) and NAME_repeat
 * (integer); sources pass over these.
 * @return LAMP_OK, LAMP_BAD_USE (no lamp, or a name that a VCD cannot hold), LAMP_CANNOT_WRITE, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_report_write_edges(const struct lamp_report *report, FILE *out);

/**
 * The flashes as CSV (RFC 4180), one a row, in the order of time; sources read it back as edges. Columns: lamp; start_s; on_s, how long
 * it was lit; off_s, the dark after it as far as it was in view; sd_s, of on_s; class, short or long; dark_class, gap, pause or rest;
 * group, of its repeat, from 1; repeat, from 1; cut, "start", "end" or "both" where that of the flash was not seen. What does not
 * apply or is not known is empty. A row without on_s is a lamp that was dark when it came into view.
 * @return LAMP_OK, LAMP_CANNOT_WRITE.
 */
enum lamp_err lamp_report_write_flashes(const struct lamp_report *report, FILE *out);

#endif
