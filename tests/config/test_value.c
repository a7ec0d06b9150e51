/* Values of every type, through a whole file: in, and back out. */
#include "conf.h"

#include "config/value.h"

static void values_with_units__become_base_units(void **state)
{
    (void)state;
    struct settings *s = conf_good("[limit a]\nchannel = exhaust.1\nabove = 200 F\ndeadband = 9 F\n"
                                   "[limit b]\nchannel = oil-pressure.0\nbelow = 1.2 bar\n"
                                   "deadband = 3 psi\n"
                                   "[limit c]\nchannel = coolant.0\nabove = 95 degC\n"
                                   "deadband = 2.5 K\n"
                                   "[channel fuel-tank.0]\ncapacity = 100 gal\n"
                                   "[channel exhaust.0]\noffset = -1.8 F\n");
    /* 200 F is (200 - 32) / 1.8; a difference has no offset. NIST SP 811 factors. */
    assert_near(conf_rule(s, KIND_LIMIT, "a")->above, 93.3333333, 1e-6);
    assert_near(conf_rule(s, KIND_LIMIT, "a")->deadband, 5, 1e-9);
    assert_near(conf_rule(s, KIND_LIMIT, "b")->below, 120, 1e-9);
    assert_near(conf_rule(s, KIND_LIMIT, "b")->deadband, 20.684271, 1e-6);
    assert_near(conf_rule(s, KIND_LIMIT, "c")->above, 95, 1e-9);
    assert_near(conf_rule(s, KIND_LIMIT, "c")->deadband, 2.5, 1e-9);
    assert_near(settings_channel(s, conf_id("fuel-tank.0"))->capacity_l, 378.5411784, 1e-7);
    assert_near(settings_channel(s, conf_id("exhaust.0"))->offset, -1, 1e-9);
    settings_free(s);
}

static void value_without_or_with_a_wrong_unit__is_refused(void **state)
{
    (void)state;
    assert_says("[limit a]\nchannel = exhaust.1\nabove = 200\n"
                "[limit b]\nchannel = oil-pressure.0\nbelow = 100 C\n"
                "[limit c]\nchannel = exhaust.0\nabove = 90,5 C\ndeadband = 2\n"
                "[limit d]\nchannel = alternator.0\nabove = nan V\n"
                "[limit e]\nchannel = alternator.0\nabove = 1e400\n",
                "t.conf:3: [limit a] above: '200' is not a temperature with its unit, such as 93 C "
                "or 200 F",
                "t.conf:6: [limit b] below: '100 C' is not a pressure with its unit, such as 100 "
                "kPa, 1 bar or 15 psi",
                "t.conf:9: [limit c] above: '90,5 C' is not a temperature with its unit, such as "
                "93 C or 200 F",
                "t.conf:10: [limit c] deadband: '2' is not a difference with its unit, such as 3 K "
                "or 5 F",
                "t.conf:13: [limit d] above: 'nan V' is not a voltage with its unit, such as 12.6 "
                "V",
                "t.conf:16: [limit e] above: '1e400' is not a voltage with its unit, such as 12.6 "
                "V");
}

/* A number of as many characters as are kept, and one more. */
static void difference__long_numbers__are_refused_not_cut(void **state)
{
    (void)state;
    char text[64];
    double v;
    struct err e;
    for (int digits = 38; digits <= 41; digits++) {
        snprintf(text, sizeof text, "%0*d K", digits, 7);
        bool good = value_parse_difference(text, UNIT_C, &v, &e);
        assert_int_equal(good, digits < 40);
        if (good)
            assert_near(v, 7, 0);
    }
    assert_true(value_parse_difference("9 F", UNIT_C, &v, &e));
    assert_near(v, 5, 1e-9);
    assert_true(value_parse_difference("0", UNIT_C, &v, &e));
    assert_near(v, 0, 0);
}

static void lengths_of_time__take_units_and_bounds(void **state)
{
    (void)state;
    struct settings *s = conf_good("[limit exhaust-hot]\nhold = 1500 ms\nclear hold = 2 min\n"
                                   "[screen]\ntrend span = 2 h\n[alerts]\nsilence for = 20\n");
    const struct rule_setting *r = conf_rule(s, KIND_LIMIT, "exhaust-hot");
    assert_int_equal(r->hold_ns, INT64_C(1500000000));
    assert_int_equal(r->clear_hold_ns, INT64_C(120000000000));
    assert_int_equal(s->screen.trend_span_ns, INT64_C(7200000000000));
    assert_int_equal(s->alerts.silence_ns, INT64_C(20000000000));
    settings_free(s);
    /* MSC.302(87): silence at most 30 s, escalation at most 5 min; flashing 0.5 to 1.5 Hz */
    assert_says("[alerts]\nescalate after = 301 s\nsilence for = 31 s\nflash every = 0.6 s\n",
                "t.conf:2: [alerts] escalate after: 301 s is outside 10..300 s",
                "t.conf:3: [alerts] silence for: 31 s is outside 5..30 s",
                "t.conf:4: [alerts] flash every: 0.6 s is outside 0.67..2 s");
    assert_says("[limit exhaust-hot]\nhold = -1 s\nclear hold = 3 parsecs\n",
                "t.conf:2: [limit exhaust-hot] hold: '-1 s' is not a length of time, such as 500 "
                "ms, 10 s, 5 min or 1 h",
                "t.conf:3: [limit exhaust-hot] clear hold: '3 parsecs' is not a length of time, "
                "such as 500 ms, 10 s, 5 min or 1 h");
}

