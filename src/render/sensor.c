/* sensor.c - From light to code values: gain, noise, clipping, transfer curve, Y'CbCr 4:2:0. */
#include "render/sensor.h"

#include <math.h>
#include <stdlib.h>

#include "render/canvas.h"

/* Share of red and blue that a white balance fully off adds or takes. */
#define WARMTH 0.3

/* ITU-R BT.709-6 item 3.2 and 3.3: weights of red, green and blue in luma. */
static const float weight_709[3] = {0.2126F, 0.7152F, 0.0722F};

double sensor_encode(enum lamp_transfer transfer, double light)
{
    if (transfer == LAMP_TRANSFER_SRGB) { /* IEC 61966-2-1 */
        return light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055;
    }
    /* ITU-R BT.709-6 item 1.2 */
    return light < 0.018 ? 4.5 * light : 1.099 * pow(light, 0.45) - 0.099;
}

enum lamp_err sensor_init(struct sensor *sensor, const struct lamp_scene_rules *rules)
{
    sensor->rules = rules;
    const size_t row = (size_t)rules->width_px * CANVAS_DEPTH;
    sensor->draws = malloc((SENSOR_DRAWS + row) * sizeof *sensor->draws);
    sensor->code = malloc((size_t)rules->width_px * 2 * 3 * sizeof *sensor->code);
    if (sensor->draws == NULL || sensor->code == NULL) {
        sensor_fini(sensor);
        return LAMP_NO_MEMORY;
    }
    random_init(&sensor->random, rules->seed, 30);
    for (size_t i = 0; i < SENSOR_DRAWS + row; i++) {
        sensor->draws[i] = (float)random_normal(&sensor->random);
    }
    for (int i = 0; i < SENSOR_STEPS; i++) {
        const double code = sensor_encode(rules->transfer, (double)i / (SENSOR_STEPS - 1));
        sensor->curve[i] = (uint16_t)lround(code * 65535);
    }
    return LAMP_OK;
}

/* Gain, white balance and noise; what is left is 0 to 1. */
static double expose_row(struct sensor *sensor, float *row, double gain)
{
    const struct lamp_scene_rules *rules = sensor->rules;
    const float tint[3] = {(float)(gain * (1 + WARMTH * rules->warmth)), (float)gain,
                           (float)(gain * (1 - WARMTH * rules->warmth))};
    const float read = (float)(rules->read_noise * rules->read_noise * gain * gain);
    const float shot = (float)(rules->shot_noise * rules->shot_noise * gain);
    const float *draw = &sensor->draws[random_bits(&sensor->random) % SENSOR_DRAWS];
    float sum = 0;
    for (int x = 0; x < rules->width_px; x++) {
        for (int c = 0; c < 3; c++) {
            const float light = row[c] * tint[c];
            const float noisy = light + sqrtf(read + shot * light) * draw[c];
            const float floor = noisy > 0 ? noisy : 0;
            row[c] = floor < 1 ? floor : 1;
        }
        sum += row[1];
        row += CANVAS_DEPTH;
        draw += CANVAS_DEPTH;
    }
    return (double)sum;
}

double sensor_take_row(struct sensor *sensor, float *row, double gain, int which)
{
    const size_t width = (size_t)sensor->rules->width_px;
    uint16_t *code = &sensor->code[(size_t)which * 3 * width];
    const double sum = expose_row(sensor, row, gain);
    for (size_t x = 0; x < width; x++) {
        for (size_t c = 0; c < 3; c++) {
            code[c * width + x] =
                sensor->curve[(int)(row[x * CANVAS_DEPTH + c] * (SENSOR_STEPS - 1) + 0.5F)];
        }
    }
    return sum;
}

static void put(const struct lamp_plane *plane, int bits, int y, size_t x, float value)
{
    uint8_t *row = (uint8_t *)plane->at + y * plane->stride_bytes;
    if (bits == 8) {
        row[x] = (uint8_t)value;
    } else {
        ((uint16_t *)(void *)row)[x] = (uint16_t)value;
    }
}

/* ITU-R BT.709-6 item 4.6: limited range. */
static void write_luma(const struct sensor *sensor, int which, int y_px,
                       const struct lamp_frame *frame)
{
    const size_t width = (size_t)sensor->rules->width_px;
    const uint16_t *red = &sensor->code[(size_t)which * 3 * width];
    const uint16_t *green = red + width;
    const uint16_t *blue = green + width;
    const float unit = (float)(1 << (frame->bits - 8));
    const float scale = 219 * unit / 65535;
    for (size_t x = 0; x < width; x++) {
        const float luma = weight_709[0] * (float)red[x] + weight_709[1] * (float)green[x] +
                           weight_709[2] * (float)blue[x];
        put(&frame->y, frame->bits, y_px, x, 16 * unit + scale * luma + 0.5F);
    }
}

static float sum_of_four(const uint16_t *upper, const uint16_t *lower)
{
    return (float)upper[0] + (float)upper[1] + (float)lower[0] + (float)lower[1];
}

static void write_chroma(const struct sensor *sensor, int y_px, const struct lamp_frame *frame)
{
    const size_t width = (size_t)sensor->rules->width_px;
    const uint16_t *upper = sensor->code;
    const uint16_t *lower = &sensor->code[3 * width];
    const float unit = (float)(1 << (frame->bits - 8));
    const float scale = 224 * unit / 65535 / 4;
    for (size_t x = 0; x + 1 < width; x += 2) {
        const float red = sum_of_four(upper + x, lower + x);
        const float green = sum_of_four(upper + width + x, lower + width + x);
        const float blue = sum_of_four(upper + 2 * width + x, lower + 2 * width + x);
        const float luma = weight_709[0] * red + weight_709[1] * green + weight_709[2] * blue;
        put(&frame->u, frame->bits, y_px / 2, x / 2,
            128 * unit + scale * (blue - luma) / 1.8556F + 0.5F);
        put(&frame->v, frame->bits, y_px / 2, x / 2,
            128 * unit + scale * (red - luma) / 1.5748F + 0.5F);
    }
}

void sensor_write_pair(const struct sensor *sensor, int y_px, const struct lamp_frame *frame)
{
    write_luma(sensor, 0, y_px, frame);
    write_luma(sensor, 1, y_px + 1, frame);
    write_chroma(sensor, y_px, frame);
}

void sensor_fini(struct sensor *sensor)
{
    free(sensor->draws);
    free(sensor->code);
    sensor->draws = NULL;
    sensor->code = NULL;
}
