/* season: what the trip so far says against the boat's first trips (season/watch.h), once a second
 * and only where a season is kept: it costs no frame anything. One claim a channel, graded by the
 * watch; the rule's `at most` holds it down. */
#include "rules/kinds.h"

#include "base/text.h"
#include "season/watch.h"

#include <math.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#define SAY_NS       (10 * NS_PER_S) /* words of a standing claim are renewed so often */
#define LEAST_GROWTH 0.125           /* of a caution a week: less would be shown as nothing */

struct season_claim {
    uint32_t claimant;
    enum season_level level;
    int64_t said_ns;
};

struct rule_season {
    struct season_watch *watch; /* NULL: no season is kept */
    struct season_claim claims[PLANT_ENGINES][SEASON_KEPT];
    int64_t limits_ns;   /* mono: when the limits were told */
    struct stamp ran_at; /* when an engine last ran */
    bool began, ran;     /* one has; one did a second ago */
    bool all;            /* all ran a second ago */
};

static void forget(struct rules *r, struct rule_season *k, struct stamp now)
{
    for (int e = 0; e < PLANT_ENGINES; e++)
        for (int i = 0; i < SEASON_KEPT; i++) {
            struct season_claim *c = &k->claims[e][i];
            if (c->level != SEASON_QUIET)
                alerts_withdraw(r->alerts, c->claimant, now);
            c->level = SEASON_QUIET;
        }
}

static bool season_init(struct rules *r, void *own)
{
    struct rule_season *k = own;
    if (!r->settings->season)
        return true;
    k->watch = season_watch_new(r->settings->season);
    return k->watch != NULL;
}

static void season_fini(void *own)
{
    struct rule_season *k = own;
    season_watch_free(k->watch);
}

/* ---- what the channels read ---- */

static double read_now(const struct rules *r, enum quantity q, uint8_t place)
{
    const struct channel *c =
        plant_find(r->plant, (struct channel_id){.quantity = (uint16_t)q, .place = place});
    return c && c->status == READING_OK && !c->is_wild ? c->value : NAN;
}

static void fill(const struct rules *r, int slot, bool first, struct steps_second *s)
{
    const struct engine *e = plant_engine(r->plant, slot);
    *s = (struct steps_second){.instance = e->instance,
                               .running = e->exists && e->state == ENGINE_RUNNING,
                               .rpm = e->exists ? read_now(r, QTY_RPM, e->instance) : NAN};
    for (int l = 0; l < SEASON_LOADS; l++)
        s->load[l] = NAN;
    for (int i = 0; i < SEASON_KEPT; i++)
        s->value[i] = NAN;
    if (!e->exists)
        return;
    s->load[SEASON_LOAD_PERCENT] = read_now(r, QTY_LOAD, e->instance);
    s->load[SEASON_LOAD_TORQUE] = read_now(r, QTY_TORQUE, e->instance);
    s->load[SEASON_LOAD_FUEL_RATE] = read_now(r, QTY_FUEL_RATE, e->instance);
    s->load[SEASON_LOAD_BOOST] = read_now(r, QTY_BOOST, e->instance);
    s->load[SEASON_LOAD_OIL_TEMP] = read_now(r, QTY_OIL_TEMP, e->instance);
    for (int i = 0; i < SEASON_KEPT; i++)
        if (!season_kept[i].start && (!season_kept[i].boat || first))
            s->value[i] =
                read_now(r, season_kept[i].quantity, season_kept[i].boat ? 0 : e->instance);
}

/* The batteries, while an engine stands or is started: a dip between two sweeps is in the history.
 */
static int fill_batteries(const struct rules *r, struct crank_battery *b, struct stamp now)
{
    for (int i = 0; i < CRANK_BATTERIES; i++) {
        uint8_t place = (uint8_t)i;
        struct channel_id id = {.quantity = QTY_BATTERY_VOLTS, .place = place};
        const struct channel *c = plant_find(r->plant, id);
        struct history_bucket heard;
        b[i] = (struct crank_battery){.instance = place,
                                      .volts = read_now(r, QTY_BATTERY_VOLTS, place),
                                      .lowest = NAN,
                                      .temp_c = read_now(r, QTY_BATTERY_TEMP, place)};
        if (!c || !isfinite(b[i].volts))
            continue;
        b[i].period_s = (double)c->period_ns / 1e9;
        /* From the second before on: sweeps and buckets do not march in step. */
        if (history_span(c->history, now.mono_ns - 2 * NS_PER_S, now.mono_ns + 1, &heard))
            b[i].lowest = (double)heard.low;
    }
    return CRANK_BATTERIES;
}

/* ---- words ---- */

