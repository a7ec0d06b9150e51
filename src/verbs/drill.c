/* `stokehold drill`: writes the log of an invented trip with a chosen fault, and the truth beside
 * it; or plays the trip onto a virtual interface. The same options and seed give the same bytes, on
 * one kind of processor. */
#include "session/options.h"
#include "verbs/verbs.h"

#include "base/text.h"
#include "base/when.h"
#include "bus/candump.h"
#include "bus/clock.h"
#include "bus/socketcan.h"
#include "drill/frames.h"
#include "drill/run.h"
#include "drill/season.h"
#include "drill/truth.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "base/banned.h"

/* The trips begin on an invented Monday in May: 2026-05-04 14:00:00 UTC. */
#define DRILL_EPOCH_S INT64_C(1777903200)

enum {
    OPT_FAULT,
    OPT_AT,
    OPT_ENGINE,
    OPT_ENGINES,
    OPT_SEED,
    OPT_MINUTES,
    OPT_TRIP,
    OPT_RANDOM,
    OPT_BOAT,
    OPT_OUTPUT,
    OPT_TO,
    OPT_SPEED,
    OPT_TRUTH,
    OPT_SEASON,
    OPT_HELP,
    OPT_COUNT
};

static const struct option_row rows[OPT_COUNT] = {
    [OPT_FAULT] = {"fault", 0, "NAME", "what fails; the last three are for --trip trial"},
    [OPT_AT] = {"at", 0, "TIME", "when it begins: +MM:SS into the trip (default: in the cruise)"},
    [OPT_ENGINE] = {"engine", 0, "N", "the engine that fails"},
    [OPT_ENGINES] = {"engines", 0, "N", "1 or 2 (default 2)"},
    [OPT_SEED] = {"seed", 0, "N", "another seed, other noise (default 1)"},
    [OPT_MINUTES] = {"minutes", 0, "N", "length of the trip, 4 to 1440 (default 30)"},
    [OPT_TRIP] = {"trip", 0, "NAME", "cruise (default), or a sea trial of about 90 min"},
    [OPT_RANDOM] = {"random", 0, NULL,
                    "another boat, sensors and helmsman with each seed; sets its own length"},
    [OPT_BOAT] =
        {"boat", 0, "NAME",
         "plain (default) or full: with generator, shore power, inverter and lithium bank"},
    [OPT_OUTPUT] = {"output", 'o', "LOG", "where the log goes (default: standard output)"},
    [OPT_TO] = {"to", 0, "IFACE", "plays it onto a virtual interface (vcan, vxcan) in real time"},
    [OPT_SPEED] = {"speed", 0, "N", "with --to: so many times faster, 1 to 64, or max"},
    [OPT_TRUTH] = {"truth", 0, "FILE", "where the truth goes, as JSON"},
    [OPT_SEASON] =
        {"season", 0, "N",
         "N trips of one random boat over a summer, as trip-NN.log and truth.json in the "
         "directory named; --fault then takes none, impeller-wear, scale, strainer, "
         "probe, worn or battery"},
    [OPT_HELP] = {"help", 'h', NULL, "this help"},
};

static const char *const values[OPT_COUNT] = {
    [OPT_FAULT] = ("none,impeller,vanes,fouled,seacock,coolant-pump,fire,sensor-open,sensor-silent,"
                   "two-boxes,meter-high,swapped,stuck-tank"),
    [OPT_ENGINE] = "port,starboard,0,1",
    [OPT_TRIP] = "cruise,trial",
};

struct order {
    enum drill_fault_kind fault;
    bool has_at, random, trial, full;
    struct moment at;
    long engine, engines, seed, minutes, season;
    const char *fault_word; /* what --fault said, until it is known of what */
    double speed;           /* with `to`; 0: as fast as it is taken */
    const char *output, *to, *truth;
};

static bool wrong(const char *option, const char *value, const char *takes)
{
    char shown[60];

    text_clean(shown, sizeof shown, value, strlen(value));
    fprintf(stderr, "stokehold drill: --%s '%s': takes %s\n", option, shown, takes);
    return false;
}

static bool set_engine(struct order *o, const char *value)
{
    if (strcmp(value, "port") == 0 || strcmp(value, "0") == 0)
        o->engine = 0;
    else if (strcmp(value, "starboard") == 0 || strcmp(value, "1") == 0)
        o->engine = 1;
    else
        return wrong("engine", value, "port, starboard, 0 or 1");
    return true;
}

