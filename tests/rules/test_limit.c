/* Limits of the shipped configuration on a bus made by hand. 93.3 °C is 200 °F, the surface limit
 * of ABYC P-1 (check value 3.1); on-delay and deadband as defined in OPC 10000-9 annex B. */
#include "rules/boat.h"

static void exhaust__steady_above_93__alarm_within_three_periods(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    b->exhaust[1] = 95;
    boat_run(b, 60);
    assert_int_equal(b->count, 1);
    const struct boat_event *e = &b->events[0];
    assert_int_equal(e->event, EVENT_RAISED);
    assert_int_equal(e->alert.priority, PRIORITY_ALARM);
    assert_string_equal(e->alert.channel, "exhaust.1");
    assert_string_equal(e->alert.rule, "exhaust-hot");
    assert_non_null(strstr(e->alert.text, "check raw water"));
    assert_non_null(strstr(e->alert.text, "STARBOARD EXHAUST 95 °C"));
    /* First sample beyond at 60.05, and three more: it leapt there. */
    assert_near(e->at, 66.05, 0.1);
    boat_free(b);
}

/* 655.32 K: the highest number that the field of 130312 holds (IEC 61162-3). */
#define FIELD_END 382.17

/* Seconds from the first reading beyond until the alarm; -1: there was none. */
static double until_alarm(const struct boat *b, double began)
{
    for (int i = 0; i < b->count; i++)
        if (b->events[i].alert.priority >= PRIORITY_ALARM)
            return b->events[i].at - began;
    return -1;
}

/* A wire that comes off, or a true reading: it takes a second look. */
static void exhaust__leaps_to_the_end_of_its_field__is_looked_at_longer(void **state)
{
    (void)state;
    double seconds[2];
    for (int i = 0; i < 2; i++) {
        struct boat *b = boat_new(NO_COOLING_WATCH);
        boat_run(b, 60);
        b->exhaust[1] = i == 0 ? FIELD_END - 10 : FIELD_END;
        boat_run(b, 60);
        boat_print(b);
        seconds[i] = until_alarm(b, 60);
        boat_free(b);
    }
    assert_true(seconds[0] > 0);
    assert_true(seconds[1] >= seconds[0] + 3); /* two more of a sensor that sends each 2 s */
    assert_true(seconds[1] <= 15);
}

static void exhaust__climbs_to_the_end_of_its_field__is_not_later(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    boat_ramp(b, &b->exhaust[1], FIELD_END, 60);
    double alarm = until_alarm(b, 60);
    assert_true(alarm > 0 && alarm < 25); /* 93.3 °C is passed after 9 s */
    boat_free(b);
}

/* An input that nothing hangs on: it was never anywhere else. */
static void exhaust__never_off_the_end_of_its_field__is_a_question_and_no_alarm(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->exhaust[1] = FIELD_END;
    boat_run(b, 120);
    boat_print(b);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_CAUTION);
    assert_non_null(strstr(b->events[0].alert.text, "end of its range, check sensor"));
    /* It moves: it is real, and what it says counts. */
    b->exhaust[1] = 300;
    boat_run(b, 20);
    assert_true(alerts_at(boat_alerts(b), 0)->priority >= PRIORITY_WARNING);
    assert_null(strstr(alerts_at(boat_alerts(b), 0)->text, "end of its range"));
    boat_free(b);
}

/* SPN 110 in one byte, 250 counts: 210 °C (J1939-71), of an engine at work. */
static void coolant__end_of_a_j1939_byte__takes_a_second_look(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH "[channel coolant.0]\nspan = -40 C to 250 C\n");
    uint8_t d[8] = {120, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}; /* 80 °C */
    b->engine_boxes = false;
    for (int i = 0; i < 60; i++) {
        boat_frame(b, 65262, 0, d, 0);
        b->ms += 1000;
    }
    size_t before = (size_t)b->count;
    d[0] = 250;
    double began = (double)b->ms / 1000;
    for (int i = 0; i < 30; i++) {
        boat_frame(b, 65262, 0, d, 0);
        b->ms += 1000;
    }
    boat_print(b);
    double alarm = -1;
    for (size_t i = before; i < (size_t)b->count && alarm < 0; i++)
        if (strcmp(b->events[i].alert.channel, "coolant.0") == 0 &&
            b->events[i].alert.priority >= PRIORITY_ALARM)
            alarm = b->events[i].at - began;
    assert_true(alarm >= 5); /* six readings */
    boat_free(b);
}

