/* cli_list_pins.c - Pins are told to people and to programs, and so is what keeps them from being
 * read. */
/* layers: base source fake-gpio */
#include <check.h>
#include <jansson.h>
#include <stdlib.h>

#include "cli/json_text.c"
#include "cli/list_pins.c"
#include "support/fake_gpio.h"
#include "support/suite.h"

struct told {
    struct lamp_text text;
    struct lamp_text json;
    bool found;
};

static json_t *list(struct told *told)
{
    *told = (struct told){0};
    lamp_text_add(&told->json, "{");
    ck_assert_int_eq(list_pins(&told->text, &told->json, &told->found), LAMP_OK);
    lamp_text_add(&told->json, "}");
    ck_assert(!told->text.failed && !told->json.failed);
    json_error_t error;
    json_t *root = json_loads(told->json.at, 0, &error);
    ck_assert_msg(root != NULL, "%s in %s", error.text, told->json.at);
    return root;
}

static void finish(struct told *told, json_t *root)
{
    json_decref(root);
    lamp_text_fini(&told->text);
    lamp_text_fini(&told->json);
}

static void begin_some(void)
{
    fake_begin();
    (void)snprintf(fake.chip[0].line[2].name, LAMP_PIN_NAME_MAX, "STATUS \"A\"");
    fake.chip[0].line[3].is_used = true;
    (void)snprintf(fake.chip[0].line[3].user, LAMP_PIN_NAME_MAX, "fan");
    fake.chip[0].line[4].is_output = true;
}

START_TEST(people_are_told_each_line_and_who_has_it)
{
    struct told told;
    begin_some();
    json_t *root = list(&told);
    ck_assert_str_eq(told.text.at, "gpiochip0  made up\n"
                                   "    gpiochip0:0     to gpiochip0:1\n"
                                   "    gpiochip0:2     STATUS \"A\"\n"
                                   "    gpiochip0:3     in use by \"fan\"\n"
                                   "    gpiochip0:4     an output\n"
                                   "    gpiochip0:5     to gpiochip0:7\n");
    ck_assert(told.found);
    finish(&told, root);
}
END_TEST

START_TEST(programs_are_told_each_line)
{
    struct told told;
    begin_some();
    json_t *root = list(&told);
    json_t *chip = json_array_get(json_object_get(root, "chips"), 0);
    json_t *pins = json_object_get(chip, "pins");
    ck_assert(json_is_null(json_object_get(root, "chips_missing")));
    ck_assert(json_is_null(json_object_get(chip, "trouble")));
    ck_assert_uint_eq(json_array_size(pins), 8);
    json_t *named = json_array_get(pins, 2);
    ck_assert_str_eq(json_string_value(json_object_get(named, "source")), "gpiochip0:2");
    ck_assert_str_eq(json_string_value(json_object_get(named, "name")), "STATUS \"A\"");
    ck_assert(json_is_false(json_object_get(named, "used")));
    json_t *used = json_array_get(pins, 3);
    ck_assert(json_is_true(json_object_get(used, "used")));
    ck_assert(json_is_null(json_object_get(used, "name")));
    ck_assert_str_eq(json_string_value(json_object_get(used, "user")), "fan");
    const char *direction =
        json_string_value(json_object_get(json_array_get(pins, 4), "direction"));
    ck_assert_str_eq(direction, "output");
    finish(&told, root);
}
END_TEST

START_TEST(what_is_missing_is_told)
{
    struct told told;
    fake_begin();
    fake.chip_count = 0;
    json_t *root = list(&told);
    ck_assert_ptr_nonnull(strstr(told.text.at, "pins: none; this machine has no GPIO chip"));
    ck_assert(json_is_string(json_object_get(root, "chips_missing")));
    ck_assert(!told.found);
    finish(&told, root);
}
END_TEST

START_TEST(a_chip_that_may_not_be_opened_is_listed_with_the_reason)
{
    struct told told;
    fake_begin();
    fake.chip[0].open_code = EACCES;
    json_t *root = list(&told);
    ck_assert_ptr_nonnull(strstr(
        told.text.at, "gpiochip0\n    cannot be read: no permission to open /dev/gpiochip0"));
    json_t *chip = json_array_get(json_object_get(root, "chips"), 0);
    ck_assert(json_is_string(json_object_get(chip, "trouble")));
    ck_assert(!told.found);
    finish(&told, root);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {people_are_told_each_line_and_who_has_it,
                                  programs_are_told_each_line, what_is_missing_is_told,
                                  a_chip_that_may_not_be_opened_is_listed_with_the_reason};
    return suite_run("list_pins", tests, sizeof tests / sizeof tests[0]);
}
