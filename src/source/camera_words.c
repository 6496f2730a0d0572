/* camera_words.c - What is wrong with a camera and what to do about it, in one line each. */
#include "source/camera_words.h"

#include <errno.h>

static const char *trouble_opening(int problem)
{
    switch (problem) {
    case EACCES:
    case EPERM:
        return "no permission to use this camera: it is open to the group \"video\"; join it with "
               "\"sudo usermod -aG video $USER\", log out and in again";
    case ENOENT: return "there is no such camera: \"lampread sources\" lists those there are";
    case ENOTTY:
        return "this is a device, but neither a camera nor a pin: expected /dev/video0 or the like";
    case ENXIO:
    case ENODEV: return "the camera is not there any more: plug it in again";
    case EBUSY:
        return "another program is using this camera: close that one (a video call, a browser "
               "tab), then start again";
    case EMFILE:
    case ENFILE: return "too many files are open to open the camera too";
    default: return "the camera cannot be opened: unplug it, plug it in again, then start again";
    }
}

const char *lamp_camera_trouble(enum lamp_camera_step step, int problem)
{
    switch (problem) {
    case EBUSY: return trouble_opening(EBUSY);
    case ENOMEM: return "there is not enough memory for the camera's frames: try a smaller picture";
    case ENOSPC:
        return "the USB bus has no room left for this camera's pictures: plug it into another "
               "port, or ask for a smaller picture or a lower rate";
    default: break;
    }
    if (step == LAMP_CAMERA_OPENING) {
        return trouble_opening(problem);
    }
    if (problem == ENODEV || problem == ENXIO || step == LAMP_CAMERA_READING) {
        return "the camera went away while it was read: it was unplugged or lost its power; plug "
               "it "
               "in again, then start anew";
    }
    return "the camera refuses this picture size or rate: \"lampread sources\" lists what it has";
}

const char *lamp_camera_unfit(enum lamp_video_kind kind)
{
    switch (kind) {
    case LAMP_VIDEO_METADATA:
        return "this device gives what a camera says of its pictures, not the pictures: they come "
               "from its neighbour, see \"lampread sources\"";
    case LAMP_VIDEO_MUTE:
        return "this camera's driver cannot stream pictures: use another camera, or film the lamp "
               "and read the clip";
    case LAMP_VIDEO_OTHER:
        return "this device takes no pictures that can be read: see \"lampread sources\" for "
               "cameras";
    case LAMP_VIDEO_CAMERA: break;
    }
    return NULL;
}
