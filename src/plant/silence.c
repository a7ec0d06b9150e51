/* Who is late, and whether that is silence or only a key that was turned. */
#include "plant/inside.h"

#include "base/banned.h"

#define STOP_SLACK_NS  (10 * NS_PER_S) /* a box may die this long before its engine stands */
#define START_SLACK_NS (10 * NS_PER_S) /* and may come back this long after it runs again */
#define WITHOUT_NS     (5 * NS_PER_S)  /* so long without engine speed says something */
#define LATE_MIN_NS    (NS_PER_S / 2)
#define LATEST_CHECK   NS_PER_S

/* Whether the sender has said nothing at all since about when this channel fell silent. */
static bool sender_stopped(const struct sender *s, const struct kept *k)
{
    int64_t slack_ns = k->period.estimate_ns + k->period.estimate_ns / 2;
    return s->last_ns <= k->heard_ns + slack_ns;
}

/* Engine speed is stale, or so late that it will be: the others need not wait for that. */
static bool rpm_gone(const struct plant *p, const struct kept *rpm)
{
    int64_t late_ns = 3 * rpm->period.estimate_ns;
    if (late_ns < LATE_MIN_NS)
        late_ns = LATE_MIN_NS;
    return rpm->c.status == READING_STALE || (rpm->c.repeats && rpm->period.estimate_ns > 0 &&
                                              p->now.mono_ns - rpm->heard_ns > late_ns);
}

/* Whether the engine stood, or was being stopped, when the sender was last heard. */
static bool engine_off(const struct plant *p, int engine, const struct sender *s)
{
    const struct engine_kept *e = &p->engines[engine];
    if (e->rpm != NULL && rpm_gone(p, e->rpm))
        return engines_stopping(p, engine) && e->rpm->heard_ns <= s->last_ns + STOP_SLACK_NS;
    return e->e.state == ENGINE_STOPPED && e->e.since_ns <= s->last_ns + STOP_SLACK_NS;
}

/* Whether the engine runs again since so short a time that its boxes may still be starting. */
static bool just_started(const struct plant *p, const struct kept *k, int engine)
{
    const struct engine *e = &p->engines[engine].e;
    return k->c.switched_off && e->state == ENGINE_RUNNING &&
           p->now.mono_ns - e->since_ns < START_SLACK_NS;
}

/* A box that sends nothing but alternating current and chargers may be fed by it: shore power that
 * is unplugged or a generator that stops takes it along. */
static bool is_fed_by_mains(const struct plant *p, const struct sender *s)
{
    for (uint16_t i = s->first; i != NO_CHANNEL; i = p->channels[i].next_of_sender) {
        uint16_t q = p->channels[i].c.id.quantity;
        if (q != QTY_CHARGER && (q < QTY_AC_IN_VOLTS || q > QTY_AC_WATTS))
            return false;
    }
    return true;
}

static bool is_switched_off(const struct plant *p, const struct kept *k)
{
    if (k->sender == NO_SENDER)
        return false;
    const struct sender *s = &p->senders[k->sender];
    if (s->engines == 0)
        return is_fed_by_mains(p, s) && sender_stopped(s, k);
    if (!sender_stopped(s, k)) /* back, but not yet with everything */
        return k->c.switched_off && p->now.mono_ns - s->back_ns < START_SLACK_NS;
    for (int e = 0; e < PLANT_ENGINES; e++) {
        if ((s->engines >> e & 1) != 0 && !engine_off(p, e, s) && !just_started(p, k, e))
            return false;
    }
    return true;
}

/* A box that lives on says "not available" for an engine without power. */
static bool is_without_power(const struct plant *p, const struct kept *k)
{
    if (k->c.engine < 0 || k->c.readings == 0)
        return false;
    const struct engine_kept *e = &p->engines[k->c.engine];
    if (just_started(p, k, k->c.engine))
        return true;
    if (e->rpm == NULL || e->rpm->c.status == READING_OK || e->e.state != ENGINE_STOPPED)
        return false;
    int64_t apart_ns = k->c.good.mono_ns - e->rpm->c.good.mono_ns;
    return apart_ns < STOP_SLACK_NS && apart_ns > -STOP_SLACK_NS;
}

/* Marks who has become stale, and finds when the next one could. False where everybody who was ever
 * heard has a good reading, and so nobody is to be judged. */
static bool find_stale(struct plant *p)
{
    bool any = false;
    int64_t now_ns = p->now.mono_ns, next_ns = now_ns + LATEST_CHECK;
    for (size_t i = 0; i < p->count; i++) {
        struct kept *k = &p->channels[i];
        k->stale_now = false;
        any |= k->c.status != READING_OK && k->c.status != READING_NEVER;
        if (!k->c.repeats || k->c.status == READING_STALE || k->c.status == READING_NEVER)
            continue;
        int64_t due_ns = k->heard_ns + period_patience(&k->period);
        k->stale_now = now_ns > due_ns;
        any |= k->stale_now;
        if (!k->stale_now && due_ns < next_ns)
            next_ns = due_ns;
    }
    p->next_check_ns = next_ns;
    return any;
}

/* Engine speed that has gone says something of the engine, after a while. */
static void judge_engine(struct plant *p, struct kept *k)
{
    if (k->c.engine < 0 || p->engines[k->c.engine].rpm != k || k->c.readings == 0)
        return;
    if (k->c.status == READING_STALE)
        engines_lost(p, k->c.engine, is_switched_off(p, k), p->now);
    else if (k->c.status != READING_OK && p->now.mono_ns - k->c.good.mono_ns > WITHOUT_NS)
        engines_lost(p, k->c.engine, engines_low(p, k->c.engine), p->now);
}

/* What falls silent together is one gap of its box. */
static void note_gap(struct plant *p, const struct kept *k)
{
    struct address *a = &p->addresses[k->c.iface][k->c.source];
    if (a->seen.gaps > 0 && a->gap_ns == p->now.mono_ns)
        return;
    a->gap_ns = p->now.mono_ns;
    a->seen.gaps++;
}

static void judge(struct plant *p, struct kept *k, enum reading_status before)
{
    bool off = k->c.status == READING_STALE ? is_switched_off(p, k) : is_without_power(p, k);
    bool changed = off != k->c.switched_off || before != k->c.status;
    k->c.switched_off = off;
    if (!off && k->c.status == READING_STALE && before != READING_STALE)
        note_gap(p, k);
    if (k->sender != NO_SENDER && off && k->c.status == READING_STALE)
        p->senders[k->sender].off = true;
    if (changed)
        tell_status(p, k, before, p->now);
}

/* Every one is marked stale before any is judged, and engines before channels: whether a channel
 * is switched off depends on its engine. */
void silence_tick(struct plant *p, struct stamp now)
{
    if (now.mono_ns < p->next_check_ns)
        return;
    bool any = find_stale(p);
    for (size_t i = 0; i < p->sender_count; i++)
        p->senders[i].off = false;
    if (!any)
        return;
    for (size_t i = 0; i < p->count; i++) {
        struct kept *k = &p->channels[i];
        k->before = k->c.status;
        if (k->stale_now)
            k->c.status = READING_STALE;
    }
    for (size_t i = 0; i < p->count; i++) {
        if (p->channels[i].c.id.quantity == QTY_RPM)
            judge_engine(p, &p->channels[i]);
    }
    for (size_t i = 0; i < p->count; i++) {
        enum reading_status status = p->channels[i].c.status;
        if (status != READING_OK && status != READING_NEVER)
            judge(p, &p->channels[i], p->channels[i].before);
    }
}
