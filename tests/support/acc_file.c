/* acc_file.c - Light written to the open formats and read back, so that its lamp has a name. */
#include "support/acc_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "lampread/export.h"

static FILE *open_file(const char *path)
{
    FILE *file = fopen(path, "w");
    if (file == NULL) {
        perror(path);
        exit(EXIT_FAILURE);
    }
    return file;
}

static void close_file(FILE *file, const char *path)
{
    if (fclose(file) != 0) {
        perror(path);
        exit(EXIT_FAILURE);
    }
}

void acc_save_trace(const char *path, const struct lamp_tracer_rules *rules,
                    const struct lamp_script *script, const char *name)
{
    struct lamp_error error = {.place = "trace"};
    struct lamp_tracer *tracer = NULL;
    struct lamp_sample sample;
    FILE *file = open_file(path);
    acc_must(lamp_tracer_new(rules, script, &tracer, &error), &error);
    acc_must(lamp_export_trace_begin(file, rules->tells_exposure), &error);
    while (lamp_tracer_next(tracer, &sample)) {
        acc_must(lamp_export_trace_push(file, rules->tells_exposure, name, &sample), &error);
    }
    lamp_tracer_free(tracer);
    close_file(file, path);
}

static void save_edges(const char *path, const struct lamp_script *script, const char *name)
{
    struct lamp_error error = {.place = "edges"};
    const struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    const struct lamp_export_lamp lamp = {.name = name,
                                          .starts_lit = lamp_script_starts_lit(script)};
    struct lamp_export_edges *writer = NULL;
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    const int64_t end_ns = lamp_script_duration_ns(script);
    FILE *file = open_file(path);
    acc_must(lamp_export_edges_new(file, &rules, &lamp, 1, &writer), &error);
    for (size_t i = 0; i < count && edge[i].t_ns < end_ns; i++) {
        acc_must(lamp_export_edges_push(writer, 0, &edge[i]), &error);
    }
    acc_must(lamp_export_edges_flush(writer, end_ns), &error);
    lamp_export_edges_free(writer);
    close_file(file, path);
}

void acc_path_make(char path[ACC_PATH_MAX], const char *name)
{
    const char *where = getenv("TMPDIR");
    char folder[ACC_PATH_MAX / 2];
    (void)snprintf(folder, sizeof folder, "%.80s/lampread-XXXXXX", where != NULL ? where : "/tmp");
    if (mkdtemp(folder) == NULL) {
        perror(folder);
        exit(EXIT_FAILURE);
    }
    (void)snprintf(path, ACC_PATH_MAX, "%s/%.80s", folder, name);
}

void acc_path_remove(const char *path)
{
    char folder[ACC_PATH_MAX];
    (void)snprintf(folder, sizeof folder, "%s", path);
    *strrchr(folder, '/') = '\0';
    (void)remove(path);
    (void)rmdir(folder);
}

static struct acc_reading read_and_remove(const struct lamp_reader_rules *rules, const char *path)
{
    struct acc_reading reading = acc_read_file(rules, path);
    acc_path_remove(path);
    return reading;
}

struct acc_reading acc_read_trace_file(const struct lamp_reader_rules *rules,
                                       const struct lamp_tracer_rules *tracer,
                                       const struct lamp_script *script, const char *name)
{
    char path[ACC_PATH_MAX];
    acc_path_make(path, "light.csv");
    acc_save_trace(path, tracer, script, name);
    return read_and_remove(rules, path);
}

struct acc_reading acc_read_edges_file(const struct lamp_reader_rules *rules,
                                       const struct lamp_script *script, const char *name)
{
    char path[ACC_PATH_MAX];
    acc_path_make(path, "light.vcd");
    save_edges(path, script, name);
    return read_and_remove(rules, path);
}
