/* A trip watched with a season behind it: what is said while it goes on, and when its engines stop.
 * The boat is made up here: its exhaust stands 12 K + 30 K u^2 over the sea, u the share of 3000
 * rpm, its coolant at 80 °C; it burns 4 + 40 u^3 L/h. */
#include "season/watch.h"

#include "season/kept.h"
#include "support/check.h"

#define S     INT64_C(1000000000)
#define DAY   (INT64_C(86400) * S)
#define FIRST (INT64_C(1777881600) * S) /* 2026-05-04 08:00 UTC */

struct sail {
    struct season season;
    struct season_watch *watch;
    int64_t now_ns;
    double sea_c, hotter_k, coolant_c, burns_more; /* what is wrong with it */
    bool wears; /* hotter by a quarter of that at idle, as wear is and no probe */
};

static double exhaust_at(double rpm, double sea_c)
{
    double u = rpm / 3000;
    return sea_c + 12 + 30 * u * u;
}

static double burn_at(double rpm)
{
    double u = rpm / 3000;
    return 4 + 40 * u * u * u;
}

static void seconds(struct sail *s, double rpm, int count)
{
    for (int i = 0; i < count; i++, s->now_ns += S) {
        struct steps_second e = {.running = rpm > 0, .rpm = rpm};
        for (int k = 0; k < SEASON_LOADS; k++)
            e.load[k] = NAN;
        for (int k = 0; k < 16; k++)
            e.value[k] = NAN;
        e.value[season_kept_row(QTY_EXHAUST)] =
            exhaust_at(rpm, s->sea_c) + s->hotter_k * (s->wears && rpm < 1000 ? 0.25 : 1);
        e.value[season_kept_row(QTY_COOLANT)] = s->coolant_c;
        e.value[season_kept_row(QTY_FUEL_RATE)] = burn_at(rpm) * (1 + s->burns_more);
        season_watch_second(s->watch, s->now_ns, s->sea_c, NAN, &e, 1);
        if (rpm <= 0)
            season_watch_stopped(s->watch, &e, 1);
    }
}

static const struct season_verdict *of(struct sail *s, enum quantity q)
{
    return season_watch_verdict(s->watch, 0, season_kept_row(q));
}

/* A trip through idle and four speeds, warm from the start, kept in the season. */
static void keep_trip(struct sail *s, int64_t from_ns)
{
    static const double speeds[] = {700, 1500, 2000, 2500, 3000};
    struct season_trip trip;
    const struct season_step *steps;
    int count, overlaps;

    s->now_ns = from_ns;
    s->watch = season_watch_new(&s->season);
    for (int i = 0; i < 5; i++)
        seconds(s, speeds[i], 700);
    assert_true(season_watch_trip(s->watch, "t", &trip, &steps, &count));
    assert_true(season_add(&s->season, &trip, steps, count, &overlaps));
    season_watch_free(s->watch);
    s->watch = NULL;
}

static void begin(struct sail *s)
{
    *s = (struct sail){.sea_c = 12, .coolant_c = 80};
    for (int i = 0; i < 3; i++)
        keep_trip(s, FIRST + 2 * i * DAY);
    s->now_ns = FIRST + 20 * DAY;
    s->watch = season_watch_new(&s->season);
}

static void end(struct sail *s)
{
    season_watch_free(s->watch);
    season_free(&s->season);
}

static void healthy_trip__at_any_speed__quiet_and_not_notable(void **state)
{
    struct sail s;
    (void)state;
    begin(&s);
    for (double rpm = 1500; rpm <= 3000; rpm += 250) {
        seconds(&s, rpm, 600);
        assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
        assert_true(of(&s, QTY_EXHAUST)->live);
        assert_near(of(&s, QTY_EXHAUST)->excess, 0, 0.6);
        assert_false(season_watch_notable(of(&s, QTY_EXHAUST), season_kept_row(QTY_EXHAUST)));
    }
    seconds(&s, 0, 2);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    end(&s);
}

