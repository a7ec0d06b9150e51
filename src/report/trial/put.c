/* What the writers share: words and figures. */
#include "report/trial/write.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

struct channel_id trial_bus_id(const struct trial_report *r, struct channel_id id)
{
    if (id.place < TRIAL_ENGINES && r->instance[id.place] >= 0 &&
        quantity_info((enum quantity)id.quantity)->place == PLACE_ENGINE)
        id.place = (uint8_t)r->instance[id.place];
    return id;
}

bool trial_drives(const struct trial_report *r, int e)
{
    return r->engine_names[e][0] != '\0' && !r->generator[e];
}

const char *trial_how_text(enum trial_how how)
{
    switch (how) {
    case TRIAL_ONE_WAY:
        return "one way";
    case TRIAL_WATER:
        return "through water";
    case TRIAL_CORRECTED:
        return "corrected";
    case TRIAL_RECIPROCAL:
        return "both ways";
    case TRIAL_NO_SPEED:
        break;
    }
    return "no way on";
}

const char *trial_verdict_text(enum trial_verdict v)
{
    return v == TRIAL_PASS ? "pass" : v == TRIAL_FAIL ? "FAIL" : "not shown";
}

void trial_put(FILE *out, double v, int decimals, int width, const char *missing)
{
    char number[40];

    if (!isfinite(v) || text_number(number, sizeof number, v, decimals) == 0)
        text_copy(number, sizeof number, missing);
    fprintf(out, "%*s", width, number);
}

double trial_user(const struct trial_report *r, enum unit base, double v)
{
    return unit_from_base(settings_unit(r->settings, base), v);
}

double trial_user_difference(const struct trial_report *r, enum unit base, double v)
{
    return unit_from_base_difference(settings_unit(r->settings, base), v);
}

double trial_user_nmi(const struct trial_report *r, double nmi)
{
    return trial_user(r, UNIT_KN, nmi); /* a knot is a mile an hour, whichever mile */
}

double trial_user_cost(const struct trial_report *r, double l_per_nmi)
{
    return trial_user(r, UNIT_L, l_per_nmi) / trial_user(r, UNIT_KN, 1);
}

const char *trial_mile(const struct trial_report *r)
{
    switch (settings_unit(r->settings, UNIT_KN)) {
    case UNIT_KMH:
        return "km";
    case UNIT_MPH:
        return "mi";
    default:
        return "nmi";
    }
}

const char *trial_cost_unit(const struct trial_report *r, char *dst, size_t cap)
{
    text_format(dst, cap, "%s/%s", unit_text(settings_unit(r->settings, UNIT_L)), trial_mile(r));
    return dst;
}

const char *trial_kelvin(const struct trial_report *r)
{
    enum unit u = settings_unit(r->settings, UNIT_C);

    return u == UNIT_C ? "K" : unit_text(u);
}

const char *trial_no_best(const struct trial_report *r)
{
    return r->costs < FIT_BEST_RUNS
               ? "the cost of a mile is known at fewer than four speeds: none can be called the "
                 "best"
               : "no speed between the slowest and the fastest is clearly cheaper than its "
                 "neighbours";
}

const char *trial_left_text(enum trial_left left)
{
    static const char *const words[] = {
        [TRIAL_TAKEN] = "",
        [TRIAL_LEFT_UNHEARD] = "an engine unheard",
        [TRIAL_LEFT_COLD] = "cold",
        [TRIAL_LEFT_APART] = "levers apart",
        [TRIAL_LEFT_GEARS] = "gears apart",
        [TRIAL_LEFT_NO_ROOM] = "no room",
    };

    return words[left];
}
