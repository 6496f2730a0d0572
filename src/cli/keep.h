/* keep.h - Light kept in a file while it is taken. */
#ifndef LAMP_CLI_KEEP_H
#define LAMP_CLI_KEEP_H

#include "cli/options.h"
#include "lampread/record.h"

/** A file that light is kept in; begin with all zero. */
struct keep {
    const char *path;
    struct lamp_recorder *recorder; /**< NULL: nothing is kept. */
    bool failed;                    /**< It was said why; light goes on without it. */
};

/** Open the file. @return as lamp_recorder_new. */
enum lamp_err keep_open(struct keep *keep, const char *path,
                        const struct lamp_recorder_rules *rules, const struct lamp_source *source,
                        struct lamp_error *error);

/** Keep one item, NULL: nothing new came. @return as lamp_recorder_push. */
enum lamp_err keep_take(struct keep *keep, const struct lamp_source *source,
                        const struct lamp_item *item, struct lamp_error *error);

/** Write the end, and say what was kept. @return as lamp_recorder_push. */
enum lamp_err keep_finish(struct keep *keep, const struct lamp_source *source,
                          struct lamp_error *error);

/** Close. */
void keep_close(struct keep *keep);

#endif
