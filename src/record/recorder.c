/* recorder.c - Keep light for later: each kind in its file, part by part. */
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "lampread/export.h"
#include "lampread/record.h"
#include "record/matroska.h"
#include "record/places.h"
#include "record/states.h"
#include "record/wires.h"

/* What is at most lost when the program is killed. */
static const int64_t part_ns = INT64_C(250000000);

/* A pin's events come a little after their time: so long after, none is on its way. */
static const int64_t pin_delay_ns = INT64_C(500000000);

struct lamp_recorder {
    struct lamp_recorder_rules rules;
    enum lamp_item_kind kind;
    struct lamp_text path;
    struct lamp_sink sink;
    struct lamp_text trace_path; /* of the trace beside a film */
    struct lamp_sink trace;
    struct lamp_film film;
    struct lamp_places places;
    struct lamp_wires wires; /* edges into a VCD */
    struct lamp_states states;
    bool keeps_states; /* edges into a trace instead */
    uint64_t item_count;
    int64_t first_ns;
    int64_t last_ns;
    int64_t kept_ns; /* the end of the last part that is whole */
    bool is_over;    /* nothing more can be written */
};

static const char trace_ending[] = ".csv";

/* What each kind of light is kept in; edges in a trace, too. */
static const struct {
    const char *ending;
    const char *rule;
} forms[] = {
    [LAMP_ITEM_FRAME] = {".mkv", "pictures go to Matroska: expected a name that ends in .mkv"},
    [LAMP_ITEM_SAMPLE] = {trace_ending,
                          "brightness goes to a CSV trace: expected a name that ends in .csv"},
    [LAMP_ITEM_EDGE] = {".vcd",
                        "edges go to a VCD or a CSV trace: expected a name that ends in .vcd or "
                        ".csv"}};

struct lamp_recorder_rules lamp_recorder_rules_default(void)
{
    return (struct lamp_recorder_rules){.replaces = false, .traces_places = false};
}

static enum lamp_item_kind item_of(enum lamp_source_kind kind)
{
    switch (kind) {
    case LAMP_SOURCE_TRACE: return LAMP_ITEM_SAMPLE;
    case LAMP_SOURCE_EDGES:
    case LAMP_SOURCE_PIN: return LAMP_ITEM_EDGE;
    case LAMP_SOURCE_CLIP:
    case LAMP_SOURCE_STILLS:
    case LAMP_SOURCE_CAMERA: break;
    }
    return LAMP_ITEM_FRAME;
}

static bool ends_in(const char *path, const char *ending)
{
    size_t length = strlen(path);
    size_t size = strlen(ending);
    return length > size && strcmp(path + length - size, ending) == 0;
}

static enum lamp_err open_sinks(struct lamp_recorder *recorder, struct lamp_error *error)
{
    bool replaces = recorder->rules.replaces;
    enum lamp_err err = lamp_sink_open(&recorder->sink, recorder->path.at, replaces, error);
    if (err == LAMP_OK && recorder->trace_path.length > 0) {
        err = lamp_sink_open(&recorder->trace, recorder->trace_path.at, replaces, error);
    }
    return err;
}

static enum lamp_err make(struct lamp_recorder *recorder, const char *path,
                          struct lamp_error *error)
{
    const char *ending = forms[recorder->kind].ending;
    recorder->keeps_states = recorder->kind == LAMP_ITEM_EDGE && ends_in(path, trace_ending);
    if (!recorder->keeps_states && !ends_in(path, ending)) {
        return lamp_fail(error, LAMP_BAD_USE, path, "%s", forms[recorder->kind].rule);
    }
    lamp_text_add(&recorder->path, "%s", path);
    if (recorder->kind == LAMP_ITEM_FRAME && recorder->rules.traces_places) {
        lamp_text_add(&recorder->trace_path, "%.*s.csv", (int)(strlen(path) - strlen(ending)),
                      path);
    }
    if (recorder->path.failed || recorder->trace_path.failed) {
        return lamp_fail_memory(error);
    }
    recorder->places.sink = &recorder->trace;
    recorder->wires.sink = &recorder->sink;
    recorder->states.sink = &recorder->sink;
    return open_sinks(recorder, error);
}