/* "May" for the month the first trips were in; the year where that is another. */
static void month_of(char *dst, size_t cap, int64_t then_ns, int64_t now_ns)
{
    time_t then = (time_t)(then_ns / NS_PER_S), now = (time_t)(now_ns / NS_PER_S);
    struct tm a = {0}, b = {0};
    gmtime_r(&then, &a);
    gmtime_r(&now, &b);
    text_copy(dst, cap, season_month(then_ns));
    if (a.tm_year != b.tm_year)
        text_append(dst, cap, " %d", a.tm_year + 1900);
}

static void add_amount(struct words *w, char *dst, size_t cap, const struct season_kept *kept,
                       double amount)
{
    if (kept->share) {
        char digits[24];
        text_number(digits, sizeof digits, amount * 100, 0);
        text_append(dst, cap, "%s %%", digits);
    } else {
        words_add_figure(w, dst, cap, kept->quantity, amount, true);
    }
}

/* What it makes of the limit, and how fast it grows: the first of what may go where the line is too
 * long. */
static void add_reserve(struct words *w, char *dst, size_t cap, const struct season_verdict *v,
                        const struct season_kept *kept, double limit)
{
    char rpm[24], number[24];
    if (v->said <= 0 || v->level == SEASON_QUESTION)
        return;
    text_number(rpm, sizeof rpm, v->reserve.rpm, 0);
    if (v->has_reserve && (v->reserve.used_up || isfinite(v->reserve.weeks))) {
        text_append(dst, cap, WORDS_MORE_END ", %s", v->reserve.used_up ? "past " : "");
        words_add_figure(w, dst, cap, kept->quantity, limit, false);
        text_append(dst, cap, " at %s rpm", rpm);
        text_number(number, sizeof number, v->reserve.weeks, 0);
        if (!v->reserve.used_up && v->reserve.weeks < 1)
            text_append(dst, cap, " within a week");
        else if (!v->reserve.used_up)
            text_append(dst, cap, " in %s week%s", number, strcmp(number, "1") == 0 ? "" : "s");
    }
    if (!season_grows(v->story) || v->story->growth_per_week < LEAST_GROWTH * kept->caution)
        return;
    text_append(dst, cap, WORDS_MORE_END ", growing ");
    add_amount(w, dst, cap, kept, v->story->growth_per_week);
    text_append(dst, cap, " a week");
}

/* " 6 K above May at 2200 rpm, 4 trips in a row" */
static void find_words(const struct season_verdict *v, const struct season_kept *kept, double limit,
                       struct words *w, char *more, size_t cap, struct stamp now)
{
    const struct season_story *s = v->story;
    char since[120], rpm[24];
    w->value = w->rate_per_min = w->limit = w->seconds = NAN;
    w->side = WORDS_NO_LIMIT;
    text_copy(more, cap, kept->start ? " cranking volts " : " ");
    add_amount(w, more, cap, kept, fabs(v->said));
    month_of(since, sizeof since, s->since_ns, now.wall_ns);
    text_append(more, cap, " %s %s", v->said > 0 ? "above" : "below", since);
    text_number(rpm, sizeof rpm, v->said_rpm, 0);
    bool used_up = v->has_reserve && v->reserve.used_up; /* more than all that follows */
    if (used_up)
        add_reserve(w, more, cap, v, kept, limit);
    if (!kept->start) /* the speed of the limit may stand before it */
        text_append(more, cap, WORDS_MORE_END "%s at %s rpm", used_up ? ", found" : "", rpm);
    if (v->in_row > 1)
        text_append(more, cap, WORDS_MORE_END ", %d trips in a row", v->in_row);
    if (!used_up)
        add_reserve(w, more, cap, v, kept, limit);
    if (s->mark[0])
        text_append(more, cap, WORDS_MORE_END ", since %s", s->mark);
    w->more = more;
    w->advice = v->level == SEASON_QUESTION ? "probe exchanged or moved?"
                : s->both                   ? "both engines: hull, load, intakes"
                : v->said > 0               ? kept->look_up
                                            : kept->look_down;
}

