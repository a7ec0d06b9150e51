/* `stokehold tend SOURCE...`: the watch without a screen, for a small computer left aboard; and
 * what is asked of one that runs: acknowledge, silence, status, an alarm on trial. */
#include "session/tend_run.h"
#include "session/tend_status.h"

#include "base/text.h"
#include "bus/socketcan.h"
#include "config/config.h"
#include "session/options.h"
#include "session/tend_ask.h"
#include "verbs/verbs.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_LEARN,
    OPT_BASELINE,
    OPT_SEASON,
    OPT_RECORD,
    OPT_RECORD_CAP,
    OPT_STATE,
    OPT_METRICS,
    OPT_SOCKET,
    OPT_ACKNOWLEDGE,
    OPT_SILENCE,
    OPT_STATUS,
    OPT_JSON,
    OPT_TRY_ALARM,
    OPT_UTC,
    OPT_ZONE,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_LEARN] = {"learn", 0, "FILE", "add this trip to FILE without comparing with it"},
    [OPT_BASELINE] = {"baseline", 0, "FILE", "compare with the trips kept in FILE, and add none"},
    [OPT_SEASON] = {"season", 0, "FILE",
                    "compare with the trips kept in FILE, and add this one at each stop"},
    [OPT_RECORD] = {"record", 0, "DIR", "record every frame there, an hour a file; one writer"},
    [OPT_RECORD_CAP] = {"record-cap", 0, "SIZE", "of the record: 500M, 4G (the usual); oldest go"},
    [OPT_STATE] = {"state", 0, "FILE", "keep unacknowledged alerts there over a restart"},
    [OPT_METRICS] = {"metrics", 0, "FILE", "write Prometheus text there every 15 s"},
    [OPT_SOCKET] = {"socket", 0, "PATH", "local socket for `watch --attach` and scripts"},
    [OPT_ACKNOWLEDGE] = {"acknowledge", 0, "ID", "acknowledge an alert of the tend that runs"},
    [OPT_SILENCE] = {"silence", 0, NULL, "silence the tend that runs for 30 s"},
    [OPT_STATUS] = {"status", 0, NULL, "how the tend that runs is doing; exit 3 when none does"},
    [OPT_JSON] = {"json", 0, NULL, "with --status: as one JSON object"},
    [OPT_TRY_ALARM] = {"try-alarm", 0, NULL,
                       "have it raise a test alarm for 10 s, to prove the chain"},
    [OPT_UTC] = {"utc", 0, NULL, "clock times in UTC"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

static const int only[OPT_COUNT] = {[OPT_ZONE] = ON_LOG};

struct asked {
    struct tend_options o;
    struct season_names season;
    bool silence, acknowledge, status, json, try_alarm;
    long id;
    uint64_t given; /* bit 1 << OPT_ of each option */
};

static bool set(void *ctx, int option, const char *value)
{
    struct asked *a = ctx;
    a->given |= UINT64_C(1) << option;
    switch (option) {
    case OPT_BASELINE:
        a->season.baseline = value;
        return true;
    case OPT_LEARN:
        a->season.learn = value;
        return true;
    case OPT_SEASON:
        a->season.season = value;
        return true;
    case OPT_CONFIG:
        a->o.config = value;
        return true;
    case OPT_RECORD:
        a->o.duties.record = value;
        return true;
    case OPT_RECORD_CAP:
        if (duties_size(value, &a->o.duties.record_cap))
            return true;
        fputs("stokehold tend: --record-cap takes a size such as 500M or 4G\n", stderr);
        return false;
    case OPT_STATE:
        a->o.duties.state = value;
        return true;
    case OPT_METRICS:
        a->o.duties.metrics = value;
        return true;
    case OPT_SOCKET:
        a->o.duties.socket = value;
        return true;
    case OPT_ACKNOWLEDGE:
        a->acknowledge = true;
        if (text_to_long(value[0] == '#' ? value + 1 : value, 1, INT32_MAX, &a->id))
            return true;
        fputs("stokehold tend: --acknowledge takes the number of an alert\n", stderr);
        return false;
    case OPT_SILENCE:
        return a->silence = true;
    case OPT_STATUS:
        return a->status = true;
    case OPT_JSON:
        return a->json = true;
    case OPT_TRY_ALARM:
        return a->try_alarm = true;
    case OPT_UTC:
        return a->o.utc = true;
    case OPT_ZONE:
        a->o.zone = value;
        return true;
    default:
        return false;
    }
}

static int ask(const struct asked *a)
{
    char text[64];
    const char *path = a->o.duties.socket;
    if (!path) {
        fputs("stokehold tend: name the socket of the tend that runs: --socket PATH\n", stderr);
        return EXIT_USAGE;
    }
    int status = a->silence ? tend_ask(path, "silence") : EXIT_DONE;
    text_format(text, sizeof text, "acknowledge\t%ld", a->id);
    if (a->acknowledge && status == EXIT_DONE)
        status = tend_ask(path, text);
    if (a->try_alarm && status == EXIT_DONE)
        status = tend_ask(path, "try");
    if (a->status && status == EXIT_DONE)
        status = tend_status(path, a->json, a->o.utc);
    return status;
}

/* A boat that starts with a mistake in its configuration and nobody aboard is watched all the same,
 * by the last one that was good. The state file says that this is meant to outlive restarts. */
static struct settings *fall_back(struct asked *a)
{
    char good[512];
    struct settings *s = NULL;
    const char *by = "the last good one";
    if (duties_good_config(a->o.duties.state, good, sizeof good) && access(good, R_OK) == 0)
        s = options_settings("tend", good);
    if (!s) {
        by = "the defaults";
        s = options_settings("tend", NULL);
    }
    text_format(a->o.fallen_back, sizeof a->o.fallen_back,
                "the configuration is wrong: watching by %s", by);
    return s;
}

static const struct option_set options = {
    .verb = "tend",
    .usage = "usage: stokehold tend [OPTIONS] IFACE... | LOG | -\n"
             "       stokehold tend --socket PATH --acknowledge ID | --silence | --status | "
             "--try-alarm\n\n"
             "Watches without a screen: a line for each change of an alert, hooks, metrics.\n"
             "SIGTERM ends it, SIGUSR1 reads the configuration again, a hang-up leaves it be.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .only = only,
    .help = OPT_HELP,
    .set = set,
};

/* A season that cannot be read leaves the boat watched, too, where the watch is to outlive
 * restarts; nothing is written to it then. */
static int tend(struct asked *a, struct settings *settings)
{
    struct season_keep season;
    struct err e;
    if (!season_keep_open(&season, &a->season, &e)) {
        fprintf(stderr, "stokehold tend: %s\n", e.text);
        if (!a->o.duties.state || (a->season.season && (a->season.baseline || a->season.learn))) {
            settings_free(settings);
            return EXIT_USAGE;
        }
        a->o.season_unread = true;
        season_keep_open(&season, &(struct season_names){.season = NULL}, &e);
    }
    a->o.season = &season;
    int status = tend_run(&a->o, settings);
    season_keep_close(&season);
    a->o.season = NULL;
    return status;
}

static int run(struct asked *a)
{
    if (a->acknowledge || a->silence || a->status || a->try_alarm) {
        if (a->o.source_count == 0)
            return ask(a);
        fputs("stokehold tend: what is asked of one that runs takes no source\n", stderr);
        return EXIT_USAGE;
    }
    if (a->json) {
        fputs("stokehold tend: --json goes with --status\n", stderr);
        return EXIT_USAGE;
    }
    if (a->o.source_count == 0) {
        fputs("stokehold tend: name one or several interfaces, or a log\n", stderr);
        return EXIT_USAGE;
    }
    if (!options_fit(&options, a->given, socketcan_is_name(a->o.sources[0]) ? ON_IFACE : ON_LOG))
        return EXIT_USAGE;
    struct settings *settings = options_settings("tend", a->o.config);
    if (!settings && a->o.duties.state)
        settings = fall_back(a);
    return settings ? tend(a, settings) : EXIT_USAGE;
}

int verb_tend(int argc, char **argv)
{
    struct asked a = {.acknowledge = false};
    int status;
    if (!options_take(&options, &a, argc, argv, &status))
        return status;
    a.o.sources = (const char *const *)argv + optind;
    a.o.source_count = argc - optind;
    return run(&a);
}
