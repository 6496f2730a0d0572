/* watcher.c - Watch light as it comes: peeks now and then, and tells what became certain or stands
 * in the way. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/fail.h"
#include "base/number.h"
#include "lampread/watch.h"
#include "pipeline/known.h"
#include "pipeline/outlook.h"

/* Most news that wait to be taken; older ones that nobody took give way. */
enum { NEWS_MAX = 64 };

/* How long a verdict must hold before it is told, by enum lamp_verdict. Codes and patterns were
 * weighed against more light to come; part of a code looks like a blink, or steady, for as long as
 * a long group or a rest lasts. */
static const int64_t settle_ns[] = {
    [LAMP_VERDICT_STEADY_ON] = INT64_C(4000000000), [LAMP_VERDICT_STEADY_OFF] = INT64_C(4000000000),
    [LAMP_VERDICT_BLINK] = INT64_C(6000000000),     [LAMP_VERDICT_CODE] = 0,
    [LAMP_VERDICT_UNLISTED] = INT64_C(500000000),   [LAMP_VERDICT_FLICKER] = INT64_C(2000000000),
    [LAMP_VERDICT_FADE] = INT64_C(2000000000),      [LAMP_VERDICT_UNDECIDED] = INT64_C(1000000000)};

static const int64_t gone_ns = INT64_C(3000000000);
static const int64_t silence_ns = INT64_C(2000000000);
static const int64_t fast_ns = INT64_C(1000000000);
static const double fast_share = 0.4; /* of the frame rate: faster light may be a fold */

struct lamp_watcher {
    struct lamp_watcher_rules rules;
    struct lamp_reader *reader;
    const struct lamp_report *view;
    size_t known_of[LAMP_REPORT_LAMPS_MAX]; /* of each lamp of the view */
    struct lamp_acquaintance known;
    struct lamp_outlook outlook;
    bool told_trouble[LAMP_TROUBLE_COUNT];
    struct lamp_news news[NEWS_MAX];
    size_t news_count;
    size_t news_taken;
    bool has_first;
    int64_t first_ns;
    int64_t now_ns;
    int64_t peek_ns;
    int64_t heard_ns; /* on the clock: when the last item came */
    bool has_pictures;
};

struct lamp_watcher_rules lamp_watcher_rules_default(void)
{
    return (struct lamp_watcher_rules){.spacing_ns = INT64_C(100000000)};
}

enum lamp_err lamp_watcher_new(const struct lamp_watcher_rules *rules,
                               const struct lamp_reader_rules *reading, struct lamp_watcher **out,
                               struct lamp_error *error)
{
    struct lamp_watcher *made = calloc(1, sizeof *made);
    if (made == NULL) {
        return lamp_fail_memory(error);
    }
    made->rules = *rules;
    enum lamp_err err = lamp_reader_new(reading, &made->reader, error);
    if (err != LAMP_OK) {
        free(made);
        return err;
    }
    *out = made;
    return LAMP_OK;
}

double lamp_watcher_time_s(const struct lamp_watcher *watcher)
{
    return (double)(watcher->now_ns - watcher->first_ns) / LAMP_NS_PER_S;
}

static struct lamp_news *add_news(struct lamp_watcher *watcher, enum lamp_news_kind kind)
{
    if (watcher->news_taken == watcher->news_count) {
        watcher->news_taken = watcher->news_count = 0;
    }
    if (watcher->news_count == NEWS_MAX) {
        memmove(watcher->news, watcher->news + 1, (NEWS_MAX - 1) * sizeof watcher->news[0]);
        watcher->news_count--;
        watcher->news_taken -= watcher->news_taken > 0;
    }
    struct lamp_news *news = &watcher->news[watcher->news_count++];
    *news = (struct lamp_news){.kind = kind, .t_s = lamp_watcher_time_s(watcher)};
    return news;
}

/* -- lamps across peeks -- */

static void tell_lamp(struct lamp_watcher *watcher, struct lamp_known *known, size_t index)
{
    int64_t held_ns = watcher->now_ns - known->since_ns;
    bool is_news = known->is_told ? !lamp_doing_is_same(&known->seen, &known->told)
                                  : known->seen.verdict != LAMP_VERDICT_UNDECIDED;
    if (!is_news || held_ns < settle_ns[known->seen.verdict]) {
        return;
    }
    known->is_told = known->seen.verdict != LAMP_VERDICT_UNDECIDED;
    known->told = known->seen;
    memcpy(known->told_name, known->name, LAMP_NAME_MAX);
    struct lamp_news *news = add_news(watcher, LAMP_NEWS_VERDICT);
    news->lamp = index;
    memcpy(news->name, known->name, LAMP_NAME_MAX);
}

