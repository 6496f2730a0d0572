/* cmd_watch.c - lampread watch: verdicts as they become certain. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/keep.h"
#include "cli/limit.h"
#include "cli/progress.h"
#include "cli/screen.h"
#include "cli/setup.h"
#include "cli/show.h"
#include "lampread/lampread.h"

static const struct option_rule options[] = {
    READING_OPTIONS,
    {.name = "json", .letter = 'j', .help = "for programs: one JSON object a line"},
    LIMIT_OPTION,
    {.name = "until",
     .value = "code|every",
     .help = "stop once any lamp has a code, or every lamp a verdict"},
    {.name = "keep", .value = "FILE", .help = "keep the light while it is watched"},
    {.name = "force", .letter = 'f', .help = "let --keep write over a file that is there"},
    SOURCE_OPTIONS,
};

/* When watching ends by itself. */
enum until { UNTIL_STOPPED, UNTIL_CODE, UNTIL_EVERY };

/* All that one call of the command holds. */
struct watching {
    const struct arguments *arguments;
    struct setup setup;
    struct lamp_source *source;
    struct lamp_watcher *watcher;
    struct limit limit;
    struct keep keep;
    enum until until;
    bool has_json;
    bool has_screen;
    struct screen screen;
};

static enum lamp_err take_until(struct watching *watching, struct lamp_error *error)
{
    const char *text = options_value(watching->arguments, "until");
    bool is_code = text != NULL && strcmp(text, "code") == 0;
    bool is_every = text != NULL && strcmp(text, "every") == 0;
    watching->until = is_code ? UNTIL_CODE : is_every ? UNTIL_EVERY : UNTIL_STOPPED;
    if (text == NULL || is_code || is_every) {
        return LAMP_OK;
    }
    return lamp_fail(error, LAMP_BAD_USE, "--until",
                     "'%s' never comes; expected 'code' (any lamp has a code) or 'every' (every "
                     "lamp has a verdict)",
                     text);
}

static enum lamp_err open_keep(struct watching *watching, struct lamp_error *error)
{
    const char *path = options_value(watching->arguments, "keep");
    const struct lamp_recorder_rules rules = {.replaces = options_has(watching->arguments, "force"),
                                              .traces_places = false};
    return path != NULL ? keep_open(&watching->keep, path, &rules, watching->source, error)
                        : LAMP_OK;
}

static enum lamp_err open_all(struct watching *watching, struct lamp_error *error)
{
    const struct arguments *arguments = watching->arguments;
    const struct lamp_watcher_rules rules = lamp_watcher_rules_default();
    enum lamp_err failed = take_until(watching, error);
    if (failed == LAMP_OK) {
        failed = limit_take(&watching->limit, arguments, error);
    }
    if (failed == LAMP_OK) {
        failed = setup_take(&watching->setup, arguments, error);
    }
    if (failed == LAMP_OK) {
        failed = setup_open_source(arguments, &watching->source, error);
    }
    if (failed == LAMP_OK) {
        failed = open_keep(watching, error);
    }
    watching->has_json = options_has(arguments, "json");
    watching->has_screen = !watching->has_json && isatty(STDOUT_FILENO) == 1;
    screen_begin(&watching->screen);
    return failed == LAMP_OK
               ? lamp_watcher_new(&rules, &watching->setup.rules, &watching->watcher, error)
               : failed;
}

/* -- news -- */

static void say(struct watching *watching, const struct lamp_news *news, const char *words)
{
    if (watching->has_screen) {
        screen_clear(&watching->screen);
    }
    (void)printf("%8.1f s  %s\n", news->t_s, words);
    (void)fflush(stdout);
}

static void say_verdict(struct watching *watching, const struct lamp_news *news)
{
    const struct lamp_report_lamp *lamp = &lamp_watcher_view(watching->watcher)->lamp[news->lamp];
    char headline[512];
    char line[1024];
    if (lamp_report_headline(lamp, headline, sizeof headline) != LAMP_OK) {
        return;
    }
    const struct lamp_candidate *told = &lamp->match.candidate[0];
    if (lamp->match.has_entry) {
        (void)snprintf(line, sizeof line, "%s: %s [%s: %s]", headline, told->code->means,
                       told->book->id, told->code->id);
    } else {
        (void)snprintf(line, sizeof line, "%s", headline);
    }
    say(watching, news, line);
}

