/* No alert stands whose own value is within its own expectation and allowance. Swept over sixty
 * odd days: starts, throttles, gulps, lost water, wild, stuck and coarse sensors. */
#include "cooling/cooling_case.h"

#include "base/banned.h"

static uint64_t draws;

static double draw(double low, double high)
{
    draws = draws * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return low + (high - low) * (double)(draws >> 40) / 16777216.0;
}

static double wild_share, stuck_until_s, held;

static void spoil(long index, double now_s, bool *good, double *value)
{
    (void)index;
    if (draw(0.0, 1.0) < wild_share)
        *value += draw(-60.0, 150.0);
    if (draw(0.0, 1.0) < 0.003)
        stuck_until_s = now_s + draw(5.0, 100.0);
    if (now_s < stuck_until_s)
        *value = held;
    else
        held = *value;
    *good = draw(0.0, 1.0) > 0.01;
}

static int stood[COOLING_ASKS + 1];

static void look(const struct engine_case *c)
{
    static const enum cooling_sensor sensors[] = {COOLING_EXHAUST, COOLING_EXHAUST_GAS,
                                                  COOLING_COOLANT, COOLING_OIL_TEMP};
    for (int i = 0; i < c->engines; i++)
        for (size_t s = 0; s < sizeof sensors / sizeof *sensors; s++) {
            const struct cooling_verdict *v = cooling_verdict(c->cooling, i, sensors[s]);
            if (v->level == 0)
                continue;
            stood[v->kind]++;
            if (v->kind == COOLING_AGAIN)
                assert_true(v->times >= 1);
            else if (v->kind == COOLING_ASKS)
                assert_int_equal(v->cause, CAUSE_DRY_OR_WET);
            else
                assert_true(v->value > v->expected + v->allowance);
        }
}

static void watch(struct engine_case *c, double seconds)
{
    for (double left = seconds; left > 0.0; left -= CASE_STEP_S) {
        case_run(c, CASE_STEP_S);
        look(c);
    }
}

/* One day: what is asked of the engines changes every 5 to 300 s, and so does the water. */
static void day(uint64_t seed)
{
    struct engine_case c;
    draws = seed * UINT64_C(2654435761) + 1;
    case_begin(&c, 1 + (int)(seed % 2), seed + 1);
    c.period_s = draw(0.5, 4.0);
    c.step_k = draw(0.0, 1.0) < 0.3 ? 1.0 : 0.1;
    c.noise_k = draw(0.03, 0.5);
    wild_share = draw(0.0, 1.0) < 0.5 ? 0.0 : draw(0.0, 0.03);
    stuck_until_s = 0.0;
    c.spoil = spoil;
    for (int leg = 0; leg < 25; leg++) {
        for (int i = 0; i < c.engines; i++) {
            double u = draw(0.0, 1.0);
            c.engine[i].rpm = u < 0.15 ? 0.0 : u < 0.4 ? 700.0 : draw(900.0, 2500.0);
            u = draw(0.0, 1.0);
            c.engine[i].water = u < 0.7 ? 1.0 : u < 0.85 ? draw(0.0, 0.6) : 0.0;
        }
        watch(&c, draw(5.0, 300.0));
        for (int i = 0; i < c.engines; i++) /* a gulp ends, a failure is seen to */
            c.engine[i].water = draw(0.0, 1.0) < 0.8 ? 1.0 : c.engine[i].water;
        watch(&c, draw(5.0, 200.0));
    }
    if (seed <= 6) { /* an hour at one speed, in which less and less water comes */
        case_speed(&c, 2000.0);
        c.engine[0].water = c.engine[1].water = 1.0;
        watch(&c, 1500.0);
        for (int k = 0; k < 100; k++) {
            c.engine[0].water -= 0.003;
            watch(&c, 15.0);
        }
    }
    case_end(&c);
}

static void every_alert__stands_above_its_own_expectation_and_allowance(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 60; seed++)
        day(seed);
    /* The sweep has met them. */
    assert_true(stood[COOLING_RISE] > 0);
    assert_true(stood[COOLING_DEPARTURE] > 0);
    assert_true(stood[COOLING_AGAIN] > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_alert__stands_above_its_own_expectation_and_allowance),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