static void judge_speed(struct lamp_watcher *watcher, struct lamp_known *known,
                        const struct lamp_report_lamp *lamp, size_t index)
{
    bool stood = known->fast.stands;
    bool is_fast = watcher->view->source.rate_hz > 0 &&
                   lamp->shape.fastest_hz > fast_share * watcher->view->source.rate_hz;
    lamp_hurdle_see(&known->fast, is_fast, watcher->now_ns, fast_ns, fast_ns);
    if (known->fast.stands == stood) {
        return;
    }
    struct lamp_news *news =
        add_news(watcher, known->fast.stands ? LAMP_NEWS_TROUBLE : LAMP_NEWS_RELIEF);
    news->trouble = LAMP_TROUBLE_FAST;
    news->lamp = index;
    memcpy(news->name, known->name, LAMP_NAME_MAX);
}

static void compare_lamp(struct lamp_watcher *watcher, const struct lamp_report_lamp *lamp,
                         size_t index)
{
    struct lamp_known *known = lamp_known_find(&watcher->known, lamp);
    struct lamp_doing doing = lamp_doing_of(lamp);
    if (known == NULL) {
        known = lamp_known_add(&watcher->known, watcher->now_ns);
        known->seen = doing;
    }
    if (!lamp_doing_is_same(&known->seen, &doing)) {
        known->since_ns = watcher->now_ns;
    }
    known->seen = doing;
    known->is_taken = true;
    known->seen_ns = watcher->now_ns;
    known->has_region = lamp->has_region;
    known->region = lamp->region;
    known->colour = lamp->colour;
    memcpy(known->name, lamp->name, LAMP_NAME_MAX);
    watcher->known_of[index] = (size_t)(known - watcher->known.at);
    tell_lamp(watcher, known, index);
    judge_speed(watcher, known, lamp, index);
}

static void tell_gone(struct lamp_watcher *watcher)
{
    for (size_t i = 0; i < watcher->known.count; i++) {
        struct lamp_known *known = &watcher->known.at[i];
        if (!known->is_taken && known->is_told && watcher->now_ns - known->seen_ns >= gone_ns) {
            known->is_told = false;
            struct lamp_news *news = add_news(watcher, LAMP_NEWS_GONE);
            memcpy(news->name, known->told_name, LAMP_NAME_MAX);
        }
    }
}

static void compare_view(struct lamp_watcher *watcher)
{
    for (size_t i = 0; i < watcher->known.count; i++) {
        watcher->known.at[i].is_taken = false;
    }
    for (size_t i = 0; i < watcher->view->lamp_count; i++) {
        compare_lamp(watcher, &watcher->view->lamp[i], i);
    }
    tell_gone(watcher);
}

bool lamp_watcher_is_told(const struct lamp_watcher *watcher, size_t index)
{
    const struct lamp_known *known = &watcher->known.at[watcher->known_of[index]];
    return known->is_told && lamp_doing_is_same(&known->seen, &known->told);
}

/* -- what stands in the way -- */

static void tell_troubles(struct lamp_watcher *watcher)
{
    for (int i = 0; i < LAMP_TROUBLE_COUNT; i++) {
        bool stands = watcher->outlook.hurdle[i].stands;
        if (stands != watcher->told_trouble[i]) {
            watcher->told_trouble[i] = stands;
            add_news(watcher, stands ? LAMP_NEWS_TROUBLE : LAMP_NEWS_RELIEF)->trouble =
                (enum lamp_trouble)i;
        }
    }
}

enum lamp_trouble lamp_watcher_trouble(const struct lamp_watcher *watcher)
{
    int at = 0;
    while (at < LAMP_TROUBLE_COUNT && !watcher->told_trouble[at]) {
        at++;
    }
    return (enum lamp_trouble)at;
}

static int64_t clock_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * LAMP_NS_PER_S + now.tv_nsec;
}

