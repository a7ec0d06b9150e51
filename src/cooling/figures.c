#include "cooling/figures.h"

#include <string.h>

#include "base/banned.h"

const struct figures cooling_figures = {
#define FIGURE(name, value, unit, reason) .name = (value),
#include "cooling/figures.inc"
#define PREDICT(name, exhaust, coolant, oil, unit, reason) .predict_exhaust.name = (exhaust),
#include "cooling/figures.inc"
#define PREDICT(name, exhaust, coolant, oil, unit, reason) .predict_coolant.name = (coolant),
#include "cooling/figures.inc"
#define PREDICT(name, exhaust, coolant, oil, unit, reason) .predict_oil.name = (oil),
#include "cooling/figures.inc"
#define PLATEAU(name, coolant_value, oil_value, unit, reason) .coolant.name = (coolant_value),
#include "cooling/figures.inc"
#define PLATEAU(name, coolant_value, oil_value, unit, reason) .oil.name = (oil_value),
#include "cooling/figures.inc"
};

#define ROW(text, field, value, unit, reason)                                                      \
    {text, offsetof(struct figures, field), value, unit, reason},

static const struct figure list[] = {
#define FIGURE(name, value, unit, reason) ROW(#name, name, value, unit, reason)
#define PREDICT(name, exhaust, coolant, oil, unit, reason)                                         \
    ROW("predict_exhaust." #name, predict_exhaust.name, exhaust, unit, reason)                     \
    ROW("predict_coolant." #name, predict_coolant.name, coolant, unit, reason)                     \
    ROW("predict_oil." #name, predict_oil.name, oil, unit, reason)
#define PLATEAU(name, of_coolant, of_oil, unit, reason)                                            \
    ROW("coolant." #name, coolant.name, of_coolant, unit, reason)                                  \
    ROW("oil." #name, oil.name, of_oil, unit, reason)
#include "cooling/figures.inc"
};

const struct figure *figures_list(size_t *count)
{
    *count = sizeof list / sizeof *list;
    return list;
}

bool figures_set(struct figures *f, const char *name, double value)
{
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        if (strcmp(list[i].name, name) != 0)
            continue;
        memcpy((char *)f + list[i].offset, &value, sizeof value);
        return true;
    }
    return false;
}
