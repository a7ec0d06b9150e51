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

void volts_heard(struct plant *p, struct kept *k)
{
    struct channel *c = &k->c;
    if (c->setting != NULL && c->setting->nominal_volts > 0)
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
    if (c->nominal_volts > 0)
        needed = LATER_READINGS;
    if (k->guess.times >= needed) {
        c->nominal_volts = towards;
        k->guess.times = 0;
    }
}
