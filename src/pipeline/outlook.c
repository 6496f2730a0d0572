/* outlook.c - Whether the picture as it comes can show a lamp at all. */
#include "pipeline/outlook.h"

#include <math.h>
#include <string.h>

#include "base/number.h"

/* Points that a picture is looked at in. */
enum { COLUMNS = 64, ROWS = 48, CODES = 256 };

static const double white_code = 0.98;    /* driven to the top */
static const double white_most = 0.6;     /* of the points: more is too bright */
static const double dark_brightest = 0.1; /* nothing of a board can be made out below */
static const double plain_share = 0.3;    /* of the usual spread: the view is gone */
static const double clear_share = 0.6;    /* it is back */
static const double usual_least = 0.03;   /* a view to lose */
static const double plain_spread = 0.012; /* a view that never was: noise alone */
static const double bump_share = 0.03;    /* of the width, within BUMP_NS */

static const int64_t bump_ns = INT64_C(1000000000);
static const int64_t soon_ns = INT64_C(500000000);
static const int64_t slowly_ns = INT64_C(4000000000); /* longer than lamps rest */
static const int64_t learning_ns = INT64_C(1000000000);

static double code_at(const struct lamp_frame *frame, int x, int y)
{
    const unsigned char *row = (const unsigned char *)frame->y.at + y * frame->y.stride_bytes;
    double code = row[x];
    if (frame->bits > 8) {
        uint16_t deep;
        memcpy(&deep, row + (size_t)x * sizeof deep, sizeof deep);
        code = deep / (double)(1 << (frame->bits - 8));
    }
    double share = frame->is_full_range ? code / 255 : (code - 16) / 219;
    return fmin(fmax(share, 0), 1);
}

void lamp_aspect_see(const struct lamp_frame *frame, struct lamp_aspect *out)
{
    unsigned histogram[CODES] = {0};
    double sum = 0;
    double square = 0;
    unsigned white = 0;
    for (int i = 0; i < COLUMNS * ROWS; i++) {
        int x =
            (int)((int64_t)frame->y.width_px * (2 * (i % COLUMNS) + 1) / (INT64_C(2) * COLUMNS));
        int y = (int)((int64_t)frame->y.height_px * (2 * (i / COLUMNS) + 1) / (INT64_C(2) * ROWS));
        double code = code_at(frame, x, y);
        sum += code;
        square += code * code;
        white += code >= white_code;
        histogram[(int)(code * (CODES - 1))]++;
    }
    const double count = COLUMNS * ROWS;
    int brightest = CODES - 1;
    for (unsigned above = 0; brightest > 0; brightest--) {
        above += histogram[brightest];
        if (above * 100 >= COLUMNS * ROWS) {
            break;
        }
    }
    out->spread = sqrt(fmax(square / count - sum / count * (sum / count), 0));
    out->brightest = brightest / (double)(CODES - 1);
    out->white_share = white / count;
}

void lamp_hurdle_see(struct lamp_hurdle *hurdle, bool is_seen, int64_t t_ns, int64_t begin_ns,
                     int64_t end_ns)
{
    if (is_seen == hurdle->stands) {
        hurdle->is_changing = false;
        return;
    }
    if (!hurdle->is_changing) {
        hurdle->is_changing = true;
        hurdle->since_ns = t_ns;
    }
    if (t_ns - hurdle->since_ns >= (is_seen ? begin_ns : end_ns)) {
        hurdle->stands = is_seen;
        hurdle->is_changing = false;
    }
}

/* What the view usually holds, from pictures that nothing is wrong with. */
static void learn_usual(struct lamp_outlook *outlook, double spread, int64_t t_ns)
{
    if (!outlook->has_frame) {
        outlook->has_frame = true;
        outlook->usual_since_ns = t_ns;
        outlook->usual_spread = spread;
    }
    outlook->usual_spread += 0.02 * (spread - outlook->usual_spread);
}

static bool looks_covered(const struct lamp_outlook *outlook, const struct lamp_aspect *aspect,
                          int64_t t_ns)
{
    bool has_usual = outlook->has_frame && t_ns - outlook->usual_since_ns >= learning_ns &&
                     outlook->usual_spread >= usual_least;
    double share = outlook->hurdle[LAMP_TROUBLE_COVERED].stands ? clear_share : plain_share;
    return has_usual && aspect->spread < share * outlook->usual_spread;
}

void lamp_outlook_push(struct lamp_outlook *outlook, const struct lamp_aspect *aspect, int64_t t_ns,
                       bool sees_lamps)
{
    bool is_white = aspect->white_share > white_most;
    bool is_covered = !is_white && looks_covered(outlook, aspect, t_ns);
    bool is_blank = aspect->brightest < dark_brightest || aspect->spread < plain_spread;
    bool is_dark = !is_white && !is_covered && is_blank && !sees_lamps;
    lamp_hurdle_see(&outlook->hurdle[LAMP_TROUBLE_BRIGHT], is_white, t_ns, soon_ns, soon_ns);
    lamp_hurdle_see(&outlook->hurdle[LAMP_TROUBLE_COVERED], is_covered, t_ns, soon_ns, soon_ns);
    lamp_hurdle_see(&outlook->hurdle[LAMP_TROUBLE_DARK], is_dark, t_ns, slowly_ns, soon_ns);
    bool is_blocked = is_white || is_covered || outlook->hurdle[LAMP_TROUBLE_COVERED].stands ||
                      outlook->hurdle[LAMP_TROUBLE_BRIGHT].stands;
    if (is_blocked) {
        outlook->was_blocked = true;
        outlook->blocked_ns = t_ns;
    } else {
        learn_usual(outlook, aspect->spread, t_ns);
    }
}

/* A cut that a cover makes, when it comes and when it goes, is not a bump. */
static bool is_near_block(const struct lamp_outlook *outlook, int64_t t_ns)
{
    return outlook->was_blocked && t_ns - outlook->blocked_ns <= 2 * soon_ns;
}

void lamp_outlook_follow(struct lamp_outlook *outlook, const struct lamp_viewer_counts *counts,
                         int width_px, int64_t t_ns)
{
    bool moved = counts->cuts > outlook->cuts ||
                 fabs(counts->offset_px - outlook->motion_px) > bump_share * width_px;
    if (moved || t_ns - outlook->motion_ns >= bump_ns) {
        outlook->motion_px = counts->offset_px;
        outlook->motion_ns = t_ns;
    }
    outlook->cuts = counts->cuts;
    if (moved) {
        outlook->has_moved = true;
        outlook->moved_ns = t_ns;
    }
    bool is_seen = outlook->has_moved && t_ns - outlook->moved_ns < bump_ns + soon_ns;
    struct lamp_hurdle *hurdle = &outlook->hurdle[LAMP_TROUBLE_MOVED];
    if (!hurdle->stands && is_near_block(outlook, t_ns)) {
        outlook->has_moved = false;
        is_seen = false;
    }
    lamp_hurdle_see(hurdle, is_seen, t_ns, soon_ns + soon_ns / 2, soon_ns);
}
