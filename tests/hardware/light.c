/* light.c - What a lamp truly does over time, and the record of it. */
#include "light.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static const int64_t ns_per_ms = 1000000;
static const int64_t ns_per_s = 1000000000;

static bool add_length(struct light *light, double length_ms)
{
    if (light->count == LIGHT_LENGTHS_MAX || !(length_ms > 0)) {
        return false;
    }
    int64_t length_ns = (int64_t)(length_ms * (double)ns_per_ms);
    light->length_ns[light->count++] = length_ns;
    light->cycle_ns += length_ns;
    return true;
}

/* Lengths from 30 to 1000 ms, spread evenly over their logarithm: no classes, and no repeat for
 * many minutes. */
static bool parse_flicker(const char *seed, struct light *light)
{
    uint64_t state = strtoull(seed, NULL, 10);
    bool has_room = true;
    while (has_room && light->count < LIGHT_LENGTHS_MAX) {
        state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        double length_ms = 30;
        for (uint64_t step = state >> 58; step > 0; step--) {
            length_ms *= 1.0573; /* 63 steps: 33 times as long */
        }
        has_room = add_length(light, length_ms);
    }
    return has_room;
}

static bool parse_lengths(const char *text, struct light *light)
{
    char *end = NULL;
    for (double length_ms = strtod(text, &end); end != text; length_ms = strtod(text, &end)) {
        if (!add_length(light, length_ms)) {
            return false;
        }
        text = end;
    }
    return *text == '\0' && light->count > 0 && light->count % 2 == 0;
}

bool light_parse(const char *text, struct light *out)
{
    *out = (struct light){.is_lit = strcmp(text, "on") == 0};
    if (out->is_lit || strcmp(text, "off") == 0) {
        return true;
    }
    if (strncmp(text, "flicker ", 8) == 0) {
        return parse_flicker(text + 8, out);
    }
    return parse_lengths(text, out);
}

/* Lit time from the start of the script to a time. */
static int64_t lit_until_ns(const struct light *light, int64_t t_ns)
{
    int64_t within_ns = t_ns - light->start_ns;
    if (within_ns <= 0) {
        return 0;
    }
    if (light->count == 0) {
        return light->is_lit ? within_ns : 0;
    }
    int64_t lit_ns = 0;
    int64_t cycle_lit_ns = 0;
    int64_t rest_ns = within_ns % light->cycle_ns;
    for (size_t i = 0; i < light->count; i++) {
        int64_t part_ns = rest_ns < light->length_ns[i] ? rest_ns : light->length_ns[i];
        rest_ns -= part_ns;
        lit_ns += i % 2 == 0 ? part_ns : 0;
        cycle_lit_ns += i % 2 == 0 ? light->length_ns[i] : 0;
    }
    return within_ns / light->cycle_ns * cycle_lit_ns + lit_ns;
}

int64_t light_lit_ns(const struct light *light, int64_t from_ns, int64_t to_ns)
{
    return lit_until_ns(light, to_ns) - lit_until_ns(light, from_ns);
}

int64_t light_edge_after(const struct light *light, int64_t t_ns, bool *is_lit)
{
    if (t_ns < light->start_ns) {
        *is_lit = light->count > 0 || light->is_lit;
        return *is_lit ? light->start_ns : LIGHT_NEVER;
    }
    if (light->count == 0) {
        return LIGHT_NEVER;
    }
    int64_t edge_ns = t_ns - (t_ns - light->start_ns) % light->cycle_ns;
    size_t i = 0;
    while (edge_ns <= t_ns) {
        edge_ns += light->length_ns[i++ % light->count];
    }
    *is_lit = i % 2 == 0;
    return edge_ns;
}

static void write_edge(FILE *file, int64_t t_ns, bool is_lit)
{
    (void)fprintf(file, "%" PRId64 ".%09" PRId64 ",%d\n", t_ns / ns_per_s, t_ns % ns_per_s, is_lit);
}

bool light_write(const struct light *light, int64_t until_ns, const char *path)
{
    FILE *file = fopen(path, "w");
    if (file == NULL) {
        return false;
    }
    (void)fputs("time_s,lit\n", file);
    bool is_lit = light->count > 0 || light->is_lit;
    for (int64_t t_ns = light->start_ns; t_ns <= until_ns;
         t_ns = light_edge_after(light, t_ns, &is_lit)) {
        write_edge(file, t_ns, is_lit);
    }
    return fclose(file) == 0;
}

int64_t light_now_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * ns_per_s + now.tv_nsec;
}
