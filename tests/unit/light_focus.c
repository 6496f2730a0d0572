/* light_focus.c - Parts of pictures read as whole ones do, and news is seen all the same. */
/* layers: base rhythm codebook light render */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/light.h"
#include "lampread/render.h"
#include "support/suite.h"

enum { READINGS_MAX = 20000, SHEETS = 2 * (LAMP_FRAMES_KEPT + 1), SECONDS = 10, PUSH_PX = 6 };

#define S INT64_C(1000000000)

/* A camera that decodes no more than the viewer asks for: other rows hold anything. */
struct camera {
    struct lamp_renderer *renderer;
    uint8_t *sheet[SHEETS];
    unsigned next;
    int64_t whole_ns;
    size_t whole_count;
    size_t part_count;
};

struct seen {
    struct lamp_viewer *viewer;
    struct lamp_reading *reading;
    size_t count;
    size_t parts;
    int64_t first_part_ns;
    int64_t damaged_ns;
};

static struct lamp_scene_lamp lamp_at(double x, double y, enum lamp_colour colour)
{
    static const int64_t lengths_ns[] = {600000000, 200000000, 200000000, 1000000000};
    struct lamp_scene_lamp lamp = lamp_scene_lamp_default();
    lamp.x_px = x;
    lamp.y_px = y;
    lamp.colour = colour;
    lamp.script = lamp_script_rules_default();
    lamp.script.kind = LAMP_SCRIPT_WAVE;
    lamp.script.wave.count = sizeof lengths_ns / sizeof *lengths_ns;
    memcpy(lamp.script.wave.length_ns, lengths_ns, sizeof lengths_ns);
    return lamp;
}

static struct lamp_scene_rules scene_of(const struct lamp_scene_lamp *lamp, size_t count,
                                        double seconds)
{
    struct lamp_scene_rules scene = lamp_scene_rules_default();
    scene.lamp = lamp;
    scene.lamp_count = count;
    scene.shutter.duration_ns = (int64_t)(seconds * 1e9);
    return scene;
}

/* A part of a plane that has one pixel for so many of luma either way. */
static struct lamp_picture_part thin(const struct lamp_picture_part *part, int by)
{
    return (struct lamp_picture_part){part->first_column_px / by,
                                      (part->end_column_px + by - 1) / by, part->first_row_px / by,
                                      (part->end_row_px + by - 1) / by};
}

/* Copy a part of a plane, moved down by `down` px; the rest is filled with what no picture holds.
 */
static uint8_t *copy_part(struct lamp_plane *plane, uint8_t *to, struct lamp_picture_part part,
                          int down)
{
    size_t width = (size_t)plane->width_px;
    size_t first = (size_t)part.first_column_px;
    size_t count = (size_t)part.end_column_px - first;
    for (int y = 0; y < plane->height_px; y++) {
        int moved = y < down ? 0 : y - down;
        const uint8_t *from = (const uint8_t *)plane->at + plane->stride_bytes * moved;
        memset(to + (size_t)y * width, 0xa5, width);
        if (y >= part.first_row_px && y < part.end_row_px) {
            memcpy(to + (size_t)y * width + first, from + first, count);
        }
    }
    plane->at = to;
    plane->stride_bytes = (ptrdiff_t)width;
    return to + width * (size_t)plane->height_px;
}

/* Whole pictures and parts are kept apart, so that whole ones stay readable. */
static void cut(struct camera *camera, struct lamp_frame *frame,
                const struct lamp_picture_part *part, int down)
{
    size_t half = SHEETS / 2;
    bool is_part = part->end_row_px > 0;
    const struct lamp_picture_part whole = {0, frame->y.width_px, 0, frame->y.height_px};
    size_t at = camera->next++ % half + (is_part ? half : 0);
    size_t size = (size_t)frame->y.width_px * (size_t)frame->y.height_px;
    free(camera->sheet[at]);
    camera->sheet[at] = malloc(2 * size);
    ck_assert_ptr_nonnull(camera->sheet[at]);
    uint8_t *to = camera->sheet[at];
    frame->is_partial = is_part;
    frame->part = is_part ? *part : whole;
    to = copy_part(&frame->y, to, frame->part, down);
    to = copy_part(&frame->u, to, thin(&frame->part, 2), down / 2);
    (void)copy_part(&frame->v, to, thin(&frame->part, 2), down / 2);
}

