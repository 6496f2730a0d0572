/* vcd.c - Edges from a four-state VCD file (IEEE 1364-2005, clause 18).
 *
 *   #0 0!  --->  known, dark        edge with sd 0: the value it begins with
 *   #5 1!  --->  edge, lit          sd of a time rounded to one step: step / sqrt(12)
 *   #8 x!  --->  not known          no edge
 *   #9 0!  --->  edge, dark         sd of a time anywhere since #8; known anew, with sd 0, after
 *                                   an x that may hide a flash
 */
#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "base/fail.h"
#include "source/form.h"
#include "source/tokens.h"
#include "source/vcd_head.h"

/* So many words that make no sense, more than those that do, and reading on is no use. */
enum { BAD_WORDS_ENOUGH = 100 };

/* Flashes of a code are longer (common practice, no source). */
static const int64_t moment_ns = 20000000;

enum vcd_note { NOTE_WORDS = 1, NOTE_UNKNOWN, NOTE_BACKWARD, NOTE_CUT };

/* What is known of one lamp. */
struct lamp_state {
    bool has_begun;  /* Its value was known once. */
    bool is_known;   /* It is known now. */
    bool is_lit;     /* Its last known value. */
    int64_t lost_ns; /* When it was last known. */
};

struct vcd {
    struct lamp_input *input;
    FILE *file;
    uint64_t size_bytes;
    struct lamp_tokens tokens;
    struct lamp_vcd_head head;
    int64_t step_sd_ns;
    bool has_time;
    bool is_behind; /* Time went back: nothing counts until it has caught up. */
    int64_t first_ns;
    int64_t now_ns;
    uint64_t good_count;
    uint64_t bad_count;
    uint64_t unknown_count;
    struct lamp_error first_bad;
    struct lamp_state lamp[LAMP_SOURCE_LAMPS_MAX];
};

static bool suits_vcd(const struct lamp_sniff *sniff)
{
    static const char *const openings[] = {"$date",  "$version", "$timescale",     "$comment",
                                           "$scope", "$var",     "$enddefinitions"};
    const char *ending = strrchr(sniff->name, '.');
    const char *word = sniff->head + strspn(sniff->head, " \t\r\n");
    bool suits = ending != NULL && strcasecmp(ending, ".vcd") == 0;
    for (size_t i = 0; i < sizeof openings / sizeof openings[0]; i++) {
        suits = suits || strncmp(word, openings[i], strlen(openings[i])) == 0;
    }
    return suits && sniff->is_text;
}

static void close_vcd(void *state)
{
    struct vcd *vcd = state;
    if (vcd->file != NULL) {
        (void)fclose(vcd->file);
    }
    free(vcd);
}

static enum lamp_err open_vcd(struct lamp_input *input, const struct lamp_sniff *sniff,
                              void **state, struct lamp_error *error)
{
    struct vcd *vcd = calloc(1, sizeof *vcd);
    if (vcd == NULL) {
        return lamp_fail_memory(error);
    }
    vcd->input = input;
    vcd->file = fopen(sniff->name, "rb");
    struct stat what;
    if (vcd->file == NULL || fstat(fileno(vcd->file), &what) != 0) {
        close_vcd(vcd);
        return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name, "it cannot be read");
    }
    vcd->size_bytes = (uint64_t)what.st_size;
    lamp_tokens_init(&vcd->tokens, vcd->file);
    enum lamp_err err = lamp_vcd_head_read(&vcd->tokens, input, &vcd->head, error);
    if (err != LAMP_OK) {
        close_vcd(vcd);
        return err;
    }
    double sd_ns = pow(10, vcd->head.scale + 9) / sqrt(12);
    vcd->step_sd_ns =
        sd_ns < 1 ? 1 : (int64_t)llround(sd_ns); /* 0 is kept for values that begin a lamp. */
    *state = vcd;
    return LAMP_OK;
}

static void note_bad(struct vcd *vcd, const char *expected)
{
    if (vcd->bad_count++ == 0) {
        (void)lamp_vcd_fail(&vcd->tokens, vcd->input->name, expected, &vcd->first_bad);
    }
    lamp_notes_say(&vcd->input->notes, NOTE_WORDS, "words left out: %" PRIu64 ", first %s: %s",
                   vcd->bad_count, vcd->first_bad.place, vcd->first_bad.sentence);
}

