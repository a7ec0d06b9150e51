/* reported, state, combined, bus and the keeper's own time. */
#include "rules/boat.h"

#include "bus/condition.h"
#include "support/golden.h"

/* ---- reported: status bits of 127489 (word 1 bit 7 is water flow, bit 2 low oil pressure,
 * check value 7) ---- */

static void reported__water_flow_bit__alarm_to_check_raw_water(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->status1[1] = 1u << 7;
    boat_run(b, 5);
    assert_int_equal(b->count, 1);
    const struct alert *a = &b->events[0].alert;
    assert_int_equal(a->kind, KIND_REPORTED);
    assert_int_equal(a->priority, PRIORITY_ALARM);
    assert_string_equal(
        a->text, "STARBOARD ENGINE reports water flow: stop engine when safe, check raw water");
    b->status1[1] = 0;
    boat_run(b, 5);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

static void reported__of_an_engine__by_its_name(void **state)
{
    static const char *const rows[][2] = {
        {"[engine 0]\nname = Eider\n", "Eider ENGINE reports "},
        {"[engine 0]\nname = Engine left\n", "Engine left reports "},
        {"[engine 0]\nkind = generator\n", "GENERATOR reports "},
        {"", "ENGINE reports "},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(rows[i][0]);
        b->engines = 1;
        boat_run(b, 60);
        b->status1[0] = 1u << 7;
        boat_run(b, 5);
        assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 1);
        assert_memory_equal(boat_last(b)->alert.text, rows[i][1], strlen(rows[i][1]));
        boat_free(b);
    }
}

static void reported__one_message_with_a_bit__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->status1[0] = 1u << 1;
    boat_run(b, 0.5);
    b->status1[0] = 0;
    boat_run(b, 10);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void reported__not_available__is_no_fault(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->status1[0] = b->status2[0] = 0xFFFF;
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* What one engine reports while it stands is told no sooner because the other turns. */
static void reported__low_oil_bit_beside_a_running_engine__nothing(void **state)
{
    (void)state;
    for (int standing = 0; standing < 2; standing++) {
        struct boat *b = boat_new(NULL);
        b->rpm[standing] = 0;
        b->oil_kpa[standing] = 0;
        boat_run(b, 90);
        b->status1[standing] = 1u << 2;
        boat_run(b, 30);
        assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 0);
        b->status1[1 - standing] = 1u << 2;
        boat_run(b, 30);
        assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 1);
        boat_free(b);
    }
}

static void reported__low_oil_bit_of_a_standing_engine__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    b->status1[0] = 1u << 2 | 1u << 9 | 1u << 10;
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    b->rpm[0] = 800;
    b->oil_kpa[0] = 300;
    b->status1[0] = 0;
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    b->status1[0] = 1u << 2;
    boat_run(b, 5);
    assert_int_equal(b->count, 1);
    boat_free(b);
}

static void reported__each_bit_alone__has_words_and_priority(void **state)
{
    (void)state;
    for (int word = 1; word <= 2; word++)
        for (int bit = 0; bit < 15; bit++) {
            struct boat *b = boat_new(NULL);
            boat_run(b, 60);
            (word == 1 ? b->status1 : b->status2)[0] = (uint16_t)(1u << bit);
            boat_run(b, 5);
            bool preheat = word == 1 && bit == 10;
            assert_int_equal(b->count, preheat ? 0 : 1);
            if (b->count) {
                assert_int_equal(strncmp(b->events[0].alert.text, "PORT ENGINE reports ", 20), 0);
                assert_in_range(text_width(b->events[0].alert.text), 30, 76);
            }
            boat_free(b);
        }
}

/* Each bit of both words, of an engine that runs and of one that has just stopped: how grave, whose
 * trouble it is, in which words. */
static void reported__each_bit__as_kept(void **state)
{
    (void)state;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    assert_non_null(out);
    for (int i = 0; i < 64; i++) {
        int word = i / 16 % 2 + 1, bit = i % 16;
        bool stopped = i >= 32;
        struct boat *b = boat_new(NULL);
        b->engines = 1;
        b->first = 2;
        boat_run(b, 60);
        if (stopped) {
            b->rpm[0] = 0;
            b->oil_kpa[0] = 0;
        }
        boat_run(b, 10);
        (word == 1 ? b->status1 : b->status2)[0] = (uint16_t)(1u << bit);
        boat_run(b, 6);
        fprintf(out, "%d.%d %s:", word, bit, stopped ? "stopped" : "runs");
        for (int k = 0; k < b->count; k++) {
            const struct alert *a = &b->events[k].alert;
            fprintf(out,
                    " %d kind %d %s, group %d quantity %d place %d, channel '%s', trouble %d; %s",
                    b->events[k].event, (int)a->kind, priority_text(a->priority),
                    (int)a->situation.group, (int)a->situation.id.quantity,
                    (int)a->situation.id.place, a->channel, (int)a->trouble, a->text);
        }
        fputc('\n', out);
        boat_free(b);
    }
    fclose(out);
    golden_check("rules", "reported-bits", text);
    free(text);
}

