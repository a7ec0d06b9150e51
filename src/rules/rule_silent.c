/* silent: a channel that was there has stopped, or says that it has no value. A box that falls
 * silent as a whole gives one alert that names the sender, not one for each of its values; so do
 * three or more values that a box loses together, and boxes of one bus that fall silent within
 * seconds of each other while somebody else still speaks there (a feed, a branch of the cable).
 * What a rule depends on is a warning at least (sensor loss must itself alert: A.1021(26) and
 * bridge guideline MSC/Circ. 5.4.1.4). A bus that is quiet as a whole is one alert of kind `bus`
 * (rule_bus.c), which holds these back. Switched off is not silent; a value that an engine box does
 * not have while its engine stands is no loss. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define GROUPS_MAX  64
#define TALLIES_MAX 64
#define BACK_NS     (10 * NS_PER_S) /* for boxes that got their power back to start */
#define WITH_KEY_NS                                                                                \
    (30 * NS_PER_S) /* who falls silent so long before its engine did not go with it */
#define TOGETHER 3  /* values lost together by a box that still speaks */
#define IFACES   16 /* as in bus/source.h */
/* Boxes whose last frames lie no further apart fell silent together: some send every 2.5 s. Common
 * practice, no source. */
#define FALL_NS (3 * NS_PER_S)

enum group_code { GROUP_WHOLE, GROUP_VALUES, GROUP_BOXES };

struct group {
    bool used;
    uint8_t iface, source, code;
    uint32_t claimant;
    int members, said_members;
    const struct binding *worst, *named; /* of its members; the one that its words name */
    enum priority priority;
    uint32_t boxes[8]; /* GROUP_BOXES: a bit for each source address */
    struct situation situation;
};

/* The first of an interface's boxes to be told silent: those that fell with it join its alert. */
struct fall {
    bool used;
    uint8_t source;
    int64_t last_ns; /* its last frame */
    const struct binding *first;
    struct situation situation;
};

struct tally { /* of one sweep: what a sender has newly lost */
    uint8_t iface, source;
    int count;
};

struct rule_silent {
    int lost; /* bindings with lost_ns */
    int group_count;
    struct group groups[GROUPS_MAX];
    struct tally tallies[TALLIES_MAX];
    int tally_count;
    struct fall falls[IFACES];
};

struct silent_watch {
    int64_t lost_ns; /* 0: there */
    int64_t back_ns; /* good again since; 0: still lost */
    uint8_t group;   /* index + 1 of the sender's alert that speaks for it; 0: none */
    bool held;       /* the quiet bus's alert does */
};
RULE_KEPT_FITS(struct silent_watch);

static void silent_status(void *own, struct binding *b, struct stamp at)
{
    struct rule_silent *k = own;
    const struct channel *c = b->channel;
    struct silent_watch *s = rule_kept(b);
    if (c->status == READING_OK) {
        if (s->lost_ns && !s->back_ns)
            s->back_ns = at.mono_ns;
        return;
    }
    s->back_ns = 0;
    if (s->lost_ns || c->readings == 0 || !c->repeats)
        return;
    s->lost_ns = at.mono_ns;
    k->lost++;
}

static void silent_gap(struct binding *b, struct stamp now)
{
    struct silent_watch *s = rule_kept(b);
    if (s->lost_ns && s->lost_ns < now.mono_ns)
        s->lost_ns = now.mono_ns;
}

static void found(struct rules *r, struct rule_silent *k, struct binding *b, struct stamp now)
{
    struct silent_watch *s = rule_kept(b);
    *s = (struct silent_watch){0};
    k->lost--;
    rule_end(r, b, END_ANSWERS, now);
}

static bool matters(const struct rules *r, const struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    if (c->switched_off || !rule_may_look(r, b->rule, c, true, now.mono_ns))
        return false;
    if (c->status != READING_STALE && c->engine >= 0 &&
        plant_engine(r->plant, c->engine)->state != ENGINE_RUNNING)
        return false;
    return true;
}