/* A time of the file in ns; false if it is no number or does not fit. */
static bool read_time(const struct vcd *vcd, int64_t *out_ns)
{
    const char *digits = vcd->tokens.text + 1;
    if (*digits == '\0' || digits[strspn(digits, "0123456789")] != '\0' || vcd->tokens.is_cut) {
        return false;
    }
    errno = 0;
    unsigned long long ticks = strtoull(digits, NULL, 10);
    if (errno != 0) {
        return false;
    }
    int power = vcd->head.scale + 9;
    unsigned long long factor = 1;
    for (int i = abs(power); i > 0; i--) {
        factor *= 10;
    }
    if (power >= 0 && ticks > (unsigned long long)INT64_MAX / factor) {
        return false;
    }
    unsigned long long ns =
        power >= 0 ? ticks * factor : ticks / factor + (ticks % factor >= factor - factor / 2);
    if (ns > (unsigned long long)INT64_MAX) {
        return false;
    }
    *out_ns = (int64_t)ns;
    return true;
}

static void take_time(struct vcd *vcd)
{
    int64_t t_ns;
    if (!read_time(vcd, &t_ns)) {
        note_bad(vcd, "a time after #, below 292 years");
        return;
    }
    if (!vcd->has_time) {
        vcd->has_time = true;
        vcd->first_ns = t_ns;
        vcd->now_ns = t_ns;
    }
    vcd->is_behind = t_ns < vcd->now_ns;
    if (vcd->is_behind) {
        lamp_notes_say(&vcd->input->notes, NOTE_BACKWARD,
                       "line %" PRIu64
                       ": time goes back: what follows was not read until it had caught up",
                       vcd->tokens.line);
        return;
    }
    vcd->now_ns = t_ns;
    vcd->good_count++;
}

static void lose(struct vcd *vcd, struct lamp_state *lamp)
{
    if (lamp->is_known) {
        lamp->lost_ns = vcd->now_ns;
        lamp->is_known = false;
    }
    vcd->unknown_count++;
    lamp_notes_say(&vcd->input->notes, NOTE_UNKNOWN,
                   "values that are not known (x or z) and give no edge: %" PRIu64,
                   vcd->unknown_count);
}

/* Whether a flash may have come and gone while the lamp was not known: not in a moment, but an x
 * that lasts no time at all stands for changes that were lost. */
static bool hides_flash(const struct vcd *vcd, const struct lamp_state *lamp)
{
    int64_t span_ns = vcd->now_ns - lamp->lost_ns;
    return span_ns == 0 || span_ns > moment_ns;
}

/* A lamp's value; true if it makes an edge. */
static bool take_value(struct vcd *vcd, size_t index, char value, struct lamp_edge *out)
{
    struct lamp_state *lamp = &vcd->lamp[index];
    if (value != '0' && value != '1') {
        lose(vcd, lamp);
        return false;
    }
    bool is_lit = value == '1';
    bool begins = !lamp->has_begun || (!lamp->is_known && hides_flash(vcd, lamp));
    bool is_edge = begins || is_lit != lamp->is_lit;
    if (is_edge) {
        int64_t sd_ns = begins ? 0 : vcd->step_sd_ns;
        if (!begins && !lamp->is_known) {
            int64_t span_sd_ns = (int64_t)llround((double)(vcd->now_ns - lamp->lost_ns) / sqrt(3));
            sd_ns = span_sd_ns > sd_ns ? span_sd_ns : sd_ns;
        }
        *out = (struct lamp_edge){.t_ns = vcd->now_ns, .sd_ns = sd_ns, .lit = is_lit};
    }
    lamp->has_begun = true;
    lamp->is_known = true;
    lamp->is_lit = is_lit;
    return is_edge;
}

static bool find_lamp(const struct vcd *vcd, const char *code, size_t *index)
{
    for (size_t i = 0; i < vcd->head.lamp_count; i++) {
        if (strcmp(vcd->head.code[i], code) == 0) {
            *index = i;
            return true;
        }
    }
    return false;
}

/* A value of the signal `code`; true if it makes an edge. */
static bool take_change(struct vcd *vcd, const char *code, char value, struct lamp_item *out)
{
    size_t index;
    if (!find_lamp(vcd, code, &index)) {
        if (!vcd->head.has_others) {
            note_bad(vcd, "the code of a signal that was declared");
        }
        return false;
    }
    vcd->good_count++;
    if (vcd->is_behind) {
        return false;
    }
    struct lamp_item item = {.kind = LAMP_ITEM_EDGE, .lamp = index};
    if (!take_value(vcd, index, value, &item.edge)) {
        return false;
    }
    *out = item;
    return true;
}

