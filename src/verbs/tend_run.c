/* The loop of `tend`: one poll with a deadline over the bus, signals, standard output and the
 * local socket; rules, record, hooks and metrics in one thread, none of which waits. */
#include "verbs/tend.h"

#include "alerts/event_json.h"
#include "base/text.h"
#include "bus/clock.h"
#include "bus/socketcan.h"
#include "bus/timeline.h"
#include "config/config.h"
#include "hooks/door.h"
#include "hooks/hooks.h"
#include "hooks/metrics.h"
#include "hooks/notify.h"
#include "hooks/state.h"
#include "record/record.h"
#include "verbs/lines_out.h"
#include "verbs/live.h"
#include "verbs/options.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "base/banned.h"

#define FRAMES_A_TURN 20000
#define TURN_MS       250
#define STATUS_NS     (3600 * NS_PER_S)

struct tend {
    const struct tend_options *options;
    struct settings *settings;
    struct live live;
    struct lines_out out;
    struct record *record; /* NULL: none */
    struct hooks *hooks;
    struct door *door;
    struct notify notify;
    struct metrics_counts counts;
    struct state_pace pace;
    struct stamp clock; /* real, once a turn */
    int64_t status_ns;  /* mono of the rules: next status line */
    int64_t metrics_ns; /* real mono: when the metrics file was written */
    int64_t watchdog_ns, petted_ns;
    struct door_info info;
    uint64_t second_frames; /* for frames a second */
    int64_t second_ns;
    bool metrics_failed, state_failed;
    int signal_fd, status;
    bool quit;
};

/* ---- lines ---- */

/* Levels of syslog(3), as the service manager reads them from the start of a line. */
static int level_of(enum priority p)
{
    static const int levels[] = {[PRIORITY_CAUTION] = 5,
                                 [PRIORITY_WARNING] = 4,
                                 [PRIORITY_ALARM] = 2,
                                 [PRIORITY_EMERGENCY] = 1};
    return levels[p];
}

static void put_line(struct tend *t, int level, struct stamp at, const char *text)
{
    char date[40], line[ALERT_TEXT_SIZE + 160];
    when_date(date, sizeof date, at.wall_ns, t->options->utc);
    text_format(line, sizeof line, "<%d>%s %s\n", level, date, text);
    lines_out_put(&t->out, line);
}

/* The alert history beside the frames, and an incident around every alarm. */
static void keep(struct tend *t, const struct alert_event *ev)
{
    char json[EVENT_JSON_SIZE], name[sizeof ev->alert->channel + sizeof ev->alert->rule + 2];
    const struct alert *a = ev->alert;
    const char *line = alert_event_json(json, sizeof json, ev);
    if (line)
        record_alert(t->record, line, ev->at);
    if (a->priority < PRIORITY_ALARM || (ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED))
        return;
    text_format(name, sizeof name, "%s-%s", a->channel[0] ? a->channel : "boat", a->rule);
    record_incident(t->record, name, ev->at);
}

static void on_name(void *ctx, uint8_t iface, const char *name)
{
    struct tend *t = ctx;
    if (t->record)
        record_name_iface(t->record, iface, name);
}

static void on_frames(void *ctx, const struct frame *f, size_t n)
{
    struct tend *t = ctx;
    record_frames(t->record, f, n);
}

static void keep_config(struct tend *t)
{
    char *text = NULL;
    size_t len = 0;
    FILE *f = t->record ? open_memstream(&text, &len) : NULL;
    if (!f)
        return;
    config_print(t->settings, f);
    if (fclose(f) == 0)
        record_set_config(t->record, text);
    free(text);
}

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct tend *t = ctx;
    const struct alert *a = ev->alert;
    const char *word = alert_event_text(ev->event);
    if (t->door)
        door_alerts_changed(t->door);
    state_event(&t->pace, ev);
    hooks_event(t->hooks, ev);
    if (!word)
        return;
    if (ev->event == EVENT_RAISED)
        t->counts.raised[a->priority]++;
    if (t->record)
        keep(t, ev);
    bool over = ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED;
    char text[ALERT_TEXT_SIZE + 64];
    text_format(text, sizeof text, "%c %s #%u %s", alert_priority_letter(a->priority), word,
                (unsigned)a->id, a->text);
    put_line(t, over ? 5 : level_of(a->priority), ev->at, text);
}

