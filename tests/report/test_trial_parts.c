/* The parts of a sea trial by themselves, on series made up second by second: means and their
 * errors, senders that hang or fall silent, exchanged probes, a cold boat. The errors are held
 * against the formulas of errors.c worked out a second time, in another language. */
#include "report/one_trial.h"
#include "report/trial/write.h"

#include "base/text.h"

#include <stdlib.h>

#define EPOCH_NS (INT64_C(1777903200) * 1000000000) /* 2026-05-04 14:00 UTC */

static int begin(void **state)
{
    (void)state;
    trial_of(0);
    t->options.running_rpm = 400;
    return 0;
}

/* A log of so many seconds in which something was heard all the time. */
static void log_of(size_t seconds)
{
    t->wall_ns = calloc(seconds, sizeof *t->wall_ns);
    t->any = calloc(seconds, sizeof *t->any);
    assert_non_null(t->wall_ns);
    assert_non_null(t->any);
    for (size_t i = 0; i < seconds; i++) {
        t->wall_ns[i] = EPOCH_NS + (int64_t)i * 1000000000;
        t->any[i] = true;
    }
    t->wall_len = seconds;
}

static const struct trial_finding *found(const char *kind)
{
    for (int i = 0; i < t->report.findings; i++)
        if (strcmp(t->report.finding[i].kind, kind) == 0)
            return &t->report.finding[i];
    return NULL;
}

/* --- one mean a second --------------------------------------------------------------------- */

static void series__two_readings_in_a_second__are_their_mean(void **state)
{
    struct trial_series *s = trial_series_of(t, (struct channel_id){.quantity = QTY_COOLANT});

    (void)state;
    trial_series_add(t, s, 2, 10);
    trial_series_add(t, s, 2, 14);
    trial_series_add(t, s, 4, 20);
    trial_series_add(t, s, 3, 22); /* late: counts now */
    trial_series_close(t, s);
    assert_int_equal(s->len, 5);
    assert_true(isnan(s->mean[0]));
    assert_true(isnan(s->mean[1]));
    assert_near(s->mean[2], 12, 0);
    assert_true(isnan(s->mean[3]));
    assert_near(s->mean[4], 21, 0);
    assert_null(s->low);
    assert_int_equal(s->readings, 4);
    assert_near(s->first, 10, 0);
    assert_near(s->last, 22, 0);
    assert_near(s->lowest, 10, 0);
    assert_near(s->highest, 22, 0);
    assert_near(s->step, 2, 0); /* of 4, 6 and 2 */
    trial_series_close(t, s);
    assert_int_equal(s->len, 5);
}

static void series__battery__keeps_the_lowest_of_each_second(void **state)
{
    struct trial_series *s = trial_series_of(t, (struct channel_id){.quantity = QTY_BATTERY_VOLTS});

    (void)state;
    trial_series_add(t, s, 1, 12.5);
    trial_series_add(t, s, 1, 9.5);
    trial_series_add(t, s, 1, 11);
    trial_series_add(t, s, 2, 12);
    trial_series_close(t, s);
    assert_true(isnan(s->low[0]));
    assert_near(s->low[1], 9.5, 0);
    assert_near(s->mean[1], 11, 1e-6);
    assert_near(s->low[2], 12, 0);
}

static void series__thousands_of_seconds__keep_each(void **state)
{
    static const size_t len[] = {1023, 1024, 1025, 2048, 2049, 5000};

    (void)state;
    for (size_t k = 0; k < sizeof len / sizeof len[0]; k++) {
        struct trial_series *s = heard(QTY_BATTERY_VOLTS, (int)k, 0, (int64_t)len[k], 12);

        assert_int_equal(s->len, len[k]);
        assert_true(s->cap >= len[k]);
        for (size_t i = 0; i < len[k]; i++)
            assert_true(s->mean[i] == 12 && s->low[i] == 12);
    }
    assert_false(t->failed);
}

