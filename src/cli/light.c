/* light.c - A whole source read to a report, for commands that go on from there. */
#include "cli/light.h"

#include "base/fail.h"
#include "cli/limit.h"
#include "cli/progress.h"

/* Take one item. @return LAMP_END once the limit is reached. */
static enum lamp_err step(struct light *light, struct limit *limit, struct lamp_error *error)
{
    struct lamp_item item;
    enum lamp_err answer = lamp_reader_take(light->reader, light->source, &item, error);
    if (answer == LAMP_NOT_YET) {
        return limit_is_waited_out(limit, light->source) ? LAMP_END : LAMP_OK;
    }
    return answer == LAMP_OK && limit_passes(limit, &item) ? LAMP_END : answer;
}

static enum lamp_err read_all(struct light *light, struct limit *limit, struct lamp_error *error)
{
    struct progress progress;
    enum lamp_err answer = LAMP_OK;
    progress_catch_interrupt();
    progress_begin(&progress, "reading");
    while (answer == LAMP_OK && !progress_interrupted()) {
        answer = step(light, limit, error);
        progress_show(&progress, lamp_source_progress(light->source));
    }
    progress_end(&progress);
    return answer == LAMP_END ? LAMP_OK : answer;
}

enum lamp_err light_read(struct light *light, const struct arguments *arguments,
                         struct lamp_error *error)
{
    struct limit limit;
    enum lamp_err failed = limit_take(&limit, arguments, error);
    if (failed == LAMP_OK) {
        failed = setup_open_source(arguments, &light->source, error);
    }
    if (failed == LAMP_OK) {
        failed = lamp_reader_new(&light->setup.rules, &light->reader, error);
    }
    if (failed == LAMP_OK) {
        failed = read_all(light, &limit, error);
    }
    return failed == LAMP_OK ? lamp_reader_report(light->reader, light->source, &light->report)
                             : failed;
}

void light_fini(struct light *light)
{
    lamp_reader_free(light->reader);
    lamp_source_free(light->source);
    setup_fini(&light->setup);
}
