/* Figures that someone signs: each held against what the boat of voyage.h really did, one cause of
 * error at a time, and all of them together over random voyages. */
#include "report/coverage.h"
#include "report/trial/inside.h"
#include "report/trial/trial.h"
#include "report/voyage.h"

#include "config/config.h"

#include "report/trial/write.h"
#include "support/check.h"
#include "support/program.h"

#include <stdlib.h>

static struct settings *settings;

static struct trial *sailed(const struct voyage *v, const struct trial_report **r,
                            struct voyage_truth *truth)
{
    struct trial *t = trial_new(settings, NULL);

    assert_non_null(t);
    voyage_sail(v, settings, t, truth);
    *r = trial_finish(t);
    assert_non_null(*r);
    return t;
}

static const struct trial_check *check_named(const struct trial_report *r, const char *name)
{
    for (int i = 0; i < r->checks; i++)
        if (strcmp(r->check[i].name, name) == 0)
            return &r->check[i];
    fail_msg("no check '%s'", name);
    return NULL;
}

static const struct trial_finding *finding(const struct trial_report *r, const char *kind)
{
    for (int i = 0; i < r->findings; i++)
        if (strcmp(r->finding[i].kind, kind) == 0)
            return &r->finding[i];
    return NULL;
}

static const struct trial_point *point_at(const struct trial_report *r, double rpm, int way)
{
    for (int i = 0; i < r->points; i++)
        if (fabs(r->point[i].rpm - rpm) < 0.01 * rpm &&
            (way < 0 || (r->point[i].how != TRIAL_NO_SPEED) == way))
            return &r->point[i];
    return NULL;
}

static void usual(struct voyage *v)
{
    voyage_plain(v);
    voyage_usual(v);
}

/* --- arithmetic, against figures from outside -------------------------------------------- */

/* The exact sum over lags for a first-order process: effective numbers n / growth of textbooks on
 * autocorrelation (n 10, r 0.5: 3.85; n 20: 7.14; n 60, r 0.8: 7.20; n 600, r 0.9: 32.09). */
static void growth__first_order_noise__as_the_sum_over_lags_says(void **state)
{
    (void)state;
    assert_near(10 / trial_growth(0.5, 10), 3.85, 0.005);
    assert_near(20 / trial_growth(0.5, 20), 7.14, 0.005);
    assert_near(60 / trial_growth(0.8, 60), 7.20, 0.005);
    assert_near(600 / trial_growth(0.9, 600), 32.09, 0.005);
    assert_near(trial_growth(0, 50), 1, 0);
}

static struct trial_pair pair_at(double hours, double north, double east)
{
    return (struct trial_pair){.at_ns = (int64_t)(hours * 3600e9), north, east, 0.01};
}

/* Current 1.5 - 0.4 t, at which four runs to and fro with boat speed 20 read 21.5, 18.9, 20.7, 19.7
 * (mean of means 20.0, plain mean 20.2): half sums of neighbours give the current exactly. */
static void current__four_runs__take_out_an_even_change(void **state)
{
    static const double run[] = {21.5, -18.9, 20.7, -19.7};
    struct trial_pair pair[3];
    struct trial_current c;
    double north, east, error, mean = 0;

    (void)state;
    for (int i = 0; i < 3; i++)
        pair[i] = pair_at(i + 0.5, (run[i] + run[i + 1]) / 2, 0);
    trial_current_fit(&c, pair, 3);
    assert_int_equal(c.terms, 2);
    for (int i = 0; i < 4; i++) {
        assert_true(trial_current_at(&c, (int64_t)(i * 3600e9), &north, &east, &error));
        assert_near(north, 1.5 - 0.4 * i, 1e-9);
        assert_near(east, 0, 1e-9);
        mean += fabs(run[i] - north) / 4;
    }
    assert_near(mean, 20, 1e-9);
}

