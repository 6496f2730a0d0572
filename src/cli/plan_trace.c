/* plan_trace.c - A render without a picture: a trace in CSV, edges in VCD. */
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/fail.h"
#include "base/number.h"
#include "cli/plan.h"
#include "lampread/export.h"
#include "render/output.h"

/* The lamps of a plan at work. */
struct stage {
    size_t count;
    struct lamp_script *script[LAMP_SCENE_LAMPS_MAX];
    struct lamp_tracer *tracer[LAMP_SCENE_LAMPS_MAX];
};

static bool ends_in(const char *path, const char *ending)
{
    const size_t length = strlen(path);
    const size_t size = strlen(ending);
    return length > size && strcasecmp(path + length - size, ending) == 0;
}

bool plan_is_trace(const char *path)
{
    return ends_in(path, ".csv") || ends_in(path, ".vcd");
}

static enum lamp_err set_stage(struct stage *stage, const struct plan *plan,
                               struct lamp_error *error)
{
    const struct lamp_scene_rules *scene = &plan->rules.scene;
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.shutter = scene->shutter;
    rules.read_noise = scene->read_noise;
    rules.shot_noise = scene->shot_noise;
    rules.pumping = 0.5 * scene->auto_exposure;
    rules.ripple = scene->ripple * scene->ambient;
    rules.ripple_hz = scene->ripple_hz;
    stage->count = scene->lamp_count;
    for (size_t i = 0; i < stage->count; i++) {
        struct lamp_script_rules script = plan->lamp[i].script;
        script.duration_ns = scene->shutter.start_ns + scene->shutter.duration_ns;
        enum lamp_err err = lamp_script_new(&script, &stage->script[i], error);
        rules.lamp = (unsigned)i;
        if (err == LAMP_OK) {
            err = lamp_tracer_new(&rules, stage->script[i], &stage->tracer[i], error);
        }
        if (err != LAMP_OK) {
            return err;
        }
    }
    return LAMP_OK;
}

static void clear_stage(struct stage *stage)
{
    for (size_t i = 0; i < stage->count; i++) {
        lamp_tracer_free(stage->tracer[i]);
        lamp_script_free(stage->script[i]);
    }
}

/* One sample of each lamp. @return LAMP_END when there are no more. */
static enum lamp_err write_sample(const struct stage *stage, const struct plan *plan, FILE *out)
{
    for (size_t i = 0; i < stage->count; i++) {
        struct lamp_sample sample;
        if (!lamp_tracer_next(stage->tracer[i], &sample)) {
            return LAMP_END;
        }
        enum lamp_err err = lamp_export_trace_push(out, true, plan->name[i], &sample);
        if (err != LAMP_OK) {
            return err;
        }
    }
    return LAMP_OK;
}

static enum lamp_err write_samples(const struct stage *stage, const struct plan *plan, FILE *out)
{
    enum lamp_err err = lamp_export_trace_begin(out, true);
    while (err == LAMP_OK) {
        err = write_sample(stage, plan, out);
    }
    return err == LAMP_END ? LAMP_OK : err;
}

/* The lamp whose next edge is first; `count` if there is none left before `end_ns`. */
static size_t first_lamp(const struct stage *stage, const size_t next[], int64_t end_ns)
{
    size_t first = stage->count;
    int64_t first_ns = end_ns;
    for (size_t i = 0; i < stage->count; i++) {
        size_t edges;
        const struct lamp_edge *edge = lamp_script_edges(stage->script[i], &edges);
        if (next[i] < edges && edge[next[i]].t_ns < first_ns) {
            first_ns = edge[next[i]].t_ns;
            first = i;
        }
    }
    return first;
}

static enum lamp_err push_edges(const struct stage *stage, int64_t end_ns,
                                struct lamp_export_edges *writer)
{
    size_t next[LAMP_SCENE_LAMPS_MAX] = {0};
    enum lamp_err err = LAMP_OK;
    size_t first;
    while (err == LAMP_OK && (first = first_lamp(stage, next, end_ns)) < stage->count) {
        size_t edges;
        const struct lamp_edge *edge = lamp_script_edges(stage->script[first], &edges);
        err = lamp_export_edges_push(writer, first, &edge[next[first]++]);
    }
    return err == LAMP_OK ? lamp_export_edges_flush(writer, end_ns) : err;
}

static enum lamp_err write_edges(const struct stage *stage, const struct plan *plan, FILE *out)
{
    struct lamp_export_lamp lamps[LAMP_SCENE_LAMPS_MAX];
    for (size_t i = 0; i < stage->count; i++) {
        lamps[i] = (struct lamp_export_lamp){
            .name = plan->name[i], .starts_lit = lamp_script_starts_lit(stage->script[i])};
    }
    const struct lamp_export_edges_rules rules = lamp_export_edges_rules_default();
    struct lamp_export_edges *writer = NULL;
    enum lamp_err err = lamp_export_edges_new(out, &rules, lamps, stage->count, &writer);
    if (err == LAMP_OK) {
        err = push_edges(stage, plan->rules.scene.shutter.duration_ns, writer);
    }
    lamp_export_edges_free(writer);
    return err;
}

/* Write to memory first: the file is whole or it is not there. */
static enum lamp_err put(const struct stage *stage, const struct plan *plan, const char *path,
                         struct lamp_error *error)
{
    char *bytes = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&bytes, &size);
    if (memory == NULL) {
        return lamp_fail_memory(error);
    }
    enum lamp_err err = ends_in(path, ".csv") ? write_samples(stage, plan, memory)
                                              : write_edges(stage, plan, memory);
    if (fclose(memory) != 0 && err == LAMP_OK) {
        err = LAMP_NO_MEMORY;
    }
    const struct lamp_text text = {.at = bytes, .length = size};
    if (err == LAMP_BAD_USE) {
        (void)lamp_fail(
            error, err, path,
            "a VCD holds 1 to 64 lamps, each with its own name of printable ASCII without blanks");
    } else if (err != LAMP_OK) {
        (void)lamp_fail(error, err, path,
                        err == LAMP_NO_MEMORY ? "out of memory" : "cannot be written");
    } else {
        err = output_put(path, &text, error);
    }
    free(bytes);
    return err;
}

enum lamp_err plan_write_trace(const struct plan *plan, const char *path, struct lamp_error *error)
{
    struct stage stage = {.count = 0};
    enum lamp_err err = set_stage(&stage, plan, error);
    if (err == LAMP_OK && ends_in(path, ".csv")) {
        char truth[4096];
        (void)snprintf(truth, sizeof truth, "%.*s.truth.vcd", (int)(sizeof truth - 16), path);
        err = put(&stage, plan, truth, error);
    }
    if (err == LAMP_OK) {
        err = put(&stage, plan, path, error);
    }
    clear_stage(&stage);
    return err;
}
