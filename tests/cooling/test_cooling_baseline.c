/* What an earlier trip found normal makes the first throttle-up of the next one no stranger. */
#include "cooling/cooling_case.h"

#include "cooling/predict.h"

static const struct predict_figures own = {.lag_1_s = 6.0,
                                           .lag_2_s = 25.0,
                                           .lag_3_s = 100.0,
                                           .speed_sd = 6.0,
                                           .mismatch = 1.5,
                                           .span_s = 20.0};

static void recalled_figures__give_the_difference_between_speeds(void **state)
{
    (void)state;
    struct predict p;
    predict_init(&p, &cooling_figures, &own);
    for (int k = 0; k <= 6; k++) { /* 20 °C + 18 K u^2 */
        double u = 0.2 + 0.15 * k;
        predict_recall(&p, u, u * u, 20.0 + 18.0 * u * u, 0.2);
    }
    predict_settle(&p, 0.3, 0.09);
    double idle = predict_value(&p);
    predict_settle(&p, 1.0, 1.0);
    assert_near(predict_value(&p) - idle, 18.0 * 0.91, 2.0);
}

/* Allowance a minute after the first throttle-up of the trip, and whether all stays quiet. */
static double allowance_after_first_order(bool baseline)
{
    struct engine_case c;
    case_begin(&c, 1, 1);
    for (int k = 0; baseline && k <= 8; k++) {
        double u = 0.25 + 0.1 * k;
        cooling_normal(c.cooling, 0, COOLING_EXHAUST, u * 2500.0, 20.0 + 18.0 * u * u, 0.3);
    }
    case_run(&c, 20.0);
    case_speed(&c, 700.0);
    case_run(&c, 200.0);
    case_speed(&c, 2200.0);
    case_run(&c, 60.0);
    double allowance = cooling_verdict(c.cooling, 0, COOLING_EXHAUST)->allowance;
    case_run(&c, 600.0);
    assert_true(c.worst < 2);
    case_end(&c);
    return allowance;
}

static void first_throttle_up__with_a_baseline__is_allowed_less(void **state)
{
    (void)state;
    double without = allowance_after_first_order(false);
    assert_true(allowance_after_first_order(true) < 0.9 * without);
}

static void odd_figures__are_passed_over(void **state)
{
    (void)state;
    struct engine_case c;
    case_begin(&c, 1, 2);
    cooling_normal(c.cooling, -1, COOLING_EXHAUST, 2000.0, 40.0, 1.0);
    cooling_normal(c.cooling, COOLING_ENGINES, COOLING_EXHAUST, 2000.0, 40.0, 1.0);
    cooling_normal(c.cooling, 0, COOLING_EXHAUST, NAN, 40.0, 1.0);
    cooling_normal(c.cooling, 0, COOLING_EXHAUST, 2000.0, NAN, 1.0);
    cooling_normal(c.cooling, 0, COOLING_RPM, 2000.0, 40.0, 1.0);
    cooling_normal(c.cooling, 0, COOLING_EXHAUST, 2000.0, 40.0, -1.0);
    case_cruise(&c);
    assert_true(c.worst < 2);
    case_end(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(recalled_figures__give_the_difference_between_speeds),
        cmocka_unit_test(first_throttle_up__with_a_baseline__is_allowed_less),
        cmocka_unit_test(odd_figures__are_passed_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
