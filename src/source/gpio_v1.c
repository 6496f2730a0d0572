/* gpio_v1.c - GPIO lines by libgpiod 1.6, for systems that have that one. */
#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>
#include <time.h>

#include "base/number.h"
#include "source/gpio.h"

/* The kernel holds so many events of a line that was asked for in this way (Linux,
 * drivers/gpio/gpiolib-cdev.c: struct lineevent_state), and libgpiod 1.6 reads as many at once. */
enum { QUEUE_COUNT = 16 };

/* A stamp that is farther from now than that is of another clock. */
static const int64_t far_ns = INT64_C(3600) * LAMP_NS_PER_S;

struct lamp_gpio_watch {
    struct gpiod_line *line;
    bool is_shifted;  /* Stamps are of the wall clock. */
    int64_t shift_ns; /* From the wall clock to ours. */
};

/* An error that did not say which one it is. */
static int failure(void)
{
    return errno != 0 ? errno : EIO;
}

int lamp_gpio_chip_open(const char *path, struct lamp_gpio_chip **out)
{
    struct gpiod_chip *chip = gpiod_chip_open(path);
    if (chip == NULL) {
        return failure();
    }
    *out = (struct lamp_gpio_chip *)chip;
    return 0;
}

static struct gpiod_chip *library_chip(struct lamp_gpio_chip *chip)
{
    return (struct gpiod_chip *)chip;
}

int lamp_gpio_chip_describe(struct lamp_gpio_chip *chip, struct lamp_gpio_chip_info *out)
{
    lamp_gpio_copy_name(gpiod_chip_name(library_chip(chip)), out->name);
    lamp_gpio_copy_name(gpiod_chip_label(library_chip(chip)), out->label);
    out->line_count = gpiod_chip_num_lines(library_chip(chip));
    return 0;
}

int lamp_gpio_line_describe(struct lamp_gpio_chip *chip, unsigned offset, struct lamp_pin *out)
{
    struct gpiod_line *line = gpiod_chip_get_line(library_chip(chip), offset);
    if (line == NULL || gpiod_line_update(line) != 0) {
        return failure();
    }
    *out =
        (struct lamp_pin){.offset = offset,
                          .is_used = gpiod_line_is_used(line),
                          .is_output = gpiod_line_direction(line) == GPIOD_LINE_DIRECTION_OUTPUT};
    lamp_gpio_copy_name(gpiod_line_name(line), out->name);
    lamp_gpio_copy_name(gpiod_line_consumer(line), out->user);
    return 0;
}

void lamp_gpio_chip_close(struct lamp_gpio_chip *chip)
{
    if (chip != NULL) {
        gpiod_chip_close(library_chip(chip));
    }
}

static int flags_of(const struct lamp_gpio_wish *wish)
{
    static const int pulls[] = {
        [LAMP_PULL_AS_IS] = 0,
        [LAMP_PULL_NONE] = GPIOD_LINE_REQUEST_FLAG_BIAS_DISABLE,
        [LAMP_PULL_UP] = GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_UP,
        [LAMP_PULL_DOWN] = GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_DOWN,
    };
    return pulls[wish->pull] | (wish->is_active_low ? GPIOD_LINE_REQUEST_FLAG_ACTIVE_LOW : 0);
}

int lamp_gpio_watch_open(struct lamp_gpio_chip *chip, const struct lamp_gpio_wish *wish,
                         struct lamp_gpio_watch **out, struct lamp_gpio_deal *deal)
{
    const struct gpiod_line_request_config config = {
        .consumer = "lampread",
        .request_type = GPIOD_LINE_REQUEST_EVENT_BOTH_EDGES,
        .flags = flags_of(wish),
    };
    struct lamp_gpio_watch *watch = calloc(1, sizeof *watch);
    if (watch == NULL) {
        return ENOMEM;
    }
    watch->line = gpiod_chip_get_line(library_chip(chip), wish->offset);
    if (watch->line == NULL || gpiod_line_request(watch->line, &config, 0) != 0) {
        int code = failure();
        free(watch);
        return code;
    }
    *out = watch;
    *deal = (struct lamp_gpio_deal){.queue_count = QUEUE_COUNT};
    return 0;
}

int lamp_gpio_watch_value(struct lamp_gpio_watch *watch, bool *is_active)
{
    int value = gpiod_line_get_value(watch->line);
    if (value < 0) {
        return failure();
    }
    *is_active = value != 0;
    return 0;
}

/* Before Linux 5.7 the stamps are those of the wall clock: brought over by how the clocks stand. */
static int64_t stamp_of(struct lamp_gpio_watch *watch, const struct timespec *stamp)
{
    int64_t t_ns = (int64_t)stamp->tv_sec * LAMP_NS_PER_S + stamp->tv_nsec;
    int64_t now_ns = lamp_gpio_now_ns();
    if (!watch->is_shifted && (t_ns > now_ns + far_ns || t_ns < now_ns - far_ns)) {
        struct timespec wall;
        (void)clock_gettime(CLOCK_REALTIME, &wall);
        watch->shift_ns = now_ns - ((int64_t)wall.tv_sec * LAMP_NS_PER_S + wall.tv_nsec);
        watch->is_shifted = true;
    }
    return t_ns + watch->shift_ns;
}

int lamp_gpio_watch_take(struct lamp_gpio_watch *watch, int64_t wait_ns,
                         struct lamp_gpio_event out[LAMP_GPIO_BATCH], size_t *count)
{
    bool is_ready = false;
    *count = 0;
    int code = lamp_gpio_wait(gpiod_line_event_get_fd(watch->line), wait_ns, &is_ready);
    if (code != 0 || !is_ready) {
        return code;
    }
    struct gpiod_line_event event[QUEUE_COUNT];
    int taken = gpiod_line_event_read_multiple(watch->line, event, QUEUE_COUNT);
    if (taken < 0) {
        return failure();
    }
    for (int i = 0; i < taken; i++) {
        out[i] = (struct lamp_gpio_event){.t_ns = stamp_of(watch, &event[i].ts),
                                          .is_active =
                                              event[i].event_type == GPIOD_LINE_EVENT_RISING_EDGE};
    }
    *count = (size_t)taken;
    return 0;
}

void lamp_gpio_watch_close(struct lamp_gpio_watch *watch)
{
    if (watch != NULL) {
        gpiod_line_release(watch->line);
        free(watch);
    }
}
