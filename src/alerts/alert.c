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
/* A return within FLAP_NS of the one before is one more of what flaps (FLAPS_MAX of them do); it is
 * over after FLAP_CALM_NS without another. Common practice, no source. */
#define FLAP_NS      (5 * 60 * NS_PER_S)
#define FLAP_CALM_NS (60 * NS_PER_S)

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

void alerts_utc(struct alert_list *l, bool utc)
{
    l->utc = utc;
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

static void tell_listeners(const struct alert_list *l, const struct alert_event *ev)
{
    for (int i = 0; i < l->listener_count; i++)
        l->listeners[i].f(l->listeners[i].ctx, ev);
}

/* Of what goes on for minutes, words are built for those alone who ask. */
static void tell_before(struct alert_list *l, enum alert_event_kind event, struct entry *e,
                        enum priority before, struct stamp at)
{
    if (event != EVENT_UPDATED)
        list_say(l, e);
    tell_listeners(l, &(struct alert_event){event, at, &e->alert, before});
}

static void tell(struct alert_list *l, enum alert_event_kind event, struct entry *e,
                 struct stamp at)
{
    tell_before(l, event, e, e->alert.priority, at);
}

/* Takes it off the list; this is the last that is told of it. */
static void tell_retired(struct alert_list *l, enum alert_event_kind event, struct entry *e,
                         struct stamp at)
{
    const struct alert *a = list_retire(l, e);
    tell_listeners(l, &(struct alert_event){event, at, a, a->priority});
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
    to->trouble = c->trouble;
    to->stage = c->stage;
    to->engine = action_all_engines(c->trouble) ? ALERT_ALL_ENGINES : c->engine;
    to->worse = c->worse;
    to->cause = c->cause;
    to->beyond = c->beyond;
    to->dark = c->dark;
    to->passed = c->passed;
    to->already = c->already;
    text_copy(to->rule, sizeof to->rule, c->rule ? c->rule : "");
    text_copy(to->channel, sizeof to->channel, c->channel ? c->channel : "");
    text_copy(to->text, sizeof to->text, c->text ? c->text : "");
    to->has_words = c->words != NULL;
    if (c->words)
        words_keep(&to->words, c->words);
}

/* ---- life ---- */

static bool leads(const struct claim *c, const struct claim *before, const char *named)
{
    if (c->cause != before->cause)
        return c->cause;
    if (c->priority != before->priority)
        return c->priority > before->priority;
    return strcmp(c->channel, named) == 0 && strcmp(before->channel, named) != 0;
}

/* The cause speaks, else the strongest claim; among equals one of the channel that is named
 * already, else the first, so that words do not jump about. */
static const struct claim *leader(const struct entry *e)
{
    const struct claim *best = &e->claims[0];
    for (int i = 1; i < e->claim_count; i++)
        if (leads(&e->claims[i], best, e->alert.channel))
            best = &e->claims[i];
    return best;
}

static enum priority strongest(const struct entry *e)
{
    enum priority p = e->claims[0].priority;
    for (int i = 1; i < e->claim_count; i++)
        if (e->claims[i].priority > p)
            p = e->claims[i].priority;
    return p;
}

static bool engine_stands(const struct alert_list *l, int engine)
{
    if (engine == ALERT_ALL_ENGINES)
        return l->known && l->stopped == l->known;
    return engine > 0 && (l->stopped >> (engine - 1) & 1);
}

static void find_stage(const struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    for (int i = 0; i < e->claim_count; i++)
        if (e->claims[i].stage > e->reached)
            e->reached = e->claims[i].stage;
    bool stands = engine_stands(l, a->engine);
    if (stands && a->stage != STAGE_STOPPED)
        a->stopped = at;
    a->stage = stands ? STAGE_STOPPED : e->reached;
}

static struct worst *worst_of(struct entry *e, const char *channel)
{
    for (int i = 0; i < e->worst_count; i++)
        if (strcmp(e->worst[i].channel, channel) == 0)
            return &e->worst[i];
    if (e->worst_count == WORST_MAX)
        return NULL;
    struct worst *w = &e->worst[e->worst_count++];
    *w = (struct worst){.value = NAN};
    text_copy(w->channel, sizeof w->channel, channel);
    return w;
}

/* Returns where it was noted; NULL where there is no room. */
static struct worst *note_claim(struct entry *e, const struct claim *c, struct stamp at)
{
    struct worst *w = worst_of(e, c->channel);
    if (!w)
        return NULL;
    if (c->worse != 0 && isfinite(c->value) && !c->dark &&
        (!isfinite(w->value) || (c->value - w->value) * c->worse > 0)) {
        w->value = c->value;
        w->worse = (int8_t)c->worse;
        w->unit = c->unit;
        w->decimals = c->decimals;
        w->at = at;
    }
    if (c->beyond && w->passed.wall_ns == 0) {
        w->passed = c->passed.wall_ns ? c->passed : at;
        w->already = c->already;
    }
    return w;
}

/* What is worst, and how long the limit has been passed, channel by channel; the alert tells those
 * of the channel that it names. */
static void find_worst(struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    bool beyond[WORST_MAX] = {false};
    for (int i = 0; i < e->claim_count; i++) {
        const struct worst *w = note_claim(e, &e->claims[i], at);
        if (w && e->claims[i].beyond)
            beyond[w - e->worst] = true;
    }
    for (int i = 0; i < e->worst_count; i++) {
        struct worst *w = &e->worst[i];
        if (beyond[i] && w->since_ns == 0)
            w->since_ns = w->beyond_ns == 0 ? w->passed.mono_ns : at.mono_ns;
        if (w->since_ns > 0) {
            w->beyond_ns += at.mono_ns - w->since_ns;
            w->since_ns = beyond[i] ? at.mono_ns : 0;
        }
    }
    const struct worst *named = worst_of(e, a->channel);
    a->worst = named ? named->value : NAN;
    a->worse = named ? named->worse : 0;
    a->worst_at = named ? named->at : (struct stamp){0};
    a->limit_passed = named ? named->passed : (struct stamp){0};
    a->already = named && named->already;
    a->beyond_ns = named ? named->beyond_ns : 0;
}

/* For the end of the story. */
static void tell_others(struct entry *e)
{
    struct alert *a = &e->alert;
    a->also_count = 0;
    for (int i = 0; i < e->worst_count && a->also_count < ALERT_ALSO_MAX; i++) {
        const struct worst *w = &e->worst[i];
        if (w->passed.wall_ns == 0 || strcmp(w->channel, a->channel) == 0)
            continue;
        struct alert_also *also = &a->also[a->also_count++];
        *also = (struct alert_also){.worst = w->value,
                                    .worse = w->worse,
                                    .unit = w->unit,
                                    .decimals = w->decimals,
                                    .worst_at = w->at,
                                    .limit_passed = w->passed,
                                    .beyond_ns = w->beyond_ns,
                                    .already = w->already};
        text_copy(also->channel, sizeof also->channel, w->channel);
    }
}

/* What the leader says is kept; whoever reads the text has it built (list_say). True where it
 * says something new. */
static bool take_words(struct entry *e, const struct claim *c)
{
    struct saying *said = &e->saying;
    bool same =
        !said->over && said->has_words == c->has_words &&
        (c->has_words ? words_same(&said->words, &c->words) : strcmp(said->line, c->text) == 0);
    said->over = false;
    said->has_words = c->has_words;
    if (c->has_words)
        said->words = c->words;
    else
        memcpy(said->line, c->text, sizeof said->line);
    e->unsaid = true;
    return !same;
}

/* Takes the leader's words and figures; true when it says something new. */
static bool speak(const struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    const struct claim *c = leader(e);
    memcpy(a->channel, c->channel, sizeof a->channel);
    a->kind = c->kind;
    a->value = c->value;
    a->unit = c->unit;
    a->decimals = c->decimals;
    a->figures = c->figures;
    /* What was called a fire is called nothing less until it is over. */
    if (a->trouble != TROUBLE_FIRE || !a->active || c->trouble != TROUBLE_SPACE)
        a->trouble = c->trouble;
    a->engine = c->engine;
    memcpy(a->rule, c->rule, sizeof a->rule);
    find_stage(l, e, at);
    find_worst(e, at);
    return take_words(e, c);
}

static void await(struct entry *e, enum priority p, struct stamp at)
{
    struct alert *a = &e->alert;
    a->priority = p;
    /* A caution needs no acknowledgement (MSC.302(87) 7.5): steady from the start. */
    a->state = p == PRIORITY_CAUTION ? ALERT_ACKNOWLEDGED : ALERT_UNACKNOWLEDGED;
    a->acknowledged = (struct stamp){0}; /* who saw less has not seen this */
    a->changed = at;
    e->unack_ns = at.mono_ns;
    e->sounded_ns = at.mono_ns;
}

/* How often this situation came and went lately. */
static void count_return(struct alert_list *l, struct alert *a, struct stamp at)
{
    struct recent *oldest = &l->recent[0];
    for (int i = 0; i < RECENT_MAX; i++) {
        struct recent *r = &l->recent[i];
        if (r->last_ns > 0 && situation_same(&r->situation, &a->situation)) {
            oldest = r;
            break;
        }
        if (r->last_ns < oldest->last_ns)
            oldest = r;
    }
    bool again = oldest->last_ns > 0 && at.mono_ns - oldest->last_ns <= FLAP_NS &&
                 situation_same(&oldest->situation, &a->situation);
    if (!again)
        *oldest = (struct recent){.situation = a->situation, .first = at};
    else
        oldest->returns++;
    oldest->last_ns = at.mono_ns;
    a->repeats = oldest->returns;
    a->first = oldest->first;
}

/* Whether one that says so is listed changes what the others ask to be done: until somebody has
 * acknowledged that a fire is over, nobody is sent to the engines. */
static void heed_fire(struct alert_list *l, struct stamp at)
{
    bool fire = false;
    for (size_t i = 0; i < l->count && !fire; i++)
        fire = action_is_fire(l->order[i]->alert.trouble, l->order[i]->alert.stage);
    if (fire == l->fire)
        return;
    l->fire = fire;
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        if (!e->saying.has_words || !action_goes_in(e->alert.trouble, e->alert.stage))
            continue;
        e->unsaid = true;
        if (e->alert.active)
            tell(l, EVENT_UPDATED, e, at);
    }
}

