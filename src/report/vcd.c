/* vcd.c - Write edges as a four-state VCD file (IEEE 1364-2005, clause 18). */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "lampread/export.h"

/* The codes of lamps are single printable characters, from here on; those of their marks have a
 * letter more. */
enum { CODE_FIRST = '!', NAME_LENGTH_MAX = 63 };

/* What stands beside a lamp's wire. */
enum mark_kind { MARK_GROUP, MARK_CLASS, MARK_REPEAT, MARK_COUNT };
static const struct {
    char letter;
    const char *ending; /* Of its name. */
    const char *type;
    int bits;
    const char *range;
} marks[MARK_COUNT] = {
    [MARK_GROUP] = {'g', "_group", "integer", 32, ""},
    [MARK_CLASS] = {'c', "_class", "reg", 8 * LAMP_EXPORT_CLASS_BYTES, " [39:0]"},
    [MARK_REPEAT] = {'r', "_repeat", "integer", 32, ""},
};

struct lamp_export_edges {
    FILE *out;
    int64_t step_ns;
    size_t count;
    int64_t last_step; /* The last time that was written. */
    bool has_marks;
    uint64_t mark[LAMP_EXPORT_LAMPS_MAX][MARK_COUNT]; /* As they stand. */
};

struct lamp_export_edges_rules lamp_export_edges_rules_default(void)
{
    return (struct lamp_export_edges_rules){.step_ns = 1000, .start_ns = 0};
}

static bool is_fit_name(const char *name)
{
    size_t length = strlen(name);
    for (size_t i = 0; i < length; i++) {
        if (name[i] <= ' ' || name[i] >= 0x7f) {
            return false;
        }
    }
    return length > 0 && length <= NAME_LENGTH_MAX && name[0] != '$' && name[0] != '\\';
}

