#include "season/steps.h"

#include "season/kept.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define NS          INT64_C(1000000000)
#define HOLD_PART   0.025 /* of the stretch's own mean speed */
#define SHORT_S     30    /* the least of one */
#define GAP_NS      (5 * NS)
#define REST_LEAST  3 /* s before the first start */
#define REST_MOST   60
#define REST_NS     (600 * NS) /* what was read longer before says nothing of the start */
#define IDLE_RPM    1200.0     /* below, an exhaust is near the sea and settles sooner */
#define JOIN_PART   0.04       /* steps of a trip whose speeds differ by less are one */
#define JOIN_LOAD   0.10       /* and whose loads do */
#define RUNNING_RPM 300.0
#define WARM_K      2.0 /* a coolant that stays within this */
#define WARM_S      150 /* for so long has come to rest: the thermostat is open */
#define WORKED_S    120 /* above idle: no cold engine's idle any more */
#define WARM_BLIND_S                                                                               \
    900                  /* where no coolant is known: after so long of running; common practice   \
                          */
#define DRIFT_SIGMAS 2.5 /* a drift that noise alone makes is none */

/* A piece of one channel: a line through its readings. */
struct window {
    double n, t, tt, y, yy, ty;
};

/* Accepted pieces of one channel in this stretch. */
struct gathered {
    double seconds, mean, square; /* sums over readings */
    double load[SEASON_LOADS], load_s[SEASON_LOADS];
    double sea, sea_s, air, air_s, rpm;
    int64_t from_ns;
};

struct piece {
    struct window w;
    struct gathered with; /* what stood beside it */
    int64_t from_ns;
};

struct stretch {
    bool on;
    int64_t from_ns, last_ns;
    double rpm_sum, seconds;
    struct piece piece[SEASON_KEPT];
    struct gathered done[SEASON_KEPT];
    struct gathered latest[SEASON_KEPT]; /* the latest piece, whether it counts or not */
    bool latest_counts[SEASON_KEPT], latest_rises[SEASON_KEPT];
};

/* Until the thermostat has opened, the raw water does not carry the jacket's heat: an exhaust
 * stands some K lower than it will at the same speed. Such pieces are not kept; nor is an idle
 * after work, which is as much warmer than one of a cold engine. */
struct warmth {
    double coolant_c;
    int64_t since_ns, start_ns; /* it has stayed there; the engine runs; 0: neither */
    int worked_s;               /* seconds above idle since the start */
};

/* What an engine's temperatures read before a start, while nothing turns; `over` once this trip has
 * had its first. */
struct rest {
    double n[SEASON_KEPT], sum[SEASON_KEPT];
    int64_t from_ns;
    bool over;
};

struct steps {
    struct stretch stretch[STEPS_ENGINES];
    struct rest rest[STEPS_ENGINES];
    struct warmth warmth[STEPS_ENGINES];
    struct crank crank;
    uint8_t instance[STEPS_ENGINES];
    int64_t from_ns, to_ns, last_ns;
    bool resumed; /* after a gap: what is read may still be of before it */
    struct season_step found[STEPS_MOST];
    int count;
};

struct steps *steps_new(void)
{
    return calloc(1, sizeof(struct steps));
}

void steps_free(struct steps *s)
{
    free(s);
}

/* ---- one channel ---- */

static void add(struct gathered *to, const struct gathered *g)
{
    if (to->seconds == 0)
        to->from_ns = g->from_ns;
    to->seconds += g->seconds;
    to->mean += g->mean;
    to->square += g->square;
    to->rpm += g->rpm;
    to->sea += g->sea;
    to->sea_s += g->sea_s;
    to->air += g->air;
    to->air_s += g->air_s;
    for (int k = 0; k < SEASON_LOADS; k++) {
        to->load[k] += g->load[k];
        to->load_s[k] += g->load_s[k];
    }
}

/* How far the readings of a piece went by their trend, and what noise makes of that. */
static double drift(const struct window *w, double *noise)
{
    double tt = w->tt - w->t * w->t / w->n, ty = w->ty - w->t * w->y / w->n;
    double yy = w->yy - w->y * w->y / w->n;
    double slope = tt > 0 ? ty / tt : 0;
    double left = fmax(yy - slope * ty, 0) / fmax(w->n - 2, 1);

    *noise = tt > 0 ? sqrt(left / tt) * w->n : 0;
    return slope * w->n;
}

