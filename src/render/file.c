/* file.c - A scene into a file, frame by frame, with the truth beside it; watched for flashing that
 * can harm. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "lampread/render.h"
#include "render/check.h"
#include "render/encode.h"
#include "render/output.h"
#include "render/truth.h"

/* Frames that the colours of a GIF are chosen from, over the whole clip. */
#define PALETTE_FRAMES 40

struct lamp_render {
    const struct lamp_render_rules *rules;
    struct output output;
    struct encode_rules encode;
    struct lamp_renderer *renderer;
    struct lamp_flash_watch *watch;
    struct encoder *encoder;
    struct palette *palette;
    uint64_t given;
    int64_t t_ns;
    bool is_begun; /* Something may stand in the output's place. */
    bool is_done;
};

struct lamp_render_rules lamp_render_rules_default(void)
{
    return (struct lamp_render_rules){.scene = lamp_scene_rules_default(), .quality = 70};
}

static enum lamp_err check_rules(const struct lamp_render_rules *rules, struct lamp_error *error)
{
    const int turn = rules->rotation_deg;
    const struct check checks[] = {
        {"quality", rules->quality >= 0 && rules->quality <= 100, "0 to 100"},
        {"rotation", turn == 0 || turn == 90 || turn == 180 || turn == 270,
         "0, 90, 180 or 270 degrees"},
    };
    return check_all(checks, sizeof checks / sizeof *checks, error);
}

