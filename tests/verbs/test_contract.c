/* What scripts may rely on, tried on the program itself: the header and rows of `export`, the
 * lines of `sift --json`, exit statuses, and that nothing depends on the locale. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Frames built by hand from the published layouts; the values beside them are what an independent
 * decoder (npm @canboat/canboatjs 3.20.0) read from the same frames. */
static const char worked[] =
    "(1760000000.000001) can0 09F20020#00401FDC0500FFFF\n"  /* 2000 rpm, 150000 Pa */
    "(1760000000.100000) can0 09F20120#401A00AC0D300EBB\n"  /* oil 350000 Pa, 363.2 K */
    "(1760000000.100100) can0 09F20120#418A69057B0080EE\n"  /* engine 355.15 K, 13.85 V, 12.3 L/h */
    "(1760000000.100200) can0 09F20120#4236001A042C01FF\n"  /* 1000 h, 105000 Pa, fuel 300000 Pa */
    "(1760000000.100300) can0 09F20120#4382000000413CFF\n"  /* load 65, torque 60 */
    "(1760000000.200000) can0 19F21121#01093DA00F0000FF\n"  /* tank 1 fuel 62.5 % of 400 L */
    "(1760000000.300000) can0 15FD0822#070203477CFFFFFF\n"  /* engine room 318.15 K */
    "(1760000000.400000) can0 15FD0C22#07000E5E1505FFFF\n"  /* exhaust 333.15 K */
    "(1760000000.500000) can0 15FD0822#08000EFEFFFFFFFF\n"  /* 130312 out of range: no value */
    "(1760000000.600000) can0 19F21423#00F104E0FF837209\n"  /* 12.65 V, -3.2 A, 293.15 K */
    "(1760000000.700000) can0 09F50324#013501FFFF00FFFF\n"  /* 3.09 m/s through water */
    "(1760000000.800000) can0 09F80225#01FC5C3D6801FFFF\n"  /* SOG 3.60 m/s */
    "(1760000000.900000) can0 09F20520#00FD983A030D00FF\n"; /* neutral, 1500000 Pa, 333.1 K */

struct row {
    const char *channel, *unit;
    double time, value;
    int source;
};

static const struct row rows[] = {
    {"rpm.0", "rpm", 1760000000.000001, 2000, 0x20},
    {"boost.0", "kPa", 1760000000.000001, 150, 0x20},
    {"oil-pressure.0", "kPa", 1760000000.100300, 350, 0x20},
    {"oil-temp.0", "°C", 1760000000.100300, 363.2 - 273.15, 0x20},
    {"coolant.0", "°C", 1760000000.100300, 355.15 - 273.15, 0x20},
    {"alternator.0", "V", 1760000000.100300, 13.85, 0x20},
    {"fuel-rate.0", "L/h", 1760000000.100300, 12.3, 0x20},
    {"hours.0", "h", 1760000000.100300, 1000, 0x20},
    {"coolant-pressure.0", "kPa", 1760000000.100300, 105, 0x20},
    {"fuel-pressure.0", "kPa", 1760000000.100300, 300, 0x20},
    {"load.0", "%", 1760000000.100300, 65, 0x20},
    {"torque.0", "%", 1760000000.100300, 60, 0x20},
    {"fuel-tank.1", "%", 1760000000.2, 62.5, 0x21},
    {"engine-space.2", "°C", 1760000000.3, 45, 0x22},
    {"exhaust.0", "°C", 1760000000.4, 60, 0x22},
    {"battery-volts.0", "V", 1760000000.6, 12.65, 0x23},
    {"battery-amps.0", "A", 1760000000.6, -3.2, 0x23},
    {"battery-temp.0", "°C", 1760000000.6, 20, 0x23},
    {"speed-water", "kn", 1760000000.7, 3.09 * 3600 / 1852, 0x24},
    {"speed-ground", "kn", 1760000000.8, 3.60 * 3600 / 1852, 0x25},
    {"gear.0", "", 1760000000.9, 0, 0x20},
    {"gear-oil-pressure.0", "kPa", 1760000000.9, 1500, 0x20},
    {"gear-oil-temp.0", "°C", 1760000000.9, 333.1 - 273.15, 0x20},
};

