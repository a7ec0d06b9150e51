#include "season/normal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Figures, each with its reason. Sizes by quantity stand in kept.c. */
#define TWIN_RPM      0.04 /* steps of twins belong together within that share of speed, */
#define TWIN_NS       (INT64_C(600) * 1000000000) /* and that time */
#define PRIOR_FREEDOM 4.0                         /* trips that the table's `between` is worth */
#define LOAD_GAIN     0.8 /* exhaust over sea goes with the heat, that with the load (drill.md) */
#define LOAD_GAIN_E   0.3
#define SEA_PRIOR     0.8 /* K an exhaust may go beyond the sea's own 10 K */
#define AIR_PRIOR     0.8
#define LOAD_REACH    0.5 /* of the load of a speed: a hull that fouls asks a quarter more */
#define TWIN_LOAD     0.4 /* of the larger one */
#define IDLE_ERROR    1.6 /* K: how far an idle may mislead about the sea */

enum { T_ONE, T_U, T_UU, T_LOAD, T_SEA, T_AIR, TERMS };

/* Priors of the curve, in units of `between`-free base units, by row of season_kept: how far a
 * coefficient may go. Wide: they only hold what the first trips do not show. */
static const struct {
    double one, u, uu;
    double load, load_error; /* per unit of relative load, base unit; exhaust: times its own rise */
    double sea, sea_error;   /* per 10 K */
    double air, air_error;
} priors[SEASON_KEPT] = {
    /* exhaust */ {60, 60, 60, LOAD_GAIN, LOAD_GAIN_E, 0, SEA_PRIOR, 0, AIR_PRIOR},
    /* coolant */ {INFINITY, 40, 40, 2, 3, 1.5, 2, 0.5, 1.5},
    /* oil temp */ {INFINITY, 80, 80, 5, 6, 2, 2, 1, 1.5},
    /* oil pressure */ {INFINITY, 3, 3, -1.3, 1.0, 0, 0.01, 0, 0.01},
    /* gear oil */ {INFINITY, 80, 80, 5, 6, 1.5, 2, 1, 1.5},
    /* engine space */ {INFINITY, 60, 60, 3, 4, 0.5, 1.5, 0, 1.5},
    /* burn */ {INFINITY, 8, 8, 0, 1e-3, 0, 0.01, 0, 0.02},
    /* alternator */ {INFINITY, 2, 2, 0, 0.05, 0, 0.05, -0.02, 0.05},
    /* boost */ {INFINITY, 3, 3, 0.3, 0.3, 0, 0.01, -0.01, 0.02},
    /* cranking volts: with those before, and less when cold */
    {INFINITY, 1e-3, 1e-3, 1.2, 0.4, 0, 1e-3, 0.02, 0.01},
};

static bool burns(const struct season_kept *k)
{
    return k->quantity == QTY_FUEL_RATE;
}

/* ---- observations ---- */

static double comparable(const struct season_kept *k, double v)
{
    return k->share ? log(fmax(v, 1e-6)) : v;
}

bool season_twins_alike(const struct season_step *a, const struct season_step *b)
{
    return a->load_kind == SEASON_LOAD_NONE || a->load_kind != b->load_kind ||
           fabs(a->load - b->load) <= TWIN_LOAD * fmax(fabs(a->load), fabs(b->load));
}

/* The twin's step that belongs to this one, or NULL. */
static const struct season_step *twin_step(const struct season_step *steps, int count,
                                           struct channel_id twin, const struct season_step *of)
{
    const struct season_step *best = NULL;
    int64_t nearest = TWIN_NS;

    for (int i = 0; i < count; i++) {
        const struct season_step *t = &steps[i];
        int64_t apart = llabs(t->wall_ns - of->wall_ns);
        if (t->trip == of->trip && channel_id_same(t->id, twin) && apart < nearest &&
            fabs(t->rpm - of->rpm) < TWIN_RPM * of->rpm && season_twins_alike(t, of)) {
            best = t;
            nearest = apart;
        }
    }
    return best;
}

static bool observe(const struct season_view *v, const struct season_normal *n, int part,
                    const struct season_step *step, struct season_observation *out)
{
    const struct season_step *twin;

    out->step = step;
    out->y = comparable(v->kept, step->mean);
    if (n->beside && step->rpm >= SEASON_WORKING * n->rpm_unit) {
        twin = twin_step(v->steps[part], v->count[part], n->twin, step);
        if (!twin || fabs(twin->mean - step->mean) > TWIN_LOAD * fmax(twin->mean, step->mean))
            return false;
    }
    switch (n->mode) {
    case SEASON_MODE_OVER_SEA:
        out->y -= step->sea_c;
        return isfinite(step->sea_c);
    case SEASON_MODE_OVER_AIR:
        out->y -= step->air_c;
        return isfinite(step->air_c);
    case SEASON_MODE_OVER_TWIN:
        twin = twin_step(v->steps[part], v->count[part], n->twin, step);
        if (!twin)
            return false;
        out->y -= twin->mean;
        return true;
    default:
        return true;
    }
}