static void raise_entry(struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    count_return(l, a, at);
    a->active = true;
    a->raised = at;
    a->worst = NAN;
    a->limit_passed = a->stopped = (struct stamp){0};
    a->beyond_ns = 0;
    a->already = false;
    a->also_count = 0;
    e->worst_count = 0;
    a->stage = e->reached = STAGE_SUSPECTED;
    e->grown = false;
    speak(l, e, at);
    await(e, strongest(e), at);
    list_sort(l);
    tell(l, EVENT_RAISED, e, at);
    heed_fire(l, at);
}

/* Sets a standing alert to what its claims say now. */
static void settle(struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    enum priority p = strongest(e);
    enum alert_stage stage = a->stage;
    enum trouble trouble = a->trouble;
    if (e->grown && p < PRIORITY_ALARM)
        p = PRIORITY_ALARM;
    bool changed = speak(l, e, at);
    if (a->trouble != trouble || a->stage != stage) {
        heed_fire(l, at);
        list_sort(l);
    }
    if (p > a->priority) {
        enum priority before = a->priority;
        await(e, p, at);
        list_sort(l);
        tell_before(l, EVENT_ESCALATED, e, before, at);
        return;
    }
    /* Only what somebody has seen may become less. */
    if (p < a->priority && a->state == ALERT_ACKNOWLEDGED) {
        a->priority = p;
        a->changed = at;
        list_sort(l);
        changed = true;
    }
    if (a->stage != stage)
        tell(l, EVENT_CHANGED, e, at);
    else if (changed)
        tell(l, EVENT_UPDATED, e, at);
}

