/* `stokehold trial LOG...`: the sea-trial report. */
#include "session/options.h"
#include "verbs/verbs.h"
#include "session/whole_file.h"

#include "keeper/keeper.h"
#include "base/text.h"
#include "config/config.h"
#include "report/trial/trial.h"
#include "report/trial/write.h"

#include <string.h>

#include "base/banned.h"

enum { BATCH = 512 };

enum {
    OPT_CONFIG,
    OPT_FROM,
    OPT_TO,
    OPT_SETTLE,
    OPT_WITHIN,
    OPT_JSON,
    OPT_CSV,
    OPT_HTML,
    OPT_BASELINE,
    OPT_AGAINST,
    OPT_SIGN_OFF,
    OPT_UTC,
    OPT_ZONE,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_FROM] = {"from", 0, "TIME", "begin there: epoch seconds, +MM:SS, ISO 8601"},
    [OPT_TO] = {"to", 0, "TIME", "stop there"},
    [OPT_SETTLE] = {"settle", 0, "TIME", "temperatures must have stood for this (default 60 s)"},
    [OPT_WITHIN] = {"within", 0, "PERCENT", "engine speed must keep within this (default 1.5)"},
    [OPT_JSON] = {"json", 0, NULL, "one JSON object in place of text"},
    [OPT_CSV] = {"csv", 0, NULL, "a row for each step and engine in place of text"},
    [OPT_HTML] = {"html", 0, "FILE", "the report as one page with plots, to print"},
    [OPT_BASELINE] = {"baseline", 0, "FILE", "write what was normal there"},
    [OPT_AGAINST] = {"against", 0, "FILE", "hold the trial against an earlier baseline"},
    [OPT_SIGN_OFF] = {"sign-off", 0, "FILE", "put the list of muster --sign-off into it"},
    [OPT_UTC] = {"utc", 0, NULL, "clock times in UTC"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

struct order {
    struct log_range range;
    struct steady_options steady;
    struct trial_write_options write;
    bool json, csv;
    const char *config, *html, *baseline, *against, *sign_off, *zone;
};

static bool set_settle(struct order *o, const char *value)
{
    int64_t ns;

    if (!when_parse_length(value, &ns) || ns < 4 * NS_PER_S || ns > STEADY_SETTLE_MAX * NS_PER_S) {
        fprintf(stderr, "stokehold trial: --settle takes 4 s to %d s\n", STEADY_SETTLE_MAX);
        return false;
    }
    o->steady.settle_s = (int)(ns / NS_PER_S);
    return true;
}

static bool set_within(struct order *o, const char *value)
{
    double percent;

    if (!text_to_double(value, &percent) || !(percent >= 0.1 && percent <= 20)) {
        fputs("stokehold trial: --within takes a percentage from 0.1 to 20\n", stderr);
        return false;
    }
    o->steady.speed_part = percent / 100;
    return true;
}

static bool set(void *ctx, int option, const char *value)
{
    struct order *o = ctx;
    switch (option) {
    case OPT_CONFIG:
        o->config = value;
        return true;
    case OPT_FROM:
        return range_set_from(&o->range, "trial", value);
    case OPT_TO:
        return range_set_to(&o->range, "trial", value);
    case OPT_SETTLE:
        return set_settle(o, value);
    case OPT_WITHIN:
        return set_within(o, value);
    case OPT_JSON:
        return o->json = true;
    case OPT_CSV:
        return o->csv = true;
    case OPT_HTML:
        o->html = value;
        return true;
    case OPT_BASELINE:
        o->baseline = value;
        return true;
    case OPT_AGAINST:
        o->against = value;
        return true;
    case OPT_SIGN_OFF:
        o->sign_off = value;
        return true;
    case OPT_UTC:
        return o->write.utc = true;
    default:
        o->zone = value;
        return true;
    }
}

/* Takes what of a batch lies in the range; false past its end. */
static bool take(const struct log_range *r, int64_t first_ns, struct keeper *k,
                 const struct frame *f, size_t n)
{
    size_t from = 0, to;

    while (from < n && range_before(r, first_ns, f[from].wall_ns))
        from++;
    for (to = from; to < n && !range_after(r, first_ns, f[to].wall_ns);)
        to++;
    keeper_frames(k, f + from, to - from);
    return to == n;
}

static int read_log(const struct order *o, struct source *source, struct keeper *k)
{
    static struct frame batch[BATCH];
    int64_t first_ns = 0;
    bool any = false;
    struct err e;
    int named = 0;

    for (;;) {
        size_t n = 0;
        enum source_state state = source_read(source, batch, BATCH, &n, &e);

        for (; named < source_iface_count(source); named++)
            keeper_name_iface(k, (uint8_t)named, source_iface_name(source, (uint8_t)named));
        if (state == SOURCE_READY && n > 0 && !any) {
            any = true;
            first_ns = batch[0].wall_ns;
        }
        if (state == SOURCE_READY && take(&o->range, first_ns, k, batch, n))
            continue;
        if (state != SOURCE_FAILED)
            return EXIT_DONE;
        fprintf(stderr, "stokehold trial: %s\n", e.text);
        return EXIT_SOURCE;
    }
}

static int add_log(const struct order *o, struct trial *t, const struct settings *settings,
                   const char *path)
{
    struct err e;
    struct source *source = source_open_log(path, &(struct source_options){.zone = o->zone}, &e);
    struct keeper *k;
    int status;

    if (!source) {
        fprintf(stderr, "stokehold trial: %s\n", e.text);
        return EXIT_SOURCE;
    }
    k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    if (!k || !trial_begin(t, k, path)) {
        fprintf(stderr, "stokehold trial: out of memory, or more than %d logs\n", TRIAL_LOGS);
        status = EXIT_SOURCE;
    } else {
        status = read_log(o, source, k);
        trial_end(t);
    }
    options_complain("trial", path, source_stats(source));
    keeper_free(k);
    source_close(source);
    return status;
}

struct page {
    const struct trial_report *report;
    const struct trial_write_options *options;
};

static void put_page(FILE *out, const void *ctx)
{
    const struct page *p = ctx;
    trial_write_html(out, p->report, p->options);
}

static void put_baseline(FILE *out, const void *ctx)
{
    baseline_write(out, ctx);
}

static int write_html(const struct trial_report *r, const struct order *o,
                      const struct trial_write_options *w)
{
    struct page page = {r, w};

    return whole_file("trial", o->html, put_page, &page) ? EXIT_DONE : EXIT_SOURCE;
}

static int write_baseline(const struct trial_report *r, const struct order *o)
{
    struct baseline b = {0};
    int status;

    if (!trial_baseline_make(r, &b)) {
        fputs("stokehold trial: out of memory, or too many figures for a baseline\n", stderr);
        baseline_free(&b);
        return EXIT_SOURCE;
    }
    status = whole_file("trial", o->baseline, put_baseline, &b) ? EXIT_DONE : EXIT_SOURCE;
    baseline_free(&b);
    return status;
}

static int report(const struct order *o, struct trial *t, const struct baseline *against)
{
    const struct trial_report *r = trial_finish(t);
    struct trial_write_options w = o->write;
    struct trial_drifts drifts;
    int status = EXIT_DONE;

    if (!r) {
        fputs("stokehold trial: out of memory\n", stderr);
        return EXIT_SOURCE;
    }
    if (o->against) {
        trial_drift_find(r, against, &drifts);
        w.drifts = &drifts;
    }
    if (o->json)
        trial_write_json(stdout, r, &w);
    else if (o->csv)
        trial_write_csv(stdout, r);
    else
        trial_write_text(stdout, r, &w);
    if (r->steps == 0)
        fputs("stokehold trial: no steady step found: engine speed, exhaust or coolant is missing, "
              "or nothing was held long enough (--settle, --within)\n",
              stderr);
    if (r->cut)
        fputs(
            "stokehold trial: a log is longer than 36 h; the rest of it was not looked at (--from, "
            "--to)\n",
            stderr);
    if (o->html)
        status = write_html(r, o, &w);
    if (o->baseline && status == EXIT_DONE)
        status = write_baseline(r, o);
    return status;
}

/* Reads what the order names besides logs; says so and returns false where it cannot. */
static bool read_companions(const struct order *o, struct baseline *against,
                            struct signoff **signoff)
{
    struct err e;

    if (o->against && !baseline_read(o->against, against, &e)) {
        fprintf(stderr, "stokehold trial: %s\n", e.text);
        return false;
    }
    if (o->sign_off && !(*signoff = signoff_read(o->sign_off, &e))) {
        fprintf(stderr, "stokehold trial: %s\n", e.text);
        return false;
    }
    return true;
}

static int trial(struct order *o, int count, char **logs)
{
    struct settings *settings = options_settings("trial", o->config, NULL);
    struct baseline against = {0};
    struct signoff *signoff = NULL;
    struct trial *t = NULL;
    int status = EXIT_DONE;

    if (!settings)
        return EXIT_USAGE;
    if (!read_companions(o, &against, &signoff)) {
        status = EXIT_USAGE;
    } else if (!(t = trial_new(settings, &o->steady))) {
        fputs("stokehold trial: out of memory\n", stderr);
        status = EXIT_SOURCE;
    }
    o->write.signoff = signoff;
    for (int i = 0; i < count && status == EXIT_DONE; i++)
        status = add_log(o, t, settings, logs[i]);
    if (status == EXIT_DONE)
        status = report(o, t, &against);
    trial_free(t);
    baseline_free(&against);
    signoff_free(signoff);
    settings_free(settings);
    return status;
}

static const struct option_set options = {
    .verb = "trial",
    .usage = "usage: stokehold trial [OPTIONS] LOG...\n\n"
             "Finds the steady steps of a sea trial and reports speed, burn, economy and\n"
             "temperatures over engine speed, with what passes and what does not.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .help = OPT_HELP,
    .set = set,
};

int verb_trial(int argc, char **argv)
{
    struct order o = {.steady = steady_defaults};
    int status;

    if (!options_take(&options, &o, argc, argv, &status))
        return status;
    if (optind >= argc) {
        fputs("stokehold trial: name one log or more, or - for standard input\n", stderr);
        return EXIT_USAGE;
    }
    return trial(&o, argc - optind, argv + optind);
}
