/* `stokehold muster SOURCE`: the roll call of the bus or of a log, and what is wrong with it. */
#include "session/options.h"
#include "verbs/verbs.h"

#include "base/text.h"
#include "bus/socketcan.h"
#include "config/config.h"
#include "report/muster/muster.h"
#include "report/papers/write.h"
#include "session/digest.h"
#include "session/whole_file.h"
#include "verbs/muster_hear.h"
#include "verbs/muster_signoff.h"
#include "verbs/signoff_talk.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_FOR,
    OPT_ASK,
    OPT_JSON,
    OPT_HTML,
    OPT_WRITE,
    OPT_SIGN_OFF,
    OPT_CONFIRM,
    OPT_CHECK,
    OPT_REFERENCE,
    OPT_TOLERANCE,
    OPT_ALTITUDE,
    OPT_BY,
    OPT_NOTE,
    OPT_FROM,
    OPT_TO,
    OPT_PARTICULARS,
    OPT_UTC,
    OPT_ZONE,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "what should be there: says what is missing"},
    [OPT_FOR] = {"for", 0, "TIME", "how long to listen on an interface (default 60s)"},
    [OPT_ASK] = {"ask", 0, NULL, "on an interface: sends one request for address claims"},
    [OPT_JSON] = {"json", 0, NULL, "JSON lines"},
    [OPT_HTML] = {"html", 0, "FILE", "besides the text, the muster as one page, to print"},
    [OPT_WRITE] = {"write-config", 0, "FILE", "a starting configuration from what was found"},
    [OPT_SIGN_OFF] = {"sign-off", 0, "FILE",
                      "what was confirmed by hand, and what is open; at a terminal it asks"},
    [OPT_CONFIRM] = {"confirm", 0, "CHANNEL", "adds to that list what this channel read"},
    [OPT_CHECK] = {"check", 0, "HOW", "how it was checked"},
    [OPT_REFERENCE] = {"reference", 0, "VALUE",
                       "what it should have read, such as 61.5 C or 240 L"},
    [OPT_TOLERANCE] = {"tolerance", 0, "VALUE", "what its maker states, such as 1.5 K or 2 %"},
    [OPT_ALTITUDE] = {"altitude", 0, "VALUE",
                      "of boiling water, such as 300 m, or its pressure, 98.5 kPa"},
    [OPT_BY] = {"by", 0, "NAME", "who confirms"},
    [OPT_NOTE] = {"note", 0, "TEXT", "goes with it"},
    [OPT_FROM] = {"from", 0, "TIME", "of a log: nothing before"},
    [OPT_TO] = {"to", 0, "TIME", "of a log: nothing after"},
    [OPT_PARTICULARS] = {"particulars", 0, "FILE",
                         "what only people know, as `trial --write-particulars` begins it"},
    [OPT_UTC] = {"utc", 0, NULL, "times in UTC"},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

static const char *const values[OPT_COUNT] = {
    [OPT_CHECK] = "warmed,dipped,ice-water,boiling-water,compared",
};

static const int only[OPT_COUNT] = {
    [OPT_FOR] = ON_IFACE, [OPT_ASK] = ON_IFACE, [OPT_FROM] = ON_LOG,
    [OPT_TO] = ON_LOG,    [OPT_ZONE] = ON_LOG,
};

struct muster_run {
    const char *config, *write, *html, *particulars;
    bool json;
    uint64_t given; /* bit 1 << OPT_ of each option */
    struct signoff_words words;
    struct muster_hearing hear;
};

/* The sign-off by questions: where somebody sits who can answer. */
static bool is_talk(const struct muster_run *r)
{
    return r->words.file && !r->words.confirm && !r->json && isatty(STDIN_FILENO) &&
           isatty(STDOUT_FILENO);
}

struct start {
    const struct muster *muster;
    const char *title;
};

