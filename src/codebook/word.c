/* word.c - Text written as YAML that every reader takes for the same text. */
#include "codebook/word.h"

#include <string.h>
#include <strings.h>

#include "base/fail.h"
#include "base/utf8.h"
#include "codebook/field.h"
#include "lampread/teach.h"

static const char letters[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";

/* Words that readers of YAML 1.1 or 1.2 take for something other than text. */
static bool is_reserved(const char *word)
{
    static const char *const words[] = {"y",   "n",    "yes",   "no",   "on",
                                        "off", "true", "false", "null", "nan"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcasecmp(word, words[i]) == 0) {
            return true;
        }
    }
    return false;
}

/* Numbers, dates and times begin with a digit or a sign; so text that does stands in quotes, unless
 * a space follows its number, as in "200 ms". */
static bool begins_as_text(const char *word)
{
    size_t digits = strspn(word, "0123456789.");
    bool is_quantity = word[0] != '.' && digits > 0 && word[digits] == ' ' &&
                       word[digits + 1] != '\0' && strchr(letters, word[digits + 1]) != NULL;
    return is_quantity || (word[0] != '\0' && strchr(letters, word[0]) != NULL);
}

static bool is_plain(const char *word)
{
    size_t length = strlen(word);
    size_t good =
        strspn(word, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .-()/_+");
    return begins_as_text(word) && good == length && word[length - 1] != ' ' && !is_reserved(word);
}

void lamp_word_write(const char *word, struct lamp_text *out)
{
    if (is_plain(word)) {
        lamp_text_add(out, "%s", word);
        return;
    }
    lamp_text_add(out, "\"");
    for (const char *at = word; *at != '\0'; at++) {
        lamp_text_add(out, *at == '"' || *at == '\\' ? "\\%c" : "%c", *at);
    }
    lamp_text_add(out, "\"");
}

enum lamp_err lamp_word_check(const char *word, const char *what, struct lamp_error *error)
{
    size_t size = strlen(word);
    if (word[strspn(word, " \t")] == '\0') {
        return lamp_fail(error, LAMP_BAD_USE, "", "%s is blank, expected text", what);
    }
    if (size > LAMP_BOOK_TEXT_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "", "%s has %zu bytes, expected at most %d", what,
                         size, LAMP_BOOK_TEXT_MAX);
    }
    for (size_t at = 0; at < size;) {
        uint32_t character = 0;
        size_t used = lamp_utf8_read(word + at, size - at, &character);
        if (used == 0) {
            return lamp_fail(error, LAMP_BAD_USE, "", "%s is not UTF-8, expected text in UTF-8",
                             what);
        }
        if (lamp_utf8_is_control(character)) {
            return lamp_fail(error, LAMP_BAD_USE, "",
                             "%s holds a control character or a line break, expected plain text",
                             what);
        }
        at += used;
    }
    return LAMP_OK;
}

enum lamp_err lamp_book_check_id(const char *id, struct lamp_error *error)
{
    return lamp_word_check_id(id, "an id", error);
}

enum lamp_err lamp_word_check_id(const char *word, const char *what, struct lamp_error *error)
{
    size_t good = strspn(word, "abcdefghijklmnopqrstuvwxyz0123456789-");
    if (word[0] == '\0' || word[good] != '\0') {
        return lamp_fail(error, LAMP_BAD_USE, "",
                         "'%.*s' is not %s, expected lower-case letters, digits and hyphens",
                         lamp_field_quoted(word), word, what);
    }
    if (good > LAMP_BOOK_ID_MAX) {
        return lamp_fail(error, LAMP_BAD_USE, "", "%s has %zu characters, expected at most %d",
                         what, good, LAMP_BOOK_ID_MAX);
    }
    return LAMP_OK;
}
