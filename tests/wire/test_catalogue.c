/* Walks the table of messages: every row and every field of it. `test_catalogue --print` writes
 * docs/messages.md, which one of the tests holds against the table. */
#include "wire/frames.h"

#include "wire/catalogue.h"
#include "wire/placeholder.h"
#include "wire/decode.h"

#include <stdio.h>

#include "base/banned.h"

static unsigned times_of(const struct field_info *f)
{
    return f->repeat > 1 ? f->repeat : 1;
}

static bool makes_channel(const struct field_info *f)
{
    return f->quantity != QTY_NONE || f->choice.count != 0;
}

static void rows__rising_named_and_found(void **state)
{
    (void)state;
    struct catalogue_index x;
    catalogue_index_build(&x);
    uint32_t before = 0;
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        assert_true(row->pgn > before && row->pgn <= 0x3FFFF);
        before = row->pgn;
        assert_true(row->name != NULL && row->name[0] != '\0');
        assert_in_range(row->priority, 0, 7);
        assert_in_range(row->kind, PGN_SINGLE, PGN_TRANSPORT);
        assert_true(row->field_count > 0);
        if (row->kind == PGN_FAST) /* the range where fast packets are met */
            assert_in_range(row->pgn, 0x1F000, 0x1FFFF);
        else /* SAE J1939 sends what is longer by its transport protocol */
            assert_true(row->length <= 8 || row->pgn < 0x1F000);
        assert_ptr_equal(catalogue_find(row->pgn), row);
        assert_int_equal(catalogue_index_find(&x, row->pgn), i + 1);
    }
    assert_null(catalogue_row(catalogue_count()));
}

static void index__every_pgn_there_is__agrees_with_the_search(void **state)
{
    (void)state;
    struct catalogue_index x;
    catalogue_index_build(&x);
    size_t found = 0;
    for (uint32_t pgn = 0; pgn <= 0x3FFFF; pgn++) {
        unsigned n = catalogue_index_find(&x, pgn);
        assert_ptr_equal(n != 0 ? catalogue_row(n - 1) : NULL, catalogue_find(pgn));
        found += n != 0;
    }
    assert_int_equal(found, catalogue_count());
    for (size_t page = 0; page < sizeof x.page; page++)
        assert_true(x.page[page] < CATALOGUE_PAGES);
}

static void fields__fit_and_do_not_overlap(void **state)
{
    (void)state;
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        unsigned end = 0, first = 0;
        for (unsigned k = 0; k < row->field_count; k++) {
            const struct field_info *f = &row->fields[k];
            if (f->bit < end)
                print_error("%u %s\n", row->pgn, f->name);
            assert_true(f->bit >= end);
            assert_true(f->bits > 0);
            end = f->bit + f->bits * (f->stride != 0 ? 1 : times_of(f));
            if (f->stride != 0 && first == 0)
                first = f->bit;
            if (f->stride != 0) /* all of it within one of the repeated stretches */
                assert_true(end <= first + f->stride && times_of(f) > 1);
            if (row->length != 0)
                assert_true(end <= 8U * row->length);
            assert_true(f->name != NULL && f->name[0] != '\0');
            assert_true(f->bits <= 56 || f->family == FAMILY_TEXT);
            const struct place_rule *rules[] = {&f->place, &f->sub};
            for (int r = 0; r < 2; r++)
                if (rules[r]->how == AT_BITS || rules[r]->how == AT_EACH)
                    assert_true(rules[r]->bit + rules[r]->bits <= f->bit);
            if (f->choice.count != 0)
                assert_true(f->choice.bit + f->choice.bits <= f->bit);
        }
    }
}

static void fields__of_channels__have_the_channels_unit_and_place(void **state)
{
    (void)state;
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        for (unsigned k = 0; k < row->field_count; k++) {
            const struct field_info *f = &row->fields[k];
            if (!makes_channel(f))
                continue;
            unsigned n = f->choice.count != 0 ? f->choice.count : 1;
            for (unsigned c = 0; c < n; c++) {
                unsigned q = f->choice.count != 0 ? f->choice.quantities[c] : f->quantity;
                assert_in_range(q, 1, QTY_COUNT - 1);
                const struct quantity_info *info = quantity_info(q);
                if (info->unit != sent_unit_base(f->sent))
                    print_error("%u %s\n", row->pgn, f->name);
                assert_int_equal(info->unit, sent_unit_base(f->sent));
                assert_int_equal(info->place == PLACE_NONE, f->place.how == AT_NOTHING);
                assert_int_equal(info->place == PLACE_PAIR, f->sub.how != AT_NOTHING);
            }
            for (unsigned other = 0; other < k; other++) {
                const struct field_info *o = &row->fields[other];
                assert_false(makes_channel(o) && o->quantity == f->quantity &&
                             memcmp(&o->place, &f->place, sizeof o->place) == 0);
            }
        }
    }
}