enum lamp_err lamp_recorder_new(const char *path, const struct lamp_recorder_rules *rules,
                                const struct lamp_source *source, struct lamp_recorder **out,
                                struct lamp_error *error)
{
    struct lamp_recorder *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return lamp_fail_memory(error);
    }
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    made->rules = *rules;
    made->kind = item_of(info.kind);
    enum lamp_err err = make(made, path, error);
    if (err != LAMP_OK) {
        lamp_recorder_free(made);
        return err;
    }
    *out = made;
    return LAMP_OK;
}

static double kept_s(const struct lamp_recorder *recorder)
{
    return (double)(recorder->kept_ns - recorder->first_ns) / LAMP_NS_PER_S;
}

/* Say what is left after a failure, once. */
static enum lamp_err tell_failure(struct lamp_recorder *recorder, const struct lamp_error *why,
                                  struct lamp_error *error)
{
    char kept[32];
    lamp_duration_format((recorder->kept_ns - recorder->first_ns) / (LAMP_NS_PER_S / 10) *
                             (LAMP_NS_PER_S / 10),
                         kept, sizeof kept);
    recorder->is_over = true;
    bool has_any = recorder->kept_ns > recorder->first_ns;
    return lamp_fail(error, LAMP_CANNOT_WRITE, why->place, "%s: %s%s%s", why->sentence,
                     has_any ? "the first " : "nothing", has_any ? kept : "",
                     has_any ? " are kept and can be read" : " was kept");
}

static enum lamp_err end_part(struct lamp_recorder *recorder, struct lamp_error *error)
{
    struct lamp_error why = {.sentence = ""};
    enum lamp_err err = lamp_sink_end_part(&recorder->sink, &why);
    if (err == LAMP_OK && recorder->trace.file != NULL) {
        err = lamp_sink_end_part(&recorder->trace, &why);
    }
    if (err != LAMP_OK) {
        return tell_failure(recorder, &why, error);
    }
    recorder->kept_ns = recorder->last_ns;
    return LAMP_OK;
}

static enum lamp_err push_frame(struct lamp_recorder *recorder, const struct lamp_source *source,
                                const struct lamp_frame *frame, struct lamp_error *error)
{
    enum lamp_err err = LAMP_OK;
    if (recorder->item_count == 0) {
        struct lamp_source_info info;
        lamp_source_describe(source, &info);
        err = lamp_film_begin(&recorder->film, &recorder->sink, frame, info.rotation_deg, error);
    } else if (lamp_film_is_part_full(&recorder->film, frame->t_ns)) {
        lamp_film_end_cluster(&recorder->film);
        err = end_part(recorder, error);
    }
    if (err == LAMP_OK) {
        err = lamp_film_push(&recorder->film, frame, error);
    }
    if (err == LAMP_OK && recorder->trace.file != NULL) {
        err = lamp_places_push(&recorder->places, frame);
        err = err == LAMP_NO_MEMORY ? lamp_fail_memory(error) : err;
    }
    return err;
}

static void push_sample(struct lamp_recorder *recorder, const struct lamp_source *source,
                        const struct lamp_item *item)
{
    if (recorder->item_count == 0) {
        (void)lamp_export_trace_begin(recorder->sink.file, true);
    }
    (void)lamp_export_trace_push(recorder->sink.file, true,
                                 lamp_source_lamp_name(source, item->lamp), &item->sample);
}

static enum lamp_err push_edge(struct lamp_recorder *recorder, const struct lamp_source *source,
                               const struct lamp_item *item, struct lamp_error *error)
{
    if (!recorder->keeps_states) {
        return lamp_wires_push(&recorder->wires, source, item, error);
    }
    lamp_states_push(&recorder->states, source, item);
    return LAMP_OK;
}

/* Between edges the light goes on. */
static enum lamp_err run_on(struct lamp_recorder *recorder, const struct lamp_source *source,
                            int64_t t_ns, struct lamp_error *error)
{
    if (!recorder->keeps_states) {
        return lamp_wires_run_on(&recorder->wires, source, t_ns, error);
    }
    lamp_states_run_on(&recorder->states, source, t_ns);
    return LAMP_OK;
}

static enum lamp_err push_item(struct lamp_recorder *recorder, const struct lamp_source *source,
                               const struct lamp_item *item, struct lamp_error *error)
{
    switch (item->kind) {
    case LAMP_ITEM_FRAME: return push_frame(recorder, source, &item->frame, error);
    case LAMP_ITEM_EDGE:
    case LAMP_ITEM_BREAK: return push_edge(recorder, source, item, error);
    case LAMP_ITEM_SAMPLE: break;
    }
    push_sample(recorder, source, item);
    return LAMP_OK;
}

