/* progress.h - How far long work has come: on a terminal only, erased at the end. */
#ifndef LAMP_CLI_PROGRESS_H
#define LAMP_CLI_PROGRESS_H

#include <stdbool.h>
#include <time.h>

/** A progress line. */
struct progress {
    const char *what;      /**< "reading", "rendering"; borrowed. */
    bool is_shown;         /**< False where standard error is no terminal. */
    bool is_drawn;         /**< Something stands on the line. */
    struct timespec drawn; /**< When it was last drawn. */
};

/** Begin; nothing is drawn before a quarter of a second has gone by. */
void progress_begin(struct progress *progress, const char *what);

/** The work has come to `share`, 0 to 1; negative where it cannot be known. Cheap: draws ten times
 * a second. */
void progress_show(struct progress *progress, double share);

/** Erase the line. Call before anything else is printed. */
void progress_end(struct progress *progress);

/** Make an interrupt, a request to end or a terminal that closes (SIGINT, SIGTERM, SIGHUP) stop the
 * work instead of the process; a second one stops the process. */
void progress_catch_interrupt(void);

/** Whether the work was interrupted. */
bool progress_interrupted(void);

#endif
