/* Hooks: real programs, waited for by the kernel and not by the clock. */
#include "support/check.h"

#include "base/text.h"
#include "hooks/hooks.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

struct bench {
    struct settings settings;
    struct hooks *hooks;
    struct alert alert;
    char dir[64], out[96];
    struct stamp now;
};

static void add(struct bench *b, const char *name, const char *run, int events, enum priority p)
{
    struct hook_setting *h = &b->settings.hooks[b->settings.hook_count++];
    *h = (struct hook_setting){.enabled = true,
                               .events = events,
                               .priority = p,
                               .time_limit_ns = 30 * NS_PER_S,
                               .at_most = 1};
    text_copy(h->name, sizeof h->name, name);
    assert_true(text_copy(h->run, sizeof h->run, run));
}

static struct bench *begin(void)
{
    struct bench *b = calloc(1, sizeof *b);
    text_copy(b->dir, sizeof b->dir, "/tmp/hooksXXXXXX");
    assert_non_null(mkdtemp(b->dir));
    text_format(b->out, sizeof b->out, "%s/out", b->dir);
    b->now = (struct stamp){1760000000 * NS_PER_S, 1000 * NS_PER_S};
    b->alert = (struct alert){.id = 7,
                              .kind = KIND_RISE,
                              .priority = PRIORITY_ALARM,
                              .state = ALERT_UNACKNOWLEDGED,
                              .rule = "exhaust",
                              .channel = "exhaust.1",
                              .value = 61.25,
                              .unit = UNIT_C,
                              .decimals = 2,
                              .text = "STARBOARD EXHAUST 61 °C; $(rm -rf /) `x` 'y' \"z\""};
    text_copy(b->settings.vessel, sizeof b->settings.vessel, "Tern Point");
    b->hooks = hooks_new(&b->settings);
    assert_non_null(b->hooks);
    return b;
}

static void end(struct bench *b)
{
    hooks_free(b->hooks);
    while (waitpid(-1, NULL, 0) > 0)
        ;
    unlink(b->out);
    rmdir(b->dir);
    free(b);
}

static void befall(struct bench *b, enum alert_event_kind e)
{
    struct alert_event ev = {.event = e, .at = b->now, .alert = &b->alert};
    hooks_event(b->hooks, &ev);
    hooks_turn(b->hooks, b->now);
}

/* Blocks until a child has ended, and lets the hooks see it. */
static void child_ends(struct bench *b)
{
    siginfo_t info;
    assert_int_equal(waitid(P_ALL, 0, &info, WEXITED | WNOWAIT), 0);
    hooks_turn(b->hooks, b->now);
}

static void read_out(const struct bench *b, char *dst, size_t cap)
{
    FILE *f = fopen(b->out, "r");
    size_t n = f ? fread(dst, 1, cap - 1, f) : 0;
    dst[n] = '\0';
    if (f)
        fclose(f);
}

static void hook__alarm_raised__gets_the_fields_and_no_shell_sees_them(void **state)
{
    (void)state;
    struct bench *b = begin();
    char run[256], got[2048];
    text_format(run, sizeof run, "/bin/sh -c \"env | grep ^STOKEHOLD_ | LC_ALL=C sort > %s\"",
                b->out);
    add(b, "note", run, HOOK_RAISED, PRIORITY_WARNING);
    setenv("STOKEHOLD_TEXT", "left over", 1);
    befall(b, EVENT_RAISED);
    unsetenv("STOKEHOLD_TEXT");
    assert_int_equal(hooks_running(b->hooks), 1);
    child_ends(b);
    assert_int_equal(hooks_running(b->hooks), 0);
    read_out(b, got, sizeof got);
    assert_string_equal(got, "STOKEHOLD_CHANNEL=exhaust.1\n"
                             "STOKEHOLD_EVENT=raised\n"
                             "STOKEHOLD_ID=7\n"
                             "STOKEHOLD_KIND=rise\n"
                             "STOKEHOLD_PRIORITY=alarm\n"
                             "STOKEHOLD_RULE=exhaust\n"
                             "STOKEHOLD_STATE=unacknowledged\n"
                             "STOKEHOLD_TEXT=STARBOARD EXHAUST 61 °C; $(rm -rf /) `x` 'y' \"z\"\n"
                             "STOKEHOLD_TIME=1760000000.000000\n"
                             "STOKEHOLD_UNIT=°C\n"
                             "STOKEHOLD_VALUE=61.25\n"
                             "STOKEHOLD_VESSEL=Tern Point\n");
    struct bus_condition c;
    assert_false(hooks_condition(b->hooks, &c));
    end(b);
}