/* Which way a piece drifted more than it may: 0 at rest, 1 up, -1 down. */
static int unrest(const struct piece *p, int k)
{
    double scale = season_kept[k].share ? fabs(p->w.y / p->w.n) : 1, noise;
    double by = drift(&p->w, &noise), may = season_kept[k].drift * scale + DRIFT_SIGMAS * noise;

    return fabs(by) <= may ? 0 : by > 0 ? 1 : -1;
}

static bool is_warm(const struct warmth *w, int64_t ns)
{
    return w->since_ns ? ns - w->since_ns >= WARM_S * NS
                       : w->start_ns && ns - w->start_ns >= WARM_BLIND_S * NS;
}

static void end_piece(struct stretch *st, int k, const struct warmth *w, int64_t ns)
{
    struct piece *p = &st->piece[k];

    if (2 * p->w.n >= season_kept[k].piece_s) {
        bool idles = p->with.rpm < IDLE_RPM * p->w.n;
        bool fits = !season_kept[k].warm || (idles ? w->worked_s < WORKED_S : is_warm(w, ns));
        st->latest[k] = p->with;
        st->latest_rises[k] = unrest(p, k) > 0;
        st->latest_counts[k] = unrest(p, k) == 0 && fits;
        if (st->latest_counts[k])
            add(&st->done[k], &p->with);
    }
    *p = (struct piece){0};
}

static void take(struct stretch *st, int k, int64_t ns, double value, double sea_c, double air_c,
                 const struct steps_second *e, const struct warmth *w)
{
    struct piece *p = &st->piece[k];
    double t = p->w.n;

    if (p->w.n == 0)
        p->from_ns = p->with.from_ns = ns;
    p->w.n++;
    p->w.t += t;
    p->w.tt += t * t;
    p->w.y += value;
    p->w.yy += value * value;
    p->w.ty += t * value;
    p->with.seconds++;
    p->with.mean += value;
    p->with.square += value * value;
    p->with.rpm += e->rpm;
    if (isfinite(sea_c)) {
        p->with.sea += sea_c;
        p->with.sea_s++;
    }
    if (isfinite(air_c)) {
        p->with.air += air_c;
        p->with.air_s++;
    }
    for (int l = SEASON_LOAD_PERCENT; l < SEASON_LOADS; l++)
        if (isfinite(e->load[l])) {
            p->with.load[l] += e->load[l];
            p->with.load_s[l]++;
        }
    if (p->w.n >= season_kept[k].piece_s)
        end_piece(st, k, w, ns);
}

/* The burn cannot stand for the load when the burn itself is compared; oil pressure goes with the
 * oil's temperature, and nothing else does. */
static bool explains(enum season_load l, enum quantity q)
{
    if (q == QTY_BATTERY_VOLTS || l == SEASON_LOAD_REST_VOLTS)
        return q == QTY_BATTERY_VOLTS && l == SEASON_LOAD_REST_VOLTS;
    if (q == QTY_OIL_PRESSURE || l == SEASON_LOAD_OIL_TEMP)
        return q == QTY_OIL_PRESSURE && l == SEASON_LOAD_OIL_TEMP;
    return !(l == SEASON_LOAD_FUEL_RATE && q == QTY_FUEL_RATE) &&
           !(l == SEASON_LOAD_BOOST && q == QTY_BOOST);
}

enum season_load season_load_best(enum quantity q, const double load[SEASON_LOADS], double *value)
{
    *value = NAN;
    for (int l = SEASON_LOAD_PERCENT; l < SEASON_LOADS; l++)
        if (explains((enum season_load)l, q) && isfinite(load[l])) {
            *value = load[l];
            return (enum season_load)l;
        }
    return SEASON_LOAD_NONE;
}

static struct season_step step_of(const struct gathered *g, int k, uint8_t instance)
{
    struct season_step s = {
        .id = {.quantity = (uint16_t)season_kept[k].quantity, .place = instance},
        .rpm = g->rpm / g->seconds,
        .load = NAN,
        .sea_c = g->sea_s > g->seconds / 2 ? g->sea / g->sea_s : NAN,
        .air_c = g->air_s > g->seconds / 2 ? g->air / g->air_s : NAN,
        .mean = g->mean / g->seconds,
        .minutes = g->seconds / 60,
        .wall_ns = g->from_ns,
    };
    double load[SEASON_LOADS];

