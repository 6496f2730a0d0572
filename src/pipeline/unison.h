/* unison.h - How far the colours of a place rise and fall together. */
#ifndef LAMP_PIPELINE_UNISON_H
#define LAMP_PIPELINE_UNISON_H

/** Sums over the light of a place; begin with all zero. */
struct lamp_unison {
    double count;
    double mean[3];       /**< Red, green, blue. */
    double product[3][3]; /**< Sums of products of the departures from the means. */
};

/** Take the levels of red, green and blue at one time. */
void lamp_unison_push(struct lamp_unison *unison, const double level[3]);

/** Correlation of two colours (Pearson): 1 together, 0 each by itself, -1 by turns; 0 where one is
 * constant. */
double lamp_unison_of(const struct lamp_unison *unison, int a, int b);

#endif