static void series__more_channels_than_room__have_none(void **state)
{
    (void)state;
    for (int i = 0; i < TRIAL_SERIES; i++)
        assert_non_null(trial_series_of(t, (struct channel_id){QTY_RPM, (uint8_t)i, 0}));
    assert_null(trial_series_of(t, (struct channel_id){QTY_COOLANT, 0, 0}));
    assert_ptr_equal(trial_series_of(t, (struct channel_id){QTY_RPM, 7, 0}), &t->series[7]);
    assert_int_equal(t->series_count, TRIAL_SERIES);
}

/* Blocks of ten seconds of 1, 3 and 2: their squares about 2 are 1, 1 and 0, products -1 and 0. */
static void stat__blocks_of_ten_seconds__about_their_mean(void **state)
{
    struct trial_stat s;

    (void)state;
    heard(QTY_COOLANT, 0, 0, 100, 7);
    heard(QTY_COOLANT, 0, 100, 110, 1);
    heard(QTY_COOLANT, 0, 110, 120, 3);
    heard(QTY_COOLANT, 0, 120, 130, 2);
    heard(QTY_COOLANT, 0, 130, 140, 9);
    s = trial_stat_of(t, QTY_COOLANT, 0, 100, 135);
    assert_int_equal(s.n, 35);
    assert_near(s.mean, (10 + 30 + 20 + 45) / 35.0, 1e-9);
    assert_near(s.low, 1, 0);
    assert_near(s.high, 9, 0);
    assert_near(s.blocks, 3, 0);
    assert_near(s.squares, 2, 1e-9);
    assert_near(s.products, -1, 1e-9);
    assert_true(isnan(s.error));
    assert_near(trial_stat_of(t, QTY_COOLANT, 0, 100, 130).blocks, 2, 0);
    assert_near(trial_stat_of(t, QTY_COOLANT, 0, 100, 131).blocks, 3, 0);
    assert_int_equal(trial_stat_of(t, QTY_COOLANT, 0, 130, 500).n, 10);
    assert_int_equal(trial_stat_of(t, QTY_COOLANT, 0, 140, 500).n, 0);
    assert_int_equal(trial_stat_of(t, QTY_COOLANT, 1, 0, 500).n, 0);
}

/* Two blocks with an unheard one between them are not neighbours. */
static void stat__a_block_unheard__parts_its_neighbours(void **state)
{
    struct trial_stat s;

    (void)state;
    heard(QTY_COOLANT, 0, 0, 10, 1);
    heard(QTY_COOLANT, 0, 20, 30, 3);
    heard(QTY_COOLANT, 0, 30, 41, 5);
    s = trial_stat_of(t, QTY_COOLANT, 0, 0, 41);
    assert_int_equal(s.n, 31);
    assert_near(s.blocks, 3, 0);
    assert_near(s.squares, 8, 1e-9);
    assert_near(s.products, 0, 1e-9); /* (3 - 3) (5 - 3); with the first it were -4 more */
}

/* --- errors -------------------------------------------------------------------------------- */

static struct trial_stat stat(double mean, double blocks, double squares, double products)
{
    return (struct trial_stat){.n = (int)(10 * blocks),
                               .mean = mean,
                               .blocks = blocks,
                               .squares = squares,
                               .products = products};
}

static void error_alone__by_the_formulas(void **state)
{
    static const struct {
        double blocks, squares, products, error;
    } rows[] = {
        {3, 2, -1, 0.577350269},  /* sqrt(1 / 3): nothing hangs together */
        {20, 19, 9, 0.497016487}, /* r 0.645 */
        {10, 9, 9, 2.261873663},  /* r at its bound */
        {3, 2, 1.9, 1.454791153}, /* the same where there are few */
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct trial_stat s = stat(50, rows[i].blocks, rows[i].squares, rows[i].products);

        trial_error_alone(&s);
        assert_near(s.error, rows[i].error, 1e-8);
    }
    struct trial_stat few = stat(50, 2, 1, 0);
    trial_error_alone(&few);
    assert_true(isnan(few.error));
}