static void rectify(struct alert_list *l, struct entry *e, struct stamp at)
{
    struct alert *a = &e->alert;
    find_worst(e, at);
    tell_others(e);
    a->active = false;
    a->rectified = at;
    a->changed = at;
    a->stage = STAGE_OVER;
    e->calm_ns = 0;
    e->saying.over = true;
    if (isfinite(e->saying.value))
        a->value = e->saying.value;
    e->unsaid = true;
    heed_fire(l, at);
    if (a->state == ALERT_ACKNOWLEDGED) {
        a->state = ALERT_NORMAL;
        tell_retired(l, EVENT_RECTIFIED, e, at);
        heed_fire(l, at);
        return;
    }
    a->state = ALERT_RECTIFIED;
    list_sort(l);
    tell(l, EVENT_RECTIFIED, e, at);
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
    if (!e->alert.active) {
        raise_entry(l, e, at);
        return;
    }
    if (e->calm_ns > 0) { /* flapping: here it is again */
        e->calm_ns = 0;
        count_return(l, &e->alert, at);
    }
    settle(l, e, at);
}

static const char *phrase_of(enum alert_end why)
{
    switch (why) {
    case END_BACK:
        return "back to " WORDS_VALUE;
    case END_STOPPED:
        return WORDS_VALUE ", engine stopped";
    case END_ANSWERS:
        return "answers again, " WORDS_VALUE;
    case END_COOLED:
        return "off, has had the time to cool, last " WORDS_VALUE;
    case END_OFF:
        return "switched off";
    case END_JOINED:
        return WORDS_VALUE ", told with the exhaust";
    case END_GONE:
        break;
    }
    return ""; /* what it was, and that it is over */
}

