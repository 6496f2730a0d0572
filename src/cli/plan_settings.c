/* plan_settings.c - Options of lampread render that are one quantity each, as a table. */
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "cli/plan.h"

/* How a value is written, and into what it goes. */
enum kind {
    KIND_SHARE,    /* "4 %" to a double, 0.04 */
    KIND_DOUBLE,   /* "30" or "30 Hz" to a double */
    KIND_INT,      /* "8" to an int */
    KIND_DURATION, /* "10 ms" to int64_t ns */
    KIND_SWITCH    /* given or not, to a bool */
};

struct setting {
    const char *option;
    enum kind kind;
    const char *unit; /* May be left out, other than that of a share. */
    double least;
    double most;
    size_t at; /* In struct plan. */
};

#define AT(field) offsetof(struct plan, field)

static const struct setting settings[] = {
    {"for", KIND_DURATION, "", 0.05, 3600, AT(rules.scene.shutter.duration_ns)},
    {"rate", KIND_DOUBLE, "Hz", 1, 1000, AT(rules.scene.shutter.rate_hz)},
    {"exposure", KIND_DURATION, "", 1e-5, 10, AT(rules.scene.shutter.exposure_ns)},
    {"readout", KIND_DURATION, "", 0, 1, AT(rules.scene.readout_ns)},
    {"drop", KIND_SHARE, "%", 0, 0.9, AT(rules.scene.shutter.drop_share)},
    {"late", KIND_SHARE, "%", 0, 1, AT(rules.scene.shutter.late_share)},
    {"sway", KIND_SHARE, "%", 0, 0.9, AT(rules.scene.shutter.sway)},
    {"ambient", KIND_SHARE, "%", 0, 1, AT(rules.scene.ambient)},
    {"shadow", KIND_SHARE, "%", 0, 1, AT(rules.scene.shadow)},
    {"hand", KIND_SWITCH, "", 0, 0, AT(rules.scene.has_hand)},
    {"bloom", KIND_DOUBLE, "", 0, 4, AT(rules.scene.bloom)},
    {"shake", KIND_DOUBLE, "px", 0, 40, AT(rules.scene.shake_px)},
    {"drift", KIND_DOUBLE, "px/s", 0, 1000, AT(rules.scene.drift_px_s)},
    {"auto-exposure", KIND_SHARE, "%", 0, 1, AT(rules.scene.auto_exposure)},
    {"warmth", KIND_SHARE, "%", -1, 1, AT(rules.scene.warmth)},
    {"bits", KIND_INT, "", 8, 10, AT(rules.scene.bits)},
    {"quality", KIND_INT, "", 0, 100, AT(rules.quality)},
    {"rotation", KIND_INT, "deg", 0, 270, AT(rules.rotation_deg)},
    {"any-flash", KIND_SWITCH, "", 0, 0, AT(rules.any_flash)},
    {"brightness", KIND_DOUBLE, "", 0, 1000, AT(every.brightness)},
    {"start-phase", KIND_SHARE, "%", 0, 0.999, AT(every.script.start_phase)},
    {"jitter", KIND_SHARE, "%", 0, 0.3, AT(every.script.jitter)},
};

const struct option_rule plan_options[PLAN_OPTIONS] = {
    {.name = "output",
     .letter = 'o',
     .value = "FILE",
     .help = "what to write; a folder of stills ends in /"},
    {.name = "lamp",
     .letter = 'l',
     .value = "[NAME=]COLOUR@X,Y[,SIZE]",
     .help = "where a lamp is; the first for the first WHAT",
     .repeats = true},
    {.name = "timing",
     .value = "CLASS=LENGTH",
     .help = "length of short, long, gap, pause or rest",
     .repeats = true},
    {.name = "for", .letter = 'f', .value = "LENGTH", .help = "how long; 12 s"},
    {.name = "seed",
     .value = "NUMBER",
     .help = "board, noise and movement; the same seed gives the same file; 1"},
    {.name = "speed", .value = "PERCENT", .help = "how fast the lamps' clock runs; 100 %"},
    {.name = "start-phase", .value = "PERCENT", .help = "where in its cycle the light begins; 0 %"},
    {.name = "jitter", .value = "PERCENT", .help = "sd of each length of the light; 0 %"},
    {.name = "brightness",
     .value = "TIMES",
     .help = "light of a lamp's core, in times of white; 8"},
    {.name = "bloom", .value = "TIMES", .help = "light that the lens spreads; 1"},
    {.name = "ambient", .value = "PERCENT", .help = "mean light of the board; 9 %"},
    {.name = "ripple",
     .value = "RATE[,PERCENT]",
     .help = "ripple of the room light, 100Hz,20%; none"},
    {.name = "shadow", .value = "PERCENT", .help = "light that a passing shadow takes; 0 %"},
    {.name = "hand", .help = "a hand moves in a corner of the picture"},
    {.name = "size", .letter = 's', .value = "WxH", .help = "of the picture; 640x360"},
    {.name = "rate", .letter = 'r', .value = "RATE", .help = "frames a second; 30 Hz"},
    {.name = "exposure", .value = "LENGTH", .help = "of each frame; 10 ms"},
    {.name = "readout", .value = "LENGTH", .help = "rolling shutter, first row to last; 20 ms"},
    {.name = "auto-exposure", .value = "PERCENT", .help = "how far brightness is evened out; 0 %"},
    {.name = "warmth",
     .value = "PERCENT",
     .help = "white balance off by this, -100 % to 100 %; 0 %"},
    {.name = "noise", .value = "TIMES", .help = "noise of the camera, in times of a phone's; 1"},
    {.name = "shake", .value = "PX", .help = "sd of a hand-held camera's movement; 0"},
    {.name = "drift", .value = "PX/S", .help = "slow movement of the camera; 0"},
    {.name = "drop", .value = "PERCENT", .help = "frames that are lost; 0 %"},
    {.name = "late", .value = "PERCENT", .help = "frames that are taken late; 0 %"},
    {.name = "sway", .value = "PERCENT", .help = "variable frame rate; 0 %"},
    {.name = "codec",
     .letter = 'c',
     .value = "NAME",
     .offers = "h264 hevc vp9 av1 mjpeg png pgm",
     .help = "h264, hevc, vp9, av1, mjpeg, png or pgm"},
    {.name = "quality", .letter = 'q', .value = "NUMBER", .help = "0 is small, 100 is clean; 70"},
    {.name = "bits", .value = "8|10", .help = "of each sample; 8"},
    {.name = "rotation",
     .value = "DEGREES",
     .help = "clockwise turn that players are asked for; 0"},
    {.name = "any-flash", .help = "write what breaks the flash limits: it can harm people"},
};

