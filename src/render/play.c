/* play.c - A pattern in codebook notation as a script. */
#include "base/fail.h"
#include "lampread/render.h"

enum lamp_err lamp_script_rules_play(const struct lamp_pattern *pattern,
                                     const struct lamp_timing *timing,
                                     struct lamp_script_rules *rules, struct lamp_error *error)
{
    struct lamp_wave wave;
    switch (pattern->kind) {
    case LAMP_PATTERN_NONE:
        return lamp_fail(error, LAMP_BAD_USE, "pattern", "there is none to play");
    case LAMP_PATTERN_STEADY_ON: rules->kind = LAMP_SCRIPT_STEADY_ON; return LAMP_OK;
    case LAMP_PATTERN_STEADY_OFF: rules->kind = LAMP_SCRIPT_STEADY_OFF; return LAMP_OK;
    case LAMP_PATTERN_FLICKER: rules->kind = LAMP_SCRIPT_FLICKER; return LAMP_OK;
    case LAMP_PATTERN_GROUPS:
    case LAMP_PATTERN_EXACT:
    case LAMP_PATTERN_BLINK:
    case LAMP_PATTERN_MORSE: break;
    }
    enum lamp_err err = lamp_pattern_play(pattern, timing, &wave, error);
    if (err == LAMP_BAD_BOOK) {
        return LAMP_BAD_USE;
    }
    if (err == LAMP_OK) {
        rules->kind = LAMP_SCRIPT_WAVE;
        rules->wave = wave;
    }
    return err;
}