static void senders__are_addresses_with_or_without_interface(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel exhaust.0]\nsource = 35\n[channel exhaust.1]\n"
                                   "source = can1:253\n[channel coolant.0]\nsource = any\n");
    const struct sender_choice *a = &settings_channel(s, conf_id("exhaust.0"))->sender;
    const struct sender_choice *b = &settings_channel(s, conf_id("exhaust.1"))->sender;
    assert_true(a->set && b->set);
    assert_int_equal(a->source, 35);
    assert_string_equal(a->iface, "");
    assert_int_equal(b->source, 253);
    assert_string_equal(b->iface, "can1");
    assert_false(settings_channel(s, conf_id("coolant.0"))->sender.set);
    settings_free(s);
    assert_says("[channel exhaust.0]\nsource = 254\n[channel exhaust.1]\nsource = :3\n"
                "[channel coolant.0]\nsource = an-interface-name:3\n",
                "t.conf:2: [channel exhaust.0] source: '254' is not a sender: an address from 0 to "
                "253, such as 35 or can1:35",
                "t.conf:4: [channel exhaust.1] source: ':3' is not a sender: an address from 0 to "
                "253, such as 35 or can1:35",
                "t.conf:6: [channel coolant.0] source: 'an-interface-name:3' is not a sender: an "
                "address from 0 to 253, such as 35 or can1:35");
}

static void spans__are_two_values_in_order(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel sea.0]\nspan = -5 C to 104 F\n");
    const struct channel_setting *c = settings_channel(s, conf_id("sea.0"));
    assert_true(c->has_span);
    assert_near(c->span_low, -5, 1e-9);
    assert_near(c->span_high, 40, 1e-9);
    settings_free(s);
    assert_says(
        "[channel sea.0]\nspan = 40 C\n[channel cabin.0]\nspan = 40 C to 10 C\n"
        "[channel freezer.0]\nspan = 4 to 10 C\n",
        "t.conf:2: [channel sea.0] span: '40 C' is not a span: write LOW to HIGH, such as 0 C "
        "to 120 C",
        "t.conf:4: [channel cabin.0] span: the low end of '40 C to 10 C' is not below the "
        "high one",
        "t.conf:6: [channel freezer.0] span: '4' is not a temperature with its unit, such "
        "as 93 C or 200 F");
}

static void conditions__are_parsed_and_refused(void **state)
{
    (void)state;
    struct settings *s =
        conf_good("[combined x]\nwhen = engine-space.* above 130 F and switch.0.4 is off and "
                  "engine running and battery-volts.1 below 12 V\n");
    const struct rule_setting *r = conf_rule(s, KIND_COMBINED, "x");
    assert_int_equal(r->condition_count, 4);
    assert_int_equal(r->conditions[0].test, TEST_ABOVE);
    assert_true(r->conditions[0].any_place);
    assert_near(r->conditions[0].value, 54.444444, 1e-5);
    assert_int_equal(r->conditions[1].test, TEST_OFF);
    assert_int_equal(r->conditions[1].id.sub, 4);
    assert_int_equal(r->conditions[2].test, TEST_RUNNING);
    assert_int_equal(r->conditions[3].test, TEST_BELOW);
    assert_int_equal(r->conditions[3].id.place, 1);
    settings_free(s);
    assert_says(
        "[combined a]\nwhen = exhaust.0 on\n[combined b]\nwhen = engine running and\n"
        "[combined c]\nwhen = engine running and exhaust.0 beyond 3 C\n"
        "[combined d]\nwhen = engine running and engine running and engine running and "
        "engine running and engine running and engine running and engine running\n"
        "[combined e]\nadvice = x\n",
        "t.conf:2: [combined a] when: 'exhaust.0' is not a switch: only a switch is on or off",
        "t.conf:4: [combined b] when: no channel is called 'engine'",
        "t.conf:6: [combined c] when: 'exhaust.0 beyond 3 C' needs on, off, above VALUE or "
        "below VALUE after the channel",
        "t.conf:8: [combined d] when: more than 6 conditions",
        "t.conf:9: [combined e] when: is missing");
}

