/* What a trial takes out of a log while it is read, and what it makes of it at the end: frame by
 * frame on a made-up bus, or from series made up second by second. */
#include "report/trial/inside.h"

#include "config/config.h"

#include "rules/boat.h"

#define DAY_NS (INT64_C(86400) * NS_PER_S)

static struct boat *b;
static struct trial *t;
static struct trial_report *r;

static void start(const char *text)
{
    b = boat_new(text);
    t = trial_new(b->settings, NULL);
    assert_non_null(t);
    r = &t->report;
}

static int begin(void **state)
{
    (void)state;
    start("");
    return 0;
}

static int end(void **state)
{
    (void)state;
    trial_free(t);
    boat_free(b);
    return 0;
}

static void again(const char *text)
{
    end(NULL);
    start(text);
}

/* A frame so long after the log began, by a clock that is so far ahead of it. */
static void frame_at(double seconds, double ahead_s, uint32_t pgn, const uint8_t data[8])
{
    struct wire_id id = {pgn, 3, 10, ADDRESS_GLOBAL};
    struct frame f = {.wall_ns = BOAT_WALL_NS + (int64_t)((seconds + ahead_s) * 1e9),
                      .mono_ns = TIMELINE_START + (int64_t)(seconds * 1e9),
                      .id = wire_id_encode(id),
                      .len = 8,
                      .flags = FRAME_EXTENDED};

    memcpy(f.data, data, 8);
    keeper_frames(b->keeper, &f, 1);
}

static void speed_at(double seconds, double ahead_s, uint8_t engine, double rpm)
{
    uint8_t d[8] = {engine, 0, 0, 0xFF, 0xFF, 0x7F, 0xFF, 0xFF};

    boat_put16(d + 1, rpm, 0.25, 0);
    frame_at(seconds, ahead_s, 127488, d);
}

static const struct trial_series *series(enum quantity q, int place)
{
    const struct trial_series *s = trial_series_find(t, q, place);

    assert_non_null(s);
    return s;
}

/* --- who is aboard -----------------------------------------------------------------------------
 */

/* An engine keeps its instance as its number where that is free; a high one takes the lowest that
 * is, and the names are those of the plant. */
static void engines__by_their_instance_or_the_first_free_number(void **state)
{
    static const struct {
        int first, count, engines, instance[3];
        const char *name[3];
    } rows[] = {
        {0, 2, 2, {0, 1, -1}, {"PORT", "STARBOARD", ""}},
        {1, 2, 3, {-1, 1, 2}, {"", "PORT", "STARBOARD"}},
        {11, 2, 2, {11, 12, -1}, {"PORT", "STARBOARD", ""}},
        {1, 1, 2, {-1, 1, -1}, {"", "ENGINE", ""}},
        {8, 1, 1, {8, -1, -1}, {"ENGINE", "", ""}},
        {7, 1, 8, {-1, -1, -1}, {"", "", ""}}, /* number 7, the last */
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again("");
        b->first = rows[i].first;
        b->engines = rows[i].count;
        assert_true(trial_begin(t, b->keeper, "one"));
        boat_run(b, 20);
        assert_non_null(trial_series_find(t, QTY_RPM, rows[i].engines - 1));
        assert_null(trial_series_find(t, QTY_RPM, rows[i].engines));
        trial_end(t);
        assert_int_equal(r->engines, rows[i].engines);
        for (int e = 0; e < 3; e++) {
            assert_int_equal(r->instance[e], rows[i].instance[e]);
            assert_string_equal(r->engine_names[e], rows[i].name[e]);
        }
        assert_int_equal(r->instance[7], rows[i].first == 7 ? 7 : -1);
    }
}

/* A fuel rate of a number beyond them all that never has a speed is a meter, and no engine. */
static void engines__a_meter_of_a_high_number__is_none(void **state)
{
    uint8_t d[26];

    (void)state;
    assert_true(trial_begin(t, b->keeper, "one"));
    b->engines = 1;
    boat_run(b, 5);
    memset(d, 0xFF, sizeof d);
    d[0] = 12;
    d[9] = 100;
    d[10] = 0;
    d[24] = d[25] = 0x7F;
    boat_fast(b, 127489, 50, d, 26);
    boat_run(b, 5);
    trial_end(t);
    assert_int_equal(r->instance[0], 0);
    for (int e = 1; e < TRIAL_ENGINES; e++)
        assert_int_equal(r->instance[e], -1);
}