static void reported__over_temperature_while_coolant_is_hot__one_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 120);
    b->coolant[0] = 106;
    boat_run(b, 20);
    b->status1[0] = 1u << 1;
    boat_run(b, 20);
    assert_int_equal(alerts_count(boat_alerts(b)), 1);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 0);
    boat_free(b);
}

/* DM1 as in SAE J1939-73: lamps, SPN 110 (coolant temperature) FMI 0, occurrence count 1. */
static void dm1(struct boat *b, uint8_t source, uint8_t lamps, uint32_t spn, uint8_t fmi)
{
    uint8_t d[8] = {
        lamps, 0xFF, (uint8_t)spn, (uint8_t)(spn >> 8), (uint8_t)(((spn >> 16) << 5) | fmi),
        1,     0xFF, 0xFF};
    if (spn == 0)
        d[5] = 0;
    boat_frame(b, 65226, source, d, 0);
}

/* SAE J1939-73, appendix A: 0, 15 and 16 are above normal, 1, 17 and 18 below. */
static void trouble_code__each_failure__is_of_the_channel_or_not(void **state)
{
    (void)state;
    for (int spn = 100; spn <= 110; spn += 10)
        for (uint8_t fmi = 0; fmi < 32; fmi++) {
            struct boat *b = boat_new(NULL);
            boat_run(b, 60);
            for (int i = 0; i < 8; i++) {
                dm1(b, 0, 0x10, (uint32_t)spn, fmi);
                boat_run(b, 1);
            }
            bool above = fmi == 0 || fmi == 15 || fmi == 16,
                 below = fmi == 1 || fmi == 17 || fmi == 18;
            int quantity = spn == 110 && above   ? QTY_COOLANT
                           : spn == 100 && below ? QTY_OIL_PRESSURE
                                                 : QTY_NONE;
            assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 1);
            const struct situation *s = &b->events[0].alert.situation;
            assert_int_equal(s->group,
                             quantity == QTY_NONE ? SITUATION_REPORTED : SITUATION_CHANNEL);
            assert_int_equal(s->id.quantity, quantity == QTY_NONE ? 0 : quantity);
            boat_free(b);
        }
}

static void trouble_code__lamps__give_the_priority(void **state)
{
    (void)state;
    static const struct {
        uint8_t lamps;
        enum priority priority;
    } rows[] = {{0x10, PRIORITY_ALARM},   /* red stop */
                {0x04, PRIORITY_WARNING}, /* amber warning */
                {0x01, PRIORITY_WARNING}, /* protect */
                {0x40, PRIORITY_CAUTION}, /* malfunction */
                {0x00, PRIORITY_CAUTION}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(NULL);
        boat_run(b, 30);
        for (int n = 0; n < 5; n++) {
            dm1(b, 1, rows[i].lamps, 1569, 31);
            boat_run(b, 1);
        }
        assert_int_equal(b->count, 1);
        assert_int_equal(b->events[0].alert.priority, rows[i].priority);
        assert_non_null(strstr(b->events[0].alert.text, "STARBOARD ENGINE reports "));
        assert_non_null(strstr(b->events[0].alert.text, "SPN 1569 FMI 31"));
        for (int n = 0; n < 12; n++) {
            dm1(b, 1, 0, 0, 0);
            boat_run(b, 1);
        }
        assert_int_equal(b->count, 2);
        assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
        boat_free(b);
    }
}

static void dm1_for(struct boat *b, int seconds, uint8_t source, uint8_t lamps, uint32_t spn,
                    uint8_t fmi)
{
    for (int n = 0; n < seconds; n++) {
        dm1(b, source, lamps, spn, fmi);
        boat_run(b, 1);
    }
}

static void trouble_code__lamp_turns_red__escalates(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 30);
    dm1_for(b, 5, 0, 0x04, 100, 18);
    dm1_for(b, 1, 0, 0x10, 100, 18);
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[1].event, EVENT_ESCALATED);
    boat_free(b);
}

static void trouble_code__not_repeated_by_a_living_sender__is_over(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 30);
    dm1_for(b, 5, 10, 0x04, 1569, 31); /* address 10 goes on with its engine data */
    boat_run(b, 20);
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    boat_free(b);
}

/* As recorded from a truck: a single frame says "none", a multi-packet message in the same second
 * carries the codes. */
static void trouble_code__none_and_codes_in_turn__one_steady_alert(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 30);
    for (int n = 0; n < 60; n++) {
        dm1(b, 0, 0x04, 1569, 31);
        boat_run(b, 0.5);
        dm1(b, 0, 0x00, 0, 0);
        boat_run(b, 0.5);
    }
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].event, EVENT_RAISED);
    boat_free(b);
}

static void trouble_code__red_lamp_without_a_code__is_an_alarm(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 30);
    dm1_for(b, 6, 0, 0x10, 0, 0);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    assert_non_null(strstr(b->events[0].alert.text, "red stop lamp"));
    boat_free(b);
}

/* Each lamp by itself asks for what it stands for; the worst of several speaks; before a start,
 * when they are lit to show that they work, only the red one counts. */
