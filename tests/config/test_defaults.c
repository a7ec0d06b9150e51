/* The shipped limits against the world: published figures where there are some, and a healthy
 * boat that must be left in peace. */
#include "conf.h"

#include "alerts/action.h"

static void exhaust_alarm__is_200_fahrenheit(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    const struct rule_setting *r = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    /* ABYC P-1: surfaces that may exceed 200 F (93 C), as summarised in public */
    assert_near(r->above, (200 - 32) / 1.8, 0.05);
    assert_int_equal(r->priority, PRIORITY_ALARM);
    assert_int_equal(r->while_state, WHILE_ALWAYS);
    /* Professional BoatBuilder no. 170: a strapped-on sensor sees 74 C within 30 s of losing the
     * water; a hold of a minute would be too late (EEMUA 191's 60 s for temperatures) */
    assert_true(r->hold_ns <= 5 * INT64_C(1000000000));
    assert_string_equal(r->advice, ""); /* what to do goes by stage: alerts/action.c */
    settings_free(s);
}

static void life_of_an_alert__keeps_to_msc_302(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    /* MSC.302(87) 7.3.5: 30 s; escalation of a warning at most 5 min (from memory);
     * flashing 0.5 to 1.5 Hz (ergonomic criteria 9.6.2) */
    assert_int_equal(s->alerts.silence_ns, INT64_C(30000000000));
    assert_true(s->alerts.escalate_ns <= INT64_C(300000000000));
    assert_true(1e9 / (double)s->alerts.flash_ns >= 0.5 && 1e9 / (double)s->alerts.flash_ns <= 1.5);
    settings_free(s);
}

/* Whether a steady value would raise anything; volts as on a system of `nominal`. */
static const char *cries_for(const struct settings *s, const char *key, double value,
                             double nominal, enum battery_chemistry chemistry)
{
    struct channel_id id = conf_id(key);
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (r->kind != KIND_LIMIT || !settings_rule_applies(s, r, id) ||
            !settings_for_battery(r, chemistry) ||
            (r->system > 0 && fabs(r->system - nominal) > 0) ||
            (r->off_below > 0 && value < r->off_below))
            continue;
        double scale = r->per_12v ? nominal / 12 : 1;
        if ((r->has_above && value > r->above * scale) ||
            (r->has_below && value < r->below * scale))
            return r->name;
    }
    return NULL;
}

static const char *cries(const struct settings *s, const char *key, double value, double nominal)
{
    return cries_for(s, key, value, nominal, BATTERY_UNKNOWN);
}

/* What each chemistry is charged with and rests at: makers' and sellers' public pages. */
static void batteries__of_each_kind__in_peace_and_told_of(void **state)
{
    (void)state;
    static const struct {
        enum battery_chemistry chemistry;
        double rested, charging, low, high;
    } kinds[] = {{BATTERY_UNKNOWN, 12.2, 14.8, 11.7, 15.3},
                 {BATTERY_LEAD, 12.2, 14.8, 11.7, 15.3},
                 {BATTERY_AGM, 12.0, 14.7, 11.7, 15.1},
                 {BATTERY_GEL, 12.3, 14.4, 11.7, 14.8},
                 {BATTERY_LITHIUM, 12.9, 14.6, 11.9, 14.9}};
    struct settings *s = conf_good("");
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        for (int nominal = 12; nominal <= 48; nominal *= 2) {
            double x = nominal / 12.0;
            enum battery_chemistry c = kinds[i].chemistry;
            assert_null(cries_for(s, "battery-volts.0", kinds[i].rested * x, nominal, c));
            assert_null(cries_for(s, "battery-volts.0", kinds[i].charging * x, nominal, c));
            assert_non_null(cries_for(s, "battery-volts.0", kinds[i].low * x, nominal, c));
            assert_non_null(cries_for(s, "battery-volts.0", kinds[i].high * x, nominal, c));
            assert_non_null(cries_for(s, "battery-volts.0", 16.1 * x, nominal, c));
        }
    assert_null(cries_for(s, "battery-volts.0", 9, 12, BATTERY_OTHER)); /* no limit of ours fits */
    settings_free(s);
}

