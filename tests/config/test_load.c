/* Layers: the built-in defaults, a user's file over them, and which rule counts. */
#include "conf.h"

static void no_file__is_the_shipped_one(void **state)
{
    (void)state;
    struct config_messages *m;
    struct settings *s = config_load(NULL, &m);
    assert_non_null(s);
    assert_int_equal(config_message_count(m), 0);
    assert_string_equal(s->vessel, "");
    assert_int_equal(s->engines, 0);
    assert_int_equal(s->units.temperature, UNIT_C);
    assert_true(isnan(s->screen.latitude));
    assert_true(s->rule_count > 40);
    assert_int_equal(s->channel_count, 0);
    settings_free(s);
    config_messages_free(m);
}

static void section_of_the_same_name__changes_only_its_keys(void **state)
{
    (void)state;
    struct settings *base = conf_good("");
    struct settings *s = conf_good("\n[limit exhaust-hot]\nabove = 85 C\n");
    const struct rule_setting *was = conf_rule(base, KIND_LIMIT, "exhaust-hot");
    const struct rule_setting *is = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    assert_int_equal(s->rule_count, base->rule_count);
    assert_near(is->above, 85, 1e-9);
    assert_near(is->deadband, was->deadband, 0);
    assert_int_equal(is->hold_ns, was->hold_ns);
    assert_string_equal(is->advice, was->advice);
    assert_int_equal(was->at.file, 0);
    assert_int_equal(is->at.file, 1);
    assert_int_equal(is->at.line, 2);
    assert_string_equal(s->files[1], "t.conf");
    settings_free(s);
    settings_free(base);
}

static void new_rule__starts_from_the_schema(void **state)
{
    (void)state;
    struct settings *s =
        conf_good("[limit thaw]\nchannel = freezer.0\nabove = -10 C\n[bus mine]\n");
    const struct rule_setting *r = conf_rule(s, KIND_LIMIT, "thaw");
    assert_true(r->enabled);
    assert_int_equal(r->priority, PRIORITY_WARNING);
    assert_true(r->has_above && !r->has_below && !r->any_place);
    assert_near(r->above, -10, 1e-9);
    assert_int_equal(r->hold_ns, 0);
    assert_int_equal(conf_rule(s, KIND_BUS, "mine")->priority, PRIORITY_ALARM);
    settings_free(s);
}

static void shorthand__takes_the_place_of_the_general_limit_there(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel exhaust.0]\nalarm above = 85 C\n");
    const struct rule_setting *general = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    const struct rule_setting *own = conf_rule(s, KIND_LIMIT, "exhaust.0-alarm-above");
    assert_near(own->above, 85, 1e-9);
    assert_near(own->deadband, general->deadband, 0);
    assert_int_equal(own->hold_ns, general->hold_ns);
    assert_string_equal(own->advice, "");
    assert_int_equal(own->at.line, 2);
    assert_true(settings_rule_applies(s, own, conf_id("exhaust.0")));
    assert_false(settings_rule_applies(s, general, conf_id("exhaust.0")));
    assert_false(settings_rule_applies(s, own, conf_id("exhaust.1")));
    assert_true(settings_rule_applies(s, general, conf_id("exhaust.1")));
    settings_free(s);
}

/* Of two rules of one question the more exact one is asked, whichever stands first. */
static void rules__the_more_exact_one_applies_in_any_order(void **state)
{
    (void)state;
    const struct channel_id here = conf_id("exhaust.0"), there = conf_id("exhaust.1");
    struct rule_setting pair[2] = {
        {.kind = KIND_SILENT, .enabled = true, .id = here, .name = "exact"},
        {.kind = KIND_SILENT, .enabled = true, .id = here, .any_place = true, .name = "any"},
    };
    struct settings s = {.rules = pair, .rule_count = 2};
    for (int order = 0; order < 2; order++) {
        const struct rule_setting *exact = &pair[order], *any = &pair[1 - order];
        assert_true(settings_rule_applies(&s, exact, here));
        assert_false(settings_rule_applies(&s, any, here));
        assert_false(settings_rule_applies(&s, exact, there));
        assert_true(settings_rule_applies(&s, any, there));
        assert_ptr_equal(settings_rule_for(&s, KIND_SILENT, here), exact);
        assert_ptr_equal(settings_rule_for(&s, KIND_SILENT, there), any);
        assert_null(settings_rule_for(&s, KIND_SPAN, here));
        struct rule_setting first = pair[0];
        pair[0] = pair[1];
        pair[1] = first;
    }
}

/* A rule of one's own is asked of every channel unless it names one; a limit and a state have to.
 */
