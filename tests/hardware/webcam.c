/* webcam.c - A USB camera in user space that films a lamp, plugged into this machine's own kernel.
 *
 *   script --light--> exposures --picture--> YUYV or JPEG --payloads--> vhci-hcd --> uvcvideo -->
 * /dev/videoN
 *                                                ^
 *              commands: faults, plug and unplug '
 *
 * usage: hardware-webcam -C FIFO [-n NAME] [-s WxH[,WxH...]] [-l SCRIPT] [-d MS] [-c COLOUR] [-r
 * ROOM] [-b]
 *                        [-f FRAMES.csv] [-t TRUTH.csv]
 *   -C  a FIFO that it makes and takes commands from, see below; made once the camera is plugged in
 *   -s  picture sizes, the first is preferred; default 320x240      -l  script of the lamp as in
 * light.h; default "on" -d  how long the lamp is dark first; default 0                  -c  colour
 * of the lamp; default green -r  light of the room, 1 is a bright bench                      -b
 * JPEG without Huffman tables -f  write each frame: stream,frame,sent_s,exposure_s,lit,fate   -t
 * write what the lamp did
 *
 * Commands, one a line: unplug | plug | quit | stall MS (send nothing) | controls FILE (write them)
 * | error N | short N | truncate N | corrupt N | lose N: do it to each Nth frame, 0: to none.
 */
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "light.h"
#include "webcam_picture.h"
#include "webcam_usb.h"
#include "webcam_uvc.h"

static const int64_t ns_per_ms = 1000000;
static const double ns_per_s = 1e9;
static const double ns_per_100us = 1e5;

/* What becomes of a frame. */
enum fate { SENT, ERROR, SHORT, TRUNCATED, CORRUPTED, LOST, STALLED, UNREAD, FATES };
static const char *const fate_names[FATES] = {"sent",      "error", "short",   "truncated",
                                              "corrupted", "lost",  "stalled", "unread"};
static const char *const fate_commands[FATES] = {NULL,      "error", "short", "truncate",
                                                 "corrupt", "lose",  NULL,    NULL};

/* A frame whose exposure has not ended yet. */
struct exposed {
    int64_t end_ns;
    bool is_ready; /* the rest is known */
    int exposure_100us;
    int lit_permille;
    struct picture picture;
};

struct webcam {
    struct uvc uvc;
    struct usb usb;
    struct light light;
    struct picture_maker *maker;
    double room;
    int commands; /* the FIFO, open */
    const char *commands_path;
    const char *truth_path;
    FILE *frames;
    bool is_over;

    int every[FATES]; /* each how many frames it is done; 0: to none */
    int64_t stalled_until_ns;
    double auto_exposure_100us;

    bool runs; /* a stream has begun */
    int stream;
    int frame;
    struct exposed next;

    uint8_t *bytes; /* the frame on the wire, NULL between frames */
    size_t size_bytes;
    size_t sent_bytes;
    bool has_error;
    uint8_t frame_bit; /* turns over with each frame that the bus carries */
};

/* ---- sensor
 * ---------------------------------------------------------------------------------------------------
 */

static const double bright_exposure_100us = 156; /* what the camera chooses on a bright bench */

/* A room too dim for the frame rate: with exposure priority the camera halves the rate. */
static int64_t interval_ns(const struct webcam *webcam)
{
    const int32_t *control = webcam->uvc.control;
    int64_t agreed_ns = uvc_stream(&webcam->uvc).interval_ns;
    bool may_slow = control[UVC_EXPOSURE_AUTO] != 1 && control[UVC_EXPOSURE_PRIORITY] != 0;
    bool is_dim = bright_exposure_100us / webcam->room * ns_per_100us > (double)agreed_ns;
    return may_slow && is_dim ? 2 * agreed_ns : agreed_ns;
}

/* By itself the camera follows the room, and gives way to the lamp, a fifth of the way each frame.
 */
static int choose_exposure(struct webcam *webcam, int lit_permille)
{
    double most_100us = (double)interval_ns(webcam) / ns_per_100us;
    double wanted_100us = webcam->uvc.control[UVC_EXPOSURE];
    if (webcam->uvc.control[UVC_EXPOSURE_AUTO] != 1) {
        double aim_100us = bright_exposure_100us / webcam->room * (1 - 0.25 * lit_permille / 1000);
        webcam->auto_exposure_100us += 0.2 * (aim_100us - webcam->auto_exposure_100us);
        wanted_100us = 8 * (int)(webcam->auto_exposure_100us / 8); /* sensors have steps */
    }
    int exposure_100us = (int)(wanted_100us < most_100us ? wanted_100us : most_100us);
    exposure_100us = exposure_100us < 1 ? 1 : exposure_100us;
    if (webcam->uvc.control[UVC_EXPOSURE_AUTO] != 1) {
        webcam->uvc.control[UVC_EXPOSURE] = exposure_100us;
    }
    return exposure_100us;
}

