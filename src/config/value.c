#include "config/value.h"

#include "base/text.h"
#include "base/when.h"
#include "config/messages.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

/* The field of target that the key fills in. */
static void *field(const struct schema_key *key, void *target)
{
    return (char *)target + key->offset;
}

static bool is_blank_word(const struct schema_key *key, const char *text)
{
    return key->blank && strcmp(text, key->blank) == 0;
}

static bool check_bounds(const struct schema_key *key, double v, const char *unit, struct err *e)
{
    if (fpclassify(key->low) == FP_ZERO && fpclassify(key->high) == FP_ZERO)
        return true;
    if (v >= key->low && v <= key->high)
        return true;
    char shown[40], low[40], high[40];
    value_format_number(v, shown, sizeof shown);
    value_format_number(round(key->low * 100) / 100, low, sizeof low);
    value_format_number(key->high, high, sizeof high);
    return err_set(e, "%s%s is outside %s..%s%s", shown, unit, low, high, unit);
}

static bool parse_text(const struct schema_key *key, void *target, const char *text, struct err *e)
{
    char clean[VALUE_SIZE];
    text_clean(clean, sizeof clean, text, strlen(text));
    if (strcmp(clean, text) != 0)
        return err_set(e, "'%s' has characters that cannot be shown", messages_quote(text).text);
    if (strlen(text) >= key->size)
        return err_set(e, "longer than %zu bytes", key->size - 1);
    text_copy(field(key, target), key->size, text);
    return true;
}

static size_t word_count(const struct schema_key *key)
{
    size_t n = 0;
    while (key->words && key->words[n])
        n++;
    return n;
}

static const char *word_at(void *ctx, size_t i)
{
    const struct schema_key *key = ctx;
    return key->words[i];
}

/* The place of text among the key's words. */
static bool parse_word(const struct schema_key *key, const char *text, int *out, struct err *e)
{
    for (size_t i = 0; i < word_count(key); i++) {
        if (strcmp(key->words[i], text) == 0) {
            *out = (int)i;
            return true;
        }
    }
    struct schema_key copy = *key;
    return err_set(e, "unknown word '%s'%s", messages_quote(text).text,
                   messages_hint(text, word_count(key), word_at, &copy, true).text);
}

static bool parse_yes(const char *text, bool *out, struct err *e)
{
    if (strcmp(text, "yes") == 0 || strcmp(text, "on") == 0 || strcmp(text, "true") == 0)
        *out = true;
    else if (strcmp(text, "no") == 0 || strcmp(text, "off") == 0 || strcmp(text, "false") == 0)
        *out = false;
    else
        return err_set(e, "'%s' is neither yes nor no", messages_quote(text).text);
    return true;
}

static bool parse_count(const struct schema_key *key, const char *text, int *out, struct err *e)
{
    if (is_blank_word(key, text)) {
        *out = 0;
        return true;
    }
    long v;
    if (!text_to_long(text, -1000000000, 1000000000, &v))
        return err_set(e, "'%s' is not a whole number", messages_quote(text).text);
    if (!check_bounds(key, (double)v, "", e))
        return false;
    *out = (int)v;
    return true;
}

static bool parse_number(const struct schema_key *key, const char *text, double *out, struct err *e)
{
    if (is_blank_word(key, text)) {
        *out = (double)NAN;
        return true;
    }
    double v;
    if (!text_to_double(text, &v))
        return err_set(e, "'%s' is not a number", messages_quote(text).text);
    if (!check_bounds(key, v, "", e))
        return false;
    *out = v;
    return true;
}

static bool parse_length(const struct schema_key *key, const char *text, int64_t *out,
                         struct err *e)
{
    if (is_blank_word(key, text)) {
        *out = 0;
        return true;
    }
    int64_t ns;
    if (!when_parse_length(text, &ns))
        return err_set(e, "'%s' is not a length of time, such as 500 ms, 10 s, 5 min or 1 h",
                       messages_quote(text).text);
    if (!check_bounds(key, when_seconds(ns), " s", e))
        return false;
    *out = ns;
    return true;
}

static bool parse_value(const struct schema_key *key, void *target, enum unit unit,
                        const char *text, struct err *e)
{
    double v = 0;
    bool given = !is_blank_word(key, text);
    enum unit base = key->unit != UNIT_NONE ? key->unit : unit;
    if (given && !value_parse_quantity(text, base, &v, e))
        return false;
    char suffix[16];
    text_format(suffix, sizeof suffix, " %s", unit_ascii(base));
    if (given && !check_bounds(key, v, suffix, e))
        return false;
    *(double *)field(key, target) = v;
    if (key->has_offset)
        *(bool *)((char *)target + key->has_offset) = given;
    return true;
}

