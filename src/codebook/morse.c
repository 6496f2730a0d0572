/* morse.c - The characters and procedure signals of ITU-R M.1677-1, and groups of flashes read as
 * such. */
#include "codebook/morse.h"

#include <stdbool.h>
#include <string.h>

#include "base/text.h"
#include "lampread/pattern.h"

enum { CODE_MAX = 8 };

/* ITU-R M.1677-1 (10/2009), Annex 1, 1.1. Where two signs share a code the first is the one that is
 * read: the multiplication sign stands after X; "invitation to transmit" is K and has no name of
 * its own here. */
static const struct lamp_morse_sign signs[] = {
    {"A", ".-"},
    {"B", "-..."},
    {"C", "-.-."},
    {"D", "-.."},
    {"E", "."},
    {"F", "..-."},
    {"G", "--."},
    {"H", "...."},
    {"I", ".."},
    {"J", ".---"},
    {"K", "-.-"},
    {"L", ".-.."},
    {"M", "--"},
    {"N", "-."},
    {"O", "---"},
    {"P", ".--."},
    {"Q", "--.-"},
    {"R", ".-."},
    {"S", "..."},
    {"T", "-"},
    {"U", "..-"},
    {"V", "...-"},
    {"W", ".--"},
    {"X", "-..-"},
    {"Y", "-.--"},
    {"Z", "--.."},
    {"\xc3\x89", "..-.."},
    {"1", ".----"},
    {"2", "..---"},
    {"3", "...--"},
    {"4", "....-"},
    {"5", "....."},
    {"6", "-...."},
    {"7", "--..."},
    {"8", "---.."},
    {"9", "----."},
    {"0", "-----"},
    {".", ".-.-.-"},
    {",", "--..--"},
    {":", "---..."},
    {"?", "..--.."},
    {"'", ".----."},
    {"-", "-....-"},
    {"/", "-..-."},
    {"(", "-.--."},
    {")", "-.--.-"},
    {"\"", ".-..-."},
    {"=", "-...-"},
    {"+", ".-.-."},
    {"\xc3\x97", "-..-"},
    {"@", ".--.-."},
    {"<UNDERSTOOD>", "...-."},
    {"<ERROR>", "........"},
    {"<WAIT>", ".-..."},
    {"<END-OF-WORK>", "...-.-"},
    {"<STARTING-SIGNAL>", "-.-.-"},
};

enum { SIGN_COUNT = sizeof signs / sizeof signs[0] };

/* E acute in lower case differs from upper case in its second byte only. */
static bool begins_with(const char *text, const char *name)
{
    for (; *name != '\0'; text++, name++) {
        bool is_small_acute = (unsigned char)*text == 0xa9 && (unsigned char)*name == 0x89;
        if (lamp_text_lower(*text) != lamp_text_lower(*name) && !is_small_acute) {
            return false;
        }
    }
    return true;
}

const struct lamp_morse_sign *lamp_morse_find(const char *text, size_t *used)
{
    for (size_t i = 0; i < SIGN_COUNT; i++) {
        if (begins_with(text, signs[i].name)) {
            *used = strlen(signs[i].name);
            return &signs[i];
        }
    }
    return NULL;
}

const struct lamp_morse_sign *lamp_morse_of(const char *code)
{
    for (size_t i = 0; i < SIGN_COUNT; i++) {
        if (strcmp(code, signs[i].code) == 0) {
            return &signs[i];
        }
    }
    return NULL;
}

/* The sign that the flashes from `*at` up to the next pause make; `*at` moves to that pause or the
 * end. */
static const struct lamp_morse_sign *read_group(const struct lamp_pattern *pattern, size_t *at)
{
    char code[CODE_MAX + 1] = "";
    size_t length = 0;
    for (; *at < pattern->count && pattern->symbol[*at] != LAMP_SYMBOL_PAUSE; ++*at) {
        if (length == CODE_MAX) {
            return NULL;
        }
        code[length++] = pattern->symbol[*at] == LAMP_SYMBOL_LONG ? '-' : '.';
    }
    return lamp_morse_of(code);
}

static bool append(char *text, size_t *length, const char *more)
{
    size_t added = strlen(more);
    if (*length + added >= LAMP_MORSE_MAX) {
        return false;
    }
    memcpy(text + *length, more, added + 1);
    *length += added;
    return true;
}

bool lamp_morse_read(const struct lamp_pattern *pattern, const bool *word_gaps,
                     char out[LAMP_MORSE_MAX])
{
    char text[LAMP_MORSE_MAX] = "";
    size_t length = 0;
    size_t pauses = 0;
    if (pattern->kind != LAMP_PATTERN_GROUPS || pattern->count == 0) {
        return false;
    }
    for (size_t at = 0; at < pattern->count; at++) {
        const struct lamp_morse_sign *sign = read_group(pattern, &at);
        if (sign == NULL || !append(text, &length, sign->name)) {
            return false;
        }
        bool parts_words = at < pattern->count && word_gaps != NULL && word_gaps[pauses++];
        if (parts_words && !append(text, &length, " ")) {
            return false;
        }
    }
    memcpy(out, text, sizeof text);
    return true;
}
