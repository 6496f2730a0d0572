/* replay.h - Light for live reading: traces made by hand, and recordings replayed as fast as can
 * be. */
#ifndef LAMP_TESTS_REPLAY_H
#define LAMP_TESTS_REPLAY_H

#include <check.h>
#include <stdio.h>
#include <string.h>

#include "lampread/source.h"
#include "support/scratch.h"

/** Open "replay:path" at `speed`. @return freed by the caller. */
static inline struct lamp_source *open_replay(const char *path, double speed)
{
    char name[512];
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error = {.sentence = ""};
    rules.replay_speed = speed;
    rules.thread_count = 2;
    (void)snprintf(name, sizeof name, "replay:%s", path);
    enum lamp_err err = lamp_source_open(name, &rules, &source, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", name, error.sentence);
    return source;
}

/** Write a trace of one lamp at 30 samples a second that is lit and dark by turns for `ms`, over
 * and over, with the noise of `seed`. @return its path. */
static inline const char *write_trace(const char *name, const int *ms, size_t count,
                                      double duration_s, unsigned seed)
{
    const char *path = scratch_path(name);
    FILE *file = fopen(path, "w");
    ck_assert_ptr_nonnull(file);
    (void)fprintf(file, "time_s,lamp,level\n");
    size_t at = 0;
    double end_s = ms[0] / 1000.0;
    for (int i = 0; i < duration_s * 30; i++) {
        double t_s = i / 30.0;
        while (t_s >= end_s) {
            at++;
            end_s += ms[at % count] / 1000.0;
        }
        seed = seed * 1103515245U + 12345U;
        double noise = ((seed >> 16) % 1000 / 1000.0 - 0.5) * 0.02;
        (void)fprintf(file, "%.6f,status,%.5f\n", t_s, (at % 2 == 0 ? 0.6 : 0.02) + noise);
    }
    (void)fclose(file);
    return path;
}

#endif
