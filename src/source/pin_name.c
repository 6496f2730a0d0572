/* pin_name.c - Which line is meant: "gpiochip0:17", "/dev/gpiochip0:17", "gpiochip0:NAME", or a
 * line's name alone. */
#include "source/pin_name.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/fail.h"
#include "source/pin_fault.h"

/* Lines of one name that are told apart for the user; and how much text that may take. */
enum { TWINS_SHOWN = 8, TWINS_TEXT = 300 };

/* A name taken apart. */
struct parts {
    const char *name;
    char path[LAMP_PIN_PATH_MAX]; /* Of the chip, "" where none is named. */
    const char *line;             /* Number or name; NULL where none is given. */
};

/* What a search came upon. */
struct search {
    size_t match_count;
    struct lamp_pin_place first;  /* Its chip is not open. */
    char path[LAMP_PIN_PATH_MAX]; /* Of that chip. */
    char titles[TWINS_TEXT];
    int closed_code; /* Of a chip that could not be looked into. */
    char closed[LAMP_PIN_PATH_MAX];
};

static void path_of(const char *chip, size_t length, char out[LAMP_PIN_PATH_MAX])
{
    bool is_path = memchr(chip, '/', length) != NULL;
    (void)snprintf(out, LAMP_PIN_PATH_MAX, "%s%.*s", is_path ? "" : "/dev/", (int)length, chip);
}

static bool is_chip_name(const char *name, size_t length)
{
    static const char prefix[] = "gpiochip";
    size_t at = sizeof prefix - 1;
    bool is_chip = length > at && strncmp(name, prefix, at) == 0;
    for (; is_chip && at < length; at++) {
        is_chip = name[at] >= '0' && name[at] <= '9';
    }
    return is_chip;
}

/* A chip is what is called like one, or, as chips can have links, a path that leads to one. */
static void take_apart(const char *name, struct parts *out)
{
    *out = (struct parts){.name = name, .line = name};
    const char *slash = strrchr(name, '/');
    const char *base = slash == NULL ? name : slash + 1;
    size_t length = strcspn(base, ":");
    size_t used = (size_t)(base - name) + length;
    char path[LAMP_PIN_PATH_MAX];
    if (used + sizeof "/dev/" > sizeof path) {
        return;
    }
    path_of(name, used, path);
    if (is_chip_name(base, length) || (slash != NULL && lamp_gpio_is_chip(path))) {
        memcpy(out->path, path, sizeof path);
        out->line = name[used] == ':' ? name + used + 1 : NULL;
    }
}

static void add_match(struct search *search, const char *path, const char *chip,
                      const struct lamp_pin *line)
{
    char title[sizeof search->first.title];
    (void)snprintf(title, sizeof title, "%s:%u", chip, line->offset);
    if (search->match_count == 0) {
        search->first.line = *line;
        memcpy(search->first.title, title, sizeof title);
        (void)snprintf(search->path, sizeof search->path, "%s", path);
    }
    size_t used = strlen(search->titles);
    if (search->match_count < TWINS_SHOWN) {
        (void)snprintf(search->titles + used, sizeof search->titles - used, "%s%s",
                       used == 0 ? "" : ", ", title);
    }
    search->match_count++;
}

static void search_lines(struct lamp_gpio_chip *chip, const char *path, const char *name,
                         struct search *search)
{
    struct lamp_gpio_chip_info info;
    if (lamp_gpio_chip_describe(chip, &info) != 0) {
        return;
    }
    for (unsigned i = 0; i < info.line_count; i++) {
        struct lamp_pin line;
        if (lamp_gpio_line_describe(chip, i, &line) == 0 && strcmp(line.name, name) == 0) {
            add_match(search, path, info.name, &line);
        }
    }
}

static void search_chip(const char *path, const char *name, struct search *search)
{
    struct lamp_gpio_chip *chip = NULL;
    int code = lamp_gpio_chip_open(path, &chip);
    if (code != 0) {
        search->closed_code = code;
        (void)snprintf(search->closed, sizeof search->closed, "%s", path);
        return;
    }
    search_lines(chip, path, name, search);
    lamp_gpio_chip_close(chip);
}

static void search_all(const char *name, struct search *search)
{
    char node[LAMP_PIN_CHIPS_MAX][LAMP_PIN_NAME_MAX];
    size_t count = lamp_gpio_nodes(node, LAMP_PIN_CHIPS_MAX);
    for (size_t i = 0; i < count && i < LAMP_PIN_CHIPS_MAX; i++) {
        char path[LAMP_PIN_PATH_MAX];
        path_of(node[i], strlen(node[i]), path);
        search_chip(path, name, search);
    }
}

/* Where chips may not be looked into, a plain word may be a line's name all the same. */
static bool may_be_hidden(const char *name, const struct search *search)
{
    bool is_denied = search->closed_code == EACCES || search->closed_code == EPERM;
    return is_denied && strpbrk(name, "/.") == NULL;
}