static void exhaust__at_the_limit__is_not_beyond_it(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->exhaust[0] = b->exhaust[1] = 93.29;
    boat_run(b, 120);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void exhaust__one_wild_sample__raises_nothing(void **state)
{
    (void)state;
    for (double period = 0.5; period <= 5; period += 0.5) {
        struct boat *b = boat_new(NO_COOLING_WATCH);
        b->temp_period_s = period;
        boat_run(b, 60);
        b->exhaust[1] = 250;
        boat_run(b, period);
        b->exhaust[1] = 45;
        boat_run(b, 60);
        assert_int_equal(b->count, 0);
        boat_free(b);
    }
}

static void exhaust__climbs_over_the_limit__alarm_at_the_second_sample(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    for (int i = 0; i < 5; i++) { /* 60, 75, 90, 105, 120 °C: 7.5 K/s */
        b->exhaust[1] = 60 + 15 * i;
        boat_run(b, 2);
    }
    assert_int_equal(b->count, 1);
    assert_near(b->events[0].at, 68.05, 0.1); /* 105 °C at 66.05, hold 2 s */
    boat_free(b);
}

static void exhaust__three_wild_samples__raise_nothing(void **state)
{
    (void)state;
    for (double period = 0.5; period <= 5; period += 0.5) {
        struct boat *b = boat_new(NO_COOLING_WATCH);
        b->temp_period_s = period;
        boat_run(b, 60);
        b->exhaust[1] = 250;
        boat_run(b, period);
        b->exhaust[1] = 170;
        boat_run(b, 2 * period);
        b->exhaust[1] = 45;
        boat_run(b, 60);
        assert_int_equal(b->count, 0);
        boat_free(b);
    }
}

static void exhaust__wild_sample_every_minute__raises_nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    for (int i = 0; i < 10; i++) {
        boat_run(b, 58);
        b->exhaust[1] = 250;
        boat_run(b, 2);
        b->exhaust[1] = 45;
    }
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void exhaust__within_deadband__still_stands(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 10);
    b->exhaust[0] = 96;
    boat_run(b, 10);
    b->exhaust[0] = 89; /* 93.3 - 5 = 88.3 */
    boat_run(b, 120);
    assert_int_equal(b->count, 1);
    b->exhaust[0] = 88;
    boat_run(b, 8);
    assert_int_equal(b->count, 1); /* clear hold 10 s */
    boat_run(b, 6);
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    boat_free(b);
}

static void exhaust__flapping_faster_than_the_holds__one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 10);
    for (int i = 0; i < 40; i++) {
        b->exhaust[0] = 96;
        boat_run(b, 4);
        b->exhaust[0] = 85;
        boat_run(b, 4);
    }
    assert_int_equal(b->count, 1);
    boat_free(b);
}

/* Neither raises nor clears. */
static void exhaust__not_available__changes_nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH "[silent exhaust]\nenabled = no\n");
    boat_run(b, 10);
    b->exhaust[0] = 96;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    b->exhaust[0] = BOAT_NONE;
    boat_run(b, 100);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_LIMIT), 0);
    boat_free(b);
}

static void exhaust__stale_while_alarm_stands__stands_and_silence_is_told(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 10);
    b->exhaust[0] = 96;
    boat_run(b, 10);
    b->exhaust[0] = BOAT_ABSENT;
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_LIMIT), 0);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 1);
    boat_free(b);
}

/* The hold begins again after a hole in the record: two samples 20 s apart are not a hold. */
static void exhaust__gap_between_two_samples__hold_begins_again(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    b->exhaust[0] = 96;
    boat_run(b, 1); /* one sample */
    uint8_t quiet[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    b->ms += 20000;
    boat_frame(b, 127488, 99, quiet, FRAME_GAP);
    b->ms = (b->ms / 2000 + 1) * 2000;
    boat_run(b, 1); /* and one behind the gap */
    b->exhaust[0] = 45;
    boat_run(b, 30);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void limits__warning_then_alarm_on_one_channel__one_alert_escalates(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 120);
    boat_ramp(b, &b->coolant[0], 110, 120);
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[0].event, EVENT_RAISED);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_int_equal(b->events[1].event, EVENT_ESCALATED);
    assert_int_equal(b->events[1].alert.priority, PRIORITY_ALARM);
    assert_int_equal(b->events[0].alert.id, b->events[1].alert.id);
    assert_non_null(strstr(b->events[0].alert.text, "PORT COOLANT"));
    boat_free(b);
}

