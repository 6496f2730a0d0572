/* acc_shot.c - One clip of a demo board whose lamp plays an entry, filmed and read. */
#include "support/acc_shot.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_file.h"
#include "support/lengths.h"

/* A lamp of another colour than the one that plays, as the book has them: lit throughout. */
static enum lamp_colour other_colour(const struct acc_entry *entry)
{
    for (size_t i = 0; i < entry->book->lamp_count; i++) {
        const enum lamp_colour colour = entry->book->lamp[i].colour;
        if (colour != entry->colour && colour != LAMP_COLOUR_UNKNOWN) {
            return colour;
        }
    }
    return LAMP_COLOUR_BLUE;
}

static void place_lamps(struct acc_shot *shot, struct chance *chance)
{
    const double width = shot->scene.width_px;
    const double height = shot->scene.height_px;
    for (int i = 0; i < 2; i++) {
        shot->lamp[i] = lamp_scene_lamp_default();
    }
    shot->lamp[0].colour = shot->entry->colour;
    shot->lamp[1].colour = other_colour(shot->entry);
    shot->lamp[0].x_px = width * chance_between(chance, 0.25, 0.75);
    shot->lamp[0].y_px = height * chance_between(chance, 0.25, 0.75);
    const double side = shot->lamp[0].x_px < 0.5 * width ? 1 : -1;
    shot->lamp[1].x_px = shot->lamp[0].x_px + side * width * chance_between(chance, 0.15, 0.3);
    shot->lamp[1].y_px = height * chance_between(chance, 0.25, 0.75);
}

void acc_shot_init(struct acc_shot *shot, const struct acc_entry *entry, uint64_t seed)
{
    struct chance chance = {.state = seed};
    *shot = (struct acc_shot){
        .entry = entry, .scene = lamp_scene_rules_default(), .cycles = 4.3, .least_s = 6};
    shot->scene.seed = chance_bits(&chance);
    shot->scene.shutter.seed = chance_bits(&chance);
    place_lamps(shot, &chance);
    shot->lamp[0].script = acc_entry_script(entry);
    shot->lamp[0].script.seed = chance_bits(&chance);
    shot->lamp[0].script.start_phase = chance_even(&chance);
    /* No clock is that exact; one that were would meet each frame of a cycle at the same phase. */
    shot->lamp[0].script.scale = chance_between(&chance, 0.99, 1.01);
    if (entry->code->pattern.kind == LAMP_PATTERN_FLICKER) {
        shot->least_s = 12;
    }
}

void acc_shot_halve(struct acc_shot *shot)
{
    shot->scene.width_px /= 2;
    shot->scene.height_px /= 2;
    for (int i = 0; i < 2; i++) {
        shot->lamp[i].x_px /= 2;
        shot->lamp[i].y_px /= 2;
        shot->lamp[i].size_px = 8;
    }
}

/* Half of the last dark comes first. */
static double phase_in_rest(const struct lamp_code *code)
{
    const struct lamp_wave *wave = &code->wave;
    if (wave->count == 0) {
        return 0;
    }
    return 1 - 0.5 * (double)wave->length_ns[wave->count - 1] / (double)acc_cycle_ns(code);
}

/* The shot with all that follows from its settings; the scene borrows the lamps of `out`. */
static void finish(const struct acc_shot *shot, struct acc_shot *out)
{
    *out = *shot;
    struct lamp_script_rules *script = &out->lamp[0].script;
    const double cycle_s = (double)acc_cycle_ns(shot->entry->code) / 1e9 * script->scale;
    const double duration_s = fmax(out->cycles * cycle_s, out->least_s);
    out->scene.shutter.duration_ns = (int64_t)(duration_s * 1e9);
    if (out->starts_in_rest) {
        script->start_phase = phase_in_rest(shot->entry->code);
    }
    out->scene.lamp = out->lamp;
    out->scene.lamp_count = 2;
}

/* A lamp that is dark throughout is only told where the user points. */
static void point(const struct acc_shot *shot, const struct lamp_renderer *renderer,
                  struct lamp_pointer *pointer, struct lamp_reader_rules *rules)
{
    if (shot->entry->code->pattern.kind != LAMP_PATTERN_STEADY_OFF) {
        return;
    }
    const struct lamp_region region = lamp_renderer_region(renderer, 0);
    *pointer = (struct lamp_pointer){
        .x_px = region.x_px, .y_px = region.y_px, .w_px = region.w_px, .h_px = region.h_px};
    (void)snprintf(pointer->name, sizeof pointer->name, "%s", shot->entry->code->lamp);
    rules->pointer = pointer;
    rules->pointer_count = 1;
}

static void write_file(const struct acc_shot *shot, const char *path)
{
    struct lamp_render_rules rules = lamp_render_rules_default();
    struct lamp_error error = {.place = ""};
    rules.scene = shot->scene;
    rules.codec = shot->codec;
    rules.quality = shot->quality;
    rules.any_flash = true;
    rules.hides_truth = true;
    acc_must(lamp_render_file(&rules, path, &error), &error);
}

