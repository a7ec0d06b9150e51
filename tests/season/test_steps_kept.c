/* What is kept of a steady step: load, sea and air beside it, which steps of a trip become one,
 * what was read before the first start, and what is said while it goes on. Reckoned by hand from
 * steps.h; an alternator's volts settle in 120 s and come in pieces of 60 s. */
#include "trip_case.h"

/* ---- what stands beside a step ---- */

static void load__the_best_that_is_known(void **state)
{
#define P SEASON_LOAD_PERCENT
#define T SEASON_LOAD_TORQUE
#define F SEASON_LOAD_FUEL_RATE
#define B SEASON_LOAD_BOOST
#define O SEASON_LOAD_OIL_TEMP
#define R SEASON_LOAD_REST_VOLTS
    static const struct {
        enum quantity q;
        bool unknown[SEASON_LOADS];
        enum season_load best;
    } table[] = {
        {QTY_EXHAUST, {0}, P},
        {QTY_EXHAUST, {[P] = true}, T},
        {QTY_EXHAUST, {[P] = true, [T] = true}, F},
        {QTY_EXHAUST, {[P] = true, [T] = true, [F] = true}, B},
        {QTY_EXHAUST, {[P] = true, [T] = true, [F] = true, [B] = true}, SEASON_LOAD_NONE},
        {QTY_FUEL_RATE, {[P] = true}, T},
        {QTY_FUEL_RATE, {[P] = true, [T] = true}, B}, /* never by itself */
        {QTY_FUEL_RATE, {[P] = true, [T] = true, [B] = true}, SEASON_LOAD_NONE},
        {QTY_BOOST, {[P] = true, [T] = true}, F},
        {QTY_BOOST, {[P] = true, [T] = true, [F] = true}, SEASON_LOAD_NONE},
        {QTY_OIL_PRESSURE, {0}, O}, /* goes with the oil's temperature alone */
        {QTY_OIL_PRESSURE, {[O] = true}, SEASON_LOAD_NONE},
        {QTY_BATTERY_VOLTS, {0}, R}, /* and cranking with what the battery stood at */
        {QTY_BATTERY_VOLTS, {[R] = true}, SEASON_LOAD_NONE},
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double load[SEASON_LOADS], value = 0;
        for (int l = 0; l < SEASON_LOADS; l++)
            load[l] = table[i].unknown[l] ? (double)NAN : 10 + l;
        assert_int_equal(season_load_best(table[i].q, load, &value), table[i].best);
        if (table[i].best == SEASON_LOAD_NONE)
            assert_true(isnan(value));
        else
            assert_near(value, 10 + (int)table[i].best, 0);
    }
}

/* Of 60 readings: a load is one that was known beside half of them, sea and air beside more. */
static void beside_a_step__known_for_half_of_it(void **state)
{
    static const struct {
        int known_s;
        bool load, sea;
    } table[] = {{29, false, false}, {30, true, false}, {31, true, true}, {60, true, true}};
    (void)state;
    for (int i = 0; i < 4; i++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        struct season_step s[4];
        t.sea_c = t.air_c = NAN;
        go(&t, 2000, 120 + 60 - table[i].known_s);
        t.engine.load[SEASON_LOAD_BOOST] = 50;
        t.sea_c = 16;
        t.air_c = 25;
        go(&t, 2000, table[i].known_s - 10);
        t.engine.load[SEASON_LOAD_BOOST] += 8;
        t.sea_c += 4;
        t.air_c += 2;
        go(&t, 2000, 10);
        assert_int_equal(steps_of(&t, QTY_ALTERNATOR, false, s), 1);
        assert_near(s[0].minutes, 1, 1e-9);
        if (table[i].load)
            assert_near(s[0].load, 50 + 80.0 / table[i].known_s, 1e-9);
        assert_int_equal(s[0].load_kind, table[i].load ? SEASON_LOAD_BOOST : SEASON_LOAD_NONE);
        assert_int_equal(isfinite(s[0].load) != 0, table[i].load);
        assert_int_equal(isfinite(s[0].sea_c) != 0, table[i].sea);
        assert_int_equal(isfinite(s[0].air_c) != 0, table[i].sea);
        if (table[i].sea) {
            assert_near(s[0].sea_c, 16 + 40.0 / table[i].known_s, 1e-9);
            assert_near(s[0].air_c, 25 + 20.0 / table[i].known_s, 1e-9);
        }
        end(&t);
    }
}

