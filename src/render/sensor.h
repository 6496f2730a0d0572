/* sensor.h - From light to code values: gain, noise, clipping, transfer curve, Y'CbCr 4:2:0. */
#ifndef LAMP_RENDER_SENSOR_H
#define LAMP_RENDER_SENSOR_H

#include "lampread/render.h"
#include "render/random.h"

/** Steps of the transfer curve. */
#define SENSOR_STEPS 16384

/** Normal draws that noise is taken from, at a random place each row. */
#define SENSOR_DRAWS 65536

/** A sensor and what follows it. */
struct sensor {
    const struct lamp_scene_rules *rules;
    struct random random;
    uint16_t curve[SENSOR_STEPS]; /**< Light to code value, both full scale. */
    float *draws;
    uint16_t *code; /**< Two rows of three planes. */
};

/** Set up; `rules` is borrowed. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err sensor_init(struct sensor *sensor, const struct lamp_scene_rules *rules);

/** Take one row of light (4 values a pixel), row `which` (0 or 1) of a pair. @return sum of its
 * clipped light. */
double sensor_take_row(struct sensor *sensor, float *row, double gain, int which);

/** Write the pair of rows at `y_px` (even) into `frame`. */
void sensor_write_pair(const struct sensor *sensor, int y_px, const struct lamp_frame *frame);

/** Code value of light, both 0..1, as the transfer curve has it. */
double sensor_encode(enum lamp_transfer transfer, double light);

/** Free what the sensor holds. */
void sensor_fini(struct sensor *sensor);

#endif
