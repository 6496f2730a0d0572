/* rhythm_edge_square.c - Edges are all found, none is made up, and each lies where its sd says. */
/* layers: base light rhythm codebook render */
#include <stdio.h>

#include "support/edge_read.h"
#include "support/suite.h"

enum { TRACES = 24 };

static struct edge_reading reading;

/* A lamp and a camera. */
struct square {
    double rate_hz; /* Frames a second. */
    double exposed; /* Exposure, share of the interval. */
    bool told;      /* Samples carry their exposure. */
    double snr;     /* Step over noise. */
    int lit_ms;
    int dark_ms;
    double drop_share;
    double late_share;
    double pumping;
    double drift;
    double most_sd_ms; /* Bound on the sd of edges. */
};

static const struct square squares[] = {
    /* Frame rates and exposures. The bound is that of edges between exposures, (T - E) / root 12,
       where they are. */
    {10, 0.05, true, 50, 500, 700, 0, 0, 0, 0, 29},
    {10, 1.00, true, 50, 300, 700, 0, 0, 0, 0, 4},
    {15, 0.50, true, 50, 200, 300, 0, 0, 0, 0, 9},
    {24, 0.10, false, 50, 200, 300, 0, 0, 0, 0, 12},
    {24, 0.90, false, 50, 200, 300, 0, 0, 0, 0, 5},
    {30, 0.05, true, 50, 200, 200, 0, 0, 0, 0, 10},
    {30, 0.30, true, 50, 200, 200, 0, 0, 0, 0, 7},
    {30, 0.50, true, 50, 200, 600, 0, 0, 0, 0, 5},
    {30, 0.50, false, 50, 200, 600, 0, 0, 0, 0, 5},
    {30, 0.70, false, 50, 600, 200, 0, 0, 0, 0, 4},
    {30, 1.00, true, 50, 200, 200, 0, 0, 0, 0, 1},
    {30, 1.00, false, 50, 200, 200, 0, 0, 0, 0, 2.5},
    {60, 0.30, false, 50, 50, 50, 0, 0, 0, 0, 4},
    {60, 1.00, true, 50, 50, 50, 0, 0, 0, 0, 1},
    {120, 0.25, true, 50, 50, 50, 0, 0, 0, 0, 2},
    {120, 1.00, false, 50, 40, 160, 0, 0, 0, 0, 1},
    /* Duties. */
    {30, 0.50, true, 50, 100, 900, 0, 0, 0, 0, 5},
    {30, 0.50, true, 50, 900, 100, 0, 0, 0, 0, 5},
    {30, 1.00, false, 50, 100, 900, 0, 0, 0, 0, 4},
    {30, 1.00, false, 50, 50, 450, 0, 0, 0, 0, 4},
    {30, 1.00, false, 50, 450, 50, 0, 0, 0, 0, 4},
    /* Noise. */
    {30, 0.50, true, 5, 300, 400, 0, 0, 0, 0, 10},
    {30, 0.50, true, 8, 200, 400, 0, 0, 0, 0, 7},
    {30, 0.50, false, 15, 200, 400, 0, 0, 0, 0, 6},
    {30, 0.50, true, 100, 200, 400, 0, 0, 0, 0, 5},
    /* Up to 0.4 of the frame rate. */
    {30, 0.20, true, 50, 100, 100, 0, 0, 0, 0, 9},
    {30, 1.00, true, 50, 63, 62, 0, 0, 0, 0, 1},
    {30, 1.00, false, 50, 44, 45, 0, 0, 0, 0, 1.5},
    {30, 0.50, false, 50, 42, 43, 0, 0, 0, 0, 6},
    /* Frames lost and late, auto exposure, drift. */
    {30, 0.50, true, 50, 200, 600, 0.04, 0, 0, 0, 8},
    {30, 0.50, true, 50, 200, 600, 0, 0.1, 0, 0, 7},
    {30, 0.50, true, 50, 200, 600, 0, 0, 0.3, 0, 6},
    {30, 0.50, true, 50, 200, 600, 0, 0, 0, 0.3, 6},
    {30, 0.50, false, 30, 200, 600, 0.04, 0.1, 0.2, 0.2, 9},
};

static void play_square(const struct square *square, size_t seed, struct edge_score *score)
{
    const int lengths_ms[] = {square->lit_ms, square->dark_ms};
    struct lamp_script_rules script = wave_rules(lengths_ms, 2);
    script.duration_ns = 16 * S;
    script.start_phase = spread(seed);
    script.scale = 0.97 + 0.06 * spread(seed * 7 + 3); /* Not in step with the camera. */
    struct lamp_tracer_rules rules = clean_rules();
    rules.gain = 0.4;
    rules.read_noise = 0.4 / square->snr;
    rules.pumping = square->pumping;
    rules.drift = square->drift;
    rules.tells_exposure = square->told;
    rules.shutter.rate_hz = square->rate_hz;
    rules.shutter.exposure_ns = llround(square->exposed * 1e9 / square->rate_hz);
    rules.shutter.drop_share = square->drop_share;
    rules.shutter.late_share = square->late_share;
    rules.shutter.seed = seed + 1;
    rules.shutter.duration_ns = (int64_t)(8 + seed % 5) * S;
    play_and_score(&script, &rules, &reading, score);
    ck_assert_int_eq(reading.shape.shape, LAMP_SHAPE_TWO_LEVEL);
}

START_TEST(every_edge_is_found_and_lies_where_its_sd_says)
{
    const struct square *square = &squares[_i];
    struct edge_score score = {.missed = 0};
    for (size_t seed = 0; seed < TRACES; seed++) {
        play_square(square, seed, &score);
    }
    const double on_ms = 1e3 * score.on_s / (double)score.on_count;
    const double off_ms = 1e3 * score.off_s / (double)score.off_count;
    const double sd_ms = 1e3 * score_sd_s(&score);
    const double z = score_z(&score);
    printf("%5.0f/s, exposed %.2f%s, snr %3.0f, %3d/%3d ms: missed %zu, extra %zu of %zu; bias "
           "%+.2f %+.2f ms, sd "
           "%.2f ms, over told sd %.2f\n",
           square->rate_hz, square->exposed, square->told ? "" : " (untold)", square->snr,
           square->lit_ms, square->dark_ms, score.missed, score.extra,
           score.on_count + score.off_count, on_ms, off_ms, sd_ms, z);
    ck_assert_uint_gt(score.on_count, 100);
    ck_assert_uint_eq(score.missed, 0);
    ck_assert_uint_eq(score.extra, 0);
    /* Edges on and off are pulled the same way: lengths are not. */
    ck_assert_double_lt(fabs(on_ms - off_ms), 1);
    ck_assert_double_lt(sd_ms, square->most_sd_ms);
    ck_assert_double_ge(z, 0.4);
    /* Where few samples show a level whole, it is known less well than the sds have it. */
    const bool is_short = fmin(square->lit_ms, square->dark_ms) * square->rate_hz < 1600;
    ck_assert_double_le(z, is_short ? 2 : 1.5);
}
END_TEST

int main(void)
{
    return suite_run_rows("edge-square", every_edge_is_found_and_lies_where_its_sd_says,
                          sizeof squares / sizeof *squares);
}