static bool parse_unit(const struct schema_key *key, const char *text, enum unit *out,
                       struct err *e)
{
    enum unit u;
    if (!unit_parse(text, &u) || unit_base(u) != key->unit)
        return err_set(e, "'%s' is not one of %s", messages_quote(text).text, key->help);
    *out = u;
    return true;
}

static bool parse_rule_channel(struct rule_setting *r, const char *text, struct err *e)
{
    if (strcmp(text, "*") == 0) {
        r->id = (struct channel_id){.quantity = QTY_NONE};
        r->any_place = true;
        return true;
    }
    return value_parse_channel(text, &r->id, &r->any_place, e);
}

static bool parse_sender(const struct schema_key *key, const char *text, struct sender_choice *out,
                         struct err *e)
{
    if (is_blank_word(key, text)) {
        *out = (struct sender_choice){.set = false};
        return true;
    }
    struct sender_choice c = {.set = true};
    const char *colon = strrchr(text, ':');
    const char *number = colon ? colon + 1 : text;
    size_t len = colon ? (size_t)(colon - text) : 0;
    long address;
    if ((colon && (len == 0 || len >= sizeof c.iface)) || !text_to_long(number, 0, 253, &address))
        return err_set(e, "'%s' is not a sender: an address from 0 to 253, such as 35 or can1:35",
                       messages_quote(text).text);
    memcpy(c.iface, text, len);
    c.source = (uint8_t)address;
    *out = c;
    return true;
}

static bool parse_span(const struct schema_key *key, struct channel_setting *c, enum unit unit,
                       const char *text, struct err *e)
{
    if (is_blank_word(key, text)) {
        c->has_span = false;
        return true;
    }
    char low_text[VALUE_SIZE];
    text_copy(low_text, sizeof low_text, text);
    char *to = strstr(low_text, " to ");
    double low = 0, high = 0;
    if (!to)
        return err_set(e, "'%s' is not a span: write LOW to HIGH, such as 0 C to 120 C",
                       messages_quote(text).text);
    *to = '\0';
    if (!value_parse_quantity(low_text, unit, &low, e) ||
        !value_parse_quantity(to + 4, unit, &high, e))
        return false;
    if (low >= high)
        return err_set(e, "the low end of '%s' is not below the high one",
                       messages_quote(text).text);
    c->has_span = true;
    c->span_low = low;
    c->span_high = high;
    return true;
}

/* "engine running", "switch.0.3 off", "engine-space.* above 55 C". */
static bool parse_condition(const char *text, struct condition_setting *out, struct err *e)
{
    static const struct {
        const char *word;
        enum condition_test test;
    } ends[] = {{"on", TEST_ON}, {"off", TEST_OFF}};
    struct condition_setting c = {.test = TEST_RUNNING};
    if (strcmp(text, "engine running") == 0 || strcmp(text, "engine stopped") == 0) {
        c.test = strcmp(text, "engine running") == 0 ? TEST_RUNNING : TEST_STOPPED;
        *out = c;
        return true;
    }
    char key[VALUE_SIZE];
    text_copy(key, sizeof key, text);
    size_t len = strcspn(key, " ");
    const char *rest = key + len + strspn(key + len, " ");
    key[len] = '\0';
    if (!value_parse_channel(key, &c.id, &c.any_place, e))
        return false;
    if (strncmp(rest, "is ", 3) == 0)
        rest += 3;
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        if (strcmp(rest, ends[i].word) == 0) {
            if (!quantity_is_switch((enum quantity)c.id.quantity))
                return err_set(e, "'%s' is not a switch: only a switch is on or off", key);
            c.test = ends[i].test;
            *out = c;
            return true;
        }
    }
    bool above = strncmp(rest, "above ", 6) == 0;
    if (!above && strncmp(rest, "below ", 6) != 0)
        return err_set(e, "'%s' needs on, off, above VALUE or below VALUE after the channel",
                       messages_quote(text).text);
    c.test = above ? TEST_ABOVE : TEST_BELOW;
    enum unit base = quantity_info((enum quantity)c.id.quantity)->unit;
    if (!value_parse_quantity(rest + 6, base, &c.value, e))
        return false;
    *out = c;
    return true;
}

static bool parse_conditions(struct rule_setting *r, const char *text, struct err *e)
{
    struct condition_setting found[CONDITIONS_MAX];
    int count = 0;
    char part[VALUE_SIZE];
    for (const char *p = text; p;) {
        const char *next = strstr(p, " and ");
        size_t len = next ? (size_t)(next - p) : strlen(p);
        if (count == CONDITIONS_MAX)
            return err_set(e, "more than %d conditions", CONDITIONS_MAX);
        text_copy(part, sizeof part, p);
        if (len < sizeof part)
            part[len] = '\0';
        if (!parse_condition(part, &found[count], e))
            return false;
        count++;
        p = next ? next + 5 : NULL;
    }
    memcpy(r->conditions, found, sizeof found[0] * (size_t)count);
    r->condition_count = count;
    return true;
}