static void step__of_its_engine__the_engine_space_of_the_boat(void **state)
{
    struct trip t = begin_with(QTY_OIL_TEMP, 95);
    struct season_step s[4];
    (void)state;
    t.engine.instance = 3;
    *value_of(&t, QTY_ENGINE_SPACE) = 40;
    t.zigzag = 0.1;
    go(&t, 2000, 780);
    assert_int_equal(steps_of(&t, QTY_OIL_TEMP, false, s), 1);
    assert_int_equal(s[0].id.place, 3);
    assert_near(s[0].mean, 95, 1e-9);
    assert_near(s[0].spread, 0.1, 1e-6);
    assert_int_equal(steps_of(&t, QTY_ENGINE_SPACE, false, s), 1);
    assert_int_equal(s[0].id.place, 0);
    assert_near(s[0].spread, 0, 1e-6);
    end(&t);
}

/* ---- steps that are one ---- */

struct half {
    double rpm, load, sea_c, air_c;
    enum season_load kind;
};

static void sail(struct trip *t, const struct half *h, int seconds)
{
    for (int l = 0; l < SEASON_LOADS; l++)
        t->engine.load[l] = NAN;
    t->engine.load[h->kind] = h->load;
    t->sea_c = h->sea_c;
    t->air_c = h->air_c;
    go(t, h->rpm, seconds);
}

/* Speeds within 4 % of the first, loads within 10 %, of one kind; sea and air known in both or in
 * neither. */
static void steps_of_a_trip__alike__become_one(void **state)
{
    static const struct half first = {2000, 50, 12, 20, SEASON_LOAD_PERCENT};
    static const struct {
        struct half second;
        int steps;
    } table[] = {
        {{2079, 50, 12, 20, SEASON_LOAD_PERCENT}, 1},
        {{2081, 50, 12, 20, SEASON_LOAD_PERCENT}, 2},
        {{1921, 50, 12, 20, SEASON_LOAD_PERCENT}, 1},
        {{1919, 50, 12, 20, SEASON_LOAD_PERCENT}, 2},
        {{2000, 54.9, 12, 20, SEASON_LOAD_PERCENT}, 1},
        {{2000, 55.1, 12, 20, SEASON_LOAD_PERCENT}, 2},
        {{2000, 45.1, 12, 20, SEASON_LOAD_PERCENT}, 1},
        {{2000, 44.9, 12, 20, SEASON_LOAD_PERCENT}, 2},
        {{2000, 50, 12, 20, SEASON_LOAD_TORQUE}, 2},
        {{2000, 50, NAN, 20, SEASON_LOAD_PERCENT}, 2},
        {{2000, 50, 12, NAN, SEASON_LOAD_PERCENT}, 2},
        {{2000, 50, 22, 30, SEASON_LOAD_PERCENT}, 1},
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        struct season_step s[4];
        sail(&t, &first, 180);
        go(&t, 0, 1);
        sail(&t, &table[i].second, 150);
        assert_int_equal(steps_of(&t, QTY_ALTERNATOR, false, s), table[i].steps);
        end(&t);
    }
}

