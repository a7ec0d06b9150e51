/* How early and how quiet the cooling watch is: randomised trips of two models, the watch beside a
 * reference observer who knows what the healthy engine would have shown, a fixed limit and plain
 * rate rules. See docs/detection.md. */
#include "detect_trip.h"

#include "detect_other.h"
#include "detect_stats.h"

#include "cooling/cooling.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <getopt.h>

#include "base/banned.h"

#define TRIPS_MAX 4096

struct row {
    const char *name;
    double ratio_goal;  /* NaN: none */
    double median_goal; /* s; NaN: none */
    double p95_goal;
    bool before_limit;
};
static const struct row rows[FAULTS] = {
    [FAULT_IMPELLER] = {"impeller lost at cruise", 1.5, NAN, 14.0, false},
    [FAULT_IMPELLER_NOISY] = {"the same, 0.8 K noise", 1.5, NAN, NAN, false},
    [FAULT_IMPELLER_IDLE] = {"impeller lost at idle", 2.0, NAN, NAN, false},
    [FAULT_SEACOCK] = {"seacock shut at start", 3.0, NAN, NAN, true},
    [FAULT_FOULED] = {"intake fouled to 1/4..1/3", 1.8, NAN, NAN, false},
    [FAULT_VANES] = {"vanes lost over 5..12 min", 3.0, NAN, NAN, true},
    [FAULT_COOLANT] = {"coolant pump stopped", NAN, 40.0, NAN, true},
    [FAULT_LOST_COOLANT] = {"coolant lost, sender dry", NAN, NAN, NAN, false},
    [FAULT_FIRE] = {"engine-space fire", NAN, 60.0, NAN, false},
};

struct bench {
    uint64_t seed;
    int trips;
    double benign_hours;
    bool wide, direct, verbose, model_on[BOAT_MODELS];
    int only; /* a fault, or -1 */
    bool other;
    enum boat_model sails; /* of other boats; BOAT_MODELS: the first two */
    int kind;              /* of other boats; 0: all */
    unsigned without;
    bool met;
    struct figures figures;
};

static uint64_t trip_seed(const struct bench *b, int model, int fault, int k)
{
    struct dice d = {.state = b->seed};
    uint64_t base = dice_next(&d);
    d.state = base + (uint64_t)model * 1000003u + (uint64_t)fault * 10007u + (uint64_t)k;
    return dice_next(&d);
}

struct tally {
    int n, found, before_limit, limit_found, rate_found[RATES], false_warnings, false_alarms;
    double ideal[TRIPS_MAX], gulp[TRIPS_MAX], gulp_ratio[TRIPS_MAX];
    double watch[TRIPS_MAX], reference[TRIPS_MAX], ratio[TRIPS_MAX], limit[TRIPS_MAX],
        lead[TRIPS_MAX], rate[RATES][TRIPS_MAX];
    int ratios, leads;
    double hours;
    int causes[CAUSE_COUNT];
};

static void add(struct tally *s, const struct trip_result *r)
{
    int k = s->n++;
    s->watch[k] = r->watch_s;
    s->reference[k] = r->reference_s;
    s->ideal[k] = r->ideal_s;
    s->gulp[k] = r->gulp_s;
    s->limit[k] = r->limit_s;
    bool found = !isnan(r->watch_s);
    s->found += found;
    if (found)
        s->causes[r->cause]++;
    s->before_limit += found && (isnan(r->limit_s) || r->watch_s < r->limit_s);
    s->limit_found += !isnan(r->limit_s);
    if (!isnan(r->reference_s))
        s->gulp_ratio[s->ratios] = r->gulp_s / r->reference_s;
    if (!isnan(r->reference_s))
        s->ratio[s->ratios++] = found ? r->watch_s / r->reference_s : INFINITY;
    if (!isnan(r->limit_s) && found)
        s->lead[s->leads++] = r->limit_s - r->watch_s;
    for (int i = 0; i < RATES; i++) {
        s->rate[i][k] = r->rate_s[i];
        s->rate_found[i] += !isnan(r->rate_s[i]);
    }
    s->false_warnings += r->false_warnings;
    s->false_alarms += r->false_alarms;
    s->hours += r->hours;
}

