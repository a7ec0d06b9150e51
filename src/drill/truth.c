#include "drill/truth.h"

#include "base/json.h"
#include "base/text.h"
#include "base/when.h"

#include <math.h>

#include "base/banned.h"

static void put_time(struct json *j, const char *key, double t_s, int64_t epoch_ns)
{
    if (!isfinite(t_s))
        json_null(j, key);
    else
        json_time(j, key, epoch_ns + INT64_C(1000) * llround(t_s * 1e6));
}

/* The channel's key, as the watch names it. */
static const char *quantity_word(enum drill_quantity q)
{
    switch (q) {
    case DRILL_Q_COOLANT:
        return "coolant";
    case DRILL_Q_SPACE:
        return "engine-space";
    default:
        return "exhaust";
    }
}

void drill_trial_truth_make(struct drill_trial_truth *t, const struct drill_plan *plan,
                            const struct drill_run *run)
{
    double share = drill_economical_share(&plan->params, 0.3, 1), burn;

    *t = (struct drill_trial_truth){NAN, NAN, plan->params.engines, {0}};
    if (isfinite(share)) {
        drill_economy(&plan->params, share, &burn, &t->economical_kn);
        t->litres_per_nmi = burn / t->economical_kn;
    }
    for (int i = 0; i < t->engines; i++)
        t->used_l[i] = drill_run_world(run)->engine[i].fuel_used_l;
}

static void put_trial(struct json *j, const struct drill_trial_truth *t)
{
    char list[80] = "[", litres[32];

    json_number(j, "economical_speed", t->economical_kn, 2);
    json_number(j, "litres_per_nmi", t->litres_per_nmi, 3);
    for (int i = 0; i < t->engines; i++) {
        text_number(litres, sizeof litres, t->used_l[i], 2);
        text_append(list, sizeof list, "%s%s", i ? "," : "", litres);
    }
    text_append(list, sizeof list, "]");
    json_raw(j, "fuel_used", list);
}

const char *drill_truth_json(char *buf, size_t cap, const struct drill_truth *t, uint64_t seed,
                             int64_t epoch_ns, const struct drill_trial_truth *trial)
{
    struct json j;
    char channel[32];

    json_open(&j, buf, cap);
    json_string(&j, "fault", drill_fault_name(t->fault));
    if (t->fault == DRILL_FAULT_NONE || t->fault == DRILL_FAULT_FIRE)
        json_null(&j, "engine");
    else
        json_integer(&j, "engine", t->engine);
    put_time(&j, "began", t->began_s, epoch_ns);
    put_time(&j, "limit_passed", t->limit_passed_s, epoch_ns);
    put_time(&j, "reference", t->reference_s, epoch_ns);
    json_integer(&j, "seed", (int64_t)seed);
    if (t->fault == DRILL_FAULT_NONE) {
        json_null(&j, "channel");
        json_null(&j, "limit");
    } else {
        text_format(channel, sizeof channel, "%s.%d", quantity_word(t->quantity),
                    t->fault == DRILL_FAULT_FIRE ? 0 : t->engine);
        json_string(&j, "channel", channel);
        json_number(&j, "limit", t->limit_c, 1);
    }
    if (trial)
        put_trial(&j, trial);
    return json_close(&j);
}