static void limit__own_for_one_channel__replaces_that_alone(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH "[channel exhaust.0]\nalarm above = 176 F\n");
    boat_run(b, 10);
    b->exhaust[0] = b->exhaust[1] = 82;
    boat_run(b, 30);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.channel, "exhaust.0");
    boat_free(b);
}

static void oil_pressure__engine_stopped__is_no_alarm(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    for (int e = 0; e < 2; e++) {
        b->rpm[e] = 0;
        b->oil_kpa[e] = 0;
    }
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    b->rpm[0] = b->rpm[1] = 700; /* pressure comes 8 s after the start: settle 15 s */
    boat_run(b, 8);
    b->oil_kpa[0] = b->oil_kpa[1] = 350;
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    b->oil_kpa[0] = 40;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.channel, "oil-pressure.0");
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    assert_non_null(strstr(b->events[0].alert.text, "PORT OIL PRESSURE 40 kPa"));
    b->rpm[0] = 0; /* it falls with the engine, but stays listed until acknowledged */
    boat_run(b, 10);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_int_equal(alerts_at(boat_alerts(b), 0)->state, ALERT_RECTIFIED);
    boat_free(b);
}

static void oil_pressure__low_from_the_start__alarm_after_settling(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->rpm[0] = 0;
    b->oil_kpa[0] = 0;
    boat_run(b, 30);
    b->rpm[0] = 700;
    boat_run(b, 60);
    assert_int_equal(b->count, 1);
    assert_near(b->events[0].at, 30 + 15 + 3, 1.5);
    boat_free(b);
}

static void oil_pressure__engine_speed_lost__low_pressure_stands(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    b->oil_kpa[0] = 40;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    b->rpm[0] = BOAT_ABSENT;
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_LIMIT), 0);
    boat_free(b);
}

/* A boat whose engine speed is not on the bus: upper limits hold all the same. */
static void coolant__no_engine_speed_on_the_bus__limit_holds(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->rpm[0] = b->rpm[1] = BOAT_ABSENT;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 60);
    /* The oil pressure may be of a standing engine; that there is no speed is told. */
    assert_int_equal(b->count, boat_told(b, EVENT_RAISED, KIND_SELF));
    b->coolant[1] = 108;
    boat_run(b, 30);
    assert_true(b->count >= 1);
    assert_int_equal(boat_last(b)->alert.priority, PRIORITY_ALARM);
    assert_string_equal(boat_last(b)->alert.channel, "coolant.1");
    boat_free(b);
}

static void coolant__heat_soak_of_a_stopped_engine__is_no_alarm(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 120);
    b->rpm[0] = b->rpm[1] = 0;
    boat_ramp(b, &b->coolant[0], 104, 120);
    assert_null(boat_find(b, EVENT_RAISED, KIND_LIMIT));
    boat_free(b);
}

static void volts__per_12_v__follow_the_nominal_voltage(void **state)
{
    (void)state;
    static const struct {
        double healthy, low, high;
    } boats[] = {{13.8, 11.5, 15.5}, {27.6, 23, 31}};
    for (size_t i = 0; i < 2; i++) {
        struct boat *b = boat_new(NULL);
        b->volts = boats[i].healthy;
        boat_run(b, 120);
        assert_int_equal(b->count, 0);
        b->volts = boats[i].low;
        boat_run(b, 90);
        assert_int_equal(b->count, 1);
        assert_string_equal(b->events[0].alert.rule, "battery-low");
        assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
        b->volts = boats[i].healthy;
        boat_run(b, 60);
        assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
        b->volts = boats[i].high;
        boat_run(b, 30);
        assert_string_equal(boat_last(b)->alert.rule, "battery-high");
        boat_free(b);
    }
}

