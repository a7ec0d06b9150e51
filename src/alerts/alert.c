#include "alerts/alert.h"

#include "alerts/alert_list.h"
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
    list_sort(l);
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
        list_sort(l);
        tell_before(l, EVENT_ESCALATED, a, before, at);
        return;
    }
    /* Only what somebody has seen may become less. */
    if (p < a->priority && a->state == ALERT_ACKNOWLEDGED) {
        a->priority = p;
        a->changed = at;
        list_sort(l);
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
        tell(l, EVENT_RECTIFIED, list_retire(l, e), at);
        return;
    }
    a->state = ALERT_RECTIFIED;
    list_sort(l);
    tell(l, EVENT_RECTIFIED, a, at);
}

void alerts_claim(struct alert_list *l, const struct alert_claim *c, struct stamp at)
{
    struct entry *e = NULL;
    struct claim *claim = list_claim(l, c->claimant, &e);
    if (!claim) {
        e = list_situation(l, &c->situation, c->priority);
        if (!e) {
            e = list_entry(l, c->priority);
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
    struct claim *claim = list_claim(l, claimant, &e);
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
    return list_claim(l, claimant, &e) != NULL;
}

bool alerts_standing(const struct alert_list *l, const struct situation *s)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->order[i]->alert.active && list_same_situation(&l->order[i]->alert.situation, s))
            return true;
    return false;
}

bool alerts_acknowledge(struct alert_list *l, uint32_t id, struct stamp at)
{
    struct entry *e = list_id(l, id);
    if (!e || e->alert.state == ALERT_ACKNOWLEDGED)
        return false;
    struct alert *a = &e->alert;
    a->acknowledged = at;
    a->changed = at;
    if (a->state == ALERT_RECTIFIED) {
        a->state = ALERT_NORMAL;
        tell(l, EVENT_ACKNOWLEDGED, list_retire(l, e), at);
        return true;
    }
    a->state = ALERT_ACKNOWLEDGED;
    list_sort(l);
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
        a->state == ALERT_NORMAL || l->count == ALERTS_MAX || list_id(l, a->id))
        return false;
    struct entry *e = list_entry(l, a->priority);
    if (!e)
        return false;
    e->alert = *a;
    e->alert.active = false;
    e->alert.state = ALERT_RECTIFIED;
    e->alert.raised = rebase(a->raised, at);
    e->alert.changed = at;
    e->alert.rectified = a->active ? at : rebase(a->rectified, at);
    l->last_id--; /* list_entry took one */
    if (a->id > l->last_id)
        l->last_id = a->id;
    list_sort(l);
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
        list_sort(l);
    for (size_t i = 0; i < grown_count; i++)
        tell_before(l, EVENT_ESCALATED, &grown[i]->alert, PRIORITY_WARNING, now);
}

enum alert_sound alerts_sound(const struct alert_list *l, struct stamp now)
{
    enum alert_sound sound = SOUND_NONE;
    for (size_t i = 0; i < l->count; i++) {
        const struct entry *e = l->order[i];
        if (e->alert.state != ALERT_UNACKNOWLEDGED)
            continue;
        if (e->alert.priority >= PRIORITY_ALARM)
            return SOUND_ALARM;
        if (e->alert.priority == PRIORITY_WARNING &&
            now.mono_ns - e->sounded_ns < ALERT_WARNING_SOUND_NS)
            sound = SOUND_WARNING;
    }
    return sound;
}

char alert_priority_letter(enum priority p)
{
    static const char letters[] = {
        [PRIORITY_CAUTION] = 'C',
        [PRIORITY_WARNING] = 'W',
        [PRIORITY_ALARM] = 'A',
        [PRIORITY_EMERGENCY] = 'E',
    };
    return (unsigned)p < sizeof letters ? letters[p] : '?';
}

const char *alert_state_text(enum alert_state s)
{
    switch (s) {
    case ALERT_NORMAL:
        return "normal";
    case ALERT_UNACKNOWLEDGED:
        return "unacknowledged";
    case ALERT_SILENCED:
        return "silenced";
    case ALERT_ACKNOWLEDGED:
        return "acknowledged";
    case ALERT_RECTIFIED:
        return "rectified unacknowledged";
    }
    return "unknown";
}

/* ---- words ---- */

static void reword(char text[ALERT_TEXT_SIZE], bool has_words, const struct words_kept *words,
                   const struct settings *s)
{
    if (has_words)
        words_build_kept(text, ALERT_TEXT_SIZE, words, s, WORDS_COLUMNS);
}

void alerts_reword(struct alert_list *l, const struct settings *s)
{
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        reword(e->alert.text, e->has_words, &e->words, s);
        for (int k = 0; k < e->claim_count; k++)
            reword(e->claims[k].text, e->claims[k].has_words, &e->claims[k].words, s);
    }
    for (size_t i = 0; i < l->history_count; i++)
        reword(l->history[i].alert.text, l->history[i].has_words, &l->history[i].words, s);
}
