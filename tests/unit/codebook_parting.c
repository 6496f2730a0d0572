/* codebook_parting.c - Light cut anywhere may pass for another entry's for as long as is told, and
 * no longer. */
/* layers: base light rhythm codebook */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/codebook.h"
#include "support/suite.h"

/* Lengths of a stretch of light: its ends are cut, so what is seen of them is a lower bound. */
struct stretch {
    size_t count;
    bool first_is_lit;
    double s[64];
};

static double length_s(const struct lamp_code *code, size_t i)
{
    return (double)code->wave.length_ns[i % code->wave.count] * 1e-9;
}

/* What a camera sees of `code` from `from_s` of its cycle on for `long_s`. */
static bool cut(const struct lamp_code *code, double from_s, double long_s, struct stretch *out)
{
    size_t i = 0;
    double left = from_s;
    for (; left >= length_s(code, i); i++) {
        left -= length_s(code, i);
    }
    out->first_is_lit = i % 2 == 0;
    out->count = 0;
    double seen = length_s(code, i) - left;
    while (long_s > 0 && out->count < 64) {
        out->s[out->count++] = fmin(seen, long_s);
        long_s -= seen;
        seen = length_s(code, ++i);
    }
    return long_s <= 0;
}

/* Whether some scale lays the stretch along `code` from its length `begin` on: all scales by turns.
 */
static bool passes_from(const struct stretch *stretch, const struct lamp_code *code, size_t begin)
{
    double most = 1 + code->tolerance;
    for (double scale = 1 / most; scale <= most; scale *= 1.0005) {
        bool fits = true;
        for (size_t i = 0; fits && i < stretch->count; i++) {
            double wanted = length_s(code, begin + i);
            double is = stretch->s[i] * scale;
            bool is_cut = i == 0 || i + 1 == stretch->count;
            fits = is <= wanted * (1 + code->tolerance) &&
                   (is_cut || is >= wanted * (1 - code->tolerance));
        }
        if (fits) {
            return true;
        }
    }
    return false;
}

static bool passes(const struct stretch *stretch, const struct lamp_code *code)
{
    for (size_t begin = stretch->first_is_lit ? 0 : 1; begin < code->wave.count; begin += 2) {
        if (passes_from(stretch, code, begin)) {
            return true;
        }
    }
    return false;
}

/* Whether any stretch of `long_s` of the light of `a` passes for `b`. */
static bool any_passes(const struct lamp_code *a, const struct lamp_code *b, double long_s)
{
    double period_s = 0;
    for (size_t i = 0; i < a->wave.count; i++) {
        period_s += length_s(a, i);
    }
    for (double from_s = 0; from_s < period_s; from_s += 0.01) {
        struct stretch stretch;
        if (cut(a, from_s, long_s, &stretch) && passes(&stretch, b)) {
            return true;
        }
    }
    return false;
}

static const char *const books[] = {"heron-h1", "plover-p2"};

/* The true bound lies at what is told, or up to a tolerance's worth below it. */
START_TEST(what_is_told_is_long_enough_and_hardly_too_long)
{
    struct lamp_book *book = NULL;
    struct lamp_parting parting[24];
    char path[512];
    snprintf(path, sizeof path, LAMP_PROJECT_DIR "/codebooks/%s.yaml", books[_i]);
    ck_assert_int_eq(lamp_book_open(path, &book, NULL), LAMP_OK);
    size_t count = lamp_book_partings(book, 0, parting, 24);
    size_t compared = 0;
    for (size_t i = 0; i < count; i++) {
        const struct lamp_parting *now = &parting[i];
        double told_s = (double)now->watch_ns * 1e-9;
        ck_assert(i == 0 || now->watch_ns <= parting[i - 1].watch_ns);
        if (now->a->wave.count == 0 || now->b->wave.count == 0) {
            continue;
        }
        compared++;
        ck_assert_msg(!any_passes(now->a, now->b, told_s + 0.02) &&
                          !any_passes(now->b, now->a, told_s + 0.02),
                      "%s passes for %s for longer than %g s", now->a->id, now->b->id, told_s);
        ck_assert_msg(any_passes(now->a, now->b, 0.75 * told_s) ||
                          any_passes(now->b, now->a, 0.75 * told_s),
                      "%s and %s part well before %g s", now->a->id, now->b->id, told_s);
    }
    ck_assert_uint_ge(compared, 10);
    lamp_book_free(book);
}
END_TEST

int main(void)
{
    TCase *tests = suite_begin("codebook_parting");
    tcase_add_loop_test(tests, what_is_told_is_long_enough_and_hardly_too_long, 0,
                        (int)(sizeof books / sizeof books[0]));
    return suite_end();
}
