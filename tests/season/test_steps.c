/* Which stretches of a trip are steady steps, and what is kept of them. The tables are reckoned by
 * hand from the rules in steps.h and the figures in kept.c, which are the project's own (common
 * practice, no source): a channel is gathered once its time to settle is over (half of it at idle),
 * in pieces; the last piece counts from half its length on. */
#include "trip_case.h"

/* ---- how long ---- */

static void channel__kept_from_half_a_piece_after_it_settled(void **state)
{
    static const struct {
        enum quantity q;
        int settle_s, piece_s;
    } table[] = {
        {QTY_COOLANT, 420, 120},       {QTY_OIL_TEMP, 600, 180},     {QTY_OIL_PRESSURE, 300, 120},
        {QTY_GEAR_OIL_TEMP, 600, 180}, {QTY_ENGINE_SPACE, 600, 180}, {QTY_FUEL_RATE, 60, 60},
        {QTY_ALTERNATOR, 120, 60},     {QTY_BOOST, 60, 60},
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        for (int idle = 0; idle < 2; idle++) {
            double rpm = idle ? 1199 : 1200;
            int settle = table[i].settle_s / (idle ? 2 : 1), piece = table[i].piece_s;
            const struct {
                int ran_s, kept_s;
            } rows[] = {
                {settle, 0},
                {settle + piece / 2 - 1, 0},
                {settle + piece / 2, piece / 2},
                {settle + piece, piece},
                {settle + piece + piece / 2 - 1, piece},
                {settle + piece + piece / 2, piece + piece / 2},
                {settle + 4 * piece, 4 * piece},
            };
            for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
                struct trip t = begin_with(table[i].q, 50);
                go(&t, rpm, rows[r].ran_s);
                assert_near(kept_s(&t, table[i].q), rows[r].kept_s, 1e-6);
            }
        }
}

/* What a battery reads is a matter of its starts, never of a steady speed. */
static void battery__no_step_of_a_speed(void **state)
{
    struct trip t = begin_with(QTY_BATTERY_VOLTS, 12.6);
    (void)state;
    go(&t, 2000, 2000);
    assert_near(kept_s(&t, QTY_BATTERY_VOLTS), 0, 0);
}

/* ---- the speed ---- */

/* 2.5 % of 2000 rpm and 5 rpm: 55 rpm. An alternator settles in 120 s. */
static void speed__beyond_a_fortieth_of_its_mean__begins_anew(void **state)
{
    static const struct {
        double other;
        int kept_s;
    } table[] = {{2054.9, 180}, {2055.1, 60}, {1945.1, 180}, {1944.9, 60}};
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        go(&t, 2000, 180);
        go(&t, table[i].other, 1);
        go(&t, 2000, 119);
        assert_near(kept_s(&t, QTY_ALTERNATOR), table[i].kept_s, 1e-6);
    }
}

/* The mean of 100 s at 2000 and 100 s at 2040 rpm is 2020: 55.5 rpm from there. */
static void speed__held_to_the_mean_so_far(void **state)
{
    (void)state;
    for (int far = 0; far < 2; far++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        go(&t, 2000, 100);
        go(&t, 2040, 100);
        go(&t, far ? 2076 : 2075, 1);
        go(&t, 2020, 99);
        assert_near(kept_s(&t, QTY_ALTERNATOR), far ? 60 : 180, 1e-6);
    }
}

static void step__has_the_mean_speed(void **state)
{
    struct trip t = begin_with(QTY_ALTERNATOR, 14);
    struct season_step s[4];
    (void)state;
    go(&t, 2000, 150);
    go(&t, 2030, 30);
    assert_int_equal(steps_of(&t, QTY_ALTERNATOR, false, s), 1);
    assert_near(s[0].rpm, 2015, 1e-6); /* of the 60 s that were gathered */
    assert_true(s[0].wall_ns == FIRST + 120 * S);
    end(&t);
}

/* Below 300 rpm an engine is cranked; without a speed nothing is known of it. */
static void engine__not_running__no_step(void **state)
{
    static const struct {
        double rpm;
        bool running;
        int kept_s;
    } table[] = {{299, true, 0}, {300, true, 60}, {NAN, true, 0}, {2000, false, 0}};
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        t.engine.rpm = table[i].rpm;
        t.engine.running = table[i].running;
        for (int n = 0; n < (table[i].rpm < 1200 ? 120 : 180); n++)
            steps_second(t.steps, FIRST + n * S, 12, 20, &t.engine, 1);
        assert_near(kept_s(&t, QTY_ALTERNATOR), table[i].kept_s, 1e-6);
    }
}

/* ---- time ---- */

