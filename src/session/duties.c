#include "session/duties.h"

#include "alerts/event_json.h"
#include "base/memory_file.h"
#include "base/text.h"
#include "config/config.h"
#include "hooks/metrics.h"
#include "hooks/state.h"
#include "report/papers/marks.h"
#include "session/duties_own.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define OPEN_MS  1000               /* for a disk that holds the state file to answer */
#define CLOSE_MS 1500               /* for one to take the last of it */
#define TRY_NS   (10 * NS_PER_S)    /* how long an alarm on trial stands */
#define TRIAL    UINT32_C(0xFFFFFF) /* its situation and claimant */

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

bool duties_good_config(const char *state, char *dst, size_t cap)
{
    return text_format(dst, cap, "%s.conf", state);
}

static char *config_text(const struct settings *settings, size_t *len)
{
    struct memory_file m;
    if (!memory_file_open(&m))
        return NULL;
    FILE *f = m.out;
    fputs("# stokehold configuration 1: the last one that was found good, kept by tend\n", f);
    config_print(settings, f);
    return memory_file_close(&m, len);
}

/* For incidents, and for a start with a configuration that is wrong. */
static void keep_config(struct duties *d, bool good)
{
    size_t len;
    char *text = config_text(d->settings, &len);
    if (text && d->record)
        record_set_config(d->record, text);
    if (text && good && d->o.state)
        desk_write(d->desk, DESK_GOOD_CONFIG, text, len);
    else
        free(text);
}

void duties_keep_config(struct duties *d)
{
    keep_config(d, true);
}

static void on_hook_line(void *ctx, const char *hook, const char *line)
{
    struct duties *d = ctx;
    char text[320];
    text_format(text, sizeof text, "hook %s: %s", hook, line);
    if (d->line)
        d->line(d->line_ctx, 6, text);
}

void duties_listen(struct duties *d, duties_line *f, void *ctx)
{
    d->line = f;
    d->line_ctx = ctx;
}

static bool open_all(struct duties *d, struct err *e)
{
    const struct duties_options *o = &d->o;
    if (o->state && !duties_good_config(o->state, d->good_config, sizeof d->good_config))
        return err_set(e, "the name '%.200s' is too long", o->state);
    d->hooks = hooks_new(d->settings);
    d->desk = d->hooks ? desk_new() : NULL;
    if (!d->desk)
        return err_set(e, "out of memory");
    hooks_listen(d->hooks, on_hook_line, d);
    desk_place(d->desk, DESK_STATE, o->state, 0640, true);
    desk_place(d->desk, DESK_GOOD_CONFIG, d->good_config, 0640, true);
    desk_place(d->desk, DESK_METRICS, o->metrics, 0644, false); /* for a collector to read */
    if (o->socket && (d->door = door_open(o->socket, e)) == NULL)
        return false;
    struct record_options r = {.dir = o->record, .cap_bytes = o->record_cap};
    return !o->record || (d->record = record_open(&r, e)) != NULL;
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
    d->info.source = d->status.source = d->source;
    if (open_all(d, e)) {
        keep_config(d, false);
        return d;
    }
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
    if (a->priority < PRIORITY_ALARM || alert_is_trial(a))
        return;
    if (ev->event == EVENT_ACKNOWLEDGED)
        record_acknowledged(d->record, a->id, ev->at);
    if (ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED)
        return;
    text_format(name, sizeof name, "%s-%s", a->channel[0] ? a->channel : "boat", a->rule);
    record_incident(d->record, name, a->id, ev->at);
}

static void note_words(struct duties *d, const struct alert *a)
{
    struct status_said *s = &d->said[d->said_next++ % ALERTS_MAX];
    s->id = a->id;
    text_copy(s->text, sizeof s->text, a->text);
}

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct duties *d = ctx;
    if (d->door)
        door_alerts_changed(d->door);
    state_event(&d->pace, ev);
    if (!d->o.no_hooks)
        hooks_event(d->hooks, ev);
    if (ev->event == EVENT_RAISED) {
        d->status.raised[ev->alert->priority] += !alert_is_trial(ev->alert);
        note_words(d, ev->alert);
    }
    if (d->record)
        keep(d, ev);
}

static void on_name(void *ctx, uint8_t iface, const char *name)
{
    struct duties *d = ctx;
    if (d->record)
        record_name_iface(d->record, iface, name);
    if (iface >= SOURCE_IFACES)
        return;
    text_copy(d->status.ifaces[iface].name, sizeof d->status.ifaces[iface].name, name);
    if (iface >= d->status.iface_count)
        d->status.iface_count = iface + 1;
}

