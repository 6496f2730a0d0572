/* pin.c - Drive a simulated GPIO line as a lamp's photodiode would, and write down what it did.
 *
 * usage: hardware-pin PULL_FILE SCRIPT SECONDS TRUTH.csv
 * What it is going to do is written at once, so that it may be stopped before its end. PULL_FILE is
 * the line's "pull" in the folder of gpio-sim; SCRIPT as in light.h. The lamp is dark for 0.5 s
 * first.
 */
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

#include "light.h"

static const int64_t ns_per_s = 1000000000;

static void sleep_until(int64_t t_ns)
{
    struct timespec t = {.tv_sec = t_ns / ns_per_s, .tv_nsec = t_ns % ns_per_s};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL) == EINTR) {
    }
}

static bool set_pin(int pull, bool is_lit)
{
    const char *word = is_lit ? "pull-up" : "pull-down";
    return pwrite(pull, word, strlen(word), 0) > 0;
}

/* Nothing that this process does may come late: it goes before all others, and no page of it is
 * fetched in between. */
static void hurry(void)
{
    struct sched_param first = {.sched_priority = 50};
    (void)sched_setscheduler(0, SCHED_FIFO, &first);
    (void)mlockall(MCL_CURRENT | MCL_FUTURE);
}

static bool play(const struct light *light, int64_t until_ns, int pull)
{
    bool is_lit = false;
    bool is_set = set_pin(pull, false);
    int64_t t_ns = light_edge_after(light, light->start_ns - 1, &is_lit);
    while (is_set && t_ns <= until_ns) {
        sleep_until(t_ns);
        is_set = set_pin(pull, is_lit);
        t_ns = light_edge_after(light, t_ns, &is_lit);
    }
    sleep_until(until_ns);
    return is_set;
}

int main(int argc, char **argv)
{
    static struct light light;
    if (argc != 5 || !light_parse(argv[2], &light)) {
        (void)fputs("usage: hardware-pin PULL_FILE SCRIPT SECONDS TRUTH.csv\n", stderr);
        return 2;
    }
    int pull = open(argv[1], O_WRONLY);
    if (pull < 0) {
        perror(argv[1]);
        return EXIT_FAILURE;
    }
    hurry();
    light.start_ns = light_now_ns() + ns_per_s / 2;
    int64_t until_ns = light.start_ns + (int64_t)(strtod(argv[3], NULL) * (double)ns_per_s);
    bool is_done = light_write(&light, until_ns, argv[4]) && play(&light, until_ns, pull);
    return is_done ? EXIT_SUCCESS : EXIT_FAILURE;
}
