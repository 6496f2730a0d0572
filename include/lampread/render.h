/* render.h - Play a pattern as light seen by a camera, with the true edges beside it. */
#ifndef LAMPREAD_RENDER_H
#define LAMPREAD_RENDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "lampread/error.h"
#include "lampread/light.h"
#include "lampread/pattern.h"
#include "lampread/trace.h"

#endif
