/* renderer.c - A scene as a camera sees it, frame by frame.
 *
 *   board x room light --move--> + lamps x their light --> gain, noise, curve --> frame
 *                                     ^ each row by its own exposure                  '--> auto
 * exposure
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "lampread/render.h"
#include "render/board.h"
#include "render/check.h"
#include "render/glow.h"
#include "render/motion.h"
#include "render/room.h"
#include "render/sensor.h"
#include "render/view.h"

/* Frames kept readable, the newest included. */
#define FRAMES (LAMP_FRAMES_KEPT + 1)

/* Gain that auto exposure may reach. */
#define GAIN_MOST 8.0

struct shown_lamp {
    struct lamp_script *script;
    struct glow glow;
};

struct lamp_renderer {
    struct lamp_scene_rules rules; /* Its lamps are those of `lamp`. */
    struct lamp_scene_lamp *lamp;
    struct shown_lamp shown[LAMP_SCENE_LAMPS_MAX];
    int margin_px;
    struct canvas board;
    struct motion motion;
    struct sensor sensor;
    struct lamp_shutter *shutter;
    float *row;
    uint8_t *pixels; /* FRAMES pictures. */
    size_t frame_bytes;
    double gain;
    int64_t last_ns;
    uint64_t given;
    uint64_t last_index;
};

struct lamp_scene_lamp lamp_scene_lamp_default(void)
{
    return (struct lamp_scene_lamp){
        .colour = LAMP_COLOUR_GREEN, .brightness = 8, .script = lamp_script_rules_default()};
}

struct lamp_scene_rules lamp_scene_rules_default(void)
{
    return (struct lamp_scene_rules){
        .width_px = 640,
        .height_px = 360,
        .seed = 1,
        .ambient = 0.09,
        .ripple_hz = 100,
        .bloom = 1,
        .blur_px = 0.7,
        .shutter = lamp_shutter_rules_default(),
        .readout_ns = 20000000,
        .auto_exposure_ns = 400000000,
        .read_noise = 0.003,
        .shot_noise = 0.012,
        .transfer = LAMP_TRANSFER_BT709,
        .bits = 8,
    };
}

static bool side_is_usable(int side_px)
{
    return side_px >= 16 && side_px <= LAMP_SCENE_SIDE_MAX && side_px % 2 == 0;
}

static enum lamp_err check_rules(const struct lamp_scene_rules *rules, struct lamp_error *error)
{
    const struct range ranges[] = {
        {"ambient", rules->ambient, 0, 1},
        {"ripple", rules->ripple, 0, 1},
        {"ripple rate", rules->ripple_hz, 0.01, 1e6},
        {"ambient drift", rules->ambient_drift, 0, 0.9},
        {"shadow", rules->shadow, 0, 1},
        {"bloom", rules->bloom, 0, 4},
        {"blur", rules->blur_px, 0, 8},
        {"shake", rules->shake_px, 0, 40},
        {"drift", rules->drift_px_s, 0, 1000},
        {"auto exposure", rules->auto_exposure, 0, 1},
        {"warmth", rules->warmth, -1, 1},
        {"read noise", rules->read_noise, 0, 1},
        {"shot noise", rules->shot_noise, 0, 1},
    };
    const struct check checks[] = {
        {"size", side_is_usable(rules->width_px) && side_is_usable(rules->height_px),
         "even sides of 16 to 8192 px"},
        {"lamps", rules->lamp_count <= LAMP_SCENE_LAMPS_MAX, "at most 16"},
        {"readout", rules->readout_ns >= 0 && rules->readout_ns <= LAMP_NS_PER_S, "0 to 1 s"},
        {"auto exposure time", rules->auto_exposure_ns > 0, "above 0"},
        {"transfer",
         rules->transfer == LAMP_TRANSFER_SRGB || rules->transfer == LAMP_TRANSFER_BT709,
         "sRGB or BT.709"},
        {"bits", rules->bits == 8 || rules->bits == 10, "8 or 10"},
    };
    enum lamp_err err = check_ranges(ranges, sizeof ranges / sizeof *ranges, error);
    return err == LAMP_OK ? check_all(checks, sizeof checks / sizeof *checks, error) : err;
}

static enum lamp_err check_lamp(const struct lamp_scene_rules *rules,
                                const struct lamp_scene_lamp *lamp, struct lamp_error *error)
{
    const struct range ranges[] = {
        {"lamp place across", lamp->x_px, 0, rules->width_px - 1},
        {"lamp place down", lamp->y_px, 0, rules->height_px - 1},
        {"lamp size", lamp->size_px, 0, 1000},
        {"lamp brightness", lamp->brightness, 0, 1000},
    };
    return check_ranges(ranges, sizeof ranges / sizeof *ranges, error);
}

/* Longer than the clip by what the last frame's exposure may need. */
static int64_t script_ns(const struct lamp_scene_rules *rules)
{
    const struct lamp_shutter_rules *shutter = &rules->shutter;
    const int64_t interval_ns = llround(LAMP_NS_PER_S / shutter->rate_hz);
    return shutter->start_ns + shutter->duration_ns + 2 * interval_ns + rules->readout_ns;
}

