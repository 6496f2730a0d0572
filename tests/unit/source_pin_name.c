/* source_pin_name.c - Names of pins are understood, and what is wrong with one is told in a line.
 */
/* layers: base source fake-gpio */
#include <check.h>
#include <stdlib.h>
#include <unistd.h>

#include "support/fake_gpio.h"
#include "support/read_source.h"
#include "support/scratch.h"
#include "support/suite.h"

static void call_line(size_t chip, size_t line, const char *name)
{
    (void)snprintf(fake.chip[chip].line[line].name, LAMP_PIN_NAME_MAX, "%s", name);
}

/* Two chips: 0 has STATUS and TWIN, 1 has TWIN, HEAD:3 and a line called 5, which is its third. */
static void begin_named(void)
{
    fake_begin();
    fake.chip_count = 2;
    call_line(0, 2, "STATUS");
    call_line(0, 4, "TWIN");
    call_line(1, 6, "TWIN");
    call_line(1, 1, "HEAD:3");
    call_line(1, 3, "5");
}

static enum lamp_err try_open(const char *name, struct lamp_source **source,
                              struct lamp_error *error)
{
    struct lamp_source_rules rules = lamp_source_rules_default();
    return lamp_source_open(name, &rules, source, error);
}

static void expect_refusal(const char *name, const char *part)
{
    struct lamp_source *source = NULL;
    struct lamp_error error = {.sentence = ""};
    ck_assert_int_eq(try_open(name, &source, &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_null(source);
    ck_assert_str_eq(error.place, name);
    ck_assert_msg(strstr(error.sentence, part) != NULL, "%s: %s", name, error.sentence);
    ck_assert_uint_lt(strlen(error.sentence), LAMP_SENTENCE_MAX - 1); /* not cut */
    ck_assert_int_eq(fake.open_count, 0);
}

static const struct {
    const char *name;
    unsigned offset;
    const char *lamp;
} meant[] = {
    {"gpiochip0:0", 0, "gpiochip0:0"}, {"/dev/gpiochip0:7", 7, "gpiochip0:7"},
    {"gpiochip1:06", 6, "TWIN"},       {"gpiochip0:STATUS", 2, "STATUS"},
    {"STATUS", 2, "STATUS"},           {"gpiochip1:TWIN", 6, "TWIN"},
    {"HEAD:3", 1, "HEAD:3"},           {"gpiochip1:HEAD:3", 1, "HEAD:3"},
    {"gpiochip1:5", 5, "gpiochip1:5"}, {"5", 3, "5"},
};

START_TEST(a_name_means_its_line)
{
    begin_named();
    struct lamp_source *source = open_source(meant[_i].name);
    ck_assert_uint_eq(fake.wish.offset, meant[_i].offset);
    ck_assert_str_eq(lamp_source_lamp_name(source, 0), meant[_i].lamp);
    ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_PIN);
    lamp_source_free(source);
    ck_assert_int_eq(fake.open_count, 0);
}
END_TEST

static const struct {
    const char *name;
    const char *part;
} refused[] = {
    {"gpiochip0:8", "no line has this number; gpiochip0 has 8 lines: expected gpiochip0:0 to "
                    "gpiochip0:7"},
    {"gpiochip0:99999999999999999999", "no line has this number"},
    {"gpiochip0:status", "no line has this name; gpiochip0 has 8 lines"},
    {"gpiochip0:-1", "no line has this name"},
    {"gpiochip0", "this is a chip, not a line of it; gpiochip0 has 8 lines"},
    {"gpiochip0:", "this is a chip, not a line of it"},
    {"gpiochip7:1", "there is no chip /dev/gpiochip7; there are gpiochip0, gpiochip1"},
    {"/dev/gpiochip7:1", "there is no chip /dev/gpiochip7"},
    {"TWIN", "2 lines have this name: say which is meant: gpiochip0:4, gpiochip1:6"},
    {"nothing", "there is no such file or folder"},
    {"gpiochip", "there is no such file or folder"},
    {"gpiochipx:1", "there is no such file or folder"},
    {"no/such/clip.mp4", "there is no such file or folder"},
};

START_TEST(a_name_that_means_no_line_is_refused_in_a_line)
{
    begin_named();
    expect_refusal(refused[_i].name, refused[_i].part);
}
END_TEST

START_TEST(a_file_wins_over_a_line_of_its_name)
{
    begin_named();
    ck_assert_int_eq(chdir(scratch_folder), 0);
    (void)scratch_write("STATUS", "time_s,lamp,level\n0,a,0\n1,a,1\n", 30);
    struct lamp_source *source = open_source("STATUS");
    ck_assert_int_eq(info_of(source).kind, LAMP_SOURCE_TRACE);
    lamp_source_free(source);
    ck_assert_int_eq(unlink("STATUS"), 0);
}
END_TEST

START_TEST(no_chip_at_all_is_told)
{
    fake_begin();
    fake.chip_count = 0;
    expect_refusal("gpiochip0:3", "this machine has no GPIO chip");
    expect_refusal("STATUS", "there is no such file or folder");
}
END_TEST

START_TEST(a_chip_that_may_not_be_opened_names_the_group_or_the_rule)
{
    fake_begin();
    fake.chip[0].open_code = EACCES;
    expect_refusal("gpiochip0:3", "/etc/udev/rules.d");
    fake.group = "gpio";
    expect_refusal("gpiochip0:3", "sudo usermod -aG gpio");
    /* A plain word may be a line's name on it, a file's name is not. */
    expect_refusal("STATUS", "there is no such file or folder; if it is a line's name: no "
                             "permission to open /dev/gpiochip0");
    struct lamp_source *source = NULL;
    struct lamp_error error;
    ck_assert_int_eq(try_open("clip.mp4", &source, &error), LAMP_BAD_SOURCE);
    ck_assert_str_eq(error.sentence, "there is no such file or folder");
}
END_TEST

START_TEST(a_line_in_use_says_by_whom)
{
    fake_begin();
    fake.chip[0].line[3].is_used = true;
    expect_refusal("gpiochip0:3", "in use by the kernel or another program");
    (void)snprintf(fake.chip[0].line[3].user, LAMP_PIN_NAME_MAX, "spi0 CS0");
    expect_refusal("gpiochip0:3", "in use by \"spi0 CS0\"");
}
END_TEST

START_TEST(a_line_taken_at_the_last_moment_says_by_whom)
{
    fake_begin();
    fake.watch_code = EBUSY;
    fake.taken_by = "fan";
    expect_refusal("gpiochip0:3", "in use by \"fan\"");
}
END_TEST

START_TEST(an_output_is_not_turned_round)
{
    fake_begin();
    fake.chip[0].line[3].is_output = true;
    expect_refusal("gpiochip0:3", "the line is an output");
    ck_assert_uint_eq(fake.wish.offset, 0); /* it was not asked for */
}
END_TEST

START_TEST(a_line_without_interrupt_is_told)
{
    fake_begin();
    fake.watch_code = ENXIO;
    expect_refusal("gpiochip0:3", "tells no edges");
}
END_TEST

START_TEST(a_pull_that_the_chip_does_not_have_is_told)
{
    fake_begin();
    fake.watch_code = EINVAL;
    expect_refusal("gpiochip0:3", "cannot be watched as was asked");
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    struct lamp_error error;
    rules.pin.pull = LAMP_PULL_UP;
    ck_assert_int_eq(lamp_source_open("gpiochip0:3", &rules, &source, &error), LAMP_BAD_SOURCE);
    ck_assert_ptr_nonnull(strstr(error.sentence, "leave the pull as it is"));
}
END_TEST

START_TEST(rules_out_of_range_are_refused)
{
    fake_begin();
    struct lamp_source_rules rules = lamp_source_rules_default();
    struct lamp_source *source = NULL;
    rules.pin.debounce_ns = -1;
    ck_assert_int_eq(lamp_source_open("gpiochip0:3", &rules, &source, NULL), LAMP_BAD_USE);
    rules.pin.debounce_ns = INT64_C(1000000001);
    ck_assert_int_eq(lamp_source_open("gpiochip0:3", &rules, &source, NULL), LAMP_BAD_USE);
    rules.pin.debounce_ns = INT64_C(1000000000);
    ck_assert_int_eq(lamp_source_open("gpiochip0:3", &rules, &source, NULL), LAMP_OK);
    lamp_source_free(source);
    ck_assert_int_eq(fake.open_count, 0);
}
END_TEST

START_TEST(chips_and_lines_are_listed)
{
    begin_named();
    fake.chip[0].line[2].is_output = true;
    fake.chip[0].line[3].is_used = true;
    (void)snprintf(fake.chip[0].line[3].user, LAMP_PIN_NAME_MAX, "fan");
    fake.chip[1].open_code = EACCES;
    struct lamp_pin_list *list = NULL;
    ck_assert_int_eq(lamp_pin_list_new(&list), LAMP_OK);
    ck_assert_uint_eq(list->chip_count, 2);
    ck_assert_str_eq(list->trouble, "");
    ck_assert_str_eq(list->chip[0].name, "gpiochip0");
    ck_assert_str_eq(list->chip[0].label, "made up");
    ck_assert_str_eq(list->chip[0].trouble, "");
    ck_assert_uint_eq(list->chip[0].pin_count, 8);
    ck_assert_str_eq(list->chip[0].pin[2].name, "STATUS");
    ck_assert(list->chip[0].pin[2].is_output && !list->chip[0].pin[3].is_output);
    ck_assert(list->chip[0].pin[3].is_used && !list->chip[0].pin[2].is_used);
    ck_assert_str_eq(list->chip[0].pin[3].user, "fan");
    ck_assert_uint_eq(list->chip[0].pin[7].offset, 7);
    ck_assert_uint_eq(list->chip[1].pin_count, 0);
    ck_assert_ptr_nonnull(strstr(list->chip[1].trouble, "no permission to open /dev/gpiochip1"));
    lamp_pin_list_free(list);
    ck_assert_int_eq(fake.open_count, 0);
}
END_TEST

START_TEST(a_machine_without_chips_lists_the_reason)
{
    fake_begin();
    fake.chip_count = 0;
    struct lamp_pin_list *list = NULL;
    ck_assert_int_eq(lamp_pin_list_new(&list), LAMP_OK);
    ck_assert_uint_eq(list->chip_count, 0);
    ck_assert_ptr_nonnull(strstr(list->trouble, "this machine has no GPIO chip"));
    lamp_pin_list_free(list);
    lamp_pin_list_free(NULL);
}
END_TEST

#define COUNT(row) ((int)(sizeof(row) / sizeof(row)[0]))

int main(void)
{
    if (!scratch_begin()) {
        return EXIT_FAILURE;
    }
    TCase *all = suite_begin("pin_name");
    tcase_add_loop_test(all, a_name_means_its_line, 0, COUNT(meant));
    tcase_add_loop_test(all, a_name_that_means_no_line_is_refused_in_a_line, 0, COUNT(refused));
    tcase_add_test(all, a_file_wins_over_a_line_of_its_name);
    tcase_add_test(all, no_chip_at_all_is_told);
    tcase_add_test(all, a_chip_that_may_not_be_opened_names_the_group_or_the_rule);
    tcase_add_test(all, a_line_in_use_says_by_whom);
    tcase_add_test(all, a_line_taken_at_the_last_moment_says_by_whom);
    tcase_add_test(all, an_output_is_not_turned_round);
    tcase_add_test(all, a_line_without_interrupt_is_told);
    tcase_add_test(all, a_pull_that_the_chip_does_not_have_is_told);
    tcase_add_test(all, rules_out_of_range_are_refused);
    tcase_add_test(all, chips_and_lines_are_listed);
    tcase_add_test(all, a_machine_without_chips_lists_the_reason);
    int status = suite_end();
    scratch_end();
    return status;
}
