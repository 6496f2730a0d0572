/* truth.c - What the light truly did, beside a rendered file. */
#include "render/truth.h"

#include <stdio.h>

#include "base/number.h"
#include "lampread/lampread.h"
#include "render/board.h"

/* A setting by name. */
struct setting {
    const char *name;
    double value;
};

static void add_string(struct lamp_text *out, const char *string)
{
    lamp_text_add(out, "\"");
    for (const char *at = string; *at != '\0'; at++) {
        if (*at == '"' || *at == '\\') {
            lamp_text_add(out, "\\%c", *at);
        } else if ((unsigned char)*at < 0x20) {
            lamp_text_add(out, "\\u%04x", (unsigned)(unsigned char)*at);
        } else {
            lamp_text_add(out, "%c", *at);
        }
    }
    lamp_text_add(out, "\"");
}

static void add_number(struct lamp_text *out, double value)
{
    char number[64];
    lamp_number_format(value, number, sizeof number);
    lamp_text_add(out, "%s", number);
}

/* Seconds to the nanosecond, which a double to 9 digits would not hold. */
static void add_seconds(struct lamp_text *out, int64_t ns)
{
    const char *sign = ns < 0 ? "-" : "";
    const uint64_t size = ns < 0 ? (uint64_t)-ns : (uint64_t)ns;
    lamp_text_add(out, "%s%llu.%09llu", sign, (unsigned long long)(size / LAMP_NS_PER_S),
                  (unsigned long long)(size % LAMP_NS_PER_S));
}

static void add_settings(struct lamp_text *out, const char *name, const struct setting *settings,
                         size_t count)
{
    lamp_text_add(out, " \"%s\": {", name);
    for (size_t i = 0; i < count; i++) {
        lamp_text_add(out, "%s\"%s\": ", i == 0 ? "" : ", ", settings[i].name);
        add_number(out, settings[i].value);
    }
    lamp_text_add(out, "},\n");
}

static double seconds(int64_t ns)
{
    return (double)ns / LAMP_NS_PER_S;
}

static void add_room(struct lamp_text *out, const struct lamp_scene_rules *scene)
{
    const struct setting settings[] = {
        {"ambient", scene->ambient},     {"ripple", scene->ripple},
        {"ripple_hz", scene->ripple_hz}, {"ambient_drift", scene->ambient_drift},
        {"shadow", scene->shadow},       {"hand", scene->has_hand ? 1 : 0},
        {"bloom", scene->bloom},         {"blur_px", scene->blur_px},
    };
    add_settings(out, "room", settings, sizeof settings / sizeof *settings);
}

static void add_camera(struct lamp_text *out, const struct lamp_scene_rules *scene)
{
    const struct lamp_shutter_rules *shutter = &scene->shutter;
    const struct setting settings[] = {
        {"rate_hz", shutter->rate_hz},
        {"exposure_s", seconds(shutter->exposure_ns)},
        {"duration_s", seconds(shutter->duration_ns)},
        {"jitter", shutter->jitter},
        {"drop_share", shutter->drop_share},
        {"late_share", shutter->late_share},
        {"sway", shutter->sway},
        {"stamp_sd_s", seconds(shutter->stamp_sd_ns)},
        {"readout_s", seconds(scene->readout_ns)},
        {"shake_px", scene->shake_px},
        {"drift_px_s", scene->drift_px_s},
        {"auto_exposure", scene->auto_exposure},
        {"auto_exposure_s", seconds(scene->auto_exposure_ns)},
        {"warmth", scene->warmth},
        {"read_noise", scene->read_noise},
        {"shot_noise", scene->shot_noise},
    };
    add_settings(out, "camera", settings, sizeof settings / sizeof *settings);
}

static void add_clip(struct lamp_text *out, const struct lamp_render_rules *rules,
                     const struct lamp_renderer *renderer)
{
    uint64_t given;
    uint64_t lost;
    lamp_renderer_count(renderer, &given, &lost);
    const struct setting settings[] = {
        {"width_px", rules->scene.width_px},
        {"height_px", rules->scene.height_px},
        {"bits", rules->scene.bits},
        {"quality", rules->quality},
        {"rotation_deg", rules->rotation_deg},
        {"frames", (double)given},
        {"lost", (double)lost},
    };
    add_settings(out, "clip", settings, sizeof settings / sizeof *settings);
}

