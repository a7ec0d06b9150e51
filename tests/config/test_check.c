/* What no single value shows: limits out of order, alarms that could never come. */
#include "conf.h"

static void limits_out_of_order__are_said_with_both_lines(void **state)
{
    (void)state;
    assert_says("[channel coolant.0]\nalarm above = 95 C\nwarning above = 96 C\n",
                "t.conf:3: [channel coolant.0] warning above: the warning at 96 C would not come "
                "before the alarm at 95 C (line 2)");
    assert_says("[limit a]\nchannel = oil-pressure.*\npriority = warning\nbelow = 90 kPa\n"
                "[limit b]\nchannel = oil-pressure.1\npriority = alarm\nbelow = 100 kPa\n",
                "t.conf:4: [limit a] below: the warning at 90 kPa would not come before the alarm "
                "at 100 kPa (line 8)");
    settings_free(conf_good("[channel coolant.0]\nalarm above = 95 C\n[channel coolant.1]\n"
                            "warning above = 96 C\n"));
    settings_free(conf_good("[channel fuel-tank.0]\nwarning below = 15 %\ncaution below = 25 %\n"));
}

static void alarm_below_the_default_warning__is_the_owners_business(void **state)
{
    (void)state;
    settings_free(conf_good("[channel coolant.0]\nalarm above = 90 C\n"));
}

static void span_that_ends_before_an_alarm__is_refused(void **state)
{
    (void)state;
    assert_says("[channel exhaust.0]\nspan = 0 C to 90 C\n",
                "t.conf:2: [channel exhaust.0] span: ends before the alarm at 93.3 C of [limit "
                "exhaust-hot], which would never be raised");
    settings_free(conf_good("[channel exhaust.0]\nspan = 0 C to 90 C\nalarm above = 80 C\n"));
    settings_free(conf_good("[channel exhaust.0]\nspan = 0 C to 90 C\nalarm above = none\n"));
}

static void limit_that_no_reading_reaches__is_refused(void **state)
{
    (void)state;
    assert_says("[channel exhaust.0]\nalarm above = 930 C\n[limit f]\nchannel = fuel-tank.0\n"
                "below = 0 %\n",
                "t.conf:2: [channel exhaust.0] alarm above: no exhaust reading can get there, so "
                "it would never be raised",
                "t.conf:5: [limit f] below: no fuel-tank reading can get there, so it would never "
                "be raised");
}

static void deadband_without_room__is_refused(void **state)
{
    (void)state;
    assert_says(
        "[limit a]\nchannel = exhaust.*\nabove = 60 C\ndeadband = 500 K\n[limit b]\n"
        "channel = fuel-tank.*\nbelow = 20 %\ndeadband = 100 %\n",
        "t.conf:4: [limit a] deadband: no exhaust reading can come back so far, so it would "
        "never be over",
        "t.conf:8: [limit b] deadband: no fuel-tank reading can come back so far, so it "
        "would never be over");
    settings_free(conf_good("[limit a]\nchannel = exhaust.*\nabove = 60 C\ndeadband = 90 K\n"));
    /* the quantity's own deadband gives way where a channel's limit leaves no room for it */
    struct settings *s = conf_good("[channel speed-ground]\ncaution above = 0.5 kn\n");
    struct channel_id id = {QTY_SPEED_GROUND, 0, 0};
    const struct rule_setting *r = settings_rule_for(s, KIND_LIMIT, id);
    assert_non_null(r);
    assert_true(r->above - r->deadband > 0);
    settings_free(s);
}

static void half_a_limit__is_refused(void **state)
{
    (void)state;
    assert_says("[limit exhaust-hto]\nabove = 80 C\n[limit b]\nchannel = sea.0\n"
                "[limit coolant-hot]\nbelow = 3 C\n[limit c]\nchannel = sea.*\nabove = 3 C\n"
                "per 12 V = yes\ndeadband = -1 K\nsettle = 3 s\n",
                "t.conf:1: [limit exhaust-hto] channel: is missing (did you mean 'exhaust-hot'?)",
                "t.conf:3: [limit b] above: above or below is missing",
                "t.conf:6: [limit coolant-hot] below: a rule has above or below: write two",
                "t.conf:10: [limit c] per 12 V: is for voltages",
                "t.conf:11: [limit c] deadband: is below zero",
                "t.conf:12: [limit c] settle: needs `while = running` or `while = stopped`");
}

static void states__are_of_switches_and_look_for_something(void **state)
{
    (void)state;
    assert_says("[state a]\nchannel = exhaust.0\nmore than = 3\n[state b]\nchannel = switch.0.3\n"
                "[state c]\non longer than = 3 min\n[channel switch.0.3]\nalarm above = 1\n"
                "[limit d]\nchannel = switch.0.1\nabove = 0\n",
                "t.conf:2: [state a] channel: only a switch has a state, such as switch.0.3",
                "t.conf:4: [state b] on longer than: nothing to look for: give `on longer than`, "
                "`off longer than` or `more than`",
                "t.conf:6: [state c] channel: is missing",
                "t.conf:9: [channel switch.0.3] alarm above: a switch has no limits: write a "
                "[state] section",
                "t.conf:11: [limit d] channel: a switch has no limits: write a [state] section");
    settings_free(conf_good("[state bilge]\nchannel = switch.0.3\nmore than = 5\nwithin = 1 h\n"));
}

