/* A trial held against a season's trips, both made by hand: which step is compared with which, and
 * from what difference on a channel is named. Expected figures are worked out beside each case. */
#include "report/trial/drift.h"

#include "report/one_trial.h"

#include "base/text.h"

#include <stdlib.h>

#define DAY_NS   (INT64_C(86400) * 1000000000)
#define FIRST_NS (INT64_C(1777852800) * 1000000000) /* 2026-05-04 00:00 UTC */

static struct season season;
static struct trial_drifts d;

/* A trial of one log on the tenth day. */
static int begin(void **state)
{
    (void)state;
    trial_of(1);
    r->logs = 1;
    text_copy(r->log_names[0], sizeof r->log_names[0], "record/tenth.log");
    r->first_ns = FIRST_NS + 10 * DAY_NS;
    r->last_ns = r->first_ns + DAY_NS / 4;
    return 0;
}

static int end_season(void **state)
{
    season_free(&season);
    return end(state);
}

/* One more point of one step of ten minutes under way. */
static struct trial_point *add_point(double rpm, double exhaust_c, double up_and_down_k)
{
    struct trial_point *p = &r->point[r->points];
    struct trial_step *s = &r->step[r->steps];

    s->point = r->points++;
    s->wall_ns = r->first_ns + r->steps * INT64_C(600000000000);
    s->seconds = 600;
    r->steps++;
    p->how = TRIAL_RECIPROCAL;
    p->rpm = rpm;
    p->engine[0].rpm = (struct trial_stat){.n = 600, .mean = rpm};
    p->engine[0].exhaust = (struct trial_stat){.n = 600,
                                               .mean = exhaust_c,
                                               .low = exhaust_c - up_and_down_k,
                                               .high = exhaust_c + up_and_down_k / 2};
    return p;
}

/* A trip on that day, with steps of exhaust.0 whose sea was 15 °C. */
static void add_trip(int day, const double (*step)[2], int count)
{
    struct season_trip trip = {.from_ns = FIRST_NS + day * DAY_NS};
    struct season_step steps[8];
    int overlaps;

    trip.to_ns = trip.from_ns + DAY_NS / 4;
    for (int i = 0; i < count; i++)
        steps[i] = (struct season_step){.id = {.quantity = QTY_EXHAUST},
                                        .load = NAN,
                                        .rpm = step[i][0],
                                        .mean = step[i][1],
                                        .spread = 0.5,
                                        .minutes = 10,
                                        .sea_c = 15 + i,
                                        .air_c = NAN,
                                        .wall_ns = trip.from_ns + i * DAY_NS / 100};
    assert_true(season_add(&season, &trip, steps, count, &overlaps));
}

static void drift__between_two_steps__is_held_against_the_line_between_them(void **state)
{
    static const double then[][2] = {{1000, 40}, {2000, 60}};

    (void)state;
    add_trip(0, then, 2);
    add_point(1400, 52, 1);
    r->step[0].sea = (struct trial_stat){.n = 600, .mean = 18};
    trial_drift_find(r, &season, &d);
    assert_int_equal(d.count, 1);
    assert_int_equal(d.drift[0].id.quantity, QTY_EXHAUST);
    assert_near(d.drift[0].then, 48, 1e-9);
    assert_near(d.drift[0].now, 52, 1e-9);
    assert_near(d.drift[0].difference, 4, 1e-9);
    assert_near(d.drift[0].sea_k, 3, 1e-9); /* of the nearer step */
    assert_true(d.drift[0].notable);
    assert_string_equal(d.drift[0].text, "exhaust.0 4.0 K hotter than on 2026-05-04 at 1400 rpm "
                                         "(sea 3.0 K warmer)");
    /* halfway and beyond the other one is the nearer */
    r->point[0].engine[0].rpm.mean = 1500;
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 50, 1e-9);
    assert_near(d.drift[0].sea_k, 2, 1e-9);
    /* at a step's own speed that step alone */
    r->point[0].engine[0].rpm.mean = 2000;
    r->step[0].sea.mean = 15.6;
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 60, 1e-9);
    assert_string_equal(d.drift[0].text, "exhaust.0 8.0 K colder than on 2026-05-04 at 2000 rpm");
    r->step[0].sea.mean = 15.5;
    trial_drift_find(r, &season, &d);
    assert_string_equal(d.drift[0].text, "exhaust.0 8.0 K colder than on 2026-05-04 at 2000 rpm "
                                         "(sea 0.5 K colder)");
}

