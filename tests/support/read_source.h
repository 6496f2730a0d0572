/* read_source.h - Open a recording in a test and ask what it says. */
#ifndef LAMP_TESTS_READ_SOURCE_H
#define LAMP_TESTS_READ_SOURCE_H

#include <check.h>
#include <stdbool.h>
#include <string.h>

#include "lampread/source.h"

/** Open what must open. @return freed by the caller. */
static inline struct lamp_source *open_source(const char *path)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error = {.sentence = ""};
    rules.thread_count = 2;
    enum lamp_err err = lamp_source_open(path, &rules, &source, &error);
    ck_assert_msg(err == LAMP_OK, "%s: %s", path, error.sentence);
    return source;
}

/** Whether one of the warnings holds `part`. */
static inline bool has_warning(const struct lamp_source *source, const char *part)
{
    for (size_t i = 0; lamp_source_warning(source, i) != NULL; i++) {
        if (strstr(lamp_source_warning(source, i), part) != NULL) {
            return true;
        }
    }
    return false;
}

/** Open and read to the end or to a failure. @return the last answer; LAMP_END where all went well.
 */
static inline enum lamp_err read_whole(const char *path, struct lamp_error *error)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_item item;
    enum lamp_err err = lamp_source_open(path, &rules, &source, error);
    while (err == LAMP_OK) {
        err = lamp_source_next(source, &item, error);
    }
    lamp_source_free(source);
    return err;
}

/** What the source says of itself. */
static inline struct lamp_source_info info_of(const struct lamp_source *source)
{
    struct lamp_source_info info;
    lamp_source_describe(source, &info);
    return info;
}

#endif