static void seconds_that_are_missing__five_at_most(void **state)
{
    static const struct {
        int64_t apart_s;
        int kept_s;
    } table[] = {{1, 90}, {5, 90}, {6, 30}, {600, 30}};
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        go(&t, 2000, 150);
        t.now_ns += (table[i].apart_s - 1) * S;
        go(&t, 2000, 60);
        assert_near(kept_s(&t, QTY_ALTERNATOR), table[i].kept_s, 1e-6);
    }
}

/* Set back by one second, a stretch begins anew: 30 s are kept of each. The same second told again
 * is no such thing. */
static void clock_set_back__nothing_goes_on(void **state)
{
    (void)state;
    for (int back = 1; back <= 2; back++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        go(&t, 2000, 150);
        t.now_ns -= back * S;
        go(&t, 2000, 150);
        assert_near(kept_s(&t, QTY_ALTERNATOR), back == 1 ? 180 : 60, 1e-6);
    }
}

static void trip__lasts_from_the_first_start_to_the_last_stop(void **state)
{
    struct trip t = begin_with(QTY_ALTERNATOR, 14);
    (void)state;
    go(&t, 0, 10);
    assert_true(steps_from_ns(t.steps) == 0 && steps_to_ns(t.steps) == 0);
    go(&t, 700, 30);
    go(&t, 0, 10);
    go(&t, 700, 20);
    go(&t, 0, 10);
    assert_true(steps_from_ns(t.steps) == FIRST + 10 * S);
    assert_true(steps_to_ns(t.steps) == FIRST + 69 * S);
    end(&t);
}

/* ---- at rest ---- */

/* How far a piece may go by its trend: the figures of kept.c; of pressure, burn and boost shares of
 * their mean, which is 200 here. */
static void piece_that_drifts__is_not_kept(void **state)
{
    static const struct {
        enum quantity q;
        int settle_s, piece_s;
        double may;
    } table[] = {
        {QTY_COOLANT, 420, 120, 0.4},      {QTY_OIL_TEMP, 600, 180, 0.3},
        {QTY_OIL_PRESSURE, 300, 120, 3.0}, {QTY_GEAR_OIL_TEMP, 600, 180, 0.3},
        {QTY_ENGINE_SPACE, 600, 180, 0.4}, {QTY_FUEL_RATE, 60, 60, 10},
        {QTY_ALTERNATOR, 120, 60, 0.15},   {QTY_BOOST, 60, 60, 8.0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        for (int n = 0; n < 4; n++) {
            double by = table[i].may * (n / 2 ? 1.04 : 0.96) * (n % 2 ? -1 : 1);
            struct trip t = begin_with(table[i].q, 200);
            go(&t, 2000, table[i].settle_s);
            t.per_s = by / table[i].piece_s;
            go(&t, 2000, table[i].piece_s);
            assert_near(kept_s(&t, table[i].q), n / 2 ? 0 : table[i].piece_s, 1e-6);
        }
}

/* 60 readings of a spread s leave their slope uncertain by s / sqrt(60 * 3599 / 12), the textbook's
 * error of a line; over a piece of 60 s that is 0.455 s with the 58 degrees of freedom left. 2.5 of
 * these may be added to the alternator's 0.15 V: with 0.2 V of noise 0.377 V. */
static void noise__makes_a_trend_that_is_none(void **state)
{
    static const struct {
        double noise, by;
        int kept_s;
    } table[] = {{0, 0.36, 0},     {0.2, 0.36, 60}, {0.2, 0.395, 0}, {0.2, -0.36, 60},
                 {0.2, -0.395, 0}, {0.4, 0.59, 60}, {0.4, 0.62, 0}};
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        t.per_s = table[i].by / 60;
        t.zigzag = table[i].noise;
        go(&t, 2000, 180);
        assert_near(kept_s(&t, QTY_ALTERNATOR), table[i].kept_s, 1e-6);
    }
}

/* One piece drifts, those before and after it do not: their seconds are kept without it. */
static void one_piece_drifts__the_others_are_kept(void **state)
{
    struct trip t = begin_with(QTY_ALTERNATOR, 14);
    struct season_step s[4];
    (void)state;
    go(&t, 2000, 180);
    t.per_s = 0.01;
    go(&t, 2000, 60);
    t.per_s = 0;
    *value_of(&t, QTY_ALTERNATOR) = 14.6;
    go(&t, 2000, 120);
    assert_int_equal(steps_of(&t, QTY_ALTERNATOR, false, s), 1);
    assert_near(s[0].minutes, 3, 1e-9);
    assert_near(s[0].mean, (14 + 2 * 14.6) / 3, 1e-9);
    /* one of three at 14, two of three at 14.6: sqrt(1/3 * 2/3) of what lies between */
    assert_near(s[0].spread, 0.6 * sqrt(2.0 / 9), 1e-6);
    end(&t);
}

/* ---- warm ---- */

/* Pieces of an exhaust end 150, 210, 270 s after the speed was reached. The coolant comes to rest
 * when it has stayed within 2 K for 150 s. */
static void exhaust__from_when_the_coolant_rests(void **state)
{
    static const struct {
        int steps_s; /* the coolant is another from then on */
        double by;
        int kept_s;
    } table[] = {{0, 0, 60},  {59, 2.1, 60},  {60, 2.1, 0},
                 {60, 2, 60}, {59, -2.1, 60}, {60, -2.1, 0}};
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct trip t = begin_with(QTY_EXHAUST, 50);
        *value_of(&t, QTY_COOLANT) = 80;
        go(&t, 2000, table[i].steps_s);
        *value_of(&t, QTY_COOLANT) += table[i].by;
        go(&t, 2000, 210 - table[i].steps_s);
        assert_near(kept_s(&t, QTY_EXHAUST), table[i].kept_s, 1e-6);
    }
}

