/* webcam_uvc.c - The camera as USB requests see it: its descriptors, its controls, the stream
 * agreed on.
 *
 * Numbers are those of the USB Device Class Definition for Video Devices, revision 1.0, and of
 * USB 2.0 chapter 9.
 */
#include "webcam_uvc.h"

#include <string.h>

enum { CAMERA = 1, PROCESSING = 2, OUTPUT = 3 }; /* units */
enum {
    SET_CUR = 0x01,
    GET_CUR = 0x81,
    GET_MIN,
    GET_MAX,
    GET_RES,
    GET_LEN,
    GET_INFO,
    GET_DEF
}; /* class requests */
enum {
    CLEAR_FEATURE = 1,
    GET_STATUS = 0,
    GET_DESCRIPTOR = 6,
    GET_CONFIGURATION = 8,
    GET_INTERFACE = 10
};
enum { INTERVAL_30_HZ = 333333, INTERVAL_15_HZ = 666666 }; /* 100 ns */

static const struct {
    const char *name;
    uint8_t unit;
    uint8_t selector;
    uint8_t size_bytes;
    uint8_t info; /* 3: read and write; 8 more: changes by itself */
    int32_t least, most, step, usual;
} controls[UVC_CONTROLS] = {
    [UVC_EXPOSURE_AUTO] = {"auto_exposure", CAMERA, 0x02, 1, 0x03, 1, 8, 0x09,
                           8}, /* step: the modes there are, as bits */
    [UVC_EXPOSURE_PRIORITY] = {"exposure_dynamic_framerate", CAMERA, 0x03, 1, 0x03, 0, 1, 1, 1},
    [UVC_EXPOSURE] = {"exposure_time_absolute", CAMERA, 0x04, 4, 0x0b, 1, 2500, 1, 156},
    [UVC_BRIGHTNESS] = {"brightness", PROCESSING, 0x02, 2, 0x03, 0, 255, 1, 128},
    [UVC_GAIN] = {"gain", PROCESSING, 0x04, 2, 0x03, 16, 255, 1, 64},
    [UVC_LINE_FREQUENCY] = {"power_line_frequency", PROCESSING, 0x05, 1, 0x03, 0, 2, 1, 2},
    [UVC_WARMTH] = {"white_balance_temperature", PROCESSING, 0x0a, 2, 0x0b, 2800, 6500, 1, 4600},
    [UVC_WARMTH_AUTO] = {"white_balance_automatic", PROCESSING, 0x0b, 1, 0x03, 0, 1, 1, 1},
};

void uvc_write_controls(const struct uvc *uvc, FILE *file)
{
    for (size_t i = 0; i < UVC_CONTROLS; i++) {
        (void)fprintf(file, "%s %d %d\n", controls[i].name, uvc->control[i], controls[i].usual);
    }
}

/* -- descriptors -- */

struct writer {
    uint8_t *at;
    size_t size_bytes;
};

static void put(struct writer *to, int value, int size_bytes)
{
    for (int i = 0; i < size_bytes; i++) {
        to->at[to->size_bytes++] = (uint8_t)(value >> 8 * i);
    }
}

static void put_bytes(struct writer *to, const void *bytes, size_t size_bytes)
{
    memcpy(to->at + to->size_bytes, bytes, size_bytes);
    to->size_bytes += size_bytes;
}

#define PUT(to, ...) \
    put_bytes(to, (const uint8_t[]){__VA_ARGS__}, sizeof(const uint8_t[]){__VA_ARGS__})

/* A length that could only be known at the end, two bytes at a place. */
static void set_length(struct writer *to, size_t place, size_t size_bytes)
{
    to->at[place] = (uint8_t)size_bytes;
    to->at[place + 1] = (uint8_t)(size_bytes >> 8);
}

static void put_control_interface(struct writer *to)
{
    PUT(to, 9, 4, 0, 0, 0, 14, 1, 0, 0);
    size_t begin = to->size_bytes;
    PUT(to, 13, 0x24, 1, 0, 1, 0, 0, 0, 0x6c, 0xdc, 2, 1, 1); /* UVC 1.0, 48 MHz, one stream */
    PUT(to, 18, 0x24, 2, CAMERA, 1, 2, 0, 0, 0, 0, 0, 0, 0, 0, 3, 0x0e, 0,
        0); /* mode, priority, exposure */
    PUT(to, 11, 0x24, 5, PROCESSING, CAMERA, 0, 0, 2, 0x41, 0x16,
        0); /* the four that are in the table */
    PUT(to, 9, 0x24, 3, OUTPUT, 1, 1, 0, PROCESSING, 0);
    set_length(to, begin + 5, to->size_bytes - begin);
}

