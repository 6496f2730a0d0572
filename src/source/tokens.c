/* tokens.c - Read a text file a word at a time, knowing the place of each. */
#include "source/tokens.h"

void lamp_tokens_init(struct lamp_tokens *tokens, FILE *file)
{
    *tokens = (struct lamp_tokens){.file = file, .next_line = 1, .next_column = 1};
}

static bool is_blank(int c)
{
    return c == ' ' || (c >= '\t' && c <= '\r');
}

static int take(struct lamp_tokens *tokens)
{
    int c = getc_unlocked(tokens->file);
    if (c != EOF) {
        tokens->read_bytes++;
        tokens->next_column++;
    }
    if (c == '\n') {
        tokens->next_line++;
        tokens->next_column = 1;
    }
    return c;
}

bool lamp_tokens_next(struct lamp_tokens *tokens)
{
    int c = take(tokens);
    while (is_blank(c)) {
        c = take(tokens);
    }
    tokens->line = tokens->next_line;
    tokens->column = tokens->next_column - (c != EOF);
    tokens->length = 0;
    tokens->is_cut = false;
    for (; c != EOF && !is_blank(c); c = take(tokens)) {
        if (tokens->length == LAMP_TOKEN_MAX - 1) {
            tokens->is_cut = true;
        } else {
            tokens->text[tokens->length++] = (char)(c == '\0' ? '?' : c);
        }
    }
    tokens->text[tokens->length] = '\0';
    return tokens->length > 0;
}
