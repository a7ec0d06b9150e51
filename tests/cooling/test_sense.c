/* What the cooling watch says of itself: how soon it tells lost water, and by what. */
#include "cooling/cooling.h"
#include "support/check.h"

#include <math.h>

#include "base/banned.h"

static const struct {
    struct cooling_sense sense;
    bool running;
    const char *words;
} cases[] = {
    {{true, true, true, true, COOLING_LOAD, false, 1.04, 11.6, false},
     true,
     "lost water told in 12 s: exhaust every 1 s, speed, load, twin, sea"},
    {{true, true, false, false, COOLING_SENSORS, false, 2.6, 17.0, false},
     true,
     "lost water told in 17 s: exhaust every 2.5 s, speed, no load, no twin, no sea"},
    {{true, true, false, true, COOLING_FUEL_RATE, false, 0.5, 12.0, false},
     true,
     "lost water told in 12 s: exhaust every 0.5 s, speed, fuel rate for load, twin, no sea"},
    {{true, true, true, false, COOLING_SENSORS, false, 30.2, NAN, true},
     true,
     "BLIND to lost water but for its limit: exhaust every 30 s, speed, no load, no twin, sea"},
    {{true, false, true, false, COOLING_SENSORS, false, 2.0, NAN, true},
     true,
     "lost water told late: exhaust every 2 s, no speed, no load, no twin, sea"},
    {{true, true, true, false, COOLING_SENSORS, false, NAN, NAN, true},
     true,
     "listening: exhaust, speed, no load, no twin, sea"},
    {{true, false, true, false, COOLING_SENSORS, false, 2.0, NAN, true},
     false,
     "lost water is watched for once it runs: exhaust every 2 s, no speed, no load, no twin, sea"},
    {{false, true, true, false, COOLING_LOAD, false, NAN, NAN, true},
     true,
     "BLIND to lost water: no exhaust temperature"},
};

static void sense_words__whatever_it_goes_by__fit_a_line_and_are_true(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char dst[COOLING_SENSE_SIZE];
        assert_string_equal(cooling_sense_words(dst, sizeof dst, &cases[i].sense,
                                                cooling_load_text(cases[i].sense.load),
                                                cases[i].running),
                            cases[i].words);
    }
}

/* A period that jitters is told as one: a board would be drawn for nothing. */
static void sense_words__a_period_that_jitters__stand_still(void **state)
{
    (void)state;
    char first[COOLING_SENSE_SIZE], then[COOLING_SENSE_SIZE];
    struct cooling_sense s = cases[0].sense;
    s.period_s = 1.9;
    cooling_sense_words(first, sizeof first, &s, "load", true);
    s.period_s = 2.1;
    assert_string_equal(cooling_sense_words(then, sizeof then, &s, "load", true), first);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sense_words__whatever_it_goes_by__fit_a_line_and_are_true),
        cmocka_unit_test(sense_words__a_period_that_jitters__stand_still),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
