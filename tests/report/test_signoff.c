/* The sign-off list: judging, the file, resuming. Boiling points: IAPWS steam tables (101.418 kPa
 * at 100 °C, 84.608 at 95, 70.182 at 90; from memory); pressures: ICAO standard atmosphere
 * (89.875 kPa at 1000 m, 70.109 at 3000 m; from memory). */
#include "support/check.h"
#include "support/program.h"

#include "config/config.h"
#include "report/signoff/signoff.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/banned.h"

static struct channel_id channel(const char *key)
{
    struct channel_id id;
    assert_true(channel_id_parse(key, &id, NULL));
    return id;
}

/* A bus on which exhausts 0 and 1 and a tank of 400 L are heard. */
static struct muster *muster_of(double exhaust_from, double exhaust_to, double other_to)
{
    struct muster *m = muster_new(NULL);
    assert_non_null(m);
    for (int i = 0; i < 40; i++) {
        double share = i < 20 ? i / 20.0 : 1.0;
        double c[2] = {exhaust_from + (exhaust_to - exhaust_from) * share,
                       20.0 + (other_to - 20.0) * share};
        for (unsigned e = 0; e < 2; e++) {
            long raw = lround((c[e] + 273.15) / 0.01);
            struct frame f = {.flags = FRAME_EXTENDED,
                              .id = 0x15FD0820U + e,
                              .len = 8,
                              .mono_ns = (i + 1) * NS_PER_S,
                              .data = {0xFF, (uint8_t)e, 14, (uint8_t)raw, (uint8_t)(raw >> 8),
                                       0xFF, 0xFF, 0xFF}};
            muster_frames(m, &f, 1);
        }
        struct frame tank = {.flags = FRAME_EXTENDED,
                             .id = 0x19F21124,
                             .len = 8,
                             .mono_ns = (i + 1) * NS_PER_S,
                             /* 62.5 %, 400 L: the worked frame of the fluid level */
                             .data = {0x01, 0x09, 0x3D, 0xA0, 0x0F, 0x00, 0x00, 0xFF}};
        muster_frames(m, &tank, 1);
    }
    muster_close(m);
    return m;
}

static struct signoff_entry judge(const struct muster *m, struct signoff_request r)
{
    struct signoff_entry x;
    struct err e = {.text = ""};
    r.by = "R. Example";
    if (!signoff_judge(m, &r, &x, &e))
        fail_msg("%s", e.text);
    return x;
}

static void boiling__at_pressure_and_height__as_tables_say(void **state)
{
    (void)state;
    assert_near(signoff_boiling_c(101.418), 100.0, 0.05);
    assert_near(signoff_boiling_c(84.608), 95.0, 0.1);
    assert_near(signoff_boiling_c(70.182), 90.0, 0.1);
    assert_near(signoff_pressure_kpa(0), 101.325, 1e-9);
    assert_near(signoff_pressure_kpa(1000), 89.875, 0.02);
    assert_near(signoff_pressure_kpa(3000), 70.109, 0.05);
}

static void ice__within_and_beyond_tolerance(void **state)
{
    (void)state;
    struct muster *m = muster_of(0.8, 0.8, 20);
    struct signoff_request r = {.id = channel("exhaust.0"), .check = SIGNOFF_ICE};
    struct signoff_entry x = judge(m, r);
    assert_int_equal(x.verdict, SIGNOFF_NOTED); /* no tolerance stated: nothing judged */
    assert_near(x.error, 0.8, 0.006);
    r.has_tolerance = true;
    r.tolerance = 1.0;
    assert_int_equal(judge(m, r).verdict, SIGNOFF_PASS);
    r.tolerance = 0.5;
    assert_int_equal(judge(m, r).verdict, SIGNOFF_FAIL);
    muster_free(m);
}