static void fields__decimals__within_a_tenth_of_a_step_and_no_more(void **state)
{
    (void)state;
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        for (unsigned k = 0; k < row->field_count; k++) {
            const struct field_info *f = &row->fields[k];
            if (f->scale == 0.0 || f->sent == SENT_NONE)
                continue; /* a code or a state */
            double step = fabs(f->gain);
            assert_true(0.5 * pow(10.0, -f->decimals) <= step / 10 * (1 + 1e-12));
            if (f->decimals > 0)
                assert_true(0.5 * pow(10.0, 1 - f->decimals) > step / 10 * (1 - 1e-12));
        }
    }
}

/* One message of every row that gives channels: bytes, and what they mean. Sources are in
 * test_decode.c, where the same layouts are tried more widely; here no row may be missing. */
static const struct {
    uint32_t pgn;
    const char *hex;
    const char *values; /* key=value, in the order of the table */
} golden[] = {
    {61443, "FFFF55FFFFFFFFFF", "load.0=85"},
    {61444, "F39191AA1800F3FF", "torque.0=20 rpm.0=789.25"},
    {65253, "204E0000FFFFFFFF", "hours.0=1000"},
    {65257, "FAD80200FFFFFFFF", "trip-fuel.0=93309"},
    {65262, "423B002EFFFFFFFF", "coolant.0=26 fuel-temp.0=19 oil-temp.0=95"},
    {65263, "1AFFFF01FFFF0000",
     "fuel-pressure.0=104 oil-pressure.0=4 coolant-pressure.0=0 coolant-level.0=0"},
    {65266, "F600FFFFFFFFFFFF", "fuel-rate.0=12.3"},
    {65270, "D4303E3241A029FF", "boost.0=96 intake-air.0=22 exhaust-gas.0=60"},
    {65271, "FFFF1D02E301E701", "alternator.0=27.05 battery-volts.0=24.15"},
    {65272, "FFFFFF4B002DFFFF", "gear-oil-pressure.0=1200 gear-oil-temp.0=87"},
    {65276, "FF7DFFFFFFFFC8FF", "fuel-tank.0=50 fuel-tank.1=80"},
    {61445, "80000880FFFFFFFF", "gear-now.0=3"},
    {64777, "40E201003501B902", "trip-fuel.0=123.456 total-fuel.0=45678.901"},
    {64976, "FFFFFFFF55FFFFFF", "manifold-pressure.0=170"},
    {65020, "248E3577FFFFFFFF", "ac-watts.0.3=-1500"},
    {65021, "9001E700001E2000", "ac-volts.0.3=231 ac-hertz.0.3=60 ac-amps.0.3=32"},
    {65023, "00943577FFFFFFFF", "ac-watts.0.2=0"},
    {65024, "9001E700A0182000", "ac-volts.0.2=231 ac-hertz.0.2=49.25 ac-amps.0.2=32"},
    {65026, "D4C43577B0CA3577", "ac-watts.0.1=12500"},
    {65027, "9001E70000192000", "ac-volts.0.1=231 ac-hertz.0.1=50 ac-amps.0.1=32"},
    {65031, "A056FFFFFFFFFFFF", "exhaust-gas-right.0=420"},
    {65129, "FFFF602CFFFFFFFF", "coolant.0=82"},
    {65188, "702EFFFFFFFFFFFF", "oil-temp-2.0=98.5"},
    {65213, "7DFF8025FFFFFFFF", "fan.0=50"},
    {65243, "FFFF00A0FFFFFFFF", "rail-pressure.0=160000"},
    {65245, "3CC05DFFFFFFFFFF", "turbo-speed.0=96000"},
    {127488, "00401FDC0500FFFF", "rpm.0=2000 boost.0=150"},
    {127489, "01AC0D300EBB8A69057B0080EE36001A042C01FF82000000413C",
     "oil-pressure.1=350 oil-temp.1=90.05 coolant.1=82 alternator.1=13.85 fuel-rate.1=12.3 "
     "hours.1=1000 coolant-pressure.1=105 fuel-pressure.1=300 load.1=65 torque.1=60"},
    {127493, "00FD983A030D00FF", "gear.0=0 gear-oil-pressure.0=1500 gear-oil-temp.0=59.95"},
    {127497, "002D0076005F006600", "trip-fuel.0=45"},
    {127498, "00403808015445535430310501312E30", "rated-speed.0=3600"},
    {127501, "0501FDFFFFFFFFFF",
     "switch.5.1=1 switch.5.2=0 switch.5.3=0 switch.5.4=0 "
     "switch.5.5=1"},
    {127503,
     "0002FC0A5A7C008A1340010E0B000036010000"
     "63F1624D00001013400100000000000000007F",
     "ac-in-volts.0.1=230.5 ac-in-volts.0.2=198.1 ac-in-amps.0.1=12.4 ac-in-amps.0.2=0 "
     "ac-in-hertz.0.1=50.02 ac-in-hertz.0.2=48.8 ac-in-watts.0.1=2830 ac-in-watts.0.2=0"},
    {127504, "0001E0E25941008813A000AA050000C800000062",
     "ac-out-volts.0.1=230.1 ac-out-amps.0.1=6.5 ac-out-hertz.0.1=50 ac-out-watts.0.1=1450"},
    {127505, "01093DA00F0000FF", "fuel-tank.1=62.5"},
    {127506, "000200555AFFFFFFFFFFFF", "battery-charge.2=85"},
    {127507, "020112F55A00", "charger.2=2"},
    {127508, "00F104E0FF837209", "battery-volts.0=12.65 battery-amps.0=-3.2 battery-temp.0=20"},
    {127509, "010200C3", "inverter.1=3"},
    {127513, "00C2016E00FF7D5F", "battery-capacity.0=110"},
    {127744, "05017C000E0B0000", "ac-amps.1.1=12.4 ac-watts.1.1=2830"},
    {127745, "0601570062F8FFFF", "ac-amps.1.2=8.7 ac-watts.1.2=-1950"},
    {127746, "0701FFFFFFFFFF7F", ""},
    {127747, "05010109FFFFF401", "ac-volts.1.1=230.5 ac-hertz.1.1=50"},
    {127748, "0502B10420085802", "ac-volts.2.2=120.1 ac-hertz.2.2=60"},
    {127749, "0901BC07FFFFD801", "ac-volts.1.3=198 ac-hertz.1.3=47.2"},
    {127750, "FF010919FFFFFFFF", "converter.1=9"},
    {127751, "03008000F2F9FFFF", "dc-volts.0=12.8 dc-amps.0=-15.5"},
    {128259, "013501FFFF00FFFF", "speed-water=6.0065"},
    {129026, "01FC5C3D6801FFFF", "speed-ground=6.9978"},
    {130310, "008F708372F503FF", "sea.0=15 outside-air.0=20"},
    {130311, "00C18F70FF7FF503", "outside-air.0=15"},
    {130312, "070203477CFFFFFF", "engine-space.2=45"},
    {130313, "000201B635FFFFFF", "humidity.2=55"},
    {130314, "00030002760F00FF", "pressure.0.3=101.325"},
    {130316, "08000ECE080BFFFF", "exhaust.0=450"},
};

