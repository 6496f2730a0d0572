/* gpio.h - The little that a pin needs of the kernel's GPIO lines; gpio_v1.c or gpio_v2.c does it,
 * with the libgpiod that is installed.
 *
 * What can fail answers 0 or an errno code; outputs are untouched on failure. */
#ifndef LAMP_SOURCE_GPIO_H
#define LAMP_SOURCE_GPIO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/source.h"

/** Most events taken at once. */
#define LAMP_GPIO_BATCH 64

/** A chip as the kernel tells of it. */
struct lamp_gpio_chip_info {
    char name[LAMP_PIN_NAME_MAX];
    char label[LAMP_PIN_NAME_MAX];
    unsigned line_count;
};

/** How a line is watched. */
struct lamp_gpio_wish {
    unsigned offset;
    enum lamp_pull pull;
    bool is_active_low;
};

/** What the kernel does of a wish. */
struct lamp_gpio_deal {
    bool is_numbered;   /**< Events are numbered: losses show. */
    size_t queue_count; /**< Events it holds for us; what comes while they wait is lost. */
};

/** A change of a line. */
struct lamp_gpio_event {
    int64_t t_ns;    /**< CLOCK_MONOTONIC, stamped by the kernel. */
    bool is_active;  /**< After it. */
    uint32_t number; /**< From 1 on, without a hole unless some were lost; 0 where the kernel does
                        not number. */
};

struct lamp_gpio_chip;
struct lamp_gpio_watch;

/** Open a chip. @param out  closed by the caller, after its watches. */
int lamp_gpio_chip_open(const char *path, struct lamp_gpio_chip **out);

int lamp_gpio_chip_describe(struct lamp_gpio_chip *chip, struct lamp_gpio_chip_info *out);

/** One line of it, as it is now. */
int lamp_gpio_line_describe(struct lamp_gpio_chip *chip, unsigned offset, struct lamp_pin *out);

/** Close; NULL is fine. */
void lamp_gpio_chip_close(struct lamp_gpio_chip *chip);

/** Take a line as an input and watch both its edges. @param out  closed by the caller. */
int lamp_gpio_watch_open(struct lamp_gpio_chip *chip, const struct lamp_gpio_wish *wish,
                         struct lamp_gpio_watch **out, struct lamp_gpio_deal *deal);

/** Whether the line is active now. */
int lamp_gpio_watch_value(struct lamp_gpio_watch *watch, bool *is_active);

/** Take events, oldest first. @param wait_ns  how long to wait for the first. @param count  0 where
 * none came or it failed. */
int lamp_gpio_watch_take(struct lamp_gpio_watch *watch, int64_t wait_ns,
                         struct lamp_gpio_event out[LAMP_GPIO_BATCH], size_t *count);

/** Close; NULL is fine. */
void lamp_gpio_watch_close(struct lamp_gpio_watch *watch);

/* What no library is needed for: gpio_node.c. */

/** The chips of this machine ("gpiochip0"), in the order of their numbers, at most `room`. @return
 * how many there are. */
size_t lamp_gpio_nodes(char (*out)[LAMP_PIN_NAME_MAX], size_t room);

/** Whether the file at `path`, or what it is a link to, is a chip; it is not opened. */
bool lamp_gpio_is_chip(const char *path);

/** The group that may open the file at `path`; false if there is none but root's. */
bool lamp_gpio_group(const char *path, char *out, size_t size);

/** Now, on the clock of the events. */
int64_t lamp_gpio_now_ns(void);

/** Wait until `fd` can be read. @param is_ready  false where nothing came or a signal did. @return
 * ENODEV where the device is gone. */
int lamp_gpio_wait(int fd, int64_t wait_ns, bool *is_ready);

/** Copy a name of the kernel's, which may be NULL, as far as it is printable. */
void lamp_gpio_copy_name(const char *name, char out[LAMP_PIN_NAME_MAX]);

#endif
