/* limit.c - "--for 20s": how long light is taken. */
#include "cli/limit.h"

#include <time.h>

#include "base/fail.h"
#include "base/number.h"

/* A device that gives nothing is waited for so much longer. */
static const int64_t patience_ns = INT64_C(1000000000);

static int64_t clock_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * LAMP_NS_PER_S + now.tv_nsec;
}

enum lamp_err limit_take(struct limit *limit, const struct arguments *arguments,
                         struct lamp_error *error)
{
    const char *text = options_value(arguments, "for");
    *limit = (struct limit){.began_ns = clock_ns()};
    if (text == NULL || lamp_duration_parse(text, &limit->ns)) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, "--for",
                     "'%s' is no length of time; expected a number with its unit, such as 20s",
                     text);
}

bool limit_passes(struct limit *limit, const struct lamp_item *item)
{
    int64_t t_ns = lamp_item_time_ns(item);
    if (!limit->has_first) {
        limit->has_first = true;
        limit->first_ns = t_ns;
    }
    return limit->ns > 0 && t_ns - limit->first_ns >= limit->ns;
}

bool limit_is_waited_out(const struct limit *limit, const struct lamp_source *source)
{
    if (limit->ns == 0) {
        return false;
    }
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    bool is_device = info.kind == LAMP_SOURCE_CAMERA || info.kind == LAMP_SOURCE_PIN;
    bool is_edges = info.kind == LAMP_SOURCE_EDGES || info.kind == LAMP_SOURCE_PIN;
    return (is_edges && info.duration_s * LAMP_NS_PER_S >= (double)limit->ns) ||
           (is_device && clock_ns() - limit->began_ns >= limit->ns + patience_ns);
}