static bool sender_is_silent(const struct rules *r, const struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    /* Never NULL: the plant has heard the channel from there. */
    const struct source_seen *s = plant_source(r->plant, c->iface, c->source);
    int64_t least = b->rule->hold_ns > 2 * NS_PER_S ? b->rule->hold_ns : 2 * NS_PER_S;
    return c->status == READING_STALE && now.mono_ns - s->last_ns >= least;
}

static struct tally *tally_of(struct rule_silent *k, const struct channel *c)
{
    for (int i = 0; i < k->tally_count; i++)
        if (k->tallies[i].iface == c->iface && k->tallies[i].source == c->source)
            return &k->tallies[i];
    if (k->tally_count == TALLIES_MAX)
        return NULL;
    struct tally *t = &k->tallies[k->tally_count++];
    *t = (struct tally){c->iface, c->source, 0};
    return t;
}

/* The boxes that fell join the alert of the first; one that was a party to a conflict stays in
 * that. */
static struct situation group_situation(const struct rules *r, const struct rule_silent *k,
                                        const struct channel *c, enum group_code code)
{
    const struct channel *second = rule_conflict_of(r, c);
    if (code == GROUP_BOXES)
        return k->falls[c->iface].situation;
    if (code == GROUP_WHOLE && second)
        return rule_conflict_situation(second);
    return (struct situation){
        .group = SITUATION_SENDER, .iface = c->iface, .source = c->source, .code = code};
}

static int group_of(struct rules *r, struct rule_silent *k, const struct channel *c,
                    enum group_code code)
{
    int empty = -1;
    for (int i = 0; i < GROUPS_MAX; i++) {
        struct group *g = &k->groups[i];
        if (!g->used)
            empty = empty < 0 ? i : empty;
        else if (g->iface == c->iface && g->code == code &&
                 (code == GROUP_BOXES || g->source == c->source))
            return i;
    }
    if (empty < 0)
        return -1;
    k->groups[empty] = (struct group){.used = true,
                                      .iface = c->iface,
                                      .source = c->source,
                                      .code = (uint8_t)code,
                                      .claimant = rule_new_claimant(r),
                                      .situation = group_situation(r, k, c, code)};
    k->group_count++;
    return empty;
}

static bool has_group(const struct rule_silent *k, const struct channel *c)
{
    for (int i = 0; i < GROUPS_MAX; i++)
        if (k->groups[i].used && k->groups[i].code == GROUP_WHOLE &&
            k->groups[i].iface == c->iface && k->groups[i].source == c->source)
            return true;
    return false;
}

static enum priority weight(const struct binding *b)
{
    enum priority p = b->rule->priority;
    return rule_channel(b->channel)->needed && p < PRIORITY_WARNING ? PRIORITY_WARNING : p;
}

/* Which of two lost values to name: the heavier, exhaust before all. */
static bool worse(const struct binding *a, const struct binding *b)
{
    if (!b)
        return true;
    bool ea = a->channel->id.quantity == QTY_EXHAUST, eb = b->channel->id.quantity == QTY_EXHAUST;
    if (ea != eb)
        return ea;
    return weight(a) > weight(b);
}

static void join(struct group *g, const struct binding *b)
{
    uint8_t source = b->channel->source;
    g->members++;
    g->boxes[source / 32] |= UINT32_C(1) << source % 32;
    if (worse(b, g->worst))
        g->worst = b;
    if (weight(b) > g->priority)
        g->priority = weight(b);
}

/* The second sender of another place, of the same quantity, that this channel's box has become: the
 * box was given the wrong instance. NULL where there is none. */
static const struct channel *moved_to(const struct rules *r, const struct channel *c)
{
    for (size_t i = 0; i < plant_count(r->plant); i++) {
        const struct channel *other = plant_channel(r->plant, i);
        if (other->second && other->id.quantity == c->id.quantity && other->iface == c->iface &&
            other->source == c->source && other->status == READING_OK &&
            other->at.mono_ns > c->good.mono_ns)
            return other;
    }
    return NULL;
}

/* A battery's volts and amperes come in one message and go together. */
static struct channel_id spokesman(const struct rules *r, const struct channel *c)
{
    struct channel_id id = {QTY_BATTERY_VOLTS, c->id.place, 0};
    const struct channel *volts = plant_find(r->plant, id);
    bool battery = c->id.quantity == QTY_BATTERY_AMPS || c->id.quantity == QTY_BATTERY_TEMP;
    bool together = battery && volts && volts->iface == c->iface && volts->source == c->source &&
                    volts->status != READING_OK;
    return together ? id : c->id;
}