static enum lamp_err refuse(const char *option, const char *text, const char *expected,
                            struct lamp_error *error)
{
    char place[64];
    (void)snprintf(place, sizeof place, "--%s", option);
    return lamp_fail(error, LAMP_BAD_USE, place, "'%s' is not %s", text, expected);
}

/* A number with its unit at `text`. @return bytes read, 0 if it is none. */
static size_t read_quantity(const char *text, const char *unit, bool wants_unit, double *out)
{
    size_t used = lamp_number_read(text, out);
    if (used == 0) {
        return 0;
    }
    const size_t blank = strspn(text + used, " ");
    const size_t length = strlen(unit);
    if (length > 0 && strncmp(text + used + blank, unit, length) == 0) {
        return used + blank + length;
    }
    return wants_unit ? 0 : used;
}

static bool parse_number(const struct setting *setting, const char *text, double *out)
{
    const bool is_share = setting->kind == KIND_SHARE;
    const size_t used = read_quantity(text, setting->unit, is_share, out);
    *out *= is_share ? 0.01 : 1;
    return used > 0 && text[used] == '\0';
}

/* Lengths of 0 are none, and none of "0" has a unit that matters. */
static bool parse_duration(const char *text, int64_t *out_ns, double *out_s)
{
    double number;
    if (lamp_number_read(text, &number) > 0 && number == 0) {
        *out_ns = 0;
    } else if (!lamp_duration_parse(text, out_ns)) {
        return false;
    }
    *out_s = (double)*out_ns / LAMP_NS_PER_S;
    return true;
}

static void describe(const struct setting *setting, char *out, size_t size)
{
    const double times = setting->kind == KIND_SHARE ? 100 : 1;
    char least[32];
    char most[32];
    lamp_number_format(setting->least * times, least, sizeof least);
    lamp_number_format(setting->most * times, most, sizeof most);
    const char *unit = setting->kind == KIND_DURATION ? "s" : setting->unit;
    const char *blank = unit[0] != '\0' ? " " : "";
    (void)snprintf(out, size, "%s from %s%s%s to %s%s%s",
                   setting->kind == KIND_DURATION ? "a length with its unit"
                   : setting->kind == KIND_INT    ? "a whole number"
                   : setting->kind == KIND_SHARE  ? "a share with its %"
                                                  : "a number",
                   least, blank, unit, most, blank, unit);
}

static enum lamp_err set(const struct setting *setting, const char *text, struct plan *plan,
                         struct lamp_error *error)
{
    unsigned char *field = (unsigned char *)plan + setting->at;
    if (setting->kind == KIND_SWITCH) {
        *(bool *)(void *)field = true;
        return LAMP_OK;
    }
    double value = 0;
    int64_t ns = 0;
    const bool is_duration = setting->kind == KIND_DURATION;
    const bool is_read =
        is_duration ? parse_duration(text, &ns, &value) : parse_number(setting, text, &value);
    const bool is_whole = setting->kind != KIND_INT || value == (double)(int)value;
    if (!is_read || !(value >= setting->least && value <= setting->most) || !is_whole) {
        char expected[128];
        describe(setting, expected, sizeof expected);
        return refuse(setting->option, text, expected, error);
    }
    if (is_duration) {
        *(int64_t *)(void *)field = ns;
    } else if (setting->kind == KIND_INT) {
        *(int *)(void *)field = (int)value;
    } else {
        *(double *)(void *)field = value;
    }
    return LAMP_OK;
}

