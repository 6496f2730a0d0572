/* entry.c - A codebook entry for a rhythm that no book knows, ready to paste. */
#include "report/entry.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"

enum { ID_MAX = 48 };

static char id_character(char byte)
{
    static const char from[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789";
    static const char to[] = "abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz0123456789";
    const char *at = strchr(from, byte);
    if (at == NULL) {
        return '-';
    }
    return to[at - from];
}

/* The notation as an id: lower case, all else to single dashes, none at the ends. */
static void make_id(const char *notation, char out[ID_MAX])
{
    size_t used = 0;
    for (const char *at = notation; *at != '\0' && used < ID_MAX - 1; at++) {
        char made = id_character(*at);
        if (made != '-' || (used > 0 && out[used - 1] != '-')) {
            out[used++] = made;
        }
    }
    used -= used > 0 && out[used - 1] == '-';
    out[used] = '\0';
}

/* Two figures: an entry says what is meant, not what one recording measured. */
static int64_t rounded_ns(int64_t ns)
{
    double step = pow(10, floor(log10((double)ns)) - 1);
    return (int64_t)(round((double)ns / step) * step);
}

static void add_timing(const struct lamp_timing *timing, struct lamp_text *out)
{
    const struct {
        const char *name;
        int64_t ns;
    } lengths[] = {{"short", timing->short_ns},
                   {"long", timing->long_ns},
                   {"gap", timing->gap_ns},
                   {"pause", timing->pause_ns},
                   {"rest", timing->rest_ns}};
    const char *parting = "";
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
        if (lengths[i].ns > 0) {
            char text[32];
            lamp_duration_format(rounded_ns(lengths[i].ns), text, sizeof text);
            lamp_text_add(out, "%s%s: %s", parting, lengths[i].name, text);
            parting = ", ";
        }
    }
}

/* A book refuses lamps that it does not name; only a lamp that the nearest book knows is written.
 */
static bool is_known(const struct lamp_report_lamp *lamp)
{
    if (lamp->match.candidate_count == 0) {
        return false;
    }
    const struct lamp_book *book = lamp->match.candidate[0].book;
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, lamp->name) == 0) {
            return true;
        }
    }
    return false;
}

void lamp_entry_write(const struct lamp_report_lamp *lamp, int indent, struct lamp_text *out)
{
    char notation[LAMP_NOTATION_MAX];
    char id[ID_MAX];
    lamp_pattern_format(&lamp->rhythm.pattern, notation);
    make_id(notation, id);
    lamp_text_add(out, "%*s- id: seen-%s\n", indent, "", id);
    if (is_known(lamp)) {
        lamp_text_add(out, "%*s  lamp: %s\n", indent, "", lamp->name);
    }
    lamp_text_add(out, "%*s  pattern: \"%s\"\n", indent, "", notation);
    if (lamp->rhythm.pattern.kind == LAMP_PATTERN_GROUPS) {
        lamp_text_add(out, "%*s  timing: {", indent, "");
        add_timing(&lamp->rhythm.timing, out);
        lamp_text_add(out, "}\n");
    }
    lamp_text_add(out, "%*s  means: not known yet\n", indent, "");
}