/* Where the box has only moved to another instance, the conflict there is the cause. And where two
 * claimed one place, and one of them is gone now, that is a part of the same story. */
static struct situation situation_of(const struct rules *r, const struct binding *b)
{
    const struct channel *c = b->channel, *moved = moved_to(r, c);
    const struct channel *second = moved ? moved : rule_conflict_of(r, c);
    if (second)
        return rule_conflict_situation(second);
    return (struct situation){
        .group = SITUATION_SENDER, .iface = c->iface, .source = c->source, .id = spokesman(r, c)};
}

static void say_one(struct rules *r, struct binding *b, struct stamp now)
{
    const struct channel *c = b->channel;
    struct words w;
    char more[96];
    rule_words(r, &w, c, now.mono_ns);
    text_format(more, sizeof more, " %s" WORDS_MORE_END ", last ",
                c->status == READING_STALE   ? "silent"
                : c->status == READING_ERROR ? "in error"
                                             : "not available");
    words_add_figure(&w, more, sizeof more, (enum quantity)c->id.quantity, c->value, false);
    w.value = NAN;
    w.rate_per_min = NAN;
    w.more = more;
    w.advice = b->rule->advice[0] ? b->rule->advice : "check sensor and wiring";
    struct alert_claim claim = {
        .situation = situation_of(r, b),
        .priority = weight(b),
        .trouble = TROUBLE_SENSOR,
        .stage = STAGE_CERTAIN,
    };
    rule_claim(r, b, &claim, &w, now);
}

static bool is_lost(const struct binding *b)
{
    const struct silent_watch *s = rule_kept(b);
    return b && b->used && b->rule->kind == KIND_SILENT && s->lost_ns;
}

/* Those of a group, and the first to fall, as long as it is silent too. */
static int count_boxes(const struct rules *r, const struct rule_silent *k, const struct group *g,
                       struct stamp now)
{
    const struct fall *f = &k->falls[g->iface];
    const struct source_seen *s = plant_source(r->plant, g->iface, f->source);
    int n = 0;
    for (int i = 0; i < 256; i++) {
        bool first = i == f->source && s && now.mono_ns - s->last_ns > FALL_NS;
        n += first || (g->boxes[i / 32] >> i % 32 & 1);
    }
    return n;
}

static void boxes_words(const struct rules *r, const struct rule_silent *k, const struct group *g,
                        struct words *w, char *more, size_t cap, struct stamp now)
{
    char what[96];
    int boxes = count_boxes(r, k, g, now);
    const struct binding *first = k->falls[g->iface].first, *named = g->named;
    if (is_lost(first) && worse(first, named))
        named = first;
    text_format(w->subject, sizeof w->subject, "%d BOX%s%s", boxes, boxes == 1 ? "" : "ES",
                rule_on_iface(r, g->iface, what, sizeof what));
    words_subject(what, sizeof what, r->plant, named->channel);
    text_format(more, cap, " silent, %s gone" WORDS_MORE_END, what);
    text_append(more, cap, " with %d more", g->members - (named == g->named));
    w->advice = "check their power and cable";
}

static void sender_words(const struct rules *r, const struct group *g, struct words *w, char *more,
                         size_t cap)
{
    char name[48], what[96];
    rule_sender_name(r, g->iface, g->source, name, sizeof name);
    text_copy(w->subject, sizeof w->subject, "SENDER");
    text_append(w->subject, sizeof w->subject, "%s", name + strlen("sender"));
    words_subject(what, sizeof what, r->plant, g->named->channel);
    text_format(more, cap, g->code == GROUP_WHOLE ? " silent, %s" : " has lost %s", what);
    if (g->members > 1)
        text_append(more, cap, " and %d more", g->members - 1);
    if (g->code == GROUP_WHOLE)
        text_append(more, cap, " gone");
    w->advice = g->code == GROUP_WHOLE ? "check its power and plug" : "check what feeds it";
}