static void run_fault(struct bench *b, enum trip_fault f)
{
    static struct tally s;
    memset(&s, 0, sizeof s);
    const struct row *row = &rows[f];
    for (int m = 0; m < BOAT_MODELS; m++) {
        for (int k = 0; b->model_on[m] && k < b->trips; k++) {
            struct trip_options o = {.model = (enum boat_model)m,
                                     .fault = f,
                                     .seed = trip_seed(b, m, (int)f, k),
                                     .wide = b->wide,
                                     .direct = b->direct,
                                     .without = b->without,
                                     .figures = &b->figures};
            struct trip_result r = trip_run(&o);
            if (r.engines < 0 || s.n >= TRIPS_MAX)
                continue;
            add(&s, &r);
            bool bad =
                isnan(r.watch_s) || r.false_warnings > 0 ||
                (row->before_limit && r.watch_s > r.limit_s) ||
                (!isnan(row->ratio_goal) && r.watch_s > 2.0 * row->ratio_goal * r.reference_s);
            if (b->verbose && bad)
                printf("# %s model %d trip %llu: watch %.1f reference %.1f limit %.1f false %d\n",
                       row->name, m, (unsigned long long)o.seed, r.watch_s, r.reference_s,
                       r.limit_s, r.false_warnings);
        }
    }
    double ratio = stats_quantile(s.ratio, s.ratios, 0.5),
           median = stats_quantile(s.watch, s.n, 0.5);
    double p95 = stats_quantile(s.watch, s.n, 0.95), lead = stats_quantile(s.lead, s.leads, 0.5);
    bool met = s.found == s.n && s.false_warnings == 0;
    met = met && !(ratio > row->ratio_goal) && !(median > row->median_goal) &&
          !(p95 > row->p95_goal) && (!row->before_limit || s.before_limit == s.n);
    b->met = b->met && met;
    printf("%-26s %4d/%-4d %6.1f %6.1f %6.1f  %6.1f  %5.2f", row->name, s.found, s.n, median, p95,
           stats_quantile(s.reference, s.n, 0.5), stats_quantile(s.ideal, s.n, 0.5), ratio);
    if (isnan(row->ratio_goal) && isnan(row->median_goal))
        printf("   none ");
    else if (isnan(row->ratio_goal))
        printf("   %3.0f s", row->median_goal);
    else
        printf("  <= %3.1f", row->ratio_goal);
    printf("  %6.1f %5.1f/%-3.0f%%", lead, stats_quantile(s.limit, s.n, 0.5),
           100.0 * s.limit_found / fmax(1, s.n));
    for (int i = 0; i < RATES; i++)
        printf(" %5.1f/%-3.0f%%", stats_quantile(s.rate[i], s.n, 0.5),
               100.0 * s.rate_found[i] / fmax(1, s.n));
    printf("  %d+%d  %s\n", s.false_warnings, s.false_alarms, met ? "met" : "MISSED");
    if (f == FAULT_IMPELLER || f == FAULT_IMPELLER_NOISY || f == FAULT_IMPELLER_IDLE) {
        double late = stats_quantile(s.gulp, s.n, 0.95);
        printf("  not air drawn in for 5 s       %6.1f %6.1f                 %5.2f\n",
               stats_quantile(s.gulp, s.n, 0.5), late, stats_quantile(s.gulp_ratio, s.ratios, 0.5));
    }
    if (b->verbose)
        printf("#   causes: raw water %d, seacock %d, circulation %d, coolant lost %d, oil %d, sea "
               "or load %d, fire %d; before the limit %d\n",
               s.causes[CAUSE_RAW_WATER], s.causes[CAUSE_SEACOCK], s.causes[CAUSE_CIRCULATION],
               s.causes[CAUSE_COOLANT_LOST], s.causes[CAUSE_OIL], s.causes[CAUSE_SEA_OR_LOAD],
               s.causes[CAUSE_FIRE], s.before_limit);
    fflush(stdout);
}

