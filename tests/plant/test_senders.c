/* Who holds a key: second senders, moves by NAME, takeover, configured senders. */
#include "plant/plant.h"

#include "hand.h"

static void sender__second_of_a_key__kept_apart_and_told_once(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 5; i++) {
        hand_exhaust(&h, 30, 0, 40);
        hand_exhaust(&h, 31, 0, 60);
        hand_tick(&h, 2000);
    }
    struct channel *first = hand_find(&h, "exhaust.0"), *second = hand_find(&h, "exhaust.0@31");
    assert_int_equal(plant_count(h.plant), 2);
    assert_near(first->value, 40, 0.01);
    assert_near(second->value, 60, 0.01);
    assert_true(second->second);
    assert_int_equal(second->engine, 0);
    assert_int_equal(h.conflicts, 1);
    assert_int_equal(h.appeared, 2); /* each is told of once */
    double low, high;
    assert_true(history_extremes(first->history, &low, &high));
    assert_near(high, 40, 0.01); /* never mixed */
    assert_ptr_equal(plant_find(h.plant, first->id), first);
}

static void sender__second_on_another_interface__its_name_is_in_the_key(void **state)
{
    (void)state;
    hand_start(&h);
    plant_name_iface(h.plant, 0, "can0");
    plant_name_iface(h.plant, 1, "can1");
    hand_temp_on(&h, 0, 31, 0, 14, 40);
    hand_temp_on(&h, 1, 31, 0, 14, 60);
    assert_near(hand_find(&h, "exhaust.0@can1:31")->value, 60, 0.01);
    assert_int_equal(h.conflicts, 1);
}

static void sender__second_without_a_value__is_no_conflict(void **state)
{
    (void)state;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 40);
    hand_exhaust(&h, 31, 0, -300);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(h.conflicts, 0);
}

static void sender__first_never_had_a_value__the_one_with_a_value_gets_the_key(void **state)
{
    (void)state;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, -300);
    assert_int_equal(hand_find(&h, "exhaust.0")->status, READING_NOT_AVAILABLE);
    hand_exhaust(&h, 31, 0, 45);
    struct channel *c = hand_find(&h, "exhaust.0");
    assert_int_equal(c->source, 31);
    assert_near(c->value, 45, 0.01);
    assert_int_equal(h.conflicts, 0);
    hand_exhaust(&h, 30, 0, -300);
    assert_int_equal(c->status, READING_OK); /* the loser's nothing does not count */
    hand_exhaust(&h, 30, 0, 50);
    assert_int_equal(h.conflicts, 1);
    assert_near(hand_find(&h, "exhaust.0@30")->value, 50, 0.01);
}

static void sender__address_changes__channel_follows_the_name(void **state)
{
    (void)state;
    hand_start(&h);
    hand_claim(&h, 30, 0xC0AABB0012345678);
    hand_exhaust(&h, 30, 0, 40);
    assert_true(hand_find(&h, "exhaust.0")->name == 0xC0AABB0012345678);
    hand_claim(&h, 77, 0xC0AABB0012345678);
    hand_exhaust(&h, 77, 0, 41);
    assert_int_equal(plant_count(h.plant), 1);
    struct channel *c = hand_find(&h, "exhaust.0");
    assert_int_equal(c->source, 77);
    assert_true(c->name == 0xC0AABB0012345678);
    assert_int_equal(c->readings, 2);
    assert_int_equal(h.conflicts, 0);
    /* Somebody else at the old address is somebody else. */
    hand_exhaust(&h, 30, 0, 90);
    assert_int_equal(h.conflicts, 1);
    assert_near(c->value, 41, 0.01);
}

static void sender__two_boxes_swap_addresses__channels_do_not(void **state)
{
    (void)state;
    hand_start(&h);
    hand_claim(&h, 30, 0xC000000000000001);
    hand_claim(&h, 31, 0xC000000000000002);
    hand_exhaust(&h, 30, 0, 40);
    hand_exhaust(&h, 31, 1, 50);
    hand_claim(&h, 31, 0xC000000000000001);
    hand_claim(&h, 30, 0xC000000000000002);
    hand_exhaust(&h, 31, 0, 42);
    hand_exhaust(&h, 30, 1, 52);
    assert_int_equal(plant_count(h.plant), 2);
    assert_int_equal(h.conflicts, 0);
    assert_near(hand_find(&h, "exhaust.0")->value, 42, 0.01);
    assert_int_equal(hand_find(&h, "exhaust.0")->source, 31);
    assert_near(hand_find(&h, "exhaust.1")->value, 52, 0.01);
    assert_int_equal(plant_source(h.plant, 0, 30)->name_changes, 0);
}

