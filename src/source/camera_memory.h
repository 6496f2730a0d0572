/* camera_memory.h - What was changed on a camera, kept in a file while it is read, so that the next
 * run can put back what a killed one left.
 *
 *   open    lock the file of this camera; what it still holds was left by a killed run
 *   keep    write down what is about to be changed, before it is
 *   clear   all is put back: remove the file
 *
 * The file lies in a folder of the user's own, one file a camera. It is locked as long as its run
 * lives, and the kernel lets go of the lock however the run ends.
 */
#ifndef LAMP_SOURCE_CAMERA_MEMORY_H
#define LAMP_SOURCE_CAMERA_MEMORY_H

#include "source/camera_control.h"

/** The memory of one camera. */
struct lamp_memory;

/** What opening found. */
enum lamp_memory_answer {
    LAMP_MEMORY_OPEN, /**< It is this run's. */
    LAMP_MEMORY_BUSY, /**< Another run that lives is reading this camera. */
    LAMP_MEMORY_NONE  /**< There is nowhere to keep it. */
};

/**
 * Open the memory of a camera.
 * @param left  set to what a killed run left, none in most cases.
 * @param out   freed by the caller; set only where LAMP_MEMORY_OPEN is answered.
 */
enum lamp_memory_answer lamp_memory_open(const struct lamp_video_identity *camera,
                                         struct lamp_changes *left, struct lamp_memory **out);

/** Write down what is about to be changed. @return false if it cannot be. */
bool lamp_memory_keep(struct lamp_memory *memory, const struct lamp_changes *changes);

/** All is put back. */
void lamp_memory_clear(struct lamp_memory *memory);

/** Let go, leaving what was kept; NULL is fine. */
void lamp_memory_free(struct lamp_memory *memory);

#endif
