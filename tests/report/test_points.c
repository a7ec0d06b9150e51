/* Points of a trial from steps made by hand: which steps are joined and which are left out, how a
 * speed comes of runs both ways, what a mile costs. Expected figures are worked out beside each. */
#include "report/one_trial.h"

#include "base/text.h"

#include <stdlib.h>

#define BEGAN_NS (INT64_C(1777903200) * 1000000000)

static int begin(void **state)
{
    (void)state;
    trial_of(2);
    r->logs = 1;
    return 0;
}

/* Five minutes of two engines alike, beginning so many minutes into the log, with this velocity
 * over the ground. Each burns a hundredth of its speed less 5, wandering over three steps of
 * the wire: rounding adds nothing. */
static struct trial_step *add(double rpm, double minute, double north, double east)
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
        s->engine[e].fuel_rate = stat_of(rpm / 100 - 5, 0.03);
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

/* --- which steps ---------------------------------------------------------------------------- */

static void left__by_what_a_step_shows(void **state)
{
    enum { PLAIN, UNHEARD, APART, COLD, GEAR, NEUTRAL };
    static const struct {
        int what;
        double by;
        enum trial_left left;
    } rows[] = {
        {PLAIN, 0, TRIAL_TAKEN},        {UNHEARD, 0, TRIAL_LEFT_UNHEARD},
        {APART, 116, TRIAL_TAKEN}, /* of 2000 to either side: 5.8 %, 11.6 % between them */
        {APART, 124, TRIAL_LEFT_APART}, {COLD, 15, TRIAL_TAKEN},
        {COLD, 15.1, TRIAL_LEFT_COLD},  {GEAR, 1, TRIAL_TAKEN},
        {GEAR, 0, TRIAL_LEFT_GEARS},    {GEAR, -1, TRIAL_LEFT_GEARS},
        {NEUTRAL, 0, TRIAL_TAKEN},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trial_step *s, *warm;

        again(state);
        warm = add(2000, 0, 8, 0);
        s = add(2000, 10, 8, 0);
        switch (rows[i].what) {
        case UNHEARD:
            s->unheard = true;
            break;
        case APART:
            s->engine[0].rpm.mean = 2000 - rows[i].by;
            s->engine[1].rpm.mean = 2000 + rows[i].by;
            break;
        case COLD:
            warm->engine[1].coolant = stat_of(80, 0.1);
            s->engine[1].coolant = stat_of(80 - rows[i].by, 0.1);
            break;
        case GEAR:
        case NEUTRAL:
            s->engine[0].gear = stat_of(1, 0);
            s->engine[0].gear.low = rows[i].by;
            s->neutral = rows[i].what == NEUTRAL;
            break;
        default:
            break;
        }
        trial_points_make(t);
        assert_int_equal(s->left, rows[i].left);
        assert_int_equal(s->point >= 0, rows[i].left == TRIAL_TAKEN);
        assert_int_equal(warm->left, TRIAL_TAKEN);
    }
}

/* Half of what a steady step may vary, counted from the slowest of them. */
static void groups__alike_within_half_of_a_step(void **state)
{
    static const struct {
        double rpm;
        int engines, points;
    } rows[] = {{2000, 3, 1}, {2000, 1, 2}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        add(2000, 0, 8, 0);
        add(rows[i].rpm, 10, 8, 0)->engines = (uint8_t)rows[i].engines;
        trial_points_make(t);
        assert_int_equal(r->points, rows[i].points);
    }
    for (int over = 0; over < 2; over++) {
        again(state);
        add(2000, 0, 8, 0);
        add(2000 * (1 + r->steady.speed_part / 2) + (over ? 0.1 : -0.1), 10, 8, 0);
        trial_points_make(t);
        assert_int_equal(r->points, over ? 2 : 1);
        assert_int_equal(r->step[1].point, over);
    }
    /* standing at that speed is a point of its own */
    again(state);
    add(2000, 0, 8, 0);
    add(2000, 10, 0.69, 0);
    trial_points_make(t);
    assert_int_equal(r->points, 2);
    assert_int_equal(r->point[1].how, TRIAL_NO_SPEED);
}

