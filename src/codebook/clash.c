/* clash.c - Entries of a book that a camera cannot tell apart. */
#include "codebook/clash.h"

#include <string.h>

#include "base/number.h"

static double frame_ns(double rate_hz)
{
    return rate_hz > 0 ? LAMP_NS_PER_S / rate_hz : 0;
}

double lamp_clash_blur_ns(double rate_hz)
{
    return LAMP_FRAMES_OF_BLUR * frame_ns(rate_hz);
}

struct lamp_gist lamp_gist_of(const struct lamp_code *code, double rate_hz)
{
    struct lamp_cycle cycle = lamp_cycle_of(&code->wave);
    return (struct lamp_gist){
        code, cycle, lamp_cycle_is_too_quick(&cycle, LAMP_FRAMES_OF_A_CYCLE * frame_ns(rate_hz))};
}

bool lamp_clash_share_a_lamp(const struct lamp_code *a, const struct lamp_code *b)
{
    return a->lamp == NULL || b->lamp == NULL || strcmp(a->lamp, b->lamp) == 0;
}

/* Whether waves of these periods could be one light at all. */
static bool could_be_alike(const struct lamp_gist *a, const struct lamp_gist *b)
{
    size_t of_a = a->cycle.count;
    size_t of_b = b->cycle.count;
    if (of_a == 0 || of_b == 0) {
        return of_a == of_b;
    }
    return (a->is_too_quick && b->is_too_quick) || of_a % of_b == 0 || of_b % of_a == 0;
}

bool lamp_clash_are_alike(const struct lamp_gist *a, const struct lamp_gist *b, double blur_ns)
{
    if (!could_be_alike(a, b) || !lamp_clash_share_a_lamp(a->code, b->code)) {
        return false;
    }
    if (a->cycle.count == 0) {
        return a->code->pattern.kind == b->code->pattern.kind;
    }
    if (a->is_too_quick && b->is_too_quick) {
        return true;
    }
    struct lamp_slack slack_a = {a->code->tolerance, blur_ns};
    struct lamp_slack slack_b = {b->code->tolerance, blur_ns};
    return lamp_cycle_fits(&a->cycle, &b->cycle, &slack_b) ||
           lamp_cycle_fits(&b->cycle, &a->cycle, &slack_a);
}

/* The clashes that are found: all are counted, and those there is room for are written. */
struct finds {
    struct lamp_clash *out;
    size_t room;
    size_t count;
};

static void compare(struct finds *finds, const struct lamp_gist *a, const struct lamp_gist *b,
                    double blur_ns)
{
    if (!lamp_clash_are_alike(a, b, blur_ns)) {
        return;
    }
    if (finds->count < finds->room) {
        finds->out[finds->count] = (struct lamp_clash){a->code, b->code};
    }
    finds->count++;
}

size_t lamp_book_clashes(const struct lamp_book *book, double rate_hz, struct lamp_clash *out,
                         size_t room)
{
    struct lamp_gist gist[LAMP_BOOK_CODES_MAX];
    struct finds finds = {out, room, 0};
    for (size_t i = 0; i < book->code_count; i++) {
        gist[i] = lamp_gist_of(&book->code[i], rate_hz);
        for (size_t k = 0; k < i; k++) {
            compare(&finds, &gist[k], &gist[i], lamp_clash_blur_ns(rate_hz));
        }
    }
    return finds.count;
}
