/* tokens.h - Read a text file a word at a time, knowing the place of each, in memory that does not
 * grow. */
#ifndef LAMP_SOURCE_TOKENS_H
#define LAMP_SOURCE_TOKENS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/** Longest word that is kept whole, bytes with the closing zero. */
#define LAMP_TOKEN_MAX 256

/** A file being read by words; begin with lamp_tokens_init. */
struct lamp_tokens {
    FILE *file;
    uint64_t read_bytes;
    uint64_t next_line;
    int next_column;
    uint64_t line; /**< Where the word begins, from 1. */
    int column;    /**< Byte of that line, from 1. */
    bool is_cut;   /**< The word was longer than is kept. */
    size_t length;
    char text[LAMP_TOKEN_MAX]; /**< The word, zero-terminated. */
};

/** Begin. @param file  closed by the caller. */
void lamp_tokens_init(struct lamp_tokens *tokens, FILE *file);

/** Read the next word; false at the end of the file. */
bool lamp_tokens_next(struct lamp_tokens *tokens);

#endif
