/* [hook] sections: read, checked, printed back. */
#include "conf.h"

#include <stdio.h>
#include <stdlib.h>

static void hook__all_keys__are_read(void **state)
{
    (void)state;
    struct settings *s = conf_good("[hook horn]\n"
                                   "run = /usr/bin/horn \"two words\"\n"
                                   "when = acknowledged ,rectified\n"
                                   "priority = emergency alarm\n"
                                   "rule = exhaust-hot\n"
                                   "time limit = 5 s\n"
                                   "at most = 3\n");
    assert_int_equal(s->hook_count, 1);
    const struct hook_setting *h = &s->hooks[0];
    assert_string_equal(h->name, "horn");
    assert_true(h->enabled);
    assert_string_equal(h->run, "/usr/bin/horn \"two words\"");
    assert_int_equal(h->events, HOOK_ACKNOWLEDGED | HOOK_RECTIFIED);
    assert_int_equal(h->priority, PRIORITY_EMERGENCY);
    assert_string_equal(h->rule, "exhaust-hot");
    assert_true(h->time_limit_ns == 5000000000);
    assert_int_equal(h->at_most, 3);
    settings_free(s);
}

static void hook__program_alone__alarms_when_raised_or_escalated(void **state)
{
    (void)state;
    struct settings *s = conf_good("[hook a]\nrun = /bin/true\n");
    assert_int_equal(s->hooks[0].events, HOOK_RAISED | HOOK_ESCALATED);
    assert_int_equal(s->hooks[0].priority, PRIORITY_ALARM);
    assert_int_equal(s->hooks[0].at_most, 1);
    settings_free(s);
    s = conf_good("");
    assert_int_equal(s->hook_count, 0); /* nothing is run that nobody asked for */
    settings_free(s);
}

static void hook__mistakes__are_said(void **state)
{
    (void)state;
    assert_says("[hook a]\n"
                "when = raised, exploded\n"
                "[hook b]\n"
                "run = horn\n"
                "rule = no-such\n",
                "t.conf:1: [hook a] run: is missing: the program to run",
                "t.conf:2: [hook a] when: unknown word 'exploded' (known: raised, escalated, "
                "acknowledged, rectified)",
                "t.conf:4: [hook b] run: give the program's whole path, beginning with /",
                "t.conf:5: [hook b] rule: no rule is called 'no-such'");
}

static void hook__printed__reads_back_the_same(void **state)
{
    (void)state;
    struct settings *s = conf_good("[hook a]\nrun = /bin/echo \"a b\" c\nwhen = raised, rectified\n"
                                   "priority = warning\ntime limit = 2 min\n");
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    assert_non_null(out);
    config_print(s, out);
    fclose(out);
    struct settings *again = conf_good(text);
    assert_int_equal(again->hook_count, 1);
    again->hooks[0].at = s->hooks[0].at;
    assert_string_equal(again->hooks[0].run, s->hooks[0].run);
    assert_int_equal(again->hooks[0].events, s->hooks[0].events);
    assert_true(again->hooks[0].time_limit_ns == s->hooks[0].time_limit_ns);
    free(text);
    settings_free(again);
    settings_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hook__all_keys__are_read),
        cmocka_unit_test(hook__program_alone__alarms_when_raised_or_escalated),
        cmocka_unit_test(hook__mistakes__are_said),
        cmocka_unit_test(hook__printed__reads_back_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
