/* model.c - One cycle of an entry, made ready for weighing: its classes of lengths, its rest. */
#include <math.h>
#include <string.h>

#include "match/score.h"

#define TOLERANCE_LEAST 0.02
#define TOLERANCE_MOST  0.9

/* The shortest cycle that repeats to the whole wave. */
static size_t shortest_cycle(const struct lamp_wave *wave)
{
    for (size_t period = 2; period < wave->count; period += 2) {
        bool repeats = wave->count % period == 0;
        for (size_t i = period; repeats && i < wave->count; i++) {
            repeats = wave->length_ns[i] == wave->length_ns[i - period];
        }
        if (repeats) {
            return period;
        }
    }
    return wave->count;
}

static size_t nearest_class(const struct lamp_model *model, double s, bool is_lit)
{
    size_t nearest = model->class_count;
    double least = INFINITY;
    for (size_t c = 0; c < model->class_count; c++) {
        double off = fabs(log(s / model->class_s[c]));
        if (model->class_is_lit[c] == is_lit && off < least) {
            least = off;
            nearest = c;
        }
    }
    return nearest;
}

static size_t find_class(struct lamp_model *model, double s, bool is_lit)
{
    size_t nearest = nearest_class(model, s, is_lit);
    bool is_known = nearest < model->class_count && fabs(log(s / model->class_s[nearest])) < 1e-6;
    bool has_room =
        model->class_count + 1 < LAMP_MODEL_CLASSES_MAX || nearest == model->class_count;
    if (is_known || !has_room) {
        return nearest;
    }
    model->class_s[model->class_count] = s;
    model->class_is_lit[model->class_count] = is_lit;
    return model->class_count++;
}

static void find_rest(struct lamp_model *model)
{
    for (size_t k = 1; k < model->count; k += 2) {
        if (model->class_s[model->class_of[k]] > model->class_s[model->class_of[model->rest]] ||
            k == 1) {
            model->rest = k;
        }
    }
    for (size_t k = 1; k < model->count; k += 2) {
        if (model->class_of[k] != model->class_of[model->rest]) {
            model->next_longest_s = fmax(model->next_longest_s, model->class_s[model->class_of[k]]);
        }
    }
}

void lamp_model_make(const struct lamp_code *code, struct lamp_model *out)
{
    memset(out, 0, sizeof *out);
    out->tolerance = fmin(fmax(code->tolerance, TOLERANCE_LEAST), TOLERANCE_MOST);
    out->count = shortest_cycle(&code->wave);
    for (size_t k = 0; k < out->count; k++) {
        double s = (double)code->wave.length_ns[k] * 1e-9;
        out->class_of[k] = (unsigned char)find_class(out, s, k % 2 == 0);
        out->period_s += s;
    }
    find_rest(out);
}
