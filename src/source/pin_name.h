/* pin_name.h - Which line is meant: "gpiochip0:17", "/dev/gpiochip0:17", "gpiochip0:NAME", or a
 * line's name alone. */
#ifndef LAMP_SOURCE_PIN_NAME_H
#define LAMP_SOURCE_PIN_NAME_H

#include <stdbool.h>

#include "source/gpio.h"

/** Longest path of a chip, bytes with the closing zero. */
#define LAMP_PIN_PATH_MAX 256

/** A line that was found. */
struct lamp_pin_place {
    struct lamp_gpio_chip *chip; /**< Open; closed by the caller. */
    struct lamp_pin line;
    char title[2 * LAMP_PIN_NAME_MAX]; /**< "gpiochip0:17". */
};

/** Whether `name`, which no file has, or which a device has, may mean a line. */
bool lamp_pin_name_suits(const char *name);

/** Find the line that is meant. @return LAMP_OK, LAMP_BAD_SOURCE. */
enum lamp_err lamp_pin_find(const char *name, struct lamp_pin_place *out, struct lamp_error *error);

#endif
