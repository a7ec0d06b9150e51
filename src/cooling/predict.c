#include "cooling/predict.h"

#include "base/order.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

void predict_init(struct predict *p, const struct figures *figures,
                  const struct predict_figures *own)
{
    memset(p, 0, sizeof *p);
    p->figures = figures;
    p->own = own;
    p->lag_s[0] = own->lag_1_s;
    p->lag_s[1] = own->lag_2_s;
    p->lag_s[2] = own->lag_3_s;
    p->size = PREDICT_SPEEDS;
    p->feature[0] = 1.0;
    p->cov[0][0] = figures->predict_offset_sd * figures->predict_offset_sd;
    for (int l = 0; l < PREDICT_LAGS; l++) {
        for (int i = 0; i < PREDICT_INPUTS; i++) {
            int k = 1 + l * PREDICT_INPUTS + i;
            p->cov[k][k] = own->speed_sd * own->speed_sd;
        }
    }
}

/* Speed and load are told of the same stretch, one after the other. */
static void find_shares(struct predict *p, double dt)
{
    if (dt == p->share_dt)
        return;
    p->share_dt = dt;
    for (int l = 0; l < PREDICT_LAGS; l++)
        p->share[l] = 1.0 - exp(-dt / p->lag_s[l]);
}

static void advance(struct predict *p, const double in[PREDICT_INPUTS], double dt)
{
    find_shares(p, dt);
    for (int l = 0; l < PREDICT_LAGS; l++) {
        for (int i = 0; i < PREDICT_INPUTS; i++) {
            double *f = &p->feature[1 + l * PREDICT_INPUTS + i];
            *f += p->share[l] * (in[i] - *f);
        }
    }
    memcpy(p->input, in, sizeof p->input);
}

void predict_advance(struct predict *p, double dt, double speed, double square)
{
    const double in[PREDICT_INPUTS] = {speed, square};
    advance(p, in, dt);
}

void predict_settle(struct predict *p, double speed, double square)
{
    const double in[PREDICT_INPUTS] = {speed, square};
    advance(p, in, INFINITY);
}

void predict_load(struct predict *p, double dt, double load)
{
    bool first = p->size < PREDICT_SIZE;
    p->size = PREDICT_SIZE;
    find_shares(p, dt);
    for (int l = 0; l < PREDICT_LAGS; l++) {
        int k = PREDICT_SPEEDS + l;
        if (first)
            p->cov[k][k] = p->own->load_sd * p->own->load_sd;
        p->feature[k] += (first ? 1.0 : p->share[l]) * (load - p->feature[k]);
    }
}

void predict_forget_load(struct predict *p)
{
    p->size = PREDICT_SPEEDS;
    for (int k = PREDICT_SPEEDS; k < PREDICT_SIZE; k++) {
        p->feature[k] = p->weight[k] = 0.0;
        for (int i = 0; i < PREDICT_SIZE; i++)
            p->cov[i][k] = p->cov[k][i] = 0.0;
    }
}

void predict_rescale_load(struct predict *p, double times)
{
    for (int k = PREDICT_SPEEDS; k < p->size; k++) {
        p->feature[k] /= times;
        p->weight[k] *= times;
        for (int i = 0; i < p->size; i++) {
            p->cov[i][k] *= times;
            p->cov[k][i] *= times;
        }
    }
}

double predict_value(const struct predict *p)
{
    double v = 0.0;
    for (int i = 0; i < p->size; i++)
        v += p->feature[i] * p->weight[i];
    return v;
}

/* gain = cov x, and x cov x. cov is symmetric: its rows stand for its columns, so that all of gain
 * grows at once. */
static double spread(const struct predict *p, const double *x, double gain[PREDICT_SIZE])
{
    double total = 0.0, sum[PREDICT_SIZE] = {0.0};
    for (int j = 0; j < p->size; j++)
        for (int i = 0; i < PREDICT_SIZE; i++)
            sum[i] += p->cov[j][i] * x[j];
    for (int i = 0; i < p->size; i++)
        total += sum[i] * x[i];
    memcpy(gain, sum, sizeof sum);
    return fmax(total, 0.0);
}

