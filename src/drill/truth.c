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

const char *drill_truth_json(char *buf, size_t cap, const struct drill_truth *t, uint64_t seed,
                             int64_t epoch_ns)
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
    return json_close(&j);
}