    if (season_kept[k].boat)
        s.id.place = 0;
    s.spread = sqrt(fmax(g->square / g->seconds - s.mean * s.mean, 0));
    for (int l = SEASON_LOAD_NONE; l < SEASON_LOADS; l++)
        load[l] = l && g->load_s[l] >= g->seconds / 2 ? g->load[l] / g->load_s[l] : NAN;
    s.load_kind = season_load_best((enum quantity)s.id.quantity, load, &s.load);
    return s;
}

/* Joins a step to one of the trip that is like it, or keeps it. */
static void keep(struct steps *s, const struct season_step *step)
{
    for (int i = 0; i < s->count; i++) {
        struct season_step *f = &s->found[i];
        double all = f->minutes + step->minutes, part = step->minutes / all;

        if (!channel_id_same(f->id, step->id) || f->load_kind != step->load_kind ||
            fabs(f->rpm - step->rpm) > JOIN_PART * f->rpm ||
            (f->load_kind != SEASON_LOAD_NONE &&
             fabs(f->load - step->load) > JOIN_LOAD * fabs(f->load)) ||
            isfinite(f->sea_c) != isfinite(step->sea_c) ||
            isfinite(f->air_c) != isfinite(step->air_c))
            continue;
        double apart = step->mean - f->mean;
        f->spread = sqrt((1 - part) * f->spread * f->spread + part * step->spread * step->spread +
                         part * (1 - part) * apart * apart);
        f->mean += part * apart;
        f->rpm += part * (step->rpm - f->rpm);
        f->load += part * (step->load - f->load);
        f->sea_c += part * (step->sea_c - f->sea_c);
        f->air_c += part * (step->air_c - f->air_c);
        f->minutes = all;
        return;
    }
    if (s->count < STEPS_MOST)
        s->found[s->count++] = *step;
}

/* ---- one engine ---- */

static void feel_warmth(struct warmth *w, int64_t ns, const struct steps_second *e)
{
    double c = e->value[season_kept_row(QTY_COOLANT)];

    if (w->start_ns == 0)
        w->start_ns = ns;
    w->worked_s += e->rpm > IDLE_RPM;
    if (isfinite(c) && (w->since_ns == 0 || fabs(c - w->coolant_c) > WARM_K)) {
        w->coolant_c = c;
        w->since_ns = ns;
    }
}

static void end_stretch(struct steps *s, int engine)
{
    struct stretch *st = &s->stretch[engine];

    for (int k = 0; k < SEASON_KEPT && st->on; k++) {
        end_piece(st, k, &s->warmth[engine], st->last_ns);
        if (st->done[k].seconds >= SHORT_S) {
            struct season_step step = step_of(&st->done[k], k, s->instance[engine]);
            keep(s, &step);
        }
    }
    *st = (struct stretch){0};
}

static void end_rest(struct steps *s, int engine, uint8_t instance, double sea_c, double air_c)
{
    struct rest *r = &s->rest[engine];

    for (int k = 0; k < SEASON_KEPT && !r->over; k++) {
        if (!season_kept[k].rests || r->n[k] < REST_LEAST || s->count == STEPS_MOST)
            continue;
        s->found[s->count++] = (struct season_step){
            .id = {.quantity = (uint16_t)season_kept[k].quantity, .place = instance},
            .load = NAN,
            .sea_c = sea_c,
            .air_c = air_c,
            .mean = r->sum[k] / r->n[k],
            .minutes = r->n[k] / 60,
            .wall_ns = r->from_ns};
    }
    *r = (struct rest){.over = true};
}

static void at_rest(struct steps *s, int engine, int64_t ns, const struct steps_second *e)
{
    struct rest *r = &s->rest[engine];

    if (ns - r->from_ns > REST_NS)
        *r = (struct rest){.over = r->over};
    for (int k = 0; k < SEASON_KEPT; k++) {
        if (!season_kept[k].rests || !isfinite(e->value[k]))
            continue;
        if (r->n[k] > REST_MOST) { /* the latest count */
            r->sum[k] -= r->sum[k] / r->n[k];
            r->n[k]--;
        }
        r->n[k]++;
        r->sum[k] += e->value[k];
        r->from_ns = ns;
    }
}

