#include "session/timeline.h"

#include "alerts/event_json.h"
#include "alerts/story.h"
#include "base/json.h"
#include "base/text.h"
#include "keeper/keeper.h"
#include "session/incident_page.h"
#include "session/log_reader.h"
#include "session/losses.h"
#include "session/season_keep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

struct timeline_run {
    const struct timeline_options *options;
    const struct settings *settings;
    struct keeper *keeper;
    struct incident *incident; /* of this trip; NULL: nobody asked */
    bool season_failed;
    const char *name;
    struct log_reader reader;
    struct wire *ahead;             /* the reading thread's; NULL: none */
    int64_t first_ns, last_ns;      /* wall, of the frames asked for */
    const char *failed;             /* why it cannot go on */
    struct losses losses;           /* of the trips before */
    char ifaces[SOURCE_IFACES][24]; /* a trip after the first needs them again */
    int iface_count;
    uint64_t raised[PRIORITY_EMERGENCY + 1]; /* each alert once, as the highest it became */
    bool reached;                            /* an alert of fail_on or above was raised */
};

static const char *event_text(enum alert_event_kind e)
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
    default:
        return NULL;
    }
}

static void print_json(const struct alert_event *ev)
{
    char line[EVENT_JSON_SIZE];
    const char *text = alert_event_json(line, sizeof line, ev);
    if (text)
        fputs(text, stdout);
}

static void print_figure(bool *begun, const char *name, double v, int decimals, const char *unit)
{
    char number[40];
    if (!isfinite(v) || !text_number(number, sizeof number, v, decimals))
        return;
    printf("%*s  %s %s%s%s", *begun ? 0 : 30, "", name, number, unit[0] ? " " : "", unit);
    *begun = true;
}

static void print_figures(const struct alert *a)
{
    const struct alert_figures *f = &a->figures;
    const char *unit = unit_text(a->unit);
    bool begun = false;
    print_figure(&begun, "value", f->value, 1, unit);
    print_figure(&begun, "expected", f->expected, 1, unit);
    print_figure(&begun, "allowance", f->allowance, 2, "K");
    print_figure(&begun, "noise", f->noise, 2, "K");
    print_figure(&begun, "rate", f->rate_per_min, 1, "a minute");
    print_figure(&begun, "limit", f->limit, 1, unit);
    print_figure(&begun, "statistic", f->statistic, 2, "");
    print_figure(&begun, "threshold", f->threshold, 2, "");
    if (begun)
        putchar('\n');
}

static void print_story(const struct timeline_run *t, const struct alert *a)
{
    char line[ALERT_STORY_SIZE];
    alert_story(line, sizeof line, a, keeper_settings(t->keeper), t->options->utc,
                t->options->escalate);
    printf("%30s%s\n", "", line);
}

static void print_line(const struct timeline_run *t, const struct alert_event *ev, const char *word)
{
    char clock[40], into[24];
    const struct alert *a = ev->alert;
    when_clock(clock, sizeof clock, ev->at.wall_ns, t->options->utc);
    when_elapsed(into, sizeof into, ev->at.wall_ns - t->reader.first_ns);
    printf("%s %8s  %c %-9s  %s\n", clock, into, alert_priority_letter(a->priority), word, a->text);
    if (ev->event == EVENT_RECTIFIED || ev->event == EVENT_ENDED)
        print_story(t, a);
    else if (t->options->explain)
        print_figures(a);
}

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct timeline_run *t = ctx;
    const char *word = event_text(ev->event);
    if (!word || ev->at.wall_ns < t->reader.from_ns || ev->at.wall_ns > t->reader.to_ns)
        return;
    /* each alert counts once, as the highest it became */
    if (ev->event == EVENT_RAISED || ev->event == EVENT_ESCALATED)
        t->raised[ev->alert->priority]++;
    if (ev->event == EVENT_ESCALATED && t->raised[ev->before] > 0)
        t->raised[ev->before]--;
    if (ev->alert->priority >= t->options->fail_on)
        t->reached = true;
    if (t->options->json)
        print_json(ev);
    else
        print_line(t, ev, word);
}

static void say_season(struct timeline_run *t, bool good, const struct err *e)
{
    if (good)
        return;
    fprintf(stderr, "stokehold %s: %s\n", t->options->verb, e->text);
    t->season_failed = true;
}

static void end_season(struct timeline_run *t)
{
    struct err e;
    if (t->options->season && t->keeper)
        say_season(t, season_keep_end(t->options->season, t->keeper, NULL, t->name, &e), &e);
}

