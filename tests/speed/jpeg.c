/* jpeg.c - What a live camera of 1920 x 1080 costs: decoding the part that holds the lamps against
 * all of it, then decoding and looking together. Prints tables, judges nothing.
 * usage: speed-jpeg [ROUNDS]
 */
#include <stdbool.h>
#include <stdlib.h>
#include <time.h>

#include "lampread/light.h"
#include "lampread/render.h"
#include "source/camera_picture.h"
#include "source/jpeg.h"
#include "support/jpeg_make.h"

enum { WIDTH = 1920, HEIGHT = 1080, ROUNDS = 60, PICTURES = 6, LIVE_HZ = 60, LIVE_S = 10 };

static double now_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static const struct {
    const char *name;
    struct jpeg_kind kind;
} kinds[] = {
    {"4:2:2 q85", {.across = 2, .down = 1, .quality = 85}},
    {"4:2:0 q85", {.across = 2, .down = 2, .quality = 85}},
    {"4:2:2 q95", {.across = 2, .down = 1, .quality = 95}},
    {"4:2:2 q85 restarts", {.across = 2, .down = 1, .quality = 85, .restart_rows = 1}},
};

/* About one lamp; then what holds lamps at both sides of the board. */
static const struct lamp_picture_part parts[] = {
    {800, 1000, 40, 140},  {800, 1000, 200, 300},  {800, 1000, 340, 440}, {800, 1000, 440, 540},
    {800, 1000, 700, 800}, {800, 1000, 940, 1040}, {0, WIDTH, 40, 140},   {0, WIDTH, 200, 300},
    {0, WIDTH, 340, 440},  {0, WIDTH, 440, 540},   {0, WIDTH, 340, 740},  {0, WIDTH, 940, 1040},
};

static struct jpeg_bytes picture(const struct jpeg_kind *kind)
{
    struct lamp_scene_rules scene = lamp_scene_rules_default();
    struct lamp_renderer *renderer = NULL;
    struct lamp_frame frame;
    struct jpeg_bytes made = {NULL, 0};
    scene.width_px = WIDTH;
    scene.height_px = HEIGHT;
    if (lamp_renderer_new(&scene, &renderer, NULL) == LAMP_OK &&
        lamp_renderer_next(renderer, &frame)) {
        made = jpeg_make(&frame, kind);
    }
    lamp_renderer_free(renderer);
    return made;
}

/* Least time of several rounds, ms: what else the machine does only adds. */
static double time_ms(struct lamp_jpeg *jpeg, const struct jpeg_bytes *coded,
                      const struct lamp_picture_part *part, int rounds)
{
    struct lamp_room room = {NULL, 0};
    struct lamp_jpeg_wish wish = {WIDTH, HEIGHT, *part};
    struct lamp_frame frame;
    double least = 1e9;
    for (int i = 0; i < rounds; i++) {
        double from = now_s();
        if (lamp_jpeg_decode(jpeg, (struct lamp_coded){coded->at, coded->size}, &wish, &room,
                             &frame) != LAMP_OK) {
            return -1;
        }
        double spent = now_s() - from;
        least = spent < least ? spent : least;
    }
    free(room.at);
    return least * 1e3;
}

/* A camera of 60 frames a second that sees one lamp blink: pictures coded beforehand, a dark and a
 * lit one by turns of half a second. */
struct live {
    struct lamp_viewer *viewer;
    struct lamp_developer *developer;
    struct jpeg_bytes coded[2 * PICTURES];
    int64_t whole_ns;
    size_t part_count;
};

static bool code_pictures(struct live *live, double y_px)
{
    struct lamp_scene_lamp lamp = lamp_scene_lamp_default();
    const struct jpeg_kind kind = {.across = 2, .down = 1, .quality = 85};
    lamp.x_px = 900;
    lamp.y_px = y_px;
    for (int i = 0; i < 2 * PICTURES; i++) {
        struct lamp_scene_rules scene = lamp_scene_rules_default();
        struct lamp_renderer *renderer = NULL;
        struct lamp_frame frame;
        scene.width_px = WIDTH;
        scene.height_px = HEIGHT;
        scene.lamp = &lamp;
        scene.lamp_count = 1;
        lamp.script.kind = i < PICTURES ? LAMP_SCRIPT_STEADY_OFF : LAMP_SCRIPT_STEADY_ON;
        if (lamp_renderer_new(&scene, &renderer, NULL) != LAMP_OK) {
            return false;
        }
        for (int skip = 0; skip <= i % PICTURES; skip++) {
            (void)lamp_renderer_next(renderer, &frame); /* noise of its own */
        }
        live->coded[i] = jpeg_make(&frame, &kind);
        lamp_renderer_free(renderer);
    }
    return true;
}

