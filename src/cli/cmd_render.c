/* cmd_render.c - lampread render: play patterns as light seen by a camera. */
#include <stdlib.h>

#include "base/fail.h"
#include "base/number.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/plan.h"
#include "cli/progress.h"

/* Lengths that a pattern has where neither a book nor --timing says otherwise, ns. */
static const struct lamp_timing ordinary = {.short_ns = 200000000,
                                            .long_ns = 600000000,
                                            .gap_ns = 200000000,
                                            .pause_ns = 700000000,
                                            .rest_ns = 1800000000};

static void set_defaults(struct plan *plan)
{
    plan->rules = lamp_render_rules_default();
    plan->rules.scene.shutter.duration_ns = INT64_C(12) * LAMP_NS_PER_S;
    plan->every = lamp_scene_lamp_default();
    plan->timing = ordinary;
}

static enum lamp_err write_clip(const struct plan *plan, const char *path, struct lamp_error *error)
{
    struct lamp_render *render = NULL;
    struct progress progress;
    enum lamp_err err = lamp_render_new(&plan->rules, path, &render, error);
    progress_catch_interrupt();
    progress_begin(&progress, "rendering");
    while (err == LAMP_OK) {
        err = lamp_render_step(render, error);
        progress_show(&progress, lamp_render_progress(render));
        if (err == LAMP_OK && progress_interrupted()) {
            err = lamp_fail(error, LAMP_CANNOT_WRITE, path, "stopped; nothing was written");
        }
    }
    progress_end(&progress);
    lamp_render_free(render);
    return err == LAMP_END ? LAMP_OK : err;
}

static enum lamp_err make_and_write(struct plan *plan, const struct arguments *arguments,
                                    struct lamp_error *error)
{
    const char *path = options_value(arguments, "output");
    if (path == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, "render", "no output; expected -o FILE");
    }
    set_defaults(plan);
    enum lamp_err err = plan_settings(plan, arguments, error);
    if (err == LAMP_OK) {
        err = plan_lamps(plan, arguments, error);
    }
    if (err != LAMP_OK) {
        return err;
    }
    return plan_is_trace(path) ? plan_write_trace(plan, path, error)
                               : write_clip(plan, path, error);
}

static int run_render(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct plan *plan = calloc(1, sizeof *plan);
    if (plan == NULL) {
        return complain(LAMP_NO_MEMORY, &error);
    }
    const enum lamp_err err = make_and_write(plan, arguments, &error);
    free(plan);
    return err == LAMP_OK ? EXIT_TOLD : complain(err, &error);
}

const struct command command_render = {
    .name = "render",
    .operands = "WHAT...",
    .summary = "Play a pattern or BOOK:CODE as a clip, gif or trace",
    .notes = "WHAT is a pattern in codebook notation (\"2 long 3 short\", \"blink 2.5 Hz\", "
             "flicker), a code of\n"
             "a book (heron-h1:memory), sag, or fade 3 s; each WHAT is one lamp, and a --lamp "
             "without a WHAT\n"
             "is steady. FILE ends in .mp4 .mov .mkv .webm .avi .gif, in / for numbered stills, in "
             ".csv for a\n"
             "trace or in .vcd for edges. What the light truly did goes to FILE.truth.json "
             "(.truth.vcd for a\n"
             "trace).\n\n"
             "Some people are harmed by flashing light. Clips that break the limits of WCAG 2 (SC "
             "2.3.1) are\n"
             "refused; --any-flash writes them nevertheless: warn whoever may see them.",
    .option = plan_options,
    .option_count = PLAN_OPTIONS,
    .least_operands = 1,
    .most_operands = LAMP_SCENE_LAMPS_MAX,
    .run = run_render,
};
