/* What the roll call says of readings, from facts made by hand: each finding just below, at and
 * just above where it begins. The bounds are common practice, no source, but where a standard is
 * named. */
#include "report/muster/inside.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>

static struct muster *m;
static struct muster_value *v; /* the one reading there is */

static int begin(void **state)
{
    (void)state;
    m = muster_new(NULL);
    if (!m)
        return -1;
    m->sender_count = 1;
    m->senders[0] = (struct muster_sender){.address = 33};
    m->value_count = 1;
    v = &m->values[0];
    *v = (struct muster_value){.ok = 100, .capacity_l = 100, .sole = true};
    return 0;
}

static int end(void **state)
{
    (void)state;
    muster_free(m);
    return 0;
}

static void heard(enum quantity q, int place, struct muster_value with)
{
    *v = with;
    v->id = (struct channel_id){.quantity = (uint16_t)q, .place = (uint8_t)place};
    v->decimals = (uint8_t)quantity_info(q)->decimals;
}

/* The only finding, or "" where there is none. */
static const char *said(const char *kind, enum muster_weight weight)
{
    m->finding_count = 0;
    muster_check_readings(m);
    if (m->finding_count == 0)
        return "";
    assert_int_equal(m->finding_count, 1);
    assert_string_equal(m->findings[0].kind, kind);
    assert_int_equal(m->findings[0].weight, weight);
    return m->findings[0].text;
}

/* A reading that stood still: never moved at all 5 min; in fine steps 2 min; in coarse ones, which
 * may hide a thermostat or a relief valve, an hour. What does not hang on the engine's speed may
 * stand still as long as it likes. */
