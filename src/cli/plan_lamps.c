/* plan_lamps.c - What each lamp plays, and where it is. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "cli/plan.h"

/* A pattern is refused as a word of the command line, not as a book. */
static enum lamp_err parse_pattern(const char *what, struct lamp_pattern *out,
                                   struct lamp_error *error)
{
    struct lamp_error found = {.sentence = ""};
    const enum lamp_err err = lamp_pattern_parse(what, out, NULL, &found);
    if (err == LAMP_OK) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, what,
                     "%s (this can be a pattern, BOOK:CODE, sag or fade 3 s)", found.sentence);
}

static enum lamp_err play_pattern(struct plan *plan, size_t index, const char *what,
                                  struct lamp_error *error)
{
    struct lamp_pattern *pattern = malloc(sizeof *pattern);
    if (pattern == NULL) {
        return lamp_fail_memory(error);
    }
    enum lamp_err err = parse_pattern(what, pattern, error);
    if (err == LAMP_OK) {
        lamp_pattern_format(pattern, plan->pattern[index]);
        struct lamp_error found = {.sentence = ""};
        err = lamp_script_rules_play(pattern, &plan->timing, &plan->lamp[index].script, &found);
        if (err != LAMP_OK) {
            (void)lamp_fail(error, err, what, "%s", found.sentence);
        }
    }
    free(pattern);
    return err;
}

/* The entry called `id`, NULL with the nearest one named. */
static const struct lamp_code *find_code(const struct lamp_book *book, const char *what,
                                         const char *id, struct lamp_error *error)
{
    const char *nearest = NULL;
    size_t least = 4;
    for (size_t i = 0; i < book->code_count; i++) {
        if (strcmp(book->code[i].id, id) == 0) {
            return &book->code[i];
        }
        const size_t distance = lamp_text_distance(book->code[i].id, id);
        if (distance < least) {
            least = distance;
            nearest = book->code[i].id;
        }
    }
    const char *hint = nearest != NULL ? "; the nearest is " : "";
    (void)lamp_fail(error, LAMP_BAD_USE, what, "book %s has no code '%s'%s%s", book->id, id, hint,
                    nearest != NULL ? nearest : "");
    return NULL;
}

/* Name and colour as the book has them for the lamp of this entry. */
static void dress_lamp(struct plan *plan, size_t index, const struct lamp_book *book,
                       const struct lamp_code *code)
{
    if (code->lamp == NULL) {
        return;
    }
    (void)snprintf(plan->name[index], LAMP_NAME_MAX, "%s", code->lamp);
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, code->lamp) == 0) {
            plan->lamp[index].colour = book->lamp[i].colour;
        }
    }
}

static enum lamp_err play_code(struct plan *plan, size_t index, const char *what,
                               struct lamp_error *error)
{
    char name[LAMP_PLACE_MAX];
    const char *colon = strrchr(what, ':');
    (void)snprintf(name, sizeof name, "%.*s", (int)(colon - what), what);
    struct lamp_book *book = NULL;
    enum lamp_err err = lamp_book_find(name, &book, error);
    if (err != LAMP_OK) {
        return err;
    }
    const struct lamp_code *code = find_code(book, what, colon + 1, error);
    err = code != NULL ? LAMP_OK : LAMP_BAD_USE;
    if (err == LAMP_OK) {
        dress_lamp(plan, index, book, code);
        lamp_pattern_format(&code->pattern, plan->pattern[index]);
        err =
            lamp_script_rules_play(&code->pattern, &code->timing, &plan->lamp[index].script, error);
    }
    lamp_book_free(book);
    return err;
}

/* Light that no book has: "sag", "fade", "fade 2 s". False if `what` is neither. */
static bool play_light(struct plan *plan, size_t index, const char *what)
{
    struct lamp_script_rules *script = &plan->lamp[index].script;
    if (strcmp(what, "sag") == 0) {
        script->kind = LAMP_SCRIPT_SAG;
    } else if (strcmp(what, "fade") == 0 || (strncmp(what, "fade ", 5) == 0 &&
                                             lamp_duration_parse(what + 5, &script->period_ns))) {
        script->kind = LAMP_SCRIPT_FADE;
    } else {
        return false;
    }
    (void)snprintf(plan->pattern[index], LAMP_NOTATION_MAX, "%s", what);
    return true;
}