/* What all steps of a channel tell is one pool; the engines of a step count each. */
static void errors__steps_of_a_channel__share_how_they_hang_together(void **state)
{
    struct trial_step *step = t->report.step;

    (void)state;
    t->report.steps = 3;
    step[0].speed_ground = stat(6, 3, 2, 0.5);
    step[1].speed_ground = stat(7, 4, 3, 0.75);
    step[2].speed_ground = stat(8, 2, 50, 50); /* too short: in no pool */
    step[0].engine[0].rpm = stat(50, 20, 19, 9);
    step[0].engine[TRIAL_ENGINES - 1].rpm = stat(100, 12, 30, 4);
    step[1].engine[1].rpm = stat(70, 2, 9, 9);
    step[2].engine[2].coolant = stat(80, 3, 2, -1);
    step[2].engine[2].gear = stat(1, 3, 2, -1);
    trial_errors_make(&t->report);
    assert_near(step[0].speed_ground.error, 0.830222608, 1e-8);
    assert_near(step[1].speed_ground.error, 0.741737245, 1e-8);
    assert_true(isnan(step[2].speed_ground.error));
    /* as a share of each mean, then in revolutions */
    assert_near(step[0].engine[0].rpm.error, 0.431986574, 1e-8);
    assert_near(step[0].engine[TRIAL_ENGINES - 1].rpm.error, 0.994458949, 1e-8);
    assert_true(isnan(step[1].engine[1].rpm.error));
    assert_near(step[2].engine[2].coolant.error, 0.577350269, 1e-8);
    assert_near(step[2].engine[2].gear.error, 0, 0); /* ahead or not: has none */
}

/* --- senders that hang --------------------------------------------------------------------- */

static void stuck__never_moved_while_the_engine_did__is_told(void **state)
{
    (void)state;
    log_of(200);
    heard(QTY_RPM, 0, 0, 100, 600);
    heard(QTY_RPM, 0, 100, 200, 1800);
    heard(QTY_COOLANT, 0, 0, 60, 81.5);
    heard(QTY_OIL_TEMP, 0, 0, 59, 90);     /* too few */
    heard(QTY_BOOST, 0, 0, 200, 101);      /* not watched */
    heard(QTY_OIL_PRESSURE, 1, 0, 200, 0); /* no speed known */
    heard(QTY_EXHAUST, 0, 0, 100, 40);
    heard(QTY_EXHAUST, 0, 100, 200, 40.5);
    trial_senders_add(t);
    assert_non_null(found("stuck"));
    assert_string_equal(found("stuck")->text, "coolant.0 said 81.5 °C 60 times and nothing else: "
                                              "sender stuck?");
    assert_string_equal(found("stuck")->channel, "coolant.0");
    int told = 0;
    for (int i = 0; i < t->report.findings; i++)
        told += strcmp(t->report.finding[i].kind, "stuck") == 0;
    assert_int_equal(told, 1);
}

/* From a third above the speed that counts as running. */
static void stuck__engine_that_idled__says_nothing(void **state)
{
    (void)state;
    log_of(200);
    heard(QTY_RPM, 0, 0, 200, 533);
    heard(QTY_RPM, 1, 0, 200, 534);
    heard(QTY_COOLANT, 0, 0, 200, 60);
    heard(QTY_COOLANT, 1, 0, 200, 60);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 1);
    assert_string_equal(t->report.finding[0].channel, "coolant.1");
}

/* --- senders that fall silent -------------------------------------------------------------- */

static void silent__for_more_than_a_minute__is_told_with_its_time(void **state)
{
    (void)state;
    log_of(400);
    heard(QTY_RPM, 0, 0, 400, 1800);
    heard(QTY_COOLANT, 0, 0, 339, 80);
    heard(QTY_COOLANT, 0, 338, 339, 81);
    heard(QTY_OIL_TEMP, 0, 0, 340, 90); /* 60 s before the end: not yet */
    heard(QTY_OIL_TEMP, 0, 339, 340, 91);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 1);
    assert_string_equal(t->report.finding[0].kind, "silent");
    assert_string_equal(t->report.finding[0].channel, "coolant.0");
    assert_string_equal(t->report.finding[0].text,
                        "coolant.0 fell silent at 14:05:38 UTC, 61 s before the end: all after it "
                        "is not known");
}

