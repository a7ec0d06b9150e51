#include "cooling/answer.h"

#include <math.h>
#include <stddef.h>

#include "base/banned.h"

#define DRAIN_S 1.2 /* the first lag: pipes and pump run dry, and fill again */
/* When the water may have gone: 3 to 9.5 s ago in half seconds, then to 16 s ago in seconds. */
#define NEWEST_S 3.0
#define OLDEST_S 16.0
#define FINE     14
#define ONSETS   21

/* Seconds: the probe's lag, and that of the wall or hose it sits on. */
static const double lags[ANSWER_SHAPES][2] = {{2.0, 8.0},  {2.0, 20.0}, {2.0, 60.0},  {4.0, 8.0},
                                              {4.0, 20.0}, {4.0, 60.0}, {8.0, 8.0},   {8.0, 20.0},
                                              {8.0, 60.0}, {14.0, 8.0}, {14.0, 20.0}, {14.0, 60.0}};
static const double gulps_s[] = {2.0, 3.5, 5.0};

void answers_init(struct answers *a)
{
    const int fine = 5;
    const double dt = ANSWER_STEP_S / fine;
    for (int k = 0; k < ANSWER_SHAPES; k++) {
        double water = 0.0, probe = 0.0, wall = 0.0;
        for (int i = 0; i < ANSWER_STEPS; i++) {
            a->share[k][i] = (float)wall;
            for (int j = 0; j < fine; j++) {
                water += dt / DRAIN_S * (1.0 - water);
                probe += dt / lags[k][0] * (water - probe);
                wall += dt / lags[k][1] * (probe - wall);
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
        double onset = o < FINE ? NEWEST_S + 0.5 * o : OLDEST_S - (ONSETS - 1 - o);
        for (int k = 0; k < ANSWER_SHAPES; k++) {
            for (int i = 0; i < n; i++)
                lost[i] = share_at(a->share[k], onset - age_s[i]);
            best_lost = fmin(best_lost, left_over(flat, lost, n, total));
            for (size_t g = 0; g < sizeof gulps_s / sizeof *gulps_s; g++) {
                for (int i = 0; i < n; i++)
                    gulp[i] = lost[i] - share_at(a->share[k], onset - age_s[i] - gulps_s[g]);
                best_gulp = fmin(best_gulp, left_over(flat, gulp, n, total));
            }
        }
    }
    return fmax(0.0, best_gulp - best_lost);
}