static bool set_speed(struct order *o, const char *value)
{
    if (strcmp(value, "max") == 0)
        o->speed = 0;
    else if (!text_to_double(value, &o->speed) || o->speed < 1 || o->speed > 64)
        return wrong("speed", value, "a number from 1 to 64, or max");
    return true;
}

static bool set(void *ctx, int option, const char *value)
{
    struct order *o = ctx;
    switch (option) {
    case OPT_FAULT:
        o->fault_word = value;
        return true;
    case OPT_AT:
        o->has_at = when_parse(value, &o->at);
        return o->has_at || wrong("at", value, "+MM:SS into the trip, or epoch seconds");
    case OPT_ENGINE:
        return set_engine(o, value);
    case OPT_ENGINES:
        return text_to_long(value, 1, 2, &o->engines) || wrong("engines", value, "1 or 2");
    case OPT_SEED:
        return text_to_long(value, 0, 2000000000, &o->seed) ||
               wrong("seed", value, "a whole number up to 2000000000");
    case OPT_MINUTES:
        return text_to_long(value, 4, 1440, &o->minutes) ||
               wrong("minutes", value, "a whole number from 4 to 1440");
    case OPT_TRIP:
        o->trial = strcmp(value, "trial") == 0;
        return o->trial || strcmp(value, "cruise") == 0 || wrong("trip", value, "cruise or trial");
    case OPT_RANDOM:
        return o->random = true;
    case OPT_BOAT:
        o->full = strcmp(value, "full") == 0;
        return o->full || strcmp(value, "plain") == 0 || wrong("boat", value, "plain or full");
    case OPT_OUTPUT:
        o->output = value;
        return true;
    case OPT_TO:
        o->to = value;
        return true;
    case OPT_SPEED:
        return set_speed(o, value);
    case OPT_SEASON:
        return text_to_long(value, 3, DRILL_SEASON_TRIPS, &o->season) ||
               wrong("season", value, "how many trips, 3 to 60");
    default:
        o->truth = value;
        return true;
    }
}

/* Fills the plan; false after saying why not. */
static bool make_plan(struct drill_plan *plan, const struct order *o)
{
    int engines = o->engines ? (int)o->engines : 2;
    int engine = o->engine >= 0 ? (int)o->engine : engines - 1;
    double at_s = -1;

    if (o->random)
        drill_plan_random(plan, (int)o->engines, (uint64_t)o->seed);
    else if (o->trial)
        drill_plan_trial(plan, engines, (uint64_t)o->seed);
    else
        drill_plan_default(plan, engines, o->minutes ? (double)o->minutes : 30, (uint64_t)o->seed);
    if (o->trial && o->random)
        drill_trip_trial(&plan->trip, &plan->params);
    if (o->full)
        drill_plan_full(plan, o->random);
    engines = plan->params.engines;
    if (o->engine < 0)
        engine = engines - 1;
    if (engine >= engines) {
        fputs("stokehold drill: --engine starboard: this boat has one engine\n", stderr);
        return false;
    }
    if (o->has_at) {
        at_s = (double)(o->at.relative ? o->at.ns : o->at.ns - DRILL_EPOCH_S * NS_PER_S) / 1e9;
        if (!(at_s >= 0 && at_s < plan->trip.length_s)) {
            fprintf(stderr,
                    "stokehold drill: --at: outside the trip, which takes %.0f min from epoch "
                    "second %lld; give +MM:SS into it\n",
                    plan->trip.length_s / 60, (long long)DRILL_EPOCH_S);
            return false;
        }
    }
    if (o->random && !o->has_at) {
        struct rng r;

        rng_seed_stream(&r, plan->seed, 4);
        plan->fault = drill_fault_random(o->fault, engine, &plan->trip, &r);
    } else {
        plan->fault = drill_fault_default(o->fault, engine, at_s, &plan->trip);
    }
    return true;
}

struct writer {
    struct drill_frames frames;
    int64_t epoch_s; /* when the trip begins */
    FILE *out;
    /* onto an interface instead */
    int fd;
    double speed;
    int64_t start_ns;
    struct err error;
};

static void on_message(void *ctx, const struct drill_message *m)
{
    struct writer *w = ctx;

    drill_frames_add(&w->frames, m);
}