static void run_benign(struct bench *b)
{
    double hours = 0.0;
    int trips = 0, warnings = 0, alarms = 0, limit = 0, rate[RATES] = {0}, crying[RATES] = {0};
    int models = 0, cautions = 0, by[4] = {0}, limits = 0, conflicts = 0;
    for (int m = 0; m < BOAT_MODELS; m++)
        models += b->model_on[m];
    for (int m = 0; m < BOAT_MODELS; m++) {
        double done = 0.0;
        for (int k = 0; b->model_on[m] && done < b->benign_hours / models; k++) {
            struct trip_options o = {.model = (enum boat_model)m,
                                     .fault = FAULT_NONE,
                                     .seed = trip_seed(b, m, 0, k),
                                     .wide = b->wide,
                                     .direct = b->direct,
                                     .without = b->without,
                                     .figures = &b->figures};
            struct trip_result r = trip_run(&o);
            if (r.engines < 0)
                break;
            done += r.hours;
            trips++;
            warnings += r.false_warnings;
            alarms += r.false_alarms;
            cautions += r.cautions;
            by[0] += r.false_exhaust;
            by[1] += r.false_coolant;
            by[2] += r.false_space;
            by[3] += r.false_oil;
            limits += r.false_limit;
            conflicts += r.conflicts;
            limit += r.limit_false;
            for (int i = 0; i < RATES; i++) {
                rate[i] += r.rate_false[i];
                crying[i] += r.rate_false[i] > 0;
            }
            if (b->verbose && r.false_warnings)
                printf("# benign model %d trip %llu: %d false\n", m, (unsigned long long)o.seed,
                       r.false_warnings);
        }
        hours += done;
    }
    double per = 100.0 / fmax(hours, 1e-9);
    bool met = warnings == 0 && alarms == 0;
    b->met = b->met && met;
    printf(
        "\nbenign: %d trips, %.0f engine hours, false warnings %d (%.2f per 100 h), false alarms "
        "%d (%.2f per 100 h), goal none: %s; cautions %.1f per 100 h\n  warnings of exhaust %d, "
        "coolant %d, engine space %d, oil %d; of fixed limits %d; trips' conflicts found %d\n",
        trips, hours, warnings, warnings * per, alarms, alarms * per, met ? "met" : "MISSED",
        cautions * per, by[0], by[1], by[2], by[3], limits, conflicts);
    printf(
        "  fixed limits there: %.1f per 100 h; 30 s rate of 8.3 K/min: %.0f per 100 h, in %.0f%% "
        "of trips; 20: %.0f, %.0f%%; 40: %.0f, %.0f%%\n",
        limit * per, rate[0] * per, 100.0 * crying[0] / fmax(trips, 1), rate[1] * per,
        100.0 * crying[1] / fmax(trips, 1), rate[2] * per, 100.0 * crying[2] / fmax(trips, 1));
}

static int run_one(const struct bench *b, uint64_t seed, int model, const char *trace)
{
    struct trip_options o = {.model = (enum boat_model)model,
                             .fault = (enum trip_fault)(b->only < 0 ? 0 : b->only),
                             .kind = (enum trip_kind)b->kind,
                             .seed = seed,
                             .wide = b->wide &&
                                     b->kind == 0, /* other boats have figures of their own */
                             .direct = b->direct || trace,
                             .without = b->without,
                             .figures = &b->figures,
                             .explain = true};
    if (trace && !(o.trace = fopen(trace, "w")))
        return 2;
    struct trip_result r = trip_run(&o);
    if (o.trace)
        fclose(o.trace);
    printf("engines %d, watch %.1f, reference %.1f, limit %.1f, false %d\n", r.engines, r.watch_s,
           r.reference_s, r.limit_s, r.false_warnings);
    return 0;
}

static int usage(void)
{
    fprintf(
        stderr,
        "usage: detect [--seed N] [--trips N] [--hours N] [--held-out] [--verbose] "
        "[--direct] [--model 0..%d] [--fault 0..9] [--without BITS] [--one SEED [--trace FILE]]\n"
        "       [--figure NAME=VALUE]...   with another figure of the watch; implies --direct\n"
        "       --figures                  lists them\n"
        "       --other [--kind 1..%d] [--third | --fourth | --fifth | --held-out]   trips of "
        "other boats; "
        "--trips and "
        "--hours of each\n",
        BOAT_MODELS - 1, KINDS - 1);
    return 2;
}

static int list_figures(void)
{
    size_t n;
    const struct figure *list = figures_list(&n);
    for (size_t i = 0; i < n; i++)
        printf("%-28s %10.6g %-9s %s\n", list[i].name, list[i].value, list[i].unit, list[i].reason);
    return 0;
}

/* NAME=VALUE */
static bool vary(struct figures *f, char *text)
{
    char *end, *value = strchr(text, '=');
    if (!value)
        return false;
    *value++ = '\0';
    double v = strtod(value, &end);
    if (end != value && *end == '\0' && figures_set(f, text, v))
        return true;
    fprintf(stderr, "detect: no figure '%s', or no value; --figures lists them\n", text);
    return false;
}

