/* acc_read.c - Light taken through the whole pipeline, from pictures, samples, edges or a file. */
#include "support/acc_read.h"

#include <stdio.h>
#include <stdlib.h>

void acc_must(enum lamp_err answer, const struct lamp_error *error)
{
    if (answer != LAMP_OK) {
        (void)fprintf(stderr, "cannot set up: %s: %s (%d)\n", error->place, error->sentence,
                      (int)answer);
        exit(EXIT_FAILURE);
    }
}

static struct acc_reading begin(const struct lamp_reader_rules *rules)
{
    struct acc_reading reading = {.reader = NULL};
    struct lamp_error error = {.place = ""};
    acc_must(lamp_reader_new(rules, &reading.reader, &error), &error);
    return reading;
}

static void conclude(struct acc_reading *reading)
{
    struct lamp_error error = {.place = "report"};
    acc_must(lamp_reader_report(reading->reader, reading->source, &reading->report), &error);
}

static void push(struct acc_reading *reading, const struct lamp_source_info *info,
                 const struct lamp_item *item)
{
    struct lamp_error error = {.place = ""};
    acc_must(lamp_reader_push(reading->reader, info, item, &error), &error);
}

struct acc_reading acc_read_pictures(const struct lamp_reader_rules *rules,
                                     const struct lamp_scene_rules *scene,
                                     struct lamp_renderer *renderer)
{
    struct acc_reading reading = begin(rules);
    struct lamp_source_info info = {.kind = LAMP_SOURCE_CLIP,
                                    .name = "rendered",
                                    .duration_s = (double)scene->shutter.duration_ns / 1e9,
                                    .rate_hz = scene->shutter.rate_hz,
                                    .width_px = scene->width_px,
                                    .height_px = scene->height_px};
    struct lamp_item item = {.kind = LAMP_ITEM_FRAME};
    while (lamp_renderer_next(renderer, &item.frame)) {
        lamp_renderer_count(renderer, &info.frame_count, &info.dropped_count);
        push(&reading, &info, &item);
    }
    conclude(&reading);
    return reading;
}

struct acc_reading acc_read_trace(const struct lamp_reader_rules *rules,
                                  const struct lamp_tracer_rules *tracer_rules,
                                  const struct lamp_script *script)
{
    struct acc_reading reading = begin(rules);
    struct lamp_source_info info = {.kind = LAMP_SOURCE_TRACE,
                                    .name = "sampled",
                                    .duration_s = (double)tracer_rules->shutter.duration_ns / 1e9,
                                    .rate_hz = tracer_rules->shutter.rate_hz};
    struct lamp_tracer *tracer = NULL;
    struct lamp_error error = {.place = ""};
    acc_must(lamp_tracer_new(tracer_rules, script, &tracer, &error), &error);
    struct lamp_item item = {.kind = LAMP_ITEM_SAMPLE};
    while (lamp_tracer_next(tracer, &item.sample)) {
        info.frame_count++;
        push(&reading, &info, &item);
    }
    lamp_tracer_free(tracer);
    conclude(&reading);
    return reading;
}

struct acc_reading acc_read_edges(const struct lamp_reader_rules *rules,
                                  const struct lamp_script *script, int64_t sd_ns)
{
    struct acc_reading reading = begin(rules);
    struct lamp_source_info info = {.kind = LAMP_SOURCE_EDGES,
                                    .name = "edges",
                                    .duration_s = (double)lamp_script_duration_ns(script) / 1e9};
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    struct lamp_item item = {.kind = LAMP_ITEM_EDGE,
                             .edge = {.t_ns = 0, .lit = lamp_script_starts_lit(script)}};
    push(&reading, &info, &item);
    for (size_t i = 0; i < count && edge[i].t_ns < lamp_script_duration_ns(script); i++) {
        item.edge = edge[i];
        item.edge.sd_ns = sd_ns;
        push(&reading, &info, &item);
    }
    conclude(&reading);
    return reading;
}

struct acc_reading acc_read_file(const struct lamp_reader_rules *rules, const char *path)
{
    struct acc_reading reading = begin(rules);
    struct lamp_source_rules source = lamp_source_rules_default();
    struct lamp_error error = {.place = ""};
    acc_must(lamp_source_open(path, &source, &reading.source, &error), &error);
    enum lamp_err answer = LAMP_OK;
    while (answer == LAMP_OK) {
        answer = lamp_reader_step(reading.reader, reading.source, &error);
    }
    acc_must(answer == LAMP_END ? LAMP_OK : answer, &error);
    conclude(&reading);
    return reading;
}

void acc_reading_fini(struct acc_reading *reading)
{
    lamp_reader_free(reading->reader);
    lamp_source_free(reading->source);
    *reading = (struct acc_reading){.reader = NULL};
}
