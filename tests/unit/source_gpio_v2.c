/* source_gpio_v2.c - What is asked of libgpiod 2, and what is made of its answers: a library that
 * the test makes up stands for it. */
/* layers: base */
#include <check.h>

#include "source/gpio_node.c"
#include "source/gpio_v2.c"
#include "support/suite.h"

/* The objects of the library; the test counts what is alive. */
struct gpiod_chip {
    int unused;
};
struct gpiod_chip_info {
    int unused;
};
struct gpiod_line_info {
    unsigned offset;
};
struct gpiod_line_settings {
    enum gpiod_line_direction direction;
    enum gpiod_line_edge edge;
    enum gpiod_line_bias bias;
    enum gpiod_line_clock clock;
    bool is_active_low;
};
struct gpiod_line_config {
    unsigned offset;
    struct gpiod_line_settings settings;
};
struct gpiod_request_config {
    const char *consumer;
    size_t queue_count;
};
struct gpiod_line_request {
    int unused;
};
struct gpiod_edge_event {
    enum gpiod_edge_event_type type;
    uint64_t t_ns;
    unsigned long number;
};
struct gpiod_edge_event_buffer {
    struct gpiod_edge_event event[LAMP_GPIO_BATCH];
};

static struct {
    int alive;
    int fail_at; /* The call that makes something and fails; 0: none does. */
    int made;
    int code; /* errno of what fails. */
    struct gpiod_chip chip;
    struct gpiod_line_config asked;
    struct gpiod_request_config config;
    struct gpiod_line_request request;
    int pipe[2];
    enum gpiod_line_value value;
    int event_count;
    struct gpiod_edge_event event[2];
} library;

static void begin(void)
{
    memset(&library, 0, sizeof library);
}

/* One more object, of `size` bytes; NULL if its turn is to fail. */
static void *make(size_t size)
{
    if (++library.made == library.fail_at) {
        errno = library.code;
        return NULL;
    }
    library.alive++;
    return calloc(1, size);
}

static void unmake(void *thing)
{
    library.alive--;
    free(thing);
}

struct gpiod_chip *gpiod_chip_open(const char *path)
{
    if (strcmp(path, "/dev/gpiochip0") != 0) {
        errno = ENOENT;
        return NULL;
    }
    return make(sizeof(struct gpiod_chip));
}

void gpiod_chip_close(struct gpiod_chip *chip)
{
    unmake(chip);
}

struct gpiod_chip_info *gpiod_chip_get_info(struct gpiod_chip *chip)
{
    (void)chip;
    return make(sizeof(struct gpiod_chip_info));
}

void gpiod_chip_info_free(struct gpiod_chip_info *info)
{
    unmake(info);
}

const char *gpiod_chip_info_get_name(struct gpiod_chip_info *info)
{
    (void)info;
    return "gpiochip0";
}

const char *gpiod_chip_info_get_label(struct gpiod_chip_info *info)
{
    (void)info;
    return "a label that is longer than any the kernel gives";
}

size_t gpiod_chip_info_get_num_lines(struct gpiod_chip_info *info)
{
    (void)info;
    return 54;
}

struct gpiod_line_info *gpiod_chip_get_line_info(struct gpiod_chip *chip, unsigned int offset)
{
    (void)chip;
    struct gpiod_line_info *info = make(sizeof *info);
    if (info != NULL) {
        info->offset = offset;
    }
    return info;
}

void gpiod_line_info_free(struct gpiod_line_info *info)
{
    unmake(info);
}

const char *gpiod_line_info_get_name(struct gpiod_line_info *info)
{
    return info->offset == 3 ? NULL : "STATUS";
}

bool gpiod_line_info_is_used(struct gpiod_line_info *info)
{
    return info->offset == 4;
}

const char *gpiod_line_info_get_consumer(struct gpiod_line_info *info)
{
    return info->offset == 4 ? "fan" : NULL;
}

enum gpiod_line_direction gpiod_line_info_get_direction(struct gpiod_line_info *info)
{
    return info->offset == 5 ? GPIOD_LINE_DIRECTION_OUTPUT : GPIOD_LINE_DIRECTION_INPUT;
}