static void calibrated__the_corrected_reading_is_judged(void **state)
{
    (void)state;
    struct config_messages *messages = NULL;
    struct settings *settings =
        config_load_text("t.conf", "[channel exhaust.0]\noffset = -1.5 K\n", &messages);
    config_messages_free(messages);
    assert_non_null(settings);
    struct muster *m = muster_of(1.5, 1.5, 20);
    struct signoff_request r = {.id = channel("exhaust.0"), .check = SIGNOFF_ICE};
    struct signoff_entry x = judge(m, r);
    assert_near(x.error, 1.5, 0.006);
    assert_false(x.has_correction);
    m->settings = settings;
    x = judge(m, r);
    assert_near(x.error, 0.0, 0.006);
    assert_true(x.has_correction);
    assert_near(x.gain, 1.0, 1e-9);
    assert_near(x.offset, -1.5, 1e-9);
    muster_free(m);
    settings_free(settings);
}

static void boiling__reference_follows_the_height(void **state)
{
    (void)state;
    struct muster *m = muster_of(96.7, 96.7, 20);
    struct signoff_request r = {.id = channel("exhaust.0"),
                                .check = SIGNOFF_BOILING,
                                .has_tolerance = true,
                                .tolerance = 1.0};
    assert_int_equal(judge(m, r).verdict, SIGNOFF_FAIL); /* at the sea it would read 3.3 K low */
    r.altitude_m = 1000;
    assert_int_equal(judge(m, r).verdict, SIGNOFF_PASS);
    r.altitude_m = 0;
    r.has_pressure = true;
    r.pressure_kpa = 89.9;
    assert_int_equal(judge(m, r).verdict, SIGNOFF_PASS);
    muster_free(m);
}

static void warmed__the_sensor_that_moved__or_its_neighbour(void **state)
{
    (void)state;
    struct signoff_request r = {.id = channel("exhaust.0"), .check = SIGNOFF_WARMED};
    struct muster *m = muster_of(20, 31, 20);
    struct signoff_entry x = judge(m, r);
    assert_int_equal(x.verdict, SIGNOFF_PASS);
    assert_near(x.moved, 11.0, 0.02);
    muster_free(m);
    m = muster_of(20, 20.5, 20);
    assert_int_equal(judge(m, r).verdict, SIGNOFF_FAIL);
    muster_free(m);
    m = muster_of(20, 20.1, 35); /* the wrong one moved */
    x = judge(m, r);
    assert_int_equal(x.verdict, SIGNOFF_FAIL);
    assert_non_null(strstr(x.note, "exhaust.1"));
    muster_free(m);
}

static void dipped__litres_against_the_capacity(void **state)
{
    (void)state;
    struct muster *m = muster_of(20, 20, 20);
    struct signoff_request r = {.id = channel("fuel-tank.1"),
                                .check = SIGNOFF_DIPPED,
                                .has_reference = true,
                                .reference_is_litres = true,
                                .reference = 240,
                                .has_tolerance = true,
                                .tolerance = 3};
    struct signoff_entry x = judge(m, r);
    assert_near(x.reference, 60.0, 1e-9); /* of 400 L */
    assert_near(x.error, 2.5, 0.003);
    assert_int_equal(x.verdict, SIGNOFF_PASS);
    muster_free(m);
}

