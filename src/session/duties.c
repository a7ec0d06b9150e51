#include "session/duties.h"

#include "alerts/event_json.h"
#include "base/text.h"
#include "bus/socketcan.h"
#include "config/config.h"
#include "hooks/hooks.h"
#include "hooks/metrics.h"
#include "hooks/state.h"
#include "record/record.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct duties {
    struct duties_options o;
    const struct settings *settings;
    char source[48];
    struct live *live; /* NULL before duties_begin */
    struct record *record;
    struct hooks *hooks;
    struct door *door;
    struct door_info info;
    struct metrics_counts counts;
    struct state_pace pace;
    struct stamp clock;
    int64_t metrics_ns;     /* when the file was written */
    uint64_t second_frames; /* for frames a second */
    int64_t second_ns;
    bool metrics_failed, state_failed;
};

bool duties_size(const char *value, uint64_t *bytes)
{
    char number[16];
    long n;
    size_t len = strlen(value);
    char unit = len > 1 ? value[len - 1] : '\0';
    if ((unit != 'M' && unit != 'G') || len > sizeof number)
        return false;
    text_copy(number, len, value);
    if (!text_to_long(number, 1, 1000000, &n))
        return false;
    *bytes = (uint64_t)n << (unit == 'M' ? 20 : 30);
    return true;
}

static void keep_config(struct duties *d)
{
    char *text = NULL;
    size_t len = 0;
    FILE *f = d->record ? open_memstream(&text, &len) : NULL;
    if (!f)
        return;
    config_print(d->settings, f);
    if (fclose(f) == 0)
        record_set_config(d->record, text);
    free(text);
}

struct duties *duties_open(const struct duties_options *o, const struct settings *settings,
                           const char *source, struct err *e)
{
    struct duties *d = calloc(1, sizeof *d);
    if (!d) {
        err_set(e, "out of memory");
        return NULL;
    }
    d->o = *o;
    d->settings = settings;
    text_clean(d->source, sizeof d->source, source, strlen(source));
    d->info.source = d->source;
    d->hooks = hooks_new(settings);
    bool good = d->hooks || err_set(e, "out of memory");
    if (good && o->socket)
        good = (d->door = door_open(o->socket, e)) != NULL;
    if (good && o->record) {
        struct record_options r = {.dir = o->record, .cap_bytes = o->record_cap};
        good = (d->record = record_open(&r, e)) != NULL;
    }
    keep_config(d);
    if (good)
        return d;
    duties_close(d);
    return NULL;
}

/* ---- what it is told ---- */

/* The alert history beside the frames, and an incident around every alarm. */
static void keep(struct duties *d, const struct alert_event *ev)
{
    char json[EVENT_JSON_SIZE], name[sizeof ev->alert->channel + sizeof ev->alert->rule + 2];
    const struct alert *a = ev->alert;
    const char *line = alert_event_json(json, sizeof json, ev);
    if (line)
        record_alert(d->record, line, ev->at);
    if (a->priority < PRIORITY_ALARM || (ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED))
        return;
    text_format(name, sizeof name, "%s-%s", a->channel[0] ? a->channel : "boat", a->rule);
    record_incident(d->record, name, ev->at);
}

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct duties *d = ctx;
    if (d->door)
        door_alerts_changed(d->door);
    state_event(&d->pace, ev);
    hooks_event(d->hooks, ev);
    if (ev->event == EVENT_RAISED)
        d->counts.raised[ev->alert->priority]++;
    if (d->record)
        keep(d, ev);
}

static void on_name(void *ctx, uint8_t iface, const char *name)
{
    struct duties *d = ctx;
    if (d->record)
        record_name_iface(d->record, iface, name);
}

static void on_frames(void *ctx, const struct frame *f, size_t n)
{
    struct duties *d = ctx;
    record_frames(d->record, f, n);
}

bool duties_begin(struct duties *d, struct live *live, struct stamp clock, struct err *e)
{
    int count;
    d->live = live;
    d->clock = clock;
    d->counts.started_wall_ns = clock.wall_ns;
    live->ctx = d;
    live->on_name = on_name;
    live->tap = d->record ? on_frames : NULL;
    alerts_listen(keeper_alerts(live->keeper), on_event, d);
    return !d->o.state || state_load(d->o.state, keeper_alerts(live->keeper), clock, &count, e);
}

/* ---- files ---- */