static void groups__more_speeds_than_room__are_left_out(void **state)
{
    again(state);
    for (int i = 0; i < TRIAL_POINTS + 2; i++)
        add(500 * pow(1.1, i), 10 * i, 8, 0);
    trial_points_make(t);
    assert_int_equal(r->points, TRIAL_POINTS);
    assert_int_equal(r->step[TRIAL_POINTS - 1].left, TRIAL_TAKEN);
    assert_int_equal(r->step[TRIAL_POINTS].left, TRIAL_LEFT_NO_ROOM);
    assert_int_equal(r->step[TRIAL_POINTS].point, -1);
}

/* --- speeds --------------------------------------------------------------------------------- */

/* 8 kn through the water north and south, a current of 1 kn to the east: 8 kn, and the current. */
static void speed__both_ways__takes_the_current_out(void **state)
{
    const struct trial_point *p;

    (void)state;
    add(2000, 0, 9, 0);
    add(2000, 5, -7, 0);
    p = only_point();
    assert_int_equal(p->how, TRIAL_RECIPROCAL);
    assert_int_equal(p->steps, 2);
    assert_near(p->rpm, 2000, 1e-9);
    assert_near(p->speed_kn, 8, 1e-9);
    assert_near(p->current_kn, 1, 1e-9);
    assert_near(p->set_deg, 0, 1e-6);
    assert_near(r->current[0].pairs, 1, 0);
}

/* Runs 154 degrees apart are reciprocal to nobody: the one way is corrected by no current. */
static void speed__courses__reciprocal_within_25_degrees(void **state)
{
    static const struct {
        double degrees;
        enum trial_how how;
    } rows[] = {{180, TRIAL_RECIPROCAL}, {156, TRIAL_RECIPROCAL}, {204, TRIAL_RECIPROCAL},
                {154, TRIAL_ONE_WAY},    {206, TRIAL_ONE_WAY},    {24, TRIAL_ONE_WAY}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double a = rows[i].degrees * 3.14159265358979 / 180;

        again(state);
        add(2000, 0, 8, 0);
        add(2000, 5, 8 * cos(a), 8 * sin(a));
        assert_int_equal(only_point()->how, rows[i].how);
    }
}

static void speed__current_known_from_other_speeds__corrects_one_way(void **state)
{
    const struct trial_point *p;

    (void)state;
    add(2000, 0, 8, 1.5);
    add(2000, 5, -8, 1.5);
    add(2400, 10, 9.5, 1.5);
    trial_points_make(t);
    assert_int_equal(r->points, 2);
    p = &r->point[1];
    assert_int_equal(p->how, TRIAL_CORRECTED);
    assert_near(p->speed_kn, 9.5, 1e-9);
    assert_true(p->speed_error >= 0.02);
    assert_near(r->point[0].speed_kn, 8, 1e-9);
    assert_near(r->point[0].current_kn, 1.5, 1e-9);
    assert_near(r->point[0].set_deg, 90, 1e-6);
}

/* Without a position the log through the water is all there is; 3 % of it are not known. */
static void speed__by_the_log__with_what_nobody_held_it_against(void **state)
{
    struct trial_step *s = add(2000, 0, 0, 0);
    const struct trial_point *p;

    s->north.n = s->east.n = s->speed_ground.n = 0;
    s->speed_water = stat_of(7, 0.04);
    p = only_point();
    assert_int_equal(p->how, TRIAL_WATER);
    assert_near(p->speed_kn, 7, 0);
    assert_near(p->speed_error, hypot(0.04, 0.21), 1e-9);
    again(state);
    s = add(2000, 0, 0, 0);
    s->north.n = s->east.n = s->speed_ground.n = 0;
    s->speed_water = stat_of(7, NAN);
    assert_near(only_point()->speed_error, hypot(0.05, 0.21), 1e-9);
    again(state);
    s = add(2000, 0, 0, 0);
    s->north.n = s->east.n = 0;
    s->speed_ground = stat_of(6, 0.02);
    p = only_point();
    assert_int_equal(p->how, TRIAL_ONE_WAY);
    assert_near(p->speed_kn, 6, 0);
    assert_true(isnan(p->speed_error));
    assert_true(isnan(p->cost) && isnan(p->range_nmi)); /* the current may have made it */
}