static void current__many_pairs__give_their_curve_and_scatter(void **state)
{
    struct trial_pair pair[8];
    struct trial_current c;
    double north, east, error, outside;

    (void)state;
    for (int i = 0; i < 8; i++)
        pair[i] = pair_at(0.1 * i, 1 + 0.5 * i * 0.1 + (i % 2 ? 0.05 : -0.05), -0.3 * 0.01 * i * i);
    trial_current_fit(&c, pair, 8);
    assert_int_equal(c.terms, 3);
    /* 8 pairs in two parts, 3 terms each: sum of squares 8 * 0.05^2, of which a little is fitted */
    assert_near(c.scatter_kn, sqrt(8 * 0.0025 / 10), 0.004);
    assert_true(c.walk_kn2_h > 0);
    assert_true(trial_current_at(&c, (int64_t)(0.35 * 3600e9), &north, &east, &error));
    assert_near(north, 1 + 0.5 * 0.35, 0.03);
    assert_near(east, -0.3 * 0.35 * 0.35, 0.001);
    assert_true(trial_current_at(&c, (int64_t)(2 * 3600e9), &north, &east, &outside));
    assert_true(outside > 5 * error);
    trial_current_fit(&c, pair, 0);
    assert_false(trial_current_at(&c, 0, &north, &east, &error));
    assert_near(north, 0, 0);
}

/* --- one cause at a time ------------------------------------------------------------------- */

static void neutral__drifting_at_0_9_kn__is_no_run(void **state)
{
    (void)state;
    for (int no_gear = 0; no_gear < 2; no_gear++) {
        const struct trial_report *r;
        struct voyage v;
        struct trial *t;

        usual(&v);
        v.drift_kn = 0.9;
        v.current_kn = 0.5;
        v.no_gear = no_gear;
        t = sailed(&v, &r, NULL);
        assert_non_null(point_at(r, v.idle_rpm, 0));
        assert_null(point_at(r, v.idle_rpm, 1));
        assert_true(isnan(point_at(r, v.idle_rpm, 0)->cost));
        assert_near(r->law[0].exponent, 3, 3 * r->law[0].exponent_error);
        trial_free(t);
    }
}

static void one_course_warm_up__makes_no_negative_economy(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    usual(&v);
    v.current_kn = 1.6;
    v.set_deg = 220;
    t = sailed(&v, &r, NULL);
    assert_true(r->has_best);
    assert_near(r->best.x, voyage_economical_kn(&v, 952, 2800), 2 * r->best.x_error);
    for (int i = 0; i < r->points; i++)
        assert_false(r->point[i].cost <= 0);
    /* the warm-up run: one way, corrected by the current of the pairs */
    assert_int_equal(point_at(r, 1960, 1)->how, TRIAL_CORRECTED);
    assert_near(point_at(r, 1960, 1)->speed_kn, voyage_speed_kn(&v, 1960),
                2 * point_at(r, 1960, 1)->speed_error);
    trial_free(t);
}

static void one_way_alone__is_in_no_curve_and_its_error_is_not_known(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    voyage_plain(&v);
    v.current_kn = 1;
    for (int i = 0; i < 5; i++)
        voyage_add(&v, 0.5 + 0.1 * i, 40, 400);
    t = sailed(&v, &r, NULL);
    assert_true(r->points >= 4);
    for (int i = 0; i < r->points; i++) {
        assert_int_equal(r->point[i].how, TRIAL_ONE_WAY);
        assert_true(isnan(r->point[i].speed_error));
        assert_true(isnan(r->point[i].cost));
        assert_true(isnan(r->point[i].range_nmi));
        assert_false(trial_through_water(&r->point[i]));
    }
    assert_false(r->has_best);
    trial_free(t);
}

static void log_through_water__nothing_to_hold_it_against__has_its_error(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    voyage_plain(&v);
    v.log_gain = 1;
    for (int i = 0; i < 4; i++)
        voyage_add(&v, 0.6 + 0.1 * i, 40, 400);
    t = sailed(&v, &r, NULL);
    assert_int_equal(r->point[0].how, TRIAL_WATER);
    assert_near(r->point[0].speed_error, 0.03 * r->point[0].speed_kn, 0.02);
    assert_true(isfinite(r->point[0].cost));
    assert_true(isnan(r->log_factor));
    trial_free(t);
}

static void log_that_reads_6_percent_high__is_reported(void **state)
{
    (void)state;
    for (int high = 0; high < 2; high++) {
        const struct trial_report *r;
        struct voyage v;
        struct trial *t;

        usual(&v);
        v.log_gain = high ? 1.06 : 1;
        v.current_kn = 0.8;
        t = sailed(&v, &r, NULL);
        assert_near(r->log_factor, 1 / v.log_gain, 0.01);
        assert_int_equal(finding(r, "log") != NULL, high);
        if (high)
            assert_non_null(strstr(finding(r, "log")->text, "too much"));
        trial_free(t);
    }
}

