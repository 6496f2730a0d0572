/* weigh.c - The entries against each other, against an unlisted code and against irregular light.
 */
#include "match/weigh.h"

#include <math.h>
#include <string.h>

#include "match/agree.h"
#include "match/suit.h"

/* What is believed before the light is weighed. A person who chose a book expects its codes; the
 * price of an unknown pattern is in its likelihood. */
#define PRIOR_ENTRIES   0.7
#define PRIOR_UNLISTED  0.2
#define PRIOR_IRREGULAR 0.1

/* A rhythm that contradicts costs an entry this much, nats: more than any likelihood makes up for.
 */
#define CONTRADICTION 1000.0

/* Cycles far longer than what was seen tell nothing: this many times as many lengths. */
#define UNSEEN_CYCLES 4

/* A length may be off by the tolerance, by the scale, and by this much of measurement, log. */
#define COARSE_SLACK 0.4

/* Logs of lengths of which fewer than this share come near any length of the entry need no
 * alignment. */
#define COARSE_SHARE 0.4

static bool is_near(const struct lamp_model *model, const struct lamp_seen *seen)
{
    double most = 2 * log1p(model->tolerance) + COARSE_SLACK + 2 * sqrt(seen->variance);
    for (size_t c = 0; c < model->class_count; c++) {
        if (model->class_is_lit[c] == seen->is_lit &&
            fabs(seen->log - log(model->class_s[c])) < most) {
            return true;
        }
    }
    return false;
}

/* Quick rejection, before any alignment. */
static bool is_hopeless(const struct lamp_model *model, const struct lamp_sight *sight)
{
    if (model->count > UNSEEN_CYCLES * sight->count) {
        return true;
    }
    size_t near = 0;
    for (size_t i = 0; i < sight->count; i++) {
        near += sight->seen[i].is_bound || is_near(model, &sight->seen[i]);
    }
    return (double)near < COARSE_SHARE * (double)sight->count;
}

static void fit_roughly(const struct lamp_model *model, const struct lamp_sight *sight,
                        double edge_price, struct lamp_fit *out)
{
    if (is_hopeless(model, sight)) {
        memset(out, 0, sizeof *out);
        out->scale = 1;
        out->odd = sight->count;
        out->log_likelihood = -2 * edge_price * (double)sight->count;
    } else {
        lamp_fit_roughly(model, sight, edge_price, out);
    }
}

static double log_add(double a, double b)
{
    double most = fmax(a, b);
    return isinf(most) ? most : most + log(exp(a - most) + exp(b - most));
}

/* Keep `contender` among the heaviest. */
static void enter(struct lamp_scales *scales, const struct lamp_contender *contender)
{
    size_t at = scales->count;
    if (scales->count < LAMP_CONTENDERS_MAX) {
        scales->count++;
    } else {
        at = LAMP_CONTENDERS_MAX - 1;
        const struct lamp_contender *least = &scales->at[at];
        const struct lamp_contender *leaves = contender->weight > least->weight ? least : contender;
        scales->log_others = log_add(scales->log_others, leaves->weight);
        if (leaves == contender) {
            return;
        }
    }
    for (; at > 0 && scales->at[at - 1].weight < contender->weight; at--) {
        scales->at[at] = scales->at[at - 1];
    }
    scales->at[at] = *contender;
}

/* Log prior of each entry with one flash a cycle, and of each longer one. */
struct priors {
    double blink;
    double code;
};

static void count_suiting(const struct lamp_evidence *evidence, const struct lamp_book *book,
                          size_t *blinks, size_t *codes)
{
    for (size_t i = 0; i < book->code_count; i++) {
        const struct lamp_code *code = &book->code[i];
        if (lamp_suit(evidence, book, code) > 0) {
            *blinks += code->wave.count == 2;
            *codes += code->wave.count > 2;
        }
    }
}

static struct priors find_priors(const struct lamp_weighing *weighing)
{
    size_t blinks = 0;
    size_t codes = 0;
    for (size_t b = 0; b < weighing->book_count; b++) {
        count_suiting(weighing->evidence, weighing->book[b], &blinks, &codes);
    }
    return (struct priors){
        .blink = log(PRIOR_ENTRIES / 2 / fmax((double)blinks, 1)),
        .code = log(PRIOR_ENTRIES / 2 / fmax((double)codes, 1)),
    };
}

static void weigh_roughly(const struct lamp_weighing *weighing, const struct lamp_book *book,
                          const struct priors *priors, struct lamp_scales *out)
{
    for (size_t i = 0; i < book->code_count; i++) {
        struct lamp_model model;
        struct lamp_contender made = {.book = book, .code = &book->code[i]};
        made.suits = lamp_suit(weighing->evidence, book, made.code);
        if (made.code->wave.count == 0 || !(made.suits > 0)) {
            continue;
        }
        lamp_model_make(made.code, &model);
        fit_roughly(&model, weighing->sight, weighing->edge_price, &made.fit);
        made.log_prior =
            log(made.suits) + (made.code->wave.count == 2 ? priors->blink : priors->code);
        made.weight = made.log_prior + made.fit.log_likelihood;
        enter(out, &made);
    }
}

static void weigh_fully(const struct lamp_weighing *weighing, struct lamp_contender *contender)
{
    struct lamp_model model;
    lamp_model_make(contender->code, &model);
    if (contender->fit.odd < weighing->sight->count) {
        lamp_fit_fully(&model, weighing->sight, weighing->edge_price, &contender->fit);
    }
    contender->is_contradicted =
        lamp_rhythm_contradicts(weighing->evidence->rhythm, &model, contender->fit.scale);
    contender->is_supported =
        lamp_rhythm_supports(weighing->evidence->rhythm, &model, contender->fit.scale);
    contender->weight = contender->log_prior + contender->fit.log_likelihood;
    contender->weight -= contender->is_contradicted ? CONTRADICTION : 0;
}

static void sort_contenders(struct lamp_scales *scales)
{
    for (size_t i = 1; i < scales->count; i++) {
        struct lamp_contender moved = scales->at[i];
        size_t at = i;
        for (; at > 0 && scales->at[at - 1].weight < moved.weight; at--) {
            scales->at[at] = scales->at[at - 1];
        }
        scales->at[at] = moved;
    }
}

static void share_out(struct lamp_scales *scales, double log_unlisted, double log_irregular)
{
    double all = log_add(log_unlisted, log_irregular);
    double entries = scales->log_others;
    for (size_t i = 0; i < scales->count; i++) {
        entries = log_add(entries, scales->at[i].weight);
    }
    all = log_add(all, entries);
    for (size_t i = 0; i < scales->count; i++) {
        scales->at[i].share = exp(scales->at[i].weight - all);
    }
    scales->entries = exp(entries - all);
    scales->unlisted = exp(log_unlisted - all);
    scales->irregular = exp(log_irregular - all);
}

void lamp_weigh(const struct lamp_weighing *weighing, struct lamp_scales *out)
{
    out->count = 0;
    out->log_others = -INFINITY;
    const struct priors priors = find_priors(weighing);
    for (size_t b = 0; b < weighing->book_count; b++) {
        weigh_roughly(weighing, weighing->book[b], &priors, out);
    }
    for (size_t i = 0; i < out->count; i++) {
        weigh_fully(weighing, &out->at[i]);
    }
    sort_contenders(out);
    double unlisted = lamp_sight_unlisted(weighing->sight) - weighing->sight->irregular;
    share_out(out, unlisted + log(PRIOR_UNLISTED), log(PRIOR_IRREGULAR));
}