void season_every(const struct season_view *v, const struct season_normal *n, season_each *f,
                  void *ctx)
{
    for (int part = 0; part < 2; part++)
        for (int i = 0; i < v->count[part]; i++) {
            const struct season_step *s = &v->steps[part][i];
            int trip = part ? v->trips : s->trip;
            struct season_observation o;
            if (s->rpm > 0 && channel_id_same(s->id, v->id) && (part || trip != v->leave_out) &&
                observe(v, n, part, s, &o))
                f(ctx, &o, trip);
        }
}

/* ---- the normal ---- */

static double normal_load(const struct season_normal *n, double u)
{
    return n->load_fit[0] + n->load_fit[1] * u + n->load_fit[2] * u * u;
}

bool season_loaded_alike(const struct season_normal *n, const struct season_step *step)
{
    double u = step->rpm / n->rpm_unit, normal = normal_load(n, u);

    return u < SEASON_WORKING || n->load_kind == SEASON_LOAD_NONE ||
           step->load_kind != n->load_kind || normal <= 0 ||
           fabs(step->load - normal) <= LOAD_REACH * normal;
}

static void base_terms(const struct season_view *v, const struct season_normal *n,
                       const struct season_step *s, double x[REGRESS_TERMS])
{
    double u = s->rpm / n->rpm_unit, normal = normal_load(n, u);

    memset(x, 0, REGRESS_TERMS * sizeof *x);
    x[T_ONE] = 1;
    x[T_U] = v->kept->share ? log(fmax(u, 0.05)) : u;
    x[T_UU] = x[T_U] * x[T_U];
    if (n->load_kind != SEASON_LOAD_NONE && s->load_kind == n->load_kind && normal > 0)
        x[T_LOAD] = fmax(fmin((s->load - normal) / normal, 0.6), -0.6);
    if (isfinite(n->sea_c) && isfinite(s->sea_c))
        x[T_SEA] = (s->sea_c - n->sea_c) / 10;
    if (isfinite(n->air_c) && isfinite(s->air_c))
        x[T_AIR] = (s->air_c - n->air_c) / 10;
}

/* Load acts on an exhaust in proportion to what it has over the sea. */
double season_rise(const struct season_view *v, const struct season_normal *n, const double *x)
{
    double rise;

    if (v->kept->quantity != QTY_EXHAUST || n->mode == SEASON_MODE_OVER_TWIN)
        return 1;
    rise = n->fit.beta[T_ONE] + n->fit.beta[T_U] * x[T_U] + n->fit.beta[T_UU] * x[T_UU];
    return n->mode == SEASON_MODE_OVER_SEA ? fmax(rise, 2) : fmax(rise - 15, 2);
}

struct learning {
    const struct season_view *v;
    struct season_normal *n;
    struct regress_row *rows;
    const struct season_step **from;
    int *trip;
    int count, most;
    int first, last; /* trips allowed */
};

static void collect(void *ctx, const struct season_observation *o, int trip)
{
    struct learning *l = ctx;

    if (trip < l->first || trip > l->last || l->count == l->most)
        return;
    l->from[l->count] = o->step;
    l->trip[l->count] = trip;
    l->rows[l->count++] =
        (struct regress_row){.y = o->y, .weight = season_weight(l->v->kept, o->step, 10)};
}

/* A start takes seconds, and counts as one. */
double season_weight(const struct season_kept *k, const struct season_step *step, double most)
{
    return k->start ? 1 : fmin(step->minutes, most) / most;
}

/* The load that belonged to a speed on the first trips: a parabola. */
static void learn_load(struct learning *l)
{
    struct season_normal *n = l->n;
    int votes[SEASON_LOADS] = {0};
    struct regress_row *rows = calloc((size_t)l->count, sizeof *rows);
    struct regress_fit fit;
    int count = 0;

    for (int i = 0; i < l->count; i++)
        votes[l->from[i]->load_kind]++;
    for (int k = SEASON_LOAD_PERCENT; k < SEASON_LOADS; k++)
        if (votes[k] > l->count / 2)
            n->load_kind = (enum season_load)k;
    for (int i = 0; rows && i < l->count; i++) {
        double u = l->from[i]->rpm / n->rpm_unit;
        if (l->from[i]->load_kind == n->load_kind)
            rows[count++] =
                (struct regress_row){{1, u, u * u}, l->from[i]->load, l->rows[i].weight};
    }
    struct regress_prior prior[3] = {{0, 200}, {0, 200}, {0, 200}};
    if (n->load_kind == SEASON_LOAD_NONE || !rows || !regress(rows, count, 3, prior, 1, true, &fit))
        n->load_kind = SEASON_LOAD_NONE;
    else
        memcpy(n->load_fit, fit.beta, sizeof n->load_fit);
    free(rows);
}

