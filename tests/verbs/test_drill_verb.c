/* `stokehold drill` as a user runs it. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static void drill__same_seed__same_bytes(void **state)
{
    struct outcome a = program_run("drill --fault impeller --minutes 5 --seed 9", NULL);
    struct outcome b = program_run("drill --fault impeller --minutes 5 --seed 9 -o -", NULL);
    struct outcome c = program_run("drill --fault impeller --minutes 5 --seed 10", NULL);

    (void)state;
    assert_int_equal(a.status, 0);
    assert_true(a.out_len > 100000);
    assert_int_equal(a.out_len, b.out_len);
    assert_memory_equal(a.out, b.out, a.out_len);
    assert_true(c.out_len != a.out_len || memcmp(a.out, c.out, a.out_len) != 0);
    assert_memory_equal(a.out, "(1777903200.", 12);
    outcome_free(&a);
    outcome_free(&b);
    outcome_free(&c);
}

/* Every key that the trip should fill comes out of the reading side, within what was put in. */
static void drill__exported__has_the_boats_channels(void **state)
{
    static const char *const keys[] = {
        ",rpm.0,",           ",rpm.1,",        ",oil-pressure.1,",  ",coolant.0,",
        ",exhaust.0,",       ",exhaust.1,",    ",engine-space.0,",  ",sea.0,",
        ",outside-air.0,",   ",fuel-tank.0,",  ",fuel-tank.1,",     ",fresh-water-tank.0,",
        ",battery-volts.2,", ",speed-ground,", ",speed-water,",     ",switch.0.1,",
        ",pressure.0.0,",    ",gear.1,",       ",fuel-rate.1,",     ",trip-fuel.0,",
        ",hours.0,",         ",alternator.0,", ",load.0,",          ",torque.1,",
        ",oil-temp.0,",      ",boost.0,",      ",gear-oil-temp.0,",
    };
    struct outcome o = program_run("drill --minutes 6 | '" STOKEHOLD_PROGRAM "' export -", NULL);

    (void)state;
    assert_int_equal(o.status, 0);
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (!strstr(o.out, keys[i]))
            print_error("no %s\n", keys[i]);
        assert_non_null(strstr(o.out, keys[i]));
    }
    outcome_free(&o);
}

static void drill__truth__is_beside_the_log(void **state)
{
    char command[400], path[300], text[600] = "";
    struct outcome o;
    FILE *f;

    (void)state;
    snprintf(path, sizeof path, "%s/truth.json", program_scratch());
    snprintf(command, sizeof command,
             "drill --fault fouled --engine port --at +03:00 --minutes 8 -o %s/x.log --truth %s",
             program_scratch(), path);
    o = program_run(command, NULL);
    assert_int_equal(o.status, 0);
    assert_string_equal(o.out, "");
    f = fopen(path, "r");
    assert_non_null(f);
    assert_true(fread(text, 1, sizeof text - 1, f) > 0);
    fclose(f);
    assert_non_null(strstr(text, "\"fault\":\"fouled\",\"engine\":0,\"began\":1777903380.000000,"));
    outcome_free(&o);
}

