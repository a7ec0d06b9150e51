#include "alerts/alert.h"

#include "alerts/alert_inside.h"
#include "base/text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* Upper bound of the time after which an unacknowledged warning grows (MSC.302(87) 7.4). */
#define ESCALATE_MOST_NS (300 * NS_PER_S)
/* Upper bound of a temporary silence (MSC.302(87) 7.3.5). */
#define SILENCE_MOST_NS (30 * NS_PER_S)

static int64_t bounded(int64_t ns, int64_t most)
{
    return ns > 0 && ns < most ? ns : most;
}

struct alert_list *alerts_new(const struct alert_setting *setting, bool escalate)
{
    struct alert_list *l = calloc(1, sizeof *l);
    if (!l)
        return NULL;
    alerts_set(l, setting);
    l->escalate = escalate;
    return l;
}

void alerts_set(struct alert_list *l, const struct alert_setting *setting)
{
    if (setting)
        l->setting = *setting;
    l->setting.escalate_ns = bounded(l->setting.escalate_ns, ESCALATE_MOST_NS);
    l->setting.silence_ns = bounded(l->setting.silence_ns, SILENCE_MOST_NS);
}

void alerts_free(struct alert_list *l)
{
    free(l);
}

void alerts_listen(struct alert_list *l, alert_listener *f, void *ctx)
{
    if (l->listener_count == ALERT_LISTENERS_MAX)
        return;
    l->listeners[l->listener_count].f = f;
    l->listeners[l->listener_count++].ctx = ctx;
}

static void tell_before(struct alert_list *l, enum alert_event_kind event, const struct alert *a,
                        enum priority before, struct stamp at)
{
    struct alert_event ev = {event, at, a, before};
    for (int i = 0; i < l->listener_count; i++)
        l->listeners[i].f(l->listeners[i].ctx, &ev);
}

static void tell(struct alert_list *l, enum alert_event_kind event, const struct alert *a,
                 struct stamp at)
{
    tell_before(l, event, a, a->priority, at);
}

/* ---- order ---- */

static int state_rank(enum alert_state s)
{
    switch (s) {
    case ALERT_UNACKNOWLEDGED:
    case ALERT_SILENCED:
        return 0;
    case ALERT_RECTIFIED:
        return 1;
    case ALERT_ACKNOWLEDGED:
    case ALERT_NORMAL:
        break;
    }
    return 2;
}

static bool comes_before(const struct alert *a, const struct alert *b)
{
    if (a->priority != b->priority)
        return a->priority > b->priority;
    int ra = state_rank(a->state), rb = state_rank(b->state);
    if (ra != rb)
        return ra < rb;
    if (a->raised.mono_ns != b->raised.mono_ns)
        return a->raised.mono_ns > b->raised.mono_ns;
    return a->id > b->id;
}

/* Nearly sorted each time: insertion sort. */
static void sort_list(struct alert_list *l)
{
    for (size_t i = 1; i < l->count; i++) {
        struct entry *e = l->order[i];
        size_t j = i;
        for (; j > 0 && comes_before(&e->alert, &l->order[j - 1]->alert); j--)
            l->order[j] = l->order[j - 1];
        l->order[j] = e;
    }
}

static void unlist(struct alert_list *l, struct entry *e)
{
    size_t i = 0;
    while (i < l->count && l->order[i] != e)
        i++;
    for (; i + 1 < l->count; i++)
        l->order[i] = l->order[i + 1];
    l->count--;
    e->used = false;
}

/* Off the list, into the history; the returned copy is good until the ring comes round. */
static const struct alert *retire(struct alert_list *l, struct entry *e)
{
    struct ended *h = &l->history[l->history_next];
    h->alert = e->alert;
    h->has_words = e->has_words;
    if (e->has_words)
        h->words = e->words;
    l->history_next = (l->history_next + 1) % ALERTS_HISTORY;
    if (l->history_count < ALERTS_HISTORY)
        l->history_count++;
    unlist(l, e);
    return &h->alert;
}

/* ---- finding and making entries ---- */

static struct claim *find_claim(const struct alert_list *l, uint32_t claimant, struct entry **out)
{
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        for (int k = 0; k < e->claim_count; k++)
            if (e->claims[k].claimant == claimant) {
                *out = e;
                return &e->claims[k];
            }
    }
    return NULL;
}

static bool same_situation(const struct situation *a, const struct situation *b)
{
    return a->group == b->group && a->iface == b->iface && a->source == b->source &&
           channel_id_same(a->id, b->id) && a->code == b->code;
}

/* A rectified one that nobody has acknowledged is taken up again, unless the new claim is weaker:
 * then the old alarm stays listed as what it was and the new alert stands beside it. */
static struct entry *find_situation(const struct alert_list *l, const struct situation *s,
                                    enum priority p)
{
    struct entry *waiting = NULL;
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        if (!same_situation(&e->alert.situation, s))
            continue;
        if (e->alert.active)
            return e;
        if (p >= e->alert.priority && !waiting)
            waiting = e;
    }
    return waiting;
}