/* All eight are known from earlier logs: a ninth has no number, and no figures. */
static void engines__a_ninth__has_no_number(void **state)
{
    (void)state;
    for (int e = 0; e < TRIAL_ENGINES; e++)
        r->instance[e] = 100 + e;
    b->first = 11;
    assert_true(trial_begin(t, b->keeper, "one"));
    boat_run(b, 20);
    for (int e = 0; e < TRIAL_ENGINES; e++)
        assert_null(trial_series_find(t, QTY_RPM, e));
    assert_int_equal(r->engines, 0);
    trial_end(t);
}

/* What is heard is kept under the trial's own number, every reading of it; what a tank holds with
 * it. A stray exhaust that the bus calls 0 is not that of the engine which the trial does. */
static void series__every_reading_under_its_number(void **state)
{
    uint8_t tank[8] = {0, 0, 0, 0xA0, 0x0F, 0, 0, 0xFF}; /* 400 L */

    (void)state;
    b->first = 11;
    b->second_exhaust = 70;
    assert_true(trial_begin(t, b->keeper, "one"));
    boat_run(b, 10);
    b->rpm[1] = 2300;
    b->exhaust[0] = 47;
    boat_run(b, 10);
    boat_put16(tank + 1, 70, 0.004, 0);
    boat_frame(b, 127505, 41, tank, 0);
    const struct trial_series *rpm = series(QTY_RPM, 1), *exhaust = series(QTY_EXHAUST, 0);
    assert_int_equal(rpm->readings, 200);
    assert_near(rpm->first, 2200, 0);
    assert_near(rpm->last, 2300, 0);
    assert_near(rpm->highest, 2300, 0);
    assert_near(series(QTY_RPM, 0)->highest, 2200, 0);
    assert_int_equal(exhaust->readings, 10);
    assert_near(exhaust->first, 45, 1e-6);
    assert_near(exhaust->last, 47, 1e-6);
    assert_near(series(QTY_FUEL_TANK, 0)->capacity_l, 400, 1e-6);
    assert_null(trial_series_find(t, QTY_SWITCH, 0)); /* nothing that a trial looks at */
    trial_end(t);
}

/* A generator's speed is no part of a trial: no step comes of it. */
static void generator__has_no_steps(void **state)
{
    static const struct {
        const char *text;
        int steps;
        bool generator;
    } rows[] = {{"[engine 0]\nkind = propulsion\n", 1, false},
                {"[engine 0]\nkind = generator\n", 0, true}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again(rows[i].text);
        b->engines = 1;
        assert_true(trial_begin(t, b->keeper, "one"));
        boat_run(b, 90);
        trial_end(t);
        assert_int_equal(r->generator[0], rows[i].generator);
        assert_int_equal(r->steps, rows[i].steps);
    }
}

/* 127498 says 3000 rpm of engine 1, and 2500 of engine 0; 0 rpm are none. */
static void rated__speed_as_the_engine_says_it(void **state)
{
    uint8_t d[8] = {1, 0xE0, 0x2E, 0, 0, 0, 0, 0};
    uint8_t port[8] = {0, 0x10, 0x27, 0, 0, 0, 0, 0};

    (void)state;
    assert_true(trial_begin(t, b->keeper, "one"));
    boat_run(b, 5);
    boat_fast(b, 127498, 11, d, 8);
    boat_fast(b, 127498, 10, port, 8);
    d[0] = d[1] = d[2] = 0;
    boat_fast(b, 127498, 10, d, 8);
    trial_end(t);
    assert_near(r->rated_rpm[1], 3000, 0);
    assert_near(r->rated_rpm[0], 2500, 0);
    assert_near(r->rated_rpm[2], 0, 0);
}

/* --- when it was -------------------------------------------------------------------------------
 */