static void engine_second(struct steps *s, int engine, int64_t ns, double sea_c, double air_c,
                          const struct steps_second *e)
{
    struct stretch *st = &s->stretch[engine];

    if (!e->running || !isfinite(e->rpm) || e->rpm < RUNNING_RPM) {
        end_stretch(s, engine);
        s->warmth[engine] = (struct warmth){0};
        if (!(e->rpm > 0) && !s->resumed) /* the starter does not turn yet */
            at_rest(s, engine, ns, e);
        return;
    }
    end_rest(s, engine, e->instance, sea_c, air_c);
    s->instance[engine] = e->instance;
    feel_warmth(&s->warmth[engine], ns, e);
    if (st->on &&
        (fabs(e->rpm - st->rpm_sum / st->seconds) > HOLD_PART * (st->rpm_sum / st->seconds) + 5 ||
         ns - st->last_ns > GAP_NS))
        end_stretch(s, engine);
    if (!st->on) {
        st->on = true;
        st->from_ns = ns;
    }
    st->last_ns = ns;
    st->rpm_sum += e->rpm;
    st->seconds++;
    for (int k = 0; k < SEASON_KEPT; k++) {
        int settle_s = season_kept[k].settle_s / (e->rpm < IDLE_RPM ? 2 : 1);
        if (season_kept[k].start || ns - st->from_ns < settle_s * NS || !isfinite(e->value[k]) ||
            (season_kept[k].hot_oil_c > 0 &&
             e->load[SEASON_LOAD_OIL_TEMP] < season_kept[k].hot_oil_c))
            continue;
        take(st, k, ns, e->value[k], sea_c, air_c, e, &s->warmth[engine]);
    }
}

void steps_second(struct steps *s, int64_t wall_ns, double sea_c, double air_c,
                  const struct steps_second *engines, int count)
{
    bool any = false;

    if (s->last_ns != 0 && wall_ns < s->last_ns) /* a clock set back: nothing goes on */
        for (int i = 0; i < STEPS_ENGINES; i++)
            end_stretch(s, i);
    s->resumed = wall_ns - s->last_ns > GAP_NS;
    s->last_ns = wall_ns;
    for (int i = 0; i < count && i < STEPS_ENGINES; i++) {
        any |= engines[i].running;
        engine_second(s, i, wall_ns, sea_c, air_c, &engines[i]);
    }
    if (!any)
        return;
    if (s->from_ns == 0)
        s->from_ns = wall_ns;
    s->to_ns = wall_ns;
}

void steps_starts(struct steps *s, int64_t wall_ns, double air_c,
                  const struct steps_second *engines, int count,
                  const struct crank_battery *batteries, int battery_count)
{
    struct crank_engine turning[CRANK_ENGINES];
    struct season_step found[CRANK_ENGINES];
    int n;

    for (int i = 0; i < count && i < CRANK_ENGINES; i++)
        turning[i] = (struct crank_engine){engines[i].running, engines[i].rpm};
    n = crank_second(&s->crank, wall_ns, air_c, turning, count, batteries, battery_count, found);
    for (int i = 0; i < n; i++)
        keep(s, &found[i]);
}

void steps_close(struct steps *s)
{
    for (int i = 0; i < STEPS_ENGINES; i++)
        end_stretch(s, i);
}

/* What was read before the start that begins the new trip belongs to it. */
void steps_reset(struct steps *s)
{
    struct rest rest[STEPS_ENGINES];
    struct crank crank = s->crank;

    memcpy(rest, s->rest, sizeof rest);
    *s = (struct steps){.crank = crank};
    memcpy(s->rest, rest, sizeof rest);
    for (int i = 0; i < STEPS_ENGINES; i++)
        s->rest[i].over = false;
}

const struct season_step *steps_found(const struct steps *s, int *count)
{
    *count = s->count;
    return s->found;
}

bool steps_now(const struct steps *s, int engine, int kept, struct steps_latest *out)
{
    const struct stretch *st = &s->stretch[engine];
    const struct piece *p = &st->piece[kept];
    struct gathered g = st->latest[kept];

    out->at_rest = st->latest_counts[kept];
    out->rising = st->latest_rises[kept];
    out->warm = is_warm(&s->warmth[engine], st->last_ns);
    if (g.seconds == 0 && 2 * p->w.n >= season_kept[kept].piece_s) {
        /* The first piece is under way: half of it says something. */
        g = p->with;
        out->at_rest = unrest(p, kept) == 0;
        out->rising = unrest(p, kept) > 0;
    }
    if (!st->on || g.seconds == 0)
        return false;
    out->step = step_of(&g, kept, s->instance[engine]);
    out->held_s = (double)(st->last_ns - st->from_ns) / 1e9 - season_kept[kept].settle_s;
    return true;
}

int64_t steps_from_ns(const struct steps *s)
{
    return s->from_ns;
}

int64_t steps_to_ns(const struct steps *s)
{
    return s->to_ns;
}
