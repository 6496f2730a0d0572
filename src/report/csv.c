/* csv.c - Write traces as CSV, as RFC 4180 has it. */
#include "report/csv.h"

#include <inttypes.h>
#include <string.h>

#include "base/number.h"
#include "lampread/export.h"

static enum lamp_err state_of(FILE *out)
{
    return ferror(out) != 0 ? LAMP_CANNOT_WRITE : LAMP_OK;
}

enum lamp_err lamp_export_trace_begin(FILE *out, bool has_exposure)
{
    (void)fprintf(out, "time_s,lamp,level%s\r\n", has_exposure ? ",exposure_s" : "");
    return state_of(out);
}

void lamp_csv_write_seconds(FILE *out, int64_t ns)
{
    uint64_t size = ns < 0 ? 0 - (uint64_t)ns : (uint64_t)ns;
    (void)fprintf(out, "%s%" PRIu64 ".%09" PRIu64, ns < 0 ? "-" : "", size / LAMP_NS_PER_S,
                  size % LAMP_NS_PER_S);
}

/* A field with a comma, quote or line break goes in quotes, its own quotes doubled. */
void lamp_csv_write_text(FILE *out, const char *text)
{
    if (text[strcspn(text, ",\"\r\n")] == '\0') {
        (void)fputs(text, out);
        return;
    }
    (void)fputc('"', out);
    for (; *text != '\0'; text++) {
        (void)fputs(*text == '"' ? "\"\"" : (const char[]){*text, '\0'}, out);
    }
    (void)fputc('"', out);
}

/* Nine digits where they are enough, as for light measured in single precision; else the 17 that
 * always are. */
static void write_level(FILE *out, double level)
{
    char text[40];
    double again;
    lamp_number_format(level, text, sizeof text);
    if (!lamp_number_parse(text, &again) || again < level || again > level) {
        (void)snprintf(text, sizeof text, "%.17g", level);
        text[strcspn(text, ",")] = text[strcspn(text, ",")] == '\0' ? '\0' : '.';
    }
    (void)fputs(text, out);
}

enum lamp_err lamp_export_trace_push(FILE *out, bool has_exposure, const char *lamp,
                                     const struct lamp_sample *sample)
{
    lamp_csv_write_seconds(out, sample->t_ns);
    (void)fputc(',', out);
    lamp_csv_write_text(out, lamp);
    (void)fputc(',', out);
    write_level(out, sample->level);
    if (has_exposure) {
        (void)fputc(',', out);
        if (sample->exposure_ns > 0) {
            lamp_csv_write_seconds(out, sample->exposure_ns);
        }
    }
    (void)fputs("\r\n", out);
    return state_of(out);
}

enum lamp_err lamp_export_states_begin(FILE *out)
{
    (void)fputs("time_s,lamp,level,sd_s\r\n", out);
    return state_of(out);
}

enum lamp_err lamp_export_states_push(FILE *out, const char *lamp, const struct lamp_edge *edge)
{
    lamp_csv_write_seconds(out, edge->t_ns);
    (void)fputc(',', out);
    lamp_csv_write_text(out, lamp);
    (void)fputs(edge->lit ? ",1," : ",0,", out);
    if (edge->sd_ns != LAMP_EXPORT_NO_SD) {
        lamp_csv_write_seconds(out, edge->sd_ns);
    }
    (void)fputs("\r\n", out);
    return state_of(out);
}