static void rows__golden_bytes__one_for_each_row_with_channels(void **state)
{
    (void)state;
    size_t covered = 0, with_channels = 0;
    for (size_t i = 0; i < sizeof golden / sizeof golden[0]; i++) {
        uint8_t buf[64];
        struct message m = {.pgn = golden[i].pgn, .data = buf};
        m.len = (uint16_t)hex_bytes(golden[i].hex, buf, sizeof buf);
        struct wire_value v[DECODE_VALUES_MAX];
        size_t n = decode_values(&m, v), at = 0;
        const char *s = golden[i].values;
        while (*s != '\0') {
            char key[CHANNEL_KEY_SIZE], want_key[CHANNEL_KEY_SIZE];
            double want;
            int used;
            assert_int_equal(sscanf(s, "%39[^=]=%lf %n", want_key, &want, &used), 2);
            s += used;
            while (at < n && v[at].status == READING_NOT_AVAILABLE)
                at++;
            assert_true(at < n);
            channel_id_format(key, sizeof key, v[at].id);
            assert_string_equal(key, want_key);
            assert_int_equal(v[at].status, READING_OK);
            assert_near(v[at].value, want, 5e-5);
            at++;
        }
        for (; at < n; at++) /* the rest is not available */
            assert_int_equal(v[at].status, READING_NOT_AVAILABLE);
        covered++;
    }
    for (size_t i = 0; i < catalogue_count(); i++) {
        const struct pgn_info *row = catalogue_row(i);
        bool any = false;
        for (unsigned k = 0; k < row->field_count; k++)
            any = any || makes_channel(&row->fields[k]);
        with_channels += any;
        bool found = false;
        for (size_t g = 0; g < sizeof golden / sizeof golden[0]; g++)
            found = found || golden[g].pgn == row->pgn;
        if (any && !found)
            print_error("no golden bytes for %u\n", row->pgn);
        assert_int_equal(any, found);
    }
    assert_int_equal(covered, with_channels);
}

