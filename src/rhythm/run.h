/* run.h - Stretches of samples in one state, with how far each goes from the other state. */
#ifndef LAMP_RHYTHM_RUN_H
#define LAMP_RHYTHM_RUN_H

#include <stdbool.h>
#include <stddef.h>

#include "rhythm/crossing.h"
#include "rhythm/path.h"
#include "rhythm/window.h"

/** From one change of state to the next; its first and last samples may be partly lit. */
struct lamp_run {
    size_t first;
    size_t end; /**< One past the last sample. */
    bool lit;
    bool is_whole;              /**< Both ends were seen in this window. */
    struct lamp_crossing start; /**< The change it began with; nothing in the window's first run. */
    double extreme;             /**< Farthest level, less what noise adds to it. */
    double level;               /**< Mean of its pure samples. */
    size_t pure_count;          /**< How many these are. */
};

/** Reads a window's runs in the order of time. Begin with window and model set, all else zero. */
struct lamp_run_reader {
    const struct lamp_window *window;
    const struct lamp_light_model *model;
    size_t next; /**< The sample to look for changes at. */
    struct lamp_crossing at[LAMP_CROSSINGS_AT_ONCE];
    size_t at_count;
    size_t at_used;
    struct lamp_crossing start; /**< The last change. */
    bool has_start;
    bool is_done;
};

/** Read the next run. @return false if there is none. */
bool lamp_run_next(struct lamp_run_reader *reader, struct lamp_run *out);

#endif
