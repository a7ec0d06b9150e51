#include "report/incident/incident.h"

#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define HOLE_NS (10 * NS_PER_S)

static void add_event(struct incident *i, int64_t wall_ns, const char *word, const char *text,
                      enum priority p, bool is_engine)
{
    struct incident_event *e;

    if (i->events == INCIDENT_EVENTS) {
        i->events_lost++;
        return;
    }
    e = &i->event[i->events++];
    *e = (struct incident_event){.wall_ns = wall_ns, .priority = p, .is_engine = is_engine};
    text_copy(e->word, sizeof e->word, word);
    text_copy(e->text, sizeof e->text, text);
}

/* --- curves -------------------------------------------------------------------------------- */

static void curve_put(struct incident_curve *c, int64_t from_ns, int64_t at_ns, double v)
{
    int64_t at = (at_ns - from_ns) / NS_PER_S;

    if (at_ns < from_ns || at >= INCIDENT_POINTS)
        return;
    c->mean[at] = c->count[at] > 0 ? (c->mean[at] * c->count[at] + v) / (c->count[at] + 1) : v;
    c->count[at]++;
}

static int64_t curve_from_ns(const struct incident_alert *a)
{
    return a->raised.mono_ns - INCIDENT_BEFORE_S * NS_PER_S;
}

/* What the channel's history still knows of the time before. */
static void curve_begin(struct incident_alert *a, struct incident_curve *c,
                        const struct channel *ch)
{
    int64_t from_ns = curve_from_ns(a);

    *c = (struct incident_curve){.id = ch->id, .source = ch->source};
    text_copy(c->key, sizeof c->key, ch->key);
    for (int k = 0; k < INCIDENT_POINTS; k++)
        c->mean[k] = NAN;
    for (int k = 0; k <= INCIDENT_BEFORE_S; k++) {
        struct history_bucket b;

        if (history_span(ch->history, from_ns + k * NS_PER_S, from_ns + (k + 1) * NS_PER_S, &b) &&
            b.count > 0) {
            c->mean[k] = (double)b.mean;
            c->count[k] = b.count;
        }
    }
}

static void begin_curves(struct incident *i, struct incident_alert *a)
{
    struct plant *p = keeper_plant(i->keeper);
    struct channel *c = a->alert.channel[0] ? plant_find_key(p, a->alert.channel) : NULL, *twin;
    struct channel_id id;

    if (!c)
        return;
    curve_begin(a, &a->curve[a->curves++], c);
    id = c->id;
    if (quantity_info((enum quantity)id.quantity)->place != PLACE_ENGINE || id.place > 1)
        return;
    id.place = (uint8_t)(1 - id.place);
    twin = plant_find(p, id);
    if (twin)
        curve_begin(a, &a->curve[a->curves++], twin);
}

/* --- alerts -------------------------------------------------------------------------------- */

static struct incident_alert *alert_of(struct incident *i, const struct alert *a)
{
    for (int k = i->alerts - 1; k >= 0; k--)
        if (i->alert[k].alert.id == a->id && i->alert[k].raised.mono_ns == a->raised.mono_ns)
            return &i->alert[k];
    return NULL;
}

static struct incident_alert *alert_new(struct incident *i, const struct alert *a)
{
    struct incident_alert *n;

    if (i->alerts == INCIDENT_ALERTS) {
        i->alerts_lost++;
        return NULL;
    }
    n = &i->alert[i->alerts++];
    *n = (struct incident_alert){.alert = *a,
                                 .raised = a->raised,
                                 .first = a->figures,
                                 .worst = NAN,
                                 .highest = a->priority};
    n->low = a->kind == KIND_LIMIT && a->figures.value < a->figures.limit;
    begin_curves(i, n);
    return n;
}

