/* entry.h - The lamps, lengths and codes of a book. */
#ifndef LAMP_CODEBOOK_ENTRY_H
#define LAMP_CODEBOOK_ENTRY_H

#include "codebook/field.h"

/** Read the lengths that a book or a code gives; those it leaves out, and the tolerance, stay as
 * they are. */
bool lamp_entry_read_timing(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                            struct lamp_timing *timing, double *tolerance);

/** Read the lamps into `book`; a NULL node means that it names none. */
bool lamp_entry_read_lamps(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                           struct lamp_book *book);

/** Read the codes into `book`, whose lamps, timing and tolerance are already known. */
bool lamp_entry_read_codes(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                           struct lamp_book *book);

#endif