static void speed__below_0_7_kn__is_no_way_on(void **state)
{
    struct trial_step *s = add(2000, 0, 0, 0);

    s->north.n = s->east.n = s->speed_ground.n = 0;
    s->speed_water = stat_of(0.7, 0.04);
    assert_int_equal(only_point()->how, TRIAL_WATER);
    again(state);
    s = add(2000, 0, 5, 0);
    s->speed_ground.n = 1; /* one reading is one */
    assert_int_equal(only_point()->how, TRIAL_ONE_WAY);
    again(state);
    s = add(2000, 0, 0, 0);
    s->north.n = s->east.n = s->speed_ground.n = 0;
    s->speed_water = stat_of(0.69, 0.04);
    assert_int_equal(only_point()->how, TRIAL_NO_SPEED);
    again(state);
    s = add(2000, 0, 0.4, 0.4); /* in circles: where it took her counts, 0.57 kn */
    s->speed_ground = stat_of(5, 0.02);
    assert_int_equal(only_point()->how, TRIAL_NO_SPEED);
    again(state);
    s = add(2000, 0, 0.6, 0.6);
    s->speed_ground = stat_of(5, 0.02);
    assert_int_equal(only_point()->how, TRIAL_ONE_WAY);
    again(state);
    s = add(2000, 0, 5, 0);
    s->neutral = true; /* by the gearbox, whatever the current does */
    assert_int_equal(only_point()->how, TRIAL_NO_SPEED);
}

/* Idle in neutral, no gearbox heard: less than half the way made for each turn at the next speed.
 */
static void drift__far_less_way_a_turn__was_not_in_gear(void **state)
{
    static const struct {
        double kn;
        bool under_way;
    } rows[] = {{1.05, true}, {0.95, false}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        add(500, 0, rows[i].kn, 0);
        add(2000, 10, 8, 0);
        trial_points_make(t);
        assert_int_equal(r->points, 2);
        assert_int_equal(r->point[0].how != TRIAL_NO_SPEED, rows[i].under_way);
        assert_int_equal(r->point[1].how, TRIAL_ONE_WAY);
    }
    /* a gearbox that says ahead knows better */
    again(state);
    add(500, 0, 0.95, 0)->engine[1].gear = stat_of(1, 0);
    add(2000, 10, 8, 0);
    trial_points_make(t);
    assert_int_equal(r->point[0].how, TRIAL_ONE_WAY);
}

/* The law asks for (1000 / 2000)^2 of 80 % at half the speed: 20 %; below 0.3 of that, 6 %, the
 * propeller does not turn. */
static void drift__load_far_below_the_law__was_not_in_gear(void **state)
{
    static const struct {
        double load;
        int own_n, next_n; /* readings of it, at either speed: one is enough */
        bool under_way;
    } rows[] = {{6.1, 300, 300, true},
                {5.9, 300, 300, false},
                {5.9, 1, 1, false},
                {0, 0, 300, true},
                {5.9, 300, 0, true}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        struct trial_step *own = add(1000, 0, 4, 0), *next = add(2000, 10, 8, 0);
        own->engine[1].load = stat_of(rows[i].load, 0.1);
        next->engine[1].load = stat_of(80, 0.1);
        own->engine[1].load.n = rows[i].own_n;
        next->engine[1].load.n = rows[i].next_n;
        trial_points_make(t);
        assert_int_equal(r->point[0].how != TRIAL_NO_SPEED, rows[i].under_way);
    }
}