static enum lamp_err play(struct plan *plan, size_t index, const char *what,
                          struct lamp_error *error)
{
    if (play_light(plan, index, what)) {
        return LAMP_OK;
    }
    if (strchr(what, ':') != NULL && strncmp(what, "morse", 5) != 0) {
        return play_code(plan, index, what, error);
    }
    return play_pattern(plan, index, what, error);
}

/* Lamps stand in a row unless they are told where to be. */
static void place_lamp(struct plan *plan, size_t index)
{
    static const enum lamp_colour colours[] = {LAMP_COLOUR_GREEN, LAMP_COLOUR_RED,
                                               LAMP_COLOUR_YELLOW, LAMP_COLOUR_BLUE};
    struct lamp_scene_lamp *lamp = &plan->lamp[index];
    *lamp = plan->every;
    lamp->script.seed += index;
    lamp->colour = colours[index % 4];
    lamp->x_px = floor(plan->rules.scene.width_px * (0.49 + 0.11 * (double)(index % 4))) + 0.5;
    lamp->y_px = floor(plan->rules.scene.height_px * (0.39 + 0.13 * (double)(index / 4 % 4))) + 0.5;
    (void)snprintf(plan->name[index], LAMP_NAME_MAX, "lamp-%zu", index + 1);
    (void)snprintf(plan->pattern[index], LAMP_NOTATION_MAX, "steady on");
    lamp->name = plan->name[index];
    lamp->pattern = plan->pattern[index];
}

/* "X,Y" or "X,Y,SIZE". */
static bool read_place(const char *text, struct lamp_scene_lamp *lamp)
{
    double at[3] = {0};
    for (size_t i = 0; i < 3; i++) {
        const size_t used = lamp_number_read(text, &at[i]);
        if (used == 0) {
            return false;
        }
        text += used;
        if (*text == '\0' && i > 0) {
            lamp->x_px = at[0];
            lamp->y_px = at[1];
            lamp->size_px = at[2];
            return at[2] >= 0;
        }
        if (*text++ != ',') {
            return false;
        }
    }
    return false;
}

/* "[NAME=]COLOUR@X,Y[,SIZE]" */
static enum lamp_err point_lamp(struct plan *plan, size_t index, const char *text,
                                struct lamp_error *error)
{
    const char *equals = strchr(text, '=');
    const char *colour = equals != NULL ? equals + 1 : text;
    const char *at = strchr(colour, '@');
    const size_t name = equals != NULL ? (size_t)(equals - text) : 0;
    if (at == NULL || name >= LAMP_NAME_MAX || equals == text ||
        !read_place(at + 1, &plan->lamp[index])) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                         "'%s' is not [NAME=]COLOUR@X,Y[,SIZE], such as green@312,140", text);
    }
    char word[32];
    (void)snprintf(word, sizeof word, "%.*s", (int)(at - colour), colour);
    plan->lamp[index].colour = lamp_colour_named(word);
    if (plan->lamp[index].colour == LAMP_COLOUR_UNKNOWN) {
        return lamp_fail(
            error, LAMP_BAD_USE, "--lamp",
            "'%s' is no colour; expected red, orange, yellow, green, blue, purple or white", word);
    }
    if (name > 0) {
        (void)snprintf(plan->name[index], LAMP_NAME_MAX, "%.*s", (int)name, text);
    }
    return LAMP_OK;
}

enum lamp_err plan_lamps(struct plan *plan, const struct arguments *arguments,
                         struct lamp_error *error)
{
    const size_t played = arguments->operand_count;
    const size_t pointed = options_count(arguments, "lamp");
    const size_t count = played > pointed ? played : pointed;
    if (count > LAMP_SCENE_LAMPS_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp", "%zu lamps are given; at most %d can be",
                         count, LAMP_SCENE_LAMPS_MAX);
    }
    enum lamp_err err = LAMP_OK;
    for (size_t i = 0; err == LAMP_OK && i < count; i++) {
        place_lamp(plan, i);
        if (i < played) {
            err = play(plan, i, arguments->operand[i], error);
        }
        if (err == LAMP_OK && i < pointed) {
            err = point_lamp(plan, i, options_each(arguments, "lamp", i), error);
        }
    }
    plan->rules.scene.lamp = plan->lamp;
    plan->rules.scene.lamp_count = count;
    return err;
}