static int lit_permille(const struct webcam *webcam, int64_t end_ns, int exposure_100us)
{
    int64_t exposure_ns = (int64_t)(exposure_100us * ns_per_100us);
    return (int)(light_lit_ns(&webcam->light, end_ns - exposure_ns, end_ns) * 1000 / exposure_ns);
}

static struct picture take_picture(struct webcam *webcam, int exposure_100us, int lit)
{
    const int32_t *control = webcam->uvc.control;
    struct uvc_stream stream = uvc_stream(&webcam->uvc);
    struct picture_look look = {.width_px = stream.size.width_px,
                                .height_px = stream.size.height_px,
                                .is_jpeg = stream.is_jpeg,
                                .lit_permille = lit,
                                .exposure_100us = exposure_100us,
                                .gain = control[UVC_GAIN],
                                .brightness = control[UVC_BRIGHTNESS],
                                .warmth_k = control[UVC_WARMTH_AUTO] ? 4600 : control[UVC_WARMTH],
                                .noise = (webcam->frame + PICTURE_NOISES) % PICTURE_NOISES};
    return picture_make(webcam->maker, &look);
}

/* ---- frames
 * ---------------------------------------------------------------------------------------------------
 */

static enum fate draw_fate(const struct webcam *webcam, int64_t now_ns)
{
    if (now_ns < webcam->stalled_until_ns) {
        return STALLED;
    }
    if (webcam->bytes != NULL) {
        return UNREAD; /* the one before is still on its way: nobody takes them fast enough */
    }
    for (enum fate fate = ERROR; fate <= LOST; fate++) {
        if (webcam->every[fate] > 0 && webcam->frame % webcam->every[fate] == 0) {
            return fate;
        }
    }
    return SENT;
}

/* The picture is copied, so that damage done to it stays its own. */
static void put_on_wire(struct webcam *webcam, const struct picture *picture, enum fate fate)
{
    webcam->bytes = malloc(picture->size_bytes);
    if (webcam->bytes == NULL) {
        return;
    }
    memcpy(webcam->bytes, picture->bytes, picture->size_bytes);
    webcam->size_bytes =
        fate == SHORT || fate == TRUNCATED ? picture->size_bytes / 2 : picture->size_bytes;
    webcam->sent_bytes = 0;
    webcam->has_error = fate == ERROR;
    webcam->frame_bit ^= 1;
    for (size_t i = picture->size_bytes / 4; fate == CORRUPTED && i < webcam->size_bytes; i += 97) {
        webcam->bytes[i] ^= 0x5a;
    }
}

/* What the next exposure will have seen is known before it ends, so that it is sent in the moment
 * it does. The picture is made halfway there: sooner, it would keep the kernel from stamping the
 * frame before. */
static int64_t work_ns(const struct webcam *webcam)
{
    return webcam->next.end_ns - (webcam->next.is_ready ? 0 : interval_ns(webcam) / 2);
}

static void prepare_frame(struct webcam *webcam)
{
    struct exposed *next = &webcam->next;
    webcam->frame++;
    next->exposure_100us = choose_exposure(webcam, lit_permille(webcam, next->end_ns, 1));
    next->lit_permille = lit_permille(webcam, next->end_ns, next->exposure_100us);
    next->picture = take_picture(webcam, next->exposure_100us, next->lit_permille);
    next->is_ready = true;
}

static void take_frame(struct webcam *webcam)
{
    struct exposed *next = &webcam->next;
    enum fate fate = draw_fate(webcam, next->end_ns);
    if (fate < LOST) {
        put_on_wire(webcam, &next->picture, fate);
    }
    if (webcam->frames != NULL) {
        (void)fprintf(webcam->frames, "%d,%d,%.6f,%.4f,%.3f,%s\n", webcam->stream, webcam->frame,
                      (double)next->end_ns / ns_per_s, next->exposure_100us / 1e4,
                      next->lit_permille / 1e3, fate_names[fate]);
    }
    next->end_ns += interval_ns(webcam);
    next->is_ready = false;
}

static void work_on_frame(struct webcam *webcam)
{
    if (!webcam->runs || light_now_ns() < work_ns(webcam)) {
        return;
    }
    if (webcam->next.is_ready) {
        take_frame(webcam);
    } else {
        prepare_frame(webcam);
    }
}

static void end_frame(struct webcam *webcam)
{
    free(webcam->bytes);
    webcam->bytes = NULL;
}

/* Each read of the host takes one payload: a header of two bytes, then as much of the frame as
 * fits. */