/* Of several steps the closest on either side count. */
static void drift__many_steps__the_closest_on_either_side(void **state)
{
    static const double then[][2] = {{800, 10}, {1200, 46}, {1000, 20}, {2200, 99}, {1600, 54}};

    (void)state;
    add_trip(0, then, 5);
    add_point(1300, 53, 1);
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 48, 1e-9);
}

/* 5 % beyond the outermost step, counted from that step. */
static void drift__outside_all_steps__no_further_than_five_in_a_hundred(void **state)
{
    static const struct {
        double rpm;
        int count;
    } rows[] = {{949, 0}, {951, 1}, {2099, 1}, {2101, 0}};
    static const double then[][2] = {{1000, 40}, {2000, 60}};

    (void)state;
    add_trip(0, then, 2);
    add_point(1000, 70, 1);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        r->point[0].engine[0].rpm.mean = rows[i].rpm;
        trial_drift_find(r, &season, &d);
        assert_int_equal(d.count, rows[i].count);
        if (d.count > 0)
            assert_near(d.drift[0].then, rows[i].rpm < 1500 ? 40 : 60, 1e-9);
    }
}

/* Named from 2 K on, or from what the readings went up and down by themselves, then or now. */
static void drift__small_or_within_its_own_ups_and_downs__is_not_notable(void **state)
{
    static const struct {
        double now, up_and_down, then_spread;
        bool notable;
    } rows[] = {{42.1, 1, 0.5, true}, {41.9, 1, 0.5, false}, {37.9, 1, 0.5, true},
                {45, 4.9, 0.5, true}, {45, 5.1, 0.5, false}, {45, 1, 4.9, true},
                {45, 1, 5.1, false}};
    static const double then[][2] = {{1000, 40}};

    (void)state;
    add_trip(0, then, 1);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        r->points = r->steps = 0;
        add_point(1000, rows[i].now, rows[i].up_and_down);
        season.steps[0].spread = rows[i].then_spread;
        trial_drift_find(r, &season, &d);
        assert_int_equal(d.count, 1);
        assert_int_equal(d.drift[0].notable, rows[i].notable);
    }
}

/* Of all points the one that stands out most. */
static void drift__several_points__the_furthest_by_its_measure(void **state)
{
    static const double then[][2] = {{1000, 40}, {1500, 50}, {2000, 60}};

    (void)state;
    add_trip(0, then, 3);
    add_point(1000, 43, 1);
    add_point(1500, 55, 1);
    add_point(2000, 66, 4); /* 6 K of 4 is less than 5 K of 2 */
    trial_drift_find(r, &season, &d);
    assert_int_equal(d.count, 1);
    assert_near(d.drift[0].rpm, 1500, 0);
}

/* Standing still counts only where the same speed was not run under way: 5 % apart is another. */
static void drift__in_neutral_at_a_speed_also_run__is_left_out(void **state)
{
    static const double then[][2] = {{1000, 40}};

    (void)state;
    add_trip(0, then, 1);
    add_point(1000, 60, 1)->how = TRIAL_NO_SPEED;
    add_point(1049, 45, 1);
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].now, 45, 0);
    r->point[1].rpm = 1051;
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].now, 60, 0);
}

