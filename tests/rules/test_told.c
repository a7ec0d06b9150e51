/* What boxes report of themselves, alternating current and batteries of every kind, through the
 * whole path. Codes and layouts: open definitions of IEC 61162-3, SAE J1939DA. */
#include "rules/boat.h"

static void send(struct boat *b, uint32_t pgn, uint8_t source, const uint8_t data[8], int times)
{
    for (int i = 0; i < times; i++) {
        boat_frame(b, pgn, source, data, 0);
        boat_run(b, 1);
    }
}

static void send_fast(struct boat *b, uint32_t pgn, uint8_t source, const uint8_t *data, int len,
                      int times)
{
    for (int i = 0; i < times; i++) {
        boat_fast(b, pgn, source, data, len);
        boat_run(b, 1.5);
    }
}

static void told__charger_fault__warning_until_it_is_over(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t charger[6] = {1, 0, 0x21, 0xF1, 0xFF, 0xFF}; /* bulk */
    send_fast(b, 127507, 50, charger, 6, 5);
    assert_int_equal(b->count, 0);
    charger[2] = 0x29;
    send_fast(b, 127507, 50, charger, 6, 1);
    assert_int_equal(b->count, 0); /* one message is none */
    send_fast(b, 127507, 50, charger, 6, 1);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_REPORTED);
    assert_int_equal(b->events[0].alert.priority, PRIORITY_WARNING);
    assert_string_equal(b->events[0].alert.text, "CHARGER 1 reports a fault: read its own panel");
    charger[2] = 0x2F; /* not available: neither */
    send_fast(b, 127507, 50, charger, 6, 3);
    assert_int_equal(b->count, 1);
    charger[2] = 0x28; /* disabled */
    send_fast(b, 127507, 50, charger, 6, 1);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* 127509 and 127750 say a fault by their state as 127507 does; other states are none. */
static void told__fault_of_inverter_and_converter__warning_until_it_is_over(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t inverter[4] = {1, 0, 0, 0xD0}, converter[8] = {0xFF, 2, 3, 0, 0xFF, 0xFF, 0xFF, 0xFF};
    for (uint8_t code = 0; code < 5; code++) {
        inverter[3] = (uint8_t)(0xD0 | code);
        send_fast(b, 127509, 50, inverter, 4, 2);
        assert_int_equal(b->count, code < 3 ? 0 : code - 2);
        if (code == 3)
            assert_string_equal(boat_last(b)->alert.text,
                                "INVERTER 1 reports a fault: read its own panel");
    }
    boat_free(b);
    b = boat_new(NULL);
    for (uint8_t code = 0; code < 11; code++) {
        converter[2] = code;
        send(b, 127750, 51, converter, 2);
        assert_int_equal(b->count, code < 2 ? 0 : code > 2 ? 2 : 1);
        if (code == 2)
            assert_string_equal(boat_last(b)->alert.text,
                                "CONVERTER 2 reports a fault: read its own panel");
    }
    boat_free(b);
}

/* 252 is the last instance there can be (IEC 61162-3, from memory). */
static void told__instance__up_to_252(void **state)
{
    (void)state;
    for (int who = 250; who < 256; who++) {
        struct boat *b = boat_new(NULL);
        uint8_t converter[8] = {0xFF, (uint8_t)who, 2, 0, 0xFF, 0xFF, 0xFF, 0xFF};
        send(b, 127750, 51, converter, 3);
        assert_int_equal(b->count, who <= 252);
        boat_free(b);
    }
}

