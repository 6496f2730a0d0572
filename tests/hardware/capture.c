/* capture.c - A small camera reader of its own, to check the simulated camera without lampread.
 *
 * usage: hardware-capture DEVICE MJPG|YUYV FRAMES OUT.csv
 * Writes sequence,stamp_s,bytes,level for each buffer: level is light, 0 to 1, beside the lamp's
 * core, -1 where the picture cannot be decoded. Exit status 0, 3 if the camera went away, 4 if
 * nothing came for 2 s, 1 for all else.
 */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <setjmp.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <unistd.h>

#include <jpeglib.h>
#include <linux/videodev2.h>

enum { BUFFERS = 4, WAIT_MS = 2000 };
enum { DONE = 0, FAILED = 1, GONE = 3, SILENT = 4 };

struct camera {
    int device;
    unsigned width_px;
    unsigned height_px;
    bool is_jpeg;
    const uint8_t *at[BUFFERS];
};

static bool set_up(struct camera *camera, const char *fourcc)
{
    struct v4l2_format format = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    if (ioctl(camera->device, VIDIOC_G_FMT, &format) != 0) {
        return false;
    }
    format.fmt.pix.pixelformat = v4l2_fourcc(fourcc[0], fourcc[1], fourcc[2], fourcc[3]);
    struct v4l2_requestbuffers request = {
        .count = BUFFERS, .type = format.type, .memory = V4L2_MEMORY_MMAP};
    if (ioctl(camera->device, VIDIOC_S_FMT, &format) != 0 ||
        ioctl(camera->device, VIDIOC_REQBUFS, &request) != 0 || request.count != BUFFERS) {
        return false;
    }
    camera->width_px = format.fmt.pix.width;
    camera->height_px = format.fmt.pix.height;
    camera->is_jpeg = format.fmt.pix.pixelformat == V4L2_PIX_FMT_MJPEG;
    for (unsigned i = 0; i < BUFFERS; i++) {
        struct v4l2_buffer buffer = {.index = i, .type = request.type, .memory = request.memory};
        if (ioctl(camera->device, VIDIOC_QUERYBUF, &buffer) != 0) {
            return false;
        }
        camera->at[i] =
            mmap(NULL, buffer.length, PROT_READ, MAP_SHARED, camera->device, buffer.m.offset);
        if (camera->at[i] == MAP_FAILED || ioctl(camera->device, VIDIOC_QBUF, &buffer) != 0) {
            return false;
        }
    }
    return ioctl(camera->device, VIDIOC_STREAMON, &request.type) == 0;
}

/* Where the lit lamp's glow is strong and not driven to the top: two of its radii off its middle.
 */
static unsigned probe_x(const struct camera *camera)
{
    return (unsigned)(camera->width_px * (0.62 + 2.0 / 40));
}

static unsigned probe_y(const struct camera *camera)
{
    return (unsigned)(camera->height_px * 0.40);
}

struct guard {
    struct jpeg_error_mgr errors;
    jmp_buf place;
};

static void leave(j_common_ptr jpeg)
{
    longjmp(((struct guard *)jpeg->err)->place, 1);
}

static void keep_quiet(j_common_ptr jpeg, int level)
{
    jpeg->err->num_warnings += level < 0; /* the others only tell */
}

static int read_jpeg(const struct camera *camera, const uint8_t *bytes, size_t size_bytes,
                     uint8_t *row)
{
    struct guard guard;
    struct jpeg_decompress_struct jpeg = {.err = jpeg_std_error(&guard.errors)};
    guard.errors.error_exit = leave;
    guard.errors.emit_message = keep_quiet;
    volatile int code = -1;
    if (setjmp(guard.place) == 0) {
        jpeg_create_decompress(&jpeg);
        jpeg_mem_src(&jpeg, bytes, size_bytes);
        (void)jpeg_read_header(&jpeg, TRUE);
        jpeg.out_color_space = JCS_GRAYSCALE;
        (void)jpeg_start_decompress(&jpeg);
        while (jpeg.output_scanline <= probe_y(camera)) {
            (void)jpeg_read_scanlines(&jpeg, &row, 1);
        }
        code = row[probe_x(camera)];
        while (jpeg.output_scanline < jpeg.output_height) {
            (void)jpeg_read_scanlines(&jpeg, &row, 1);
        }
        (void)jpeg_finish_decompress(&jpeg);
    }
    if (guard.errors.num_warnings > 0) {
        code = -1;
    }
    jpeg_destroy_decompress(&jpeg);
    return code;
}

static double read_level(const struct camera *camera, const uint8_t *bytes, size_t size_bytes)
{
    uint8_t *row = malloc(camera->width_px);
    int code = -1;
    if (row != NULL && camera->is_jpeg) {
        code = read_jpeg(camera, bytes, size_bytes, row);
    } else if (size_bytes == (size_t)camera->width_px * camera->height_px * 2) {
        code = (bytes[2 * (probe_y(camera) * camera->width_px + probe_x(camera))] - 16) * 255 / 219;
    }
    free(row);
    return code < 0 ? -1 : pow(code / 255.0, 2.2);
}

static int take(struct camera *camera, FILE *out)
{
    struct pollfd wait = {.fd = camera->device, .events = POLLIN};
    struct v4l2_buffer buffer = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE, .memory = V4L2_MEMORY_MMAP};
    if (poll(&wait, 1, WAIT_MS) == 0) {
        return SILENT;
    }
    if (ioctl(camera->device, VIDIOC_DQBUF, &buffer) != 0) {
        return errno == ENODEV ? GONE : FAILED;
    }
    (void)fprintf(out, "%u,%lld.%06ld,%u,%.3f\n", buffer.sequence,
                  (long long)buffer.timestamp.tv_sec, (long)buffer.timestamp.tv_usec,
                  buffer.bytesused, read_level(camera, camera->at[buffer.index], buffer.bytesused));
    return ioctl(camera->device, VIDIOC_QBUF, &buffer) == 0 ? DONE
           : errno == ENODEV                                ? GONE
                                                            : FAILED;
}

int main(int argc, char **argv)
{
    if (argc != 5 || strlen(argv[2]) != 4) {
        (void)fputs("usage: hardware-capture DEVICE MJPG|YUYV FRAMES OUT.csv\n", stderr);
        return 2;
    }
    struct camera camera = {.device = open(argv[1], O_RDWR)};
    FILE *out = fopen(argv[4], "w");
    if (camera.device < 0 || out == NULL || !set_up(&camera, argv[2])) {
        perror(argv[1]);
        return FAILED;
    }
    (void)fputs("sequence,stamp_s,bytes,level\n", out);
    int status = DONE;
    for (long left = strtol(argv[3], NULL, 10); status == DONE && left > 0; left--) {
        status = take(&camera, out);
    }
    return fclose(out) == 0 ? status : FAILED;
}