static void rule__that_names_no_channel__is_of_all(void **state)
{
    (void)state;
    struct settings *s = conf_good("[silent mine]\npriority = warning\n"
                                   "[span yours]\nchannel = oil-pressure.1\n");
    assert_true(conf_rule(s, KIND_SILENT, "mine")->any_place);
    assert_int_equal(conf_rule(s, KIND_SILENT, "mine")->id.quantity, QTY_NONE);
    assert_false(conf_rule(s, KIND_SPAN, "yours")->any_place);
    settings_free(s);
}

/* A limit that is given another channel, of another unit, keeps no dead band of the first. */
static void limit__moved_to_another_unit__has_no_dead_band(void **state)
{
    (void)state;
    struct settings *s =
        conf_good("[limit exhaust-hot]\nchannel = oil-pressure.*\nabove = 700 kPa\n");
    const struct rule_setting *r = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    assert_near(r->above, 700, 1e-9);
    assert_near(r->deadband, 0, 0);
    settings_free(s);
    s = conf_good("[limit exhaust-hot]\nchannel = coolant.*\n");
    r = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    assert_near(r->above, 93.3, 0.05); /* 200 degrees Fahrenheit */
    assert_true(r->deadband > 0);
    settings_free(s);
}

static void shorthand_of_another_priority_or_direction__replaces_nothing(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel exhaust.0]\nwarning above = 75 C\n"
                                   "alarm below = 2 C\n");
    const struct rule_setting *general = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    assert_true(settings_rule_applies(s, general, conf_id("exhaust.0")));
    assert_int_equal(conf_rule(s, KIND_LIMIT, "exhaust.0-warning-above")->priority,
                     PRIORITY_WARNING);
    const struct rule_setting *below = conf_rule(s, KIND_LIMIT, "exhaust.0-alarm-below");
    assert_true(below->has_below && !below->has_above);
    assert_int_equal(below->hold_ns, INT64_C(3000000000)); /* no model: three seconds */
    settings_free(s);
}

static void shorthand_for_oil__still_asks_for_a_running_engine(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel oil-pressure.1]\nalarm below = 20 psi\n"
                                   "warning below = 25 psi\n");
    const struct rule_setting *alarm = conf_rule(s, KIND_LIMIT, "oil-pressure.1-alarm-below");
    const struct rule_setting *warning = conf_rule(s, KIND_LIMIT, "oil-pressure.1-warning-below");
    assert_int_equal(alarm->while_state, WHILE_RUNNING);
    assert_int_equal(alarm->settle_ns, INT64_C(15000000000));
    assert_int_equal(warning->while_state, WHILE_RUNNING); /* from the alarm: there is no warning */
    assert_near(alarm->below, 137.89514, 1e-5);
    settings_free(s);
}

static void shorthand_in_volts__is_the_boats_own_voltage(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel battery-volts.0]\nnominal volts = 24 V\n"
                                   "warning below = 24.2 V\n");
    const struct rule_setting *own = conf_rule(s, KIND_LIMIT, "battery-volts.0-warning-below");
    assert_false(own->per_12v);
    assert_near(own->below, 24.2, 1e-9);
    assert_true(conf_rule(s, KIND_LIMIT, "battery-low")->per_12v);
    settings_free(s);
}

static void shorthand_none__takes_the_limit_away_there_alone(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel exhaust.1]\nalarm above = none\n");
    const struct rule_setting *general = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    assert_false(settings_rule_applies(s, general, conf_id("exhaust.1")));
    assert_true(settings_rule_applies(s, general, conf_id("exhaust.0")));
    settings_free(s);
}

static void more_exact_rule__counts(void **state)
{
    (void)state;
    struct settings *s = conf_good("[silent port-exhaust]\nchannel = exhaust.0\n"
                                   "priority = caution\n[silent coolant]\nenabled = no\n");
    assert_string_equal(settings_rule_for(s, KIND_SILENT, conf_id("exhaust.0"))->name,
                        "port-exhaust");
    assert_string_equal(settings_rule_for(s, KIND_SILENT, conf_id("exhaust.1"))->name, "exhaust");
    assert_string_equal(settings_rule_for(s, KIND_SILENT, conf_id("sea.0"))->name, "other");
    /* switched off for coolant means no alert there, not the wider rule in its place */
    assert_null(settings_rule_for(s, KIND_SILENT, conf_id("coolant.0")));
    assert_string_equal(settings_rule_for(s, KIND_REPORTED, conf_id("sea.0"))->name, "engine");
    settings_free(s);
}

static void exact_limit_section__stands_in_like_a_shorthand(void **state)
{
    (void)state;
    struct settings *s = conf_good("[limit mine]\nchannel = exhaust.0\npriority = alarm\n"
                                   "above = 80 C\nenabled = no\n");
    assert_null(settings_rule_for(s, KIND_LIMIT, conf_id("exhaust.0")));
    assert_string_equal(settings_rule_for(s, KIND_LIMIT, conf_id("exhaust.1"))->name,
                        "exhaust-hot");
    settings_free(s);
}

