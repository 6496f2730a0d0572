/* suite.h - Run the Check suite of a test program; a suite that runs nothing fails. */
#ifndef LAMP_TESTS_SUITE_H
#define LAMP_TESTS_SUITE_H

#include <check.h>
#include <stdlib.h>

/** Enough for any test under a sanitizer or valgrind on a busy machine, seconds. */
#define SUITE_TIMEOUT_S 300

static Suite *suite_begun;

/** Begin a suite. @return its case, for tests to be added to. */
static inline TCase *suite_begin(const char *name)
{
    TCase *tests = tcase_create(name);
    tcase_set_timeout(tests, SUITE_TIMEOUT_S);
    suite_begun = suite_create(name);
    suite_add_tcase(suite_begun, tests);
    return tests;
}

/** Run the suite that was begun. @return the exit status for main. */
static inline int suite_end(void)
{
    SRunner *runner = srunner_create(suite_begun);
    srunner_run_all(runner, CK_ENV);
    int failed = srunner_ntests_failed(runner);
    int run = srunner_ntests_run(runner);
    srunner_free(runner);
    return run > 0 && failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

/** Run `count` tests as suite `name`. @return the exit status for main. */
static inline int suite_run(const char *name, const TTest *const *tests, size_t count)
{
    TCase *all = suite_begin(name);
    for (size_t i = 0; i < count; i++) {
        tcase_add_test(all, tests[i]);
    }
    return suite_end();
}

/** Run one test for each of `rows` rows of a table as suite `name`. @return the exit status for
 * main. */
static inline int suite_run_rows(const char *name, const TTest *test, size_t rows)
{
    TCase *all = suite_begin(name);
    tcase_add_loop_test(all, test, 0, (int)rows);
    return suite_end();
}

#endif