/* What goes wrong, and from when on. */
struct mishap {
    int64_t push_ns;   /* The camera is pushed, and stays there. */
    int64_t damage_ns; /* The next part of a picture holds nothing of it. */
};

static const struct mishap no_mishap = {INT64_MAX, INT64_MAX};

static struct seen see_with(const struct lamp_scene_rules *scene, bool is_focused,
                            struct mishap mishap)
{
    struct seen seen = {.reading = calloc(READINGS_MAX, sizeof *seen.reading)};
    struct camera *camera = calloc(1, sizeof *camera);
    struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_frame frame;
    ck_assert(seen.reading != NULL && camera != NULL);
    ck_assert_int_eq(lamp_renderer_new(scene, &camera->renderer, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_new(&rules, &seen.viewer), LAMP_OK);
    static unsigned whole;
    whole = 0;
    while (lamp_renderer_next(camera->renderer, &frame)) {
        struct lamp_picture_part part = {.end_row_px = 0};
        if (whole > 0 && is_focused && frame.t_ns - camera->whole_ns < S / 2) {
            lamp_viewer_focus(seen.viewer, &part);
        }
        bool is_part = part.end_row_px > 0;
        camera->next = is_part ? (unsigned)camera->part_count : whole;
        cut(camera, &frame, &part, frame.t_ns >= mishap.push_ns ? PUSH_PX : 0);
        if (is_part && frame.t_ns >= mishap.damage_ns) {
            const struct lamp_picture_part none = {0, 0, 0, 1};
            const struct lamp_picture_part given = frame.part;
            cut(camera, &frame, &none, 0);
            frame.part = given;
            seen.damaged_ns = frame.t_ns;
            mishap.damage_ns = INT64_MAX;
        }
        if (is_part) {
            seen.first_part_ns = seen.parts == 0 ? frame.t_ns : seen.first_part_ns;
            camera->part_count++;
            seen.parts++;
        } else {
            camera->whole_ns = frame.t_ns;
            whole++;
        }
        ck_assert_int_eq(lamp_viewer_push(seen.viewer, &frame), LAMP_OK);
        while (lamp_viewer_next(seen.viewer, &seen.reading[seen.count])) {
            ck_assert_uint_lt(++seen.count, READINGS_MAX);
        }
    }
    lamp_renderer_free(camera->renderer);
    for (size_t i = 0; i < SHEETS; i++) {
        free(camera->sheet[i]);
    }
    free(camera);
    return seen;
}

static struct seen see(const struct lamp_scene_rules *scene, bool is_focused)
{
    return see_with(scene, is_focused, no_mishap);
}

static void forget(struct seen *seen)
{
    lamp_viewer_free(seen->viewer);
    free(seen->reading);
}

/* The place on a lamp of the scene, -1 if there is none. */
static int place_on(const struct seen *seen, const struct lamp_scene_lamp *lamp)
{
    int found = -1;
    for (size_t i = 0; i < lamp_viewer_place_count(seen->viewer); i++) {
        struct lamp_place place;
        lamp_viewer_place(seen->viewer, i, &place);
        double x = place.region.x_px + place.region.w_px / 2.0;
        double y = place.region.y_px + place.region.h_px / 2.0;
        if (hypot(x - lamp->x_px, y - lamp->y_px) < 6 && place.likeness > 0.3F) {
            found = (int)i;
        }
    }
    return found;
}

static const struct lamp_reading *next_of(const struct seen *seen, int place, size_t *at)
{
    while (*at < seen->count) {
        const struct lamp_reading *reading = &seen->reading[(*at)++];
        if (reading->place == (size_t)place) {
            return reading;
        }
    }
    return NULL;
}

START_TEST(a_lamp_reads_the_same_from_parts_as_from_whole_pictures)
{
    const struct lamp_scene_lamp lamp = lamp_at(200, 120, LAMP_COLOUR_GREEN);
    const struct lamp_scene_rules scene = scene_of(&lamp, 1, SECONDS);
    struct seen whole = see(&scene, false);
    struct seen parts = see(&scene, true);
    int a = place_on(&whole, &lamp);
    int b = place_on(&parts, &lamp);
    ck_assert_int_ge(a, 0);
    ck_assert_int_ge(b, 0);
    ck_assert_uint_eq(whole.parts, 0);
    ck_assert_uint_gt(parts.parts, 100);
    size_t at_a = 0;
    size_t at_b = 0;
    const struct lamp_reading *x;
    size_t compared = 0;
    while ((x = next_of(&whole, a, &at_a)) != NULL) {
        const struct lamp_reading *y = next_of(&parts, b, &at_b);
        if (y == NULL) {
            /* The last parts have no whole picture after them. */
            ck_assert_int_ge(x->t_ns, (int64_t)(SECONDS * 1e9) - S / 2);
            break;
        }
        ck_assert_int_eq(x->t_ns, y->t_ns);
        ck_assert_int_eq(x->after_break, y->after_break);
        for (int c = 0; c < 3; c++) {
            /* Where the picture stands is known to some hundredths of a pixel. */
            ck_assert_float_eq_tol(x->rgb[c], y->rgb[c], 0.03F);
        }
        compared++;
    }
    ck_assert_uint_gt(compared, 260);
    forget(&whole);
    forget(&parts);
}
END_TEST

START_TEST(a_lamp_that_lights_later_in_rows_not_looked_at_is_found)
{
    struct lamp_scene_lamp lamp[2] = {lamp_at(200, 80, LAMP_COLOUR_GREEN),
                                      lamp_at(450, 300, LAMP_COLOUR_RED)};
    struct lamp_script_rules *late = &lamp[1].script;
    late->wave.count = 4;
    late->start_phase = 0.001; /* past the first millisecond */
    late->wave.length_ns[0] = 1000000;
    late->wave.length_ns[1] = 9 * S;
    late->wave.length_ns[2] = 400000000;
    late->wave.length_ns[3] = 400000000;
    const struct lamp_scene_rules scene = scene_of(lamp, 2, 13);
    struct seen seen = see(&scene, true);
    ck_assert_uint_gt(seen.parts, 40);
    ck_assert_int_ge(place_on(&seen, &lamp[0]), 0);
    ck_assert_int_ge(place_on(&seen, &lamp[1]), 0);
    forget(&seen);
}
END_TEST

START_TEST(a_hand_held_camera_is_given_whole_pictures)
{
    const struct lamp_scene_lamp lamp = lamp_at(300, 180, LAMP_COLOUR_GREEN);
    struct lamp_scene_rules scene = scene_of(&lamp, 1, 7);
    scene.shake_px = 3;
    struct seen seen = see(&scene, true);
    ck_assert_uint_eq(seen.parts, 0);
    forget(&seen);
}
END_TEST

START_TEST(parts_taken_while_the_camera_was_pushed_are_let_go)
{
    const struct lamp_scene_lamp lamp = lamp_at(200, 120, LAMP_COLOUR_GREEN);
    const struct lamp_scene_rules scene = scene_of(&lamp, 1, SECONDS);
    const int64_t push_ns = 8 * S + S / 10;
    struct seen still = see(&scene, true);
    struct seen pushed = see_with(&scene, true, (struct mishap){push_ns, INT64_MAX});
    int place = place_on(&pushed, &lamp);
    ck_assert_int_ge(place, 0);
    ck_assert_uint_gt(still.parts, pushed.parts); /* whole pictures until it is calm again */
    size_t at = 0;
    const struct lamp_reading *reading;
    bool has_break = false;
    while ((reading = next_of(&pushed, place, &at)) != NULL) {
        bool is_blind = reading->t_ns >= push_ns && reading->t_ns < push_ns + S / 10;
        ck_assert_msg(!is_blind, "read at %.2f s", (double)reading->t_ns * 1e-9);
        has_break |= reading->after_break && reading->t_ns > push_ns;
    }
    ck_assert(has_break);
    forget(&still);
    forget(&pushed);
}
END_TEST

START_TEST(a_part_whose_surroundings_are_gone_is_left_out)
{
    const struct lamp_scene_lamp lamp = lamp_at(200, 120, LAMP_COLOUR_GREEN);
    const struct lamp_scene_rules scene = scene_of(&lamp, 1, SECONDS);
    struct seen seen = see_with(&scene, true, (struct mishap){INT64_MAX, 8 * S + S / 10});
    int place = place_on(&seen, &lamp);
    size_t at = 0;
    const struct lamp_reading *reading;
    int64_t before_ns = 0;
    ck_assert_int_gt(seen.damaged_ns, 8 * S);
    while ((reading = next_of(&seen, place, &at)) != NULL) {
        ck_assert_int_ne(reading->t_ns, seen.damaged_ns);
        ck_assert_int_le(reading->t_ns - before_ns, 2 * S / 29); /* no other one is missing */
        before_ns = reading->t_ns;
    }
    forget(&seen);
}
END_TEST

START_TEST(light_after_a_hole_does_not_join_the_light_before_it)
{
    const struct lamp_scene_lamp lamp = lamp_at(200, 120, LAMP_COLOUR_GREEN);
    struct lamp_scene_rules scene = scene_of(&lamp, 1, 3);
    struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_viewer *viewer = NULL;
    struct lamp_renderer *renderer = NULL;
    struct lamp_reading reading;
    struct lamp_frame frame;
    size_t break_count = 0;
    size_t last_break = 0;
    ck_assert_int_eq(lamp_renderer_new(&scene, &renderer, NULL), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_new(&rules, &viewer), LAMP_OK);
    for (size_t i = 0; lamp_renderer_next(renderer, &frame); i++) {
        bool is_lost = i >= 60 && i < 70;
        frame.is_after_hole = i == 70;
        ck_assert(is_lost || lamp_viewer_push(viewer, &frame) == LAMP_OK);
        while (lamp_viewer_next(viewer, &reading)) {
            break_count += reading.after_break;
            last_break = reading.after_break ? i : last_break;
        }
    }
    ck_assert_uint_gt(break_count, 0);
    ck_assert_uint_eq(break_count, lamp_viewer_place_count(viewer));
    ck_assert_uint_eq(last_break, 70);
    lamp_viewer_free(viewer);
    lamp_renderer_free(renderer);
}
END_TEST

START_TEST(a_part_without_a_whole_picture_before_it_says_nothing)
{
    static uint8_t grey[64 * 64];
    struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct lamp_viewer *viewer = NULL;
    struct lamp_reading reading;
    struct lamp_frame frame = {.bits = 8,
                               .y = {grey, 64, 64, 64},
                               .is_full_range = true,
                               .is_partial = true,
                               .part = {.end_column_px = 64, .end_row_px = 16}};
    ck_assert_int_eq(lamp_viewer_new(&rules, &viewer), LAMP_OK);
    ck_assert_int_eq(lamp_viewer_push(viewer, &frame), LAMP_OK);
    ck_assert(!lamp_viewer_next(viewer, &reading));
    lamp_viewer_free(viewer);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {a_lamp_reads_the_same_from_parts_as_from_whole_pictures,
                                  a_lamp_that_lights_later_in_rows_not_looked_at_is_found,
                                  a_hand_held_camera_is_given_whole_pictures,
                                  light_after_a_hole_does_not_join_the_light_before_it,
                                  parts_taken_while_the_camera_was_pushed_are_let_go,
                                  a_part_whose_surroundings_are_gone_is_left_out,
                                  a_part_without_a_whole_picture_before_it_says_nothing};
    return suite_run("light_focus", tests, sizeof tests / sizeof *tests);
}
