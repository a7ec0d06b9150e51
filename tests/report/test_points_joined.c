/* What a point of a trial is made of, to the last figure: runs of different length joined, currents
 * taken off, errors put together, and the curves through the points. Worked out beside each case.
 */
#include "report/one_trial.h"

#include <stddef.h>
#include <stdlib.h>

#define BEGAN_NS (INT64_C(1777903200) * 1000000000)

static int begin(void **state)
{
    (void)state;
    trial_of(2);
    r->logs = 1;
    return 0;
}

/* A run of two engines alike, its velocity known to 0.02 kn each part; each engine's burn to
 * 0.03 L/h, wandering over more steps of the wire than two. */
static struct trial_step *add(double rpm, double minute, double north, double east, double lph)
{
    struct trial_step *s = &r->step[r->steps++];

    *s = (struct trial_step){.wall_ns = BEGAN_NS + (int64_t)(minute * 60e9),
                             .seconds = 300,
                             .engines = 3,
                             .mean_rpm = rpm,
                             .speed_ground = stat_of(hypot(north, east), 0.02),
                             .north = stat_of(north, 0.02),
                             .east = stat_of(east, 0.02),
                             .point = -1};
    for (int e = 0; e < 2; e++) {
        s->engine[e].rpm = stat_of(rpm, 1);
        s->engine[e].fuel_rate = stat_of(lph / 2, 0.03);
        s->engine[e].fuel_rate.low -= 0.15;
        s->engine[e].fuel_rate.high += 0.15;
    }
    return s;
}

static const struct trial_point *only_point(void)
{
    trial_points_make(t);
    assert_false(t->failed);
    assert_int_equal(r->points, 1);
    return &r->point[0];
}

/* --- joined ---------------------------------------------------------------------------------- */

/* 100 s of 10 over what is common, 300 s of 14: mean 13, and the errors of each in its part,
 * hypot(0.3 / 4, 0.1 * 3 / 4). */
static void joined__each_figure_of_an_engine__weighed_by_its_seconds(void **state)
{
#define FIGURE(f)                                                                                  \
    {                                                                                              \
#f, offsetof(struct trial_engine, f)                                                       \
    }
    static const struct {
        const char *name;
        size_t at;
    } figures[] = {
        FIGURE(rpm),        FIGURE(exhaust), FIGURE(exhaust_gas),  FIGURE(coolant),
        FIGURE(oil_temp),   FIGURE(load),    FIGURE(oil_pressure), FIGURE(fuel_rate),
        FIGURE(torque),     FIGURE(boost),   FIGURE(alternator),   FIGURE(gear),
        FIGURE(burn_error),
    };
#undef FIGURE
    struct trial_step *first = add(2000, 0, 8, 0, 20), *second = add(2000, 10, 8, 0, 20);

    (void)state;
    assert_int_equal(sizeof figures / sizeof figures[0],
                     sizeof(struct trial_engine) / sizeof(struct trial_stat));
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
        double base = 2000 + 0.5 * (double)i;

        *(struct trial_stat *)((char *)&first->engine[1] + figures[i].at) =
            (struct trial_stat){.n = 100, base + 10, base + 9, base + 11, .error = 0.3};
        *(struct trial_stat *)((char *)&second->engine[1] + figures[i].at) =
            (struct trial_stat){.n = 300, base + 14, base + 8, base + 15, .error = 0.1};
    }
    const struct trial_engine *m = &only_point()->engine[1];
    for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
        const struct trial_stat *s = (const struct trial_stat *)((const char *)m + figures[i].at);
        double base = 2000 + 0.5 * (double)i;

        if (s->n != 400)
            fail_msg("%s is not joined", figures[i].name);
        assert_near(s->mean, base + 13, 1e-9);
        assert_near(s->low, base + 8, 1e-9);
        assert_near(s->high, base + 15, 1e-9);
        assert_near(s->error, 0.10606601717798213, 1e-12);
    }
}

