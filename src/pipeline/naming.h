/* naming.h - What each lamp is called, and which name the codebooks are asked with. */
#ifndef LAMP_PIPELINE_NAMING_H
#define LAMP_PIPELINE_NAMING_H

#include <stdbool.h>
#include <stddef.h>

#include "lampread/codebook.h"
#include "lampread/report.h"
#include "pipeline/sighting.h"

/**
 * Name `count` lamps: as pointed or as the trace has it; else as the only chosen book names the
 * only lamp of that colour, where just one such lamp was seen; else "lamp-1", "lamp-2", ...
 * @param books  the chosen ones.
 * @param name   room for `count` names.
 */
void lamp_name_all(const struct lamp_sighting *sighting, size_t count,
                   const struct lamp_book *const *books, size_t book_count,
                   char (*name)[LAMP_NAME_MAX]);

/** Whether a chosen book has a lamp called `name`. */
bool lamp_name_is_known(const char *name, const struct lamp_book *const *books, size_t book_count);

#endif