static void dead_sensor__gets_no_pass(void **state)
{
    (void)state;
    for (int dead = 0; dead < 2; dead++) {
        const struct trial_report *r;
        struct voyage v;
        struct trial *t;

        usual(&v);
        if (dead)
            v.space_stuck_c = 22;
        t = sailed(&v, &r, NULL);
        assert_int_equal(check_named(r, "engine space over outside air")->verdict,
                         dead ? TRIAL_NOT_SHOWN : TRIAL_PASS);
        trial_free(t);
    }
}

static void boxes_that_stop_for_good__are_found(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;
    int silent = 0;

    (void)state;
    usual(&v);
    t = sailed(&v, &r, NULL);
    assert_null(finding(r, "silent"));
    assert_null(finding(r, "holes"));
    assert_int_equal(r->holes, 0);
    trial_free(t);
    v.position_stops_s = 2500;
    v.exhaust_stops_s = 2500;
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->findings; i++)
        silent += strcmp(r->finding[i].kind, "silent") == 0;
    assert_int_equal(silent, 1); /* two exhausts and the position, in one line */
    const char *text = finding(r, "silent")->text;
    assert_non_null(strstr(text, "exhaust.0"));
    assert_non_null(strstr(text, "exhaust.1"));
    assert_non_null(strstr(text, "course and speed over ground"));
    assert_non_null(strstr(text, " fell silent at "));
    trial_free(t);
    v.position_stops_s = 2300;
    silent = 0;
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->findings; i++)
        silent += strcmp(r->finding[i].kind, "silent") == 0;
    assert_int_equal(silent, 2);
    trial_free(t);
}

/* One engine is stopped and its boxes go dark with its key while the other one goes on: that is
 * nothing to look at. The same at speed is: one line, and it fits. */
static void one_engine_dark__with_its_key_or_at_speed(void **state)
{
    (void)state;
    for (int key = 0; key < 2; key++) {
        const struct trial_report *r;
        struct voyage v;
        int silent = 0;
        usual(&v);
        v.port_dark_s = 2500;
        v.port_key = key;
        struct trial *t = sailed(&v, &r, NULL);
        for (int i = 0; i < r->findings; i++)
            silent += strcmp(r->finding[i].kind, "silent") == 0;
        assert_int_equal(silent, key ? 0 : 1);
        if (!key) {
            const char *text = finding(r, "silent")->text;
            assert_non_null(strstr(text, "rpm.0, "));
            assert_non_null(strstr(text, " s before the end: all after it is not known"));
            assert_null(strstr(text, ".1"));
            assert_in_range(strlen(text), 100, sizeof r->finding[0].text - 2);
        }
        trial_free(t);
    }
}

static void gaps_of_150_s_in_every_400__are_counted(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;
    struct voyage_truth truth;

    (void)state;
    usual(&v);
    v.hole_every_s = 400;
    v.hole_s = 150;
    t = sailed(&v, &r, &truth);
    assert_near(r->holes, truth.seconds / 400, 1.5);
    assert_near(r->hole_s / truth.seconds, 150.0 / 400, 0.02);
    assert_non_null(finding(r, "holes"));
    trial_free(t);
}

static void full_throttle__twins_6_percent_apart__stays_with_a_word(void **state)
{
    const struct trial_report *r;
    const struct trial_point *top;
    struct voyage v;
    struct trial *t;

    (void)state;
    usual(&v);
    for (int i = 0; i < v.legs; i++)
        v.leg[i].share[1] = fmin(v.leg[i].share[1], 0.94);
    t = sailed(&v, &r, NULL);
    top = &r->point[r->points - 1];
    assert_near(top->rpm, 2800 * 0.97, 5);
    assert_int_equal(top->how, TRIAL_RECIPROCAL);
    assert_near(top->apart, 0.0619, 0.002);
    assert_non_null(finding(r, "apart"));
    assert_int_equal(check_named(r, "burn alike")->verdict, TRIAL_PASS);
    trial_free(t);
}

