/* `stokehold export LOG`: decoded readings as CSV or JSON lines, in log order. */
#include "session/options.h"
#include "verbs/verbs.h"

#include "base/json.h"
#include "base/text.h"
#include "config/config.h"
#include "plant/plant.h"
#include "session/log_reader.h"
#include "session/losses.h"
#include "wire/wire.h"

#include <string.h>

#include "base/banned.h"

enum {
    OPT_CONFIG,
    OPT_FROM,
    OPT_TO,
    OPT_JSON,
    OPT_ALL,
    OPT_DERIVED,
    OPT_ZONE,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_CONFIG] = {"config", 'c', "FILE", "configuration to lay over the defaults"},
    [OPT_FROM] = {"from", 0, "TIME", "nothing before: 14:20, +MM:SS into the log, ISO 8601, ..."},
    [OPT_TO] = {"to", 0, "TIME", "nothing after"},
    [OPT_JSON] = {"json", 0, NULL, "JSON lines in place of CSV"},
    [OPT_ALL] = {"all", 0, NULL, "a row with an empty value where a value is not available"},
    [OPT_DERIVED] =
        {"derived", 0, NULL,
         "rows, without a source, for what is worked out from others: burn, range, ..."},
    [OPT_ZONE] = {"zone", 0, "ZONE", "zone of a log with local dates"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

struct exporter {
    struct log_range range;
    bool json, all, derived;
    const char *zone;
    int64_t ticked_ns;
    bool headed; /* the header of the CSV was printed */
    bool failed;
    const char *config;
    const struct settings *settings;
    struct log_reader reader;
    struct wire *wire;
    struct plant *plant;
    struct losses losses;           /* of the trips before; this one's gaps */
    char ifaces[SOURCE_IFACES][24]; /* a trip after the first needs them again */
    int iface_count;
};

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct exporter *x = ctx;
    bool good = c->status == READING_OK;
    char number[40] = "", time[40], source[8] = "";
    if ((c->derived && !x->derived) || (!good && !x->all) || at.wall_ns < x->reader.from_ns ||
        at.wall_ns > x->reader.to_ns)
        return;
    if (good)
        text_number(number, sizeof number, c->value, c->decimals);
    if (!c->derived) /* nobody sent it */
        text_format(source, sizeof source, "%u", c->source);
    if (!x->json) {
        when_epoch(time, sizeof time, at.wall_ns);
        printf("%s,%s,%s,%s,%s\n", time, c->key, number, unit_text(c->unit), source);
        return;
    }
    struct json j;
    char line[256];
    json_open(&j, line, sizeof line);
    json_time(&j, "time", at.wall_ns);
    json_string(&j, "channel", c->key);
    json_raw(&j, "value", good ? number : "null");
    json_string(&j, "unit", unit_text(c->unit));
    json_raw(&j, "source", c->derived ? "null" : source);
    const char *text = json_close(&j);
    if (text)
        fputs(text, stdout);
}

static struct losses losses_of(const struct exporter *x)
{
    struct losses l = x->losses;
    const struct wire_stats *w = wire_stats(x->wire);
    losses_add(&l, (struct losses){.incomplete = w->fast_lost + w->tp_lost,
                                   .dropped = plant_dropped(x->plant)});
    return l;
}

/* For the first trip, and for each that begins hours later. */
static bool begin_trip(struct exporter *x)
{
    if (x->plant)
        x->losses = losses_of(x);
    plant_free(x->plant);
    wire_free(x->wire);
    x->wire = wire_new();
    x->plant = plant_new(x->settings);
    if (!x->wire || !x->plant)
        return false;
    plant_listen(x->plant, (struct plant_listener){.ctx = x, .reading = on_reading});
    for (int i = 0; i < x->iface_count; i++)
        plant_name_iface(x->plant, (uint8_t)i, x->ifaces[i]);
    return true;
}

