/* run.c - Stretches of samples in one state, with how far each goes from the other state. */
#include "rhythm/run.h"

#include <math.h>

static bool find_crossing(struct lamp_run_reader *reader, struct lamp_crossing *out)
{
    while (reader->at_used == reader->at_count && reader->next < reader->window->count) {
        reader->at_count = lamp_crossings_at(reader->window, reader->next++, reader->at);
        reader->at_used = 0;
    }
    if (reader->at_used == reader->at_count) {
        return false;
    }
    *out = reader->at[reader->at_used++];
    return true;
}

/* How far the farthest of `count` samples is expected beyond their level, sds. */
static double expect_extreme(size_t count)
{
    return count > 1 ? 0.8 * sqrt(2 * log((double)count)) : 0;
}

static void measure_run(const struct lamp_run_reader *reader, struct lamp_run *run)
{
    const struct lamp_window *window = reader->window;
    const enum lamp_kind pure = run->lit ? LAMP_KIND_LIT : LAMP_KIND_DARK;
    double sum = 0;
    run->extreme = window->level[run->first];
    for (size_t i = run->first; i < run->end; i++) {
        const double level = window->level[i];
        run->extreme = run->lit ? fmax(run->extreme, level) : fmin(run->extreme, level);
        if (window->kind[i] == pure) {
            sum += level;
            run->pure_count++;
        }
    }
    const double noise = run->lit ? reader->model->lit_sd : -reader->model->dark_sd;
    run->extreme -= noise * expect_extreme(run->pure_count);
    run->level = run->pure_count > 0 ? sum / (double)run->pure_count : run->extreme;
}

static bool starts_lit(const struct lamp_window *window)
{
    return lamp_kind_begin((enum lamp_kind)window->kind[0]) == LAMP_STATE_LIT;
}

bool lamp_run_next(struct lamp_run_reader *reader, struct lamp_run *out)
{
    if (reader->is_done || reader->window->count == 0) {
        return false;
    }
    struct lamp_crossing end;
    const bool has_end = find_crossing(reader, &end);
    struct lamp_run run = {.lit =
                               reader->has_start ? reader->start.lit : starts_lit(reader->window),
                           .is_whole = reader->has_start && has_end,
                           .end = reader->window->count};
    if (reader->has_start) {
        const bool is_between = reader->start.how == LAMP_CROSSING_BETWEEN;
        run.first = is_between ? reader->start.last : reader->start.first;
        run.start = reader->start;
    }
    if (has_end) {
        run.end = (end.how == LAMP_CROSSING_BETWEEN ? end.first : end.last) + 1;
    }
    measure_run(reader, &run);
    reader->start = end;
    reader->has_start = has_end;
    reader->is_done = !has_end;
    *out = run;
    return true;
}
