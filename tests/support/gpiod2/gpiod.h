/* gpiod.h - What source/gpio_v2.c uses of libgpiod 2, declared as its documentation says, so that
 * it is compiled and tested where that version is not installed. Only tests include it. */
#ifndef LAMP_TESTS_GPIOD2_H
#define LAMP_TESTS_GPIOD2_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct gpiod_chip;
struct gpiod_chip_info;
struct gpiod_line_info;
struct gpiod_line_settings;
struct gpiod_line_config;
struct gpiod_request_config;
struct gpiod_line_request;
struct gpiod_edge_event;
struct gpiod_edge_event_buffer;

enum gpiod_line_value {
    GPIOD_LINE_VALUE_ERROR = -1,
    GPIOD_LINE_VALUE_INACTIVE = 0,
    GPIOD_LINE_VALUE_ACTIVE = 1
};
enum gpiod_line_direction {
    GPIOD_LINE_DIRECTION_AS_IS = 1,
    GPIOD_LINE_DIRECTION_INPUT,
    GPIOD_LINE_DIRECTION_OUTPUT
};
enum gpiod_line_edge {
    GPIOD_LINE_EDGE_NONE = 1,
    GPIOD_LINE_EDGE_RISING,
    GPIOD_LINE_EDGE_FALLING,
    GPIOD_LINE_EDGE_BOTH
};
enum gpiod_line_bias {
    GPIOD_LINE_BIAS_AS_IS = 1,
    GPIOD_LINE_BIAS_UNKNOWN,
    GPIOD_LINE_BIAS_DISABLED,
    GPIOD_LINE_BIAS_PULL_UP,
    GPIOD_LINE_BIAS_PULL_DOWN
};
enum gpiod_line_clock {
    GPIOD_LINE_CLOCK_MONOTONIC = 1,
    GPIOD_LINE_CLOCK_REALTIME,
    GPIOD_LINE_CLOCK_HTE
};
enum gpiod_edge_event_type { GPIOD_EDGE_EVENT_RISING_EDGE = 1, GPIOD_EDGE_EVENT_FALLING_EDGE };

struct gpiod_chip *gpiod_chip_open(const char *path);
void gpiod_chip_close(struct gpiod_chip *chip);
struct gpiod_chip_info *gpiod_chip_get_info(struct gpiod_chip *chip);
struct gpiod_line_info *gpiod_chip_get_line_info(struct gpiod_chip *chip, unsigned int offset);
struct gpiod_line_request *gpiod_chip_request_lines(struct gpiod_chip *chip,
                                                    struct gpiod_request_config *config,
                                                    struct gpiod_line_config *lines);

void gpiod_chip_info_free(struct gpiod_chip_info *info);
const char *gpiod_chip_info_get_name(struct gpiod_chip_info *info);
const char *gpiod_chip_info_get_label(struct gpiod_chip_info *info);
size_t gpiod_chip_info_get_num_lines(struct gpiod_chip_info *info);

void gpiod_line_info_free(struct gpiod_line_info *info);
const char *gpiod_line_info_get_name(struct gpiod_line_info *info);
bool gpiod_line_info_is_used(struct gpiod_line_info *info);
const char *gpiod_line_info_get_consumer(struct gpiod_line_info *info);
enum gpiod_line_direction gpiod_line_info_get_direction(struct gpiod_line_info *info);

struct gpiod_line_settings *gpiod_line_settings_new(void);
void gpiod_line_settings_free(struct gpiod_line_settings *settings);
int gpiod_line_settings_set_direction(struct gpiod_line_settings *settings,
                                      enum gpiod_line_direction direction);
int gpiod_line_settings_set_edge_detection(struct gpiod_line_settings *settings,
                                           enum gpiod_line_edge edge);
int gpiod_line_settings_set_bias(struct gpiod_line_settings *settings, enum gpiod_line_bias bias);
void gpiod_line_settings_set_active_low(struct gpiod_line_settings *settings, bool active_low);
int gpiod_line_settings_set_event_clock(struct gpiod_line_settings *settings,
                                        enum gpiod_line_clock clock);

struct gpiod_line_config *gpiod_line_config_new(void);
void gpiod_line_config_free(struct gpiod_line_config *lines);
int gpiod_line_config_add_line_settings(struct gpiod_line_config *lines,
                                        const unsigned int *offsets, size_t count,
                                        struct gpiod_line_settings *settings);

struct gpiod_request_config *gpiod_request_config_new(void);
void gpiod_request_config_free(struct gpiod_request_config *config);
void gpiod_request_config_set_consumer(struct gpiod_request_config *config, const char *consumer);
void gpiod_request_config_set_event_buffer_size(struct gpiod_request_config *config, size_t count);

void gpiod_line_request_release(struct gpiod_line_request *request);
enum gpiod_line_value gpiod_line_request_get_value(struct gpiod_line_request *request,
                                                   unsigned int offset);
int gpiod_line_request_get_fd(struct gpiod_line_request *request);
int gpiod_line_request_read_edge_events(struct gpiod_line_request *request,
                                        struct gpiod_edge_event_buffer *buffer, size_t most);

enum gpiod_edge_event_type gpiod_edge_event_get_event_type(struct gpiod_edge_event *event);
uint64_t gpiod_edge_event_get_timestamp_ns(struct gpiod_edge_event *event);
unsigned long gpiod_edge_event_get_line_seqno(struct gpiod_edge_event *event);
struct gpiod_edge_event_buffer *gpiod_edge_event_buffer_new(size_t capacity);
void gpiod_edge_event_buffer_free(struct gpiod_edge_event_buffer *buffer);
struct gpiod_edge_event *gpiod_edge_event_buffer_get_event(struct gpiod_edge_event_buffer *buffer,
                                                           unsigned long index);

#endif