/* What was heard in one of the runs alone is that; an engine that did not run has nothing. */
static void joined__heard_in_one_run__is_that_one(void **state)
{
    for (int heard = 0; heard < 2; heard++) {
        again(state);
        add(2000, 0, 8, 0, 20)->engines = 1;
        add(2000, 10, 8, 0, 20)->engines = 1;
        r->step[heard].engine[0].oil_temp = stat_of(90 + heard, 0.2);
        r->step[heard].engine[1].oil_temp = stat_of(70, 0.2);
        const struct trial_point *p = only_point();
        assert_int_equal(p->engine[0].oil_temp.n, 300);
        assert_near(p->engine[0].oil_temp.mean, 90 + heard, 0);
        assert_near(p->engine[0].oil_temp.error, 0.2, 0);
        assert_int_equal(p->engine[1].oil_temp.n, 0);
        assert_int_equal(p->engine[1].rpm.n, 0);
    }
}

/* 300 s at 2000 and 900 s at 2004; the engines 10 to either side in one of them: 1 % of 2000. */
static void joined__speed_and_how_far_apart__of_all_its_runs(void **state)
{
    const struct trial_point *p;

    (void)state;
    add(2000, 0, 8, 0, 20);
    add(2004, 10, 8, 0, 20)->seconds = 900;
    r->step[0].engine[0].rpm.mean = 1990;
    r->step[0].engine[1].rpm.mean = 2010;
    p = only_point();
    assert_near(p->rpm, 2003, 1e-9);
    assert_near(p->apart, 0.01, 1e-12);
    assert_int_equal(p->steps, 2);
    assert_int_equal(p->engines, 3);
}

/* --- ways ------------------------------------------------------------------------------------ */

/* North 9 for 300 s and 9.3 for 600 s: 9.2; south 7 for 300 s. Half of 16.2 is the boat's, half of
 * 2.2 the water's. Each part is known to 0.02 for 300 s: north hypot(0.02 * 300, 0.02 * 600) / 900;
 * between the ways' means, at (2.5 * 300 + 25 * 600) / 900 = 17.5 and 12.5 minutes, the water may
 * have wandered by 0.02 kn2/h; and 0.01 kn are known of no speed. */
static void ways__of_different_length__are_weighed_by_it(void **state)
{
    const struct trial_point *p;
    double north = hypot(0.02 * 300, 0.02 * 600) / 900;

    (void)state;
    add(2000, 0, 9, 0, 20);
    add(2000, 10, -7, 0, 20);
    add(2000, 20, 9.3, 0, 20)->seconds = 600;
    p = only_point();
    assert_int_equal(p->how, TRIAL_RECIPROCAL);
    assert_int_equal(r->current[0].pairs, 2);
    assert_near(p->speed_kn, 8.1, 1e-9);
    assert_near(p->current_kn, 1.1, 1e-9);
    assert_near(p->speed_error, hypot(sqrt(north * north + 0.0004 + 0.02 * 5.0 / 60) / 2, 0.01),
                1e-9);
}

/* How well a velocity is known is the root mean square of its parts; 0.05 kn where a run is too
 * short to tell. */
static void ways__errors_of_a_velocity__or_what_is_taken_for_them(void **state)
{
    static const struct {
        double north, east, error;
    } rows[] = {{0.03, 0.04, 0.035355339059327}, {NAN, 0.04, 0.05}, {0.03, NAN, 0.05}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        for (int way = 0; way < 2; way++) {
            struct trial_step *s = add(2000, 10 * way, way ? -8 : 8, 0, 20);
            s->north.error = rows[i].north;
            s->east.error = rows[i].east;
        }
        assert_near(only_point()->speed_error,
                    hypot(sqrt(2 * rows[i].error * rows[i].error + 0.02 * 10.0 / 60) / 2, 0.01),
                    1e-9);
    }
}

/* One way in one log and the other in another, an hour later: no current is known of either, and
 * what it did between them may be half a knot an hour. */
