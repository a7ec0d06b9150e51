/* `stokehold export LOG`: decoded readings as CSV or JSON lines, in log order. */
#include "session/options.h"
#include "verbs/verbs.h"

#include "base/json.h"
#include "base/text.h"
#include "config/config.h"
#include "plant/plant.h"
#include "session/read_log.h"
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
    [OPT_FROM] = {"from", 0, "TIME", "nothing before: epoch seconds, +MM:SS, ISO 8601"},
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
    int64_t first_ns, ticked_ns;
    bool any;
    const char *config;
    struct wire *wire;
    struct plant *plant;
};

static void on_reading(void *ctx, struct channel *c, struct stamp at)
{
    struct exporter *x = ctx;
    bool good = c->status == READING_OK;
    char number[40] = "", time[40], source[8] = "";
    if ((c->derived && !x->derived) || (!good && !x->all) ||
        range_before(&x->range, x->first_ns, at.wall_ns) ||
        range_after(&x->range, x->first_ns, at.wall_ns))
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

/* False once the range is behind. */
static bool take(void *ctx, const struct frame *f, size_t n)
{
    struct exporter *x = ctx;
    struct wire *w = x->wire;
    struct plant *p = x->plant;
    struct message m;
    for (size_t i = 0; i < n; i++) {
        if (!x->any) {
            x->any = true;
            x->first_ns = f[i].wall_ns;
        }
        if (range_after(&x->range, x->first_ns, f[i].wall_ns))
            return false;
        if (f[i].flags & FRAME_GAP) {
            wire_reset(w);
            plant_gap(p, (struct stamp){f[i].wall_ns, f[i].mono_ns});
        }
        if (f[i].flags & FRAME_HOLE)
            plant_hole(p, (struct stamp){f[i].wall_ns, f[i].mono_ns});
        if (wire_frame(w, &f[i], &m))
            plant_message(p, &m);
        /* who falls silent decides whom a shared quantity is taken from */
        if (f[i].mono_ns - x->ticked_ns >= 250 * NS_PER_MS) {
            x->ticked_ns = f[i].mono_ns;
            plant_tick(p, (struct stamp){f[i].wall_ns, f[i].mono_ns});
        }
    }
    return true;
}

static void name_iface(void *ctx, uint8_t iface, const char *name)
{
    struct exporter *x = ctx;
    plant_name_iface(x->plant, iface, name);
}

static int run(struct exporter *x, const char *path, const struct settings *settings)
{
    int status = EXIT_SOURCE;
    x->wire = wire_new();
    x->plant = plant_new(settings);
    if (x->wire && x->plant) {
        plant_listen(x->plant, (struct plant_listener){.ctx = x, .reading = on_reading});
        if (!x->json)
            fputs("time,channel,value,unit,source\n", stdout);
        struct log_taker taker = {.ctx = x, .iface = name_iface, .frames = take};
        status = read_log("export", path, x->zone, &taker, NULL);
    } else {
        fputs("stokehold export: out of memory\n", stderr);
    }
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
    .usage = "usage: stokehold export [OPTIONS] LOG\n\n"
             "Prints decoded readings: time,channel,value,unit,source.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .help = OPT_HELP,
    .set = set,
};

int verb_export(int argc, char **argv)
{
    struct exporter x = {0};
    int status;
    if (!options_take(&options, &x, argc, argv, &status))
        return status;
    if (argc - optind != 1) {
        fputs("stokehold export: name one log, or - for standard input\n", stderr);
        return EXIT_USAGE;
    }
    struct settings *settings = options_settings("export", x.config, NULL);
    if (!settings)
        return EXIT_USAGE;
    status = run(&x, argv[optind], settings);
    settings_free(settings);
    return status;
}
