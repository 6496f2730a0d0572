/* linear.c - Code values back to light: the matrix and the transfer curve undone. */
#include "light/linear.h"

#include <math.h>
#include <stddef.h>
#include <stdint.h>

/* Inverse of the transfer curves, code value of 0..1 to light of 0..1. Cameras follow the curves of
 * a display's standard only roughly; what matters is that a half-lit frame reads about half. */
static double undo_transfer(enum lamp_transfer transfer, double v)
{
    switch (transfer) {
    case LAMP_TRANSFER_LINEAR: return v;
    case LAMP_TRANSFER_BT709: /* ITU-R BT.709-6, 1.2 */
        return v < 0.081 ? v / 4.5 : pow((v + 0.099) / 1.099, 1 / 0.45);
    case LAMP_TRANSFER_PQ: { /* ITU-R BT.2100-2, table 4; scaled so that 1000 cd/m2 is 1 */
        double p = pow(v, 1 / 78.84375);
        double light =
            pow(fmax(p - 0.8359375, 0) / (18.8515625 - 18.6875 * p), 1 / 0.1593017578125);
        return fmin(light * 10, 1);
    }
    case LAMP_TRANSFER_HLG: /* ITU-R BT.2100-2, table 5 */
        return v <= 0.5 ? v * v / 3 : (exp((v - 0.55991073) / 0.17883277) + 0.28466892) / 12;
    case LAMP_TRANSFER_SRGB: /* IEC 61966-2-1 */
    default: return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
    }
}

/* ITU-T H.273, MatrixCoefficients 6, 1 and 9: the shares of red and blue in luma. */
static void matrix_shares(enum lamp_matrix matrix, float *kr, float *kb)
{
    switch (matrix) {
    case LAMP_MATRIX_BT709:
        *kr = 0.2126F;
        *kb = 0.0722F;
        break;
    case LAMP_MATRIX_BT2020:
        *kr = 0.2627F;
        *kb = 0.0593F;
        break;
    case LAMP_MATRIX_BT601:
    default:
        *kr = 0.299F;
        *kb = 0.114F;
        break;
    }
}

/* log2 of how many luma pixels one of a chroma plane spans; sides are rounded up where the
 * picture's is odd. */
static int subsampling(int luma_px, int chroma_px)
{
    int shift = 0;
    while (chroma_px > 0 && (luma_px + (1 << shift) - 1) >> shift > chroma_px) {
        shift++;
    }
    return shift;
}

static bool is_set_for(const struct lamp_linear *linear, const struct lamp_frame *frame)
{
    return linear->is_ready && linear->matrix == frame->matrix &&
           linear->transfer == frame->transfer && linear->is_full_range == frame->is_full_range &&
           linear->bits == frame->bits &&
           linear->chroma_shift_x == subsampling(frame->y.width_px, frame->u.width_px) &&
           linear->chroma_shift_y == subsampling(frame->y.height_px, frame->u.height_px);
}

void lamp_linear_set(struct lamp_linear *linear, const struct lamp_frame *frame)
{
    if (is_set_for(linear, frame)) {
        return;
    }
    linear->is_ready = true;
    linear->matrix = frame->matrix;
    linear->transfer = frame->transfer;
    linear->is_full_range = frame->is_full_range;
    linear->bits = frame->bits;
    linear->chroma_shift_x = subsampling(frame->y.width_px, frame->u.width_px);
    linear->chroma_shift_y = subsampling(frame->y.height_px, frame->u.height_px);
    float unit = (float)(1 << (frame->bits - 8));
    float top = (float)((1 << frame->bits) - 1);
    linear->y_offset = frame->is_full_range ? 0 : 16 * unit;
    linear->y_scale = frame->is_full_range ? 1 / top : 1 / (219 * unit);
    linear->c_offset = 128 * unit;
    linear->c_scale = frame->is_full_range ? 1 / top : 1 / (224 * unit);
    float kr;
    float kb;
    matrix_shares(frame->matrix, &kr, &kb);
    float kg = 1 - kr - kb;
    linear->rv = 2 * (1 - kr);
    linear->bu = 2 * (1 - kb);
    linear->gu = -2 * kb * (1 - kb) / kg;
    linear->gv = -2 * kr * (1 - kr) / kg;
    for (int i = 0; i < LAMP_LINEAR_STEPS; i++) {
        linear->curve[i] =
            (float)undo_transfer(frame->transfer, (double)i / (LAMP_LINEAR_STEPS - 1));
    }
}