static void on_frames(void *ctx, const struct frame *f, size_t n)
{
    struct duties *d = ctx;
    if (d->record)
        record_frames(d->record, f, n);
    for (size_t i = 0; i < n; i++) {
        if (f[i].iface >= SOURCE_IFACES)
            continue;
        struct status_iface *s = &d->status.ifaces[f[i].iface];
        s->last_wall_ns = f[i].wall_ns;
        s->frames++; /* of a log; a live interface counts for itself */
    }
}

/* A log can wait until the record has room for it. */
static bool may_read(void *ctx, size_t n)
{
    const struct duties *d = ctx;
    return !d->record || record_has_room(d->record, n, d->clock.mono_ns);
}

/* ---- the state file, at the start ---- */

static void read_state(void *ctx)
{
    struct duties *d = ctx;
    d->held = state_read(d->o.state, &d->held_error);
}

static bool restore(struct duties *d, struct err *e)
{
    d->restoring = false;
    if (!d->held) {
        *e = d->held_error;
        return false;
    }
    const struct alert_list *alerts = keeper_alerts(d->live->keeper);
    state_restore(d->held, keeper_alerts(d->live->keeper), d->hooks, d->clock);
    for (size_t i = 0; i < alerts_count(alerts); i++)
        if (alerts_at(alerts, i)->state == ALERT_RECTIFIED)
            note_words(d, alerts_at(alerts, i));
    d->hooks_version = hooks_version(d->hooks);
    state_free(d->held);
    d->held = NULL;
    return true;
}

bool duties_begin(struct duties *d, struct live *live, struct stamp clock, struct err *e)
{
    struct err none;
    d->live = live;
    d->clock = clock;
    d->status.started_wall_ns = d->status.loaded_wall_ns = clock.wall_ns;
    live->ctx = d;
    live->on_name = on_name;
    live->tap = on_frames;
    live->may_read = may_read;
    alerts_listen(keeper_alerts(live->keeper), on_event, d);
    if (!d->o.state)
        return true;
    d->restoring = desk_ask(d->desk, read_state, d);
    return !d->restoring || !desk_wait(d->desk, OPEN_MS) || restore(d, e ? e : &none);
}

/* ---- files ---- */

static void write_metrics(struct duties *d)
{
    size_t len;
    d->metrics_ns = d->clock.mono_ns;
    duties_fill_status(d);
    char *text = metrics_text(keeper_plant(d->live->keeper), keeper_alerts(d->live->keeper),
                              &d->status, &len);
    if (text)
        desk_write(d->desk, DESK_METRICS, text, len);
}

static void write_state(struct duties *d)
{
    size_t len;
    char *text = state_text(keeper_alerts(d->live->keeper), d->hooks, d->settings, &len);
    d->pace = (struct state_pace){.saved_ns = d->clock.mono_ns};
    d->hooks_version = hooks_version(d->hooks);
    if (text) {
        desk_write(d->desk, DESK_STATE, text, len);
        return;
    }
    d->pace.changed = true; /* once more, at the pace of warnings */
    duties_say_change(d, CONDITION_STATE, 0, &d->state_failed, true,
                      "the state cannot be kept: out of memory");
}

static void take_results(struct duties *d)
{
    struct err e;
    bool good;
    desk_heard(d->desk);
    if (desk_written(d->desk, DESK_STATE, &good, &e)) {
        duties_say_change(d, CONDITION_STATE, 0, &d->state_failed, !good, e.text);
        d->pace.changed |= !good; /* once more, at the pace of warnings */
    }
    if (desk_written(d->desk, DESK_GOOD_CONFIG, &good, &e))
        duties_say_change(d, CONDITION_STATE, 1, &d->config_failed, !good, e.text);
    if (desk_written(d->desk, DESK_METRICS, &good, &e))
        duties_say_change(d, CONDITION_METRICS, 0, &d->metrics_failed, !good, e.text);
    if (d->restoring && desk_done(d->desk) && !restore(d, &e))
        duties_say_change(d, CONDITION_STATE, 0, &d->state_failed, true, e.text);
}

void duties_close(struct duties *d)
{
    if (!d)
        return;
    if (d->live) {
        if (d->o.state && !d->restoring && d->pace.changed)
            write_state(d);
        if (d->o.metrics)
            write_metrics(d);
        d->live->tap = NULL;
        d->live->may_read = NULL;
        d->live->on_name = NULL;
    }
    door_close(d->door);
    /* Nobody is left to hear an alert. */
    struct err e;
    if (!desk_free(d->desk, CLOSE_MS, &e))
        fprintf(stderr, "stokehold: %s\n", e.text);
    if (!record_close(d->record, &e))
        fprintf(stderr, "stokehold: %s\n", e.text);
    hooks_free(d->hooks);
    if (d->restoring)
        return; /* the desk may yet come back from reading, and puts it here */
    state_free(d->held);
    free(d);
}

