/* cmd_sources.c - lampread sources: the live sources of this machine, or what is missing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/json_text.h"
#include "cli/list_pins.h"
#include "lampread/lampread.h"

static const struct option_rule options[] = {
    {.name = "json", .letter = 'j', .help = "for programs: one JSON object"},
};

/* A kind of live source: its part of the text, and its members of the JSON object. */
struct kind {
    enum lamp_err (*list)(struct lamp_text *text, struct lamp_text *json, bool *found);
};

/* -- JSON -- */

static void add_rate(struct lamp_text *out, double rate_hz)
{
    char number[64];
    lamp_number_format(rate_hz, number, sizeof number);
    lamp_text_add(out, "%s", rate_hz > 0 ? number : "null");
}

static void add_modes(struct lamp_text *out, const struct lamp_camera *camera)
{
    lamp_text_add(out, "\"modes\": [");
    for (size_t i = 0; i < camera->mode_count; i++) {
        const struct lamp_camera_mode *mode = &camera->mode[i];
        lamp_text_add(out, "%s{", i == 0 ? "" : ", ");
        json_text_member(out, "format", mode->format);
        lamp_text_add(out, ", \"width\": %d, \"height\": %d, \"rate_hz\": ", mode->width_px,
                      mode->height_px);
        add_rate(out, mode->rate_hz);
        lamp_text_add(out, "}");
    }
    lamp_text_add(out, "], \"best\": ");
    lamp_text_add(out, camera->mode_count > 0 ? "%zu" : "null", camera->mode_best);
}

static void add_camera(struct lamp_text *out, const struct lamp_camera *camera)
{
    lamp_text_add(out, "  {");
    json_text_member(out, "source", camera->path);
    lamp_text_add(out, ", ");
    json_text_member(out, "name", camera->name);
    lamp_text_add(out, ", ");
    json_text_member(out, "driver", camera->driver);
    lamp_text_add(out, ", ");
    json_text_member(out, "trouble", camera->trouble);
    lamp_text_add(out, ",\n   ");
    add_modes(out, camera);
    lamp_text_add(out, "}");
}

static void cameras_to_json(const struct lamp_camera_list *list, struct lamp_text *out)
{
    lamp_text_add(out, " \"cameras\": [");
    for (size_t i = 0; i < list->count; i++) {
        lamp_text_add(out, i == 0 ? "\n" : ",\n");
        add_camera(out, &list->camera[i]);
    }
    lamp_text_add(out, "],\n ");
    json_text_member(out, "cameras_missing", list->missing);
}

/* -- text -- */

static bool are_one_line(const struct lamp_camera_mode *a, const struct lamp_camera_mode *b)
{
    return strcmp(a->format, b->format) == 0 && a->width_px == b->width_px &&
           a->height_px == b->height_px;
}

/* One line a format and size, its rates behind it. */
static void print_modes(struct lamp_text *out, const struct lamp_camera *camera)
{
    for (size_t i = 0; i < camera->mode_count; i++) {
        const struct lamp_camera_mode *mode = &camera->mode[i];
        bool continues = i > 0 && are_one_line(&camera->mode[i - 1], mode);
        if (!continues) {
            lamp_text_add(out, "\n    %s %5d x %-5d", mode->format, mode->width_px,
                          mode->height_px);
        }
        if (mode->rate_hz > 0) {
            lamp_text_add(out, "%s%.4g", continues ? ", " : " frames a second: ", mode->rate_hz);
        }
        lamp_text_add(out, i == camera->mode_best ? " (taken unasked)" : "");
    }
    if (camera->mode_left_out > 0) {
        lamp_text_add(out, "\n    and %zu more", camera->mode_left_out);
    }
    lamp_text_add(out, "\n");
}

static void print_camera(struct lamp_text *out, const struct lamp_camera *camera)
{
    lamp_text_add(out, "%s", camera->path);
    if (camera->name[0] != '\0') {
        lamp_text_add(out, "  %s (driver %s)", camera->name, camera->driver);
    }
    if (camera->trouble[0] != '\0') {
        lamp_text_add(out, "\n    cannot be read: %s", camera->trouble);
    }
    print_modes(out, camera);
}

static enum lamp_err list_cameras(struct lamp_text *text, struct lamp_text *json, bool *found)
{
    struct lamp_camera_list *list = malloc(sizeof *list);
    if (list == NULL) {
        return LAMP_NO_MEMORY;
    }
    lamp_source_list_cameras(list);
    for (size_t i = 0; i < list->count; i++) {
        print_camera(text, &list->camera[i]);
        *found |= list->camera[i].trouble[0] == '\0';
    }
    if (list->missing[0] != '\0') {
        lamp_text_add(text, "cameras: none; %s\n", list->missing);
    }
    cameras_to_json(list, json);
    free(list);
    return LAMP_OK;
}

static const struct kind kinds[] = {{list_cameras}, {list_pins}};

static int run_sources(const struct arguments *arguments)
{
    struct lamp_text text = {0};
    struct lamp_text json = {0};
    enum lamp_err failed = LAMP_OK;
    bool found = false;
    lamp_text_add(&json, "{\"format\": 1, \"tool\": \"lampread %s\"", LAMPREAD_VERSION);
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds && failed == LAMP_OK; i++) {
        lamp_text_add(&json, ",\n");
        failed = kinds[i].list(&text, &json, &found);
    }
    lamp_text_add(&json, "}\n");
    if (failed == LAMP_OK && (text.failed || json.failed)) {
        failed = LAMP_NO_MEMORY;
    }
    if (failed == LAMP_OK) {
        (void)fputs(options_has(arguments, "json") ? json.at : text.at, stdout);
    }
    lamp_text_fini(&text);
    lamp_text_fini(&json);
    if (failed != LAMP_OK) {
        return complain(failed, &(struct lamp_error){.place = "", .sentence = ""});
    }
    return found ? EXIT_TOLD : EXIT_SOURCE;
}

const struct command command_sources = {
    .name = "sources",
    .operands = "",
    .summary = "List the cameras and pins of this machine",
    .notes =
        "each is told with the sizes and frame rates it has, and which of them is taken unasked;\n"
        "exit status 3 where none can be read",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .run = run_sources,
};