static void add_script(struct lamp_text *out, const struct lamp_script_rules *script)
{
    static const char *const kinds[] = {
        [LAMP_SCRIPT_STEADY_OFF] = "steady-off",
        [LAMP_SCRIPT_STEADY_ON] = "steady-on",
        [LAMP_SCRIPT_WAVE] = "wave",
        [LAMP_SCRIPT_FLICKER] = "flicker",
        [LAMP_SCRIPT_SAG] = "sag",
        [LAMP_SCRIPT_FADE] = "fade",
    };
    lamp_text_add(out, "   \"script\": \"%s\", \"seed\": %llu,\n  ", kinds[script->kind],
                  (unsigned long long)script->seed);
    const struct setting settings[] = {
        {"scale", script->scale},
        {"jitter", script->jitter},
        {"late_s", seconds(script->late_ns)},
        {"start_phase", script->start_phase},
        {"inverted", script->is_inverted ? 1 : 0},
        {"dark_level", script->dark_level},
    };
    add_settings(out, "played", settings, sizeof settings / sizeof *settings);
}

static void add_edges(struct lamp_text *out, const struct lamp_script *script,
                      const struct lamp_shutter_rules *shutter)
{
    size_t count;
    const struct lamp_edge *edge = lamp_script_edges(script, &count);
    bool lit = lamp_script_starts_lit(script);
    size_t i = 0;
    for (; i < count && edge[i].t_ns <= shutter->start_ns; i++) {
        lit = edge[i].lit;
    }
    lamp_text_add(out, "   \"starts_lit\": %s,\n   \"edges\": [", lit ? "true" : "false");
    for (const char *comma = "";
         i < count && edge[i].t_ns < shutter->start_ns + shutter->duration_ns; i++, comma = ", ") {
        lamp_text_add(out, "%s{\"t_s\": ", comma);
        add_seconds(out, edge[i].t_ns - shutter->start_ns);
        lamp_text_add(out, ", \"lit\": %s}", edge[i].lit ? "true" : "false");
    }
    lamp_text_add(out, "]");
}

static void add_lamp(struct lamp_text *out, const struct lamp_render_rules *rules,
                     const struct lamp_renderer *renderer, size_t index)
{
    const struct lamp_scene_lamp *lamp = &rules->scene.lamp[index];
    const struct lamp_region region = lamp_renderer_region(renderer, index);
    char name[32];
    (void)snprintf(name, sizeof name, "lamp-%zu", index + 1);
    lamp_text_add(out, "  {\"name\": ");
    add_string(out, lamp->name != NULL ? lamp->name : name);
    const enum lamp_colour colour =
        lamp->colour == LAMP_COLOUR_UNKNOWN ? LAMP_COLOUR_GREEN : lamp->colour;
    lamp_text_add(out, ", \"colour\": \"%s\",\n", lamp_colour_name(colour));
    lamp_text_add(out, "   \"region\": {\"x\": %d, \"y\": %d, \"w\": %d, \"h\": %d},\n",
                  region.x_px, region.y_px, region.w_px, region.h_px);
    lamp_text_add(out, "   \"brightness\": ");
    add_number(out, lamp->brightness);
    lamp_text_add(out, ", \"row_delay_s\": ");
    add_seconds(out, lamp_renderer_row_delay_ns(renderer, index));
    lamp_text_add(out, ",\n   \"pattern\": ");
    if (lamp->pattern != NULL) {
        add_string(out, lamp->pattern);
    } else {
        lamp_text_add(out, "null");
    }
    lamp_text_add(out, ",\n");
    add_script(out, &lamp->script);
    add_edges(out, lamp_renderer_script(renderer, index), &rules->scene.shutter);
    lamp_text_add(out, "}");
}

void truth_write(const struct lamp_render_rules *rules, const struct lamp_renderer *renderer,
                 struct lamp_text *out)
{
    lamp_text_add(
        out, "{\"format\": 1, \"tool\": \"lampread %s\", \"kind\": \"truth\", \"seed\": %llu,\n",
        LAMPREAD_VERSION, (unsigned long long)rules->scene.seed);
    add_clip(out, rules, renderer);
    add_room(out, &rules->scene);
    add_camera(out, &rules->scene);
    lamp_text_add(out, " \"lamps\": [\n");
    for (size_t i = 0; i < rules->scene.lamp_count; i++) {
        add_lamp(out, rules, renderer, i);
        lamp_text_add(out, i + 1 < rules->scene.lamp_count ? ",\n" : "\n");
    }
    lamp_text_add(out, " ]}\n");
}
