/* truth.c - Whether a report tells what the light did: verdict, entry, and each flash in its place.
 *
 * usage: hardware-truth [-v VERDICT] [-e ENTRY] [-f LEAST] [-t EDGE_MS,LENGTH_MS]
 *                       TRUTH.csv REPORT.json
 *   -v  the verdict that the first lamp must have
 *   -e  the entry of the book
 *   -f  at least so many flashes must be read, each in its place; without it none is looked at
 *   -t  the most that one edge may be off, and the most that all flashes may be too long or short
 *       in the mean; default 0.2,0.1
 *
 * The report's clock begins somewhere on that of the truth: the place where most flashes agree is
 * taken, so that what all edges are off in common is not judged. Flashes at the ends of the
 * recording are cut and left out. Prints a line of a table.
 */
#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FLASHES_MAX = 8192 };

struct flash {
    double start_s;
    double end_s;
    double sd_s;
};

struct flashes {
    struct flash at[FLASHES_MAX];
    size_t count;
};

struct wish {
    const char *verdict;
    const char *entry;
    size_t least_count; /* 0: flashes do not matter */
    double edge_most_ms;
    double length_most_ms;
};

/* Sums of what was off, in ms. */
struct sums {
    size_t count;
    double start, start2;
    double end, end2;
    double told; /* of (off / told sd)^2, both edges */
    double most;
};

static bool load_truth(const char *path, struct flashes *out)
{
    FILE *file = fopen(path, "r");
    char line[128];
    double start_s = -1;
    while (file != NULL && fgets(line, sizeof line, file) != NULL) {
        char *rest = NULL;
        double t_s = strtod(line, &rest);
        if (rest == line || *rest != ',') {
            continue;
        }
        bool is_lit = rest[1] == '1';
        if (!is_lit && start_s >= 0 && out->count < FLASHES_MAX) {
            out->at[out->count++] = (struct flash){.start_s = start_s, .end_s = t_s};
        }
        start_s = is_lit ? t_s : -1;
    }
    return file != NULL && fclose(file) == 0;
}

static double number_of(const json_t *object, const char *key)
{
    return json_number_value(json_object_get(object, key));
}

static void load_flashes(const json_t *lamp, double duration_s, struct flashes *out)
{
    static const double cut_s = 0.05;
    size_t i;
    json_t *value;
    json_array_foreach(json_object_get(lamp, "flashes"), i, value)
    {
        struct flash flash = {.start_s = number_of(value, "start_s"),
                              .sd_s = number_of(value, "sd_s")};
        flash.end_s = flash.start_s + number_of(value, "on_s");
        bool is_cut = flash.start_s < cut_s || flash.end_s > duration_s - cut_s;
        if (!is_cut && out->count < FLASHES_MAX) {
            out->at[out->count++] = flash;
        }
    }
}

/* The fed flash that one that was read is, NULL where there is none. */
static const struct flash *find(const struct flashes *fed, const struct flash *read, double shift_s,
                                double most_ms)
{
    /* What is evenly anywhere lies within the root of 3 SDs: a report may say that it knows less.
     */
    double allowed_ms = fmax(most_ms, 1000 * sqrt(3) * read->sd_s);
    for (size_t i = 0; i < fed->count; i++) {
        bool has_start = 1000 * fabs(fed->at[i].start_s - read->start_s - shift_s) <= allowed_ms;
        if (has_start && 1000 * fabs(fed->at[i].end_s - read->end_s - shift_s) <= allowed_ms) {
            return &fed->at[i];
        }
    }
    return NULL;
}

static struct sums sum_up(const struct flashes *fed, const struct flashes *read, double shift_s,
                          double most_ms)
{
    struct sums sums = {0};
    for (size_t i = 0; i < read->count; i++) {
        const struct flash *is = find(fed, &read->at[i], shift_s, most_ms);
        if (is == NULL) {
            continue;
        }
        double start = 1000 * (read->at[i].start_s + shift_s - is->start_s);
        double end = 1000 * (read->at[i].end_s + shift_s - is->end_s);
        double sd = fmax(1000 * read->at[i].sd_s, 1e-3);
        sums.count++;
        sums.start += start;
        sums.start2 += start * start;
        sums.end += end;
        sums.end2 += end * end;
        sums.told += (start * start + end * end) / (2 * sd * sd);
        sums.most = fmax(sums.most, fmax(fabs(start), fabs(end)));
    }
    return sums;
}

/* Try every fed flash for the one in the middle of those read; then even out what both edges are
 * off in common. */
static double align(const struct flashes *fed, const struct flashes *read, double most_ms)
{
    double best_s = 0;
    struct sums best = {0};
    const struct flash *middle = &read->at[read->count / 2];
    for (size_t i = 0; i < fed->count && read->count > 0; i++) {
        double shift_s = fed->at[i].start_s - middle->start_s;
        struct sums sums = sum_up(fed, read, shift_s, 2 * most_ms);
        if (sums.count > best.count ||
            (sums.count == best.count && sums.start2 + sums.end2 < best.start2 + best.end2)) {
            best = sums;
            best_s = shift_s;
        }
    }
    return best.count > 0 ? best_s - (best.start + best.end) / (double)(2 * best.count) / 1000
                          : best_s;
}

