/* trouble.c - What can stand in the way of seeing a lamp, in words that tell what to do. */
#include "lampread/watch.h"

static const struct {
    const char *name;
    const char *words;
    const char *over;
} troubles[LAMP_TROUBLE_COUNT] = {
    [LAMP_TROUBLE_UNPLUGGED] = {"unplugged",
                                "the source went away: plug it in again and begin anew",
                                "the source is there again"},
    [LAMP_TROUBLE_SILENT] = {"silent",
                             "no pictures come: check the cable, and whether another program uses "
                             "the camera",
                             "pictures come again"},
    [LAMP_TROUBLE_MOVED] = {"moved",
                            "the camera moved: put it on a stand, and leave it until a repeat is "
                            "through",
                            "the camera is still again"},
    [LAMP_TROUBLE_COVERED] = {"covered",
                              "the view is gone: take away what is before the lens, or switch the "
                              "light back on",
                              "the view is back"},
    [LAMP_TROUBLE_DARK] = {"too-dark",
                           "nothing can be made out: open the lens, point it at the board, or give "
                           "it some light",
                           "the picture shows something now"},
    [LAMP_TROUBLE_BRIGHT] =
        {"too-bright", "the picture is driven white: dim the light, or set a shorter exposure",
         "the picture is no longer driven white"},
    [LAMP_TROUBLE_FAST] = {"too-fast",
                           "it changes too fast for the frame rate, so its rhythm cannot be "
                           "trusted: use a higher rate, or a photodiode",
                           "it changes slowly enough again"},
};

const char *lamp_trouble_name(enum lamp_trouble trouble)
{
    return troubles[trouble].name;
}

const char *lamp_trouble_words(enum lamp_trouble trouble)
{
    return troubles[trouble].words;
}

const char *lamp_trouble_over(enum lamp_trouble trouble)
{
    return troubles[trouble].over;
}
