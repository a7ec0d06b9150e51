/* `stokehold muster SOURCE`: the roll call of the bus or of a log, and what is wrong with it. */
#include "session/options.h"
#include "verbs/verbs.h"

#include "base/text.h"
#include "bus/clock.h"
#include "bus/socketcan.h"
#include "config/config.h"
#include "report/muster/muster.h"
#include "verbs/muster_signoff.h"
#include "verbs/signoff_talk.h"
#include "session/clock_trust.h"
#include "session/digest.h"
#include "session/log_reader.h"
#include "session/whole_file.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

enum { BATCH = 512 };

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
    [OPT_HTML] = {"html", 0, "FILE", "the muster as one page, to print"},
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
    const char *config, *write, *html, *zone;
    int64_t for_ns;
    bool ask, json, utc;
    uint64_t given; /* bit 1 << OPT_ of each option */
    struct log_range range;
    struct signoff_words words;
    struct keeper *keeper; /* reads what the muster reads: for what the cooling watch has */
    struct source *bus;    /* kept open for the dialogue; NULL: none is */
};

static volatile sig_atomic_t stopped; /* a signal handler can reach nothing else */

static void on_signal(int signal)
{
    (void)signal;
    stopped = 1;
}

static int64_t mono_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec * NS_PER_S + t.tv_nsec;
}

static void name_ifaces(struct muster *m, const struct source *source)
{
    for (int i = m->iface_count; i < source_iface_count(source); i++)
        muster_name_iface(m, (uint8_t)i, source_iface_name(source, (uint8_t)i));
}

struct pair {
    struct muster *muster;
    struct keeper *keeper;
};

static void pass_iface(void *ctx, uint8_t iface, const char *name)
{
    const struct pair *p = ctx;
    muster_name_iface(p->muster, iface, name);
    keeper_name_iface(p->keeper, iface, name);
}

static void pass(struct muster *m, struct keeper *k, const struct frame *f, size_t n)
{
    muster_frames(m, f, n);
    keeper_frames(k, f, n);
    muster_look(m, k);
}

static bool pass_frames(void *ctx, const struct log_reader *r)
{
    const struct pair *p = ctx;
    if (r->within)
        pass(p->muster, p->keeper, r->frames, r->n);
    return true;
}

static int muster_log(struct muster_run *r, struct muster *m, const char *path)
{
    static struct log_reader reader; /* too large for the stack */
    struct pair pair = {m, r->keeper};
    struct log_taker taker = {.ctx = &pair, .iface = pass_iface, .frames = pass_frames};
    struct err e = {"no such file"};
    if (socketcan_is_unknown(path) || !log_reader_open(&reader, &path, 1, r->zone, &e)) {
        socketcan_say_unknown(path, &e);
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_SOURCE;
    }
    reader.range = r->range;
    reader.utc = r->utc;
    int status = log_reader_run(&reader, "muster", path, &taker);
    m->clock_known = source_stats(reader.source)->clock_known;
    log_reader_close(&reader);
    return status;
}

/* Listens until the time is over or a signal asks for the result so far. */
static int listen_live(const struct muster_run *r, struct muster *m, struct source *source)
{
    static struct frame batch[BATCH];
    struct err e;
    int64_t until_ns = mono_now() + r->for_ns;
    struct sigaction act = {.sa_handler = on_signal};
    struct sigaction before[2];
    sigaction(SIGINT, &act, &before[0]);
    sigaction(SIGTERM, &act, &before[1]);
    for (int64_t now_ns = mono_now(); now_ns < until_ns && !stopped; now_ns = mono_now()) {
        size_t n = 0;
        enum source_state state = source_read(source, batch, BATCH, &n, &e);
        name_ifaces(m, source);
        if (state == SOURCE_READY) {
            pass(m, r->keeper, batch, n);
            continue;
        }
        if (state != SOURCE_WAIT) {
            fprintf(stderr, "stokehold muster: %s\n", e.text);
            return EXIT_SOURCE;
        }
        struct bus_condition c;
        while (socketcan_condition(source, &c))
            if (c.stands)
                fprintf(stderr, "stokehold muster: %s\n", c.text);
        int64_t left_ms = (until_ns - now_ns) / NS_PER_MS + 1;
        struct pollfd p = {.fd = source_fd(source), .events = POLLIN};
        if (poll(&p, 1, left_ms < 500 ? (int)left_ms : 500) < 0 && errno != EINTR)
            break;
    }
    sigaction(SIGINT, &before[0], NULL); /* a second one ends what is asked afterwards */
    sigaction(SIGTERM, &before[1], NULL);
    return EXIT_DONE;
}

/* The sign-off by questions: where somebody sits who can answer. */
static bool is_talk(const struct muster_run *r)
{
    return r->words.file && !r->words.confirm && !r->json && isatty(STDIN_FILENO) &&
           isatty(STDOUT_FILENO);
}

