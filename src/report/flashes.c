/* flashes.c - The flashes of a report as CSV (RFC 4180), one a row, which sources read back as
 * edges. */
#include "report/csv.h"
#include "report/turns.h"

/* A length of less than a ns is one all the same. */
static void write_length(FILE *out, const struct lamp_length *length)
{
    (void)fputc(',', out);
    if (length != NULL) {
        lamp_csv_write_seconds(out, length->ns > 0 ? length->ns : 1);
    }
}

static void write_number(FILE *out, unsigned number)
{
    (void)fprintf(out, number > 0 ? ",%u" : ",", number);
}

/* The flash and the dark after it, either of which may be NULL. */
static void write_row(FILE *out, const char *lamp, const struct lamp_turn *first,
                      const struct lamp_length *dark, enum lamp_class dark_class)
{
    const struct lamp_length *lit = first->length->lit ? first->length : NULL;
    bool begins = first->length->cut_before;
    bool ends = lit != NULL && lit->cut_after;
    lamp_csv_write_text(out, lamp);
    (void)fputc(',', out);
    lamp_csv_write_seconds(out, first->length->start_ns);
    write_length(out, lit);
    write_length(out, dark);
    (void)fputc(',', out);
    if (lit != NULL) {
        lamp_csv_write_seconds(out, lit->sd_ns);
    }
    (void)fprintf(out, ",%s,%s", lit != NULL ? lamp_class_name(first->role.class) : "",
                  lamp_class_name(dark_class));
    write_number(out, lit != NULL ? first->role.group : 0);
    write_number(out, first->role.repeat);
    (void)fprintf(out, ",%s\r\n", begins && ends ? "both" : begins ? "start" : ends ? "end" : "");
}

/* The dark right after a flash, NULL if there is none in view. */
static const struct lamp_length *dark_after(const struct lamp_turn *turn)
{
    bool goes_on = turn->length->lit && !turn->is_last && !turn->length->cut_after;
    return goes_on ? turn->length + 1 : NULL;
}

/* What a flash's row tells of the dark after it is said by the roles as they stand: its turn comes
 * next. */
static enum lamp_class class_after(const struct lamp_turns *turns, size_t lamp)
{
    struct lamp_roles roles = turns->roles[lamp];
    struct lamp_role role = {.class = LAMP_CLASS_NONE};
    (void)lamp_roles_next(&roles, &role);
    return role.class;
}

enum lamp_err lamp_report_write_flashes(const struct lamp_report *report, FILE *out)
{
    struct lamp_turns turns;
    struct lamp_turn turn;
    (void)fputs("lamp,start_s,on_s,off_s,sd_s,class,dark_class,group,repeat,cut\r\n", out);
    lamp_turns_begin(&turns, report);
    while (lamp_turns_next(&turns, &turn)) {
        const char *lamp = report->lamp[turn.lamp].name;
        const struct lamp_length *dark = dark_after(&turn);
        if (turn.length->lit) {
            write_row(out, lamp, &turn, dark,
                      dark != NULL ? class_after(&turns, turn.lamp) : LAMP_CLASS_NONE);
        } else if (turn.is_first || turn.length->cut_before) {
            write_row(out, lamp, &turn, turn.length, turn.role.class);
        }
    }
    return ferror(out) != 0 ? LAMP_CANNOT_WRITE : LAMP_OK;
}