bool lamp_pin_name_suits(const char *name)
{
    struct parts parts;
    take_apart(name, &parts);
    if (parts.path[0] != '\0') {
        return true;
    }
    struct search search = {0};
    search_all(name, &search);
    return search.match_count > 0 || may_be_hidden(name, &search);
}

static enum lamp_err fail_closed(const char *name, const char *path, int code,
                                 struct lamp_error *error)
{
    char why[LAMP_SENTENCE_MAX];
    lamp_pin_say_closed(path, code, why);
    return lamp_fail(error, LAMP_BAD_SOURCE, name, "%s", why);
}

static enum lamp_err fail_missing(const char *name, const struct search *search,
                                  struct lamp_error *error)
{
    char why[LAMP_SENTENCE_MAX];
    if (!may_be_hidden(name, search)) {
        return lamp_fail(error, LAMP_BAD_SOURCE, name, "there is no such file or folder");
    }
    lamp_pin_say_closed(search->closed, search->closed_code, why);
    return lamp_fail(error, LAMP_BAD_SOURCE, name,
                     "there is no such file or folder; if it is a line's name: %s", why);
}

static enum lamp_err fail_many(const char *name, const struct search *search,
                               struct lamp_error *error)
{
    return lamp_fail(error, LAMP_BAD_SOURCE, name,
                     "%zu lines have this name: say which is meant: %s%s", search->match_count,
                     search->titles, search->match_count > TWINS_SHOWN ? ", ..." : "");
}

/* A number; more digits than any count of lines has are too great a one. */
static bool read_offset(const char *text, unsigned *out)
{
    size_t length = strlen(text);
    if (length == 0 || text[strspn(text, "0123456789")] != '\0') {
        return false;
    }
    *out = length > 9 ? UINT_MAX : (unsigned)strtoul(text, NULL, 10);
    return true;
}

static enum lamp_err fail_line(const char *name, const struct lamp_gpio_chip_info *info,
                               const char *what, struct lamp_error *error)
{
    if (info->line_count == 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, name, "%s has no lines", info->name);
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, name,
                     "%s; %s has %u line%s: expected %s:0 to %s:%u, or %s: and a line's name", what,
                     info->name, info->line_count, info->line_count == 1 ? "" : "s", info->name,
                     info->name, info->line_count - 1, info->name);
}

/* The line of a chip by its number, else by its name. */
static enum lamp_err search_one(const struct parts *parts, struct lamp_gpio_chip *chip,
                                struct search *search, struct lamp_error *error)
{
    struct lamp_gpio_chip_info info;
    struct lamp_pin line;
    unsigned offset;
    int code = lamp_gpio_chip_describe(chip, &info);
    if (code != 0) {
        return lamp_pin_fail_gone(parts->name, code, error);
    }
    if (parts->line == NULL || *parts->line == '\0') {
        return fail_line(parts->name, &info, "this is a chip, not a line of it", error);
    }
    if (!read_offset(parts->line, &offset)) {
        search_lines(chip, parts->path, parts->line, search);
        return search->match_count > 0
                   ? LAMP_OK
                   : fail_line(parts->name, &info, "no line has this name", error);
    }
    if (offset >= info.line_count) {
        return fail_line(parts->name, &info, "no line has this number", error);
    }
    code = lamp_gpio_line_describe(chip, offset, &line);
    if (code != 0) {
        return lamp_pin_fail_gone(parts->name, code, error);
    }
    add_match(search, parts->path, info.name, &line);
    return LAMP_OK;
}

static enum lamp_err search_named_chip(const struct parts *parts, struct search *search,
                                       struct lamp_error *error)
{
    struct lamp_gpio_chip *chip = NULL;
    int code = lamp_gpio_chip_open(parts->path, &chip);
    if (code != 0) {
        return fail_closed(parts->name, parts->path, code, error);
    }
    enum lamp_err failed = search_one(parts, chip, search, error);
    lamp_gpio_chip_close(chip);
    return failed;
}

static enum lamp_err search_everywhere(const char *name, struct search *search,
                                       struct lamp_error *error)
{
    search_all(name, search);
    return search->match_count > 0 ? LAMP_OK : fail_missing(name, search, error);
}

enum lamp_err lamp_pin_find(const char *name, struct lamp_pin_place *out, struct lamp_error *error)
{
    struct parts parts;
    struct search search = {0};
    take_apart(name, &parts);
    enum lamp_err failed = parts.path[0] == '\0' ? search_everywhere(name, &search, error)
                                                 : search_named_chip(&parts, &search, error);
    if (failed != LAMP_OK) {
        return failed;
    }
    if (search.match_count > 1) {
        return fail_many(name, &search, error);
    }
    struct lamp_pin_place found = search.first;
    int code = lamp_gpio_chip_open(search.path, &found.chip);
    if (code != 0) {
        return fail_closed(name, search.path, code, error);
    }
    *out = found;
    return LAMP_OK;
}
