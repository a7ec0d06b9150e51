#include "hooks/calm.h"

#include "base/banned.h"

/* That of this pair, or the one that has to give way. */
static struct calm_told *find(struct calm *c, int hook, const struct situation *s, bool *known)
{
    struct calm_told *oldest = &c->told[0];
    for (int i = 0; i < CALM_MAX; i++) {
        struct calm_told *t = &c->told[i];
        *known = t->at_ns > 0 && t->hook == hook && situation_same(&t->situation, s);
        if (*known)
            return t;
        if (t->at_ns < oldest->at_ns)
            oldest = t;
    }
    return oldest;
}

static bool is_rise(enum alert_event_kind e)
{
    return e == EVENT_RAISED || e == EVENT_ESCALATED;
}

enum calm_answer calm_ask(struct calm *c, int hook, const struct alert_event *ev, int64_t within_ns,
                          int64_t now_ns, int64_t *due_ns)
{
    const struct alert *a = ev->alert;
    bool known;
    struct calm_told *t = find(c, hook, &a->situation, &known);
    bool fresh = known && now_ns < t->at_ns + within_ns;
    bool back = is_rise(ev->event) && a->repeats > 0;
    if (fresh && back && is_rise(t->event) && a->priority <= t->priority)
        return CALM_DROP; /* it stands, and that was told */
    /* An end that soon may be no end. Who tries the chain waits for it. */
    bool hold = fresh && ev->event == EVENT_RECTIFIED && !alert_is_trial(a);
    *due_ns = hold ? t->at_ns + within_ns : 0;
    if (hold)
        return CALM_HOLD;
    *t = (struct calm_told){.hook = hook,
                            .situation = a->situation,
                            .event = ev->event,
                            .priority = a->priority,
                            .at_ns = now_ns};
    return CALM_RUN;
}
