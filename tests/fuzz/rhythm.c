/* rhythm.c - Bytes as samples or lengths: edges, lengths, rhythm and match; how samples are chopped
 * changes nothing.
 *
 *   byte 0   what follows: samples one by one, a lamp that is lit and dark by turns, or lengths
 * ready made byte 1   a glitch shorter than so many ms is dropped byte 2   samples between two
 * looks at the edges, in the second of two readings byte 3   noise
 */
#include <math.h>
#include <stdbool.h>

#include "fuzz/fuzz.h"
#include "lampread/lampread.h"

#define MS INT64_C(1000000)

enum { SAMPLES_MAX = 6000, EDGES_MAX = 3 * SAMPLES_MAX, FRAME_NS = 33366667 };

static const char book_text[] =
    "book: b\nboard: B\nsource: ours\n"
    "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms}\n"
    "codes:\n"
    "- {id: a, pattern: 4 short, means: A}\n"
    "- {id: b, pattern: \"2 long 3 short\", means: B}\n"
    "- {id: c, pattern: \"2 short, pause, 1 short\", means: C}\n"
    "- {id: d, pattern: \"on 200 ms, off 1000 ms\", means: D}\n"
    "- {id: e, pattern: blink 2.5 Hz, means: E}\n"
    "- {id: f, pattern: morse SOS, means: F}\n"
    "- {id: g, pattern: steady on, means: G}\n"
    "- {id: h, pattern: flicker, means: H}\n";

/* What one input says. */
struct light {
    struct lamp_edger_rules rules;
    size_t step; /* samples between two looks */
    size_t count;
    struct lamp_sample sample[SAMPLES_MAX];
};

struct edges {
    size_t count;
    struct lamp_edge at[EDGES_MAX];
};

/* -- bytes to light -- */

static void add_sample(struct light *light, int64_t t_ns, int64_t exposure_ns, double level)
{
    if (light->count < SAMPLES_MAX) {
        light->sample[light->count++] = (struct lamp_sample){t_ns, exposure_ns, level};
    }
}

/* Steps of time and levels as they come, and those that hurt. */
static void make_samples(struct bytes *bytes, struct light *light)
{
    static const double odd[] = {1e308, -1e308, 1e-308, NAN, INFINITY, 1e6, -0.5, 0};
    int64_t t_ns = 0;
    while (bytes->left > 0 && light->count < SAMPLES_MAX) {
        uint8_t when = take_byte(bytes);
        uint8_t level = take_byte(bytes);
        t_ns += when < 16 ? (int64_t)FRAME_NS * (1 << when) - FRAME_NS : when * MS;
        t_ns -= when == 255 ? 512 * MS : 0;
        add_sample(light, t_ns, when % 3 == 0 ? 20 * MS : 0,
                   level < 8 ? odd[level] : (level - 8) / 247.0);
    }
}

/* Lit and dark by turns, one byte a length in samples of a camera. */
static void make_turns(struct bytes *bytes, struct light *light, double noise)
{
    bool is_lit = false;
    uint32_t chance = 1;
    while (bytes->left > 0 && light->count < SAMPLES_MAX) {
        for (int left = take_byte(bytes); left > 0; left--) {
            chance = chance * 1664525 + 1013904223;
            double level = (is_lit ? 0.8 : 0.05) + noise * ((double)(chance >> 16) / 32768 - 1);
            add_sample(light, (int64_t)light->count * FRAME_NS, FRAME_NS / 2, level);
        }
        is_lit = !is_lit;
    }
}

/* -- light to edges -- */

static void take_waiting(struct lamp_edger *edger, struct edges *out)
{
    while (lamp_edger_next(edger, &out->at[out->count])) {
        out->count++;
        MUST(out->count < EDGES_MAX);
    }
}

static void check_edges(const struct edges *edges)
{
    for (size_t i = 0; i < edges->count; i++) {
        MUST(edges->at[i].sd_ns >= 0);
        MUST(i == 0 || edges->at[i].t_ns >= edges->at[i - 1].t_ns);
        MUST(i == 0 || edges->at[i].lit != edges->at[i - 1].lit);
    }
}

/* Read all samples with an edger that may have been used before, taking edges every `step` samples.
 */
static void read_edges(const struct light *light, size_t step, struct lamp_edger *edger,
                       struct edges *out)
{
    out->count = 0;
    for (size_t i = 0; i < light->count; i++) {
        MUST(lamp_edger_push(edger, &light->sample[i]) == LAMP_OK);
        if (i % step == 0) {
            take_waiting(edger, out);
        }
    }
    MUST(lamp_edger_flush(edger) == LAMP_OK);
    take_waiting(edger, out);
    check_edges(out);
}

static void check_shape(const struct lamp_light_shape *shape, const struct light *light)
{
    const double figures[] = {shape->rate_hz,       shape->lit_level,  shape->dark_level,
                              shape->noise,         shape->soft_share, shape->percent_flicker,
                              shape->flicker_index, shape->fastest_hz, shape->period_s};
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
        MUST(isfinite(figures[i]));
    }
    MUST(shape->sample_count <= light->count && shape->last_ns >= shape->first_ns);
}

/* -- edges to meaning -- */

static void check_rhythm(const struct lamp_rhythm *rhythm)
{
    MUST(rhythm->verdict != LAMP_VERDICT_CODE && lamp_verdict_name(rhythm->verdict) != NULL);
    MUST(rhythm->confidence >= 0 && rhythm->confidence <= 1);
    MUST(isfinite(rhythm->rate_hz) && rhythm->duty >= 0 && rhythm->duty <= 1);
    MUST(isfinite(rhythm->edges_per_s) && !isnan(rhythm->regularity));
    MUST(rhythm->repeats_agreeing <= rhythm->repeats_seen);
    MUST((rhythm->lack == LAMP_LACK_NOTHING) == (rhythm->verdict != LAMP_VERDICT_UNDECIDED));
}

