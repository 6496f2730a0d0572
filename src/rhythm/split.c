/* split.c - Lengths and their classes to groups: where the rests are. */
#include "rhythm/split.h"

#include <math.h>

/* A dark is longer than a rest from this on: ln 1.3. */
#define LOG_LONGER 0.2624

/* Lost flashes explain a longer dark if they make up its length to this share. */
#define LOST_FIT 0.1

bool lamp_segment_is_whole(const struct lamp_segment *segment)
{
    return segment->has_start && segment->has_end;
}

bool lamp_length_exceeds(const struct lamp_length *length, double log_ns)
{
    return length->ns > 0 && log((double)length->ns) > log_ns;
}

/* What a dark does to the group before it and the group after it. */
enum part {
    PART_GAP,      /* Nothing. */
    PART_TOKEN,    /* It is inside a group, and told. */
    PART_REST,     /* It ends one and starts the next. */
    PART_REST_ODD, /* So too, but something is missing here. */
    PART_BREAK     /* What comes before and what comes after are not whole. */
};

struct splitter {
    const struct lamp_row *row;
    struct lamp_groups *out;
    size_t rest;     /* Class of the rests. */
    bool is_pending; /* A segment has begun. */
    struct lamp_segment next;
};

static bool is_cut(const struct lamp_length *length)
{
    return length->cut_before || length->cut_after;
}

/* Logarithm of the length from which a dark that is in no class is a rest: half way from the next
 * longest class. It may be one even if the rest is longer: no other dark is so long. */
static double least_rest(const struct splitter *splitter)
{
    const struct lamp_classes *classes = &splitter->row->dark;
    double rest = classes->mean[splitter->rest];
    return classes->count > 1 ? (rest + classes->mean[splitter->rest - 1]) / 2 : rest;
}

static enum part part_cut(const struct splitter *splitter, const struct lamp_length *dark)
{
    const struct lamp_classes *classes = &splitter->row->dark;
    bool is_rest = classes->count == 1 ||
                   (classes->count > 1 && lamp_length_exceeds(dark, least_rest(splitter)));
    return is_rest ? PART_REST_ODD : PART_BREAK;
}

static enum part part_odd(const struct splitter *splitter, const struct lamp_length *dark)
{
    if (splitter->row->dark.count == 0) {
        return PART_BREAK;
    }
    return lamp_length_exceeds(dark, least_rest(splitter)) ? PART_REST_ODD : PART_TOKEN;
}

static enum part part_dark(const struct splitter *splitter, size_t i)
{
    const struct lamp_length *dark = &splitter->row->at[i];
    int class = splitter->row->of[i];
    if (is_cut(dark)) {
        return part_cut(splitter, dark);
    }
    if (class == LAMP_CLASS_ODD) {
        return part_odd(splitter, dark);
    }
    if ((size_t) class == splitter->rest) {
        return PART_REST;
    }
    return class == 0 ? PART_GAP : PART_TOKEN;
}

static void add_token(struct splitter *splitter, enum lamp_token token)
{
    struct lamp_groups *out = splitter->out;
    splitter->is_pending = true;
    splitter->next.is_odd = splitter->next.is_odd || token == LAMP_TOKEN_ODD;
    out->token[out->token_count++] = token;
}

/* End the segment, if one has begun; the next one starts with what parted them. */
static void end_segment(struct splitter *splitter, enum part part)
{
    struct lamp_groups *out = splitter->out;
    bool is_rest = part == PART_REST || part == PART_REST_ODD;
    bool had_flash = splitter->is_pending;
    if (had_flash) {
        splitter->next.to = out->token_count;
        splitter->next.has_end = is_rest && splitter->next.has_end;
        out->segment[out->count++] = splitter->next;
    }
    splitter->next = (struct lamp_segment){.from = out->token_count,
                                           .has_start = is_rest,
                                           .has_end = true,
                                           .joins = had_flash && part == PART_REST};
    splitter->is_pending = false;
}

static void add_flash(struct splitter *splitter, size_t i)
{
    const struct lamp_length *flash = &splitter->row->at[i];
    if (flash->cut_before) {
        splitter->next.has_start = false;
    }
    if (flash->cut_after) {
        splitter->next.has_end = false;
    }
    int class = splitter->row->of[i];
    if (is_cut(flash)) {
        add_token(splitter, LAMP_TOKEN_ANY);
    } else if (class == LAMP_CLASS_ODD) {
        add_token(splitter, LAMP_TOKEN_ODD);
    } else {
        add_token(splitter, class == 0 ? LAMP_TOKEN_SHORT : LAMP_TOKEN_LONG);
    }
}

static void add_dark(struct splitter *splitter, size_t i)
{
    enum part part = part_dark(splitter, i);
    if (part == PART_TOKEN) {
        int class = splitter->row->of[i];
        enum lamp_token within = class == 1 ? LAMP_TOKEN_PAUSE : LAMP_TOKEN_WIDE;
        add_token(splitter, class == LAMP_CLASS_ODD ? LAMP_TOKEN_ODD : within);
    } else if (part != PART_GAP) {
        end_segment(splitter, part);
    }
}