/* Takes the next CSV row apart; returns where the one after begins. */
static char *next_row(char *p, char *fields[5])
{
    for (int i = 0; i < 5; i++) {
        fields[i] = p;
        p = strpbrk(p, i < 4 ? "," : "\n");
        assert_non_null(p);
        *p++ = '\0';
    }
    return p;
}

static void export__worked_frames__gives_the_reference_values_in_log_order(void **state)
{
    (void)state;
    struct outcome o = program_run("export -", worked);
    assert_int_equal(o.status, 0);
    assert_string_equal(o.err, "");
    char *p = o.out;
    assert_memory_equal(p, "time,channel,value,unit,source\n", 31);
    p += 31;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char *f[5];
        p = next_row(p, f);
        assert_near(strtod(f[0], NULL), rows[i].time, 1e-6);
        assert_string_equal(f[1], rows[i].channel);
        assert_near(strtod(f[2], NULL), rows[i].value, 0.002);
        assert_string_equal(f[3], rows[i].unit);
        assert_int_equal(atoi(f[4]), rows[i].source);
    }
    assert_string_equal(p, ""); /* the out-of-range reading gave no row */
    outcome_free(&o);
}

static void export__all__gives_the_missing_an_empty_value(void **state)
{
    (void)state;
    struct outcome o = program_run("export --all -", worked);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "1760000000.500000,exhaust.0,,°C,34\n"));
    assert_null(strstr(o.out, "exhaust.0,0"));
    outcome_free(&o);
}

static void export__json__has_the_same_five(void **state)
{
    (void)state;
    struct outcome o = program_run("export --json -", worked);
    assert_int_equal(o.status, 0);
    const char *line =
        strstr(o.out, "{\"time\":1760000000.400000,\"channel\":\"exhaust.0\",\"value\":60.");
    assert_non_null(line);
    assert_non_null(strstr(line, ",\"unit\":\"°C\",\"source\":34}\n"));
    outcome_free(&o);
}

static void export__range__keeps_a_message_by_its_last_frame(void **state)
{
    (void)state;
    struct outcome o = program_run("export --from 1760000000.1003 --to +00:00.35 -", worked);
    assert_int_equal(o.status, 0);
    assert_null(strstr(o.out, "rpm.0"));
    assert_non_null(strstr(o.out, "oil-pressure.0"));
    assert_non_null(strstr(o.out, "engine-space.2"));
    assert_null(strstr(o.out, "exhaust.0"));
    outcome_free(&o);
}

/* What comes at the moments asked for is among it. */
static void export__range__both_ends_count(void **state)
{
    (void)state;
    struct outcome o = program_run("export --from 1760000000.2 --to 1760000000.4 -", worked);
    assert_int_equal(o.status, 0);
    assert_null(strstr(o.out, "oil-pressure.0"));
    assert_non_null(strstr(o.out, "fuel-tank.1"));
    assert_non_null(strstr(o.out, "exhaust.0"));
    assert_null(strstr(o.out, "battery-volts.0"));
    outcome_free(&o);
}

static void export__a_locale_with_a_comma__changes_nothing(void **state)
{
    (void)state;
    struct outcome plain = program_run_with("LC_ALL=C TZ=UTC", "export -", worked);
    struct outcome comma = program_run_with(COMMA_LOCALE " TZ=UTC", "export -", worked);
    assert_string_equal(plain.out, comma.out);
    outcome_free(&plain);
    outcome_free(&comma);
}

static void sift__json__ends_with_the_summary(void **state)
{
    (void)state;
    char log[2400];
    snprintf(log, sizeof log, "%s%s", worked, "this is no frame\n");
    struct outcome o = program_run("sift --json -", log);
    assert_int_equal(o.status, 0);
    char *last = o.out + o.out_len;
    assert_true(o.out_len > 2 && last[-1] == '\n');
    last[-1] = '\0';
    last = strrchr(o.out, '\n');
    last = last ? last + 1 : o.out;
    static const char start[] =
        "{\"event\":\"summary\",\"frames\":13,\"bad_lines\":1,\"lost_frames\":0,"
        "\"first\":1760000000.000001,\"last\":1760000000.900000,"
        "\"emergency_alarms\":0,\"alarms\":";
    assert_memory_equal(last, start, sizeof start - 1);
    assert_non_null(strstr(last, ",\"warnings\":"));
    assert_non_null(strstr(last, ",\"cautions\":"));
    assert_non_null(
        strstr(o.err, "standard input:14: ")); /* the bad line is named with its number */
    outcome_free(&o);
}