/* IEC 60038 for volts, ISO 8528-5 class G2 for a generator's hertz. */
static void alternating_current__within_the_standards__and_switched_off__in_peace(void **state)
{
    (void)state;
    static const struct {
        const char *key;
        double nominal, low, high, too_low, too_high;
    } of[] = {
        {"ac-in-volts.0.1", 230, 207, 253, 200, 260}, {"ac-in-volts.0.1", 120, 108, 132, 104, 135},
        {"ac-volts.0.3", 230, 207, 253, 200, 260},    {"ac-volts.0.3", 120, 108, 132, 104, 135},
        {"ac-in-hertz.0.1", 50, 47, 52, 46, 54},      {"ac-in-hertz.0.1", 60, 57, 63, 55, 65},
        {"ac-hertz.0.1", 50, 49.25, 53.25, 47, 54},   {"ac-hertz.0.1", 60, 59.1, 63.9, 56, 65}};
    struct settings *s = conf_good("");
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        assert_null(cries(s, of[i].key, of[i].low, of[i].nominal));
        assert_null(cries(s, of[i].key, of[i].high, of[i].nominal));
        assert_null(cries(s, of[i].key, 0, of[i].nominal));
        assert_null(cries(s, of[i].key, 12, of[i].nominal));
        assert_non_null(cries(s, of[i].key, of[i].too_low, of[i].nominal));
        assert_non_null(cries(s, of[i].key, of[i].too_high, of[i].nominal));
        assert_null(cries(s, of[i].key, of[i].too_low, 0)); /* a system that is not known */
    }
    settings_free(s);
}

static void healthy_boat__is_left_in_peace(void **state)
{
    (void)state;
    /* Common practice, no source, but the first two, which are the promise of the product, and
     * engine-room air at 45 C by design (IACS UR M28, from memory) plus 12 K. */
    static const struct {
        const char *key;
        double low, high, nominal;
    } healthy[] = {
        {"exhaust.0", 25, 70, 0},
        {"coolant.1", 5, 93, 0},
        {"engine-space.0", 5, 57, 0},
        {"oil-pressure.0", 90, 700, 0},
        {"oil-temp.0", 10, 115, 0},
        {"gear-oil-pressure.0", 100, 2500, 0},
        {"gear-oil-temp.1", 10, 90, 0},
        {"alternator.0", 13.2, 14.8, 12},
        {"alternator.1", 26.4, 29.6, 24},
        {"battery-volts.0", 12, 14.8, 12},
        {"battery-volts.1", 24, 29.6, 24},
        {"battery-volts.2", 48, 59.2, 48},
        {"battery-temp.0", -10, 45, 0},
        {"fuel-tank.0", 20, 100, 0},
        {"fresh-water-tank.0", 10, 100, 0},
        {"black-water-tank.0", 0, 90, 0},
        {"grey-water-tank.0", 0, 90, 0},
        {"shaft-seal.0", 5, 50, 0},
        {"sea.0", -2, 35, 0},
        {"outside-air.0", -20, 45, 0},
        {"refrigerator.0", -5, 30, 0},
        {"freezer.0", -30, 30, 0},
        {"exhaust-gas.0", 20, 650, 0},
        {"rpm.0", 0, 4000, 0},
        {"load.0", 0, 110, 0},
        {"boost.0", 0, 300, 0},
        {"battery-charge.0", 20, 100, 0},
    };
    struct settings *s = conf_good("");
    for (size_t i = 0; i < sizeof healthy / sizeof *healthy; i++) {
        for (int step = 0; step <= 100; step++) {
            double v = healthy[i].low + (healthy[i].high - healthy[i].low) * step / 100;
            const char *rule = cries(s, healthy[i].key, v, healthy[i].nominal);
            if (rule)
                fail_msg("[limit %s] cries at %s = %.2f", rule, healthy[i].key, v);
        }
    }
    settings_free(s);
}

static void failing_boat__is_not(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    assert_non_null(cries(s, "exhaust.0", 93.4, 0));
    assert_non_null(cries(s, "coolant.0", 103.5, 0));
    assert_non_null(cries(s, "oil-pressure.1", 40, 0));
    assert_non_null(cries(s, "engine-space.0", 76, 0));
    assert_non_null(cries(s, "gear-oil-temp.0", 115, 0));
    assert_non_null(cries(s, "alternator.0", 31, 24));
    assert_non_null(cries(s, "battery-volts.0", 11.5, 12));
    assert_non_null(cries(s, "battery-volts.0", 23, 24));
    assert_non_null(cries(s, "fuel-tank.1", 9, 0));
    settings_free(s);
}

