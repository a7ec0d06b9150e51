#include "config/value.h"

#include "base/text.h"
#include "base/when.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

void value_format_number(double v, char *dst, size_t cap)
{
    if (text_number(dst, cap, v, 9) == 0) {
        text_copy(dst, cap, "0");
        return;
    }
    size_t n = strlen(dst);
    while (n > 0 && dst[n - 1] == '0')
        n--;
    if (n > 0 && dst[n - 1] == '.')
        n--;
    dst[n] = '\0';
}

void value_format_quantity(double v, enum unit base, char *dst, size_t cap)
{
    value_format_number(v, dst, cap);
    if (base != UNIT_NONE)
        text_append(dst, cap, " %s", unit_ascii(base));
}

static void format_difference(double v, enum unit base, char *dst, size_t cap)
{
    value_format_quantity(v, base == UNIT_C ? UNIT_K_DIFF : base, dst, cap);
}

static const void *field_const(const struct schema_key *key, const void *target)
{
    return (const char *)target + key->offset;
}

static void format_length(int64_t ns, char *dst)
{
    static const struct {
        int64_t ns;
        const char *word;
    } units[] = {
        {3600 * NS_PER_S, "h"}, {60 * NS_PER_S, "min"}, {NS_PER_S, "s"}, {NS_PER_MS, "ms"}};
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        if (ns != 0 && ns % units[i].ns == 0) {
            text_format(dst, VALUE_SIZE, "%lld %s", (long long)(ns / units[i].ns), units[i].word);
            return;
        }
    }
    value_format_number(when_seconds(ns), dst, VALUE_SIZE);
    text_append(dst, VALUE_SIZE, " s");
}

static void format_conditions(const struct rule_setting *r, char *dst)
{
    *dst = '\0';
    for (int i = 0; i < r->condition_count; i++) {
        const struct condition_setting *c = &r->conditions[i];
        char key[CHANNEL_KEY_SIZE], value[48];
        if (c->any_place)
            text_format(key, sizeof key, "%s.*", quantity_info((enum quantity)c->id.quantity)->key);
        else
            channel_id_format(key, sizeof key, c->id);
        value_format_quantity(c->value, quantity_info((enum quantity)c->id.quantity)->unit, value,
                              sizeof value);
        text_append(dst, VALUE_SIZE, "%s", i ? " and " : "");
        if (c->test == TEST_RUNNING || c->test == TEST_STOPPED)
            text_append(dst, VALUE_SIZE, "engine %s",
                        c->test == TEST_RUNNING ? "running" : "stopped");
        else if (c->test == TEST_ON || c->test == TEST_OFF)
            text_append(dst, VALUE_SIZE, "%s %s", key, c->test == TEST_ON ? "on" : "off");
        else
            text_append(dst, VALUE_SIZE, "%s %s %s", key, c->test == TEST_ABOVE ? "above" : "below",
                        value);
    }
}

static void format_span(const struct channel_setting *c, enum unit unit, char *dst)
{
    char high[64];
    value_format_quantity(c->span_low, unit, dst, VALUE_SIZE);
    value_format_quantity(c->span_high, unit, high, sizeof high);
    text_append(dst, VALUE_SIZE, " to %s", high);
}

static void format_rule_channel(const struct rule_setting *r, char *dst)
{
    if (r->id.quantity == QTY_NONE)
        text_copy(dst, VALUE_SIZE, r->any_place ? "*" : "");
    else if (r->any_place)
        text_format(dst, VALUE_SIZE, "%s.*", quantity_info((enum quantity)r->id.quantity)->key);
    else
        channel_id_format(dst, VALUE_SIZE, r->id);
}

static void format_sender(const struct schema_key *key, const struct sender_choice *c, char *dst)
{
    if (!c->set)
        text_copy(dst, VALUE_SIZE, key->blank);
    else if (c->iface[0] != '\0')
        text_format(dst, VALUE_SIZE, "%s:%d", c->iface, c->source);
    else
        text_format(dst, VALUE_SIZE, "%d", c->source);
}

