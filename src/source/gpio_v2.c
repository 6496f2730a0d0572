/* gpio_v2.c - GPIO lines by libgpiod 2: numbered events, a longer queue. */
#include <errno.h>
#include <gpiod.h>
#include <stdlib.h>

#include "source/gpio.h"

/* Events the kernel is asked to hold; the most it does for one line (Linux, uapi/linux/gpio.h:
 * event_buffer_size). */
enum { QUEUE_COUNT = 1024 };

struct lamp_gpio_watch {
    struct gpiod_line_request *request;
    struct gpiod_edge_event_buffer *buffer;
    unsigned offset;
};

/* All that a request is made of; freed whole, whatever of it could be made. */
struct order {
    struct gpiod_line_settings *settings;
    struct gpiod_line_config *lines;
    struct gpiod_request_config *config;
};

/* An error that did not say which one it is. */
static int failure(void)
{
    return errno != 0 ? errno : EIO;
}

static struct gpiod_chip *library_chip(struct lamp_gpio_chip *chip)
{
    return (struct gpiod_chip *)chip;
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

int lamp_gpio_chip_describe(struct lamp_gpio_chip *chip, struct lamp_gpio_chip_info *out)
{
    struct gpiod_chip_info *info = gpiod_chip_get_info(library_chip(chip));
    if (info == NULL) {
        return failure();
    }
    lamp_gpio_copy_name(gpiod_chip_info_get_name(info), out->name);
    lamp_gpio_copy_name(gpiod_chip_info_get_label(info), out->label);
    out->line_count = (unsigned)gpiod_chip_info_get_num_lines(info);
    gpiod_chip_info_free(info);
    return 0;
}

int lamp_gpio_line_describe(struct lamp_gpio_chip *chip, unsigned offset, struct lamp_pin *out)
{
    struct gpiod_line_info *info = gpiod_chip_get_line_info(library_chip(chip), offset);
    if (info == NULL) {
        return failure();
    }
    *out = (struct lamp_pin){.offset = offset,
                             .is_used = gpiod_line_info_is_used(info),
                             .is_output = gpiod_line_info_get_direction(info) ==
                                          GPIOD_LINE_DIRECTION_OUTPUT};
    lamp_gpio_copy_name(gpiod_line_info_get_name(info), out->name);
    lamp_gpio_copy_name(gpiod_line_info_get_consumer(info), out->user);
    gpiod_line_info_free(info);
    return 0;
}

void lamp_gpio_chip_close(struct lamp_gpio_chip *chip)
{
    if (chip != NULL) {
        gpiod_chip_close(library_chip(chip));
    }
}

static int settle(struct gpiod_line_settings *settings, const struct lamp_gpio_wish *wish)
{
    static const enum gpiod_line_bias pulls[] = {
        [LAMP_PULL_AS_IS] = GPIOD_LINE_BIAS_AS_IS,
        [LAMP_PULL_NONE] = GPIOD_LINE_BIAS_DISABLED,
        [LAMP_PULL_UP] = GPIOD_LINE_BIAS_PULL_UP,
        [LAMP_PULL_DOWN] = GPIOD_LINE_BIAS_PULL_DOWN,
    };
    gpiod_line_settings_set_active_low(settings, wish->is_active_low);
    bool is_set = gpiod_line_settings_set_direction(settings, GPIOD_LINE_DIRECTION_INPUT) == 0 &&
                  gpiod_line_settings_set_edge_detection(settings, GPIOD_LINE_EDGE_BOTH) == 0 &&
                  gpiod_line_settings_set_bias(settings, pulls[wish->pull]) == 0 &&
                  gpiod_line_settings_set_event_clock(settings, GPIOD_LINE_CLOCK_MONOTONIC) == 0;
    return is_set ? 0 : failure();
}

static int fill_order(struct order *order, const struct lamp_gpio_wish *wish)
{
    order->settings = gpiod_line_settings_new();
    order->lines = gpiod_line_config_new();
    order->config = gpiod_request_config_new();
    if (order->settings == NULL || order->lines == NULL || order->config == NULL) {
        return ENOMEM;
    }
    int code = settle(order->settings, wish);
    if (code != 0) {
        return code;
    }
    gpiod_request_config_set_consumer(order->config, "lampread");
    gpiod_request_config_set_event_buffer_size(order->config, QUEUE_COUNT);
    return gpiod_line_config_add_line_settings(order->lines, &wish->offset, 1, order->settings) == 0
               ? 0
               : failure();
}

static void empty_order(struct order *order)
{
    if (order->settings != NULL) {
        gpiod_line_settings_free(order->settings);
    }
    if (order->lines != NULL) {
        gpiod_line_config_free(order->lines);
    }
    if (order->config != NULL) {
        gpiod_request_config_free(order->config);
    }
}

static int request_line(struct lamp_gpio_chip *chip, const struct lamp_gpio_wish *wish,
                        struct lamp_gpio_watch *watch)
{
    struct order order = {0};
    int code = fill_order(&order, wish);
    if (code == 0) {
        watch->request = gpiod_chip_request_lines(library_chip(chip), order.config, order.lines);
        code = watch->request == NULL ? failure() : 0;
    }
    empty_order(&order);
    return code;
}

int lamp_gpio_watch_open(struct lamp_gpio_chip *chip, const struct lamp_gpio_wish *wish,
                         struct lamp_gpio_watch **out, struct lamp_gpio_deal *deal)
{
    struct lamp_gpio_watch *watch = calloc(1, sizeof *watch);
    if (watch == NULL) {
        return ENOMEM;
    }
    watch->offset = wish->offset;
    watch->buffer = gpiod_edge_event_buffer_new(LAMP_GPIO_BATCH);
    int code = watch->buffer == NULL ? ENOMEM : request_line(chip, wish, watch);
    if (code != 0) {
        lamp_gpio_watch_close(watch);
        return code;
    }
    *out = watch;
    *deal = (struct lamp_gpio_deal){.is_numbered = true, .queue_count = QUEUE_COUNT};
    return 0;
}

int lamp_gpio_watch_value(struct lamp_gpio_watch *watch, bool *is_active)
{
    enum gpiod_line_value value = gpiod_line_request_get_value(watch->request, watch->offset);
    if (value == GPIOD_LINE_VALUE_ERROR) {
        return failure();
    }
    *is_active = value == GPIOD_LINE_VALUE_ACTIVE;
    return 0;
}

int lamp_gpio_watch_take(struct lamp_gpio_watch *watch, int64_t wait_ns,
                         struct lamp_gpio_event out[LAMP_GPIO_BATCH], size_t *count)
{
    bool is_ready = false;
    *count = 0;
    int code = lamp_gpio_wait(gpiod_line_request_get_fd(watch->request), wait_ns, &is_ready);
    if (code != 0 || !is_ready) {
        return code;
    }
    int taken = gpiod_line_request_read_edge_events(watch->request, watch->buffer, LAMP_GPIO_BATCH);
    if (taken < 0) {
        return failure();
    }
    for (int i = 0; i < taken; i++) {
        struct gpiod_edge_event *event =
            gpiod_edge_event_buffer_get_event(watch->buffer, (unsigned long)i);
        out[i] = (struct lamp_gpio_event){
            .t_ns = (int64_t)gpiod_edge_event_get_timestamp_ns(event),
            .is_active = gpiod_edge_event_get_event_type(event) == GPIOD_EDGE_EVENT_RISING_EDGE,
            .number = (uint32_t)gpiod_edge_event_get_line_seqno(event)};
    }
    *count = (size_t)taken;
    return 0;
}

void lamp_gpio_watch_close(struct lamp_gpio_watch *watch)
{
    if (watch == NULL) {
        return;
    }
    if (watch->request != NULL) {
        gpiod_line_request_release(watch->request);
    }
    if (watch->buffer != NULL) {
        gpiod_edge_event_buffer_free(watch->buffer);
    }
    free(watch);
}