static void on_alert(void *ctx, const struct alert_event *ev)
{
    static const char *const words[] = {
        [EVENT_RAISED] = "raised", [EVENT_ESCALATED] = "escalated", [EVENT_RECTIFIED] = "over"};
    struct incident *i = ctx;
    struct incident_alert *a = alert_of(i, ev->alert);

    if (ev->event == EVENT_RAISED && !a)
        a = alert_new(i, ev->alert);
    if (ev->event == EVENT_RAISED || ev->event == EVENT_ESCALATED || ev->event == EVENT_RECTIFIED)
        add_event(i, ev->at.wall_ns, words[ev->event], ev->alert->text, ev->alert->priority, false);
    if (!a)
        return;
    if (ev->event == EVENT_RAISED || ev->event == EVENT_ESCALATED)
        text_copy(a->text, sizeof a->text, ev->alert->text);
    if (ev->event == EVENT_UPDATED) /* the last words while it stood */
        a->alert = *alerts_by_id(keeper_alerts(i->keeper), ev->alert->id);
    else if (ev->event != EVENT_RECTIFIED)
        a->alert = *ev->alert;
    else
        a->over_ns = ev->at.wall_ns;
    if (ev->alert->priority > a->highest)
        a->highest = ev->alert->priority;
}

static void follow(struct incident_alert *a, const struct channel *c, struct stamp at)
{
    const struct alert_figures *f = &a->alert.figures;

    for (int k = 0; k < a->curves; k++) {
        if (!channel_id_same(a->curve[k].id, c->id) || a->curve[k].source != c->source)
            continue;
        curve_put(&a->curve[k], curve_from_ns(a), at.mono_ns, c->value);
        if (k > 0 || a->over_ns != 0)
            continue;
        if (isnan(a->worst) || (a->low ? c->value < a->worst : c->value > a->worst)) {
            a->worst = c->value;
            a->worst_ns = at.wall_ns;
        }
        if (a->limit_ns == 0 && isfinite(f->limit) &&
            (a->low ? c->value <= f->limit : c->value >= f->limit))
            a->limit_ns = at.wall_ns;
    }
}

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct incident *i = ctx;

    if (c->status != READING_OK)
        return;
    for (int k = 0; k < i->alerts; k++)
        if (at.mono_ns - i->alert[k].raised.mono_ns < INCIDENT_AFTER_S * NS_PER_S ||
            i->alert[k].over_ns == 0)
            follow(&i->alert[k], c, at);
}

static void on_engine(void *ctx, int engine, enum engine_state before, struct stamp at)
{
    struct incident *i = ctx;
    const struct engine *e = plant_engine(keeper_plant(i->keeper), engine);
    char text[80];

    if (before == ENGINE_UNKNOWN && e->state == ENGINE_STOPPED)
        return;
    text_format(text, sizeof text, "%s %s", e->name,
                e->state == ENGINE_RUNNING   ? "runs"
                : e->state == ENGINE_STOPPED ? "has stopped"
                                             : "is not heard any more");
    add_event(i, at.wall_ns, "engine", text, PRIORITY_CAUTION, true);
}

static void on_message(void *ctx, const struct message *m)
{
    struct incident *i = ctx;

    if (i->any && m->at.mono_ns - i->last.mono_ns > HOLE_NS) {
        i->holes++;
        i->hole_s += when_seconds(m->at.wall_ns - i->last.wall_ns); /* as long as the log says */
    }
    if (!i->any)
        i->first = m->at;
    i->any = true;
    i->last = m->at;
}

struct incident *incident_new(struct keeper *k)
{
    struct incident *i = calloc(1, sizeof *i);

    if (!i)
        return NULL;
    i->keeper = k;
    i->alert = calloc(INCIDENT_ALERTS, sizeof *i->alert);
    i->event = calloc(INCIDENT_EVENTS, sizeof *i->event);
    if (!i->alert || !i->event ||
        !plant_listen(keeper_plant(k), (struct plant_listener){
                                           .ctx = i, .reading = on_reading, .engine = on_engine})) {
        incident_free(i);
        return NULL;
    }
    keeper_tap_messages(k, on_message, i);
    alerts_listen(keeper_alerts(k), on_alert, i);
    return i;
}

void incident_free(struct incident *i)
{
    if (!i)
        return;
    free(i->alert);
    free(i->event);
    free(i);
}