/* ---- turns ---- */

/* An alarm on trial goes the whole way, and is taken back. */
static void try_alarm(struct duties *d)
{
    struct alert_list *alerts = keeper_alerts(d->live->keeper);
    struct alert_claim c = {.situation = {.group = SITUATION_RULE, .code = TRIAL},
                            .claimant = TRIAL,
                            .kind = KIND_SELF,
                            .rule = ALERT_TRIAL_RULE,
                            .priority = PRIORITY_ALARM,
                            .value = (double)NAN,
                            .text =
                                "TEST ALARM, nothing is wrong: sound, hooks and boards are tried"};
    alerts_claim(alerts, &c, d->live->now);
    d->tried_ns = d->live->now.mono_ns;
}

static void end_trial(struct duties *d)
{
    struct alert_list *alerts = keeper_alerts(d->live->keeper);
    if (d->tried_ns == 0 || d->live->now.mono_ns - d->tried_ns < TRY_NS)
        return;
    d->tried_ns = 0;
    alerts_withdraw(alerts, TRIAL, d->live->now);
    for (size_t i = alerts_count(alerts); i-- > 0;)
        if (alert_is_trial(alerts_at(alerts, i)))
            alerts_acknowledge(alerts, alerts_at(alerts, i)->id, d->live->now);
}

static void turn_door(struct duties *d)
{
    duties_fill_status(d);
    d->info.status = &d->status;
    door_turn(d->door, d->live->keeper, &d->info);
    int64_t mark_ns;
    const char *words;
    if (door_marked(d->door, &mark_ns, &words))
        duties_mark(d, mark_ns, words);
    if (door_tried(d->door))
        try_alarm(d);
}

void duties_turn(struct duties *d, struct stamp clock)
{
    struct bus_condition c;
    d->clock = clock;
    if (d->live->ended)
        hooks_last_was_said(d->hooks);
    hooks_turn(d->hooks, clock);
    while (hooks_condition(d->hooks, &c))
        live_condition(d->live, &c);
    while (d->record && record_condition(d->record, &c))
        live_condition(d->live, &c);
    take_results(d);
    duties_look_at_disks(d);
    duties_look_at_clock(d);
    duties_measure(d);
    end_trial(d);
    if (d->door)
        turn_door(d);
    if (d->o.metrics && clock.mono_ns - d->metrics_ns >= METRICS_EVERY_NS)
        write_metrics(d);
    if (hooks_version(d->hooks) != d->hooks_version)
        d->pace.changed = true;
    /* not before it was read: what it holds would be lost */
    if (d->o.state && !d->restoring && state_due(&d->pace, clock.mono_ns))
        write_state(d);
}

void duties_reconfigure(struct duties *d, const struct settings *settings)
{
    hooks_reconfigure(d->hooks, settings);
    d->settings = settings;
    d->status.loaded_wall_ns = d->clock.wall_ns;
    d->status.load_failed = false;
    keep_config(d, true);
}

void duties_reload_failed(struct duties *d)
{
    d->status.load_failed = true;
}

bool duties_mark(struct duties *d, int64_t wall_ns, const char *words)
{
    struct mark k = {.wall_ns = wall_ns ? wall_ns : d->live->now.wall_ns};
    char head[80], line[MARK_WORDS + 60];
    if (!d->record)
        return false;
    record_incident(d->record, "mark", 0, d->live->now);
    text_clean(k.words, sizeof k.words, words, strlen(words));
    marks_head(head, sizeof head);
    marks_format(line, sizeof line, &k);
    record_mark(d->record, head, line, d->live->now);
    return true;
}

bool duties_ask(struct duties *d, void (*work)(void *ctx), void *ctx)
{
    return !d->restoring && desk_ask(d->desk, work, ctx);
}

bool duties_done(struct duties *d)
{
    return !d->restoring && desk_done(d->desk);
}

bool duties_await(struct duties *d, int patience_ms)
{
    return !d->restoring && desk_wait(d->desk, patience_ms);
}

bool duties_busy(const struct duties *d)
{
    return hooks_busy(d->hooks);
}

int duties_wait_ms(const struct duties *d)
{
    return hooks_wait_ms(d->hooks);
}

int duties_fds(const struct duties *d, struct pollfd *p, int max)
{
    int n = 0;
    if (n < max)
        p[n++] = (struct pollfd){.fd = hooks_fd(d->hooks), .events = POLLIN};
    if (n < max)
        p[n++] = (struct pollfd){.fd = desk_fd(d->desk), .events = POLLIN};
    return n + (d->door ? door_fds(d->door, p + n, max - n) : 0);
}

const char *duties_source(const struct duties *d)
{
    return d->source;
}
