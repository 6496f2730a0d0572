/* setup.h - What every command that reads light is told: the source, the books, the lamps, the
 * bench. */
#ifndef LAMP_CLI_SETUP_H
#define LAMP_CLI_SETUP_H

#include "cli/books.h"
#include "cli/options.h"
#include "lampread/pipeline.h"

/** Options that say how a source is opened. */
#define SOURCE_OPTIONS                                                                         \
    {.name = "stills-rate", .value = "HZ", .help = "pictures a second of numbered stills"},    \
        {.name = "speed",                                                                      \
         .value = "TIMES",                                                                     \
         .help = "of replay:FILE, 1 its own pace, 0 as fast as can be"},                       \
        {.name = "rate", .value = "HZ", .help = "frames a second of a camera"},                \
        {.name = "size", .value = "WxH", .help = "picture size of a camera, pixels"},          \
        {.name = "exposure", .value = "TIME", .help = "exposure of a camera, such as '5 ms'"}, \
        {.name = "leave-controls", .help = "change no control of the camera"},                 \
        {.name = "pull", .value = "up|down|none", .help = "resistor of a pin"},                \
        {.name = "active-low", .help = "the pin is low when the lamp is lit"},                 \
    {                                                                                          \
        .name = "debounce", .value = "TIME", .help = "leave out shorter changes of a pin"      \
    }

/** Options that say how light is read. */
#define READING_OPTIONS                                                                  \
    {.name = "book",                                                                     \
     .letter = 'b',                                                                      \
     .value = "NAME|FILE",                                                               \
     .help = "codebook to look the rhythm up in",                                        \
     .offers = "@books @files:yaml",                                                     \
     .repeats = true},                                                                   \
        {.name = "lamp",                                                                 \
         .letter = 'l',                                                                  \
         .value = "NAME=X,Y[,W,H]",                                                      \
         .help = "a lamp, pointed at in the picture",                                    \
         .repeats = true},                                                               \
    {                                                                                    \
        .name = "given", .letter = 'g', .value = "KEY=VALUE", .help = "a bench reading", \
        .repeats = true                                                                  \
    }

/** What the user said; begin with all zero. */
struct setup {
    struct books books; /**< Chosen. */
    struct books shelf; /**< All, only to be named where none is chosen. */
    struct lamp_pointer pointer[LAMP_PLACES_MAX];
    struct lamp_given given[LAMP_GIVEN_MAX];
    struct lamp_reader_rules rules; /**< Borrows from the above. */
};

/** Take the reading options. @return LAMP_OK, LAMP_BAD_USE, LAMP_BAD_BOOK, LAMP_NO_MEMORY. */
enum lamp_err setup_take(struct setup *setup, const struct arguments *arguments,
                         struct lamp_error *error);

/** As setup_take, of the options only --lamp. @return LAMP_OK, LAMP_BAD_USE. */
enum lamp_err setup_take_pointers(struct setup *setup, const struct arguments *arguments,
                                  struct lamp_error *error);

/** Open the source that the first operand names, as the source options say. @return as
 * lamp_source_open. */
enum lamp_err setup_open_source(const struct arguments *arguments, struct lamp_source **out,
                                struct lamp_error *error);

/** Free what it holds. */
void setup_fini(struct setup *setup);

#endif
