/* compare.c - Whether a report says what a capture expects: every key expected is there, with that value.
 *
 * usage: compare EXPECT.json ACTUAL.json
 * Arrays must be of equal length; numbers may differ by 4 %, or by 0.03 where they are small. Keys that are not expected
 * do not matter. Prints each difference with its place; exit status 0 if there is none.
 */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PLACE_MAX = 512 };

static int differ(const char *place, const char *what)
{
    printf("  %s: %s\n", place, what);
    return 1;
}

static int compare(const json_t *expect, const json_t *actual, const char *place);

static int compare_objects(const json_t *expect, const json_t *actual, const char *place)
{
    int differences = 0;
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)expect, key, value)
    {
        char at[PLACE_MAX];
        (void)snprintf(at, sizeof at, "%s.%s", place, key);
        differences += compare(value, json_object_get(actual, key), at);
    }
    return differences;
}

static int compare_arrays(const json_t *expect, const json_t *actual, const char *place)
{
    int differences = 0;
    if (json_array_size(expect) != json_array_size(actual)) {
        char what[80];
        (void)snprintf(what, sizeof what, "%zu expected, %zu found", json_array_size(expect), json_array_size(actual));
        differences += differ(place, what);
    }
    for (size_t i = 0; i < json_array_size(expect); i++) {
        char at[PLACE_MAX];
        (void)snprintf(at, sizeof at, "%s[%zu]", place, i);
        differences += compare(json_array_get(expect, i), json_array_get(actual, i), at);
    }
    return differences;
}

static int compare_values(const json_t *expect, const json_t *actual, const char *place)
{
    if (json_is_number(expect) && json_is_number(actual)) {
        double e = json_number_value(expect);
        double a = json_number_value(actual);
        char what[80];
        (void)snprintf(what, sizeof what, "%g expected, %g found", e, a);
        return fabs(e - a) <= fmax(0.04 * fabs(e), 0.03) ? 0 : differ(place, what);
    }
    if (json_equal(expect, actual)) {
        return 0;
    }
    char *e = json_dumps(expect, JSON_ENCODE_ANY);
    char *a = json_dumps(actual, JSON_ENCODE_ANY);
    char what[PLACE_MAX];
    (void)snprintf(what, sizeof what, "%s expected, %s found", e == NULL ? "?" : e, a == NULL ? "nothing" : a);
    free(e);
    free(a);
    return differ(place, what);
}

static int compare(const json_t *expect, const json_t *actual, const char *place)
{
    if (actual == NULL) {
        return differ(place, "missing");
    }
    if (json_is_object(expect) && json_is_object(actual)) {
        return compare_objects(expect, actual, place);
    }
    if (json_is_array(expect) && json_is_array(actual)) {
        return compare_arrays(expect, actual, place);
    }
    return compare_values(expect, actual, place);
}

static json_t *load(const char *path)
{
    json_error_t error;
    json_t *json = json_load_file(path, 0, &error);
    if (json == NULL) {
        printf("  %s:%d: %s\n", path, error.line, error.text);
    }
    return json;
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        printf("usage: compare EXPECT.json ACTUAL.json\n");
        return EXIT_FAILURE;
    }
    json_t *expect = load(argv[1]);
    json_t *actual = load(argv[2]);
    int differences = expect == NULL || actual == NULL ? 1 : compare(expect, actual, "report");
    json_decref(expect);
    json_decref(actual);
    return differences == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