static bool parse_sensor(const struct schema_key *key, struct channel_setting *c, const char *text,
                         struct err *e)
{
    int i = 0;
    if (!parse_word(key, text, &i, e))
        return false;
    c->wet = i == 1;
    c->dry = i == 2;
    return true;
}

/* "raised, escalated" into bits. */
static bool parse_events(const struct schema_key *key, const char *text, int *out, struct err *e)
{
    int bits = 0;
    char one[VALUE_SIZE];
    for (const char *at = text;;) {
        at += strspn(at, " ");
        size_t len = strcspn(at, ","), used = len;
        while (used > 0 && at[used - 1] == ' ')
            used--;
        text_copy(one, used + 1 < sizeof one ? used + 1 : sizeof one, at);
        int i = 0;
        if (!parse_word(key, one, &i, e))
            return false;
        bits |= 1 << i;
        if (at[len] == '\0')
            break;
        at += len + 1;
    }
    *out = bits;
    return true;
}

/* "240 to 33" */
static bool parse_ohms(const struct schema_key *key, struct channel_setting *c, const char *text,
                       struct err *e)
{
    if (is_blank_word(key, text)) {
        c->has_ohms = false;
        return true;
    }
    char empty[VALUE_SIZE];
    text_copy(empty, sizeof empty, text);
    char *to = strstr(empty, " to ");
    double low, high;
    if (to)
        *to = '\0';
    if (!to || !text_to_double(empty, &low) || !text_to_double(to + 4, &high))
        return err_set(e, "'%s' is not EMPTY to FULL in ohm, such as 240 to 33",
                       messages_quote(text).text);
    if (low < 0 || high < 0 || low > 1e6 || high > 1e6)
        return err_set(e, "outside 0..1000000 ohm");
    if (!(low < high) && !(high < low))
        return err_set(e, "empty and full are the same");
    c->has_ohms = true;
    c->ohms_empty = low;
    c->ohms_full = high;
    return true;
}

static bool parse_key(const struct schema_key *key, const char *text, struct channel_id *out,
                      struct err *e)
{
    if (!is_blank_word(key, text))
        return value_parse_channel(text, out, NULL, e);
    *out = (struct channel_id){.quantity = QTY_NONE};
    return true;
}

static bool parse_curve(const struct schema_key *key, const char *text, struct curve *out,
                        struct err *e)
{
    if (!is_blank_word(key, text))
        return curve_parse(text, out, e);
    *out = (struct curve){.count = 0};
    return true;
}

static bool parse_thermistor(const struct schema_key *key, const char *text, struct thermistor *out,
                             struct err *e)
{
    if (!is_blank_word(key, text))
        return thermistor_parse(text, out, e);
    *out = (struct thermistor){.set = false};
    return true;
}

bool value_parse(const struct schema_key *key, void *target, enum unit unit, const char *text,
                 struct err *e)
{
    int i = 0;
    if (key->type == TYPE_TEXT)
        return parse_text(key, target, text, e);
    if (*text == '\0')
        return err_set(e, "needs a value");
    switch (key->type) {
    case TYPE_WORD:
        return parse_word(key, text, &i, e) && text_copy(field(key, target), key->size, text);
    case TYPE_CHOICE:
        return parse_word(key, text, field(key, target), e);
    case TYPE_YES:
        return parse_yes(text, field(key, target), e);
    case TYPE_COUNT:
        return parse_count(key, text, field(key, target), e);
    case TYPE_NUMBER:
        return parse_number(key, text, field(key, target), e);
    case TYPE_LENGTH:
        return parse_length(key, text, field(key, target), e);
    case TYPE_VALUE:
        return parse_value(key, target, unit, text, e);
    case TYPE_DIFFERENCE:
        return value_parse_difference(text, key->unit != UNIT_NONE ? key->unit : unit,
                                      field(key, target), e);
    case TYPE_UNIT:
        return parse_unit(key, text, field(key, target), e);
    case TYPE_CHANNEL:
        return parse_rule_channel(target, text, e);
    case TYPE_SENDER:
        return parse_sender(key, text, field(key, target), e);
    case TYPE_SPAN:
        return parse_span(key, target, unit, text, e);
    case TYPE_SENSOR:
        return parse_sensor(key, target, text, e);
    case TYPE_CONDITIONS:
        return parse_conditions(target, text, e);
    case TYPE_EVENTS:
        return parse_events(key, text, field(key, target), e);
    case TYPE_KEY:
        return parse_key(key, text, field(key, target), e);
    case TYPE_CURVE:
        return parse_curve(key, text, field(key, target), e);
    case TYPE_OHMS:
        return parse_ohms(key, target, text, e);
    case TYPE_THERMISTOR:
        return parse_thermistor(key, text, field(key, target), e);
    default:
        return err_set(e, "cannot be set");
    }
}
