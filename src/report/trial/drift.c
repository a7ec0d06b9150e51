#include "report/trial/drift.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* What is kept, and the least difference worth a word. */
static const struct {
    double least; /* base unit; a share where `share` */
    const char *more, *less;
    enum quantity quantity;
    bool share;
} kept[] = {
    {2, "hotter", "colder", QTY_EXHAUST, false},
    {10, "hotter", "colder", QTY_EXHAUST_GAS, false},
    {2, "hotter", "colder", QTY_COOLANT, false},
    {3, "hotter", "colder", QTY_OIL_TEMP, false},
    {0.06, "higher", "lower", QTY_OIL_PRESSURE, true},
    {0.03, "more", "less", QTY_FUEL_RATE, true},
};
#define KEPT (sizeof kept / sizeof kept[0])

static const struct trial_stat *stat_of(const struct trial_engine *m, enum quantity q)
{
    switch (q) {
    case QTY_EXHAUST:
        return &m->exhaust;
    case QTY_EXHAUST_GAS:
        return &m->exhaust_gas;
    case QTY_COOLANT:
        return &m->coolant;
    case QTY_OIL_TEMP:
        return &m->oil_temp;
    case QTY_OIL_PRESSURE:
        return &m->oil_pressure;
    default:
        return &m->fuel_rate;
    }
}

static double spread_of(const struct trial_stat *s)
{
    return fmax(s->high - s->mean, s->mean - s->low);
}

/* The first step of a point, for its time, log and sea; NULL never in a finished report. */
static const struct trial_step *first_step(const struct trial_report *r, int point)
{
    for (int i = 0; i < r->steps; i++)
        if (r->step[i].point == point)
            return &r->step[i];
    return NULL;
}

/* Standing still at a speed that was also run under way. */
static bool is_repeated(const struct trial_report *r, int point)
{
    const struct trial_point *p = &r->point[point];

    for (int i = 0; i < r->points && p->how == TRIAL_NO_SPEED; i++)
        if (r->point[i].how != TRIAL_NO_SPEED && fabs(r->point[i].rpm - p->rpm) < 0.05 * p->rpm)
            return true;
    return false;
}

static double minutes_of(const struct trial_report *r, int point)
{
    double seconds = 0;

    for (int i = 0; i < r->steps; i++)
        if (r->step[i].point == point)
            seconds += r->step[i].seconds;
    return seconds / 60;
}

static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');

    return slash ? slash + 1 : path;
}

bool trial_baseline_make(const struct trial_report *r, struct baseline *b)
{
    for (int e = 0; e < r->engines; e++) {
        for (size_t k = 0; k < KEPT; k++) {
            for (int i = 0; i < r->points; i++) {
                const struct trial_step *s = first_step(r, i);
                const struct trial_stat *v = stat_of(&r->point[i].engine[e], kept[k].quantity);
                struct baseline_figure f;

                if (!s || v->n == 0 || is_repeated(r, i))
                    continue;
                f = (struct baseline_figure){
                    .id = {.quantity = (uint16_t)kept[k].quantity, .place = (uint8_t)e},
                    .rpm = r->point[i].engine[e].rpm.mean,
                    .mean = v->mean,
                    .spread = spread_of(v),
                    .minutes = minutes_of(r, i),
                    .sea_c = s->sea.n > 0 ? s->sea.mean : NAN,
                    .wall_ns = s->wall_ns,
                };
                text_copy(f.log, sizeof f.log, file_name(r->log_names[s->log]));
                if (!baseline_add(b, &f))
                    return false;
            }
        }
    }
    return true;
}

/* "exhaust.0 4.1 K hotter than on 2026-05-04 at 2184 rpm (sea 2.0 K warmer)" */
static void put_words(const struct trial_report *r, struct trial_drift *d, size_t k, int64_t when)
{
    char key[CHANNEL_KEY_SIZE], much[40] = "", rpm[24], day[40], sea[24];
    enum unit base = quantity_info(kept[k].quantity)->unit;
    enum unit u = settings_unit(r->settings, base);

    channel_id_format(key, sizeof key, d->id);
    text_number(rpm, sizeof rpm, d->rpm, 0);
    when_date(day, sizeof day, when, true);
    day[10] = '\0'; /* the date alone */
    if (kept[k].share) {
        text_number(much, sizeof much, fabs(d->difference / d->then) * 100, 1);
        text_append(much, sizeof much, " %%");
    } else {
        text_number(much, sizeof much, unit_from_base_difference(u, fabs(d->difference)), 1);
        text_append(much, sizeof much, " %s", u == UNIT_C ? "K" : unit_text(u));
    }
    text_format(d->text, sizeof d->text, "%s %s %s than on %s at %s rpm", key, much,
                d->difference > 0 ? kept[k].more : kept[k].less, day, rpm);
    if (isfinite(d->sea_k) && fabs(d->sea_k) >= 0.5) {
        text_number(sea, sizeof sea, fabs(d->sea_k), 1);
        text_append(d->text, sizeof d->text, " (sea %s K %s)", sea,
                    d->sea_k > 0 ? "warmer" : "colder");
    }
}

static void find_one(const struct trial_report *r, const struct baseline *b, int e, size_t k,
                     struct trial_drifts *out)
{
    struct trial_drift worst = {
        .id = {.quantity = (uint16_t)kept[k].quantity, .place = (uint8_t)e}};
    double worst_part = -1;
    int64_t worst_when = 0;

    for (int i = 0; i < r->points; i++) {
        const struct trial_stat *v = stat_of(&r->point[i].engine[e], kept[k].quantity);
        const struct trial_step *s = first_step(r, i);
        double rpm = r->point[i].engine[e].rpm.mean, then, spread, sea_c, least;
        int64_t when;

        if (!s || v->n == 0 || is_repeated(r, i) ||
            !baseline_normal(b, worst.id, rpm, &then, &spread, &sea_c, &when))
            continue;
        least = fmax(kept[k].share ? kept[k].least * fabs(then) : kept[k].least,
                     fmax(spread, spread_of(v)));
        if (fabs(v->mean - then) / least <= worst_part)
            continue;
        worst_part = fabs(v->mean - then) / least;
        worst.rpm = rpm;
        worst.now = v->mean;
        worst.then = then;
        worst.difference = v->mean - then;
        worst.notable = worst_part > 1;
        worst.sea_k = s->sea.n > 0 ? s->sea.mean - sea_c : NAN;
        worst_when = when;
    }
    if (worst_part < 0 || out->count == TRIAL_DRIFTS)
        return;
    put_words(r, &worst, k, worst_when);
    out->drift[out->count++] = worst;
}

void trial_drift_find(const struct trial_report *r, const struct baseline *b,
                      struct trial_drifts *out)
{
    out->count = 0;
    for (int e = 0; e < r->engines; e++)
        for (size_t k = 0; k < KEPT; k++)
            find_one(r, b, e, k, out);
}