/* A watch that knows nothing yet: for the first trip, and for each that begins hours later. */
static bool begin_trip(struct timeline_run *t)
{
    if (t->keeper) {
        losses_add(&t->losses, keeper_losses(t->keeper));
        alerts_finish(keeper_alerts(t->keeper), plant_now(keeper_plant(t->keeper)));
    }
    incident_free(t->incident);
    t->incident = NULL;
    end_season(t);
    keeper_free(t->keeper);
    struct keeper_options options = {.escalate = t->options->escalate, .utc = t->options->utc};
    t->keeper = keeper_new(t->settings, &options);
    if (!t->keeper)
        return false;
    for (int i = 0; i < t->iface_count; i++)
        keeper_name_iface(t->keeper, (uint8_t)i, t->ifaces[i]);
    alerts_listen(keeper_alerts(t->keeper), on_event, t);
    return !t->options->html || (t->incident = incident_new(t->keeper)) != NULL;
}

static void say_trip(const struct timeline_run *t, int64_t wall_ns)
{
    char date[40], pause[24];
    when_date(date, sizeof date, wall_ns, t->options->utc);
    when_elapsed(pause, sizeof pause, wall_ns - t->last_ns);
    if (!t->options->json)
        printf("%s  another trip, %s after the one before\n", date, pause + 1);
}

static bool take(void *ctx, const struct log_reader *r)
{
    struct timeline_run *t = ctx;
    if (r->new_trip) {
        say_trip(t, r->frames[0].wall_ns);
        if (!begin_trip(t)) {
            t->failed = "out of memory";
            return false;
        }
    }
    if (r->within && r->within_count == r->n)
        t->first_ns = r->frames[0].wall_ns;
    t->last_ns = r->last_ns;
    if (r->made)
        keeper_heard(t->keeper, r->frames, r->n, r->made, (size_t)(r->frames - r->batch));
    else
        keeper_frames(t->keeper, r->frames, r->n);
    if (t->options->season) {
        struct err e;
        say_season(t,
                   season_keep_turn(t->options->season, t->keeper, NULL, t->name,
                                    plant_now(keeper_plant(t->keeper)).mono_ns, &e),
                   &e);
    }
    return true;
}

static struct losses losses_of(const struct timeline_run *t)
{
    struct losses l = t->losses;
    losses_add(&l, keeper_losses(t->keeper));
    return l;
}

static void summary_json(const struct timeline_run *t, const struct source_stats *s)
{
    struct json j;
    char line[512];
    json_open(&j, line, sizeof line);
    json_string(&j, "event", "summary");
    json_integer(&j, "frames", (int64_t)t->reader.within_count);
    json_integer(&j, "bad_lines", (int64_t)s->bad_lines);
    json_integer(&j, "lost_frames", (int64_t)s->lost_frames);
    json_time(&j, "first", t->first_ns);
    json_time(&j, "last", t->last_ns);
    json_integer(&j, "emergency_alarms", (int64_t)t->raised[PRIORITY_EMERGENCY]);
    json_integer(&j, "alarms", (int64_t)t->raised[PRIORITY_ALARM]);
    json_integer(&j, "warnings", (int64_t)t->raised[PRIORITY_WARNING]);
    json_integer(&j, "cautions", (int64_t)t->raised[PRIORITY_CAUTION]);
    struct losses l = losses_of(t);
    json_integer(&j, "incomplete", (int64_t)l.incomplete);
    json_integer(&j, "gaps", (int64_t)l.gaps);
    json_integer(&j, "dropped", (int64_t)l.dropped);
    json_integer(&j, "unbound", (int64_t)l.unbound);
    json_integer(&j, "alerts_lost", (int64_t)l.alerts_lost);
    fputs(json_close(&j), stdout);
}

static void summary_text(const struct timeline_run *t, const struct source_stats *s)
{
    char span[24] = "", lost[300];
    when_elapsed(span, sizeof span, t->last_ns - t->first_ns);
    printf("%llu frames over %s; alarms %llu, warnings %llu, cautions %llu",
           (unsigned long long)t->reader.within_count, span + 1,
           (unsigned long long)(t->raised[PRIORITY_ALARM] + t->raised[PRIORITY_EMERGENCY]),
           (unsigned long long)t->raised[PRIORITY_WARNING],
           (unsigned long long)t->raised[PRIORITY_CAUTION]);
    losses_text(lost, sizeof lost, losses_of(t));
    printf("; bad lines %llu, lost frames %llu%s%s\n", (unsigned long long)s->bad_lines,
           (unsigned long long)s->lost_frames, lost[0] ? ", " : "", lost);
}

