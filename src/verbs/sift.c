/* `stokehold sift LOG`: the rules over a whole log, as fast as the machine can. */
#include "session/season_keep.h"
#include "session/timeline.h"
#include "verbs/verbs.h"

#include "base/text.h"
#include "config/config.h"

#include <string.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_FROM,
    OPT_TO,
    OPT_JSON,
    OPT_UTC,
    OPT_ZONE,
    OPT_ESCALATE,
    OPT_EXPLAIN,
    OPT_HTML,
    OPT_LEARN,
    OPT_BASELINE,
    OPT_SEASON,
    OPT_FAIL_ON,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_FROM] = {"from", 0, "TIME",
                  "print nothing before: 14:20, +MM:SS into the log, ISO 8601, ..."},
    [OPT_TO] = {"to", 0, "TIME", "stop there"},
    [OPT_JSON] = {"json", 0, NULL, "JSON lines, one event each"},
    [OPT_UTC] = {"utc", 0, NULL, "clock times in UTC"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_ESCALATE] = {"escalate", 0, NULL, "warnings nobody acknowledges become alarms in time"},
    [OPT_EXPLAIN] = {"explain", 0, NULL, "the figures that decided each alert"},
    [OPT_HTML] = {"html", 0, "FILE", "besides the text, one page with curves, to print or mail"},
    [OPT_LEARN] = {"learn", 0, "FILE", "add this trip to FILE without comparing with it"},
    [OPT_BASELINE] = {"baseline", 0, "FILE", "compare with the trips kept in FILE, and add none"},
    [OPT_SEASON] = {"season", 0, "FILE",
                    "compare with the trips kept in FILE, and add this one to it"},
    [OPT_FAIL_ON] = {"fail-on", 0, "PRIORITY", "exit 1 when an alert that high was raised"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

static const char *const values[OPT_COUNT] = {
    [OPT_FAIL_ON] = "caution,warning,alarm,emergency",
};

struct asked {
    struct timeline_options timeline;
    struct season_names season;
    const char *config;
};

static bool set(void *ctx, int option, const char *value)
{
    struct asked *a = ctx;
    struct timeline_options *o = &a->timeline;
    switch (option) {
    case OPT_CONFIG:
        a->config = o->config = value;
        return true;
    case OPT_FROM:
        return range_set_from(&o->range, o->verb, value);
    case OPT_TO:
        return range_set_to(&o->range, o->verb, value);
    case OPT_JSON:
        return o->json = true;
    case OPT_UTC:
        return o->utc = true;
    case OPT_ZONE:
        o->zone = value;
        return true;
    case OPT_ESCALATE:
        return o->escalate = true;
    case OPT_EXPLAIN:
        return o->explain = true;
    case OPT_HTML:
        o->html = value;
        return true;
    case OPT_LEARN:
        a->season.learn = value;
        return true;
    case OPT_BASELINE:
        a->season.baseline = value;
        return true;
    case OPT_SEASON:
        a->season.season = value;
        return true;
    default:
        break;
    }
    o->fail = true;
    if (priority_parse(value, &o->fail_on))
        return true;
    fprintf(stderr, "stokehold sift: --fail-on takes caution, warning, alarm or emergency\n");
    return false;
}

static const struct option_set options = {
    .verb = "sift",
    .usage = "usage: stokehold sift [OPTIONS] LOG...\n\n"
             "Runs the rules over a whole log and says what happened and when. Several logs, or a\n"
             "directory of them, are read in order of time as one.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .values = values,
    .help = OPT_HELP,
    .set = set,
};

int verb_sift(int argc, char **argv)
{
    struct asked a = {.timeline = {.verb = "sift", .fail_on = PRIORITY_EMERGENCY}};
    int status;
    if (!options_take(&options, &a, argc, argv, &status))
        return status;
    if (optind == argc) {
        fputs("stokehold sift: name one log or more, or - for standard input\n", stderr);
        return EXIT_USAGE;
    }
    struct settings *settings = options_settings("sift", a.config);
    if (!settings)
        return EXIT_USAGE;
    struct season_keep keep;
    struct err e;
    if (!season_keep_open(&keep, &a.season, &e)) {
        fprintf(stderr, "stokehold sift: %s\n", e.text);
        settings_free(settings);
        return EXIT_USAGE;
    }
    season_keep_settings(&keep, settings);
    a.timeline.season = &keep;
    status = timeline_run((const char *const *)argv + optind, argc - optind, settings, &a.timeline);
    season_keep_close(&keep);
    settings_free(settings);
    return status;
}
