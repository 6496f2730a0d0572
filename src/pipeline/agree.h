/* agree.h - Whether two rows of lengths change at the same times. */
#ifndef LAMP_PIPELINE_AGREE_H
#define LAMP_PIPELINE_AGREE_H

#include <stddef.h>

#include "lampread/flash.h"

/** How many edges a row of lengths has: beginnings that were seen. */
size_t lamp_edges_count(const struct lamp_length *length, size_t count);

/**
 * Share of the edges of both rows that have a partner in the other: same direction, within three
 * standard deviations or `slack_ns`, whichever is more.
 * @return 0 to 1; 1 where neither has an edge.
 */
double lamp_edges_agree(const struct lamp_length *a, size_t a_count, const struct lamp_length *b,
                        size_t b_count, int64_t slack_ns);

#endif
