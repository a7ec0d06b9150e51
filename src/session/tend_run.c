/* The loop of `tend`: one poll with a deadline over the bus, signals, hooks, the desk and the local
 * socket; rules and duties in one thread, which never waits and touches no file. */
#include "session/tend_run.h"

#include "session/season_keep.h"

#include "alerts/event_json.h"
#include "alerts/story.h"
#include "base/text.h"
#include "bus/clock.h"
#include "bus/socketcan.h"
#include "bus/timeline.h"
#include "config/config.h"
#include "hooks/notify.h"
#include "session/lines_out.h"
#include "session/options.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "base/banned.h"

#define TURN_MS   250
#define ROOM_MS   5 /* before a log that the record has no room for is tried again */
#define STATUS_NS (3600 * NS_PER_S)
#define LINES_MS  1000 /* at the end, for standard output to move on */

struct tend {
    const struct tend_options *options;
    struct settings *settings;
    struct live *live;
    struct duties *duties;
    struct lines_out *out;
    struct reload *reload; /* under way; NULL: none */
    bool reload_again;     /* asked for once more meanwhile */
    struct season_keep *season;
    struct notify notify;
    struct stamp clock; /* real, once a turn */
    int64_t watchdog_ns, petted_ns;
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
    char date[40], line[ALERT_STORY_SIZE + 160];
    when_date(date, sizeof date, at.wall_ns, t->options->utc);
    text_format(line, sizeof line, "<%d>%s %s\n", level, date, text);
    lines_out_put(t->out, line);
}

static void on_line(void *ctx, int level, const char *text)
{
    struct tend *t = ctx;
    put_line(t, level, t->clock, text);
}

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct tend *t = ctx;
    const struct alert *a = ev->alert;
    const char *word = alert_event_text(ev->event);
    char text[ALERT_STORY_SIZE + 64];
    if (!word)
        return;
    bool over =
        ev->event != EVENT_RAISED && ev->event != EVENT_ESCALATED && ev->event != EVENT_CHANGED;
    text_format(text, sizeof text, "%c %s #%u %s", alert_priority_letter(a->priority), word,
                (unsigned)a->id, a->text);
    put_line(t, over ? 5 : level_of(a->priority), ev->at, text);
    if (ev->event != EVENT_RECTIFIED && ev->event != EVENT_ENDED)
        return;
    text_format(text, sizeof text, "#%u ", (unsigned)a->id);
    size_t number = strlen(text);
    alert_story(text + number, sizeof text - number, a, t->settings, t->options->utc, true);
    put_line(t, 5, ev->at, text);
}

static void say_status(struct tend *t, struct stamp at)
{
    const struct alert_list *alerts = keeper_alerts(t->live->keeper);
    const struct source_stats *s = source_stats(t->live->source);
    char text[280];
    text_format(text, sizeof text,
                "watching %s: %llu frames, %llu lost, %zu channels; listed: alarms %zu, "
                "warnings %zu, cautions %zu",
                duties_source(t->duties), (unsigned long long)t->live->taken,
                (unsigned long long)s->lost_frames, plant_count(keeper_plant(t->live->keeper)),
                alerts_count_priority(alerts, PRIORITY_ALARM) +
                    alerts_count_priority(alerts, PRIORITY_EMERGENCY),
                alerts_count_priority(alerts, PRIORITY_WARNING),
                alerts_count_priority(alerts, PRIORITY_CAUTION));
    int64_t ahead_ns;
    if (keeper_bus_clock(t->live->keeper, &ahead_ns) &&
        (ahead_ns > 2 * NS_PER_S || ahead_ns < -2 * NS_PER_S)) {
        char clock[40];
        when_date(clock, sizeof clock, at.wall_ns + ahead_ns, t->options->utc);
        text_append(text, sizeof text, "; the bus says it is %s", clock);
    }
    put_line(t, 6, at, text);
    char status[300];
    text_format(status, sizeof status, "STATUS=%s", text);
    notify_send(&t->notify, status);
}

