/* naming.c - What each lamp is called, and which name the codebooks are asked with. */
#include "pipeline/naming.h"

#include <stdio.h>
#include <string.h>

static bool has_lamp(const struct lamp_book *book, const char *name)
{
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (strcmp(book->lamp[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

bool lamp_name_is_known(const char *name, const struct lamp_book *const *books, size_t book_count)
{
    for (size_t i = 0; i < book_count; i++) {
        if (has_lamp(books[i], name)) {
            return true;
        }
    }
    return false;
}

/* The only lamp of the book that has this colour, NULL if there is none or several. */
static const char *only_lamp(const struct lamp_book *book, enum lamp_colour colour)
{
    const char *found = NULL;
    for (size_t i = 0; i < book->lamp_count; i++) {
        if (book->lamp[i].colour == colour && found != NULL) {
            return NULL;
        }
        if (book->lamp[i].colour == colour) {
            found = book->lamp[i].name;
        }
    }
    return found;
}

static bool is_only_of_its_colour(const struct lamp_sighting *sighting, size_t count, size_t index)
{
    for (size_t i = 0; i < count; i++) {
        if (i != index && sighting[i].colour == sighting[index].colour) {
            return false;
        }
    }
    return true;
}

static bool is_taken(const struct lamp_sighting *sighting, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++) {
        if (sighting[i].name != NULL && strcmp(sighting[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

static const char *name_in_book(const struct lamp_sighting *sighting, size_t count, size_t index,
                                const struct lamp_book *book)
{
    enum lamp_colour colour = sighting[index].colour;
    if (colour == LAMP_COLOUR_UNKNOWN || !is_only_of_its_colour(sighting, count, index)) {
        return NULL;
    }
    const char *name = only_lamp(book, colour);
    return name == NULL || is_taken(sighting, count, name) ? NULL : name;
}

/* Parts of one pointed place share its name: the colour tells them apart. */
static void write_given(const struct lamp_sighting *sighting, size_t count, size_t index, char *out)
{
    bool is_shared = false;
    for (size_t i = 0; i < count; i++) {
        is_shared |= i != index && sighting[i].name == sighting[index].name;
    }
    const char *colour = is_shared ? lamp_colour_name(sighting[index].colour) : NULL;
    (void)snprintf(out, LAMP_NAME_MAX, "%s%s%s", sighting[index].name, colour != NULL ? "-" : "",
                   colour != NULL ? colour : "");
}

void lamp_name_all(const struct lamp_sighting *sighting, size_t count,
                   const struct lamp_book *const *books, size_t book_count,
                   char (*name)[LAMP_NAME_MAX])
{
    size_t number = 0;
    for (size_t i = 0; i < count; i++) {
        const char *in_book = book_count == 1 ? name_in_book(sighting, count, i, books[0]) : NULL;
        number++;
        if (sighting[i].name != NULL) {
            write_given(sighting, count, i, name[i]);
        } else if (in_book != NULL) {
            (void)snprintf(name[i], LAMP_NAME_MAX, "%s", in_book);
        } else {
            (void)snprintf(name[i], LAMP_NAME_MAX, "lamp-%zu", number);
        }
    }
}
