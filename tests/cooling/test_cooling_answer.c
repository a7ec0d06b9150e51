/* Lost water told from a gulp of air, on answers of lags that are not those fitted with. */
#include "cooling/answer.h"

#include <math.h>

#include "support/check.h"

#include "base/banned.h"

/* Three lags in series, none of them one of the fitted shapes; the water stays away for away_s. */
static int record(double age_s[], double x[], int most, double period_s, double now_s,
                  double away_s, double ripple_k)
{
    const double lag[3] = {0.8, 6.0, 30.0}, rise_k = 80.0, dt = 0.01;
    double y[3] = {0.0, 0.0, 0.0};
    int n = 0;
    double next = now_s - period_s * (most - 1);
    for (double t = next < 0.0 ? next : 0.0; t <= now_s + dt / 2; t += dt) {
        double in = t >= 0.0 && t < away_s ? rise_k : 0.0;
        for (int k = 0; k < 3; k++) {
            y[k] += dt / lag[k] * (in - y[k]);
            in = y[k];
        }
        if (t + dt / 2 < next || n == most)
            continue;
        age_s[n] = now_s - t;
        x[n] = y[2] + (n % 2 ? ripple_k : -ripple_k);
        n++;
        next += period_s;
    }
    return n;
}

static double fit(double period_s, double now_s, double away_s, double ripple_k)
{
    static struct answers a;
    answers_init(&a, &cooling_figures);
    double age_s[ANSWER_MOST], x[ANSWER_MOST];
    int most = (int)(14.0 / period_s) + 1;
    int n = record(age_s, x, most < ANSWER_MOST ? most : ANSWER_MOST, period_s, now_s, away_s,
                   ripple_k);
    return lost_water_fits(&a, age_s, x, n);
}

static void answer__step_at_tau_and_three_tau__as_first_order_lags_in_series(void **state)
{
    (void)state;
    static struct answers a;
    answers_init(&a, &cooling_figures);
    /* A first-order lag has gone 63.2 % of its way after tau and 95.0 % after 3 tau. Here the 8 s
     * lag dominates, and 1.2 and 2 s stand before it. */
    assert_near(a.share[0][(int)((8.0 + 3.2) / ANSWER_STEP_S)], 0.632, 0.04);
    assert_near(a.share[0][(int)((24.0 + 3.2) / ANSWER_STEP_S)], 0.950, 0.01);
    for (int k = 0; k < ANSWER_SHAPES; k++)
        for (int i = 1; i < ANSWER_STEPS; i++) {
            assert_true(a.share[k][i] >= a.share[k][i - 1]);
            assert_true(a.share[k][i] <= 1.0f);
        }
}

static void lost_water__ten_seconds__fits_better_than_any_gulp(void **state)
{
    (void)state;
    assert_true(fit(0.5, 10.0, INFINITY, 0.0) > 0.01);
    assert_true(fit(1.0, 10.0, INFINITY, 0.0) > 0.01);
    assert_true(fit(2.0, 11.0, INFINITY, 0.0) > 0.01);
}

static void gulp__of_any_length__is_explained(void **state)
{
    (void)state;
    for (double now_s = 3.0; now_s < 14.0; now_s += 1.0)
        for (double away_s = 2.0; away_s <= 5.0; away_s += 0.5) {
            double gulp = fit(1.0, now_s, away_s, 0.0);
            double lost = fit(1.0, fmax(now_s, 9.0), INFINITY, 0.0);
            assert_true(gulp < 0.3 * lost);
        }
}

static void lost_water__within_five_seconds__cannot_be_told(void **state)
{
    (void)state;
    assert_near(fit(0.5, 4.0, INFINITY, 0.0), fit(0.5, 4.0, 5.0, 0.0), 1e-9);
    assert_true(fit(0.5, 4.0, INFINITY, 0.0) < 1e-3);
}

static void flat__with_ripple__is_neither(void **state)
{
    (void)state;
    assert_true(fit(1.0, 0.0, 0.0, 0.3) < 0.3 * 0.3 * 14);
    double age_s[2] = {1.0, 0.0}, x[2] = {1.0, 1.0};
    static struct answers a;
    answers_init(&a, &cooling_figures);
    assert_near(lost_water_fits(&a, age_s, x, 2), 0.0, 1e-12);
    assert_near(lost_water_fits(&a, age_s, x, 1), 0.0, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answer__step_at_tau_and_three_tau__as_first_order_lags_in_series),
        cmocka_unit_test(lost_water__ten_seconds__fits_better_than_any_gulp),
        cmocka_unit_test(gulp__of_any_length__is_explained),
        cmocka_unit_test(lost_water__within_five_seconds__cannot_be_told),
        cmocka_unit_test(flat__with_ripple__is_neither),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