static void on_hour(void *ctx, struct stamp at)
{
    say_status(ctx, at);
}

/* ---- the configuration, read again ---- */

#define MESSAGES_MAX 4000

struct reload {
    const char *config;
    const struct season_keep *keep;
    struct settings *settings; /* NULL: something is wrong */
    struct season season;      /* read again as well */
    char messages[MESSAGES_MAX];
};

/* On the desk's thread: it may take as long as the disk likes. */
static void load(void *ctx)
{
    struct reload *r = ctx;
    struct config_messages *messages = NULL;
    struct err e = {""};
    r->settings = config_load(r->config, &messages);
    for (size_t i = 0; i < config_message_count(messages); i++)
        text_append(r->messages, sizeof r->messages, "%s\n", config_message(messages, i));
    config_messages_free(messages);
    if (!r->settings || !r->keep->read ||
        season_read(r->keep->read, !r->keep->must_be, &r->season, &e))
        return;
    text_append(r->messages, sizeof r->messages, "%s\n", e.text);
    settings_free(r->settings);
    r->settings = NULL;
}

static void begin_reload(struct tend *t)
{
    char text[80];
    t->reload_again = t->reload || t->season->busy; /* the desk does one thing at a time */
    if (t->reload_again)
        return;
    struct reload *r = calloc(1, sizeof *r);
    if (!r)
        return;
    r->config = t->options->config;
    r->keep = t->season;
    if (!duties_ask(t->duties, load, r)) {
        free(r);
        t->reload_again = true;
        return;
    }
    t->reload = r;
    text_format(text, sizeof text, "RELOADING=1\nMONOTONIC_USEC=%lld",
                (long long)((t->clock.mono_ns - TIMELINE_START) / NS_PER_US));
    notify_send(&t->notify, text);
}

static void take_settings(struct tend *t, struct settings *s)
{
    season_keep_settings(t->season, s);
    keeper_reconfigure(t->live->keeper, s);
    duties_reconfigure(t->duties, s);
    settings_free(t->settings);
    t->settings = s;
    duties_say(t->duties, CONDITION_CODE(CONDITION_CONFIG, 0), false, "the configuration is good");
    put_line(t, 5, t->live->now, "the configuration was read again");
}

static void end_reload(struct tend *t)
{
    struct reload *r = t->reload;
    if (!r || !duties_done(t->duties))
        return;
    t->reload = NULL;
    char *save = NULL;
    for (char *m = strtok_r(r->messages, "\n", &save); m; m = strtok_r(NULL, "\n", &save))
        put_line(t, r->settings ? 5 : 3, t->live->now, m);
    if (r->settings) {
        if (t->season->read)
            season_keep_replace(t->season, &r->season);
        take_settings(t, r->settings);
    } else {
        duties_reload_failed(t->duties);
        put_line(t, 3, t->live->now, "the configuration is wrong: the old one stays");
    }
    free(r);
    notify_send(&t->notify, "READY=1");
}

/* ---- the season ---- */

/* The watch is over: nothing waits for the disk any more. */
static void end_season(struct tend *t)
{
    char text[ALERT_TEXT_SIZE];
    struct err e;
    if (!t->duties || season_keep_end(t->season, t->live ? t->live->keeper : NULL, t->duties,
                                      t->options->sources[0], &e))
        return;
    text_format(text, sizeof text, "season not kept: %.150s", e.text);
    put_line(t, 3, t->live ? t->live->now : t->clock, text);
}

/* ---- signals ---- */