/* The one that is named stays, so that words do not jump about among equals: until it answers, or
 * one that is worse is lost. */
static void name_one(const struct rule_silent *k, struct group *g)
{
    const struct silent_watch *s = g->named ? rule_kept(g->named) : NULL;
    bool member = s && is_lost(g->named) && s->group == g - k->groups + 1;
    if (!member || worse(g->worst, g->named))
        g->named = g->worst;
}

static void say_group(struct rules *r, struct rule_silent *k, struct group *g, struct stamp now)
{
    name_one(k, g);
    const struct binding *b = g->named;
    struct words w = {.quantity = QTY_NONE, .value = NAN, .limit = NAN, .rate_per_min = NAN};
    char more[160];
    if (g->code == GROUP_BOXES)
        boxes_words(r, k, g, &w, more, sizeof more, now);
    else
        sender_words(r, g, &w, more, sizeof more);
    w.more = more;
    struct alert_claim claim = {
        .situation = g->situation,
        .cause = g->code == GROUP_BOXES,
        .claimant = g->claimant,
        .kind = KIND_SILENT,
        .rule = b->rule->name,
        .priority = g->priority,
        .channel = b->channel->key,
        .value = NAN,
        .unit = b->channel->unit,
        .words = &w,
        .trouble = TROUBLE_SENSOR,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES,
    };
    g->said_members = g->members;
    alerts_claim(r->alerts, &claim, now);
}

/* What was told stands until it answers. Only what proves to have gone with the key, together with
 * its engine, was not a loss. */
static bool went_with_the_key(const struct rules *r, const struct binding *b)
{
    const struct channel *c = b->channel;
    const struct silent_watch *s = rule_kept(b);
    if (!c->switched_off || c->engine < 0)
        return c->switched_off;
    const struct engine *e = plant_engine(r->plant, c->engine);
    return e->state != ENGINE_STOPPED || e->since_ns - s->lost_ns < WITH_KEY_NS;
}

static bool past_its_hold(const struct binding *b, struct stamp now)
{
    const struct silent_watch *s = rule_kept(b);
    return now.mono_ns - s->lost_ns >= b->rule->hold_ns;
}

/* First look: what is due, what came back, how many each sender has lost. */
static bool due(struct rules *r, struct rule_silent *k, struct binding *b, struct stamp now)
{
    struct silent_watch *s = rule_kept(b);
    bool told = b->claimed || s->group;
    s->held = false;
    if (s->back_ns && (!b->claimed || now.mono_ns - s->back_ns >= b->rule->clear_hold_ns)) {
        found(r, k, b, now);
        return false;
    }
    if (told ? went_with_the_key(r, b) : !matters(r, b, now)) {
        s->group = 0;
        rule_end(r, b, END_OFF, now);
        return false;
    }
    return !s->back_ns && (told || past_its_hold(b, now));
}

/* Whether this box fell silent with others of its bus that are told already; the first is noted. */
static bool fell_with_others(const struct rules *r, struct rule_silent *k, const struct binding *b)
{
    const struct channel *c = b->channel;
    if (c->iface >= IFACES)
        return false;
    struct fall *f = &k->falls[c->iface];
    const struct source_seen *s = plant_source(r->plant, c->iface, c->source);
    if (!f->used || !s)
        return false;
    int64_t apart_ns = s->last_ns > f->last_ns ? s->last_ns - f->last_ns : f->last_ns - s->last_ns;
    if (apart_ns > FALL_NS)
        return false;
    if (c->source != f->source)
        return true;
    for (int i = 0; i < GROUPS_MAX; i++) { /* more of the first, once it is one of several */
        const struct group *g = &k->groups[i];
        if (g->used && g->code == GROUP_BOXES && g->iface == c->iface)
            return true;
    }
    return false;
}

static void note_fall(const struct rules *r, struct rule_silent *k, const struct binding *b,
                      struct situation situation)
{
    const struct channel *c = b->channel;
    const struct source_seen *s = plant_source(r->plant, c->iface, c->source);
    if (c->iface < IFACES && s && !k->falls[c->iface].used)
        k->falls[c->iface] = (struct fall){true, c->source, s->last_ns, b, situation};
}