/* A multi-frame message cut short, a hole of 20 s, a bad line: what was left out is counted. */
static void losses__are_counted_in_every_summary(void **state)
{
    (void)state;
    static const char log[] = "(1760000000.000000) can0 09F20120#401A00AC0D300EBB\n"
                              "(1760000000.100000) can0 09F20120#4236001A042C01FF\n"
                              "(1760000020.000000) can0 09F20020#00401FDC0500FFFF\n";
    struct outcome o = program_run("sift --json -", log);
    assert_non_null(strstr(o.out, ",\"incomplete\":1,\"gaps\":1,\"dropped\":0,\"unbound\":0,"
                                  "\"alerts_lost\":0}\n"));
    outcome_free(&o);
    o = program_run("sift -", log);
    assert_non_null(strstr(o.out, "lost frames 0, 1 message incomplete, 1 gap\n"));
    outcome_free(&o);
    o = program_run("export -", log);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.err, "stokehold export: 1 message incomplete, 1 gap\n"));
    outcome_free(&o);
    o = program_run("trial -", log);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.err, "standard input: 1 message incomplete, 1 gap\n"));
    outcome_free(&o);
}

/* 127489 with status word 1 bit 1 (over temperature) and bit 7 (water flow), four times half a
 * second apart as the standard's period has it, with the sequence counters 2 to 5. */
static const char *reporting(void)
{
    static char log[2000];
    static const char *const frames[] = {"01A00AC0D300EBB", "18A69057B0080EE", "236001A042C01FF",
                                         "382000000413CFF"};
    size_t used = 0;
    for (int i = 0; i < 4; i++) {
        used += (size_t)snprintf(log + used, sizeof log - used,
                                 "(%d.000000) can0 09F20020#00401FDC0500FFFF\n", 1760000000 + i);
        for (int k = 0; k < 4; k++)
            used += (size_t)snprintf(log + used, sizeof log - used,
                                     "(%d.%d00%d00) can0 09F20120#%X%s\n", 1760000000 + i / 2,
                                     i % 2 ? 6 : 1, k, (unsigned)(i + 2) << 1, frames[k]);
    }
    return log;
}

static void sift__reported_faults__have_every_field(void **state)
{
    (void)state;
    struct outcome o = program_run("sift --json -", reporting());
    assert_int_equal(o.status, 0);
    const char *line = strstr(o.out, "\"kind\":\"reported\"");
    assert_non_null(line);
    static const char *const keys[] = {"\"time\":", "\"event\":\"raised\"", "\"priority\":\"",
                                       "\"rule\":", "\"channel\":",         "\"value\":",
                                       "\"unit\":", "\"text\":\""};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        assert_non_null(strstr(o.out, keys[i]));
    outcome_free(&o);
}

static void sift__fail_on__says_it_by_its_status(void **state)
{
    (void)state;
    struct outcome o = program_run("sift --fail-on caution -", reporting());
    assert_int_equal(o.status, 1);
    outcome_free(&o);
    o = program_run("sift --fail-on emergency -", reporting());
    assert_int_equal(o.status, 0);
    outcome_free(&o);
}