static void own_condition(struct duties *d, enum condition_sort sort, bool *stands, bool now_stands,
                          const char *text)
{
    if (*stands == now_stands)
        return;
    *stands = now_stands;
    struct bus_condition c = {.code = CONDITION_CODE(sort, 0),
                              .priority = PRIORITY_CAUTION,
                              .stands = now_stands,
                              .at = d->live->now};
    text_copy(c.text, sizeof c.text, text);
    live_condition(d->live, &c);
}

static void write_metrics(struct duties *d)
{
    struct err e = {""};
    const struct source_stats *s = source_stats(d->live->source);
    d->metrics_ns = d->clock.mono_ns;
    d->counts.frames = s->frames;
    d->counts.lost_frames = s->lost_frames;
    d->counts.error_frames = s->error_frames;
    d->counts.bad_lines = s->bad_lines;
    bool good = metrics_write(d->o.metrics, keeper_plant(d->live->keeper),
                              keeper_alerts(d->live->keeper), &d->counts, d->live->now, &e);
    own_condition(d, CONDITION_METRICS, &d->metrics_failed, !good, e.text);
}

static void write_state(struct duties *d)
{
    struct err e = {""};
    bool good = state_save(d->o.state, keeper_alerts(d->live->keeper), &e);
    d->pace = (struct state_pace){.saved_ns = d->clock.mono_ns};
    own_condition(d, CONDITION_STATE, &d->state_failed, !good, e.text);
}

void duties_close(struct duties *d)
{
    if (!d)
        return;
    if (d->live) {
        if (d->o.state && d->pace.changed)
            write_state(d);
        if (d->o.metrics)
            write_metrics(d);
        d->live->tap = NULL;
        d->live->on_name = NULL;
    }
    door_close(d->door);
    record_close(d->record);
    hooks_free(d->hooks);
    free(d);
}

/* ---- turns ---- */

static void measure(struct duties *d)
{
    const struct source_stats *s = source_stats(d->live->source);
    struct door_info *info = &d->info;
    int64_t now_ns = d->live->now.mono_ns, passed = now_ns - d->second_ns;
    info->now = d->live->now;
    info->ifaces = d->live->source;
    info->frames = s->frames;
    info->lost_frames = s->lost_frames;
    info->bad_lines = s->bad_lines;
    info->error_frames = s->error_frames;
    info->clock_known = s->clock_known || d->live->is_live;
    info->record = duties_record_text(d);
    if (passed < NS_PER_S)
        return;
    info->frames_per_s = (double)(s->frames - d->second_frames) / when_seconds(passed);
    d->second_frames = s->frames;
    d->second_ns = now_ns;
    struct socketcan_iface iface;
    info->load_percent = -1;
    for (int i = 0; d->live->is_live && socketcan_iface_get(d->live->source, i, &iface); i++)
        if (iface.load_percent > info->load_percent)
            info->load_percent = iface.load_percent;
}

void duties_turn(struct duties *d, struct stamp clock)
{
    struct bus_condition c;
    d->clock = clock;
    hooks_turn(d->hooks, clock);
    while (hooks_condition(d->hooks, &c))
        live_condition(d->live, &c);
    while (d->record && record_condition(d->record, &c))
        live_condition(d->live, &c);
    measure(d);
    if (d->door)
        door_turn(d->door, d->live->keeper, &d->info);
    if (d->door && door_marked(d->door))
        duties_mark(d);
    if (d->o.metrics && clock.mono_ns - d->metrics_ns >= METRICS_EVERY_NS)
        write_metrics(d);
    if (d->o.state && state_due(&d->pace, clock.mono_ns))
        write_state(d);
}

void duties_reconfigure(struct duties *d, const struct settings *settings)
{
    hooks_reconfigure(d->hooks, settings);
    d->settings = settings;
    keep_config(d);
}

bool duties_mark(struct duties *d)
{
    if (!d->record)
        return false;
    record_incident(d->record, "mark", d->live->now);
    return true;
}

bool duties_busy(const struct duties *d)
{
    return hooks_wait_ms(d->hooks) >= 0;
}

int duties_wait_ms(const struct duties *d)
{
    return hooks_wait_ms(d->hooks);
}

int duties_fds(const struct duties *d, struct pollfd *p, int max)
{
    return d->door ? door_fds(d->door, p, max) : 0;
}

const char *duties_record_text(const struct duties *d)
{
    struct record_stats r;
    if (!d->record)
        return "off";
    record_stats(d->record, &r);
    return r.writing ? "on" : "halted";
}

const char *duties_source(const struct duties *d)
{
    return d->source;
}
