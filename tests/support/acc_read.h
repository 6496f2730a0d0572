/* acc_read.h - Light taken through the whole pipeline, from pictures, samples, edges or a file. */
#ifndef LAMP_TESTS_ACC_READ_H
#define LAMP_TESTS_ACC_READ_H

#include <stddef.h>

#include "lampread/pipeline.h"
#include "lampread/render.h"

/** What was read; the report lives as long. */
struct acc_reading {
    struct lamp_reader *reader;
    struct lamp_source *source; /**< Of a file; NULL otherwise. */
    const struct lamp_report *report;
};

/** End the program with a line unless `answer` is LAMP_OK: the test itself could not be set up. */
void acc_must(enum lamp_err answer, const struct lamp_error *error);

/** Film all of `renderer`, as a clip that does not tell its exposure. */
struct acc_reading acc_read_pictures(const struct lamp_reader_rules *rules,
                                     const struct lamp_scene_rules *scene,
                                     struct lamp_renderer *renderer);

/** Sample all of `script`. */
struct acc_reading acc_read_trace(const struct lamp_reader_rules *rules,
                                  const struct lamp_tracer_rules *tracer_rules,
                                  const struct lamp_script *script);

/** Take the true edges of `script`, as a pin would, each with `sd_ns`. */
struct acc_reading acc_read_edges(const struct lamp_reader_rules *rules,
                                  const struct lamp_script *script, int64_t sd_ns);

/** Read the file at `path`. */
struct acc_reading acc_read_file(const struct lamp_reader_rules *rules, const char *path);

void acc_reading_fini(struct acc_reading *reading);

#endif
