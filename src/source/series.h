/* series.h - The numbered pictures of a folder: one series, in the order of its numbers. */
#ifndef LAMP_SOURCE_SERIES_H
#define LAMP_SOURCE_SERIES_H

#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"

/** Most pictures of a series. */
#define LAMP_SERIES_MAX 1000000

/** Most digits of a number; a longer run of digits is a part of the name. */
#define LAMP_SERIES_DIGITS_MAX 9

/** Most series of one folder that the longest is chosen from. */
#define LAMP_SERIES_CHOICE_MAX 64

/** Longest file name, bytes with the closing zero. */
#define LAMP_SERIES_NAME_MAX 256

/** One numbered picture: its digits stand between the series' head and tail. */
struct lamp_series_item {
    uint32_t number;
    uint8_t digit_count; /**< Leading zeros counted. */
};

/** A series: names are head, digits, tail. */
struct lamp_series {
    char head[LAMP_SERIES_NAME_MAX];
    char tail[LAMP_SERIES_NAME_MAX];
    size_t count;
    size_t room;
    struct lamp_series_item *item; /**< By number, each number once. */
    size_t other_count;            /**< Pictures of the folder that are not of the series. */
};

/**
 * Find the longest series of numbered pictures of a folder.
 * @param out  freed with lamp_series_fini; untouched on failure.
 * @return LAMP_OK, LAMP_BAD_SOURCE (no numbered pictures, not readable), LAMP_FULL, LAMP_NO_MEMORY.
 */
enum lamp_err lamp_series_find(const char *folder, struct lamp_series *out,
                               struct lamp_error *error);

/** The file name of picture `index` (< count), without its folder. */
void lamp_series_name(const struct lamp_series *series, size_t index,
                      char out[LAMP_SERIES_NAME_MAX]);

/** Free what the series holds. */
void lamp_series_fini(struct lamp_series *series);

#endif