/* 60 s and 30 s: two thirds of the one, a third of the other. */
static void joined__each_counts_by_its_time(void **state)
{
    static const struct half first = {2000, 50, 12, 20, SEASON_LOAD_PERCENT};
    static const struct half second = {2060, 53, 15, 26, SEASON_LOAD_PERCENT};
    struct trip t = begin_with(QTY_ALTERNATOR, 14);
    struct season_step s[4];
    (void)state;
    t.zigzag = 0.2;
    sail(&t, &first, 180);
    t.zigzag = 0;
    go(&t, 0, 1);
    *value_of(&t, QTY_ALTERNATOR) = 14.3;
    t.zigzag = 0.1;
    sail(&t, &second, 152); /* 32 s: the swing has no trend in whole fours */
    assert_int_equal(steps_of(&t, QTY_ALTERNATOR, false, s), 1);
    double part = 32.0 / 92;
    assert_near(s[0].minutes * 60, 92, 1e-9);
    assert_near(s[0].mean, 14 + part * 0.3, 1e-9);
    assert_near(s[0].rpm, 2000 + part * 60, 1e-9);
    assert_near(s[0].load, 50 + part * 3, 1e-9);
    assert_near(s[0].sea_c, 12 + part * 3, 1e-9);
    assert_near(s[0].air_c, 20 + part * 6, 1e-9);
    /* of 30 readings each at 13.8 and 14.2, 16 each at 14.2 and 14.4 */
    double m = s[0].mean;
    double square =
        30 * (13.8 - m) * (13.8 - m) + 46 * (14.2 - m) * (14.2 - m) + 16 * (14.4 - m) * (14.4 - m);
    assert_near(s[0].spread, sqrt(square / 92), 1e-6);
    assert_true(s[0].wall_ns == FIRST + 120 * S);
    end(&t);
}

/* Eight engines, each with its own steps; the ninth has no room. Nine channels at ten speeds of
 * each would be 720 steps: 600 are kept. */
static void engines_and_steps__as_many_as_there_is_room_for(void **state)
{
    struct steps_second engines[9];
    struct steps *steps = steps_new();
    bool seen[9] = {false};
    int64_t now = FIRST;
    int count;
    (void)state;
    assert_non_null(steps);
    for (int speed = 0; speed < 10; speed++)
        for (int n = 0; n < 700; n++, now += S) {
            for (int e = 0; e < 9; e++) {
                engines[e] = (struct steps_second){
                    .instance = (uint8_t)e, .running = true, .rpm = 1300 + 150 * speed};
                for (int l = 0; l < SEASON_LOADS; l++)
                    engines[e].load[l] = NAN;
                for (int k = 0; k < 16; k++)
                    engines[e].value[k] = 50 + e;
            }
            steps_second(steps, now, 12, 20, engines, 9);
        }
    steps_close(steps);
    const struct season_step *s = steps_found(steps, &count);
    assert_int_equal(count, 600);
    for (int i = 0; i < count; i++) {
        seen[s[i].id.place] = true;
        if (s[i].id.quantity != QTY_ENGINE_SPACE)
            assert_near(s[i].mean, 50 + s[i].id.place, 1e-9);
    }
    for (int e = 0; e < 9; e++)
        assert_int_equal(seen[e], e < 8);
    steps_free(steps);
}

/* ---- before the start ---- */

/* Readings of an engine that stands: three at least; the latest minute counts; the starter's
 * seconds and what was read more than 600 s before do not. */
static void rest__from_three_readings(void **state)
{
    (void)state;
    for (int n = 2; n <= 3; n++) {
        struct trip t = begin_with(QTY_COOLANT, 15);
        struct season_step s[4];
        t.engine.instance = 1;
        t.per_s = 0.5;
        go(&t, 0, n + 1); /* the first second of all comes after who knows what */
        t.sea_c = 14;
        t.air_c = 17;
        go(&t, 700, 5);
        assert_int_equal(steps_of(&t, QTY_COOLANT, true, s), n == 3);
        if (n == 3) {
            assert_int_equal(s[0].id.place, 1);
            assert_near(s[0].mean, 16, 1e-9);
            assert_near(s[0].minutes, 3.0 / 60, 1e-9);
            assert_near(s[0].sea_c, 14, 0); /* of the start */
            assert_near(s[0].air_c, 17, 0);
            assert_int_equal(s[0].load_kind, SEASON_LOAD_NONE);
            assert_true(isnan(s[0].load));
            assert_true(s[0].wall_ns == FIRST + 3 * S);
        }
        end(&t);
    }
}

static void rest__temperatures_alone(void **state)
{
    struct trip t = begin_with(QTY_COOLANT, 15);
    struct season_step s[4];
    (void)state;
    for (int k = 0; k < 16; k++)
        t.engine.value[k] = 15;
    go(&t, 0, 10);
    go(&t, 700, 5);
    for (int k = 0; k < SEASON_KEPT; k++) {
        enum quantity q = season_kept[k].quantity;
        bool rests =
            q == QTY_EXHAUST || q == QTY_COOLANT || q == QTY_OIL_TEMP || q == QTY_GEAR_OIL_TEMP;
        assert_int_equal(steps_of(&t, q, true, s), rests);
    }
    end(&t);
}