static enum lamp_err make_lamps(struct lamp_renderer *renderer, struct lamp_error *error)
{
    for (size_t i = 0; i < renderer->rules.lamp_count; i++) {
        struct lamp_scene_lamp *lamp = &renderer->lamp[i];
        lamp->script.duration_ns = script_ns(&renderer->rules);
        enum lamp_err err = check_lamp(&renderer->rules, lamp, error);
        if (err == LAMP_OK) {
            err = lamp_script_new(&lamp->script, &renderer->shown[i].script, error);
        }
        if (err != LAMP_OK) {
            return err;
        }
    }
    return LAMP_OK;
}

/* Lamps are painted onto the finished board: light falls on it. */
static enum lamp_err paint_scene(struct lamp_renderer *renderer)
{
    enum lamp_err err = board_paint(&renderer->rules, renderer->margin_px, &renderer->board);
    for (size_t i = 0; err == LAMP_OK && i < renderer->rules.lamp_count; i++) {
        err = glow_paint(&renderer->rules, &renderer->lamp[i], &renderer->board,
                         renderer->margin_px, &renderer->shown[i].glow);
    }
    return err;
}

static enum lamp_err make_buffers(struct lamp_renderer *renderer)
{
    const struct lamp_scene_rules *rules = &renderer->rules;
    const size_t pixels = (size_t)rules->width_px * (size_t)rules->height_px;
    renderer->frame_bytes = pixels * 3 / 2 * (rules->bits == 8 ? 1 : 2);
    renderer->row = malloc((size_t)rules->width_px * CANVAS_DEPTH * sizeof *renderer->row);
    renderer->pixels = calloc(FRAMES, renderer->frame_bytes);
    if (renderer->row == NULL || renderer->pixels == NULL) {
        return LAMP_NO_MEMORY;
    }
    return sensor_init(&renderer->sensor, rules);
}

static enum lamp_err make_parts(struct lamp_renderer *renderer, struct lamp_error *error)
{
    const struct lamp_scene_rules *rules = &renderer->rules;
    enum lamp_err err = lamp_shutter_new(&rules->shutter, &renderer->shutter, error);
    if (err != LAMP_OK) {
        return err;
    }
    err = make_lamps(renderer, error);
    if (err != LAMP_OK) {
        return err;
    }
    const int shorter = rules->width_px < rules->height_px ? rules->width_px : rules->height_px;
    motion_init(&renderer->motion, rules->shake_px, rules->drift_px_s, shorter, rules->seed);
    renderer->margin_px = motion_reach_px(&renderer->motion, rules->width_px);
    err = paint_scene(renderer);
    if (err == LAMP_OK) {
        err = make_buffers(renderer);
    }
    return err == LAMP_OK ? LAMP_OK : lamp_fail_memory(error);
}

enum lamp_err lamp_renderer_new(const struct lamp_scene_rules *rules, struct lamp_renderer **out,
                                struct lamp_error *error)
{
    enum lamp_err err = check_rules(rules, error);
    if (err != LAMP_OK) {
        return err;
    }
    struct lamp_renderer *renderer = calloc(1, sizeof *renderer);
    struct lamp_scene_lamp *lamp = malloc((rules->lamp_count + 1) * sizeof *lamp);
    if (renderer == NULL || lamp == NULL) {
        free(renderer);
        free(lamp);
        return lamp_fail_memory(error);
    }
    if (rules->lamp_count > 0) {
        memcpy(lamp, rules->lamp, rules->lamp_count * sizeof *lamp);
    }
    renderer->rules = *rules;
    renderer->rules.lamp = renderer->lamp = lamp;
    renderer->gain = 1;
    err = make_parts(renderer, error);
    if (err != LAMP_OK) {
        lamp_renderer_free(renderer);
        return err;
    }
    *out = renderer;
    return LAMP_OK;
}

static bool is_still(const struct lamp_renderer *renderer)
{
    return renderer->rules.shake_px <= 0 && renderer->rules.drift_px_s <= 0;
}

/* The light of one lamp along a row whose exposure is `row_time`. */
static void show_lamp(const struct lamp_renderer *renderer, const struct shown_lamp *lamp,
                      const struct walk *walk, const struct lamp_shutter_time *row_time)
{
    if (!view_meets(&lamp->glow, walk)) {
        return;
    }
    const int64_t start_ns = row_time->start_ns;
    const double light = lamp_script_mean(lamp->script, start_ns, start_ns + row_time->exposure_ns);
    if (light > 0) {
        view_glow(&lamp->glow, walk, (float)light, renderer->row);
    }
}

