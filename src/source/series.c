/* series.c - The numbered pictures of a folder: one series, in the order of its numbers. */
#include "source/series.h"

#include <assert.h>
#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/array.h"
#include "base/fail.h"

/* A file name taken apart. */
struct parts {
    size_t head_length;
    size_t digit_count;
    const char *tail;
    uint32_t number;
};

/* A series that may turn out the longest. */
struct choice {
    char head[LAMP_SERIES_NAME_MAX];
    char tail[LAMP_SERIES_NAME_MAX];
    size_t count;
};

struct choices {
    size_t count;
    size_t picture_count;
    struct choice at[LAMP_SERIES_CHOICE_MAX];
};

static bool is_picture_ending(const char *ending)
{
    static const char *const endings[] = {".png", ".jpg", ".jpeg", ".bmp", ".pgm",
                                          ".ppm", ".pnm", ".tif",  ".tiff"};
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
        if (strcasecmp(ending, endings[i]) == 0) {
            return true;
        }
    }
    return false;
}

/* The last run of digits before the ending is the number. */
static bool take_apart(const char *name, struct parts *out)
{
    const char *ending = strrchr(name, '.');
    if (ending == NULL || !is_picture_ending(ending) || strlen(name) >= LAMP_SERIES_NAME_MAX) {
        return false;
    }
    const char *end = ending;
    while (end > name && isdigit((unsigned char)end[-1]) == 0) {
        end--;
    }
    const char *begin = end;
    while (begin > name && isdigit((unsigned char)begin[-1]) != 0) {
        begin--;
    }
    if (begin == end || end - begin > LAMP_SERIES_DIGITS_MAX) {
        return false;
    }
    *out = (struct parts){.head_length = (size_t)(begin - name),
                          .digit_count = (size_t)(end - begin),
                          .tail = end,
                          .number = (uint32_t)strtoul(begin, NULL, 10)};
    return true;
}

static bool is_of(const char *head, const char *tail, const char *name, const struct parts *parts)
{
    return strlen(head) == parts->head_length && memcmp(head, name, parts->head_length) == 0 &&
           strcmp(tail, parts->tail) == 0;
}

static void count_name(struct choices *choices, const char *name)
{
    struct parts parts;
    if (!take_apart(name, &parts)) {
        return;
    }
    choices->picture_count++;
    size_t at = 0;
    while (at < choices->count &&
           !is_of(choices->at[at].head, choices->at[at].tail, name, &parts)) {
        at++;
    }
    if (at == LAMP_SERIES_CHOICE_MAX) {
        return;
    }
    struct choice *choice = &choices->at[at];
    if (at == choices->count) {
        choices->count++;
        *choice = (struct choice){.count = 0};
        memcpy(choice->head, name, parts.head_length);
        (void)snprintf(choice->tail, sizeof choice->tail, "%s", parts.tail);
    }
    choice->count++;
}

static enum lamp_err add_name(struct lamp_series *series, const char *name)
{
    struct parts parts;
    if (!take_apart(name, &parts) || !is_of(series->head, series->tail, name, &parts)) {
        return LAMP_OK;
    }
    void *items = series->item;
    enum lamp_err err = lamp_array_room(&items, &series->room, series->count, sizeof *series->item,
                                        LAMP_SERIES_MAX);
    series->item = items;
    if (err == LAMP_OK) {
        series->item[series->count++] = (struct lamp_series_item){
            .number = parts.number, .digit_count = (uint8_t)parts.digit_count};
    }
    return err;
}

static int by_number(const void *a, const void *b)
{
    const struct lamp_series_item *left = a;
    const struct lamp_series_item *right = b;
    if (left->number != right->number) {
        return left->number < right->number ? -1 : 1;
    }
    return (int)left->digit_count - (int)right->digit_count;
}

/* "1.png" beside "01.png" is one number twice: the shorter name is kept. */
static void sort_items(struct lamp_series *series)
{
    qsort(series->item, series->count, sizeof *series->item, by_number);
    size_t kept = 0;
    for (size_t i = 0; i < series->count; i++) {
        if (kept == 0 || series->item[kept - 1].number != series->item[i].number) {
            series->item[kept++] = series->item[i];
        }
    }
    series->count = kept;
}

static const struct choice *longest(const struct choices *choices)
{
    const struct choice *best = NULL;
    for (size_t i = 0; i < choices->count; i++) {
        const struct choice *choice = &choices->at[i];
        /* Equally long ones: by name, as a folder has no order of its own. */
        if (best == NULL || choice->count > best->count ||
            (choice->count == best->count && strcmp(choice->head, best->head) < 0)) {
            best = choice;
        }
    }
    return best;
}

static enum lamp_err collect(DIR *dir, struct choices *choices, struct lamp_series *series)
{
    const struct dirent *entry;
    while ((entry = readdir(dir)) != NULL) {
        count_name(choices, entry->d_name);
    }
    const struct choice *best = longest(choices);
    if (best == NULL) {
        return LAMP_BAD_SOURCE;
    }
    memcpy(series->head, best->head, sizeof series->head);
    memcpy(series->tail, best->tail, sizeof series->tail);
    rewinddir(dir);
    enum lamp_err err = LAMP_OK;
    while (err == LAMP_OK && (entry = readdir(dir)) != NULL) {
        err = add_name(series, entry->d_name);
    }
    return err;
}

static enum lamp_err refuse(enum lamp_err err, const char *folder, struct lamp_error *error)
{
    switch (err) {
    case LAMP_FULL:
        return lamp_fail(error, LAMP_BAD_SOURCE, folder, "more than %d pictures in one folder",
                         LAMP_SERIES_MAX);
    case LAMP_BAD_SOURCE:
        return lamp_fail(error, err, folder,
                         "no numbered pictures in this folder: expected names like frame0001.png");
    default: return lamp_fail_memory(error);
    }
}

enum lamp_err lamp_series_find(const char *folder, struct lamp_series *out,
                               struct lamp_error *error)
{
    DIR *dir = opendir(folder);
    if (dir == NULL) {
        return lamp_fail(error, LAMP_BAD_SOURCE, folder, "%s",
                         errno == EACCES ? "no permission to read it"
                                         : "this folder cannot be read");
    }
    struct lamp_series series = {.count = 0};
    struct choices *choices = calloc(1, sizeof *choices);
    enum lamp_err err = choices == NULL ? LAMP_NO_MEMORY : collect(dir, choices, &series);
    (void)closedir(dir);
    if (err != LAMP_OK || series.count == 0) {
        free(choices);
        lamp_series_fini(&series);
        return refuse(err == LAMP_OK ? LAMP_BAD_SOURCE : err, folder, error);
    }
    sort_items(&series);
    series.other_count = choices->picture_count - series.count;
    free(choices);
    *out = series;
    return LAMP_OK;
}

void lamp_series_name(const struct lamp_series *series, size_t index,
                      char out[LAMP_SERIES_NAME_MAX])
{
    const struct lamp_series_item *item = &series->item[index];
    char whole[3 * LAMP_SERIES_NAME_MAX];
    (void)snprintf(whole, sizeof whole, "%s%0*u%s", series->head, (int)item->digit_count,
                   (unsigned)item->number, series->tail);
    size_t size = strlen(whole) + 1;
    assert(size <= LAMP_SERIES_NAME_MAX); /* It was read from a folder. */
    memcpy(out, whole, size);
}

void lamp_series_fini(struct lamp_series *series)
{
    free(series->item);
    *series = (struct lamp_series){.count = 0};
}