static void say_status(struct tend *t)
{
    const struct alert_list *alerts = keeper_alerts(t->live.keeper);
    const struct source_stats *s = source_stats(t->live.source);
    char text[200];
    text_format(text, sizeof text,
                "watching %s: %llu frames, %llu lost, %zu channels; alerts listed: %zu alarms, "
                "%zu warnings, %zu cautions",
                t->info.source, (unsigned long long)s->frames, (unsigned long long)s->lost_frames,
                plant_count(keeper_plant(t->live.keeper)),
                alerts_count_priority(alerts, PRIORITY_ALARM) +
                    alerts_count_priority(alerts, PRIORITY_EMERGENCY),
                alerts_count_priority(alerts, PRIORITY_WARNING),
                alerts_count_priority(alerts, PRIORITY_CAUTION));
    put_line(t, 6, t->live.now, text);
    char status[220];
    text_format(status, sizeof status, "STATUS=%s", text);
    notify_send(&t->notify, status);
}

/* ---- conditions of our own ---- */

static void own_condition(struct tend *t, enum condition_sort sort, bool *stands, bool now_stands,
                          const char *text)
{
    if (*stands == now_stands)
        return;
    *stands = now_stands;
    struct bus_condition c = {.code = CONDITION_CODE(sort, 0),
                              .priority = PRIORITY_CAUTION,
                              .stands = now_stands,
                              .at = t->live.now};
    text_copy(c.text, sizeof c.text, text);
    live_condition(&t->live, &c);
}

static void write_metrics(struct tend *t)
{
    struct err e = {""};
    const struct source_stats *s = source_stats(t->live.source);
    t->metrics_ns = t->clock.mono_ns;
    t->counts.frames = s->frames;
    t->counts.lost_frames = s->lost_frames;
    t->counts.error_frames = s->error_frames;
    t->counts.bad_lines = s->bad_lines;
    bool good = metrics_write(t->options->metrics, keeper_plant(t->live.keeper),
                              keeper_alerts(t->live.keeper), &t->counts, t->live.now, &e);
    own_condition(t, CONDITION_METRICS, &t->metrics_failed, !good, e.text);
}

static void write_state(struct tend *t)
{
    struct err e = {""};
    bool good = state_save(t->options->state, keeper_alerts(t->live.keeper), &e);
    t->pace = (struct state_pace){.saved_ns = t->clock.mono_ns};
    own_condition(t, CONDITION_STATE, &t->state_failed, !good, e.text);
}

/* ---- signals ---- */

static void reload(struct tend *t)
{
    char text[80];
    text_format(text, sizeof text, "RELOADING=1\nMONOTONIC_USEC=%lld",
                (long long)((t->clock.mono_ns - TIMELINE_START) / NS_PER_US));
    notify_send(&t->notify, text);
    struct settings *s = options_settings("tend", t->options->config);
    if (!s) {
        put_line(t, 3, t->live.now, "the configuration is wrong: the old one stays");
    } else {
        keeper_reconfigure(t->live.keeper, s);
        hooks_reconfigure(t->hooks, s);
        settings_free(t->settings);
        t->settings = s;
        keep_config(t);
        put_line(t, 5, t->live.now, "the configuration was read anew");
    }
    notify_send(&t->notify, "READY=1");
}

static void take_signals(struct tend *t)
{
    struct signalfd_siginfo info;
    while (read(t->signal_fd, &info, sizeof info) == (ssize_t)sizeof info) {
        switch (info.ssi_signo) {
        case SIGUSR1:
            reload(t);
            break;
        case SIGTERM:
        case SIGINT:
        case SIGHUP:
            t->quit = true;
            t->status = 128 + (int)info.ssi_signo;
            break;
        default: /* SIGCHLD: hooks_turn looks */
            break;
        }
    }
}

