/* pointer.c - "--lamp NAME=X,Y[,W,H]": a lamp the user points at. */
#include "cli/pointer.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"

/* No picture is larger than this, so no place in one is. */
enum { PIXELS_MAX = 65535 };

/* A whole number of pixels at `*at`, which is moved behind it; -1 if there is none. */
static int read_pixels(const char **at)
{
    if (isdigit((unsigned char)**at) == 0) {
        return -1;
    }
    char *end = NULL;
    long value = strtol(*at, &end, 10);
    *at = end;
    return value >= 0 && value <= PIXELS_MAX ? (int)value : -1;
}

/* Two or four numbers parted by commas. @return how many, 0 if anything else is there. */
static size_t read_place(const char *text, int out[4])
{
    size_t count = 0;
    for (;;) {
        out[count] = read_pixels(&text);
        if (out[count] < 0) {
            return 0;
        }
        count++;
        if (*text == '\0') {
            return count == 2 || count == 4 ? count : 0;
        }
        if (*text++ != ',' || count == 4) {
            return 0;
        }
    }
}

static enum lamp_err check_name(const char *text, size_t size, struct lamp_error *error)
{
    if (size == 0 || size >= LAMP_NAME_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                         "'%s' has no name of 1 to %d characters before '='", text,
                         LAMP_NAME_MAX - 1);
    }
    for (size_t i = 0; i < size; i++) {
        unsigned char c = (unsigned char)text[i];
        if (c <= ' ' || c == 0x7f) {
            return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                             "'%s' has a space in the name of the lamp", text);
        }
    }
    return LAMP_OK;
}

enum lamp_err pointer_parse(const char *text, struct lamp_pointer *out, struct lamp_error *error)
{
    const char *equals = strchr(text, '=');
    int at[4] = {0};
    if (equals == NULL) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                         "'%s' has no '='; expected NAME=X,Y or NAME=X,Y,W,H", text);
    }
    enum lamp_err failed = check_name(text, (size_t)(equals - text), error);
    if (failed != LAMP_OK) {
        return failed;
    }
    size_t count = read_place(equals + 1, at);
    if (count == 0) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp",
                         "'%s' is no place; expected X,Y or X,Y,W,H in whole pixels from 0 to %d",
                         equals + 1, PIXELS_MAX);
    }
    if (count == 4 && (at[2] == 0 || at[3] == 0)) {
        return lamp_fail(error, LAMP_BAD_USE, "--lamp", "'%s' has no width or no height",
                         equals + 1);
    }
    struct lamp_pointer made = {.x_px = at[0], .y_px = at[1], .w_px = at[2], .h_px = at[3]};
    memcpy(made.name, text, (size_t)(equals - text));
    *out = made;
    return LAMP_OK;
}