static void trouble_code__other_lamps_without_a_code__as_they_weigh(void **state)
{
    (void)state;
    static const struct {
        uint8_t lamps;
        enum priority priority;
        const char *words;
    } rows[] = {{0x04, PRIORITY_WARNING, "PORT ENGINE shows the amber warning lamp, no code"},
                {0x01, PRIORITY_WARNING, "PORT ENGINE shows the protect lamp, no code"},
                {0x40, PRIORITY_CAUTION, "PORT ENGINE shows the malfunction lamp, no code"},
                {0x45, PRIORITY_WARNING, "PORT ENGINE shows the amber warning lamp, no code"},
                {0x55, PRIORITY_ALARM, "PORT ENGINE shows the red stop lamp, no code"},
                {0xEF, PRIORITY_CAUTION, NULL}}; /* error and not available */
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(NULL);
        boat_run(b, 60);
        dm1_for(b, 6, 0, rows[i].lamps, 0, 0);
        assert_int_equal(b->count, rows[i].words != NULL);
        if (rows[i].words) {
            assert_int_equal(b->events[0].alert.priority, rows[i].priority);
            assert_int_equal(strncmp(b->events[0].alert.text, rows[i].words, strlen(rows[i].words)),
                             0);
            dm1_for(b, 15, 0, 0, 0, 0);
            assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
        }
        boat_free(b);
    }
    struct boat *b = boat_new(NULL);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 60);
    dm1_for(b, 10, 0, 0x45, 0, 0);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* How it flashes is told, and told again when it changes. */
static void trouble_code__flashing_lamp__says_how(void **state)
{
    (void)state;
    static const struct {
        uint8_t lamps, flashes;
        const char *words;
    } rows[] = {
        {0x10, 0xDF, "STARBOARD ENGINE red stop lamp flashes fast, no code: read its panel"},
        {0x04, 0xF3, "STARBOARD ENGINE amber warning lamp flashes slowly, no code: read its panel"},
        {0x01, 0xFD, "STARBOARD ENGINE protect lamp flashes fast, no code: read its panel"},
        {0x40, 0x3F, "STARBOARD ENGINE malfunction lamp flashes slowly, no code: read its panel"},
        {0x40, 0x7F, "STARBOARD ENGINE malfunction lamp flashes fast, no code: read its panel"},
        {0x04, 0xDF, "STARBOARD ENGINE shows the amber warning lamp, no code: read its panel"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(NULL);
        boat_run(b, 60);
        for (int flashes = 0; flashes < 2; flashes++) {
            uint8_t d[8] = {rows[i].lamps, flashes ? rows[i].flashes : 0xFF, [6] = 0xFF, 0xFF};
            for (int s = 0; s < 6; s++) {
                boat_frame(b, 65226, 1, d, 0);
                boat_run(b, 1);
            }
            const char *text = alerts_at(boat_alerts(b), 0)->text;
            if (flashes)
                assert_string_equal(text, rows[i].words);
            else
                assert_null(strstr(text, "flashes"));
        }
        assert_int_equal(alerts_count(boat_alerts(b)), 1);
        boat_free(b);
    }
}

static void trouble_code__all_ones__is_no_code(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 30);
    dm1_for(b, 6, 0, 0x04, 524287, 31);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* Key-on: every lamp for 3 s at 0 rpm, then the start. */
static void key_on__lamp_test_at_standstill__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 30);
    b->status1[0] = 1u << 1 | 1u << 5 | 1u << 6;
    b->status2[0] = 1u << 4 | 1u << 7;
    dm1_for(b, 10, 0, 0x54, 1569, 31);
    b->status1[0] = b->status2[0] = 0;
    b->rpm[0] = 800;
    b->oil_kpa[0] = 300;
    boat_run(b, 60);
    boat_print(b);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void engine_shut_itself_down__bit_after_it_stands__is_heard(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->rpm[0] = 0;
    b->oil_kpa[0] = 0;
    boat_run(b, 10);
    b->status2[0] = 1u << 7;
    boat_run(b, 8);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    boat_free(b);
}

/* An idle engine whose box sets the bit although the coolant is cold. */
static void over_temperature_bit__coolant_reads_cold__warning_that_says_both(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->rpm[0] = b->rpm[1] = 800;
    b->coolant[0] = b->coolant[1] = 23;
    boat_run(b, 60);
    b->status1[0] = 1u << 1;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_string_equal(b->events[0].alert.text,
                        "PORT ENGINE reports over temperature, reads 23 °C: check its sensor");
    boat_free(b);
}

static void status_words__reserved_values_and_unused_bytes__say_nothing(void **state)
{
    (void)state;
    static const uint16_t words[] = {0xFFFF, 0xFFFE, 0xFFFD, 0xFF00, 0x00FF};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        struct boat *b = boat_new(NULL);
        b->status1[0] = b->status2[0] = words[i];
        boat_run(b, 60);
        assert_int_equal(b->count, 0);
        boat_free(b);
    }
}

/* ---- state ---- */