/* The first three trips are what later ones are held against, never the trial's own. */
static void drift__trips__the_first_three_that_are_not_this_one(void **state)
{
    static const double then[][2] = {{1000, 40}}, later[][2] = {{1000, 50}};

    (void)state;
    add_point(1000, 70, 1);
    add_trip(10, then, 1); /* itself */
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 40, 0); /* there is no other */
    add_trip(11, later, 1);
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 50, 0);
    for (int i = 0; i < 3; i++)
        add_trip(i, then, 1);
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 40, 0);
    /* 1040 is within reach of 1000 alone where the fourth trip counts not */
    season.steps[season.step_count - 1].rpm = 1040;
    r->point[0].engine[0].rpm.mean = 1040;
    trial_drift_find(r, &season, &d);
    assert_near(d.drift[0].then, 40, 0);
}

static void drift__other_channel_or_nothing_then__is_not_compared(void **state)
{
    static const double then[][2] = {{1000, 40}};

    (void)state;
    add_point(1000, 70, 1);
    trial_drift_find(r, &season, &d);
    assert_int_equal(d.count, 0);
    add_trip(0, then, 1);
    season.steps[0].id.place = 1;
    trial_drift_find(r, &season, &d);
    assert_int_equal(d.count, 0);
    season.steps[0].id.place = 0;
    season.steps[0].rpm = 0; /* cranking has no speed */
    r->point[0].engine[0].rpm.mean = 0;
    trial_drift_find(r, &season, &d);
    assert_int_equal(d.count, 0);
}

/* Oil pressure and burn are held to a share of what they were: 6 and 3 in a hundred. */
static void drift__pressure_and_burn__as_a_share(void **state)
{
    static const struct {
        enum quantity quantity;
        double now;
        bool notable;
        const char *text;
    } rows[] = {
        {QTY_OIL_PRESSURE, 423, false,
         "oil-pressure.0 5.8 % higher than on 2026-05-04 at 1000 rpm"},
        {QTY_OIL_PRESSURE, 425.2, true,
         "oil-pressure.0 6.3 % higher than on 2026-05-04 at 1000 rpm"},
        {QTY_OIL_PRESSURE, 372, true, "oil-pressure.0 7.0 % lower than on 2026-05-04 at 1000 rpm"},
        {QTY_FUEL_RATE, 411, false, "fuel-rate.0 2.8 % more than on 2026-05-04 at 1000 rpm"},
        {QTY_FUEL_RATE, 413, true, "fuel-rate.0 3.3 % more than on 2026-05-04 at 1000 rpm"},
        {QTY_FUEL_RATE, 380, true, "fuel-rate.0 5.0 % less than on 2026-05-04 at 1000 rpm"},
        {QTY_COOLANT, 402.1, true, "coolant.0 2.1 K hotter than on 2026-05-04 at 1000 rpm"},
        {QTY_COOLANT, 401.9, false, "coolant.0 1.9 K hotter than on 2026-05-04 at 1000 rpm"},
        {QTY_OIL_TEMP, 403.1, true, "oil-temp.0 3.1 K hotter than on 2026-05-04 at 1000 rpm"},
        {QTY_OIL_TEMP, 397.1, false, "oil-temp.0 2.9 K colder than on 2026-05-04 at 1000 rpm"},
        {QTY_EXHAUST_GAS, 410.5, true,
         "exhaust-gas.0 10.5 K hotter than on 2026-05-04 at 1000 rpm"},
        {QTY_EXHAUST_GAS, 409.5, false,
         "exhaust-gas.0 9.5 K hotter than on 2026-05-04 at 1000 rpm"},
    };
    static const double then[][2] = {{1000, 400}};

    (void)state;
    add_trip(0, then, 1);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trial_stat now = {
            .n = 600, .mean = rows[i].now, .low = rows[i].now, .high = rows[i].now};
        struct trial_engine *m;

        r->points = r->steps = 0;
        m = &add_point(1000, 0, 0)->engine[0];
        *m = (struct trial_engine){.rpm = m->rpm};
        switch (rows[i].quantity) {
        case QTY_OIL_PRESSURE:
            m->oil_pressure = now;
            break;
        case QTY_FUEL_RATE:
            m->fuel_rate = now;
            break;
        case QTY_COOLANT:
            m->coolant = now;
            break;
        case QTY_OIL_TEMP:
            m->oil_temp = now;
            break;
        default:
            m->exhaust_gas = now;
            break;
        }
        season.steps[0].id.quantity = (uint16_t)rows[i].quantity;
        trial_drift_find(r, &season, &d);
        assert_int_equal(d.count, 1);
        assert_int_equal(d.drift[0].notable, rows[i].notable);
        assert_string_equal(d.drift[0].text, rows[i].text);
    }
}