/* From the first second to the last, over two logs in any order. */
static void time__from_the_first_of_all_logs_to_the_last(void **state)
{
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct boat *other = boat_new("");

        again("");
        assert_true(trial_begin(t, b->keeper, i ? "a\x1b[31m/later.log" : "first.log"));
        b->ms = i ? 86400000 : 500;
        boat_run(b, 10);
        trial_end(t);
        keeper_free(b->keeper);
        b->keeper = other->keeper;
        b->ms = i ? 500 : 86400000;
        assert_true(trial_begin(t, b->keeper, "second.log"));
        boat_run(b, 10);
        trial_end(t);
        assert_int_equal(r->logs, 2);
        assert_string_equal(r->log_names[1], "second.log");
        assert_true(r->first_ns / NS_PER_S == BOAT_WALL_NS / NS_PER_S);
        assert_true(r->last_ns / NS_PER_S == (BOAT_WALL_NS + DAY_NS) / NS_PER_S + 9);
        assert_null(strchr(r->log_names[0], 0x1b));
        other->keeper = NULL;
        settings_free(other->settings);
        free(other);
    }
}

/* No more than there is room for. */
static void logs__no_more_than_there_is_room(void **state)
{
    (void)state;
    r->logs = TRIAL_LOGS;
    assert_false(trial_begin(t, b->keeper, "one"));
    r->logs = TRIAL_LOGS - 1;
    assert_true(trial_begin(t, b->keeper, "one"));
    assert_string_equal(r->log_names[TRIAL_LOGS - 1], "one");
    trial_end(t);
}

/* A hole is more than 10 s in which nothing came; what the log's clock says of it is summed. */
static void holes__of_more_than_ten_seconds__are_counted(void **state)
{
    (void)state;
    assert_true(trial_begin(t, b->keeper, "one"));
    speed_at(1, 0, 0, 0);
    speed_at(11, 0, 0, 0); /* ten */
    assert_int_equal(r->holes, 0);
    speed_at(21.01, 0, 0, 0);
    assert_int_equal(r->holes, 1);
    assert_near(r->hole_s, 10.01, 1e-6);
    speed_at(33.01, 3600, 0, 0); /* the rules' clock goes no further than it shows */
    assert_int_equal(r->holes, 2);
    assert_near(r->hole_s, 10.01 + 3612, 1e-6);
    assert_int_equal(r->clock_steps, 0);
    trial_end(t);
}

/* A clock that goes back by more than two seconds was set. */
static void clock__set_back__is_told_by_how_much_and_until_when(void **state)
{
    (void)state;
    assert_true(trial_begin(t, b->keeper, "one"));
    speed_at(0, 0, 0, 0);
    speed_at(1, -2, 0, 0); /* by two */
    assert_int_equal(r->clock_steps, 0);
    speed_at(2, -4.01, 0, 0);
    assert_int_equal(r->clock_steps, 1);
    assert_near(r->clock_step_s, -2.01, 1e-6);
    assert_true(r->clock_step_ns == BOAT_WALL_NS + (int64_t)((2 - 4.01) * 1e9));
    speed_at(3, 3600, 0, 0); /* forward: none */
    assert_int_equal(r->clock_steps, 1);
    speed_at(4, -10, 0, 0);
    assert_int_equal(r->clock_steps, 2);
    assert_near(r->clock_step_s, -3610, 1e-6);
    trial_end(t);
}

/* The first message of a log, whenever it comes, is after no hole; each log for itself. */
static void holes__before_a_log_began__are_none(void **state)
{
    struct boat *other = boat_new("");

    (void)state;
    for (int i = 0; i < 2; i++) {
        assert_true(trial_begin(t, i ? other->keeper : b->keeper, "one"));
        if (i) {
            struct keeper *k = b->keeper;
            b->keeper = other->keeper;
            other->keeper = k;
        }
        speed_at(100 + 1000 * i, -500 * i, 0, 0);
        speed_at(101 + 1000 * i, -500 * i, 0, 0);
        trial_end(t);
    }
    assert_int_equal(r->holes, 0);
    assert_int_equal(r->clock_steps, 0);
    boat_free(other);
}

/* Seconds in which nothing came have the time of what came next, and nothing in them. */
static void seconds__of_a_long_log__each_has_its_time(void **state)
{
    (void)state;
    assert_true(trial_begin(t, b->keeper, "one"));
    speed_at(5.5, 0, 0, 0);
    speed_at(8.5, 0, 0, 0);
    speed_at(1100, 0, 0, 0);
    speed_at(5000, 0, 0, 0);
    assert_int_equal(t->wall_len, 4996);
    for (size_t i = 0; i < t->wall_len; i++) {
        double at = i == 0 ? 5.5 : i <= 3 ? 8.5 : i <= 1095 ? 1100 : 5000;

        assert_int_equal(t->any[i], i == 0 || i == 3 || i == 1095 || i == 4995);
        assert_true(t->wall_ns[i] == BOAT_WALL_NS + (int64_t)(at * 1e9));
    }
    trial_end(t);
}