static void hook__other_events_priorities_and_rules__are_left_alone(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "a", "/bin/true", HOOK_RAISED, PRIORITY_EMERGENCY);
    add(b, "b", "/bin/true", HOOK_RECTIFIED, PRIORITY_CAUTION);
    add(b, "c", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
    text_copy(b->settings.hooks[2].rule, sizeof b->settings.hooks[2].rule, "other");
    add(b, "d", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
    b->settings.hooks[3].enabled = false;
    befall(b, EVENT_RAISED);
    befall(b, EVENT_UPDATED);
    befall(b, EVENT_SILENCED);
    assert_int_equal(hooks_running(b->hooks), 0);
    assert_int_equal(hooks_wait_ms(b->hooks), -1);
    befall(b, EVENT_RECTIFIED);
    assert_int_equal(hooks_running(b->hooks), 1);
    child_ends(b);
    end(b);
}

static void hook__fails__is_a_caution_until_it_works(void **state)
{
    (void)state;
    struct bench *b = begin();
    struct bus_condition c;
    char run[256];
    text_format(run, sizeof run, "/usr/bin/test -e %s", b->out);
    add(b, "horn", run, HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    child_ends(b);
    assert_true(hooks_condition(b->hooks, &c));
    assert_true(c.stands);
    assert_int_equal(c.priority, PRIORITY_CAUTION);
    assert_string_equal(c.text, "hook horn failed: exit status 1");
    /* The caution about a hook runs no hook. */
    struct alert about = {.kind = KIND_BUS, .priority = PRIORITY_CAUTION};
    about.situation = (struct situation){.group = SITUATION_BUS, .code = c.code};
    struct alert_event ev = {.event = EVENT_RAISED, .at = b->now, .alert = &about};
    hooks_event(b->hooks, &ev);
    assert_int_equal(hooks_wait_ms(b->hooks), -1);
    FILE *f = fopen(b->out, "w");
    fclose(f);
    befall(b, EVENT_RAISED);
    child_ends(b);
    assert_true(hooks_condition(b->hooks, &c));
    assert_false(c.stands);
    end(b);
}

static void hook__program_not_there__is_said(void **state)
{
    (void)state;
    struct bench *b = begin();
    struct bus_condition c;
    add(b, "gone", "/no/such/program", HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    assert_int_equal(hooks_running(b->hooks), 0);
    assert_true(hooks_condition(b->hooks, &c));
    assert_string_equal(c.text, "hook gone cannot be run: No such file or directory");
    end(b);
}

static void hook__longer_than_its_limit__is_killed_with_its_children(void **state)
{
    (void)state;
    struct bench *b = begin();
    struct bus_condition c;
    add(b, "slow", "/bin/sh -c \"sleep 1000 & wait\"", HOOK_RAISED, PRIORITY_CAUTION);
    b->settings.hooks[0].time_limit_ns = 5 * NS_PER_S;
    befall(b, EVENT_RAISED);
    b->now.mono_ns += 5 * NS_PER_S - 1;
    hooks_turn(b->hooks, b->now);
    assert_int_equal(hooks_running(b->hooks), 1);
    b->now.mono_ns += 1;
    hooks_turn(b->hooks, b->now);
    child_ends(b);
    assert_int_equal(hooks_running(b->hooks), 0);
    assert_true(hooks_condition(b->hooks, &c));
    assert_string_equal(c.text, "hook slow took longer than its time limit and was killed");
    end(b);
}

static void hook__deaf_to_the_request_to_end__is_killed_for_good(void **state)
{
    (void)state;
    struct bench *b = begin();
    char run[256];
    text_format(run, sizeof run, "/bin/sh -c \"trap '' TERM; echo x > %s; while :; do :; done\"",
                b->out);
    add(b, "deaf", run, HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    char got[8] = "";
    while (got[0] == '\0') /* until the trap is set */
        read_out(b, got, sizeof got);
    b->now.mono_ns += 30 * NS_PER_S;
    hooks_turn(b->hooks, b->now);
    b->now.mono_ns += HOOKS_KILL_NS;
    hooks_turn(b->hooks, b->now);
    child_ends(b);
    assert_int_equal(hooks_running(b->hooks), 0);
    end(b);
}

static void hook__at_most_one__the_next_waits_its_turn(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "one", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
    for (int i = 0; i < 3; i++)
        befall(b, EVENT_RAISED);
    for (int i = 0; i < 3; i++) {
        assert_true(hooks_running(b->hooks) <= 1);
        assert_true(hooks_wait_ms(b->hooks) > 0);
        child_ends(b); /* and the next is begun */
        if (hooks_wait_ms(b->hooks) < 0)
            break; /* it was so quick that two had ended meanwhile */
    }
    assert_int_equal(hooks_running(b->hooks), 0);
    assert_int_equal(hooks_wait_ms(b->hooks), -1);
    end(b);
}

static void hook__more_than_can_wait__oldest_is_dropped_and_said(void **state)
{
    (void)state;
    struct bench *b = begin();
    struct bus_condition c;
    add(b, "one", "/bin/sleep 1000", HOOK_RAISED, PRIORITY_CAUTION);
    for (int i = 0; i < HOOKS_WAITING_MAX + 2; i++)
        befall(b, EVENT_RAISED); /* one runs, all others wait */
    assert_int_equal(hooks_running(b->hooks), 1);
    assert_true(hooks_condition(b->hooks, &c));
    assert_non_null(strstr(c.text, "too many runs waiting"));
    end(b);
}

static void hook__reconfigured_away__what_waits_is_forgotten(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "a", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    befall(b, EVENT_RAISED);
    struct settings other = {.hook_count = 0};
    hooks_reconfigure(b->hooks, &other);
    while (hooks_running(b->hooks) > 0)
        child_ends(b);
    assert_int_equal(hooks_wait_ms(b->hooks), -1);
    end(b);
}

static void split__quotes_and_blanks__give_words(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        int n;
        const char *words[4];
    } rows[] = {
        {"", 0, {0}},
        {"   ", 0, {0}},
        {"/bin/a", 1, {"/bin/a"}},
        {"  /bin/a  b\tc ", 3, {"/bin/a", "b", "c"}},
        {"/a \"b  c\" d", 3, {"/a", "b  c", "d"}},
        {"/a \"\" x\"y z\"w", 3, {"/a", "", "xy zw"}},
        {"/a \"open", 0, {0}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char buf[64], *argv[HOOKS_WORDS_MAX];
        int n = hooks_split(rows[i].line, buf, sizeof buf, argv, HOOKS_WORDS_MAX);
        assert_int_equal(n, rows[i].n);
        for (int k = 0; k < n; k++)
            assert_string_equal(argv[k], rows[i].words[k]);
    }
    char small[4], *argv[3];
    assert_int_equal(hooks_split("abcdef", small, sizeof small, argv, 3), 0);
    assert_int_equal(hooks_split("a b c", small, sizeof small, argv, 3), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hook__alarm_raised__gets_the_fields_and_no_shell_sees_them),
        cmocka_unit_test(hook__other_events_priorities_and_rules__are_left_alone),
        cmocka_unit_test(hook__fails__is_a_caution_until_it_works),
        cmocka_unit_test(hook__program_not_there__is_said),
        cmocka_unit_test(hook__longer_than_its_limit__is_killed_with_its_children),
        cmocka_unit_test(hook__deaf_to_the_request_to_end__is_killed_for_good),
        cmocka_unit_test(hook__at_most_one__the_next_waits_its_turn),
        cmocka_unit_test(hook__more_than_can_wait__oldest_is_dropped_and_said),
        cmocka_unit_test(hook__reconfigured_away__what_waits_is_forgotten),
        cmocka_unit_test(split__quotes_and_blanks__give_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
