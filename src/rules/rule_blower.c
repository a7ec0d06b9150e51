/* A petrol engine that is started before its blower has run for some minutes. Speaks only of
 * engines whose configuration says petrol, on a boat whose configuration says which switch is a
 * blower, and only of a start that was seen. A blower moves vapour, it does not find it: that all
 * is quiet here says nothing of vapour. */
#include "rules/kinds.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>

#include "base/banned.h"

#define RUN_NS   (4 * 60 * NS_PER_S) /* common practice, no source */
#define BLOWERS  8
#define UNKNOWN  INT64_MAX /* nobody saw when it was switched on */
#define RULE     "blower-before-start"
#define LENGTH_S 32

struct blower {
    bool known, on;
    uint32_t place;
    int64_t on_ns; /* mono, when it was seen to be switched on; UNKNOWN */
};

struct starting {
    bool stood, claimed; /* it was seen to stand: what comes next is a start */
    uint32_t claimant;
};

struct rule_blower {
    struct blower blowers[BLOWERS];
    int count;
    struct starting engines[PLANT_ENGINES];
};

static bool blower_wants(const struct channel *c)
{
    return c->id.quantity == QTY_BLOWER;
}

static struct blower *blower_of(struct rule_blower *k, uint32_t place)
{
    for (int i = 0; i < k->count; i++)
        if (k->blowers[i].place == place)
            return &k->blowers[i];
    if (k->count == BLOWERS)
        return NULL;
    k->blowers[k->count] = (struct blower){.place = place};
    return &k->blowers[k->count++];
}

static void withdraw(struct rules *r, struct starting *s, struct stamp at)
{
    if (s->claimed)
        alerts_withdraw(r->alerts, s->claimant, at);
    s->claimed = false;
}

/* The longest that one of them has run until now; -1 where that is not known of any. */
static int64_t longest_run(const struct rule_blower *k, int64_t now_ns)
{
    int64_t longest = -1;
    for (int i = 0; i < k->count; i++) {
        const struct blower *b = &k->blowers[i];
        if (!b->known)
            continue;
        int64_t run = !b->on ? 0 : b->on_ns == UNKNOWN ? RUN_NS : now_ns - b->on_ns;
        longest = run > longest ? run : longest;
    }
    return longest;
}

static void blower_heard(struct rules *r, void *own, const struct channel *c, struct stamp at)
{
    struct blower *b = blower_of(own, c->id.place);
    (void)r;
    if (!b)
        return;
    if (c->status != READING_OK) {
        b->known = false;
        return;
    }
    bool on = c->value >= 0.5;
    if (!b->known)
        b->on_ns = UNKNOWN;
    else if (on && !b->on)
        b->on_ns = at.mono_ns;
    b->known = true;
    b->on = on;
}

static void say(struct rules *r, struct starting *s, int engine, int64_t ran_ns, struct stamp at)
{
    char more[96], length[LENGTH_S];
    words_length(length, sizeof length, when_seconds(ran_ns));
    text_format(more, sizeof more, "%s STARTED, blower %s%s, not 4 min",
                plant_engine(r->plant, engine)->name, ran_ns > 0 ? "on for " : "off",
                ran_ns > 0 ? length : "");
    struct words w = {
        .quantity = QTY_NONE, .value = NAN, .rate_per_min = NAN, .limit = NAN, .more = more};
    if (!s->claimant)
        s->claimant = rule_new_claimant(r);
    struct alert_claim claim = {
        .situation = {.group = SITUATION_RULE, .code = s->claimant},
        .claimant = s->claimant,
        .kind = KIND_STATE,
        .rule = RULE,
        .priority = PRIORITY_WARNING,
        .value = NAN,
        .words = &w,
        .trouble = TROUBLE_PETROL,
        .stage = STAGE_SUSPECTED,
        .engine = engine + 1,
        .figures = ALERT_NO_FIGURES,
    };
    s->claimed = true;
    alerts_claim(r->alerts, &claim, at);
}

static bool is_petrol(const struct rules *r, int engine)
{
    const struct engine_setting *e =
        settings_engine(r->settings, plant_engine(r->plant, engine)->instance);
    return e && e->fuel == FUEL_PETROL;
}

static void engine_changed(struct rules *r, void *own, int engine, struct stamp at)
{
    struct rule_blower *k = own;
    struct starting *s = &k->engines[engine];
    enum engine_state state = plant_engine(r->plant, engine)->state;
    bool started = state == ENGINE_RUNNING && s->stood;
    s->stood = state == ENGINE_STOPPED;
    int64_t ran_ns = longest_run(k, at.mono_ns);
    if (state != ENGINE_RUNNING)
        withdraw(r, s, at);
    else if (started && is_petrol(r, engine) && ran_ns >= 0 && ran_ns < RUN_NS)
        say(r, s, engine, ran_ns, at);
}

/* Over when the blower has run as long as it should have before. */
static void blower_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_blower *k = own;
    bool done = longest_run(k, now.mono_ns) >= RUN_NS;
    for (int i = 0; i < PLANT_ENGINES; i++)
        if (done || !is_petrol(r, i))
            withdraw(r, &k->engines[i], now);
}

/* What happened meanwhile nobody saw. */
static void blower_gap(void *own, struct stamp now)
{
    struct rule_blower *k = own;
    (void)now;
    for (int i = 0; i < k->count; i++)
        k->blowers[i].known = false;
    for (int i = 0; i < PLANT_ENGINES; i++)
        k->engines[i].stood = false;
}

const struct rule_module rule_blower_module = {
    .own_size = sizeof(struct rule_blower),
    .wants = blower_wants,
    .heard = blower_heard,
    .engine = engine_changed,
    .sweep = blower_sweep,
    .gap = blower_gap,
};
