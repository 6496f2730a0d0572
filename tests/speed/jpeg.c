/* jpeg.c - How long decoding the part of a camera's picture that holds the lamps takes, against all
 * of it. Prints a table, judges nothing.
 * usage: speed-jpeg [ROUNDS]
 */
#include <stdbool.h>
#include <stdlib.h>
#include <time.h>

#include "lampread/render.h"
#include "source/jpeg.h"
#include "support/jpeg_make.h"

enum { WIDTH = 1920, HEIGHT = 1080, ROUNDS = 60 };

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

static const struct {
    int first_px, end_px;
} bands[] = {{40, 140}, {200, 300}, {340, 440}, {440, 540}, {340, 740}, {700, 800}, {940, 1040}};

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
static double time_ms(struct lamp_jpeg *jpeg, const struct jpeg_bytes *coded, int first_px,
                      int end_px, int rounds)
{
    struct lamp_room room = {NULL, 0};
    struct lamp_jpeg_wish wish = {WIDTH, HEIGHT, first_px, end_px};
    struct lamp_frame frame;
    double least = 1e9;
    for (int i = 0; i < rounds; i++) {
        double from = now_s();
        if (lamp_jpeg_decode(jpeg, coded->at, coded->size, &wish, &room, &frame) != LAMP_OK) {
            return -1;
        }
        double spent = now_s() - from;
        least = spent < least ? spent : least;
    }
    free(room.at);
    return least * 1e3;
}

int main(int argc, char **argv)
{
    int rounds = argc > 1 ? atoi(argv[1]) : ROUNDS;
    struct lamp_jpeg *jpeg = NULL;
    if (lamp_jpeg_new(&jpeg) != LAMP_OK) {
        return EXIT_FAILURE;
    }
    printf("one picture of %d x %d, least CPU time of %d rounds\n", WIDTH, HEIGHT, rounds);
    printf("coding               kB  full_ms   rows        part_ms  times_as_fast\n");
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        struct jpeg_bytes coded = picture(&kinds[k].kind);
        double full_ms = time_ms(jpeg, &coded, 0, 0, rounds);
        for (size_t b = 0; b < sizeof bands / sizeof *bands; b++) {
            double part_ms = time_ms(jpeg, &coded, bands[b].first_px, bands[b].end_px, rounds);
            printf("%-18s %4lu %8.2f   %4d..%-5d %8.2f %14.1f\n", kinds[k].name, coded.size / 1000,
                   full_ms, bands[b].first_px, bands[b].end_px, part_ms, full_ms / part_ms);
        }
        free(coded.at);
    }
    lamp_jpeg_free(jpeg);
    return EXIT_SUCCESS;
}