static void rest__the_latest_minute_counts(void **state)
{
    struct trip t = begin_with(QTY_COOLANT, 70);
    struct season_step s[4];
    (void)state;
    go(&t, 0, 400);
    *value_of(&t, QTY_COOLANT) = 20;
    go(&t, 0, 300); /* five minutes: of the 50 K less than 1 K is left */
    go(&t, 700, 1);
    assert_int_equal(steps_of(&t, QTY_COOLANT, true, s), 1);
    assert_near(s[0].mean, 20.5, 0.5);
    assert_true(s[0].mean > 20.1); /* a mean, not the last reading */
    assert_near(s[0].minutes, 1, 0.02);
    end(&t);
}

static void rest__what_was_read_long_before__says_nothing(void **state)
{
    (void)state;
    for (int late = 0; late < 2; late++) {
        struct trip t = begin_with(QTY_COOLANT, 15);
        struct season_step s[4];
        go(&t, 0, 10);
        *value_of(&t, QTY_COOLANT) = NAN;
        go(&t, 0, 600 + late);
        go(&t, 700, 1);
        assert_int_equal(steps_of(&t, QTY_COOLANT, true, s), !late);
        end(&t);
    }
}

/* The starter turns the engine, or readings go on after a gap: the first of them may be of before.
 */
static void rest__not_of_a_turning_engine_nor_across_a_gap(void **state)
{
    struct trip t = begin_with(QTY_COOLANT, 15);
    struct season_step s[4];
    (void)state;
    go(&t, 0, 10);
    t.now_ns += 100 * S;
    *value_of(&t, QTY_COOLANT) = 60;
    go(&t, 0, 1);
    t.now_ns += 5 * S; /* the next second is six later: a gap again */
    go(&t, 0, 1);
    *value_of(&t, QTY_COOLANT) = 15;
    t.now_ns += 4 * S; /* five: none */
    go(&t, 0, 1);
    *value_of(&t, QTY_COOLANT) = 60;
    t.engine.rpm = 0.5;
    steps_second(t.steps, t.now_ns, t.sea_c, t.air_c, &t.engine, 1);
    t.engine.rpm = NAN; /* unknown is no turning */
    *value_of(&t, QTY_COOLANT) = 26;
    steps_second(t.steps, t.now_ns + S, t.sea_c, t.air_c, &t.engine, 1);
    t.now_ns += 2 * S;
    go(&t, 700, 1);
    assert_int_equal(steps_of(&t, QTY_COOLANT, true, s), 1);
    assert_near(s[0].mean, (10 * 15 + 26) / 11.0, 1e-9);
    end(&t);
}

/* Once a trip: between its stops an engine is hot. A new trip begins with what was read last. */
static void rest__once_a_trip(void **state)
{
    struct trip t = begin_with(QTY_COOLANT, 15);
    struct season_step s[4];
    int count;
    (void)state;
    go(&t, 0, 10);
    go(&t, 700, 10);
    *value_of(&t, QTY_COOLANT) = 40;
    go(&t, 0, 10);
    go(&t, 700, 10);
    assert_int_equal(steps_of(&t, QTY_COOLANT, true, s), 1);
    assert_near(s[0].mean, 15, 1e-9);
    *value_of(&t, QTY_COOLANT) = 18;
    t.now_ns += 7200 * S;
    go(&t, 0, 11); /* the first of them comes after a gap */
    steps_reset(t.steps);
    steps_found(t.steps, &count);
    assert_int_equal(count, 0);
    assert_true(steps_from_ns(t.steps) == 0);
    go(&t, 700, 1);
    assert_int_equal(steps_of(&t, QTY_COOLANT, true, s), 1);
    assert_near(s[0].mean, 18, 1e-9);
    end(&t);
}

/* ---- while it goes on ---- */

static const int ALTERNATOR = 7; /* its row in kept.c */