static void say_trouble(struct watching *watching, const struct lamp_news *news)
{
    bool is_over = news->kind == LAMP_NEWS_RELIEF;
    const char *words =
        is_over ? lamp_trouble_over(news->trouble) : lamp_trouble_words(news->trouble);
    char line[512];
    (void)snprintf(line, sizeof line, "%s%s%s%s", is_over ? "over: " : "trouble: ", news->name,
                   news->name[0] != '\0' ? ": " : "", words);
    say(watching, news, line);
}

static void say_news(struct watching *watching, const struct lamp_news *news)
{
    char line[LAMP_NAME_MAX + 64];
    switch (news->kind) {
    case LAMP_NEWS_VERDICT: say_verdict(watching, news); return;
    case LAMP_NEWS_GONE:
        (void)snprintf(line, sizeof line, "%s: not seen as a lamp any more", news->name);
        say(watching, news, line);
        return;
    case LAMP_NEWS_TROUBLE:
    case LAMP_NEWS_RELIEF: say_trouble(watching, news); return;
    }
}

static void write_news(const struct watching *watching, const struct lamp_news *news)
{
    static const char *const events[] = {[LAMP_NEWS_VERDICT] = "verdict",
                                         [LAMP_NEWS_GONE] = "gone",
                                         [LAMP_NEWS_TROUBLE] = "trouble",
                                         [LAMP_NEWS_RELIEF] = "over"};
    bool is_trouble = news->kind == LAMP_NEWS_TROUBLE || news->kind == LAMP_NEWS_RELIEF;
    bool is_verdict = news->kind == LAMP_NEWS_VERDICT;
    const struct lamp_report_event event = {
        .t_s = news->t_s,
        .event = events[news->kind],
        .name = news->name[0] != '\0' && !is_verdict ? news->name : NULL,
        .trouble = is_trouble ? lamp_trouble_name(news->trouble) : NULL,
        .says = !is_trouble                       ? NULL
                : news->kind == LAMP_NEWS_TROUBLE ? lamp_trouble_words(news->trouble)
                                                  : lamp_trouble_over(news->trouble)};
    (void)lamp_report_write_json_event(
        &event, is_verdict ? lamp_watcher_view(watching->watcher) : NULL, news->lamp, stdout);
}

static void tell_news(struct watching *watching)
{
    struct lamp_news news;
    while (lamp_watcher_next(watching->watcher, &news)) {
        if (watching->has_json) {
            write_news(watching, &news);
        } else {
            say_news(watching, &news);
        }
    }
}

/* -- the end -- */

/* Whether watching has seen what it was to go on for; says what that was. */
static bool has_come(const struct watching *watching)
{
    const struct lamp_report *view = lamp_watcher_view(watching->watcher);
    size_t told = 0;
    for (size_t i = 0; view != NULL && i < view->lamp_count; i++) {
        const struct lamp_report_lamp *lamp = &view->lamp[i];
        bool is_told = lamp_watcher_is_told(watching->watcher, i);
        told += is_told;
        if (watching->until == UNTIL_CODE && is_told && lamp->match.verdict == LAMP_VERDICT_CODE) {
            mention("stopped: %s has its code", lamp->name);
            return true;
        }
    }
    if (watching->until == UNTIL_EVERY && view != NULL && told > 0 && told == view->lamp_count) {
        mention("stopped: every lamp has its verdict");
        return true;
    }
    return false;
}