static void drill__wrong_words__are_named_with_status_2(void **state)
{
    static const struct {
        const char *arguments, *says;
    } cases[] = {
        {"drill --fault rust", "--fault 'rust': takes none,impeller"},
        {"drill --engines 3", "--engines '3': takes 1 or 2"},
        {"drill --engines 1 --engine starboard", "this boat has one engine"},
        {"drill --minutes 0", "--minutes '0'"},
        {"drill --seed -1", "--seed '-1'"},
        {"drill --at +99:00", "outside the trip"},
        {"drill --at soon", "--at 'soon'"},
        {"drill x.log", "takes no source"},
        {"drill --to can0 -o x.log", "-o and --to cannot go together"},
        {"drill --at +03:59.9 --minutes 4 --fault rust", "--fault 'rust'"},
        {"drill --at +04:00 --minutes 4", "outside the trip"},
        {"drill --speed 0.9 --to can0", "--speed '0.9': takes a number from 1 to 64, or max"},
        {"drill --speed 64.1 --to can0", "--speed '64.1': takes a number from 1 to 64, or max"},
        {"drill --season 3", "--season needs the directory"},
        {"drill --season 3 a b", "--season needs the directory"},
        {"drill --season 3 --minutes 9 a",
         "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --random a", "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --trip trial a",
         "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --boat full a",
         "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --engine port a",
         "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --at +1 a", "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 -o b a", "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --to can0 a", "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --truth b a", "--season goes with --fault, --seed and --engines alone"},
        {"drill --season 3 --fault impeller a", "with --season none, impeller-wear"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct outcome o = program_run(cases[i].arguments, NULL);

        assert_int_equal(o.status, 2);
        assert_non_null(strstr(o.err, cases[i].says));
        assert_string_equal(o.out, "");
        outcome_free(&o);
    }
}

/* The identifiers' middle (PGN) of those that a plain boat has, and that only a full one has. */
static void drill__boats__plain_and_full(void **state)
{
    static const char *const both[] = {"09F200", "09F201", "19F214", "09F802"};
    static const char *const full_alone[] = {"F20F", "F300", "F307", "F219"};

    (void)state;
    for (int full = 0; full < 2; full++) {
        struct outcome o = program_run(
            full ? "drill --boat full --minutes 4" : "drill --boat plain --minutes 4", NULL);
        assert_int_equal(o.status, 0);
        for (size_t i = 0; i < sizeof both / sizeof *both; i++)
            assert_non_null(strstr(o.out, both[i]));
        for (size_t i = 0; i < sizeof full_alone / sizeof *full_alone; i++) {
            bool there = false;
            for (const char *at = o.out; (at = strstr(at, ") can0 ")) != NULL && !there; at++)
                there = strncmp(at + 9, full_alone[i], 4) == 0;
            assert_int_equal(there, full);
        }
        outcome_free(&o);
    }
}

/* As many logs as trips, and the truth beside them, into a directory that may be there; what cannot
 * be written is said. */
static void drill__season__logs_and_truth_or_status_3(void **state)
{
    static const char *const in_the_way[] = {"truth.json", "trip-01.log"};
    char command[300], path[300], first[8] = "";
    struct outcome o;
    FILE *f;

    (void)state;
    snprintf(command, sizeof command, "drill --season 3 --engines 1 '%s/sea'", program_scratch());
    for (int again = 0; again < 2; again++) {
        o = program_run(command, NULL);
        assert_int_equal(o.status, 0);
        assert_string_equal(o.err, "");
        outcome_free(&o);
    }
    for (int i = 1; i <= 4; i++) {
        snprintf(path, sizeof path, "%s/sea/trip-%02d.log", program_scratch(), i);
        f = fopen(path, "r");
        assert_int_equal(f != NULL, i <= 3);
        if (f)
            fclose(f);
    }
    snprintf(path, sizeof path, "%s/sea/truth.json", program_scratch());
    f = fopen(path, "r");
    assert_non_null(f);
    assert_int_equal(fread(first, 1, 1, f), 1);
    assert_string_equal(first, "{");
    fclose(f);
    for (size_t i = 0; i < sizeof in_the_way / sizeof *in_the_way; i++) {
        const char *folder = program_folder();
        snprintf(command, sizeof command, "drill --season 3 --engines 1 '%s'", folder);
        snprintf(path, sizeof path, "%s/%s", folder, in_the_way[i]);
        assert_int_equal(mkdir(path, 0700), 0);
        o = program_run(command, NULL);
        assert_int_equal(o.status, 3);
        assert_non_null(strstr(o.err, "cannot write '"));
        assert_non_null(strstr(o.err, in_the_way[i]));
        outcome_free(&o);
    }
    o = program_run("drill --season 3 /nowhere/sea", NULL);
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "cannot write '/nowhere/sea'"));
    outcome_free(&o);
}

static void drill__cannot_write__is_status_3(void **state)
{
    struct outcome o = program_run("drill --minutes 4 -o /nowhere/x.log", NULL);

    (void)state;
    assert_int_equal(o.status, 3);
    assert_non_null(strstr(o.err, "cannot write '/nowhere/x.log'"));
    outcome_free(&o);
}

static void drill__comma_locale__writes_the_same(void **state)
{
    struct outcome a = program_run("drill --random --seed 4 | head -c 20000 | cksum", NULL);
    struct outcome b =
        program_run_with(COMMA_LOCALE, "drill --random --seed 4 | head -c 20000 | cksum", NULL);

    (void)state;
    assert_string_equal(a.out, b.out);
    outcome_free(&a);
    outcome_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drill__same_seed__same_bytes),
        cmocka_unit_test(drill__exported__has_the_boats_channels),
        cmocka_unit_test(drill__truth__is_beside_the_log),
        cmocka_unit_test(drill__wrong_words__are_named_with_status_2),
        cmocka_unit_test(drill__boats__plain_and_full),
        cmocka_unit_test(drill__season__logs_and_truth_or_status_3),
        cmocka_unit_test(drill__cannot_write__is_status_3),
        cmocka_unit_test(drill__comma_locale__writes_the_same),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