static void levers_apart__are_left_out_with_a_reason(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;
    int apart = 0;

    (void)state;
    usual(&v);
    voyage_add(&v, 0.7, 40, 400);
    v.leg[v.legs - 1].share[1] = 0.3;
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->steps; i++) {
        apart += r->step[i].left == TRIAL_LEFT_APART;
        assert_int_equal(r->step[i].point >= 0, r->step[i].left == TRIAL_TAKEN);
    }
    assert_int_equal(apart, 1);
    trial_free(t);
}

static void squat__accuses_no_exact_meter(void **state)
{
    static const double squats[] = {-0.02, -0.01, 0.01, 0.02};

    (void)state;
    for (int i = 0; i < 4; i++) {
        const struct trial_report *r;
        struct voyage_truth truth;
        struct voyage v;
        struct trial *t;

        usual(&v);
        v.squat = squats[i];
        t = sailed(&v, &r, &truth);
        assert_null(finding(r, "meter"));
        assert_true(r->still);
        for (int e = 0; e < 2; e++) {
            assert_near(r->meter[e].factor, 1, 2.5 * r->meter[e].error);
            assert_true(r->meter[e].error < 0.01);
        }
        trial_free(t);
    }
}

static void levels_read_under_way_alone__widen_the_error(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    voyage_plain(&v);
    v.squat = 0.02;
    voyage_add(&v, 0.4, 40, 600);
    voyage_add(&v, 0.9, 40, 1500);
    t = sailed(&v, &r, NULL);
    assert_false(r->still);
    assert_null(finding(r, "meter"));
    assert_near(r->meter[0].factor, 1, 3 * r->meter[0].error);
    assert_true(r->meter[0].error > 0.05);
    trial_free(t);
}

static void one_engine_on_two_tanks__has_its_meter_judged(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    usual(&v);
    v.engines = 1;
    v.meter[0] = 1.05;
    t = sailed(&v, &r, NULL);
    assert_near(r->meter[0].factor, 1 / 1.05, 2.5 * r->meter[0].error);
    assert_non_null(finding(r, "meter"));
    assert_non_null(strstr(finding(r, "meter")->text, "its tanks"));
    trial_free(t);
}

static void two_engines_on_one_tank__are_judged_together_alone(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    usual(&v);
    v.tanks = 1;
    v.meter[0] = v.meter[1] = 1.05;
    t = sailed(&v, &r, NULL);
    assert_true(isnan(r->meter[0].factor));
    assert_near(r->factor, 1 / 1.05, 2.5 * r->factor_error);
    trial_free(t);
}

/* 1.2 degrees a second: the turn to the reciprocal takes two and a half minutes. */
static void slow_turn__next_step_begins_after_it(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;
    double began = 0;
    int ways = 0;

    (void)state;
    voyage_plain(&v);
    v.turn_deg_s = 1.2;
    voyage_add(&v, 0.6, 40, 900);
    voyage_add(&v, 0.6, 220, 600);
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->steps; i++) {
        double from = (double)(r->step[i].wall_ns - VOYAGE_EPOCH_NS) / 1e9;
        double to = from + r->step[i].seconds;

        /* the turn lasts from 900 to 1050 s; its end is known within a few seconds */
        assert_true(to < 905 || from > 1050);
        ways += from > 1050;
        began = from > 1050 ? from : began;
    }
    assert_int_equal(ways, 1);
    assert_true(began < 1085);
    trial_free(t);
}

/* Over the ground the two runs are 110 degrees apart, through the water they are reciprocal. */
static void slow_runs_in_a_cross_current__are_seen_as_reciprocal(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    usual(&v);
    v.current_kn = 2;
    v.set_deg = 130;
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];

        if (p->how == TRIAL_NO_SPEED || p->steps < 2)
            continue;
        assert_int_equal(p->how, TRIAL_RECIPROCAL);
        assert_near(p->speed_kn, voyage_speed_kn(&v, p->rpm), 3 * p->speed_error);
        assert_near(p->current_kn, 2, 0.15);
        assert_near(p->set_deg, 130, 3);
    }
    trial_free(t);
}

static void coolant_in_whole_kelvins__does_not_split_a_run(void **state)
{
    const struct trial_report *fine, *coarse;
    struct voyage v;
    struct trial *a, *b;

    (void)state;
    usual(&v);
    a = sailed(&v, &fine, NULL);
    v.coolant_step_k = 1;
    b = sailed(&v, &coarse, NULL);
    assert_near(coarse->steps, fine->steps, 1);
    trial_free(a);
    trial_free(b);
}

