/* pace.c - The pace of a recording from its time stamps: rate, duration, and what is missing. */
#include "source/pace.h"

#include <math.h>

/* An interval within this share of a whole number of usual ones is that number; a little more for
 * long ones, as the usual one is not known exactly. */
static const double near_share = 0.2;
static const double near_share_more = 0.01;

/* More than these shares of intervals, and the rate varies rather than drops. */
static const double irregular_most = 0.05;
static const double missing_most = 0.25;

void lamp_pace_init(struct lamp_pace *pace)
{
    *pace = (struct lamp_pace){0};
}

static size_t class_of(double interval_ns)
{
    double at = log2(interval_ns / 1e3) * 64;
    if (at < 0) {
        return 0;
    }
    return at >= LAMP_PACE_CLASSES - 1 ? LAMP_PACE_CLASSES - 1 : (size_t)at;
}

static void count_interval(struct lamp_pace *pace, double interval_ns)
{
    size_t class = class_of(interval_ns);
    pace->count[class]++;
    pace->sum_ns[class] += interval_ns;
    pace->interval_count++;
}

void lamp_pace_push(struct lamp_pace *pace, size_t lane, int64_t t_ns, int64_t length_ns)
{
    if (pace->has_last[lane] && t_ns > pace->lane_last_ns[lane]) {
        count_interval(pace, (double)t_ns - (double)pace->lane_last_ns[lane]);
    }
    pace->has_last[lane] = true;
    pace->lane_last_ns[lane] = t_ns;
    if (pace->item_count == 0 || t_ns < pace->first_ns) {
        pace->first_ns = t_ns;
    }
    if (pace->item_count == 0 || t_ns >= pace->last_ns) {
        pace->last_ns = t_ns;
        pace->last_length_ns = length_ns;
    }
    pace->item_count++;
}

static double class_mean(const struct lamp_pace *pace, size_t class)
{
    return pace->sum_ns[class] / (double)pace->count[class];
}

static double median_ns(const struct lamp_pace *pace)
{
    uint64_t below = 0;
    size_t class = 0;
    while ((below + pace->count[class]) * 2 < pace->interval_count) {
        below += pace->count[class ++];
    }
    return class_mean(pace, class);
}

double lamp_pace_interval_ns(const struct lamp_pace *pace)
{
    if (pace->interval_count == 0) {
        return 0;
    }
    /* Time stamps rounded to ms give 33 and 34: their mean is the frame interval, their median is
     * not. */
    double median = median_ns(pace);
    double sum = 0;
    uint64_t count = 0;
    for (size_t class = class_of(median * 0.8); class <= class_of(median * 1.25); class ++) {
        sum += pace->sum_ns[class];
        count += pace->count[class];
    }
    return sum / (double)count;
}

double lamp_pace_duration_s(const struct lamp_pace *pace)
{
    if (pace->item_count == 0) {
        return 0;
    }
    double length_ns =
        pace->last_length_ns > 0 ? (double)pace->last_length_ns : lamp_pace_interval_ns(pace);
    return ((double)pace->last_ns - (double)pace->first_ns + length_ns) * 1e-9;
}

static uint64_t lane_count(const struct lamp_pace *pace)
{
    uint64_t count = 0;
    for (size_t lane = 0; lane < LAMP_SOURCE_LAMPS_MAX; lane++) {
        count += pace->has_last[lane];
    }
    return count;
}

uint64_t lamp_pace_dropped(const struct lamp_pace *pace)
{
    double usual = lamp_pace_interval_ns(pace);
    uint64_t irregular = 0;
    uint64_t holes = 0;
    uint64_t missing = 0;
    for (size_t class = 0; class < LAMP_PACE_CLASSES && usual > 0; class ++) {
        if (pace->count[class] == 0) {
            continue;
        }
        double ratio = class_mean(pace, class) / usual;
        double whole = round(ratio);
        if (whole < 1 || fabs(ratio - whole) > near_share + near_share_more * whole) {
            irregular += pace->count[class];
        } else if (whole > 1) {
            holes += pace->count[class];
            missing += pace->count[class] * (uint64_t)(whole - 1);
        }
    }
    double all = (double)pace->interval_count;
    bool varies = (double)irregular > irregular_most * all || (double)holes > missing_most * all;
    return varies || missing == 0 ? 0 : missing / lane_count(pace);
}
