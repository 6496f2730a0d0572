/* shade.c - Whether the light of a place only goes with that of its surroundings, as under a
 * shadow.
 *
 * A shadow, or a camera that changes its exposure, multiplies the light of a bright part and of the
 * board around it by the same: their ratio stays. A lamp changes the ratio.
 */
#include "light/shade.h"

#include <math.h>

#define NOTES_LEAST 30    /* frames that it takes to tell */
#define FLOOR       0.005 /* linear light that is added: what is less is noise */
#define AROUND_LEAST                                                            \
    0.65 /* times the sd of the place that its surroundings have under a shadow \
          */

static double log_light(const float rgb[3])
{
    return log(fmax((double)(rgb[0] + rgb[1] + rgb[2]) / 3, 0) + FLOOR);
}

void lamp_shade_note(struct lamp_shade *shade, const struct lamp_light *light)
{
    const double place = log_light(light->core);
    const double around = log_light(light->far);
    shade->count++;
    shade->place += place;
    shade->place_square += place * place;
    shade->around += around;
    shade->around_square += around * around;
    shade->ratio_square += (place - around) * (place - around);
}

static double variance(double n, double sum, double squares)
{
    return fmax(squares / n - sum / n * (sum / n), 0);
}

float lamp_shade_share(const struct lamp_shade *shade)
{
    if (shade->count < NOTES_LEAST) {
        return 0;
    }
    const double n = shade->count;
    const double place = variance(n, shade->place, shade->place_square);
    const double around = variance(n, shade->around, shade->around_square);
    const double ratio = variance(n, shade->place - shade->around, shade->ratio_square);
    const bool is_alike = around > AROUND_LEAST * AROUND_LEAST * place;
    return is_alike && place > 0 ? (float)fmax(1 - ratio / place, 0) : 0;
}
