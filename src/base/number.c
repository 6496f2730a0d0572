/* number.c - Numbers and quantities as people write them, the same in every locale. */
/* NOLINTNEXTLINE(bugprone-reserved-identifier,readability-identifier-naming): it names strtod_l. */
#define _GNU_SOURCE
#include "base/number.h"

#include <ctype.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Seconds beyond this are of no clock. */
static const int64_t seconds_most = 4000000000;

static bool begins_number(const char *text)
{
    if (*text == '+' || *text == '-') {
        text++;
    }
    if (*text == '.') {
        text++;
    }
    return isdigit((unsigned char)*text) != 0 &&
           !(text[0] == '0' && (text[1] == 'x' || text[1] == 'X'));
}

size_t lamp_number_read(const char *text, double *out)
{
    if (!begins_number(text)) {
        return 0;
    }
    locale_t plain = newlocale(LC_NUMERIC_MASK, "C", (locale_t)0);
    if (plain == (locale_t)0) {
        return 0;
    }
    char *end = NULL;
    double value = strtod_l(text, &end, plain);
    freelocale(plain);
    if (!isfinite(value)) {
        return 0;
    }
    *out = value;
    return (size_t)(end - text);
}

bool lamp_number_parse(const char *text, double *out)
{
    double value;
    size_t used = lamp_number_read(text, &value);
    if (used == 0 || text[used] != '\0') {
        return false;
    }
    *out = value;
    return true;
}

size_t lamp_duration_read(const char *text, int64_t *out_ns)
{
    static const struct {
        const char *name;
        double ns;
    } units[] = {{"us", 1e3}, {"ms", 1e6}, {"min", 60e9}, {"s", 1e9}};
    double value;
    size_t used = lamp_number_read(text, &value);
    if (used == 0) {
        return 0;
    }
    used += strspn(text + used, " ");
    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
        size_t length = strlen(units[i].name);
        double ns = value * units[i].ns;
        if (strncmp(text + used, units[i].name, length) == 0 &&
            !isalnum((unsigned char)text[used + length]) && ns >= 1 && ns < 86400e9) {
            *out_ns = (int64_t)llround(ns);
            return used + length;
        }
    }
    return 0;
}

bool lamp_duration_parse(const char *text, int64_t *out_ns)
{
    int64_t ns;
    size_t used = lamp_duration_read(text, &ns);
    if (used == 0 || text[used] != '\0') {
        return false;
    }
    *out_ns = ns;
    return true;
}

void lamp_duration_format(int64_t ns, char *out, size_t size)
{
    bool in_seconds = ns >= LAMP_NS_PER_S;
    int64_t unit_ns = in_seconds ? LAMP_NS_PER_S : 1000000;
    char fraction[16];
    (void)snprintf(fraction, sizeof fraction, ".%0*lld", in_seconds ? 9 : 6,
                   (long long)(ns % unit_ns));
    size_t length = strlen(fraction);
    while (length > 0 && (fraction[length - 1] == '0' || fraction[length - 1] == '.')) {
        length--;
    }
    (void)snprintf(out, size, "%lld%.*s %s", (long long)(ns / unit_ns), (int)length, fraction,
                   in_seconds ? "s" : "ms");
}

void lamp_number_format(double value, char *out, size_t size)
{
    (void)snprintf(out, size, "%.9g", value);
    for (char *at = out; *at != '\0'; at++) {
        if (*at == ',') {
            *at = '.';
        }
    }
}

/* Plain decimals to the ns, exactly: a double of a clock that counts from 1970 is only good to 0.2
 * us. */
static bool parse_plain_seconds(const char *text, int64_t *out_ns)
{
    bool is_negative = *text == '-';
    text += is_negative || *text == '+';
    int64_t ns = 0;
    size_t whole = strspn(text, "0123456789");
    if (whole == 0 || whole > 10) {
        return false;
    }
    for (size_t i = 0; i < whole; i++) {
        ns = ns * 10 + (text[i] - '0');
    }
    text += whole;
    text += *text == '.';
    size_t fraction = strspn(text, "0123456789");
    if (text[fraction] != '\0' || (fraction > 0 && text[-1] != '.') || ns > seconds_most) {
        return false;
    }
    for (size_t i = 0; i < 9; i++) {
        ns = ns * 10 + (i < fraction ? text[i] - '0' : 0);
    }
    ns += fraction > 9 && text[9] >= '5';
    *out_ns = is_negative ? -ns : ns;
    return true;
}

bool lamp_seconds_parse(const char *text, int64_t *out_ns)
{
    double seconds;
    if (parse_plain_seconds(text, out_ns)) {
        return true;
    }
    if (!lamp_number_parse(text, &seconds) || fabs(seconds) > (double)seconds_most) {
        return false;
    }
    *out_ns = (int64_t)llround(seconds * LAMP_NS_PER_S);
    return true;
}
