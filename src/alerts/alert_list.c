#include "alerts/alert_list.h"

#include <string.h>

#include "base/banned.h"

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

/* Among equals a fire first, and what only time has made an alarm after what is one by itself. */
static int weight(const struct entry *e)
{
    return e->alert.trouble == TROUBLE_FIRE ? 2 : !e->grown;
}

static bool comes_before(const struct entry *x, const struct entry *y)
{
    const struct alert *a = &x->alert, *b = &y->alert;
    if (a->priority != b->priority)
        return a->priority > b->priority;
    int ra = state_rank(a->state), rb = state_rank(b->state);
    if (ra != rb)
        return ra < rb;
    if (weight(x) != weight(y))
        return weight(x) > weight(y);
    if (a->raised.mono_ns != b->raised.mono_ns)
        return a->raised.mono_ns > b->raised.mono_ns;
    return a->id > b->id;
}

/* Nearly sorted each time: insertion sort. */
void list_sort(struct alert_list *l)
{
    for (size_t i = 1; i < l->count; i++) {
        struct entry *e = l->order[i];
        size_t j = i;
        for (; j > 0 && comes_before(e, l->order[j - 1]); j--)
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

void list_say(const struct alert_list *l, struct entry *e)
{
    if (!e->unsaid)
        return;
    e->unsaid = false;
    e->saying.fire = l->fire;
    saying_build(&e->saying, &e->alert, l->settings, l->utc);
}

/* Off the list, into the history; the returned copy is good until the ring comes round. */
const struct alert *list_retire(struct alert_list *l, struct entry *e)
{
    struct ended *h = &l->history[l->history_next];
    list_say(l, e);
    h->alert = e->alert;
    h->saying = e->saying;
    l->history_next = (l->history_next + 1) % ALERTS_HISTORY;
    if (l->history_count < ALERTS_HISTORY)
        l->history_count++;
    unlist(l, e);
    return &h->alert;
}

/* ---- finding and making entries ---- */

struct claim *list_claim(const struct alert_list *l, uint32_t claimant, struct entry **out)
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

bool situation_same(const struct situation *a, const struct situation *b)
{
    return a->group == b->group && a->iface == b->iface && a->source == b->source &&
           channel_id_same(a->id, b->id) && a->code == b->code;
}

/* A rectified one that nobody has acknowledged is taken up again, unless the new claim is weaker:
 * then the old alarm stays listed as what it was and the new alert stands beside it. */
struct entry *list_situation(const struct alert_list *l, const struct situation *s, enum priority p)
{
    struct entry *waiting = NULL;
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        if (!situation_same(&e->alert.situation, s))
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

struct entry *list_entry(struct alert_list *l, enum priority p)
{
    if (l->count == ALERTS_MAX) {
        l->lost++;
        struct entry *victim = find_victim(l, p);
        if (!victim)
            return NULL;
        list_retire(l, victim);
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

struct entry *list_id(const struct alert_list *l, uint32_t id)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->order[i]->alert.id == id)
            return l->order[i];
    return NULL;
}

/* ---- what may be asked ---- */

bool alert_is_trial(const struct alert *a)
{
    return strcmp(a->rule, ALERT_TRIAL_RULE) == 0;
}

size_t alerts_count(const struct alert_list *l)
{
    return l->count;
}

const struct alert *alerts_at(const struct alert_list *l, size_t i)
{
    if (i >= l->count)
        return NULL;
    list_say(l, l->order[i]);
    return &l->order[i]->alert;
}

const struct alert *alerts_by_id(const struct alert_list *l, uint32_t id)
{
    struct entry *e = list_id(l, id);
    if (!e)
        return NULL;
    list_say(l, e);
    return &e->alert;
}

size_t alerts_count_priority(const struct alert_list *l, enum priority p)
{
    size_t n = 0;
    for (size_t i = 0; i < l->count; i++)
        n += l->order[i]->alert.priority == p;
    return n;
}

uint64_t alerts_lost(const struct alert_list *l)
{
    return l->lost;
}

size_t alerts_history_count(const struct alert_list *l)
{
    return l->history_count;
}

const struct alert *alerts_history_at(const struct alert_list *l, size_t i)
{
    if (i >= l->history_count)
        return NULL;
    return &l->history[(l->history_next + ALERTS_HISTORY - 1 - i) % ALERTS_HISTORY].alert;
}
