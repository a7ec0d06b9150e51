/* silent, of what was never there: a channel that the configuration names, in a [channel] section
 * or as the one exact channel of a rule, and that nobody ever sent. Nothing can be stale that never
 * came, so the other half (rule_silent.c) cannot find it, and a rule would watch nothing at all.
 * Said after `never heard after` of traffic: time in which the bus is quiet or the record has a
 * hole does not count. What belongs to an engine is missed only while that engine runs, or while
 * something else of it speaks where its speed is not known: its box may be off with the key. Once
 * told it stands until it is heard: no stop of an engine makes it known. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define EXPECTED_MAX 1024
#define GROUPS_MAX   128
#define TOGETHER     3 /* so many of one sender or engine are one alert */
#define QUIET_NS     (5 * NS_PER_S)
/* Codes of the situations, apart from those of rule_silent.c. */
#define CODE_ALONE 2
#define CODE_GROUP 3

struct expected {
    struct channel_id id;
    char key[CHANNEL_KEY_SIZE];
    const struct channel_setting *setting; /* NULL: only a rule names it */
    uint32_t claimant;
    uint8_t group; /* index + 1 of the alert that speaks for it; 0: none */
    bool marked, heard, due, claimed, valueless;
    enum priority priority;
};

struct never_group {
    bool used;
    struct sender_choice sender; /* set: all of them are configured to come from it, */
    int engine;                  /* otherwise of this engine; -1: of the boat */
    uint32_t claimant;
    int members, said_members;
    const struct expected *worst;
};

struct rule_never {
    struct expected list[EXPECTED_MAX];
    int count;
    struct never_group groups[GROUPS_MAX];
    int64_t looked_ns, traffic_ns;
    int64_t awake_ns[PLANT_ENGINES]; /* something of it speaks since; 0: nothing does */
};

/* ---- what is expected ---- */

/* Worked out and not sent: its absence is that of something else. */
static bool is_derived(struct channel_id id, const struct channel_setting *s)
{
    if (id.quantity >= QTY_BURN && id.quantity != QTY_BLOWER)
        return true;
    return s && s->feed.quantity != QTY_NONE && s->returned.quantity != QTY_NONE;
}

/* Alternating current comes from what is switched off most of the time, a plug or a generator, and
 * the box that measures it may go with it. */
static bool is_switched(struct channel_id id)
{
    return (id.quantity >= QTY_AC_IN_VOLTS && id.quantity <= QTY_AC_IN_WATTS) ||
           (id.quantity >= QTY_AC_VOLTS && id.quantity <= QTY_AC_WATTS);
}

static void expect(struct rules *r, struct rule_never *k, struct channel_id id)
{
    const struct channel_setting *setting = settings_channel(r->settings, id);
    if (id.quantity == QTY_NONE || is_derived(id, setting) || is_switched(id))
        return;
    for (int i = 0; i < k->count; i++)
        if (channel_id_same(k->list[i].id, id)) {
            k->list[i].marked = true;
            k->list[i].setting = setting;
            return;
        }
    if (k->count == EXPECTED_MAX) {
        r->unbound++;
        return;
    }
    struct expected *e = &k->list[k->count++];
    *e = (struct expected){
        .id = id, .setting = setting, .claimant = rule_new_claimant(r), .marked = true};
    channel_id_format(e->key, sizeof e->key, id);
}

static void withdraw(struct rules *r, struct expected *e, struct stamp now)
{
    e->group = 0;
    if (!e->claimed)
        return;
    e->claimed = false;
    alerts_withdraw(r->alerts, e->claimant, now);
}

static void never_configure(struct rules *r, void *own)
{
    struct rule_never *k = own;
    const struct settings *s = r->settings;
    for (int i = 0; i < k->count; i++)
        k->list[i].marked = false;
    for (size_t i = 0; i < s->channel_count; i++)
        expect(r, k, s->channels[i].id);
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *rule = &s->rules[i];
        if (!rule->enabled)
            continue;
        if (!rule->any_place)
            expect(r, k, rule->id);
        for (int c = 0; c < rule->condition_count; c++)
            if (rule->conditions[c].test != TEST_RUNNING &&
                rule->conditions[c].test != TEST_STOPPED && !rule->conditions[c].any_place)
                expect(r, k, rule->conditions[c].id);
    }
    int kept = 0;
    for (int i = 0; i < k->count; i++) {
        if (!k->list[i].marked)
            withdraw(r, &k->list[i], plant_now(r->plant));
        else
            k->list[kept++] = k->list[i];
    }
    k->count = kept;
}

/* ---- what is missing ---- */

/* A stand-in for words and rules that ask about a channel. */
static struct channel stand_in(const struct rules *r, const struct expected *e)
{
    struct channel c = {.id = e->id, .setting = e->setting, .order = UINT32_MAX, .engine = -1};
    const struct quantity_info *info = quantity_info((enum quantity)e->id.quantity);
    text_copy(c.key, sizeof c.key, e->key);
    c.unit = info->unit;
    if (info->place == PLACE_ENGINE)
        c.engine = plant_engine_slot(r->plant, e->id.place);
    return c;
}

