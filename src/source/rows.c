/* rows.c - Read a CSV file a row at a time, as RFC 4180 has it, in memory that does not grow. */
#include "source/rows.h"

#include <inttypes.h>
#include <string.h>

#include "base/fail.h"

/* Where the reading of one row has got to. */
struct cursor {
    const char *at;
    const char *end;
    const char *line_start; /* Where the line began that `at` is in. */
    uint64_t line;
    char *out; /* Where the next byte of a field goes. */
};

void lamp_rows_init(struct lamp_rows *rows, FILE *file, const char *name)
{
    rows->file = file;
    rows->name = name;
    rows->line = 1;
    rows->read_bytes = 0;
    rows->begin = 0;
    rows->end = 0;
    rows->at_end = false;
    rows->is_skipping = false;
}

/* After this a whole row and the byte after it are held, unless the row is too long or the file
 * ends. */
static void fill(struct lamp_rows *rows)
{
    size_t held = rows->end - rows->begin;
    if (rows->at_end || held > LAMP_ROW_BYTES_MAX) {
        return;
    }
    memmove(rows->held, rows->held + rows->begin, held);
    size_t room = sizeof rows->held - held;
    size_t got = fread(rows->held + held, 1, room, rows->file);
    rows->at_end = got < room;
    rows->begin = 0;
    rows->end = held + got;
    if (rows->read_bytes == 0 && rows->end >= 3 && memcmp(rows->held, "\xef\xbb\xbf", 3) == 0) {
        rows->begin = 3; /* The byte order mark that some programs put before UTF-8. */
        rows->read_bytes = 3;
    }
}

static bool is_break(char c)
{
    return c == '\n' || c == '\r';
}

/* Step over one line break; CR LF is one. */
static const char *pass_break(const char *at, const char *end)
{
    return *at == '\r' && at + 1 < end && at[1] == '\n' ? at + 2 : at + 1;
}

static void go_to(struct lamp_rows *rows, const char *to, uint64_t line)
{
    size_t begin = (size_t)(to - rows->held);
    rows->read_bytes += begin - rows->begin;
    rows->begin = begin;
    rows->line = line;
}

/* Go on after the next line break; where none is held yet, remember to look on for it. */
static void skip_line(struct lamp_rows *rows)
{
    const char *end = rows->held + rows->end;
    const char *at = rows->held + rows->begin;
    while (at < end && !is_break(*at)) {
        at++;
    }
    rows->is_skipping = at == end && !rows->at_end;
    go_to(rows, at < end ? pass_break(at, end) : end, rows->line + (at < end));
}

static const char *read_plain(struct cursor *cursor)
{
    while (cursor->at < cursor->end && *cursor->at != ',' && !is_break(*cursor->at)) {
        if (*cursor->at == '"') {
            return "a quote inside a field: expected the whole field in quotes and its own quotes "
                   "doubled";
        }
        *cursor->out++ = *cursor->at++;
    }
    return NULL;
}

static void keep_quoted(struct cursor *cursor)
{
    char c = *cursor->at++;
    *cursor->out++ = c;
    if (c == '\n' || (c == '\r' && (cursor->at == cursor->end || *cursor->at != '\n'))) {
        cursor->line++;
        cursor->line_start = cursor->at;
    }
}

static bool is_doubled(const struct cursor *cursor)
{
    return cursor->at + 1 < cursor->end && cursor->at[1] == '"';
}

static const char *read_quoted(struct cursor *cursor)
{
    cursor->at++;
    while (cursor->at < cursor->end && (*cursor->at != '"' || is_doubled(cursor))) {
        cursor->at += *cursor->at == '"';
        keep_quoted(cursor);
    }
    if (cursor->at == cursor->end) {
        return "a field whose closing quote is missing";
    }
    cursor->at++;
    bool ends = cursor->at == cursor->end || *cursor->at == ',' || is_break(*cursor->at);
    return ends ? NULL : "text after a closing quote: expected a comma or the end of the row";
}

static const char *read_field(struct cursor *cursor, struct lamp_field *field)
{
    *field = (struct lamp_field){.text = cursor->out,
                                 .line = cursor->line,
                                 .column = (int)(cursor->at - cursor->line_start) + 1};
    bool is_quoted = cursor->at < cursor->end && *cursor->at == '"';
    const char *fault = is_quoted ? read_quoted(cursor) : read_plain(cursor);
    if (fault == NULL && memchr(field->text, '\0', (size_t)(cursor->out - field->text)) != NULL) {
        fault = "a zero byte: expected text";
    }
    *cursor->out++ = '\0';
    return fault;
}

/* The fields up to the end of the row; the fault in words, NULL if there is none. */
static const char *read_fields(struct cursor *cursor, struct lamp_row *row)
{
    row->field_count = 0;
    for (;;) {
        const char *fault = read_field(cursor, &row->field[row->field_count++]);
        if (fault != NULL || cursor->at == cursor->end || is_break(*cursor->at)) {
            return fault;
        }
        cursor->at++;
        if (row->field_count == LAMP_ROW_FIELDS_MAX) {
            return "too many fields in a row";
        }
    }
}

static enum lamp_err refuse(struct lamp_rows *rows, const struct cursor *cursor, const char *fault,
                            struct lamp_error *error)
{
    char place[LAMP_PLACE_MAX];
    (void)snprintf(place, sizeof place, "%s:%" PRIu64 ":%d", rows->name, cursor->line,
                   (int)(cursor->at - cursor->line_start) + 1);
    skip_line(rows);
    return lamp_fail(error, LAMP_BAD_SOURCE, place, "%s", fault);
}

static enum lamp_err read_row(struct lamp_rows *rows, struct lamp_row *row,
                              struct lamp_error *error)
{
    const char *begin = rows->held + rows->begin;
    const char *end = rows->held + rows->end;
    bool is_long = end - begin > LAMP_ROW_BYTES_MAX;
    struct cursor cursor = {.at = begin,
                            .end = is_long ? begin + LAMP_ROW_BYTES_MAX : end,
                            .line_start = begin,
                            .line = rows->line,
                            .out = rows->text};
    const char *fault = read_fields(&cursor, row);
    if (fault == NULL && is_long && cursor.at == cursor.end) {
        fault = "a row longer than 4096 bytes";
    }
    if (fault != NULL) {
        return refuse(rows, &cursor, fault, error);
    }
    bool breaks = cursor.at < end;
    go_to(rows, breaks ? pass_break(cursor.at, end) : end, cursor.line + breaks);
    return LAMP_OK;
}

enum lamp_err lamp_rows_next(struct lamp_rows *rows, struct lamp_row *row, struct lamp_error *error)
{
    for (;;) {
        fill(rows);
        if (rows->begin == rows->end) {
            return LAMP_END;
        }
        if (rows->is_skipping) {
            skip_line(rows);
            continue;
        }
        bool is_empty = is_break(rows->held[rows->begin]);
        enum lamp_err err = read_row(rows, row, error);
        if (!is_empty || err != LAMP_OK) {
            return err;
        }
    }
}
