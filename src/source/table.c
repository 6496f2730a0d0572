/* table.c - A CSV file read by its columns: the header first, then row after row; broken ones are
 * left out and counted. */
#include "source/table.h"

#include <inttypes.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "base/fail.h"
#include "base/number.h"

/* So many bad rows, more than the good ones, and reading on is no use. */
enum { BAD_ROWS_ENOUGH = 100 };

enum table_note { NOTE_ROWS = LAMP_TABLE_NOTE_OWN + 1, NOTE_COLUMNS };

bool lamp_table_has_column(const char *head, const char *name)
{
    size_t length = strcspn(head, "\r\n");
    size_t size = strlen(name);
    for (const char *at = head; at + size <= head + length; at++) {
        if (strncasecmp(at, name, size) == 0) {
            return true;
        }
    }
    return false;
}

enum lamp_err lamp_table_fail(const struct lamp_table *table, const struct lamp_field *field,
                              struct lamp_error *error, const char *wrong)
{
    char place[LAMP_PLACE_MAX];
    char shown[LAMP_WORD_SHOWN_MAX];
    (void)snprintf(place, sizeof place, "%s:%" PRIu64 ":%d", table->input->name, field->line,
                   field->column);
    return lamp_fail(error, LAMP_BAD_SOURCE, place, "\"%s\" %s",
                     lamp_word_shown(field->text, shown), wrong);
}

/* -- the header -- */

/* Which column is called so; the count if none is. */
static int find_column(const struct lamp_columns *columns, const char *name)
{
    int at = 0;
    while (at < columns->count && strcasecmp(name, columns->name[at]) != 0) {
        at++;
    }
    return at;
}

static enum lamp_err take_column(struct lamp_table *table, const struct lamp_field *field,
                                 int index, struct lamp_error *error)
{
    int column = find_column(table->columns, field->text);
    if (column == table->columns->count) {
        char shown[LAMP_WORD_SHOWN_MAX];
        lamp_notes_say(&table->input->notes, NOTE_COLUMNS + index,
                       "the column \"%s\" is not known and was not read",
                       lamp_word_shown(field->text, shown));
        return LAMP_OK;
    }
    if (table->at[column] >= 0) {
        return lamp_table_fail(table, field, error, "is there twice: expected each column once");
    }
    table->at[column] = index;
    return LAMP_OK;
}

static enum lamp_err check_header(const struct lamp_table *table, struct lamp_error *error)
{
    for (int i = 0; i < table->columns->required; i++) {
        if (table->at[i] < 0) {
            char wrong[160];
            (void)snprintf(wrong, sizeof wrong,
                           "begins a header without the column %s: expected %s",
                           table->columns->name[i], table->columns->header);
            return lamp_table_fail(table, &table->row.field[0], error, wrong);
        }
    }
    return LAMP_OK;
}

static enum lamp_err read_header(struct lamp_table *table, struct lamp_error *error)
{
    enum lamp_err err = lamp_rows_next(&table->rows, &table->row, error);
    if (err == LAMP_END) {
        return lamp_fail(error, LAMP_BAD_SOURCE, table->input->name,
                         "there is no row in it: expected the header %s", table->columns->header);
    }
    for (size_t i = 0; err == LAMP_OK && i < table->row.field_count; i++) {
        err = take_column(table, &table->row.field[i], (int)i, error);
    }
    table->field_count = table->row.field_count;
    return err == LAMP_OK ? check_header(table, error) : err;
}

enum lamp_err lamp_table_open(struct lamp_input *input, const struct lamp_columns *columns,
                              struct lamp_table *out, struct lamp_error *error)
{
    out->input = input;
    out->columns = columns;
    for (int i = 0; i < LAMP_TABLE_COLUMNS_MAX; i++) {
        out->at[i] = -1;
    }
    out->file = fopen(input->name, "rb");
    struct stat what;
    if (out->file == NULL || fstat(fileno(out->file), &what) != 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, input->name, "it cannot be read");
    }
    out->size_bytes = (uint64_t)what.st_size;
    lamp_rows_init(&out->rows, out->file, input->name);
    return read_header(out, error);
}

