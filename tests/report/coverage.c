#include "report/coverage.h"

#include "report/trial/trial.h"
#include "report/voyage.h"

#include "support/check.h"

#include <stdlib.h>

static const char *const names[COVER_FIGURES] = {
    [COVER_SPEED] = "speed, both ways",
    [COVER_CORRECTED] = "speed, one way corrected",
    [COVER_COST] = "L/nmi",
    [COVER_BURN] = "burn",
    [COVER_EXPONENT] = "exponent",
    [COVER_BEST] = "economical speed",
    [COVER_FACTOR] = "meter factor",
};

const char *coverage_name(enum coverage_figure f)
{
    return names[f];
}

static void put(struct coverage *c, enum coverage_figure figure, double estimate, double truth,
                double stated)
{
    struct coverage_of *f = &c->figure[figure];

    if (!isfinite(truth))
        return;
    if (f->n == f->cap) {
        f->cap = f->cap ? 2 * f->cap : 256;
        f->off = realloc(f->off, f->cap * sizeof *f->off);
        f->stated = realloc(f->stated, f->cap * sizeof *f->stated);
        assert_true(f->off && f->stated);
    }
    assert_true(isfinite(estimate) && isfinite(stated));
    f->off[f->n] = estimate - truth;
    f->stated[f->n++] = stated;
}

static void add_points(struct coverage *c, const struct voyage *v, const struct trial_report *r)
{
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];
        double speed = voyage_speed_kn(v, p->rpm), burn = voyage_burn_lph(v, p->rpm);

        for (int k = 0; k < r->steps; k++)
            if (r->step[k].point == i && p->how != TRIAL_NO_SPEED &&
                voyage_is_neutral(v, (double)(r->step[k].wall_ns - VOYAGE_EPOCH_NS) / 1e9 +
                                         r->step[k].seconds / 2))
                c->invented++;
        c->invented += p->how != TRIAL_NO_SPEED && !(p->speed_kn > 0 && !(p->cost <= 0));
        if (p->how == TRIAL_RECIPROCAL)
            put(c, COVER_SPEED, p->speed_kn, speed, p->speed_error);
        if (p->how == TRIAL_CORRECTED)
            put(c, COVER_CORRECTED, p->speed_kn, speed, p->speed_error);
        if (p->how == TRIAL_NO_SPEED || !p->has_burn)
            continue;
        put(c, COVER_BURN, p->burn_lph, burn, p->burn_error);
        if (isfinite(p->cost))
            put(c, COVER_COST, p->cost, burn / speed, p->cost_error);
    }
}

static void add_laws(struct coverage *c, const struct trial_report *r)
{
    /* by torque alone: burn follows no exact power, so it has no true exponent */
    for (int e = 0; e < r->engines && r->law_by_torque; e++)
        if (r->law_seen[e])
            put(c, COVER_EXPONENT, r->law[e].exponent, 3, r->law[e].exponent_error);
}

static void add_best(struct coverage *c, const struct voyage *v, const struct trial_report *r)
{
    double low = INFINITY, high = 0, truth;

    for (int i = 0; i < r->points; i++) {
        if (r->point[i].how == TRIAL_NO_SPEED)
            continue;
        low = fmin(low, r->point[i].rpm);
        high = fmax(high, r->point[i].rpm);
    }
    truth = voyage_economical_kn(v, low, high);
    c->best_there += isfinite(truth);
    c->false_best += r->has_best && isnan(truth);
    if (r->has_best)
        put(c, COVER_BEST, r->best.x, truth, r->best.x_error);
}

static void add_meters(struct coverage *c, const struct voyage *v, const struct trial_report *r,
                       const struct voyage_truth *truth)
{
    double used = 0, metered = 0;

    for (int e = 0; e < v->engines; e++) {
        used += truth->used_l[e];
        metered += truth->used_l[e] * v->meter[e];
        if (isfinite(r->meter[e].factor))
            put(c, COVER_FACTOR, r->meter[e].factor, 1 / v->meter[e], r->meter[e].error);
    }
    if (v->engines != v->tanks && v->engines > 1 && isfinite(r->factor))
        put(c, COVER_FACTOR, r->factor, used / metered, r->factor_error);
}

void coverage_add(struct coverage *c, const struct settings *settings, uint64_t seed)
{
    struct trial *t = trial_new(settings, NULL);
    const struct trial_report *r;
    struct voyage_truth truth;
    struct voyage v;

    assert_non_null(t);
    voyage_random(&v, seed);
    voyage_sail(&v, settings, t, &truth);
    r = trial_finish(t);
    assert_non_null(r);
    c->trials++;
    add_points(c, &v, r);
    add_laws(c, r);
    add_best(c, &v, r);
    add_meters(c, &v, r, &truth);
    trial_free(t);
}

double coverage_held(const struct coverage_of *f)
{
    size_t held = 0;

    for (size_t i = 0; i < f->n; i++)
        held += fabs(f->off[i]) <= 2 * f->stated[i];
    return 100.0 * (double)held / (double)f->n;
}

static int by_size(const void *a, const void *b)
{
    const double *x = a, *y = b;

    return *x < *y ? -1 : *x > *y;
}

static double median_of(const double *v, size_t n)
{
    double *sorted = calloc(n, sizeof *sorted), m;

    assert_non_null(sorted);
    for (size_t i = 0; i < n; i++)
        sorted[i] = fabs(v[i]);
    qsort(sorted, n, sizeof *sorted, by_size);
    m = sorted[n / 2];
    free(sorted);
    return m;
}

double coverage_wide(const struct coverage_of *f)
{
    /* half of all normal errors are less than 0.6745 standard deviations */
    return median_of(f->stated, f->n) / (median_of(f->off, f->n) / 0.6745);
}

void coverage_free(struct coverage *c)
{
    for (int i = 0; i < COVER_FIGURES; i++) {
        free(c->figure[i].off);
        free(c->figure[i].stated);
    }
}
