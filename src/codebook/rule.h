/* rule.h - The findings of a book: which lamps and readings together point at what. */
#ifndef LAMP_CODEBOOK_RULE_H
#define LAMP_CODEBOOK_RULE_H

#include "codebook/field.h"

/**
 * Read one finding. @param book  its lamps and codes are already known: conditions are checked
 * against them.
 */
bool lamp_rule_read(struct lamp_fields *fields, const struct lamp_yaml_node *node,
                    const struct lamp_book *book, struct lamp_finding_rule *out);

#endif
