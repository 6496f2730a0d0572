/* words.c - Verdicts, confidence and what is missing, in words for people. */
#include "report/words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "base/utf8.h"

/* Three figures are what a reading is good for; more would look surer than it is. */
static double three_figures(double value)
{
    double step = value != 0 ? pow(10, floor(log10(fabs(value))) - 2) : 1;
    return round(value / step) * step;
}

static void format_figures(double value, char *out, size_t size)
{
    lamp_number_format(three_figures(value), out, size);
}

void lamp_words_time(double seconds, char *out, size_t size)
{
    char number[32];
    if (seconds >= 120) {
        double minutes = floor(round(seconds) / 60);
        (void)snprintf(out, size, "%.0f min %.0f s", minutes, round(seconds) - 60 * minutes);
        return;
    }
    bool in_ms = seconds < 0.9995;
    format_figures(in_ms ? 1000 * seconds : seconds, number, sizeof number);
    (void)snprintf(out, size, "%s %s", number, in_ms ? "ms" : "s");
}

void lamp_words_percent(double share, char *out, size_t size)
{
    double percent = 100 * share;
    char number[32];
    if (percent > 99.9) {
        (void)snprintf(out, size, "over 99.9 %%");
    } else if (percent < 0.1) {
        (void)snprintf(out, size, "under 0.1 %%");
    } else {
        double step = percent > 99 || percent < 1 ? 10 : 1;
        lamp_number_format(floor(percent * step + 1e-9) / step, number, sizeof number);
        (void)snprintf(out, size, "%s %%", number);
    }
}

void lamp_words_ordinal(size_t number, char *out, size_t size)
{
    static const char *const endings[] = {"th", "st", "nd", "rd"};
    size_t last = number % 10;
    bool is_teen = number % 100 / 10 == 1;
    (void)snprintf(out, size, "%zu%s", number, endings[last > 3 || is_teen ? 0 : last]);
}

const char *lamp_words_confidence(double confidence)
{
    if (confidence >= 0.99) {
        return "sure";
    }
    if (confidence >= 0.9) {
        return "quite sure";
    }
    return confidence >= 0.7 ? "likely" : "not sure";
}

const char *lamp_words_lack(enum lamp_lack lack)
{
    switch (lack) {
    case LAMP_LACK_NOTHING: break;
    case LAMP_LACK_LENGTH:
        return "the recording is too short: no repeat was seen whole; film the lamp for longer";
    case LAMP_LACK_REPEAT: return "one more repeat is missing; film the lamp for longer";
    case LAMP_LACK_LIGHT:
        return "the lamp is too faint against the noise; film from nearer, with less room light, "
               "focus held";
    case LAMP_LACK_RATE:
        return "the lamp changes too fast for this frame rate; film at a higher rate (slow motion)";
    case LAMP_LACK_AGREEMENT:
        return "the repeats differ from one another; film more of them, camera at rest, no hand in "
               "the way";
    case LAMP_LACK_FRAMES:
        return "frames are missing at the same place of every repeat, where a flash would hide; "
               "film again, another camera if need be";
    case LAMP_LACK_DISTINCTION:
        return "several entries fit equally well; look at what sets their meanings apart";
    }
    return "";
}

void lamp_words_pattern(const struct lamp_pattern *pattern, char out[LAMP_NOTATION_MAX])
{
    struct lamp_pattern rounded = *pattern;
    if (pattern->kind == LAMP_PATTERN_BLINK) {
        rounded.rate_hz = three_figures(pattern->rate_hz);
        rounded.duty = round(100 * pattern->duty) / 100;
    }
    lamp_pattern_format(&rounded, out);
}

static void add_blink(const struct lamp_rhythm *rhythm, struct lamp_text *out)
{
    char rate[32];
    char duty[32];
    format_figures(rhythm->rate_hz, rate, sizeof rate);
    (void)snprintf(duty, sizeof duty, "%.0f", 100 * rhythm->duty);
    lamp_text_add(out, "blinks at %s Hz, lit %s %% of the time", rate, duty);
}

static void add_fade(const struct lamp_report_lamp *lamp, struct lamp_text *out)
{
    char period[32];
    lamp_text_add(out, "swells and fades");
    if (lamp->shape.period_s > 0) {
        lamp_words_time(lamp->shape.period_s, period, sizeof period);
        lamp_text_add(out, " every %s", period);
    }
    lamp_text_add(out, ", not read as flashes");
}

void lamp_words_verdict(const struct lamp_report_lamp *lamp, struct lamp_text *out)
{
    char notation[LAMP_NOTATION_MAX];
    lamp_words_pattern(&lamp->rhythm.pattern, notation);
    switch (lamp->match.verdict) {
    case LAMP_VERDICT_STEADY_ON: lamp_text_add(out, "lit throughout"); break;
    case LAMP_VERDICT_STEADY_OFF: lamp_text_add(out, "dark throughout"); break;
    case LAMP_VERDICT_BLINK: add_blink(&lamp->rhythm, out); break;
    case LAMP_VERDICT_CODE: lamp_text_add(out, "code %s", notation); break;
    case LAMP_VERDICT_UNLISTED: lamp_text_add(out, "repeats %s", notation); break;
    case LAMP_VERDICT_FLICKER: lamp_text_add(out, "flickers irregularly, not a code"); break;
    case LAMP_VERDICT_FADE: add_fade(lamp, out); break;
    case LAMP_VERDICT_UNDECIDED:
        lamp_text_add(out, "undecided");
        if (notation[0] != '\0') {
            lamp_text_add(out, ", perhaps %s", notation);
        }
        break;
    }
}

void lamp_words_plain(const char *text, struct lamp_text *out)
{
    size_t left = strlen(text);
    while (left > 0) {
        uint32_t character;
        size_t size = lamp_utf8_read(text, left, &character);
        if (size == 0 || lamp_utf8_is_control(character)) {
            lamp_text_add(out, "?");
        } else {
            lamp_text_add(out, "%.*s", (int)size, text);
        }
        text += size > 0 ? size : 1;
        left -= size > 0 ? size : 1;
    }
}
