#include "alerts/event_json.h"

#include "base/json.h"

#include <math.h>

#include "base/banned.h"

const char *alert_event_text(enum alert_event_kind e)
{
    switch (e) {
    case EVENT_RAISED:
        return "raised";
    case EVENT_ESCALATED:
        return "escalated";
    case EVENT_CHANGED:
        return "changed";
    case EVENT_RECTIFIED:
        return "rectified";
    case EVENT_ENDED:
        return "ended";
    case EVENT_ACKNOWLEDGED:
        return "acknowledged";
    case EVENT_SILENCED:
        return "silenced";
    case EVENT_UPDATED:
        break;
    }
    return NULL;
}

static void put_time(struct json *j, const char *name, int64_t wall_ns)
{
    if (wall_ns != 0)
        json_time(j, name, wall_ns);
    else
        json_null(j, name);
}

const char *alert_event_json(char *buf, size_t cap, const struct alert_event *ev)
{
    const struct alert *a = ev->alert;
    const char *word = alert_event_text(ev->event);
    struct json j;
    if (!word)
        return NULL;
    json_open(&j, buf, cap);
    json_time(&j, "time", ev->at.wall_ns);
    json_string(&j, "event", word);
    json_string(&j, "stage", stage_text(a->stage));
    json_string(&j, "priority", priority_text(a->priority));
    json_string(&j, "kind", kind_text(a->kind));
    json_string(&j, "rule", a->rule);
    json_string(&j, "channel", a->channel[0] ? a->channel : NULL);
    json_number(&j, "value", a->value, a->decimals);
    json_string(&j, "unit", isfinite(a->value) ? unit_text(a->unit) : NULL);
    json_string(&j, "text", a->text);
    json_number(&j, "worst", a->worst, a->decimals);
    put_time(&j, "worst_time", isfinite(a->worst) ? a->worst_at.wall_ns : 0);
    put_time(&j, "limit_passed", a->limit_passed.wall_ns);
    json_number(&j, "beyond_seconds", a->limit_passed.wall_ns ? when_seconds(a->beyond_ns) : NAN,
                1);
    /* A caution needs nobody. */
    if (a->priority == PRIORITY_CAUTION)
        json_null(&j, "acknowledged");
    else
        json_bool(&j, "acknowledged", a->acknowledged.wall_ns != 0);
    if (alert_is_trial(a))
        json_bool(&j, "test", true);
    return json_close(&j);
}