void alerts_end(struct alert_list *l, uint32_t claimant, enum alert_end why, double value,
                struct stamp at)
{
    struct entry *e;
    struct claim *claim = list_claim(l, claimant, &e);
    if (!claim)
        return;
    const struct alert *a = &e->alert;
    bool same = strcmp(claim->channel, a->channel) == 0;
    size_t after = (size_t)(&e->claims[e->claim_count] - claim) - 1;
    memmove(claim, claim + 1, after * sizeof *claim);
    e->claim_count--;
    if (e->claim_count > 0) {
        settle(l, e, at);
        return;
    }
    e->saying.value = same ? value : NAN;
    text_copy(e->saying.phrase, sizeof e->saying.phrase, phrase_of(why));
    if (a->repeats >= FLAPS_MAX)
        e->calm_ns = at.mono_ns + FLAP_CALM_NS;
    else
        rectify(l, e, at);
}

void alerts_withdraw(struct alert_list *l, uint32_t claimant, struct stamp at)
{
    alerts_end(l, claimant, END_GONE, NAN, at);
}

void alerts_engine(struct alert_list *l, int engine, bool stopped, struct stamp at)
{
    if (engine < 0 || engine >= ALERT_ENGINES)
        return;
    uint8_t bit = (uint8_t)(1u << engine);
    l->known |= bit;
    l->stopped = (uint8_t)(stopped ? l->stopped | bit : l->stopped & ~bit);
    struct entry *changed[ALERTS_MAX];
    size_t n = 0;
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        bool stands = engine_stands(l, e->alert.engine);
        if (e->alert.active && e->claim_count > 0 && stands != (e->alert.stage == STAGE_STOPPED))
            changed[n++] = e;
    }
    for (size_t i = 0; i < n; i++)
        settle(l, changed[i], at);
}