/* Waits until the moment of a frame, sped up. */
static void await(const struct writer *w, const struct frame *f)
{
    if (w->speed <= 0)
        return;
    double into_trip = (double)(f->wall_ns - w->epoch_s * NS_PER_S);
    int64_t wait_ns = w->start_ns + (int64_t)(into_trip / w->speed) - clock_now().mono_ns;
    if (wait_ns <= 0)
        return;
    struct timespec t = {.tv_sec = (time_t)(wait_ns / NS_PER_S), .tv_nsec = wait_ns % NS_PER_S};
    while (nanosleep(&t, &t) != 0 && errno == EINTR)
        ;
}

/* False when an interface takes no more, with w->error. */
static bool write_due(struct writer *w, double until_s)
{
    struct frame f;
    char line[CANDUMP_LINE_MAX];

    while (drill_frames_take(&w->frames, until_s, &f)) {
        if (w->out) {
            size_t len = candump_format(line, sizeof line, &f, "can0");

            fwrite(line, 1, len, w->out);
        } else {
            await(w, &f);
            if (!socketcan_send(w->fd, &f, &w->error))
                return false;
        }
    }
    return true;
}

static bool cannot_write(const char *path)
{
    char shown[200] = "standard output";

    if (path)
        text_clean(shown, sizeof shown, path, strlen(path));
    fprintf(stderr, "stokehold drill: cannot write '%s': %s\n", shown, strerror(errno));
    return false;
}

/* Closes (or flushes standard output) and says so where that failed. */
static bool finish(FILE *out, const char *path)
{
    bool bad = ferror(out) != 0;

    bad |= out == stdout ? fflush(out) != 0 : fclose(out) != 0;
    return !bad || cannot_write(path);
}

static bool write_truth(const struct order *o, const struct drill_run *run,
                        const struct drill_plan *plan)
{
    const char *path = o->truth, *json;
    struct drill_trial_truth trial;
    char text[700];
    FILE *out;

    drill_trial_truth_make(&trial, plan, run);
    json = drill_truth_json(text, sizeof text, drill_run_truth(run), plan->seed,
                            DRILL_EPOCH_S * NS_PER_S, o->trial ? &trial : NULL);
    out = json ? fopen(path, "w") : NULL;
    if (!out)
        return cannot_write(path);
    fputs(json, out);
    return finish(out, path);
}

static bool write_trip(struct writer *w, struct drill_run *run, const struct drill_plan *plan)
{
    double t_s = 0;

    drill_frames_init(&w->frames, plan, w->epoch_s * NS_PER_S);
    while (drill_run_step(run, on_message, w)) {
        t_s = drill_run_world(run)->t_s;
        if (!write_due(w, t_s))
            return false;
    }
    return write_due(w, t_s + 60);
}

static bool write_log(const char *path, struct drill_run *run, const struct drill_plan *plan,
                      int64_t epoch_s)
{
    bool to_stdout = !path || strcmp(path, "-") == 0;
    struct writer *w = calloc(1, sizeof *w);
    bool written;

    if (!w)
        return cannot_write(path ? path : "-");
    w->epoch_s = epoch_s;
    w->out = to_stdout ? stdout : fopen(path, "w");
    if (!w->out) {
        free(w);
        return cannot_write(path);
    }
    (void)write_trip(w, run, plan);
    written = finish(w->out, to_stdout ? "standard output" : path);
    free(w);
    return written;
}

static bool play(const struct order *o, struct drill_run *run, const struct drill_plan *plan)
{
    struct writer *w = calloc(1, sizeof *w);
    bool played = false;

    if (!w)
        return cannot_write(o->to);
    w->epoch_s = DRILL_EPOCH_S;
    w->speed = o->speed;
    w->start_ns = clock_now().mono_ns;
    w->fd = socketcan_open_virtual(o->to, &w->error);
    if (w->fd >= 0) {
        played = write_trip(w, run, plan);
        close(w->fd);
    }
    if (!played)
        fprintf(stderr, "stokehold drill: %s\n", w->error.text);
    free(w);
    return played;
}

