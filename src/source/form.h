/* form.h - What a form of recording must be able to do: one table entry a form. */
#ifndef LAMP_SOURCE_FORM_H
#define LAMP_SOURCE_FORM_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/error.h"
#include "lampread/source.h"
#include "source/names.h"
#include "source/notes.h"
#include "source/pace.h"

/** Bytes of a file that its form is told from. */
#define LAMP_SNIFF_BYTES 4096

/** What is known of a file before it is read. */
struct lamp_sniff {
    const char *name;
    bool is_folder;
    bool is_device;                  /**< A character device. */
    bool is_absent;                  /**< No file has this name: it may be a pin's. */
    bool is_text;                    /**< No byte that text does not have. */
    size_t size;                     /**< Bytes at `head`. */
    char head[LAMP_SNIFF_BYTES + 1]; /**< Zero-terminated. */
};

/** What all forms share and fill while they read. */
struct lamp_input {
    const char *name; /**< As given. */
    struct lamp_source_rules rules;
    struct lamp_notes notes;
    struct lamp_notes settings; /**< What was set on a device; told, but no warnings. */
    struct lamp_names names;
    struct lamp_pace pace;
};

/** A form of recording. */
struct lamp_form {
    enum lamp_source_kind kind;

    /** Whether the file looks like this form; the first form in the table that says so is taken. */
    bool (*suits)(const struct lamp_sniff *sniff);

    /** Begin. @param state  set to what the other calls get; untouched on failure. */
    enum lamp_err (*open)(struct lamp_input *input, const struct lamp_sniff *sniff, void **state,
                          struct lamp_error *error);

    /** As lamp_source_next, but LAMP_END also where nothing could be read. The form counts what it
     * gives in the pace. */
    enum lamp_err (*next)(void *state, struct lamp_item *out, struct lamp_error *error);

    /** Fill in what this form knows better than the pace does; NULL if that is nothing. */
    void (*describe)(const void *state, struct lamp_source_info *out);

    /** As lamp_source_focus; NULL where all of each picture is always decoded. */
    void (*focus)(void *state, const struct lamp_picture_part *part);

    /** As lamp_source_progress. */
    double (*progress)(const void *state);

    /** Free. */
    void (*close)(void *state);
};

/* Live forms wait in `next` for at most input->rules.wait_ns and then answer LAMP_NOT_YET. */
extern const struct lamp_form lamp_form_camera; /* camera.c */
extern const struct lamp_form lamp_form_pin;    /* pin.c */
extern const struct lamp_form lamp_form_replay; /* replay.c */
extern const struct lamp_form lamp_form_clip;
extern const struct lamp_form lamp_form_stills;
extern const struct lamp_form lamp_form_flashes; /* before trace: any CSV suits that one */
extern const struct lamp_form lamp_form_trace;
extern const struct lamp_form lamp_form_vcd;

#endif