/* Before any thread is begun, so that all of them leave signals to the loop. */
static int catch_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGHUP);
    sigaddset(&set, SIGUSR1);
    sigaddset(&set, SIGCHLD);
    sigprocmask(SIG_BLOCK, &set, NULL);
    signal(SIGPIPE, SIG_IGN);
    return signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
}

/* ---- the loop ---- */

static void wait_for_something(struct tend *t, bool busy)
{
    struct pollfd p[3 + DOOR_CLIENTS_MAX + 1] = {
        {.fd = t->signal_fd, .events = POLLIN},
        {.fd = live_fd(&t->live), .events = POLLIN},
        {.fd = lines_out_fd(&t->out), .events = POLLOUT},
    };
    int n = 3;
    if (t->door)
        n += door_fds(t->door, p + n, DOOR_CLIENTS_MAX + 1);
    int ms = hooks_wait_ms(t->hooks);
    if (ms < 0 || ms > TURN_MS)
        ms = TURN_MS;
    /* A log goes on as long as it has frames; at its end only hooks are waited for. */
    if (busy)
        ms = 0;
    poll(p, (nfds_t)n, ms);
    t->clock = clock_now();
    take_signals(t);
    lines_out_flush(&t->out);
}

static void measure(struct tend *t)
{
    const struct source_stats *s = source_stats(t->live.source);
    int64_t passed = t->live.now.mono_ns - t->second_ns;
    t->info.now = t->live.now;
    t->info.ifaces = t->live.source;
    t->info.frames = s->frames;
    t->info.lost_frames = s->lost_frames;
    t->info.bad_lines = s->bad_lines;
    t->info.error_frames = s->error_frames;
    t->info.clock_known = s->clock_known || t->live.is_live;
    t->info.record = "off";
    if (t->record) {
        struct record_stats r;
        record_stats(t->record, &r);
        t->info.record = r.writing ? "on" : "halted";
    }
    if (passed < NS_PER_S)
        return;
    t->info.frames_per_s = (double)(s->frames - t->second_frames) / when_seconds(passed);
    t->second_frames = s->frames;
    t->second_ns = t->live.now.mono_ns;
    struct socketcan_iface iface;
    t->info.load_percent = -1;
    for (int i = 0; t->live.is_live && socketcan_iface_get(t->live.source, i, &iface); i++)
        if (iface.load_percent > t->info.load_percent)
            t->info.load_percent = iface.load_percent;
}

static void do_what_is_due(struct tend *t)
{
    struct bus_condition c;
    hooks_turn(t->hooks, t->clock);
    while (hooks_condition(t->hooks, &c))
        live_condition(&t->live, &c);
    while (t->record && record_condition(t->record, &c))
        live_condition(&t->live, &c);
    measure(t);
    if (t->door)
        door_turn(t->door, t->live.keeper, &t->info);
    if (t->options->metrics && t->clock.mono_ns - t->metrics_ns >= METRICS_EVERY_NS)
        write_metrics(t);
    if (t->options->state && state_due(&t->pace, t->clock.mono_ns))
        write_state(t);
    if (t->watchdog_ns && t->clock.mono_ns - t->petted_ns >= t->watchdog_ns) {
        t->petted_ns = t->clock.mono_ns;
        notify_send(&t->notify, "WATCHDOG=1");
    }
    if (t->status_ns == 0)
        t->status_ns = t->live.now.mono_ns + STATUS_NS;
    else if (t->live.now.mono_ns >= t->status_ns) {
        t->status_ns += STATUS_NS;
        say_status(t);
    }
}

static void loop(struct tend *t)
{
    bool busy = false;
    while (!t->quit) {
        wait_for_something(t, busy);
        if (t->quit)
            break;
        busy = live_turn(&t->live, t->clock, FRAMES_A_TURN);
        do_what_is_due(t);
        if (t->live.failed || (t->live.ended && hooks_wait_ms(t->hooks) < 0))
            t->quit = true;
    }
}

