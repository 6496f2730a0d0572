/* video_control.c - The controls of a camera device that matter to reading lamps. */
#include <linux/videodev2.h>

#include "source/video_device.h"

static const __u32 ids[LAMP_CONTROL_COUNT] = {
    [LAMP_CONTROL_EXPOSURE_AUTO] = V4L2_CID_EXPOSURE_AUTO,
    [LAMP_CONTROL_EXPOSURE_PRIORITY] = V4L2_CID_EXPOSURE_AUTO_PRIORITY,
    [LAMP_CONTROL_EXPOSURE] = V4L2_CID_EXPOSURE_ABSOLUTE,
    [LAMP_CONTROL_GAIN_AUTO] = V4L2_CID_AUTOGAIN,
    [LAMP_CONTROL_WHITE_AUTO] = V4L2_CID_AUTO_WHITE_BALANCE,
    [LAMP_CONTROL_FOCUS_AUTO] = V4L2_CID_FOCUS_AUTO,
    [LAMP_CONTROL_RIPPLE] = V4L2_CID_POWER_LINE_FREQUENCY,
};

static uint32_t choices_of(const struct lamp_video *video, const struct v4l2_queryctrl *query)
{
    uint32_t choice = 0;
    for (__s32 i = query->minimum; i <= query->maximum && i < 32; i++) {
        struct v4l2_querymenu item = {.id = query->id, .index = (__u32)i};
        if (i >= 0 && lamp_video_ask(video, VIDIOC_QUERYMENU, &item) == 0) {
            choice |= UINT32_C(1) << i;
        }
    }
    return choice;
}

static bool range(void *owner, enum lamp_control control, struct lamp_control_range *out)
{
    const struct lamp_video *video = owner;
    struct v4l2_queryctrl query = {.id = ids[control]};
    if (lamp_video_ask(video, VIDIOC_QUERYCTRL, &query) != 0 ||
        (query.flags & (V4L2_CTRL_FLAG_DISABLED | V4L2_CTRL_FLAG_READ_ONLY)) != 0) {
        return false;
    }
    *out = (struct lamp_control_range){
        .least = query.minimum, .most = query.maximum, .step = query.step > 0 ? query.step : 1};
    if (query.type == V4L2_CTRL_TYPE_MENU) {
        out->choice = choices_of(video, &query);
    }
    return true;
}

static bool get(void *owner, enum lamp_control control, int32_t *out)
{
    struct v4l2_control value = {.id = ids[control]};
    if (lamp_video_ask(owner, VIDIOC_G_CTRL, &value) != 0) {
        return false;
    }
    *out = value.value;
    return true;
}

static bool set(void *owner, enum lamp_control control, int32_t value)
{
    struct v4l2_control wanted = {.id = ids[control], .value = value};
    return lamp_video_ask(owner, VIDIOC_S_CTRL, &wanted) == 0;
}

struct lamp_control_owner lamp_video_controls(struct lamp_video *video)
{
    return (struct lamp_control_owner){.owner = video, .range = range, .get = get, .set = set};
}
