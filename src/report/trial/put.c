/* What the writers share: words and figures. */
#include "report/trial/write.h"

#include "base/text.h"

#include <math.h>

#include "base/banned.h"

const char *trial_how_text(enum trial_how how)
{
    switch (how) {
    case TRIAL_ONE_WAY:
        return "one way";
    case TRIAL_WATER:
        return "through water";
    case TRIAL_RECIPROCAL:
        return "both ways";
    case TRIAL_NO_SPEED:
        break;
    }
    return "no way on";
}

const char *trial_verdict_text(enum trial_verdict v)
{
    return v == TRIAL_PASS ? "pass" : v == TRIAL_FAIL ? "FAIL" : "not seen";
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
