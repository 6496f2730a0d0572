/* period.h - The period of light that swells and sinks. */
#ifndef LAMP_RHYTHM_PERIOD_H
#define LAMP_RHYTHM_PERIOD_H

#include "rhythm/window.h"

/**
 * Find the period of a window's light by autocorrelation.
 * @param strength  set to the correlation of the light with itself one period later, -1..1.
 * @return s; 0 if none shows one and a half times.
 */
double lamp_period_find(struct lamp_window *window, double *strength);

#endif