/* Priorities, periods and lengths: both open definitions of IEC 61162-3 agree on these; 127497 by
 * the two tables (an encoder differs). */
static void rows__priority_period_length__as_published(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn, priority, period_ms, length;
    } want[] = {
        {126992, 3, 1000, 8},  {126993, 7, 60000, 8}, {126996, 6, 0, 134},   {127488, 2, 100, 8},
        {127489, 2, 500, 26},  {127493, 2, 100, 8},   {127497, 5, 1000, 9},  {127505, 6, 2500, 8},
        {127506, 6, 1500, 11}, {127508, 6, 1500, 8},  {128259, 2, 1000, 8},  {129026, 2, 250, 8},
        {130310, 5, 500, 8},   {130311, 5, 500, 8},   {130312, 5, 2000, 8},  {130313, 5, 2000, 8},
        {130314, 5, 2000, 8},  {130316, 5, 2000, 8},  {59904, 6, 0, 3},      {60928, 6, 0, 8},
        {127501, 3, 0, 8},     {127502, 3, 0, 8},     {65262, 6, 1000, 8},   {65263, 6, 500, 8},
        {65266, 6, 100, 8},    {65270, 6, 500, 8},    {65253, 6, 0, 8},      {65257, 6, 0, 8},
        {65271, 6, 1000, 8},   {65272, 6, 1000, 8},   {65276, 6, 1000, 8},   {65226, 6, 1000, 0},
        {127503, 6, 1500, 0},  {127504, 6, 1500, 0},  {127507, 6, 1500, 6},  {127509, 6, 1500, 4},
        {127513, 6, 0, 8},     {127750, 6, 1500, 8},  {126983, 2, 1000, 28}, {126985, 2, 10000, 0},
    };
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        const struct pgn_info *row = catalogue_find(want[i].pgn);
        assert_non_null(row);
        assert_int_equal(row->priority, want[i].priority);
        assert_int_equal(row->period_ms, want[i].period_ms);
        assert_int_equal(row->length, want[i].length);
    }
}

static void range__tops__as_published(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        unsigned field;
        double low, high;
    } want[] = {
        {61444, 3, 0.0, 8031.875},      /* SAE J1939DA, computed */
        {65270, 5, -273.0, 1734.96875}, /* the same */
        {130312, 3, -273.15, 382.17},   /* 65532 steps of 0.01 K */
        {127505, 2, -131.072, 131.056}, /* 32764 steps of 0.004 % */
        {127493, 1, -1.0, 1.0},
    };
    for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
        double low, high;
        catalogue_range(&catalogue_find(want[i].pgn)->fields[want[i].field], &low, &high);
        assert_near(low, want[i].low, 1e-9);
        assert_near(high, want[i].high, 1e-9);
    }
}

static void docs__list_of_messages__is_current(void **state)
{
    (void)state;
    FILE *now = tmpfile(), *kept = fopen("docs/messages.md", "r");
    assert_non_null(now);
    if (kept == NULL)
        fail_msg("docs/messages.md is not there: run the tests from the top of the project");
    catalogue_print_markdown(now);
    placeholder_print(now);
    rewind(now);
    int line = 1, a, b;
    do {
        a = fgetc(now);
        b = fgetc(kept);
        if (a != b)
            fail_msg("docs/messages.md:%d differs from the table: make docs/messages.md", line);
        line += a == '\n';
    } while (a != EOF);
    assert_true(line > 100);
    fclose(now);
    fclose(kept);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows__rising_named_and_found),
        cmocka_unit_test(index__every_pgn_there_is__agrees_with_the_search),
        cmocka_unit_test(fields__fit_and_do_not_overlap),
        cmocka_unit_test(fields__of_channels__have_the_channels_unit_and_place),
        cmocka_unit_test(fields__decimals__within_a_tenth_of_a_step_and_no_more),
        cmocka_unit_test(rows__golden_bytes__one_for_each_row_with_channels),
        cmocka_unit_test(rows__priority_period_length__as_published),
        cmocka_unit_test(range__tops__as_published),
        cmocka_unit_test(docs__list_of_messages__is_current),
    };
    if (argc == 2 && strcmp(argv[1], "--print") == 0) {
        catalogue_print_markdown(stdout);
        placeholder_print(stdout);
        return 0;
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