static void highest_exhaust__of_the_whole_trial__is_kept(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;
    double steady = 0;

    (void)state;
    usual(&v);
    v.legs = 3;
    voyage_add(&v, 1, 40, 50); /* too short to be a step */
    voyage_add(&v, 0.4, 40, 300);
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->steps; i++)
        steady = fmax(steady, r->step[i].engine[0].exhaust.high);
    const struct trial_high *h = r->high;
    while (h < r->high + r->highs && strcmp(h->key, "exhaust.0") != 0)
        h++;
    assert_true(h < r->high + r->highs);
    assert_true(h->highest > steady + 5);
    assert_near((double)(h->highest_ns - VOYAGE_EPOCH_NS) / 1e9, 200 + 120 + 700 + 50, 20);
    trial_free(t);
}

static void cold_boat__one_sensor_off__is_named(void **state)
{
    (void)state;
    for (int off = 0; off < 3; off++) {
        const struct trial_report *r;
        struct voyage v;
        struct trial *t;

        usual(&v);
        v.legs = 4;
        v.coolant_off_k = off == 1 ? 7 : 0;
        v.warm_start = off == 2;
        t = sailed(&v, &r, NULL);
        assert_int_equal(check_named(r, "temperatures alike before the start")->verdict,
                         off == 0   ? TRIAL_PASS
                         : off == 1 ? TRIAL_FAIL
                                    : TRIAL_NOT_SHOWN);
        if (off == 1)
            assert_non_null(
                strstr(check_named(r, "temperatures alike before the start")->text, "coolant.1"));
        trial_free(t);
    }
}

static void twins__coolant_7_k_apart__fails(void **state)
{
    (void)state;
    for (int off = 0; off < 2; off++) {
        const struct trial_report *r;
        struct voyage v;
        struct trial *t;

        usual(&v);
        v.coolant_off_k = off ? 7 : 0;
        t = sailed(&v, &r, NULL);
        assert_int_equal(check_named(r, "coolant alike")->verdict, off ? TRIAL_FAIL : TRIAL_PASS);
        assert_int_equal(check_named(r, "oil temperature alike")->verdict, TRIAL_PASS);
        assert_int_equal(check_named(r, "oil pressure alike")->verdict, TRIAL_PASS);
        trial_free(t);
    }
}

/* Two meters of 1 % on flows of 80 L/h and more, fuel temperatures unknown: the burn at low speed
 * is a small difference of large figures. What is stated covers the truth at every speed, and is
 * that of both meters, not the scatter of their difference. */
static void feed_and_return__the_error_is_that_of_both_meters(void **state)
{
    struct config_messages *messages = NULL;
    struct settings *plain = settings, *both;
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;
    int n = 0;

    (void)state;
    both = config_load(program_file("both.conf", "[channel fuel-rate.0]\nfeed = fuel-rate.10\n"
                                                 "return = fuel-rate.11\n"
                                                 "[channel fuel-rate.1]\nfeed = fuel-rate.12\n"
                                                 "return = fuel-rate.13\n"
                                                 "[channel fuel-rate.10]\naccuracy = 1 %\n"
                                                 "[channel fuel-rate.11]\naccuracy = 1 %\n"
                                                 "[channel fuel-rate.12]\naccuracy = 1 %\n"
                                                 "[channel fuel-rate.13]\naccuracy = 1 %\n"),
                       &messages);
    config_messages_free(messages);
    assert_non_null(both);
    settings = both;
    usual(&v);
    v.return_lph = 80;
    v.meter[0] = 1.008;
    v.meter[1] = 0.993;
    t = sailed(&v, &r, NULL);
    for (int i = 0; i < r->points; i++) {
        const struct trial_point *p = &r->point[i];

        if (p->how == TRIAL_NO_SPEED || !p->has_burn)
            continue;
        n++;
        assert_near(p->burn_lph, voyage_burn_lph(&v, p->rpm), 2 * p->burn_error);
        /* each engine: hypot of 1 % of both flows and 20 K of expansion on the return (as the
         * board's burn-error has it, tests/plant/test_derive.c): 1.75 L/h and more */
        assert_true(2 * p->burn_error > 1.7 * sqrt(2));
        assert_true(2 * p->burn_error < 4.2 * sqrt(2));
    }
    assert_true(n >= 6);
    assert_int_not_equal(check_named(r, "burn alike")->verdict, TRIAL_FAIL);
    trial_free(t);
    settings = plain;
    settings_free(both);
}