/* --- how she moved -----------------------------------------------------------------------------
 */

/* 129026: course in 0.0001 rad, speed in cm/s. 514 cm/s are 9.9914 kn (1 kn: 1852 m an hour). */
static void velocity__by_course_and_speed__north_and_east(void **state)
{
    static const struct {
        unsigned course, speed;
        double north, east; /* of 9.9914 kn; NAN: none */
    } rows[] = {
        {0, 514, 1, 0},
        {15708, 514, 0, 1},
        {31416, 514, -1, 0},
        {47124, 514, 0, -1},
        {7854, 514, M_SQRT1_2, M_SQRT1_2},
        {0xFFFF, 514, NAN, NAN},
        {0, 0xFFFF, NAN, NAN},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t d[8] = {0xFF,
                        0xFC,
                        (uint8_t)rows[i].course,
                        (uint8_t)(rows[i].course >> 8),
                        (uint8_t)rows[i].speed,
                        (uint8_t)(rows[i].speed >> 8),
                        0xFF,
                        0xFF};

        again("");
        assert_true(trial_begin(t, b->keeper, "one"));
        frame_at(0, 0, 129026, d);
        frame_at(1, 0, 129026, d);
        if (isnan(rows[i].north)) {
            assert_null(trial_series_find(t, QTY_NONE, TRIAL_NORTH));
            assert_null(trial_series_find(t, QTY_NONE, TRIAL_EAST));
        } else {
            assert_near(series(QTY_NONE, TRIAL_NORTH)->last, rows[i].north * 9.99136, 1e-3);
            assert_near(series(QTY_NONE, TRIAL_EAST)->last, rows[i].east * 9.99136, 1e-3);
            assert_int_equal(series(QTY_NONE, TRIAL_EAST)->readings, 2);
        }
        trial_end(t);
    }
}

/* --- alerts --------------------------------------------------------------------------------------
 */

static void claim(uint32_t claimant, enum priority p, const char *text, double at)
{
    struct alert_claim c = {
        .situation = {.group = SITUATION_SENDER, .code = (uint8_t)claimant, .source = 9},
        .claimant = claimant,
        .kind = KIND_SILENT,
        .rule = "some",
        .priority = p,
        .value = NAN,
        .text = text,
        .trouble = TROUBLE_SENSOR,
        .stage = STAGE_CERTAIN,
        .figures = ALERT_NO_FIGURES};

    alerts_claim(
        keeper_alerts(b->keeper), &c,
        (struct stamp){BOAT_WALL_NS + (int64_t)(at * 1e9), TIMELINE_START + (int64_t)(at * 1e9)});
}

/* A row for each time that an alert was raised or grew; each has what became of it. */
static void alerts__raised_and_grown__a_row_each(void **state)
{
    (void)state;
    r->logs = 1;
    assert_true(trial_begin(t, b->keeper, "two"));
    speed_at(0, 0, 0, 0);
    claim(7, PRIORITY_CAUTION, "first words", 10);
    claim(8, PRIORITY_ALARM, "another", 20);
    claim(7, PRIORITY_WARNING, "worse words", 30);
    assert_int_equal(r->incidents, 3);
    assert_int_equal(r->incident[0].priority, PRIORITY_CAUTION);
    assert_int_equal(r->incident[1].priority, PRIORITY_ALARM);
    assert_int_equal(r->incident[2].priority, PRIORITY_WARNING);
    assert_true(r->incident[0].wall_ns == BOAT_WALL_NS + 10 * NS_PER_S);
    assert_true(r->incident[2].wall_ns == BOAT_WALL_NS + 30 * NS_PER_S);
    assert_non_null(strstr(r->incident[0].text, "first words"));
    assert_non_null(strstr(r->incident[2].text, "worse words"));
    assert_non_null(strstr(r->incident[0].alert.text, "worse words"));
    assert_non_null(strstr(r->incident[1].alert.text, "another"));
    assert_int_equal(r->incident[0].alert.priority, PRIORITY_WARNING);
    for (int i = 0; i < 3; i++)
        assert_int_equal(r->incident[i].log, 2);
    assert_false(trial_incident_last(r, 0));
    assert_true(trial_incident_last(r, 1));
    assert_true(trial_incident_last(r, 2));
    r->incident[2].log = 1; /* of another log is another alert */
    assert_true(trial_incident_last(r, 0));
    trial_end(t);
}