static void tank__below_its_limit__caution_that_needs_nobody(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 30);
    b->fuel = 15;
    boat_run(b, 90);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_CAUTION);
    assert_int_equal(b->events[0].alert.state, ALERT_ACKNOWLEDGED);
    assert_string_equal(b->events[0].alert.text, "FUEL TANK 15 %, below 20 %: check range");
    boat_free(b);
}

/* ---- wet or dry ---- */

static void dry_gas_sensor__hot_at_first_sight__is_a_question(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->exhaust[0] = 310;
    boat_run(b, 60);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_string_equal(b->events[0].alert.text,
                        "PORT EXHAUST 310 °C: no cooling water, or a dry-gas sensor? "
                        "Say which in the configuration");
    boat_ramp(b, &b->exhaust[0], 420, 60);
    assert_int_equal(b->count, 1);
    boat_free(b);
}

static void exhaust__rises_through_the_wet_range__is_an_alarm(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    boat_ramp(b, &b->exhaust[0], 300, 120);
    boat_run(b, 60);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "check raw water"));
    assert_null(strstr(alerts_at(boat_alerts(b), 0)->text, "dry-gas"));
    boat_free(b);
}

static int standing_alarms(const struct boat *b)
{
    int n = 0;
    for (size_t i = 0; i < alerts_count(boat_alerts(b)); i++) {
        const struct alert *a = alerts_at(boat_alerts(b), i);
        n += a->priority >= PRIORITY_ALARM && a->state != ALERT_RECTIFIED;
    }
    return n;
}

/* Gas that starts cold passes its limit once; the question comes beside the alarm and does not end
 * it. As gas goes with the load it is not told again, but what is much hotter is. */
static void exhaust__asked_wet_or_dry__keeps_its_limit_without_repeating_it(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 300);
    boat_ramp(b, &b->exhaust[0], 300, 60);
    boat_run(b, 400);
    boat_print(b);
    const struct alert *asks = NULL;
    for (size_t i = 0; i < alerts_count(boat_alerts(b)); i++)
        if (strstr(alerts_at(boat_alerts(b), i)->text, "dry gas? [channel exhaust.0]"))
            asks = alerts_at(boat_alerts(b), i);
    assert_non_null(asks);
    assert_int_equal(asks->priority, PRIORITY_WARNING);
    assert_int_equal(standing_alarms(b), 1);
    int raised = b->count;
    for (int i = 0; i < 4; i++) {
        boat_ramp(b, &b->exhaust[0], 70, 60);
        boat_run(b, 120);
        boat_ramp(b, &b->exhaust[0], 290, 60);
        boat_run(b, 120);
    }
    assert_int_equal(standing_alarms(b), 0);
    for (int i = raised; i < b->count; i++)
        assert_true(b->events[i].event != EVENT_RAISED && b->events[i].event != EVENT_ESCALATED);
    boat_ramp(b, &b->exhaust[0], 420, 30);
    boat_run(b, 60);
    assert_int_equal(standing_alarms(b), 1);
    boat_free(b);
}

static void exhaust__said_to_be_wet__is_never_asked_about(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH "[channel exhaust.0]\nsensor = wet\n");
    b->exhaust[0] = 310;
    boat_run(b, 60);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    boat_free(b);
}

static void exhaust__said_to_be_dry__has_no_wet_limit(void **state)
{
    (void)state;
    struct boat *b = boat_new("[channel exhaust.0]\nsensor = dry\n[channel exhaust.1]\n"
                              "sensor = dry\n");
    b->exhaust[0] = b->exhaust[1] = 410;
    boat_run(b, 300);
    boat_print(b);
    assert_int_equal(b->count, 0);
    assert_non_null(plant_find_key(keeper_plant(b->keeper), "exhaust-gas.0"));
    boat_free(b);
}

/* 5.2 of MSC.302(87): two alerts of one engine's exhaust are one situation. */
static void raw_water_loss__rise_then_limit__one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 400);
    assert_int_equal(b->count, 0);
    boat_ramp(b, &b->exhaust[1], 160, 90);
    boat_run(b, 10);
    boat_print(b);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(b->events[0].alert.kind, KIND_RISE);
    assert_true(b->events[0].alert.value < 93.3);
    const struct alert *a = alerts_at(boat_alerts(b), 0);
    assert_int_equal(a->priority, PRIORITY_ALARM);
    assert_string_equal(a->channel, "exhaust.1");
    for (int i = 0; i < b->count; i++) {
        assert_non_null(strstr(b->events[i].alert.text, "check raw water"));
        assert_non_null(strstr(b->events[i].alert.text, "STARBOARD"));
    }
    boat_free(b);
}