static int read_live(struct muster_run *r, struct muster *m, char **names, int count)
{
    struct err e;
    struct source *source = socketcan_open((const char *const *)names, count, &e);
    if (!source) {
        socketcan_say_unknown(names[0], &e);
        fprintf(stderr, "stokehold muster: %s\n", e.text);
        return EXIT_SOURCE;
    }
    for (int i = 0; i < count; i++)
        if (socketcan_is_unknown(names[i]))
            fprintf(stderr,
                    "stokehold muster: '%s' is neither a log nor an interface that is there now\n",
                    names[i]);
    int status = EXIT_DONE;
    for (int i = 0; r->ask && i < count && status == EXIT_DONE; i++) {
        if (socketcan_ask(names[i], &e)) {
            fprintf(stderr,
                    "stokehold muster: sent one frame on %s: a request for address claims\n",
                    names[i]);
        } else {
            fprintf(stderr, "stokehold muster: %s\n", e.text);
            status = EXIT_SOURCE;
        }
    }
    if (status == EXIT_DONE) {
        fprintf(stderr, "stokehold muster: listening for %.0f s\n", when_seconds(r->for_ns));
        status = listen_live(r, m, source);
    }
    struct clock_trust trust = {0};
    clock_trust_turn(&trust, clock_now(), false, 0);
    m->clock_loose = !trust.trusted;
    if (status == EXIT_DONE && is_talk(r))
        r->bus = source;
    else
        source_close(source);
    return status;
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

struct muster_page {
    const struct muster *muster;
    struct page_source source;
    bool utc;
};

static void put_page(FILE *out, const void *ctx)
{
    const struct muster_page *p = ctx;
    muster_write_html(p->muster, &p->source, p->utc, out);
}

static int write_page(const struct muster_run *r, const struct muster *m, const char *title,
                      const char *path)
{
    char digest[SHA256_TEXT], config_digest[SHA256_TEXT] = "";
    digest_file(path, digest);
    if (r->config)
        digest_file(r->config, config_digest);
    struct page_log log = {title, digest};
    struct muster_page page = {m,
                               {.version = STOKEHOLD_VERSION,
                                .config = r->config,
                                .config_sha256 = config_digest,
                                .log = &log,
                                .logs = 1},
                               r->utc};
    return whole_file("muster", r->html, put_page, &page) ? EXIT_DONE : EXIT_SOURCE;
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
        if (when_parse_length(value, &r->for_ns) && r->for_ns > 0)
            return true;
        fprintf(stderr, "stokehold muster: --for takes a length of time, such as 60s or 5min\n");
        return false;
    case OPT_ASK:
        return r->ask = true;
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
        return range_set_from(&r->range, "muster", value);
    case OPT_TO:
        return range_set_to(&r->range, "muster", value);
    case OPT_UTC:
        return r->utc = true;
    default:
        r->zone = value;
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

static int run(struct muster_run *r, char **sources, int count)
{
    int live = live_sources(r, sources, count);
    if (live < 0)
        return EXIT_USAGE;
    struct signoff_request request;
    if (!signoff_words_parse(&r->words, &request))
        return EXIT_USAGE;
    struct settings *settings = options_settings("muster", r->config);
    if (!settings)
        return EXIT_USAGE;
    struct muster *m = muster_new(settings);
    r->keeper = keeper_new(settings, &(struct keeper_options){.escalate = false});
    if (!m || !r->keeper) {
        fputs("stokehold muster: out of memory\n", stderr);
        muster_free(m);
        keeper_free(r->keeper);
        settings_free(settings);
        return EXIT_SOURCE;
    }
    int status = live > 0 ? read_live(r, m, sources, count) : muster_log(r, m, sources[0]);
    muster_close(m);
    char title[200];
    const char *slash = strrchr(sources[0], '/');
    const char *base = slash ? slash + 1 : sources[0];
    if (strcmp(base, "-") == 0)
        base = "standard input";
    text_clean(title, sizeof title, base, strlen(base));
    /* What could not be read is no bus on which nothing was heard. */
    bool heard = status == EXIT_DONE || m->frames > 0;
    if (heard && r->json)
        muster_print_json(m, stdout);
    else if (heard)
        muster_print(m, title, r->utc, stdout);
    if (r->html && status == EXIT_DONE)
        status = write_page(r, m, title, sources[0]);
    if (r->write && status == EXIT_DONE)
        status = write_config(m, r->write, title);
    if (status == EXIT_DONE && is_talk(r))
        status = signoff_talk(&(struct talk){.file = r->words.file,
                                             .heard = m,
                                             .source = r->bus,
                                             .in = STDIN_FILENO,
                                             .out = stdout});
    if (r->words.file && status == EXIT_DONE)
        status = signoff_run(&r->words, &request, m, r->utc, r->json ? stderr : stdout);
    if (status == EXIT_DONE && (muster_finding_total(m) > 0 || m->frames == 0))
        status = EXIT_FINDINGS;
    if (r->bus)
        source_close(r->bus);
    keeper_free(r->keeper);
    muster_free(m);
    settings_free(settings);
    return status;
}

int verb_muster(int argc, char **argv)
{
    struct muster_run r = {.for_ns = 60 * NS_PER_S};
    int status;
    if (!options_take(&options, &r, argc, argv, &status))
        return status;
    return run(&r, argv + optind, argc - optind);
}