static void ways__in_two_logs__with_what_the_current_may_have_done(void **state)
{
    const struct trial_point *p;

    (void)state;
    r->logs = 2;
    add(2000, 0, 9, 0.4, 20);
    add(2000, 60, -7, 0.4, 20)->log = 1;
    p = only_point();
    assert_int_equal(p->how, TRIAL_RECIPROCAL);
    assert_int_equal(r->current[0].pairs, 0);
    assert_near(p->speed_kn, 8, 1e-9);
    assert_near(p->current_kn, hypot(1, 0.4), 1e-9);
    assert_near(p->set_deg, atan2(0.4, 1) * 180 / 3.14159265358979, 1e-6);
    assert_near(p->speed_error, hypot(sqrt(2 * 0.0004 + 0.25) / 2, 0.01), 1e-9);
}

/* The current of the first log is known from another speed, that of the second is not: it is taken
 * off the run of its own log alone, and what it did meanwhile is not known. */
static void ways__in_two_logs__one_current_known__is_that_logs(void **state)
{
    const struct trial_point *p;

    (void)state;
    r->logs = 2;
    add(1600, 0, 7, 0, 20);
    add(1600, 10, -5, 0, 20);
    add(2000, 20, 9, 0, 20);
    add(2000, 80, -8, 0, 20)->log = 1;
    trial_points_make(t);
    assert_int_equal(r->points, 2);
    p = &r->point[1];
    assert_int_equal(p->how, TRIAL_RECIPROCAL);
    assert_near(p->speed_kn, 8, 1e-9);
    assert_near(p->current_kn, 0, 1e-9);
    assert_near(p->speed_error, hypot(sqrt(2 * 0.0004 + 0.25) / 2, 0.01), 1e-9);
}

/* Both ways in each of two logs: the current of each is taken off its own runs. */
static void ways__both_in_each_log__each_with_its_own_current(void **state)
{
    const struct trial_point *p;

    (void)state;
    r->logs = 2;
    add(2000, 0, 9, 0, 20);
    add(2000, 10, -7, 0, 20);
    add(2000, 200, 8, 2, 20)->log = 1;
    add(2000, 210, -8, 2, 20)->log = 1;
    add(2400, 220, 9.5, 2, 30)->log = 1;
    trial_points_make(t);
    p = &r->point[0];
    assert_near(r->current[0].north[0], 1, 1e-9);
    assert_near(r->current[0].east[0], 0, 1e-9);
    assert_near(r->current[1].north[0], 0, 1e-9);
    assert_near(r->current[1].east[0], 2, 1e-9);
    assert_int_equal(p->how, TRIAL_RECIPROCAL);
    assert_near(p->speed_kn, 8, 1e-9);
    assert_int_equal(r->point[1].how, TRIAL_CORRECTED);
    assert_near(r->point[1].speed_kn, 9.5, 1e-9);
}

/* 1.5 - 0.4 t to the north, at which 20 kn read 21.5, -18.9, 20.7, -19.7 at every full hour (the
 * mean of means of four runs, as ITTC 7.5-04-01-01.1 has it): the runs pair in order of time,
 * whatever their engine speed was to a turn. */
static void ways__pair_in_order_of_time__not_of_speed(void **state)
{
    static const double rpm[] = {2003, 2000, 2004, 2001}, kn[] = {21.5, -18.9, 20.7, -19.7};
    const struct trial_point *p;

    (void)state;
    for (int i = 0; i < 4; i++)
        add(rpm[i], 60 * i, kn[i], 0, 20);
    p = only_point();
    assert_int_equal(r->current[0].pairs, 3);
    assert_near(r->current[0].north[0], 0.9, 1e-6); /* in the middle, of which hours count */
    assert_near(r->current[0].north[1], -0.4, 1e-6);
    assert_near(p->speed_kn, 20, 1e-6);
    assert_near(p->current_kn, 0.9, 1e-6);
}

/* Two runs the same way are no pair; the next one the other way pairs with the later of them. */
static void ways__two_alike__pair_the_later_one(void **state)
{
    (void)state;
    add(2000, 0, 9, 0, 20);
    add(2000, 60, 8.6, 0, 20);
    add(2000, 70, -7.4, 0, 20);
    only_point();
    assert_int_equal(r->current[0].pairs, 1);
    assert_near(r->current[0].north[0], 0.6, 1e-9);
}

