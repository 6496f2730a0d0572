/* keep.c - Light kept in a file while it is taken. */
#include "cli/keep.h"

#include <signal.h>

#include "cli/complain.h"

enum lamp_err keep_open(struct keep *keep, const char *path,
                        const struct lamp_recorder_rules *rules, const struct lamp_source *source,
                        struct lamp_error *error)
{
    /* A file that reached the size it may have is told of, not died of. */
    const struct sigaction ignore = {.sa_handler = SIG_IGN};
    (void)sigaction(SIGXFSZ, &ignore, NULL);
    keep->path = path;
    return lamp_recorder_new(path, rules, source, &keep->recorder, error);
}

enum lamp_err keep_take(struct keep *keep, const struct lamp_source *source,
                        const struct lamp_item *item, struct lamp_error *error)
{
    if (keep->recorder == NULL || keep->failed) {
        return LAMP_OK;
    }
    enum lamp_err err = item != NULL ? lamp_recorder_push(keep->recorder, source, item, error)
                                     : lamp_recorder_wait(keep->recorder, source, error);
    keep->failed = err != LAMP_OK;
    return err;
}

enum lamp_err keep_finish(struct keep *keep, const struct lamp_source *source,
                          struct lamp_error *error)
{
    if (keep->recorder == NULL || keep->failed) {
        return LAMP_OK;
    }
    enum lamp_err err = lamp_recorder_finish(keep->recorder, source, error);
    keep->failed = err != LAMP_OK;
    if (err == LAMP_OK) {
        struct lamp_recorder_counts counts;
        lamp_recorder_describe(keep->recorder, &counts);
        mention("%s: kept %.1f s of light%s%s", keep->path, counts.kept_s,
                counts.trace != NULL ? ", its brightness in " : "",
                counts.trace != NULL ? counts.trace : "");
    }
    return err;
}

void keep_close(struct keep *keep)
{
    lamp_recorder_free(keep->recorder);
    keep->recorder = NULL;
}
