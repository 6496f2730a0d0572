/* limit.h - "--for 20s": how long light is taken. */
#ifndef LAMP_CLI_LIMIT_H
#define LAMP_CLI_LIMIT_H

#include <stdbool.h>
#include <stdint.h>

#include "cli/options.h"
#include "lampread/source.h"

#define LIMIT_OPTION                                                                            \
    {                                                                                           \
        .name = "for", .value = "TIME", .help = "stop after so much light, such as 20s or 2min" \
    }

/** A limit; begin with limit_take. */
struct limit {
    int64_t ns;       /**< 0: there is none. */
    int64_t began_ns; /**< On the clock. */
    bool has_first;
    int64_t first_ns; /**< Of the first item. */
};

/** Take the option. @return LAMP_OK, LAMP_BAD_USE. */
enum lamp_err limit_take(struct limit *limit, const struct arguments *arguments,
                         struct lamp_error *error);

/** Whether this item is past the limit. */
bool limit_passes(struct limit *limit, const struct lamp_item *item);

/** Whether a source that has nothing yet has run past the limit: by its own word, or a device by
 * the clock. */
bool limit_is_waited_out(const struct limit *limit, const struct lamp_source *source);

#endif