/* Over when the alert of the first has ended, and with it those that joined. */
static void forget_falls(const struct rules *r, struct rule_silent *k)
{
    for (int i = 0; i < IFACES; i++)
        if (k->falls[i].used && !alerts_standing(r->alerts, &k->falls[i].situation))
            k->falls[i].used = false;
}

static void place_in_groups(struct rules *r, struct rule_silent *k, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        struct silent_watch *s = rule_kept(b);
        if (!is_lost(b) || b->claimed || s->group || s->held || s->back_ns || !matters(r, b, now) ||
            !past_its_hold(b, now))
            continue;
        bool whole = sender_is_silent(r, b, now);
        const struct tally *t = tally_of(k, b->channel);
        int g = -1;
        /* What follows later (a slower value, a longer hold) joins the alert that stands. */
        if (whole && fell_with_others(r, k, b))
            g = group_of(r, k, b->channel, GROUP_BOXES);
        else if ((t && t->count >= (whole ? 2 : TOGETHER)) || (whole && has_group(k, b->channel)))
            g = group_of(r, k, b->channel, whole ? GROUP_WHOLE : GROUP_VALUES);
        if (whole && (g < 0 || k->groups[g].code == GROUP_WHOLE))
            note_fall(r, k, b, g < 0 ? situation_of(r, b) : k->groups[g].situation);
        if (g < 0) {
            say_one(r, b, now);
            continue;
        }
        s->group = (uint8_t)(g + 1);
        join(&k->groups[g], b);
    }
}

/* Traffic of its interface has returned: what was held back gets BACK_NS, or three of its periods,
 * to come back before it is told. */
static void allow_returned(const struct rules *r, struct stamp now)
{
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        struct silent_watch *s = rule_kept(b);
        const struct channel *c = b->channel;
        if (!is_lost(b) || !s->held || !rule_bus_is_back(r, c->iface))
            continue;
        int64_t patience_ns = 3 * c->period_ns > BACK_NS ? 3 * c->period_ns : BACK_NS;
        s->lost_ns = now.mono_ns + patience_ns;
        s->held = false;
    }
}

/* What is due joins the alert that speaks for it, waits for the bus, or is counted by its sender.
 */
static void count_due(struct rules *r, struct rule_silent *k, struct stamp now)
{
    for (int i = 0; i < GROUPS_MAX; i++) {
        k->groups[i].members = 0;
        k->groups[i].worst = NULL;
        memset(k->groups[i].boxes, 0, sizeof k->groups[i].boxes);
        k->groups[i].priority = PRIORITY_CAUTION;
    }
    k->tally_count = 0;
    for (size_t i = 0; i < r->binding_top; i++) {
        struct binding *b = &r->bindings[i];
        struct silent_watch *s = rule_kept(b);
        if (!is_lost(b) || !due(r, k, b, now))
            continue;
        if (s->group) {
            join(&k->groups[s->group - 1], b);
            continue;
        }
        s->held = !b->claimed && rule_bus_holds(r, b->channel, weight(b), now);
        struct tally *t = s->held || b->claimed ? NULL : tally_of(k, b->channel);
        if (t)
            t->count++;
    }
}

static void silent_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_silent *k = own;
    rule_bus_begin(r, now);
    forget_falls(r, k);
    if (k->lost > 0 || k->group_count > 0) {
        allow_returned(r, now);
        count_due(r, k, now);
        place_in_groups(r, k, now);
    }
    for (int i = 0; k->group_count > 0 && i < GROUPS_MAX; i++) {
        struct group *g = &k->groups[i];
        if (!g->used)
            continue;
        if (g->members == 0) {
            alerts_withdraw(r->alerts, g->claimant, now);
            g->used = false;
            k->group_count--;
        } else if (g->members != g->said_members) {
            say_group(r, k, g, now);
        }
    }
    rule_bus_end(r, now);
}

const struct rule_module rule_silent_module = {
    .own_size = sizeof(struct rule_silent),
    .binding = true,
    .kind = KIND_SILENT,
    .sensors_only = true,
    .status = silent_status,
    .binding_gap = silent_gap,
    .binding_hole = silent_gap,
    .sweep = silent_sweep,
};