static void alerts__more_than_there_is_room__are_counted(void **state)
{
    (void)state;
    assert_true(trial_begin(t, b->keeper, "one"));
    speed_at(0, 0, 0, 0);
    for (uint32_t i = 0; i < TRIAL_INCIDENTS + 3; i++)
        claim(7 + i, PRIORITY_CAUTION, "some", i);
    assert_int_equal(r->incidents, TRIAL_INCIDENTS);
    assert_int_equal(r->incidents_lost, 3);
    trial_end(t);
}

/* --- at its end ----------------------------------------------------------------------------------
 */

static void heard(enum quantity q, int place, int from, int to, double value)
{
    struct channel_id id = {.quantity = (uint16_t)q, .place = (uint8_t)place};
    struct trial_series *s = trial_series_of(t, id);

    for (int i = from; i < to; i++)
        trial_series_add(t, s, i, value);
}

/* A log of which the bus said one word alone; the series are put in by hand. */
static void listen(size_t seconds)
{
    assert_true(trial_begin(t, b->keeper, "one"));
    speed_at(0, 0, 7, 0);
    speed_at((double)seconds - 1, 0, 7, 0);
    assert_int_equal(t->wall_len, seconds);
}

/* Started at second 100: the lowest volts from six seconds before to two after, out of the mean of
 * the half minute before that. */
static void start__lowest_volts_around_it_and_what_they_fell_from(void **state)
{
    static const struct {
        int start, dip;
        double low, rest; /* NAN: nothing */
    } rows[] = {
        {100, 94, 9.5, 12.6},
        {100, 101, 9.5, 12.6},
        {100, 102, 12.6, 12.6},
        {100, 63, 12.6, 12.6},
        {20, 20, 9.5, 12.6},
        {7, 8, 9.5, 12.6},
        {6, 3, NAN, NAN},
        {100, 64, 12.6, 12.4966666},
        {100, 93, 12.6, 12.4966666}, /* 3.1 / 30 less */
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        again("");
        listen(200);
        t->starts = 2;
        t->start[0] = (struct trial_start){0, rows[i].start};
        t->start[1] = (struct trial_start){0, 2}; /* nothing before it */
        heard(QTY_BATTERY_VOLTS, 2, 0, rows[i].dip, 12.6);
        heard(QTY_BATTERY_VOLTS, 2, rows[i].dip, rows[i].dip + 1, 9.5);
        heard(QTY_BATTERY_VOLTS, 2, rows[i].dip + 1, 200, 12.6);
        trial_end(t);
        if (isnan(rows[i].low)) {
            assert_true(isnan(r->crank_volts[2]));
        } else {
            assert_near(r->crank_volts[2], rows[i].low, 1e-5);
            assert_near(r->crank_rest[2], rows[i].rest, 1e-5);
        }
        assert_true(isnan(r->crank_volts[0]) && isnan(r->crank_volts[3]));
    }
}

/* The hardest of several starts, with its own rest. */
static void start__several__the_hardest(void **state)
{
    static const double low[] = {10.5, 9.9, 10.2}, rest[] = {12.8, 12.5, 12.6};

    (void)state;
    listen(400);
    for (int i = 0; i < 3; i++) {
        int at = 100 * (i + 1);

        t->start[t->starts++] = (struct trial_start){i, at};
        heard(QTY_BATTERY_VOLTS, 0, at - 90, at - 1, rest[i]);
        heard(QTY_BATTERY_VOLTS, 0, at - 1, at, low[i]);
        heard(QTY_BATTERY_VOLTS, 0, at, at + 3, 11.5);
    }
    trial_end(t);
    assert_near(r->crank_volts[0], 9.9, 1e-5);
    assert_near(r->crank_rest[0], 12.5, 1e-5);
}