static void to_keeper(void *ctx, const struct frame *f)
{
    keeper_frames(ctx, f, 1);
}

/* 127498 (engine static data): instance, then the rated speed in quarters of a turn a minute. */
static void rated_speed__said_by_the_engine__is_used_unless_configured(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        struct trial *t = trial_new(settings, NULL);
        struct keeper *k = keeper_new(settings, &(struct keeper_options){.escalate = false});
        const struct trial_report *r;
        struct voyage v;

        usual(&v);
        double own = i == 0 ? v.rated_rpm : 1.4 * v.rated_rpm;
        unsigned raw = (unsigned)(own * 4);
        settings->trial.rated_rpm = i == 2 ? v.rated_rpm : 0;
        assert_true(t && k && trial_begin(t, k, "made/up.log"));
        for (uint8_t e = 0; e < 2; e++) {
            struct frame f = {
                .flags = FRAME_EXTENDED,
                .id = 0x15F20A10U + e,
                .len = 8,
                .wall_ns = VOYAGE_EPOCH_NS - NS_PER_S,
                .mono_ns = NS_PER_S,
                .data = {0x00, 3, e, (uint8_t)raw, (uint8_t)(raw >> 8), 0xFF, 0xFF, 0xFF}};
            keeper_frames(k, &f, 1);
        }
        voyage_frames(&v, to_keeper, k, NULL);
        trial_end(t);
        keeper_free(k);
        r = trial_finish(t);
        settings->trial.rated_rpm = 0;
        assert_near(r->rated_rpm[1], own, 0.25);
        const struct trial_check *c = check_named(r, "revs at full throttle, STARBOARD");
        assert_int_equal(c->verdict, i == 1 ? TRIAL_FAIL : TRIAL_PASS);
        if (i < 2)
            assert_non_null(strstr(c->text, "(rated by its own word)"));
        else
            assert_null(strstr(c->text, "own word"));
        trial_free(t);
    }
}

static void speed_log_6_percent_high__is_named_with_its_factor(void **state)
{
    const struct trial_report *r;
    struct voyage v;
    struct trial *t;

    (void)state;
    usual(&v);
    v.log_gain = 1.06;
    t = sailed(&v, &r, NULL);
    assert_near(r->log_factor, 1 / 1.06, 2 * r->log_error + 0.001);
    assert_non_null(finding(r, "log"));
    assert_non_null(strstr(finding(r, "log")->text, "much"));
    trial_free(t);
    v.log_gain = 1;
    t = sailed(&v, &r, NULL);
    assert_null(finding(r, "log"));
    trial_free(t);
}

/* A row in miles has gallons and Fahrenheit in it, and nothing metric. */
static void units__of_a_row__are_one_system(void **state)
{
    static const struct {
        const char *units;
        const char *has[6], *lacks[6];
    } systems[] = {
        {"[units]\nspeed = mph\nvolume = gal\nflow = gal/h\ntemperature = F\npressure = psi\n",
         {"mph", "gal/h", "gal/mi", "\302\260F", "psi", " mi"},
         {" kn ", "L/h", "nmi", "\302\260C", "kPa", " K"}},
        {"",
         {"kn", "L/h", "L/nmi", "\302\260C", "kPa", "nmi"},
         {"mph", "gal", "/mi", "\302\260F", "psi", "km"}},
    };

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct config_messages *messages = NULL;
        struct settings *plain = settings;
        const struct trial_report *r;
        struct voyage v;
        char *text = NULL;
        size_t len = 0;

        settings = config_load(program_file("units.conf", systems[i].units), &messages);
        config_messages_free(messages);
        assert_non_null(settings);
        usual(&v);
        v.coolant_off_k = 7;
        v.current_kn = 0.7;
        v.log_gain = 1.06;
        struct trial *t = sailed(&v, &r, NULL);
        FILE *out = open_memstream(&text, &len);
        trial_write_text(out, r, &(struct trial_write_options){.utc = true});
        fclose(out);
        for (int k = 0; k < 6; k++) {
            if (!strstr(text, systems[i].has[k]))
                fail_msg("no '%s'", systems[i].has[k]);
            const char *at = strstr(text, systems[i].lacks[k]);
            if (at)
                fail_msg("'%s' in '%.60s'", systems[i].lacks[k], at - 20);
        }
        free(text);
        trial_free(t);
        settings_free(settings);
        settings = plain;
    }
}