static void stuck__by_how_fine_its_steps_are(void **state)
{
    static const struct {
        enum quantity q;
        double step;
        int after_s; /* 0: never */
    } rows[] = {
        {QTY_EXHAUST, 0, 300},
        {QTY_EXHAUST, 0.2, 120},
        {QTY_EXHAUST, 0.21, 3600},
        {QTY_EXHAUST_GAS, 0.1, 120},
        {QTY_COOLANT, 0.1, 120},
        {QTY_COOLANT, 1, 3600},
        {QTY_OIL_TEMP, 0.1, 120},
        {QTY_OIL_PRESSURE, 2, 120},
        {QTY_OIL_PRESSURE, 2.1, 3600},
        {QTY_OIL_PRESSURE, 0, 300},
        {QTY_FUEL_RATE, 0, 300},
        {QTY_FUEL_RATE, 0.1, 0},
        {QTY_LOAD, 0, 300},
        {QTY_LOAD, 1, 0},
        {QTY_TORQUE, 0, 300},
        {QTY_TORQUE, 1, 0},
        {QTY_ENGINE_SPACE, 0, 0},
        {QTY_BOOST, 0, 0},
        {QTY_SEA, 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (int late = 0; late < 2; late++) {
            int s = rows[i].after_s ? rows[i].after_s - 1 + late : 100000 + late;
            heard(rows[i].q, 1,
                  (struct muster_value){
                      .ok = 1000, .step = rows[i].step, .stuck_ns = s * NS_PER_S, .last = 40});
            const char *text = said("stuck", MUSTER_FINDING);
            if (!late || !rows[i].after_s) {
                assert_string_equal(text, "");
                continue;
            }
            char still[60];
            snprintf(still, sizeof still, "stood still for %d s while its engine's speed", s);
            assert_non_null(strstr(text, still));
            assert_non_null(strstr(text, "from address 33"));
        }
}

/* Half an hour of running shows at least six of its steps of 0.1 h or less. */
static void hours__that_stand_still__after_half_an_hour_of_running(void **state)
{
    static const struct {
        double high;
        int ok, run_s;
        const char *text;
    } rows[] = {
        {500, 100, 1800, ""},
        {500, 100, 1801, "hours.1 from address 33 stands still though the engine ran for 30 min"},
        {500, 2, 7200, "hours.1 from address 33 stands still though the engine ran for 120 min"},
        {500, 1, 7200, ""}, /* one reading tells nothing */
        {500.01, 100, 7200, ""},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        heard(QTY_HOURS, 1,
              (struct muster_value){.ok = (uint64_t)rows[i].ok, .low = 500, .high = rows[i].high});
        m->engines[1].run_ns = rows[i].run_s * NS_PER_S;
        assert_string_equal(said("stuck", MUSTER_FINDING), rows[i].text);
    }
}

/* Errors in more than one of a hundred messages are a finding, fewer a note; not available in more
 * than one of twenty, or ever. */
static void not_there__by_its_share(void **state)
{
    (void)state;
    heard(QTY_COOLANT, 0, (struct muster_value){.ok = 99, .error = 1, .sole = true});
    assert_string_equal(
        said("error", MUSTER_NOTE),
        "coolant.0 from address 33 says error or out of range in 1 of 100 messages");
    v->ok = 98;
    assert_string_equal(said("error", MUSTER_FINDING),
                        "coolant.0 from address 33 says error or out of range in 1 of 99 messages");
    heard(QTY_COOLANT, 0,
          (struct muster_value){.ok = 95, .not_available = 5, .wanting = 5, .sole = true});
    assert_string_equal(said("", MUSTER_FINDING), "");
    v->ok = 94;
    assert_string_equal(said("not available", MUSTER_FINDING),
                        "coolant.0 from address 33 was not available in 5 of 99 messages");
    v->wanting = 0; /* the engine stood */
    assert_string_equal(said("", MUSTER_FINDING), "");
    heard(QTY_COOLANT, 0, (struct muster_value){.not_available = 1, .sole = true});
    assert_string_equal(said("not available", MUSTER_FINDING),
                        "coolant.0 from address 33 has never been available: is its sensor "
                        "connected?");
    v->sole = false; /* a field that its message may leave empty */
    assert_string_equal(said("", MUSTER_FINDING), "");
    heard(QTY_SWITCH, 0, (struct muster_value){.not_available = 9, .error = 9, .sole = true});
    assert_string_equal(said("", MUSTER_FINDING), "");
}

static void beyond__the_span_or_physics(void **state)
{
    (void)state;
    heard(QTY_COOLANT, 0, (struct muster_value){.ok = 9, .beyond_span = 3, .low = -60, .high = 81});
    assert_string_equal(
        said("beyond span", MUSTER_FINDING),
        "coolant.0 was beyond what its sensor can measure 3 times: from -60 °C to 81 °C");
    heard(QTY_COOLANT, 0, (struct muster_value){.ok = 9, .jumps = 2, .worst_jump = 55});
    assert_string_equal(said("beyond physics", MUSTER_FINDING),
                        "coolant.0 jumped 2 times, by up to 55 K within a reading");
    heard(QTY_OIL_PRESSURE, 0, (struct muster_value){.ok = 9, .jumps = 1, .worst_jump = 300});
    assert_non_null(strstr(said("beyond physics", MUSTER_FINDING), " kPa within a reading"));
}

static void tank__without_a_size(void **state)
{
    static const struct {
        enum quantity q;
        int ok, rank;
        double capacity_l;
        bool found;
    } rows[] = {
        {QTY_FUEL_TANK, 1, 0, 0, true},        {QTY_PETROL_TANK, 1, 0, 0, true},
        {QTY_FRESH_WATER_TANK, 1, 0, 0, true}, {QTY_FUEL_TANK, 0, 0, 0, false},
        {QTY_FUEL_TANK, 1, 1, 0, false}, /* not the one that is shown */
        {QTY_FUEL_TANK, 1, 0, 0.1, false},     {QTY_COOLANT, 1, 0, 0, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        heard(rows[i].q, 0,
              (struct muster_value){.ok = (uint64_t)rows[i].ok,
                                    .rank = (uint8_t)rows[i].rank,
                                    .capacity_l = rows[i].capacity_l});
        const char *text = said("no capacity", MUSTER_FINDING);
        assert_int_equal(strstr(text, "litres and range need `capacity`") != NULL, rows[i].found);
    }
}

/* The sums of so many seconds of two differences: their spreads, how they go together, and how long
 * the speeds were apart. */
static void twins(double n, double apart_s, double speed_sd, double exhaust_sd, double r)
{
    const double x = 40, y = 3; /* means, which must not matter */

    m->twins = (struct muster_twins){.first = 0,
                                     .n = n,
                                     .sx = n * x,
                                     .sy = n * y,
                                     .sxx = n * (x * x + speed_sd * speed_sd),
                                     .syy = n * (y * y + exhaust_sd * exhaust_sd),
                                     .sxy = n * (x * y + r * speed_sd * exhaust_sd),
                                     .apart_s = apart_s};
}

/* Asked where both were heard for two minutes, and their speeds were more than 300 rpm apart for
 * one of them; differences of 80 rpm and of 1 K are the least that tell anything. */
static void swapped__where_the_exhausts_go_against_the_speeds(void **state)
{
    static const struct {
        double n, apart_s, speed_sd, exhaust_sd, r;
        bool found;
    } rows[] = {
        {120, 60, 100, 2, -0.6, true},    {119, 60, 100, 2, -0.6, false},
        {120, 59, 100, 2, -0.6, false},   {120, 60, 79, 2, -0.6, false},
        {120, 60, 81, 2, -0.6, true},     {120, 60, 100, 0.99, -0.6, false},
        {120, 60, 100, 1.01, -0.6, true}, {120, 60, 100, 2, -0.49, false},
        {120, 60, 100, 2, -0.51, true},   {120, 60, 100, 2, 0.9, false},
    };

    (void)state;
    heard(QTY_ENGINE_SPACE, 0, (struct muster_value){.ok = 9});
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        twins(rows[i].n, rows[i].apart_s, rows[i].speed_sd, rows[i].exhaust_sd, rows[i].r);
        assert_int_equal(said("swapped", MUSTER_FINDING)[0] != '\0', rows[i].found);
    }
    twins(600, 300, 200, 5, -0.974);
    m->twins.first = 2;
    assert_string_equal(said("swapped", MUSTER_FINDING),
                        "exhaust.2 follows engine 3's speed and exhaust.3 engine 2's (correlation "
                        "-0.97): are the sensors or instances swapped?");
    assert_string_equal(m->findings[0].channel, "exhaust.2");
    assert_int_equal(m->findings[0].sender, -1);           /* of no one sender */
    for (int generator = 1; generator <= 4; generator++) { /* no twin of anybody's */
        m->cooling_count = 1;
        m->cooling[0] = (struct muster_cooling){.instance = generator, .generator = true};
        bool is_one_of_them = generator == 2 || generator == 3;
        assert_int_equal(said("swapped", MUSTER_FINDING)[0] == '\0', is_one_of_them);
        m->cooling[0].generator = false;
        assert_true(said("swapped", MUSTER_FINDING)[0] != '\0');
    }
    twins(600, 300, 200, 5, -1);
    assert_non_null(strstr(said("swapped", MUSTER_FINDING), "(correlation -1.00)"));
}

static void message(uint32_t pgn, int64_t last_ns)
{
    m->message_count = 1;
    m->messages[0] =
        (struct muster_message){.pgn = pgn, .row = catalogue_find(pgn), .last_ns = last_ns};
}

/* Ten times the standard's period, 100 ms of 127488 and 2.5 s of 127505, and no less than 5 s. */
static void stopped__before_the_rest_of_its_message(void **state)
{
    static const struct {
        uint32_t pgn;
        enum quantity q;
        int after_ms;
        bool leads, is;
    } rows[] = {
        {127488, QTY_RPM, 5000, true, false},         {127488, QTY_RPM, 5001, true, true},
        {127505, QTY_FUEL_TANK, 25000, true, false},  {127505, QTY_FUEL_TANK, 25001, true, true},
        {127505, QTY_FUEL_TANK, 25001, false, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        m->value_count = 1;
        heard(rows[i].q, 1,
              (struct muster_value){.ok = 100,
                                    .pgn = rows[i].pgn,
                                    .leads = rows[i].leads,
                                    .capacity_l = 100,
                                    .last_ns = NS_PER_S});
        message(rows[i].pgn, NS_PER_S + rows[i].after_ms * NS_PER_MS);
        bool is = strstr(said("stopped", MUSTER_FINDING), "before the rest of its message's");
        if (is != rows[i].is)
            fail_msg("row %zu", i);
        if (!is)
            continue;
        /* another of its kind that comes later is the same one under a new number */
        m->value_count = 2;
        m->values[1] = *v;
        m->values[1].id.place = 2;
        m->values[1].first_ns = NS_PER_S + 1;
        m->values[1].last_ns = m->messages[0].last_ns;
        assert_non_null(strstr(said("instance changed", MUSTER_FINDING), "changed under way"));
        m->values[1].first_ns = NS_PER_S;
        assert_non_null(strstr(said("stopped", MUSTER_FINDING), "before the rest"));
    }
}

/* What was never filled of a message that tells of more is listed once. */
static void empty__fields_of_a_message__are_one_note(void **state)
{
    (void)state;
    heard(QTY_OIL_PRESSURE, 1, (struct muster_value){.pgn = 127489, .not_available = 5});
    m->values[1] = *v;
    m->values[1].id.quantity = QTY_COOLANT;
    m->values[2] = *v;
    m->values[2].id.quantity = QTY_OIL_TEMP;
    m->values[2].ok = 1;
    m->value_count = 3;
    message(127489, NS_PER_S);
    assert_non_null(strstr(said("empty", MUSTER_NOTE), "leaves empty: oil-pressure.1, coolant.1"));
    assert_null(strstr(said("empty", MUSTER_NOTE), "oil-temp"));
}

static bool is_said(const char *kind)
{
    m->finding_count = 0;
    muster_check_readings(m);
    for (size_t i = 0; i < m->finding_count; i++)
        if (strcmp(m->findings[i].kind, kind) == 0)
            return true;
    return false;
}

/* 130312 ends at 382.17 degrees: a dry exhaust above 300, or one that told an error, may be beyond.
 * One that is not configured is unsure from the fifth such reading on; a wet one is neither. */
static void exhaust__dry_ones_in_a_message_that_ends_too_low(void **state)
{
    static const struct {
        double high;
        int error, hot;
        uint32_t pgn;
        char kind; /* as configured: dry, wet, or not at all */
        bool overflow, unsure;
    } rows[] = {
        {300, 0, 0, 130312, 'd', false, false},   {300.1, 0, 0, 130312, 'd', true, false},
        {200, 1, 0, 130312, 'd', true, false},    {300.1, 1, 0, 130316, 'd', false, false},
        {300.1, 1, 9, 130312, 'w', false, false}, {300.1, 0, 4, 130312, '-', false, false},
        {300.1, 0, 5, 130312, '-', true, true},   {300, 0, 5, 130312, '-', false, true},
    };
    struct channel_setting channel = {.id = {QTY_EXHAUST, 1, 0}, .gain = 1};
    struct settings settings = {.channels = &channel, .channel_count = 1};

    (void)state;
    m->settings = &settings;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        channel.dry = rows[i].kind == 'd';
        channel.wet = rows[i].kind == 'w';
        heard(QTY_EXHAUST, 1,
              (struct muster_value){.ok = 1000,
                                    .pgn = rows[i].pgn,
                                    .high = rows[i].high,
                                    .error = (uint64_t)rows[i].error,
                                    .hot_longest = (uint32_t)rows[i].hot});
        if (is_said("overflow") != rows[i].overflow || is_said("wet or dry") != rows[i].unsure)
            fail_msg("row %zu", i);
    }
}

/* Each engine is a row of the page: its name, and what the cooling watch has of it. */
static void page__cooling_watch__a_row_each(void **state)
{
    static const struct settings settings;
    const struct papers papers = {NULL, NULL};
    char *text = NULL;
    size_t len = 0;

    (void)state;
    m->settings = &settings;
    heard(QTY_ENGINE_SPACE, 0, (struct muster_value){.ok = 9});
    m->cooling_count = 2;
    m->cooling[0] = (struct muster_cooling){.name = "PORT"};
    m->cooling[1] = (struct muster_cooling){
        .name = "STARBOARD", .sense = {.exhaust = true, .speed = true, .period_s = 2}};
    FILE *out = open_memstream(&text, &len);
    muster_write_html(m, &papers, true, out);
    fclose(out);
    const char *port = strstr(text, ">PORT<"), *starboard = strstr(text, ">STARBOARD<");
    assert_true(port && starboard && port < starboard);
    const char *blind = strstr(port, ">BLIND to lost water: no exhaust temperature is heard<");
    assert_true(blind && blind < starboard);
    assert_non_null(strstr(starboard, ">exhaust every 2.0 s, has speed, lacks load, twin, sea;"));
    free(text);
}

#define WITH(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(stuck__by_how_fine_its_steps_are),
        WITH(hours__that_stand_still__after_half_an_hour_of_running),
        WITH(stopped__before_the_rest_of_its_message),
        WITH(empty__fields_of_a_message__are_one_note),
        WITH(exhaust__dry_ones_in_a_message_that_ends_too_low),
        WITH(page__cooling_watch__a_row_each),
        WITH(not_there__by_its_share),
        WITH(beyond__the_span_or_physics),
        WITH(tank__without_a_size),
        WITH(swapped__where_the_exhausts_go_against_the_speeds),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
