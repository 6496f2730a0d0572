/* camera_mode.h - Which of a camera's modes reads lamps best. */
#ifndef LAMP_SOURCE_CAMERA_MODE_H
#define LAMP_SOURCE_CAMERA_MODE_H

#include "source/video.h"

/** Wanted size and rate; 0 where it does not matter. */
struct lamp_mode_wish {
    int width_px;
    int height_px;
    double rate_hz;
};

/**
 * Choose: what is wished for comes first; then a picture large enough to see a lamp in, then the
 * frame rate up to 60 a second, then a width of 1280 to 1920, then colour and little loss.
 * @return the index of the best mode, `count` where there is none.
 */
size_t lamp_mode_choose(const struct lamp_video_mode *mode, size_t count,
                        const struct lamp_mode_wish *wish);

/** Whether a mode is what was wished for, within 5 % of the rate. */
bool lamp_mode_fits(const struct lamp_video_mode *mode, const struct lamp_mode_wish *wish);

#endif