static void statuses__usage_is_2_and_a_missing_source_is_3(void **state)
{
    (void)state;
    static const struct {
        const char *arguments;
        int status;
        const char *says;
    } calls[] = {
        {"", 2, "usage:"},
        {"sitf x.log", 2, "did you mean 'sift'?"},
        {"sift", 2, "name one log"},
        {"sift --jsn x.log", 2, "did you mean '--json'?"},
        {"sift --js x.log", 2, "'--json' in full"},
        {"sift --fro '' x.log", 2, "'--from' in full"},
        {"sift --from noon x.log", 2, "'noon' is not a time"},
        {"sift --to 2263-01-01 x.log", 2, "'2263-01-01' is not a time"},
        {"sift --from +9000000000:00:00 x.log", 2, "is not a time"},
        {"watch --theme ngiht x.log", 2, "did you mean 'night'?"},
        {"config chek x.conf", 2, "did you mean 'check'?"},
        {"watch --record d x.log", 2, "--record is for an interface, not for a log"},
        {"watch --keep-watch x.log", 2, "--keep-watch is for an interface, not for a log"},
        {"watch --plain --keep-watch can97", 2, "--keep-watch goes with the board"},
        {"watch --once --keep-watch can97", 2, "--keep-watch goes with the board"},
        {"watch --speed 2 can97", 2, "--speed is for a log, not for an interface"},
        {"watch --from +1 --attach sock", 2, "--from is for a log, not for a tend that runs"},
        {"muster --ask x.log", 2, "--ask is for an interface, not for a log"},
        {"muster --to +1 can97", 2, "--to is for a log, not for an interface"},
        {"tend --zone UTC can97", 2, "--zone is for a log, not for an interface"},
        {"sift --from", 2, "needs a value"},
        {"sift --json=yes x.log", 2, "takes no value"},
        {"sift --fail-on grave x.log", 2, "--fail-on takes"},
        {"season", 2, "name one season file"},
        {"season a b", 2, "name one season file"},
        {"trial", 2, ""},
        {"drill --minutes 3 -o /nonexistent/x", 2, "a whole number from 4 to 1440"},
        {"drill --minutes 1441 -o /nonexistent/x", 2, "a whole number from 4 to 1440"},
        {"drill --minutes 4 -o /nonexistent/x", 3, "/nonexistent/x"},
        {"drill --engines 3 -o /nonexistent/x", 2, "1 or 2"},
        {"drill --engines 0 -o /nonexistent/x", 2, "1 or 2"},
        {"drill --engines 1 --engine starboard -o /nonexistent/x", 2, "this boat has one engine"},
        {"drill --seed -1 -o /nonexistent/x", 2, "a whole number up to 2000000000"},
        {"drill --seed 2000000001 -o /nonexistent/x", 2, "a whole number up to 2000000000"},
        {"drill --seed 2000000000 -o /nonexistent/x", 3, "/nonexistent/x"},
        {"drill --season 2 -o /nonexistent/x", 2, "how many trips, 3 to 60"},
        {"drill --season 61 -o /nonexistent/x", 2, "how many trips, 3 to 60"},
        {"drill --engine 2 -o /nonexistent/x", 2, "port, starboard, 0 or 1"},
        {"drill --trip race -o /nonexistent/x", 2, "cruise or trial"},
        {"drill --boat big -o /nonexistent/x", 2, "plain or full"},
        {"muster --for 0 can97", 2, "--for takes a length of time"},
        {"tend --acknowledge 0", 2, "--acknowledge takes the number of an alert"},
        {"tend --acknowledge 2147483648", 2, "--acknowledge takes the number of an alert"},
        {"sift /nonexistent/x.log", 3, "/nonexistent/x.log"},
        {"export /nonexistent/x.log", 3, "/nonexistent/x.log"},
        {"export /", 3, "/"},
        {"sift -c /nonexistent/x.conf -", 2, "/nonexistent/x.conf"},
        {"--help", 0, ""},
        {"sift --help", 0, ""},
        {"export --help", 0, ""},
        {"--version", 0, ""},
    };
    for (size_t i = 0; i < sizeof calls / sizeof *calls; i++) {
        struct outcome o = program_run(calls[i].arguments, "");
        if (o.status != calls[i].status || !strstr(o.err, calls[i].says))
            fail_msg("stokehold %s: status %d, said: %s", calls[i].arguments, o.status, o.err);
        outcome_free(&o);
    }
}

/* Figures that options take: at their bounds what is missing is the log, beyond them the figure is
 * refused. */
