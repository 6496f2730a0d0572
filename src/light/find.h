/* find.h - Where in the picture something goes on or off, on the coarse picture held still. */
#ifndef LAMP_LIGHT_FIND_H
#define LAMP_LIGHT_FIND_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/error.h"
#include "light/coarse.h"
#include "light/follow.h"

/** Most spots told for one frame. */
#define LAMP_SPOTTED_MAX 12

/** A spot worth a closer look. */
struct lamp_spotted {
    struct lamp_point centre; /**< px of the first frame. */
    double strength; /**< Step of the code value, or height above the surroundings, 8-bit codes. */
    bool was_calm;   /**< Nothing of the kind was seen here before. */
};

/** The coarse picture on the first frame's grid, its gain taken out. */
struct lamp_still {
    int width, height;     /**< Blocks. */
    int block_px;          /**< Side of a block. */
    const float *plane[3]; /**< R', G', B', 8-bit codes, row by row. */
};

struct lamp_finder;

/** Make a finder for pictures like `coarse`. @return LAMP_OK, LAMP_NO_MEMORY. */
enum lamp_err lamp_finder_new(const struct lamp_coarse *coarse, struct lamp_finder **out);

/** Take the next picture and how it moved; a cut forgets what came before. */
void lamp_finder_push(struct lamp_finder *finder, const struct lamp_coarse *coarse,
                      const struct lamp_following *following);

/** Spots that changed within the last LAMP_FRAMES_KEPT frames, strongest first. @return how many.
 */
size_t lamp_finder_changed(struct lamp_finder *finder, struct lamp_spotted out[LAMP_SPOTTED_MAX]);

/** The newest picture held still; borrowed until the next push. */
void lamp_finder_still(const struct lamp_finder *finder, struct lamp_still *out);

/** Free; NULL is fine. */
void lamp_finder_free(struct lamp_finder *finder);

#endif
