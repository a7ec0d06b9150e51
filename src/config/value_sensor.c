#include "config/value.h"

#include "base/text.h"
#include "config/messages.h"

#include <string.h>

#include "base/banned.h"

static bool is_blank(const struct schema_key *key, const char *text)
{
    return key->blank && strcmp(text, key->blank) == 0;
}

/* "240 to 33" */
static bool parse_ohms(struct channel_setting *c, const char *text, struct err *e)
{
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

bool value_parse_sensor(const struct schema_key *key, void *target, const char *text, struct err *e)
{
    void *field = (char *)target + key->offset;
    struct channel_setting *channel = target;
    switch (key->type) {
    case TYPE_KEY:
        if (!is_blank(key, text))
            return value_parse_channel(text, field, NULL, e);
        *(struct channel_id *)field = (struct channel_id){.quantity = QTY_NONE};
        return true;
    case TYPE_CURVE:
        if (!is_blank(key, text))
            return curve_parse(text, field, e);
        *(struct curve *)field = (struct curve){.count = 0};
        return true;
    case TYPE_OHMS:
        if (!is_blank(key, text))
            return parse_ohms(channel, text, e);
        channel->has_ohms = false;
        return true;
    case TYPE_THERMISTOR:
        if (!is_blank(key, text))
            return thermistor_parse(text, field, e);
        *(struct thermistor *)field = (struct thermistor){.set = false};
        return true;
    default:
        return err_set(e, "cannot be set");
    }
}

void value_format_sensor(const struct schema_key *key, const void *target, char *dst)
{
    const void *field = (const char *)target + key->offset;
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
