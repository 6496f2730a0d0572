/* plain.h - Bytes that may stand in a codebook at all, before anything reads them as YAML. */
#ifndef LAMP_CODEBOOK_PLAIN_H
#define LAMP_CODEBOOK_PLAIN_H

#include "codebook/yaml.h"

/**
 * Check that text is UTF-8 without control characters, and indented with spaces.
 * @param error  as for lamp_yaml_read. @return LAMP_OK, LAMP_BAD_BOOK.
 */
enum lamp_err lamp_plain_check(const struct lamp_yaml_source *source, struct lamp_error *error);

#endif