static void silent__few_readings__were_never_there(void **state)
{
    (void)state;
    log_of(400);
    heard(QTY_RPM, 0, 0, 400, 1800);
    heard(QTY_COOLANT, 0, 0, 58, 80);
    heard(QTY_COOLANT, 0, 58, 59, 81);
    heard(QTY_COOLANT, 1, 0, 59, 80);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 0);
    heard(QTY_COOLANT, 0, 59, 60, 82);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 1);
}

/* What ends within 3 s of each other was one box. */
static void silent__together__is_one_finding(void **state)
{
    (void)state;
    log_of(600);
    heard(QTY_RPM, 0, 0, 600, 1800);
    heard(QTY_COOLANT, 0, 0, 301, 80);
    heard(QTY_COOLANT, 0, 0, 301, 81);
    heard(QTY_BATTERY_VOLTS, 0, 0, 304, 12);
    heard(QTY_BATTERY_VOLTS, 1, 0, 298, 12);
    heard(QTY_BATTERY_VOLTS, 2, 0, 305, 12);
    heard(QTY_NONE, TRIAL_NORTH, 0, 302, 5);
    heard(QTY_NONE, TRIAL_EAST, 0, 302, 5);
    heard(QTY_SPEED_GROUND, 0, 0, 302, 5);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 2);
    assert_string_equal(t->report.finding[0].text,
                        "coolant.0, battery-volts.0, battery-volts.1, course and speed over ground "
                        "fell silent at 14:05:00 UTC, 299 s before the end: all after it is not "
                        "known");
    assert_string_equal(t->report.finding[1].channel, "battery-volts.2");
}

static void silent__more_than_a_line_holds__are_counted(void **state)
{
    (void)state;
    log_of(600);
    heard(QTY_RPM, 0, 0, 600, 1800);
    for (int i = 0; i < 12; i++)
        heard(QTY_BATTERY_VOLTS, i, 0, 300, 12);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 1);
    assert_string_equal(t->report.finding[0].text,
                        "battery-volts.0, battery-volts.1, battery-volts.2, battery-volts.3, "
                        "battery-volts.4, battery-volts.5, battery-volts.6 and 5 more fell silent "
                        "at 14:04:59 UTC, 300 s before the end: all after it is not known");
}

/* The key of an engine darkens its boxes: nobody misses them unless it ran on, or another did long
 * after. */
static void silent__with_the_key__is_not_missed(void **state)
{
    (void)state;
    log_of(600);
    heard(QTY_RPM, 0, 0, 300, 1800);
    heard(QTY_RPM, 0, 300, 305, 300);
    heard(QTY_RPM, 1, 0, 600, 1800);
    heard(QTY_COOLANT, 0, 0, 300, 80);
    heard(QTY_COOLANT, 0, 0, 300, 81);
    trial_senders_add(t);
    assert_null(found("silent"));
}

static void silent__with_an_engine_that_ran_to_its_end__is_missed(void **state)
{
    (void)state;
    log_of(600);
    heard(QTY_RPM, 0, 0, 300, 1800);
    heard(QTY_RPM, 1, 0, 600, 1800);
    heard(QTY_COOLANT, 0, 0, 300, 80);
    trial_senders_add(t);
    assert_non_null(found("silent"));
    assert_string_equal(found("silent")->channel, "rpm.0");
}

static void away__longer_than_a_minute_while_others_spoke__is_told(void **state)
{
    (void)state;
    log_of(600);
    heard(QTY_RPM, 0, 0, 600, 1800);
    heard(QTY_BATTERY_VOLTS, 0, 100, 200, 12); /* what came before its first is no gap */
    heard(QTY_BATTERY_VOLTS, 0, 261, 600, 12);
    heard(QTY_BATTERY_VOLTS, 1, 0, 200, 12); /* 60 s */
    heard(QTY_BATTERY_VOLTS, 1, 260, 600, 12);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 1);
    assert_string_equal(t->report.finding[0].text, "battery-volts.0 was away for up to 61 s while "
                                                   "others spoke; heard in 87 % of the seconds");
}

