/* How a reading is put into words and figures, at the bounds where another word or place begins. */
#include "screen/model.h"

#include "support/check.h"

static struct model *m;
static struct model_channel c;

static int begin(void **state)
{
    (void)state;
    m = model_new();
    assert_non_null(m);
    m->units = (struct unit_choice){UNIT_C, UNIT_KPA, UNIT_L, UNIT_LPH, UNIT_KN};
    c = (struct model_channel){.id = {QTY_EXHAUST, 0, 0},
                               .key = "exhaust.0",
                               .label = "exhaust",
                               .place = "",
                               .unit = UNIT_C,
                               .engine = -1,
                               .alert = -1,
                               .status = READING_OK};
    return 0;
}

static int end(void **state)
{
    (void)state;
    model_free(m);
    return 0;
}

static void rate__steps_at_once_and_four_times_what_is_steady(void **state)
{
    static const struct {
        double rate;
        int step;
    } rows[] = {{0, 0},  {1.99, 0},  {2, 1},   {7.99, 1},   {8, 2},
                {90, 2}, {-1.99, 0}, {-2, -1}, {-7.99, -1}, {-8, -2}};

    (void)state;
    c.has_rate = true;
    c.steady_per_min = 2;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        c.rate_per_min = rows[i].rate;
        assert_int_equal(model_rate_step(&c), rows[i].step);
    }
    c.status = READING_STALE;
    assert_int_equal(model_rate_step(&c), 0);
    c.status = READING_OK;
    c.has_rate = false;
    assert_int_equal(model_rate_step(&c), 0);
}

/* A tenth up to 9.9, whole from there on; what counts as steady is not said. 5 K are 9 °F. */
static void rate_text__a_sign_and_two_figures(void **state)
{
    static const struct {
        double rate;
        enum unit unit;
        const char *text;
    } rows[] = {{0.9, UNIT_C, ""},       {-0.9, UNIT_C, ""},     {1, UNIT_C, "+1.0"},
                {-1, UNIT_C, "-1.0"},    {9.94, UNIT_C, "+9.9"}, {9.96, UNIT_C, "+10"},
                {-9.94, UNIT_C, "-9.9"}, {-9.96, UNIT_C, "-10"}, {61.4, UNIT_C, "+61"},
                {5, UNIT_F, "+9.0"},     {-10, UNIT_F, "-18"}};
    char text[32];

    (void)state;
    c.has_rate = true;
    c.steady_per_min = 1;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        m->units.temperature = rows[i].unit;
        c.rate_per_min = rows[i].rate;
        assert_string_equal(model_rate_text(m, &c, text, sizeof text), rows[i].text);
    }
    c.rate_per_min = INFINITY;
    assert_string_equal(model_rate_text(m, &c, text, sizeof text), "");
    c.has_rate = false;
    assert_string_equal(model_rate_text(m, &c, text, sizeof text), "");
}

static void age__in_the_largest_unit_of_which_there_are_two(void **state)
{
    static const struct {
        int s;
        const char *text, *brief;
    } rows[] = {{0, "0 s old", "0s old"},          {119, "119 s old", "119s old"},
                {120, "2 min old", "2m old"},      {179, "2 min old", "2m old"},
                {7199, "119 min old", "119m old"}, {7200, "2 h old", "2h old"},
                {10799, "2 h old", "2h old"},      {86400, "24 h old", "24h old"}};
    char text[32];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        c.age_ns = rows[i].s * NS_PER_S + NS_PER_S - 1;
        assert_string_equal(model_age_text(&c, text, sizeof text), rows[i].text);
        model_age_short(&c, text, sizeof text);
        assert_string_equal(text, rows[i].brief);
    }
    c.off = true;
    assert_string_equal(model_age_text(&c, text, sizeof text), "off");
}

static void reading__states_have_words_and_what_is_missing_is_no_nought(void **state)
{
    static const struct {
        enum quantity quantity;
        enum reading_status status;
        double value;
        const char *text;
    } rows[] = {
        {QTY_EXHAUST, READING_OK, 29, "29"},           {QTY_EXHAUST, READING_STALE, 29, "29"},
        {QTY_EXHAUST, READING_ERROR, 29, "err"},       {QTY_EXHAUST, READING_NEVER, 0, "--"},
        {QTY_EXHAUST, READING_NOT_AVAILABLE, 0, "--"}, {QTY_GEAR, READING_OK, 0, "neutral"},
        {QTY_GEAR, READING_OK, 0.5, "neutral"},        {QTY_GEAR, READING_OK, 0.6, "ahead"},
        {QTY_GEAR, READING_OK, -0.5, "neutral"},       {QTY_GEAR, READING_OK, -0.6, "astern"},
        {QTY_GEAR, READING_STALE, 1, "ahead"},         {QTY_SWITCH, READING_OK, 0.5, "off"},
        {QTY_SWITCH, READING_OK, 0.6, "on"},           {QTY_SWITCH, READING_ERROR, 1, "err"},
    };
    char text[32];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        c.id.quantity = (uint16_t)rows[i].quantity;
        c.unit = quantity_info(rows[i].quantity)->unit;
        c.status = rows[i].status;
        c.value = c.shown = rows[i].value;
        assert_string_equal(model_reading_text(m, &c, text, sizeof text), rows[i].text);
    }
}

