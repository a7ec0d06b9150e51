#include "season/model.h"

#include "base/order.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define AT_SHARE     0.67 /* the excess is brought to two thirds of the highest speed */
#define REACH        0.2  /* beyond the speeds of the first trips, as a share */
#define SAW          2.0  /* trips whose excess is this many errors stand out */
#define CREDIT       0.75 /* of a size is enough where two trips in a row agree */
#define ALONE        1.25 /* of it where one says so alone */
#define IDLE_WARNING 1.5  /* of it over the own idle, which says less of the sea */
#define SURE         3.0  /* errors */
#define NEWEST       0.5  /* of a caution: what the newest trip must show by itself */
#define TREND_TRIPS  6
#define GROWS_ERR    2.0 /* a growth is told where it is that many of its errors */
#define WEEKS_MOST   104 /* further off, no limit is foretold */

/* ---- each trip against it ---- */

struct sums {
    double weight, sum, rpm, model, load;
};

struct measuring {
    const struct season_view *v;
    const struct season_normal *n;
    struct sums work[SEASON_TRIPS + 1], idle[SEASON_TRIPS + 1];
};

static void measure(void *ctx, const struct season_observation *o, int trip)
{
    struct measuring *m = ctx;
    double x[REGRESS_TERMS], at[REGRESS_TERMS], scale = 1, u = o->step->rpm / m->n->rpm_unit;
    double weight = season_weight(m->v->kept, o->step, 20), r;
    bool working = u >= SEASON_WORKING;
    struct sums *sum = working ? &m->work[trip] : &m->idle[trip];

    if (trip > SEASON_TRIPS || o->step->rpm > m->n->rpm_high * (1 + REACH) ||
        o->step->rpm < m->n->rpm_low * (1 - REACH) || !season_loaded_alike(m->n, o->step))
        return;
    season_terms(m->v, m->n, o->step, x);
    r = o->y - regress_value(&m->n->fit, x);
    if (working && m->n->mode == SEASON_MODE_OVER_SEA) {
        struct season_step standard = *o->step;
        standard.rpm = AT_SHARE * m->n->rpm_unit;
        season_terms(m->v, m->n, &standard, at);
        scale = fmax(fmin(season_rise(m->v, m->n, at) / season_rise(m->v, m->n, x), 1.5), 0.5);
    }
    sum->weight += weight;
    sum->sum += weight * r * scale;
    sum->rpm += weight * o->step->rpm;
    sum->model += weight * regress_error(&m->n->fit, x);
    sum->load += weight * season_load_part(m->n, x);
}