static void put_sizes(struct writer *to, const struct uvc *uvc, uint8_t subtype)
{
    for (int i = 0; i < uvc->size_count; i++) {
        const struct uvc_size *size = &uvc->sizes[i];
        int bytes = size->width_px * size->height_px * 2;
        PUT(to, 34, 0x24, subtype, (uint8_t)(i + 1), 0);
        put(to, size->width_px, 2);
        put(to, size->height_px, 2);
        put(to, bytes * 8 * 15, 4);
        put(to, bytes * 8 * 30, 4);
        put(to, bytes, 4);
        put(to, INTERVAL_30_HZ, 4);
        put(to, 2, 1);
        put(to, INTERVAL_30_HZ, 4);
        put(to, INTERVAL_15_HZ, 4);
    }
    PUT(to, 6, 0x24, 13, 1, 1, 4); /* sRGB, BT.709 transfer, BT.601 matrix */
}

/* Bulk transfers: the simulated host controller has no isochronous ones that last. */
static void put_stream_interface(struct writer *to, const struct uvc *uvc)
{
    uint8_t count = (uint8_t)uvc->size_count;
    uint8_t formats = (uint8_t)(uvc->has_jpeg + uvc->has_yuyv);
    PUT(to, 9, 4, 1, 0, 1, 14, 2, 0, 0);
    size_t begin = to->size_bytes;
    PUT(to, (uint8_t)(13 + formats), 0x24, 1, formats, 0, 0, 0x81, 0, OUTPUT, 0, 0, 0, 1);
    put(to, 0, formats);
    if (uvc->has_jpeg) {
        PUT(to, 11, 0x24, 6, 1, count, 1, 1, 0, 0, 0, 0);
        put_sizes(to, uvc, 7);
    }
    if (uvc->has_yuyv) {
        PUT(to, 27, 0x24, 4, formats, count, 'Y', 'U', 'Y', '2', 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0,
            0x38, 0x9b, 0x71, 16, 1, 0, 0, 0, 0);
        put_sizes(to, uvc, 5);
    }
    set_length(to, begin + 4, to->size_bytes - begin);
    PUT(to, 7, 5, 0x81, 2, 0, 2, 0);
}

static size_t describe_device(uint8_t *out)
{
    struct writer to = {.at = out};
    PUT(&to, 18, 1, 0, 2, 0xef, 2, 1, 64, 0x6b, 0x1d, 0x99, 0x01, 0, 1, 1, 2, 3, 1);
    return to.size_bytes;
}

static size_t describe_configuration(const struct uvc *uvc, uint8_t *out)
{
    struct writer to = {.at = out};
    PUT(&to, 9, 2, 0, 0, 2, 1, 0, 0x80, 250);
    PUT(&to, 8, 11, 0, 2, 14, 3, 0, 0);
    put_control_interface(&to);
    put_stream_interface(&to, uvc);
    set_length(&to, 2, to.size_bytes);
    return to.size_bytes;
}

static size_t describe_string(const struct uvc *uvc, int index, uint8_t *out)
{
    struct writer to = {.at = out};
    if (index == 0) {
        PUT(&to, 4, 3, 9, 4); /* English */
        return to.size_bytes;
    }
    const char *text = index == 1 ? "lampread tests" : uvc->name;
    put(&to, (int)(2 + 2 * strlen(text)), 1);
    put(&to, 3, 1);
    for (; *text != '\0'; text++) {
        put(&to, *text, 2);
    }
    return to.size_bytes;
}

static int describe(const struct uvc *uvc, int type, int index, uint8_t *out)
{
    switch (type) {
    case 1: return (int)describe_device(out);
    case 2: return (int)describe_configuration(uvc, out);
    case 3: return (int)describe_string(uvc, index, out);
    default: return -1;
    }
}

/* -- requests -- */