/* 412 kPa are 4.12 bar and 59.8 psi, 20.5 °C are 68.9 °F: two more places in bar, one less in °F.
 */
static void value__as_many_places_as_its_unit_wants(void **state)
{
    static const struct {
        enum unit base, shown;
        int decimals;
        double value;
        const char *text;
    } rows[] = {
        {UNIT_KPA, UNIT_KPA, 0, 412, "412"},   {UNIT_KPA, UNIT_BAR, 0, 412, "4.12"},
        {UNIT_KPA, UNIT_BAR, 1, 412, "4.120"}, {UNIT_KPA, UNIT_PSI, 0, 412, "60"},
        {UNIT_C, UNIT_C, 1, 20.5, "20.5"},     {UNIT_C, UNIT_F, 1, 20.5, "69"},
        {UNIT_C, UNIT_F, 2, 20.5, "68.9"},     {UNIT_C, UNIT_F, 0, 20.5, "69"},
    };
    char text[32];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        m->units.temperature = rows[i].shown;
        m->units.pressure = rows[i].shown;
        c.unit = rows[i].base;
        c.decimals = (uint8_t)rows[i].decimals;
        assert_string_equal(model_value_text(m, &c, rows[i].value, text, sizeof text),
                            rows[i].text);
    }
}

static void unit__the_users_where_there_is_a_choice(void **state)
{
    static const struct unit_choice chosen = {UNIT_F, UNIT_BAR, UNIT_GAL_US, UNIT_GPH_US, UNIT_KMH};

    (void)state;
    assert_int_equal(model_unit(&chosen, UNIT_C), UNIT_F);
    assert_int_equal(model_unit(&chosen, UNIT_KPA), UNIT_BAR);
    assert_int_equal(model_unit(&chosen, UNIT_L), UNIT_GAL_US);
    assert_int_equal(model_unit(&chosen, UNIT_LPH), UNIT_GPH_US);
    assert_int_equal(model_unit(&chosen, UNIT_KN), UNIT_KMH);
    assert_int_equal(model_unit(&chosen, UNIT_V), UNIT_V);
    assert_int_equal(model_unit(&chosen, UNIT_NONE), UNIT_NONE);
}

static double shown(double value, bool fresh)
{
    m->channels[0] = c;
    m->channels[0].value = value;
    m->channel_count = 1;
    model_settle(m, fresh);
    return m->channels[0].shown;
}

/* In the steps of its own unit's precision, or of its last place; from one step to the next once it
 * has gone three quarters of one. */
static void settle__each_unit_has_its_step(void **state)
{
    static const struct {
        enum unit unit;
        double value, shown, stays, goes, gone;
    } rows[] = {
        {UNIT_RPM, 2296, 2300, 2307.4, 2307.5, 2310}, {UNIT_C, 29.3, 29.5, 29.8, 29.9, 30},
        {UNIT_KPA, 412, 420, 434.9, 435, 440},        {UNIT_LPH, 48.2, 48, 46.6, 46.5, 46},
        {UNIT_V, 12.63, 12.6, 12.67, 12.68, 12.7},
    };

    (void)state;
    m->precision =
        (struct precision_setting){.rpm = 10, .temperature = 0.5, .pressure = 20, .flow = 2};
    c.decimals = 1;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        c.unit = rows[i].unit;
        assert_near(shown(rows[i].value, true), rows[i].shown, 1e-9);
        assert_near(shown(rows[i].stays, false), rows[i].shown, 1e-9);
        assert_near(shown(rows[i].goes, false), rows[i].gone, 1e-9);
    }
    c.unit = UNIT_RPM;
    assert_near(shown(2296, true), 2300, 1e-9);
    c.alert = 0; /* as its alert says it */
    assert_near(shown(2297.5, false), 2297.5, 1e-9);
    c.alert = -1;
    c.key = "exhaust.1"; /* what another row showed is another matter */
    assert_near(shown(2292, false), 2290, 1e-9);
    assert_near(shown(2296, false), 2290, 1e-9);
    assert_near(shown(2296, true), 2300, 1e-9);
    m->precision.rpm = 0; /* never finer than its last place */
    assert_near(shown(2296.16, true), 2296.2, 1e-9);
}

