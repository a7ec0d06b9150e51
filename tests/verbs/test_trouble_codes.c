/* Trouble codes that take more than one frame, through the whole program: DM1 and DM2 (SAE
 * J1939-73) to all (BAM) and over a connection (RTS, CTS; SAE J1939-21), cut into frames here by
 * hand. What is active alerts; what was active before is listed and alerts nobody. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>

#define TO_ALL 0xFF
#define ASKER  0xF9

struct log {
    char text[40000];
    size_t used;
};

static void add(struct log *l, int ms, unsigned id, const uint8_t *d)
{
    int n =
        snprintf(l->text + l->used, sizeof l->text - l->used,
                 "(%d.%03d) can0 %08X#%02X%02X%02X%02X%02X%02X%02X%02X\n", 1760000000 + ms / 1000,
                 ms % 1000, id, d[0], d[1], d[2], d[3], d[4], d[5], d[6], d[7]);
    assert_true(n > 0 && l->used + (size_t)n < sizeof l->text);
    l->used += (size_t)n;
}

/* One connection frame of J1939-21: control byte, four bytes of its own, the PGN. */
static void connection(struct log *l, int ms, unsigned from, unsigned to, unsigned pgn,
                       const uint8_t head[5])
{
    uint8_t d[8] = {head[0],
                    head[1],
                    head[2],
                    head[3],
                    head[4],
                    (uint8_t)pgn,
                    (uint8_t)(pgn >> 8),
                    (uint8_t)(pgn >> 16)};
    add(l, ms, 0x18EC0000 | to << 8 | from, d);
}

static void transfer(struct log *l, int ms, unsigned to, unsigned pgn, const uint8_t *data,
                     size_t len)
{
    uint8_t packets = (uint8_t)((len + 6) / 7), size = (uint8_t)len;
    bool all = to == TO_ALL;
    connection(l, ms, 0, to, pgn,
               (uint8_t[5]){all ? 32 : 16, size, 0, packets, all ? 255 : packets});
    if (!all)
        connection(l, ms + 5, to, 0, pgn, (uint8_t[5]){17, packets, 1, 255, 255});
    for (uint8_t i = 0; i < packets; i++) {
        uint8_t d[8];
        memset(d, 0xFF, sizeof d);
        d[0] = (uint8_t)(i + 1);
        for (size_t k = 0; k < 7 && 7U * i + k < len; k++)
            d[k + 1] = data[7U * i + k];
        add(l, ms + 10 * (i + 1), 0x18EB0000 | to << 8, d);
    }
    if (!all)
        connection(l, ms + 10 * (packets + 1), to, 0, pgn, (uint8_t[5]){19, size, 0, packets, 255});
}

/* SPN 110 FMI 0 twice, SPN 100 FMI 1 three times, SPN 173 FMI 16 once; the amber lamp flashes fast.
 */
static const uint8_t active[14] = {0x04, 0xF7, 0x6E, 0, 0, 2, 0x64, 0, 0x01, 3, 0xAD, 0, 0x10, 1};
/* SPN 110 FMI 15 three times, SPN 100 FMI 17 once; no lamp. */
static const uint8_t earlier[10] = {0x00, 0xFF, 0x6E, 0, 0x0F, 3, 0x64, 0, 0x11, 1};

/* An engine at 1500 rpm for 20 s, which sends its active codes each second; it tells the earlier
 * ones once. */
static const char *sail(unsigned to, bool has_active, bool has_earlier)
{
    static struct log l;
    static const uint8_t rpm[8] = {0xF0, 0xFF, 0xFF, 0xE0, 0x2E, 0xFF, 0xFF, 0xFF};
    l.used = 0;
    for (int ms = 0; ms < 20000; ms += 100) {
        add(&l, ms, 0x0CF00400, rpm);
        if (has_active && ms % 1000 == 0)
            transfer(&l, ms + 20, to, 65226, active, sizeof active);
        if (has_earlier && ms == 6500)
            transfer(&l, ms + 20, to, 65227, earlier, sizeof earlier);
    }
    return program_file("trip.log", l.text);
}

