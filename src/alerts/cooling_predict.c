#include "alerts/cooling_predict.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define OFFSET_SD   30.0 /* K, before the first sample */
#define RUNNING_SD  8.0  /* K per lag: what starting may do */
#define SPEED_SD    6.0  /* K per SPEED_UNIT and lag */
#define MISMATCH    0.7  /* K: the boat is not a linear model */
#define SPAN_S      20.0 /* samples closer than this tell little news */
#define OFFSET_WALK 0.03 /* K^2 per hour */
#define WEIGHT_WALK 0.2  /* K^2 per hour */

static const double lag_s[PREDICT_LAGS] = {6.0, 25.0, 100.0};

void predict_init(struct predict *p)
{
    memset(p, 0, sizeof *p);
    p->feature[0] = 1.0;
    p->cov[0][0] = OFFSET_SD * OFFSET_SD;
    for (int l = 0; l < PREDICT_LAGS; l++) {
        for (int i = 0; i < PREDICT_INPUTS; i++) {
            int k = 1 + l * PREDICT_INPUTS + i;
            double sd = i == 0 ? RUNNING_SD : SPEED_SD;
            p->cov[k][k] = sd * sd;
        }
    }
}

void predict_advance(struct predict *p, double dt, bool running, double speed, double square)
{
    const double in[PREDICT_INPUTS] = {running ? 1.0 : 0.0, running ? speed : 0.0,
                                       running ? square : 0.0};
    for (int l = 0; l < PREDICT_LAGS; l++) {
        double g = p->known ? 1.0 - exp(-dt / lag_s[l]) : 1.0;
        for (int i = 0; i < PREDICT_INPUTS; i++) {
            double *f = &p->feature[1 + l * PREDICT_INPUTS + i];
            *f += g * (in[i] - *f);
        }
    }
    memcpy(p->input, in, sizeof in);
}

double predict_value(const struct predict *p)
{
    double v = 0.0;
    for (int i = 0; i < PREDICT_SIZE; i++)
        v += p->feature[i] * p->weight[i];
    return v;
}

static double spread(const struct predict *p, double *gain)
{
    double total = 0.0;
    for (int i = 0; i < PREDICT_SIZE; i++) {
        double row = 0.0;
        for (int j = 0; j < PREDICT_SIZE; j++)
            row += p->cov[i][j] * p->feature[j];
        gain[i] = row;
        total += row * p->feature[i];
    }
    return fmax(total, 0.0);
}

double predict_doubt(const struct predict *p)
{
    double gain[PREDICT_SIZE];
    return sqrt(spread(p, gain));
}

double predict_unrest(const struct predict *p)
{
    double most = 0.0;
    for (int l = 0; l < PREDICT_LAGS; l++) {
        const double *f = &p->feature[1 + l * PREDICT_INPUTS];
        most = fmax(most, fabs(p->input[1] - f[1]));
        most = fmax(most, fabs(p->input[2] - f[2]));
        most = fmax(most, 0.5 * fabs(p->input[0] - f[0]));
    }
    return most;
}

void predict_learn(struct predict *p, double dt, double value, double sigma)
{
    if (!p->known) {
        p->known = true;
        p->weight[0] = value;
    }
    double noise = (sigma * sigma + MISMATCH * MISMATCH) * SPAN_S / fmin(fmax(dt, 0.1), SPAN_S);
    double gain[PREDICT_SIZE];
    double total = spread(p, gain) + noise;
    double miss = value - predict_value(p);
    double clip = 3.0 * sqrt(spread(p, gain) + sigma * sigma + MISMATCH * MISMATCH);
    miss = fmax(-clip, fmin(clip, miss));
    for (int i = 0; i < PREDICT_SIZE; i++)
        p->weight[i] += gain[i] / total * miss;
    for (int i = 0; i < PREDICT_SIZE; i++)
        for (int j = 0; j <= i; j++)
            p->cov[i][j] = p->cov[j][i] = p->cov[i][j] - gain[i] * gain[j] / total;
    p->cov[0][0] += OFFSET_WALK / 3600.0 * dt;
    for (int i = 1; i < PREDICT_SIZE; i++)
        p->cov[i][i] += WEIGHT_WALK / 3600.0 * dt;
}