static double error_of(const struct measuring *m, const struct sums *s, double between)
{
    double model = s->model / s->weight;

    return sqrt(between * between + model * model + season_unseen(m->v->row, m->n));
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

/* A jump from one trip to the next that idle or a cold morning shows as much as speed does is a
 * probe. What it moved by is taken off this trip and all after it. */
static void find_exchanges(int row, const struct season_normal *n, struct season_story *st)
{
    double before = NAN, idle_before = NAN, own_before = NAN, error_before = 0;
    double rests[SEASON_TRIPS + 1];
    int rested = 0;

    for (int i = 0; i < st->trips; i++) {
        struct season_excess *e = &st->trip[i];
        double rest_before = order_median(rests, rested);

        e->excess -= st->offset;
        e->idle -= st->offset;
        e->error = hypot(e->error, st->offset_error);
        if (e->known && isfinite(before) && n->mode != SEASON_MODE_OVER_IDLE) {
            double jump = e->excess - before, idle = e->idle_known ? e->idle - idle_before : NAN;
            double error = sqrt(e->error * e->error + error_before * error_before);
            double rest = e->rest - rest_before;
            if (season_is_probe(row, jump, idle, rest, error)) {
                double by = season_probe_moved(jump, idle, rest, error);
                e->exchanged = !(fabs(e->own_rest - own_before) < 0.5 * fabs(jump));
                e->excess -= by;
                e->idle -= by;
                st->offset += by;
                st->offset_error = hypot(st->offset_error, season_probe_error(idle, rest, error));
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
    st->rest = order_median(rests, rested);
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
            least < agree[i].least * k->caution || sign * st->excess < NEWEST * k->caution)
            continue;
        if (mean > agree[i].share * k->warning *
                       (st->normal.mode == SEASON_MODE_OVER_IDLE ? IDLE_WARNING : 1))
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

/* The same against one reference, without asking the twin. */
static bool tell_alone(const struct season *s, struct season_view *v, int64_t extra_ns,
                       struct season_story *out)
{
    struct measuring *m = calloc(1, sizeof *m);
    int64_t from = INT64_MIN;

    *out = (struct season_story){.id = v->id,
                                 .row = v->row,
                                 .excess = NAN,
                                 .error = NAN,
                                 .growth_per_week = NAN,
                                 .growth_error = NAN};
    int mark = mark_of(s, v->id);
    if (mark >= 0) {
        from = s->marks[mark].wall_ns;
        text_copy(out->mark, sizeof out->mark, s->marks[mark].words);
    }
    if (!m || !season_normal_make(v, s, from, &out->normal)) {
        free(m);
        return false;
    }
    out->since_ns = s->trips[out->normal.first].from_ns;
    m->v = v;
    m->n = &out->normal;
    season_every(v, &out->normal, measure, m);
    for (int t = out->normal.first; t <= v->trips; t++) {
        bool later = t < v->trips && extra_ns != 0 && s->trips[t].from_ns >= extra_ns;
        if (later || (t < v->trips ? t == v->leave_out : v->count[1] == 0))
            continue;
        struct season_excess *e = &out->trip[out->trips++];
        int part = t == v->trips; /* 1: the trip under way, whose steps carry its number */
        int trip = part ? v->steps[1][0].trip : t;
        fill_trip(m, t, e);
        e->rest = season_rest_over(v->steps[part], v->count[part], trip, &out->normal, v->id);
        e->own_rest = season_rest(v->steps[part], v->count[part], trip, v->id);
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
    struct season_view v = {.steps = {s->steps, extra},
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
    if (out->level >= SEASON_CAUTION && !v.kept->boat && !v.kept->start && season_twin(&v, &twin)) {
        struct season_story *other = malloc(sizeof *other);
        v.id = twin;
        out->both = other && tell_alone(s, &v, extra_ns, other) &&
                    signed_by(v.kept, other->excess) > 0.5 * signed_by(v.kept, out->excess);
        free(other);
    }
    return true;
}

bool season_tell_before(const struct season *s, struct channel_id id, int mark,
                        struct season_story *out)
{
    struct season then = *s;

    if (mark < 0 || mark >= s->mark_count ||
        !(s->marks[mark].all || channel_id_same(s->marks[mark].concerns, id)))
        return false;
    then.mark_count = mark;
    while (then.trip_count > 0 && then.trips[then.trip_count - 1].from_ns >= s->marks[mark].wall_ns)
        then.trip_count--;
    while (then.step_count > 0 && then.steps[then.step_count - 1].trip >= then.trip_count)
        then.step_count--;
    return season_tell(&then, id, -1, NULL, 0, 0, out);
}

bool season_expected(const struct season_story *story, double rpm, enum season_load load_kind,
                     double load, double sea_c, double air_c, double twin_value, double *value,
                     double *error)
{
    const struct season_normal *n = &story->normal;
    struct season_view v = {.kept = &season_kept[story->row], .row = story->row, .id = story->id};
    struct season_step now = {
        .rpm = rpm, .load_kind = load_kind, .load = load, .sea_c = sea_c, .air_c = air_c};
    double x[REGRESS_TERMS], over = 0, y;

    if (n->mode == SEASON_MODE_NONE || n->mode == SEASON_MODE_OVER_IDLE ||
        !season_loaded_alike(n, &now) || rpm > n->rpm_high * (1 + REACH) ||
        rpm < n->rpm_low * (1 - REACH))
        return false;
    if (n->mode == SEASON_MODE_OVER_SEA)
        over = sea_c;
    else if (n->mode == SEASON_MODE_OVER_AIR)
        over = air_c;
    else if (n->mode == SEASON_MODE_OVER_TWIN)
        over = twin_value;
    if (!isfinite(over))
        return false;
    season_terms(&v, n, &now, x);
    y = regress_value(&n->fit, x);
    y += story->offset;
    *value = v.kept->share ? exp(y) : y + over;
    *error = sqrt(n->between * n->between + regress_error(&n->fit, x) * regress_error(&n->fit, x) +
                  season_unseen(v.row, n) + story->offset_error * story->offset_error);
    if (v.kept->share)
        *error *= *value;
    return true;
}

double season_at_speed(const struct season_story *story, double rpm)
{
    const struct season_normal *n = &story->normal;
    struct season_view v = {.kept = &season_kept[story->row], .row = story->row, .id = story->id};
    struct season_step there = {.rpm = rpm, .load = NAN, .sea_c = NAN, .air_c = NAN},
                       standard = there;
    double x[REGRESS_TERMS], at[REGRESS_TERMS];

    if (n->mode != SEASON_MODE_OVER_SEA)
        return 1;
    standard.rpm = AT_SHARE * n->rpm_unit;
    season_terms(&v, n, &there, x);
    season_terms(&v, n, &standard, at);
    return fmax(fmin(season_rise(&v, n, x) / season_rise(&v, n, at), 2), 0.5);
}

const char *season_level_word(enum season_level level)
{
    static const char *const words[] = {"none", "question", "caution", "warning"};

    return words[level];
}

const char *season_month(int64_t wall_ns)
{
    static const char *const months[] = {"January",   "February", "March",    "April",
                                         "May",       "June",     "July",     "August",
                                         "September", "October",  "November", "December"};
    time_t s = (time_t)(wall_ns / INT64_C(1000000000));
    struct tm tm = {0};

    gmtime_r(&s, &tm);
    return months[tm.tm_mon % 12];
}

int season_first_steps(const struct season *s, struct channel_id id, const struct season_step **out,
                       int most)
{
    int mark = mark_of(s, id), count = 0, trips = 0, last = -1;

    for (int i = 0; i < s->step_count && count < most; i++) {
        const struct season_step *step = &s->steps[i];
        if (!channel_id_same(step->id, id) || step->rpm <= 0 ||
            (mark >= 0 && s->trips[step->trip].from_ns < s->marks[mark].wall_ns))
            continue;
        if (step->trip != last && ++trips > SEASON_FIRST_TRIPS)
            break;
        last = step->trip;
        out[count++] = step;
    }
    return count;
}

bool season_grows(const struct season_story *story)
{
    return fabs(story->growth_per_week) > GROWS_ERR * story->growth_error;
}

bool season_reserve(const struct season_story *story, double sea_c, double excess, double limit,
                    struct season_reserve *out)
{
    const struct season_normal *n = &story->normal;
    double normal, error, by = season_at_speed(story, n->rpm_high);

    *out = (struct season_reserve){.rpm = n->rpm_high, .weeks = NAN};
    if (!isfinite(limit) || !isfinite(excess) || season_kept[story->row].share ||
        !season_expected(story, n->rpm_high, SEASON_LOAD_NONE, NAN, sea_c, NAN, NAN, &normal,
                         &error))
        return false;
    out->reading = normal + excess * by;
    out->used_up = out->reading >= limit && normal < limit;
    double weeks = (limit - out->reading) / (story->growth_per_week * by);
    if (!out->used_up && season_grows(story) && weeks > 0 && weeks < WEEKS_MOST)
        out->weeks = weeks;
    return true;
}

int season_channels(const struct season *s, struct channel_id *out, int most)
{
    bool seen[SEASON_KEPT][256] = {{false}};
    int count = 0;

    for (int i = 0; i < s->step_count; i++) {
        int row = season_kept_row((enum quantity)s->steps[i].id.quantity);
        if (row >= 0)
            seen[row][s->steps[i].id.place] = true;
    }
    for (int row = 0; row < SEASON_KEPT; row++)
        for (int place = 0; place < 256 && count < most; place++)
            if (seen[row][place])
                out[count++] = (struct channel_id){.quantity = (uint16_t)season_kept[row].quantity,
                                                   .place = (uint8_t)place};
    return count;
}
