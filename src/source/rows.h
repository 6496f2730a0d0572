/* rows.h - Read a CSV file a row at a time, as RFC 4180 has it, in memory that does not grow.
 *
 * CR LF, LF and CR end a row. A field in quotes may hold commas, line breaks and doubled quotes.
 */
#ifndef LAMP_SOURCE_ROWS_H
#define LAMP_SOURCE_ROWS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "lampread/error.h"

/** Longest row, bytes with its line break. */
#define LAMP_ROW_BYTES_MAX 4096

/** Most fields of a row. */
#define LAMP_ROW_FIELDS_MAX 64

/** One field of a row. */
struct lamp_field {
    const char *text; /**< Zero-terminated, quotes taken off. */
    uint64_t line;    /**< Line of the file where it begins, from 1. */
    int column;       /**< Byte of that line where it begins, from 1. */
};

/** One row, borrowed until the next one is read. */
struct lamp_row {
    size_t field_count; /**< 1 or more. */
    struct lamp_field field[LAMP_ROW_FIELDS_MAX];
};

/** A file being read by rows; begin with lamp_rows_init. */
struct lamp_rows {
    FILE *file;
    const char *name; /**< For places of errors. */
    uint64_t line;
    uint64_t read_bytes; /**< Bytes of the rows given so far. */
    size_t begin;
    size_t end;
    bool at_end;
    bool is_skipping; /**< In a row that was too long. */
    char held[2 * LAMP_ROW_BYTES_MAX];
    char text[LAMP_ROW_BYTES_MAX + LAMP_ROW_FIELDS_MAX];
};

/** Begin. @param file  closed by the caller. @param name  borrowed. */
void lamp_rows_init(struct lamp_rows *rows, FILE *file, const char *name);

/**
 * Read the next row; empty lines are passed over.
 * @return LAMP_OK; LAMP_END; LAMP_BAD_SOURCE if this row breaks RFC 4180 or a ceiling (the next
 * call goes on with the line after the one where it began).
 */
enum lamp_err lamp_rows_next(struct lamp_rows *rows, struct lamp_row *row,
                             struct lamp_error *error);

#endif