struct gpiod_line_settings *gpiod_line_settings_new(void)
{
    return make(sizeof(struct gpiod_line_settings));
}

void gpiod_line_settings_free(struct gpiod_line_settings *settings)
{
    unmake(settings);
}

int gpiod_line_settings_set_direction(struct gpiod_line_settings *settings,
                                      enum gpiod_line_direction direction)
{
    settings->direction = direction;
    return 0;
}

int gpiod_line_settings_set_edge_detection(struct gpiod_line_settings *settings,
                                           enum gpiod_line_edge edge)
{
    settings->edge = edge;
    return 0;
}

int gpiod_line_settings_set_bias(struct gpiod_line_settings *settings, enum gpiod_line_bias bias)
{
    settings->bias = bias;
    return 0;
}

void gpiod_line_settings_set_active_low(struct gpiod_line_settings *settings, bool active_low)
{
    settings->is_active_low = active_low;
}

int gpiod_line_settings_set_event_clock(struct gpiod_line_settings *settings,
                                        enum gpiod_line_clock clock)
{
    settings->clock = clock;
    return 0;
}

struct gpiod_line_config *gpiod_line_config_new(void)
{
    return make(sizeof(struct gpiod_line_config));
}

void gpiod_line_config_free(struct gpiod_line_config *lines)
{
    unmake(lines);
}

int gpiod_line_config_add_line_settings(struct gpiod_line_config *lines,
                                        const unsigned int *offsets, size_t count,
                                        struct gpiod_line_settings *settings)
{
    ck_assert_uint_eq(count, 1);
    lines->offset = offsets[0];
    lines->settings = *settings;
    return 0;
}

struct gpiod_request_config *gpiod_request_config_new(void)
{
    return make(sizeof(struct gpiod_request_config));
}

void gpiod_request_config_free(struct gpiod_request_config *config)
{
    unmake(config);
}

void gpiod_request_config_set_consumer(struct gpiod_request_config *config, const char *consumer)
{
    config->consumer = consumer;
}

void gpiod_request_config_set_event_buffer_size(struct gpiod_request_config *config, size_t count)
{
    config->queue_count = count;
}

struct gpiod_line_request *gpiod_chip_request_lines(struct gpiod_chip *chip,
                                                    struct gpiod_request_config *config,
                                                    struct gpiod_line_config *lines)
{
    (void)chip;
    library.asked = *lines;
    library.config = *config;
    return make(sizeof(struct gpiod_line_request));
}

void gpiod_line_request_release(struct gpiod_line_request *request)
{
    unmake(request);
}

enum gpiod_line_value gpiod_line_request_get_value(struct gpiod_line_request *request,
                                                   unsigned int offset)
{
    (void)request;
    ck_assert_uint_eq(offset, library.asked.offset);
    errno = library.code;
    return library.value;
}

int gpiod_line_request_get_fd(struct gpiod_line_request *request)
{
    (void)request;
    return library.pipe[0];
}

int gpiod_line_request_read_edge_events(struct gpiod_line_request *request,
                                        struct gpiod_edge_event_buffer *buffer, size_t most)
{
    (void)request;
    ck_assert_uint_le(most, LAMP_GPIO_BATCH);
    errno = library.code;
    for (int i = 0; i < library.event_count; i++) {
        buffer->event[i] = library.event[i];
    }
    return library.event_count;
}

enum gpiod_edge_event_type gpiod_edge_event_get_event_type(struct gpiod_edge_event *event)
{
    return event->type;
}

uint64_t gpiod_edge_event_get_timestamp_ns(struct gpiod_edge_event *event)
{
    return event->t_ns;
}

unsigned long gpiod_edge_event_get_line_seqno(struct gpiod_edge_event *event)
{
    return event->number;
}

struct gpiod_edge_event_buffer *gpiod_edge_event_buffer_new(size_t capacity)
{
    ck_assert_uint_eq(capacity, LAMP_GPIO_BATCH);
    return make(sizeof(struct gpiod_edge_event_buffer));
}

void gpiod_edge_event_buffer_free(struct gpiod_edge_event_buffer *buffer)
{
    unmake(buffer);
}

