/* Standard errors of a step's means, against figures worked out by hand: the closed form of the sum
 * over lags of a correlation that falls as r^k (the textbook's geometric series), and what GUM
 * (JCGM 100) 4.2.3 gives where readings are independent. */
#include "report/trial/inside.h"

#include "config/config.h"
#include "support/check.h"

#include <stdlib.h>

/* 1 + 2 sum over k of (1 - k/n) r^k, summed up. */
static double closed_form(double r, double n)
{
    return 1 + 2 * (r / (1 - r) - r * (1 - pow(r, n)) / (n * (1 - r) * (1 - r)));
}

static void growth__is_the_closed_form_of_its_sum(void **state)
{
    (void)state;
    assert_near(trial_growth(0, 30), 1, 0);
    assert_near(trial_growth(0.9, 1), 1, 0); /* of one reading nothing can grow */
    assert_near(trial_growth(0.5, 2), 1.5, 1e-12);
    assert_near(trial_growth(0.5, 3), 11.0 / 6, 1e-12);
    for (double r = 0.1; r < 0.96; r += 0.05)
        for (double n = 2; n < 40; n++)
            assert_near(trial_growth(r, n), closed_form(r, n), 1e-9);
}

static double alone(double blocks, double squares, double products)
{
    struct trial_stat s = {.n = (int)(blocks * 10),
                           .mean = 50,
                           .blocks = blocks,
                           .squares = squares,
                           .products = products,
                           .error = -1};
    trial_error_alone(&s);
    return s.error;
}

/* Three means of 10 s, nothing in common: s / sqrt(3), s by the two degrees of freedom. */
static void independent__the_textbooks_error_of_a_mean(void **state)
{
    (void)state;
    assert_near(alone(3, 6, 0), sqrt(6.0 / 2 / 3), 1e-12);
    assert_near(alone(3, 6, -5), sqrt(6.0 / 2 / 3), 1e-12); /* going to and fro helps nothing */
    assert_near(alone(3, 0, 0), 0, 0);
    assert_true(isnan(alone(2, 6, 0))); /* of fewer than three nothing can be told */
    assert_true(isnan(alone(0, 0, 0)));
    assert_true(isfinite(alone(3, 6, 6)));
}

/* Ten means whose neighbours' products are 0.18 of their squares: nine pairs of ten, 0.2; put right
 * for having been taken about their own mean, (0.2 + 1/10) / (1 - 3/10) = 3/7. */
static void that_hang_together__more_than_the_textbooks(void **state)
{
    double g = closed_form(3.0 / 7, 10);

    (void)state;
    assert_near(alone(10, 90, 16.2), sqrt(90 / (10 - g) * g / 10), 1e-9);
    assert_true(alone(10, 90, 16.2) > 1.5 * sqrt(90.0 / 9 / 10));
}

/* Three may show any correlation and four almost any: put right that is 0.95, and no more. */
static void few__as_much_as_can_be_meant(void **state)
{
    double g = closed_form(0.95, 4);

    (void)state;
    assert_near(alone(3, 6, 2),
                sqrt((6 + 8 * 6 / fmax(3 - closed_form(0.5, 3), 1)) /
                     (3 - closed_form(0.5, 3) + 8) * closed_form(0.5, 3) / 3),
                1e-9);
    assert_near(alone(4, 6, 0), sqrt(6 * 9 / (4 - g + 8) * g / 4), 1e-9);
    assert_near(alone(4, 6, 6), alone(4, 6, 0), 1e-12);
}

/* ---- over all steps ---- */

static struct settings *settings;
static struct trial *t;

static int begin(void **state)
{
    struct config_messages *messages = NULL;

    (void)state;
    settings = config_load(NULL, &messages);
    config_messages_free(messages);
    t = settings ? trial_new(settings, NULL) : NULL;
    return t ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    trial_free(t);
    settings_free(settings);
    return 0;
}

static void set(struct trial_stat *s, double mean, double squares)
{
    *s = (struct trial_stat){.n = 30, .mean = mean, .blocks = 3, .squares = squares, .error = -1};
}