static enum lamp_err count_colours(const struct lamp_render_rules *rules,
                                   struct palette_count *count, struct lamp_error *error)
{
    struct lamp_scene_rules scene = rules->scene;
    const double duration_s = (double)scene.shutter.duration_ns / LAMP_NS_PER_S;
    scene.shutter.rate_hz = fmin(scene.shutter.rate_hz, fmax(0.2, PALETTE_FRAMES / duration_s));
    struct lamp_renderer *renderer = NULL;
    enum lamp_err err = lamp_renderer_new(&scene, &renderer, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_frame frame;
    for (int i = 0; i < 2 * PALETTE_FRAMES && lamp_renderer_next(renderer, &frame); i++) {
        palette_count_frame(count, &frame);
    }
    lamp_renderer_free(renderer);
    return LAMP_OK;
}

/* Look at the clip once, thinned out, to choose the colours of a GIF. */
static enum lamp_err make_palette(struct lamp_render *render, struct lamp_error *error)
{
    render->palette = malloc(sizeof *render->palette);
    struct palette_count *count = calloc(1, sizeof *count);
    if (render->palette == NULL || count == NULL) {
        free(count);
        return lamp_fail_memory(error);
    }
    enum lamp_err err = count_colours(render->rules, count, error);
    if (err == LAMP_OK) {
        palette_choose(count, render->palette);
    }
    free(count);
    return err;
}

static enum lamp_err name_output(struct lamp_render *render, const char *path,
                                 struct lamp_error *error)
{
    const struct lamp_render_rules *rules = render->rules;
    const bool is_pgm = rules->codec != NULL && strcmp(rules->codec, "pgm") == 0;
    enum lamp_err err = output_init(&render->output, path, is_pgm ? "pgm" : "png", error);
    if (err != LAMP_OK) {
        return err;
    }
    const char *container = render->output.container;
    if (rules->rotation_deg != 0 && strcmp(container, "mp4") != 0 &&
        strcmp(container, "mov") != 0) {
        return lamp_fail(error, LAMP_BAD_USE, path, "a rotation can only be kept in .mp4 and .mov");
    }
    render->encode = (struct encode_rules){
        .name = render->output.final.at,
        .path = render->output.target.at,
        .container = container,
        .codec = rules->codec != NULL ? rules->codec : encode_codec_for(container),
        .quality = rules->quality,
        .rotation_deg = rules->rotation_deg,
        .rate_hz = rules->scene.shutter.rate_hz,
        .scene = &rules->scene,
    };
    return LAMP_OK;
}

static enum lamp_err open_all(struct lamp_render *render, const char *path,
                              struct lamp_error *error)
{
    enum lamp_err err = name_output(render, path, error);
    if (err == LAMP_OK) {
        err = lamp_renderer_new(&render->rules->scene, &render->renderer, error);
    }
    if (err == LAMP_OK && strcmp(render->encode.codec, "gif") == 0) {
        err = make_palette(render, error);
        render->encode.palette = render->palette;
    }
    if (err == LAMP_OK && lamp_flash_watch_new(&render->watch) != LAMP_OK) {
        err = lamp_fail_memory(error);
    }
    if (err == LAMP_OK) {
        err = output_begin(&render->output, error);
        render->is_begun = err == LAMP_OK;
    }
    return err == LAMP_OK ? encoder_new(&render->encode, &render->encoder, error) : err;
}

enum lamp_err lamp_render_new(const struct lamp_render_rules *rules, const char *path,
                              struct lamp_render **out, struct lamp_error *error)
{
    enum lamp_err err = check_rules(rules, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_render *render = calloc(1, sizeof *render);
    if (render == NULL) {
        (void)lamp_fail_memory(error);
        return LAMP_NO_MEMORY;
    }
    render->rules = rules;
    err = open_all(render, path, error);
    if (err != LAMP_OK) {
        lamp_render_free(render);
        return err;
    }
    *out = render;
    return LAMP_OK;
}

static enum lamp_err check_flashing(const struct lamp_render *render, struct lamp_error *error)
{
    const struct lamp_flash_limit limit = lamp_flash_watch_limit(render->watch);
    if (limit.is_kept || render->rules->any_flash) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, render->output.final.at,
                     "at %ld ms %ld px of a 10 degree field flash more than %d times a second, at "
                     "most %d px may "
                     "(WCAG 2 SC 2.3.1): use a smaller or dimmer lamp, or allow any flash",
                     lround(limit.at_s * 1000), lround(limit.area_px), LAMP_FLASH_PER_S_MAX,
                     LAMP_FLASH_AREA_PX);
}

static enum lamp_err put_truth(const struct lamp_render *render, struct lamp_error *error)
{
    if (render->rules->hides_truth) {
        return LAMP_OK;
    }
    struct lamp_text text = {0};
    truth_write(render->rules, render->renderer, &text);
    enum lamp_err err = output_put(render->output.truth.at, &text, error);
    lamp_text_fini(&text);
    return err;
}

static enum lamp_err finish(struct lamp_render *render, struct lamp_error *error)
{
    enum lamp_err err = encoder_finish(render->encoder, error);
    encoder_free(render->encoder);
    render->encoder = NULL;
    if (err == LAMP_OK) {
        err = put_truth(render, error);
    }
    if (err == LAMP_OK) {
        err = output_finish(&render->output, error);
    }
    render->is_done = err == LAMP_OK;
    return err == LAMP_OK ? LAMP_END : err;
}

enum lamp_err lamp_render_step(struct lamp_render *render, struct lamp_error *error)
{
    if (render->is_done) {
        return LAMP_END;
    }
    struct lamp_frame frame;
    if (!lamp_renderer_next(render->renderer, &frame)) {
        return finish(render, error);
    }
    render->t_ns = frame.t_ns;
    lamp_flash_watch_push(render->watch, &frame);
    enum lamp_err err = check_flashing(render, error);
    if (err != LAMP_OK) {
        return err;
    }
    uint64_t lost;
    lamp_renderer_count(render->renderer, &render->given, &lost);
    return encoder_push(render->encoder, &frame, render->given + lost - 1, error);
}

double lamp_render_progress(const struct lamp_render *render)
{
    if (render->is_done) {
        return 1;
    }
    return fmin(1, (double)render->t_ns / (double)render->rules->scene.shutter.duration_ns);
}

void lamp_render_free(struct lamp_render *render)
{
    if (render == NULL) {
        return;
    }
    encoder_free(render->encoder);
    if (render->is_begun && !render->is_done) {
        output_abandon(&render->output);
    }
    output_fini(&render->output);
    lamp_renderer_free(render->renderer);
    lamp_flash_watch_free(render->watch);
    free(render->palette);
    free(render);
}

enum lamp_err lamp_render_file(const struct lamp_render_rules *rules, const char *path,
                               struct lamp_error *error)
{
    struct lamp_render *render = NULL;
    enum lamp_err err = lamp_render_new(rules, path, &render, error);
    while (err == LAMP_OK) {
        err = lamp_render_step(render, error);
    }
    lamp_render_free(render);
    return err == LAMP_END ? LAMP_OK : err;
}