/* A run of which no velocity, or hardly any, is known pairs with none: the ones around it do. */
static void ways__a_run_without_a_velocity__pairs_with_none(void **state)
{
    for (int standing = 0; standing < 2; standing++) {
        struct trial_step *s;

        again(state);
        add(2000, 0, 9, 0, 20);
        s = add(2000, 10, standing ? 1 : 5, 0, 20);
        if (!standing)
            s->north.n = s->east.n = 0;
        s->speed_water = stat_of(8, 0.1);
        add(2000, 20, -7, 0, 20);
        add(1500, 30, 7, 0, 10);
        add(1500, 40, -5, 0, 10);
        trial_points_make(t);
        assert_int_equal(r->current[0].pairs, 2);
        assert_near(r->current[0].north[0], 1, 1e-9);
    }
}

/* One way at a speed of which another told the current, 1 kn to the north known to
 * 0.1 * sqrt(2): runs of 300 s and 600 s that made 9 and 9.3 knots less it. */
static void corrected__by_its_seconds__known_as_the_current_is(void **state)
{
    const struct trial_point *p;

    (void)state;
    add(1600, 0, 7, 0, 20);
    add(1600, 5, -5, 0, 20);
    add(2000, 20, 10, 0, 30);
    add(2000, 40, 10.3, 0, 30)->seconds = 600;
    trial_points_make(t);
    assert_int_equal(r->points, 2);
    p = &r->point[1];
    assert_int_equal(p->how, TRIAL_CORRECTED);
    assert_near(p->speed_kn, (9 * 300 + 9.3 * 600) / 900, 1e-9);
    assert_near(p->speed_error,
                hypot(hypot(hypot(0.02 * 300, 0.02 * 600) / 900, 0.1 * sqrt(2)), 0.01), 1e-9);
    /* without a position there is nothing to correct */
    again(state);
    add(1600, 0, 7, 0, 20);
    add(1600, 5, -5, 0, 20);
    add(2000, 20, 10, 0, 30)->north.n = 0;
    trial_points_make(t);
    assert_int_equal(r->point[1].how, TRIAL_ONE_WAY);
}

/* --- what it costs --------------------------------------------------------------------------- */

/* Standing or drifting, the tanks last so long, and a mile has no cost; an engine that burns
 * nothing lasts no time at all that could be told. */
static void hours__where_something_is_burnt(void **state)
{
    const struct trial_point *p;

    (void)state;
    r->usable_l = 100;
    add(700, 0, 0, 0, 4);
    p = only_point();
    assert_int_equal(p->how, TRIAL_NO_SPEED);
    assert_near(p->hours, 25, 1e-9);
    assert_true(isnan(p->cost) && isnan(p->cost_error) && isnan(p->range_nmi));
    again(state);
    r->usable_l = 100;
    add(700, 0, 0, 0, 0);
    assert_true(isnan(only_point()->hours));
}

/* The meter's own accuracy, 95 in 100, is half of it in standard errors: 2 % where nobody says,
 * what the configuration says, or what two meters' figures leave of each other. */
static void share__of_a_meter__by_who_knows_it(void **state)
{
    struct trial_engine m = {.fuel_rate = stat_of(20, 0.1)};

    (void)state;
    assert_near(trial_meter_share(r, 0, &m), 0.2, 1e-12);
    configure("[channel fuel-rate.1]\naccuracy = 1 %\n");
    r->settings = settings;
    r->instance[1] = 1;
    assert_near(trial_meter_share(r, 0, &m), 0.2, 1e-12);
    assert_near(trial_meter_share(r, 1, &m), 0.1, 1e-12);
    m.fuel_rate.mean = -20;
    assert_near(trial_meter_share(r, 1, &m), 0.1, 1e-12);
    m.burn_error = stat_of(3, 0.1);
    assert_near(trial_meter_share(r, 1, &m), 1.5, 1e-12);
}

/* --- the curves ------------------------------------------------------------------------------ */

/* The error of an exponent from the shares to which each y is known: 1 / sqrt of the weighted
 * squares of log x about their mean. */
