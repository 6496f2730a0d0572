/* suit.c - Which entries may be meant: those of the lamp that is seen, by its name or its colour.
 */
#include "match/suit.h"

#include <string.h>

/* Colours that a camera takes for each other, and how often against the right one: common practice,
 * no source. */
static const struct {
    enum lamp_colour a;
    enum lamp_colour b;
    double suits;
} confusions[] = {
    {LAMP_COLOUR_RED, LAMP_COLOUR_ORANGE, 0.3},    {LAMP_COLOUR_ORANGE, LAMP_COLOUR_YELLOW, 0.3},
    {LAMP_COLOUR_YELLOW, LAMP_COLOUR_GREEN, 0.15}, {LAMP_COLOUR_BLUE, LAMP_COLOUR_PURPLE, 0.2},
    {LAMP_COLOUR_RED, LAMP_COLOUR_PURPLE, 0.1},    {LAMP_COLOUR_ORANGE, LAMP_COLOUR_GREEN, 0.02},
    {LAMP_COLOUR_GREEN, LAMP_COLOUR_BLUE, 0.02},   {LAMP_COLOUR_RED, LAMP_COLOUR_YELLOW, 0.02},
};

/* A saturated core is white, whatever the lamp. */
#define SUITS_WHITE 0.4

/* Any other two colours: more than any light makes up for. */
#define SUITS_NOT 1e-15

static const struct lamp_book_lamp *find_lamp(const struct lamp_book *book, const char *name)
{
    for (size_t i = 0; name != NULL && i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, name) == 0) {
            return &book->lamp[i];
        }
    }
    return NULL;
}

static double suit_colours(enum lamp_colour seen, enum lamp_colour wanted)
{
    if (seen == wanted || seen == LAMP_COLOUR_UNKNOWN || wanted == LAMP_COLOUR_UNKNOWN) {
        return 1;
    }
    if (seen == LAMP_COLOUR_WHITE || wanted == LAMP_COLOUR_WHITE) {
        return SUITS_WHITE;
    }
    for (size_t i = 0; i < sizeof confusions / sizeof confusions[0]; i++) {
        if ((confusions[i].a == seen && confusions[i].b == wanted) ||
            (confusions[i].b == seen && confusions[i].a == wanted)) {
            return confusions[i].suits;
        }
    }
    return SUITS_NOT;
}

enum lamp_colour lamp_suit_colour(const struct lamp_book *book, const struct lamp_code *code)
{
    const struct lamp_book_lamp *lamp = find_lamp(book, code->lamp);
    return lamp != NULL ? lamp->colour : LAMP_COLOUR_UNKNOWN;
}

double lamp_suit(const struct lamp_evidence *evidence, const struct lamp_book *book,
                 const struct lamp_code *code)
{
    if (find_lamp(book, evidence->lamp_name) !=
        NULL) { /* The user says which lamp it is: colours cannot gainsay it. */
        return code->lamp == NULL || strcmp(code->lamp, evidence->lamp_name) == 0 ? 1 : 0;
    }
    return suit_colours(evidence->colour, lamp_suit_colour(book, code));
}