/* Seconds in which nobody spoke are no fault of one sender. */
static void away__while_the_bus_was_silent__is_not_told(void **state)
{
    (void)state;
    log_of(600);
    for (int i = 220; i < 230; i++)
        t->any[i] = false;
    heard(QTY_RPM, 0, 0, 600, 1800);
    heard(QTY_BATTERY_VOLTS, 0, 0, 200, 12);
    heard(QTY_BATTERY_VOLTS, 0, 270, 600, 12); /* 70 s, of which 60 are its own */
    heard(QTY_BATTERY_VOLTS, 1, 0, 200, 12);
    heard(QTY_BATTERY_VOLTS, 1, 271, 600, 12);
    trial_senders_add(t);
    assert_int_equal(t->report.findings, 1);
    assert_string_equal(t->report.finding[0].channel, "battery-volts.1");
}

/* --- whose probe is whose ------------------------------------------------------------------ */

/* Two engines that took turns at working hard; each exhaust is hotter while the other worked. */
static void take_turns(int blocks, double easy_rpm, double sign)
{
    for (int b = 0; b < blocks; b++) {
        bool port = b / 4 % 2 == 0;
        int64_t from = 30 * b, to = from + 30;

        heard(QTY_RPM, 0, from, to, port ? 2000 : easy_rpm);
        heard(QTY_RPM, 1, from, to, port ? easy_rpm : 2000);
        heard(QTY_EXHAUST, 0, from, to, 60 + (port ? sign : -sign) * (10 + b % 3));
        heard(QTY_EXHAUST, 1, from, to, 60);
    }
}

static void exchanged__exhausts_that_follow_the_other_engine__are_told(void **state)
{
    (void)state;
    text_copy(t->report.engine_names[0], sizeof t->report.engine_names[0], "port");
    text_copy(t->report.engine_names[1], sizeof t->report.engine_names[1], "starboard");
    log_of(30 * 16);
    take_turns(16, 1000, -1);
    trial_senders_add(t);
    assert_near(t->pair_n, 12, 0); /* of each four the first has not lasted yet */
    assert_int_equal(t->pair_apart, 12);
    trial_senders_finish(t);
    assert_non_null(found("exchanged"));
    assert_string_equal(found("exchanged")->channel, "exhaust.0");
    assert_string_equal(found("exchanged")->text, "exhaust.0 follows starboard's work and "
                                                  "exhaust.1 follows port's: the probes are "
                                                  "exchanged");
}

static void exchanged__own_engine_or_too_little_told__is_not(void **state)
{
    static const struct {
        int blocks;
        double easy_rpm, sign;
        int n;
    } rows[] = {
        {16, 1000, 1, 12},  /* as it should be */
        {9, 1000, -1, 6},   /* too short */
        {16, 1900, -1, 12}, /* worked alike: (2000^2 - 1900^2) / 2000^2 is 0.0975 */
        {16, 390, -1, 0},   /* one of them never ran */
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            end(state);
            begin(state);
        }
        log_of((size_t)(30 * rows[i].blocks));
        take_turns(rows[i].blocks, rows[i].easy_rpm, rows[i].sign);
        trial_senders_add(t);
        assert_near(t->pair_n, rows[i].n, 0);
        trial_senders_finish(t);
        assert_null(found("exchanged"));
    }
}

/* Work is the square of speed, as a share of the highest of both: (3000^2 - 2000^2) / 3000^2.
 * Speeds that only just came do not count yet; 0.05 more than the half minute before are just come.
 */
