/* camera_mode.c - Which of a camera's modes reads lamps best. */
#include "source/camera_mode.h"

#include <math.h>
#include <stdlib.h>

enum {
    LEAST_WIDTH_PX = 640, /* a lamp of 5 mm on a board of 20 cm is then 16 px wide */
    GOOD_WIDTH_PX = 1280,
    PLENTY_WIDTH_PX = 1920,
    PLENTY_HZ = 60,
    UNKNOWN_HZ = 30, /* what cameras that do not say it mostly have */
    REASONS = 6
};

/* Less is better, from the first reason on which two modes differ. */
struct score {
    int reason[REASONS];
};

static int rate_of(const struct lamp_video_mode *mode)
{
    double rate_hz = lamp_video_rate_hz(mode);
    return rate_hz > 0 ? (int)lround(fmin(rate_hz, 10000)) : UNKNOWN_HZ;
}

static int size_miss(const struct lamp_video_mode *mode, const struct lamp_mode_wish *wish)
{
    int miss = wish->width_px > 0 ? abs(mode->width_px - wish->width_px) : 0;
    return miss + (wish->height_px > 0 ? abs(mode->height_px - wish->height_px) : 0);
}

static int rate_miss(const struct lamp_video_mode *mode, const struct lamp_mode_wish *wish)
{
    return wish->rate_hz > 0 ? abs(rate_of(mode) - (int)lround(wish->rate_hz)) : 0;
}

static int width_miss(int width_px)
{
    if (width_px < GOOD_WIDTH_PX) {
        return GOOD_WIDTH_PX - width_px;
    }
    return width_px > PLENTY_WIDTH_PX ? width_px - PLENTY_WIDTH_PX : 0;
}

/* Among modes alike in all else: colour before grey, as sent before coded, coded before converted;
 * of rates that are plenty the lowest. */
static int format_miss(const struct lamp_video_mode *mode)
{
    static const int miss[] = {
        [LAMP_VIDEO_NV12] = 0,  [LAMP_VIDEO_YU12] = 0,      [LAMP_VIDEO_YUYV] = 0,
        [LAMP_VIDEO_MJPEG] = 1, [LAMP_VIDEO_CONVERTED] = 2, [LAMP_VIDEO_GREY] = 3};
    return miss[mode->format];
}

static struct score score_of(const struct lamp_video_mode *mode, const struct lamp_mode_wish *wish)
{
    int rate = rate_of(mode);
    bool any_size = wish->width_px == 0 && wish->height_px == 0;
    return (struct score){{size_miss(mode, wish), rate_miss(mode, wish),
                           any_size && mode->width_px < LEAST_WIDTH_PX ? -mode->width_px : -99999,
                           rate < PLENTY_HZ ? PLENTY_HZ - rate : 0,
                           any_size ? width_miss(mode->width_px) : 0,
                           format_miss(mode) * 10000 + rate}};
}

static bool is_better(const struct score *a, const struct score *b)
{
    int i = 0;
    while (i < REASONS - 1 && a->reason[i] == b->reason[i]) {
        i++;
    }
    return a->reason[i] < b->reason[i];
}

size_t lamp_mode_choose(const struct lamp_video_mode *mode, size_t count,
                        const struct lamp_mode_wish *wish)
{
    size_t best = count;
    struct score least = {{0}};
    for (size_t i = 0; i < count; i++) {
        struct score score = score_of(&mode[i], wish);
        if (best == count || is_better(&score, &least)) {
            best = i;
            least = score;
        }
    }
    return best;
}

bool lamp_mode_fits(const struct lamp_video_mode *mode, const struct lamp_mode_wish *wish)
{
    double rate_hz = lamp_video_rate_hz(mode);
    bool has_rate =
        wish->rate_hz <= 0 || rate_hz <= 0 || fabs(rate_hz - wish->rate_hz) <= 0.05 * wish->rate_hz;
    return size_miss(mode, wish) == 0 && has_rate;
}
