/* plan.h - What lampread render was asked for: scene, camera, lamps and what they play. */
#ifndef LAMP_CLI_PLAN_H
#define LAMP_CLI_PLAN_H

#include "cli/options.h"
#include "lampread/lampread.h"

/** A render in full. Too large for the stack. */
struct plan {
    struct lamp_render_rules rules; /**< Its lamps are those below. */
    struct lamp_timing timing;      /**< Lengths of patterns that no book gives. */
    struct lamp_scene_lamp every;   /**< What all lamps share. */
    struct lamp_scene_lamp lamp[LAMP_SCENE_LAMPS_MAX];
    char name[LAMP_SCENE_LAMPS_MAX][LAMP_NAME_MAX];
    char pattern[LAMP_SCENE_LAMPS_MAX][LAMP_NOTATION_MAX];
};

/** The options that set scene and camera, for the command's table. */
enum { PLAN_OPTIONS = 31 };
extern const struct option_rule plan_options[PLAN_OPTIONS];

/** Set scene and camera from the options. @return LAMP_OK, LAMP_BAD_USE. */
enum lamp_err plan_settings(struct plan *plan, const struct arguments *arguments,
                            struct lamp_error *error);

/** Set the lamps: one for each operand, then one steady for each --lamp left over.
 * @return LAMP_OK, LAMP_BAD_USE, LAMP_BAD_BOOK, LAMP_NO_MEMORY. */
enum lamp_err plan_lamps(struct plan *plan, const struct arguments *arguments,
                         struct lamp_error *error);

/** Write a trace (.csv, with the true edges in FILE.truth.vcd) or edges (.vcd).
 * @return as the writers of lampread/export.h. */
enum lamp_err plan_write_trace(const struct plan *plan, const char *path, struct lamp_error *error);

/** Whether `path` is a trace or edges. */
bool plan_is_trace(const char *path);

#endif