static void told__converter_states__each_in_its_own_words(void **state)
{
    (void)state;
    static const struct {
        uint8_t states;
        enum priority priority;
        const char *text;
    } cases[] = {
        {0x01, PRIORITY_CAUTION, "CONVERTER 1 reports high temperature: give it air"},
        {0x02, PRIORITY_WARNING, "CONVERTER 1 reports too high a temperature: give it air"},
        {0x04, PRIORITY_CAUTION, "CONVERTER 1 reports near overload: switch loads off"},
        {0x08, PRIORITY_WARNING, "CONVERTER 1 reports overload: switch loads off"},
        {0x10, PRIORITY_CAUTION, "CONVERTER 1 reports low DC voltage: charge"},
        {0x20, PRIORITY_WARNING, "CONVERTER 1 reports too low a DC voltage: charge"},
        {0x40, PRIORITY_CAUTION, "CONVERTER 1 reports DC ripple: check its battery cables"},
        {0x80, PRIORITY_WARNING, "CONVERTER 1 reports high DC ripple: check its battery cables"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct boat *b = boat_new(NULL);
        uint8_t d[8] = {0xFF, 1, 9, cases[i].states, 0xFF, 0xFF, 0xFF, 0xFF};
        send(b, 127750, 51, d, 4);
        assert_int_equal(b->count, 1);
        assert_string_equal(b->events[0].alert.text, cases[i].text);
        assert_int_equal(b->events[0].alert.priority, cases[i].priority);
        d[3] = 0;
        send(b, 127750, 51, d, 1);
        assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
        boat_free(b);
    }
}

static void told__water_in_fuel_and_shutdown__of_a_j1939_engine(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t water[8] = {0xFD, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    send(b, 65279, 1, water, 2);
    assert_string_equal(boat_last(b)->alert.text,
                        "STARBOARD ENGINE reports water in fuel: drain the fuel filter");
    uint8_t shut[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFD, 0xFF, 0xFF, 0xFF};
    send(b, 65252, 0, shut, 2);
    assert_string_equal(boat_last(b)->alert.text,
                        "PORT ENGINE reports that it shut down to protect itself: find out why");
    assert_int_equal(boat_last(b)->alert.priority, PRIORITY_ALARM);
    shut[4] = 0xFC;
    send(b, 65252, 0, shut, 1);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    uint8_t quiet[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    int count = b->count;
    send(b, 65279, 1, quiet, 3); /* not available ends nothing */
    assert_int_equal(b->count, count);
    boat_free(b);
}

/* ENGINE is added to a name unless it says as much. */
static void told__of_an_engine__by_its_name(void **state)
{
    static const struct {
        const char *conf;
        int engines;
        const char *name;
    } rows[] = {
        {NULL, 2, "PORT ENGINE"},
        {NULL, 1, "ENGINE"},
        {"[engine 0]\nkind = generator\n", 1, "GENERATOR"},
        {"[engine 0]\nname = Gull\n", 1, "Gull ENGINE"},
        {"[engine 0]\nname = Eider\n", 1, "Eider ENGINE"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct boat *b = boat_new(rows[i].conf);
        char wanted[100];
        b->engines = rows[i].engines;
        boat_run(b, 10);
        uint8_t water[8] = {0xFD, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
        send(b, 65279, 0, water, 2);
        snprintf(wanted, sizeof wanted, "%s reports water in fuel: drain the fuel filter",
                 rows[i].name);
        assert_string_equal(boat_last(b)->alert.text, wanted);
        boat_free(b);
    }
}

static void told__trouble_code__keeps_the_words_of_its_failure(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t d[8] = {0x04, 0xFF, 112, 0, 0, 1, 0xFF, 0xFF};
    boat_run(b, 10);
    send(b, 65226, 1, d, 8);
    assert_non_null(strstr(b->events[0].alert.text, "above normal, most severe"));
    assert_non_null(strstr(b->events[0].alert.text, "coolant filter differential pressure"));
    assert_non_null(strstr(b->events[0].alert.text, "SPN 112/0"));
    boat_free(b);
    b = boat_new(NULL);
    d[2] = 110;
    d[5] = 0x81; /* conversion method 1: which SPN it is nobody can tell */
    boat_run(b, 10);
    send(b, 65226, 0, d, 8);
    assert_non_null(strstr(b->events[0].alert.text, "SPN 110? FMI 0"));
    assert_null(strstr(b->events[0].alert.text, "coolant"));
    boat_free(b);
}

static void told__alert_of_another_system__shown_in_its_words(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    /* the worked payloads: alarm, id 1001, "HOT" at "PORT" */
    uint8_t raised[28] = {0x12, 0x05, 0x01, 0xE9, 0x03, 0x39, 0x30, 0x20, 0xFA, 0x00,
                          0x8C, 0x32, 0xC0, 0x00, 0x00, 0x01, 0xD8, 0xFF, 0xFF, 0xFF,
                          0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x11, 0x64, 0x02};
    static const uint8_t text[] = {0x12, 0x05, 0x01, 0xE9, 0x03, 0x39, 0x30, 0x20, 0xFA, 0x00,
                                   0x8C, 0x32, 0xC0, 0x00, 0x00, 0x01, 0x01, 0x05, 0x01, 0x48,
                                   0x4F, 0x54, 0x06, 0x01, 0x50, 0x4F, 0x52, 0x54};
    send_fast(b, 126983, 60, raised, 28, 2);
    assert_int_equal(b->count, 1);
    assert_non_null(strstr(b->events[0].alert.text, "reports alert 1001 of its system 5"));
    assert_int_equal(b->events[0].alert.priority, PRIORITY_ALARM);
    send_fast(b, 126985, 60, text, sizeof text, 1);
    send_fast(b, 126983, 60, raised, 28, 1);
    const struct alert *a = alerts_at(keeper_alerts(b->keeper), 0);
    assert_non_null(strstr(a->text, "reports PORT HOT"));
    raised[27] = 1; /* normal */
    send_fast(b, 126983, 60, raised, 28, 1);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* 127503: one line of shore power */
static void shore(struct boat *b, double volts, double hertz, int seconds)
{
    uint8_t d[20] = {0, 1, 0xFC, 0, 0, 124, 0, 0, 0, 0x40, 0x01};
    boat_put16(d + 3, volts, 0.01, 0);
    boat_put16(d + 7, hertz, 0.01, 0);
    for (int i = 0; i < seconds; i++) {
        boat_fast(b, 127503, 70, d, 20);
        boat_run(b, 1);
    }
}

static void shore__sags__warning_and_switched_off__nothing(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    shore(b, 230, 50, 60);
    shore(b, 0, 0, 60); /* switched off */
    shore(b, 231, 50, 60);
    assert_int_equal(b->count, 0);
    boat_run(b, 120); /* unplugged, and the box, which it fed, with it */
    assert_int_equal(b->count, 0);
    shore(b, 198, 50, 60);
    assert_int_equal(b->count, 1);
    assert_int_equal(b->events[0].alert.kind, KIND_LIMIT);
    assert_string_equal(b->events[0].alert.rule, "shore-low-230");
    shore(b, 0, 0, 10); /* nobody switches off into an alert that stands */
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    boat_free(b);
}

/* J1939 generator, phase A; ramps as a start and a stop do. */
static void generator__starts_and_stops__nothing_and_runs_slow__warning(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    for (int t = 0; t < 200; t++) {
        double part = t < 5 ? t / 5.0 : t > 150 ? fmax(0, 1 - (t - 150) / 5.0) : 1;
        double hz = t > 160 ? 0 : 50 * part, v = t > 160 ? 0 : 230 * part;
        uint8_t d[8] = {0xFF, 0xFF, 0, 0, 0, 0, 10, 0};
        boat_put16(d + 2, v, 1, 0);
        boat_put16(d + 4, hz, 1.0 / 128, 0);
        boat_frame(b, 65027, 234, d, 0);
        boat_run(b, 1);
    }
    boat_run(b, 60);
    assert_int_equal(b->count, 0);
    for (int t = 0; t < 60; t++) {
        uint8_t d[8] = {0xFF, 0xFF, 226, 0, 0, 0, 90, 0};
        boat_put16(d + 4, t < 20 ? 50 : 46, 1.0 / 128, 0);
        boat_frame(b, 65027, 234, d, 0);
        boat_run(b, 1);
    }
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.rule, "generator-hertz-low-50");
    boat_free(b);
}

static void battery__limits__follow_what_it_is_made_of(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t lithium[8] = {0, 0xCF, 0x11, 200, 0, 0, 0x19, 0x63}; /* 12 V, lithium */
    b->volts = 13.3;
    boat_run(b, 60);
    send_fast(b, 127513, 52, lithium, 8, 1);
    b->volts = 11.9; /* lead would not be told of */
    boat_run(b, 120);
    assert_int_equal(b->count, 1);
    assert_string_equal(b->events[0].alert.rule, "battery-low-lithium");
    b->volts = 13.3;
    boat_run(b, 60);
    assert_int_equal(boat_last(b)->event, EVENT_RECTIFIED);
    b->volts = 15; /* lead would not be told of either */
    boat_run(b, 30);
    assert_string_equal(boat_last(b)->alert.rule, "battery-high-lithium");
    boat_free(b);
}

/* Each flag alone in its byte, once with all other bits of the message set and once with none: only
 * its own count. */
static void told__each_flag__whatever_stands_beside_it(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        int byte, len; /* len over 0: a fast packet */
        uint8_t beside_ones, beside_zeros;
        const char *words;
    } rows[] = {
        {65252, 4, 0, 0xFD, 0x01, "that it shut down to protect itself"},
        {65252, 4, 0, 0xF7, 0x04, "that it is about to shut down"},
        {65279, 0, 0, 0xFD, 0x01, "water in fuel"},
        {127507, 2, 6, 0xF9, 0x09, "a fault"},
        {127509, 3, 4, 0xF3, 0x03, "a fault"},
        {127750, 3, 0, 0xFD, 0x01, "reports high temperature"},
        {127750, 3, 0, 0xFE, 0x02, "too high a temperature"},
        {127750, 3, 0, 0xF7, 0x04, "near overload"},
        {127750, 3, 0, 0xFB, 0x08, "reports overload"},
        {127750, 3, 0, 0xDF, 0x10, "reports low DC voltage"},
        {127750, 3, 0, 0xEF, 0x20, "too low a DC voltage"},
        {127750, 3, 0, 0x7F, 0x40, "reports DC ripple"},
        {127750, 3, 0, 0xBF, 0x80, "high DC ripple"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        for (int ones = 0; ones < 2; ones++) {
            struct boat *b = boat_new(NULL);
            uint8_t d[8];
            memset(d, ones ? 0xFF : 0, sizeof d);
            d[0] = d[1] = 1; /* instances */
            d[rows[i].byte] = ones ? rows[i].beside_ones : rows[i].beside_zeros;
            if (rows[i].pgn == 127750)
                d[2] = 9; /* a state that is no fault */
            if (rows[i].len)
                send_fast(b, rows[i].pgn, 50, d, rows[i].len, 4);
            else
                send(b, rows[i].pgn, rows[i].pgn < 126000 ? 1 : 50, d, 4);
            int told = 0;
            for (int k = 0; k < b->count; k++)
                if (b->events[k].event == EVENT_RAISED) {
                    told++;
                    if (!strstr(b->events[k].alert.text, rows[i].words))
                        fail_msg("'%s' of '%s'", b->events[k].alert.text, rows[i].words);
                }
            if (told != 1)
                fail_msg("%d alerts of '%s'", told, rows[i].words);
            boat_free(b);
        }
}

static int ended_by(const struct boat *b, int source)
{
    int n = 0;
    for (int i = 0; i < b->count; i++)
        n += b->events[i].event == EVENT_RECTIFIED && b->events[i].alert.kind == KIND_REPORTED &&
             b->events[i].alert.situation.source == source;
    return n;
}

/* One address may speak for a charger, an inverter and a converter, each with the number 1, and two
 * addresses for a charger 1 each: what one of them says ends nothing that another said. */
static void told__by_several_boxes__each_fault_is_its_own(void **state)
{
    (void)state;
    struct boat *b = boat_new(NULL);
    uint8_t charger[6] = {1, 0, 0x29, 0xF1, 0xFF, 0xFF},
            charging[6] = {1, 0, 0x21, 0xF1, 0xFF, 0xFF};
    uint8_t second[6] = {2, 0, 0x21, 0xF1, 0xFF, 0xFF};
    uint8_t inverter[4] = {1, 0, 0, 0xD3}, inverting[4] = {1, 0, 0, 0xD0};
    uint8_t converter[8] = {0xFF, 1, 2, 0, 0xFF, 0xFF, 0xFF, 0xFF};
    uint8_t converting[8] = {0xFF, 1, 9, 0, 0xFF, 0xFF, 0xFF, 0xFF};
    send_fast(b, 127507, 50, charger, 6, 2);
    send_fast(b, 127509, 50, inverter, 4, 2);
    send(b, 127750, 50, converter, 2);
    send_fast(b, 127507, 51, charger, 6, 2);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 4);
    send_fast(b, 127507, 50, second, 6, 2);
    assert_int_equal(boat_told(b, EVENT_RAISED, KIND_REPORTED), 4);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_REPORTED), 0);
    send_fast(b, 127509, 50, inverting, 4, 1);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_REPORTED), 1);
    assert_non_null(strstr(boat_last(b)->alert.text, "INVERTER"));
    send(b, 127750, 50, converting, 1);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_REPORTED), 2);
    assert_non_null(strstr(boat_last(b)->alert.text, "CONVERTER"));
    send_fast(b, 127507, 51, charging, 6, 1);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_REPORTED), 3);
    assert_int_equal(ended_by(b, 51), 1);
    send_fast(b, 127507, 50, charging, 6, 1);
    assert_int_equal(boat_told(b, EVENT_RECTIFIED, KIND_REPORTED), 4);
    assert_int_equal(ended_by(b, 50), 3);
    boat_free(b);
}