static void take_frame(struct exporter *x, const struct frame *f, uint8_t flags)
{
    struct stamp at = {f->wall_ns, f->mono_ns};
    struct message m;
    if (flags & FRAME_GAP) {
        wire_reset(x->wire);
        plant_gap(x->plant, at);
    }
    if (flags & FRAME_HOLE)
        plant_hole(x->plant, at);
    x->losses.gaps += (flags & (FRAME_GAP | FRAME_HOLE)) != 0;
    if (wire_frame(x->wire, f, &m))
        plant_message(x->plant, &m);
    /* who falls silent decides whom a shared quantity is taken from */
    if (f->mono_ns - x->ticked_ns >= 250 * NS_PER_MS) {
        x->ticked_ns = f->mono_ns;
        plant_tick(x->plant, at);
    }
}

static bool take(void *ctx, const struct log_reader *r)
{
    struct exporter *x = ctx;
    if (r->new_trip && !begin_trip(x)) {
        x->failed = true;
        return false;
    }
    if (r->within && !x->headed && !x->json)
        fputs("time,channel,value,unit,source\n", stdout);
    x->headed |= r->within;
    for (size_t i = 0; i < r->n; i++)
        /* the pause before a trip is not a gap in it */
        take_frame(x, &r->frames[i], i == 0 && r->new_trip ? 0 : r->frames[i].flags);
    return true;
}

static void name_iface(void *ctx, uint8_t iface, const char *name)
{
    struct exporter *x = ctx;
    text_copy(x->ifaces[iface], sizeof x->ifaces[0], name);
    x->iface_count = iface + 1;
    plant_name_iface(x->plant, iface, name);
}

static int run(struct exporter *x, const char *const *paths, int count)
{
    struct err e;
    int status = EXIT_SOURCE;
    struct log_taker taker = {.ctx = x, .iface = name_iface, .frames = take};
    if (!log_reader_open(&x->reader, paths, count, x->zone, &e)) {
        fprintf(stderr, "stokehold export: %s\n", e.text);
        return EXIT_SOURCE;
    }
    x->reader.range = x->range;
    x->failed = !begin_trip(x);
    if (!x->failed)
        status = log_reader_run(&x->reader, "export", paths[0], &taker);
    if (x->failed) {
        fputs("stokehold export: out of memory\n", stderr);
        status = EXIT_SOURCE;
    } else if (status == EXIT_DONE) {
        char lost[300];
        losses_text(lost, sizeof lost, losses_of(x));
        if (lost[0])
            fprintf(stderr, "stokehold export: %s\n", lost);
    }
    log_reader_close(&x->reader);
    plant_free(x->plant);
    wire_free(x->wire);
    return status;
}

static bool set(void *ctx, int option, const char *value)
{
    struct exporter *x = ctx;
    switch (option) {
    case OPT_CONFIG:
        x->config = value;
        return true;
    case OPT_FROM:
        return range_set_from(&x->range, "export", value);
    case OPT_TO:
        return range_set_to(&x->range, "export", value);
    case OPT_JSON:
        return x->json = true;
    case OPT_ALL:
        return x->all = true;
    case OPT_DERIVED:
        return x->derived = true;
    default:
        x->zone = value;
        return true;
    }
}

static const struct option_set options = {
    .verb = "export",
    .usage =
        "usage: stokehold export [OPTIONS] LOG...\n\n"
        "Prints decoded readings: time,channel,value,unit,source. Several logs, or a directory\n"
        "of them, are read in order of time as one.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .help = OPT_HELP,
    .set = set,
};

int verb_export(int argc, char **argv)
{
    static struct exporter x; /* too large for the stack */
    int status;
    if (!options_take(&options, &x, argc, argv, &status))
        return status;
    if (optind == argc) {
        fputs("stokehold export: name one log or more, or - for standard input\n", stderr);
        return EXIT_USAGE;
    }
    struct settings *settings = options_settings("export", x.config);
    if (!settings)
        return EXIT_USAGE;
    x.settings = settings;
    status = run(&x, (const char *const *)argv + optind, argc - optind);
    settings_free(settings);
    return status;
}