/* --- all together --------------------------------------------------------------------------- */

static void random_voyages__stated_errors_hold_the_truth(void **state)
{
    struct coverage c = {0};

    (void)state;
    for (uint64_t seed = 5000; seed < 5040; seed++)
        coverage_add(&c, settings, seed);
    assert_int_equal(c.invented, 0);
    assert_int_equal(c.false_best, 0);
    for (int f = 0; f < COVER_FIGURES; f++) {
        /* 40 boats: wider bounds than the bench's, which draws hundreds */
        if (c.figure[f].n < 40)
            continue;
        if (!(coverage_held(&c.figure[f]) >= 87))
            fail_msg("%s: %.1f %% held", coverage_name((enum coverage_figure)f),
                     coverage_held(&c.figure[f]));
        if (!(coverage_wide(&c.figure[f]) <= 1.6))
            fail_msg("%s: %.2f times too wide", coverage_name((enum coverage_figure)f),
                     coverage_wide(&c.figure[f]));
    }
    assert_true(c.figure[COVER_SPEED].n > 250);
    assert_true(c.figure[COVER_BEST].n >= 5);
    coverage_free(&c);
}

static int setup(void **state)
{
    struct config_messages *messages = NULL;

    (void)state;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    return settings ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    settings_free(settings);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(growth__first_order_noise__as_the_sum_over_lags_says),
        cmocka_unit_test(current__four_runs__take_out_an_even_change),
        cmocka_unit_test(current__many_pairs__give_their_curve_and_scatter),
        cmocka_unit_test(neutral__drifting_at_0_9_kn__is_no_run),
        cmocka_unit_test(one_course_warm_up__makes_no_negative_economy),
        cmocka_unit_test(one_way_alone__is_in_no_curve_and_its_error_is_not_known),
        cmocka_unit_test(log_through_water__nothing_to_hold_it_against__has_its_error),
        cmocka_unit_test(log_that_reads_6_percent_high__is_reported),
        cmocka_unit_test(dead_sensor__gets_no_pass),
        cmocka_unit_test(boxes_that_stop_for_good__are_found),
        cmocka_unit_test(one_engine_dark__with_its_key_or_at_speed),
        cmocka_unit_test(gaps_of_150_s_in_every_400__are_counted),
        cmocka_unit_test(full_throttle__twins_6_percent_apart__stays_with_a_word),
        cmocka_unit_test(levers_apart__are_left_out_with_a_reason),
        cmocka_unit_test(squat__accuses_no_exact_meter),
        cmocka_unit_test(levels_read_under_way_alone__widen_the_error),
        cmocka_unit_test(one_engine_on_two_tanks__has_its_meter_judged),
        cmocka_unit_test(two_engines_on_one_tank__are_judged_together_alone),
        cmocka_unit_test(slow_turn__next_step_begins_after_it),
        cmocka_unit_test(slow_runs_in_a_cross_current__are_seen_as_reciprocal),
        cmocka_unit_test(coolant_in_whole_kelvins__does_not_split_a_run),
        cmocka_unit_test(highest_exhaust__of_the_whole_trial__is_kept),
        cmocka_unit_test(cold_boat__one_sensor_off__is_named),
        cmocka_unit_test(twins__coolant_7_k_apart__fails),
        cmocka_unit_test(feed_and_return__the_error_is_that_of_both_meters),
        cmocka_unit_test(rated_speed__said_by_the_engine__is_used_unless_configured),
        cmocka_unit_test(speed_log_6_percent_high__is_named_with_its_factor),
        cmocka_unit_test(units__of_a_row__are_one_system),
        cmocka_unit_test(random_voyages__stated_errors_hold_the_truth),
    };

    return cmocka_run_group_tests(tests, setup, teardown);
}