static void look(struct live *live, int index)
{
    int64_t t_ns = index * (INT64_C(1000000000) / LIVE_HZ);
    bool is_lit = index / (LIVE_HZ / 2) % 2 == 1;
    const struct jpeg_bytes *coded = &live->coded[index % PICTURES + (is_lit ? PICTURES : 0)];
    struct lamp_picture_part part = {.end_row_px = 0};
    struct lamp_frame frame;
    struct lamp_reading reading;
    if (t_ns - live->whole_ns < INT64_C(500000000)) {
        lamp_viewer_focus(live->viewer, &part);
    }
    if (lamp_developer_push(live->developer, coded->at, coded->size, &part, &frame) != LAMP_OK) {
        return;
    }
    frame.t_ns = t_ns;
    live->whole_ns = frame.is_partial ? live->whole_ns : t_ns;
    live->part_count += frame.is_partial;
    (void)lamp_viewer_push(live->viewer, &frame);
    while (lamp_viewer_next(live->viewer, &reading)) {
    }
}

/* CPU time of a second of camera, as a share of it, in each second. */
static void measure_live(double y_px)
{
    const struct lamp_video_layout layout = {
        .mode = {.format = LAMP_VIDEO_MJPEG, .width_px = WIDTH, .height_px = HEIGHT}};
    const struct lamp_viewer_rules rules = lamp_viewer_rules_default();
    struct live live = {.part_count = 0};
    if (!code_pictures(&live, y_px) || lamp_viewer_new(&rules, &live.viewer) != LAMP_OK ||
        lamp_developer_new(&layout, &live.developer) != LAMP_OK) {
        return;
    }
    printf("\none lamp at row %.0f, %d frames a second: decoding and looking, share of one core\n",
           y_px, LIVE_HZ);
    printf("second  share  partial_frames\n");
    for (int second = 0; second < LIVE_S; second++) {
        double from = now_s();
        live.part_count = 0;
        for (int i = 0; i < LIVE_HZ; i++) {
            look(&live, second * LIVE_HZ + i);
        }
        printf("%6d %6.2f %15zu\n", second, now_s() - from, live.part_count);
    }
    for (int i = 0; i < 2 * PICTURES; i++) {
        free(live.coded[i].at);
    }
    lamp_developer_free(live.developer);
    lamp_viewer_free(live.viewer);
}

int main(int argc, char **argv)
{
    int rounds = argc > 1 ? atoi(argv[1]) : ROUNDS;
    struct lamp_jpeg *jpeg = NULL;
    if (lamp_jpeg_new(&jpeg) != LAMP_OK) {
        return EXIT_FAILURE;
    }
    printf("one picture of %d x %d, least CPU time of %d rounds\n", WIDTH, HEIGHT, rounds);
    printf("coding               kB  full_ms   columns     rows        part_ms  times_as_fast\n");
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        struct jpeg_bytes coded = picture(&kinds[k].kind);
        const struct lamp_picture_part whole = {.end_row_px = 0};
        double full_ms = time_ms(jpeg, &coded, &whole, rounds);
        for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
            const struct lamp_picture_part *part = &parts[i];
            double part_ms = time_ms(jpeg, &coded, part, rounds);
            printf("%-18s %4lu %8.2f   %4d..%-5d %4d..%-5d %8.2f %14.1f\n", kinds[k].name,
                   coded.size / 1000, full_ms, part->first_column_px, part->end_column_px,
                   part->first_row_px, part->end_row_px, part_ms, full_ms / part_ms);
        }
        free(coded.at);
    }
    lamp_jpeg_free(jpeg);
    measure_live(300);
    measure_live(900);
    return EXIT_SUCCESS;
}
