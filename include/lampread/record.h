/* record.h - Keep light for later, so that what is on disk plays up to the last second whatever happens.
 *
 *   frames   --> Matroska, with the camera's own stamps; JPEGs as they came, other pictures as they are
 *   samples  --> CSV trace
 *   edges    --> VCD, or a trace that tells how well each edge is known and where some were lost
 */
#ifndef LAMPREAD_RECORD_H
#define LAMPREAD_RECORD_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"

/** How light is kept. */
struct lamp_recorder_rules {
    bool replaces;     /**< Write over a file that is there; default false: refuse. */
    bool traces_places;/**< Frames: write the brightness of each place that may be a lamp to a trace beside; default false. */
};

/** A recording being made. */
struct lamp_recorder;

struct lamp_recorder_rules lamp_recorder_rules_default(void);

/**
 * Begin a recording of what `source` gives. Its file is there from now on, and is never removed.
 * @param path   ends in .mkv for frames, .csv for samples, .vcd or .csv for edges. @param source  opened.
 * @param out    freed by the caller; untouched on failure.
 * @return LAMP_OK; LAMP_BAD_USE (the ending does not suit, or a file is there that must not be replaced);
 *         LAMP_CANNOT_WRITE; LAMP_NO_MEMORY.
 */
enum lamp_err lamp_recorder_new(const char *path, const struct lamp_recorder_rules *rules,
                                const struct lamp_source *source, struct lamp_recorder **out,
                                struct lamp_error *error);

/**
 * Keep one item.
 * @return LAMP_OK; LAMP_CANNOT_WRITE (what was kept before stays, cut to its last whole part; the sentence says why and how much that
 *         is; nothing more may be pushed); LAMP_BAD_SOURCE (pictures change their size or form); LAMP_NO_MEMORY.
 */
enum lamp_err lamp_recorder_push(struct lamp_recorder *recorder, const struct lamp_source *source,
                                 const struct lamp_item *item, struct lamp_error *error);

/** Let the last length run on to now: what a live source without new light calls for. As lamp_recorder_push. */
enum lamp_err lamp_recorder_wait(struct lamp_recorder *recorder, const struct lamp_source *source, struct lamp_error *error);

/** End the recording: what a player shows of its length is written. @return as lamp_recorder_push. */
enum lamp_err lamp_recorder_finish(struct lamp_recorder *recorder, const struct lamp_source *source, struct lamp_error *error);

/** What was kept. */
struct lamp_recorder_counts {
    double kept_s;        /**< From first to last item that is on disk, or handed to the system for it. */
    uint64_t item_count;
    uint64_t byte_count;
    const char *trace;    /**< Name of the trace beside, NULL without; borrowed until the recorder is freed. */
};

/** What was kept so far. */
void lamp_recorder_describe(const struct lamp_recorder *recorder, struct lamp_recorder_counts *out);

/** Close and free; without a finish the file stays as it is, and plays. NULL is fine. */
void lamp_recorder_free(struct lamp_recorder *recorder);

#endif