static double mean_of(const struct learning *l, bool sea)
{
    double sum = 0;
    int n = 0;

    for (int i = 0; i < l->count; i++) {
        double t = sea ? l->from[i]->sea_c : l->from[i]->air_c;
        if (isfinite(t)) {
            sum += t;
            n++;
        }
    }
    return n > l->count / 2 ? sum / n : NAN;
}

static void priors_of(const struct season_view *v, const struct season_normal *n,
                      struct regress_prior p[TERMS])
{
    int r = v->row;
    bool alone = n->mode == SEASON_MODE_OVER_IDLE;
    bool twin = n->mode == SEASON_MODE_OVER_TWIN;

    p[T_ONE] = (struct regress_prior){0, isfinite(priors[r].one) ? 10 * priors[r].one : INFINITY};
    p[T_U] = (struct regress_prior){0, twin ? 15 : priors[r].u};
    p[T_UU] = (struct regress_prior){0, twin ? 15 : priors[r].uu};
    p[T_LOAD] =
        (struct regress_prior){twin ? 0 : priors[r].load, twin ? 0.5 : priors[r].load_error};
    p[T_SEA] = (struct regress_prior){twin ? 0 : priors[r].sea, twin ? 0.4 : priors[r].sea_error};
    p[T_AIR] = (struct regress_prior){twin ? 0 : priors[r].air, twin ? 0.4 : priors[r].air_error};
    if (alone) /* the air says something of the sea */
        p[T_AIR] = (struct regress_prior){6, 3};
}

/* Of how much more one or two trips may mislead than three. */
static const double few[SEASON_FIRST_TRIPS] = {1, 2, 1.5};

/* How the first trips' means differ among themselves, joined with what the table expects. */
static double between_of(const struct learning *l, double expected, bool idle)
{
    double sum = PRIOR_FREEDOM * expected * expected, freedom = PRIOR_FREEDOM;

    for (int t = l->first; t <= l->last; t++) {
        double r = 0, w = 0;
        for (int i = 0; i < l->count; i++)
            if (l->trip[i] == t && (l->from[i]->rpm < SEASON_WORKING * l->n->rpm_unit) == idle) {
                r += l->rows[i].weight * (l->rows[i].y - regress_value(&l->n->fit, l->rows[i].x));
                w += l->rows[i].weight;
            }
        if (w <= 0)
            continue;
        sum += (r / w) * (r / w);
        freedom += 1;
    }
    /* What few trips had in common they cannot show: their own mean is off by as much. */
    return sqrt(sum / fmax(freedom - 1, 1)) *
           few[l->n->trips < SEASON_FIRST_TRIPS ? l->n->trips : 0];
}

static bool learn(struct learning *l)
{
    const struct season_view *v = l->v;
    struct season_normal *n = l->n;
    struct regress_prior prior[TERMS];
    double floor = v->kept->between;

    n->sea_c = n->mode == SEASON_MODE_OVER_IDLE ? NAN : mean_of(l, true);
    n->air_c = mean_of(l, false);
    if (n->mode != SEASON_MODE_OVER_TWIN && !burns(v->kept))
        learn_load(l);
    priors_of(v, n, prior);
    n->rpm_low = INFINITY;
    n->rpm_high = 0;
    for (int i = 0; i < l->count; i++) {
        base_terms(v, n, l->from[i], l->rows[i].x);
        l->rows[i].x[T_LOAD] = 0; /* the first pass gives the rise that load acts on */
        n->rpm_low = fmin(n->rpm_low, l->from[i]->rpm);
        n->rpm_high = fmax(n->rpm_high, l->from[i]->rpm);
    }
    if (!regress(l->rows, l->count, TERMS, prior, floor, true, &n->fit))
        return false;
    for (int i = 0; i < l->count; i++) {
        double x[REGRESS_TERMS];
        base_terms(v, n, l->from[i], x);
        l->rows[i].x[T_LOAD] = x[T_LOAD] * season_rise(v, n, x);
    }
    if (!regress(l->rows, l->count, TERMS, prior, floor, true, &n->fit))
        return false;
    n->between = between_of(l, v->kept->between, false);
    n->between_idle =
        between_of(l, n->mode == SEASON_MODE_OVER_IDLE ? IDLE_ERROR : v->kept->between, true);
    return true;
}

