/* unison.c - How far the colours of a place rise and fall together. */
#include "pipeline/unison.h"

#include <math.h>

/* Running covariance (Welford), which loses no digits over long recordings. */
void lamp_unison_push(struct lamp_unison *unison, const double level[3])
{
    double before[3];
    unison->count++;
    for (int i = 0; i < 3; i++) {
        before[i] = level[i] - unison->mean[i];
        unison->mean[i] += before[i] / unison->count;
    }
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) {
            unison->product[i][j] += before[i] * (level[j] - unison->mean[j]);
        }
    }
}

double lamp_unison_of(const struct lamp_unison *unison, int a, int b)
{
    double scale = sqrt(unison->product[a][a] * unison->product[b][b]);
    return scale > 0 ? unison->product[a][b] / scale : 0;
}
