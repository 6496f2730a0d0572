/* morse.c - Morse as light, read back as text: the Recommendation's characters and timings, and
 * libcw's. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifdef LAMP_HAS_LIBCW
#include <libcw.h>
#endif

#include "support/acc_read.h"

/* ITU-R M.1677-1 (10/2009) Annex 1, 1.1, read in a restatement (R). */
static const struct {
    const char *text;
    const char *code;
} characters[] = {
    {"A", ".-"},     {"B", "-..."},         {"C", "-.-."},   {"D", "-.."},    {"E", "."},
    {"F", "..-."},   {"G", "--."},          {"H", "...."},   {"I", ".."},     {"J", ".---"},
    {"K", "-.-"},    {"L", ".-.."},         {"M", "--"},     {"N", "-."},     {"O", "---"},
    {"P", ".--."},   {"Q", "--.-"},         {"R", ".-."},    {"S", "..."},    {"T", "-"},
    {"U", "..-"},    {"V", "...-"},         {"W", ".--"},    {"X", "-..-"},   {"Y", "-.--"},
    {"Z", "--.."},   {"\xc3\x89", "..-.."}, {"1", ".----"},  {"2", "..---"},  {"3", "...--"},
    {"4", "....-"},  {"5", "....."},        {"6", "-...."},  {"7", "--..."},  {"8", "---.."},
    {"9", "----."},  {"0", "-----"},        {".", ".-.-.-"}, {",", "--..--"}, {":", "---..."},
    {"?", "..--.."}, {"'", ".----."},       {"-", "-....-"}, {"/", "-..-."},  {"(", "-.--."},
    {")", "-.--.-"}, {"\"", ".-..-."},      {"=", "-...-"},  {"+", ".-.-."},  {"@", ".--.-."},
};
enum { CHARACTERS = sizeof characters / sizeof *characters };

/* Lengths of one way of sending, ms. */
struct timing {
    double dot_ms;
    double dash_ms;
    double gap_ms;    /* inside a letter */
    double letter_ms; /* between letters */
    double word_ms;   /* between words */
    double rest_ms;   /* before the text begins again */
};

/* QEX, April 1990, as ITU-R M.1677-1 units and added delays: character speed, overall speed in
 * words a minute (R). */
static const struct {
    const char *speeds;
    struct timing timing;
} farnsworth[] = {
    {"13/5", {92.308, 276.923, 92.308, 1442.915, 3366.802, 3366.802}},
    {"18/5", {66.667, 200, 66.667, 1568.421, 3659.649, 3659.649}},
    {"15/10", {80, 240, 80, 555.789, 1296.842, 1296.842}},
    {"20/10", {60, 180, 60, 653.684, 1525.263, 1525.263}},
    {"18/18", {66.667, 200, 66.667, 200, 466.667, 466.667}},
};

struct score {
    int read;
    int faults;
};

static const char *code_of(const char *letter, size_t *size)
{
    for (size_t i = 0; i < CHARACTERS; i++) {
        *size = strlen(characters[i].text);
        if (strncmp(letter, characters[i].text, *size) == 0) {
            return characters[i].code;
        }
    }
    *size = 1;
    return NULL;
}

static void add(struct lamp_wave *wave, double ms)
{
    wave->length_ns[wave->count++] = (int64_t)(ms * 1e6);
}

static void add_letter(struct lamp_wave *wave, const char *code, const struct timing *timing)
{
    for (size_t i = 0; code[i] != '\0'; i++) {
        if (i > 0) {
            add(wave, timing->gap_ms);
        }
        add(wave, code[i] == '.' ? timing->dot_ms : timing->dash_ms);
    }
}

/* One sending of `text`; `code` finds the dots and dashes of a letter. */
static struct lamp_wave send(const char *text, const struct timing *timing,
                             const char *(*code)(const char *letter, size_t *size))
{
    struct lamp_wave wave = {.count = 0};
    double dark_ms = 0;
    for (size_t size; *text != '\0'; text += size) {
        const char *letter = code(text, &size);
        if (letter == NULL) {
            dark_ms = timing->word_ms;
            continue;
        }
        if (dark_ms > 0) {
            add(&wave, dark_ms);
        }
        add_letter(&wave, letter, timing);
        dark_ms = timing->letter_ms;
    }
    add(&wave, timing->rest_ms);
    return wave;
}

static struct lamp_script *make_script(const struct lamp_wave *wave)
{
    struct lamp_script_rules rules = lamp_script_rules_default();
    struct lamp_script *script = NULL;
    struct lamp_error error = {.place = ""};
    double sum_ns = 0;
    for (size_t i = 0; i < wave->count; i++) {
        sum_ns += (double)wave->length_ns[i];
    }
    rules.kind = LAMP_SCRIPT_WAVE;
    rules.wave = *wave;
    rules.start_phase = 0.6;
    rules.duration_ns = (int64_t)(4.2 * sum_ns);
    acc_must(lamp_script_new(&rules, &script, &error), &error);
    return script;
}