static void say(struct rules *r, struct rule_season *k, int slot, int row, struct stamp now)
{
    const struct season_verdict *v = season_watch_verdict(k->watch, slot, row);
    const struct season_kept *kept = &season_kept[row];
    struct season_claim *c = &k->claims[slot][row];
    if (!v->story || !isfinite(v->said))
        return;
    struct channel_id id = v->story->id;
    const struct channel *ch = plant_find(r->plant, id);
    const struct rule_setting *rule = ch ? rule_find(r, KIND_SEASON, ch) : NULL;
    enum priority p = v->level == SEASON_WARNING ? PRIORITY_WARNING : PRIORITY_CAUTION;
    struct words w;
    char more[WORDS_MORE_SIZE];

    if (!rule)
        return;
    rule_words(r, &w, ch, now.mono_ns);
    find_words(v, kept, rule_channel(ch)->alarm_above, &w, more, sizeof more, now);
    struct alert_claim claim = {
        .situation = {.group = SITUATION_SEASON, .id = id},
        .claimant = c->claimant,
        .kind = KIND_SEASON,
        .rule = rule->name,
        .priority = p < rule->priority ? p : rule->priority,
        .channel = ch->key,
        .value = v->value,
        .unit = ch->unit,
        .decimals = ch->decimals < 2 ? ch->decimals : 2,
        .words = &w,
        .stage = v->level == SEASON_WARNING ? STAGE_CERTAIN : STAGE_SUSPECTED,
        .figures = ALERT_NO_FIGURES,
    };
    claim.figures.value = v->value;
    claim.figures.expected = v->expected;
    claim.figures.allowance = kept->share ? v->error * v->expected : v->error;
    alerts_claim(r->alerts, &claim, now);
    c->said_ns = now.mono_ns;
}

static void judge(struct rules *r, struct rule_season *k, int slot, int row, struct stamp now)
{
    const struct season_verdict *v = season_watch_verdict(k->watch, slot, row);
    struct season_claim *c = &k->claims[slot][row];

    if (v->level == SEASON_QUIET) {
        if (c->level != SEASON_QUIET)
            alerts_withdraw(r->alerts, c->claimant, now);
        c->level = SEASON_QUIET;
        return;
    }
    if (c->claimant == 0)
        c->claimant = rule_new_claimant(r);
    if (c->level == v->level && now.mono_ns - c->said_ns < SAY_NS)
        return;
    c->level = v->level;
    say(r, k, slot, row, now);
}

/* At a start, for the configuration may be another one. */
static void tell_limits(const struct rules *r, struct rule_season *k, int slot)
{
    const struct engine *e = plant_engine(r->plant, slot);
    for (int row = 0; row < SEASON_KEPT; row++) {
        const struct channel *c = plant_find(
            r->plant, (struct channel_id){.quantity = (uint16_t)season_kept[row].quantity,
                                          .place = season_kept[row].boat ? 0 : e->instance});
        season_watch_limit(k->watch, slot, row, c ? rule_channel(c)->alarm_above : NAN);
    }
}

static void season_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_season *k = own;
    struct steps_second engines[PLANT_ENGINES];
    struct crank_battery battery[CRANK_BATTERIES];
    int count = 0;
    bool first = true, any = false, all = true;

    if (!k->watch)
        return;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        fill(r, i, first, &engines[i]);
        first = first && !engines[i].running;
        any |= engines[i].running;
        if (!plant_engine(r->plant, i)->exists)
            continue;
        all = all && engines[i].running;
        count = i + 1;
    }
    /* Where the record stopped with the boat, mono knows little of the time between. */
    if (any && k->began &&
        (now.mono_ns - k->ran_at.mono_ns > SEASON_APART_NS ||
         now.wall_ns - k->ran_at.wall_ns > SEASON_APART_NS)) {
        forget(r, k, now);
        season_watch_begin(k->watch);
    }
    for (int i = 0; i < count && any && now.mono_ns - k->limits_ns > SAY_NS; i++)
        tell_limits(r, k, i);
    if (now.mono_ns - k->limits_ns > SAY_NS)
        k->limits_ns = now.mono_ns;
    k->began |= any;
    if (any)
        k->ran_at = now;
    season_watch_second(k->watch, now.wall_ns, read_now(r, QTY_SEA, 0),
                        read_now(r, QTY_OUTSIDE_AIR, 0), engines, count);
    if (!all || !k->all) {
        int batteries = fill_batteries(r, battery, now);
        season_watch_starts(k->watch, now.wall_ns, read_now(r, QTY_OUTSIDE_AIR, 0), engines, count,
                            battery, batteries);
    }
    k->all = all;
    if (!any && k->ran)
        season_watch_stopped(k->watch, engines, count);
    k->ran = any;
    for (int i = 0; i < count; i++)
        for (int row = 0; row < SEASON_KEPT; row++)
            judge(r, k, i, row, now);
}

const struct rule_module rule_season_module = {
    .own_size = sizeof(struct rule_season),
    .init = season_init,
    .fini = season_fini,
    .sweep = season_sweep,
};

struct season_watch *rule_season_watch(const struct rules *r)
{
    const struct rule_season *k = rule_own(r, &rule_season_module);
    return k->watch;
}