static void channel_changed_to_another_unit__needs_a_new_limit(void **state)
{
    (void)state;
    assert_says("[limit exhaust-hot]\nchannel = oil-pressure.0\n",
                "t.conf:1: [limit exhaust-hot] channel: has another unit than the limit that is "
                "there; give a new limit as well");
    struct settings *s =
        conf_good("[limit exhaust-hot]\nabove = 9 bar\nchannel = oil-pressure.0\n");
    assert_near(conf_rule(s, KIND_LIMIT, "exhaust-hot")->above, 900, 1e-9);
    settings_free(s);
}

static void many_channels_and_rules__are_bounded(void **state)
{
    (void)state;
    char *text = NULL;
    size_t len;
    FILE *f = open_memstream(&text, &len);
    assert_non_null(f);
    for (int bank = 0; bank < 20; bank++)
        for (int n = 1; n <= 28; n++)
            fprintf(f, "[channel switch.%d.%d]\nlabel = x\n", bank, n);
    for (int n = 0; n < 1100; n++)
        fprintf(f, "[bus b%d]\n", n);
    fclose(f);
    struct config_messages *m;
    assert_null(config_load_text("t.conf", text, &m));
    assert_string_equal(config_message(m, 0),
                        "t.conf:1025: [channel switch.18.9] is one channel too many");
    config_messages_free(m);
    free(text);
}

static void units_for_people__follow_the_choice(void **state)
{
    (void)state;
    struct settings *s = conf_good("[units]\ntemperature = F\npressure = psi\nvolume = US gal\n"
                                   "flow = imp gal/h\nspeed = km/h\n");
    assert_int_equal(settings_unit(s, UNIT_C), UNIT_F);
    assert_int_equal(settings_unit(s, UNIT_KPA), UNIT_PSI);
    assert_int_equal(settings_unit(s, UNIT_L), UNIT_GAL_US);
    assert_int_equal(settings_unit(s, UNIT_LPH), UNIT_GPH_IMP);
    assert_int_equal(settings_unit(s, UNIT_KN), UNIT_KMH);
    assert_int_equal(settings_unit(s, UNIT_V), UNIT_V);
    settings_free(s);
}

static void wet_dry_and_names__land_in_their_fields(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel exhaust.0]\nsensor = dry\nlabel = port elbow\n"
                                   "hidden = yes\ngain = 1.02\n[channel exhaust.1]\nsensor = wet\n"
                                   "[engine 0]\nname = LEFT\n[engine 1]\nname = RIGHT\n");
    const struct channel_setting *dry = settings_channel(s, conf_id("exhaust.0"));
    const struct channel_setting *wet = settings_channel(s, conf_id("exhaust.1"));
    assert_true(dry->dry && !dry->wet && dry->hidden);
    assert_true(wet->wet && !wet->dry && !wet->hidden);
    assert_string_equal(dry->label, "port elbow");
    assert_near(dry->gain, 1.02, 1e-12);
    assert_near(wet->gain, 1, 0);
    assert_string_equal(settings_engine(s, 1)->name, "RIGHT");
    assert_null(settings_channel(s, conf_id("exhaust.2")));
    settings_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rule__that_names_no_channel__is_of_all),
        cmocka_unit_test(limit__moved_to_another_unit__has_no_dead_band),
        cmocka_unit_test(rules__the_more_exact_one_applies_in_any_order),
        cmocka_unit_test(no_file__is_the_shipped_one),
        cmocka_unit_test(section_of_the_same_name__changes_only_its_keys),
        cmocka_unit_test(new_rule__starts_from_the_schema),
        cmocka_unit_test(shorthand__takes_the_place_of_the_general_limit_there),
        cmocka_unit_test(shorthand_of_another_priority_or_direction__replaces_nothing),
        cmocka_unit_test(shorthand_for_oil__still_asks_for_a_running_engine),
        cmocka_unit_test(shorthand_in_volts__is_the_boats_own_voltage),
        cmocka_unit_test(shorthand_none__takes_the_limit_away_there_alone),
        cmocka_unit_test(more_exact_rule__counts),
        cmocka_unit_test(exact_limit_section__stands_in_like_a_shorthand),
        cmocka_unit_test(channel_changed_to_another_unit__needs_a_new_limit),
        cmocka_unit_test(many_channels_and_rules__are_bounded),
        cmocka_unit_test(units_for_people__follow_the_choice),
        cmocka_unit_test(wet_dry_and_names__land_in_their_fields),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
