/* book.c - Bytes as a codebook; what is read keeps what its header promises. */
#include "fuzz/fuzz.h"
#include "lampread/codebook.h"

/* The YAML library keeps the text of a quote that is not closed; that is not for us to free. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfyaml\n";
}

static void check_strings(const struct lamp_strings *strings)
{
    for (size_t i = 0; i < strings->count; i++) {
        MUST(strings->at[i] != NULL);
    }
}

static void check_code(const struct lamp_code *code)
{
    MUST(code->id != NULL && code->means != NULL && code->line > 0);
    MUST(code->tolerance >= 0 && code->tolerance <= 1);
    MUST(code->pattern.kind != LAMP_PATTERN_NONE);
    MUST(code->wave.count % 2 == 0 && code->wave.count <= LAMP_WAVE_MAX);
    for (size_t i = 0; i < code->wave.count; i++) {
        MUST(code->wave.length_ns[i] > 0);
    }
    check_strings(&code->suspect);
    check_strings(&code->check);
}

static void check_finding(const struct lamp_finding_rule *rule)
{
    for (size_t i = 0; i < rule->condition_count; i++) {
        MUST(rule->condition[i].key != NULL && rule->condition[i].value != NULL);
    }
    check_strings(&rule->suspect);
    check_strings(&rule->check);
    check_strings(&rule->caution);
}

static void check_book(const struct lamp_book *book)
{
    MUST(book->id != NULL && book->board != NULL && book->source != NULL);
    MUST(book->code_count <= LAMP_BOOK_CODES_MAX && book->lamp_count <= LAMP_BOOK_LAMPS_MAX);
    MUST(book->finding_count <= LAMP_BOOK_FINDINGS_MAX);
    for (size_t i = 0; i < book->code_count; i++) {
        check_code(&book->code[i]);
    }
    for (size_t i = 0; i < book->finding_count; i++) {
        check_finding(&book->finding[i]);
    }
    (void)lamp_book_clashes(book, 30, NULL, 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    struct lamp_book *book = NULL;
    struct lamp_error error = {.place = ""};
    enum lamp_err err = lamp_book_parse((const char *)bytes, size, "book", &book, &error);
    if (err == LAMP_OK) {
        check_book(book);
    } else {
        MUST(book == NULL && err == LAMP_BAD_BOOK);
        MUST(strncmp(error.place, "book:", 5) == 0);
        must_be_told(&error);
    }
    lamp_book_free(book);
    return 0;
}