/* Flashes that were fed between the first and the last that was read. */
static size_t count_fed(const struct flashes *fed, const struct flashes *read, double shift_s,
                        double most_ms)
{
    size_t count = 0;
    for (size_t i = 0; i < fed->count && read->count > 0; i++) {
        double start_s = fed->at[i].start_s - shift_s;
        count += start_s > read->at[0].start_s - most_ms / 1000 &&
                 start_s < read->at[read->count - 1].start_s + most_ms / 1000;
    }
    return count;
}

static double spread(double sum, double sum2, size_t count)
{
    double mean = sum / (double)count;
    return sqrt(fmax(0, sum2 / (double)count - mean * mean));
}

/* Irregular light has darks shorter than the time between two exposures: there two flashes are one
 * to a camera. Of ten, one may be so. */
static size_t flashes_to_spare(const struct flashes *read, const struct wish *wish)
{
    bool is_irregular = wish->verdict != NULL && strcmp(wish->verdict, "flicker") == 0;
    return is_irregular ? read->count / 10 : 0;
}

static bool judge_flashes(const struct flashes *fed, const struct flashes *read,
                          const struct wish *wish)
{
    double shift_s = align(fed, read, wish->edge_most_ms);
    struct sums sums = sum_up(fed, read, shift_s, wish->edge_most_ms);
    size_t fed_count = count_fed(fed, read, shift_s, wish->edge_most_ms);
    size_t missed = fed_count > sums.count ? fed_count - sums.count : 0;
    double n = (double)(sums.count > 0 ? sums.count : 1);
    double length_ms = (sums.end - sums.start) / n;
    printf("%zu flashes read, %zu in place, %zu missed; ms: start SD %.2f, end SD %.2f, length "
           "bias %+.2f, most %.2f; error/told sd %.2f\n",
           read->count, sums.count, missed, spread(sums.start, sums.start2, (size_t)n),
           spread(sums.end, sums.end2, (size_t)n), length_ms, sums.most, sqrt(sums.told / n));
    size_t spare = flashes_to_spare(read, wish);
    return sums.count >= wish->least_count && sums.count + spare >= read->count &&
           missed <= spare && fabs(length_ms) <= wish->length_most_ms;
}

static bool judge_word(const char *what, const char *wanted, const json_t *told)
{
    const char *word = json_string_value(told);
    if (wanted == NULL || (word != NULL && strcmp(wanted, word) == 0)) {
        return true;
    }
    printf("%s %s expected, %s told\n", what, wanted, word == NULL ? "none" : word);
    return false;
}

static bool judge(const char *truth_path, const json_t *report, const struct wish *wish)
{
    static struct flashes fed;
    static struct flashes read;
    const json_t *lamp = json_array_get(json_object_get(report, "lamps"), 0);
    bool is_true = judge_word("verdict", wish->verdict, json_object_get(lamp, "verdict"));
    is_true =
        judge_word("entry", wish->entry, json_object_get(json_object_get(lamp, "match"), "id")) &&
        is_true;
    if (wish->least_count == 0) {
        return is_true;
    }
    if (!load_truth(truth_path, &fed)) {
        perror(truth_path);
        return false;
    }
    load_flashes(lamp, number_of(json_object_get(report, "source"), "duration_s"), &read);
    return judge_flashes(&fed, &read, wish) && is_true;
}

static bool parse(int argc, char **argv, struct wish *wish)
{
    for (int option = 0; (option = getopt(argc, argv, "v:e:f:t:")) != -1;) {
        switch (option) {
        case 'v': wish->verdict = optarg; break;
        case 'e': wish->entry = optarg; break;
        case 'f': wish->least_count = strtoul(optarg, NULL, 10); break;
        case 't':
            if (sscanf(optarg, "%lf,%lf", &wish->edge_most_ms, &wish->length_most_ms) != 2) {
                return false;
            }
            break;
        default: return false;
        }
    }
    return optind + 2 == argc;
}

int main(int argc, char **argv)
{
    struct wish wish = {.edge_most_ms = 0.2, .length_most_ms = 0.1};
    if (!parse(argc, argv, &wish)) {
        (void)fputs("usage: hardware-truth [-v VERDICT] [-e ENTRY] [-f LEAST] [-t "
                    "EDGE_MS,LENGTH_MS] TRUTH.csv REPORT.json\n",
                    stderr);
        return 2;
    }
    json_error_t error;
    json_t *report = json_load_file(argv[optind + 1], 0, &error);
    if (report == NULL) {
        printf("%s:%d: %s\n", argv[optind + 1], error.line, error.text);
        return EXIT_FAILURE;
    }
    bool is_true = judge(argv[optind], report, &wish);
    json_decref(report);
    return is_true ? EXIT_SUCCESS : EXIT_FAILURE;
}