/* A third of the raw water gone is 10 to 15 K at two thirds of the speed (common practice, no
 * source). */
static void third_of_the_water_gone__warned_in_the_first_minutes_at_speed(void **state)
{
    struct sail s;
    (void)state;
    begin(&s);
    s.hotter_k = 12;
    seconds(&s, 700, 60);
    seconds(&s, 2200, 300);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_WARNING);
    assert_near(of(&s, QTY_EXHAUST)->said, 12, 1);
    assert_true(season_watch_notable(of(&s, QTY_EXHAUST), season_kept_row(QTY_EXHAUST)));
    s.hotter_k = 0;
    seconds(&s, 2200, 300);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    end(&s);
}

static void one_hot_minute__is_air_in_the_intake__quiet(void **state)
{
    struct sail s;
    (void)state;
    begin(&s);
    seconds(&s, 2200, 400);
    for (int i = 0; i < 3; i++) {
        s.hotter_k = 30;
        seconds(&s, 2200, 40);
        s.hotter_k = 0;
        seconds(&s, 2200, 200);
        assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    }
    end(&s);
}

/* 6 K are a caution; they are a warning where they take the exhaust over its limit at the highest
 * speed, which it kept below on the first trips. */
static void reserve_to_the_limit__used_up__warns_by_itself(void **state)
{
    struct sail s;
    (void)state;
    for (int near = 0; near < 2; near++) {
        begin(&s);
        season_watch_limit(s.watch, 0, season_kept_row(QTY_EXHAUST), near ? 60 : 93.3);
        s.hotter_k = 6; /* 54 °C at full speed in a sea of 12 °C when new */
        seconds(&s, 2200, 600);
        assert_int_equal(of(&s, QTY_EXHAUST)->level, near ? SEASON_WARNING : SEASON_CAUTION);
        assert_true(of(&s, QTY_EXHAUST)->has_reserve);
        assert_int_equal(of(&s, QTY_EXHAUST)->reserve.used_up, near);
        end(&s);
    }
}

static void burn__judged_when_the_engines_stop(void **state)
{
    struct sail s;
    (void)state;
    begin(&s);
    s.burns_more = 0.5;
    seconds(&s, 2000, 600);
    assert_int_equal(of(&s, QTY_FUEL_RATE)->level, SEASON_QUIET);
    seconds(&s, 0, 2);
    assert_int_equal(of(&s, QTY_FUEL_RATE)->level, SEASON_WARNING);
    assert_near(of(&s, QTY_FUEL_RATE)->said, 0.5, 0.03);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    end(&s);
}

/* The season's only trip began a little after this one: which of them is which shows later. */
static void own_trip__found_while_it_goes_on__is_not_compared(void **state)
{
    struct sail s = {.sea_c = 12, .coolant_c = 80};
    struct season_standing standing;
    (void)state;
    keep_trip(&s, FIRST);
    s.now_ns = FIRST - 60 * S;
    s.watch = season_watch_new(&s.season);
    s.hotter_k = 20;
    seconds(&s, 2200, 30);
    assert_non_null(of(&s, QTY_EXHAUST)->story);
    seconds(&s, 2200, 600);
    assert_null(of(&s, QTY_EXHAUST)->story);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    seconds(&s, 0, 2);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    assert_false(season_watch_standing(s.watch, 0, 0, season_kept_row(QTY_EXHAUST), &standing));
    end(&s);
}

/* While the coolant climbs the thermostat is not open yet: such minutes of an exhaust are no steps.
 */
static void cold_engine__exhaust_is_not_kept(void **state)
{
    struct sail s = {.sea_c = 12, .coolant_c = 30};
    struct season_trip trip;
    const struct season_step *steps;
    int count, exhausts = 0;
    (void)state;
    s.now_ns = FIRST;
    s.watch = season_watch_new(&s.season);
    for (int i = 0; i < 40; i++, s.coolant_c += 1.25)
        seconds(&s, 2200, 20);
    assert_true(season_watch_trip(s.watch, "t", &trip, &steps, &count));
    for (int i = 0; i < count; i++)
        exhausts += steps[i].id.quantity == QTY_EXHAUST;
    assert_int_equal(exhausts, 0);
    assert_true(count > 0); /* the burn is kept */
    end(&s);
}