static enum lamp_err step(struct watching *watching, struct lamp_error *error)
{
    struct lamp_item item;
    enum lamp_err answer = lamp_watcher_step(watching->watcher, watching->source, &item, error);
    if (answer != LAMP_OK && answer != LAMP_NOT_YET) {
        return answer;
    }
    struct lamp_error why = {.place = "", .sentence = ""};
    enum lamp_err kept =
        keep_take(&watching->keep, watching->source, answer == LAMP_OK ? &item : NULL, &why);
    if (kept != LAMP_OK) {
        screen_clear(&watching->screen);
        (void)complain(kept, &why); /* watching goes on without the file */
    }
    bool is_over = answer == LAMP_OK ? limit_passes(&watching->limit, &item)
                                     : limit_is_waited_out(&watching->limit, watching->source);
    return is_over ? LAMP_END : LAMP_OK;
}

static enum lamp_err watch(struct watching *watching, struct lamp_error *error)
{
    enum lamp_err answer = LAMP_OK;
    bool has_ended = false;
    progress_catch_interrupt();
    while (answer == LAMP_OK && !has_ended && !progress_interrupted() && ferror(stdout) == 0) {
        answer = step(watching, error);
        tell_news(watching);
        if (watching->has_screen) {
            screen_draw(&watching->screen, watching->watcher, watching->arguments->operand[0]);
        }
        has_ended = watching->until != UNTIL_STOPPED && has_come(watching);
    }
    screen_clear(&watching->screen);
    return answer == LAMP_END ? LAMP_OK : answer;
}

static enum lamp_err write_end(const struct watching *watching, const struct lamp_report *report)
{
    if (!watching->has_json) {
        (void)fputc('\n', stdout);
        return show_report(watching->arguments, report);
    }
    const struct lamp_report_event event = {.t_s = lamp_watcher_time_s(watching->watcher),
                                            .event = "end"};
    return lamp_report_write_json_event(&event, report, report->lamp_count, stdout);
}

static int sum_up(struct watching *watching)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    const struct lamp_report *report = NULL;
    enum lamp_err failed =
        lamp_reader_report(lamp_watcher_reader(watching->watcher), watching->source, &report);
    if (failed == LAMP_OK) {
        failed = write_end(watching, report);
    }
    if (failed == LAMP_CANNOT_WRITE) {
        return EXIT_USAGE; /* main tells of standard output, whatever wrote there */
    }
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    return watching->keep.failed ? EXIT_USAGE : show_status(report);
}

static int end(struct watching *watching, enum lamp_err failed, const struct lamp_error *error)
{
    struct lamp_error why = {.place = "", .sentence = ""};
    int status = failed == LAMP_OK ? EXIT_TOLD : complain(failed, error);
    bool has_light = watching->watcher != NULL && lamp_watcher_view(watching->watcher) != NULL;
    enum lamp_err kept = keep_finish(&watching->keep, watching->source, &why);
    if (kept != LAMP_OK) {
        (void)complain(kept, &why);
    }
    bool is_loss = failed == LAMP_BAD_SOURCE && has_light;
    if (failed == LAMP_OK || is_loss) {
        int told = sum_up(watching);
        return failed == LAMP_OK ? told : status;
    }
    return status;
}

static int run_watch(const struct arguments *arguments)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct watching *watching = calloc(1, sizeof *watching);
    if (watching == NULL) {
        return complain(LAMP_NO_MEMORY, &error);
    }
    watching->arguments = arguments;
    enum lamp_err failed = open_all(watching, &error);
    if (failed == LAMP_OK) {
        failed = watch(watching, &error);
    }
    int status = end(watching, failed, &error);
    keep_close(&watching->keep);
    lamp_watcher_free(watching->watcher);
    lamp_source_free(watching->source);
    setup_fini(&watching->setup);
    free(watching);
    return status;
}

const struct command command_watch = {
    .name = "watch",
    .operands = "SOURCE",
    .summary = "Watch a camera or a pin and tell each lamp's verdict once it is certain",
    .notes = "SOURCE is a camera (/dev/video0), a pin (gpiochip0:17), or replay:FILE for a "
             "recording as if it\nwere live. It also says when the view is covered, too dark or "
             "too bright, when the camera moved, and\nwhen that is over. Ctrl-C ends with the "
             "summary, as lampread read gives it.",
    .option = options,
    .option_count = sizeof options / sizeof options[0],
    .least_operands = 1,
    .most_operands = 1,
    .run = run_watch,
};