/* Something of the engine other than its exhaust, whose sensor seldom hangs on the key. */
static void find_awake(const struct rules *r, struct rule_never *k, struct stamp now)
{
    bool awake[PLANT_ENGINES] = {false};
    for (size_t i = 0; i < plant_count(r->plant); i++) {
        const struct channel *c = plant_channel(r->plant, i);
        if (c->engine >= 0 && !c->derived && c->status == READING_OK &&
            c->id.quantity != QTY_EXHAUST && c->id.quantity != QTY_EXHAUST_GAS)
            awake[c->engine] = true;
    }
    for (int e = 0; e < PLANT_ENGINES; e++) {
        if (!awake[e])
            k->awake_ns[e] = 0;
        else if (k->awake_ns[e] == 0)
            k->awake_ns[e] = now.mono_ns;
    }
}

static bool long_enough(const struct rules *r, const struct rule_never *k, const struct channel *c,
                        int64_t grace_ns, struct stamp now)
{
    if (k->traffic_ns < grace_ns)
        return false;
    if (c->engine < 0)
        return true;
    const struct engine *e = plant_engine(r->plant, c->engine);
    if (e->state == ENGINE_RUNNING)
        return now.mono_ns - e->since_ns >= grace_ns;
    int64_t since_ns = k->awake_ns[c->engine];
    return e->state == ENGINE_UNKNOWN && since_ns > 0 && now.mono_ns - since_ns >= grace_ns;
}

static bool is_heard(const struct rules *r, struct expected *e)
{
    struct channel_id id = e->id;
    const struct channel *c = plant_find(r->plant, id);
    if (!c && id.quantity == QTY_EXHAUST) { /* said to be dry: it arrives as gas */
        id.quantity = QTY_EXHAUST_GAS;
        c = plant_find(r->plant, id);
    }
    e->valueless = c != NULL;
    return c && c->readings > 0;
}

static void look(struct rules *r, const struct rule_never *k, struct expected *e, struct stamp now)
{
    e->due = false;
    e->heard = e->heard || is_heard(r, e);
    if (!e->heard) {
        const struct rule_setting *rule = settings_rule_for(r->settings, KIND_SILENT, e->id);
        struct channel c = stand_in(r, e);
        bool told = e->claimed || e->group;
        e->due = rule && rule->never_ns > 0 &&
                 (told || (long_enough(r, k, &c, rule->never_ns, now) &&
                           rule_may_look(r, rule, &c, true, now.mono_ns)));
        if (e->due && !e->claimed && !e->group) {
            e->priority = rule->priority;
            if (e->priority < PRIORITY_WARNING && rule_needs(r, &c))
                e->priority = PRIORITY_WARNING;
        }
    }
    if (!e->due)
        withdraw(r, e, now);
}

/* ---- what is said ---- */

/* Whether the sender that it is configured to come from speaks at all. */
static bool sender_speaks(const struct rules *r, const struct sender_choice *s)
{
    for (int i = 0; i < 256; i++)
        if ((!s->iface[0] || strcmp(s->iface, r->iface_names[i]) == 0) &&
            plant_source(r->plant, (uint8_t)i, s->source)->seen)
            return true;
    return false;
}

static void name_sender(char *dst, size_t cap, const char *word, const struct sender_choice *s)
{
    text_format(dst, cap, "%s %d", word, s->source);
    if (s->iface[0])
        text_append(dst, cap, " on %s", s->iface);
}

static void claim(struct rules *r, const struct expected *e, uint32_t claimant, uint32_t code,
                  struct words *w, struct stamp now)
{
    const struct rule_setting *rule = settings_rule_for(r->settings, KIND_SILENT, e->id);
    w->value = w->limit = w->rate_per_min = NAN;
    struct alert_claim c = {
        .situation = {.group = SITUATION_SENDER, .id = e->id, .code = code},
        .claimant = claimant,
        .kind = KIND_SILENT,
        .rule = rule->name,
        .priority = e->priority,
        .channel = e->key,
        .value = NAN,
        .unit = quantity_info((enum quantity)e->id.quantity)->unit,
        .words = w,
        .trouble = TROUBLE_SENSOR,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES,
    };
    if (code >= CODE_GROUP)
        c.situation.id = (struct channel_id){QTY_NONE, 0, 0};
    alerts_claim(r->alerts, &c, now);
}

static void say_alone(struct rules *r, struct expected *e, struct stamp now)
{
    struct channel c = stand_in(r, e);
    struct words w = {.quantity = QTY_NONE};
    char more[96] = "", name[48];
    words_subject(w.subject, sizeof w.subject, r->plant, &c);
    w.more = more;
    if (e->valueless) {
        text_copy(more, sizeof more, " never heard with a value");
        w.advice = "check sensor and wiring";
    } else if (e->setting && e->setting->sender.set) {
        name_sender(name, sizeof name, "sender", &e->setting->sender);
        text_format(more, sizeof more, " never heard from %s", name);
        w.advice =
            sender_speaks(r, &e->setting->sender) ? "check its sensor" : "check its power and plug";
    } else {
        w.advice = "check power, plug and instance";
        text_format(more, sizeof more, " never heard as %s", e->key);
        if (text_width(w.subject) + text_width(more) + 2 + text_width(w.advice) > WORDS_COLUMNS)
            text_copy(more, sizeof more, " never heard");
    }
    e->claimed = true;
    claim(r, e, e->claimant, CODE_ALONE, &w, now);
}