/* First means first in time, whatever the order of reading. */
static void trips__read_in_any_order__tell_the_same(void **state)
{
    struct season_story story[2];
    (void)state;
    for (int turn = 0; turn < 2; turn++) {
        struct sail s = {.sea_c = 12, .coolant_c = 80};
        for (int i = 0; i < 6; i++) {
            int day = turn ? 5 - i : i;
            s.hotter_k = day < 3 ? 0 : 2.0 * (day - 2);
            keep_trip(&s, FIRST + 2 * day * DAY);
        }
        assert_true(season_tell(&s.season, (struct channel_id){.quantity = QTY_EXHAUST}, -1, NULL,
                                0, 0, &story[turn]));
        season_free(&s.season);
    }
    assert_int_equal(story[0].trips, 6);
    assert_int_equal(story[1].trips, 6);
    assert_int_equal(story[0].level, story[1].level);
    assert_int_equal(story[0].level, SEASON_CAUTION);
    for (int i = 0; i < 6; i++)
        assert_near(story[0].trip[i].excess, story[1].trip[i].excess, 1e-9);
    assert_true(season_grows(&story[0]));
    /* The slope of a line through six points two days apart: sum of (x - 2.5) y over 17.5. */
    double slope = 0;
    for (int i = 0; i < 6; i++)
        slope += (i - 2.5) * story[0].trip[i].excess / 17.5;
    assert_near(story[0].growth_per_week, slope * 3.5, 1e-6);
    assert_true(slope > 0.7 && slope < 1.3); /* of 0, 0, 0, 2, 4, 6 K: 22 / 17.5 */
    /* What is left to a limit goes at that rate, for two years ahead at most; one that was beyond
     * on the first trips already is not used up by what has grown. */
    struct season_reserve left;
    double by = season_at_speed(&story[0], 3000), excess = story[0].excess;
    double a_week = story[0].growth_per_week * by, normal = exhaust_at(3000, 12);
    assert_true(season_reserve(&story[0], 12, excess, 1000, &left));
    double reading = left.reading;
    assert_near(reading, normal + excess * by, 0.6);
    const struct {
        double limit, weeks;
        bool used_up;
    } rows[] = {{reading + 10 * a_week, 10, false},
                {reading + 103.9 * a_week, 103.9, false},
                {reading + 104.1 * a_week, NAN, false},
                {reading - 0.01, NAN, true},
                {normal - 1, NAN, false}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_true(season_reserve(&story[0], 12, excess, rows[i].limit, &left));
        assert_int_equal(left.used_up, rows[i].used_up);
        assert_near(left.rpm, 3000, 1);
        if (isnan(rows[i].weeks))
            assert_true(isnan(left.weeks));
        else
            assert_near(left.weeks, rows[i].weeks, 1e-6);
    }
    assert_false(season_reserve(&story[0], 12, excess, NAN, &left));
    assert_false(season_reserve(&story[0], 12, NAN, 60, &left));
}

/* Two engines, no sea: on the first trips both pull; then the second is left in neutral at speed,
 * its exhaust a third as far over the sea, and the first one's burn a quarter more. */