static bool is_taken(const struct lamp_export_lamp *lamps, size_t count, const char *name)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(lamps[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

static bool are_fit(const struct lamp_export_lamp *lamps, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (!is_fit_name(lamps[i].name) || is_taken(lamps, i, lamps[i].name)) {
            return false;
        }
    }
    return count > 0 && count <= LAMP_EXPORT_LAMPS_MAX;
}

static int64_t to_step(const struct lamp_export_edges *writer, int64_t t_ns)
{
    return t_ns / writer->step_ns + (t_ns % writer->step_ns >= (writer->step_ns + 1) / 2);
}

static enum lamp_err state_of(const struct lamp_export_edges *writer)
{
    return ferror(writer->out) != 0 ? LAMP_CANNOT_WRITE : LAMP_OK;
}

static char code_of(size_t lamp)
{
    return (char)(CODE_FIRST + lamp);
}

/* A mark's name is the lamp's with an ending; underscores part it from a lamp that is called so. */
static void write_mark_name(const struct lamp_export_edges *writer,
                            const struct lamp_export_lamp *lamps, size_t lamp, const char *ending)
{
    char name[NAME_LENGTH_MAX + 16];
    static const char bars[] = "_______";
    int bar_count = 0;
    do {
        (void)snprintf(name, sizeof name, "%s%.*s%s", lamps[lamp].name, bar_count, bars, ending);
    } while (is_taken(lamps, writer->count, name) && bar_count++ < (int)sizeof bars - 1);
    (void)fputs(name, writer->out);
}

static void declare_marks(const struct lamp_export_edges *writer,
                          const struct lamp_export_lamp *lamps, size_t lamp)
{
    for (size_t i = 0; i < MARK_COUNT; i++) {
        (void)fprintf(writer->out, "$var %s %d %c%c ", marks[i].type, marks[i].bits, code_of(lamp),
                      marks[i].letter);
        write_mark_name(writer, lamps, lamp, marks[i].ending);
        (void)fprintf(writer->out, "%s $end\n", marks[i].range);
    }
}

static void declare(const struct lamp_export_edges *writer, const struct lamp_export_lamp *lamps)
{
    FILE *out = writer->out;
    (void)fprintf(out, "$version lampread $end\n$timescale 1 %s $end\n$scope module lamps $end\n",
                  writer->step_ns == 1 ? "ns" : "us");
    for (size_t i = 0; i < writer->count; i++) {
        (void)fprintf(out, "$var wire 1 %c %s $end\n", code_of(i), lamps[i].name);
        if (writer->has_marks) {
            declare_marks(writer, lamps, i);
        }
    }
    (void)fputs("$upscope $end\n$enddefinitions $end\n", out);
}

/* "b101 !g": leading zeros may be left out (18.2.2). */
static void write_vector(const struct lamp_export_edges *writer, size_t lamp, enum mark_kind kind,
                         uint64_t value)
{
    int bit = 0;
    while (value >> bit > 1) {
        bit++;
    }
    (void)fputc('b', writer->out);
    for (; bit >= 0; bit--) {
        (void)fputs((value >> bit & 1) != 0 ? "1" : "0", writer->out);
    }
    (void)fprintf(writer->out, " %c%c\n", code_of(lamp), marks[kind].letter);
}

static void write_head(const struct lamp_export_edges *writer, const struct lamp_export_lamp *lamps)
{
    FILE *out = writer->out;
    declare(writer, lamps);
    (void)fprintf(out, "#%" PRId64 "\n$dumpvars\n", writer->last_step);
    for (size_t i = 0; i < writer->count; i++) {
        int value = lamps[i].starts_unseen ? 'x' : lamps[i].starts_lit ? '1' : '0';
        (void)fprintf(out, "%c%c\n", value, code_of(i));
        for (int k = 0; writer->has_marks && k < MARK_COUNT; k++) {
            write_vector(writer, i, (enum mark_kind)k, 0);
        }
    }
    (void)fputs("$end\n", out);
}

enum lamp_err lamp_export_edges_new(FILE *out, const struct lamp_export_edges_rules *rules,
                                    const struct lamp_export_lamp *lamps, size_t count,
                                    struct lamp_export_edges **writer)
{
    bool is_fit_step = rules->step_ns == 1 || rules->step_ns == 1000;
    if (!is_fit_step || rules->start_ns < 0 || !are_fit(lamps, count)) {
        return LAMP_BAD_USE;
    }
    struct lamp_export_edges *made = malloc(sizeof *made);
    if (made == NULL) {
        return LAMP_NO_MEMORY;
    }
    *made = (struct lamp_export_edges){
        .out = out, .step_ns = rules->step_ns, .count = count, .has_marks = rules->has_marks};
    made->last_step = to_step(made, rules->start_ns);
    write_head(made, lamps);
    enum lamp_err err = state_of(made);
    if (err != LAMP_OK) {
        free(made);
        return err;
    }
    *writer = made;
    return LAMP_OK;
}

/* Write the time unless it stands there already. */
static enum lamp_err write_time(struct lamp_export_edges *writer, int64_t t_ns)
{
    int64_t step = t_ns < 0 ? -1 : to_step(writer, t_ns);
    if (step < writer->last_step) {
        return LAMP_BAD_USE;
    }
    if (step > writer->last_step) {
        (void)fprintf(writer->out, "#%" PRId64 "\n", step);
        writer->last_step = step;
    }
    return state_of(writer);
}

static enum lamp_err write_value(struct lamp_export_edges *writer, size_t lamp, int64_t t_ns,
                                 char value)
{
    if (lamp >= writer->count) {
        return LAMP_BAD_USE;
    }
    enum lamp_err err = write_time(writer, t_ns);
    if (err != LAMP_OK) {
        return err;
    }
    (void)fprintf(writer->out, "%c%c\n", value, code_of(lamp));
    return state_of(writer);
}

enum lamp_err lamp_export_edges_push(struct lamp_export_edges *writer, size_t lamp,
                                     const struct lamp_edge *edge)
{
    return write_value(writer, lamp, edge->t_ns, edge->lit ? '1' : '0');
}

enum lamp_err lamp_export_edges_lose(struct lamp_export_edges *writer, size_t lamp, int64_t t_ns)
{
    return write_value(writer, lamp, t_ns, 'x');
}

/* Letters as Verilog holds them: eight bits each, the last one lowest (IEEE 1364-2005, 3.6). */
static uint64_t letters(const char *text)
{
    uint64_t value = 0;
    for (; *text != '\0'; text++) {
        value = value << 8 | (unsigned char)*text;
    }
    return value;
}

enum lamp_err lamp_export_edges_mark(struct lamp_export_edges *writer, size_t lamp, int64_t t_ns,
                                     const struct lamp_export_mark *mark)
{
    if (lamp >= writer->count || !writer->has_marks ||
        strlen(mark->class) > LAMP_EXPORT_CLASS_BYTES) {
        return LAMP_BAD_USE;
    }
    const uint64_t value[MARK_COUNT] = {[MARK_GROUP] = mark->group,
                                        [MARK_CLASS] = letters(mark->class),
                                        [MARK_REPEAT] = mark->repeat};
    enum lamp_err err = LAMP_OK;
    for (int i = 0; err == LAMP_OK && i < MARK_COUNT; i++) {
        if (value[i] != writer->mark[lamp][i]) {
            err = write_time(writer, t_ns);
            write_vector(writer, lamp, (enum mark_kind)i, value[i]);
            writer->mark[lamp][i] = value[i];
        }
    }
    return err == LAMP_OK ? state_of(writer) : err;
}

enum lamp_err lamp_export_edges_flush(struct lamp_export_edges *writer, int64_t end_ns)
{
    enum lamp_err err = write_time(writer, end_ns);
    if (err == LAMP_OK && fflush(writer->out) != 0) {
        err = LAMP_CANNOT_WRITE;
    }
    return err;
}

void lamp_export_edges_free(struct lamp_export_edges *writer)
{
    free(writer);
}