int main(int argc, char **argv)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    struct bench b = {.seed =
                          ((uint64_t)now.tv_sec * 1000003u ^ (uint64_t)now.tv_nsec) % 1000000000u,
                      .trips = 150,
                      .benign_hours = 300.0,
                      .model_on = {true, true},
                      .only = -1,
                      .sails = BOAT_MODELS,
                      .figures = cooling_figures,
                      .met = true};
    static const struct option options[] = {{"seed", required_argument, NULL, 's'},
                                            {"trips", required_argument, NULL, 'n'},
                                            {"hours", required_argument, NULL, 'h'},
                                            {"held-out", no_argument, NULL, 'w'},
                                            {"verbose", no_argument, NULL, 'v'},
                                            {"direct", no_argument, NULL, 'd'},
                                            {"model", required_argument, NULL, 'm'},
                                            {"fault", required_argument, NULL, 'f'},
                                            {"one", required_argument, NULL, '1'},
                                            {"trace", required_argument, NULL, 't'},
                                            {"without", required_argument, NULL, 'x'},
                                            {"other", no_argument, NULL, 'o'},
                                            {"third", no_argument, NULL, '3'},
                                            {"fourth", no_argument, NULL, '4'},
                                            {"fifth", no_argument, NULL, '5'},
                                            {"kind", required_argument, NULL, 'k'},
                                            {"figure", required_argument, NULL, 'g'},
                                            {"figures", no_argument, NULL, 'l'},
                                            {NULL, 0, NULL, 0}};
    uint64_t one = 0;
    int model = -1;
    bool single = false;
    const char *trace = NULL;
    for (int c; (c = getopt_long(argc, argv, "", options, NULL)) != -1;) {
        switch (c) {
        case 's':
            b.seed = strtoull(optarg, NULL, 10);
            break;
        case 'n':
            b.trips = (int)strtol(optarg, NULL, 10);
            break;
        case 'h':
            b.benign_hours = strtod(optarg, NULL);
            break;
        case 'w':
            b.wide = true;
            b.sails = BOAT_SIXTH;
            break;
        case 'v':
            b.verbose = true;
            break;
        case 'd':
            b.direct = true;
            break;
        case 'm':
            model = (int)strtol(optarg, NULL, 10);
            break;
        case 'f':
            b.only = (int)strtol(optarg, NULL, 10);
            break;
        case '1':
            one = strtoull(optarg, NULL, 10);
            single = true;
            break;
        case 'x':
            b.without = (unsigned)strtoul(optarg, NULL, 10);
            break;
        case 'g':
            if (!vary(&b.figures, optarg))
                return 2;
            b.direct = true;
            break;
        case '3':
            b.sails = BOAT_THIRD;
            break;
        case '4':
            b.sails = BOAT_FOURTH;
            break;
        case '5':
            b.sails = BOAT_FIFTH;
            break;
        case 'o':
            b.other = true;
            break;
        case 'k':
            b.kind = (int)strtol(optarg, NULL, 10);
            break;
        case 'l':
            return list_figures();
        case 't':
            trace = optarg;
            break;
        default:
            return usage();
        }
    }
    if (b.kind < 0 || b.kind >= KINDS || model >= BOAT_MODELS || b.only >= FAULTS || b.trips < 1 ||
        b.trips > TRIPS_MAX / 2)
        return usage();
    if (single)
        return run_one(&b, one, model < 0 ? BOAT_SECOND : model, trace);
    for (int m = 0; m < BOAT_MODELS && model >= 0; m++)
        b.model_on[m] = m == model;
    if (b.wide && b.seed < UINT64_C(1) << 40) /* a seed that was printed stays itself */
        b.seed += UINT64_C(1) << 40;
    printf("seed %llu%s\n", (unsigned long long)b.seed, b.wide ? " (held-out ranges)" : "");
    if (b.other) {
        struct other_run run = {.seed = b.seed,
                                .trips = b.trips,
                                .hours = b.benign_hours,
                                .model = b.sails,
                                .direct = b.direct,
                                .verbose = b.verbose,
                                .only = b.kind,
                                .figures = &b.figures};
        return other_boats(&run) ? 0 : 1;
    }
    printf("%-26s %9s %6s %6s %6s %6s  %5s %7s  %6s %10s %10s %10s %10s  %s\n", "fault", "found",
           "median", "95%", "ref.", "ideal", "ratio", "goal", "lead", "93.3 C", "8.3 K/min",
           "20 K/min", "40 K/min", "false");
    for (int f = 1; f < FAULTS; f++)
        if (b.only < 0 || b.only == f)
            run_fault(&b, (enum trip_fault)f);
    if (b.only <= 0)
        run_benign(&b);
    return b.met ? 0 : 1;
}
