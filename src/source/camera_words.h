/* camera_words.h - What is wrong with a camera and what to do about it, in one line each. */
#ifndef LAMP_SOURCE_CAMERA_WORDS_H
#define LAMP_SOURCE_CAMERA_WORDS_H

#include "source/video.h"

/** What was being done. */
enum lamp_camera_step { LAMP_CAMERA_OPENING, LAMP_CAMERA_SETTING, LAMP_CAMERA_READING };

/** Why a step failed with `problem` (errno), for a person; static. */
const char *lamp_camera_trouble(enum lamp_camera_step step, int problem);

/** Why a device of this kind cannot be read; NULL for a camera; static. */
const char *lamp_camera_unfit(enum lamp_video_kind kind);

#endif
