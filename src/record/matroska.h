/* matroska.h - Pictures into Matroska (RFC 9559), a file that plays up to where it ends. */
#ifndef LAMP_RECORD_MATROSKA_H
#define LAMP_RECORD_MATROSKA_H

#include <stdbool.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/source.h"
#include "record/sink.h"

/** A film being written; begin with lamp_film_begin. */
struct lamp_film {
    struct lamp_sink *sink; /**< Borrowed. */
    bool is_jpeg;           /**< The camera's JPEGs; else planes. */
    int width_px;
    int height_px;
    int chroma_width_px; /**< 0 for grey. */
    int chroma_height_px;
    int64_t first_ns;        /**< Stamp of the first frame. */
    int64_t segment_offset;  /**< Where the segment's content begins. */
    int64_t duration_offset; /**< Where room is kept for the duration. */
    int64_t cluster_offset;  /**< Where the content of the cluster begins, 0: none is open. */
    int64_t cluster_tick;    /**< Time of the cluster. */
};

/** Write what comes before the first frame. @return LAMP_OK, LAMP_BAD_SOURCE (no form suits these
 * pictures). */
enum lamp_err lamp_film_begin(struct lamp_film *film, struct lamp_sink *sink,
                              const struct lamp_frame *first, int rotation_deg,
                              struct lamp_error *error);

/** Whether this frame belongs to a new cluster: the one before can be ended. */
bool lamp_film_is_part_full(const struct lamp_film *film, int64_t t_ns);

/** End the cluster, so that its size is known; the caller ends the sink's part. */
void lamp_film_end_cluster(struct lamp_film *film);

/** Write one frame. @return LAMP_OK, LAMP_BAD_SOURCE (it is not of the form of the first). Failures
 * to write show in the sink. */
enum lamp_err lamp_film_push(struct lamp_film *film, const struct lamp_frame *frame,
                             struct lamp_error *error);

/** Write the duration and all sizes. */
void lamp_film_finish(struct lamp_film *film, int64_t duration_ns);

#endif