/* The standard's types and states of an alert of another system (126983; from memory, as in the
 * source). */
static void told__alert_of_another_system__by_its_type_and_state(void **state)
{
    (void)state;
    static const enum priority of_type[16] = {[1] = PRIORITY_ALARM /* the rule's own most */,
                                              [2] = PRIORITY_ALARM,
                                              [5] = PRIORITY_WARNING};
    for (unsigned type = 1; type <= 8; type++) {
        struct boat *b = boat_new(NULL);
        uint8_t d[28] = {(uint8_t)(0x10 | type),
                         0x05,
                         0x01,
                         0xE9,
                         0x03,
                         0x39,
                         0x30,
                         0x20,
                         0xFA,
                         0x00,
                         0x8C,
                         0x32,
                         0xC0,
                         0x00,
                         0x00,
                         0x01,
                         0xD8,
                         0xFF,
                         0xFF,
                         0xFF,
                         0xFF,
                         0xFF,
                         0xFF,
                         0xFF,
                         0xFF,
                         0x11,
                         0x64,
                         0x02};
        send_fast(b, 126983, 60, d, 28, 2);
        assert_int_equal(b->count, 1);
        assert_int_equal(b->events[0].alert.priority,
                         of_type[type] ? of_type[type] : PRIORITY_CAUTION);
        boat_free(b);
    }
    for (unsigned s = 0; s <= 5; s++) {
        struct boat *b = boat_new(NULL);
        uint8_t d[28] = {0x12, 0x05, 0x01, 0xE9, 0x03, 0x39, 0x30, 0x20,      0xFA, 0x00,
                         0x8C, 0x32, 0xC0, 0x00, 0x00, 0x01, 0xD8, 0xFF,      0xFF, 0xFF,
                         0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x11, 0x64, (uint8_t)s};
        send_fast(b, 126983, 60, d, 28, 3);
        assert_int_equal(b->count, s >= 2 && s <= 4);
        boat_free(b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told__instance__up_to_252),
        cmocka_unit_test(told__of_an_engine__by_its_name),
        cmocka_unit_test(told__each_flag__whatever_stands_beside_it),
        cmocka_unit_test(told__by_several_boxes__each_fault_is_its_own),
        cmocka_unit_test(told__alert_of_another_system__by_its_type_and_state),
        cmocka_unit_test(told__charger_fault__warning_until_it_is_over),
        cmocka_unit_test(told__fault_of_inverter_and_converter__warning_until_it_is_over),
        cmocka_unit_test(told__converter_states__each_in_its_own_words),
        cmocka_unit_test(told__water_in_fuel_and_shutdown__of_a_j1939_engine),
        cmocka_unit_test(told__trouble_code__keeps_the_words_of_its_failure),
        cmocka_unit_test(told__alert_of_another_system__shown_in_its_words),
        cmocka_unit_test(shore__sags__warning_and_switched_off__nothing),
        cmocka_unit_test(generator__starts_and_stops__nothing_and_runs_slow__warning),
        cmocka_unit_test(battery__limits__follow_what_it_is_made_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