#define BILGE                                                                                      \
    "[channel switch.0.3]\nlabel = bilge pump\n"                                                   \
    "[state bilge-often]\nchannel = switch.0.3\npriority = warning\nmore than = 5\n"               \
    "within = 1 h\nadvice = find the leak\n"                                                       \
    "[state bilge-long]\nchannel = switch.0.3\npriority = alarm\non longer than = 3 min\n"         \
    "advice = look in the bilge\n"

static void state__five_runs_in_an_hour__sixth_is_too_many(void **state)
{
    (void)state;
    struct boat *b = boat_new(BILGE);
    b->switches[2] = 0;
    boat_run(b, 30);
    for (int i = 0; i < 6; i++) {
        assert_int_equal(b->count, 0);
        b->switches[2] = 1;
        boat_run(b, 20);
        b->switches[2] = 0;
        boat_run(b, 60);
    }
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_STATE);
    assert_string_equal(b->events[0].alert.text, "BILGE PUMP on 6 times in 60 min: find the leak");
    boat_run(b, 3600);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* Each run leaves the count as it leaves the ten minutes: seven a quarter of an hour apart are
 * never more than one; of four that come within four minutes the fourth is too many. */
static void state__runs_that_are_long_past__no_longer_count(void **state)
{
    (void)state;
    struct boat *b = boat_new("[state often]\nchannel = switch.0.3\npriority = warning\n"
                              "more than = 3\nwithin = 10 min\n");
    b->switches[2] = 0;
    boat_run(b, 30);
    for (int i = 0; i < 7; i++) {
        b->switches[2] = 1;
        boat_run(b, 20);
        b->switches[2] = 0;
        boat_run(b, 900);
    }
    assert_int_equal(b->count, 0);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(b->count, 0);
        b->switches[2] = 1;
        boat_run(b, 20);
        b->switches[2] = 0;
        boat_run(b, 40);
    }
    assert_int_equal(b->count, 1);
    boat_run(b, 355); /* the first of them is 595 s ago */
    assert_int_equal(b->count, 1);
    boat_run(b, 10);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* Two pumps are counted apart, and one that is on when it is first heard has not been switched on.
 */
static void state__two_pumps__each_has_its_own_count(void **state)
{
    (void)state;
    struct boat *b = boat_new("[state first]\nchannel = switch.0.3\npriority = warning\n"
                              "more than = 3\nwithin = 10 min\n"
                              "[state second]\nchannel = switch.0.4\npriority = warning\n"
                              "more than = 3\nwithin = 10 min\n");
    b->switches[2] = b->switches[3] = 1;
    boat_run(b, 10);
    for (int i = 0; i < 3; i++) {
        b->switches[2] = b->switches[3] = 0;
        boat_run(b, 10);
        b->switches[2] = 1;
        boat_run(b, 5);
        b->switches[3] = 1;
        boat_run(b, 5);
    }
    assert_int_equal(b->count, 0);
    b->switches[3] = 0;
    boat_run(b, 10);
    b->switches[3] = 1;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.channel, "switch.0.4");
    boat_free(b);
}

static void state__on_for_too_long__alarm_until_off(void **state)
{
    (void)state;
    struct boat *b = boat_new(BILGE);
    b->switches[2] = 0;
    boat_run(b, 10);
    b->switches[2] = 1;
    boat_run(b, 179);
    assert_int_equal(b->count, 0);
    boat_run(b, 5);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    assert_string_equal(b->events[0].alert.text, "BILGE PUMP on for 3 min: look in the bilge");
    b->switches[2] = 3; /* not available: neither clears ... */
    boat_run(b, 5);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_STATE), 0);
    b->switches[2] = 0;
    boat_run(b, 5);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_STATE), 1);
    boat_free(b);
}

static void state__not_known_in_between__count_begins_again(void **state)
{
    (void)state;
    struct boat *b = boat_new(BILGE "[silent other]\nenabled = no\n");
    b->switches[2] = 1;
    boat_run(b, 150);
    b->switches[2] = 3;
    boat_run(b, 10);
    b->switches[2] = 1;
    boat_run(b, 170);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* ---- combined ---- */

#define BLOWER                                                                                     \
    NO_COOLING_WATCH                                                                               \
    "[channel switch.0.4]\nlabel = blower\n"                                                       \
    "[combined unventilated]\npriority = warning\n"                                                \
    "when = engine-space.* above 55 C and switch.0.4 off and engine running\n"                     \
    "hold = 10 s\nadvice = switch the blower on\n"

static void combined__all_conditions__raised_after_the_hold(void **state)
{
    (void)state;
    struct boat *b = boat_new(BLOWER);
    b->switches[3] = 1;
    b->space = 57;
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    b->switches[3] = 0;
    boat_run(b, 9);
    assert_int_equal(b->count, 0);
    boat_run(b, 5);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_COMBINED);
    assert_string_equal(b->events[0].alert.channel, "engine-space.0");
    assert_non_null(strstr(b->events[0].alert.text, "ENGINE SPACE 57 °C, BLOWER off"));
    assert_non_null(strstr(b->events[0].alert.text, ": switch the blower on"));
    b->switches[3] = 1;
    boat_run(b, 5);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

static void combined__condition_not_known__does_not_hold(void **state)
{
    (void)state;
    struct boat *b = boat_new(BLOWER);
    b->space = 57; /* the switch bank is never heard */
    boat_run(b, 120);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void combined__condition_lost_while_it_stands__stands(void **state)
{
    (void)state;
    struct boat *b = boat_new(BLOWER);
    b->space = 57;
    b->switches[3] = 0;
    boat_run(b, 30);
    assert_int_equal(b->count, 1);
    b->switches[3] = 3;
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_COMBINED), 0);
    boat_free(b);
}