static void engine_that_runs_free__is_no_twin__and_no_load_of_a_hull(void **state)
{
    struct season season = {0};
    struct season_story story;
    (void)state;
    for (int trip = 0; trip < 6; trip++) {
        struct season_trip t = {.from_ns = FIRST + trip * DAY,
                                .to_ns = FIRST + trip * DAY + 7200 * S};
        struct season_step steps[12];
        int n = 0, overlaps;
        for (int e = 0; e < 2; e++)
            for (int k = 0; k < 3; k++) {
                double rpm = 1500 + 500 * k, load = 8 + 10 * k;
                bool free = e == 1 && trip >= 3, alone = e == 0 && trip >= 3;
                struct season_step s = {.id = {.quantity = QTY_EXHAUST, .place = (uint8_t)e},
                                        .load_kind = SEASON_LOAD_FUEL_RATE,
                                        .rpm = rpm,
                                        .load = load * (free    ? 0.15
                                                        : alone ? 1.25
                                                                : 1),
                                        .sea_c = NAN,
                                        .air_c = NAN,
                                        .mean = 12 + load * (free ? 0.3 : 1),
                                        .spread = 0.1,
                                        .minutes = 10,
                                        .wall_ns = t.from_ns + (k + 1) * 1200 * S};
                steps[n++] = s;
                s.id.quantity = QTY_FUEL_RATE;
                s.mean = s.load;
                s.load_kind = SEASON_LOAD_NONE;
                s.load = NAN;
                steps[n++] = s;
            }
        assert_true(season_add(&season, &t, steps, n, &overlaps));
    }
    static const enum quantity of[] = {QTY_EXHAUST, QTY_FUEL_RATE};
    for (int i = 0; i < 2; i++) {
        struct channel_id id = {.quantity = (uint16_t)of[i]};
        assert_true(season_tell(&season, id, -1, NULL, 0, 0, &story));
        assert_int_equal(story.level, SEASON_QUIET);
        assert_true(story.trip[2].known);
        assert_false(story.trip[5].known);
    }
    season_free(&season);
}

/* A watch that goes on for weeks: what the second morning reads before its start belongs to the
 * second trip, and the heat after the first stop does not. */
static void second_trip_of_one_watch__has_its_own_cold_morning(void **state)
{
    struct sail s = {.sea_c = 12, .coolant_c = 80};
    struct season_trip trip;
    const struct season_step *steps;
    int count, rests = 0;
    (void)state;
    s.now_ns = FIRST;
    s.watch = season_watch_new(&s.season);
    seconds(&s, 0, 10);
    seconds(&s, 2200, 300);
    seconds(&s, 0, 100);
    s.now_ns += DAY;
    s.coolant_c = 15;
    seconds(&s, 0, 10);
    season_watch_begin(s.watch);
    seconds(&s, 2200, 300);
    assert_true(season_watch_trip(s.watch, "t", &trip, &steps, &count));
    for (int i = 0; i < count; i++)
        if (steps[i].rpm == 0 && steps[i].id.quantity == QTY_COOLANT) {
            assert_near(steps[i].mean, 15, 0.01);
            rests++;
        }
    assert_int_equal(rests, 1);
    end(&s);
}

/* A trip that stands out, and proves to be the very one it is compared with: taken back. */
static void what_was_said__against_the_own_trip__is_taken_back(void **state)
{
    struct sail s = {.sea_c = 12, .coolant_c = 80};
    (void)state;
    keep_trip(&s, FIRST);
    s.now_ns = FIRST - 600 * S;
    s.watch = season_watch_new(&s.season);
    s.hotter_k = 20;
    seconds(&s, 2200, 500);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_WARNING);
    seconds(&s, 2200, 200);
    assert_null(of(&s, QTY_EXHAUST)->story);
    assert_int_equal(of(&s, QTY_EXHAUST)->level, SEASON_QUIET);
    end(&s);
}

/* A probe that reads 12 K more reads it at idle as well, where a hot exhaust shows a third of it:
 * that is asked, not warned of. */
static void probe_that_moved__is_a_question(void **state)
{
    struct sail s;
    (void)state;
    for (int everywhere = 0; everywhere < 2; everywhere++) {
        begin(&s);
        s.hotter_k = everywhere ? 12 : 0.3 * 12;
        seconds(&s, 700, 900);
        s.hotter_k = 12;
        seconds(&s, 2200, 900);
        assert_int_equal(of(&s, QTY_EXHAUST)->level, everywhere ? SEASON_QUESTION : SEASON_WARNING);
        end(&s);
    }
}