static double highest_rpm(const struct season_view *v)
{
    double most = 0;

    for (int part = 0; part < 2; part++)
        for (int i = 0; i < v->count[part]; i++)
            if (channel_id_same(v->steps[part][i].id, v->id))
                most = fmax(most, v->steps[part][i].rpm);
    return most;
}

/* The other engine's channel of the same kind, where the season has one. */
bool season_twin(const struct season_view *v, struct channel_id *out)
{
    for (int i = 0; i < v->count[0]; i++) {
        struct channel_id id = v->steps[0][i].id;
        if (id.quantity == v->id.quantity && id.place != v->id.place) {
            *out = id;
            return true;
        }
    }
    return false;
}

static bool has(const struct season_view *v, int first, int last, bool sea)
{
    int with = 0, all = 0;

    for (int i = 0; i < v->count[0]; i++) {
        const struct season_step *s = &v->steps[0][i];
        if (!channel_id_same(s->id, v->id) || s->trip < first || s->trip > last || s->rpm <= 0)
            continue;
        all++;
        with += isfinite(sea ? s->sea_c : s->air_c);
    }
    return all > 0 && with * 10 >= all * 8;
}

static void choose_mode(const struct season_view *v, struct season_normal *n)
{
    n->mode = SEASON_MODE_PLAIN;
    n->beside = burns(v->kept) && season_twin(v, &n->twin);
    if (v->kept->over == OVER_AIR)
        n->mode = has(v, n->first, n->last, false) ? SEASON_MODE_OVER_AIR : SEASON_MODE_PLAIN;
    if (v->kept->over != OVER_SEA)
        return;
    if (has(v, n->first, n->last, true))
        n->mode = SEASON_MODE_OVER_SEA;
    else if (season_twin(v, &n->twin))
        n->mode = SEASON_MODE_OVER_TWIN;
    else
        n->mode = SEASON_MODE_OVER_IDLE;
}

/* The first trips from `from` on that have a working step; false where there is none. */
static bool choose_trips(const struct season_view *v, const struct season *s, int64_t from_ns,
                         struct season_normal *n)
{
    int found = 0, last_seen = -1;

    n->first = n->last = -1;
    for (int i = 0; i < v->count[0] && found < SEASON_FIRST_TRIPS; i++) {
        const struct season_step *st = &v->steps[0][i];
        if (!channel_id_same(st->id, v->id) || st->trip == v->leave_out ||
            s->trips[st->trip].from_ns < from_ns || st->trip == last_seen ||
            st->rpm < SEASON_WORKING * n->rpm_unit)
            continue;
        last_seen = st->trip;
        if (n->first < 0)
            n->first = st->trip;
        n->last = st->trip;
        found++;
    }
    n->trips = found;
    return found > 0;
}

bool season_normal_make(const struct season_view *v, const struct season *s, int64_t from_ns,
                        struct season_normal *n)
{
    struct learning l = {.v = v, .n = n, .most = REGRESS_MOST};
    bool good;

    *n = (struct season_normal){.rpm_unit = highest_rpm(v), .sea_c = NAN, .air_c = NAN};
    if (n->rpm_unit <= 0 || !choose_trips(v, s, from_ns, n)) {
        n->mode = SEASON_MODE_NONE;
        return false;
    }
    l.first = n->first;
    l.last = n->last;
    choose_mode(v, n);
    l.rows = calloc((size_t)l.most, sizeof *l.rows);
    l.from = calloc((size_t)l.most, sizeof(struct season_step *));
    l.trip = calloc((size_t)l.most, sizeof *l.trip);
    good = l.rows && l.from && l.trip;
    if (good) {
        season_every(v, n, collect, &l);
        good = l.count >= 2 && learn(&l);
    }
    free(l.rows);
    free(l.from);
    free(l.trip);
    if (!good)
        n->mode = SEASON_MODE_NONE;
    return good;
}

void season_terms(const struct season_view *v, const struct season_normal *n,
                  const struct season_step *s, double x[REGRESS_TERMS])
{
    base_terms(v, n, s, x);
    x[T_LOAD] *= season_rise(v, n, x);
}

/* What 10 K of a sea that is not on the bus may do, as a variance. */
double season_unseen(int row, const struct season_normal *n)
{
    bool matters = n->mode != SEASON_MODE_OVER_TWIN && n->mode != SEASON_MODE_OVER_IDLE;

    return matters && !isfinite(n->sea_c) ? priors[row].sea_error * priors[row].sea_error : 0;
}

double season_load_part(const struct season_normal *n, const double *x)
{
    return x[T_LOAD] * n->fit.beta[T_LOAD];
}
