/* accuracy.c - How often clips of the demo boards are read right, along one axis at a time.
 *
 * accuracy [--quick] [--seed N] [--clips N] [--axis NAME,NAME...]
 * accuracy --axis NAME --row N --clip N [--save FILE.mkv]     one clip, told at length
 *
 * Each clip is a rendered board of 320 x 180 (ordinary, hard, any: 640 x 360) with a lamp that
 * plays an entry of a demo book and one that is lit throughout; no lamp is pointed at. The book is
 * chosen. All entries take their turn.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/acc_options.h"
#include "support/acc_shot.h"
#include "support/lengths.h"

static const char *const demo_books[] = {"heron-h1", "plover-p2"};

enum { ROWS_MAX = 10, WORST_MAX = 400 };

struct axis {
    const char *name;
    const char *what; /* With its unit. */
    void (*set)(struct acc_shot *shot, double value);
    double value[ROWS_MAX];
    size_t count;
    const char *const *label; /* Of the values; NULL: they are numbers. */
    int clips;                /* 0: as many as the other axes. */
    bool is_large;            /* 640 x 360, with lamps that suit it; otherwise half of that. */
    bool has_cycles;          /* Only entries that have a cycle take their turn. */
};

static const double ns_per_ms = 1e6;

static void set_rate(struct acc_shot *shot, double hz)
{
    shot->scene.shutter.rate_hz = hz;
    shot->scene.shutter.exposure_ns = (int64_t)(0.3e9 / hz);
    shot->scene.readout_ns = (int64_t)fmin(20 * ns_per_ms, 0.6e9 / hz);
}

static void set_exposure(struct acc_shot *shot, double share)
{
    shot->scene.shutter.exposure_ns = (int64_t)(share * 1e9 / shot->scene.shutter.rate_hz);
}

static void set_brightness(struct acc_shot *shot, double core)
{
    shot->lamp[0].brightness = core;
    shot->lamp[1].brightness = core;
}

static void set_ambient(struct acc_shot *shot, double light)
{
    shot->scene.ambient = light;
}

static void set_size(struct acc_shot *shot, double px)
{
    shot->lamp[0].size_px = px;
    shot->lamp[1].size_px = px;
}

static void set_noise(struct acc_shot *shot, double sd)
{
    shot->scene.read_noise = sd;
    shot->scene.shot_noise = 4 * sd;
}

static const struct {
    const char *ending;
    const char *codec;
    int quality;
} codecs[] = {{"mp4", "h264", 90},  {"mp4", "h264", 75}, {"mp4", "h264", 60},  {"mp4", "h264", 45},
              {"mp4", "h264", 30},  {"mkv", "hevc", 70}, {"avi", "mjpeg", 80}, {"avi", "mjpeg", 40},
              {"avi", "mjpeg", 10}, {"gif", "gif", 70}};
static const char *const codec_label[] = {"h264 90", "h264 75",  "h264 60",  "h264 45",  "h264 30",
                                          "hevc 70", "mjpeg 80", "mjpeg 40", "mjpeg 10", "gif"};

static void set_codec(struct acc_shot *shot, double which)
{
    shot->ending = codecs[(int)which].ending;
    shot->codec = codecs[(int)which].codec;
    shot->quality = codecs[(int)which].quality;
}

static void set_shake(struct acc_shot *shot, double px)
{
    shot->scene.shake_px = px;
}

static void set_drift(struct acc_shot *shot, double px_s)
{
    shot->scene.drift_px_s = px_s;
}

/* Half of the room's light and a short exposure, which shows it most. */
static void set_ripple(struct acc_shot *shot, double hz)
{
    shot->scene.ripple = hz > 0 ? 0.5 : 0;
    shot->scene.ripple_hz = hz > 0 ? hz : 100;
    shot->scene.ambient = 0.2;
    shot->scene.shutter.exposure_ns = (int64_t)(2 * ns_per_ms);
}

/* A big, bright lamp and a dim room pull hardest at the camera. */
static void set_pumping(struct acc_shot *shot, double share)
{
    shot->scene.auto_exposure = share;
    shot->scene.ambient = 0.04;
    shot->scene.bloom = 2;
    set_size(shot, 12);
}

static void set_lost(struct acc_shot *shot, double share)
{
    shot->scene.shutter.drop_share = share;
}

static void set_late(struct acc_shot *shot, double share)
{
    shot->scene.shutter.late_share = share;
}

