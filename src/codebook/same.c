/* same.c - Whether two books say the same. */
#include "codebook/same.h"

#include <string.h>

bool lamp_same_text(const char *a, const char *b)
{
    return a == NULL || b == NULL ? a == b : strcmp(a, b) == 0;
}

bool lamp_same_strings(const struct lamp_strings *a, const struct lamp_strings *b)
{
    bool is_same = a->count == b->count;
    for (size_t i = 0; is_same && i < a->count; i++) {
        is_same = lamp_same_text(a->at[i], b->at[i]);
    }
    return is_same;
}

static bool same_timing(const struct lamp_timing *a, const struct lamp_timing *b)
{
    return a->short_ns == b->short_ns && a->long_ns == b->long_ns && a->gap_ns == b->gap_ns &&
           a->pause_ns == b->pause_ns && a->rest_ns == b->rest_ns;
}

static bool same_lengths(const struct lamp_code *a, const struct lamp_code *b)
{
    return lamp_pattern_equal(&a->pattern, &b->pattern) && same_timing(&a->timing, &b->timing) &&
           a->taught.recordings == b->taught.recordings && a->taught.sd_ns == b->taught.sd_ns;
}

bool lamp_same_code(const struct lamp_code *a, const struct lamp_code *b, bool is_remeasured)
{
    bool is_same_wave = is_remeasured
                            ? a->pattern.kind == b->pattern.kind && a->wave.count == b->wave.count
                            : same_lengths(a, b);
    return is_same_wave && lamp_same_text(a->id, b->id) && lamp_same_text(a->lamp, b->lamp) &&
           lamp_same_text(a->means, b->means) && lamp_same_text(a->basis, b->basis) &&
           a->tolerance == b->tolerance && lamp_same_strings(&a->suspect, &b->suspect) &&
           lamp_same_strings(&a->check, &b->check);
}

static bool same_finding(const struct lamp_finding_rule *a, const struct lamp_finding_rule *b)
{
    bool is_same =
        a->condition_count == b->condition_count && lamp_same_strings(&a->suspect, &b->suspect) &&
        lamp_same_strings(&a->check, &b->check) && lamp_same_strings(&a->caution, &b->caution);
    for (size_t i = 0; is_same && i < a->condition_count; i++) {
        is_same = lamp_same_text(a->condition[i].key, b->condition[i].key) &&
                  lamp_same_text(a->condition[i].value, b->condition[i].value) &&
                  a->condition[i].is_lamp == b->condition[i].is_lamp;
    }
    return is_same;
}

static bool same_head(const struct lamp_book *a, const struct lamp_book *b)
{
    return lamp_same_text(a->id, b->id) && lamp_same_text(a->board, b->board) &&
           lamp_same_text(a->source, b->source) && same_timing(&a->timing, &b->timing) &&
           a->tolerance == b->tolerance && a->finding_count == b->finding_count &&
           a->lamp_count <= b->lamp_count && a->code_count <= b->code_count;
}

bool lamp_same_but(const struct lamp_book *was, const struct lamp_book *now, const char *id)
{
    bool is_same = same_head(was, now);
    for (size_t i = 0; is_same && i < was->lamp_count; i++) {
        is_same = lamp_same_text(was->lamp[i].name, now->lamp[i].name) &&
                  was->lamp[i].colour == now->lamp[i].colour &&
                  lamp_same_text(was->lamp[i].shows, now->lamp[i].shows);
    }
    for (size_t i = 0; is_same && i < was->code_count; i++) {
        is_same = lamp_same_code(&was->code[i], &now->code[i], strcmp(was->code[i].id, id) == 0);
    }
    for (size_t i = 0; is_same && i < was->finding_count; i++) {
        is_same = same_finding(&was->finding[i], &now->finding[i]);
    }
    return is_same;
}