/* From standing to turning is a start; an engine that is first heard running was not started. */
static void start__is_seen_where_it_stood_before(void **state)
{
    (void)state;
    b->engines = 2;
    b->rpm[1] = 0;
    assert_true(trial_begin(t, b->keeper, "one"));
    boat_run(b, 60);
    assert_int_equal(t->starts, 0);
    b->rpm[1] = 800;
    boat_run(b, 30);
    assert_int_equal(t->starts, 1);
    assert_int_equal(t->start[0].engine, 1);
    assert_true(t->start[0].second >= 60 && t->start[0].second <= 63);
    trial_end(t);
}

/* Any engine at 300 rpm or more. */
static void running__seconds_of_any_engine(void **state)
{
    (void)state;
    listen(200);
    heard(QTY_RPM, 0, 0, 50, 300);
    heard(QTY_RPM, 0, 50, 200, 299);
    heard(QTY_RPM, 3, 40, 100, 2000);
    trial_end(t);
    assert_near(r->running_s, 100, 0);
}

/* Engine hours from the first log's first to the last one's last; how far readings moved, at most
 * in one log. One reading alone has not moved. */
static void hours_and_moves__over_two_logs(void **state)
{
    static const struct {
        enum quantity q;
        int place;
    } moved[] = {{QTY_EXHAUST, 0},      {QTY_EXHAUST, 7},      {QTY_OIL_PRESSURE, 0},
                 {QTY_OIL_PRESSURE, 7}, {QTY_ENGINE_SPACE, 0}, {QTY_OUTSIDE_AIR, 0}};
    struct boat *other = boat_new("");

    (void)state;
    for (int i = 0; i < 2; i++) {
        if (i) {
            struct boat *was = b;
            b = other;
            other = was;
        }
        listen(100);
        if (i == 0)
            heard(QTY_HOURS, 0, 0, 1, 100);
        heard(QTY_HOURS, 0, 1, 50, 101 + i);
        heard(QTY_HOURS, 1, 1, 50, 300 + i);
        for (size_t k = 0; k < sizeof moved / sizeof moved[0]; k++) {
            heard(moved[k].q, moved[k].place, 0, 1, 40);
            heard(moved[k].q, moved[k].place, 1, 2, 50 + (double)k - 3 * i);
        }
        heard(QTY_EXHAUST, 3, 0, 1, 40);
        trial_end(t);
    }
    assert_near(r->hours_first[0], 100, 0);
    assert_near(r->hours_last[0], 102, 0);
    assert_near(r->hours_first[1], 300, 0);
    assert_near(r->hours_last[1], 301, 0);
    assert_true(isnan(r->hours_first[2]) && isnan(r->hours_last[2]));
    assert_near(r->exhaust_moved_k[0], 10, 0);
    assert_near(r->exhaust_moved_k[7], 11, 0);
    assert_near(r->exhaust_moved_k[3], 0, 0);
    assert_near(r->oil_moved_kpa[0], 12, 0);
    assert_near(r->oil_moved_kpa[7], 13, 0);
    assert_near(r->space_moved_k, 14, 0);
    assert_near(r->air_moved_k, 15, 0);
    boat_free(other);
}

#define WITH_BOAT(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_BOAT(engines__by_their_instance_or_the_first_free_number),
        WITH_BOAT(engines__a_meter_of_a_high_number__is_none),
        WITH_BOAT(engines__a_ninth__has_no_number),
        WITH_BOAT(series__every_reading_under_its_number),
        WITH_BOAT(generator__has_no_steps),
        WITH_BOAT(rated__speed_as_the_engine_says_it),
        WITH_BOAT(time__from_the_first_of_all_logs_to_the_last),
        WITH_BOAT(logs__no_more_than_there_is_room),
        WITH_BOAT(holes__of_more_than_ten_seconds__are_counted),
        WITH_BOAT(clock__set_back__is_told_by_how_much_and_until_when),
        WITH_BOAT(holes__before_a_log_began__are_none),
        WITH_BOAT(seconds__of_a_long_log__each_has_its_time),
        WITH_BOAT(velocity__by_course_and_speed__north_and_east),
        WITH_BOAT(alerts__raised_and_grown__a_row_each),
        WITH_BOAT(alerts__more_than_there_is_room__are_counted),
        WITH_BOAT(start__lowest_volts_around_it_and_what_they_fell_from),
        WITH_BOAT(start__several__the_hardest),
        WITH_BOAT(start__is_seen_where_it_stood_before),
        WITH_BOAT(running__seconds_of_any_engine),
        WITH_BOAT(hours_and_moves__over_two_logs),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