/* ---- a trial as trips ---- */

static void season_make__two_logs__are_two_trips(void **state)
{
    (void)state;
    r->logs = 3; /* the last without a step */
    text_copy(r->log_names[1], sizeof r->log_names[1], "eleventh.log");
    add_point(1000, 50, 2);
    add_point(2000, 60, 1);
    add_point(1500, 70, 1);
    r->step[1].point = 0; /* two steps in one point */
    r->step[1].sea = (struct trial_stat){.n = 1, .mean = 9};
    r->step[2].log = 1;
    r->step[2].wall_ns += DAY_NS;
    r->step[2].seconds = 90;
    r->step[2].sea = (struct trial_stat){.n = 1, .mean = 16};
    r->step[2].air = (struct trial_stat){.n = 1, .mean = 21};
    r->point[2].engine[0].load = (struct trial_stat){.n = 1, .mean = 44};
    assert_true(trial_season_make(r, &season));
    assert_int_equal(season.trip_count, 2);
    assert_string_equal(season.trips[0].log, "tenth.log");
    assert_string_equal(season.trips[1].log, "eleventh.log");
    assert_true(season.trips[0].from_ns == r->first_ns);
    assert_true(season.trips[0].to_ns == r->first_ns + INT64_C(1200000000000));
    assert_true(season.trips[1].to_ns - season.trips[1].from_ns == INT64_C(90000000000));
    assert_int_equal(season.step_count, 2);
    assert_near(season.steps[0].mean, 50, 0);
    assert_near(season.steps[0].rpm, 1000, 0);
    assert_near(season.steps[0].spread, 2, 1e-9);
    assert_near(season.steps[0].minutes, 20, 1e-9);
    assert_true(isnan(season.steps[0].sea_c) && isnan(season.steps[0].air_c));
    assert_int_equal(season.steps[0].load_kind, SEASON_LOAD_NONE);
    assert_near(season.steps[1].mean, 70, 0);
    assert_near(season.steps[1].minutes, 1.5, 1e-9);
    assert_near(season.steps[1].sea_c, 16, 0);
    assert_near(season.steps[1].air_c, 21, 0);
    assert_int_equal(season.steps[1].load_kind, SEASON_LOAD_PERCENT);
    assert_near(season.steps[1].load, 44, 0);
}

static void season_make__nothing_steady__has_no_trip(void **state)
{
    (void)state;
    r->engines = 0;
    assert_true(trial_season_make(r, &season));
    assert_int_equal(season.trip_count, 0);
    r->engines = 1;
    add_point(1000, 50, 1)->engine[0].exhaust.n = 0; /* a step that heard nothing to keep */
    assert_true(trial_season_make(r, &season));
    assert_int_equal(season.trip_count, 0);
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end_season)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(drift__between_two_steps__is_held_against_the_line_between_them),
        WITH_TRIAL(drift__many_steps__the_closest_on_either_side),
        WITH_TRIAL(drift__outside_all_steps__no_further_than_five_in_a_hundred),
        WITH_TRIAL(drift__small_or_within_its_own_ups_and_downs__is_not_notable),
        WITH_TRIAL(drift__several_points__the_furthest_by_its_measure),
        WITH_TRIAL(drift__in_neutral_at_a_speed_also_run__is_left_out),
        WITH_TRIAL(drift__trips__the_first_three_that_are_not_this_one),
        WITH_TRIAL(drift__other_channel_or_nothing_then__is_not_compared),
        WITH_TRIAL(drift__pressure_and_burn__as_a_share),
        WITH_TRIAL(season_make__two_logs__are_two_trips),
        WITH_TRIAL(season_make__nothing_steady__has_no_trip),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
