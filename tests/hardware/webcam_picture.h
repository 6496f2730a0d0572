/* webcam_picture.h - What the camera's sensor sees: an invented board with one lamp, as YUYV or
 * JPEG. */
#ifndef LAMP_TESTS_HARDWARE_WEBCAM_PICTURE_H
#define LAMP_TESTS_HARDWARE_WEBCAM_PICTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** Pictures of one look that differ by their noise. */
#define PICTURE_NOISES 4

/** All that a picture depends on; two equal looks are one picture. */
struct picture_look {
    int width_px;
    int height_px;
    int is_jpeg; /**< 1: JPEG, 0: YUYV; whole, so that looks have no padding and compare as bytes.
                  */
    int lit_permille;   /**< Share of the exposure in which the lamp was lit. */
    int exposure_100us; /**< Exposure time. */
    int gain;           /**< 64: none. */
    int brightness;     /**< 128: none. */
    int warmth_k;       /**< White balance, 4600: none. */
    int noise;          /**< Which of PICTURE_NOISES. */
};

/** One picture as bytes for the wire. */
struct picture {
    const uint8_t *bytes;
    size_t size_bytes;
};

struct picture_maker;

/**
 * A maker of pictures.
 * @param room    light of the room, 1: a bright bench.
 * @param colour  "green", "red", "amber", "blue" or "white".
 * @param is_bare true: leave the Huffman tables out of JPEG, as many cameras do.
 * @return NULL where memory is short or the colour is none of these.
 */
struct picture_maker *picture_maker_new(double room, const char *colour, bool is_bare);

/** The picture of a look; borrowed until 64 further looks were asked for. Ends the program where
 * memory is short. */
struct picture picture_make(struct picture_maker *maker, const struct picture_look *look);

void picture_maker_free(struct picture_maker *maker);

#endif
