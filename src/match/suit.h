/* suit.h - Which entries may be meant: those of the lamp that is seen, by its name or its colour.
 */
#ifndef LAMP_MATCH_SUIT_H
#define LAMP_MATCH_SUIT_H

#include "lampread/match.h"

/** Below this the colours contradict each other. */
#define LAMP_SUIT_CONTRADICTS 0.05

/** The colour that the book gives to the lamp of `code`; UNKNOWN where it gives none. */
enum lamp_colour lamp_suit_colour(const struct lamp_book *book, const struct lamp_code *code);

/** How well `code` suits the lamp, before its light is weighed: 0 not at all, 1 fully. */
double lamp_suit(const struct lamp_evidence *evidence, const struct lamp_book *book,
                 const struct lamp_code *code);

#endif
