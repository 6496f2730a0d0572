/* ask.h - Questions to a person at a terminal. */
#ifndef LAMP_CLI_ASK_H
#define LAMP_CLI_ASK_H

#include <stdbool.h>
#include <stddef.h>

/** Whether a person can be asked: standard input and output are a terminal. */
bool ask_can(void);

/**
 * Ask for one line. @param question  without a colon. @param out  the answer without blanks at its
 * ends.
 * @return whether there is one that is not empty.
 */
bool ask(const char *question, char *out, size_t size);

#endif