void predict_follow(const struct predict *p, struct usual *u, double dt, double seconds)
{
    double g = u->known ? 1.0 - exp(-dt / seconds) : 1.0;
    for (int k = 0; k < p->size; k++)
        u->feature[k] += (k < u->size ? g : 1.0) * (p->feature[k] - u->feature[k]);
    u->known = true;
    u->size = p->size;
}

double predict_doubt(const struct predict *p, const struct usual *u)
{
    double gain[PREDICT_SIZE], change[PREDICT_SIZE];
    for (int k = 0; k < p->size; k++)
        change[k] = k == 0 || k >= u->size || !u->known ? 0.0 : p->feature[k] - u->feature[k];
    return sqrt(spread(p, change, gain));
}

double predict_change(const struct predict *p, const struct usual *u)
{
    double v = 0.0;
    for (int k = 1; k < p->size && k < u->size && u->known; k++)
        v += p->weight[k] * (p->feature[k] - u->feature[k]);
    return v;
}

/* Newest input against the least lagged, and each lagged one against the usual. */
static void unrest(const struct predict *p, const struct usual *u, double *up, double *down)
{
    *up = *down = 0.0;
    for (int k = 1; k < PREDICT_SPEEDS; k++) {
        double ahead = k <= PREDICT_INPUTS ? p->input[k - 1] - p->feature[k] : 0.0;
        double late = u->known ? p->feature[k] - u->feature[k] : 0.0;
        *up = greater(*up, greater(ahead, late));
        *down = greater(*down, greater(-ahead, -late));
    }
}

double predict_unrest(const struct predict *p, const struct usual *u)
{
    double up, down;
    unrest(p, u, &up, &down);
    return greater(up, down);
}

double predict_slow_unrest(const struct predict *p)
{
    double most = 0.0;
    for (int i = 0; i < PREDICT_INPUTS; i++)
        most = greater(most, fabs(p->input[i] - p->feature[PREDICT_SPEEDS - PREDICT_INPUTS + i]));
    return most;
}

double predict_slow_up(const struct predict *p)
{
    double most = 0.0;
    for (int i = 0; i < PREDICT_INPUTS; i++)
        most = greater(most, p->input[i] - p->feature[PREDICT_SPEEDS - PREDICT_INPUTS + i]);
    return most;
}

double predict_unrest_up(const struct predict *p, const struct usual *u)
{
    double up, down;
    unrest(p, u, &up, &down);
    return up;
}

double predict_unrest_down(const struct predict *p, const struct usual *u)
{
    double up, down;
    unrest(p, u, &up, &down);
    return down;
}

/* gain: of the features as they are, 0 beyond those in use; total: their spread, and the noise. */
static void correct(struct predict *p, double miss, const double gain[PREDICT_SIZE], double total)
{
    for (int i = 0; i < p->size; i++)
        p->weight[i] += gain[i] / total * miss;
    for (int i = 0; i < p->size; i++)
        for (int j = 0; j < PREDICT_SIZE; j++)
            p->cov[i][j] -= gain[i] * gain[j] / total;
}

void predict_recall(struct predict *p, double speed, double square, double value, double sd)
{
    if (!p->known) {
        p->known = true;
        p->weight[0] = value;
    }
    predict_settle(p, speed, square);
    double floor = p->own->mismatch * p->own->mismatch, gain[PREDICT_SIZE];
    double total = spread(p, p->feature, gain);
    correct(p, value - predict_value(p), gain, total + (sd * sd + floor));
}

void predict_learn(struct predict *p, double dt, double value, double sigma)
{
    const struct predict_figures *k = p->own;
    if (!p->known) {
        p->known = true;
        p->weight[0] = value;
    }
    double noise = (sigma * sigma + k->mismatch * k->mismatch) * k->span_s /
                   fmin(fmax(dt, p->figures->predict_least_s), k->span_s);
    double gain[PREDICT_SIZE];
    double total = spread(p, p->feature, gain);
    double clip =
        p->figures->predict_clip * sqrt(total + sigma * sigma + k->mismatch * k->mismatch);
    double miss = value - predict_value(p);
    correct(p, fmax(-clip, fmin(clip, miss)), gain, total + noise);
    p->cov[0][0] += k->offset_walk / 3600.0 * dt;
    for (int i = 1; i < p->size; i++)
        p->cov[i][i] += k->weight_walk / 3600.0 * dt;
}
