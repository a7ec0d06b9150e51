#include "session/timeline.h"

#include "alerts/event_json.h"
#include "keeper/keeper.h"
#include "base/json.h"
#include "base/text.h"
#include "session/read_log.h"
#include "session/whole_file.h"

#include "report/trial/trial.h"
#include "report/trial/drift.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

struct timeline_run {
    const struct timeline_options *options;
    struct keeper *keeper;
    int64_t first_ns, last_ns; /* wall, of the frames counted */
    int64_t log_first_ns;      /* wall, of the log's first frame */
    bool any;
    uint64_t frames;
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
    case EVENT_RECTIFIED:
        return "rectified";
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

static void print_figure(const char *name, double v, int decimals, const char *unit)
{
    char number[40];
    if (isfinite(v) && text_number(number, sizeof number, v, decimals))
        printf("  %s %s%s%s", name, number, unit[0] ? " " : "", unit);
}

static void print_figures(const struct alert *a)
{
    const struct alert_figures *f = &a->figures;
    const char *unit = unit_text(a->unit);
    printf("%30s", "");
    print_figure("value", f->value, 1, unit);
    print_figure("expected", f->expected, 1, unit);
    print_figure("allowance", f->allowance, 2, "K");
    print_figure("noise", f->noise, 2, "K");
    print_figure("rate", f->rate_per_min, 1, "a minute");
    print_figure("limit", f->limit, 1, unit);
    print_figure("statistic", f->statistic, 2, "");
    print_figure("threshold", f->threshold, 2, "");
    putchar('\n');
}

static void print_line(const struct timeline_run *t, const struct alert_event *ev, const char *word)
{
    char clock[40], into[24];
    const struct alert *a = ev->alert;
    when_clock(clock, sizeof clock, ev->at.wall_ns, t->options->utc);
    when_elapsed(into, sizeof into, ev->at.wall_ns - t->log_first_ns);
    printf("%s %8s  %c %-9s  %s\n", clock, into, alert_priority_letter(a->priority), word, a->text);
    if (t->options->explain && ev->event != EVENT_RECTIFIED)
        print_figures(a);
}

static void on_event(void *ctx, const struct alert_event *ev)
{
    struct timeline_run *t = ctx;
    const char *word = event_text(ev->event);
    if (!word || range_before(&t->options->range, t->log_first_ns, ev->at.wall_ns) ||
        range_after(&t->options->range, t->log_first_ns, ev->at.wall_ns))
        return;
    /* each alert counts once, as the highest it became */
    if (ev->event != EVENT_RECTIFIED)
        t->raised[ev->alert->priority]++;
    if (ev->event == EVENT_ESCALATED && t->raised[ev->before] > 0)
        t->raised[ev->before]--;
    if (ev->event != EVENT_RECTIFIED && ev->alert->priority >= t->options->fail_on)
        t->reached = true;
    if (t->options->json)
        print_json(ev);
    else
        print_line(t, ev, word);
}

/* Takes a batch into the rules and counts what the range holds. False: past its end. */
static bool take(void *ctx, const struct frame *f, size_t n)
{
    struct timeline_run *t = ctx;
    struct keeper *k = t->keeper;
    const struct log_range *r = &t->options->range;
    size_t use = 0;
    bool more = true;
    if (!t->any && n > 0) {
        t->any = true;
        t->log_first_ns = f[0].wall_ns;
    }
    if (!r->has_from && !r->has_to) {
        if (t->frames == 0 && n > 0)
            t->first_ns = f[0].wall_ns;
        t->frames += n;
        if (n > 0)
            t->last_ns = f[n - 1].wall_ns;
        keeper_frames(k, f, n);
        return true;
    }
    for (; use < n; use++) {
        int64_t at = f[use].wall_ns;
        if (range_after(r, t->log_first_ns, at)) {
            more = false;
            break;
        }
        if (range_before(r, t->log_first_ns, at))
            continue;
        if (t->frames++ == 0)
            t->first_ns = at;
        t->last_ns = at;
    }
    keeper_frames(k, f, use);
    return more;
}

static void summary_json(const struct timeline_run *t, const struct source_stats *s)
{
    struct json j;
    char line[512];
    json_open(&j, line, sizeof line);
    json_string(&j, "event", "summary");
    json_integer(&j, "frames", (int64_t)t->frames);
    json_integer(&j, "bad_lines", (int64_t)s->bad_lines);
    json_integer(&j, "lost_frames", (int64_t)s->lost_frames);
    if (t->frames > 0) {
        json_time(&j, "first", t->first_ns);
        json_time(&j, "last", t->last_ns);
    } else {
        json_null(&j, "first");
        json_null(&j, "last");
    }
    json_integer(&j, "emergency_alarms", (int64_t)t->raised[PRIORITY_EMERGENCY]);
    json_integer(&j, "alarms", (int64_t)t->raised[PRIORITY_ALARM]);
    json_integer(&j, "warnings", (int64_t)t->raised[PRIORITY_WARNING]);
    json_integer(&j, "cautions", (int64_t)t->raised[PRIORITY_CAUTION]);
    fputs(json_close(&j), stdout);
}

static void summary_text(const struct timeline_run *t, const struct source_stats *s,
                         const struct wire_stats *w)
{
    char span[24] = "";
    when_elapsed(span, sizeof span, t->frames > 0 ? t->last_ns - t->first_ns : 0);
    printf("%llu frames over %s; alarms %llu, warnings %llu, cautions %llu",
           (unsigned long long)t->frames, span + 1,
           (unsigned long long)(t->raised[PRIORITY_ALARM] + t->raised[PRIORITY_EMERGENCY]),
           (unsigned long long)t->raised[PRIORITY_WARNING],
           (unsigned long long)t->raised[PRIORITY_CAUTION]);
    printf("; bad lines %llu, lost frames %llu", (unsigned long long)s->bad_lines,
           (unsigned long long)s->lost_frames);
    unsigned long long cut = (unsigned long long)(w->fast_lost + w->tp_lost);
    if (cut > 0)
        printf(", %llu messages incomplete", cut);
    if (s->gaps > 0)
        printf(", %llu gap%s", (unsigned long long)s->gaps, s->gaps == 1 ? "" : "s");
    putchar('\n');
}

static void name_iface(void *ctx, uint8_t iface, const char *name)
{
    struct timeline_run *t = ctx;
    keeper_name_iface(t->keeper, iface, name);
}

static void put_baseline(FILE *out, const void *ctx)
{
    baseline_write(out, ctx);
}

/* Writes what was normal in the log that t has read. */
static int write_learned(struct trial *t, const struct timeline_options *options)
{
    const struct trial_report *report = trial_finish(t);
    struct baseline b = {0};
    if (!report || !trial_baseline_make(report, &b)) {
        fprintf(stderr, "stokehold %s: out of memory\n", options->verb);
        baseline_free(&b);
        return EXIT_SOURCE;
    }
    /* What was learned before is better than nothing. */
    bool bad = false;
    if (b.count == 0)
        fprintf(stderr, "stokehold %s: no steady minutes found, nothing learned\n", options->verb);
    else
        bad = !whole_file(options->verb, options->learn, put_baseline, &b);
    baseline_free(&b);
    return bad ? EXIT_SOURCE : EXIT_DONE;
}

int timeline_run(const char *path, const struct settings *settings,
                 const struct timeline_options *options)
{
    struct timeline_run t = {.options = options};
    struct keeper *k =
        keeper_new(settings, &(struct keeper_options){.escalate = options->escalate});
    if (!k) {
        fprintf(stderr, "stokehold %s: out of memory\n", options->verb);
        return EXIT_SOURCE;
    }
    t.keeper = k;
    alerts_listen(keeper_alerts(k), on_event, &t);
    struct trial *trial = NULL;
    if (options->learn && (!(trial = trial_new(settings, NULL)) || !trial_begin(trial, k, path))) {
        fprintf(stderr, "stokehold %s: out of memory\n", options->verb);
        trial_free(trial);
        keeper_free(k);
        return EXIT_SOURCE;
    }
    struct source_stats stats;
    struct log_taker taker = {.ctx = &t, .iface = name_iface, .frames = take};
    int status = read_log(options->verb, path, options->zone, &taker, &stats);
    if (status == EXIT_DONE || t.any) {
        if (options->json)
            summary_json(&t, &stats);
        else
            summary_text(&t, &stats, keeper_wire_stats(k));
    }
    if (trial)
        trial_end(trial);
    keeper_free(k);
    if (trial && status == EXIT_DONE)
        status = write_learned(trial, options);
    trial_free(trial);
    if (status == EXIT_DONE && options->fail && t.reached)
        status = EXIT_FINDINGS;
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