static float clamp_unit(float v)
{
    return v < 0 ? 0 : (v > 1 ? 1 : v);
}

void lamp_linear_rgb_coded(const struct lamp_linear *linear, const float yuv[3], float rgb[3])
{
    float y = (yuv[0] - linear->y_offset) * linear->y_scale;
    float u = (yuv[1] - linear->c_offset) * linear->c_scale;
    float v = (yuv[2] - linear->c_offset) * linear->c_scale;
    rgb[0] = clamp_unit(y + linear->rv * v);
    rgb[1] = clamp_unit(y + linear->gu * u + linear->gv * v);
    rgb[2] = clamp_unit(y + linear->bu * u);
}

float lamp_linear_light(const struct lamp_linear *linear, float coded)
{
    return linear->curve[(int)(coded * (LAMP_LINEAR_STEPS - 1) + 0.5F)];
}

float lamp_linear_pixel(const struct lamp_linear *linear, const struct lamp_frame *frame, int x,
                        int y, float rgb[3])
{
    float yuv[3] = {lamp_plane_code(&frame->y, frame->bits, x, y), linear->c_offset,
                    linear->c_offset};
    if (frame->u.at != NULL && frame->v.at != NULL) {
        int cx = x >> linear->chroma_shift_x;
        int cy = y >> linear->chroma_shift_y;
        yuv[1] = lamp_plane_code(&frame->u, frame->bits, cx, cy);
        yuv[2] = lamp_plane_code(&frame->v, frame->bits, cx, cy);
    }
    float coded[3];
    lamp_linear_rgb_coded(linear, yuv, coded);
    for (int c = 0; c < 3; c++) {
        rgb[c] = lamp_linear_light(linear, coded[c]);
    }
    float top = coded[0] > coded[1] ? coded[0] : coded[1];
    return top > coded[2] ? top : coded[2];
}

/* Code value of a plane between its pixels, whose first has its centre at 0. */
static float code_between(const struct lamp_plane *plane, int bits, double x, double y)
{
    x = x < 0 ? 0 : (x > plane->width_px - 1 ? plane->width_px - 1 : x);
    y = y < 0 ? 0 : (y > plane->height_px - 1 ? plane->height_px - 1 : y);
    int i = (int)x;
    int j = (int)y;
    int right = i + 1 < plane->width_px ? i + 1 : i;
    int below = j + 1 < plane->height_px ? j + 1 : j;
    float u = (float)(x - i);
    float v = (float)(y - j);
    float top =
        lamp_plane_code(plane, bits, i, j) * (1 - u) + lamp_plane_code(plane, bits, right, j) * u;
    float low = lamp_plane_code(plane, bits, i, below) * (1 - u) +
                lamp_plane_code(plane, bits, right, below) * u;
    return top + v * (low - top);
}

bool lamp_linear_point(const struct lamp_linear *linear, const struct lamp_frame *frame, double x,
                       double y, float rgb[3])
{
    const struct lamp_plane *luma = &frame->y;
    if (!(x >= 0 && y >= 0 && x < luma->width_px && y < luma->height_px)) {
        return false;
    }
    float yuv[3] = {code_between(luma, frame->bits, x - 0.5, y - 0.5), linear->c_offset,
                    linear->c_offset};
    if (frame->u.at != NULL && frame->v.at != NULL) {
        double cx = x * frame->u.width_px / luma->width_px - 0.5;
        double cy = y * frame->u.height_px / luma->height_px - 0.5;
        yuv[1] = code_between(&frame->u, frame->bits, cx, cy);
        yuv[2] = code_between(&frame->v, frame->bits, cx, cy);
    }
    float coded[3];
    lamp_linear_rgb_coded(linear, yuv, coded);
    for (int c = 0; c < 3; c++) {
        rgb[c] = lamp_linear_light(linear, coded[c]);
    }
    return true;
}
