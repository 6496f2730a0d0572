/* acc_file.h - Light written to the open formats and read back, so that its lamp has a name. */
#ifndef LAMP_TESTS_ACC_FILE_H
#define LAMP_TESTS_ACC_FILE_H

#include "support/acc_read.h"

/** Room for a path. */
#define ACC_PATH_MAX 256

/** Make a folder of its own for one file, and the path of that file in it. */
void acc_path_make(char path[ACC_PATH_MAX], const char *name);

/** Remove the file and its folder. */
void acc_path_remove(const char *path);

/** Sample `script` into a trace file of lamp `name` and read it. */
struct acc_reading acc_read_trace_file(const struct lamp_reader_rules *rules,
                                       const struct lamp_tracer_rules *tracer,
                                       const struct lamp_script *script, const char *name);

/** Write the true edges of `script` into a VCD of lamp `name` and read it. */
struct acc_reading acc_read_edges_file(const struct lamp_reader_rules *rules,
                                       const struct lamp_script *script, const char *name);

/** Sample `script` into a trace file at `path`. */
void acc_save_trace(const char *path, const struct lamp_tracer_rules *rules,
                    const struct lamp_script *script, const char *name);

#endif
