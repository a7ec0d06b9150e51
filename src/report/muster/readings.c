/* Checks of values: there, alive, believable. Each says what is wrong and where, in one line; what
 * it takes for granted stands beside it. */
#include "report/muster/inside.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

/* One sensor, tank or engine of a message that went on without it. */
static void check_values_stopped(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i], *next = NULL;
        const struct muster_message *x = muster_message_of(m, v);
        if (!v->leads || v->ok == 0 || x == NULL || x->row->period_ms == 0)
            continue;
        int64_t limit_ns = 10 * x->row->period_ms * NS_PER_MS;
        if (limit_ns < 5 * NS_PER_S)
            limit_ns = 5 * NS_PER_S;
        if (x->last_ns - v->last_ns <= limit_ns)
            continue;
        for (size_t k = 0; k < m->value_count; k++) {
            const struct muster_value *o = &m->values[k];
            if (o->sender == v->sender && o->pgn == v->pgn && o->leads && o != v &&
                o->id.quantity == v->id.quantity && o->first_ns > v->last_ns)
                next = o;
        }
        char key[CHANNEL_KEY_SIZE], other[CHANNEL_KEY_SIZE], from[40];
        channel_id_format(key, sizeof key, v->id);
        muster_who(m, v->sender, from, sizeof from);
        if (next != NULL) {
            channel_id_format(other, sizeof other, next->id);
            muster_add_finding(m, MUSTER_FINDING, "instance changed", v->sender, key,
                               "%s sent %s and then %s: its instance changed under way", from, key,
                               other);
        } else {
            muster_add_finding(m, MUSTER_FINDING, "stopped", v->sender, key,
                               "%s from %s stopped %.0f s before the rest of its message's", key,
                               from, when_seconds(x->last_ns - v->last_ns));
        }
    }
}

/* Empty fields of a message that tells of more are the sender's choice: one note a message. */
static void note_empty_fields(struct muster *m, const struct muster_message *x)
{
    char list[120] = "", from[40];
    int count = 0;
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->sender != x->sender || v->pgn != x->pgn || v->sole || v->ok > 0 ||
            v->id.quantity == QTY_SWITCH)
            continue;
        char key[CHANNEL_KEY_SIZE];
        channel_id_format(key, sizeof key, v->id);
        if (!text_append(list, sizeof list - 8, "%s%s", count > 0 ? ", " : "", key)) {
            text_append(list, sizeof list, "...");
            break;
        }
        count++;
    }
    if (count > 0)
        muster_add_finding(m, MUSTER_NOTE, "empty", x->sender, NULL,
                           "%u %s from %s leaves empty: %s", x->pgn, x->row->name,
                           muster_who(m, x->sender, from, sizeof from), list);
}

static void check_available(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        char key[CHANNEL_KEY_SIZE], from[40];
        muster_key(key, sizeof key, m, v);
        muster_who(m, v->sender, from, sizeof from);
        unsigned long long all = v->ok + v->not_available + v->error;
        if (v->id.quantity == QTY_SWITCH)
            continue; /* banks have fewer switches than places for them */
        if (v->error > 0)
            muster_add_finding(m, v->error * 100 > all ? MUSTER_FINDING : MUSTER_NOTE, "error",
                               v->sender, key,
                               "%s from %s says error or out of range in %llu of %llu messages",
                               key, from, (unsigned long long)v->error, all);
        if (v->ok == 0 && v->not_available > 0 && v->sole)
            muster_add_finding(m, MUSTER_FINDING, "not available", v->sender, key,
                               "%s from %s has never been available: is its sensor connected?", key,
                               from);
        else if (v->ok > 0 && v->wanting * 20 > all)
            muster_add_finding(m, MUSTER_FINDING, "not available", v->sender, key,
                               "%s from %s was not available in %llu of %llu messages", key, from,
                               (unsigned long long)v->wanting, all);
    }
    for (size_t i = 0; i < m->message_count; i++)
        if (m->messages[i].row != NULL)
            note_empty_fields(m, &m->messages[i]);
}

static bool moves_with_speed(unsigned quantity)
{
    switch (quantity) {
    case QTY_EXHAUST:
    case QTY_EXHAUST_GAS:
    case QTY_COOLANT:
    case QTY_OIL_TEMP:
    case QTY_OIL_PRESSURE:
    case QTY_FUEL_RATE:
    case QTY_LOAD:
    case QTY_TORQUE:
        return true;
    default:
        return false;
    }
}

/* How long a reading may stand still to the last digit though its engine's speed went up and down:
 * fine steps always show noise, coarse ones may hide a thermostat or a relief valve at work. Common
 * practice, no source. */
static double patience_s(const struct muster_value *v)
{
    enum unit unit = muster_unit(v);
    double fine = unit == UNIT_C ? 0.2 : 2.0;
    if (v->step == 0.0)
        return 300.0; /* never moved at all */
    if (unit != UNIT_C && unit != UNIT_KPA)
        return HUGE_VAL; /* load, torque, fuel: out of gear the speed moves alone */
    return v->step <= fine ? 120.0 : 3600.0;
}