static void now__from_half_a_piece_on__the_latest_piece(void **state)
{
    struct trip t = begin_with(QTY_ALTERNATOR, 14);
    struct steps_latest l;
    (void)state;
    assert_int_equal(season_kept_row(QTY_ALTERNATOR), ALTERNATOR);
    go(&t, 2000, 149);
    assert_false(steps_now(t.steps, 0, ALTERNATOR, &l));
    go(&t, 2000, 1);
    assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
    assert_near(l.held_s, 29, 1e-9); /* of the 120 s that it needs */
    assert_near(l.step.mean, 14, 1e-9);
    assert_near(l.step.minutes, 0.5, 1e-9);
    assert_true(l.at_rest && !l.rising);
    go(&t, 2000, 30);
    *value_of(&t, QTY_ALTERNATOR) = 15;
    go(&t, 2000, 59);
    assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
    assert_near(l.step.mean, 14, 1e-9); /* the second piece is not whole yet */
    go(&t, 2000, 1);
    assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
    assert_near(l.step.mean, 15, 1e-9);
    assert_near(l.step.minutes, 1, 1e-9);
    go(&t, 2500, 1);
    assert_false(steps_now(t.steps, 0, ALTERNATOR, &l));
    go(&t, 2500, 179);
    assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
    assert_near(l.step.rpm, 2500, 1e-9);
    assert_near(l.held_s, 59, 1e-9);
    go(&t, 0, 1);
    assert_false(steps_now(t.steps, 0, ALTERNATOR, &l));
    end(&t);
}

/* In the first half piece as in a whole one; back at rest it says so, and what falls does not rise.
 */
static void now__says_what_drifts_and_which_way(void **state)
{
    static const struct {
        double per_s;
        bool at_rest, rising;
    } table[] = {{0, true, false}, {0.01, false, true}, {-0.01, false, false}};
    (void)state;
    for (int i = 0; i < 3; i++)
        for (int whole = 0; whole < 2; whole++) {
            struct trip t = begin_with(QTY_ALTERNATOR, 14);
            struct steps_latest l;
            go(&t, 2000, 120);
            t.per_s = table[i].per_s;
            go(&t, 2000, whole ? 60 : 40);
            assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
            assert_int_equal(l.at_rest, table[i].at_rest);
            assert_int_equal(l.rising, table[i].rising);
            t.per_s = 0;
            go(&t, 2000, 60 - (whole ? 0 : 40) + (whole ? 0 : 60));
            assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
            assert_true(l.at_rest && !l.rising);
            end(&t);
        }
}

/* Warm when the coolant has stayed within 2 K for 150 s; where none is known 900 s after the start.
 */
static void now__says_whether_the_engine_is_warm(void **state)
{
    (void)state;
    for (int known = 0; known < 2; known++) {
        struct trip t = begin_with(QTY_ALTERNATOR, 14);
        struct steps_latest l;
        if (known)
            *value_of(&t, QTY_COOLANT) = 80;
        go(&t, 2000, known ? 150 : 900);
        assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
        assert_false(l.warm);
        go(&t, 2000, 1);
        assert_true(steps_now(t.steps, 0, ALTERNATOR, &l));
        assert_true(l.warm);
        end(&t);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(load__the_best_that_is_known),
        cmocka_unit_test(beside_a_step__known_for_half_of_it),
        cmocka_unit_test(step__of_its_engine__the_engine_space_of_the_boat),
        cmocka_unit_test(steps_of_a_trip__alike__become_one),
        cmocka_unit_test(joined__each_counts_by_its_time),
        cmocka_unit_test(engines_and_steps__as_many_as_there_is_room_for),
        cmocka_unit_test(rest__from_three_readings),
        cmocka_unit_test(rest__temperatures_alone),
        cmocka_unit_test(rest__the_latest_minute_counts),
        cmocka_unit_test(rest__what_was_read_long_before__says_nothing),
        cmocka_unit_test(rest__not_of_a_turning_engine_nor_across_a_gap),
        cmocka_unit_test(rest__once_a_trip),
        cmocka_unit_test(now__from_half_a_piece_on__the_latest_piece),
        cmocka_unit_test(now__says_what_drifts_and_which_way),
        cmocka_unit_test(now__says_whether_the_engine_is_warm),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
