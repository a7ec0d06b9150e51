#include "plant/inside.h"

#include "base/banned.h"

/* What a system of each nominal voltage can stand at, charging or nearly flat. A guess is made
 * from ten readings in a row (three while the engine runs), and later only ever corrected
 * upwards, when the voltage is far beyond what even a runaway charger gives: a dying 24 V battery
 * must not turn into a 12 V one. Common practice, no source. */
static const struct {
    int nominal;
    double first_above; /* the first guess */
    double later_above; /* a correction */
} systems[] = {{12, 6, 6}, {24, 17.5, 20.5}, {36, 33, 34.5}, {48, 44.5, 46.5}};

enum { FIRST_READINGS = 10, FIRST_READINGS_RUNNING = 3, LATER_READINGS = 30 };

static bool is_of_battery(const struct channel *c)
{
    return c->id.quantity >= QTY_BATTERY_VOLTS && c->id.quantity <= QTY_BATTERY_CAPACITY;
}

/* Alternating current: what is within one of these is of that system. Line to neutral; others (277,
 * 347 V) have no limits of ours. IEC 60038 names the pairs; the bounds are common practice. */
static const struct {
    int nominal;
    double lowest, highest;
} ac_volts[] = {{120, 95, 145}, {230, 180, 265}}, ac_hertz[] = {{50, 45, 54.9}, {60, 55, 66}};

static void system_heard(struct kept *k)
{
    struct channel *c = &k->c;
    int towards = 0;
    for (size_t i = 0; i < 2; i++) {
        double low = c->unit == UNIT_HZ ? ac_hertz[i].lowest : ac_volts[i].lowest;
        double high = c->unit == UNIT_HZ ? ac_hertz[i].highest : ac_volts[i].highest;
        if (c->value >= low && c->value <= high)
            towards = c->unit == UNIT_HZ ? ac_hertz[i].nominal : ac_volts[i].nominal;
    }
    if (towards == 0 || towards == c->system) {
        k->guess.times = 0;
        return;
    }
    k->guess.times = towards == k->guess.towards ? (uint8_t)(k->guess.times + 1) : 1;
    k->guess.towards = (uint8_t)towards;
    if (k->guess.times >= (c->system == 0 ? FIRST_READINGS : LATER_READINGS))
        c->system = towards;
}

void volts_heard(struct plant *p, struct kept *k)
{
    struct channel *c = &k->c;
    if (quantity_is_ac((enum quantity)c->id.quantity)) {
        system_heard(k);
        return;
    }
    if (c->setting != NULL && c->setting->nominal_volts > 0)
        return;
    if (is_of_battery(c) && p->batteries[c->id.place].nominal_volts != 0)
        return;
    int towards = 0;
    for (size_t i = 0; i < sizeof systems / sizeof systems[0]; i++) {
        double above = c->nominal_volts == 0 ? systems[i].first_above : systems[i].later_above;
        if (c->value > above && c->value < 70)
            towards = systems[i].nominal;
    }
    if (towards <= c->nominal_volts) {
        k->guess.times = 0;
        return;
    }
    k->guess.times = towards == k->guess.towards ? (uint8_t)(k->guess.times + 1) : 1;
    k->guess.towards = (uint8_t)towards;
    bool running =
        c->engine >= 0 ? p->engines[c->engine].e.state == ENGINE_RUNNING : plant_any_running(p);
    int needed = running ? FIRST_READINGS_RUNNING : FIRST_READINGS;
    if (c->nominal_volts != 0)
        needed = LATER_READINGS;
    if (k->guess.times >= needed)
        c->nominal_volts = towards;
}

/* What the configuration says stands before what the bus says. */
void volts_configure(const struct plant *p, struct kept *k)
{
    struct channel *c = &k->c;
    const struct channel_setting *s = c->setting;
    const struct battery_told *told = &p->batteries[c->id.place];
    bool battery = is_of_battery(c);
    if (battery && told->nominal_volts != 0)
        c->nominal_volts = told->nominal_volts;
    if (s != NULL && s->nominal_volts > 0)
        c->nominal_volts = (int)(s->nominal_volts + 0.5);
    if (battery)
        c->chemistry = told->chemistry;
    /* Said of one channel of a battery, it is so of the others. */
    for (size_t i = 0; battery && i < p->settings->channel_count; i++) {
        s = &p->settings->channels[i];
        if (s->chemistry != BATTERY_UNKNOWN && s->id.place == c->id.place)
            c->chemistry = s->chemistry;
    }
}

void volts_told(struct plant *p, const struct message *m)
{
    struct battery_setup setup;
    if (!decode_battery_setup(m, &setup))
        return;
    struct battery_told *told = &p->batteries[setup.battery];
    told->chemistry = battery_setup_chemistry(&setup);
    bool known = setup.nominal_volts >= 12 && setup.nominal_volts % 12 == 0;
    told->nominal_volts = (uint8_t)(known ? setup.nominal_volts : 0);
    for (size_t i = 0; i < p->count; i++) {
        if (p->channels[i].c.id.place == setup.battery)
            volts_configure(p, &p->channels[i]);
    }
}