static void exchanged__work__as_a_share_of_the_highest_speed(void **state)
{
    (void)state;
    for (int faster = 0; faster < 2; faster++) {
        double port = faster ? 2000 : 3000, x = faster ? -5 / 9.0 : 5 / 9.0;

        end(state);
        begin(state);
        log_of(30 * 4 + 29); /* a last block that is not full */
        heard(QTY_RPM, 0, 0, 149, port);
        heard(QTY_RPM, 1, 0, 149, 5000 - port);
        heard(QTY_EXHAUST, 0, 0, 149, 70);
        heard(QTY_EXHAUST, 1, 0, 149, 58);
        trial_senders_add(t);
        assert_near(t->pair_n, 3, 0);
        assert_near(t->pair_x, 3 * x, 1e-9);
        assert_near(t->pair_y, 36, 1e-9);
        assert_near(t->pair_xx, 3 * x * x, 1e-9);
        assert_near(t->pair_xy, 36 * x, 1e-9);
        assert_near(t->pair_yy, 432, 1e-9);
        assert_int_equal(t->pair_apart, 3);
    }
    static const struct {
        double then;
        int n;
    } rows[] = {{1949, 2}, {1948, 1}}; /* 1 - 0.975^2 = 0.0494, with 1948 over 0.05 */
    for (size_t i = 0; i < 2; i++) {
        end(state);
        begin(state);
        log_of(60);
        heard(QTY_RPM, 0, 0, 60, 2000);
        heard(QTY_RPM, 1, 0, 30, 2000);
        heard(QTY_RPM, 1, 30, 60, rows[i].then + 1);
        heard(QTY_EXHAUST, 0, 0, 60, 70);
        heard(QTY_EXHAUST, 1, 0, 60, 58);
        trial_senders_add(t);
        assert_near(t->pair_n, rows[i].n, 0);
        assert_int_equal(t->pair_apart, 0);
    }
}

/* Sums of pairs whose means are zero: their correlation is that of the products. */
static void exchanged__enough_pairs_that_go_against_their_work__are_told(void **state)
{
    static const struct {
        int n, apart;
        double r;
        bool told;
    } rows[] = {
        {8, 4, -0.61, true},  {7, 4, -0.61, false}, {8, 3, -0.61, false},
        {8, 4, -0.59, false}, {8, 4, 0.61, false},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (i > 0) {
            end(state);
            begin(state);
        }
        t->pair_n = rows[i].n;
        t->pair_apart = rows[i].apart;
        t->pair_xx = rows[i].n;
        t->pair_yy = 4 * rows[i].n;
        t->pair_xy = rows[i].r * 2 * rows[i].n;
        trial_senders_finish(t);
        assert_int_equal(found("exchanged") != NULL, rows[i].told);
    }
    /* the same about means of 3 and 5 */
    end(state);
    begin(state);
    t->pair_n = 8;
    t->pair_apart = 4;
    t->pair_x = 8 * 3;
    t->pair_y = 8 * 5;
    t->pair_xx = 8 + 8 * 9;
    t->pair_yy = 8 * 4 + 8 * 25;
    t->pair_xy = -0.61 * 16 + 8 * 15;
    trial_senders_finish(t);
    assert_non_null(found("exchanged"));
}

/* --- a cold boat --------------------------------------------------------------------------- */

static void cold__before_the_first_start__the_middle_and_who_is_furthest(void **state)
{
    (void)state;
    log_of(100);
    heard(QTY_RPM, 0, 0, 10, 0);
    heard(QTY_RPM, 0, 10, 100, 600);
    heard(QTY_COOLANT, 0, 0, 10, 18);
    heard(QTY_COOLANT, 0, 10, 100, 80); /* after the start: not cold */
    heard(QTY_OIL_TEMP, 0, 0, 10, 19);
    heard(QTY_EXHAUST, 0, 0, 10, 20);
    heard(QTY_EXHAUST_GAS, 0, 7, 10, 15); /* three seconds are enough */
    heard(QTY_EXHAUST, 1, 8, 10, 90);     /* two are not */
    heard(QTY_SEA, 0, 0, 10, 5);          /* goes its own way */
    trial_senders_add(t);
    assert_int_equal(t->report.cold_heard, 4);
    assert_near(t->report.cold_c, 18.5, 1e-6); /* between 18 and 19 */
    assert_near(t->report.cold_spread_k, -3.5, 1e-6);
    assert_string_equal(t->report.cold_off, "exhaust-gas.0");
    assert_int_equal(t->report.cold_apart, 0);
}