/* 4 K are a caution. Alone, a moment must stand out by a quarter more, 5 K; where the trip before
 * stood out by more than three quarters of it, 3.4 K, 0.85 of it, are enough. */
static void moment__after_a_trip_that_stood_out__needs_less(void **state)
{
    static const struct {
        double before_k, now_k;
        enum season_level level;
    } rows[] = {{0, 4.8, SEASON_QUIET}, {0, 5.2, SEASON_CAUTION}, {2, 4.8, SEASON_QUIET},
                {5, 3.2, SEASON_QUIET}, {5, 3.6, SEASON_CAUTION}, {5, 4.8, SEASON_CAUTION}};
    struct sail s;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(&s);
        season_watch_free(s.watch);
        s.wears = true;
        s.hotter_k = rows[i].before_k;
        keep_trip(&s, FIRST + 10 * DAY);
        s.now_ns = FIRST + 20 * DAY;
        s.watch = season_watch_new(&s.season);
        s.hotter_k = rows[i].now_k;
        seconds(&s, 2000, 600); /* two thirds of the highest speed */
        if (of(&s, QTY_EXHAUST)->level != rows[i].level)
            fail_msg("row %zu: %d, %g", i, of(&s, QTY_EXHAUST)->level, of(&s, QTY_EXHAUST)->excess);
        end(&s);
    }
}

/* Of two trips only the gravest is taken for granted: an exhaust that asks for a warning. */
static void few_trips__say_nothing_but_the_gravest(void **state)
{
    static const struct {
        double exhaust_k, coolant_k;
        enum season_level of_two[2], of_three[2]; /* exhaust, coolant */
    } rows[] = {
        {7, 0, {SEASON_QUIET, SEASON_QUIET}, {SEASON_CAUTION, SEASON_QUIET}},
        {14, 0, {SEASON_WARNING, SEASON_QUIET}, {SEASON_WARNING, SEASON_QUIET}},
        {0, 15, {SEASON_QUIET, SEASON_QUIET}, {SEASON_QUIET, SEASON_WARNING}},
    };
    (void)state;
    for (size_t i = 0; i < 2 * sizeof rows / sizeof rows[0]; i++) {
        struct sail s = {.sea_c = 12, .coolant_c = 80};
        int trips = i % 2 ? 3 : 2;
        const enum season_level *wanted = trips == 2 ? rows[i / 2].of_two : rows[i / 2].of_three;
        for (int k = 0; k < trips; k++)
            keep_trip(&s, FIRST + 2 * k * DAY);
        s.now_ns = FIRST + 20 * DAY;
        s.watch = season_watch_new(&s.season);
        s.hotter_k = rows[i / 2].exhaust_k;
        s.coolant_c = 80 + rows[i / 2].coolant_k;
        seconds(&s, 2000, 1200);
        if (of(&s, QTY_EXHAUST)->level != wanted[0] || of(&s, QTY_COOLANT)->level != wanted[1])
            fail_msg("row %zu of %d trips: %d, %d", i / 2, trips, of(&s, QTY_EXHAUST)->level,
                     of(&s, QTY_COOLANT)->level);
        end(&s);
    }
}

/* What rises above its normal is told while it rises, be the engine cold; what falls may only be
 * cooling after a faster speed, and what rises below its normal may only be warming. */
static void moment__not_at_rest__counts_where_it_rises_above(void **state)
{
    static const struct {
        double from_k, a_second;
        bool live;
    } rows[] = {{2, 0.05, true}, {40, -0.05, false}, {-40, 0.05, false}};
    struct sail s;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        begin(&s);
        s.coolant_c = 30;
        s.hotter_k = rows[i].from_k;
        for (int k = 0; k < 400; k++) {
            s.coolant_c += 0.1;
            s.hotter_k += rows[i].a_second;
            seconds(&s, 2200, 1);
        }
        if (of(&s, QTY_EXHAUST)->live != rows[i].live)
            fail_msg("row %zu", i);
        end(&s);
    }
}

