/* What is worked out from other readings, on the program itself: in `export --derived`, in rules,
 * and nowhere in a plain `export`. */
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static char log_path[512];

/* A twin with two tanks, ten minutes long, made once. */
static int make_log(void **state)
{
    char arguments[600];
    (void)state;
    snprintf(log_path, sizeof log_path, "%s/trip.log", program_scratch());
    snprintf(arguments, sizeof arguments, "drill --minutes 10 -o '%s'", log_path);
    struct outcome o = program_run(arguments, NULL);
    int status = o.status;
    outcome_free(&o);
    return status;
}

static struct outcome run(const char *format)
{
    char arguments[2048];
    snprintf(arguments, sizeof arguments, "%s '%s'", format, log_path);
    return program_run(arguments, NULL);
}

static void export__plain__has_only_what_was_sent(void **state)
{
    (void)state;
    struct outcome o = run("export");
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, ",fuel-rate.0,"));
    assert_null(strstr(o.out, ",burn,"));
    assert_null(strstr(o.out, ",range,"));
    outcome_free(&o);
}

static void export__derived__rows_without_a_source(void **state)
{
    (void)state;
    static const char *const keys[] = {
        ",burn,",          ",burn-per-mile,", ",economy,",    ",fuel-aboard,", ",fuel-to-reserve,",
        ",fuel-volume.1,", ",range,",         ",hours-left,", ",trip-burn.0,", ",space-rise.0,"};
    struct outcome o = run("export --derived");
    assert_int_equal(o.status, 0);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        const char *at = strstr(o.out, keys[i]);
        if (!at)
            print_error("no %s\n", keys[i]);
        assert_non_null(at);
        assert_int_equal(strchr(at, '\n')[-1], ','); /* nobody sent it */
    }
    outcome_free(&o);
    o = run("export --derived --json");
    const char *at = strstr(o.out, "\"channel\":\"range\"");
    assert_non_null(at);
    const char *source = strstr(at, "\"source\":");
    assert_non_null(source);
    assert_memory_equal(source, "\"source\":null}", 14);
    outcome_free(&o);
}

/* Each range is the fuel to the reserve over the burn a mile, both of the same second. */
static void export__derived__range_is_fuel_over_burn_a_mile(void **state)
{
    (void)state;
    struct outcome o = run("export --derived");
    double per_mile = 0, left = 0;
    int checked = 0;
    for (char *p = o.out; *p;) {
        char *end = strchr(p, '\n');
        if (!end)
            break;
        *end = '\0';
        const char *comma = strchr(p, ',');
        double v = comma ? strtod(strchr(comma + 1, ',') + 1, NULL) : 0;
        if (comma && strncmp(comma, ",burn-per-mile,", 15) == 0)
            per_mile = v;
        else if (comma && strncmp(comma, ",fuel-to-reserve,", 17) == 0)
            left = v;
        else if (comma && strncmp(comma, ",range,", 7) == 0) {
            assert_near(v, left / per_mile, 0.02 + 0.002 * v);
            checked++;
        }
        p = end + 1;
    }
    assert_true(checked > 100);
    outcome_free(&o);
}

static void sift__limit_on_range__speaks_up(void **state)
{
    (void)state;
    const char *conf = program_file("range.conf", "[limit range-short]\nchannel = range\n"
                                                  "priority = warning\nbelow = 5000 nmi\n"
                                                  "deadband = 50 nmi\nhold = 10 s\n"
                                                  "advice = turn for fuel\n");
    char arguments[700];
    snprintf(arguments, sizeof arguments, "sift --json -c '%s'", conf);
    struct outcome o = run(arguments);
    assert_int_equal(o.status, 0);
    const char *at = strstr(o.out, "\"rule\":\"range-short\"");
    assert_non_null(at);
    assert_non_null(strstr(at, "\"channel\":\"range\""));
    assert_non_null(strstr(at, "\"unit\":\"nmi\""));
    assert_non_null(strstr(at, "turn for fuel"));
    outcome_free(&o);
}

static void sift__hot_space_and_blower_off__is_told_to_switch_it_on(void **state)
{
    (void)state;
    const char *conf =
        program_file("blower.conf", "[channel blower.0]\nfrom = switch.0.2\n"
                                    "[combined engine-space-unventilated]\nhold = 5 s\n"
                                    "when = engine-space.* above 10 C and blower.* off\n");
    char arguments[700];
    snprintf(arguments, sizeof arguments, "sift --json -c '%s'", conf);
    struct outcome o = run(arguments);
    assert_int_equal(o.status, 0);
    assert_non_null(strstr(o.out, "switch the blower on"));
    outcome_free(&o);
    o = run("sift --json"); /* without the blower's switch named there is nothing to say */
    assert_null(strstr(o.out, "switch the blower on"));
    outcome_free(&o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(export__plain__has_only_what_was_sent),
        cmocka_unit_test(export__derived__rows_without_a_source),
        cmocka_unit_test(export__derived__range_is_fuel_over_burn_a_mile),
        cmocka_unit_test(sift__limit_on_range__speaks_up),
        cmocka_unit_test(sift__hot_space_and_blower_off__is_told_to_switch_it_on),
    };
    return cmocka_run_group_tests(tests, make_log, NULL);
}