/* Two steps of three blocks each, of which one shows no spread and the other 6: there are four
 * degrees of freedom in all, 1.5 each; eight blocks of that stand beside a step's own two. The
 * first has (0 + 12) / 10, the second (6 + 12) / 10. */
static void each_quantity__steadied_by_all_steps(void **state)
{
    struct trial_report *r = &t->report;

    (void)state;
    r->steps = 2;
    for (int i = 0; i < 2; i++) {
        struct trial_step *s = &r->step[i];
        struct trial_engine *e = &s->engine[0];
        struct trial_stat *const of_step[] = {
            &s->speed_ground, &s->speed_water, &s->north, &s->east, &s->space, &s->air, &s->sea};
        struct trial_stat *const of_engine[] = {&e->exhaust,  &e->exhaust_gas, &e->coolant,
                                                &e->oil_temp, &e->load,        &e->torque,
                                                &e->boost,    &e->alternator};
        struct trial_stat *const shares[] = {&e->rpm, &e->oil_pressure, &e->fuel_rate};
        *s = (struct trial_step){0};
        for (int k = 0; k < 7; k++)
            set(of_step[k], 10 + 10 * i, 6 * i);
        for (int k = 0; k < 8; k++)
            set(of_engine[k], 10 + 10 * i, 6 * i);
        for (int k = 0; k < 3; k++) /* the same spread as a share of the mean */
            set(shares[k], i ? -200 : 100, i ? 6 * 200 * 200 : 0);
    }
    trial_errors_make(r);
    for (int i = 0; i < 2; i++) {
        const struct trial_step *s = &r->step[i];
        const struct trial_engine *e = &s->engine[0];
        double wanted = sqrt((i ? 1.8 : 1.2) / 3);
        const double plain[] = {s->speed_ground.error, s->speed_water.error, s->north.error,
                                s->east.error,         s->space.error,       s->air.error,
                                s->sea.error,          e->exhaust.error,     e->exhaust_gas.error,
                                e->coolant.error,      e->oil_temp.error,    e->load.error,
                                e->torque.error,       e->boost.error,       e->alternator.error};
        for (int k = 0; k < 15; k++)
            assert_near(plain[k], wanted, 1e-12);
        assert_near(e->rpm.error, wanted * (i ? 200 : 100), 1e-9);
        assert_near(e->oil_pressure.error, wanted * (i ? 200 : 100), 1e-9);
        assert_near(e->fuel_rate.error, wanted * (i ? 200 : 100), 1e-9);
        assert_true(isnan(s->engine[1].rpm.error)); /* not heard */
        assert_true(isnan(s->engine[TRIAL_ENGINES - 1].load.error));
    }
}

/* A step of another engine steadies too; one too short for an error of its own does not. */
static void every_engine__steadies_and_is_told(void **state)
{
    struct trial_report *r = &t->report;
    struct trial_engine *e = r->step[0].engine;

    (void)state;
    r->steps = 1;
    r->step[0] = (struct trial_step){0};
    set(&e[0].coolant, 80, 0);
    set(&e[TRIAL_ENGINES - 1].coolant, 80, 6);
    set(&e[1].coolant, 80, 100);
    e[1].coolant.blocks = 2;
    trial_errors_make(r);
    assert_near(e[0].coolant.error, sqrt(1.2 / 3), 1e-12);
    assert_near(e[TRIAL_ENGINES - 1].coolant.error, sqrt(1.8 / 3), 1e-12);
    assert_true(isnan(e[1].coolant.error));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(growth__is_the_closed_form_of_its_sum),
        cmocka_unit_test(independent__the_textbooks_error_of_a_mean),
        cmocka_unit_test(that_hang_together__more_than_the_textbooks),
        cmocka_unit_test(few__as_much_as_can_be_meant),
        cmocka_unit_test_setup_teardown(each_quantity__steadied_by_all_steps, begin, end),
        cmocka_unit_test_setup_teardown(every_engine__steadies_and_is_told, begin, end),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