static void cold__five_heard__take_the_middle_one(void **state)
{
    (void)state;
    log_of(100);
    heard(QTY_RPM, 0, 0, 10, 0);
    heard(QTY_RPM, 0, 10, 100, 600);
    heard(QTY_COOLANT, 0, 0, 10, 18);
    heard(QTY_COOLANT, 1, 0, 10, 22);
    heard(QTY_OIL_TEMP, 0, 0, 10, 19);
    heard(QTY_EXHAUST, 0, 0, 10, 14.5);
    heard(QTY_ENGINE_SPACE, 0, 0, 10, 23.5);
    trial_senders_add(t);
    assert_int_equal(t->report.cold_heard, 5);
    assert_near(t->report.cold_c, 19, 1e-6);
    assert_near(t->report.cold_spread_k, -4.5, 1e-6); /* the first of two as far off */
    assert_int_equal(t->report.cold_apart, 2);        /* more than 4 K off */
}

static void cold__three_heard_or_already_running__says_nothing(void **state)
{
    (void)state;
    log_of(100);
    heard(QTY_RPM, 0, 0, 10, 0);
    heard(QTY_RPM, 0, 10, 100, 600);
    heard(QTY_COOLANT, 0, 0, 10, 18);
    heard(QTY_OIL_TEMP, 0, 0, 10, 19);
    heard(QTY_EXHAUST, 0, 0, 10, 14.5);
    trial_senders_add(t);
    assert_int_equal(t->report.cold_heard, 0);
    end(state);
    begin(state);
    log_of(100);
    heard(QTY_RPM, 0, 0, 100, 400); /* as fast as one that runs */
    for (int i = 0; i < 4; i++)
        heard(QTY_COOLANT, i, 0, 100, 18);
    trial_senders_add(t);
    assert_int_equal(t->report.cold_heard, 0);
    end(state);
    begin(state);
    log_of(100); /* it was stopped in the first second: nothing of it is cold */
    heard(QTY_RPM, 0, 0, 1, 600);
    heard(QTY_RPM, 0, 1, 50, 0);
    heard(QTY_RPM, 0, 50, 100, 600);
    for (int i = 0; i < 4; i++)
        heard(QTY_COOLANT, i, 0, 100, 80);
    trial_senders_add(t);
    assert_int_equal(t->report.cold_heard, 0);
}

/* The lines of the text report from its steady steps on; asserts that none passes 100 columns. */
static char *steps_text_of(int engines, const char *const names[])
{
    struct trial_report *whole = calloc(1, sizeof *whole);
    static char text[60000];
    assert_non_null(whole);
    whole->settings = settings;
    whole->engines = engines;
    whole->steps = 3;
    whole->step = calloc(3, sizeof *whole->step);
    assert_non_null(whole->step);
    for (int e = 0; e < engines; e++)
        text_copy(whole->engine_names[e], sizeof whole->engine_names[e], names[e]);
    for (int i = 0; i < whole->steps; i++) {
        whole->step[i] = (struct trial_step){.wall_ns = EPOCH_NS,
                                             .seconds = 3600,
                                             .settle_s = 180,
                                             .engines = (uint8_t)((1u << engines) - 1),
                                             .has_course = true,
                                             .course_deg = 359,
                                             .left = i == 0   ? TRIAL_LEFT_UNHEARD
                                                     : i == 1 ? TRIAL_LEFT_APART
                                                              : TRIAL_TAKEN};
        struct trial_step *s = &whole->step[i];
        s->speed_ground = s->speed_water = s->space = (struct trial_stat){.n = 9, .mean = 24.25};
        for (int e = 0; e < engines; e++)
            s->engine[e].rpm = (struct trial_stat){.n = 9, .mean = 2250 + e};
    }
    FILE *out = fmemopen(text, sizeof text, "w");
    trial_write_text(out, whole, &(struct trial_write_options){.utc = true});
    fclose(out);
    free(whole->step);
    free(whole);
    char *from = strstr(text, "Steady steps");
    char *to = from ? strstr(from, "  settled: ") : NULL;
    assert_non_null(to);
    *to = '\0';
    for (char *line = strtok(from, "\n"), *next; line; line = next) {
        next = strtok(NULL, "\n");
        if (text_width(line) > 100)
            fail_msg("%d columns: %s", text_width(line), line);
        if (next)
            line[strlen(line)] = '\n';
    }
    return from;
}