static void sender__cannot_claim__keeps_its_channels_until_it_can(void **state)
{
    (void)state;
    hand_start(&h);
    hand_claim(&h, 30, 0xC000000000000001);
    hand_exhaust(&h, 30, 0, 40);
    hand_claim(&h, 254, 0xC000000000000001);
    hand_claim(&h, 99, 0xC000000000000001);
    hand_exhaust(&h, 99, 0, 44);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(hand_find(&h, "exhaust.0")->source, 99);
}

static void sender__instance_set_within_its_name__still_the_same_box(void **state)
{
    (void)state;
    hand_start(&h);
    hand_claim(&h, 30, 0xC000820012345678);
    hand_exhaust(&h, 30, 0, 40);
    hand_claim(&h, 30, 0xC000820112345678); /* ECU instance 0 -> 1 */
    hand_exhaust(&h, 30, 0, 41);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(hand_find(&h, "exhaust.0")->readings, 2);
    assert_int_equal(plant_source(h.plant, 0, 30)->name_changes, 1);
    assert_true(hand_find(&h, "exhaust.0")->name == 0xC000820112345678);
}

/* What was heard before it said its name is the same box: nobody else was there meanwhile. */
static void sender__names_itself_late__keeps_its_channels(void **state)
{
    (void)state;
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 40);
    hand_claim(&h, 30, 0xC000820012345678);
    hand_exhaust(&h, 30, 0, 41);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(hand_find(&h, "exhaust.0")->readings, 2);
    assert_true(hand_find(&h, "exhaust.0")->name == 0xC000820012345678);
    hand_claim(&h, 30, 0xC000820087654321); /* another box at its address */
    hand_exhaust(&h, 30, 0, 50);
    assert_int_equal(plant_count(h.plant), 2);
    assert_int_equal(hand_find(&h, "exhaust.0")->readings, 2);
}

/* 2047 senders are kept apart; what a further one says is counted and not kept. */
static void sender__more_boxes_than_fit__counted(void **state)
{
    uint8_t name[8] = {0, 0, 0, 0, 0, 0x82, 0, 0xC0};

    (void)state;
    hand_start(&h);
    for (unsigned n = 0; n < 2046; n++) {
        name[0] = LOW(n);
        name[1] = HIGH(n);
        hand_send_on(&h, (uint8_t)(n / 200), (uint8_t)(n % 200), 60928, name, sizeof name);
    }
    hand_temp_on(&h, 15, 1, 1, 4, 20);
    assert_int_equal(plant_dropped(h.plant), 0);
    hand_temp_on(&h, 15, 2, 2, 4, 20);
    assert_int_equal(plant_dropped(h.plant), 1);
    assert_int_equal(plant_count(h.plant), 1);
    assert_near(hand_find(&h, "cabin.1")->value, 20, 0.01);
}

static void sender__single_quantity__another_takes_over_when_the_first_is_silent(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 20; i++) {
        hand_speed(&h, 10, 5);
        hand_speed(&h, 11, 6);
        hand_tick(&h, 250);
    }
    struct channel *c = hand_find(&h, "speed-ground");
    assert_int_equal(c->source, 10);
    assert_near(c->value, 5 * 3600 / 1852.0, 1e-3); /* knot 1852/3600 m/s: NIST SP 811 */
    for (int i = 0; i < 12; i++) {
        hand_speed(&h, 11, 6);
        hand_tick(&h, 250);
    }
    assert_int_equal(c->source, 11);
    assert_near(c->value, 6 * 3600 / 1852.0, 1e-3);
    hand_speed(&h, 10, 5); /* back: the second stays as long as it speaks */
    assert_int_equal(c->source, 11);
    assert_int_equal(plant_count(h.plant), 1);
    assert_int_equal(h.conflicts, 0);
    assert_int_equal(c->status, READING_OK);
}

static void sender__single_quantity_without_fix__another_takes_over(void **state)
{
    (void)state;
    hand_start(&h);
    for (int i = 0; i < 20; i++) {
        hand_speed(&h, 10, i < 8 ? 5 : -1);
        hand_speed(&h, 11, 6);
        hand_tick(&h, 250);
    }
    assert_int_equal(hand_find(&h, "speed-ground")->source, 11);
}

static void sender__filling_in__gives_way_to_the_rightful_message_at_once(void **state)
{
    (void)state;
    hand_start(&h);
    hand_environment(&h, 20, 15);
    struct channel *c = hand_find(&h, "sea.0");
    assert_near(c->value, 15, 0.01);
    hand_temp_on(&h, 0, 35, 0, 0, 17);
    assert_near(c->value, 17, 0.01);
    assert_int_equal(c->source, 35);
    hand_environment(&h, 20, 15);
    assert_near(c->value, 17, 0.01);
    for (int i = 0; i < 5; i++) {
        hand_temp_on(&h, 0, 35, 0, 0, 17);
        hand_tick(&h, 2000);
    }
    for (int i = 0; i < 5; i++) {
        hand_environment(&h, 20, 15);
        hand_tick(&h, 2000);
    }
    assert_near(c->value, 15, 0.01); /* it fills in again where the other is silent */
    hand_temp_on(&h, 0, 35, 0, 0, 18);
    assert_near(c->value, 18, 0.01);
    assert_int_equal(h.conflicts, 0);
    assert_int_equal(plant_count(h.plant), 1);
}

