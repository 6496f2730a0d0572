/* output.h - Files that get their name only when they are whole. */
#ifndef LAMP_RENDER_OUTPUT_H
#define LAMP_RENDER_OUTPUT_H

#include <stdbool.h>

#include "base/text.h"
#include "lampread/error.h"

/** A file, or a folder of numbered stills, on its way. Begin with all zero. */
struct output {
    const char *container; /**< The media library's name for its kind. Static. */
    bool is_folder;
    struct lamp_text final;  /**< The name it gets, no slash at the end. */
    struct lamp_text part;   /**< Where it is until then. */
    struct lamp_text target; /**< What is opened: the part, or a pattern of stills within it. */
    struct lamp_text truth;  /**< Name of the truth beside it. */
};

/** Tell the kind from the ending of `path`; `still` is the ending of stills. @return LAMP_OK,
 * LAMP_BAD_USE, LAMP_NO_MEMORY. */
enum lamp_err output_init(struct output *output, const char *path, const char *still,
                          struct lamp_error *error);

/** Make way: the folder of a series. @return LAMP_OK, LAMP_CANNOT_WRITE. */
enum lamp_err output_begin(const struct output *output, struct lamp_error *error);

/** Give the finished file its name. @return LAMP_OK, LAMP_CANNOT_WRITE. */
enum lamp_err output_finish(const struct output *output, struct lamp_error *error);

/** Put `text` whole at `path`. @return LAMP_OK, LAMP_CANNOT_WRITE. */
enum lamp_err output_put(const char *path, const struct lamp_text *text, struct lamp_error *error);

/** Remove what is not whole. */
void output_abandon(const struct output *output);

/** Free what the output holds. */
void output_fini(struct output *output);

#endif
