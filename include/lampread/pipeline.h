/* pipeline.h - The only place that knows the order: source, light, rhythm, match, finding, report. */
#ifndef LAMPREAD_PIPELINE_H
#define LAMPREAD_PIPELINE_H

#include <stddef.h>
#include <stdio.h>

#include "lampread/codebook.h"
#include "lampread/error.h"
#include "lampread/finding.h"
#include "lampread/report.h"
#include "lampread/source.h"

/** A lamp the user points at, on the upright picture. */
struct lamp_pointer {
    char name[LAMP_NAME_MAX];
    int x_px;
    int y_px;
    int w_px; /**< 0: a square that suits the picture. */
    int h_px;
};

/** All that a reading needs. Everything is borrowed until the reader is freed. */
struct lamp_reader_rules {
    const struct lamp_book *const *book; /**< Chosen books; NULL if none. */
    size_t book_count;
    const struct lamp_book *const *shelf;/**< Books only to be named where none is chosen; NULL if none. */
    size_t shelf_count;
    const struct lamp_pointer *pointer;
    size_t pointer_count;
    const struct lamp_given *given;
    size_t given_count;
    struct lamp_viewer_rules viewer;
    struct lamp_edger_rules edger;
    struct lamp_rhythm_rules rhythm;
    struct lamp_match_rules match;
    bool keeps_portraits; /**< Keep a small picture of each lamp when lit, at most 700 kB each; default false. */
    FILE *spool; /**< Open for writing and reading ("w+b"); keeps every sample for lamp_reader_next_sample. NULL: none is kept. */
};

struct lamp_reader;

struct lamp_reader_rules lamp_reader_rules_default(void);

/** Make a reader. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY, LAMP_BAD_USE. */
enum lamp_err lamp_reader_new(const struct lamp_reader_rules *rules, struct lamp_reader **out, struct lamp_error *error);

/**
 * Take one item from `source` through all stages.
 * @return LAMP_OK, LAMP_NOT_YET, LAMP_END when the source has no more, or what a stage answered.
 */
enum lamp_err lamp_reader_step(struct lamp_reader *reader, struct lamp_source *source, struct lamp_error *error);

/**
 * As lamp_reader_step, and hands the item on, so that it can be kept too.
 * @param item  set on LAMP_OK.
 */
enum lamp_err lamp_reader_take(struct lamp_reader *reader, struct lamp_source *source, struct lamp_item *item,
                               struct lamp_error *error);

/**
 * Take one item that comes from elsewhere than a source, such as a camera of the caller's own.
 * @param info  what is known of where it comes from; its picture size and rotation are those of the first frame.
 *              Copied; its name is borrowed until the reader is freed.
 * @param item  as lamp_source_next gives it; the planes of a frame must stay readable as LAMP_FRAMES_KEPT says.
 * @return LAMP_OK, or what a stage answered.
 */
enum lamp_err lamp_reader_push(struct lamp_reader *reader, const struct lamp_source_info *info,
                               const struct lamp_item *item, struct lamp_error *error);

/**
 * Say what was seen. Light that is taken afterwards begins after a break.
 * @param source  where the light came from; NULL where it was pushed: then what was last said of it is told.
 * @param out     borrowed from the reader until it takes more light, reports again or is freed.
 * @return LAMP_OK, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_reader_report(struct lamp_reader *reader, const struct lamp_source *source,
                                 const struct lamp_report **out);

/**
 * Say what was seen so far while light goes on: as lamp_reader_report would if the light ended here, and without a break. Feeding
 * on after any number of peeks gives the report that it would have given without. A place whose light goes on as it was is not looked at
 * anew for a while, so that a peek costs little.
 * @param out  borrowed from the reader until the next peek or until it is freed. @return LAMP_OK, LAMP_NO_MEMORY.
 * @note Some milliseconds for each lamp that changes.
 */
enum lamp_err lamp_reader_peek(struct lamp_reader *reader, const struct lamp_source *source,
                               const struct lamp_report **out);

/**
 * Take the next sample of the lamps that the last report told, in the order they were measured; a report begins anew.
 * @param lamp  set to its index in the report.
 * @return LAMP_OK; LAMP_END; LAMP_BAD_USE if the rules have no spool; LAMP_CANNOT_WRITE if the spool failed.
 */
enum lamp_err lamp_reader_next_sample(struct lamp_reader *reader, size_t *lamp, struct lamp_sample *out);

/** Begin anew with the samples of the last report. */
void lamp_reader_rewind_samples(struct lamp_reader *reader);

/** Free; NULL is fine. */
void lamp_reader_free(struct lamp_reader *reader);

#endif