static bool is_join(const struct lamp_row *row, size_t i)
{
    return i > 0 && !row->at[i - 1].cut_after && !row->at[i].cut_before;
}

static double share_of(const struct lamp_classes *classes, size_t k)
{
    if (classes->count < 2) {
        return 1;
    }
    size_t all = 0;
    for (size_t i = 0; i < classes->count; i++) {
        all += classes->members[i];
    }
    return ((double)classes->members[k] + 0.5) / ((double)all + 0.5 * (double)classes->count);
}

/* How unlikely one token is where every length's class is drawn by its share; a flash after another
 * one says that there is a gap between them. */
static double surprise_of_token(const struct lamp_row *row, enum lamp_token token, bool after_flash)
{
    switch (token) {
    case LAMP_TOKEN_SHORT:
    case LAMP_TOKEN_LONG: {
        double gap = after_flash ? share_of(&row->dark, 0) : 1;
        return -log(share_of(&row->lit, token == LAMP_TOKEN_LONG ? 1 : 0) * gap);
    }
    case LAMP_TOKEN_PAUSE: return -log(share_of(&row->dark, 1));
    case LAMP_TOKEN_WIDE: return -log(share_of(&row->dark, 2));
    case LAMP_TOKEN_ANY:
    case LAMP_TOKEN_ODD: break;
    }
    return 0;
}

/* How unlikely a segment is with the rest after it: the null of `cycle.c`. */
static double surprise_of(const struct lamp_row *row, const struct lamp_groups *groups,
                          const struct lamp_segment *segment)
{
    double sum = row->dark.count > 1 ? -log(share_of(&row->dark, row->dark.count - 1)) : 0;
    bool after_flash = false;
    for (size_t i = segment->from; i < segment->to; i++) {
        enum lamp_token token = groups->token[i];
        sum += surprise_of_token(row, token, after_flash);
        after_flash = token == LAMP_TOKEN_SHORT || token == LAMP_TOKEN_LONG;
    }
    return sum;
}

static bool is_equal(const struct lamp_groups *groups, const struct lamp_segment *a,
                     const struct lamp_segment *b)
{
    if (a->to - a->from != b->to - b->from || a->is_odd || b->is_odd) {
        return false;
    }
    for (size_t i = 0; i < a->to - a->from; i++) {
        if (groups->token[a->from + i] != groups->token[b->from + i]) {
            return false;
        }
    }
    return true;
}

static void name_segment(struct lamp_groups *groups, size_t index)
{
    struct lamp_segment *segment = &groups->segment[index];
    segment->id = index;
    for (size_t i = 0; i < index && lamp_segment_is_whole(segment); i++) {
        const struct lamp_segment *other = &groups->segment[i];
        if (lamp_segment_is_whole(other) && is_equal(groups, segment, other)) {
            segment->id = other->id;
            return;
        }
    }
}

/* Whether a longer dark is a rest that one or two lost flashes made longer. */
static bool is_lost_flash(const struct lamp_row *row, const struct lamp_length *dark)
{
    double rest = exp(row->dark.mean[row->dark.count - 1]);
    double more = (double)dark->ns - rest;
    for (size_t k = 0; k < row->lit.count; k++) {
        double lost = exp(row->lit.mean[k]) + exp(row->dark.mean[0]);
        if (fabs(more - lost) < LOST_FIT * (rest + lost) ||
            fabs(more - 2 * lost) < LOST_FIT * (rest + lost)) {
            return !is_cut(dark);
        }
    }
    return false;
}

static unsigned count_longer(const struct lamp_row *row)
{
    unsigned longer = 0;
    for (size_t i = 0; i < row->count && row->dark.count > 0; i++) {
        const struct lamp_length *length = &row->at[i];
        if (!length->lit && row->of[i] < 0 &&
            lamp_length_exceeds(length, row->dark.mean[row->dark.count - 1] + LOG_LONGER) &&
            !is_lost_flash(row, length)) {
            longer++;
        }
    }
    return longer;
}

void lamp_groups_split(const struct lamp_row *row, struct lamp_groups *out)
{
    out->token_count = 0;
    out->count = 0;
    struct splitter splitter = {.row = row,
                                .out = out,
                                .rest = row->dark.count > 0 ? row->dark.count - 1 : 0,
                                .next.has_end = true};
    for (size_t i = 0; i < row->count; i++) {
        if (i > 0 && !is_join(row, i)) {
            end_segment(&splitter, PART_BREAK);
        }
        if (row->at[i].lit) {
            add_flash(&splitter, i);
        } else {
            add_dark(&splitter, i);
        }
    }
    end_segment(&splitter, PART_BREAK);
    for (size_t i = 0; i < out->count; i++) {
        out->segment[i].surprise = surprise_of(row, out, &out->segment[i]);
        name_segment(out, i);
    }
    out->longer = count_longer(row);
}
