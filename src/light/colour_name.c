/* colour_name.c - The names of lamp colours, one table for books, reports and the user. */
#include <string.h>

#include "lampread/light.h"

static const struct {
    const char *name;
    enum lamp_colour colour;
} names[] = {
    {"red", LAMP_COLOUR_RED},     {"orange", LAMP_COLOUR_ORANGE}, {"yellow", LAMP_COLOUR_YELLOW},
    {"green", LAMP_COLOUR_GREEN}, {"blue", LAMP_COLOUR_BLUE},     {"purple", LAMP_COLOUR_PURPLE},
    {"white", LAMP_COLOUR_WHITE}, {"amber", LAMP_COLOUR_ORANGE},
};

const char *lamp_colour_name(enum lamp_colour colour)
{
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (names[i].colour == colour) {
            return names[i].name;
        }
    }
    return NULL;
}

enum lamp_colour lamp_colour_named(const char *name)
{
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (strcmp(names[i].name, name) == 0) {
            return names[i].colour;
        }
    }
    return LAMP_COLOUR_UNKNOWN;
}
