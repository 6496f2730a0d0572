/* portrait.c - A small upright picture of the board for each place, from when its lamp was lit. */
#include "pipeline/portrait.h"

#include <stdlib.h>

/* A frame takes the place of the one kept if the lamp is brighter by so much: few do. */
#define BRIGHTER 1.15
#define LEAST    0.005

/* Pixels looked at for one of the portrait, each way. */
enum { LOOKS = 3 };

/* The pixel of the decoded picture that stands at (x, y) of the upright one, shares of its sides.
 */
static void decoded_at(const struct lamp_pose *pose, double x, double y, int *out_x, int *out_y)
{
    double u = x;
    double v = y;
    switch (pose->rotation_deg) {
    case 90:
        u = y;
        v = 1 - x;
        break;
    case 180:
        u = 1 - x;
        v = 1 - y;
        break;
    case 270:
        u = 1 - y;
        v = x;
        break;
    default: break;
    }
    int at_x = (int)(u * pose->width_px);
    int at_y = (int)(v * pose->height_px);
    *out_x = at_x < 0 ? 0 : at_x < pose->width_px ? at_x : pose->width_px - 1;
    *out_y = at_y < 0 ? 0 : at_y < pose->height_px ? at_y : pose->height_px - 1;
}

static void coded_at(const struct lamp_linear *linear, const struct lamp_frame *frame, int x, int y,
                     float rgb[3])
{
    float yuv[3] = {lamp_plane_code(&frame->y, frame->bits, x, y), linear->c_offset,
                    linear->c_offset};
    if (frame->u.at != NULL && frame->v.at != NULL) {
        int cx = x >> linear->chroma_shift_x;
        int cy = y >> linear->chroma_shift_y;
        yuv[1] = lamp_plane_code(&frame->u, frame->bits, cx, cy);
        yuv[2] = lamp_plane_code(&frame->v, frame->bits, cx, cy);
    }
    lamp_linear_rgb_coded(linear, yuv, rgb);
}

/* What a portrait is taken of. */
struct sitting {
    const struct lamp_linear *linear;
    const struct lamp_frame *frame;
    const struct lamp_pose *pose;
};

/* One pixel of the portrait: the mean of some of the frame's. */
static void shrink(const struct sitting *sitting, const struct lamp_portrait *shown, int pixel,
                   unsigned char *out)
{
    int x = pixel % shown->w_px;
    int y = pixel / shown->w_px;
    float sum[3] = {0, 0, 0};
    for (int i = 0; i < LOOKS * LOOKS; i++) {
        int below = i / LOOKS;
        double right = (x + (i % LOOKS + 0.5) / LOOKS) / shown->w_px;
        double down = (y + (below + 0.5) / LOOKS) / shown->h_px;
        int at_x;
        int at_y;
        float rgb[3];
        decoded_at(sitting->pose, right, down, &at_x, &at_y);
        coded_at(sitting->linear, sitting->frame, at_x, at_y, rgb);
        for (int c = 0; c < 3; c++) {
            sum[c] += rgb[c];
        }
    }
    for (int c = 0; c < 3; c++) {
        out[c] = (unsigned char)(sum[c] / (LOOKS * LOOKS) * 255 + 0.5F);
    }
}

static struct lamp_portrait size_for(const struct lamp_pose *pose, double *scale)
{
    int width_px = lamp_upright_width(pose);
    int height_px = lamp_upright_height(pose);
    int longest_px = width_px > height_px ? width_px : height_px;
    *scale = longest_px > LAMP_PORTRAIT_SIDE_PX ? (double)LAMP_PORTRAIT_SIDE_PX / longest_px : 1;
    struct lamp_portrait shown = {.w_px = (int)(width_px * *scale),
                                  .h_px = (int)(height_px * *scale)};
    shown.w_px = shown.w_px < 1 ? 1 : shown.w_px;
    shown.h_px = shown.h_px < 1 ? 1 : shown.h_px;
    return shown;
}

enum lamp_err lamp_portrait_offer(struct lamp_kept_portrait *kept, const struct lamp_frame *frame,
                                  const struct lamp_pose *pose, const struct lamp_region *region,
                                  double level)
{
    if (kept->rgb != NULL && !(level > BRIGHTER * kept->level + LEAST)) {
        return LAMP_OK;
    }
    double scale;
    struct lamp_portrait shown = size_for(pose, &scale);
    unsigned char *rgb = kept->rgb;
    if (rgb == NULL && (rgb = malloc((size_t)shown.w_px * (size_t)shown.h_px * 3)) == NULL) {
        return LAMP_NO_MEMORY;
    }
    struct lamp_linear linear = {.is_ready = false};
    lamp_linear_set(&linear, frame);
    const struct sitting sitting = {&linear, frame, pose};
    for (int i = 0; i < shown.w_px * shown.h_px; i++) {
        shrink(&sitting, &shown, i, &rgb[3 * (size_t)i]);
    }
    struct lamp_region inside = lamp_region_inside(pose, region);
    struct lamp_region upright = lamp_region_upright(pose, &inside);
    shown.lamp =
        (struct lamp_region){(int)(upright.x_px * scale), (int)(upright.y_px * scale),
                             (int)(upright.w_px * scale) + 1, (int)(upright.h_px * scale) + 1};
    shown.rgb = rgb;
    shown.t_ns = frame->t_ns;
    *kept = (struct lamp_kept_portrait){.shown = shown, .rgb = rgb, .level = level > 0 ? level : 0};
    return LAMP_OK;
}

void lamp_portrait_fini(struct lamp_kept_portrait *kept)
{
    free(kept->rgb);
    *kept = (struct lamp_kept_portrait){.rgb = NULL};
}