static void check_stuck(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        char key[CHANNEL_KEY_SIZE], from[40], value[40];
        muster_key(key, sizeof key, m, v);
        muster_who(m, v->sender, from, sizeof from);
        if (moves_with_speed(v->id.quantity) && when_seconds(v->stuck_ns) >= patience_s(v)) {
            muster_add_finding(
                m, MUSTER_FINDING, "stuck", v->sender, key,
                "%s from %s stood still for %.0f s while its engine's speed went up and down "
                "(last %s)",
                key, from, when_seconds(v->stuck_ns),
                muster_figure(value, sizeof value, v->last, v->decimals, muster_unit(v)));
        } else if (v->id.quantity == QTY_HOURS && v->ok > 1 && v->high <= v->low &&
                   v->id.place < MUSTER_INSTANCES &&
                   m->engines[v->id.place].run_ns > 1800 * NS_PER_S) {
            muster_add_finding(m, MUSTER_FINDING, "stuck", v->sender, key,
                               "%s from %s stands still though the engine ran for %.0f min", key,
                               from, when_seconds(m->engines[v->id.place].run_ns) / 60);
        }
    }
}

static void check_believable(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        char key[CHANNEL_KEY_SIZE], low[40], high[40];
        muster_key(key, sizeof key, m, v);
        if (v->beyond_span > 0)
            muster_add_finding(
                m, MUSTER_FINDING, "beyond span", v->sender, key,
                "%s was beyond what its sensor can measure %u times: from %s to %s", key,
                v->beyond_span, muster_figure(low, sizeof low, v->low, v->decimals, muster_unit(v)),
                muster_figure(high, sizeof high, v->high, v->decimals, muster_unit(v)));
        if (v->jumps == 0)
            continue;
        bool kelvin = muster_unit(v) == UNIT_C; /* a difference of temperatures */
        muster_add_finding(m, MUSTER_FINDING, "beyond physics", v->sender, key,
                           "%s jumped %u times, by up to %s%s within a reading", key, v->jumps,
                           muster_figure(high, sizeof high, v->worst_jump,
                                         v->decimals > 2 ? 2 : v->decimals,
                                         kelvin ? UNIT_NONE : muster_unit(v)),
                           kelvin ? " K" : "");
    }
}

static bool is_tank(unsigned quantity)
{
    return quantity >= QTY_FUEL_TANK && quantity <= QTY_PETROL_TANK;
}

static void check_tanks(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        const struct channel_setting *s = muster_setting(m, v->id);
        if (!is_tank(v->id.quantity) || v->ok == 0 || v->rank > 0 || v->capacity_l > 0.0 ||
            (s != NULL && s->capacity_l > 0.0))
            continue;
        char key[CHANNEL_KEY_SIZE];
        muster_key(key, sizeof key, m, v);
        muster_add_finding(
            m, MUSTER_FINDING, "no capacity", v->sender, key,
            "%s tells its level and not how much it holds: litres and range need `capacity`", key);
    }
}

static void check_exhausts(struct muster *m)
{
    for (size_t i = 0; i < m->value_count; i++) {
        const struct muster_value *v = &m->values[i];
        if (v->id.quantity != QTY_EXHAUST)
            continue;
        char key[CHANNEL_KEY_SIZE], high[40];
        muster_key(key, sizeof key, m, v);
        muster_figure(high, sizeof high, v->high, 0, UNIT_C);
        const char *kind = muster_exhaust_kind(m, v);
        if (strcmp(kind, "unsure") == 0)
            muster_add_finding(
                m, MUSTER_FINDING, "wet or dry", v->sender, key,
                "%s reached %s: a dry-gas sensor, or no cooling water? Say `sensor = dry` or `wet`",
                key, high);
        bool hot = v->high > 300.0;
        if (v->pgn == 130312 && (v->error > 0 || hot) && strcmp(kind, "wet") != 0)
            muster_add_finding(
                m, MUSTER_FINDING, "overflow", v->sender, key,
                "%s comes by 130312, which ends at 382.17 °C: dry exhaust needs 130316", key);
    }
}

/* An exhaust that follows the other engine: the difference of the two goes against the difference
 * of the speeds. Asked only where the speeds were well apart for a minute in all. */
static void check_swapped(struct muster *m)
{
    const struct muster_twins *t = &m->twins;
    if (t->n < 120.0 || t->apart_s < 60.0)
        return;
    for (int i = 0; i < m->cooling_count; i++) {
        const struct muster_cooling *c = &m->cooling[i];
        if (c->generator && (c->instance == t->first || c->instance == t->first + 1))
            return; /* turns at its own speed, and is nobody's twin */
    }
    double vx = t->sxx / t->n - t->sx / t->n * (t->sx / t->n);
    double vy = t->syy / t->n - t->sy / t->n * (t->sy / t->n);
    double cov = t->sxy / t->n - t->sx / t->n * (t->sy / t->n);
    if (vx < 80.0 * 80.0 || vy < 1.0)
        return;
    double r = cov / sqrt(vx * vy);
    char key[CHANNEL_KEY_SIZE];
    int a = t->first, b = a + 1;
    text_format(key, sizeof key, "exhaust.%d", a);
    if (r < -0.5)
        muster_add_finding(
            m, MUSTER_FINDING, "swapped", -1, key,
            "exhaust.%d follows engine %d's speed and exhaust.%d engine %d's (correlation "
            "%s%d.%02d): are the sensors or instances swapped?",
            a, b, b, a, r < 0 ? "-" : "", (int)fabs(r), (int)(fabs(r) * 100.0 + 0.5) % 100);
}

void muster_check_readings(struct muster *m)
{
    check_values_stopped(m);
    check_available(m);
    check_believable(m);
    check_stuck(m);
    check_exhausts(m);
    check_swapped(m);
    check_tanks(m);
}