static void sender__two_rightful_ones_of_an_instance__conflict(void **state)
{
    (void)state;
    hand_start(&h);
    hand_environment(&h, 20, 15);
    hand_temp_on(&h, 0, 35, 0, 0, 17);
    hand_temp_on(&h, 0, 20, 0, 0, 12); /* the box that filled in now sends the real thing too */
    assert_int_equal(h.conflicts, 1);
    assert_near(hand_find(&h, "sea.0@20")->value, 12, 0.01);
    assert_near(hand_find(&h, "sea.0")->value, 17, 0.01);
}

static void sender__configured__the_key_waits_for_it(void **state)
{
    (void)state;
    hand_channel(&h, QTY_EXHAUST, 0)->sender = (struct sender_choice){.set = true, .source = 31};
    hand_start(&h);
    hand_exhaust(&h, 30, 0, 60);
    assert_near(hand_find(&h, "exhaust.0@30")->value, 60, 0.01);
    assert_null(plant_find(h.plant, (struct channel_id){QTY_EXHAUST, 0, 0}));
    assert_int_equal(h.conflicts, 0);
    hand_exhaust(&h, 31, 0, 40);
    assert_int_equal(h.conflicts, 1);
    assert_near(hand_find(&h, "exhaust.0")->value, 40, 0.01);
    assert_true(hand_heard(&h, "conflict:exhaust.0@30"));
}

static void sender__configured_later__changes_places_with_the_holder(void **state)
{
    (void)state;
    hand_start(&h);
    hand_rpm(&h, 30, 0, 700);
    hand_rpm(&h, 31, 0, 2000);
    struct channel *first = hand_find(&h, "rpm.0"), *second = hand_find(&h, "rpm.0@31");
    struct channel_setting choice = {
        .id = {QTY_RPM, 0, 0}, .gain = 1, .sender = {.set = true, .source = 31}};
    struct settings settings = h.settings;
    settings.channels = &choice;
    settings.channel_count = 1;
    plant_reconfigure(h.plant, &settings);
    assert_ptr_equal(hand_find(&h, "rpm.0"), second);
    assert_ptr_equal(hand_find(&h, "rpm.0@30"), first);
    for (int i = 0; i < 3; i++) {
        hand_rpm(&h, 30, 0, 0);
        hand_rpm(&h, 31, 0, 2000);
        hand_tick(&h, 100);
    }
    assert_near(second->value, 2000, 0.1);
    assert_near(first->value, 0, 0.1);
    assert_int_equal(plant_engine(h.plant, 0)->state, ENGINE_RUNNING);
    assert_int_equal(plant_count(h.plant), 2);
}

/* A tank whose other sender is chosen later: the fuel aboard is by that one from then on. And back.
 */
static void sender__of_a_tank_configured_later__tells_the_fuel_aboard(void **state)
{
    struct channel_setting choice = {
        .id = {QTY_FUEL_TANK, 0, 0}, .gain = 1, .sender = {.set = true, .source = 41}};

    (void)state;
    hand_start(&h);
    for (int turn = 0; turn < 3; turn++) {
        struct settings settings = h.settings;
        choice.sender.source = turn == 1 ? 41 : 40;
        settings.channels = &choice;
        settings.channel_count = 1;
        if (turn > 0)
            plant_reconfigure(h.plant, &settings);
        for (int i = 0; i < 150; i++) {
            hand_tank(&h, 40, 0, 50, 400);
            hand_tank(&h, 41, 0, 25, 400);
            hand_tick(&h, 1000);
        }
        assert_near(hand_find(&h, "fuel-aboard")->value, turn == 1 ? 100 : 200, 0.1);
    }
    plant_reconfigure(h.plant, &h.settings); /* none is chosen: it stays as it is */
    assert_int_equal(hand_find(&h, "fuel-tank.0")->source, 40);
    assert_near(hand_find(&h, "fuel-tank.0@41")->value, 25, 0.01);
}

static void sender__configured_single_quantity__nobody_takes_over(void **state)
{
    (void)state;
    struct channel_setting *s = hand_channel(&h, QTY_SPEED_GROUND, 0);
    s->sender = (struct sender_choice){.set = true, .source = 11, .iface = "can0"};
    hand_start(&h);
    plant_name_iface(h.plant, 0, "can0");
    for (int i = 0; i < 40; i++) {
        if (i < 10)
            hand_speed(&h, 11, 6);
        hand_speed(&h, 10, 5);
        hand_tick(&h, 250);
    }
    assert_int_equal(hand_find(&h, "speed-ground")->status, READING_STALE);
    assert_near(hand_find(&h, "speed-ground")->value, 6 * 3600 / 1852.0, 1e-3);
}

