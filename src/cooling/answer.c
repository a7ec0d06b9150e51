#include "cooling/answer.h"

#include <math.h>

#include "base/banned.h"

#define GULPS  3
#define FINE   14 /* moments in steps of answer_fine_s from answer_newest_s on, */
#define ONSETS 21 /* and these in all, the last to answer_oldest_s in seconds */

void answers_init(struct answers *a, const struct figures *figures)
{
    const double probes_s[ANSWER_PROBES] = {figures->answer_probe_1_s, figures->answer_probe_2_s,
                                            figures->answer_probe_3_s, figures->answer_probe_4_s};
    const double walls_s[ANSWER_WALLS] = {figures->answer_wall_1_s, figures->answer_wall_2_s,
                                          figures->answer_wall_3_s};
    a->figures = figures;
    const int fine = 5;
    const double dt = ANSWER_STEP_S / fine;
    for (int k = 0; k < ANSWER_SHAPES; k++) {
        double water = 0.0, probe = 0.0, wall = 0.0;
        for (int i = 0; i < ANSWER_STEPS; i++) {
            a->share[k][i] = (float)wall;
            for (int j = 0; j < fine; j++) {
                water += dt / figures->answer_drain_s * (1.0 - water);
                probe += dt / probes_s[k / ANSWER_WALLS] * (water - probe);
                wall += dt / walls_s[k % ANSWER_WALLS] * (probe - wall);
            }
        }
    }
}

static double share_at(const float *share, double since_s)
{
    if (since_s <= 0.0)
        return 0.0;
    double at = fmin(since_s / ANSWER_STEP_S, ANSWER_STEPS - 2.0);
    int i = (int)at;
    return (double)share[i] + (at - i) * (double)(share[i + 1] - share[i]);
}

/* What a shape of any height, on any ground, leaves over of the samples, K^2. x has no mean. */
static double left_over(const double *x, const double *shape, int n, double total)
{
    double sum = 0.0, cross = 0.0, square = 0.0;
    for (int i = 0; i < n; i++) {
        sum += shape[i];
        cross += shape[i] * x[i];
        square += shape[i] * shape[i];
    }
    square -= sum * sum / n;
    return cross > 0.0 && square > 1e-12 ? total - cross * cross / square : total;
}

double lost_water_fits(const struct answers *a, const double *age_s, const double *x, int n)
{
    const struct figures *f = a->figures;
    const double gulps_s[GULPS] = {f->answer_gulp_1_s, f->answer_gulp_2_s, f->answer_gulp_3_s};
    double flat[ANSWER_MOST], lost[ANSWER_MOST], gulp[ANSWER_MOST];
    double mean = 0.0, total = 0.0;
    for (int i = 0; i < n; i++)
        mean += x[i] / n;
    for (int i = 0; i < n; i++) {
        flat[i] = x[i] - mean;
        total += flat[i] * flat[i];
    }
    double best_lost = total, best_gulp = total;
    for (int o = 0; o < ONSETS; o++) {
        double onset = o < FINE ? f->answer_newest_s + f->answer_fine_s * o
                                : f->answer_oldest_s - (ONSETS - 1 - o);
        for (int k = 0; k < ANSWER_SHAPES; k++) {
            for (int i = 0; i < n; i++)
                lost[i] = share_at(a->share[k], onset - age_s[i]);
            best_lost = fmin(best_lost, left_over(flat, lost, n, total));
            for (int g = 0; g < GULPS; g++) {
                for (int i = 0; i < n; i++)
                    gulp[i] = lost[i] - share_at(a->share[k], onset - age_s[i] - gulps_s[g]);
                best_gulp = fmin(best_gulp, left_over(flat, gulp, n, total));
            }
        }
    }
    return fmax(0.0, best_gulp - best_lost);
}
