/* table.h - A CSV file read by its columns: the header first, then row after row; broken ones are
 * left out and counted.
 */
#ifndef LAMP_SOURCE_TABLE_H
#define LAMP_SOURCE_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "lampread/error.h"
#include "source/form.h"
#include "source/rows.h"

/** Most columns that a form of table knows. */
#define LAMP_TABLE_COLUMNS_MAX 16

/** Key of a note that is the form's own. */
#define LAMP_TABLE_NOTE_OWN 1

/** The columns of a form of table. */
struct lamp_columns {
    const char *const *name; /**< `count` names; those that have to be there come first. */
    int count;               /**< At most LAMP_TABLE_COLUMNS_MAX. */
    int required;            /**< How many have to be there. */
    const char *header;      /**< The header as it is told to people. */
};

/** A table being read; begin with lamp_table_open. */
struct lamp_table {
    struct lamp_input *input;
    const struct lamp_columns *columns;
    FILE *file;
    uint64_t size_bytes;
    int at[LAMP_TABLE_COLUMNS_MAX]; /**< Which field a column is; -1 if it is not there. */
    size_t field_count;             /**< Of the header. */
    uint64_t good_count;
    uint64_t bad_count;
    struct lamp_error first_bad;
    struct lamp_rows rows;
    struct lamp_row row; /**< The one that is read. */
};

/** Reads the row that is held. @return LAMP_OK; LAMP_BAD_SOURCE: the row is left out; LAMP_FULL:
 * reading ends. */
typedef enum lamp_err lamp_table_read(void *state, struct lamp_error *error);

/** Open a file and read its header. @param out  closed by the caller, also on failure. */
enum lamp_err lamp_table_open(struct lamp_input *input, const struct lamp_columns *columns,
                              struct lamp_table *out, struct lamp_error *error);

/**
 * Read rows until `read` takes one.
 * @return LAMP_OK, LAMP_END, LAMP_BAD_SOURCE where most of the file cannot be read.
 */
enum lamp_err lamp_table_next(struct lamp_table *table, lamp_table_read *read, void *state,
                              struct lamp_error *error);

/** The field of a column in the row that is held, NULL if the file has no such column. */
const struct lamp_field *lamp_table_field(const struct lamp_table *table, int column);

/** Fail at a field: "FIELD" and what is wrong with it. @return LAMP_BAD_SOURCE. */
enum lamp_err lamp_table_fail(const struct lamp_table *table, const struct lamp_field *field,
                              struct lamp_error *error, const char *wrong);

/**
 * The lamp that the field of `column` names, which is added where it is new.
 * @return LAMP_OK, LAMP_BAD_SOURCE, LAMP_FULL.
 */
enum lamp_err lamp_table_lamp(struct lamp_table *table, int column, size_t *out,
                              struct lamp_error *error);

/** Whether the first line of `head` names a column `name`. */
bool lamp_table_has_column(const char *head, const char *name);

/** How much of the file is read, 0 to 1; negative where that is not known. */
double lamp_table_progress(const struct lamp_table *table);

/** Close the file. */
void lamp_table_close(struct lamp_table *table);

#endif
