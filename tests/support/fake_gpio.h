/* fake_gpio.h - GPIO chips that a test makes up, in place of the kernel's: lines, events, a clock.
 *
 * The test says what the line does and when; the clock stands still but for waiting. */
#ifndef LAMP_TESTS_FAKE_GPIO_H
#define LAMP_TESTS_FAKE_GPIO_H

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "source/gpio.h"

enum { FAKE_CHIPS = 3, FAKE_LINES = 8, FAKE_EVENTS = 4096 };

struct lamp_gpio_chip {
    char name[LAMP_PIN_NAME_MAX];
    int open_code; /* errno that opening it gives. */
    unsigned line_count;
    struct lamp_pin line[FAKE_LINES];
};

/* What there is; a test fills it in, and reads what was asked of it. */
static struct {
    size_t chip_count;
    struct lamp_gpio_chip chip[FAKE_CHIPS];
    const char *group; /* NULL: none but root's. */
    int open_count;    /* Chips and watches that are open. */

    int watch_code;       /* errno that watching gives... */
    const char *taken_by; /* ...as this was quicker; NULL: not so. */
    struct lamp_gpio_wish wish;
    struct lamp_gpio_deal deal;
    bool value;

    int64_t now_ns;
    int64_t read_ns; /* What reading the value takes. */
    size_t event_count;
    size_t event_at;
    struct lamp_gpio_event event[FAKE_EVENTS];
    int64_t gone_ns; /* When it is unplugged; 0: never. */
    int64_t longest_wait_ns;
    bool is_storm; /* The line changes without end, every `storm_ns`. */
    int64_t storm_ns;
} fake;

/** One chip of eight lines, none named or used, at a time of an hour after the start. */
static inline void fake_begin(void)
{
    memset(&fake, 0, sizeof fake);
    fake.chip_count = 1;
    for (size_t i = 0; i < FAKE_CHIPS; i++) {
        (void)snprintf(fake.chip[i].name, LAMP_PIN_NAME_MAX, "gpiochip%zu", i);
        fake.chip[i].line_count = FAKE_LINES;
        for (unsigned j = 0; j < FAKE_LINES; j++) {
            fake.chip[i].line[j].offset = j;
        }
    }
    fake.deal = (struct lamp_gpio_deal){.queue_count = 16};
    fake.now_ns = INT64_C(3600000000000);
    fake.read_ns = 1000;
}

/** The line changes `t_ns` after it is opened, which is when the test began. */
static inline void fake_event(int64_t t_ns, bool is_active, uint32_t number)
{
    fake.event[fake.event_count++] = (struct lamp_gpio_event){
        .t_ns = fake.now_ns + t_ns, .is_active = is_active, .number = number};
}

int lamp_gpio_chip_open(const char *path, struct lamp_gpio_chip **out)
{
    for (size_t i = 0; i < fake.chip_count; i++) {
        char there[LAMP_PIN_NAME_MAX + 8];
        (void)snprintf(there, sizeof there, "/dev/%s", fake.chip[i].name);
        if (strcmp(path, there) != 0) {
            continue;
        }
        if (fake.chip[i].open_code == 0) {
            *out = &fake.chip[i];
            fake.open_count++;
        }
        return fake.chip[i].open_code;
    }
    return ENOENT;
}

int lamp_gpio_chip_describe(struct lamp_gpio_chip *chip, struct lamp_gpio_chip_info *out)
{
    memcpy(out->name, chip->name, sizeof out->name);
    (void)snprintf(out->label, sizeof out->label, "made up");
    out->line_count = chip->line_count;
    return 0;
}

int lamp_gpio_line_describe(struct lamp_gpio_chip *chip, unsigned offset, struct lamp_pin *out)
{
    if (offset >= chip->line_count) {
        return EINVAL;
    }
    *out = chip->line[offset];
    return 0;
}

void lamp_gpio_chip_close(struct lamp_gpio_chip *chip)
{
    fake.open_count -= chip != NULL;
}

int lamp_gpio_watch_open(struct lamp_gpio_chip *chip, const struct lamp_gpio_wish *wish,
                         struct lamp_gpio_watch **out, struct lamp_gpio_deal *deal)
{
    fake.wish = *wish;
    if (fake.taken_by != NULL) {
        chip->line[wish->offset].is_used = true;
        (void)snprintf(chip->line[wish->offset].user, LAMP_PIN_NAME_MAX, "%s", fake.taken_by);
    }
    if (fake.watch_code == 0) {
        *out = (struct lamp_gpio_watch *)chip;
        *deal = fake.deal;
        fake.open_count++;
    }
    return fake.watch_code;
}

int lamp_gpio_watch_value(struct lamp_gpio_watch *watch, bool *is_active)
{
    (void)watch;
    *is_active = fake.value;
    fake.now_ns += fake.read_ns;
    return 0;
}

static inline void fake_storm(struct lamp_gpio_event out[LAMP_GPIO_BATCH], size_t *count)
{
    for (*count = 0; *count < fake.deal.queue_count && *count < LAMP_GPIO_BATCH; (*count)++) {
        fake.now_ns += fake.storm_ns;
        fake.value = !fake.value;
        out[*count] = (struct lamp_gpio_event){.t_ns = fake.now_ns, .is_active = fake.value};
    }
}

int lamp_gpio_watch_take(struct lamp_gpio_watch *watch, int64_t wait_ns,
                         struct lamp_gpio_event out[LAMP_GPIO_BATCH], size_t *count)
{
    (void)watch;
    *count = 0;
    int64_t until_ns = fake.now_ns + wait_ns;
    fake.longest_wait_ns = wait_ns > fake.longest_wait_ns ? wait_ns : fake.longest_wait_ns;
    if (fake.is_storm) {
        fake_storm(out, count);
        return 0;
    }
    if (fake.gone_ns != 0 && fake.gone_ns <= until_ns) {
        return ENODEV;
    }
    if (fake.event_at == fake.event_count || fake.event[fake.event_at].t_ns > until_ns) {
        fake.now_ns = until_ns;
        return 0;
    }
    int64_t first_ns = fake.event[fake.event_at].t_ns;
    fake.now_ns = first_ns > fake.now_ns ? first_ns : fake.now_ns;
    while (fake.event_at < fake.event_count && fake.event[fake.event_at].t_ns <= fake.now_ns &&
           *count < fake.deal.queue_count && *count < LAMP_GPIO_BATCH) {
        out[(*count)++] = fake.event[fake.event_at++];
    }
    return 0;
}

void lamp_gpio_watch_close(struct lamp_gpio_watch *watch)
{
    fake.open_count -= watch != NULL;
}

size_t lamp_gpio_nodes(char (*out)[LAMP_PIN_NAME_MAX], size_t room)
{
    for (size_t i = 0; i < fake.chip_count && i < room; i++) {
        memcpy(out[i], fake.chip[i].name, LAMP_PIN_NAME_MAX);
    }
    return fake.chip_count;
}

bool lamp_gpio_is_chip(const char *path)
{
    (void)path;
    return false;
}

bool lamp_gpio_group(const char *path, char *out, size_t size)
{
    (void)path;
    if (fake.group != NULL) {
        (void)snprintf(out, size, "%s", fake.group);
    }
    return fake.group != NULL;
}

int64_t lamp_gpio_now_ns(void)
{
    return fake.now_ns;
}

#endif
