#include "season/model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Figures, each with its reason. Sizes by quantity stand in kept.c. */
#define AT_SHARE      0.67 /* the excess is brought to two thirds of the highest speed */
#define REACH         0.08 /* beyond the speeds of the first trips, as a share */
#define TWIN_RPM      0.04 /* steps of twins belong together within that share of speed, */
#define TWIN_NS       (INT64_C(600) * 1000000000) /* and that time */
#define PRIOR_FREEDOM 4.0                         /* trips that the table's `between` is worth */
#define LOAD_GAIN     0.8 /* exhaust over sea goes with the heat, that with the load (drill.md) */
#define LOAD_GAIN_E   0.3
#define SEA_PRIOR     0.8 /* K an exhaust may go beyond the sea's own 10 K */
#define AIR_PRIOR     0.8
#define SAW           2.0  /* trips whose excess is this many errors stand out */
#define JUMP          2.7  /* a probe's jump is at least that many errors of the trips around */
#define JUMP_RESTED   1.5  /* where a cold morning shows it too */
#define JUMP_LEAST    0.4  /* and that share of a caution */
#define JUMP_FITS     2.5  /* errors that what idle or rest shows may be off it */
#define REST_ERROR    0.8  /* K: sun on a hose, a hatch left open; common practice, no source */
#define COLD_K        6.0  /* a cold engine's temperatures are no further apart than that... */
#define COLD_PROBE_K  15.0 /* ...or one of them, by its probe */
#define CREDIT        0.75 /* of a size is enough where two trips in a row agree */
#define ALONE         1.25 /* of it where one says so alone */
#define SURE          3.0  /* errors */
#define IDLE_ERROR    2.5  /* K: how far an idle may mislead about the sea */
#define TREND_TRIPS   6

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
};

static bool burns(const struct season_kept *k)
{
    return k->quantity == QTY_FUEL_RATE;
}

/* ---- observations ---- */

struct observation {
    const struct season_step *step;
    double y; /* over what the mode says */
};

static double comparable(const struct season_kept *k, double v)
{
    return k->share ? log(fmax(v, 1e-6)) : v;
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
            fabs(t->rpm - of->rpm) < TWIN_RPM * of->rpm) {
            best = t;
            nearest = apart;
        }
    }
    return best;
}

struct view { /* the steps of the season and of the trip under way, as one */
    const struct season_step *steps[2];
    int count[2];
    int leave_out, trips; /* the present trip has the number `trips` */
    struct channel_id id;
    const struct season_kept *kept;
    int row;
};