static void put_config(FILE *out, const void *ctx)
{
    const struct start *s = ctx;
    muster_write_config(s->muster, s->title, out);
}

/* What every form of the muster is written with. */
struct sheet {
    const struct muster *muster;
    char title[200], digest[SHA256_TEXT], config_digest[SHA256_TEXT];
    struct page_log log;
    struct page_source source;
    struct particulars particulars;
    struct papers papers;
    bool utc;
};

static void begin_sheet(struct sheet *s, const struct muster_run *r, const struct muster *m,
                        const char *path)
{
    const char *slash = strrchr(path, '/'), *base = slash ? slash + 1 : path;
    if (strcmp(base, "-") == 0)
        base = "standard input";
    text_clean(s->title, sizeof s->title, base, strlen(base));
    digest_file(path, s->digest);
    if (r->config)
        digest_file(r->config, s->config_digest);
    s->muster = m;
    s->utc = r->hear.utc;
    s->log = (struct page_log){s->title, s->digest};
    s->source = (struct page_source){.version = STOKEHOLD_VERSION,
                                     .config = r->config,
                                     .config_sha256 = s->config_digest,
                                     .log = &s->log,
                                     .logs = 1};
    s->papers = (struct papers){.particulars = r->particulars ? &s->particulars : NULL,
                                .source = &s->source};
}

static void put_page(FILE *out, const void *ctx)
{
    const struct sheet *s = ctx;
    muster_write_html(s->muster, &s->papers, s->utc, out);
}

static int write_page(const struct muster_run *r, const struct sheet *s)
{
    return whole_file("muster", r->html, put_page, s) ? EXIT_DONE : EXIT_SOURCE;
}

static int write_config(const struct muster *m, const char *path, const char *title)
{
    struct start start = {m, title};
    return whole_file("muster", path, put_config, &start) ? EXIT_DONE : EXIT_SOURCE;
}

static bool set(void *ctx, int option, const char *value)
{
    struct muster_run *r = ctx;
    r->given |= UINT64_C(1) << option;
    switch (option) {
    case OPT_CONFIG:
        r->config = value;
        return true;
    case OPT_FOR:
        if (when_parse_length(value, &r->hear.for_ns) && r->hear.for_ns > 0)
            return true;
        fprintf(stderr, "stokehold muster: --for takes a length of time, such as 60s or 5min\n");
        return false;
    case OPT_ASK:
        return r->hear.ask = true;
    case OPT_JSON:
        return r->json = true;
    case OPT_HTML:
        r->html = value;
        return true;
    case OPT_WRITE:
        r->write = value;
        return true;
    case OPT_SIGN_OFF:
        r->words.file = value;
        return true;
    case OPT_CONFIRM:
        r->words.confirm = value;
        return true;
    case OPT_CHECK:
        r->words.check = value;
        return true;
    case OPT_REFERENCE:
        r->words.reference = value;
        return true;
    case OPT_TOLERANCE:
        r->words.tolerance = value;
        return true;
    case OPT_ALTITUDE:
        r->words.altitude = value;
        return true;
    case OPT_BY:
        r->words.by = value;
        return true;
    case OPT_NOTE:
        r->words.note = value;
        return true;
    case OPT_FROM:
        return range_set_from(&r->hear.range, "muster", value);
    case OPT_TO:
        return range_set_to(&r->hear.range, "muster", value);
    case OPT_PARTICULARS:
        r->particulars = value;
        return true;
    case OPT_UTC:
        return r->hear.utc = true;
    default:
        r->hear.zone = value;
        return true;
    }
}

static const struct option_set options = {
    .verb = "muster",
    .usage = "usage: stokehold muster [OPTIONS] LOG | INTERFACE...\n\n"
             "Says who is on the bus, what each sends, and what is wrong with the installation.\n"
             "Exit status 0 clean, 1 with findings.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .only = only,
    .values = values,
    .help = OPT_HELP,
    .set = set,
};