static bool send_payload(struct webcam *webcam)
{
    uint8_t payload[UVC_PAYLOAD_MAX];
    size_t most_bytes = webcam->usb.reads[0].size_bytes < sizeof payload
                            ? webcam->usb.reads[0].size_bytes
                            : sizeof payload;
    size_t part_bytes = webcam->size_bytes - webcam->sent_bytes;
    part_bytes = part_bytes > most_bytes - 2 ? most_bytes - 2 : part_bytes;
    bool is_last = webcam->sent_bytes + part_bytes == webcam->size_bytes;
    payload[0] = 2;
    payload[1] =
        (uint8_t)(0x80 | (webcam->has_error ? 0x40 : 0) | (is_last ? 0x02 : 0) | webcam->frame_bit);
    memcpy(payload + 2, webcam->bytes + webcam->sent_bytes, part_bytes);
    webcam->sent_bytes += part_bytes;
    if (is_last) {
        end_frame(webcam);
    }
    return usb_give(&webcam->usb, payload, part_bytes + 2);
}

static void follow_stream(struct webcam *webcam)
{
    if (webcam->uvc.is_streaming && !webcam->runs) {
        webcam->stream++;
        for (webcam->frame = -PICTURE_NOISES; webcam->frame < 0;) {
            prepare_frame(webcam); /* the sensor runs in: the first frame is not late */
        }
        webcam->next = (struct exposed){.end_ns = light_now_ns() + 40 * ns_per_ms};
    }
    webcam->runs = webcam->uvc.is_streaming;
    if (!webcam->runs) {
        end_frame(webcam);
    }
}

/* ---- plug and commands
 * ---------------------------------------------------------------------------------------- */

static void plug(struct webcam *webcam)
{
    uvc_reset(&webcam->uvc);
    follow_stream(webcam);
    if (!usb_plug(&webcam->usb)) {
        perror("hardware-webcam: cannot be plugged in");
        webcam->is_over = true;
    }
}

static void unplug(struct webcam *webcam)
{
    if (webcam->usb.socket >= 0) {
        usb_unplug(&webcam->usb);
    }
    uvc_reset(&webcam->uvc);
    follow_stream(webcam);
}

static void write_controls(const struct webcam *webcam, const char *path)
{
    char part[256];
    (void)snprintf(part, sizeof part, "%s.part", path);
    FILE *file = fopen(part, "w");
    if (file != NULL) {
        uvc_write_controls(&webcam->uvc, file);
        (void)fclose(file);
        (void)rename(part, path); /* so that who waits for it finds it whole */
    }
}

static void obey(struct webcam *webcam, const char *verb, const char *value)
{
    int number = (int)strtol(value, NULL, 10);
    if (strcmp(verb, "unplug") == 0) {
        unplug(webcam);
    } else if (strcmp(verb, "plug") == 0) {
        plug(webcam);
    } else if (strcmp(verb, "quit") == 0) {
        webcam->is_over = true;
    } else if (strcmp(verb, "stall") == 0) {
        webcam->stalled_until_ns = light_now_ns() + number * ns_per_ms;
    } else if (strcmp(verb, "controls") == 0) {
        write_controls(webcam, value);
    }
    for (enum fate fate = ERROR; fate <= LOST; fate++) {
        webcam->every[fate] = strcmp(verb, fate_commands[fate]) == 0 ? number : webcam->every[fate];
    }
}

