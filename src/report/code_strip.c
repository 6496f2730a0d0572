/* code_strip.c - A codebook entry as one line of light, to scale. */
#include <assert.h>
#include <string.h>

#include "lampread/report.h"
#include "report/strip.h"

/* A strip shows what follows a rest, so the cycle is played once more than it is drawn. */
enum { CYCLES = 3, LENGTHS_MAX = CYCLES * LAMP_WAVE_MAX };

/* The cycle over and over, from its first flash on. */
static size_t play(const struct lamp_wave *wave, struct lamp_length *out)
{
    int64_t at_ns = 0;
    size_t count = CYCLES * wave->count;
    for (size_t i = 0; i < count; i++) {
        int64_t ns = wave->length_ns[i % wave->count];
        out[i] = (struct lamp_length){.start_ns = at_ns, .ns = ns, .lit = i % 2 == 0};
        at_ns += ns;
    }
    return count;
}

bool lamp_code_strip(const struct lamp_code *code, const struct lamp_text_rules *rules,
                     struct lamp_code_strip *out)
{
    struct lamp_length length[LENGTHS_MAX];
    struct lamp_rhythm rhythm = {.pattern = code->pattern, .timing = code->timing};
    const struct lamp_strip_rules drawing = {
        .columns = rules->width < LAMP_CODE_COLUMNS_MAX ? rules->width : LAMP_CODE_COLUMNS_MAX,
        .is_ascii = rules->is_ascii};
    struct lamp_strip strip;
    size_t count = play(&code->wave, length);
    if (code->pattern.kind == LAMP_PATTERN_BLINK) {
        rhythm.rate_hz = code->pattern.rate_hz;
    }
    if (count == 0 || !lamp_strip_draw(&drawing, length, count, &rhythm, &strip)) {
        return false;
    }
    assert(strlen(strip.light) < sizeof out->light && strlen(strip.marks) < sizeof out->marks);
    memcpy(out->light, strip.light, strlen(strip.light) + 1);
    memcpy(out->marks, strip.marks, strlen(strip.marks) + 1);
    out->span_ns = strip.span_ns;
    return true;
}
