/* soak.c - An hour of watching, made quick: memory stays as it was, and no verdict is lost.
 *
 *   soak-soak [--pictures] [--long]
 *
 * The watcher peeks every 5 s of light, so that the test takes seconds; with --long ten times a
 * second. With --pictures small pictures are read for an hour too. Prints a row for each kind of
 * light; the exit status says whether all held.
 */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "lampread/lampread.h"

#define S INT64_C(1000000000)

enum { SHORT_S = 360, LONG_S = 3600, SIDE_PX = 64, RATE_HZ = 30 };

/* What may be added between six minutes and an hour: the newest lengths of a lamp fill up. */
static const long growth_kb = 4096;

static const int code_ms[] = {600, 200, 600, 200, 200, 200, 200, 200, 200, 1800};
enum { CODE_LENGTHS = sizeof code_ms / sizeof code_ms[0] };

static const char book_text[] =
    "book: soak\nboard: invented\nsource: invented for this test\nlamps: {status: {colour: "
    "green}}\n"
    "timing: {short: 200 ms, long: 600 ms, gap: 200 ms, pause: 700 ms, rest: 1800 ms, tolerance: "
    "25 %}\n"
    "codes: [{id: memory, lamp: status, pattern: 2 long 3 short, means: Memory}]\n";

struct row {
    const char *kind;
    long short_kb;
    long long_kb;
    unsigned told; /* news of verdicts */
    bool is_code;  /* at the end */
};

static long peak_kb(void)
{
    struct rusage usage;
    (void)getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
}

static bool is_lit(double t_s)
{
    int64_t period_ms = 0;
    for (int i = 0; i < CODE_LENGTHS; i++) {
        period_ms += code_ms[i];
    }
    int64_t phase_ms = (int64_t)(t_s * 1000) % period_ms;
    int at = 0;
    while (phase_ms >= code_ms[at]) {
        phase_ms -= code_ms[at++];
    }
    return at % 2 == 0;
}

static unsigned noise(unsigned *seed)
{
    *seed = *seed * 1103515245U + 12345U;
    return (*seed >> 16) % 1000;
}

static void write_trace(FILE *out)
{
    unsigned seed = 1;
    (void)fprintf(out, "time_s,lamp,level\n");
    for (int i = 0; i < LONG_S * RATE_HZ; i++) {
        double t_s = i / (double)RATE_HZ;
        (void)fprintf(out, "%.6f,status,%.4f\n", t_s,
                      (is_lit(t_s) ? 0.6 : 0.02) + noise(&seed) / 50000.0);
    }
}

static void write_edges(FILE *out)
{
    (void)fprintf(out, "$timescale 1 ms $end\n$scope module m $end\n$var wire 1 ! status $end\n"
                       "$upscope $end\n$enddefinitions $end\n");
    int64_t at_ms = 0;
    for (int i = 0; at_ms < LONG_S * 1000; at_ms += code_ms[i++ % CODE_LENGTHS]) {
        (void)fprintf(out, "#%lld\n%d!\n", (long long)at_ms, (i % CODE_LENGTHS) % 2 == 0);
    }
    (void)fprintf(out, "#%d\n", LONG_S * 1000);
}

/* The report's only lamp is the code that was played. */
static bool shows_code(const struct lamp_report *report)
{
    return report->lamp_count == 1 && report->lamp[0].match.verdict == LAMP_VERDICT_CODE &&
           report->lamp[0].match.has_entry;
}

/* Watch a file of an hour. */
static bool soak_file(const char *path, const struct lamp_reader_rules *reading, int64_t spacing_ns,
                      struct row *row)
{
    char name[64];
    struct lamp_source_rules opening = lamp_source_rules_default();
    struct lamp_watcher_rules rules = {.spacing_ns = spacing_ns};
    struct lamp_source *source = NULL;
    struct lamp_watcher *watcher = NULL;
    opening.replay_speed = 0;
    (void)snprintf(name, sizeof name, "replay:%s", path);
    if (lamp_source_open(name, &opening, &source, NULL) != LAMP_OK ||
        lamp_watcher_new(&rules, reading, &watcher, NULL) != LAMP_OK) {
        return false;
    }
    struct lamp_item item;
    struct lamp_news news;
    enum lamp_err err;
    do {
        err = lamp_watcher_step(watcher, source, &item, NULL);
        while (lamp_watcher_next(watcher, &news)) {
            row->told += news.kind == LAMP_NEWS_VERDICT || news.kind == LAMP_NEWS_GONE;
        }
        if (row->short_kb == 0 && lamp_watcher_time_s(watcher) >= SHORT_S) {
            row->short_kb = peak_kb();
        }
    } while (err == LAMP_OK || err == LAMP_NOT_YET);
    const struct lamp_report *report = NULL;
    bool done = err == LAMP_END &&
                lamp_reader_report(lamp_watcher_reader(watcher), source, &report) == LAMP_OK;
    row->is_code = done && shows_code(report);
    row->long_kb = peak_kb();
    lamp_watcher_free(watcher);
    lamp_source_free(source);
    return done;
}

