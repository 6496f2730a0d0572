/* colour.c - Linear light to a colour name. */
#include "lampread/light.h"

#include <math.h>

/* Hue of linear light, degrees: 0 red, 120 green, 240 blue. */
static float hue_of(const float rgb[3], float most, float least)
{
    float span = most - least;
    float hue;
    if (most == rgb[0]) {
        hue = 60 * (rgb[1] - rgb[2]) / span;
    } else if (most == rgb[1]) {
        hue = 120 + 60 * (rgb[2] - rgb[0]) / span;
    } else {
        hue = 240 + 60 * (rgb[0] - rgb[1]) / span;
    }
    return hue < 0 ? hue + 360 : hue;
}

/* Bounds are ours: indicator colours as cameras see them, their light undone from the transfer
 * curve. */
enum lamp_colour lamp_colour_of(const float rgb[3])
{
    static const struct {
        float below;
        enum lamp_colour colour;
    } bounds[] = {{13, LAMP_COLOUR_RED},    {36, LAMP_COLOUR_ORANGE}, {64, LAMP_COLOUR_YELLOW},
                  {178, LAMP_COLOUR_GREEN}, {262, LAMP_COLOUR_BLUE},  {325, LAMP_COLOUR_PURPLE},
                  {361, LAMP_COLOUR_RED}};
    const float clipped[3] = {fmaxf(rgb[0], 0), fmaxf(rgb[1], 0), fmaxf(rgb[2], 0)};
    float most = fmaxf(clipped[0], fmaxf(clipped[1], clipped[2]));
    float least = fminf(clipped[0], fminf(clipped[1], clipped[2]));
    if (!(most > 0)) {
        return LAMP_COLOUR_UNKNOWN;
    }
    if ((most - least) / most < 0.3F) {
        return LAMP_COLOUR_WHITE;
    }
    float hue = hue_of(clipped, most, least);
    int i = 0;
    while (hue >= bounds[i].below) {
        i++;
    }
    return bounds[i].colour;
}
