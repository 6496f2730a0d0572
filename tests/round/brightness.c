/* brightness.c - Our brightness trace beside that of an independent decoder: ffmpeg's signalstats
 * over the same crop.
 *
 * YAVG is the mean luma code of the crop; undone by the inverse of ITU-R BT.709 it is linear light,
 * as ours is. The lamp is not so bright that its core saturates, and the crop lies inside the core.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_file.h"
#include "support/acc_judge.h"
#include "support/acc_read.h"

enum { SAMPLES_MAX = 2000 };

/* Light by time. */
struct row {
    size_t count;
    double t_s[SAMPLES_MAX];
    double level[SAMPLES_MAX];
};

struct clip {
    const char *codec;
    const char *file;
    int quality;
    enum lamp_colour colour;
};

static const struct clip clips[] = {
    {"h264", "clip.mp4", 85, LAMP_COLOUR_GREEN},
    {"vp9", "clip.webm", 85, LAMP_COLOUR_RED},
    {"mjpeg", "clip.avi", 90, LAMP_COLOUR_BLUE},
};

static void render(const struct clip *clip, const char *path, struct lamp_region *core)
{
    static const int lengths_ms[] = {217, 243, 217, 243, 641, 771, 217, 1213};
    struct lamp_scene_lamp lamp = lamp_scene_lamp_default();
    struct lamp_render_rules rules = lamp_render_rules_default();
    struct lamp_error error = {.place = ""};
    lamp.x_px = 160;
    lamp.y_px = 100;
    lamp.size_px = 32;
    lamp.brightness = 0.7;
    lamp.colour = clip->colour;
    lamp.script.kind = LAMP_SCRIPT_WAVE;
    lamp.script.wave.count = sizeof lengths_ms / sizeof *lengths_ms;
    for (size_t i = 0; i < lamp.script.wave.count; i++) {
        lamp.script.wave.length_ns[i] = lengths_ms[i] * INT64_C(1000000);
    }
    rules.scene.width_px = 320;
    rules.scene.height_px = 180;
    rules.scene.lamp = &lamp;
    rules.scene.lamp_count = 1;
    rules.scene.shutter.exposure_ns = 20000000;
    rules.codec = clip->codec;
    rules.quality = clip->quality;
    rules.any_flash = true;
    rules.hides_truth = true;
    acc_must(lamp_render_file(&rules, path, &error), &error);
    *core = (struct lamp_region){154, 94, 12, 12};
}

static bool has_ffmpeg(void)
{
    return system("ffmpeg -hide_banner -version >/dev/null 2>&1") == 0;
}

static double linear_of_luma(double code, bool is_full_range)
{
    const double v = is_full_range ? code / 255 : (code - 16) / 219;
    return v < 0.081 ? v / 4.5 : pow((v + 0.099) / 1.099, 1 / 0.45);
}

/* "frame:0 pts:0 pts_time:0" and, of the same frame, "lavfi.signalstats.YAVG=38.1". */
static void read_signalstats(const char *path, const struct lamp_region *crop, bool is_full_range,
                             struct row *row)
{
    char command[1024];
    char line[256];
    (void)snprintf(command, sizeof command,
                   "ffmpeg -v error -i '%s' -vf "
                   "'crop=%d:%d:%d:%d,signalstats,metadata=print:key=lavfi.signalstats.YAVG"
                   ":file=-' -f null - 2>/dev/null",
                   path, crop->w_px, crop->h_px, crop->x_px, crop->y_px);
    FILE *pipe = popen(command, "r");
    row->count = 0;
    while (pipe != NULL && fgets(line, sizeof line, pipe) != NULL && row->count < SAMPLES_MAX) {
        const char *time = strstr(line, "pts_time:");
        const char *level = strstr(line, "YAVG=");
        if (time != NULL) {
            row->t_s[row->count] = strtod(time + strlen("pts_time:"), NULL);
        }
        if (level != NULL) {
            row->level[row->count++] =
                linear_of_luma(strtod(level + strlen("YAVG="), NULL), is_full_range);
        }
    }
    if (pipe != NULL) {
        (void)pclose(pipe);
    }
}

static void read_ours(const char *path, const struct lamp_region *core, struct row *row)
{
    struct lamp_reader_rules rules = lamp_reader_rules_default();
    rules.spool = tmpfile();
    struct acc_reading reading = acc_read_file(&rules, path);
    const struct lamp_report_lamp *lamp = acc_lamp_at(reading.report, core);
    struct lamp_sample sample;
    size_t which;
    row->count = 0;
    while (lamp != NULL && row->count < SAMPLES_MAX &&
           lamp_reader_next_sample(reading.reader, &which, &sample) == LAMP_OK) {
        if (&reading.report->lamp[which] == lamp) {
            row->t_s[row->count] = (double)sample.t_ns / 1e9;
            row->level[row->count++] = sample.level;
        }
    }
    acc_reading_fini(&reading);
    if (rules.spool != NULL) {
        (void)fclose(rules.spool);
    }
}

/* Correlation of what both have at the same time; `count` is set to how many moments that is. */
static double correlate(const struct row *a, const struct row *b, size_t *count)
{
    double n = 0;
    double sum[5] = {0};
    for (size_t i = 0, j = 0; i < a->count && j < b->count;) {
        if (fabs(a->t_s[i] - b->t_s[j]) < 0.004) {
            const double x = a->level[i++];
            const double y = b->level[j++];
            n++;
            sum[0] += x;
            sum[1] += y;
            sum[2] += x * x;
            sum[3] += y * y;
            sum[4] += x * y;
        } else if (a->t_s[i] < b->t_s[j]) {
            i++;
        } else {
            j++;
        }
    }
    *count = (size_t)n;
    return (n * sum[4] - sum[0] * sum[1]) /
           sqrt((n * sum[2] - sum[0] * sum[0]) * (n * sum[3] - sum[1] * sum[1]));
}

static bool check(const struct clip *clip)
{
    static struct row ours;
    static struct row theirs;
    char path[ACC_PATH_MAX];
    struct lamp_region core;
    size_t count;
    acc_path_make(path, clip->file);
    render(clip, path, &core);
    read_signalstats(path, &core, strcmp(clip->codec, "mjpeg") == 0, &theirs);
    read_ours(path, &core, &ours);
    acc_path_remove(path);
    const double correlation = correlate(&ours, &theirs, &count);
    const bool is_good = count > 250 && correlation > 0.99;
    printf("%-6s %-7s %4zu samples of ours, %4zu of theirs, %4zu at the same time, correlation "
           "%.5f%s\n",
           clip->codec, lamp_colour_name(clip->colour), ours.count, theirs.count, count,
           correlation, is_good ? "" : " !");
    return is_good;
}

int main(void)
{
    int faults = 0;
    if (!has_ffmpeg()) {
        printf(
            "skipped: ffmpeg is not installed, so no other decoder's brightness can be compared\n");
        return EXIT_SUCCESS;
    }
    for (size_t i = 0; i < sizeof clips / sizeof *clips; i++) {
        faults += !check(&clips[i]);
    }
    return faults == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
