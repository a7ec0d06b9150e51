/* combined: several conditions hold together for the hold time. A condition whose value is not
 * known (never heard, stale, not available) does not hold; it does not end a standing alert
 * either. `exhaust.*` holds where any of them does. */
#include "rules/kinds.h"

#include "base/text.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define COMBINED_MAX 64

enum truth { UNKNOWN, NO, YES };

struct combined {
    const struct rule_setting *rule;
    char name[40];
    uint32_t claimant;
    bool claimed, marked;
    int64_t since_ns, gone_ns, said_ns; /* mono; 0: not so */
    int looks;                          /* sweeps in a row at which it held */
};

struct rule_combined {
    struct combined rules[COMBINED_MAX];
    int count;
};

static void combined_configure(struct rules *r, void *own)
{
    struct rule_combined *k = own;
    for (int i = 0; i < k->count; i++)
        k->rules[i].marked = false;
    for (size_t i = 0; i < r->settings->rule_count; i++) {
        const struct rule_setting *rule = &r->settings->rules[i];
        if (rule->kind != KIND_COMBINED || !rule->enabled || rule->condition_count == 0)
            continue;
        int at = 0;
        while (at < k->count && strcmp(k->rules[at].name, rule->name) != 0)
            at++;
        if (at == COMBINED_MAX)
            return;
        struct combined *c = &k->rules[at];
        if (at == k->count) {
            k->count++;
            *c = (struct combined){.claimant = rule_new_claimant(r)};
            text_copy(c->name, sizeof c->name, rule->name);
        }
        c->rule = rule;
        c->marked = true;
    }
    for (int i = k->count; i-- > 0;)
        if (!k->rules[i].marked) {
            alerts_withdraw(r->alerts, k->rules[i].claimant, plant_now(r->plant));
            k->rules[i] = k->rules[--k->count];
        }
}

static bool about(const struct condition_setting *c, struct channel_id id)
{
    if (c->test == TEST_RUNNING || c->test == TEST_STOPPED)
        return false;
    return c->any_place ? c->id.quantity == id.quantity : channel_id_same(c->id, id);
}

static bool combined_needs(const struct rules *r, const void *own, const struct channel *c)
{
    const struct rule_combined *k = own;
    (void)r;
    for (int i = 0; i < k->count; i++) {
        const struct rule_setting *rule = k->rules[i].rule;
        for (int n = 0; n < rule->condition_count; n++)
            if (about(&rule->conditions[n], c->id))
                return true;
    }
    return false;
}

static enum truth test_value(const struct condition_setting *c, const struct channel *ch)
{
    if (!ch || ch->status != READING_OK)
        return UNKNOWN;
    switch (c->test) {
    case TEST_ABOVE:
        return ch->value > c->value ? YES : NO;
    case TEST_BELOW:
        return ch->value < c->value ? YES : NO;
    case TEST_ON:
        return ch->value >= 0.5 ? YES : NO;
    case TEST_OFF:
        return ch->value < 0.5 ? YES : NO;
    case TEST_RUNNING:
    case TEST_STOPPED:
        break;
    }
    return UNKNOWN;
}

static enum truth test_engines(const struct rules *r, enum condition_test test)
{
    bool known = false;
    for (int i = 0; i < PLANT_ENGINES; i++) {
        const struct engine *e = plant_engine(r->plant, i);
        if (!e->exists || e->state == ENGINE_UNKNOWN)
            continue;
        known = true;
        if (e->state == ENGINE_RUNNING)
            return test == TEST_RUNNING ? YES : NO;
    }
    if (!known)
        return UNKNOWN;
    return test == TEST_STOPPED ? YES : NO;
}

/* *which becomes the channel that answers, where one does. */
static enum truth test_one(const struct rules *r, const struct condition_setting *c,
                           const struct channel **which)
{
    *which = NULL;
    if (c->test == TEST_RUNNING || c->test == TEST_STOPPED)
        return test_engines(r, c->test);
    if (!c->any_place) {
        *which = plant_find(r->plant, c->id);
        return test_value(c, *which);
    }
    enum truth best = UNKNOWN;
    struct channel *const *all = plant_channels(r->plant);
    size_t n = plant_count(r->plant);
    for (size_t i = 0; i < n && best != YES; i++) {
        const struct channel *ch = all[i];
        if (!about(c, ch->id))
            continue;
        enum truth t = test_value(c, ch);
        if (t > best) {
            best = t;
            *which = ch;
        }
    }
    return best;
}