/* -- the rows -- */

const struct lamp_field *lamp_table_field(const struct lamp_table *table, int column)
{
    return table->at[column] < 0 ? NULL : &table->row.field[table->at[column]];
}

enum lamp_err lamp_table_lamp(struct lamp_table *table, int column, size_t *out,
                              struct lamp_error *error)
{
    struct lamp_names *names = &table->input->names;
    const struct lamp_field *field = lamp_table_field(table, column);
    if (!lamp_names_is_fit(field->text)) {
        return lamp_table_fail(table, field, error,
                               "is not a lamp: expected a name of 1 to 63 bytes");
    }
    size_t lamp = lamp_names_find(names, field->text);
    if (lamp == names->count && !lamp_names_add(names, field->text)) {
        (void)lamp_table_fail(table, field, error, "is one lamp too many: expected at most 64");
        return LAMP_FULL;
    }
    *out = lamp;
    return LAMP_OK;
}

static void note_bad_row(struct lamp_table *table, const struct lamp_error *error)
{
    if (table->bad_count++ == 0) {
        table->first_bad = *error;
    }
    lamp_notes_say(&table->input->notes, NOTE_ROWS, "rows left out: %" PRIu64 ", first %s: %s",
                   table->bad_count, table->first_bad.place, table->first_bad.sentence);
}

/* A broken row must not lose a recording, but a file that is mostly broken is none. */
static bool is_hopeless(const struct lamp_table *table)
{
    return table->good_count == 0 || table->bad_count > table->good_count;
}

static enum lamp_err refuse(const struct lamp_table *table, struct lamp_error *error)
{
    if (table->bad_count == 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, table->input->name,
                         "there is no row after the header");
    }
    return lamp_fail(error, LAMP_BAD_SOURCE, table->first_bad.place,
                     "%s (%" PRIu64 " of %" PRIu64 " rows cannot be read)",
                     table->first_bad.sentence, table->bad_count,
                     table->bad_count + table->good_count);
}

static enum lamp_err check_field_count(const struct lamp_table *table, struct lamp_error *error)
{
    size_t count = table->row.field_count;
    return count == table->field_count
               ? LAMP_OK
               : lamp_table_fail(table, &table->row.field[count - 1], error,
                                 count < table->field_count
                                     ? "ends a row that has fewer fields than the header"
                                     : "ends a row that has more fields than the header");
}

static enum lamp_err read_row(struct lamp_table *table, lamp_table_read *read, void *state,
                              struct lamp_error *error)
{
    enum lamp_err err = lamp_rows_next(&table->rows, &table->row, error);
    if (err == LAMP_OK) {
        err = check_field_count(table, error);
    }
    return err == LAMP_OK ? read(state, error) : err;
}

enum lamp_err lamp_table_next(struct lamp_table *table, lamp_table_read *read, void *state,
                              struct lamp_error *error)
{
    struct lamp_error why;
    for (;;) {
        enum lamp_err err = read_row(table, read, state, &why);
        if (err == LAMP_OK) {
            table->good_count++;
            return LAMP_OK;
        }
        if (err == LAMP_FULL) {
            return lamp_fail(error, LAMP_BAD_SOURCE, why.place, "%s", why.sentence);
        }
        if (err != LAMP_END) {
            note_bad_row(table, &why);
        }
        if (is_hopeless(table) && (err == LAMP_END || table->bad_count >= BAD_ROWS_ENOUGH)) {
            return refuse(table, error);
        }
        if (err == LAMP_END) {
            return LAMP_END;
        }
    }
}

double lamp_table_progress(const struct lamp_table *table)
{
    return table->size_bytes == 0 ? -1 : (double)table->rows.read_bytes / (double)table->size_bytes;
}

void lamp_table_close(struct lamp_table *table)
{
    if (table->file != NULL) {
        (void)fclose(table->file);
    }
    table->file = NULL;
}
