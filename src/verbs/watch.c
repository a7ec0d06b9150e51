/* `stokehold watch SOURCE`: the board in the terminal, of a live bus or replaying a log. */
#include "session/season_keep.h"
#include "session/tend_run.h"
#include "session/timeline.h"
#include "verbs/verbs.h"
#include "verbs/screen_check.h"
#include "session/watch_lines.h"
#include "session/watch_loop.h"

#include "base/text.h"
#include "bus/socketcan.h"
#include "config/config.h"
#include "screen/term.h"

#include <string.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_BASELINE,
    OPT_SEASON,
    OPT_LEARN,
    OPT_FROM,
    OPT_TO,
    OPT_SPEED,
    OPT_THEME,
    OPT_COLOR,
    OPT_ASCII,
    OPT_SIZE,
    OPT_FPS,
    OPT_ONCE,
    OPT_PLAIN,
    OPT_FORGET,
    OPT_ZONE,
    OPT_ATTACH,
    OPT_RECORD,
    OPT_RECORD_CAP,
    OPT_KEEP_WATCH,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_BASELINE] = {"baseline", 0, "FILE", "compare with the trips kept in FILE, and add none"},
    [OPT_SEASON] = {"season", 0, "FILE",
                    "compare with the trips kept in FILE, and add this one at each stop"},
    [OPT_LEARN] = {"learn", 0, "FILE", "add this trip to FILE without comparing with it"},
    [OPT_FROM] = {"from", 0, "TIME", "begin there: 14:20, +MM:SS into the log, ISO 8601, ..."},
    [OPT_TO] = {"to", 0, "TIME", "end there"},
    [OPT_SPEED] = {"speed", 0, "N", "times real time, 1 to 64, or max"},
    [OPT_THEME] = {"theme", 0, "NAME", "colours, one of these or a file"},
    [OPT_COLOR] = {"color", 0, "WHEN", "how many colours"},
    [OPT_ASCII] = {"ascii", 0, NULL, "draw with ASCII characters alone"},
    [OPT_SIZE] = {"size", 0, "COLSxROWS", "for a terminal that cannot report its size"},
    [OPT_FPS] = {"fps", 0, "N", "pictures a second at most, 0.1 to 10"},
    [OPT_ONCE] = {"once", 0, NULL, "print one board as plain text and end"},
    [OPT_PLAIN] = {"plain", 0, NULL, "lines instead of a screen, for a screen reader"},
    [OPT_FORGET] = {"forget", 0, NULL, "neither take up nor keep choices made at the screen"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_ATTACH] = {"attach", 0, "SOCKET", "show the tend that runs there, with its history"},
    [OPT_RECORD] = {"record", 0, "DIR", "live: record every frame there; `k` sets a time aside"},
    [OPT_RECORD_CAP] = {"record-cap", 0, "SIZE", "of the record: 500M, 4G (the usual); oldest go"},
    [OPT_KEEP_WATCH] = {"keep-watch", 0, NULL, "live: go on as tend when the terminal goes away"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

static const char *const values[OPT_COUNT] = {
    [OPT_THEME] = "day,dusk,night,contrast,safe,mono",
    [OPT_COLOR] = "auto,never,8,256",
};

static const int only[OPT_COUNT] = {
    [OPT_BASELINE] = ON_LOG | ON_IFACE,
    [OPT_SEASON] = ON_LOG | ON_IFACE,
    [OPT_LEARN] = ON_LOG | ON_IFACE,
    [OPT_FROM] = ON_LOG,
    [OPT_TO] = ON_LOG,
    [OPT_SPEED] = ON_LOG,
    [OPT_ZONE] = ON_LOG,
    [OPT_RECORD] = ON_IFACE,
    [OPT_RECORD_CAP] = ON_IFACE,
    [OPT_KEEP_WATCH] = ON_IFACE,
};

struct watch_asked {
    struct watch_options o;
    struct season_names season;
    uint64_t given; /* bit 1 << OPT_ of each option */
};

static bool complain(const char *what)
{
    fprintf(stderr, "stokehold watch: %s\n", what);
    return false;
}

static bool set_speed(struct watch_options *o, const char *value)
{
    if (strcmp(value, "max") == 0) {
        o->speed = 0;
        return true;
    }
    if (!text_to_double(value, &o->speed) || o->speed < 1 || o->speed > 64)
        return complain("--speed takes a number from 1 to 64, or max");
    return true;
}

static bool set_size(struct watch_options *o, const char *value)
{
    char cols[16];
    const char *x = strchr(value, 'x');
    long c, r;
    if (!x || x - value >= (ptrdiff_t)sizeof cols)
        return complain("--size takes COLSxROWS, for instance 80x24");
    text_copy(cols, (size_t)(x - value) + 1, value);
    if (!text_to_long(cols, 1, 1000, &c) || !text_to_long(x + 1, 1, 1000, &r))
        return complain("--size takes COLSxROWS, for instance 80x24");
    o->cols = (int)c;
    o->rows = (int)r;
    return true;
}

static bool set(void *ctx, int option, const char *value)
{
    struct watch_asked *a = ctx;
    struct watch_options *o = &a->o;
    a->given |= UINT64_C(1) << option;
    switch (option) {
    case OPT_BASELINE:
        a->season.baseline = value;
        return true;
    case OPT_SEASON:
        a->season.season = value;
        return true;
    case OPT_LEARN:
        a->season.learn = value;
        return true;
    case OPT_CONFIG:
        o->config = value;
        return true;
    case OPT_FROM:
        return range_set_from(&o->range, "watch", value);
    case OPT_TO:
        return range_set_to(&o->range, "watch", value);
    case OPT_SPEED:
        return set_speed(o, value);
    case OPT_THEME:
        o->theme = value;
        return true;
    case OPT_COLOR:
        o->color = value;
        if (strcmp(value, "auto") && strcmp(value, "never") && strcmp(value, "8") &&
            strcmp(value, "256"))
            return complain("--color takes auto, never, 8 or 256");
        return true;
    case OPT_ASCII:
        return o->ascii = true;
    case OPT_SIZE:
        return set_size(o, value);
    case OPT_FPS:
        if (!text_to_double(value, &o->fps) || o->fps < 0.1 || o->fps > 10)
            return complain("--fps takes a number from 0.1 to 10");
        return true;
    case OPT_ONCE:
        return o->once = true;
    case OPT_PLAIN:
        return o->plain = true;
    case OPT_FORGET:
        return o->forget = true;
    case OPT_ZONE:
        o->zone = value;
        return true;
    case OPT_ATTACH:
        o->attach = true;
        o->attach_path = value;
        return true;
    case OPT_RECORD:
        o->duties.record = value;
        return true;
    case OPT_RECORD_CAP:
        return duties_size(value, &o->duties.record_cap) ||
               complain("--record-cap takes a size such as 500M or 4G");
    case OPT_KEEP_WATCH:
        return o->keep_watch = true;
    default:
        return false;
    }
}

/* The terminal has gone: the same watch, with all it knows, goes on as `tend` does. */
static int keep_watch(const struct watch_options *o, struct settings *settings, struct feed *kept)
{
    struct tend_options t = {.season = o->season,
                             .sources = o->names,
                             .source_count = o->count,
                             .config = o->config,
                             .zone = o->zone,
                             .duties = o->duties};
    struct live *live = NULL;
    struct duties *duties = NULL;
    if (feed_release_live(kept, &live, &duties))
        return tend_take_over(&t, settings, live, duties);
    feed_close(kept);
    settings_free(settings);
    return EXIT_SOURCE;
}

static void suggest_theme(const char *name)
{
    const char *words[16], *near;
    size_t n = 0;
    struct theme theme;
    for (; n < theme_builtin_count() && n < sizeof words / sizeof *words; n++)
        words[n] = theme_builtin_name(n);
    if (!theme_load(&theme, name, NULL) && (near = options_near(name, words, n)))
        fprintf(stderr, "stokehold watch: did you mean '%s'?\n", near);
}

static int show(struct watch_options *o, struct settings *settings)
{
    if (o->theme)
        text_copy(settings->screen.theme, sizeof settings->screen.theme, o->theme);
    struct theme theme;
    int status = WATCH_NO_SCREEN;
    if (!screen_check(settings, "stokehold watch", stderr)) {
        if (o->theme)
            suggest_theme(o->theme);
        status = EXIT_USAGE;
    } else if (!theme_load(&theme, settings->screen.theme, NULL)) {
        status = EXIT_USAGE;
    } else if (o->once) {
        status = watch_once(o, settings);
    } else if (o->plain) {
        status = watch_plain(o, settings);
    } else if (term_possible()) {
        struct feed kept = {0};
        o->kept = &kept;
        status = watch_loop(o, settings, &theme);
        o->kept = NULL;
        if (status == WATCH_KEPT)
            return keep_watch(o, settings, &kept);
    }
    if (status == WATCH_NO_SCREEN && o->attach) {
        complain("--attach needs a terminal");
        status = EXIT_SOURCE;
    } else if (status == WATCH_NO_SCREEN && o->is_live) {
        complain("no terminal; `stokehold tend` watches without one");
        status = EXIT_SOURCE;
    } else if (status == WATCH_NO_SCREEN) {
        /* Nobody can see a board: then what happened, in lines. */
        struct timeline_options t = {
            .verb = "watch", .zone = o->zone, .range = o->range, .season = o->season};
        status = timeline_run(o->names, 1, settings, &t);
    }
    settings_free(settings);
    return status;
}

static int run(struct watch_options *o, const struct season_names *names)
{
    struct settings *settings = options_settings("watch", o->config);
    struct season_keep season;
    struct err e;
    if (!settings)
        return EXIT_USAGE;
    if (!season_keep_open(&season, names, &e)) {
        settings_free(settings);
        complain(e.text);
        return EXIT_USAGE;
    }
    season_keep_settings(&season, settings);
    o->season = &season;
    int status = show(o, settings);
    season_keep_close(&season);
    o->season = NULL;
    return status;
}

static const struct option_set options = {
    .verb = "watch",
    .usage = "usage: stokehold watch [OPTIONS] LOG|IFACE...\n"
             "       stokehold watch [OPTIONS] --attach SOCKET\n\n"
             "The board in the terminal. Press ? there for its keys. Without a terminal it\n"
             "prints what sift prints.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .only = only,
    .values = values,
    .help = OPT_HELP,
    .set = set,
};

int verb_watch(int argc, char **argv)
{
    struct watch_asked a = {.o.speed = 1};
    struct watch_options *o = &a.o;
    int status;
    if (!options_take(&options, &a, argc, argv, &status))
        return status;
    if (o->attach && optind < argc) {
        complain("--attach takes no log");
        return EXIT_USAGE;
    }
    if (!o->attach && optind == argc) {
        complain("name a log, or one or several interfaces");
        return EXIT_USAGE;
    }
    if (o->once && o->duties.record) {
        complain("--record goes with a watch that stays, not with --once");
        return EXIT_USAGE;
    }
    if (o->keep_watch && (o->once || o->plain)) {
        complain("--keep-watch goes with the board, not with --once or --plain; `stokehold tend` "
                 "needs no terminal");
        return EXIT_USAGE;
    }
    o->names = o->attach ? &o->attach_path : (const char *const *)argv + optind;
    o->count = o->attach ? 1 : argc - optind;
    o->is_live = !o->attach && socketcan_is_name(o->names[0]);
    if (!options_fit(&options, a.given, o->attach ? ON_TEND : o->is_live ? ON_IFACE : ON_LOG))
        return EXIT_USAGE;
    return run(o, &a.season);
}
