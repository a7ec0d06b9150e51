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

/* What a value of this unit looks like, for messages. */
static const char *example(enum unit base)
{
    switch (base) {
    case UNIT_C:
        return "a temperature with its unit, such as 93 C or 200 F";
    case UNIT_KPA:
        return "a pressure with its unit, such as 100 kPa, 1 bar or 15 psi";
    case UNIT_L:
        return "a volume with its unit, such as 400 L or 105 gal";
    case UNIT_LPH:
        return "a flow with its unit, such as 48 L/h or 12.5 gal/h";
    case UNIT_V:
        return "a voltage with its unit, such as 12.6 V";
    case UNIT_A:
        return "a current with its unit, such as 80 A";
    case UNIT_PERCENT:
        return "a percentage with its unit, such as 20 %";
    case UNIT_RPM:
        return "a speed with its unit, such as 2400 rpm";
    case UNIT_KN:
        return "a speed with its unit, such as 7.5 kn";
    case UNIT_H:
        return "a number of hours with its unit, such as 250 h";
    case UNIT_NMI:
        return "a distance with its unit, such as 60 nmi";
    case UNIT_L_PER_NMI:
        return "a burn with its unit, such as 4.5 L/nmi";
    case UNIT_NMI_PER_L:
        return "an economy with its unit, such as 0.3 nmi/L";
    case UNIT_K_DIFF:
        return "a difference with its unit, such as 12.5 K";
    default:
        return "a number";
    }
}

bool value_parse_quantity(const char *text, enum unit base, double *out, struct err *e)
{
    double v;
    bool bare = text_to_double(text, &v);
    /* A bare 200 could be meant in F: what has a unit must say it. */
    if ((bare && base != UNIT_NONE) || !unit_parse_value(text, base, &v))
        return err_set(e, "'%s' is not %s", messages_quote(text).text, example(base));
    *out = v;
    return true;
}

/* "5 K", "9 F" for a temperature; otherwise as a value. A bare 0 needs no unit. */
static bool parse_difference(const char *text, enum unit base, double *out, struct err *e)
{
    char number[40];
    double v;
    size_t n = strspn(text, "+-.0123456789");
    if (n > 0 && n < sizeof number) {
        memcpy(number, text, n);
        number[n] = '\0';
        const char *rest = text + n + strspn(text + n, " ");
        enum unit u = base;
        bool said = *rest != '\0';
        if (text_to_double(number, &v) && (!said || unit_parse(rest, &u))) {
            if (u == UNIT_K_DIFF && base == UNIT_C)
                u = UNIT_C;
            if (unit_base(u) == base && (said || fpclassify(v) == FP_ZERO || base == UNIT_NONE)) {
                *out = v / unit_from_base_difference(u, 1);
                return true;
            }
        }
    }
    return err_set(e, "'%s' is not %s", messages_quote(text).text,
                   base == UNIT_C ? "a difference with its unit, such as 3 K or 5 F"
                                  : example(base));
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

static const char *quantity_word(void *ctx, size_t i)
{
    (void)ctx;
    return quantity_info((enum quantity)(i + 1))->key;
}

/* Says why text is no channel. */
static bool no_channel(const char *text, struct err *e)
{
    char stem[VALUE_SIZE];
    text_copy(stem, sizeof stem, text);
    stem[strcspn(stem, ".@")] = '\0';
    enum quantity q = quantity_find(stem, strlen(stem));
    const struct quantity_info *info = quantity_info(q);
    if (q == QTY_NONE)
        return err_set(e, "no channel is called '%s'%s", messages_quote(text).text,
                       messages_hint(stem, QTY_COUNT - 1, quantity_word, NULL, false).text);
    static const char *const tails[] = {
        [PLACE_NONE] = "", [PLACE_ENGINE] = ".0", [PLACE_INSTANCE] = ".0", [PLACE_PAIR] = ".0.1"};
    return err_set(e, "'%s' is no channel key: write for instance %s%s", messages_quote(text).text,
                   info->key, tails[info->place]);
}

bool value_parse_channel(const char *text, struct channel_id *id, bool *any_place, struct err *e)
{
    if (channel_id_parse(text, id, any_place))
        return true;
    return no_channel(text, e);
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
        return err_set(e, "'%s' is no sender: an address from 0 to 253, such as 35 or can1:35",
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
        return err_set(e, "'%s' is no span: write LOW to HIGH, such as 0 C to 120 C",
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
                return err_set(e, "'%s' is no switch: only a switch is on or off", key);
            c.test = ends[i].test;
            *out = c;
            return true;
        }
    }
    bool above = strncmp(rest, "above ", 6) == 0;
    if (!above && strncmp(rest, "below ", 6) != 0)
        return err_set(e, "'%s' needs on, off, above VALUE or below VALUE behind the channel",
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
        return parse_difference(text, key->unit != UNIT_NONE ? key->unit : unit, field(key, target),
                                e);
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
    case TYPE_CURVE:
    case TYPE_OHMS:
    case TYPE_THERMISTOR:
        return value_parse_sensor(key, target, text, e);
    default:
        return err_set(e, "cannot be set");
    }
}
