/* choose.c - Which lamp of a report shows the code that a book is taught. */
#include "cli/choose.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "base/text.h"

const struct lamp_book_lamp *choose_book_lamp(const struct lamp_book *book, const char *name)
{
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, name) == 0) {
            return &book->lamp[i];
        }
    }
    return NULL;
}

/* A name spelt nearly as a lamp of the book is most likely meant to be that one. */
enum lamp_err choose_check_name(const struct lamp_book *book, const char *name,
                                struct lamp_error *error)
{
    const char *names[LAMP_BOOK_LAMPS_MAX];
    for (size_t i = 0; i < book->lamp_count; i++) {
        names[i] = book->lamp[i].name;
    }
    const char *nearest = lamp_text_nearest(name, names, book->lamp_count);
    if (nearest == NULL || choose_book_lamp(book, name) != NULL ||
        lamp_text_distance(name, nearest) > 2) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                     "'%s' is not a lamp of '%s', did you mean '%s'?", name, book->id, nearest);
}

static bool is_steady(const struct lamp_report_lamp *lamp)
{
    return lamp->rhythm.verdict == LAMP_VERDICT_STEADY_ON ||
           lamp->rhythm.verdict == LAMP_VERDICT_STEADY_OFF;
}

/* What to point with: "lamp-1 (green, at 312,140), lamp-2 (red, at 40,50)". */
static enum lamp_err refuse_choice(const struct lamp_report *report, struct lamp_error *error)
{
    struct lamp_text all = {0};
    assert(report->lamp != NULL);
    for (size_t i = 0; i < report->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &report->lamp[i];
        const char *colour = lamp_colour_name(lamp->colour);
        lamp_text_add(&all, "%s%s", i > 0 ? ", " : "", lamp->name);
        if (lamp->has_region) {
            lamp_text_add(&all, " (%s%sat %d,%d)", colour != NULL ? colour : "",
                          colour != NULL ? " " : "", lamp->region.x_px + lamp->region.w_px / 2,
                          lamp->region.y_px + lamp->region.h_px / 2);
        }
    }
    bool has_place = report->lamp[0].has_region;
    enum lamp_err err = all.failed ? lamp_fail_memory(error)
                                   : lamp_fail(error, LAMP_BAD_USE, "--lamp",
                                               "which lamp shows the code? expected %s of %.300s",
                                               has_place ? "NAME=X,Y" : "the name", all.at);
    lamp_text_fini(&all);
    return err;
}

static const struct lamp_report_lamp *find_named(const struct lamp_report *report, const char *name)
{
    for (size_t i = 0; i < report->lamp_count; i++) {
        if (strcmp(report->lamp[i].name, name) == 0) {
            return &report->lamp[i];
        }
    }
    return NULL;
}

/* The only lamp; else the only one that changes: steady ones beside it are what boards have. */
static const struct lamp_report_lamp *find_only(const struct lamp_report *report)
{
    const struct lamp_report_lamp *only = NULL;
    size_t changing = 0;
    for (size_t i = 0; i < report->lamp_count; i++) {
        if (report->lamp_count == 1 || !is_steady(&report->lamp[i])) {
            only = &report->lamp[i];
            changing++;
        }
    }
    return changing == 1 ? only : NULL;
}

const struct lamp_report_lamp *choose_lamp(const struct lamp_report *report, const char *name,
                                           struct lamp_error *error)
{
    if (report->lamp_count == 0) {
        (void)lamp_fail(error, LAMP_BAD_USE, report->source.name,
                        "no lamp is seen; --lamp NAME=X,Y points at one");
        return NULL;
    }
    const struct lamp_report_lamp *found = find_named(report, name);
    found = found != NULL ? found : find_only(report);
    if (found == NULL) {
        (void)refuse_choice(report, error);
    }
    return found;
}

/* Colours a camera takes for each other lie side by side in this row, and white is anything. */
static bool are_unlike(enum lamp_colour a, enum lamp_colour b)
{
    static const enum lamp_colour row[] = {LAMP_COLOUR_RED,    LAMP_COLOUR_ORANGE,
                                           LAMP_COLOUR_YELLOW, LAMP_COLOUR_GREEN,
                                           LAMP_COLOUR_BLUE,   LAMP_COLOUR_PURPLE};
    int at[2] = {-1, -1};
    for (int i = 0; i < (int)(sizeof row / sizeof row[0]); i++) {
        at[0] = row[i] == a ? i : at[0];
        at[1] = row[i] == b ? i : at[1];
    }
    return at[0] >= 0 && at[1] >= 0 && abs(at[0] - at[1]) > 1;
}

enum lamp_err choose_check_colour(const struct lamp_book *book, const char *name,
                                  enum lamp_colour seen, struct lamp_error *error)
{
    const struct lamp_book_lamp *lamp = name != NULL ? choose_book_lamp(book, name) : NULL;
    if (lamp == NULL || !are_unlike(lamp->colour, seen)) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                     "'%s' is %s in the book and %s here; --anyway takes it all the same", name,
                     lamp_colour_name(lamp->colour), lamp_colour_name(seen));
}