/* The one that gives way when the list is full: a rectified one, else a weaker standing one. */
static struct entry *find_victim(const struct alert_list *l, enum priority p)
{
    struct entry *best = NULL;
    for (size_t i = l->count; i-- > 0;) {
        struct entry *e = l->order[i];
        if (e->alert.active)
            continue;
        if (!best || e->alert.priority < best->alert.priority ||
            (e->alert.priority == best->alert.priority &&
             e->alert.rectified.mono_ns < best->alert.rectified.mono_ns))
            best = e;
    }
    if (best && best->alert.priority <= p)
        return best;
    struct entry *last = l->order[l->count - 1];
    return last->alert.priority < p ? last : best;
}

static struct entry *new_entry(struct alert_list *l, enum priority p)
{
    if (l->count == ALERTS_MAX) {
        l->lost++;
        struct entry *victim = find_victim(l, p);
        if (!victim)
            return NULL;
        retire(l, victim);
    }
    struct entry *e = l->entries;
    while (e->used)
        e++;
    memset(e, 0, sizeof *e);
    e->used = true;
    e->alert.id = ++l->last_id;
    l->order[l->count++] = e;
    return e;
}

static struct claim *new_claim(struct entry *e, enum priority p)
{
    if (e->claim_count < ALERT_CLAIMS_MAX)
        return &e->claims[e->claim_count++];
    struct claim *weakest = &e->claims[0];
    for (int i = 1; i < ALERT_CLAIMS_MAX; i++)
        if (e->claims[i].priority <= weakest->priority)
            weakest = &e->claims[i];
    return weakest->priority < p ? weakest : NULL;
}

static void fill_claim(struct claim *to, const struct alert_claim *c)
{
    to->claimant = c->claimant;
    to->kind = c->kind;
    to->priority = c->priority;
    to->unit = c->unit;
    to->decimals = c->decimals;
    to->value = c->value;
    to->figures = c->figures;
    text_copy(to->rule, sizeof to->rule, c->rule ? c->rule : "");
    text_copy(to->channel, sizeof to->channel, c->channel ? c->channel : "");
    text_copy(to->text, sizeof to->text, c->text ? c->text : "");
    to->has_words = c->words != NULL;
    if (c->words)
        words_keep(&to->words, c->words);
}

/* ---- life ---- */

/* The strongest claim speaks; among equals the first, so that words do not jump about. */
static const struct claim *leader(const struct entry *e)
{
    const struct claim *best = &e->claims[0];
    for (int i = 1; i < e->claim_count; i++)
        if (e->claims[i].priority > best->priority)
            best = &e->claims[i];
    return best;
}

/* Takes the leader's words and figures; true when the words changed. */
static bool speak(struct entry *e, const struct claim *c)
{
    struct alert *a = &e->alert;
    bool changed = strcmp(a->text, c->text) != 0;
    a->kind = c->kind;
    a->value = c->value;
    a->unit = c->unit;
    a->decimals = c->decimals;
    a->figures = c->figures;
    if (changed)
        memcpy(a->text, c->text, sizeof a->text);
    memcpy(a->rule, c->rule, sizeof a->rule);
    memcpy(a->channel, c->channel, sizeof a->channel);
    e->has_words = c->has_words;
    if (c->has_words)
        e->words = c->words;
    return changed;
}

static void await(struct entry *e, enum priority p, struct stamp at)
{
    struct alert *a = &e->alert;
    a->priority = p;
    /* A caution needs no acknowledgement (MSC.302(87) 7.5): steady from the start. */
    a->state = p == PRIORITY_CAUTION ? ALERT_ACKNOWLEDGED : ALERT_UNACKNOWLEDGED;
    a->changed = at;
    e->unack_ns = at.mono_ns;
    e->sounded_ns = at.mono_ns;
}

static void raise_entry(struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    const struct claim *c = leader(e);
    if (a->state == ALERT_RECTIFIED)
        a->repeats++;
    a->active = true;
    a->raised = at;
    e->grown = false;
    speak(e, c);
    await(e, c->priority, at);
    sort_list(l);
    tell(l, EVENT_RAISED, a, at);
}

/* Sets a standing alert to what its claims say now. */
static void settle(struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    const struct claim *c = leader(e);
    enum priority p = c->priority;
    if (e->grown && p < PRIORITY_ALARM)
        p = PRIORITY_ALARM;
    bool changed = speak(e, c);
    if (p > a->priority) {
        enum priority before = a->priority;
        await(e, p, at);
        sort_list(l);
        tell_before(l, EVENT_ESCALATED, a, before, at);
        return;
    }
    /* Only what somebody has seen may become less. */
    if (p < a->priority && a->state == ALERT_ACKNOWLEDGED) {
        a->priority = p;
        a->changed = at;
        sort_list(l);
        changed = true;
    }
    if (changed)
        tell(l, EVENT_UPDATED, a, at);
}

static void rectify(struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    a->active = false;
    a->rectified = at;
    a->changed = at;
    if (a->state == ALERT_ACKNOWLEDGED) {
        a->state = ALERT_NORMAL;
        tell(l, EVENT_RECTIFIED, retire(l, e), at);
        return;
    }
    a->state = ALERT_RECTIFIED;
    sort_list(l);
    tell(l, EVENT_RECTIFIED, a, at);
}