/* Whether the part is to be ended now; a film ends its own with its clusters. */
static bool is_part_over(const struct lamp_recorder *recorder)
{
    return recorder->kind != LAMP_ITEM_FRAME && recorder->last_ns - recorder->kept_ns >= part_ns;
}

enum lamp_err lamp_recorder_push(struct lamp_recorder *recorder, const struct lamp_source *source,
                                 const struct lamp_item *item, struct lamp_error *error)
{
    enum lamp_item_kind kind = item->kind == LAMP_ITEM_BREAK ? LAMP_ITEM_EDGE : item->kind;
    if (recorder->is_over || kind != recorder->kind) {
        return lamp_fail(error, LAMP_BAD_USE, recorder->path.at, "this recording is over");
    }
    int64_t t_ns = lamp_item_time_ns(item);
    if (recorder->item_count == 0) {
        recorder->first_ns = recorder->last_ns = recorder->kept_ns = t_ns;
    }
    enum lamp_err err = push_item(recorder, source, item, error);
    if (err != LAMP_OK) {
        return err;
    }
    recorder->item_count++;
    recorder->last_ns = t_ns > recorder->last_ns ? t_ns : recorder->last_ns;
    bool failed = lamp_sink_has_failed(&recorder->sink) ||
                  (recorder->trace.file != NULL && lamp_sink_has_failed(&recorder->trace));
    return failed || is_part_over(recorder) ? end_part(recorder, error) : LAMP_OK;
}

/* The end of the light by the source's own word. */
static int64_t end_of(const struct lamp_recorder *recorder, const struct lamp_source *source)
{
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    int64_t end_ns = recorder->first_ns + (int64_t)(info.duration_s * LAMP_NS_PER_S);
    return end_ns > recorder->last_ns ? end_ns : recorder->last_ns;
}

enum lamp_err lamp_recorder_wait(struct lamp_recorder *recorder, const struct lamp_source *source,
                                 struct lamp_error *error)
{
    if (recorder->kind != LAMP_ITEM_EDGE || recorder->item_count == 0 || recorder->is_over) {
        return LAMP_OK;
    }
    int64_t safe_ns = end_of(recorder, source) - pin_delay_ns;
    if (safe_ns - recorder->kept_ns < part_ns) {
        return LAMP_OK;
    }
    enum lamp_err err = run_on(recorder, source, safe_ns, error);
    recorder->last_ns = safe_ns > recorder->last_ns ? safe_ns : recorder->last_ns;
    return err == LAMP_OK ? end_part(recorder, error) : err;
}

enum lamp_err lamp_recorder_finish(struct lamp_recorder *recorder, const struct lamp_source *source,
                                   struct lamp_error *error)
{
    if (recorder->item_count == 0 || recorder->is_over) {
        return LAMP_OK;
    }
    int64_t end_ns = end_of(recorder, source);
    enum lamp_err err = LAMP_OK;
    if (recorder->kind == LAMP_ITEM_EDGE) {
        err = run_on(recorder, source, end_ns, error);
        recorder->last_ns = end_ns;
    } else if (recorder->kind == LAMP_ITEM_FRAME) {
        lamp_film_finish(&recorder->film, end_ns - recorder->first_ns);
    }
    recorder->is_over = true;
    return err == LAMP_OK ? end_part(recorder, error) : err;
}

void lamp_recorder_describe(const struct lamp_recorder *recorder, struct lamp_recorder_counts *out)
{
    *out = (struct lamp_recorder_counts){
        .kept_s = kept_s(recorder),
        .item_count = recorder->item_count,
        .byte_count = (uint64_t)recorder->sink.whole_size,
        .trace = recorder->trace_path.length > 0 ? recorder->trace_path.at : NULL};
}

void lamp_recorder_free(struct lamp_recorder *recorder)
{
    if (recorder == NULL) {
        return;
    }
    lamp_wires_fini(&recorder->wires);
    lamp_places_fini(&recorder->places);
    lamp_sink_close(&recorder->sink);
    lamp_sink_close(&recorder->trace);
    lamp_text_fini(&recorder->path);
    lamp_text_fini(&recorder->trace_path);
    free(recorder);
}