/* At its limit it is not beyond it. Below a limit only what is heard now and whose engine runs. */
static void beyond__only_past_the_limit(void **state)
{
    (void)state;
    assert_false(model_is_beyond(m, &c)); /* no limit */
    c.has_limit = c.limit_above = true;
    c.limit = 93.3;
    c.value = 93.3;
    assert_false(model_is_beyond(m, &c));
    c.value = 93.4;
    assert_true(model_is_beyond(m, &c));
    c.value = NAN;
    assert_false(model_is_beyond(m, &c));
    c.limit_above = false;
    c.value = 93.3;
    assert_false(model_is_beyond(m, &c));
    c.value = 93.2;
    assert_true(model_is_beyond(m, &c)); /* of no engine: the state of none counts */
    c.status = READING_STALE;
    assert_false(model_is_beyond(m, &c));
    c.status = READING_OK;
    c.engine = 0;
    m->engine_states[0] = ENGINE_STOPPED;
    assert_false(model_is_beyond(m, &c));
    m->engine_states[0] = ENGINE_RUNNING;
    assert_true(model_is_beyond(m, &c));
}

/* A caution wants no answer; each row has the worst alert about it, and its rate while it stands.
 */
static void alerts__are_counted_and_found_by_their_channel(void **state)
{
    static struct alert alerts[] = {
        {.priority = PRIORITY_ALARM,
         .state = ALERT_UNACKNOWLEDGED,
         .active = true,
         .channel = "exhaust.0",
         .figures = {.rate_per_min = 96}},
        {.priority = PRIORITY_WARNING,
         .state = ALERT_SILENCED,
         .active = true,
         .channel = "exhaust.0",
         .figures = {.rate_per_min = 5}},
        {.priority = PRIORITY_WARNING, .state = ALERT_ACKNOWLEDGED, .channel = "coolant.0"},
        {.priority = PRIORITY_CAUTION, .state = ALERT_UNACKNOWLEDGED, .channel = "sea.0"},
    };
    static const char *const keys[] = {"exhaust.0", "coolant.0", "sea.0", "rpm.0"};
    static const int about[] = {0, 2, 3, -1};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        m->alerts[i] = &alerts[i];
        m->channels[i] = c;
        m->channels[i].key = keys[i];
        m->channels[i].rate_per_min = 1;
    }
    m->alert_count = m->channel_count = 4;
    model_link_alerts(m);
    assert_int_equal(m->unacknowledged, 2);
    assert_int_equal(m->counts[PRIORITY_CAUTION], 1);
    assert_int_equal(m->counts[PRIORITY_WARNING], 2);
    assert_int_equal(m->counts[PRIORITY_ALARM], 1);
    assert_int_equal(m->counts[PRIORITY_EMERGENCY], 0);
    assert_true(model_alarm_stands(m));
    for (int i = 0; i < 4; i++)
        assert_int_equal(m->channels[i].alert, about[i]);
    assert_near(m->channels[0].rate_per_min, 96, 1e-9);
    assert_true(m->channels[0].has_rate);
    assert_near(m->channels[1].rate_per_min, 1, 1e-9); /* its alert no longer stands */
    assert_false(m->channels[1].has_rate);
    m->channels[0].alert = -1;
    m->channels[0].rate_per_min = 1;
    m->channels[0].status = READING_STALE; /* what is old has no rate */
    model_link_alerts(m);
    assert_int_equal(m->counts[PRIORITY_ALARM], 1);
    assert_near(m->channels[0].rate_per_min, 1, 1e-9);
    alerts[0].priority = PRIORITY_EMERGENCY;
    model_link_alerts(m);
    assert_true(model_alarm_stands(m));
    alerts[0].priority = PRIORITY_WARNING;
    model_link_alerts(m);
    assert_false(model_alarm_stands(m));
}

#define WITH_MODEL(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_MODEL(rate__steps_at_once_and_four_times_what_is_steady),
        WITH_MODEL(rate_text__a_sign_and_two_figures),
        WITH_MODEL(age__in_the_largest_unit_of_which_there_are_two),
        WITH_MODEL(reading__states_have_words_and_what_is_missing_is_no_nought),
        WITH_MODEL(value__as_many_places_as_its_unit_wants),
        WITH_MODEL(unit__the_users_where_there_is_a_choice),
        WITH_MODEL(settle__each_unit_has_its_step),
        WITH_MODEL(beyond__only_past_the_limit),
        WITH_MODEL(alerts__are_counted_and_found_by_their_channel),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