static void requests__that_cannot_be__are_refused(void **state)
{
    (void)state;
    struct muster *m = muster_of(20, 20, 20);
    static const struct {
        const char *key;
        enum signoff_check check;
        const char *says;
    } cases[] = {
        {"exhaust.5", SIGNOFF_ICE, "not heard"},
        {"fuel-tank.1", SIGNOFF_ICE, "not a temperature"},
        {"exhaust.0", SIGNOFF_DIPPED, "not a tank"},
        {"exhaust.0", SIGNOFF_COMPARED, "needs a reference"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct signoff_request r = {
            .id = channel(cases[i].key), .check = cases[i].check, .by = "R. Example"};
        struct signoff_entry x;
        struct err e;
        assert_false(signoff_judge(m, &r, &x, &e));
        assert_non_null(strstr(e.text, cases[i].says));
    }
    muster_free(m);
}

static const char *path_of(const char *name)
{
    static char path[300];
    snprintf(path, sizeof path, "%s/%s", program_scratch(), name);
    return path;
}

static void file__written_and_read_again__says_the_same(void **state)
{
    (void)state;
    const char *path = path_of("a.sign");
    struct err e;
    struct signoff_entry cold = {.id = channel("exhaust.0"),
                                 .check = SIGNOFF_ICE,
                                 .has_reference = true,
                                 .reading = 1.2,
                                 .error = 1.2,
                                 .has_tolerance = true,
                                 .tolerance = 1.0,
                                 .verdict = SIGNOFF_FAIL,
                                 .by = "R. Example",
                                 .note = "# = [odd] text",
                                 .at_ns = INT64_C(1777903927) * NS_PER_S};
    struct signoff_entry hot = cold;
    hot.check = SIGNOFF_BOILING;
    hot.reference = 100.0;
    hot.reading = 97.2;
    hot.error = -2.8;
    assert_true(signoff_append(path, &cold, &e));
    assert_true(signoff_append(path, &hot, &e));
    char first[40] = "";
    int headings = 0;
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    for (char line[300]; fgets(line, sizeof line, f);) {
        if (first[0] == '\0')
            snprintf(first, sizeof first, "%.24s", line);
        headings += strncmp(line, "# Sign-off list", 15) == 0;
    }
    fclose(f);
    assert_string_equal(first, "# stokehold sign-off 1\n");
    assert_int_equal(headings, 1); /* the second entry brings no other */
    struct signoff *s = signoff_read(path, &e);
    assert_non_null(s);
    assert_int_equal(s->count, 2);
    assert_int_equal(s->entries[0].check, SIGNOFF_ICE);
    assert_near(s->entries[0].reading, 1.2, 1e-9);
    assert_near(s->entries[0].tolerance, 1.0, 1e-9);
    assert_int_equal(s->entries[0].verdict, SIGNOFF_FAIL);
    assert_string_equal(s->entries[0].by, "R. Example");
    assert_string_equal(s->entries[0].note, "# = [odd] text");
    assert_int_equal(s->entries[0].at_ns, cold.at_ns);
    assert_near(s->entries[1].error, -2.8, 1e-9);
    /* shown = reading * gain + offset must give both references back: 96 K read for 100 K */
    double gain, offset;
    assert_true(signoff_two_points(s, cold.id, &gain, &offset));
    assert_near(gain, 100.0 / 96.0, 1e-9);
    assert_near(1.2 * gain + offset, 0.0, 1e-9);
    assert_near(97.2 * gain + offset, 100.0, 1e-9);
    assert_int_equal(signoff_failures(s), 2);
    signoff_free(s);

    /* A disk that takes half an entry leaves the list as it was. */
    struct rlimit before, tight;
    struct stat st, after;
    assert_int_equal(stat(path, &st), 0);
    signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &before);
    tight = before;
    tight.rlim_cur = (rlim_t)st.st_size + 20;
    setrlimit(RLIMIT_FSIZE, &tight);
    assert_false(signoff_append(path, &cold, &e));
    setrlimit(RLIMIT_FSIZE, &before);
    assert_non_null(strstr(e.text, "cannot write"));
    assert_int_equal(stat(path, &after), 0);
    assert_int_equal(after.st_size, st.st_size);

    cold.verdict = SIGNOFF_PASS; /* tried again: the latest counts */
    cold.reading = 0.3;
    assert_true(signoff_append(path, &cold, &e));
    s = signoff_read(path, &e);
    assert_int_equal(s->count, 3);
    assert_int_equal(signoff_failures(s), 1);
    signoff_free(s);
}

