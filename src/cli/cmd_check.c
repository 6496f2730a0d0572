/* cmd_check.c - lampread book check: what is wrong with a book, and what looks alike in it. */
#include <stdio.h>

#include "base/number.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "lampread/lampread.h"

/* Unless --rate says otherwise: that of an ordinary phone. */
static const double common_rate_hz = 30;

/* Pairs that are told: of those that never part, and of those that take longest. */
enum { CLASHES_SHOWN = 64, PARTINGS_SHOWN = 5, PAIRS_ALL = 1000 };

static const struct option_rule options[] = {
    {.name = "rate", .value = "HZ", .help = "frames a second of the camera; default 30"},
    {.name = "pairs", .help = "tell of every pair how long it has to be watched, up to 1000"},
};

/* Entries that look alike are no error in a book: boards have them. They are told, and each reading
 * lists both. */
static size_t print_clashes(const struct lamp_book *book, double rate_hz)
{
    struct lamp_clash clash[CLASHES_SHOWN];
    size_t count = lamp_book_clashes(book, rate_hz, clash, CLASHES_SHOWN);
    for (size_t i = 0; i < count && i < CLASHES_SHOWN; i++) {
        (void)printf("%s:%d: '%s' cannot be told from '%s' (line %d) at %g frames/s\n", book->file,
                     clash[i].b->line, clash[i].b->id, clash[i].a->id, clash[i].a->line, rate_hz);
    }
    if (count > CLASHES_SHOWN) {
        (void)printf("%s: and %zu more such pairs\n", book->file, count - CLASHES_SHOWN);
    }
    return count;
}

static void print_parting(const struct lamp_book *book, const struct lamp_parting *parting)
{
    if (!parting->never && parting->watch_ns > 0) {
        (void)printf("%s:%d: '%s' is told from '%s' (line %d) after %.1f s of watching\n",
                     book->file, parting->b->line, parting->b->id, parting->a->id, parting->a->line,
                     (double)parting->watch_ns / LAMP_NS_PER_S);
    }
}

static void print_partings(const struct lamp_book *book, double rate_hz, size_t clashes, bool all)
{
    static struct lamp_parting parting[PAIRS_ALL];
    size_t wanted = clashes + PARTINGS_SHOWN;
    size_t room = all || wanted > PAIRS_ALL ? PAIRS_ALL : wanted;
    size_t count = lamp_book_partings(book, rate_hz, parting, room);
    for (size_t i = 0; i < count; i++) {
        print_parting(book, &parting[i]);
    }
    if (book->code_count > LAMP_PARTINGS_CODES_MAX) {
        (void)printf("%s: more than %d codes; how long pairs have to be watched is left out\n",
                     book->file, LAMP_PARTINGS_CODES_MAX);
    }
}

/* Every fault on a line of its own. */
static int complain_of_all(const char *path, enum lamp_err failed, const struct lamp_error *first)
{
    struct lamp_error fault[LAMP_FAULTS_MAX];
    struct lamp_error error;
    size_t count = 0;
    int status = EXIT_BOOK;
    if (failed != LAMP_BAD_BOOK || lamp_book_faults(path, fault, &count, &error) != LAMP_BAD_BOOK ||
        count == 0) {
        return complain(failed, first);
    }
    for (size_t i = 0; i < count; i++) {
        status = complain(LAMP_BAD_BOOK, &fault[i]);
    }
    if (count == LAMP_FAULTS_MAX) {
        mention("%s: more than %d faults; the others are left out", path, LAMP_FAULTS_MAX - 1);
    }
    return status;
}

static int check_book(const char *path, double rate_hz, bool all)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct lamp_book *book = NULL;
    enum lamp_err failed = lamp_book_open(path, &book, &error);
    if (failed != LAMP_OK) {
        return complain_of_all(path, failed, &error);
    }
    size_t clashes = print_clashes(book, rate_hz);
    print_partings(book, rate_hz, clashes, all);
    (void)printf("%s: good: lamps %zu, codes %zu, findings %zu, look-alike pairs %zu\n", book->file,
                 book->lamp_count, book->code_count, book->finding_count, clashes);
    lamp_book_free(book);
    return EXIT_TOLD;
}

static int run_check(const struct arguments *arguments)
{
    static const double range[2] = {1, 100000};
    struct lamp_error error = {.place = "", .sentence = ""};
    double rate_hz = common_rate_hz;
    int status = EXIT_TOLD;
    enum lamp_err failed = options_number(arguments, "rate", range, &rate_hz, &error);
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    for (size_t i = 0; i < arguments->operand_count; i++) {
        int now = check_book(arguments->operand[i], rate_hz, options_has(arguments, "pairs"));
        status = now != EXIT_TOLD ? now : status;
    }
    return status;
}

const struct command command_book_check = {
    .name = "check",
    .operands = "FILE...",
    .summary = "Check codebooks: all that is wrong and where, and which entries look alike",
    .offers = "@files:yaml",
    .notes =
        "Entries that no camera can tell apart are reported; they are no error. Of the others,\n"
        "those that have to be watched longest: whenever one begins to look, light that lasts\n"
        "longer is one of the two only.",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1000,
    .run = run_check,
};