void alerts_claim(struct alert_list *l, const struct alert_claim *c, struct stamp at)
{
    struct entry *e = NULL;
    struct claim *claim = find_claim(l, c->claimant, &e);
    if (!claim) {
        e = find_situation(l, &c->situation, c->priority);
        if (!e) {
            e = new_entry(l, c->priority);
            if (!e)
                return;
            e->alert.situation = c->situation;
        }
        claim = new_claim(e, c->priority);
        if (!claim)
            return;
    }
    fill_claim(claim, c);
    if (e->alert.active)
        settle(l, e, at);
    else
        raise_entry(l, e, at);
}

void alerts_withdraw(struct alert_list *l, uint32_t claimant, struct stamp at)
{
    struct entry *e;
    struct claim *claim = find_claim(l, claimant, &e);
    if (!claim)
        return;
    size_t after = (size_t)(&e->claims[e->claim_count] - claim) - 1;
    memmove(claim, claim + 1, after * sizeof *claim);
    e->claim_count--;
    if (e->claim_count == 0)
        rectify(l, e, at);
    else
        settle(l, e, at);
}

bool alerts_claimed(const struct alert_list *l, uint32_t claimant)
{
    struct entry *e;
    return find_claim(l, claimant, &e) != NULL;
}

bool alerts_standing(const struct alert_list *l, const struct situation *s)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->order[i]->alert.active && same_situation(&l->order[i]->alert.situation, s))
            return true;
    return false;
}

static struct entry *find_id(const struct alert_list *l, uint32_t id)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->order[i]->alert.id == id)
            return l->order[i];
    return NULL;
}

bool alerts_acknowledge(struct alert_list *l, uint32_t id, struct stamp at)
{
    struct entry *e = find_id(l, id);
    if (!e || e->alert.state == ALERT_ACKNOWLEDGED)
        return false;
    struct alert *a = &e->alert;
    a->acknowledged = at;
    a->changed = at;
    if (a->state == ALERT_RECTIFIED) {
        a->state = ALERT_NORMAL;
        tell(l, EVENT_ACKNOWLEDGED, retire(l, e), at);
        return true;
    }
    a->state = ALERT_ACKNOWLEDGED;
    sort_list(l);
    tell(l, EVENT_ACKNOWLEDGED, a, at);
    return true;
}

static struct stamp rebase(struct stamp t, struct stamp now)
{
    int64_t age = now.wall_ns - t.wall_ns;
    t.mono_ns = now.mono_ns - (age > 0 && age < now.mono_ns ? age : 0);
    return t;
}

bool alerts_restore(struct alert_list *l, const struct alert *a, struct stamp at)
{
    if (a->priority == PRIORITY_CAUTION || a->state == ALERT_ACKNOWLEDGED ||
        a->state == ALERT_NORMAL || l->count == ALERTS_MAX || find_id(l, a->id))
        return false;
    struct entry *e = new_entry(l, a->priority);
    if (!e)
        return false;
    e->alert = *a;
    e->alert.active = false;
    e->alert.state = ALERT_RECTIFIED;
    e->alert.raised = rebase(a->raised, at);
    e->alert.changed = at;
    e->alert.rectified = a->active ? at : rebase(a->rectified, at);
    l->last_id--; /* new_entry took one */
    if (a->id > l->last_id)
        l->last_id = a->id;
    sort_list(l);
    tell(l, EVENT_UPDATED, &e->alert, at);
    return true;
}

void alerts_silence(struct alert_list *l, struct stamp at)
{
    for (size_t i = 0; i < l->count; i++) {
        struct alert *a = &l->order[i]->alert;
        if (a->state != ALERT_UNACKNOWLEDGED)
            continue;
        a->state = ALERT_SILENCED;
        a->silent_until_ns = at.mono_ns + l->setting.silence_ns;
        a->changed = at;
        tell(l, EVENT_SILENCED, a, at);
    }
}

void alerts_tick(struct alert_list *l, struct stamp now)
{
    bool moved = false;
    struct entry *grown[ALERTS_MAX];
    size_t grown_count = 0;
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        struct alert *a = &e->alert;
        if (a->state != ALERT_UNACKNOWLEDGED && a->state != ALERT_SILENCED)
            continue;
        if (l->escalate && a->priority == PRIORITY_WARNING &&
            now.mono_ns - e->unack_ns >= l->setting.escalate_ns) {
            e->grown = true;
            await(e, PRIORITY_ALARM, now);
            grown[grown_count++] = e;
            moved = true;
        } else if (a->state == ALERT_SILENCED && now.mono_ns >= a->silent_until_ns) {
            a->state = ALERT_UNACKNOWLEDGED;
            a->changed = now;
            tell(l, EVENT_UPDATED, a, now);
        }
    }
    if (moved)
        sort_list(l);
    for (size_t i = 0; i < grown_count; i++)
        tell_before(l, EVENT_ESCALATED, &grown[i]->alert, PRIORITY_WARNING, now);
}
