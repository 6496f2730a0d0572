/* teach.c - Bytes as a codebook that is taught a code, twice; what is taken in leaves all else as
 * it was. */
#include "lampread/teach.h"
#include "fuzz/fuzz.h"

/* The YAML library keeps the text of a quote that is not closed; that is not for us to free. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfyaml\n";
}

static const int64_t ms = 1000000;

static void make_draft(struct lamp_draft *draft)
{
    static const char *const checks[] = {"Measure the rail: #3, against \"ground\""};
    *draft = (struct lamp_draft){.id = "taught-here",
                                 .lamp = "status",
                                 .colour = LAMP_COLOUR_GREEN,
                                 .timing = {.short_ns = 210 * ms,
                                            .long_ns = 630 * ms,
                                            .gap_ns = 190 * ms,
                                            .pause_ns = 700 * ms,
                                            .rest_ns = 1750 * ms},
                                 .taught = {1, 2 * ms},
                                 .means = "Fan: stopped, 'as seen' # here",
                                 .basis = "taught from x.mp4",
                                 .check = {1, checks}};
    MUST(lamp_pattern_parse("3 long 1 short, pause, 2 short", &draft->pattern, NULL, NULL) ==
         LAMP_OK);
}

/* Whether the bytes of `was` stand in `now`, in order; but for the brackets of an empty list. */
static bool is_kept(const char *was, size_t was_size, const char *now, size_t now_size)
{
    size_t found = 0;
    for (size_t i = 0; i < now_size && found < was_size; i++) {
        while (found < was_size && now[i] != was[found] && strchr("[ ]", was[found]) != NULL) {
            found++;
        }
        found += found < was_size && now[i] == was[found];
    }
    return found == was_size;
}

static enum lamp_err teach(const char *text, size_t size, struct lamp_teaching *out)
{
    struct lamp_error error = {.place = ""};
    struct lamp_draft draft;
    make_draft(&draft);
    enum lamp_err err = lamp_book_add(text, size, "book", &draft, out, &error);
    if (err == LAMP_OK) {
        MUST(strcmp(out->code->id, draft.id) == 0 && out->text[out->size] == '\0');
        (void)lamp_teaching_clash(out, 30);
    } else {
        MUST(err == LAMP_BAD_BOOK || err == LAMP_BAD_USE);
        must_be_told(&error);
    }
    return err;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    struct lamp_teaching once = {.text = NULL};
    struct lamp_teaching twice = {.text = NULL};
    const char *text = (const char *)bytes;
    if (teach(text, size, &once) != LAMP_OK) {
        MUST(once.text == NULL && once.book == NULL);
        return 0;
    }
    if (once.taking == LAMP_TAKING_ADDED) {
        MUST(is_kept(text, size, once.text, once.size));
        MUST(teach(once.text, once.size, &twice) == LAMP_OK);
        MUST(twice.taking == LAMP_TAKING_REFINED && twice.code->taught.recordings == 2);
        MUST(twice.book->code_count == once.book->code_count);
        lamp_teaching_fini(&twice);
    }
    lamp_teaching_fini(&once);
    return 0;
}