static void combined__engines_stopped__condition_ends(void **state)
{
    (void)state;
    struct boat *b = boat_new(BLOWER);
    b->space = 57;
    b->switches[3] = 0;
    boat_run(b, 30);
    b->rpm[0] = b->rpm[1] = 0;
    b->oil_kpa[0] = b->oil_kpa[1] = 0;
    boat_run(b, 10);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_COMBINED), 1);
    boat_free(b);
}

/* Read again with another order of its rules, or the same: what stands goes on. */
static void combined__reconfigured__stands_on(void **state)
{
    static const char *const again[] = {
        BLOWER, "[combined other]\nwhen = engine-space.* above 90 C\n" BLOWER};
    (void)state;
    for (size_t i = 0; i < sizeof again / sizeof *again; i++) {
        struct boat *b = boat_new(BLOWER);
        struct config_messages *messages = NULL;
        b->space = 57;
        b->switches[3] = 0;
        boat_run(b, 30);
        assert_int_equal(b->count, 1);
        struct settings *s = config_load_text("again", again[i], &messages);
        config_messages_free(messages);
        assert_non_null(s);
        keeper_reconfigure(b->keeper, s);
        settings_free(b->settings);
        b->settings = s;
        boat_run(b, 30);
        assert_int_equal(b->count, 1);
        b->switches[3] = 1;
        boat_run(b, 5);
        assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_COMBINED), 1);
        boat_free(b);
    }
}

/* ---- blower ---- */

#define NAMED_BLOWER "[channel blower.0]\nfrom = switch.0.1\n"
#define PETROL       "[engine 0]\nfuel = petrol\n"

/* The blower runs for `blower_s`, then the port engine starts; how many warnings that gives. */
static struct boat *started(const char *text, double blower_s)
{
    struct boat *b = boat_new(text);
    b->engines = 1;
    b->rpm[0] = 0;
    b->oil_kpa[0] = 0;
    b->switches[0] = b->switches[1] = 0;
    boat_run(b, 20);
    if (blower_s > 0) {
        b->switches[0] = b->switches[1] = 1;
        boat_run(b, blower_s);
    }
    b->rpm[0] = 800;
    b->oil_kpa[0] = 400;
    boat_run(b, 20);
    return b;
}

static int blower_warnings(struct boat *b)
{
    int n = 0;
    for (int i = 0; i < b->count; i++)
        n += b->events[i].event == EVENT_RAISED &&
             strcmp(b->events[i].alert.rule, "blower-before-start") == 0;
    return n;
}

/* 4 min before a start: common practice, no source. */
static void petrol__started_before_the_blower_has_run_4_min__is_a_warning(void **state)
{
    (void)state;
    struct boat *b = started(NAMED_BLOWER PETROL, 40);
    assert_int_equal(blower_warnings(b), 1);
    const struct alert *a = &boat_find(b, EVENT_RAISED, KIND_STATE)->alert;
    assert_int_equal(a->priority, PRIORITY_WARNING);
    assert_non_null(strstr(a->text, "blower on for 40 s, not 4 min: blower on, sniff for petrol"));
    boat_run(b, 240);
    assert_non_null(boat_find(b, EVENT_RECTIFIED, KIND_STATE));
    boat_free(b);
    b = started(NAMED_BLOWER PETROL, 0);
    assert_int_equal(blower_warnings(b), 1);
    assert_non_null(strstr(boat_find(b, EVENT_RAISED, KIND_STATE)->alert.text, "blower off"));
    boat_free(b);
}

static void petrol__blower_has_run_or_nothing_asks_for_it__says_nothing(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double blower_s;
    } quiet[] = {{NAMED_BLOWER PETROL, 250},
                 {NAMED_BLOWER, 0},
                 {PETROL, 0},
                 {"", 0},
                 {NAMED_BLOWER "[engine 0]\nfuel = diesel\n", 0}};
    for (size_t i = 0; i < sizeof quiet / sizeof *quiet; i++) {
        struct boat *b = started(quiet[i].text, quiet[i].blower_s);
        assert_int_equal(blower_warnings(b), 0);
        boat_free(b);
    }
    struct boat *b = boat_new(NAMED_BLOWER PETROL); /* found running: no start was seen */
    b->switches[1] = 0;
    boat_run(b, 60);
    assert_int_equal(blower_warnings(b), 0);
    boat_free(b);
}

/* What counts is how long it has run until the start: four minutes that ended before it are none,
 * and of two blowers the one that has run longest speaks. */
