/* `stokehold season FILE`: what a boat's trips were like, channel by channel, and what slowly
 * worsens; and the marks of work done on it. */
#include "session/options.h"
#include "session/whole_file.h"
#include "verbs/verbs.h"

#include "base/text.h"
#include "bus/clock.h"
#include "config/config.h"
#include "report/season/report.h"

#include <string.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_JSON,
    OPT_CSV,
    OPT_HTML,
    OPT_UTC,
    OPT_MARK,
    OPT_DATE,
    OPT_CONCERNS,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_JSON] = {"json", 0, NULL, "JSON lines: one for each channel and trip"},
    [OPT_CSV] = {"csv", 0, NULL, "CSV: one row for each channel and trip"},
    [OPT_HTML] = {"html", 0, "FILE", "besides the text, the report as one page, to print"},
    [OPT_UTC] = {"utc", 0, NULL, "dates in UTC"},
    [OPT_MARK] = {"mark", 0, "WORDS", "note work done: \"impeller changed, starboard\""},
    [OPT_DATE] = {"date", 0, "TIME", "with --mark: when it was done (default: now)"},
    [OPT_CONCERNS] = {"concerns", 0, "CHANNEL",
                      "with --mark: exhaust.1, for instance; later trips of it are held against "
                      "the first ones after the mark (default: every channel)"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

struct order {
    const char *config, *html;
    bool json, csv, utc, has_date;
    struct season_mark mark;
    bool has_mark, has_concerns;
};

static bool wrong(const char *option, const char *value, const char *takes)
{
    char shown[60];

    text_clean(shown, sizeof shown, value, strlen(value));
    fprintf(stderr, "stokehold season: --%s '%s': takes %s\n", option, shown, takes);
    return false;
}

static bool set(void *ctx, int option, const char *value)
{
    struct order *o = ctx;
    struct moment m;

    switch (option) {
    case OPT_CONFIG:
        o->config = value;
        return true;
    case OPT_JSON:
        return o->json = true;
    case OPT_CSV:
        return o->csv = true;
    case OPT_HTML:
        o->html = value;
        return true;
    case OPT_UTC:
        return o->utc = true;
    case OPT_MARK:
        text_clean(o->mark.words, sizeof o->mark.words, value, strlen(value));
        o->has_mark = o->mark.words[0] != '\0';
        return o->has_mark || wrong("mark", value, "a few words, such as \"impeller changed\"");
    case OPT_DATE:
        o->has_date = when_parse(value, &m) && !m.relative;
        o->mark.wall_ns = m.ns;
        return o->has_date ||
               wrong("date", value, "a time such as 2026-06-12T08:00 or 2026-06-12T08:00Z");
    default:
        o->has_concerns = channel_id_parse(value, &o->mark.concerns, NULL);
        return o->has_concerns || wrong("concerns", value, "a channel such as exhaust.1");
    }
}

static const struct option_set options = {
    .verb = "season",
    .usage =
        "usage: stokehold season [OPTIONS] FILE\n"
        "       stokehold season --mark WORDS [--date TIME] [--concerns CHANNEL] FILE\n\n"
        "Says what a boat's trips were like, channel by channel, and what slowly worsens. FILE\n"
        "is what --season FILE of sift, tend, watch and trial keeps.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .help = OPT_HELP,
    .set = set,
};

struct marking {
    struct season_mark mark;
    bool added;
};

static bool add_mark(struct season *s, void *ctx)
{
    struct marking *m = ctx;

    return m->added = season_mark(s, &m->mark);
}

static int note_mark(const struct order *o, const char *path)
{
    struct marking m = {.mark = o->mark};
    struct season there;
    struct err e;

    m.mark.all = !o->has_concerns;
    if (!o->has_date)
        m.mark.wall_ns = clock_now().wall_ns;
    if (!season_read(path, false, &there, &e)) {
        fprintf(stderr, "stokehold season: %s\n", e.text);
        return EXIT_USAGE;
    }
    season_free(&there);
    bool good = season_update(path, add_mark, &m, NULL, &e);
    if (good && m.added)
        return EXIT_DONE;
    if (good)
        err_set(&e, "cannot mark '%s': it holds %d marks, and no more", path, SEASON_MARKS);
    fprintf(stderr, "stokehold season: %s\n", e.text);
    return EXIT_SOURCE;
}

struct page {
    const struct season_report *report;
    bool utc;
};

static void put_page(FILE *out, const void *ctx)
{
    const struct page *p = ctx;

    season_report_html(out, p->report, p->utc);
}

static int report(const struct order *o, const struct season *s, const struct settings *settings,
                  const char *path)
{
    struct season_report *r = season_report_new(s, settings, path);
    int status = EXIT_DONE;

    if (!r) {
        fputs("stokehold season: out of memory\n", stderr);
        return EXIT_SOURCE;
    }
    if (o->json)
        season_report_json(stdout, r);
    else if (o->csv)
        season_report_csv(stdout, r);
    else
        season_report_text(stdout, r, o->utc);
    if (o->html && !whole_file("season", o->html, put_page, &(struct page){r, o->utc}))
        status = EXIT_SOURCE;
    season_report_free(r);
    return status;
}

int verb_season(int argc, char **argv)
{
    struct order o = {0};
    struct settings *settings;
    struct season s;
    struct err e;
    int status;

    if (!options_take(&options, &o, argc, argv, &status))
        return status;
    if (argc - optind != 1) {
        fputs("stokehold season: name one season file\n", stderr);
        return EXIT_USAGE;
    }
    if (!o.has_mark && (o.has_date || o.has_concerns)) {
        fputs("stokehold season: --date and --concerns go with --mark\n", stderr);
        return EXIT_USAGE;
    }
    if (o.has_mark)
        return note_mark(&o, argv[optind]);
    if (!season_read(argv[optind], false, &s, &e)) {
        fprintf(stderr, "stokehold season: %s\n", e.text);
        return EXIT_USAGE;
    }
    settings = options_settings("season", o.config);
    status = settings ? report(&o, &s, settings, argv[optind]) : EXIT_USAGE;
    settings_free(settings);
    season_free(&s);
    return status;
}