/* What describes a sensor: where its values come from and what they are made into. */
static void format_measure(const struct schema_key *key, const void *target, char *dst)
{
    const void *field = field_const(key, target);
    const struct channel_setting *channel = target;
    const struct channel_id *id = field;
    const struct curve *curve = field;
    const struct thermistor *thermistor = field;
    char full[64];
    text_copy(dst, VALUE_SIZE, key->blank);
    if (key->type == TYPE_KEY && id->quantity != QTY_NONE) {
        channel_id_format(dst, VALUE_SIZE, *id);
    } else if (key->type == TYPE_CURVE && curve->count > 0) {
        curve_format(dst, VALUE_SIZE, curve);
    } else if (key->type == TYPE_OHMS && channel->has_ohms) {
        value_format_quantity(channel->ohms_empty, UNIT_NONE, dst, VALUE_SIZE);
        value_format_quantity(channel->ohms_full, UNIT_NONE, full, sizeof full);
        text_append(dst, VALUE_SIZE, " to %s", full);
    } else if (key->type == TYPE_THERMISTOR && thermistor->set) {
        thermistor_format(dst, VALUE_SIZE, thermistor);
    }
}

/* A double that may stand for "not given". */
static void format_double(const struct schema_key *key, const void *target, enum unit unit,
                          char *dst)
{
    double v = *(const double *)field_const(key, target);
    bool given = key->has_offset ? *(const bool *)((const char *)target + key->has_offset)
                                 : !key->blank || (isfinite(v) && fpclassify(v) != FP_ZERO);
    if (key->type == TYPE_NUMBER)
        given = isfinite(v);
    if (!given)
        text_copy(dst, VALUE_SIZE, key->blank ? key->blank : "0");
    else if (key->type == TYPE_NUMBER)
        value_format_number(v, dst, VALUE_SIZE);
    else if (key->type == TYPE_DIFFERENCE)
        format_difference(v, key->unit != UNIT_NONE ? key->unit : unit, dst, VALUE_SIZE);
    else
        value_format_quantity(v, key->unit != UNIT_NONE ? key->unit : unit, dst, VALUE_SIZE);
}

void value_format(const struct schema_key *key, const void *target, enum unit unit, char *dst)
{
    const void *f = field_const(key, target);
    const struct channel_setting *channel = target;
    *dst = '\0';
    switch (key->type) {
    case TYPE_TEXT:
    case TYPE_WORD:
        text_copy(dst, VALUE_SIZE, f);
        break;
    case TYPE_CHOICE:
        text_copy(dst, VALUE_SIZE, key->words[*(const int *)f]);
        break;
    case TYPE_YES:
        text_copy(dst, VALUE_SIZE, *(const bool *)f ? "yes" : "no");
        break;
    case TYPE_COUNT:
        if (*(const int *)f == 0 && key->blank)
            text_copy(dst, VALUE_SIZE, key->blank);
        else
            text_format(dst, VALUE_SIZE, "%d", *(const int *)f);
        break;
    case TYPE_LENGTH:
        if (*(const int64_t *)f == 0 && key->blank)
            text_copy(dst, VALUE_SIZE, key->blank);
        else
            format_length(*(const int64_t *)f, dst);
        break;
    case TYPE_NUMBER:
    case TYPE_VALUE:
    case TYPE_DIFFERENCE:
        format_double(key, target, unit, dst);
        break;
    case TYPE_UNIT:
        text_copy(dst, VALUE_SIZE, unit_ascii(*(const enum unit *)f));
        break;
    case TYPE_CHANNEL:
        format_rule_channel(target, dst);
        break;
    case TYPE_SENDER:
        format_sender(key, f, dst);
        break;
    case TYPE_SPAN:
        if (channel->has_span)
            format_span(channel, unit, dst);
        else
            text_copy(dst, VALUE_SIZE, key->blank);
        break;
    case TYPE_SENSOR:
        text_copy(dst, VALUE_SIZE, key->words[channel->dry ? 2 : channel->wet]);
        break;
    case TYPE_CONDITIONS:
        format_conditions(target, dst);
        break;
    case TYPE_EVENTS:
        for (int i = 0; key->words[i]; i++)
            if (*(const int *)f >> i & 1)
                text_append(dst, VALUE_SIZE, "%s%s", *dst ? ", " : "", key->words[i]);
        break;
    case TYPE_KEY:
    case TYPE_CURVE:
    case TYPE_OHMS:
    case TYPE_THERMISTOR:
        format_measure(key, target, dst);
        break;
    case TYPE_LIMIT:
        break;
    }
}