static void take_commands(struct webcam *webcam)
{
    char lines[512];
    ssize_t length = read(webcam->commands, lines, sizeof lines - 1);
    lines[length < 0 ? 0 : length] = '\0';
    char *rest = NULL;
    for (char *line = strtok_r(lines, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        char *space = strchr(line, ' ');
        if (space != NULL) {
            *space = '\0';
        }
        obey(webcam, line, space == NULL ? "" : space + 1);
    }
}

static void serve_usb(struct webcam *webcam)
{
    enum usb_event event = usb_take(&webcam->usb);
    if (event == USB_REQUEST) {
        struct usb *usb = &webcam->usb;
        uint8_t data[sizeof usb->data];
        memcpy(data, usb->data, sizeof data);
        int size_bytes = uvc_request(&webcam->uvc, usb->setup, data, usb->data_bytes);
        event = usb_answer(usb, data, size_bytes) ? USB_NOTHING : USB_GONE;
    }
    if (event == USB_GONE) {
        unplug(webcam);
    }
}

/* ---- the one loop
 * --------------------------------------------------------------------------------------------- */

static volatile sig_atomic_t was_ended;

static void end_by_signal(int signal_number)
{
    (void)signal_number;
    was_ended = 1;
}

/* Until the next frame needs work, or for ever. */
static void wait_for_work(struct webcam *webcam)
{
    struct pollfd wait[2] = {{.fd = webcam->commands, .events = POLLIN},
                             {.fd = webcam->usb.socket, .events = POLLIN}};
    int64_t left_ns = work_ns(webcam) - light_now_ns();
    struct timespec left = {.tv_sec = left_ns / 1000000000, .tv_nsec = left_ns % 1000000000};
    if (left_ns < 0) {
        left = (struct timespec){0};
    }
    if (ppoll(wait, 2, webcam->runs ? &left : NULL, NULL) <= 0) {
        return;
    }
    if (wait[1].revents != 0) {
        serve_usb(webcam);
    }
    if (wait[0].revents != 0) {
        take_commands(webcam);
    }
}

static void send_payloads(struct webcam *webcam)
{
    bool is_there = true;
    while (is_there && webcam->bytes != NULL && webcam->usb.read_count > 0) {
        is_there = send_payload(webcam);
    }
}

static void run(struct webcam *webcam)
{
    while (!webcam->is_over && !was_ended) {
        follow_stream(webcam);
        work_on_frame(webcam);
        send_payloads(webcam);
        wait_for_work(webcam);
    }
}

static bool parse_sizes(const char *text, struct uvc *uvc)
{
    int used = 0;
    struct uvc_size size;
    uvc->size_count = 0;
    while (uvc->size_count < UVC_SIZES_MAX &&
           sscanf(text, "%dx%d%n", &size.width_px, &size.height_px, &used) == 2) {
        uvc->sizes[uvc->size_count++] = size;
        text += used + (text[used] == ',');
    }
    return uvc->size_count > 0 && *text == '\0';
}

static bool parse_options(int argc, char **argv, struct webcam *webcam)
{
    const char *colour = "green";
    bool is_bare = false;
    bool is_right = light_parse("on", &webcam->light) && parse_sizes("320x240", &webcam->uvc);
    int64_t dark_ns = 0;
    for (int option = 0; is_right && (option = getopt(argc, argv, "C:n:s:l:d:c:r:bf:t:")) != -1;) {
        switch (option) {
        case 'C': webcam->commands_path = optarg; break;
        case 'n': webcam->uvc.name = optarg; break;
        case 's': is_right = parse_sizes(optarg, &webcam->uvc); break;
        case 'l': is_right = light_parse(optarg, &webcam->light); break;
        case 'd': dark_ns = strtol(optarg, NULL, 10) * ns_per_ms; break;
        case 'c': colour = optarg; break;
        case 'r': webcam->room = strtod(optarg, NULL); break;
        case 'b': is_bare = true; break;
        case 'f': is_right = (webcam->frames = fopen(optarg, "w")) != NULL; break;
        case 't': webcam->truth_path = optarg; break;
        default: is_right = false;
        }
    }
    webcam->light.start_ns = light_now_ns() + dark_ns;
    webcam->maker = picture_maker_new(webcam->room, colour, is_bare);
    return is_right && webcam->maker != NULL && webcam->commands_path != NULL;
}

/* The FIFO is opened for both ways, so that it lasts from one command to the next. */
static bool open_commands(struct webcam *webcam)
{
    bool is_made = mkfifo(webcam->commands_path, 0600) == 0;
    webcam->commands = open(webcam->commands_path, O_RDWR | O_NONBLOCK);
    return is_made && webcam->commands >= 0;
}

/* A camera does not wait for the programs of its host. */
static void hurry(void)
{
    struct sched_param first = {.sched_priority = 50};
    (void)sched_setscheduler(0, SCHED_FIFO, &first);
    (void)mlockall(MCL_CURRENT | MCL_FUTURE);
}

int main(int argc, char **argv)
{
    static struct webcam webcam = {.uvc = {.name = "Tern camera"},
                                   .usb = {.socket = -1},
                                   .room = 1,
                                   .auto_exposure_100us = 156};
    if (!parse_options(argc, argv, &webcam)) {
        (void)fputs("hardware-webcam: the usage is at the top of webcam.c\n", stderr);
        return 2;
    }
    (void)signal(SIGTERM, end_by_signal);
    (void)signal(SIGPIPE, SIG_IGN);
    if (webcam.frames != NULL) {
        (void)fputs("stream,frame,sent_s,exposure_s,lit,fate\n", webcam.frames);
    }
    hurry();
    plug(&webcam);
    if (!webcam.is_over && !open_commands(&webcam)) {
        perror(webcam.commands_path);
        webcam.is_over = true;
    }
    run(&webcam);
    unplug(&webcam);
    bool is_written =
        webcam.truth_path == NULL || light_write(&webcam.light, light_now_ns(), webcam.truth_path);
    is_written = (webcam.frames == NULL || fclose(webcam.frames) == 0) && is_written;
    picture_maker_free(webcam.maker);
    return is_written ? EXIT_SUCCESS : EXIT_FAILURE;
}
