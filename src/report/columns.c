/* columns.c - Samples over a stretch of time, in memory that does not grow: exact while they are
 * few, then the range in each column. */
#include "report/columns.h"

#include <math.h>
#include <stddef.h>

void lamp_columns_push(struct lamp_columns *columns, const struct lamp_sample *sample)
{
    int64_t off_ns = sample->t_ns - columns->start_ns;
    if (off_ns < 0 || off_ns >= columns->span_ns || !isfinite(sample->level)) {
        return;
    }
    size_t index = (size_t)((double)off_ns / (double)columns->span_ns * LAMP_COLUMNS);
    struct lamp_column *column = &columns->at[index < LAMP_COLUMNS ? index : LAMP_COLUMNS - 1];
    float level = (float)sample->level;
    column->first_ns = column->count == 0 ? sample->t_ns : column->first_ns;
    column->low = column->count == 0 ? level : fminf(column->low, level);
    column->high = column->count == 0 ? level : fmaxf(column->high, level);
    column->count++;
}

bool lamp_columns_range(const struct lamp_columns *columns, double *low, double *high)
{
    bool found = false;
    for (size_t i = 0; i < LAMP_COLUMNS; i++) {
        const struct lamp_column *column = &columns->at[i];
        if (column->count > 0) {
            *low = found ? fmin(*low, column->low) : column->low;
            *high = found ? fmax(*high, column->high) : column->high;
            found = true;
        }
    }
    return found;
}