static void petrol__blower_that_was_switched_off_again__has_not_run(void **state)
{
    static const struct {
        int first_s, second_s; /* each until the start; 0: not at all */
        int off_s;             /* and then off again for so long */
        int warnings;
    } rows[] = {{235, 0, 0, 1}, {245, 0, 0, 0},  {300, 0, 30, 1}, {300, 0, 3, 1},
                {0, 245, 0, 0}, {245, 30, 0, 0}, {30, 235, 0, 1}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(NAMED_BLOWER "[channel blower.1]\nfrom = switch.0.2\n" PETROL);
        b->engines = 1;
        b->rpm[0] = b->oil_kpa[0] = 0;
        b->switches[0] = b->switches[1] = 0;
        boat_run(b, 20);
        for (int t = 300; t > 0; t--) {
            b->switches[0] = t <= rows[i].first_s;
            b->switches[1] = t <= rows[i].second_s;
            boat_run(b, 1);
        }
        b->switches[0] = rows[i].off_s > 0 ? 0 : b->switches[0];
        boat_run(b, rows[i].off_s);
        b->rpm[0] = 800;
        b->oil_kpa[0] = 400;
        boat_run(b, 20);
        assert_int_equal(blower_warnings(b), rows[i].warnings);
        boat_free(b);
    }
}

/* A switch that was off for long and of which nothing is heard any more is not on. */
static void state__bank_falls_silent__is_neither_on_nor_off(void **state)
{
    (void)state;
    struct boat *b = boat_new(BILGE);
    b->switches[2] = 0;
    boat_run(b, 400);
    b->switches[2] = -1;
    boat_run(b, 300);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_STATE), 0);
    boat_free(b);
}

/* ---- self ---- */

/* What is named in the configuration is missed by name; another one named changes nothing. */
static void self__named_channel__is_left_to_the_rule_that_misses_it(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int told;
    } cases[] = {{NULL, 1},
                 {"[channel coolant.0]\n", 1},
                 {"[channel exhaust.0]\n", 0},
                 {"[channel exhaust-gas.1]\n", 0}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct boat *b = boat_new(cases[i].text);
        b->exhaust[0] = b->exhaust[1] = BOAT_ABSENT;
        boat_run(b, 60);
        assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SELF), cases[i].told);
        boat_free(b);
    }
}

static void self__no_speed_no_exhaust__told_once_each_while_an_engine_may_run(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->rpm[0] = b->rpm[1] = BOAT_ABSENT;
    b->exhaust[0] = b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SELF), 2);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_CAUTION);
    assert_true(b->events[0].at < 20);
    assert_non_null(strstr(b->events[0].alert.text, "NO ENGINE SPEED"));
    assert_non_null(strstr(b->events[1].alert.text, "NO EXHAUST TEMPERATURE"));
    b->rpm[0] = 2000; /* somebody plugs it in */
    b->exhaust[0] = 40;
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_SELF), 2);
    boat_free(b);
}

/* A sensor that was read but once is known: its silence is another alert's. */
static void self__exhaust_read_once__is_not_missing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->exhaust[1] = BOAT_ABSENT;
    boat_run(b, 1);
    b->exhaust[0] = BOAT_ABSENT;
    const struct channel *c =
        plant_find(keeper_plant(b->keeper), (struct channel_id){QTY_EXHAUST, 0, 0});
    assert_non_null(c);
    assert_int_equal(c->readings, 1);
    boat_run(b, 60);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SELF), 0);
    boat_free(b);
}

static void self__exhaust_every_30_s__is_told_once_as_too_seldom(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    b->temp_period_s = 30;
    boat_run(b, 600);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SELF), 1);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_CAUTION);
    assert_non_null(strstr(b->events[0].alert.text, "EXHAUST comes every 30 s"));
    boat_free(b);
    b = boat_new(NULL);
    b->temp_period_s = 10;
    boat_run(b, 600);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SELF), 0);
    boat_free(b);
}

/* A full disk is no trouble of the cable, and a cable that is off none of the watch. */
static void condition__each_sort__is_of_the_bus_or_of_the_watch_itself(void **state)
{
    (void)state;
    static const struct {
        enum condition_sort sort;
        enum rule_kind kind;
    } rows[] = {
        {CONDITION_MISSING, KIND_BUS},      {CONDITION_DOWN, KIND_BUS},
        {CONDITION_BUS_OFF, KIND_BUS},      {CONDITION_PASSIVE, KIND_BUS},
        {CONDITION_LOST, KIND_BUS},         {CONDITION_CUT, KIND_BUS},
        {CONDITION_QUIET, KIND_BUS},        {CONDITION_RECORD, KIND_SELF},
        {CONDITION_RECORD_LOST, KIND_SELF}, {CONDITION_RECORD_GIVEN, KIND_SELF},
        {CONDITION_HOOK, KIND_SELF},        {CONDITION_METRICS, KIND_SELF},
        {CONDITION_STATE, KIND_SELF},       {CONDITION_STUCK, KIND_SELF},
        {CONDITION_CONFIG, KIND_SELF},      {CONDITION_CLOCK, KIND_SELF},
        {CONDITION_UNBOUND, KIND_SELF},     {CONDITION_BLIND, KIND_SELF},
        {CONDITION_SEASON, KIND_SELF},
    };
    struct boat *b = boat_new(NULL);
    boat_run(b, 1);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        keeper_bus(b->keeper, CONDITION_CODE(rows[i].sort, 0), PRIORITY_CAUTION, "something", true,
                   plant_now(keeper_plant(b->keeper)));
        assert_int_equal(boat_last(b)->event, EVENT_RAISED);
        assert_int_equal(boat_last(b)->alert.kind, rows[i].kind);
    }
    boat_free(b);
}