static uint32_t get32(const uint8_t *at)
{
    return at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

static void set32(uint8_t *at, uint32_t value)
{
    struct writer to = {.at = at};
    put(&to, (int)value, 4);
}

static int answer(uint8_t *data, int32_t value, int size_bytes)
{
    struct writer to = {.at = data};
    put(&to, value, size_bytes);
    return size_bytes;
}

/* What was asked for becomes the nearest there is. */
static void settle(const struct uvc *uvc, uint8_t stream[26])
{
    stream[2] = stream[2] == 2 && uvc->has_jpeg && uvc->has_yuyv ? 2 : 1;
    stream[3] = stream[3] >= 1 && stream[3] <= uvc->size_count ? stream[3] : 1;
    set32(stream + 4, get32(stream + 4) > 500000 ? INTERVAL_15_HZ : INTERVAL_30_HZ);
    const struct uvc_size *size = &uvc->sizes[stream[3] - 1];
    set32(stream + 18, (uint32_t)(size->width_px * size->height_px * 2));
    set32(stream + 22, UVC_PAYLOAD_MAX);
}

void uvc_reset(struct uvc *uvc)
{
    for (size_t i = 0; i < UVC_CONTROLS; i++) {
        uvc->control[i] = controls[i].usual;
    }
    memset(uvc->probe, 0, sizeof uvc->probe);
    settle(uvc, uvc->probe);
    memcpy(uvc->commit, uvc->probe, sizeof uvc->commit);
    uvc->is_streaming = false;
}

struct uvc_stream uvc_stream(const struct uvc *uvc)
{
    return (struct uvc_stream){.is_jpeg = uvc->has_jpeg && uvc->commit[2] == 1,
                               .size = uvc->sizes[uvc->commit[3] - 1],
                               .interval_ns = (int64_t)get32(uvc->commit + 4) * 100};
}

static int request_stream(struct uvc *uvc, int selector, int request, uint8_t *data,
                          size_t size_bytes)
{
    if (selector != 1 && selector != 2) {
        return -1;
    }
    uint8_t *stream = selector == 1 ? uvc->probe : uvc->commit;
    switch (request) {
    case SET_CUR:
        if (size_bytes < sizeof uvc->probe) {
            return -1;
        }
        memcpy(stream, data, sizeof uvc->probe);
        settle(uvc, stream);
        uvc->is_streaming = uvc->is_streaming || selector == 2;
        return 0;
    case GET_INFO: return answer(data, 3, 1);
    case GET_LEN: return answer(data, sizeof uvc->probe, 2);
    default: break;
    }
    memcpy(data, stream, sizeof uvc->probe);
    if (request != GET_CUR) {
        set32(data + 4, request == GET_MAX ? INTERVAL_15_HZ : INTERVAL_30_HZ);
    }
    return sizeof uvc->probe;
}

static int request_control(struct uvc *uvc, size_t i, int request, uint8_t *data)
{
    int size_bytes = controls[i].size_bytes;
    switch (request) {
    case SET_CUR:
        uvc->control[i] =
            (int32_t)(get32(data) & (size_bytes == 4 ? UINT32_MAX : (1U << 8 * size_bytes) - 1));
        return 0;
    case GET_CUR: return answer(data, uvc->control[i], size_bytes);
    case GET_MIN: return answer(data, controls[i].least, size_bytes);
    case GET_MAX: return answer(data, controls[i].most, size_bytes);
    case GET_RES: return answer(data, controls[i].step, size_bytes);
    case GET_DEF: return answer(data, controls[i].usual, size_bytes);
    case GET_LEN: return answer(data, size_bytes, 2);
    case GET_INFO: return answer(data, controls[i].info, 1);
    default: return -1;
    }
}

static int request_class(struct uvc *uvc, const uint8_t setup[8], uint8_t *data, size_t size_bytes)
{
    int selector = setup[3];
    int unit = setup[5];
    if (setup[4] == 1) {
        return request_stream(uvc, selector, setup[1], data, size_bytes);
    }
    for (size_t i = 0; i < UVC_CONTROLS; i++) {
        if (controls[i].unit == unit && controls[i].selector == selector) {
            return request_control(uvc, i, setup[1], data);
        }
    }
    return -1;
}

int uvc_request(struct uvc *uvc, const uint8_t setup[8], uint8_t *data, size_t size_bytes)
{
    if ((setup[0] & 0x60) != 0) {
        return request_class(uvc, setup, data, size_bytes);
    }
    switch (setup[1]) {
    case GET_DESCRIPTOR: return describe(uvc, setup[3], setup[2], data);
    case GET_STATUS: return (setup[0] & 0x80) != 0 ? answer(data, 0, 2) : 0;
    case GET_CONFIGURATION: return answer(data, 1, 1);
    case GET_INTERFACE: return answer(data, 0, 1);
    case CLEAR_FEATURE: uvc->is_streaming = false; return 0; /* a host ends a bulk stream so */
    default: return 0;
    }
}
