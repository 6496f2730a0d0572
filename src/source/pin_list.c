/* pin_list.c - The GPIO chips of this machine and their lines, for people to choose one. */
#include <stdio.h>
#include <stdlib.h>

#include "source/gpio.h"
#include "source/pin_fault.h"

/* The list that is given out, and what it owns. */
struct whole {
    struct lamp_pin_list list;
    struct lamp_pin_chip chip[LAMP_PIN_CHIPS_MAX];
};

static void say(struct lamp_pin_chip *chip, const char *what)
{
    (void)snprintf(chip->trouble, sizeof chip->trouble, "%s", what);
}

static enum lamp_err list_lines(struct lamp_gpio_chip *open, size_t count,
                                struct lamp_pin_chip *chip)
{
    if (count > LAMP_PIN_LINES_MAX) {
        say(chip, "it has more lines than can be listed");
        return LAMP_OK;
    }
    struct lamp_pin *pin = calloc(count > 0 ? count : 1, sizeof *pin);
    if (pin == NULL) {
        return LAMP_NO_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        if (lamp_gpio_line_describe(open, (unsigned)i, &pin[i]) != 0) {
            say(chip, "it was unplugged while its lines were read");
            free(pin);
            return LAMP_OK;
        }
    }
    chip->pin = pin;
    chip->pin_count = count;
    return LAMP_OK;
}

/* A chip that cannot be looked into is listed with the reason. */
static enum lamp_err list_chip(struct lamp_pin_chip *chip)
{
    char path[sizeof "/dev/" + LAMP_PIN_NAME_MAX];
    struct lamp_gpio_chip *open = NULL;
    struct lamp_gpio_chip_info info;
    (void)snprintf(path, sizeof path, "/dev/%s", chip->name);
    int code = lamp_gpio_chip_open(path, &open);
    if (code != 0) {
        lamp_pin_say_closed(path, code, chip->trouble);
        return LAMP_OK;
    }
    enum lamp_err failed = LAMP_OK;
    if (lamp_gpio_chip_describe(open, &info) != 0) {
        say(chip, "it tells nothing of itself");
    } else {
        (void)snprintf(chip->label, sizeof chip->label, "%s", info.label);
        failed = list_lines(open, info.line_count, chip);
    }
    lamp_gpio_chip_close(open);
    return failed;
}

enum lamp_err lamp_pin_list_new(struct lamp_pin_list **out)
{
    char node[LAMP_PIN_CHIPS_MAX][LAMP_PIN_NAME_MAX];
    struct whole *whole = calloc(1, sizeof *whole);
    if (whole == NULL) {
        return LAMP_NO_MEMORY;
    }
    size_t count = lamp_gpio_nodes(node, LAMP_PIN_CHIPS_MAX);
    enum lamp_err failed = count > LAMP_PIN_CHIPS_MAX ? LAMP_FULL : LAMP_OK;
    whole->list.chip = whole->chip;
    for (size_t i = 0; i < count && failed == LAMP_OK; i++) {
        (void)snprintf(whole->chip[i].name, LAMP_PIN_NAME_MAX, "%.*s", LAMP_PIN_NAME_MAX - 1,
                       node[i]);
        failed = list_chip(&whole->chip[i]);
        whole->list.chip_count = i + 1;
    }
    if (failed != LAMP_OK) {
        lamp_pin_list_free(&whole->list);
        return failed;
    }
    if (count == 0) {
        lamp_pin_say_chips(whole->list.trouble);
    }
    *out = &whole->list;
    return LAMP_OK;
}

void lamp_pin_list_free(struct lamp_pin_list *list)
{
    struct whole *whole = (struct whole *)list; /* The list is its first member. */
    for (size_t i = 0; whole != NULL && i < whole->list.chip_count; i++) {
        free(whole->chip[i].pin);
    }
    free(whole);
}