/* ---- bus ---- */

static void bus__condition_of_the_bus__stands_until_cleared(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 1);
    struct stamp at = plant_now(keeper_plant(b->keeper));
    keeper_bus(b->keeper, 1, PRIORITY_ALARM, "can0 is gone: check the adapter", true, at);
    keeper_bus(b->keeper, 1, PRIORITY_ALARM, "can0 is gone: check the adapter", true, at);
    keeper_bus(b->keeper, 2, PRIORITY_CAUTION, "disk full", true, at);
    assert_int_equal(alerts_count(boat_alerts(b)), 2);
    keeper_bus(b->keeper, 1, PRIORITY_ALARM, "", false, at);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    assert_string_equal(boat_last(b)->alert.text, "can0 is gone: over");
    boat_free(b);
}

static void bus__rule_switched_off__says_nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new("[bus trouble]\nenabled = no\n");
    boat_run(b, 1);
    keeper_bus(b->keeper, 1, PRIORITY_ALARM, "can0 is gone", true,
               plant_now(keeper_plant(b->keeper)));
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* ---- the keeper ---- */

static void keeper__clock_of_the_log_steps__no_alert_and_the_labels_follow(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    struct frame f = {.wall_ns = 5 * NS_PER_S, /* the clock was set back by decades */
                      .mono_ns = TIMELINE_START + b->ms * NS_PER_MS,
                      .id = 0x18FEF17Fu,
                      .len = 8,
                      .flags = FRAME_EXTENDED};
    keeper_frames(b->keeper, &f, 1);
    assert_int_equal(b->count, 0);
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* 126992: days since 1970 and 0.0001 s of the day. */
static void keeper__bus_tells_another_time__is_a_label_beside(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    int64_t ahead_ns;
    boat_run(b, 10);
    assert_false(keeper_bus_clock(b->keeper, &ahead_ns));
    int64_t bus_s = (BOAT_WALL_NS + b->ms * NS_PER_MS) / NS_PER_S + 3600;
    unsigned days = (unsigned)(bus_s / 86400), tenths = (unsigned)(bus_s % 86400) * 10000;
    uint8_t d[8] = {0xFF,
                    0xF0,
                    (uint8_t)days,
                    (uint8_t)(days >> 8),
                    (uint8_t)tenths,
                    (uint8_t)(tenths >> 8),
                    (uint8_t)(tenths >> 16),
                    (uint8_t)(tenths >> 24)};
    boat_frame(b, 126992, 50, d, 0);
    assert_true(keeper_bus_clock(b->keeper, &ahead_ns));
    assert_true(ahead_ns == 3600 * NS_PER_S);
    boat_run(b, 70);
    assert_false(keeper_bus_clock(b->keeper, &ahead_ns)); /* not heard any more */
    assert_int_equal(b->count, 0);
    boat_free(b);
}

static void keeper__live_without_frames__quiet_bus_is_found(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    for (int i = 1; i <= 60; i++) {
        b->ms += 250;
        struct stamp now = {BOAT_WALL_NS + b->ms * NS_PER_MS, TIMELINE_START + b->ms * NS_PER_MS};
        keeper_tick(b->keeper, now);
    }
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_BUS), 1);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_SILENT), 0);
    boat_free(b);
}

/* A process that was stopped for a minute heard nothing: a hole, not silence. */
static void keeper__live_stopped_for_a_minute__is_a_hole(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    boat_run(b, 60);
    b->ms += 60000;
    struct stamp now = {BOAT_WALL_NS + b->ms * NS_PER_MS, TIMELINE_START + b->ms * NS_PER_MS};
    keeper_tick(b->keeper, now);
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    boat_free(b);
}

/* Nothing that is read changes: only the limit does. */
static void keeper__limit_lowered__readings_within_the_old_one_are_beyond_it(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    struct config_messages *messages = NULL;
    struct settings *lower = config_load_text(
        "lower", NO_COOLING_WATCH "[limit exhaust-hot]\nabove = 40 C\n", &messages);
    config_messages_free(messages);
    keeper_reconfigure(b->keeper, lower);
    settings_free(b->settings);
    b->settings = lower;
    boat_run(b, 30);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_LIMIT), 2);
    assert_string_equal(b->events[0].alert.rule, "exhaust-hot");
    boat_free(b);
}