static void set_sway(struct acc_shot *shot, double share)
{
    shot->scene.shutter.sway = share;
}

static void set_clock(struct acc_shot *shot, double scale)
{
    shot->lamp[0].script.scale = scale;
}

static void set_jitter(struct acc_shot *shot, double share)
{
    shot->lamp[0].script.jitter = share;
}

static void set_phase(struct acc_shot *shot, double phase)
{
    shot->lamp[0].script.start_phase = phase;
}

static void set_repeats(struct acc_shot *shot, double count)
{
    shot->cycles = count;
    shot->least_s = 1;
    shot->starts_in_rest = true;
}

/* A phone propped up or held with both hands, indoors. */
static void set_ordinary(struct acc_shot *shot, double through_file)
{
    struct chance chance = {.state = shot->scene.seed};
    shot->scene.shutter.exposure_ns = 20000000;
    shot->scene.shutter.jitter = 0.01;
    shot->scene.shake_px = chance_between(&chance, 0.3, 1.5);
    shot->scene.ambient = chance_between(&chance, 0.05, 0.2);
    shot->scene.ripple = 0.1;
    shot->scene.ripple_hz = chance_int(&chance, 0, 1) == 0 ? 100 : 120;
    shot->scene.auto_exposure = 0.3;
    shot->scene.read_noise = 0.005;
    shot->scene.shot_noise = 0.02;
    shot->lamp[0].script.scale = chance_between(&chance, 0.95, 1.05);
    shot->lamp[0].brightness = exp(chance_between(&chance, log(2), log(12)));
    if (through_file > 0) {
        set_codec(shot, 1);
    }
}

/* Shaky, dim, pumping, 4 % of the frames lost. */
static void set_hard(struct acc_shot *shot, double through_file)
{
    set_ordinary(shot, 0);
    struct chance chance = {.state = shot->scene.seed + 1};
    shot->scene.shake_px = chance_between(&chance, 3, 6);
    shot->scene.drift_px_s = 4;
    shot->scene.ambient = 0.03;
    shot->scene.auto_exposure = 0.7;
    shot->scene.read_noise = 0.012;
    shot->scene.shot_noise = 0.04;
    shot->scene.shutter.exposure_ns = 30000000;
    shot->scene.shutter.drop_share = 0.04;
    shot->scene.shutter.late_share = 0.02;
    shot->lamp[0].brightness = exp(chance_between(&chance, log(0.5), log(2)));
    shot->lamp[0].script.scale = chance_between(&chance, 0.9, 1.1);
    if (through_file > 0) {
        set_codec(shot, 2);
    }
}

static const char *const mix_label[] = {"pictures", "h264"};

static double chance_geometric(struct chance *chance, double from, double to)
{
    return exp(chance_between(chance, log(from), log(to)));
}

static void draw_camera(struct chance *chance, struct acc_shot *shot)
{
    static const double rates[] = {24, 25, 29.97, 30, 30, 50, 60};
    struct lamp_shutter_rules *shutter = &shot->scene.shutter;
    shutter->rate_hz = rates[chance_int(chance, 0, 6)];
    shutter->exposure_ns = (int64_t)(chance_between(chance, 0.15, 0.95) * 1e9 / shutter->rate_hz);
    shutter->jitter = chance_between(chance, 0, 0.02);
    shutter->drop_share = fmax(0, chance_between(chance, -0.03, 0.05));
    shutter->late_share = fmax(0, chance_between(chance, -0.03, 0.03));
    shutter->sway = chance_int(chance, 0, 4) == 0 ? 0.15 : 0;
    shot->scene.readout_ns = (int64_t)(chance_between(chance, 0.2, 0.8) * 1e9 / shutter->rate_hz);
    shot->scene.auto_exposure = chance_between(chance, 0, 0.8);
    shot->scene.warmth = chance_between(chance, -0.5, 0.5);
    shot->scene.blur_px = chance_between(chance, 0.5, 1.8);
    shot->scene.bloom = chance_between(chance, 0.5, 2);
    shot->scene.read_noise = chance_geometric(chance, 0.002, 0.012);
    shot->scene.shot_noise = 4 * shot->scene.read_noise;
    shot->scene.shake_px = chance_geometric(chance, 0.3, 5);
    shot->scene.drift_px_s = chance_between(chance, 0, 5);
    const int codec = chance_int(chance, 0, 6);
    set_codec(shot, codec);
    if (strcmp(codecs[codec].ending, "avi") == 0) { /* holds no stamps: frames come evenly or lie */
        shutter->jitter = shutter->late_share = shutter->sway = 0;
    }
}

