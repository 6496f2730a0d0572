/* pointer.h - "--lamp NAME=X,Y[,W,H]": a lamp the user points at. */
#ifndef LAMP_CLI_POINTER_H
#define LAMP_CLI_POINTER_H

#include "lampread/pipeline.h"

/** Read "NAME=X,Y" or "NAME=X,Y,W,H". @return LAMP_OK, LAMP_BAD_USE. `out` untouched on failure. */
enum lamp_err pointer_parse(const char *text, struct lamp_pointer *out, struct lamp_error *error);

#endif
