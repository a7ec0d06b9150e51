#include "alerts/event_json.h"

#include "base/json.h"
#include "base/text.h"

#include <math.h>
#include <string.h>

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

/* How bad other channels of the situation got, told at its end. */
static void put_others(struct json *j, const struct alert *a)
{
    char list[ALERT_ALSO_MAX * 256] = "[", one[256];
    for (int i = 0; i < a->also_count; i++) {
        const struct alert_also *also = &a->also[i];
        struct json k;
        json_open(&k, one, sizeof one);
        json_string(&k, "channel", also->channel);
        json_number(&k, "worst", also->worst, also->decimals);
        json_string(&k, "unit", isfinite(also->worst) ? unit_text(also->unit) : NULL);
        put_time(&k, "worst_time", isfinite(also->worst) ? also->worst_at.wall_ns : 0);
        put_time(&k, "limit_passed", also->limit_passed.wall_ns);
        json_number(&k, "beyond_seconds", when_seconds(also->beyond_ns), 1);
        json_bool(&k, "already_beyond", also->already);
        const char *text = json_close(&k);
        if (text)
            text_append(list, sizeof list, "%s%.*s", i > 0 ? "," : "", (int)strcspn(text, "\n"),
                        text);
    }
    text_append(list, sizeof list, "]");
    json_raw(j, "also", a->also_count > 0 ? list : "null");
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
    if (a->limit_passed.wall_ns)
        json_bool(&j, "already_beyond", a->already);
    else
        json_null(&j, "already_beyond");
    put_others(&j, a);
    /* A caution needs nobody. */
    if (a->priority == PRIORITY_CAUTION)
        json_null(&j, "acknowledged");
    else
        json_bool(&j, "acknowledged", a->acknowledged.wall_ns != 0);
    if (alert_is_trial(a))
        json_bool(&j, "test", true);
    return json_close(&j);
}