static void show_row(struct lamp_renderer *renderer, const struct lamp_shutter_time *time, int y_px)
{
    const struct lamp_scene_rules *rules = &renderer->rules;
    struct lamp_shutter_time row_time = *time;
    row_time.start_ns += rules->readout_ns * y_px / rules->height_px;
    const double t_s = (double)(row_time.start_ns - rules->shutter.start_ns) / LAMP_NS_PER_S;
    const struct pose pose = motion_at(&renderer->motion, is_still(renderer) ? 0 : t_s);
    const struct walk walk = view_walk(rules, &pose, renderer->margin_px, y_px);
    const float light = (float)room_light(rules, row_time.start_ns, row_time.exposure_ns);
    view_board(&renderer->board, &walk, light, renderer->row);
    room_cast_shadow(rules, t_s, y_px, renderer->row);
    for (size_t i = 0; i < rules->lamp_count; i++) {
        show_lamp(renderer, &renderer->shown[i], &walk, &row_time);
    }
    if (rules->has_hand) {
        room_draw_hand(rules, t_s, y_px, light, renderer->row);
    }
}

/* Auto exposure evens out the mean light, late: it pumps when the lamp lights. */
static void follow_light(struct lamp_renderer *renderer, int64_t start_ns, double mean)
{
    const struct lamp_scene_rules *rules = &renderer->rules;
    const double wanted =
        pow(fmax(rules->ambient, 0.01) / fmax(mean / renderer->gain, 1e-4), rules->auto_exposure);
    const double passed = renderer->given == 0 ? 1e3 : (double)(start_ns - renderer->last_ns);
    const double share = 1 - exp(-passed / (double)rules->auto_exposure_ns);
    renderer->gain += (fmin(wanted, GAIN_MOST) - renderer->gain) * share;
    renderer->last_ns = start_ns;
}

static struct lamp_plane plane_of(const uint8_t *at, int width_px, int height_px, int bits)
{
    return (struct lamp_plane){.at = at,
                               .stride_bytes = (ptrdiff_t)width_px * (bits == 8 ? 1 : 2),
                               .width_px = width_px,
                               .height_px = height_px};
}

static struct lamp_frame next_frame(const struct lamp_renderer *renderer, int64_t t_ns)
{
    const struct lamp_scene_rules *rules = &renderer->rules;
    uint8_t *at = &renderer->pixels[renderer->given % FRAMES * renderer->frame_bytes];
    const size_t luma = renderer->frame_bytes / 3 * 2;
    struct lamp_frame frame = {.t_ns = t_ns,
                               .bits = rules->bits,
                               .matrix = LAMP_MATRIX_BT709,
                               .transfer = rules->transfer};
    frame.y = plane_of(at, rules->width_px, rules->height_px, rules->bits);
    frame.u = plane_of(at + luma, rules->width_px / 2, rules->height_px / 2, rules->bits);
    frame.v =
        plane_of(at + luma + luma / 4, rules->width_px / 2, rules->height_px / 2, rules->bits);
    return frame;
}

bool lamp_renderer_next(struct lamp_renderer *renderer, struct lamp_frame *out)
{
    struct lamp_shutter_time time;
    if (!lamp_shutter_next(renderer->shutter, &time)) {
        return false;
    }
    const struct lamp_frame frame =
        next_frame(renderer, time.t_ns - renderer->rules.shutter.start_ns);
    double sum = 0;
    for (int y = 0; y < renderer->rules.height_px; y += 2) {
        for (int which = 0; which < 2; which++) {
            show_row(renderer, &time, y + which);
            sum += sensor_take_row(&renderer->sensor, renderer->row, renderer->gain, which);
        }
        sensor_write_pair(&renderer->sensor, y, &frame);
    }
    follow_light(renderer, time.start_ns,
                 sum / renderer->rules.width_px / renderer->rules.height_px);
    renderer->given++;
    renderer->last_index = time.index;
    *out = frame;
    return true;
}

const struct lamp_script *lamp_renderer_script(const struct lamp_renderer *renderer, size_t index)
{
    return renderer->shown[index].script;
}

struct lamp_region lamp_renderer_region(const struct lamp_renderer *renderer, size_t index)
{
    const struct lamp_scene_lamp *lamp = &renderer->lamp[index];
    const double size_px = 1.3 * board_lamp_size_px(lamp, renderer->rules.height_px);
    const int side = (int)ceil(size_px);
    return (struct lamp_region){(int)floor(lamp->x_px - side / 2.0),
                                (int)floor(lamp->y_px - side / 2.0), side, side};
}

int64_t lamp_renderer_row_delay_ns(const struct lamp_renderer *renderer, size_t index)
{
    const struct lamp_scene_rules *rules = &renderer->rules;
    return llround((double)rules->readout_ns * renderer->lamp[index].y_px / rules->height_px);
}

void lamp_renderer_count(const struct lamp_renderer *renderer, uint64_t *given, uint64_t *lost)
{
    *given = renderer->given;
    *lost = renderer->given == 0 ? 0 : renderer->last_index + 1 - renderer->given;
}

void lamp_renderer_free(struct lamp_renderer *renderer)
{
    if (renderer == NULL) {
        return;
    }
    for (size_t i = 0; i < LAMP_SCENE_LAMPS_MAX; i++) {
        lamp_script_free(renderer->shown[i].script);
        glow_fini(&renderer->shown[i].glow);
    }
    lamp_shutter_free(renderer->shutter);
    sensor_fini(&renderer->sensor);
    canvas_fini(&renderer->board);
    free(renderer->row);
    free(renderer->pixels);
    free(renderer->lamp);
    free(renderer);
}
