/* The parts that values are made of: quantities with their unit, channels. */
#include "config/value.h"

#include "base/text.h"
#include "config/messages.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

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
    case UNIT_HZ:
        return "a frequency with its unit, such as 50 Hz";
    case UNIT_WATT:
        return "a power with its unit, such as 3000 W";
    case UNIT_AH:
        return "a charge with its unit, such as 200 Ah";
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
bool value_parse_difference(const char *text, enum unit base, double *out, struct err *e)
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

static const char *quantity_word(void *ctx, size_t i)
{
    (void)ctx;
    return quantity_info((enum quantity)(i + 1))->key;
}

/* Says why text is not a channel. */
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
    return err_set(e, "'%s' is not a channel key: write for instance %s%s",
                   messages_quote(text).text, info->key, tails[info->place]);
}

/* The numbers that a message can carry: eight bits go up to 252 and a tank's four to 13, what is
 * above them being no instance; 28 switches a bank; three lines or phases (wire/decode.c). */
static bool within_numbers(const char *text, struct channel_id id, struct err *e)
{
    enum quantity q = id.quantity;
    int most = q >= QTY_FUEL_TANK && q <= QTY_PETROL_TANK ? 13 : 252;
    int sub_least = q == QTY_PRESSURE ? 0 : 1;
    int sub_most = q == QTY_PRESSURE ? 252 : q == QTY_SWITCH ? 28 : 3;
    if (id.place > most)
        return err_set(e, "'%s' cannot be on a bus: its instances are 0 to %d",
                       messages_quote(text).text, most);
    if (quantity_info(q)->place == PLACE_PAIR && (id.sub < sub_least || id.sub > sub_most))
        return err_set(e, "'%s' cannot be on a bus: its last number is %d to %d",
                       messages_quote(text).text, sub_least, sub_most);
    return true;
}

bool value_parse_channel(const char *text, struct channel_id *id, bool *any_place, struct err *e)
{
    if (!channel_id_parse(text, id, any_place))
        return no_channel(text, e);
    return (any_place && *any_place) || within_numbers(text, *id, e);
}