/* At one engine speed: what made less than half the way of the fastest is parted from it. */
static void drift__slow_steps_of_a_speed__are_a_point_of_their_own(void **state)
{
    static const struct {
        double kn;
        int points;
    } rows[] = {{4.1, 1}, {3.9, 2}};

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(state);
        add(2000, 0, 8, 0);
        add(2000, 10, rows[i].kn, 0);
        trial_points_make(t);
        assert_int_equal(r->points, rows[i].points);
    }
    assert_int_equal(r->step[1].point, 1);
    assert_int_equal(r->point[1].how, TRIAL_NO_SPEED);
}

/* --- burn, cost, range ----------------------------------------------------------------------- */

/* Two engines of 15 L/h: 30 L/h; each meter is known to 2 %, 95 in 100, so that one standard error
 * of both is 0.15 * sqrt(2); 8 kn, 3.75 L/nmi; 300 L are 10 h or 80 nmi. */
static void burn__two_meters__cost_hours_and_range(void **state)
{
    const struct trial_point *p;

    (void)state;
    r->usable_l = 300;
    add(2000, 0, 8, 0);
    add(2000, 5, -8, 0);
    r->step[0].space = stat_of(40, 0.1);
    r->step[0].air = stat_of(25, 0.1);
    r->step[1].space = stat_of(44, 0.1); /* no air: not counted */
    p = only_point();
    assert_true(p->has_burn);
    assert_near(p->burn_lph, 30, 1e-9);
    /* two steps of 0.03 each: 0.03 / sqrt(2) an engine, two engines: 0.03 */
    assert_near(p->burn_random, 0.03, 1e-9);
    assert_near(p->burn_error, hypot(0.03, 0.15 * sqrt(2)), 1e-9);
    assert_near(p->cost, 3.75, 1e-9);
    assert_near(p->cost_error, 3.75 * hypot(p->burn_error / 30, p->speed_error / 8), 1e-9);
    assert_near(p->hours, 10, 1e-9);
    assert_near(p->range_nmi, 80, 1e-9);
    assert_near(p->space_rise, 15, 1e-9);
}

static void burn__one_engine_without_a_meter__is_not_known(void **state)
{
    const struct trial_point *p;

    (void)state;
    r->usable_l = 300;
    add(2000, 0, 8, 0)->engine[1].fuel_rate.n = 0;
    add(2000, 5, -8, 0)->engine[1].fuel_rate.n = 0;
    p = only_point();
    assert_false(p->has_burn);
    assert_true(isnan(p->cost) && isnan(p->hours) && isnan(p->range_nmi));
    assert_true(isnan(p->space_rise));
}

/* What rounding to 0.1 L/h leaves (GUM 4.3.7: a step over sqrt(12)); where readings flip between
 * two steps the truth is by the edge between them. */
static void burn__resolution_of_the_wire__by_how_the_readings_wander(void **state)
{
    static const struct {
        double low, high, mean, error;
    } rows[] = {
        {10, 10, 10, 0.028867513},      /* stands still */
        {10, 10.1, 10.05, 0},           /* flips evenly: on the edge */
        {10, 10.1, 10.07, 0.02},        /* and less evenly */
        {10, 10.1, 10.01, 0.028867513}, /* hardly: no more than a step leaves */
        {10, 10.19, 10.01, 0.028867513},
        {10, 10.06, 10.03, 0.02}, /* means of a second may flip by less */
        {10, 10.21, 10.01, 0},    /* wanders over more: averaged out */
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trial_step *s;

        again(state);
        s = add(2000, 0, 8, 0);
        s->engines = 1;
        s->engine[0].fuel_rate = stat_of(rows[i].mean, 0);
        s->engine[0].fuel_rate.low = rows[i].low;
        s->engine[0].fuel_rate.high = rows[i].high;
        assert_near(only_point()->burn_random, rows[i].error, 1e-8);
    }
    again(state);
    add(2000, 0, 8, 0)->engines = 1;
    r->step[0].engine[0].fuel_rate.error = NAN; /* too short: a twentieth */
    assert_near(only_point()->burn_random, 0.05 * 15, 1e-9);
}

