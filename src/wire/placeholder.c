#include "wire/placeholder.h"

#include <math.h>

#include "base/banned.h"

/* What all ones come to in the signed fields of IEC 61162-3, in base units: minus one step. */
static const struct signed_field {
    double ones; /* 0: no signed field carries it */
    bool may_be; /* a reading can be that: only where nothing else in the message is one */
} signed_fields[QTY_COUNT] = {
    [QTY_BATTERY_VOLTS] = {-0.01, false},
    [QTY_ALTERNATOR] = {-0.01, false},
    [QTY_FUEL_RATE] = {-0.1, false},
    [QTY_FUEL_TANK] = {-0.004, false},
    [QTY_FRESH_WATER_TANK] = {-0.004, false},
    [QTY_GREY_WATER_TANK] = {-0.004, false},
    [QTY_LIVE_WELL_TANK] = {-0.004, false},
    [QTY_OIL_TANK] = {-0.004, false},
    [QTY_BLACK_WATER_TANK] = {-0.004, false},
    [QTY_PETROL_TANK] = {-0.004, false},
    [QTY_LOAD] = {-1, false},
    [QTY_BATTERY_AMPS] = {-0.1, true},
    [QTY_TORQUE] = {-1, true},
};
#define NO_HEAT_C (-273.1) /* 0 K, whatever the step */

static bool is_ones(const struct wire_value *v, bool alone)
{
    const struct signed_field *f = &signed_fields[v->id.quantity];
    return f->ones < 0 && fabs(v->value - f->ones) < 1e-6 && (alone || !f->may_be);
}

static bool is_no_heat(const struct wire_value *v)
{
    return v->value < NO_HEAT_C && quantity_info((enum quantity)v->id.quantity)->unit == UNIT_C;
}

static bool is_capacity_zero(const struct message *m)
{
    return m->pgn == 127505 && m->len >= 7 &&
           (m->data[3] | m->data[4] | m->data[5] | m->data[6]) == 0;
}

/* A battery record of which every field is zero. */
static bool is_battery_of_zeros(const struct message *m)
{
    if (m->pgn != 127508 || m->len < 7)
        return false;
    int any = 0;
    for (int i = 1; i < 7; i++)
        any |= m->data[i];
    return any == 0;
}

static void mark(struct wire_value *v)
{
    v->status = READING_NOT_AVAILABLE;
    v->value = 0.0; /* what is missing has none */
}

void placeholder_mark(const struct message *m, struct wire_value *v, size_t n)
{
    bool all = is_capacity_zero(m) || is_battery_of_zeros(m);
    size_t good = 0, last = 0;
    for (size_t i = 0; i < n; i++) {
        if (v[i].status != READING_OK)
            continue;
        if (all || (v[i].value < 0 && (is_ones(&v[i], false) || is_no_heat(&v[i])))) {
            mark(&v[i]);
        } else {
            good++;
            last = i;
        }
    }
    if (good == 1 && is_ones(&v[last], true))
        mark(&v[last]);
}

void placeholder_print(FILE *out)
{
    fputs(
        "\n## Placeholders\n\n"
        "Boxes fill inputs that nothing hangs on. These values are taken for what they are, not\n"
        "available (tests/wire/test_placeholder.c):\n\n"
        "- all ones in a signed field, which reads as minus one step: volts, fuel rate, levels,\n"
        "  load; amperes and torque where nothing else in the message is a reading\n"
        "- a temperature of 0 K\n"
        "- a tank whose capacity is 0\n"
        "- a battery of 0 V, 0 A and 0 K\n\n"
        "The highest and the lowest number that a field can hold (but for nought and 100 %) is a\n"
        "reading; before a limit makes an alarm of it, it is looked at twice as long, and where a\n"
        "sensor never showed anything else it is a caution: `end of its range, check sensor`.\n",
        out);
}
