/* json_text.h - JSON written by hand, where a command tells a few plain things. */
#ifndef LAMP_CLI_JSON_TEXT_H
#define LAMP_CLI_JSON_TEXT_H

#include "base/text.h"

/** Add a string, quoted and escaped (RFC 8259, 7); control characters become spaces. */
void json_text_string(struct lamp_text *out, const char *string);

/** Add "name": "string", or "name": null where the string is empty. */
void json_text_member(struct lamp_text *out, const char *name, const char *string);

#endif
