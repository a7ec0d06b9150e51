/* `stokehold trial LOG...`: the sea-trial report. */
#include "session/options.h"
#include "verbs/verbs.h"
#include "session/digest.h"
#include "session/log_reader.h"
#include "session/losses.h"
#include "session/season_keep.h"
#include "session/whole_file.h"

#include "keeper/keeper.h"
#include "base/text.h"
#include "config/config.h"
#include "report/trial/drift.h"
#include "report/trial/trial.h"
#include "report/trial/write.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_FROM,
    OPT_TO,
    OPT_SETTLE,
    OPT_WITHIN,
    OPT_JSON,
    OPT_CSV,
    OPT_HTML,
    OPT_LEARN,
    OPT_BASELINE,
    OPT_AGAINST,
    OPT_SEASON,
    OPT_SIGN_OFF,
    OPT_FAIL,
    OPT_PARTICULARS,
    OPT_WRITE_PARTICULARS,
    OPT_UTC,
    OPT_ZONE,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_FROM] = {"from", 0, "TIME", "begin there: 14:20, +MM:SS into the log, ISO 8601, ..."},
    [OPT_TO] = {"to", 0, "TIME", "stop there"},
    [OPT_SETTLE] = {"settle", 0, "TIME", "temperatures must have stood for this (default 60 s)"},
    [OPT_WITHIN] = {"within", 0, "PERCENT", "engine speed must keep within this (default 1.5)"},
    [OPT_JSON] = {"json", 0, NULL, "one JSON object in place of text"},
    [OPT_CSV] = {"csv", 0, NULL, "a row for each step and engine in place of text"},
    [OPT_HTML] = {"html", 0, "FILE",
                  "besides the text, the report as one page with plots, to print"},
    [OPT_LEARN] = {"learn", 0, "FILE", "add this trial to FILE without comparing with it"},
    [OPT_BASELINE] = {"baseline", 0, "FILE", "compare with the trips kept in FILE, and add none"},
    [OPT_AGAINST] = {"against", 0, "FILE", "the same as --baseline"},
    [OPT_SEASON] = {"season", 0, "FILE",
                    "compare with the trips kept in FILE, and add this trial to it"},
    [OPT_SIGN_OFF] = {"sign-off", 0, "FILE", "put the list of muster --sign-off into it"},
    [OPT_FAIL] = {"fail-on-check", 0, NULL, "exit 1 where a check fails"},
    [OPT_PARTICULARS] = {"particulars", 0, "FILE", "what only people know: place, sea, draft, who"},
    [OPT_WRITE_PARTICULARS] = {"write-particulars", 0, "FILE", "begin such a file, to fill in"},
    [OPT_UTC] = {"utc", 0, NULL, "clock times in UTC"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

struct order {
    struct log_range range;
    struct steady_options steady;
    struct trial_write_options write;
    bool json, csv, fail_on_check;
    const char *config, *html, *sign_off, *zone, *particulars, *write_particulars;
    struct season_names names;
    struct season_keep *season;
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
    case OPT_LEARN:
        o->names.learn = value;
        return true;
    case OPT_BASELINE:
    case OPT_AGAINST:
        o->names.baseline = value;
        return true;
    case OPT_SEASON:
        o->names.season = value;
        return true;
    case OPT_SIGN_OFF:
        o->sign_off = value;
        return true;
    case OPT_FAIL:
        return o->fail_on_check = true;
    case OPT_PARTICULARS:
        o->particulars = value;
        return true;
    case OPT_WRITE_PARTICULARS:
        o->write_particulars = value;
        return true;
    case OPT_UTC:
        return o->write.utc = true;
    default:
        o->zone = value;
        return true;
    }
}

static void name_iface(void *ctx, uint8_t iface, const char *name)
{
    keeper_name_iface(ctx, iface, name);
}

static bool take(void *ctx, const struct log_reader *r)
{
    if (r->within)
        keeper_frames(ctx, r->frames, r->n);
    return true;
}

static void say_losses(const struct keeper *k, const char *path)
{
    char shown[200], lost[300];

    losses_text(lost, sizeof lost, keeper_losses(k));
    log_name(shown, sizeof shown, path);
    if (lost[0])
        fprintf(stderr, "%s: %s\n", shown, lost);
}

static int add_log(const struct order *o, struct trial *t, const struct settings *settings,
                   const char *path)
{
    static struct log_reader reader; /* too large for the stack */
    struct err e;
    struct keeper *k;
    char name[200];
    int status = EXIT_SOURCE;

    if (!log_reader_open(&reader, &path, 1, o->zone, &e)) {
        fprintf(stderr, "stokehold trial: %s\n", e.text);
        return EXIT_SOURCE;
    }
    reader.range = o->range;
    reader.utc = o->write.utc;
    k = keeper_new(settings, &(struct keeper_options){.escalate = false});
    if (!k || !trial_begin(t, k, log_name(name, sizeof name, path))) {
        fprintf(stderr, "stokehold trial: out of memory, or more than %d logs\n", TRIAL_LOGS);
    } else {
        struct log_taker taker = {.ctx = k, .iface = name_iface, .frames = take};
        status = log_reader_run(&reader, "trial", path, &taker);
        trial_end(t);
        if (o->names.season && status == EXIT_DONE &&
            !season_keep_end(o->season, k, NULL, path, &e)) {
            fprintf(stderr, "stokehold trial: %s\n", e.text);
            status = EXIT_SOURCE;
        }
        if (status == EXIT_DONE)
            say_losses(k, path);
    }
    keeper_free(k);
    log_reader_close(&reader);
    return status;
}