static void keeper__reconfigured__standing_alert_of_a_kept_rule_stays(void **state)
{
    (void)state;
    struct boat *b = boat_new(NO_COOLING_WATCH);
    boat_run(b, 30);
    b->exhaust[0] = 96;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    struct config_messages *messages = NULL;
    struct settings *other =
        config_load_text("other", NO_COOLING_WATCH "[units]\ntemperature = F\n", &messages);
    config_messages_free(messages);
    keeper_reconfigure(b->keeper, other);
    settings_free(b->settings);
    b->settings = other;
    boat_run(b, 10);
    assert_int_equal(b->count, 1);
    assert_non_null(strstr(alerts_at(boat_alerts(b), 0)->text, "205 °F"));
    other =
        config_load_text("off", NO_COOLING_WATCH "[limit exhaust-hot]\nenabled = no\n", &messages);
    config_messages_free(messages);
    keeper_reconfigure(b->keeper, other);
    settings_free(b->settings);
    b->settings = other;
    assert_int_equal(b->count, 2);
    assert_int_equal(b->events[1].event, EVENT_RECTIFIED);
    boat_run(b, 10);
    assert_int_equal(b->count, 2);
    boat_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trouble_code__each_failure__is_of_the_channel_or_not),
        cmocka_unit_test(state__two_pumps__each_has_its_own_count),
        cmocka_unit_test(combined__reconfigured__stands_on),
        cmocka_unit_test(reported__each_bit__as_kept),
        cmocka_unit_test(reported__of_an_engine__by_its_name),
        cmocka_unit_test(reported__low_oil_bit_beside_a_running_engine__nothing),
        cmocka_unit_test(self__exhaust_read_once__is_not_missing),
        cmocka_unit_test(reported__water_flow_bit__alarm_to_check_raw_water),
        cmocka_unit_test(reported__one_message_with_a_bit__nothing),
        cmocka_unit_test(reported__not_available__is_no_fault),
        cmocka_unit_test(reported__low_oil_bit_of_a_standing_engine__nothing),
        cmocka_unit_test(reported__each_bit_alone__has_words_and_priority),
        cmocka_unit_test(reported__over_temperature_while_coolant_is_hot__one_alert),
        cmocka_unit_test(trouble_code__lamps__give_the_priority),
        cmocka_unit_test(trouble_code__none_and_codes_in_turn__one_steady_alert),
        cmocka_unit_test(trouble_code__red_lamp_without_a_code__is_an_alarm),
        cmocka_unit_test(trouble_code__other_lamps_without_a_code__as_they_weigh),
        cmocka_unit_test(trouble_code__flashing_lamp__says_how),
        cmocka_unit_test(trouble_code__all_ones__is_no_code),
        cmocka_unit_test(key_on__lamp_test_at_standstill__nothing),
        cmocka_unit_test(engine_shut_itself_down__bit_after_it_stands__is_heard),
        cmocka_unit_test(over_temperature_bit__coolant_reads_cold__warning_that_says_both),
        cmocka_unit_test(status_words__reserved_values_and_unused_bytes__say_nothing),
        cmocka_unit_test(trouble_code__lamp_turns_red__escalates),
        cmocka_unit_test(trouble_code__not_repeated_by_a_living_sender__is_over),
        cmocka_unit_test(state__five_runs_in_an_hour__sixth_is_too_many),
        cmocka_unit_test(state__runs_that_are_long_past__no_longer_count),
        cmocka_unit_test(state__on_for_too_long__alarm_until_off),
        cmocka_unit_test(state__not_known_in_between__count_begins_again),
        cmocka_unit_test(combined__all_conditions__raised_after_the_hold),
        cmocka_unit_test(combined__condition_not_known__does_not_hold),
        cmocka_unit_test(combined__condition_lost_while_it_stands__stands),
        cmocka_unit_test(combined__engines_stopped__condition_ends),
        cmocka_unit_test(petrol__blower_that_was_switched_off_again__has_not_run),
        cmocka_unit_test(state__bank_falls_silent__is_neither_on_nor_off),
        cmocka_unit_test(self__named_channel__is_left_to_the_rule_that_misses_it),
        cmocka_unit_test(self__no_speed_no_exhaust__told_once_each_while_an_engine_may_run),
        cmocka_unit_test(self__exhaust_every_30_s__is_told_once_as_too_seldom),
        cmocka_unit_test(petrol__started_before_the_blower_has_run_4_min__is_a_warning),
        cmocka_unit_test(petrol__blower_has_run_or_nothing_asks_for_it__says_nothing),
        cmocka_unit_test(condition__each_sort__is_of_the_bus_or_of_the_watch_itself),
        cmocka_unit_test(bus__condition_of_the_bus__stands_until_cleared),
        cmocka_unit_test(bus__rule_switched_off__says_nothing),
        cmocka_unit_test(keeper__clock_of_the_log_steps__no_alert_and_the_labels_follow),
        cmocka_unit_test(keeper__bus_tells_another_time__is_a_label_beside),
        cmocka_unit_test(keeper__live_without_frames__quiet_bus_is_found),
        cmocka_unit_test(keeper__live_stopped_for_a_minute__is_a_hole),
        cmocka_unit_test(keeper__limit_lowered__readings_within_the_old_one_are_beyond_it),
        cmocka_unit_test(keeper__reconfigured__standing_alert_of_a_kept_rule_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