static void two_points__one_bath_alone__give_no_correction(void **state)
{
    (void)state;
    struct signoff_entry x = {.id = channel("exhaust.0"), .check = SIGNOFF_ICE, .reading = 1};
    const struct signoff one = {.entries = &x, .count = 1}, none = {0};
    double gain, offset;
    assert_false(signoff_two_points(&one, x.id, &gain, &offset));
    assert_false(signoff_two_points(&none, x.id, &gain, &offset));
    assert_false(signoff_two_points(&one, channel("exhaust.1"), &gain, &offset));
}

static void file__absent__is_an_empty_list(void **state)
{
    (void)state;
    struct err e;
    struct signoff *s = signoff_read(path_of("nowhere.sign"), &e);
    assert_non_null(s);
    assert_int_equal(s->count, 0);
    signoff_free(s);
}

static void file__wrong__names_the_line(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } cases[] = {
        {"# x\n\n[exhaust.0]\ncheck = sniffed\n", ":4: bad value"},
        {"[no-such.0]\n", ":1: no channel"},
        {"check = dipped\n", ":1: a value before"},
        {"[exhaust.0\n", ":1: no ']'"},
        {"[exhaust.0]\nreading = 12 V\n", ":2: bad value"},
        {"[exhaust.0]\nreading\n", ":2: neither"},
        {"[exhaust.0]\ncolour = red\n", ":2: unknown key"},
        {"[exhaust.0]\nat = +00:10\n", ":2: bad value"},
        {"[exhaust.0]\n\nerror = 1100000000 K\n", ":3: bad value"}, /* from 1e9 on */
        {"[exhaust.0]\ncorrection = 1 -1100000000\n", ":2: bad value"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct err e;
        struct signoff *s = signoff_read(program_file("bad.sign", cases[i].text), &e);
        assert_null(s);
        if (strstr(e.text, cases[i].says) == NULL)
            print_error("%s\n", e.text);
        assert_non_null(strstr(e.text, cases[i].says));
    }
}

static void file__large_figures__are_taken_below_1e9(void **state)
{
    (void)state;
    struct err e;
    struct signoff *s = signoff_read(
        program_file("large.sign", "[exhaust.0]\nerror = 900000000 K\ncorrection = 1 -900000000\n"),
        &e);
    assert_non_null(s);
    assert_int_equal(s->count, 1);
    assert_true(s->entries[0].error == 0.9e9);
    assert_true(s->entries[0].offset == -0.9e9);
    signoff_free(s);
}

static void read_prefix(void *ctx, const void *data, size_t len)
{
    (void)ctx;
    char text[400];
    memcpy(text, data, len);
    text[len] = '\0';
    struct err e;
    signoff_free(signoff_read(program_file("cut.sign", text), &e));
}

static void file__cut_anywhere__does_no_harm(void **state)
{
    (void)state;
    static const char whole[] =
        "# list\n[exhaust.0]\ncheck = ice water\nreference = 0.00 C\nreading = 0.42 C\n"
        "tolerance = 1.50 K\nerror = 0.42 K\nverdict = pass\nby = R. Example\n"
        "at = 2026-05-04T14:12:07Z\nnote = dockside\n";
    for_every_prefix(whole, sizeof whole - 1, read_prefix, NULL);
}

static void text__confirmed_and_open(void **state)
{
    (void)state;
    struct muster *m = muster_of(0.2, 0.2, 20);
    struct signoff_entry x = judge(m, (struct signoff_request){.id = channel("exhaust.0"),
                                                               .check = SIGNOFF_ICE,
                                                               .has_tolerance = true,
                                                               .tolerance = 1});
    struct signoff s = {.entries = &x, .count = 1};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    signoff_print(&s, m, true, out);
    fclose(out);
    assert_non_null(strstr(text, "ice water"));
    assert_non_null(strstr(text, "error 0.20 K of 1.00: pass"));
    assert_non_null(strstr(text, "open: exhaust.1, fuel-tank.1"));
    free(text);
    muster_free(m);
}