/* Half a caution and two errors; over a twin what is low says nothing. */
static void notable__at_its_bounds(void **state)
{
    static const struct {
        double excess, error; /* of a caution */
        bool live, twin, is;
    } rows[] = {
        {0.51, 0.25, true, false, true},   {0.49, 0.2, true, false, false},
        {0.51, 0.26, true, false, false},  {-0.51, 0.25, true, false, true},
        {-0.49, 0.2, true, false, false},  {0.51, 0.25, true, true, true},
        {-0.51, 0.25, true, true, false},  {0.51, 0.25, false, false, false},
        {-0.51, 0.26, true, false, false},
    };
    static const enum quantity of[] = {QTY_EXHAUST, QTY_OIL_PRESSURE}; /* in K, and a share */
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (int k = 0; k < 2; k++) {
            int row = season_kept_row(of[k]);
            struct season_story story = {.normal.mode = rows[i].twin ? SEASON_MODE_OVER_TWIN
                                                                     : SEASON_MODE_OVER_SEA};
            struct season_verdict v = {.story = &story,
                                       .live = rows[i].live,
                                       .excess = rows[i].excess * season_kept[row].caution,
                                       .error = rows[i].error * season_kept[row].caution};
            if (season_watch_notable(&v, row) != rows[i].is)
                fail_msg("row %zu", i);
        }
}

static void count_steps(void *ctx, const struct season_trip *trip, const struct season_step *steps,
                        int count)
{
    int *told = ctx;
    assert_non_null(steps);
    assert_true(trip->to_ns > trip->from_ns);
    assert_string_equal(trip->log, "");
    *told += count;
}

/* As the next trip begins, whoever asked is told of the one before; of none where there was none.
 */
static void trip_that_is_over__is_told_of_as_the_next_begins(void **state)
{
    struct sail s;
    struct season_trip trip;
    const struct season_step *steps;
    int told = 0, count;
    (void)state;
    begin(&s);
    season_watch_tell(s.watch, count_steps, &told);
    season_watch_begin(s.watch);
    assert_int_equal(told, 0);
    seconds(&s, 2200, 900);
    assert_int_equal(told, 0);
    assert_true(season_watch_trip(s.watch, "", &trip, &steps, &count));
    season_watch_begin(s.watch);
    assert_int_equal(told, count);
    assert_true(told > 0);
    end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(healthy_trip__at_any_speed__quiet_and_not_notable),
        cmocka_unit_test(third_of_the_water_gone__warned_in_the_first_minutes_at_speed),
        cmocka_unit_test(one_hot_minute__is_air_in_the_intake__quiet),
        cmocka_unit_test(reserve_to_the_limit__used_up__warns_by_itself),
        cmocka_unit_test(burn__judged_when_the_engines_stop),
        cmocka_unit_test(own_trip__found_while_it_goes_on__is_not_compared),
        cmocka_unit_test(cold_engine__exhaust_is_not_kept),
        cmocka_unit_test(engine_that_runs_free__is_no_twin__and_no_load_of_a_hull),
        cmocka_unit_test(second_trip_of_one_watch__has_its_own_cold_morning),
        cmocka_unit_test(what_was_said__against_the_own_trip__is_taken_back),
        cmocka_unit_test(trips__read_in_any_order__tell_the_same),
        cmocka_unit_test(probe_that_moved__is_a_question),
        cmocka_unit_test(few_trips__say_nothing_but_the_gravest),
        cmocka_unit_test(moment__not_at_rest__counts_where_it_rises_above),
        cmocka_unit_test(moment__after_a_trip_that_stood_out__needs_less),
        cmocka_unit_test(notable__at_its_bounds),
        cmocka_unit_test(trip_that_is_over__is_told_of_as_the_next_begins),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