static char *steps_text(int engines)
{
    static const char *const names[] = {"PORT OUTER", "PORT", "STARBOARD",  "STARBOARD OUTER",
                                        "WING A",     "MID",  "LÄNGSSEITS", "WING B"};
    return steps_text_of(engines, names);
}

/* Two blanks, five names with their numbers, a comma and a blank between each: 99 columns; with
 * a letter more the comma after the last of them could find no room. */
static void steps__names_up_to_the_edge__share_a_line(void **state)
{
    (void)state;
    const char *names[] = {"STARBOARD OUTER1", "STARBOARD OUTER2", "STARBOARD OUTER3",
                           "STARBOARD OUTER4", "STARBOARD OUTER"};
    assert_non_null(strstr(steps_text_of(5, names), ", 4 STARBOARD OUTER4, 5 STARBOARD OUTER\n"));
    names[4] = "STARBOARD OUTER5";
    assert_non_null(
        strstr(steps_text_of(5, names), ", 4 STARBOARD OUTER4,\n  5 STARBOARD OUTER5\n"));
}

static void steps__of_many_engines__keep_within_100_columns(void **state)
{
    (void)state;
    const char *text = steps_text(2);
    assert_non_null(strstr(text, "  PORT OUTER    PORT\n"));
    for (int engines = 3; engines <= TRIAL_ENGINES && engines <= 8; engines++)
        assert_non_null(strstr(steps_text(engines), "an engine unheard"));
    text = steps_text(4);
    assert_non_null(strstr(text, "\n  1 PORT OUTER, 2 PORT, 3 STARBOARD, 4 STARBOARD OUTER\n"));
    assert_non_null(strstr(text, "  2250  2251  2252  2253   359"));
    text = steps_text(8);
    assert_non_null(strstr(text, " 2250 2251 2252 2253 2254 2255 2256 2257   359"));
    assert_non_null(strstr(text, "\n    levers apart\n"));
}

#define WITH_TRIAL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_TRIAL(series__two_readings_in_a_second__are_their_mean),
        WITH_TRIAL(series__battery__keeps_the_lowest_of_each_second),
        WITH_TRIAL(series__thousands_of_seconds__keep_each),
        WITH_TRIAL(series__more_channels_than_room__have_none),
        WITH_TRIAL(stat__blocks_of_ten_seconds__about_their_mean),
        WITH_TRIAL(stat__a_block_unheard__parts_its_neighbours),
        cmocka_unit_test(error_alone__by_the_formulas),
        WITH_TRIAL(errors__steps_of_a_channel__share_how_they_hang_together),
        WITH_TRIAL(stuck__never_moved_while_the_engine_did__is_told),
        WITH_TRIAL(stuck__engine_that_idled__says_nothing),
        WITH_TRIAL(silent__for_more_than_a_minute__is_told_with_its_time),
        WITH_TRIAL(silent__few_readings__were_never_there),
        WITH_TRIAL(silent__together__is_one_finding),
        WITH_TRIAL(silent__more_than_a_line_holds__are_counted),
        WITH_TRIAL(silent__with_the_key__is_not_missed),
        WITH_TRIAL(silent__with_an_engine_that_ran_to_its_end__is_missed),
        WITH_TRIAL(away__longer_than_a_minute_while_others_spoke__is_told),
        WITH_TRIAL(away__while_the_bus_was_silent__is_not_told),
        WITH_TRIAL(exchanged__exhausts_that_follow_the_other_engine__are_told),
        WITH_TRIAL(exchanged__own_engine_or_too_little_told__is_not),
        WITH_TRIAL(exchanged__work__as_a_share_of_the_highest_speed),
        WITH_TRIAL(exchanged__enough_pairs_that_go_against_their_work__are_told),
        WITH_TRIAL(cold__before_the_first_start__the_middle_and_who_is_furthest),
        WITH_TRIAL(cold__five_heard__take_the_middle_one),
        WITH_TRIAL(steps__of_many_engines__keep_within_100_columns),
        WITH_TRIAL(steps__names_up_to_the_edge__share_a_line),
        WITH_TRIAL(cold__three_heard_or_already_running__says_nothing),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