struct gpiod_edge_event *gpiod_edge_event_buffer_get_event(struct gpiod_edge_event_buffer *buffer,
                                                           unsigned long index)
{
    return &buffer->event[index];
}

static struct lamp_gpio_watch *open_watch(const struct lamp_gpio_wish *wish,
                                          struct lamp_gpio_deal *deal)
{
    struct lamp_gpio_watch *watch = NULL;
    ck_assert_int_eq(
        lamp_gpio_watch_open((struct lamp_gpio_chip *)&library.chip, wish, &watch, deal), 0);
    return watch;
}

static const struct {
    enum lamp_pull pull;
    enum gpiod_line_bias bias;
    bool is_active_low;
} wishes[] = {
    {LAMP_PULL_AS_IS, GPIOD_LINE_BIAS_AS_IS, false},
    {LAMP_PULL_NONE, GPIOD_LINE_BIAS_DISABLED, true},
    {LAMP_PULL_UP, GPIOD_LINE_BIAS_PULL_UP, false},
    {LAMP_PULL_DOWN, GPIOD_LINE_BIAS_PULL_DOWN, true},
};

START_TEST(a_line_is_asked_for_as_was_wished)
{
    const struct lamp_gpio_wish wish = {
        .offset = 17, .pull = wishes[_i].pull, .is_active_low = wishes[_i].is_active_low};
    struct lamp_gpio_deal deal;
    struct lamp_gpio_watch *watch = open_watch(&wish, &deal);
    const struct gpiod_line_settings *settings = &library.asked.settings;
    ck_assert_uint_eq(library.asked.offset, 17);
    ck_assert_int_eq(settings->direction, GPIOD_LINE_DIRECTION_INPUT);
    ck_assert_int_eq(settings->edge, GPIOD_LINE_EDGE_BOTH);
    ck_assert_int_eq(settings->clock, GPIOD_LINE_CLOCK_MONOTONIC);
    ck_assert_int_eq(settings->bias, wishes[_i].bias);
    ck_assert_int_eq(settings->is_active_low, wishes[_i].is_active_low);
    ck_assert_str_eq(library.config.consumer, "lampread");
    ck_assert_uint_eq(library.config.queue_count, deal.queue_count);
    ck_assert(deal.is_numbered);
    lamp_gpio_watch_close(watch);
    ck_assert_int_eq(library.alive, 0);
}
END_TEST

/* Buffer, settings, lines, config, request: whichever cannot be made, nothing is left over. */
START_TEST(a_request_that_fails_leaves_nothing_behind)
{
    const struct lamp_gpio_wish wish = {.offset = 1};
    struct lamp_gpio_watch *watch = NULL;
    struct lamp_gpio_deal deal;
    library.fail_at = _i;
    library.code = _i == 5 ? EBUSY : ENOMEM;
    ck_assert_int_eq(
        lamp_gpio_watch_open((struct lamp_gpio_chip *)&library.chip, &wish, &watch, &deal),
        library.code);
    ck_assert_ptr_null(watch);
    ck_assert_int_eq(library.alive, 0);
}
END_TEST

START_TEST(events_keep_their_stamp_state_and_number)
{
    const struct lamp_gpio_wish wish = {.offset = 1};
    struct lamp_gpio_deal deal;
    struct lamp_gpio_event event[LAMP_GPIO_BATCH];
    size_t count = 9;
    struct lamp_gpio_watch *watch = open_watch(&wish, &deal);
    ck_assert_int_eq(pipe(library.pipe), 0);
    ck_assert_int_eq(lamp_gpio_watch_take(watch, 1000000, event, &count), 0);
    ck_assert_uint_eq(count, 0); /* nothing to read yet */
    ck_assert_int_eq(write(library.pipe[1], "x", 1), 1);
    library.event_count = 2;
    library.event[0] = (struct gpiod_edge_event){GPIOD_EDGE_EVENT_RISING_EDGE, 123456789012, 1};
    library.event[1] = (struct gpiod_edge_event){GPIOD_EDGE_EVENT_FALLING_EDGE, 123456789013, 3};
    ck_assert_int_eq(lamp_gpio_watch_take(watch, 0, event, &count), 0);
    ck_assert_uint_eq(count, 2);
    ck_assert_int_eq(event[0].t_ns, 123456789012);
    ck_assert_int_eq(event[1].t_ns, 123456789013);
    ck_assert(event[0].is_active && !event[1].is_active);
    ck_assert_uint_eq(event[0].number, 1);
    ck_assert_uint_eq(event[1].number, 3);
    library.event_count = -1;
    library.code = ENODEV;
    ck_assert_int_eq(lamp_gpio_watch_take(watch, 0, event, &count), ENODEV);
    lamp_gpio_watch_close(watch);
    ck_assert_int_eq(library.alive, 0);
}
END_TEST