static void words_and_texts__are_bounded(void **state)
{
    (void)state;
    struct settings *s = conf_good("[screen]\nglyphs = ascii\nmouse = yes\nlatitude = 54.3\n"
                                   "frames per second = 0.5\nlongitude = -0.5\n"
                                   "[vessel]\nname = M\xC3\xB6we\n");
    assert_string_equal(s->screen.glyphs, "ascii");
    assert_true(s->screen.mouse);
    assert_near(s->screen.fps, 0.5, 1e-9);
    assert_near(s->screen.latitude, 54.3, 1e-9);
    assert_string_equal(s->vessel, "M\xC3\xB6we");
    settings_free(s);
    assert_says("[screen]\nglyphs = block\nmouse = maybe\nframes per second = 0\n"
                "[vessel]\nname = 0123456789012345678901234567890123456789\nengines = two\n"
                "[units]\ntemperature = kPa\nspeed =\n",
                "t.conf:2: [screen] glyphs: unknown word 'block' (did you mean 'blocks'?)",
                "t.conf:3: [screen] mouse: 'maybe' is neither yes nor no",
                "t.conf:4: [screen] frames per second: 0 is outside 0.1..10",
                "t.conf:6: [vessel] name: longer than 39 bytes",
                "t.conf:7: [vessel] engines: 'two' is not a whole number",
                "t.conf:9: [units] temperature: 'kPa' is not one of C or F",
                "t.conf:10: [units] speed: needs a value");
}

static void every_initial_value__prints_as_it_is_written(void **state)
{
    (void)state;
    size_t seen = 0;
    for (size_t i = 0; i < schema_key_count; i++) {
        const struct schema_key *key = &schema_keys[i];
        union {
            struct settings settings;
            struct rule_setting rule;
            struct channel_setting channel;
            struct hook_setting hook;
            struct key_setting key;
            struct pane_setting pane;
        } target;
        memset(&target, 0, sizeof target);
        if (key->type == TYPE_LIMIT || *key->initial == '\0')
            continue;
        char out[VALUE_SIZE];
        struct err e = {""};
        if (!value_parse(key, &target, UNIT_NONE, key->initial, &e))
            fail_msg("%s: %s", key->key, e.text);
        value_format(key, &target, UNIT_NONE, out);
        assert_string_equal(out, key->initial);
        seen++;
    }
    assert_true(seen > 30);
}

static void every_key__is_known_once_and_fits_its_struct(void **state)
{
    (void)state;
    static const size_t sizes[SCOPE_COUNT] = {
        [SCOPE_VESSEL] = sizeof(struct settings),
        [SCOPE_ENGINE] = sizeof(struct engine_setting),
        [SCOPE_UNITS] = sizeof(struct unit_choice),
        [SCOPE_PRECISION] = sizeof(struct precision_setting),
        [SCOPE_ALERTS] = sizeof(struct alert_setting),
        [SCOPE_SCREEN] = sizeof(struct screen_setting),
        [SCOPE_TRIAL] = sizeof(struct trial_setting),
        [SCOPE_FUEL] = sizeof(struct fuel_setting),
        [SCOPE_CHANNEL] = sizeof(struct channel_setting),
        [SCOPE_RULE] = sizeof(struct rule_setting),
        [SCOPE_HOOK] = sizeof(struct hook_setting),
        [SCOPE_KEYS] = sizeof(struct key_setting),
        [SCOPE_PANE] = sizeof(struct pane_setting),
    };
    for (size_t s = 0; s < schema_section_count; s++) {
        const struct schema_section *section = &schema_sections[s];
        assert_ptr_equal(schema_find_section(section->word), section);
        int keys = 0;
        assert_true(sizes[section->scope] > 0); /* a new scope belongs into the table above */
        for (size_t i = 0; i < schema_key_count; i++) {
            const struct schema_key *key = &schema_keys[i];
            if (!schema_has(section, key))
                continue;
            keys++;
            assert_ptr_equal(schema_find_key(section, key->key), key);
            assert_true(key->offset + key->size <= sizes[key->scope]);
            assert_true(key->has_offset < sizes[key->scope]);
            assert_non_null(key->help);
            assert_non_null(key->initial);
        }
        assert_true(keys > 0);
        if (section->scope == SCOPE_RULE)
            assert_string_equal(section->word, kind_text(section->kind));
    }
}

static void every_unit_of_a_channel__can_be_written(void **state)
{
    (void)state;
    for (unsigned q = 1; q < QTY_COUNT; q++) {
        enum unit unit = quantity_info((enum quantity)q)->unit;
        char text[48];
        double back;
        struct err e = {""};
        value_format_quantity(12.75, unit, text, sizeof text);
        if (!value_parse_quantity(text, unit, &back, &e))
            fail_msg("%s", e.text);
        assert_near(back, 12.75, 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(difference__long_numbers__are_refused_not_cut),
        cmocka_unit_test(values_with_units__become_base_units),
        cmocka_unit_test(value_without_or_with_a_wrong_unit__is_refused),
        cmocka_unit_test(lengths_of_time__take_units_and_bounds),
        cmocka_unit_test(senders__are_addresses_with_or_without_interface),
        cmocka_unit_test(spans__are_two_values_in_order),
        cmocka_unit_test(conditions__are_parsed_and_refused),
        cmocka_unit_test(words_and_texts__are_bounded),
        cmocka_unit_test(every_initial_value__prints_as_it_is_written),
        cmocka_unit_test(every_key__is_known_once_and_fits_its_struct),
        cmocka_unit_test(every_unit_of_a_channel__can_be_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
