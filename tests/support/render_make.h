/* render_make.h - Scripts, traces and pictures for the tests of the renderer. */
#ifndef LAMP_TESTS_RENDER_MAKE_H
#define LAMP_TESTS_RENDER_MAKE_H

#include <check.h>

#include "lampread/render.h"

#define MS INT64_C(1000000)
#define S  (1000 * MS)

/** Rules of a wave of `count` lengths in ms, lit first. */
static inline struct lamp_script_rules wave_rules(const int *lengths_ms, size_t count)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_WAVE;
    rules.wave.count = count;
    for (size_t i = 0; i < count; i++) {
        rules.wave.length_ns[i] = lengths_ms[i] * MS;
    }
    return rules;
}

/** A script, which must be good. */
static inline struct lamp_script *make_script(const struct lamp_script_rules *rules)
{
    struct lamp_script *script = NULL;
    struct lamp_error error = {.place = ""};
    const enum lamp_err err = lamp_script_new(rules, &script, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
    return script;
}

/** Take all samples of a script; at most `room`. @return how many. */
static inline size_t take_samples(const struct lamp_tracer_rules *rules,
                                  const struct lamp_script *script, struct lamp_sample *out,
                                  size_t room)
{
    struct lamp_tracer *tracer = NULL;
    struct lamp_error error = {.place = ""};
    const enum lamp_err err = lamp_tracer_new(rules, script, &tracer, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
    size_t count = 0;
    while (count < room && lamp_tracer_next(tracer, &out[count])) {
        count++;
    }
    lamp_tracer_free(tracer);
    return count;
}

/** Rules of a tracer without noise. */
static inline struct lamp_tracer_rules clean_rules(void)
{
    struct lamp_tracer_rules rules = lamp_tracer_rules_default();
    rules.read_noise = 0;
    rules.shot_noise = 0;
    return rules;
}

/** A renderer, whose rules must be good. */
static inline struct lamp_renderer *make_renderer(const struct lamp_scene_rules *rules)
{
    struct lamp_renderer *renderer = NULL;
    struct lamp_error error = {.place = ""};
    const enum lamp_err err = lamp_renderer_new(rules, &renderer, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", error.place, error.sentence);
    return renderer;
}

#endif
