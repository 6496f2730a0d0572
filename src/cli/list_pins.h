/* list_pins.h - The GPIO lines of this machine for lampread sources, or what is missing. */
#ifndef LAMP_CLI_LIST_PINS_H
#define LAMP_CLI_LIST_PINS_H

#include <stdbool.h>

#include "base/text.h"
#include "lampread/error.h"

/**
 * Tell the chips and their lines.
 * @param text   for people, whole lines; what is missing stands in it too.
 * @param json   members of an object: "chips" and "chips_missing".
 * @param found  set where a line can be read; else left as it is.
 * @return LAMP_OK, LAMP_FULL, LAMP_NO_MEMORY.
 */
enum lamp_err list_pins(struct lamp_text *text, struct lamp_text *json, bool *found);

#endif
