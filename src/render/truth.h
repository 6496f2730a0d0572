/* truth.h - What the light truly did, beside a rendered file. */
#ifndef LAMP_RENDER_TRUTH_H
#define LAMP_RENDER_TRUTH_H

#include "base/text.h"
#include "lampread/render.h"

/**
 * Write the truth as one JSON object: settings, and of each lamp its place, colour, script and
 * edges. Times are on the clip's clock; an edge shows in the frames `row_delay_s` earlier, because
 * the lamp's row is exposed that much after the frame's stamp.
 */
void truth_write(const struct lamp_render_rules *rules, const struct lamp_renderer *renderer,
                 struct lamp_text *out);

#endif