/* --- the curves ------------------------------------------------------------------------------ */

/* Speeds through the water of 1.02 of what the log says, at 2 speeds not enough, at 3 so. */
static void log_factor__three_speeds_both_ways__tell_it(void **state)
{
    for (int n = 2; n <= 3; n++) {
        again(state);
        for (int i = 0; i < n; i++)
            for (int way = 0; way < 2; way++) {
                double kn = 5.1 + 1.02 * i;

                add(1200 + 300 * i, 20 * i + 10 * way, way ? -kn : kn, 0)->speed_water =
                    stat_of(kn / 1.02 * (i == 0 ? 1.01 : 1), 0.01);
            }
        trial_points_make(t);
        assert_int_equal(r->points, n);
        if (n < 3) {
            assert_true(isnan(r->log_factor) && isnan(r->log_error));
            continue;
        }
        /* 1.02 / 1.01, 1.02, 1.02 */
        assert_near(r->log_factor, (1.02 / 1.01 + 2.04) / 3, 1e-9);
        /* standard deviation 0.0058307 by n - 1, over sqrt(3) */
        assert_near(r->log_error, 0.00336634, 1e-7);
    }
}

static void best__slowest_run_and_its_cost__are_kept_beside_it(void **state)
{
    (void)state;
    for (int i = 0; i < 6; i++) {
        double kn = 4 + i;

        add(1200 + 200 * i, 20 * i, kn, 0);
        add(1200 + 200 * i, 20 * i + 10, -kn, 0);
    }
    trial_points_make(t);
    assert_int_equal(r->points, 6);
    assert_near(r->slowest_kn, 4, 1e-9);
    assert_near(r->slowest_cost, 14 / 4.0, 1e-9);
    for (int e = 0; e < 2; e++)
        assert_true(r->law_seen[e]);
    assert_true(r->has_law);
    assert_false(r->law_by_torque);
}

static void law__needs_three_points_under_way(void **state)
{
    for (int n = 2; n <= 3; n++) {
        again(state);
        for (int i = 0; i < n; i++)
            add(1200 + 400 * i, 20 * i, 5 + i, 0);
        add(800, 90, 0, 0)->neutral = true;
        trial_points_make(t);
        assert_int_equal(r->points, n + 1);
        assert_int_equal(r->has_law, n == 3);
        assert_int_equal(r->law_seen[1], n == 3);
    }
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(left__by_what_a_step_shows),
        WITH_TRIAL(groups__alike_within_half_of_a_step),
        WITH_TRIAL(groups__more_speeds_than_room__are_left_out),
        WITH_TRIAL(speed__both_ways__takes_the_current_out),
        WITH_TRIAL(speed__courses__reciprocal_within_25_degrees),
        WITH_TRIAL(speed__current_known_from_other_speeds__corrects_one_way),
        WITH_TRIAL(speed__by_the_log__with_what_nobody_held_it_against),
        WITH_TRIAL(speed__below_0_7_kn__is_no_way_on),
        WITH_TRIAL(drift__far_less_way_a_turn__was_not_in_gear),
        WITH_TRIAL(drift__load_far_below_the_law__was_not_in_gear),
        WITH_TRIAL(drift__slow_steps_of_a_speed__are_a_point_of_their_own),
        WITH_TRIAL(burn__two_meters__cost_hours_and_range),
        WITH_TRIAL(burn__one_engine_without_a_meter__is_not_known),
        WITH_TRIAL(burn__resolution_of_the_wire__by_how_the_readings_wander),
        WITH_TRIAL(log_factor__three_speeds_both_ways__tell_it),
        WITH_TRIAL(best__slowest_run_and_its_cost__are_kept_beside_it),
        WITH_TRIAL(law__needs_three_points_under_way),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