/* The box behind the key has another NAME, or another serial, than when it was confirmed. */
static void exchanged_box__is_open_again(void **state)
{
    (void)state;
    struct muster *m = muster_of(0.2, 0.2, 20);
    struct muster_sender *box = NULL;
    for (size_t i = 0; i < m->sender_count; i++)
        if (m->senders[i].address == 0x20)
            box = &m->senders[i];
    assert_non_null(box);
    box->name = UINT64_C(0xC0968200FF000408);
    box->has_product = true;
    snprintf(box->product.serial, sizeof box->product.serial, "MADE-UP-1");
    struct signoff_entry x =
        judge(m, (struct signoff_request){.id = channel("exhaust.0"), .check = SIGNOFF_ICE});
    const char *path = path_of("box.sign");
    struct err e;
    x.has_correction = true;
    x.gain = 1.02;
    x.offset = -0.4;
    assert_true(signoff_append(path, &x, &e));
    struct signoff *s = signoff_read(path, &e);
    assert_non_null(s);
    assert_true(s->entries[0].name == box->name);
    assert_string_equal(s->entries[0].serial, "MADE-UP-1");
    assert_near(s->entries[0].gain, 1.02, 1e-9);
    assert_near(s->entries[0].offset, -0.4, 1e-9);
    for (int step = 0; step < 3; step++) {
        char *text = NULL;
        size_t len = 0;
        FILE *out = open_memstream(&text, &len);
        if (step == 1)
            box->name++;
        if (step == 2) {
            box->name--;
            snprintf(box->product.serial, sizeof box->product.serial, "MADE-UP-2");
        }
        signoff_print(s, m, true, out);
        fclose(out);
        assert_int_equal(strstr(text, "exhaust.0 (another box now)") != NULL, step > 0);
        free(text);
    }
    signoff_free(s);
    muster_free(m);
}

static void ice__reading_that_still_moves__is_refused(void **state)
{
    (void)state;
    struct muster *m = muster_new(NULL);
    struct signoff_entry x;
    struct err e;
    struct signoff_request r = {
        .id = channel("exhaust.0"), .check = SIGNOFF_ICE, .by = "R. Example"};
    assert_non_null(m);
    for (int i = 0; i < 30; i++) {
        long raw = lround((20.0 - 0.6 * i + 273.15) / 0.01);
        struct frame f = {
            .flags = FRAME_EXTENDED,
            .id = 0x15FD0820U,
            .len = 8,
            .mono_ns = (i + 1) * NS_PER_S,
            .data = {0xFF, 0, 14, (uint8_t)raw, (uint8_t)(raw >> 8), 0xFF, 0xFF, 0xFF}};
        muster_frames(m, &f, 1);
    }
    muster_close(m);
    assert_false(signoff_judge(m, &r, &x, &e));
    assert_non_null(strstr(e.text, "still moves"));
    muster_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(boiling__at_pressure_and_height__as_tables_say),
        cmocka_unit_test(ice__within_and_beyond_tolerance),
        cmocka_unit_test(calibrated__the_corrected_reading_is_judged),
        cmocka_unit_test(boiling__reference_follows_the_height),
        cmocka_unit_test(warmed__the_sensor_that_moved__or_its_neighbour),
        cmocka_unit_test(dipped__litres_against_the_capacity),
        cmocka_unit_test(requests__that_cannot_be__are_refused),
        cmocka_unit_test(file__written_and_read_again__says_the_same),
        cmocka_unit_test(two_points__one_bath_alone__give_no_correction),
        cmocka_unit_test(file__absent__is_an_empty_list),
        cmocka_unit_test(file__wrong__names_the_line),
        cmocka_unit_test(file__large_figures__are_taken_below_1e9),
        cmocka_unit_test(file__cut_anywhere__does_no_harm),
        cmocka_unit_test(text__confirmed_and_open),
        cmocka_unit_test(exchanged_box__is_open_again),
        cmocka_unit_test(ice__reading_that_still_moves__is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
