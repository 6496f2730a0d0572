/* progress.c - How far long work has come: on a terminal only, erased at the end. */
#include "cli/progress.h"

#include <signal.h>
#include <stdio.h>
#include <unistd.h>

enum { BAR_COLUMNS = 30 };

static volatile sig_atomic_t interrupted;

void progress_begin(struct progress *progress, const char *what)
{
    *progress = (struct progress){.what = what, .is_shown = isatty(STDERR_FILENO) == 1};
    (void)clock_gettime(CLOCK_MONOTONIC, &progress->drawn);
}

static double seconds_between(const struct timespec *from, const struct timespec *to)
{
    return (double)(to->tv_sec - from->tv_sec) + 1e-9 * (double)(to->tv_nsec - from->tv_nsec);
}

static void draw(const struct progress *progress, double share)
{
    if (share < 0) {
        (void)fprintf(stderr, "\r%s ...", progress->what);
        return;
    }
    char bar[BAR_COLUMNS + 1];
    double filled = (share < 1 ? share : 1) * BAR_COLUMNS;
    for (int i = 0; i < BAR_COLUMNS; i++) {
        bar[i] = i < filled ? '=' : '.';
    }
    bar[BAR_COLUMNS] = '\0';
    (void)fprintf(stderr, "\r%s %s %3.0f %%", progress->what, bar, 100 * (share < 1 ? share : 1));
}

void progress_show(struct progress *progress, double share)
{
    if (!progress->is_shown) {
        return;
    }
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    if (seconds_between(&progress->drawn, &now) < (progress->is_drawn ? 0.1 : 0.25)) {
        return;
    }
    draw(progress, share);
    progress->is_drawn = true;
    progress->drawn = now;
}

void progress_end(struct progress *progress)
{
    if (progress->is_drawn) {
        (void)fputs("\r\033[K", stderr);
    }
    progress->is_drawn = false;
}

static void note_interrupt(int signal_number)
{
    (void)signal_number;
    interrupted = 1;
}

void progress_catch_interrupt(void)
{
    struct sigaction action = {.sa_handler = note_interrupt, .sa_flags = (int)SA_RESETHAND};
    (void)sigemptyset(&action.sa_mask);
    (void)sigaction(SIGINT, &action, NULL);
    (void)sigaction(SIGTERM, &action, NULL);
    (void)sigaction(SIGHUP, &action, NULL);
}

bool progress_interrupted(void)
{
    return interrupted != 0;
}
