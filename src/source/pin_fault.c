/* pin_fault.c - Why a pin cannot be read, in words a person can act on. */
#include "source/pin_fault.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "source/gpio.h"

enum { CHIPS_SHOWN = 8 };

static void say_denied(const char *path, char out[LAMP_SENTENCE_MAX])
{
    char group[64];
    if (lamp_gpio_group(path, group, sizeof group)) {
        (void)snprintf(out, LAMP_SENTENCE_MAX,
                       "no permission to open %s: join its group (sudo usermod -aG %s \"$USER\"), "
                       "then log in again",
                       path, group);
        return;
    }
    (void)snprintf(out, LAMP_SENTENCE_MAX,
                   "no permission to open %s: only root may; let a group do so by a udev rule "
                   "(SUBSYSTEM==\"gpio\", KERNEL==\"gpiochip*\", GROUP=\"gpio\", MODE=\"0660\" in "
                   "/etc/udev/rules.d/60-gpio.rules), join that group, then start the machine anew",
                   path);
}

void lamp_pin_say_chips(char out[LAMP_SENTENCE_MAX])
{
    char node[CHIPS_SHOWN][LAMP_PIN_NAME_MAX];
    size_t count = lamp_gpio_nodes(node, CHIPS_SHOWN);
    if (count == 0) {
        (void)snprintf(out, LAMP_SENTENCE_MAX,
                       "this machine has no GPIO chip (no /dev/gpiochip*): use a board with pins, "
                       "plug in a USB adapter that has some, or load the driver of its GPIO");
        return;
    }
    int length = snprintf(out, LAMP_SENTENCE_MAX, "there %s", count == 1 ? "is" : "are");
    for (size_t i = 0; i < count && i < CHIPS_SHOWN; i++) {
        length += snprintf(out + length, LAMP_SENTENCE_MAX - (size_t)length, "%s %s",
                           i == 0 ? "" : ",", node[i]);
    }
    if (count > CHIPS_SHOWN) {
        (void)snprintf(out + length, LAMP_SENTENCE_MAX - (size_t)length, " and %zu more",
                       count - CHIPS_SHOWN);
    }
}

void lamp_pin_say_closed(const char *path, int code, char out[LAMP_SENTENCE_MAX])
{
    char chips[LAMP_SENTENCE_MAX];
    switch (code) {
    case EACCES:
    case EPERM: say_denied(path, out); return;
    case ENOENT:
        lamp_pin_say_chips(chips);
        (void)snprintf(out, LAMP_SENTENCE_MAX, "there is no chip %.200s; %.200s", path, chips);
        return;
    case ENOTTY:
    case ENODEV:
        (void)snprintf(out, LAMP_SENTENCE_MAX, "%s is not a GPIO chip, or it was just unplugged",
                       path);
        return;
    case EMFILE:
    case ENFILE: (void)snprintf(out, LAMP_SENTENCE_MAX, "too many files are open"); return;
    default:
        (void)snprintf(out, LAMP_SENTENCE_MAX, "%s cannot be opened (error %d)", path, code);
        return;
    }
}

enum lamp_err lamp_pin_fail_used(const char *name, const struct lamp_pin *line,
                                 struct lamp_error *error)
{
    if (line->user[0] == '\0') {
        return lamp_fail(error, LAMP_BAD_SOURCE, name,
                         "the line is in use by the kernel or another program: stop that, or "
                         "choose another line");
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, name,
                     "the line is in use by \"%s\": stop that program or driver, or choose another "
                     "line",
                     line->user);
}

enum lamp_err lamp_pin_fail_output(const char *name, struct lamp_error *error)
{
    return lamp_fail(error, LAMP_BAD_SOURCE, name,
                     "the line is an output and may drive something, so it is not turned round: "
                     "choose another line, or make sure that nothing hangs on it and make it an "
                     "input first (gpioget does)");
}

enum lamp_err lamp_pin_fail_watch(const char *name, const struct lamp_source_rules *rules, int code,
                                  struct lamp_error *error)
{
    bool has_pull = rules->pin.pull != LAMP_PULL_AS_IS;
    switch (code) {
    case ENOMEM: return lamp_fail_memory(error);
    case EACCES:
    case EPERM:
        return lamp_fail(error, LAMP_BAD_SOURCE, name,
                         "the kernel does not let this line be used: choose another line");
    case ENODEV:
    case ENXIO:
        return lamp_fail(error, LAMP_BAD_SOURCE, name,
                         "the line tells no edges: its chip has no interrupt for it, or was just "
                         "unplugged; choose another line or chip");
    default:
        return lamp_fail(error, LAMP_BAD_SOURCE, name,
                         "the line cannot be watched as was asked (error %d): %s", code,
                         has_pull
                             ? "perhaps the chip has no such resistor; leave the pull as it is "
                               "and fit one"
                             : "choose another line");
    }
}

enum lamp_err lamp_pin_fail_gone(const char *name, int code, struct lamp_error *error)
{
    if (code == ENODEV || code == ENXIO || code == EIO) {
        return lamp_fail(error, LAMP_BAD_SOURCE, name,
                         "the chip is gone: it was unplugged or its driver was unloaded; plug it "
                         "in and begin again");
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, name, "the line can no longer be read (error %d)",
                     code);
}