static void name_iface(void *ctx, uint8_t iface, const char *name)
{
    struct timeline_run *t = ctx;
    text_copy(t->ifaces[iface], sizeof t->ifaces[0], name);
    t->iface_count = iface + 1;
    keeper_name_iface(t->keeper, iface, name);
}

static int read_logs(struct timeline_run *t)
{
    const struct timeline_options *o = t->options;
    struct log_taker taker = {.ctx = t, .iface = name_iface, .frames = take};
    int status = log_reader_run(&t->reader, o->verb, t->name, &taker);
    if (t->keeper)
        alerts_finish(keeper_alerts(t->keeper), plant_now(keeper_plant(t->keeper)));
    if (t->reader.within_count > 0 && o->json)
        summary_json(t, source_stats(t->reader.source));
    else if (t->reader.within_count > 0)
        summary_text(t, source_stats(t->reader.source));
    return status;
}

static int write_incident(const struct timeline_run *t, const char *const *paths, int count)
{
    const struct source_stats *s = source_stats(t->reader.source);
    return incident_page_write(&(struct incident_page){.verb = t->options->verb,
                                                       .html = t->options->html,
                                                       .config = t->options->config,
                                                       .paths = paths,
                                                       .count = count,
                                                       .log = {.frames = t->reader.within_count,
                                                               .bad_lines = s->bad_lines,
                                                               .lost_frames = s->lost_frames,
                                                               .gaps = s->gaps,
                                                               .clock_known = s->clock_known},
                                                       .utc = t->options->utc},
                               t->incident);
}

static void end(struct timeline_run *t)
{
    log_reader_close(&t->reader);
    wire_free(t->ahead);
    incident_free(t->incident);
    keeper_free(t->keeper);
    free(t);
}

static void hear(void *ctx, const struct frame *f, size_t n, void *room)
{
    wire_hear(ctx, f, n, room);
}

/* What the frames say is worked out by the thread that reads them, where there is one. Not of a
 * part that ends before the log does: what it had counted by then could not be told. */
static void hear_ahead(struct timeline_run *t)
{
    if (t->options->range.has_to || !(t->ahead = wire_new()))
        return;
    struct source_helper h = {.ctx = t->ahead, .room = sizeof(struct heard), .make = hear};
    (void)source_help(t->reader.source, &h);
}

static struct timeline_run *begin(const char *const *paths, int count,
                                  const struct settings *settings,
                                  const struct timeline_options *options, struct err *e)
{
    struct timeline_run *t = calloc(1, sizeof *t);
    if (!t) {
        err_set(e, "out of memory");
        return NULL;
    }
    *t = (struct timeline_run){.options = options, .settings = settings, .name = paths[0]};
    bool good = log_reader_open(&t->reader, paths, count, options->zone, e);
    if (good && !begin_trip(t))
        good = err_set(e, "out of memory");
    t->reader.range = options->range;
    t->reader.utc = options->utc;
    if (good)
        hear_ahead(t);
    if (good)
        return t;
    end(t);
    return NULL;
}

int timeline_run(const char *const *paths, int count, const struct settings *settings,
                 const struct timeline_options *options)
{
    struct err e;
    struct timeline_run *t = begin(paths, count, settings, options, &e);
    if (!t) {
        fprintf(stderr, "stokehold %s: %s\n", options->verb, e.text);
        return EXIT_SOURCE;
    }
    int status = read_logs(t);
    if (t->failed) {
        fprintf(stderr, "stokehold %s: %s\n", options->verb, t->failed);
        status = EXIT_SOURCE;
    }
    if (status == EXIT_DONE)
        end_season(t);
    if (t->incident && status == EXIT_DONE)
        status = write_incident(t, paths, count);
    if (t->season_failed)
        status = EXIT_SOURCE;
    else if (options->season && options->season->path && options->season->kept == 0)
        fprintf(stderr, "stokehold %s: no steady minutes found, nothing is kept\n", options->verb);
    if (status == EXIT_DONE && options->fail && t->reached)
        status = EXIT_FINDINGS;
    end(t);
    return status;
}

bool priority_parse(const char *s, enum priority *out)
{
    if (strcmp(s, "emergency") == 0) {
        *out = PRIORITY_EMERGENCY;
        return true;
    }
    for (int p = PRIORITY_CAUTION; p <= PRIORITY_EMERGENCY; p++) {
        if (strcmp(s, priority_text((enum priority)p)) == 0) {
            *out = (enum priority)p;
            return true;
        }
    }
    return false;
}