static void take_signals(struct tend *t)
{
    struct signalfd_siginfo info;
    while (read(t->signal_fd, &info, sizeof info) == (ssize_t)sizeof info) {
        switch (info.ssi_signo) {
        case SIGUSR1:
            begin_reload(t);
            break;
        case SIGTERM:
        case SIGINT:
            t->quit = true;
            t->status = 128 + (int)info.ssi_signo;
            break;
        case SIGHUP: /* a link that was dropped, a terminal that was closed */
            put_line(t, 5, t->clock, "the terminal has gone: the watch goes on");
            break;
        default:
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
    sigprocmask(SIG_BLOCK, &set, NULL);
    signal(SIGPIPE, SIG_IGN);
    return signalfd(-1, &set, SFD_NONBLOCK | SFD_CLOEXEC);
}

/* ---- the loop ---- */

static void wait_for_something(struct tend *t, bool busy)
{
    struct pollfd p[2 + DUTIES_FDS] = {
        {.fd = t->signal_fd, .events = POLLIN},
        {.fd = live_fd(t->live), .events = POLLIN},
    };
    int n = 2 + duties_fds(t->duties, p + 2, DUTIES_FDS);
    int ms = duties_wait_ms(t->duties);
    if (ms < 0 || ms > TURN_MS)
        ms = TURN_MS;
    if (t->live->waits && ms > ROOM_MS)
        ms = ROOM_MS;
    /* A log goes on as long as it has frames; at its end only hooks are waited for. */
    if (busy)
        ms = 0;
    poll(p, (nfds_t)n, ms);
    t->clock = clock_now();
    take_signals(t);
}

static void turn(struct tend *t)
{
    duties_turn(t->duties, t->clock);
    end_reload(t);
    if (!t->reload)
        season_keep_watch(t->season, t->live, t->duties, t->options->sources[0]);
    if (t->reload_again && !t->season->busy)
        begin_reload(t);
    if (t->watchdog_ns && t->clock.mono_ns - t->petted_ns >= t->watchdog_ns) {
        t->petted_ns = t->clock.mono_ns;
        notify_send(&t->notify, "WATCHDOG=1");
    }
}

static void loop(struct tend *t)
{
    bool busy = false;
    while (!t->quit) {
        wait_for_something(t, busy);
        if (t->quit)
            break;
        busy = live_turn(t->live, t->clock, LIVE_FRAMES_A_TURN);
        turn(t);
        if (t->live->failed || (t->live->ended && !duties_busy(t->duties)))
            t->quit = true;
    }
}

static void say_resumed(struct tend *t)
{
    char text[ALERT_TEXT_SIZE + 64];
    const struct alert_list *alerts = keeper_alerts(t->live->keeper);
    for (size_t i = 0; i < alerts_count(alerts); i++) {
        const struct alert *a = alerts_at(alerts, i);
        text_format(text, sizeof text, "%c resumed #%u, not acknowledged: %s",
                    alert_priority_letter(a->priority), (unsigned)a->id, a->text);
        put_line(t, level_of(a->priority), a->raised, text);
    }
}

/* Else a log whose name was mistyped would look like an interface that is merely late. */
static void say_unknown(struct tend *t)
{
    for (int i = 0; t->live->is_live && i < t->options->source_count; i++) {
        char text[120], shown[64];
        const char *name = t->options->sources[i];
        if (!socketcan_is_unknown(name))
            continue;
        text_clean(shown, sizeof shown, name, strlen(name));
        text_format(text, sizeof text,
                    "'%s' is neither a log nor an interface that is there now: waiting for one",
                    shown);
        put_line(t, 4, t->clock, text);
    }
}

/* First of all, while there is no thread yet: it forks. */
static bool open_duties(struct tend *t, struct err *e)
{
    const struct tend_options *o = t->options;
    char source[48] = "";
    for (int i = 0; i < o->source_count; i++)
        text_append(source, sizeof source, "%s%s", i ? " " : "",
                    strcmp(o->sources[i], "-") == 0 ? "standard input" : o->sources[i]);
    t->duties = duties_open(&o->duties, t->settings, source, e);
    return t->duties != NULL;
}

static bool open_lines(struct tend *t, struct err *e)
{
    t->out = lines_out_new(STDOUT_FILENO);
    return t->out || err_set(e, "out of memory");
}

static bool begin(struct tend *t, struct err *e)
{
    const struct tend_options *o = t->options;
    t->live = calloc(1, sizeof *t->live);
    if (!t->live)
        return err_set(e, "out of memory");
    if (!live_open(t->live, o->sources, o->source_count, o->zone, t->settings, true, e))
        return false;
    t->live->now = t->clock;
    say_unknown(t);
    if (!duties_begin(t->duties, t->live, t->clock, e))
        put_line(t, 4, t->clock, e->text);
    say_resumed(t);
    return true;
}

static void end(struct tend *t)
{
    notify_send(&t->notify, "STOPPING=1");
    if (t->live && t->live->keeper && t->out && (t->live->is_live || t->live->taken > 0))
        say_status(t, t->live->now);
    end_season(t);
    duties_close(t->duties);
    if (t->live)
        live_close(t->live);
    free(t->live);
    notify_fini(&t->notify);
    settings_free(t->settings);
    if (t->signal_fd >= 0)
        close(t->signal_fd);
    lines_out_free(t->out, LINES_MS);
}

static void say_config(struct tend *t)
{
    if (t->options->fallen_back[0]) {
        duties_say(t->duties, CONDITION_CODE(CONDITION_CONFIG, 0), true, t->options->fallen_back);
        duties_reload_failed(t->duties);
    } else {
        duties_keep_config(t->duties);
    }
    if (t->options->season_unread)
        duties_say(t->duties, CONDITION_CODE(CONDITION_SEASON, 1), true,
                   "the season cannot be read: nothing is compared or kept");
}

static void run(struct tend *t)
{
    duties_listen(t->duties, on_line, t);
    alerts_listen(keeper_alerts(t->live->keeper), on_event, t);
    say_config(t);
    t->live->every_ns = STATUS_NS;
    t->live->on_every = on_hour;
    t->live->every_ctx = t;
    if (!notify_init(&t->notify, getenv("NOTIFY_SOCKET")))
        put_line(t, 4, t->clock, "NOTIFY_SOCKET cannot be used");
    t->watchdog_ns =
        notify_watchdog_ns(getenv("WATCHDOG_USEC"), getenv("WATCHDOG_PID"), (long)getpid());
    if (t->live->is_live) {
        char text[200];
        socketcan_describe(t->live->source, text, sizeof text);
        put_line(t, 6, t->clock, text);
    }
    notify_send(&t->notify, "READY=1");
    loop(t);
    t->clock = live_drain(t->live);
    turn(t);
}

int tend_take_over(const struct tend_options *options, struct settings *settings, struct live *live,
                   struct duties *duties)
{
    struct err e = {""};
    struct tend *t = calloc(1, sizeof *t);
    if (!t) {
        fputs("stokehold tend: out of memory\n", stderr);
        settings_free(settings);
        return EXIT_SOURCE;
    }
    t->options = options;
    t->season = options->season;
    t->settings = settings;
    season_keep_settings(t->season, settings);
    t->status = EXIT_DONE;
    t->notify.fd = -1;
    t->signal_fd = catch_signals();
    t->clock = clock_now();
    t->live = live;
    t->duties = duties;
    bool up = (live || open_duties(t, &e)) && open_lines(t, &e) && (live || begin(t, &e));
    if (up)
        run(t);
    if (up && t->live->failed)
        e = t->live->error;
    if (!up || t->live->failed) {
        fprintf(stderr, "stokehold tend: %s\n", e.text);
        t->status = EXIT_SOURCE;
    }
    if (up && !t->live->is_live &&
        log_reader_report(&t->live->reader, "tend", options->sources[0]) != EXIT_DONE)
        t->status = EXIT_SOURCE;
    end(t);
    int status = t->status;
    free(t);
    return status;
}

int tend_run(const struct tend_options *options, struct settings *settings)
{
    return tend_take_over(options, settings, NULL, NULL);
}