static int drill(const struct order *o)
{
    struct drill_plan *plan = calloc(1, sizeof *plan);
    struct drill_run *run;
    int status = EXIT_DONE;

    if (!plan) {
        fputs("stokehold drill: out of memory\n", stderr);
        return EXIT_SOURCE;
    }
    if (!make_plan(plan, o)) {
        free(plan);
        return EXIT_USAGE;
    }
    run = drill_run_new(plan);
    if (!run) {
        fputs("stokehold drill: out of memory\n", stderr);
        status = EXIT_SOURCE;
    } else if (!(o->to ? play(o, run, plan) : write_log(o->output, run, plan, DRILL_EPOCH_S)) ||
               (o->truth && !write_truth(o, run, plan))) {
        status = EXIT_SOURCE;
    }
    drill_run_free(run);
    free(plan);
    return status;
}

/* ---- a season ---- */

static bool season_truth(const struct drill_season *s, const char *dir)
{
    char path[4096], text[DRILL_SEASON_TRUTH_SIZE];
    FILE *out;

    text_format(path, sizeof path, "%s/truth.json", dir);
    out = drill_season_json(text, sizeof text, s) ? fopen(path, "w") : NULL;
    if (!out)
        return cannot_write(path);
    fputs(text, out);
    return finish(out, path);
}

static bool season_trip_log(const struct drill_season *s, int i, const char *dir,
                            struct drill_plan *plan)
{
    char path[4096];
    struct drill_run *run;
    bool written;

    text_format(path, sizeof path, "%s/trip-%02d.log", dir, i + 1);
    drill_season_plan(s, i, plan);
    run = drill_run_new(plan);
    written = run && write_log(path, run, plan, s->trip[i].epoch_s);
    if (!run)
        fputs("stokehold drill: out of memory\n", stderr);
    drill_run_free(run);
    return written;
}

static int drill_a_season(const struct order *o, enum drill_season_kind kind, const char *dir)
{
    struct drill_season *s = calloc(1, sizeof *s);
    struct drill_plan *plan = calloc(1, sizeof *plan);
    bool good = s && plan;

    if (!good)
        fputs("stokehold drill: out of memory\n", stderr);
    if (good && mkdir(dir, 0777) != 0 && errno != EEXIST)
        good = cannot_write(dir);
    if (good)
        drill_season_make(s, kind, (uint64_t)o->seed, (int)o->season, (int)o->engines);
    for (int i = 0; good && i < o->season; i++)
        good = season_trip_log(s, i, dir, plan);
    good = good && season_truth(s, dir);
    free(s);
    free(plan);
    return good ? EXIT_DONE : EXIT_SOURCE;
}

static int season_order(const struct order *o, int argc, char **argv)
{
    enum drill_season_kind kind = DRILL_SEASON_HEALTHY;

    if (argc - optind != 1) {
        fputs("stokehold drill: --season needs the directory its logs go into\n", stderr);
        return EXIT_USAGE;
    }
    if (o->output || o->to || o->truth || o->has_at || o->minutes || o->trial || o->random ||
        o->full || o->engine >= 0) {
        fputs("stokehold drill: --season goes with --fault, --seed and --engines alone\n", stderr);
        return EXIT_USAGE;
    }
    if (o->fault_word && !drill_season_find(o->fault_word, &kind)) {
        wrong("fault", o->fault_word,
              "with --season none, impeller-wear, scale, strainer, probe, worn or battery");
        return EXIT_USAGE;
    }
    return drill_a_season(o, kind, argv[optind]);
}

static const struct option_set options = {
    .verb = "drill",
    .usage = "usage: stokehold drill [OPTIONS] -o LOG\n"
             "       stokehold drill [OPTIONS] --to IFACE\n"
             "       stokehold drill --season N [OPTIONS] DIR\n\n"
             "Writes the log of an invented trip with a fault put into it, or plays it.\n",
    .rows = rows,
    .count = OPT_COUNT,
    .values = values,
    .help = OPT_HELP,
    .set = set,
};

int verb_drill(int argc, char **argv)
{
    struct order o = {.engine = -1, .seed = 1, .speed = 1};
    int status;

    if (!options_take(&options, &o, argc, argv, &status))
        return status;
    if (o.season)
        return season_order(&o, argc, argv);
    if (o.fault_word && !drill_fault_find(o.fault_word, &o.fault)) {
        wrong("fault", o.fault_word, values[OPT_FAULT]);
        return EXIT_USAGE;
    }
    if (optind < argc) {
        fputs("stokehold drill: takes no source; the log goes where -o says\n", stderr);
        return EXIT_USAGE;
    }
    if (o.to && o.output) {
        fputs("stokehold drill: -o and --to cannot go together\n", stderr);
        return EXIT_USAGE;
    }
    return drill(&o);
}