/* Whatever may happen at a bench, all at once; with a hand and a shadow that pass, or without. */
static void set_any(struct acc_shot *shot, double has_hand)
{
    struct chance chance = {.state = shot->scene.seed};
    draw_camera(&chance, shot);
    shot->scene.ambient = chance_geometric(&chance, 0.02, 0.2);
    shot->scene.ambient_drift = chance_between(&chance, 0, 0.2);
    shot->scene.ripple = chance_between(&chance, 0, 0.3);
    shot->scene.ripple_hz = chance_int(&chance, 0, 1) == 0 ? 100 : 120;
    shot->lamp[0].script.scale = chance_between(&chance, 0.92, 1.08);
    for (int i = 0; i < 2; i++) {
        shot->lamp[i].brightness = chance_geometric(&chance, 1, 12);
        shot->lamp[i].size_px = chance_geometric(&chance, 6, 24);
    }
    if (has_hand > 0) {
        shot->scene.has_hand = true;
        shot->scene.shadow = chance_between(&chance, 0.1, 0.6);
    }
}

static const char *const any_label[] = {"plain", "hands"};

/* clang-format off */
#define VALUES(...)      .value = {__VA_ARGS__}, .count = sizeof((double[]){__VA_ARGS__}) / sizeof(double)
#define LABELLED(labels) .value = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9}, .count = sizeof(labels) / sizeof *(labels), .label = (labels)

static const struct axis axes[] = {
    {"ordinary", "ordinary phone clip", set_ordinary, LABELLED(mix_label), .clips = 90, .is_large = true},
    {"hard", "shaky, dim, pumping, 4 % lost", set_hard, LABELLED(mix_label), .clips = 90, .is_large = true},
    {"rate", "frames a second, exposure 0.3", set_rate, VALUES(10, 15, 25, 30, 60, 120)},
    {"exposure", "exposure, share of the interval", set_exposure, VALUES(0.05, 0.1, 0.3, 0.6, 1)},
    {"brightness", "light of the lamps, 1 is white", set_brightness, VALUES(0.1, 0.2, 0.5, 1, 3, 10, 30)},
    {"ambient", "light of the room", set_ambient, VALUES(0.01, 0.03, 0.1, 0.3, 0.6)},
    {"size", "width of the lamps, px", set_size, VALUES(2, 3, 5, 8, 16, 30)},
    {"noise", "noise of a pixel, sd", set_noise, VALUES(0, 0.003, 0.01, 0.02, 0.04)},
    {"codec", "codec and quality", set_codec, LABELLED(codec_label)},
    {"shake", "shake, px sd of 320", set_shake, VALUES(0, 0.5, 1, 2, 4, 6)},
    {"drift", "drift, px/s", set_drift, VALUES(0, 1, 2, 5, 10)},
    {"ripple", "room light ripples by half, Hz", set_ripple, VALUES(0, 100, 120)},
    {"pumping", "auto exposure", set_pumping, VALUES(0, 0.3, 0.6, 1)},
    {"lost", "frames lost, share", set_lost, VALUES(0, 0.01, 0.02, 0.04, 0.07, 0.1)},
    {"late", "frames late, share", set_late, VALUES(0, 0.02, 0.05, 0.1)},
    {"sway", "frame interval sways by, share", set_sway, VALUES(0, 0.1, 0.3)},
    {"clock", "board's clock, times nominal", set_clock, VALUES(0.9, 0.95, 1, 1.05, 1.1)},
    {"jitter", "lengths vary by, share", set_jitter, VALUES(0, 0.02, 0.05, 0.1)},
    {"phase", "start in the cycle", set_phase, VALUES(0, 0.2, 0.4, 0.6, 0.8)},
    {"repeats", "cycles seen, from mid-rest", set_repeats, VALUES(1, 2, 3, 4, 5), .has_cycles = true},
    {"any", "anything at once; with passing hands", set_any, LABELLED(any_label), .clips = 60, .is_large = true},
};
/* clang-format on */
enum { AXES = sizeof axes / sizeof *axes };

struct options {
    uint64_t seed;
    int clips;
    bool is_quick;
    const char *axis; /* Names parted by commas; NULL: all. */
    int row;          /* -1: all */
    int clip;         /* -1: all */
    const char *save;
};

