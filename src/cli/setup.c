/* setup.c - What every command that reads light is told: the source, the books, the lamps, the
 * bench. */
#include "cli/setup.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "cli/complain.h"
#include "cli/pointer.h"

enum lamp_err setup_take_pointers(struct setup *setup, const struct arguments *arguments,
                                  struct lamp_error *error)
{
    setup->rules = lamp_reader_rules_default();
    size_t count = options_count(arguments, "lamp");
    if (count > LAMP_PLACES_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp", "%zu lamps are given; at most %d can be",
                         count, LAMP_PLACES_MAX);
    }
    for (size_t i = 0; i < count; i++) {
        const char *text = options_each(arguments, "lamp", i);
        enum lamp_err failed = pointer_parse(text, &setup->pointer[i], error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    setup->rules.pointer = setup->pointer;
    setup->rules.pointer_count = count;
    return LAMP_OK;
}

static enum lamp_err take_given(struct setup *setup, const struct arguments *arguments,
                                struct lamp_error *error)
{
    size_t count = options_count(arguments, "given");
    if (count > LAMP_GIVEN_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--given",
                         "%zu readings are given; at most %d can be", count, LAMP_GIVEN_MAX);
    }
    for (size_t i = 0; i < count; i++) {
        const char *text = options_each(arguments, "given", i);
        enum lamp_err failed = lamp_given_parse(text, &setup->given[i], error);
        if (failed != LAMP_OK) {
            return failed;
        }
    }
    setup->rules.given = setup->given;
    setup->rules.given_count = count;
    return LAMP_OK;
}

static enum lamp_err take_books(struct setup *setup, const struct arguments *arguments,
                                struct lamp_error *error)
{
    enum lamp_err failed = books_open(&setup->books, arguments, error);
    if (failed == LAMP_OK && setup->books.count == 0) {
        failed = lamp_book_find_all(&setup->shelf.at, &setup->shelf.count);
    }
    setup->rules.book = (const struct lamp_book *const *)setup->books.at;
    setup->rules.book_count = setup->books.count;
    setup->rules.shelf = (const struct lamp_book *const *)setup->shelf.at;
    setup->rules.shelf_count = setup->shelf.count;
    return failed;
}

enum lamp_err setup_take(struct setup *setup, const struct arguments *arguments,
                         struct lamp_error *error)
{
    enum lamp_err failed = setup_take_pointers(setup, arguments, error);
    if (failed == LAMP_OK) {
        failed = take_given(setup, arguments, error);
    }
    return failed == LAMP_OK ? take_books(setup, arguments, error) : failed;
}

/* "640x480" and nothing else. */
static bool read_sides(const char *text, long *width_px, long *height_px)
{
    enum { LEAST_PX = 16, MOST_PX = 99999 };
    char *end = NULL;
    *width_px = strtol(text, &end, 10);
    if (end == text || *end != 'x') {
        return false;
    }
    const char *rest = end + 1;
    *height_px = strtol(rest, &end, 10);
    return end != rest && *end == '\0' && *width_px >= LEAST_PX && *width_px <= MOST_PX &&
           *height_px >= LEAST_PX && *height_px <= MOST_PX;
}

static enum lamp_err take_size(const struct arguments *arguments, struct lamp_source_rules *rules,
                               struct lamp_error *error)
{
    const char *text = options_value(arguments, "size");
    long width_px = 0;
    long height_px = 0;
    if (text == NULL) {
        return LAMP_OK;
    }
    if (!read_sides(text, &width_px, &height_px)) {
        return lamp_fail(error, LAMP_BAD_USE, "--size",
                         "'%s' is no picture size; expected pixels, such as 640x480", text);
    }
    rules->camera.width_px = (int)width_px;
    rules->camera.height_px = (int)height_px;
    return LAMP_OK;
}

static enum lamp_err take_pull(const struct arguments *arguments, struct lamp_source_rules *rules,
                               struct lamp_error *error)
{
    static const char *const names[] = {
        [LAMP_PULL_NONE] = "none", [LAMP_PULL_UP] = "up", [LAMP_PULL_DOWN] = "down"};
    const char *text = options_value(arguments, "pull");
    if (text == NULL) {
        return LAMP_OK;
    }
    for (int i = LAMP_PULL_NONE; i <= LAMP_PULL_DOWN; i++) {
        if (strcmp(text, names[i]) == 0) {
            rules->pin.pull = (enum lamp_pull)i;
            return LAMP_OK;
        }
    }
    return lamp_fail(error, LAMP_BAD_USE, "--pull",
                     "'%s' is no resistor; expected up, down or none", text);
}

static enum lamp_err take_duration(const struct arguments *arguments, const char *name,
                                   int64_t *out_ns, struct lamp_error *error)
{
    const char *text = options_value(arguments, name);
    if (text == NULL || lamp_duration_parse(text, out_ns)) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, text,
                     "this is no length of time; expected a number with its unit, such as '5 ms'");
}

static enum lamp_err take_rules(const struct arguments *arguments, struct lamp_source_rules *rules,
                                struct lamp_error *error)
{
    static const double stills_hz[2] = {0.5, 10000};
    static const double camera_hz[2] = {0.1, 10000};
    static const double speed[2] = {0, 1e6};
    rules->camera.leaves_controls = options_has(arguments, "leave-controls");
    rules->pin.is_active_low = options_has(arguments, "active-low");
    enum lamp_err answers[] = {
        options_number(arguments, "stills-rate", stills_hz, &rules->stills_rate_hz, error),
        options_number(arguments, "speed", speed, &rules->replay_speed, error),
        options_number(arguments, "rate", camera_hz, &rules->camera.rate_hz, error),
        take_size(arguments, rules, error),
        take_pull(arguments, rules, error),
        take_duration(arguments, "exposure", &rules->camera.exposure_ns, error),
        take_duration(arguments, "debounce", &rules->pin.debounce_ns, error),
    };
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        if (answers[i] != LAMP_OK) {
            return answers[i];
        }
    }
    return LAMP_OK;
}

/* What was set on a device, in one line: it changes what other programs see of it meanwhile. */
static void tell_settings(const struct lamp_source *source)
{
    struct lamp_text all = {0};
    const char *setting;
    for (size_t i = 0; (setting = lamp_source_setting(source, i)) != NULL; i++) {
        lamp_text_add(&all, "%s%s", i > 0 ? "; " : "", setting);
    }
    if (all.length > 0 && !all.failed) {
        mention("%s", all.at);
    }
    lamp_text_fini(&all);
}

enum lamp_err setup_open_source(const struct arguments *arguments, struct lamp_source **out,
                                struct lamp_error *error)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    enum lamp_err failed = take_rules(arguments, &rules, error);
    if (failed == LAMP_OK) {
        failed = lamp_source_open(arguments->operand[0], &rules, out, error);
    }
    if (failed == LAMP_OK) {
        tell_settings(*out);
    }
    return failed;
}

void setup_fini(struct setup *setup)
{
    books_close(&setup->books);
    books_close(&setup->shelf);
}