/* How many of the sources are interfaces; -1 after saying that they do not go together. */
static int live_sources(const struct muster_run *r, char **sources, int count)
{
    int live = 0;
    for (int i = 0; i < count; i++)
        live += socketcan_is_name(sources[i]);
    if (count < 1 || (live != count && count != 1)) {
        fputs("stokehold muster: name one log, - for standard input, or CAN interfaces\n", stderr);
        return -1;
    }
    return options_fit(&options, r->given, live ? ON_IFACE : ON_LOG) ? live : -1;
}

/* All that was asked for, once everything was heard with that status. */
static int write_all(struct muster_run *r, struct sheet *s, int status)
{
    const struct muster *m = s->muster;
    /* A log that could not be read is not a silent bus. */
    bool heard = status == EXIT_DONE || m->frames > 0;
    /* Sums of files belong to what is handed over: a pipe cannot be read again for one. */
    const struct papers papers = s->papers.particulars ? s->papers : (struct papers){0};
    if (heard && r->json)
        muster_print_json(m, &papers, stdout);
    else if (heard)
        muster_print(m, s->title, &papers, s->utc, stdout);
    if (r->html && status == EXIT_DONE)
        status = write_page(r, s);
    if (r->write && status == EXIT_DONE)
        status = write_config(m, r->write, s->title);
    return status;
}

static int sign_off(struct muster_run *r, const struct muster *m, struct signoff_request *request)
{
    int status = EXIT_DONE;
    if (is_talk(r))
        status = signoff_talk(&(struct talk){.file = r->words.file,
                                             .heard = m,
                                             .source = r->hear.bus,
                                             .in = STDIN_FILENO,
                                             .out = stdout});
    return status != EXIT_DONE
               ? status
               : signoff_run(&r->words, request, m, r->hear.utc, r->json ? stderr : stdout);
}

static int hear_and_write(struct muster_run *r, struct muster *m, struct sheet *s, char **sources,
                          int count, int live)
{
    struct signoff_request request;
    struct err e;
    if (!signoff_words_parse(&r->words, &request))
        return EXIT_USAGE;
    if (r->particulars && !particulars_read(r->particulars, &s->particulars, &e)) {
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_USAGE;
    }
    r->hear.keep = is_talk(r);
    int status = live > 0 ? muster_hear_bus(&r->hear, m, sources, count)
                          : muster_hear_log(&r->hear, m, sources[0]);
    muster_close(m);
    begin_sheet(s, r, m, sources[0]);
    status = write_all(r, s, status);
    if (r->words.file && status == EXIT_DONE)
        status = sign_off(r, m, &request);
    if (status == EXIT_DONE && (muster_finding_total(m) > 0 || m->frames == 0))
        status = EXIT_FINDINGS;
    return status;
}

static int run(struct muster_run *r, char **sources, int count)
{
    int live = live_sources(r, sources, count), status;
    if (live < 0)
        return EXIT_USAGE;
    struct settings *settings = options_settings("muster", r->config);
    if (!settings)
        return EXIT_USAGE;
    struct muster *m = muster_new(settings);
    struct sheet *s = calloc(1, sizeof *s);
    r->hear.keeper = keeper_new(settings, &(struct keeper_options){.escalate = false});
    if (m && s && r->hear.keeper) {
        status = hear_and_write(r, m, s, sources, count, live);
    } else {
        fputs("stokehold muster: out of memory\n", stderr);
        status = EXIT_SOURCE;
    }
    if (r->hear.bus)
        source_close(r->hear.bus);
    keeper_free(r->hear.keeper);
    muster_free(m);
    free(s);
    settings_free(settings);
    return status;
}

int verb_muster(int argc, char **argv)
{
    struct muster_run r = {.hear.for_ns = 60 * NS_PER_S};
    int status;
    if (!options_take(&options, &r, argc, argv, &status))
        return status;
    return run(&r, argv + optind, argc - optind);
}
