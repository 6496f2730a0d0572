/* sink.h - A file that grows part by part, each part whole on disk soon after it is written. */
#ifndef LAMP_RECORD_SINK_H
#define LAMP_RECORD_SINK_H

#include <aio.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "lampread/error.h"

/** A file; begin with all zero. */
struct lamp_sink {
    FILE *file;
    const char *path;   /**< Borrowed. */
    int64_t whole_size; /**< Bytes up to the end of the last whole part. */
    struct aiocb sync;  /**< Asks the disk to take what it was given, while light goes on. */
    bool is_syncing;
    int failure; /**< errno of the first write that failed, 0: none did. */
};

/** Open a new file; one that is there only if `replaces`. @return LAMP_OK, LAMP_BAD_USE,
 * LAMP_CANNOT_WRITE. */
enum lamp_err lamp_sink_open(struct lamp_sink *sink, const char *path, bool replaces,
                             struct lamp_error *error);

/** Whether a write failed by now: end the part to learn what is left. */
bool lamp_sink_has_failed(struct lamp_sink *sink);

/**
 * End a part: it is given to the system now, which is asked to put it on the disk.
 * @return LAMP_OK; LAMP_CANNOT_WRITE: the file was cut to the parts that are whole, and closed.
 */
enum lamp_err lamp_sink_end_part(struct lamp_sink *sink, struct lamp_error *error);

/** Write over `size` bytes at `offset`, then go on at the end. */
void lamp_sink_patch(struct lamp_sink *sink, int64_t offset, const void *bytes, size_t size);

/** Close; a part that was not ended stays as far as it goes. NULL file is fine. */
void lamp_sink_close(struct lamp_sink *sink);

#endif