static void oil_pressure__waits_for_a_running_engine(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    static const char *const names[] = {"oil-pressure-low", "gear-oil-pressure-low",
                                        "alternator-low", "coolant-warm", "coolant-hot"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        assert_int_equal(conf_rule(s, KIND_LIMIT, names[i])->while_state, WHILE_RUNNING);
    assert_true(conf_rule(s, KIND_LIMIT, "oil-pressure-low")->settle_ns >= INT64_C(5000000000));
    settings_free(s);
}

static void every_limit__has_a_deadband_and_a_hold(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    int limits = 0;
    for (size_t i = 0; i < s->rule_count; i++) {
        const struct rule_setting *r = &s->rules[i];
        if (r->kind != KIND_LIMIT)
            continue;
        limits++;
        assert_true(r->deadband > 0);
        assert_true(r->hold_ns > 0);
        /* what to do: here, or stage by stage in the table of alerts/action.c */
        assert_true(r->advice[0] != '\0' ||
                    action_of_limit((enum quantity)r->id.quantity, r->has_above) != TROUBLE_OTHER);
        /* kelvin of deadband: at least 1 % of a range of 100 K (EEMUA 191, from memory) */
        if (rule_unit(r) == UNIT_C)
            assert_true(r->deadband >= 1);
        if (r->per_12v)
            assert_int_equal(rule_unit(r), UNIT_V);
    }
    assert_true(limits >= 25);
    settings_free(s);
}

static void every_kind__is_at_work_but_those_that_need_the_boats_own_numbers(void **state)
{
    (void)state;
    struct settings *s = conf_good("");
    int count[KIND_COUNT] = {0};
    for (size_t i = 0; i < s->rule_count; i++)
        count[s->rules[i].kind] += s->rules[i].enabled;
    for (int k = 0; k < KIND_COUNT; k++) {
        if (k == KIND_STATE)
            assert_int_equal(count[k], 0);
        else
            assert_true(count[k] > 0);
    }
    assert_int_equal(settings_rule_for(s, KIND_CONFLICT, conf_id("exhaust.0"))->priority,
                     PRIORITY_CAUTION);
    assert_int_equal(settings_rule_for(s, KIND_SILENT, conf_id("exhaust.0"))->priority,
                     PRIORITY_WARNING);
    settings_free(s);
}

static void plain_sections__say_what_the_schema_says(void **state)
{
    (void)state;
    /* the shipped file is the reference: its [vessel], [units], [alerts] and [screen] hold every
     * key with the schema's default */
    const char *text = config_builtin_text();
    int seen = 0;
    for (size_t i = 0; i < schema_key_count; i++) {
        const struct schema_key *key = &schema_keys[i];
        if (key->scope == SCOPE_ENGINE || key->scope == SCOPE_CHANNEL || key->scope == SCOPE_RULE ||
            key->scope == SCOPE_HOOK || key->scope == SCOPE_PANE)
            continue;
        char row[128];
        snprintf(row, sizeof row, "\n%s =%s%s", key->key, *key->initial ? " " : "", key->initial);
        if (!strstr(text, row))
            fail_msg("configs/stokehold.conf lacks '%s'", row + 1);
        seen++;
    }
    assert_true(seen >= 19);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exhaust_alarm__is_200_fahrenheit),
        cmocka_unit_test(life_of_an_alert__keeps_to_msc_302),
        cmocka_unit_test(batteries__of_each_kind__in_peace_and_told_of),
        cmocka_unit_test(alternating_current__within_the_standards__and_switched_off__in_peace),
        cmocka_unit_test(healthy_boat__is_left_in_peace),
        cmocka_unit_test(failing_boat__is_not),
        cmocka_unit_test(oil_pressure__waits_for_a_running_engine),
        cmocka_unit_test(every_limit__has_a_deadband_and_a_hold),
        cmocka_unit_test(every_kind__is_at_work_but_those_that_need_the_boats_own_numbers),
        cmocka_unit_test(plain_sections__say_what_the_schema_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