static void options__figures__within_their_bounds(void **state)
{
    static const struct {
        const char *within, *beyond; /* separated by ';' */
        const char *says;
    } figures[] = {
        {"trial --settle 4s no.log;trial --settle 600s no.log;trial --settle 10min no.log",
         "trial --settle 3.9s no.log;trial --settle 601s no.log;trial --settle soon no.log",
         "--settle takes 4 s to 600 s"},
        {"trial --within 0.1 no.log;trial --within 20 no.log",
         "trial --within 0.09 no.log;trial --within 20.1 no.log;trial --within nan no.log",
         "--within takes a percentage from 0.1 to 20"},
        {"watch --once --speed 1 no.log;watch --once --speed 64 no.log;watch --once --speed max "
         "no.log",
         "watch --speed 0.9 no.log;watch --speed 64.1 no.log;watch --speed fast no.log",
         "--speed takes a number from 1 to 64, or max"},
        {"watch --once --size 1x1 no.log;watch --once --size 1000x1000 no.log",
         "watch --size 0x5 no.log;watch --size 5x0 no.log;watch --size 1001x5 no.log;"
         "watch --size 5x1001 no.log;watch --size 80 no.log;watch --size x24 no.log;"
         "watch --size 80x no.log;watch --size 0000000000000000080x24 no.log",
         "--size takes COLSxROWS"},
        {"watch --once --fps 0.1 no.log;watch --once --fps 10 no.log",
         "watch --fps 0.09 no.log;watch --fps 10.1 no.log", "--fps takes a number from 0.1 to 10"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof figures / sizeof *figures; i++)
        for (int beyond = 0; beyond < 2; beyond++) {
            char calls[600], *rest = NULL;
            snprintf(calls, sizeof calls, "%s", beyond ? figures[i].beyond : figures[i].within);
            for (char *call = strtok_r(calls, ";", &rest); call;
                 call = strtok_r(NULL, ";", &rest)) {
                struct outcome o = program_run(call, "");
                if (o.status != (beyond ? 2 : 3) ||
                    !strstr(o.err, beyond ? figures[i].says : "no.log"))
                    fail_msg("stokehold %s: status %d, said: %s", call, o.status, o.err);
                outcome_free(&o);
            }
        }
}

/* As many times as the words stand in text. */
static int times(const char *text, const char *words)
{
    int n = 0;
    for (const char *at = strstr(text, words); at; at = strstr(at + 1, words))
        n++;
    return n;
}

static void source__neither_log_nor_interface__is_said_once(void **state)
{
    (void)state;
    static const char *const runs[] = {"watch --once no-such.log", "watch --plain no-such.log",
                                       "tend no-such.log", "muster no-such.log"};
    for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++) {
        struct outcome o = program_run(runs[i], NULL);
        assert_int_equal(o.status, 3);
        assert_int_equal(times(o.err, "is neither a log nor an interface"), 1);
        outcome_free(&o);
    }
    /* A name that an interface could have: refused too where the kernel has no CAN. */
    struct outcome o = program_run("watch --once nosuch7", NULL);
    assert_int_equal(times(o.err, "is neither a log nor an interface"), o.status == 3);
    outcome_free(&o);
}

static void output__no_reader__ends_quietly(void **state)
{
    (void)state;
    struct outcome o = program_run("export - | head -n 1", worked);
    assert_string_equal(o.out, "time,channel,value,unit,source\n");
    assert_string_equal(o.err, "");
    outcome_free(&o);
}

static void output__full_disk__is_said(void **state)
{
    (void)state;
    char arguments[256];
    snprintf(arguments, sizeof arguments, "export '%s' >/dev/full; exit $?",
             program_file("worked.log", worked));
    struct outcome o = program_run(arguments, NULL);
    assert_non_null(strstr(o.err, "No space left"));
    assert_int_equal(o.status, 3);
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(options__figures__within_their_bounds),
        cmocka_unit_test(export__worked_frames__gives_the_reference_values_in_log_order),
        cmocka_unit_test(export__all__gives_the_missing_an_empty_value),
        cmocka_unit_test(export__json__has_the_same_five),
        cmocka_unit_test(export__range__keeps_a_message_by_its_last_frame),
        cmocka_unit_test(export__range__both_ends_count),
        cmocka_unit_test(export__a_locale_with_a_comma__changes_nothing),
        cmocka_unit_test(sift__json__ends_with_the_summary),
        cmocka_unit_test(losses__are_counted_in_every_summary),
        cmocka_unit_test(sift__reported_faults__have_every_field),
        cmocka_unit_test(sift__fail_on__says_it_by_its_status),
        cmocka_unit_test(statuses__usage_is_2_and_a_missing_source_is_3),
        cmocka_unit_test(source__neither_log_nor_interface__is_said_once),
        cmocka_unit_test(output__no_reader__ends_quietly),
        cmocka_unit_test(output__full_disk__is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
