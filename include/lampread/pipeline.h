/* pipeline.h - The only place that knows the order: source, light, rhythm, match, finding, report. */
#ifndef LAMPREAD_PIPELINE_H
#define LAMPREAD_PIPELINE_H

#include <stddef.h>

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
};

struct lamp_reader;

struct lamp_reader_rules lamp_reader_rules_default(void);

/** Make a reader. @param out freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY, LAMP_BAD_USE. */
enum lamp_err lamp_reader_new(const struct lamp_reader_rules *rules, struct lamp_reader **out, struct lamp_error *error);

/**
 * Take one item from `source` through all stages.
 * @return LAMP_OK, LAMP_END when the source has no more, or what a stage answered.
 */
enum lamp_err lamp_reader_step(struct lamp_reader *reader, struct lamp_source *source, struct lamp_error *error);

/** Say what was seen. @param out borrowed from the reader until its next call. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_reader_report(struct lamp_reader *reader, const struct lamp_source *source,
                                 const struct lamp_report **out);

/** Free; NULL is fine. */
void lamp_reader_free(struct lamp_reader *reader);

#endif
