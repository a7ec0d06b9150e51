#include "cooling/trace.h"

#include "base/order.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#include "base/banned.h"

/* Median of |second difference| of white noise: 0.6745 sqrt(6) sigma. */
#define DIFFERENCE_OF_NOISE 1.652

void trace_init(struct trace *t, const struct figures *figures)
{
    *t = (struct trace){.figures = figures,
                        .sigma = figures->trace_sigma_k,
                        .same_share = figures->trace_same_first};
}

void trace_gap(struct trace *t)
{
    t->count = 0;
}

static unsigned slot(const struct trace *t, unsigned back)
{
    return (t->head + TRACE_RING - 1 - back) % TRACE_RING;
}

double trace_last(const struct trace *t)
{
    return t->count ? t->value[slot(t, 0)] : NAN;
}

double trace_last_time(const struct trace *t)
{
    return t->count ? t->time[slot(t, 0)] : NAN;
}

double trace_spacing(const struct trace *t)
{
    if (t->count < 4)
        return t->period;
    double least = INFINITY;
    for (unsigned i = 0; i < 3; i++)
        least = fmin(least, t->time[slot(t, i)] - t->time[slot(t, i + 1)]);
    return fmax(t->period, least);
}

double trace_value(const struct trace *t)
{
    if (t->count < 3)
        return trace_last(t);
    return middle_of(t->value[slot(t, 0)], t->value[slot(t, 1)], t->value[slot(t, 2)]);
}

static double median_of(const double *v, unsigned n)
{
    double s[TRACE_DIFFS];
    assert(n > 0 && n <= TRACE_DIFFS);
    memcpy(s, v, n * sizeof *s);
    return order_at(s, (int)n, (int)n / 2);
}

double trace_middle(const struct trace *t, unsigned n)
{
    double v[TRACE_RING];
    unsigned have = n < t->count ? n : t->count;
    assert(n <= TRACE_RING);
    for (unsigned i = 0; i < have; i++)
        v[i] = t->value[slot(t, i)];
    return have ? median_of(v, have) : NAN;
}

static void learn_noise(struct trace *t)
{
    const struct figures *k = t->figures;
    double a = t->value[slot(t, 0)], b = t->value[slot(t, 1)], c = t->value[slot(t, 2)];
    double change = fabs(a - b);
    t->same = change > k->trace_change_k ? 0 : t->same + 1;
    if (t->same < k->trace_same)
        t->same_share += k->trace_same_gain * ((t->same ? 1.0 : 0.0) - t->same_share);
    if (change > k->trace_change_k && (t->step <= 0.0 || change < t->step))
        t->step = change;
    if (t->count < 3)
        return;
    double after = t->time[slot(t, 0)] - t->time[slot(t, 1)];
    double before = t->time[slot(t, 1)] - t->time[slot(t, 2)];
    if (after > k->trace_uneven * before || before > k->trace_uneven * after)
        return; /* a sample was missed: the difference would show the slope */
    /* Uneven spacing weighs the slope out. */
    t->diff[t->diffs % TRACE_DIFFS] = fabs((a - b) - (b - c) * after / before);
    t->diffs++;
    if (t->diffs < k->trace_diffs)
        return;
    if (t->diffs % (unsigned)k->trace_relearn != 0 && t->diffs > TRACE_DIFFS)
        return;
    unsigned n = t->diffs < TRACE_DIFFS ? t->diffs : TRACE_DIFFS;
    double sigma = median_of(t->diff, n) / DIFFERENCE_OF_NOISE;
    t->sigma = fmax(fmax(sigma, k->trace_step_share * t->step), k->trace_sigma_least_k);
}

/* A probe in iron, water or hose does not leap by itself; it goes on as it went, or gathers way. */
static bool leaps(const struct trace *t, double dt, double value)
{
    const struct figures *k = t->figures;
    if (t->count < k->trace_leap_count)
        return false;
    dt = lesser(dt, k->trace_leap_most_s);
    double last = t->value[slot(t, 0)];
    double span = greater(t->time[slot(t, 0)] - t->time[slot(t, 1)], k->trace_going_least_s);
    double going = (last - t->value[slot(t, 1)]) / span * dt;
    double soon = lesser(dt, k->trace_leap_soon_s);
    double reach = k->trace_leap_k + k->trace_leap_sigmas * t->sigma +
                   k->trace_leap_steps * t->step + k->trace_leap_k_per_s * soon +
                   k->trace_leap_later * (dt - soon) + fabs(going);
    return fabs(value - last - going) > reach && fabs(value - trace_value(t)) > reach;
}

enum trace_taken trace_add(struct trace *t, double time_s, double value)
{
    const struct figures *k = t->figures;
    double dt = time_s - trace_last_time(t);
    if (t->count && !(dt > k->trace_apart_s && time_s > t->wild_s))
        return TRACE_OLD;
    t->wild_s = time_s;
    if (t->wild < k->trace_wild && leaps(t, dt, value)) {
        t->wild++;
        t->has_leapt = true;
        return TRACE_WILD;
    }
    t->wild = 0;
    if (t->count)
        t->period = t->period > 0.0
                        ? t->period + k->trace_period_gain *
                                          (lesser(dt, k->trace_period_most_s) - t->period)
                        : dt;
    t->time[t->head] = time_s;
    t->value[t->head] = value;
    t->head = (t->head + 1) % TRACE_RING;
    t->count++;
    if (t->count >= 2)
        learn_noise(t);
    return TRACE_GOOD;
}

bool trace_is_stuck(const struct trace *t)
{
    const struct figures *k = t->figures;
    return t->same >= k->trace_same && t->same_share < k->trace_same_share &&
           t->sigma > k->trace_same_sigma * t->step;
}

double trace_rate(const struct trace *t, double seconds)
{
    unsigned have = t->count < TRACE_RING ? t->count : TRACE_RING;
    unsigned back = 0;
    double now = trace_last_time(t);
    while (back + 1 < have && (back < 3 || now - t->time[slot(t, back)] < seconds))
        back++;
    if (back < 3)
        return 0.0;
    double new_c = trace_value(t),
           old_c = back + 1 < have
                       ? middle_of(t->value[slot(t, back - 1)], t->value[slot(t, back)],
                                   t->value[slot(t, back + 1)])
                       : middle_of(t->value[slot(t, back - 2)], t->value[slot(t, back - 1)],
                                   t->value[slot(t, back)]);
    double new_s = t->time[slot(t, 1)];
    double old_s = back + 1 < have ? t->time[slot(t, back)] : t->time[slot(t, back - 1)];
    return new_s > old_s ? (new_c - old_c) / (new_s - old_s) : 0.0;
}
