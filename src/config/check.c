/* What no single value shows. Only what the file being read sets is looked at: the built-in rules
 * are checked when they are read themselves. */
#include "config/load.h"

#include "base/text.h"
#include "config/value.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

/* Says something about a key of a section, on the key's line where it is given, else on the
 * section's. */
static void say(struct load *l, const char *title, const char *key, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static void say(struct load *l, const char *title, const char *key, const char *format, ...)
{
    char body[300];
    va_list args;
    va_start(args, format);
    vsnprintf(body, sizeof body, format, args);
    va_end(args);
    messages_add(l->m, document_place(l->d, title, key, NULL), l->d->file, "[%s] %s: %s", title,
                 key, body);
}

static bool is_given(const struct load *l, const char *title, const char *key)
{
    bool given;
    document_place(l->d, title, key, &given);
    return given;
}

/* Where a rule was written: its own section, or the channel's for `alarm above = ...`. */
struct origin {
    char title[READER_NAME_MAX + 1];
    const char *limit_key; /* "above", "below", "alarm above", ... */
};

static struct origin origin_of(const struct load *l, const struct rule_setting *r)
{
    struct origin o = {.limit_key = r->has_above ? "above" : "below"};
    text_format(o.title, sizeof o.title, "%s %s", kind_text(r->kind), r->name);
    for (size_t i = 0; i < l->d->entry_count; i++) {
        const struct reader_entry *e = &l->d->entries[i];
        if (e->key->type == TYPE_LIMIT && e->at.line == r->at.line) {
            text_copy(o.title, sizeof o.title, l->d->sections[e->section].title);
            o.limit_key = e->key->key;
        }
    }
    return o;
}

static double limit_of(const struct rule_setting *r)
{
    return r->has_above ? r->above : r->below;
}

struct rule_names {
    const struct settings *s;
    const struct rule_setting *self;
};

static const char *rule_word(void *ctx, size_t i)
{
    const struct rule_names *n = ctx;
    const struct rule_setting *r = &n->s->rules[i];
    return r != n->self && r->kind == n->self->kind ? r->name : "";
}

static void check_channel_given(struct load *l, const struct rule_setting *r,
                                const struct origin *o)
{
    struct rule_names names = {l->s, r};
    say(l, o->title, "channel", "is missing%s",
        messages_hint(r->name, l->s->rule_count, rule_word, &names, false).text);
}

/* Whether readings of this channel can get past the limit at all. */
static bool within_span(const struct rule_setting *r, double low, double high)
{
    return r->has_above ? r->above < high : r->below > low;
}

/* Whether a value beyond the limit can come back inside the deadband, or the alert stands for ever.
 */
static bool can_come_back(const struct rule_setting *r, const struct quantity_info *info)
{
    return r->has_above ? r->above - r->deadband >= info->lowest
                        : r->below + r->deadband <= info->highest;
}

static bool is_of_battery(enum quantity q)
{
    return q >= QTY_BATTERY_VOLTS && q <= QTY_BATTERY_CAPACITY;
}

static void check_limit(struct load *l, const struct rule_setting *r)
{
    struct origin o = origin_of(l, r);
    if (r->id.quantity == QTY_NONE) {
        if (!is_given(l, o.title, "channel"))
            check_channel_given(l, r, &o);
        return;
    }
    const struct quantity_info *info = quantity_info((enum quantity)r->id.quantity);
    if (r->id.quantity == QTY_SWITCH)
        say(l, o.title, "channel", "a switch has no limits: write a [state] section");
    if (r->has_above && r->has_below)
        say(l, o.title, "below", "a rule has above or below: write two");
    else if (!r->has_above && !r->has_below && !is_given(l, o.title, "above") &&
             !is_given(l, o.title, "below"))
        say(l, o.title, "above", "above or below is missing");
    else if ((r->has_above || r->has_below) && !r->per_12v &&
             !within_span(r, info->lowest, info->highest))
        say(l, o.title, o.limit_key, "no %s reading can get there, so it would never be raised",
            info->key);
    if (r->per_12v && info->unit != UNIT_V)
        say(l, o.title, "per 12 V", "is for voltages");
    if (r->battery != FOR_ANY && !is_of_battery((enum quantity)r->id.quantity))
        say(l, o.title, "battery", "is for battery-volts, battery-temp and the like");
    if (r->system > 0 && !quantity_is_ac((enum quantity)r->id.quantity))
        say(l, o.title, "system", "is for volts and hertz of alternating current");
    if (r->deadband < 0)
        say(l, o.title, "deadband", "is below zero");
    else if (r->deadband > 0 && is_given(l, o.title, "deadband") &&
             (r->has_above || r->has_below) && !can_come_back(r, info))
        say(l, o.title, "deadband", "no %s reading can come back so far, so it would never be over",
            info->key);
}

static void check_state(struct load *l, const struct rule_setting *r)
{
    struct origin o = origin_of(l, r);
    if (r->id.quantity == QTY_NONE && !is_given(l, o.title, "channel"))
        check_channel_given(l, r, &o);
    else if (r->id.quantity != QTY_NONE && r->id.quantity != QTY_SWITCH)
        say(l, o.title, "channel", "only a switch has a state, such as switch.0.3");
    if (r->on_longest_ns == 0 && r->off_longest_ns == 0 && r->times == 0)
        say(l, o.title, "on longer than",
            "nothing to look for: give `on longer than`, `off longer "
            "than` or `more than`");
}

static void check_rule(struct load *l, const struct rule_setting *r)
{
    struct origin o = origin_of(l, r);
    if (r->kind == KIND_LIMIT)
        check_limit(l, r);
    else if (r->kind == KIND_STATE)
        check_state(l, r);
    else if (r->kind == KIND_COMBINED && r->condition_count == 0 && !is_given(l, o.title, "when"))
        say(l, o.title, "when", "is missing");
    if (r->settle_ns > 0 && r->while_state == WHILE_ALWAYS && !is_given(l, o.title, "while"))
        say(l, o.title, "settle", "needs `while = running` or `while = stopped`");
}

/* Two limits of one file: the lesser priority must speak first. */
static void check_order(struct load *l, const struct rule_setting *a, const struct rule_setting *b)
{
    if (a->kind != KIND_LIMIT || b->kind != KIND_LIMIT || a->priority >= b->priority ||
        a->has_above != b->has_above || a->has_below != b->has_below ||
        a->id.quantity != b->id.quantity || a->per_12v != b->per_12v || a->battery != b->battery ||
        fabs(a->system - b->system) > 0)
        return;
    if (!a->any_place && !b->any_place && !channel_id_same(a->id, b->id))
        return;
    double first = limit_of(a), second = limit_of(b);
    if (a->has_above ? first < second : first > second)
        return;
    char va[48], vb[48];
    value_format_quantity(first, rule_unit(a), va, sizeof va);
    value_format_quantity(second, rule_unit(b), vb, sizeof vb);
    struct origin o = origin_of(l, a), ob = origin_of(l, b);
    unsigned line = document_place(l->d, ob.title, ob.limit_key, NULL).line;
    say(l, o.title, o.limit_key, "the %s at %s would not come before the %s at %s (line %u)",
        priority_text(a->priority), va, priority_text(b->priority), vb, line);
}

static bool is_tank(enum quantity q)
{
    return q >= QTY_FUEL_TANK && q <= QTY_PETROL_TANK;
}

/* A span that ends before a limit would turn the alarm into a sensor fault. */
static void check_span(struct load *l, const struct channel_setting *c, const char *title)
{
    for (size_t i = 0; c->has_span && i < l->s->rule_count; i++) {
        const struct rule_setting *r = &l->s->rules[i];
        if (r->kind != KIND_LIMIT || r->per_12v || (!r->has_above && !r->has_below) ||
            !settings_rule_applies(l->s, r, c->id) || within_span(r, c->span_low, c->span_high))
            continue;
        char v[48];
        value_format_quantity(limit_of(r), rule_unit(r), v, sizeof v);
        say(l, title, "span", "ends before the %s at %s of [limit %s], which would never be raised",
            priority_text(r->priority), v, r->name);
    }
}

static bool is_fuel(enum quantity q)
{
    return q == QTY_FUEL_TANK || q == QTY_PETROL_TANK;
}

/* What describes a sender must suit the quantity and be complete. */
static void check_sender(struct load *l, const struct channel_setting *c, const char *title)
{
    enum quantity q = (enum quantity)c->id.quantity;
    bool strapped = c->strapping.count > 0;
    if (channel_id_same(c->from, c->id))
        say(l, title, "from", "is the channel itself");
    if (c->has_ohms && !is_tank(q))
        say(l, title, "ohms", "only a tank has an empty and a full");
    if (c->thermistor.set && quantity_info(q)->unit != UNIT_C)
        say(l, title, "thermistor", "only a temperature has one");
    if (c->has_ohms + c->thermistor.set + (c->head_density > 0) > 1)
        say(l, title, "from", "ohms, thermistor and head density: a sender is one of them");
    if (c->head_density > 0 && !is_tank(q))
        say(l, title, "head density", "only a tank has a head");
    else if (c->head_density > 0 && !(c->height_m > 0))
        say(l, title, "head density", "needs the `height` of the tank");
    if ((strapped || c->shape != TANK_UNKNOWN) && !is_tank(q))
        say(l, title, strapped ? "strapping" : "shape", "only a tank has one");
    if (strapped && (!curve_rises(&c->strapping) || c->strapping.y[0] < 0))
        say(l, title, "strapping", "a fuller tank cannot hold less");
    if (c->unusable_l > 0 && !is_fuel(q))
        say(l, title, "unusable", "only a fuel tank has some");
    else if (c->unusable_l > 0 && c->capacity_l > 0 && c->unusable_l >= c->capacity_l)
        say(l, title, "unusable", "is all that the tank holds");
}

/* Two meters for one burn. */
static void check_meters(struct load *l, const struct channel_setting *c, const char *title)
{
    bool feed = c->feed.quantity != QTY_NONE, back = c->returned.quantity != QTY_NONE;
    if (!feed && !back)
        return;
    const char *key = feed ? "feed" : "return";
    if (c->id.quantity != QTY_FUEL_RATE)
        say(l, title, key, "only a fuel-rate is the difference of two meters");
    else if (feed != back)
        say(l, title, key, "needs feed and return both");
    else if (channel_id_same(c->feed, c->returned) || channel_id_same(c->feed, c->id) ||
             channel_id_same(c->returned, c->id))
        say(l, title, "return", "feed, return and the channel itself must be three");
    else if (c->feed.quantity != QTY_FUEL_RATE || c->returned.quantity != QTY_FUEL_RATE)
        say(l, title, "feed", "a meter is a fuel-rate channel");
}

static void check_channel(struct load *l, const struct channel_setting *c)
{
    char key[CHANNEL_KEY_SIZE], title[READER_NAME_MAX + 1];
    channel_id_format(key, sizeof key, c->id);
    text_format(title, sizeof title, "channel %s", key);
    enum quantity q = (enum quantity)c->id.quantity;
    const struct quantity_info *info = quantity_info(q);
    if ((c->wet || c->dry) && q != QTY_EXHAUST)
        say(l, title, "sensor", "only exhaust is wet or dry");
    if (fpclassify(c->gain) == FP_ZERO)
        say(l, title, "gain", "is zero: every reading would be the same");
    if (fpclassify(c->capacity_l) != FP_ZERO && !is_tank(q))
        say(l, title, "capacity", "only a tank has one");
    if (c->chemistry != BATTERY_UNKNOWN && !is_of_battery(q))
        say(l, title, "chemistry", "only a battery has one");
    double volts = c->nominal_volts;
    if (fpclassify(volts) != FP_ZERO) {
        if (info->unit != UNIT_V)
            say(l, title, "nominal volts", "only a voltage has them");
        else if (fmod(volts, 12) > 0 || volts < 12 || volts > 48)
            say(l, title, "nominal volts", "12, 24, 36 or 48 V");
    }
    check_span(l, c, title);
    check_sender(l, c, title);
    check_meters(l, c, title);
}

/* Engines named so far, and whether one more would be one too many. */
static void count_engine(struct load *l, bool named[256], uint8_t instance, struct config_place at,
                         const char *title)
{
    int before = 0;
    for (int i = 0; i < 256; i++)
        before += named[i];
    if (named[instance])
        return;
    named[instance] = before < l->s->engines;
    if (!named[instance] && at.file == l->file)
        messages_add(l->m, at, l->d->file,
                     "[%s] one engine too many: [vessel] engines says how many there are: %d",
                     title, l->s->engines);
}

/* One of two meters that make another channel's flow: its place is a number, no engine. */
static bool is_meter(const struct settings *s, struct channel_id id)
{
    for (size_t i = 0; i < s->channel_count; i++)
        if (channel_id_same(s->channels[i].feed, id) ||
            channel_id_same(s->channels[i].returned, id))
            return true;
    return false;
}

static void check_engine_count(struct load *l)
{
    const struct settings *s = l->s;
    bool named[256] = {false};
    char title[READER_NAME_MAX + 1], key[CHANNEL_KEY_SIZE];
    if (s->engines == 0)
        return;
    for (size_t i = 0; i < s->engine_count; i++) {
        text_format(title, sizeof title, "engine %d", s->engine[i].instance);
        count_engine(l, named, s->engine[i].instance, s->engine[i].at, title);
    }
    for (size_t i = 0; i < s->channel_count; i++) {
        const struct channel_setting *c = &s->channels[i];
        if (quantity_info((enum quantity)c->id.quantity)->place != PLACE_ENGINE ||
            is_meter(s, c->id))
            continue;
        channel_id_format(key, sizeof key, c->id);
        text_format(title, sizeof title, "channel %s", key);
        count_engine(l, named, c->id.place, c->at, title);
    }
}

static void check_engines(struct load *l)
{
    const struct settings *s = l->s;
    for (size_t i = 0; i < s->engine_count; i++) {
        const struct engine_setting *e = &s->engine[i];
        char title[16];
        text_format(title, sizeof title, "engine %d", e->instance);
        if (!is_given(l, title, "name") || e->name[0] == '\0')
            continue;
        for (size_t j = 0; j < s->engine_count; j++)
            if (i != j && strcmp(e->name, s->engine[j].name) == 0) {
                say(l, title, "name", "engine %d is called the same", s->engine[j].instance);
                break;
            }
    }
    check_engine_count(l);
}

/* A misspelt name would be handed on as it stands, to a player that finds no such file. */
static void check_sound_command(struct load *l, const char *command)
{
    for (const char *at = strchr(command, '{'); at; at = strchr(at + 1, '{')) {
        const char *end = strchr(at, '}');
        int length = end ? (int)(end - at) + 1 : (int)strlen(at);
        char name[32];
        text_format(name, sizeof name, "%.*s", length, at);
        if (strcmp(name, "{priority}") != 0 && strcmp(name, "{step}") != 0)
            say(l, "screen", "sound command", "there is no '%s': {priority} or {step}",
                messages_quote(name).text);
    }
}

static void check_screen(struct load *l)
{
    const struct screen_setting *screen = &l->s->screen;
    check_sound_command(l, screen->sound_command);
    if (strcmp(screen->sound, "run") == 0 && screen->sound_command[0] == '\0')
        say(l, "screen", "sound", "run needs a `sound command`");
    if (isfinite(screen->latitude) != isfinite(screen->longitude))
        say(l, "screen", isfinite(screen->latitude) ? "latitude" : "longitude",
            "needs latitude and longitude both");
}

static void check_hook(struct load *l, const struct hook_setting *h)
{
    char title[READER_NAME_MAX + 1];
    text_format(title, sizeof title, "hook %s", h->name);
    if (h->run[0] == '\0')
        say(l, title, "run", "is missing: the program to run");
    else if (h->run[0] != '/' && h->run[0] != '"')
        say(l, title, "run", "give the program's whole path, beginning with /");
    bool known = h->rule[0] == '\0';
    for (size_t i = 0; i < l->s->rule_count && !known; i++)
        known = strcmp(l->s->rules[i].name, h->rule) == 0;
    if (!known)
        say(l, title, "rule", "no rule is called '%s'", messages_quote(h->rule).text);
}

void check_settings(struct load *l)
{
    const struct settings *s = l->s;
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (r->at.file != l->file || !r->enabled)
            continue;
        check_rule(l, r);
        for (size_t j = 0; j < s->rule_count; j++)
            if (s->rules[j].at.file == l->file && s->rules[j].enabled)
                check_order(l, r, &s->rules[j]);
    }
    for (size_t i = 0; i < s->channel_count; i++)
        if (s->channels[i].at.file == l->file)
            check_channel(l, &s->channels[i]);
    for (size_t i = 0; i < s->hook_count; i++)
        if (s->hooks[i].at.file == l->file)
            check_hook(l, &s->hooks[i]);
    check_engines(l);
    check_screen(l);
}