START_TEST(a_line_that_hung_up_is_gone)
{
    bool is_ready = true;
    ck_assert_int_eq(pipe(library.pipe), 0);
    ck_assert_int_eq(close(library.pipe[1]), 0);
    ck_assert_int_eq(lamp_gpio_wait(library.pipe[0], 0, &is_ready), ENODEV);
}
END_TEST

START_TEST(the_value_of_a_line_is_read)
{
    const struct lamp_gpio_wish wish = {.offset = 6};
    struct lamp_gpio_deal deal;
    struct lamp_gpio_watch *watch = open_watch(&wish, &deal);
    bool is_active = false;
    library.value = GPIOD_LINE_VALUE_ACTIVE;
    ck_assert_int_eq(lamp_gpio_watch_value(watch, &is_active), 0);
    ck_assert(is_active);
    library.value = GPIOD_LINE_VALUE_INACTIVE;
    ck_assert_int_eq(lamp_gpio_watch_value(watch, &is_active), 0);
    ck_assert(!is_active);
    library.value = GPIOD_LINE_VALUE_ERROR;
    library.code = ENODEV;
    ck_assert_int_eq(lamp_gpio_watch_value(watch, &is_active), ENODEV);
    lamp_gpio_watch_close(watch);
}
END_TEST

START_TEST(a_chip_and_its_lines_are_told)
{
    struct lamp_gpio_chip *chip = NULL;
    struct lamp_gpio_chip_info info;
    struct lamp_pin pin;
    ck_assert_int_eq(lamp_gpio_chip_open("/dev/gpiochip1", &chip), ENOENT);
    ck_assert_int_eq(lamp_gpio_chip_open("/dev/gpiochip0", &chip), 0);
    ck_assert_int_eq(lamp_gpio_chip_describe(chip, &info), 0);
    ck_assert_str_eq(info.name, "gpiochip0");
    ck_assert_str_eq(info.label, "a label that is longer than any"); /* 31 bytes */
    ck_assert_uint_eq(info.line_count, 54);
    ck_assert_int_eq(lamp_gpio_line_describe(chip, 3, &pin), 0);
    ck_assert(pin.offset == 3 && pin.name[0] == '\0' && !pin.is_used && !pin.is_output);
    ck_assert_int_eq(lamp_gpio_line_describe(chip, 4, &pin), 0);
    ck_assert_str_eq(pin.name, "STATUS");
    ck_assert_str_eq(pin.user, "fan");
    ck_assert(pin.is_used && !pin.is_output);
    ck_assert_int_eq(lamp_gpio_line_describe(chip, 5, &pin), 0);
    ck_assert(!pin.is_used && pin.is_output);
    lamp_gpio_chip_close(chip);
    lamp_gpio_chip_close(NULL);
    ck_assert_int_eq(library.alive, 0);
}
END_TEST

int main(void)
{
    TCase *all = suite_begin("gpio_v2");
    tcase_add_checked_fixture(all, begin, NULL);
    tcase_add_loop_test(all, a_line_is_asked_for_as_was_wished, 0,
                        (int)(sizeof wishes / sizeof wishes[0]));
    tcase_add_loop_test(all, a_request_that_fails_leaves_nothing_behind, 1, 6);
    tcase_add_test(all, events_keep_their_stamp_state_and_number);
    tcase_add_test(all, a_line_that_hung_up_is_gone);
    tcase_add_test(all, the_value_of_a_line_is_read);
    tcase_add_test(all, a_chip_and_its_lines_are_told);
    return suite_end();
}