/* Clips that were not read right, told at the end with what makes each of them again. */
struct worst {
    size_t count;
    char line[WORST_MAX][800];
};

/* One clip of one row of one axis. */
struct clip_key {
    size_t axis;
    int row;
    int clip;
};

static uint64_t clip_seed(const struct options *options, const struct clip_key *key)
{
    struct chance chance = {.state = options->seed * 1000003 + key->axis * 10007 +
                                     (uint64_t)key->row * 101};
    return chance_bits(&chance) + (uint64_t)key->clip * 0x632be59bd9b4e019U;
}

/* Entries take turns; a row begins anywhere among them, and steps so that few clips see both books.
 */
static const struct acc_entry *entry_for(const struct acc_pool *pool, const struct options *options,
                                         const struct clip_key *key)
{
    const size_t step = 17;
    const size_t first = (size_t)options->seed + key->axis * 7 + (size_t)key->row * 5;
    size_t at = (first + (size_t)key->clip * step) % pool->count;
    while (axes[key->axis].has_cycles && pool->entry[at].code->wave.count == 0) {
        at = (at + 1) % pool->count;
    }
    return &pool->entry[at];
}

static void make_shot(struct acc_shot *shot, const struct acc_pool *pool,
                      const struct options *options, const struct clip_key *key)
{
    const struct axis *axis = &axes[key->axis];
    acc_shot_init(shot, entry_for(pool, options, key), clip_seed(options, key));
    if (!axis->is_large) {
        acc_shot_halve(shot);
    }
    axis->set(shot, axis->value[key->row]);
}

/* Told at the end, and on standard error at once: the table takes long. */
static void note(struct worst *worst, const struct acc_shot *shot, const struct acc_result *result,
                 const char *where)
{
    if (worst->count == WORST_MAX) {
        return;
    }
    char *line = worst->line[worst->count++];
    (void)snprintf(line, sizeof worst->line[0], "  %-18s %s  %s:%s: %s",
                   acc_outcome_name(result->outcome), where, shot->entry->book->id,
                   shot->entry->code->id, result->told);
    (void)fprintf(stderr, "%s\n", line);
}

struct tally {
    int outcome[ACC_OUTCOMES];
    int extra;
    struct acc_errors errors;
};

static void run_clip(struct tally *tally, struct worst *worst, const struct acc_shot *shot,
                     const char *where)
{
    const struct acc_result result = acc_shot_take(shot, &tally->errors);
    tally->outcome[result.outcome]++;
    tally->extra += result.extra;
    if (result.outcome != ACC_RIGHT) {
        note(worst, shot, &result, where);
    }
}

static void print_row(const struct axis *axis, size_t row, int clips, const struct tally *tally)
{
    char value[32];
    (void)snprintf(value, sizeof value, "%g", axis->value[row]);
    printf("%-10s %9s %5d %6.1f%% %5d %5d %5d %5d %5d %5d %6.2f %6.2f %6.2f %5.2f %5zu %6zu\n",
           axis->name, axis->label != NULL ? axis->label[row] : value, clips,
           100.0 * tally->outcome[ACC_RIGHT] / clips, tally->outcome[ACC_WRONG],
           tally->outcome[ACC_FLICKER_CODE], tally->outcome[ACC_OTHER],
           tally->outcome[ACC_UNDECIDED], tally->outcome[ACC_NOT_FOUND], tally->extra,
           acc_errors_bias_ms(&tally->errors), acc_errors_lag_ms(&tally->errors),
           acc_errors_sd_ms(&tally->errors), acc_errors_z(&tally->errors), tally->errors.missing,
           tally->errors.spurious);
    (void)fflush(stdout);
}

static int clips_of(const struct axis *axis, const struct options *options)
{
    if (options->is_quick || options->clips > 0) {
        return options->is_quick ? 2 : options->clips;
    }
    return axis->clips > 0 ? axis->clips : 12;
}

static bool is_chosen(const struct axis *axis, const struct options *options)
{
    return options->axis == NULL || acc_list_has(options->axis, ',', axis->name);
}