static void say_group(struct rules *r, const struct rule_never *k, struct never_group *g,
                      struct stamp now)
{
    struct channel c = stand_in(r, g->worst);
    struct words w = {.quantity = QTY_NONE};
    char more[160] = "", what[96];
    words_subject(what, sizeof what, r->plant, &c);
    if (g->members > 1)
        text_append(what, sizeof what, " and %d more", g->members - 1);
    w.more = more;
    if (g->sender.set) {
        bool speaks = sender_speaks(r, &g->sender);
        name_sender(w.subject, sizeof w.subject, "SENDER", &g->sender);
        text_format(more, sizeof more, speaks ? ": %s never heard from it" : " never heard, %s",
                    what);
        w.advice = speaks ? "check its sensors" : "check its power and plug";
    } else {
        text_copy(w.subject, sizeof w.subject, what);
        text_copy(more, sizeof more, " never heard");
        w.advice = "check power and plugs";
    }
    g->said_members = g->members;
    claim(r, g->worst, g->claimant, CODE_GROUP + (uint32_t)(g - k->groups), &w, now);
}

/* ---- which alert speaks for which ---- */

static bool belongs(const struct rules *r, const struct never_group *g, const struct expected *e)
{
    bool sent = e->setting && e->setting->sender.set;
    if (sent != g->sender.set)
        return false;
    if (sent)
        return e->setting->sender.source == g->sender.source &&
               strcmp(e->setting->sender.iface, g->sender.iface) == 0;
    return stand_in(r, e).engine == g->engine;
}

static struct never_group group_for(const struct rules *r, const struct expected *e)
{
    struct never_group g = {.used = true, .engine = stand_in(r, e).engine};
    if (e->setting && e->setting->sender.set)
        g.sender = e->setting->sender;
    return g;
}

/* The group that stands for it or a new one where enough are missing together; -1: it stands
 * alone. */
static int find_group(struct rules *r, struct rule_never *k, const struct expected *e)
{
    int empty = -1;
    for (int i = 0; i < GROUPS_MAX; i++) {
        if (!k->groups[i].used)
            empty = empty < 0 ? i : empty;
        else if (belongs(r, &k->groups[i], e))
            return i;
    }
    struct never_group g = group_for(r, e);
    int together = 0;
    for (int i = 0; i < k->count; i++)
        together += k->list[i].due && !k->list[i].claimed && belongs(r, &g, &k->list[i]);
    if (together < TOGETHER || empty < 0)
        return -1;
    g.claimant = rule_new_claimant(r);
    k->groups[empty] = g;
    return empty;
}

static void join(struct never_group *g, const struct expected *e)
{
    g->members++;
    if (!g->worst || e->priority > g->worst->priority ||
        (e->priority == g->worst->priority && e->id.quantity == QTY_EXHAUST &&
         g->worst->id.quantity != QTY_EXHAUST))
        g->worst = e;
}

static void speak(struct rules *r, struct rule_never *k, struct stamp now)
{
    for (int i = 0; i < GROUPS_MAX; i++) {
        k->groups[i].members = 0;
        k->groups[i].worst = NULL;
    }
    for (int i = 0; i < k->count; i++) {
        struct expected *e = &k->list[i];
        if (!e->due || e->claimed)
            continue;
        int g = e->group ? e->group - 1 : find_group(r, k, e);
        if (g < 0) {
            say_alone(r, e, now);
            continue;
        }
        e->group = (uint8_t)(g + 1);
        join(&k->groups[g], e);
    }
    for (int i = 0; i < GROUPS_MAX; i++) {
        struct never_group *g = &k->groups[i];
        if (!g->used)
            continue;
        if (g->members == 0) {
            alerts_withdraw(r->alerts, g->claimant, now);
            g->used = false;
        } else if (g->members != g->said_members) {
            say_group(r, k, g, now);
        }
    }
}

static void never_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_never *k = own;
    int64_t since_ns = now.mono_ns - k->looked_ns;
    k->looked_ns = now.mono_ns;
    /* On a quiet bus everything is missing; that is the bus's own trouble. */
    if (k->count == 0 || r->heard_ns == 0 || now.mono_ns - r->heard_ns > QUIET_NS)
        return;
    if (since_ns <= QUIET_NS)
        k->traffic_ns += since_ns;
    find_awake(r, k, now);
    for (int i = 0; i < k->count; i++)
        look(r, k, &k->list[i], now);
    speak(r, k, now);
}

static void never_gap(void *own, struct stamp now)
{
    struct rule_never *k = own;
    k->looked_ns = now.mono_ns;
    memset(k->awake_ns, 0, sizeof k->awake_ns);
}

const struct rule_module rule_never_module = {
    .own_size = sizeof(struct rule_never),
    .configure = never_configure,
    .sweep = never_sweep,
    .gap = never_gap,
};
