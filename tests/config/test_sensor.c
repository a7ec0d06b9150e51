/* What describes a sender: tables, resistances, thermistors, meters, tanks. */
#include "conf.h"

static const char good[] =
    "[channel fuel-tank.0]\nfrom = pressure.7.3\nhead density = 840\nheight = 0.7\nshape = "
    "cylinder\n"
    "length = 1.5\nunusable = 4 gal\nslosh = 90 s\naccuracy = 2.5 %\n"
    "[channel fuel-tank.1]\nohms = 240 to 33\nstrapping = 0:0, 50:190.5, 100:400\n"
    "[channel oil-temp.0]\nthermistor = beta 3950\ncalibration = 0:0.4, 100:98.75\n"
    "[channel fuel-rate.0]\nfeed = fuel-rate.10\nreturn = fuel-rate.11\n"
    "[channel blower.0]\nfrom = switch.0.4\n"
    "[fuel]\nreserve = 33 %\nreserve volume = 20 gal\naverage over = 45 s\n"
    "[limit range-short]\nchannel = range\npriority = warning\nbelow = 25 nmi\ndeadband = 2 nmi\n"
    "[limit rise]\nchannel = space-rise.*\npriority = caution\nabove = 18 K\ndeadband = 2 K\n"
    "[combined blower]\nwhen = engine-space.* above 50 C and blower.* off\n";

static void check_values(const struct settings *s)
{
    const struct channel_setting *a = settings_channel(s, conf_id("fuel-tank.0"));
    assert_true(channel_id_same(a->from, conf_id("pressure.7.3")));
    assert_near(a->head_density, 840, 1e-9);
    assert_int_equal(a->shape, TANK_CYLINDER);
    assert_near(a->unusable_l, 4 * 3.785411784, 1e-6); /* US gallon: NIST SP 811 */
    assert_int_equal(a->slosh_ns, INT64_C(90000000000));
    const struct channel_setting *b = settings_channel(s, conf_id("fuel-tank.1"));
    assert_true(b->has_ohms);
    assert_near(b->ohms_empty, 240, 1e-9);
    assert_near(b->ohms_full, 33, 1e-9);
    assert_int_equal(b->strapping.count, 3);
    assert_near(curve_at(&b->strapping, 25), 95.25, 1e-9);
    const struct channel_setting *c = settings_channel(s, conf_id("oil-temp.0"));
    assert_near(thermistor_celsius(&c->thermistor, 1086.7), 85, 0.005); /* computed table */
    assert_near(curve_at(&c->table, 100), 98.75, 1e-9);
    const struct channel_setting *d = settings_channel(s, conf_id("fuel-rate.0"));
    assert_true(channel_id_same(d->feed, conf_id("fuel-rate.10")));
    assert_true(channel_id_same(d->returned, conf_id("fuel-rate.11")));
    assert_near(s->fuel.reserve_percent, 33, 1e-9);
    assert_near(s->fuel.reserve_l, 75.70823568, 1e-6);
}

static void sensors__read_printed_and_read_again__the_same(void **state)
{
    (void)state;
    struct settings *s = conf_good(good);
    check_values(s);
    char *once = conf_printed(s);
    struct settings *back = conf_good(once);
    check_values(back);
    char *twice = conf_printed(back);
    assert_string_equal(once, twice);
    free(once);
    free(twice);
    settings_free(s);
    settings_free(back);
}

static void sensors__nothing_said__nothing_is_set(void **state)
{
    (void)state;
    struct settings *s = conf_good("[channel fuel-tank.0]\nlabel = main\n");
    const struct channel_setting *c = settings_channel(s, conf_id("fuel-tank.0"));
    assert_int_equal(c->from.quantity, QTY_NONE);
    assert_false(c->has_ohms || c->thermistor.set || c->head_density > 0 || c->height_m > 0);
    assert_int_equal(c->table.count, 0);
    assert_int_equal(c->strapping.count, 0);
    assert_int_equal(c->slosh_ns, INT64_C(60000000000));
    assert_near(c->accuracy_percent, 1, 1e-9);
    assert_near(s->fuel.reserve_percent, 20, 1e-9);
    settings_free(s);
}

static void sensors__mistakes_in_a_value__are_said(void **state)
{
    (void)state;
    assert_says("[channel fuel-tank.0]\nohms = 240\nstrapping = 0:0, 0:5\nheight = tall\n"
                "from = pressure\n"
                "[channel oil-temp.0]\nthermistor = beta\ncalibration = 1\n"
                "[channel fuel-tank.1]\nohms = 33 to 33\n",
                "t.conf:2: [channel fuel-tank.0] ohms: '240' is not EMPTY to FULL in ohm, such as "
                "240 to 33",
                "t.conf:3: [channel fuel-tank.0] strapping: the inputs must rise, and pair 2 does "
                "not",
                "t.conf:4: [channel fuel-tank.0] height: 'tall' is not a number",
                "t.conf:5: [channel fuel-tank.0] from: 'pressure' is not a channel key: write for "
                "instance pressure.0.1",
                "t.conf:7: [channel oil-temp.0] thermistor: write beta B, three points, or the "
                "three coefficients",
                "t.conf:8: [channel oil-temp.0] calibration: pair 1 is not IN:OUT, such as 0:0, "
                "50:48.5, 100:96",
                "t.conf:10: [channel fuel-tank.1] ohms: empty and full are the same");
}

static void sensors__mistakes_between_values__are_said(void **state)
{
    (void)state;
    assert_says("[channel coolant.0]\nohms = 240 to 33\n"
                "[channel fuel-tank.0]\nhead density = 840\n"
                "[channel fuel-tank.1]\nstrapping = 0:0, 50:300, 100:200\n"
                "[channel fuel-tank.2]\nfrom = fuel-tank.2\nthermistor = beta 3950\n"
                "[channel fuel-rate.0]\nfeed = fuel-rate.10\n"
                "[channel fuel-rate.1]\nfeed = fuel-rate.1\nreturn = fuel-rate.11\n"
                "[channel coolant.1]\nreturn = fuel-rate.11\n",
                "t.conf:2: [channel coolant.0] ohms: only a tank has an empty and a full",
                "t.conf:4: [channel fuel-tank.0] head density: needs the `height` of the tank",
                "t.conf:6: [channel fuel-tank.1] strapping: a fuller tank cannot hold less",
                "t.conf:8: [channel fuel-tank.2] from: is the channel itself",
                "t.conf:9: [channel fuel-tank.2] thermistor: only a temperature has one",
                "t.conf:11: [channel fuel-rate.0] feed: needs feed and return both",
                "t.conf:14: [channel fuel-rate.1] return: feed, return and the channel itself must "
                "be three",
                "t.conf:16: [channel coolant.1] return: only a fuel-rate is the difference of two "
                "meters");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sensors__read_printed_and_read_again__the_same),
        cmocka_unit_test(sensors__nothing_said__nothing_is_set),
        cmocka_unit_test(sensors__mistakes_in_a_value__are_said),
        cmocka_unit_test(sensors__mistakes_between_values__are_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