/* What the page says of its sources; the digests are taken after the logs were read. */
struct sources {
    struct page_source source;
    struct page_log log[TRIAL_LOGS];
    char digest[TRIAL_LOGS][SHA256_TEXT], config_digest[SHA256_TEXT];
};

static void find_sources(struct sources *s, const struct order *o, const struct trial_report *r,
                         char **logs)
{
    *s = (struct sources){.source = {.version = STOKEHOLD_VERSION, .log = s->log, .logs = r->logs}};
    for (int i = 0; i < r->logs; i++) {
        digest_file(logs[i], s->digest[i]);
        s->log[i] = (struct page_log){r->log_names[i], s->digest[i]};
    }
    if (o->config) {
        digest_file(o->config, s->config_digest);
        s->source.config = o->config;
        s->source.config_sha256 = s->config_digest;
    }
}

static void put_particulars(FILE *out, const void *ctx)
{
    particulars_begin(out, ctx);
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

static int write_html(const struct trial_report *r, const struct order *o,
                      const struct trial_write_options *w)
{
    struct page page = {r, w};

    return whole_file("trial", o->html, put_page, &page) ? EXIT_DONE : EXIT_SOURCE;
}

static bool add_trips(struct season *s, void *ctx)
{
    const struct season *trial = ctx;
    bool added = false;

    for (int i = 0, from = 0, to; i < trial->trip_count; i++, from = to) {
        for (to = from; to < trial->step_count && trial->steps[to].trip == i; to++)
            ;
        added |= season_put(s, &trial->trips[i], &trial->steps[from], to - from, 0);
    }
    return added;
}

/* The points that the report shows, as a trip of the season in the file. */
static int keep_trial(const struct trial_report *r, const char *path)
{
    struct season trial = {0};
    struct err e;
    bool good = trial_season_make(r, &trial) || err_set(&e, "out of memory");

    if (good && trial.trip_count == 0)
        fputs("stokehold trial: no steady minutes found, nothing is kept\n", stderr);
    else if (good)
        good = season_update(path, add_trips, &trial, NULL, &e);
    if (!good)
        fprintf(stderr, "stokehold trial: %s\n", e.text);
    season_free(&trial);
    return good ? EXIT_DONE : EXIT_SOURCE;
}

static int report(const struct order *o, struct trial *t, char **logs)
{
    static struct sources sources;
    const struct trial_report *r = trial_finish(t);
    struct trial_write_options w = o->write;
    struct trial_drifts drifts;
    int status = EXIT_DONE;

    if (!r) {
        fputs("stokehold trial: out of memory\n", stderr);
        return EXIT_SOURCE;
    }
    find_sources(&sources, o, r, logs);
    w.source = &sources.source;
    if (o->season->season.trip_count > 0) {
        trial_drift_find(r, &o->season->season, &drifts);
        w.drifts = &drifts;
    }
    /* Sums of files belong to what is handed over: a pipe cannot be read again for one. */
    w.source = w.particulars ? &sources.source : NULL;
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
    w.source = &sources.source;
    if (o->html)
        status = write_html(r, o, &w);
    if (o->names.learn && status == EXIT_DONE)
        status = keep_trial(r, o->names.learn);
    if (o->write_particulars && status == EXIT_DONE &&
        !whole_file("trial", o->write_particulars, put_particulars, r->settings->vessel))
        status = EXIT_SOURCE;
    for (int i = 0; i < r->checks && o->fail_on_check && status == EXIT_DONE; i++)
        if (r->check[i].verdict == TRIAL_FAIL)
            status = EXIT_FINDINGS;
    return status;
}

/* Reads what the order names besides logs; says so and returns false where it cannot. */
static bool read_companions(struct order *o, struct signoff **signoff)
{
    static struct particulars particulars;
    struct err e;

    if (o->particulars) {
        if (!particulars_read(o->particulars, &particulars, &e)) {
            fprintf(stderr, "stokehold trial: %s\n", e.text);
            return false;
        }
        o->write.particulars = &particulars;
    }

    if (!season_keep_open(o->season, &o->names, &e)) {
        fprintf(stderr, "stokehold trial: %s\n", e.text);
        return false;
    }
    if (o->sign_off && access(o->sign_off, R_OK) != 0) {
        fprintf(stderr, "stokehold trial: cannot read '%s': %s\n", o->sign_off, strerror(errno));
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
    struct settings *settings = options_settings("trial", o->config);
    struct season_keep season = {0};
    struct signoff *signoff = NULL;
    struct trial *t = NULL;
    int status = EXIT_DONE;

    if (!settings)
        return EXIT_USAGE;
    o->season = &season;
    if (!read_companions(o, &signoff)) {
        status = EXIT_USAGE;
    } else if (!(t = trial_new(settings, &o->steady))) {
        fputs("stokehold trial: out of memory\n", stderr);
        status = EXIT_SOURCE;
    }
    season_keep_settings(&season, settings);
    o->write.signoff = signoff;
    for (int i = 0; i < count && status == EXIT_DONE; i++)
        status = add_log(o, t, settings, logs[i]);
    if (status == EXIT_DONE)
        status = report(o, t, logs);
    trial_free(t);
    season_keep_close(&season);
    o->season = NULL;
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