static bool soak_written(void (*write)(FILE *), const struct lamp_reader_rules *reading,
                         int64_t spacing_ns, struct row *row)
{
    char path[] = "/tmp/lampread-soak-XXXXXX";
    int made = mkstemp(path);
    FILE *file = made < 0 ? NULL : fdopen(made, "w");
    if (file == NULL) {
        return false;
    }
    write(file);
    bool done = fclose(file) == 0 && soak_file(path, reading, spacing_ns, row);
    (void)remove(path);
    return done;
}

/* A textured board with one lamp in its middle. */
static void paint(unsigned char *at, bool lit, unsigned *seed)
{
    for (int i = 0; i < SIDE_PX * SIDE_PX; i++) {
        int x = i % SIDE_PX - SIDE_PX / 2;
        int y = i / SIDE_PX - SIDE_PX / 2;
        unsigned block = (unsigned)(i % SIDE_PX / 8 * 7 + i / SIDE_PX / 8 * 13) * 2654435761U >> 27;
        int lamp = lit && x * x + y * y < 16 ? 200 : lit && x * x + y * y < 64 ? 30 : 0;
        int code = 40 + (int)block + lamp + (int)(noise(seed) / 400);
        at[i] = (unsigned char)(code > 255 ? 255 : code);
    }
}

static bool soak_pictures(const struct lamp_reader_rules *reading, int64_t spacing_ns,
                          struct row *row)
{
    static unsigned char pixels[LAMP_FRAMES_KEPT + 1][SIDE_PX * SIDE_PX];
    const struct lamp_source_info info = {.kind = LAMP_SOURCE_CAMERA,
                                          .name = "pictures",
                                          .rate_hz = RATE_HZ,
                                          .width_px = SIDE_PX,
                                          .height_px = SIDE_PX};
    struct lamp_reader *reader = NULL;
    const struct lamp_report *report = NULL;
    unsigned seed = 1;
    bool done = lamp_reader_new(reading, &reader, NULL) == LAMP_OK;
    int64_t peeked_ns = 0;
    for (int i = 0; done && i < LONG_S * RATE_HZ; i++) {
        unsigned char *at = pixels[i % (LAMP_FRAMES_KEPT + 1)];
        paint(at, is_lit(i / (double)RATE_HZ), &seed);
        const struct lamp_item item = {.kind = LAMP_ITEM_FRAME,
                                       .frame = {.t_ns = i * S / RATE_HZ,
                                                 .bits = 8,
                                                 .y = {at, SIDE_PX, SIDE_PX, SIDE_PX},
                                                 .is_full_range = true}};
        done = lamp_reader_push(reader, &info, &item, NULL) == LAMP_OK;
        if (done && item.frame.t_ns - peeked_ns >= spacing_ns) {
            peeked_ns = item.frame.t_ns;
            done = lamp_reader_peek(reader, NULL, &report) == LAMP_OK;
        }
        row->short_kb = i == SHORT_S * RATE_HZ ? peak_kb() : row->short_kb;
    }
    done = done && lamp_reader_report(reader, NULL, &report) == LAMP_OK;
    row->is_code =
        done && report->lamp_count > 0 && report->lamp[0].match.verdict == LAMP_VERDICT_CODE;
    row->told = 1;
    row->long_kb = peak_kb();
    lamp_reader_free(reader);
    return done;
}

static bool holds(const struct row *row)
{
    bool is_good = row->is_code && row->told == 1 && row->long_kb - row->short_kb <= growth_kb;
    printf("%-9s %8ld kB after %d min, %8ld kB after %d min; verdicts told %u, code at the end %s: "
           "%s\n",
           row->kind, row->short_kb, SHORT_S / 60, row->long_kb, LONG_S / 60, row->told,
           row->is_code ? "yes" : "no", is_good ? "holds" : "FAILED");
    return is_good;
}

static bool is_given(int argc, char **argv, const char *option)
{
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], option) == 0) {
            return true;
        }
    }
    return false;
}

int main(int argc, char **argv)
{
    bool is_long = is_given(argc, argv, "--long");
    int64_t spacing_ns = is_long ? S / 10 : 5 * S;
    struct lamp_book *book = NULL;
    if (lamp_book_parse(book_text, sizeof book_text - 1, "soak", &book, NULL) != LAMP_OK) {
        return EXIT_FAILURE;
    }
    const struct lamp_book *const books[1] = {book};
    struct lamp_reader_rules reading = lamp_reader_rules_default();
    reading.book = books;
    reading.book_count = 1;
    struct row edges = {.kind = "edges"};
    struct row trace = {.kind = "trace"};
    struct row pictures = {.kind = "pictures"};
    bool all = soak_written(write_edges, &reading, spacing_ns, &edges) && holds(&edges);
    all = soak_written(write_trace, &reading, spacing_ns, &trace) && holds(&trace) && all;
    if (is_given(argc, argv, "--pictures")) {
        all = soak_pictures(&reading, spacing_ns, &pictures) && holds(&pictures) && all;
    }
    lamp_book_free(book);
    return all ? EXIT_SUCCESS : EXIT_FAILURE;
}