static enum lamp_err set_size(struct plan *plan, const char *text, struct lamp_error *error)
{
    double sides[2];
    size_t used = lamp_number_read(text, &sides[0]);
    const char *rest = text + used;
    const bool is_read = used > 0 && *rest == 'x' && lamp_number_parse(rest + 1, &sides[1]);
    for (int i = 0; i < 2; i++) {
        if (!is_read || !(sides[i] >= 16 && sides[i] <= LAMP_SCENE_SIDE_MAX) ||
            (int)sides[i] % 2 != 0 || sides[i] != (double)(int)sides[i]) {
            return refuse("size", text, "WxH in even pixels from 16 to 8192", error);
        }
    }
    plan->rules.scene.width_px = (int)sides[0];
    plan->rules.scene.height_px = (int)sides[1];
    return LAMP_OK;
}

static enum lamp_err set_ripple(struct plan *plan, const char *text, struct lamp_error *error)
{
    double rate_hz;
    double percent = 20;
    size_t used = read_quantity(text, "Hz", true, &rate_hz);
    const char *rest = text + used;
    if (used > 0 && *rest == ',') {
        used = read_quantity(rest + 1, "%", true, &percent);
        rest += 1 + used;
    }
    if (used == 0 || *rest != '\0' || !(rate_hz >= 1 && rate_hz <= 10000) ||
        !(percent >= 0 && percent <= 100)) {
        return refuse("ripple", text, "a rate and a share such as 100Hz,20%", error);
    }
    plan->rules.scene.ripple_hz = rate_hz;
    plan->rules.scene.ripple = percent / 100;
    return LAMP_OK;
}

static enum lamp_err set_noise(struct plan *plan, const char *text, struct lamp_error *error)
{
    double times;
    if (!lamp_number_parse(text, &times) || !(times >= 0 && times <= 50)) {
        return refuse("noise", text, "a number from 0 to 50", error);
    }
    plan->rules.scene.read_noise *= times;
    plan->rules.scene.shot_noise *= times;
    return LAMP_OK;
}

static enum lamp_err set_speed(struct plan *plan, const char *text, struct lamp_error *error)
{
    double percent;
    const size_t used = read_quantity(text, "%", true, &percent);
    if (used == 0 || text[used] != '\0' || !(percent >= 10 && percent <= 1000)) {
        return refuse("speed", text, "a share with its % from 10 % to 1000 %", error);
    }
    plan->every.script.scale = 100 / percent;
    return LAMP_OK;
}

static enum lamp_err set_seed(struct plan *plan, const char *text, struct lamp_error *error)
{
    double seed;
    if (!lamp_number_parse(text, &seed) || !(seed >= 0 && seed <= 1e15) ||
        seed != (double)(uint64_t)seed) {
        return refuse("seed", text, "a whole number from 0 to 1e15", error);
    }
    plan->rules.scene.seed = (uint64_t)seed;
    plan->rules.scene.shutter.seed = (uint64_t)seed;
    plan->every.script.seed = (uint64_t)seed * LAMP_SCENE_LAMPS_MAX;
    return LAMP_OK;
}

static enum lamp_err set_codec(struct plan *plan, const char *text, struct lamp_error *error)
{
    (void)error;
    plan->rules.codec = text;
    return LAMP_OK;
}

static enum lamp_err set_timing(struct plan *plan, const char *text, struct lamp_error *error)
{
    const struct {
        const char *name;
        int64_t *ns;
    } classes[] = {{"short", &plan->timing.short_ns},
                   {"long", &plan->timing.long_ns},
                   {"gap", &plan->timing.gap_ns},
                   {"pause", &plan->timing.pause_ns},
                   {"rest", &plan->timing.rest_ns}};
    const size_t length = strcspn(text, "=");
    for (size_t i = 0; text[length] == '=' && i < sizeof classes / sizeof classes[0]; i++) {
        if (strlen(classes[i].name) == length && strncmp(text, classes[i].name, length) == 0 &&
            lamp_duration_parse(text + length + 1, classes[i].ns)) {
            return LAMP_OK;
        }
    }
    return refuse("timing", text,
                  "short, long, gap, pause or rest with a length, such as short=150ms", error);
}

enum lamp_err plan_settings(struct plan *plan, const struct arguments *arguments,
                            struct lamp_error *error)
{
    static const struct {
        const char *option;
        enum lamp_err (*set)(struct plan *, const char *, struct lamp_error *);
    } others[] = {{"size", set_size},    {"ripple", set_ripple}, {"noise", set_noise},
                  {"speed", set_speed},  {"seed", set_seed},     {"codec", set_codec},
                  {"timing", set_timing}};
    enum lamp_err err = LAMP_OK;
    for (size_t i = 0; err == LAMP_OK && i < sizeof settings / sizeof settings[0]; i++) {
        if (options_has(arguments, settings[i].option)) {
            err = set(&settings[i], options_value(arguments, settings[i].option), plan, error);
        }
    }
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        for (size_t k = 0; err == LAMP_OK && k < options_count(arguments, others[i].option); k++) {
            err = others[i].set(plan, options_each(arguments, others[i].option, k), error);
        }
    }
    return err;
}
