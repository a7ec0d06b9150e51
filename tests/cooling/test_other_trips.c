/* One fixed set of trips of each kind of other boat (tests/bench/detect_kinds.h): what is cried for
 * nothing, and how a fault is found. Generators, dry gas that nobody called dry, lifted intakes,
 * anchorages, warm starts, second engines under way, slow and coarse sensors, loose probes, weed,
 * swell, a bus that is off overnight, baselines, petrol, three and four engines. All in trip time.
 * The bounds are what was measured; `test_other_trips --print` prints what is now. */
#include "support/check.h"

#include "bench/detect_kinds.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BENIGN 16
#define FAULTY 8

struct bound {
    int warnings, alarms; /* false ones of all the benign trips together, at most */
    int told;             /* warnings that say truly what happens (detect_trip.h), at most */
    int a_trip;           /* warnings of both sorts in any one of them, at most */
    double median_s;      /* of the fault's warning, at most; 0: none is sailed */
    int late;             /* warnings after the limit, though two readings came before it */
    int late_alarms;      /* the same of alarms; of dry gas and lifted intakes none is sailed */
};

static const struct bound bounds[KINDS] = {
    [KIND_ORDINARY] = {0, 0, 0, 0, 17.0, 1, 1},      [KIND_GENERATOR] = {0, 0, 0, 0, 26.0, 0, 0},
    [KIND_DRY] = {0, 0, 29, 2, 0.0, 0, 0},           [KIND_LIFTED] = {0, 2, 11, 2, 0.0, 0, 0},
    [KIND_ANCHOR] = {0, 0, 0, 0, 22.0, 0, 0},        [KIND_START] = {0, 0, 0, 0, 29.0, 0, 0},
    [KIND_UNDER_WAY] = {0, 0, 0, 0, 36.0, 0, 0},     [KIND_SLOW] = {0, 0, 0, 0, 35.0, 0, 3},
    [KIND_FOUR] = {0, 0, 0, 0, 21.0, 1, 3},          [KIND_COARSE] = {0, 0, 0, 0, 20.0, 0, 0},
    [KIND_GULPS] = {1, 0, 0, 1, 20.0, 0, 1},         [KIND_LOOSE] = {2, 0, 0, 1, 0.0, 0, 0},
    [KIND_WEED] = {0, 0, 0, 0, 0.0, 0, 0},           [KIND_SWELL] = {0, 0, 0, 0, 20.0, 0, 2},
    [KIND_SAIL_DRIVE] = {0, 0, 0, 0, 16.0, 2, 1},    [KIND_BASELINE] = {0, 0, 0, 0, 0.0, 0, 0},
    [KIND_BASELINES] = {0, 0, 0, 0, 0.0, 0, 0},      [KIND_PETROL] = {0, 0, 0, 0, 20.0, 0, 0},
    [KIND_THREE_ENGINES] = {0, 0, 0, 0, 20.0, 0, 0}, [KIND_FOUR_ENGINES] = {1, 0, 0, 1, 20.0, 0, 0},
};

static bool print;

static struct trip_result sail(int kind, enum trip_fault fault, int k)
{
    struct trip_options o = {.model = trip_kinds[kind].second || k % 2 ? BOAT_SECOND : BOAT_DRILL,
                             .fault = fault,
                             .kind = (enum trip_kind)kind,
                             .seed = (unsigned)kind * 1000u + (unsigned)fault * 100u + (unsigned)k,
                             .direct = true};
    struct trip_result r = trip_run(&o);
    assert_true(r.engines > 0);
    return r;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void other_boats__nothing_wrong__as_quiet_as_measured(void **state)
{
    (void)state;
    int bad = 0;
    for (int kind = 1; kind < KINDS; kind++) {
        int warnings = 0, alarms = 0, told = 0, most = 0;
        for (int k = 0; k < BENIGN; k++) {
            struct trip_result r = sail(kind, FAULT_NONE, k);
            warnings += r.false_warnings;
            alarms += r.false_alarms;
            told += r.told;
            most = r.false_warnings + r.told > most ? r.false_warnings + r.told : most;
        }
        const struct bound *b = &bounds[kind];
        bool loud =
            warnings > b->warnings || alarms > b->alarms || told > b->told || most > b->a_trip;
        if (loud || print)
            printf("%s: %d warnings, %d alarms, %d told, at most %d a trip\n",
                   trip_kinds[kind].name, warnings, alarms, told, most);
        bad += loud;
    }
    assert_int_equal(bad, 0);
}

static void other_boats__water_lost__is_found_as_soon_as_measured(void **state)
{
    (void)state;
    int bad = 0;
    for (int kind = 1; kind < KINDS; kind++) {
        if (trip_kinds[kind].fault == FAULT_NONE)
            continue;
        double delay[FAULTY];
        int late = 0, late_alarms = 0;
        for (int k = 0; k < FAULTY; k++) {
            struct trip_result r = sail(kind, trip_kinds[kind].fault, k);
            delay[k] = isnan(r.watch_s) ? INFINITY : r.watch_s;
            late += r.second_s < r.limit_s && !(r.watch_s <= r.limit_s);
            late_alarms += r.second_s < r.limit_s && !(r.alarm_s <= r.limit_s);
        }
        qsort(delay, FAULTY, sizeof *delay, by_value);
        bool bad_one = late > bounds[kind].late || late_alarms > bounds[kind].late_alarms ||
                       !isfinite(delay[FAULTY - 1]) || delay[FAULTY / 2] > bounds[kind].median_s;
        if (bad_one || print)
            printf("%s: median %.1f s, last %.1f s, %d after the limit, %d alarms\n",
                   trip_kinds[kind].name, delay[FAULTY / 2], delay[FAULTY - 1], late, late_alarms);
        bad += bad_one;
    }
    assert_int_equal(bad, 0);
}

int main(int argc, char **argv)
{
    print = argc > 1 && strcmp(argv[1], "--print") == 0;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(other_boats__nothing_wrong__as_quiet_as_measured),
        cmocka_unit_test(other_boats__water_lost__is_found_as_soon_as_measured),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