/* @return how many clips had a wrong code told. */
static int run_axis(const struct acc_pool *pool, const struct options *options, size_t index,
                    struct worst *worst)
{
    const struct axis *axis = &axes[index];
    int wrong = 0;
    for (size_t row = 0; row < axis->count; row++) {
        if (options->row >= 0 && (size_t)options->row != row) {
            continue;
        }
        struct tally tally = {.extra = 0};
        const int clips = clips_of(axis, options);
        for (int clip = 0; clip < clips; clip++) {
            char where[64];
            struct acc_shot shot;
            (void)snprintf(where, sizeof where, "--axis %s --row %zu --clip %d", axis->name, row,
                           clip);
            make_shot(&shot, pool, options, &(struct clip_key){index, (int)row, clip});
            run_clip(&tally, worst, &shot, where);
        }
        print_row(axis, row, clips, &tally);
        wrong += tally.outcome[ACC_WRONG] + tally.outcome[ACC_FLICKER_CODE];
    }
    return wrong;
}

static void print_head(const struct options *options)
{
    printf("rendered clips of 320 x 180 (ordinary, hard, any: 640 x 360), seed %llu;\n"
           " entries of heron-h1 and plover-p2 by turns, "
           "their book chosen\n\n",
           (unsigned long long)options->seed);
    for (size_t i = 0; i < AXES; i++) {
        if (is_chosen(&axes[i], options)) {
            printf("%-10s %s\n", axes[i].name, axes[i].what);
        }
    }
    printf(
        "\n%s",
        "right: the entry is told. wrong: another is. fl>c: irregular light called a code.\n"
        "none: a rhythm without an entry. unde: undecided. lost: lamp not found.\n"
        "extra: lamps told that are none. bias, sd: error of an edge, ms; lag: how much later\n"
        "edges come on than go off, beside the truth. z: rms error of a length over its told sd.\n"
        "miss, untrue: edges not seen, edges made up.\n\n"
        "axis           value clips   right wrong  fl>c  none  unde  lost extra   bias    lag     "
        "sd     z  miss untrue\n");
}

static int run_all(const struct acc_pool *pool, const struct options *options)
{
    struct worst *worst = calloc(1, sizeof *worst);
    if (worst == NULL) {
        perror("accuracy");
        exit(EXIT_FAILURE);
    }
    int wrong = 0;
    print_head(options);
    for (size_t i = 0; i < AXES; i++) {
        if (is_chosen(&axes[i], options)) {
            wrong += run_axis(pool, options, i, worst);
        }
    }
    printf("\n%s", worst->count > 0 ? "not right:\n" : "");
    for (size_t i = 0; i < worst->count; i++) {
        printf("%s\n", worst->line[i]);
    }
    free(worst);
    printf("\nwrong codes: %d\n", wrong);
    return wrong;
}

static void tell_one(const struct acc_pool *pool, const struct options *options)
{
    for (size_t i = 0; i < AXES; i++) {
        if (strcmp(axes[i].name, options->axis) != 0) {
            continue;
        }
        struct acc_shot shot;
        make_shot(&shot, pool, options, &(struct clip_key){i, options->row, options->clip});
        printf("plays %s:%s\n", shot.entry->book->id, shot.entry->code->id);
        if (options->save != NULL) {
            acc_shot_save(&shot, options->save);
        }
        acc_shot_tell(&shot);
    }
}

static struct options parse(int count, char **words)
{
    struct options options = {.seed = 1, .row = -1, .clip = -1};
    const struct acc_option known[] = {
        {"--quick", ACC_OPTION_FLAG, &options.is_quick, "two clips a row"},
        {"--seed", ACC_OPTION_SEED, &options.seed, "N, default 1"},
        {"--clips", ACC_OPTION_COUNT, &options.clips, "N clips a row"},
        {"--axis", ACC_OPTION_WORD, &options.axis, "NAME,NAME... only these axes"},
        {"--row", ACC_OPTION_COUNT, &options.row, "N, only this row, from 0"},
        {"--clip", ACC_OPTION_COUNT, &options.clip, "N, only this clip of one row, told at length"},
        {"--save", ACC_OPTION_WORD, &options.save, "FILE, keep that clip"},
    };
    acc_options_read(known, sizeof known / sizeof *known, count, words);
    return options;
}

int main(int count, char **words)
{
    const struct options options = parse(count, words);
    struct acc_pool pool;
    acc_pool_open(&pool, demo_books, 2);
    int wrong = 0;
    if (options.clip >= 0 && options.axis != NULL && options.row >= 0) {
        tell_one(&pool, &options);
    } else {
        wrong = run_all(&pool, &options);
    }
    acc_pool_close(&pool);
    return wrong == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