static void check_match(const struct lamp_match *match)
{
    double sum = 0;
    MUST(match->confidence >= 0 && match->confidence <= 1);
    MUST(match->candidate_count <= LAMP_CANDIDATES_MAX);
    MUST(!match->has_entry || match->candidate_count > 0);
    MUST(match->verdict != LAMP_VERDICT_CODE || match->has_entry);
    for (size_t i = 0; i < match->candidate_count; i++) {
        const struct lamp_candidate *c = &match->candidate[i];
        MUST(c->confidence >= 0 && (i == 0 || c->confidence <= c[-1].confidence));
        MUST(c->code != NULL && !isnan(c->log_likelihood));
        sum += c->confidence;
    }
    MUST(sum <= 1 + 1e-6);
}

static const struct lamp_book *shared_book(void)
{
    static struct lamp_book *book; /* kept for all inputs, reachable to the end */
    if (book == NULL) {
        MUST(lamp_book_parse(book_text, sizeof book_text - 1, "book", &book, NULL) == LAMP_OK);
    }
    return book;
}

static void check_meaning(const struct lamp_length *length, size_t count,
                          const struct lamp_light_shape *shape)
{
    static struct lamp_rhythm rhythm; /* large */
    struct lamp_match match;
    const struct lamp_rhythm_rules rhythm_rules = lamp_rhythm_rules_default();
    const struct lamp_match_rules match_rules = lamp_match_rules_default();
    const struct lamp_book *book = shared_book();
    lamp_rhythm_read(length, count, shape, &rhythm_rules, &rhythm);
    check_rhythm(&rhythm);
    const struct lamp_evidence evidence = {
        .length = length, .length_count = count, .rhythm = &rhythm, .shape = shape};
    lamp_match(&evidence, &book, 1, &match_rules, &match);
    check_match(&match);
}

static void check_lengths(const struct edges *edges, const struct lamp_light_shape *shape,
                          bool starts_lit)
{
    struct lamp_lengths *lengths = NULL;
    size_t count = 0;
    MUST(lamp_lengths_new(&lengths) == LAMP_OK);
    lamp_lengths_begin(lengths, shape->first_ns, starts_lit);
    for (size_t i = 0; i < edges->count; i++) {
        lamp_lengths_push(lengths, &edges->at[i]);
    }
    lamp_lengths_end(lengths, shape->last_ns);
    const struct lamp_length *length = lamp_lengths_all(lengths, &count);
    for (size_t i = 0; i < count; i++) {
        MUST(length[i].ns >= 0 && length[i].sd_ns >= 0);
        MUST(i == 0 || length[i].start_ns >= length[i - 1].start_ns);
    }
    check_meaning(length, count, shape);
    lamp_lengths_free(lengths);
}

static void check_light(const struct light *light)
{
    static struct edges once, chopped, again;
    struct lamp_edger *edger = NULL;
    struct lamp_light_shape shape;
    MUST(lamp_edger_new(&light->rules, &edger) == LAMP_OK);
    read_edges(light, 1, edger, &once);
    lamp_edger_describe(edger, &shape);
    check_shape(&shape, light);
    if (light->count > 0) {
        check_lengths(&once, &shape, lamp_edger_starts_lit(edger));
    }
    lamp_edger_reset(edger);
    read_edges(light, light->step, edger, &chopped);
    lamp_edger_reset(edger);
    read_edges(light, SAMPLES_MAX, edger, &again);
    MUST(once.count == chopped.count && once.count == again.count);
    for (size_t i = 0; i < once.count; i++) {
        const struct lamp_edge *a = &once.at[i];
        const struct lamp_edge *b = &chopped.at[i];
        const struct lamp_edge *c = &again.at[i];
        MUST(a->t_ns == b->t_ns && a->sd_ns == b->sd_ns && a->lit == b->lit);
        MUST(a->t_ns == c->t_ns && a->sd_ns == c->sd_ns && a->lit == c->lit);
    }
    lamp_edger_free(edger);
}

/* Lengths by turns with breaks between, as a row may hold them. */
static void check_ready_lengths(struct bytes *bytes)
{
    enum { LENGTHS = 600 };
    static struct lamp_length length[LENGTHS];
    int64_t at_ns = 0;
    size_t count = 0;
    for (; bytes->left > 0 && count < LENGTHS; count++) {
        uint8_t code = take_byte(bytes);
        uint64_t size = take_number(bytes, 2);
        bool is_first = count == 0 || length[count - 1].cut_after;
        length[count] = (struct lamp_length){.start_ns = at_ns,
                                             .ns = (int64_t)size * (code & 8 ? 1000 * MS : MS),
                                             .sd_ns = (int64_t)(code >> 4) * MS,
                                             .lit = count > 0 ? !length[count - 1].lit : code & 1,
                                             .cut_before = is_first,
                                             .cut_after = (code & 6) == 6};
        at_ns += length[count].ns;
    }
    if (count > 0) {
        length[count - 1].cut_after = true;
    }
    check_meaning(length, count, NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    static struct light light;
    struct bytes left = {bytes, size};
    uint8_t kind = take_byte(&left);
    light.count = 0;
    light.rules = lamp_edger_rules_default();
    light.rules.least_length_ns = take_byte(&left) * MS;
    light.step = (size_t)1 + take_byte(&left);
    double noise = take_byte(&left) / 512.0;
    switch (kind % 3) {
    case 0: make_samples(&left, &light); break;
    case 1: make_turns(&left, &light, noise); break;
    default: check_ready_lengths(&left); return 0;
    }
    check_light(&light);
    return 0;
}
