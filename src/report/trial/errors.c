/* Standard errors of means. Readings a second apart hang together: a receiver wanders, waves come
 * in trains, a governor hunts. How long they do is found for each quantity from all steps at once,
 * as one step is too short to tell; the spread is that of the step itself, steadied by all others.
 *
 * GUM (JCGM 100) 4.2.3 for the mean of independent readings; for readings whose correlation falls
 * as r^k the variance of the mean of n is s^2/n (1 + 2 sum (1 - k/n) r^k), the textbook sum over
 * lags. The correlation found about a sample's own mean is too small by (1 + 3 r)/n (Marriott and
 * Pope, Biometrika 41, 1954; from memory) and is put right for that. */
#include "report/trial/inside.h"

#include <math.h>
#include <stddef.h>

#include "base/banned.h"

#define POOL   8    /* the spread of all others counts as so many blocks of the step's own */
#define R_MOST 0.95 /* beyond it a step says nothing of its own mean */
#define BLOCKS 3    /* fewer: no error can be told */

struct field {
    size_t offset;
    bool share; /* spreads go with the value */
};

#define ENGINE(name, share)                                                                        \
    {                                                                                              \
        offsetof(struct trial_engine, name), share                                                 \
    }
static const struct field engine_fields[] = {
    ENGINE(rpm, true),       ENGINE(exhaust, false),     ENGINE(exhaust_gas, false),
    ENGINE(coolant, false),  ENGINE(oil_pressure, true), ENGINE(oil_temp, false),
    ENGINE(fuel_rate, true), ENGINE(load, false),        ENGINE(torque, false),
    ENGINE(boost, false),    ENGINE(alternator, false),
};
#define STEP(name)                                                                                 \
    {                                                                                              \
        offsetof(struct trial_step, name), false                                                   \
    }
static const struct field step_fields[] = {
    STEP(speed_ground), STEP(speed_water), STEP(north), STEP(east),
    STEP(space),        STEP(air),         STEP(sea),
};

static double scale_of(const struct trial_stat *s, bool share)
{
    return share ? fmax(fabs(s->mean), 1e-9) : 1;
}

/* Sum over lags: how many times larger the variance of a mean of n is than with independent ones.
 */
double trial_growth(double r, double n)
{
    double sum = 1, power = 1;

    for (long k = 1; (double)k < n; k++) {
        power *= r;
        sum += 2 * (1 - (double)k / n) * power;
    }
    return sum;
}

struct pool {
    double squares, products, blocks, steps;
    double r, variance;
};

static void pool_add(struct pool *p, const struct trial_stat *s, bool share)
{
    double scale = scale_of(s, share);

    if (s->blocks < BLOCKS)
        return;
    p->squares += s->squares / (scale * scale);
    p->products += s->products / (scale * scale);
    p->blocks += s->blocks;
    p->steps++;
}

static void pool_close(struct pool *p)
{
    double each, r;

    if (p->steps < 1)
        return;
    each = p->blocks / p->steps;
    r = p->squares > 0 ? p->products / p->squares * each / (each - 1) : 0;
    r = each > 3.5 ? (r + 1 / each) / (1 - 3 / each) : r;
    p->r = fmin(fmax(r, 0), R_MOST);
    p->variance = p->squares / fmax(p->blocks - p->steps * trial_growth(p->r, each), 1);
}

static void set_error(struct trial_stat *s, const struct pool *p, bool share)
{
    double scale = scale_of(s, share), grown, own, variance;

    s->error = NAN;
    if (s->blocks < BLOCKS)
        return;
    grown = trial_growth(p->r, s->blocks);
    own = fmax(s->blocks - grown, 0);
    variance = (s->squares / (scale * scale) + POOL * p->variance) / (own + POOL);
    s->error = scale * sqrt(variance * grown / s->blocks);
}

static struct trial_stat *stat_at(void *base, const struct field *f)
{
    return (struct trial_stat *)((char *)base + f->offset);
}

static void make_step_field(struct trial_report *r, const struct field *f)
{
    struct pool p = {0};

    for (int i = 0; i < r->steps; i++)
        pool_add(&p, stat_at(&r->step[i], f), f->share);
    pool_close(&p);
    for (int i = 0; i < r->steps; i++)
        set_error(stat_at(&r->step[i], f), &p, f->share);
}

static void make_engine_field(struct trial_report *r, const struct field *f)
{
    struct pool p = {0};

    for (int i = 0; i < r->steps; i++)
        for (int e = 0; e < TRIAL_ENGINES; e++)
            pool_add(&p, stat_at(&r->step[i].engine[e], f), f->share);
    pool_close(&p);
    for (int i = 0; i < r->steps; i++)
        for (int e = 0; e < TRIAL_ENGINES; e++)
            set_error(stat_at(&r->step[i].engine[e], f), &p, f->share);
}

void trial_error_alone(struct trial_stat *s)
{
    struct pool p = {0};

    pool_add(&p, s, false);
    pool_close(&p);
    set_error(s, &p, false);
}

void trial_errors_make(struct trial_report *r)
{
    for (size_t i = 0; i < sizeof step_fields / sizeof step_fields[0]; i++)
        make_step_field(r, &step_fields[i]);
    for (size_t i = 0; i < sizeof engine_fields / sizeof engine_fields[0]; i++)
        make_engine_field(r, &engine_fields[i]);
}