/* A default must not cry on a healthy boat whose exhaust is anywhere from 25 to 70 °C and whose
 * coolant goes up to 93 °C. */
static void healthy_boat__any_normal_temperature__nothing(void **state)
{
    (void)state;
    for (int exhaust = 25; exhaust <= 70; exhaust += 5)
        for (int coolant = 75; coolant <= 93; coolant += 9) {
            struct boat *b = boat_new(NULL);
            b->exhaust[0] = exhaust;
            b->exhaust[1] = exhaust < 60 ? exhaust + 6 : exhaust;
            b->coolant[0] = b->coolant[1] = coolant;
            boat_run(b, 240);
            boat_print(b);
            assert_int_equal(b->count, 0);
            boat_free(b);
        }
}

static void one_engine__place_is_engine(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    b->engines = 1;
    boat_run(b, 20);
    b->exhaust[0] = 99;
    boat_run(b, 20);
    assert_int_equal(b->count, 1);
    assert_non_null(strstr(b->events[0].alert.text, "ENGINE EXHAUST 99 °C"));
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exhaust__steady_above_93__alarm_within_three_periods),
        cmocka_unit_test(exhaust__leaps_to_the_end_of_its_field__is_looked_at_longer),
        cmocka_unit_test(exhaust__climbs_to_the_end_of_its_field__is_not_later),
        cmocka_unit_test(exhaust__never_off_the_end_of_its_field__is_a_question_and_no_alarm),
        cmocka_unit_test(coolant__end_of_a_j1939_byte__takes_a_second_look),
        cmocka_unit_test(exhaust__at_the_limit__is_not_beyond_it),
        cmocka_unit_test(exhaust__one_wild_sample__raises_nothing),
        cmocka_unit_test(exhaust__climbs_over_the_limit__alarm_at_the_second_sample),
        cmocka_unit_test(exhaust__three_wild_samples__raise_nothing),
        cmocka_unit_test(exhaust__wild_sample_every_minute__raises_nothing),
        cmocka_unit_test(exhaust__within_deadband__still_stands),
        cmocka_unit_test(exhaust__flapping_faster_than_the_holds__one_alert),
        cmocka_unit_test(exhaust__not_available__changes_nothing),
        cmocka_unit_test(exhaust__stale_while_alarm_stands__stands_and_silence_is_told),
        cmocka_unit_test(exhaust__gap_between_two_samples__hold_begins_again),
        cmocka_unit_test(limits__warning_then_alarm_on_one_channel__one_alert_escalates),
        cmocka_unit_test(limit__own_for_one_channel__replaces_that_alone),
        cmocka_unit_test(oil_pressure__engine_stopped__is_no_alarm),
        cmocka_unit_test(oil_pressure__low_from_the_start__alarm_after_settling),
        cmocka_unit_test(oil_pressure__engine_speed_lost__low_pressure_stands),
        cmocka_unit_test(coolant__no_engine_speed_on_the_bus__limit_holds),
        cmocka_unit_test(coolant__heat_soak_of_a_stopped_engine__is_no_alarm),
        cmocka_unit_test(volts__per_12_v__follow_the_nominal_voltage),
        cmocka_unit_test(tank__below_its_limit__caution_that_needs_nobody),
        cmocka_unit_test(dry_gas_sensor__hot_at_first_sight__is_a_question),
        cmocka_unit_test(exhaust__rises_through_the_wet_range__is_an_alarm),
        cmocka_unit_test(exhaust__asked_wet_or_dry__keeps_its_limit_without_repeating_it),
        cmocka_unit_test(exhaust__said_to_be_wet__is_never_asked_about),
        cmocka_unit_test(exhaust__said_to_be_dry__has_no_wet_limit),
        cmocka_unit_test(raw_water_loss__rise_then_limit__one_alert),
        cmocka_unit_test(healthy_boat__any_normal_temperature__nothing),
        cmocka_unit_test(one_engine__place_is_engine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