/* Where no coolant is known, 15 minutes after the start; the piece under way began 870 s after it.
 */
static void exhaust__without_a_coolant__from_a_quarter_of_an_hour(void **state)
{
    (void)state;
    for (int late = 0; late < 2; late++) {
        struct trip t = begin_with(QTY_EXHAUST, 50);
        go(&t, 2000, late ? 901 : 900);
        assert_near(kept_s(&t, QTY_EXHAUST), late ? 31 : 0, 1e-6);
    }
}

/* An idle is kept of a cold engine alone: not after two minutes above idle. A stop forgets them. */
static void exhaust_at_idle__not_after_work(void **state)
{
    static const struct {
        double rpm;
        int worked_s, kept_s;
        bool stops;
    } table[] = {{2000, 0, 60, false},  {2000, 119, 60, false}, {2000, 120, 0, false},
                 {1201, 120, 0, false}, {1200, 120, 60, false}, {2000, 120, 60, true},
                 {2000, 1200, 60, true}};
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct trip t = begin_with(QTY_EXHAUST, 50);
        go(&t, table[i].rpm, table[i].worked_s);
        if (table[i].stops)
            go(&t, 0, 1);
        *value_of(&t, QTY_EXHAUST) = 40;
        go(&t, 700, 45 + 60);
        struct season_step s[4];
        double idle_s = 0;
        int n = steps_of(&t, QTY_EXHAUST, false, s);
        assert_true(n <= 4);
        while (n-- > 0)
            idle_s += s[n].rpm < 1000 ? s[n].minutes * 60 : 0;
        assert_near(idle_s, table[i].kept_s, 1e-6);
        end(&t);
    }
}

/* Thicker oil opens the relief valve: pressure is kept of oil from 70 °C on, or of unknown. */
static void oil_pressure__of_hot_oil(void **state)
{
    static const struct {
        double oil_c;
        int kept_s;
    } table[] = {{69.9, 0}, {70, 120}, {90, 120}, {NAN, 120}};
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct trip t = begin_with(QTY_OIL_PRESSURE, 400);
        t.engine.load[SEASON_LOAD_OIL_TEMP] = table[i].oil_c;
        go(&t, 2000, 420);
        assert_near(kept_s(&t, QTY_OIL_PRESSURE), table[i].kept_s, 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(channel__kept_from_half_a_piece_after_it_settled),
        cmocka_unit_test(battery__no_step_of_a_speed),
        cmocka_unit_test(speed__beyond_a_fortieth_of_its_mean__begins_anew),
        cmocka_unit_test(speed__held_to_the_mean_so_far),
        cmocka_unit_test(step__has_the_mean_speed),
        cmocka_unit_test(engine__not_running__no_step),
        cmocka_unit_test(seconds_that_are_missing__five_at_most),
        cmocka_unit_test(clock_set_back__nothing_goes_on),
        cmocka_unit_test(trip__lasts_from_the_first_start_to_the_last_stop),
        cmocka_unit_test(piece_that_drifts__is_not_kept),
        cmocka_unit_test(noise__makes_a_trend_that_is_none),
        cmocka_unit_test(one_piece_drifts__the_others_are_kept),
        cmocka_unit_test(exhaust__from_when_the_coolant_rests),
        cmocka_unit_test(exhaust__without_a_coolant__from_a_quarter_of_an_hour),
        cmocka_unit_test(exhaust_at_idle__not_after_work),
        cmocka_unit_test(oil_pressure__of_hot_oil),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