static enum truth test_all(const struct rules *r, const struct rule_setting *rule)
{
    enum truth all = YES;
    for (int i = 0; i < rule->condition_count; i++) {
        const struct channel *which;
        enum truth t = test_one(r, &rule->conditions[i], &which);
        if (t == NO)
            return NO;
        if (t == UNKNOWN)
            all = UNKNOWN;
    }
    return all;
}

/* "SWITCH 0.3 off", "ENGINE SPACE 58 °C", "engine running". */
static void add_phrase(const struct rules *r, const struct condition_setting *c,
                       const struct channel *ch, struct words *w, char *more, size_t cap)
{
    char subject[96];
    if (!ch) {
        text_append(more, cap, "%s",
                    c->test == TEST_STOPPED ? "engines stopped" : "engine running");
        return;
    }
    words_subject(subject, sizeof subject, r->plant, ch);
    text_append(more, cap, "%s ", subject);
    if (c->test == TEST_ON || c->test == TEST_OFF)
        text_append(more, cap, "%s", c->test == TEST_ON ? "on" : "off");
    else
        words_add_figure(w, more, cap, (enum quantity)ch->id.quantity, ch->value, false);
}

/* The later conditions give way where the line would be too long. */
static void find_words(const struct rules *r, const struct rule_setting *rule, struct words *w,
                       char *more, size_t cap)
{
    *w = (struct words){.quantity = QTY_NONE, .value = NAN, .rate_per_min = NAN, .limit = NAN};
    more[0] = '\0';
    for (int i = 0; i < rule->condition_count; i++) {
        const struct channel *ch;
        test_one(r, &rule->conditions[i], &ch);
        if (i > 0)
            text_append(more, cap, WORDS_MORE_END ", ");
        add_phrase(r, &rule->conditions[i], ch, w, more, cap);
    }
    w->more = more;
    w->advice = rule->advice;
}

static void say(struct rules *r, struct combined *c, struct stamp now)
{
    const struct rule_setting *rule = c->rule;
    struct words w;
    char more[WORDS_MORE_SIZE];
    find_words(r, rule, &w, more, sizeof more);
    const struct channel *ch = NULL;
    for (int i = 0; i < rule->condition_count && !ch; i++)
        test_one(r, &rule->conditions[i], &ch);
    struct alert_claim claim = {
        .situation = {.group = SITUATION_RULE, .code = c->claimant},
        .claimant = c->claimant,
        .kind = KIND_COMBINED,
        .rule = rule->name,
        .priority = rule->priority,
        .channel = ch ? ch->key : NULL,
        .value = ch && ch->status == READING_OK ? ch->value : NAN,
        .unit = ch ? ch->unit : UNIT_NONE,
        .decimals = ch && ch->decimals < 2 ? ch->decimals : 2,
        .words = &w,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES,
    };
    c->claimed = true;
    c->said_ns = now.mono_ns;
    alerts_claim(r->alerts, &claim, now);
}

static void look(struct rules *r, struct combined *c, struct stamp now)
{
    const struct rule_setting *rule = c->rule;
    enum truth t = rule_may_look(r, rule, NULL, true, now.mono_ns) ? test_all(r, rule) : NO;
    if (t == YES) {
        if (c->looks++ == 0)
            c->since_ns = now.mono_ns;
        c->gone_ns = 0;
        bool long_enough = c->looks >= 2 && now.mono_ns - c->since_ns >= rule->hold_ns;
        if (c->claimed ? now.mono_ns - c->said_ns >= 10 * NS_PER_S : long_enough)
            say(r, c, now);
        return;
    }
    c->looks = 0;
    if (t == UNKNOWN || !c->claimed)
        return;
    if (c->gone_ns == 0)
        c->gone_ns = now.mono_ns;
    if (now.mono_ns - c->gone_ns >= rule->clear_hold_ns) {
        c->claimed = false;
        c->gone_ns = 0;
        alerts_withdraw(r->alerts, c->claimant, now);
    }
}

static void combined_sweep(struct rules *r, void *own, struct stamp now)
{
    struct rule_combined *k = own;
    for (int i = 0; i < k->count; i++)
        look(r, &k->rules[i], now);
}

static void combined_gap(void *own, struct stamp now)
{
    struct rule_combined *k = own;
    (void)now;
    for (int i = 0; i < k->count; i++) {
        k->rules[i].looks = 0;
        k->rules[i].gone_ns = 0;
    }
}

const struct rule_module rule_combined_module = {
    .own_size = sizeof(struct rule_combined),
    .configure = combined_configure,
    .sweep = combined_sweep,
    .gap = combined_gap,
    .needs = combined_needs,
};