static void channel_keys_for_other_quantities__are_refused(void **state)
{
    (void)state;
    assert_says("[channel coolant.0]\nsensor = wet\ncapacity = 3 L\nnominal volts = 12 V\n"
                "gain = 0\n[channel alternator.0]\nnominal volts = 13 V\n",
                "t.conf:2: [channel coolant.0] sensor: only exhaust is wet or dry",
                "t.conf:3: [channel coolant.0] capacity: only a tank has one",
                "t.conf:4: [channel coolant.0] nominal volts: only a voltage has them",
                "t.conf:5: [channel coolant.0] gain: is zero: every reading would be the same",
                "t.conf:7: [channel alternator.0] nominal volts: 12, 24, 36 or 48 V");
}

static void engines__are_counted_and_told_apart(void **state)
{
    (void)state;
    settings_free(conf_good("[vessel]\nengines = 1\n[channel exhaust.11]\nlabel = x\n"
                            "[engine 11]\nname = S\nkind = generator\n"));
    assert_says(
        "[vessel]\nengines = 1\n[channel exhaust.0]\nlabel = x\n[channel rpm.0]\nlabel = y\n"
        "[engine 11]\nname = S\n[engine 12]\nname = P\n",
        "t.conf:3: [channel exhaust.0] one engine too many: [vessel] engines says how many "
        "there are: 1",
        "t.conf:5: [channel rpm.0] one engine too many: [vessel] engines says how many "
        "there are: 1",
        "t.conf:9: [engine 12] one engine too many: [vessel] engines says how many there "
        "are: 1");
    assert_says("[engine 0]\nname = MAIN\n[engine 1]\nname = MAIN\n",
                "t.conf:2: [engine 0] name: engine 1 is called the same",
                "t.conf:4: [engine 1] name: engine 0 is called the same");
}

static void screen__needs_both_of_a_pair(void **state)
{
    (void)state;
    assert_says("[screen]\nsound command = play {priorty}.wav {step}\n",
                "t.conf:2: [screen] sound command: there is no '{priorty}': {priority} or {step}");
    assert_says("[screen]\nsound = run\nlatitude = 54\n",
                "t.conf:2: [screen] sound: run needs a `sound command`",
                "t.conf:3: [screen] latitude: needs latitude and longitude both");
}

static void switched_off_rule__need_not_be_whole(void **state)
{
    (void)state;
    settings_free(conf_good("[limit later]\nenabled = no\n[combined later]\nenabled = no\n"));
}

/* At the bounds: a deadband of less than one, a first channel, an empty tank that holds something,
 * a brace within a brace. */
static void bounds__of_what_is_refused(void **state)
{
    (void)state;
    assert_says("[limit a]\nchannel = speed-ground\nabove = 0.5 kn\ndeadband = 0.6 kn\n",
                "t.conf:4: [limit a] deadband: no speed-ground reading can come back so far, so it "
                "would never be over");
    settings_free(
        conf_good("[limit a]\nchannel = speed-ground\nabove = 0.5 kn\ndeadband = 0.4 kn\n"));
    assert_says("[channel fuel-tank.0]\nstrapping = 0:-1, 50:90, 100:200\n",
                "t.conf:2: [channel fuel-tank.0] strapping: a fuller tank cannot hold less");
    assert_says("[screen]\nsound command = play {{x}\n",
                "t.conf:2: [screen] sound command: there is no '{{x}': {priority} or {step}",
                "t.conf:2: [screen] sound command: there is no '{x}': {priority} or {step}");
    assert_says("[channel fuel-tank.0]\nohms = 0 to 1000001\n",
                "t.conf:2: [channel fuel-tank.0] ohms: outside 0..1000000 ohm");
    assert_says("[channel fuel-tank.0]\nohms = -1 to 33\n",
                "t.conf:2: [channel fuel-tank.0] ohms: outside 0..1000000 ohm");
    struct settings *s = conf_good("[channel fuel-tank.0]\nohms = 1000000 to 0\n");
    assert_near(s->channels[0].ohms_empty, 1e6, 1e-6);
    assert_near(s->channels[0].ohms_full, 0, 1e-6);
    settings_free(s);
    for (int i = 0; i < 6; i++) {
        static const char *const words[] = {"yes", "on", "true", "no", "off", "false"};
        char text[80];
        snprintf(text, sizeof text, "[screen]\nmouse = %s\n", words[i]);
        s = conf_good(text);
        assert_int_equal(s->screen.mouse, i < 3);
        settings_free(s);
    }
    /* meters are no engines, of the first channel too */
    settings_free(conf_good("[vessel]\nengines = 1\n[channel fuel-rate.0]\nfeed = fuel-rate.10\n"
                            "return = fuel-rate.11\n[channel fuel-rate.10]\nlabel = in\n"
                            "[channel fuel-rate.11]\nlabel = back\n"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(limits_out_of_order__are_said_with_both_lines),
        cmocka_unit_test(alarm_below_the_default_warning__is_the_owners_business),
        cmocka_unit_test(span_that_ends_before_an_alarm__is_refused),
        cmocka_unit_test(limit_that_no_reading_reaches__is_refused),
        cmocka_unit_test(deadband_without_room__is_refused),
        cmocka_unit_test(bounds__of_what_is_refused),
        cmocka_unit_test(half_a_limit__is_refused),
        cmocka_unit_test(states__are_of_switches_and_look_for_something),
        cmocka_unit_test(channel_keys_for_other_quantities__are_refused),
        cmocka_unit_test(engines__are_counted_and_told_apart),
        cmocka_unit_test(screen__needs_both_of_a_pair),
        cmocka_unit_test(switched_off_rule__need_not_be_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