/* "b0101 code", "r1.5 code": of one bit only if the code is a lamp's. */
static bool take_vector(struct vcd *vcd, struct lamp_item *out)
{
    char kind = vcd->tokens.text[0];
    char value = vcd->tokens.text[vcd->tokens.length - 1];
    if (!lamp_tokens_next(&vcd->tokens)) {
        return false;
    }
    size_t index;
    bool is_lamp = find_lamp(vcd, vcd->tokens.text, &index);
    if (is_lamp && (kind == 'r' || kind == 'R')) {
        note_bad(vcd, "a value of one bit for this signal");
        return false;
    }
    return (is_lamp || !vcd->head.has_others) && take_change(vcd, vcd->tokens.text, value, out);
}

static void take_keyword(struct vcd *vcd)
{
    static const char *const bare[] = {"$end", "$dumpvars", "$dumpall", "$dumpon", "$dumpoff"};
    for (size_t i = 0; i < sizeof bare / sizeof bare[0]; i++) {
        if (strcmp(vcd->tokens.text, bare[i]) == 0) {
            return;
        }
    }
    if (strcmp(vcd->tokens.text, "$comment") != 0) {
        note_bad(vcd, "a value, a time or $comment");
    }
    if (!lamp_vcd_skip(&vcd->tokens)) {
        lamp_notes_say(&vcd->input->notes, NOTE_CUT,
                       "the file ends inside a section that $end has to close");
    }
}

/* One word of the values; true if it makes an edge. */
static bool take_word(struct vcd *vcd, struct lamp_item *out)
{
    switch (vcd->tokens.text[0]) {
    case '#': take_time(vcd); return false;
    case '$': take_keyword(vcd); return false;
    case '0':
    case '1':
    case 'x':
    case 'X':
    case 'z':
    case 'Z': return take_change(vcd, vcd->tokens.text + 1, vcd->tokens.text[0], out);
    case 'b':
    case 'B':
    case 'r':
    case 'R': return take_vector(vcd, out);
    default: note_bad(vcd, "a value, a time or a keyword"); return false;
    }
}

static bool is_hopeless(const struct vcd *vcd)
{
    return vcd->bad_count > vcd->good_count;
}

static enum lamp_err refuse_vcd(const struct vcd *vcd, struct lamp_error *error)
{
    return lamp_fail(error, LAMP_BAD_SOURCE, vcd->first_bad.place,
                     "%s (%" PRIu64 " of %" PRIu64 " words cannot be read)",
                     vcd->first_bad.sentence, vcd->bad_count, (vcd->bad_count + vcd->good_count));
}

static enum lamp_err next_edge(void *state, struct lamp_item *out, struct lamp_error *error)
{
    struct vcd *vcd = state;
    while (lamp_tokens_next(&vcd->tokens)) {
        if (take_word(vcd, out)) {
            lamp_pace_push(&vcd->input->pace, out->lamp, out->edge.t_ns, 0);
            return LAMP_OK;
        }
        if (vcd->bad_count >= BAD_WORDS_ENOUGH && is_hopeless(vcd)) {
            return refuse_vcd(vcd, error);
        }
    }
    if (is_hopeless(vcd)) {
        return refuse_vcd(vcd, error);
    }
    if (vcd->input->pace.item_count == 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, vcd->input->name, "no lamp has a value in it");
    }
    return LAMP_END;
}

/* The last time in the file is its end, whether a value stands there or not. */
static void describe_vcd(const void *state, struct lamp_source_info *out)
{
    const struct vcd *vcd = state;
    int64_t first_ns =
        vcd->input->pace.first_ns < vcd->first_ns ? vcd->input->pace.first_ns : vcd->first_ns;
    out->duration_s = out->frame_count == 0 ? 0 : (double)(vcd->now_ns - first_ns) * 1e-9;
    out->rate_hz = 0;
    out->dropped_count = 0;
}

static double vcd_progress(const void *state)
{
    const struct vcd *vcd = state;
    return vcd->size_bytes == 0 ? -1 : (double)vcd->tokens.read_bytes / (double)vcd->size_bytes;
}

const struct lamp_form lamp_form_vcd = {
    .kind = LAMP_SOURCE_EDGES,
    .suits = suits_vcd,
    .open = open_vcd,
    .next = next_edge,
    .describe = describe_vcd,
    .progress = vcd_progress,
    .close = close_vcd,
};