/* @param rate_hz  of a camera that exposes half of the time; 0: edges from a pin. */
static void check(const char *text, const struct lamp_wave *wave, double rate_hz,
                  struct score *score, const char *what)
{
    const struct lamp_reader_rules rules = lamp_reader_rules_default();
    struct lamp_script *script = make_script(wave);
    struct lamp_tracer_rules tracer = lamp_tracer_rules_default();
    struct acc_reading reading;
    if (rate_hz > 0) {
        tracer.shutter.rate_hz = rate_hz;
        tracer.shutter.exposure_ns = (int64_t)(0.5e9 / rate_hz);
        tracer.shutter.duration_ns = lamp_script_duration_ns(script);
        tracer.tells_exposure = false;
        reading = acc_read_trace(&rules, &tracer, script);
    } else {
        reading = acc_read_edges(&rules, script, 1);
    }
    const bool has_lamp = reading.report->lamp_count == 1;
    const char *told = has_lamp ? reading.report->lamp[0].rhythm.morse : "no lamp";
    score->read++;
    if (strcmp(told, text) != 0) {
        score->faults++;
        printf("  ! %s, %s: sent %s, read '%s' (%s)\n", what, rate_hz > 0 ? "camera" : "pin", text,
               told, has_lamp ? lamp_verdict_name(reading.report->lamp[0].match.verdict) : "");
    }
    acc_reading_fini(&reading);
    lamp_script_free(script);
}

/* A letter alone may have flashes of one length only, which could be dots or dashes: N stands on
 * both sides. */
static void check_characters(struct score *score)
{
    const struct timing timing = {80, 240, 80, 240, 560, 1600};
    for (size_t i = 0; i < CHARACTERS; i++) {
        char text[16];
        (void)snprintf(text, sizeof text, "N%sN", characters[i].text);
        const struct lamp_wave wave = send(text, &timing, code_of);
        check(text, &wave, 0, score, "character");
        check(text, &wave, 60, score, "character");
    }
}

static void check_farnsworth(struct score *score)
{
    for (size_t i = 0; i < sizeof farnsworth / sizeof *farnsworth; i++) {
        const struct lamp_wave wave = send("PARIS", &farnsworth[i].timing, code_of);
        check("PARIS", &wave, 0, score, farnsworth[i].speeds);
        check("PARIS", &wave, 60, score, farnsworth[i].speeds);
    }
}

#ifdef LAMP_HAS_LIBCW
/* libcw makes the dots and dashes too. */
static const char *code_by_libcw(const char *letter, size_t *size)
{
    static char code[2][32];
    static unsigned turn;
    *size = 1;
    char *made = *letter == ' ' ? NULL : cw_character_to_representation(*letter);
    if (made == NULL) {
        return NULL;
    }
    char *kept = code[turn++ % 2];
    (void)snprintf(kept, sizeof code[0], "%s", made);
    free(made);
    return kept;
}

/* What libcw keeps dark after a letter comes on top of what it keeps after each element. */
static struct timing timing_by_libcw(int words_a_minute, int added_gap)
{
    int dot, dash, element, letter, word, more, adjust;
    (void)cw_set_send_speed(words_a_minute);
    (void)cw_set_gap(added_gap);
    cw_get_send_parameters(&dot, &dash, &element, &letter, &word, &more, &adjust);
    struct timing timing = {.dot_ms = dot / 1e3, .dash_ms = dash / 1e3, .gap_ms = element / 1e3};
    timing.letter_ms = timing.gap_ms + (letter + more) / 1e3;
    timing.word_ms = timing.letter_ms + (word + adjust) / 1e3;
    timing.rest_ms = 3 * timing.word_ms;
    return timing;
}

static void check_libcw(struct score *score)
{
    static const char *const texts[] = {"SOS", "PARIS", "CQ DE N0CALL", "QRN? 73", "FAULT 12/AB"};
    static const struct {
        int words_a_minute;
        int added_gap;
        double rate_hz;
    } sent[] = {{5, 0, 30},  {8, 0, 30},   {12, 0, 30}, {12, 3, 60},
                {20, 0, 60}, {25, 6, 120}, {40, 0, 240}};
    if (cw_generator_new(CW_AUDIO_NULL, NULL) != CW_SUCCESS) {
        printf("skipped: libcw makes no generator\n");
        return;
    }
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        for (size_t j = 0; j < sizeof sent / sizeof *sent; j++) {
            char what[64];
            const struct timing timing = timing_by_libcw(sent[j].words_a_minute, sent[j].added_gap);
            const struct lamp_wave wave = send(texts[i], &timing, code_by_libcw);
            (void)snprintf(what, sizeof what, "libcw at %d words a minute, gap %d",
                           sent[j].words_a_minute, sent[j].added_gap);
            check(texts[i], &wave, 0, score, what);
            check(texts[i], &wave, sent[j].rate_hz, score, what);
        }
    }
    cw_generator_delete();
}
#else
static void check_libcw(struct score *score)
{
    (void)score;
    printf("skipped: libcw is not installed, so no Morse of another maker was read\n");
}
#endif

static void tell(const char *what, const struct score *score)
{
    printf("%-70s %3d read, %d faults\n", what, score->read, score->faults);
}

int main(void)
{
    struct score characters_score = {.read = 0};
    struct score farnsworth_score = {.read = 0};
    struct score libcw_score = {.read = 0};
    check_characters(&characters_score);
    tell("characters of ITU-R M.1677-1 Annex 1 (R), from a pin and at 60 Hz", &characters_score);
    check_farnsworth(&farnsworth_score);
    tell("PARIS with the delays of QEX, April 1990 (R), from a pin and at 60 Hz",
         &farnsworth_score);
    check_libcw(&libcw_score);
    tell("texts and timing by libcw, from a pin and by a camera", &libcw_score);
    const int faults = characters_score.faults + farnsworth_score.faults + libcw_score.faults;
    return characters_score.read == 2 * CHARACTERS && faults == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
