#include "detect_other.h"

#include "detect_kinds.h"
#include "detect_stats.h"

#include <math.h>
#include <string.h>

#include "base/banned.h"

#define MOST          2048
#define KIND_FALSE    2.0 /* false warnings in 100 h of one kind */
#define POOLED_FALSE  0.5 /* of all together */
#define POOLED_ALARMS 0.1

struct quiet {
    double hours;
    int trips, warnings, told, alarms, cautions;
    int past; /* alarms where the probe truly passed its limit */
    int most; /* warnings of one trip, told or false */
};

static uint64_t seed_of(const struct other_run *run, int kind, int fault, int model, int k)
{
    struct dice d = {.state = run->seed};
    uint64_t base = dice_next(&d);
    d.state = base + (uint64_t)kind * 7919u + (uint64_t)fault * 1000003u +
              (uint64_t)model * 104729u + (uint64_t)k * 15485863u;
    return dice_next(&d);
}

static bool sails(const struct other_run *run, int kind, int model)
{
    if (run->model != BOAT_MODELS && run->model != BOAT_DRILL)
        return model == (int)run->model;
    return model == BOAT_SECOND || (model == BOAT_DRILL && !trip_kinds[kind].second);
}

static struct trip_result one(const struct other_run *run, int kind, enum trip_fault fault,
                              int model, int k)
{
    struct trip_options o = {.model = (enum boat_model)model,
                             .fault = fault,
                             .kind = (enum trip_kind)kind,
                             .seed = seed_of(run, kind, (int)fault, model, k),
                             .direct = run->direct || kind >= KIND_BASELINE,
                             .figures = run->figures};
    struct trip_result r = trip_run(&o);
    if (run->verbose && (r.false_warnings || (fault != FAULT_NONE && isnan(r.watch_s))))
        printf("# %s: --kind %d --fault %d --model %d --one %llu: watch %.1f reference %.1f limit "
               "%.1f false %d\n",
               trip_kinds[kind].name, kind, (int)fault, model, (unsigned long long)o.seed,
               r.watch_s, r.reference_s, r.limit_s, r.false_warnings);
    return r;
}

static struct quiet benign(const struct other_run *run, int kind)
{
    struct quiet q = {0};
    int models = 0;
    for (int m = 0; m < BOAT_MODELS; m++)
        models += sails(run, kind, m);
    for (int m = 0; m < BOAT_MODELS; m++) {
        double done = 0.0;
        for (int k = 0; sails(run, kind, m) && done < run->hours / models; k++) {
            struct trip_result r = one(run, kind, FAULT_NONE, m, k);
            if (r.engines < 0)
                break;
            done += r.hours;
            q.trips++;
            q.warnings += r.false_warnings;
            q.told += r.told;
            q.alarms += r.false_alarms;
            q.past += r.alarms_past;
            q.cautions += r.cautions;
            int cried = r.false_warnings + r.told;
            q.most = cried > q.most ? cried : q.most;
        }
        q.hours += done;
    }
    return q;
}

/* Prints how early a fault is found; whether as early as wanted. Late is what comes after the limit
 * though two readings that show it came before. */
static bool faults(const struct other_run *run, int kind)
{
    static double watch[MOST], ratio[MOST], alarm[MOST];
    const struct kind_info *info = &trip_kinds[kind];
    int n = 0, found = 0, late = 0, ratios = 0, unwarned = 0;
    for (int m = 0; m < BOAT_MODELS; m++)
        for (int k = 0; sails(run, kind, m) && k < run->trips && n < MOST; k++) {
            struct trip_result r = one(run, kind, info->fault, m, k);
            if (r.engines < 0)
                continue;
            found += !isnan(r.watch_s);
            late += r.second_s < r.limit_s && !(r.watch_s <= r.limit_s);
            unwarned += r.second_s < r.limit_s && !(r.alarm_s <= r.limit_s);
            alarm[n] = r.alarm_s;
            watch[n++] = r.watch_s;
            if (!isnan(r.reference_s))
                ratio[ratios++] = isnan(r.watch_s) ? INFINITY : r.watch_s / r.reference_s;
        }
    double middle = stats_quantile(ratio, ratios, 0.5);
    bool met = found == n && late == 0 && !(middle > info->ratio_goal);
    printf("  %4d/%-4d %6.1f %6.1f %5d  %5.2f", found, n, stats_quantile(watch, n, 0.5),
           stats_quantile(watch, n, 0.95), late, middle);
    if (!isnan(info->ratio_goal))
        printf(" <= %.1f", info->ratio_goal);
    printf("  alarm %.1f s, %d after the limit", stats_quantile(alarm, n, 0.5), unwarned);
    return met;
}

bool other_boats(const struct other_run *run)
{
    struct quiet all = {0};
    bool every = true;
    printf("%-26s %6s %6s %7s %6s %5s %7s %5s  %9s %6s %6s %5s  %5s\n", "trips", "hours", "false",
           "/100 h", "alarms", "told", "caut.", "most", "found", "median", "95%", "late", "ratio");
    for (int kind = 1; kind < KINDS; kind++) {
        if (run->only > 0 && kind != run->only)
            continue;
        bool any = false;
        for (int m = 0; m < BOAT_MODELS; m++)
            any = any || sails(run, kind, m);
        if (!any)
            continue;
        struct quiet q = benign(run, kind);
        double per = 100.0 * q.warnings / fmax(q.hours, 1e-9);
        printf("%-26s %6.0f %6d %7.2f %6d %5d %7d %5d", trip_kinds[kind].name, q.hours, q.warnings,
               per, q.alarms, q.told, q.cautions, q.most);
        bool met = per <= KIND_FALSE;
        if (trip_kinds[kind].fault != FAULT_NONE)
            met = faults(run, kind) && met;
        if (q.past > 0)
            printf("  %d of %d alarms past the limit", q.past, q.alarms);
        printf("  %s\n", met ? "met" : "MISSED");
        fflush(stdout);
        every = every && met;
        all.hours += q.hours;
        all.warnings += q.warnings;
        all.alarms += q.alarms;
    }
    double per = 100.0 / fmax(all.hours, 1e-9);
    bool met = all.warnings * per <= POOLED_FALSE && all.alarms * per <= POOLED_ALARMS;
    printf("all: %.0f engine hours, %.2f false warnings and %.2f false alarms per 100 h, goal %.1f "
           "and "
           "%.1f: %s\n",
           all.hours, all.warnings * per, all.alarms * per, POOLED_FALSE, POOLED_ALARMS,
           met ? "met" : "MISSED");
    return every && met;
}
