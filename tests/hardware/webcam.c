/* webcam.c - A USB camera in user space that films a lamp, plugged into this machine's own kernel.
 *
 *   script --light--> exposures --picture--> YUYV or JPEG --payloads--> vhci-hcd --> uvcvideo
 *                                                ^                                      |
 *              commands: faults, plug and unplug '                          /dev/videoN <'
 *
 * usage: hardware-webcam -C FIFO [-n NAME] [-F MJPG|YUYV] [-s WxH[,WxH...]] [-l SCRIPT] [-d MS]
 *                        [-c COLOUR] [-r ROOM] [-b] [-f FRAMES.csv] [-t TRUTH.csv]
 *   -C  a FIFO that it makes once it is plugged in, and takes commands from, see below
 *   -F  its only format; default both
 *   -s  picture sizes, the first is preferred; default 320x240
 *   -l  script of the lamp as in light.h; default "on"
 *   -d  how long the lamp is dark first; default 0
 *   -c  colour of the lamp; default green
 *   -r  light of the room, 1 is a bright bench
 *   -b  JPEG without Huffman tables
 *   -f  write each frame: stream,frame,sent_s,exposure_s,lit,fate
 *   -t  write what the lamp did, once it ends
 *
 * Commands, one a line: unplug | plug | quit | stall MS (send nothing) | controls FILE (write them)
 * | error N | short N | truncate N | corrupt N | lose N: do it to each Nth frame, 0: to none.
 */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "webcam.h"

static const int64_t ns_per_ms = 1000000;
static const char *const fate_commands[FATES] = {NULL,      "error", "short", "truncate",
                                                 "corrupt", "lose",  NULL,    NULL};

/* -- plug and commands -- */

static void plug(struct webcam *webcam)
{
    uvc_reset(&webcam->uvc);
    webcam_follow_stream(webcam);
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
    webcam_follow_stream(webcam);
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

/* -- the one loop -- */

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
    int64_t left_ns = webcam_work_ns(webcam) - light_now_ns();
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

static void run(struct webcam *webcam)
{
    while (!webcam->is_over && !was_ended) {
        webcam_follow_stream(webcam);
        webcam_work(webcam);
        webcam_send(webcam);
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
    for (int option = 0;
         is_right && (option = getopt(argc, argv, "C:n:F:s:l:d:c:r:bf:t:")) != -1;) {
        switch (option) {
        case 'C': webcam->commands_path = optarg; break;
        case 'n': webcam->uvc.name = optarg; break;
        case 'F':
            webcam->uvc.has_jpeg = strcmp(optarg, "MJPG") == 0;
            webcam->uvc.has_yuyv = strcmp(optarg, "YUYV") == 0;
            is_right = webcam->uvc.has_jpeg || webcam->uvc.has_yuyv;
            break;
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
    static struct webcam webcam = {
        .uvc = {.name = "Tern camera", .has_jpeg = true, .has_yuyv = true},
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