static void sender__more_channels_than_fit__counted_and_the_first_kept(void **state)
{
    (void)state;
    hand_start(&h);
    for (int source = 0; source < 8; source++) {
        for (int instance = 0; instance < 250; instance++)
            hand_temp_on(&h, 0, (uint8_t)source, (uint8_t)instance, 4, 20);
    }
    assert_int_equal(plant_count(h.plant), PLANT_CHANNELS);
    assert_int_equal(plant_dropped(h.plant), 8 * 250 - PLANT_CHANNELS);
    hand_temp_on(&h, 0, 0, 7, 4, 21);
    assert_near(hand_find(&h, "cabin.7")->value, 21, 0.01);
    assert_null(plant_channel(h.plant, PLANT_CHANNELS));
    /* All that goes through them ends with the last one. */
    assert_null(plant_find_key(h.plant, "cabin.7@77"));
    uint8_t setup[8] = {0, 0xC0, 0xF1, 0x6E, 0, 0xFF, 0x7D, 0x5F};
    hand_send(&h, 0, 127513, setup, sizeof setup);
    plant_name_iface(h.plant, 0, "can0");
    plant_reconfigure(h.plant, &h.settings);
    plant_gap(h.plant, hand_stamp(&h));
    hand_tick(&h, 1000);
    assert_int_equal(plant_count(h.plant), PLANT_CHANNELS);
}

static void sender__a_new_name_every_time__memory_stays(void **state)
{
    (void)state;
    hand_start(&h);
    for (unsigned i = 1; i < 5000; i++)
        hand_claim(&h, 30, 0xC000000000000000 + i);
    hand_exhaust(&h, 30, 0, 40);
    assert_near(hand_find(&h, "exhaust.0")->value, 40, 0.01);
    assert_int_equal(plant_source(h.plant, 0, 30)->name_changes, 4998);
    assert_false(plant_source(h.plant, 3, 30)->seen);
}

/* DM2 as SAE J1939-73 has it: lamps, then four bytes a code; SPN 110 FMI 15, and none later. */
static void trouble_codes_from_before__counted_with_their_sender(void **state)
{
    (void)state;
    hand_start(&h);
    static const uint8_t two[10] = {0, 0xFF, 0x6E, 0x00, 0x0F, 0x03, 0x64, 0x00, 0x01, 0x01};
    static const uint8_t none[8] = {0, 0xFF, 0, 0, 0, 0, 0xFF, 0xFF};
    hand_send(&h, 5, 65227, two, sizeof two);
    const struct source_seen *s = plant_source(h.plant, 0, 5);
    assert_int_equal(s->earlier, 2);
    assert_int_equal(s->earlier_spn, 110);
    assert_int_equal(s->earlier_fmi, 15);
    hand_send(&h, 5, 65226, none, sizeof none); /* about now, not before */
    assert_int_equal(s->earlier, 2);
    hand_send(&h, 5, 65227, none, sizeof none);
    assert_int_equal(s->earlier, 0);
    assert_int_equal(s->earlier_spn, 0);
    assert_int_equal(s->earlier_fmi, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(trouble_codes_from_before__counted_with_their_sender, setup,
                                        teardown),
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(sender__second_of_a_key__kept_apart_and_told_once),
        T(sender__second_on_another_interface__its_name_is_in_the_key),
        T(sender__second_without_a_value__is_no_conflict),
        T(sender__first_never_had_a_value__the_one_with_a_value_gets_the_key),
        T(sender__address_changes__channel_follows_the_name),
        T(sender__two_boxes_swap_addresses__channels_do_not),
        T(sender__cannot_claim__keeps_its_channels_until_it_can),
        T(sender__instance_set_within_its_name__still_the_same_box),
        T(sender__names_itself_late__keeps_its_channels),
        T(sender__more_boxes_than_fit__counted),
        T(sender__single_quantity__another_takes_over_when_the_first_is_silent),
        T(sender__single_quantity_without_fix__another_takes_over),
        T(sender__filling_in__gives_way_to_the_rightful_message_at_once),
        T(sender__two_rightful_ones_of_an_instance__conflict),
        T(sender__configured__the_key_waits_for_it),
        T(sender__configured_later__changes_places_with_the_holder),
        T(sender__of_a_tank_configured_later__tells_the_fuel_aboard),
        T(sender__configured_single_quantity__nobody_takes_over),
        T(sender__more_channels_than_fit__counted_and_the_first_kept),
        T(sender__a_new_name_every_time__memory_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