/* Pictures that stay away are missed by the clock: the source's own stands still. */
static void judge_silence(struct lamp_watcher *watcher)
{
    bool is_silent = watcher->has_pictures && clock_ns() - watcher->heard_ns > silence_ns;
    watcher->outlook.hurdle[LAMP_TROUBLE_SILENT].stands = is_silent;
}

static void look_at_frame(struct lamp_watcher *watcher, const struct lamp_frame *frame)
{
    struct lamp_aspect aspect;
    watcher->has_pictures = true;
    if (frame->is_partial) {
        return; /* most of the picture was not decoded */
    }
    lamp_aspect_see(frame, &aspect);
    bool sees_lamps = watcher->view != NULL && watcher->view->lamp_count > 0;
    lamp_outlook_push(&watcher->outlook, &aspect, watcher->now_ns, sees_lamps);
}

/* -- light -- */

static enum lamp_err peek(struct lamp_watcher *watcher, const struct lamp_source *source)
{
    enum lamp_err err = lamp_reader_peek(watcher->reader, source, &watcher->view);
    if (err != LAMP_OK) {
        return err;
    }
    watcher->peek_ns = watcher->now_ns;
    if (watcher->has_pictures) {
        lamp_outlook_follow(&watcher->outlook, &watcher->view->counts,
                            watcher->view->source.width_px, watcher->now_ns);
    }
    compare_view(watcher);
    return LAMP_OK;
}

static void note_time(struct lamp_watcher *watcher, const struct lamp_item *item)
{
    int64_t t_ns = lamp_item_time_ns(item);
    if (!watcher->has_first) {
        watcher->has_first = true;
        watcher->first_ns = watcher->now_ns = watcher->peek_ns = t_ns;
    }
    watcher->now_ns = t_ns > watcher->now_ns ? t_ns : watcher->now_ns;
    watcher->heard_ns = clock_ns();
}

/* Between the edges of a pin time goes on, and says that the light did not change. */
static void note_waiting(struct lamp_watcher *watcher, const struct lamp_source *source)
{
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    int64_t end_ns = watcher->first_ns + (int64_t)(info.duration_s * LAMP_NS_PER_S);
    bool is_pin = info.kind == LAMP_SOURCE_PIN || info.kind == LAMP_SOURCE_EDGES;
    watcher->now_ns = is_pin && end_ns > watcher->now_ns ? end_ns : watcher->now_ns;
}

static void note_item(struct lamp_watcher *watcher, const struct lamp_item *item)
{
    note_time(watcher, item);
    if (item->kind == LAMP_ITEM_FRAME) {
        look_at_frame(watcher, &item->frame);
    }
}

static enum lamp_err lose(struct lamp_watcher *watcher, enum lamp_err answer)
{
    if (answer == LAMP_BAD_SOURCE && watcher->has_first) {
        watcher->outlook.hurdle[LAMP_TROUBLE_UNPLUGGED].stands = true;
        tell_troubles(watcher);
    }
    return answer;
}

enum lamp_err lamp_watcher_step(struct lamp_watcher *watcher, struct lamp_source *source,
                                struct lamp_item *item, struct lamp_error *error)
{
    enum lamp_err answer = lamp_reader_take(watcher->reader, source, item, error);
    if (answer != LAMP_OK && answer != LAMP_NOT_YET) {
        return lose(watcher, answer);
    }
    enum lamp_err err = LAMP_OK;
    if (answer == LAMP_OK) {
        note_item(watcher, item);
    } else if (watcher->has_first) {
        note_waiting(watcher, source);
    }
    judge_silence(watcher);
    if (watcher->has_first && watcher->now_ns - watcher->peek_ns >= watcher->rules.spacing_ns) {
        err = peek(watcher, source);
    }
    tell_troubles(watcher);
    return err == LAMP_OK ? answer : lamp_fail_memory(error);
}

bool lamp_watcher_next(struct lamp_watcher *watcher, struct lamp_news *out)
{
    if (watcher->news_taken == watcher->news_count) {
        return false;
    }
    *out = watcher->news[watcher->news_taken++];
    return true;
}

const struct lamp_report *lamp_watcher_view(const struct lamp_watcher *watcher)
{
    return watcher->view;
}

struct lamp_reader *lamp_watcher_reader(struct lamp_watcher *watcher)
{
    return watcher->reader;
}

void lamp_watcher_free(struct lamp_watcher *watcher)
{
    if (watcher != NULL) {
        lamp_reader_free(watcher->reader);
        free(watcher);
    }
}