static double exponent_error(const double *x, const double *share, int n)
{
    double w = 0, m = 0, squares = 0;

    for (int i = 0; i < n; i++) {
        w += 1 / (share[i] * share[i]);
        m += log(x[i]) / (share[i] * share[i]);
    }
    for (int i = 0; i < n; i++)
        squares += (log(x[i]) - m / w) * (log(x[i]) - m / w) / (share[i] * share[i]);
    return 1 / sqrt(squares);
}

/* Torque as the square of speed: power as its cube. Each point is known as its torque and its speed
 * are, by a third and by two in a thousand where they do not say; torque in whole per cents that
 * stands still is known to a step over sqrt(12). */
static void law__of_torque__weighed_by_how_each_is_known(void **state)
{
    static const double rpm[] = {1000, 1500, 2000, 2500};
    double share[4];

    (void)state;
    for (int i = 0; i < 4; i++) {
        struct trial_step *s = add(rpm[i], 20 * i, 5 + i, 0, 20 + 10 * i);
        double torque = 80 * pow(rpm[i] / 2500, 2);

        for (int e = 0; e < 2; e++)
            s->engine[e].torque = stat_of(torque, 0.4);
        share[i] = hypot(hypot(0.4, 0.28867513459481287) / torque, 1 / rpm[i]);
    }
    r->step[1].engine[0].torque.error = NAN;
    r->step[2].engine[0].rpm.error = NAN;
    share[1] = hypot(hypot(0.3, 0.28867513459481287) / (80 * 0.36), 1 / 1500.0);
    share[2] = hypot(hypot(0.4, 0.28867513459481287) / (80 * 0.64), 0.002);
    trial_points_make(t);
    assert_true(r->law_by_torque);
    assert_true(r->law_seen[0] && r->law_seen[1]);
    assert_near(r->law[0].exponent, 3, 1e-9);
    assert_near(r->law[0].exponent_error, exponent_error(rpm, share, 4), 1e-12);
    /* one point under way without torque: by the burn, of both */
    again(state);
    for (int i = 0; i < 4; i++) {
        struct trial_step *s = add(rpm[i], 20 * i, 5 + i, 0, 40 * pow(rpm[i] / 2500, 2.5));

        for (int e = 0; e < 2; e++) {
            s->engine[e].torque = stat_of(20, 0.4);
            s->engine[e].fuel_rate.high = s->engine[e].fuel_rate.low = s->engine[e].fuel_rate.mean;
        }
        share[i] = hypot(0.03, 0.028867513459481287) / s->engine[0].fuel_rate.mean;
    }
    r->step[3].engine[1].torque.n = 0;
    r->step[0].engine[0].fuel_rate.error = NAN;
    share[0] = hypot(0.02, 0.028867513459481287 / r->step[0].engine[0].fuel_rate.mean);
    trial_points_make(t);
    assert_false(r->law_by_torque);
    assert_near(r->law[0].exponent, 2.5, 1e-9);
    assert_near(r->law[0].exponent_error, exponent_error(rpm, share, 4), 1e-9);
}

/* In neutral, or without torque, a point takes no part in the law. */
static void law__in_neutral__takes_no_part(void **state)
{
    for (int neutral = 1; neutral >= 0; neutral--) {
        again(state);
        for (int i = 0; i < 4; i++) {
            struct trial_step *s = add(1000 + 500 * i, 20 * i, 5 + i, 0, 20 + 10 * i);

            s->engine[0].torque = s->engine[1].torque = stat_of(20 * pow(1 + 0.5 * i, 2), 0.4);
        }
        r->step[0].neutral = neutral;
        r->step[0].engine[0].torque.n = r->step[0].engine[1].torque.n = 0;
        trial_points_make(t);
        assert_int_equal(r->law_by_torque, neutral);
        assert_true(r->law_seen[1]);
        if (neutral)
            assert_near(r->law[1].exponent, 3, 1e-9);
    }
}

static void both_ways(double rpm, double minute, double kn, double lph)
{
    add(rpm, minute, kn, 0, lph);
    add(rpm, minute + 5, -kn, 0, lph);
}