static bool observe(const struct view *v, const struct season_normal *n, int part,
                    const struct season_step *step, struct observation *out)
{
    const struct season_step *twin;

    out->step = step;
    out->y = comparable(v->kept, step->mean);
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

typedef void each_observation(void *ctx, const struct observation *o, int trip);

static void every(const struct view *v, const struct season_normal *n, each_observation *f,
                  void *ctx)
{
    for (int part = 0; part < 2; part++)
        for (int i = 0; i < v->count[part]; i++) {
            const struct season_step *s = &v->steps[part][i];
            int trip = part ? v->trips : s->trip;
            struct observation o;
            if (s->rpm > 0 && channel_id_same(s->id, v->id) && (part || trip != v->leave_out) &&
                observe(v, n, part, s, &o))
                f(ctx, &o, trip);
        }
}

/* ---- the normal ---- */

static void terms_of(const struct view *v, const struct season_normal *n,
                     const struct season_step *s, double x[REGRESS_TERMS])
{
    double u = s->rpm / n->rpm_unit, normal_load;

    memset(x, 0, REGRESS_TERMS * sizeof *x);
    x[T_ONE] = 1;
    x[T_U] = v->kept->share ? log(fmax(u, 0.05)) : u;
    x[T_UU] = x[T_U] * x[T_U];
    normal_load = n->load_fit[0] + n->load_fit[1] * u + n->load_fit[2] * u * u;
    if (n->load_kind != SEASON_LOAD_NONE && s->load_kind == n->load_kind && normal_load > 0)
        x[T_LOAD] = fmax(fmin((s->load - normal_load) / normal_load, 0.6), -0.6);
    if (isfinite(n->sea_c) && isfinite(s->sea_c))
        x[T_SEA] = (s->sea_c - n->sea_c) / 10;
    if (isfinite(n->air_c) && isfinite(s->air_c))
        x[T_AIR] = (s->air_c - n->air_c) / 10;
}

/* Load acts on an exhaust in proportion to what it has over the sea. */
static double rise_of(const struct view *v, const struct season_normal *n, const double *x)
{
    double rise;

    if (v->kept->quantity != QTY_EXHAUST || n->mode == SEASON_MODE_OVER_TWIN)
        return 1;
    rise = n->fit.beta[T_ONE] + n->fit.beta[T_U] * x[T_U] + n->fit.beta[T_UU] * x[T_UU];
    return n->mode == SEASON_MODE_OVER_SEA ? fmax(rise, 2) : fmax(rise - 15, 2);
}

struct learning {
    const struct view *v;
    struct season_normal *n;
    struct regress_row *rows;
    const struct season_step **from;
    int *trip;
    int count, most;
    int first, last; /* trips allowed */
};

static void collect(void *ctx, const struct observation *o, int trip)
{
    struct learning *l = ctx;

    if (trip < l->first || trip > l->last || l->count == l->most)
        return;
    l->from[l->count] = o->step;
    l->trip[l->count] = trip;
    l->rows[l->count++] =
        (struct regress_row){.y = o->y, .weight = fmin(o->step->minutes, 10) / 10};
}

/* The load that belonged to a speed on the first trips: a parabola. */
static void learn_load(struct learning *l)
{
    struct season_normal *n = l->n;
    int votes[SEASON_LOADS] = {0};
    struct regress_row *rows = calloc((size_t)l->count, sizeof *rows);
    struct regress_fit fit;
    int count = 0;

    n->load_kind = SEASON_LOAD_NONE;
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

static void priors_of(const struct view *v, const struct season_normal *n,
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
    if (burns(v->kept))
        p[T_LOAD] = (struct regress_prior){0, 1e-6};
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
    const struct view *v = l->v;
    struct season_normal *n = l->n;
    struct regress_prior prior[TERMS];
    double floor = v->kept->between;

    n->sea_c = n->mode == SEASON_MODE_OVER_IDLE ? NAN : mean_of(l, true);
    n->air_c = mean_of(l, false);
    if (n->mode == SEASON_MODE_OVER_TWIN || burns(v->kept))
        n->load_kind = SEASON_LOAD_NONE;
    else
        learn_load(l);
    priors_of(v, n, prior);
    n->rpm_low = INFINITY;
    n->rpm_high = 0;
    for (int i = 0; i < l->count; i++) {
        terms_of(v, n, l->from[i], l->rows[i].x);
        l->rows[i].x[T_LOAD] = 0; /* the first pass gives the rise that load acts on */
        n->rpm_low = fmin(n->rpm_low, l->from[i]->rpm);
        n->rpm_high = fmax(n->rpm_high, l->from[i]->rpm);
    }
    if (!regress(l->rows, l->count, TERMS, prior, floor, true, &n->fit))
        return false;
    for (int i = 0; i < l->count; i++) {
        double x[REGRESS_TERMS];
        terms_of(v, n, l->from[i], x);
        l->rows[i].x[T_LOAD] = x[T_LOAD] * rise_of(v, n, x);
    }
    if (!regress(l->rows, l->count, TERMS, prior, floor, true, &n->fit))
        return false;
    n->between = between_of(l, v->kept->between, false);
    n->between_idle =
        between_of(l, n->mode == SEASON_MODE_OVER_IDLE ? IDLE_ERROR : v->kept->between, true);
    return true;
}

static double highest_rpm(const struct view *v)
{
    double most = 0;

    for (int part = 0; part < 2; part++)
        for (int i = 0; i < v->count[part]; i++)
            if (channel_id_same(v->steps[part][i].id, v->id))
                most = fmax(most, v->steps[part][i].rpm);
    return most;
}

/* The other engine's channel of the same kind, where the season has one. */
static bool find_twin(const struct view *v, struct channel_id *out)
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

static bool has(const struct view *v, int first, int last, bool sea)
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

static void choose_mode(const struct view *v, struct season_normal *n)
{
    n->mode = SEASON_MODE_PLAIN;
    if (v->kept->over == OVER_AIR)
        n->mode = has(v, n->first, n->last, false) ? SEASON_MODE_OVER_AIR : SEASON_MODE_PLAIN;
    if (v->kept->over != OVER_SEA)
        return;
    if (has(v, n->first, n->last, true))
        n->mode = SEASON_MODE_OVER_SEA;
    else if (find_twin(v, &n->twin))
        n->mode = SEASON_MODE_OVER_TWIN;
    else
        n->mode = SEASON_MODE_OVER_IDLE;
}

/* The first trips from `from` on that have a working step; false where there is none. */
static bool choose_trips(const struct view *v, const struct season *s, int64_t from_ns,
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

static bool make_normal(const struct view *v, const struct season *s, int64_t from_ns,
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
        every(v, n, collect, &l);
        good = l.count >= 2 && learn(&l);
    }
    free(l.rows);
    free(l.from);
    free(l.trip);
    if (!good)
        n->mode = SEASON_MODE_NONE;
    return good;
}

/* ---- each trip against it ---- */

struct sums {
    double weight, sum, rpm, model, load;
    double square; /* of errors, weighted */
};

struct measuring {
    const struct view *v;
    const struct season_normal *n;
    struct sums work[SEASON_TRIPS + 1], idle[SEASON_TRIPS + 1];
};

static void with_load(const struct view *v, const struct season_normal *n,
                      const struct season_step *s, double x[REGRESS_TERMS])
{
    terms_of(v, n, s, x);
    x[T_LOAD] *= rise_of(v, n, x);
}

static void measure(void *ctx, const struct observation *o, int trip)
{
    struct measuring *m = ctx;
    double x[REGRESS_TERMS], at[REGRESS_TERMS], scale = 1, u = o->step->rpm / m->n->rpm_unit;
    double weight = fmin(o->step->minutes, 20), r;
    bool working = u >= SEASON_WORKING;
    struct sums *sum = working ? &m->work[trip] : &m->idle[trip];

    if (trip > SEASON_TRIPS || o->step->rpm > m->n->rpm_high * (1 + REACH) ||
        o->step->rpm < m->n->rpm_low * (1 - REACH))
        return;
    with_load(m->v, m->n, o->step, x);
    r = o->y - regress_value(&m->n->fit, x);
    if (working && m->n->mode == SEASON_MODE_OVER_SEA) {
        struct season_step standard = *o->step;
        standard.rpm = AT_SHARE * m->n->rpm_unit;
        terms_of(m->v, m->n, &standard, at);
        scale = fmax(fmin(rise_of(m->v, m->n, at) / rise_of(m->v, m->n, x), 1.5), 0.5);
    }
    sum->weight += weight;
    sum->sum += weight * r * scale;
    sum->rpm += weight * o->step->rpm;
    sum->model += weight * regress_error(&m->n->fit, x);
    sum->load += weight * x[T_LOAD] * m->n->fit.beta[T_LOAD];
}

/* What 10 K of a sea that is not on the bus may do, as a variance. */
static double unseen(int row, const struct season_normal *n)
{
    bool matters = n->mode != SEASON_MODE_OVER_TWIN && n->mode != SEASON_MODE_OVER_IDLE;

    return matters && !isfinite(n->sea_c) ? priors[row].sea_error * priors[row].sea_error : 0;
}

static double error_of(const struct measuring *m, const struct sums *s, double between)
{
    double model = s->model / s->weight;

    return sqrt(between * between + model * model + unseen(m->v->row, m->n));
}

/* Without sea or twin the idle says what the sea was: what stands above both is wear. */
static void over_idle(struct season_excess *e, double idle_share)
{
    if (!e->idle_known) {
        e->known = false;
        return;
    }
    e->excess = (e->excess - e->idle) / (1 - idle_share);
    e->error = sqrt(e->error * e->error + e->idle_error * e->idle_error) / (1 - idle_share);
}

static void fill_trip(const struct measuring *m, int trip, struct season_excess *e)
{
    const struct sums *w = &m->work[trip], *i = &m->idle[trip];

    *e = (struct season_excess){.trip = trip, .known = w->weight > 0, .idle_known = i->weight > 0};
    if (e->known) {
        e->excess = w->sum / w->weight;
        e->rpm = w->rpm / w->weight;
        e->error = error_of(m, w, m->n->between);
        e->load_part = w->load / w->weight;
    }
    if (e->idle_known) {
        e->idle = i->sum / i->weight;
        e->idle_error = error_of(m, i, m->n->between_idle);
    }
    if (m->n->mode == SEASON_MODE_OVER_IDLE && e->known)
        over_idle(e, m->v->kept->idle_share);
}

/* Where a twin is compared with, what its probe does counts as well. */
double season_rest_over(const struct season_step *steps, int count, int trip,
                        const struct season_normal *n, struct channel_id id)
{
    double rest = season_rest(steps, count, trip, id);

    return n->mode == SEASON_MODE_OVER_TWIN ? rest - season_rest(steps, count, trip, n->twin)
                                            : rest;
}

double season_rest(const struct season_step *steps, int count, int trip, struct channel_id id)
{
    double own = NAN, low = INFINITY, high = -INFINITY, sum = 0;
    int others = 0;

    for (int i = 0; i < count; i++) {
        const struct season_step *s = &steps[i];
        if (s->rpm > 0 || s->trip != trip || s->id.place != id.place)
            continue;
        if (channel_id_same(s->id, id)) {
            own = s->mean;
            continue;
        }
        sum += s->mean;
        low = fmin(low, s->mean);
        high = fmax(high, s->mean);
        others++;
    }
    if (others == 0 || high - low > COLD_K || fabs(own - sum / others) > COLD_PROBE_K)
        return NAN;
    return own - sum / others;
}

bool season_is_probe(int row, double jump, double idle_jump, double rest_jump, double error)
{
    const struct season_kept *k = &season_kept[row];
    double rest_error = sqrt(error * error + REST_ERROR * REST_ERROR);

    if (!k->rests || fabs(jump) < JUMP_LEAST * k->caution)
        return false;
    if (isfinite(rest_jump)) /* at rest wear shows nothing */
        return fabs(jump) > JUMP_RESTED * error && fabs(rest_jump) > JUMP_RESTED * REST_ERROR &&
               fabs(rest_jump - jump) < JUMP_FITS * rest_error &&
               fabs(rest_jump) > 0.5 * fabs(jump);
    return isfinite(idle_jump) && fabs(jump) > JUMP * error &&
           fabs(idle_jump - jump) < JUMP_FITS * error &&
           fabs(idle_jump - jump) < fabs(idle_jump - k->idle_share * jump);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return x < y ? -1 : x > y;
}

static double median(double *v, int n)
{
    qsort(v, (size_t)n, sizeof *v, by_size);
    return n == 0 ? NAN : n % 2 ? v[n / 2] : 0.5 * (v[n / 2 - 1] + v[n / 2]);
}

/* A jump from one trip to the next that idle or a cold morning shows as much as speed does is a
 * probe. What it moved by is taken off this trip and all after it. */
static void find_exchanges(int row, const struct season_normal *n, struct season_story *st)
{
    double before = NAN, idle_before = NAN, own_before = NAN, error_before = 0;
    double rests[SEASON_TRIPS + 1];
    int rested = 0;

    for (int i = 0; i < st->trips; i++) {
        struct season_excess *e = &st->trip[i];
        double rest_before = median(rests, rested);

        e->excess -= st->offset;
        e->idle -= st->offset;
        if (e->known && isfinite(before) && n->mode != SEASON_MODE_OVER_IDLE) {
            double jump = e->excess - before, idle = e->idle_known ? e->idle - idle_before : NAN;
            double error = sqrt(e->error * e->error + error_before * error_before);
            double rest = e->rest - rest_before;
            if (season_is_probe(row, jump, idle, rest, error)) {
                double by = isfinite(rest)   ? 0.5 * (jump + rest)
                            : isfinite(idle) ? 0.5 * (jump + idle)
                                             : jump;
                e->exchanged = !(fabs(e->own_rest - own_before) < 0.5 * fabs(jump));
                e->excess -= by;
                e->idle -= by;
                st->offset += by;
                rested = 0;
            }
        }
        if (isfinite(e->rest))
            rests[rested++] = e->rest;
        if (isfinite(e->own_rest))
            own_before = e->own_rest;
        if (e->known) {
            before = e->excess;
            error_before = e->error;
        }
        if (e->idle_known)
            idle_before = e->idle;
    }
    st->rest = median(rests, rested);
}

/* ---- what it means ---- */

static double signed_by(const struct season_kept *k, double excess)
{
    if (k->up && k->down)
        return fabs(excess);
    return k->up ? excess : -excess;
}

static void growth(const struct season *s, struct season_story *st, int64_t extra_ns)
{
    double x[TREND_TRIPS], y[TREND_TRIPS], mx = 0, my = 0, xx = 0, xy = 0, error = 0;
    int n = 0;

    st->growth_per_week = st->growth_error = NAN;
    for (int i = st->trips - 1; i >= 0 && n < TREND_TRIPS; i--) {
        if (!st->trip[i].known)
            continue;
        int t = st->trip[i].trip;
        int64_t at = t < s->trip_count ? s->trips[t].from_ns : extra_ns;
        x[n] = (double)at / (7 * 86400e9);
        y[n] = st->trip[i].excess;
        error = st->trip[i].error;
        mx += x[n];
        my += y[n++];
    }
    if (n < 3)
        return;
    mx /= n;
    my /= n;
    for (int i = 0; i < n; i++) {
        xx += (x[i] - mx) * (x[i] - mx);
        xy += (x[i] - mx) * (y[i] - my);
    }
    if (xx <= 0)
        return;
    st->growth_per_week = xy / xx;
    st->growth_error = error / sqrt(xx);
}

/* The last n trips that know, taken together: their mean, the least of them and the error of the
 * mean; false where there are not so many. */
static bool lately(const struct season_story *st, int n, double sign, double *mean, double *least,
                   double *error)
{
    double square = 0;
    int found = 0;

    *mean = 0;
    *least = INFINITY;
    for (int i = st->trips - 1; i >= 0 && found < n; i--) {
        const struct season_excess *e = &st->trip[i];
        if (!e->known)
            continue;
        *mean += sign * e->excess / n;
        *least = fmin(*least, sign * e->excess);
        square += e->error * e->error;
        found++;
    }
    *error = sqrt(square) / n;
    return found == n;
}

/* How many trips must agree, on how much of a size, and none of them far below. */
static const struct {
    int trips;
    double share, least;
} agree[] = {{1, ALONE, 0}, {2, CREDIT, 0.5}, {3, CREDIT, 0.35}, {4, 0.85, 0.25}};

static enum season_level level_of(const struct season_kept *k, const struct season_story *st,
                                  double sign)
{
    enum season_level level = SEASON_QUIET;

    for (size_t i = 0; i < sizeof agree / sizeof agree[0]; i++) {
        double mean, least, error;
        if (!lately(st, agree[i].trips, sign, &mean, &least, &error) || mean < SURE * error ||
            least < agree[i].least * k->caution)
            continue;
        if (mean > agree[i].share * k->warning)
            return SEASON_WARNING;
        if (mean > agree[i].share * k->caution)
            level = SEASON_CAUTION;
    }
    return level;
}

static void judge(const struct season_kept *k, struct season_story *st)
{
    int last = st->trips - 1;

    while (last >= 0 && !st->trip[last].known)
        last--;
    if (last < 0)
        return;
    struct season_excess *e = &st->trip[last];
    double sign = k->up && (!k->down || e->excess > 0) ? 1 : -1;
    st->excess = e->excess;
    st->error = e->error;
    st->up = e->excess > 0;
    st->level = level_of(k, st, sign);
    if (st->level == SEASON_QUIET && e->exchanged)
        st->level = SEASON_QUESTION;
    for (int i = last; i >= 0; i--) {
        if (!st->trip[i].known)
            continue;
        if (sign * st->trip[i].excess < 0.5 * k->caution ||
            sign * st->trip[i].excess < SAW * st->trip[i].error)
            break;
        st->in_row++;
    }
}

/* The newest mark before the present that concerns the channel, or -1. */
static int mark_of(const struct season *s, struct channel_id id)
{
    int found = -1;

    for (int i = 0; i < s->mark_count; i++)
        if (s->marks[i].all || channel_id_same(s->marks[i].concerns, id))
            found = i;
    return found;
}

/* The number that the steps of the trip under way carry. */
static int extra_trip(const struct view *v)
{
    return v->count[1] > 0 ? v->steps[1][0].trip : 0;
}

/* The same against one reference, without asking the twin. */
static bool tell_alone(const struct season *s, struct view *v, int64_t extra_ns,
                       struct season_story *out)
{
    struct measuring *m = calloc(1, sizeof *m);
    int64_t from = INT64_MIN;

    *out = (struct season_story){.id = v->id,
                                 .row = v->row,
                                 .growth_per_week = NAN,
                                 .growth_error = NAN,
                                 .mark = mark_of(s, v->id)};
    if (out->mark >= 0)
        from = s->marks[out->mark].wall_ns;
    if (!m || !make_normal(v, s, from, &out->normal)) {
        free(m);
        return false;
    }
    out->since_ns = s->trips[out->normal.first].from_ns;
    m->v = v;
    m->n = &out->normal;
    every(v, &out->normal, measure, m);
    for (int t = out->normal.first; t <= v->trips; t++) {
        if (t < v->trips ? t == v->leave_out : v->count[1] == 0)
            continue;
        struct season_excess *e = &out->trip[out->trips++];
        int part = t == v->trips;
        fill_trip(m, t, e);
        e->rest = season_rest_over(v->steps[part], v->count[part], part ? extra_trip(v) : t,
                                   &out->normal, v->id);
        e->own_rest = season_rest(v->steps[part], v->count[part], part ? extra_trip(v) : t, v->id);
    }
    free(m);
    find_exchanges(v->row, &out->normal, out);
    judge(v->kept, out);
    growth(s, out, extra_ns);
    return true;
}

bool season_tell(const struct season *s, struct channel_id id, int leave_out,
                 const struct season_step *extra, int extra_count, int64_t extra_ns,
                 struct season_story *out)
{
    int row = season_kept_row((enum quantity)id.quantity);
    struct view v = {.steps = {s->steps, extra},
                     .count = {s->step_count, extra_count},
                     .leave_out = leave_out,
                     .trips = s->trip_count,
                     .id = id,
                     .row = row};
    struct channel_id twin;

    if (row < 0 || s->trip_count > SEASON_TRIPS)
        return false;
    v.kept = &season_kept[row];
    if (!tell_alone(s, &v, extra_ns, out))
        return false;
    if (out->level >= SEASON_CAUTION && !v.kept->boat && find_twin(&v, &twin)) {
        struct season_story *other = malloc(sizeof *other);
        v.id = twin;
        out->both = other && tell_alone(s, &v, extra_ns, other) &&
                    signed_by(v.kept, other->excess) > 0.5 * signed_by(v.kept, out->excess);
        free(other);
    }
    return true;
}

bool season_expected(const struct season_story *story, double rpm, enum season_load load_kind,
                     double load, double sea_c, double air_c, double twin_value, double *value,
                     double *error)
{
    const struct season_normal *n = &story->normal;
    struct view v = {.kept = &season_kept[story->row], .row = story->row, .id = story->id};
    struct season_step now = {
        .rpm = rpm, .load_kind = load_kind, .load = load, .sea_c = sea_c, .air_c = air_c};
    double x[REGRESS_TERMS], over = 0, y;

    if (n->mode == SEASON_MODE_NONE || n->mode == SEASON_MODE_OVER_IDLE ||
        rpm > n->rpm_high * (1 + REACH) || rpm < n->rpm_low * (1 - REACH))
        return false;
    if (n->mode == SEASON_MODE_OVER_SEA)
        over = sea_c;
    else if (n->mode == SEASON_MODE_OVER_AIR)
        over = air_c;
    else if (n->mode == SEASON_MODE_OVER_TWIN)
        over = twin_value;
    if (!isfinite(over))
        return false;
    with_load(&v, n, &now, x);
    y = regress_value(&n->fit, x);
    y += story->offset;
    *value = v.kept->share ? exp(y) : y + over;
    *error = sqrt(n->between * n->between + regress_error(&n->fit, x) * regress_error(&n->fit, x) +
                  unseen(v.row, n));
    if (v.kept->share)
        *error *= *value;
    return true;
}

int season_channels(const struct season *s, struct channel_id *out, int most)
{
    int count = 0;

    for (int row = 0; row < SEASON_KEPT; row++)
        for (int place = 0; place < 253; place++)
            for (int i = 0; i < s->step_count && count < most; i++)
                if (s->steps[i].id.quantity == season_kept[row].quantity &&
                    s->steps[i].id.place == place) {
                    out[count++] = s->steps[i].id;
                    break;
                }
    return count;
}
