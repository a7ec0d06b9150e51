/* NAME and DM1. Vectors: unit tests of AgIsoStack++, python-can-j1939 and pretty_j1939, recomputed
 * from the bit positions of the Linux kernel's j1939.h. */
#include "wire/frames.h"

#include "wire/decode.h"
#include "wire/dm1.h"

#include "support/golden.h"
#include "support/name.h"

#include <stdio.h>
#include <strings.h>

#include "base/banned.h"

static void name__published_vectors__decode_and_encode(void **state)
{
    (void)state;
    static const struct {
        uint8_t bytes[8];
        struct name_fields f;
    } cases[] = {
        {{0x04, 0x00, 0x00, 0x01, 0x35, 0x03, 0x04, 0x97}, /* AgIsoStack++ */
         {.arbitrary_address = true,
          .industry_group = 1,
          .vehicle_class = 2,
          .class_instance = 7,
          .function = 3,
          .function_instance = 6,
          .ecu_instance = 5,
          .manufacturer = 8,
          .identity = 4}},
        {{0x87, 0xD6, 0x52, 0x53, 0x82, 0xC9, 0xFE, 0x52}, /* python-can-j1939 */
         {.arbitrary_address = false,
          .industry_group = 5,
          .vehicle_class = 127,
          .class_instance = 2,
          .function = 201,
          .function_instance = 16,
          .ecu_instance = 2,
          .manufacturer = 666,
          .identity = 1234567}},
        {{0x40, 0xE2, 0x01, 0xFA, 0x00, 0x82, 0x96, 0xC0}, /* computed: a marine sensor */
         {.arbitrary_address = true,
          .industry_group = 4,
          .vehicle_class = 75,
          .function = 130,
          .manufacturer = 2000,
          .identity = 123456}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct message m = {.pgn = 60928, .len = 8, .data = cases[i].bytes};
        uint64_t name = 0;
        assert_true(name_from_claim(&m, &name));
        struct name_fields f = name_decode(name);
        const struct name_fields *w = &cases[i].f;
        assert_int_equal(f.identity, w->identity);
        assert_int_equal(f.manufacturer, w->manufacturer);
        assert_int_equal(f.ecu_instance, w->ecu_instance);
        assert_int_equal(f.function_instance, w->function_instance);
        assert_int_equal(f.function, w->function);
        assert_int_equal(f.vehicle_class, w->vehicle_class);
        assert_int_equal(f.class_instance, w->class_instance);
        assert_int_equal(f.industry_group, w->industry_group);
        assert_int_equal(f.arbitrary_address, w->arbitrary_address);
        assert_true(name_encode(*w) == name);
        m.len = 7;
        assert_false(name_from_claim(&m, &name));
    }
    assert_true(name_encode(cases[0].f) == UINT64_C(10881826125818888196));
    assert_true(name_encode(cases[1].f) == UINT64_C(0x52FEC9825352D687));
}

static void name__words__and_none_for_what_is_not_known(void **state)
{
    (void)state;
    assert_string_equal(name_class_text(4, 75), "sensors");
    assert_string_equal(name_class_text(4, 50), "propulsion");
    assert_null(name_class_text(4, 42));
    assert_null(name_class_text(1, 75));
    assert_string_equal(name_function_text(4, 75, 130), "temperature");
    assert_string_equal(name_function_text(0, 0, 0), "engine");
    assert_null(name_function_text(4, 75, 251));
    assert_null(name_function_text(1, 75, 130));
}

static bool decode(const char *hex, struct dm1 *d)
{
    static uint8_t buf[1785];
    struct message m = {.pgn = 65226, .data = buf};
    m.len = (uint16_t)hex_bytes(hex, buf, sizeof buf);
    return dm1_decode(&m, d);
}

static void dm1__published_vectors(void **state)
{
    (void)state;
    struct dm1 d;
    assert_true(decode("00FF00000000FFFF", &d)); /* AgIsoStack++, pretty_j1939: no fault */
    assert_int_equal(d.code_count, 0);
    assert_int_equal(d.lamps[DM1_MALFUNCTION], LAMP_OFF);
    assert_int_equal(d.lamps[DM1_RED_STOP], LAMP_OFF);
    assert_true(decode("00FFD2041F01FFFF", &d)); /* AgIsoStack++ */
    assert_int_equal(d.code_count, 1);
    assert_int_equal(d.codes[0].spn, 1234);
    assert_int_equal(d.codes[0].fmi, 31);
    assert_int_equal(d.codes[0].count, 1);
    assert_true(decode("40FF5B000301FFFF", &d)); /* pretty_j1939 sample log, 18FECA00 */
    assert_int_equal(d.lamps[DM1_MALFUNCTION], LAMP_ON);
    assert_int_equal(d.lamps[DM1_RED_STOP], LAMP_OFF);
    assert_int_equal(d.lamps[DM1_AMBER_WARNING], LAMP_OFF);
    assert_int_equal(d.lamps[DM1_PROTECT], LAMP_OFF);
    assert_int_equal(d.codes[0].spn, 91);
    assert_int_equal(d.codes[0].fmi, 3);
    assert_int_equal(d.codes[0].count, 1);
}

static void dm1__computed_codes(void **state)
{
    (void)state;
    static const struct {
        const char *hex;
        struct trouble_code c;
    } cases[] = {
        {"00FF6E000001FFFF", {110, 0, 1, false}},
        {"00FF6E001003FFFF", {110, 16, 3, false}},
        {"00FFAD000001FFFF", {173, 0, 1, false}},
        {"00FF00F0EA05FFFF", {520192, 10, 5, false}},
        {"00FFFFFFFF7EFFFF", {524287, 31, 126, false}},
        {"00FF6E000081FFFF", {110, 0, 1, true}}, /* conversion method 1: SPN not certain */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct dm1 d;
        assert_true(decode(cases[i].hex, &d));
        assert_int_equal(d.code_count, 1);
        assert_int_equal(d.codes[0].spn, cases[i].c.spn);
        assert_int_equal(d.codes[0].fmi, cases[i].c.fmi);
        assert_int_equal(d.codes[0].count, cases[i].c.count);
        assert_int_equal(d.codes[0].old_form, cases[i].c.old_form);
    }
}

static void dm1__lamps__from_the_low_bits_protect_amber_red_malfunction(void **state)
{
    (void)state;
    struct dm1 d;
    assert_true(decode("E1FF00000000FFFF", &d)); /* 11 10 00 01 */
    assert_int_equal(d.lamps[DM1_PROTECT], LAMP_ON);
    assert_int_equal(d.lamps[DM1_AMBER_WARNING], LAMP_OFF);
    assert_int_equal(d.lamps[DM1_RED_STOP], LAMP_ERROR);
    assert_int_equal(d.lamps[DM1_MALFUNCTION], LAMP_NOT_AVAILABLE);
}

/* The second byte in the same order: 0 slow, 1 fast, 2 reserved, 3 does not flash (SAE J1939-73
 * 5.7.1, from memory). A lamp that is off does not flash, whatever stands there. */
static void dm1__flashing__of_each_lamp_that_is_lit(void **state)
{
    (void)state;
    struct dm1 d;
    assert_true(decode("55E100000000FFFF", &d)); /* 11 10 00 01 */
    assert_string_equal(dm1_flash_text(&d, DM1_PROTECT), "fast");
    assert_string_equal(dm1_flash_text(&d, DM1_AMBER_WARNING), "slowly");
    assert_null(dm1_flash_text(&d, DM1_RED_STOP));
    assert_null(dm1_flash_text(&d, DM1_MALFUNCTION));
    assert_true(decode("559E00000000FFFF", &d)); /* 10 01 11 10 */
    assert_null(dm1_flash_text(&d, DM1_PROTECT));
    assert_null(dm1_flash_text(&d, DM1_AMBER_WARNING));
    assert_string_equal(dm1_flash_text(&d, DM1_RED_STOP), "fast");
    assert_null(dm1_flash_text(&d, DM1_MALFUNCTION));
    assert_true(decode("CA0000000000FFFF", &d)); /* not available, off, error, error */
    for (enum dm1_lamp i = 0; i < DM1_LAMPS; i++)
        assert_null(dm1_flash_text(&d, i));
}

static void dm1__two_codes_by_transport__both(void **state)
{
    (void)state;
    static const char *const frames[] = {"18ECFF00#200A0002FFCAFE00", "18EBFF00#0144FF6E0000017B",
                                         "18EBFF00#02AD0001FFFFFFFF"};
    /* 10 bytes: lamps, then SPN 110 FMI 0 and a second code 7B AD 00 01 */
    struct wire *w = wire_new();
    struct message m;
    bool done = false;
    for (int i = 0; i < 3; i++)
        done = feed(w, frames[i], i * 50, &m);
    assert_true(done);
    struct dm1 d;
    assert_true(dm1_decode(&m, &d));
    assert_int_equal(d.code_count, 2);
    assert_int_equal(d.codes[0].spn, 110);
    assert_int_equal(d.codes[1].spn, 0xAD7B);
    assert_int_equal(d.codes[1].fmi, 0);
    assert_int_equal(d.codes[1].count, 1);
    assert_int_equal(d.lamps[DM1_MALFUNCTION], LAMP_ON);
    assert_int_equal(d.lamps[DM1_AMBER_WARNING], LAMP_ON);
    wire_free(w);
}

static void dm1__longest_transfer__keeps_32_and_counts_the_rest(void **state)
{
    (void)state;
    uint8_t buf[1785];
    for (size_t i = 0; i < sizeof buf; i++)
        buf[i] = (uint8_t)(1 + i % 7);
    struct message m = {.pgn = 65226, .len = sizeof buf, .data = buf};
    struct dm1 d;
    assert_true(dm1_decode(&m, &d));
    assert_int_equal(d.code_count, DM1_CODES_MAX);
    assert_int_equal(d.more, (1785 - 2) / 4 - DM1_CODES_MAX);
}

static void decode_prefix(void *ctx, const void *data, size_t len)
{
    (void)ctx;
    struct message m = {.pgn = 65226, .len = (uint16_t)len, .data = data};
    struct dm1 d;
    assert_int_equal(dm1_decode(&m, &d), len >= 2);
    if (len >= 2)
        assert_int_equal(d.code_count, (len - 2) / 4);
}

static void dm1__every_prefix__never_reads_past_the_end(void **state)
{
    (void)state;
    static const uint8_t bytes[] = {0x44, 0xFF, 0x6E, 0x00, 0x00, 0x01, 0xAD, 0x00, 0x03, 0x02};
    for_every_prefix(bytes, sizeof bytes, decode_prefix, NULL);
}

static void dm1__words(void **state)
{
    (void)state;
    assert_string_equal(dm1_spn_text(110), "coolant temperature");
    assert_null(dm1_spn_text(524287));
    /* failure modes as numbered in AgIsoStack++ */
    assert_string_equal(dm1_fmi_text(0), "above normal, most severe");
    assert_string_equal(dm1_fmi_text(10), "abnormal rate of change");
    assert_string_equal(dm1_fmi_text(31), "condition exists");
    for (unsigned fmi = 0; fmi < 256; fmi++)
        assert_non_null(dm1_fmi_text((uint8_t)fmi));
}

/* Whether a word of ours, or its first five letters, stands in theirs. */
static bool shares_a_word(const char *ours, const char *theirs)
{
    static const char between[] = " ,";
    for (const char *w = ours; *w != '\0'; w += strspn(w, between)) {
        size_t n = strcspn(w, between), most = n < 5 ? n : 5;
        for (const char *t = theirs; n > 2 && *t != '\0'; t++)
            if (strncasecmp(w, t, most) == 0)
                return true;
        w += n;
    }
    return false;
}

/* Against tests/vectors/device-functions.txt, which an independent library lists: each has words of
 * ours, which mean the same; nothing else has any. */
static void name__functions_that_a_library_lists__are_called_the_same(void **state)
{
    (void)state;
    static const struct {
        const char *theirs, *ours; /* where the same is said in other words */
    } same[] = {{"AC Mains (Utility/Shore)", "shore power"},
                {"Ownship Position (Loran C)", "radio positioning"},
                {"Infrared Imaging", "infrared camera"},
                {"HVAC", "heating and air conditioning"},
                {"Aquatic", "water"}};
    static bool listed[128][256];
    FILE *file = fopen("tests/vectors/device-functions.txt", "r");
    assert_non_null(file);
    char line[200], theirs[120];
    int functions = 0;
    unsigned c, f;
    while (fgets(line, sizeof line, file) != NULL) {
        if (sscanf(line, "class %u", &c) == 1 && c != 0)
            assert_non_null(name_class_text(4, (uint8_t)c));
        if (sscanf(line, "function %u %u %119[^\n]", &c, &f, theirs) != 3)
            continue;
        assert_true(c < 128 && f < 256);
        listed[c][f] = true;
        functions++;
        const char *ours = name_function_text(4, (uint8_t)c, (uint8_t)f);
        bool agree = ours != NULL && shares_a_word(ours, theirs);
        for (size_t i = 0; ours != NULL && i < sizeof same / sizeof *same; i++)
            agree =
                agree || (strcmp(same[i].theirs, theirs) == 0 && strcmp(same[i].ours, ours) == 0);
        if (!agree)
            fail_msg("class %u function %u is '%s' and not '%s'", c, f, theirs,
                     ours != NULL ? ours : "");
    }
    fclose(file);
    assert_true(functions >= 90);
    for (c = 0; c < 128; c++)
        for (f = 128; f < 256; f++)
            if (!listed[c][f])
                assert_null(name_function_text(4, (uint8_t)c, (uint8_t)f));
}

/* Every class and function that has words, read by a person once. */
static void name__all_words__are_as_kept(void **state)
{
    (void)state;
    static char text[32768];
    size_t at = 0;
    for (unsigned group = 0; group < 8; group++)
        for (unsigned c = 0; c < 128; c++) {
            const char *words = name_class_text((uint8_t)group, (uint8_t)c);
            if (words != NULL)
                at += (size_t)snprintf(text + at, sizeof text - at, "group %u class %u: %s\n",
                                       group, c, words);
            for (unsigned f = 0; f < 256; f++) {
                words = name_function_text((uint8_t)group, (uint8_t)c, (uint8_t)f);
                /* functions below 128 mean the same everywhere */
                if (words != NULL && (f >= 128 || (group == 4 && c == 0)))
                    at +=
                        (size_t)snprintf(text + at, sizeof text - at,
                                         "group %u class %u function %u: %s\n", group, c, f, words);
            }
            assert_true(at + 200 < sizeof text);
        }
    golden_check("wire", "names", text);
}

static void dm1__all_words__are_as_kept(void **state)
{
    (void)state;
    static char text[32768];
    size_t at = 0;
    for (uint32_t spn = 0; spn < 524288; spn++)
        if (dm1_spn_text(spn) != NULL) {
            at += (size_t)snprintf(text + at, sizeof text - at, "SPN %u: %s\n", spn,
                                   dm1_spn_text(spn));
            assert_true(at + 200 < sizeof text);
        }
    for (unsigned fmi = 0; fmi < 32; fmi++)
        at += (size_t)snprintf(text + at, sizeof text - at, "FMI %u: %s\n", fmi,
                               dm1_fmi_text((uint8_t)fmi));
    for (int word = 0; word < 4; word++)
        for (int bit = -1; bit < 17; bit++) {
            const char *words = decode_engine_status_text(word, bit);
            if (words != NULL)
                at += (size_t)snprintf(text + at, sizeof text - at, "status %d bit %d: %s\n", word,
                                       bit, words);
        }
    golden_check("wire", "troubles", text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(name__published_vectors__decode_and_encode),
        cmocka_unit_test(name__words__and_none_for_what_is_not_known),
        cmocka_unit_test(dm1__published_vectors),
        cmocka_unit_test(dm1__computed_codes),
        cmocka_unit_test(dm1__lamps__from_the_low_bits_protect_amber_red_malfunction),
        cmocka_unit_test(dm1__flashing__of_each_lamp_that_is_lit),
        cmocka_unit_test(dm1__two_codes_by_transport__both),
        cmocka_unit_test(dm1__longest_transfer__keeps_32_and_counts_the_rest),
        cmocka_unit_test(dm1__every_prefix__never_reads_past_the_end),
        cmocka_unit_test(dm1__words),
        cmocka_unit_test(name__functions_that_a_library_lists__are_called_the_same),
        cmocka_unit_test(name__all_words__are_as_kept),
        cmocka_unit_test(dm1__all_words__are_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
