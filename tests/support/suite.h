/* suite.h - Run one Check suite; a suite that runs nothing fails. */
#ifndef LAMP_TESTS_SUITE_H
#define LAMP_TESTS_SUITE_H

#include <check.h>
#include <stdlib.h>

/** Enough for any test under a sanitizer or valgrind on a busy machine, seconds. */
#define SUITE_TIMEOUT_S 300

/** Run `count` tests as suite `name`. @return the exit status for main. */
static inline int suite_run(const char *name, const TTest *const *tests, size_t count)
{
    Suite *suite = suite_create(name);
    TCase *tcase = tcase_create(name);
    tcase_set_timeout(tcase, SUITE_TIMEOUT_S);
    for (size_t i = 0; i < count; i++) {
        tcase_add_test(tcase, tests[i]);
    }
    suite_add_tcase(suite, tcase);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    int run = srunner_ntests_run(runner);
    srunner_free(runner);
    return run > 0 && failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

#endif
