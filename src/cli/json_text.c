/* json_text.c - JSON written by hand, where a command tells a few plain things. */
#include "cli/json_text.h"

void json_text_string(struct lamp_text *out, const char *string)
{
    lamp_text_add(out, "\"");
    for (const char *at = string; *at != '\0'; at++) {
        const char *escape = *at == '"' || *at == '\\' ? "\\" : "";
        lamp_text_add(out, "%s%c", escape, (unsigned char)*at < ' ' ? ' ' : *at);
    }
    lamp_text_add(out, "\"");
}

void json_text_member(struct lamp_text *out, const char *name, const char *string)
{
    lamp_text_add(out, "\"%s\": ", name);
    if (string[0] == '\0') {
        lamp_text_add(out, "null");
    } else {
        json_text_string(out, string);
    }
}
