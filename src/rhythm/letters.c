/* letters.c - Groups that may be Morse: whether the lengths are in its ratios.
 *
 * ITU-R M.1677-1, Annex 1, part I, section 2: a dash is three dots, the space inside a letter one
 * dot, between letters three, between words seven. Senders and lamps depart from it, the spaces
 * most (Farnsworth), so the ratios are asked for loosely; the letters themselves have to be exact.
 */
#include "rhythm/letters.h"

#include <math.h>
#include <string.h>

static bool is_between(double log_ratio, double least, double most)
{
    return log_ratio >= log(least) && log_ratio <= log(most);
}

static bool are_flashes_morse(const struct lamp_row *row, const struct lamp_timing *timing)
{
    double gap = row->dark.mean[0];
    double first = row->lit.mean[0] - gap;
    if (row->lit.count == 2) {
        return is_between(first, 0.5, 2) && is_between(row->lit.mean[1] - row->lit.mean[0], 2, 4.5);
    }
    return timing->long_ns > 0 ? is_between(first, 1.9, 4.5) : is_between(first, 0.5, 1.9);
}

void lamp_letters_read(const struct lamp_row *row, struct lamp_rhythm *rhythm)
{
    bool has_groups = rhythm->pattern.kind == LAMP_PATTERN_GROUPS && row->dark.count >= 2;
    if (!has_groups || !are_flashes_morse(row, &rhythm->timing) ||
        !is_between(row->dark.mean[1] - row->dark.mean[0], 2, 30)) {
        return;
    }
    char text[LAMP_MORSE_MAX];
    if (lamp_morse_read(&rhythm->pattern, rhythm->word_gaps, text)) {
        memcpy(rhythm->morse, text, sizeof text);
    }
}
