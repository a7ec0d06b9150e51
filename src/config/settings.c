#include "config/settings.h"

#include <stddef.h>

#include "base/banned.h"

const char *priority_text(enum priority p)
{
    static const char *const words[] = {"caution", "warning", "alarm", "emergency alarm"};
    return (unsigned)p < sizeof words / sizeof *words ? words[p] : "caution";
}

const char *kind_text(enum rule_kind k)
{
    static const char *const words[KIND_COUNT] = {
        [KIND_LIMIT] = "limit", [KIND_RISE] = "rise",         [KIND_DEPARTURE] = "departure",
        [KIND_SPLIT] = "split", [KIND_SILENT] = "silent",     [KIND_CONFLICT] = "conflict",
        [KIND_SPAN] = "span",   [KIND_REPORTED] = "reported", [KIND_BUS] = "bus",
        [KIND_STATE] = "state", [KIND_COMBINED] = "combined", [KIND_SEASON] = "season",
        [KIND_SELF] = "self",
    };
    return (unsigned)k < KIND_COUNT ? words[k] : "limit";
}

const struct channel_setting *settings_channel(const struct settings *s, struct channel_id id)
{
    for (size_t i = 0; i < s->channel_count; i++)
        if (channel_id_same(s->channels[i].id, id))
            return &s->channels[i];
    return NULL;
}

const struct engine_setting *settings_engine(const struct settings *s, uint8_t instance)
{
    for (size_t i = 0; i < s->engine_count; i++)
        if (s->engine[i].instance == instance)
            return &s->engine[i];
    return NULL;
}

enum unit settings_unit(const struct settings *s, enum unit u)
{
    switch (u) {
    case UNIT_C:
        return s->units.temperature;
    case UNIT_KPA:
        return s->units.pressure;
    case UNIT_L:
        return s->units.volume;
    case UNIT_LPH:
        return s->units.flow;
    case UNIT_KN:
        return s->units.speed;
    default:
        return u;
    }
}

bool settings_rule_matches(const struct rule_setting *r, struct channel_id id)
{
    if (r->id.quantity == QTY_NONE)
        return true;
    if (r->id.quantity != id.quantity)
        return false;
    return r->any_place || channel_id_same(r->id, id);
}

bool settings_for_battery(const struct rule_setting *rule, enum battery_chemistry chemistry)
{
    bool flooded = chemistry == BATTERY_UNKNOWN || chemistry == BATTERY_LEAD;
    switch (rule->battery) {
    case FOR_LEAD:
        return flooded || chemistry == BATTERY_AGM || chemistry == BATTERY_GEL;
    case FOR_FLOODED:
        return flooded;
    case FOR_AGM:
        return chemistry == BATTERY_AGM;
    case FOR_GEL:
        return chemistry == BATTERY_GEL;
    case FOR_LITHIUM:
        return chemistry == BATTERY_LITHIUM;
    default:
        return true;
    }
}

/* How exactly a rule names its channel. */
static int exactness(const struct rule_setting *r)
{
    if (r->id.quantity == QTY_NONE)
        return 0;
    return r->any_place ? 1 : 2;
}

/* Whether two rules answer the same question, so that only the more exact one is to be asked. */
static bool same_question(const struct rule_setting *a, const struct rule_setting *b)
{
    if (a->kind != b->kind)
        return false;
    switch (a->kind) {
    case KIND_LIMIT:
        return a->priority == b->priority && a->has_above == b->has_above;
    case KIND_SILENT:
    case KIND_SPAN:
    case KIND_CONFLICT:
    case KIND_RISE:
    case KIND_DEPARTURE:
    case KIND_SPLIT:
    case KIND_SEASON:
        return true;
    default:
        return false;
    }
}

bool settings_rule_applies(const struct settings *s, const struct rule_setting *r,
                           struct channel_id id)
{
    if (!r->enabled || !settings_rule_matches(r, id))
        return false;
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *other = &s->rules[i];
        if (other != r && exactness(other) > exactness(r) && same_question(other, r) &&
            settings_rule_matches(other, id))
            return false;
    }
    return true;
}

const struct rule_setting *settings_rule_for(const struct settings *s, enum rule_kind kind,
                                             struct channel_id id)
{
    for (size_t i = 0; i < s->rule_count; i++)
        if (s->rules[i].kind == kind && settings_rule_applies(s, &s->rules[i], id))
            return &s->rules[i];
    return NULL;
}
