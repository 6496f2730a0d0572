/* speed.c - The parts of the speed table: make a clip, decode one bare, measure a command.
 *
 * speed make FILE SECONDS     a hand-held board of 1920 x 1080 at 30 frames a second, two lamps
 * speed decode FILE           decode every frame with the same library and threads as the reader,
 * and let it go speed measure COMMAND...    run it, and print "wall_s cpu_s peak_mb" of its process
 */
#include <errno.h>
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/cpu.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "lampread/render.h"

/* As the reader has it by default: a thread a core and one more, so many at most; frames and
 * slices. */
enum { THREADS_MAX = 8 };

static int fail(const char *what)
{
    (void)fprintf(stderr, "speed: %s\n", what);
    return EXIT_FAILURE;
}

static struct lamp_script_rules code_script(void)
{
    static const int lengths_ms[] = {600, 200, 600, 200, 200, 200, 200,
                                     200, 200, 200, 200, 200, 200, 1800};
    struct lamp_script_rules rules = lamp_script_rules_default();
    rules.kind = LAMP_SCRIPT_WAVE;
    rules.wave.count = sizeof lengths_ms / sizeof *lengths_ms;
    for (size_t i = 0; i < rules.wave.count; i++) {
        rules.wave.length_ns[i] = lengths_ms[i] * INT64_C(1000000);
    }
    return rules;
}

static int make_clip(const char *path, double seconds)
{
    struct lamp_scene_lamp lamps[2] = {lamp_scene_lamp_default(), lamp_scene_lamp_default()};
    struct lamp_render_rules rules = lamp_render_rules_default();
    struct lamp_error error = {.place = ""};
    lamps[0].x_px = 800;
    lamps[0].y_px = 500;
    lamps[0].script = code_script();
    lamps[1].x_px = 1200;
    lamps[1].y_px = 400;
    lamps[1].colour = LAMP_COLOUR_RED;
    rules.scene.width_px = 1920;
    rules.scene.height_px = 1080;
    rules.scene.lamp = lamps;
    rules.scene.lamp_count = 2;
    rules.scene.shake_px = 3;
    rules.scene.shutter.exposure_ns = 20000000;
    rules.scene.shutter.duration_ns = (int64_t)(seconds * 1e9);
    rules.codec = "h264";
    rules.quality = 70;
    rules.any_flash = true;
    rules.hides_truth = true;
    if (lamp_render_file(&rules, path, &error) != LAMP_OK) {
        return fail(error.sentence);
    }
    return EXIT_SUCCESS;
}

static AVCodecContext *open_decoder(const AVStream *stream)
{
    const AVCodec *codec = avcodec_find_decoder(stream->codecpar->codec_id);
    AVCodecContext *decoder = avcodec_alloc_context3(codec);
    const int cores = av_cpu_count();
    const int threads = cores < 2 ? 1 : cores < THREADS_MAX ? cores + 1 : THREADS_MAX;
    if (decoder == NULL || avcodec_parameters_to_context(decoder, stream->codecpar) < 0) {
        avcodec_free_context(&decoder);
        return NULL;
    }
    decoder->thread_count = threads;
    decoder->thread_type = threads > 1 ? FF_THREAD_FRAME | FF_THREAD_SLICE : FF_THREAD_SLICE;
    if (avcodec_open2(decoder, codec, NULL) < 0) {
        avcodec_free_context(&decoder);
    }
    return decoder;
}

static long drain(AVCodecContext *decoder, AVFrame *frame)
{
    long count = 0;
    while (avcodec_receive_frame(decoder, frame) >= 0) {
        count++;
        av_frame_unref(frame);
    }
    return count;
}

static int decode(const char *path)
{
    AVFormatContext *file = NULL;
    if (avformat_open_input(&file, path, NULL, NULL) < 0 ||
        avformat_find_stream_info(file, NULL) < 0) {
        return fail("cannot be opened");
    }
    const int index = av_find_best_stream(file, AVMEDIA_TYPE_VIDEO, -1, -1, NULL, 0);
    AVCodecContext *decoder = index < 0 ? NULL : open_decoder(file->streams[index]);
    AVPacket *packet = av_packet_alloc();
    AVFrame *frame = av_frame_alloc();
    long frames = 0;
    if (decoder == NULL || packet == NULL || frame == NULL) {
        return fail("has no video to decode");
    }
    while (av_read_frame(file, packet) >= 0) {
        if (packet->stream_index == index && avcodec_send_packet(decoder, packet) >= 0) {
            frames += drain(decoder, frame);
        }
        av_packet_unref(packet);
    }
    (void)avcodec_send_packet(decoder, NULL);
    frames += drain(decoder, frame);
    printf("%ld frames\n", frames);
    av_frame_free(&frame);
    av_packet_free(&packet);
    avcodec_free_context(&decoder);
    avformat_close_input(&file);
    return EXIT_SUCCESS;
}

static double seconds_of(const struct timeval *time)
{
    return (double)time->tv_sec + (double)time->tv_usec / 1e6;
}

static double now_s(void)
{
    struct timespec time;
    (void)clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

/* What the command says goes nowhere: only what it takes is asked. */
static void run(char **command)
{
    if (freopen("/dev/null", "w", stdout) == NULL) {
        _exit(126);
    }
    (void)execvp(command[0], command);
    _exit(127);
}

static int measure(char **command)
{
    struct rusage usage;
    int status;
    const double begin_s = now_s();
    const pid_t child = fork();
    if (child == 0) {
        run(command);
    }
    if (child < 0 || waitpid(child, &status, 0) < 0) {
        return fail(strerror(errno));
    }
    const double wall_s = now_s() - begin_s;
    (void)getrusage(RUSAGE_CHILDREN, &usage);
    if (!WIFEXITED(status) || WEXITSTATUS(status) > 1) {
        return fail("the command failed");
    }
    printf("%.3f %.3f %.1f\n", wall_s, seconds_of(&usage.ru_utime) + seconds_of(&usage.ru_stime),
           (double)usage.ru_maxrss / 1024);
    return EXIT_SUCCESS;
}

int main(int count, char **words)
{
    if (count == 4 && strcmp(words[1], "make") == 0) {
        return make_clip(words[2], strtod(words[3], NULL));
    }
    if (count == 3 && strcmp(words[1], "decode") == 0) {
        return decode(words[2]);
    }
    if (count >= 3 && strcmp(words[1], "measure") == 0) {
        return measure(&words[2]);
    }
    (void)fputs("usage: speed make FILE SECONDS | decode FILE | measure COMMAND...\n", stderr);
    return 2;
}