void alerts_finish(struct alert_list *l, struct stamp at)
{
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        find_worst(e, at);
        tell_others(e);
        if (e->alert.active)
            tell(l, EVENT_ENDED, e, at);
    }
}

bool alerts_follow(struct alert_list *l, size_t i, enum quantity q, double value)
{
    struct entry *e = i < l->count ? l->order[i] : NULL;
    if (!e || !e->alert.active || e->claim_count == 0 || !e->saying.has_words || e->saying.over)
        return false;
    struct words *w = &e->saying.words.words;
    if (w->quantity != q || !isfinite(w->value) || !(fabs(w->value - value) > 0))
        return false;
    w->value = e->alert.value = e->alert.figures.value = value;
    e->unsaid = true;
    return true;
}

bool alerts_standing(const struct alert_list *l, const struct situation *s)
{
    for (size_t i = 0; i < l->count; i++)
        if (l->order[i]->alert.active && situation_same(&l->order[i]->alert.situation, s))
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
        tell_retired(l, EVENT_ACKNOWLEDGED, e, at);
        heed_fire(l, at);
        return true;
    }
    a->state = ALERT_ACKNOWLEDGED;
    list_sort(l);
    tell(l, EVENT_ACKNOWLEDGED, e, at);
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
    e->alert.stage = STAGE_OVER;
    e->alert.active = false;
    e->alert.state = ALERT_RECTIFIED;
    e->alert.raised = rebase(a->raised, at);
    e->alert.changed = at;
    e->alert.rectified = a->active ? at : rebase(a->rectified, at);
    l->last_id--; /* list_entry took one */
    if (a->id > l->last_id)
        l->last_id = a->id;
    list_sort(l);
    tell(l, EVENT_UPDATED, e, at);
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
        tell(l, EVENT_SILENCED, l->order[i], at);
    }
}

void alerts_tick(struct alert_list *l, struct stamp now)
{
    bool moved = false;
    struct entry *grown[ALERTS_MAX];
    struct entry *calm[ALERTS_MAX];
    size_t grown_count = 0, calm_count = 0;
    for (size_t i = 0; i < l->count; i++) {
        struct entry *e = l->order[i];
        struct alert *a = &e->alert;
        if (e->calm_ns > 0 && now.mono_ns >= e->calm_ns)
            calm[calm_count++] = e;
        if (a->active && a->limit_passed.wall_ns) /* it goes on, though nobody claims it again */
            find_worst(e, now);
        if (a->state != ALERT_UNACKNOWLEDGED && a->state != ALERT_SILENCED)
            continue;
        bool waits = l->escalate && a->priority == PRIORITY_WARNING &&
                     now.mono_ns - e->unack_ns >= l->setting.escalate_ns;
        if (waits && a->kind == KIND_SEASON) { /* weeks away: said again, never an alarm */
            e->unack_ns = e->sounded_ns = now.mono_ns;
        } else if (waits) {
            e->grown = true;
            await(e, PRIORITY_ALARM, now);
            grown[grown_count++] = e;
            moved = true;
        } else if (a->state == ALERT_SILENCED && now.mono_ns >= a->silent_until_ns) {
            a->state = ALERT_UNACKNOWLEDGED;
            a->changed = now;
            tell(l, EVENT_UPDATED, e, now);
        }
    }
    if (moved)
        list_sort(l);
    for (size_t i = 0; i < grown_count; i++)
        tell_before(l, EVENT_ESCALATED, grown[i], PRIORITY_WARNING, now);
    for (size_t i = 0; i < calm_count; i++)
        rectify(l, calm[i], now);
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

void alerts_reword(struct alert_list *l, const struct settings *s)
{
    l->settings = s;
    for (size_t i = 0; i < l->count; i++)
        l->order[i]->unsaid = true;
    for (size_t i = 0; i < l->history_count; i++)
        saying_build(&l->history[i].saying, &l->history[i].alert, s, l->utc);
}