/* Speeds less than 2 % apart, or of which the faster engine made less way, count once. */
static void costs__of_speeds_that_differ(void **state)
{
    static const struct {
        double rpm, kn;
        int costs;
    } rows[] = {
        {2030, 8.1, 3}, {2040, 8.1, 3}, {2041, 8.1, 4}, {2041, 8, 3}, {2041, 7.9, 3},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        both_ways(1500, 0, 6, 15);
        both_ways(2000, 10, 8, 30);
        both_ways(rows[i].rpm, 20, rows[i].kn, 31);
        both_ways(2400, 30, 9, 45);
        add(2600, 50, 0, 0, 10)->neutral = true;
        trial_points_make(t);
        assert_int_equal(r->points, 5);
        assert_int_equal(r->costs, rows[i].costs);
    }
}

/* The cheapest mile lies near 7 kn, known as its nearest run is: the same share of it. */
static void best__is_known_as_the_run_beside_it(void **state)
{
    const struct trial_point *p;

    (void)state;
    for (int i = 0; i < 7; i++) /* a mile of 2 L at 7.2 kn, dearer with the square of 0.1 a knot */
        both_ways(1000 + 200 * i, 10 * i, 4 + i, (4 + i) * (2 + 0.1 * pow(4 + i - 7.2, 2)));
    trial_points_make(t);
    assert_int_equal(r->costs, 7);
    assert_true(r->has_best);
    assert_near(r->best.x, 7.2, 0.1);
    p = &r->point[3];
    assert_near(p->speed_kn, 7, 1e-9);
    assert_near(r->best_cost_error, p->cost_error / p->cost * r->best.y, 1e-12);
    assert_near(r->slowest_kn, 4, 1e-9);
    assert_near(r->slowest_cost, r->point[0].cost, 0);
    assert_near(r->slowest_error, r->point[0].cost_error, 0);
}

/* A crawl of which a quarter of the cost is not known is not the slowest that tells something. */
static void slowest__known_to_a_quarter(void **state)
{
    for (int sure = 0; sure < 2; sure++) {
        again(state);
        both_ways(380, 0, 0.8, 1);
        for (int i = 0; i < 2; i++) /* half of hypot(error, error) over 0.8: nearly a quarter */
            r->step[i].north.error = r->step[i].east.error =
                0.8 * 0.25 * sqrt(2) - (sure ? .02 : 0);
        both_ways(1500, 10, 6, 15);
        trial_points_make(t);
        assert_int_equal(r->points, 2);
        assert_int_equal(r->point[0].how, TRIAL_RECIPROCAL);
        assert_int_equal(r->point[0].cost_error < 0.25 * r->point[0].cost, sure);
        assert_near(r->slowest_kn, sure ? 0.8 : 6, 1e-9);
    }
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(joined__each_figure_of_an_engine__weighed_by_its_seconds),
        WITH_TRIAL(joined__heard_in_one_run__is_that_one),
        WITH_TRIAL(joined__speed_and_how_far_apart__of_all_its_runs),
        WITH_TRIAL(ways__of_different_length__are_weighed_by_it),
        WITH_TRIAL(ways__errors_of_a_velocity__or_what_is_taken_for_them),
        WITH_TRIAL(ways__in_two_logs__with_what_the_current_may_have_done),
        WITH_TRIAL(ways__in_two_logs__one_current_known__is_that_logs),
        WITH_TRIAL(ways__both_in_each_log__each_with_its_own_current),
        WITH_TRIAL(ways__pair_in_order_of_time__not_of_speed),
        WITH_TRIAL(ways__two_alike__pair_the_later_one),
        WITH_TRIAL(ways__a_run_without_a_velocity__pairs_with_none),
        WITH_TRIAL(corrected__by_its_seconds__known_as_the_current_is),
        WITH_TRIAL(hours__where_something_is_burnt),
        WITH_TRIAL(share__of_a_meter__by_who_knows_it),
        WITH_TRIAL(law__of_torque__weighed_by_how_each_is_known),
        WITH_TRIAL(law__in_neutral__takes_no_part),
        WITH_TRIAL(costs__of_speeds_that_differ),
        WITH_TRIAL(best__is_known_as_the_run_beside_it),
        WITH_TRIAL(slowest__known_to_a_quarter),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