static struct acc_reading read_through_file(const struct acc_shot *shot,
                                            const struct lamp_reader_rules *rules)
{
    char path[ACC_PATH_MAX];
    char name[32];
    (void)snprintf(name, sizeof name, "clip.%s", shot->ending);
    acc_path_make(path, name);
    write_file(shot, path);
    struct acc_reading reading = acc_read_file(rules, path);
    acc_path_remove(path);
    return reading;
}

static struct acc_reading read_shot(const struct acc_shot *shot, struct lamp_renderer *renderer)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    struct lamp_pointer pointer;
    rules.book = &shot->entry->book;
    rules.book_count = 1;
    point(shot, renderer, &pointer, &rules);
    return shot->ending != NULL ? read_through_file(shot, &rules)
                                : acc_read_pictures(&rules, &shot->scene, renderer);
}

/* Lamps told elsewhere than where there are two. A reflection may be told as what it reflects; any
 * other code told of one of them is the worst. */
static int count_extra(const struct acc_shot *shot, const struct lamp_report *report,
                       const struct lamp_report_lamp *const *known, bool *claims)
{
    int extra = 0;
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &report->lamp[i];
        if (lamp != known[0]) {
            *claims |= acc_claims_code(lamp) && acc_told(lamp) != shot->entry->code;
            extra += lamp != known[1];
        }
    }
    return extra;
}

static void compare_edges(const struct acc_shot *shot, const struct lamp_renderer *renderer,
                          const struct lamp_report_lamp *lamp, struct acc_errors *errors)
{
    struct acc_truth truth = {.shift_ns = -lamp_renderer_row_delay_ns(renderer, 0)};
    truth.edge = lamp_script_edges(lamp_renderer_script(renderer, 0), &truth.count);
    truth.window_ns = (int64_t)fmin(1.5e9 / shot->scene.shutter.rate_hz, 1e8);
    if (truth.count > 0) {
        acc_errors_add(errors, &truth, lamp->length, lamp->length_count);
    }
}

static struct lamp_renderer *make_renderer(const struct acc_shot *shot)
{
    struct lamp_renderer *renderer = NULL;
    struct lamp_error error = {.place = ""};
    acc_must(lamp_renderer_new(&shot->scene, &renderer, &error), &error);
    return renderer;
}

struct acc_result acc_shot_take(const struct acc_shot *rules, struct acc_errors *errors)
{
    struct acc_shot shot;
    finish(rules, &shot);
    struct lamp_renderer *renderer = make_renderer(&shot);
    struct acc_reading reading = read_shot(&shot, renderer);
    const struct lamp_report_lamp *known[2];
    for (size_t i = 0; i < 2; i++) {
        const struct lamp_region region = lamp_renderer_region(renderer, i);
        known[i] = acc_lamp_at(reading.report, &region);
    }
    struct acc_result result = {.outcome = acc_judge(known[0], shot.entry->code)};
    bool claims = false;
    result.extra = count_extra(&shot, reading.report, known, &claims);
    result.outcome = claims ? ACC_WRONG : result.outcome;
    acc_describe(known[0], result.told, sizeof result.told);
    if (known[0] != NULL) {
        compare_edges(&shot, renderer, known[0], errors);
    }
    acc_reading_fini(&reading);
    lamp_renderer_free(renderer);
    return result;
}

void acc_shot_save(const struct acc_shot *rules, const char *path)
{
    struct acc_shot shot;
    finish(rules, &shot);
    if (shot.ending == NULL) {
        shot.codec = NULL;
        shot.quality = 90;
    }
    write_file(&shot, path);
}

void acc_shot_tell(const struct acc_shot *rules)
{
    struct acc_shot shot;
    finish(rules, &shot);
    struct lamp_renderer *renderer = make_renderer(&shot);
    struct acc_reading reading = read_shot(&shot, renderer);
    const struct lamp_text_rules text = {.width = 100, .is_ascii = true};
    for (size_t i = 0; i < 2; i++) {
        const struct lamp_region region = lamp_renderer_region(renderer, i);
        printf("true lamp %zu at %d,%d %dx%d\n", i, region.x_px, region.y_px, region.w_px,
               region.h_px);
    }
    for (size_t i = 0; i < reading.report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &reading.report->lamp[i];
        char told[512];
        acc_describe(lamp, told, sizeof told);
        printf("%s at %d,%d %dx%d: %s\n", lamp->name, lamp->region.x_px, lamp->region.y_px,
               lamp->region.w_px, lamp->region.h_px, told);
    }
    (void)lamp_report_write_text(reading.report, &text, stdout);
    acc_reading_fini(&reading);
    lamp_renderer_free(renderer);
}