static bool begin(struct tend *t, struct err *e)
{
    const struct tend_options *o = t->options;
    t->hooks = hooks_new(t->settings);
    if (!t->hooks)
        return err_set(e, "out of memory");
    if (o->socket && !(t->door = door_open(o->socket, e)))
        return false;
    if (o->record) {
        struct record_options r = {.dir = o->record, .cap_bytes = o->record_cap};
        if (!(t->record = record_open(&r, e)))
            return false;
        keep_config(t);
    }
    if (!live_open(&t->live, o->sources, o->source_count, o->zone, t->settings, true, e))
        return false;
    t->live.ctx = t;
    t->live.on_name = on_name;
    t->live.tap = t->record ? on_frames : NULL;
    t->live.now = t->clock;
    alerts_listen(keeper_alerts(t->live.keeper), on_event, t);
    if (!notify_init(&t->notify, getenv("NOTIFY_SOCKET")))
        put_line(t, 4, t->clock, "NOTIFY_SOCKET cannot be used");
    t->watchdog_ns =
        notify_watchdog_ns(getenv("WATCHDOG_USEC"), getenv("WATCHDOG_PID"), (long)getpid());
    return true;
}

static void resume(struct tend *t)
{
    struct err e;
    int count = 0;
    char text[ALERT_TEXT_SIZE + 64];
    const struct alert_list *alerts = keeper_alerts(t->live.keeper);
    if (!state_load(t->options->state, keeper_alerts(t->live.keeper), t->clock, &count, &e))
        put_line(t, 4, t->clock, e.text);
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        text_format(text, sizeof text, "%c resumed #%u, not acknowledged: %s",
                    alert_priority_letter(a->priority), (unsigned)a->id, a->text);
        put_line(t, level_of(a->priority), a->raised, text);
    }
}

static void end(struct tend *t)
{
    notify_send(&t->notify, "STOPPING=1");
    if (t->live.keeper && t->options->state && t->pace.changed)
        write_state(t);
    if (t->live.keeper && t->options->metrics)
        write_metrics(t);
    if (t->live.keeper)
        say_status(t);
    door_close(t->door);
    live_close(&t->live);
    record_close(t->record);
    hooks_free(t->hooks);
    notify_fini(&t->notify);
    settings_free(t->settings);
    if (t->signal_fd >= 0)
        close(t->signal_fd);
    lines_out_fini(&t->out);
}

int tend_run(const struct tend_options *options, struct settings *settings)
{
    struct err e;
    struct tend *t = calloc(1, sizeof *t);
    if (!t) {
        settings_free(settings);
        return EXIT_SOURCE;
    }
    t->options = options;
    t->settings = settings;
    t->status = EXIT_DONE;
    t->notify.fd = -1;
    t->signal_fd = catch_signals();
    t->clock = clock_now();
    t->counts.started_wall_ns = t->clock.wall_ns;
    lines_out_init(&t->out, STDOUT_FILENO);
    char source[48] = "";
    for (int i = 0; i < options->source_count; i++)
        text_append(source, sizeof source, "%s%s", i ? " " : "", options->sources[i]);
    text_clean(source, sizeof source, source, strlen(source));
    t->info.source = source;
    bool up = begin(t, &e);
    if (up) {
        if (options->state)
            resume(t);
        if (t->live.is_live) {
            char text[200];
            socketcan_describe(t->live.source, text, sizeof text);
            put_line(t, 6, t->clock, text);
        }
        notify_send(&t->notify, "READY=1");
        loop(t);
    }
    if (t->live.failed)
        e = t->live.error;
    if (!up || t->live.failed) {
        fprintf(stderr, "stokehold tend: %s\n", e.text);
        t->status = EXIT_SOURCE;
    }
    end(t);
    int status = t->status;
    free(t);
    return status;
}