static void expect(const char *arguments, int status, const char *const *there,
                   const char *const *absent)
{
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, status);
    for (; *there; there++)
        if (!strstr(o.out, *there))
            fail_msg("%s does not say \"%s\":\n%s", arguments, *there, o.out);
    for (; *absent; absent++)
        if (strstr(o.out, *absent))
            fail_msg("%s says \"%s\":\n%s", arguments, *absent, o.out);
    outcome_free(&o);
}

static void expect_active(unsigned to)
{
    char sift[300], muster[300];
    const char *path = sail(to, true, false);
    snprintf(sift, sizeof sift, "sift --json '%s'", path);
    snprintf(muster, sizeof muster, "muster '%s'", path);
    expect(
        sift, 0,
        (const char *[]){"ENGINE reports coolant temperature: above normal, most severe, SPN 110 "
                         "FMI 0",
                         "ENGINE reports oil pressure: below normal, most severe, SPN 100 FMI 1",
                         "exhaust gas temperature: above normal, moderately severe, SPN 173",
                         "\"warnings\":3", NULL},
        (const char *[]){"lamp", "\"incomplete\":1", NULL});
    expect(muster, 1,
           (const char *[]){"has 3 active trouble codes, first SPN 110 coolant temperature: above "
                            "normal, most severe",
                            NULL},
           (const char *[]){"from before", NULL});
}

static void expect_earlier(unsigned to)
{
    char sift[300], muster[300];
    const char *path = sail(to, false, true);
    snprintf(sift, sizeof sift, "sift --json '%s'", path);
    snprintf(muster, sizeof muster, "muster '%s'", path);
    expect(sift, 0, (const char *[]){"\"warnings\":0", NULL},
           (const char *[]){"SPN", "reports", "\"incomplete\":1", NULL});
    expect(muster, 0,
           (const char *[]){"2 trouble codes from before, first SPN 110 coolant temperature: above "
                            "normal, least severe, 3 times",
                            NULL},
           (const char *[]){"active trouble codes,", NULL});
}

static void trouble_codes__to_all__are_all_there(void **state)
{
    (void)state;
    expect_active(TO_ALL);
    expect_earlier(TO_ALL);
}

static void trouble_codes__over_a_connection__are_all_there(void **state)
{
    (void)state;
    expect_active(ASKER);
    expect_earlier(ASKER);
}

/* A lamp alone fits in a frame; how it flashes is told. */
static void lamp__flashing_without_a_code__says_how(void **state)
{
    (void)state;
    static struct log l;
    static const uint8_t rpm[8] = {0xF0, 0xFF, 0xFF, 0xE0, 0x2E, 0xFF, 0xFF, 0xFF},
                         lamp[8] = {0x10, 0xCF, 0, 0, 0, 0, 0xFF, 0xFF};
    char sift[300], muster[300];
    l.used = 0;
    for (int ms = 0; ms < 20000; ms += 100) {
        add(&l, ms, 0x0CF00400, rpm);
        if (ms % 1000 == 0)
            add(&l, ms + 20, 0x18FECA00, lamp);
    }
    const char *path = program_file("lamp.log", l.text);
    snprintf(sift, sizeof sift, "sift --json '%s'", path);
    snprintf(muster, sizeof muster, "muster '%s'", path);
    expect(sift, 0,
           (const char *[]){"ENGINE red stop lamp flashes slowly, no code: read its panel",
                            "\"priority\":\"alarm\"", NULL},
           (const char *[]){"SPN", NULL});
    expect(muster, 1, (const char *[]){"shows without a code: red stop lamp flashing slowly", NULL},
           (const char *[]){"SPN", NULL});
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trouble_codes__to_all__are_all_there),
        cmocka_unit_test(trouble_codes__over_a_connection__are_all_there),
        cmocka_unit_test(lamp__flashing_without_a_code__says_how),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
