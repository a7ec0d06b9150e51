/* Hooks: real programs, run by the starter and waited for by its socket and not by the clock. */
#include "support/check.h"

#include "base/text.h"
#include "hooks/calm.h"
#include "hooks/hooks.h"
#include "hooks/starter.h"
#include "support/program.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#define LIMIT_MS 60000

struct bench {
    struct settings settings;
    char lines[1000]; /* that hooks wrote */
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

static void on_line(void *ctx, const char *hook, const char *line)
{
    struct bench *b = ctx;
    text_append(b->lines, sizeof b->lines, "%s|%s\n", hook, line);
}

static struct bench *begin(void)
{
    struct bench *b = calloc(1, sizeof *b);
    text_copy(b->dir, sizeof b->dir, program_folder());
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
                              .stage = STAGE_BEYOND,
                              .worst = 97.5,
                              .worst_at = {1759999990 * NS_PER_S, 990 * NS_PER_S},
                              .limit_passed = {1759999980 * NS_PER_S, 980 * NS_PER_S},
                              .beyond_ns = 20 * NS_PER_S,
                              .situation = {.group = SITUATION_COOLING, .id = {.place = 1}},
                              .text = "STARBOARD EXHAUST 61 °C; $(rm -rf /) `x` 'y' \"z\""};
    text_copy(b->settings.vessel, sizeof b->settings.vessel, "Tern Point");
    b->hooks = hooks_new(&b->settings);
    assert_non_null(b->hooks);
    hooks_listen(b->hooks, on_line, b);
    return b;
}

static void end(struct bench *b)
{
    hooks_free(b->hooks);
    free(b);
}

static void befall(struct bench *b, enum alert_event_kind e)
{
    struct alert_event ev = {.event = e, .at = b->now, .alert = &b->alert};
    hooks_event(b->hooks, &ev);
    hooks_turn(b->hooks, b->now);
}

/* Waits until something comes from the starter, and lets the hooks see it. */
static void something_comes(struct bench *b)
{
    struct pollfd p = {.fd = hooks_fd(b->hooks), .events = POLLIN};
    if (poll(&p, 1, LIMIT_MS) != 1)
        fail_msg("nothing came of a hook");
    hooks_turn(b->hooks, b->now);
}

/* Until fewer run than now. */
static void child_ends(struct bench *b)
{
    struct hook_stats before[2], after[2];
    for (int i = 0; i < 2; i++)
        hooks_stats(b->hooks, (size_t)i, &before[i]);
    int running = hooks_running(b->hooks);
    do {
        something_comes(b);
        for (int i = 0; i < 2; i++)
            hooks_stats(b->hooks, (size_t)i, &after[i]);
    } while (hooks_running(b->hooks) == running && after[0].runs == before[0].runs &&
             after[1].runs == before[1].runs);
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
    setenv("STOKEHOLD_TEXT", "left over", 1);
    struct bench *b = begin();
    unsetenv("STOKEHOLD_TEXT");
    char run[256], got[2048];
    text_format(run, sizeof run, "/bin/sh -c \"env | grep ^STOKEHOLD_ | LC_ALL=C sort > %s\"",
                b->out);
    add(b, "note", run, HOOK_RAISED, PRIORITY_WARNING);
    befall(b, EVENT_RAISED);
    assert_int_equal(hooks_running(b->hooks), 1);
    child_ends(b);
    assert_int_equal(hooks_running(b->hooks), 0);
    read_out(b, got, sizeof got);
    assert_string_equal(got, "STOKEHOLD_ATTEMPT=1\n"
                             "STOKEHOLD_BEYOND_SECONDS=20.0\n"
                             "STOKEHOLD_CHANNEL=exhaust.1\n"
                             "STOKEHOLD_EVENT=raised\n"
                             "STOKEHOLD_ID=7\n"
                             "STOKEHOLD_KIND=rise\n"
                             "STOKEHOLD_LIMIT_PASSED=1759999980.000000\n"
                             "STOKEHOLD_PRIORITY=alarm\n"
                             "STOKEHOLD_RULE=exhaust\n"
                             "STOKEHOLD_STAGE=beyond\n"
                             "STOKEHOLD_STATE=unacknowledged\n"
                             "STOKEHOLD_TEST=\n"
                             "STOKEHOLD_TEXT=STARBOARD EXHAUST 61 °C; $(rm -rf /) `x` 'y' \"z\"\n"
                             "STOKEHOLD_TIME=1760000000.000000\n"
                             "STOKEHOLD_TIMES=1\n"
                             "STOKEHOLD_UNIT=°C\n"
                             "STOKEHOLD_VALUE=61.25\n"
                             "STOKEHOLD_VESSEL=Tern Point\n"
                             "STOKEHOLD_WORST=97.50\n"
                             "STOKEHOLD_WORST_TIME=1759999990.000000\n");
    struct bus_condition c;
    assert_false(hooks_condition(b->hooks, &c));
    end(b);
}

/* What is nowhere known is empty, never nought. */
static void hook__alert_without_figures__leaves_their_variables_empty(void **state)
{
    (void)state;
    struct bench *b = begin();
    char run[256], got[2048];
    b->alert.value = b->alert.worst = NAN;
    b->alert.limit_passed = (struct stamp){0};
    text_format(run, sizeof run, "/bin/sh -c \"env | grep ^STOKEHOLD_ > %s\"", b->out);
    add(b, "note", run, HOOK_RAISED, PRIORITY_WARNING);
    befall(b, EVENT_RAISED);
    child_ends(b);
    read_out(b, got, sizeof got);
    static const char *const names[] = {"VALUE",      "UNIT",         "WORST",
                                        "WORST_TIME", "LIMIT_PASSED", "BEYOND_SECONDS"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char line[64];
        text_format(line, sizeof line, "STOKEHOLD_%s=\n", names[i]);
        if (!strstr(got, line))
            fail_msg("%s is not empty in\n%s", names[i], got);
    }
    end(b);
}

static uint64_t runs_of(const struct bench *b)
{
    struct hook_stats st;
    hooks_stats(b->hooks, 0, &st);
    return st.runs;
}

static void befall_at(struct bench *b, int seconds, enum alert_event_kind e, uint32_t repeats)
{
    b->now.mono_ns = (1000 + seconds) * NS_PER_S;
    b->now.wall_ns = (1760000000 + seconds) * NS_PER_S;
    b->alert.repeats = repeats;
    hooks_turn(b->hooks, b->now); /* the turns go on meanwhile */
    befall(b, e);
    while (hooks_running(b->hooks) > 0)
        something_comes(b);
}

/* A loose plug: away and back each two seconds for a minute and more. */
static void hook__plug_is_loose__runs_once_in_the_time(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "message", "/bin/true", HOOK_RAISED | HOOK_ESCALATED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    for (int i = 0; i < 30; i++) {
        befall_at(b, 2 * i, EVENT_RAISED, (uint32_t)i);
        befall_at(b, 2 * i + 1, EVENT_RECTIFIED, (uint32_t)i);
    }
    assert_int_equal(runs_of(b), 1);
    befall_at(b, 61, EVENT_RAISED, 30); /* the time is over: once more */
    assert_int_equal(runs_of(b), 2);
    b->alert.situation.id.place = 0; /* another engine's is news */
    befall_at(b, 62, EVENT_RAISED, 0);
    assert_int_equal(runs_of(b), 3);
    end(b);
}

static void hook__flapping_grows_worse__is_told_at_once(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "message", "/bin/true", HOOK_RAISED | HOOK_ESCALATED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    b->alert.priority = PRIORITY_WARNING;
    befall_at(b, 0, EVENT_RAISED, 0);
    befall_at(b, 4, EVENT_RAISED, 1);
    assert_int_equal(runs_of(b), 1);
    b->alert.priority = PRIORITY_ALARM;
    befall_at(b, 5, EVENT_ESCALATED, 1);
    assert_int_equal(runs_of(b), 2);
    befall_at(b, 9, EVENT_ESCALATED, 2); /* that was told */
    assert_int_equal(runs_of(b), 2);
    end(b);
}

/* A relay must not be left in a state that is no longer so, and must not be switched each second.
 */
static void hook__end_of_what_flaps__is_held_and_taken_back(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "relay", "/bin/true", HOOK_RAISED | HOOK_RECTIFIED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    befall_at(b, 0, EVENT_RAISED, 0);
    befall_at(b, 2, EVENT_RECTIFIED, 0);
    befall_at(b, 4, EVENT_RAISED, 1);
    befall_at(b, 6, EVENT_RECTIFIED, 1);
    befall_at(b, 8, EVENT_RAISED, 2);
    befall_at(b, 10, EVENT_RECTIFIED, 2);
    assert_int_equal(runs_of(b), 1);
    b->now.mono_ns = 1060 * NS_PER_S - 1;
    hooks_turn(b->hooks, b->now);
    assert_int_equal(runs_of(b), 1);
    b->now.mono_ns = 1060 * NS_PER_S;
    hooks_turn(b->hooks, b->now);
    assert_int_equal(runs_of(b), 2); /* it stayed away */
    end(b);
}

/* Back before the time is over, and there it stays: no end is told, now or later. */
static void hook__end_that_was_none__is_never_told(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "relay", "/bin/true", HOOK_RAISED | HOOK_RECTIFIED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    befall_at(b, 0, EVENT_RAISED, 0);
    befall_at(b, 2, EVENT_RECTIFIED, 0);
    befall_at(b, 4, EVENT_RAISED, 1);
    b->now.mono_ns = 1200 * NS_PER_S;
    hooks_turn(b->hooks, b->now);
    assert_int_equal(runs_of(b), 1);
    assert_false(hooks_busy(b->hooks));
    end(b);
}

/* At the end of a log nothing can come back. */
static void hook__held_end_when_a_log_has_ended__runs_at_once(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "relay", "/bin/true", HOOK_RAISED | HOOK_RECTIFIED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    befall_at(b, 0, EVENT_RAISED, 0);
    befall_at(b, 2, EVENT_RECTIFIED, 0);
    assert_true(hooks_busy(b->hooks));
    assert_int_equal(runs_of(b), 1);
    hooks_last_was_said(b->hooks);
    hooks_turn(b->hooks, b->now);
    assert_int_equal(runs_of(b), 2);
    end(b);
}

/* What lasted longer than that time has truly ended; and who tries the chain waits for its end. */
static void hook__end_after_the_time_or_of_a_trial__is_told_at_once(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "relay", "/bin/true", HOOK_RAISED | HOOK_RECTIFIED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    befall_at(b, 0, EVENT_RAISED, 0);
    befall_at(b, 60, EVENT_RECTIFIED, 0);
    assert_int_equal(runs_of(b), 2);
    text_copy(b->alert.rule, sizeof b->alert.rule, ALERT_TRIAL_RULE);
    b->alert.situation.id.place = 0;
    befall_at(b, 100, EVENT_RAISED, 0);
    befall_at(b, 110, EVENT_RECTIFIED, 0);
    assert_int_equal(runs_of(b), 4);
    end(b);
}

/* Who switched the horn off must hear it when the same thing is back. */
static void hook__back_after_acknowledging__is_told_again(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "horn", "/bin/true", HOOK_RAISED | HOOK_ACKNOWLEDGED, PRIORITY_WARNING);
    b->settings.hooks[0].not_again_ns = 60 * NS_PER_S;
    befall_at(b, 0, EVENT_RAISED, 0);
    befall_at(b, 2, EVENT_ACKNOWLEDGED, 0);
    befall_at(b, 5, EVENT_RAISED, 1);
    assert_int_equal(runs_of(b), 3);
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

/* Until the next is due, in whole milliseconds that never end before it; at least one, at most a
 * second. */
static void wait__until_the_next_is_due(void **state)
{
    static const struct {
        int64_t due_ns; /* from now */
        int ms;
    } rows[] = {{-5 * NS_PER_MS, 1},
                {0, 1},
                {1, 1},
                {NS_PER_MS, 1},
                {NS_PER_MS + 1, 2},
                {998 * NS_PER_MS + 1, 999},
                {NS_PER_S, 1000},
                {NS_PER_S + 1, 1000},
                {3600 * NS_PER_S, 1000}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct bench *b = begin();
        add(b, "one", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
        add(b, "two", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
        hooks_turn(b->hooks, b->now);
        struct hook_run run = {
            .event = EVENT_RAISED, .attempts = 1, .at = b->now, .alert = b->alert};
        run.due_ns = b->now.mono_ns + 7200 * NS_PER_S;
        assert_true(hooks_restore(b->hooks, "two", &run));
        run.due_ns = b->now.mono_ns + rows[i].due_ns;
        assert_true(hooks_restore(b->hooks, "one", &run));
        assert_false(hooks_restore(b->hooks, "three", &run));
        assert_int_equal(hooks_wait_ms(b->hooks), rows[i].ms);
        end(b);
    }
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
    struct alert about = {.kind = KIND_SELF, .priority = PRIORITY_CAUTION};
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
    child_ends(b);
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

/* What a hook reads is nothing, not what the watch reads. */
static void hook__standard_input__is_empty(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "asks", "/bin/readlink /proc/self/fd/0", HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    child_ends(b);
    assert_string_equal(b->lines, "asks|/dev/null\n");
    end(b);
}

/* What a hook is told of an alert that comes and goes within a minute of what it was told before.
 */
static void calm__each_answer(void **state)
{
    static const struct {
        enum alert_event_kind first, event;
        enum priority priority; /* the first was a warning */
        uint32_t repeats;
        int place, hook;
        int64_t after_ns;
        enum calm_answer answer;
    } rows[] = {
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_WARNING, 1, 0, 0, 60 * NS_PER_S - 1, CALM_DROP},
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_WARNING, 1, 0, 0, 60 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_CAUTION, 1, 0, 0, 5 * NS_PER_S, CALM_DROP},
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_ALARM, 1, 0, 0, 5 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_WARNING, 0, 0, 0, 5 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_ESCALATED, PRIORITY_WARNING, 1, 0, 0, 5 * NS_PER_S, CALM_DROP},
        {EVENT_ESCALATED, EVENT_RAISED, PRIORITY_WARNING, 2, 0, 0, 5 * NS_PER_S, CALM_DROP},
        {EVENT_RECTIFIED, EVENT_RAISED, PRIORITY_WARNING, 1, 0, 0, 5 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_ACKNOWLEDGED, PRIORITY_WARNING, 1, 0, 0, 5 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_RECTIFIED, PRIORITY_WARNING, 0, 0, 0, 60 * NS_PER_S - 1, CALM_HOLD},
        {EVENT_RAISED, EVENT_RECTIFIED, PRIORITY_WARNING, 0, 0, 0, 60 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_RECTIFIED, PRIORITY_WARNING, 0, 1, 0, 5 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_WARNING, 1, 1, 0, 5 * NS_PER_S, CALM_RUN},
        {EVENT_RAISED, EVENT_RAISED, PRIORITY_WARNING, 1, 0, 1, 5 * NS_PER_S, CALM_RUN},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct calm c = {0};
        int64_t due_ns = -1;
        struct alert a = {.priority = PRIORITY_WARNING,
                          .situation = {.group = SITUATION_CHANNEL, .id = {QTY_EXHAUST, 0, 0}}};
        struct alert_event ev = {.event = rows[i].first, .alert = &a};
        assert_int_equal(calm_ask(&c, 0, &ev, 60 * NS_PER_S, 1000 * NS_PER_S, &due_ns), CALM_RUN);
        assert_true(due_ns == 0);
        a.priority = rows[i].priority;
        a.repeats = rows[i].repeats;
        a.situation.id.place = (uint8_t)rows[i].place;
        ev.event = rows[i].event;
        enum calm_answer answer = calm_ask(&c, rows[i].hook, &ev, 60 * NS_PER_S,
                                           1000 * NS_PER_S + rows[i].after_ns, &due_ns);
        if (answer != rows[i].answer)
            fail_msg("row %zu: %d", i, (int)answer);
        if (answer == CALM_HOLD)
            assert_true(due_ns == 1060 * NS_PER_S);
    }
}

/* As many as can be kept; the oldest gives way. */
static void calm__full__the_oldest_is_forgotten(void **state)
{
    (void)state;
    for (int over = 0; over < 2; over++) {
        struct calm c = {0};
        int64_t due_ns;
        struct alert a = {.priority = PRIORITY_WARNING, .repeats = 1};
        struct alert_event ev = {.event = EVENT_RAISED, .alert = &a};
        for (int i = 0; i < CALM_MAX + over; i++) {
            a.situation.code = (uint32_t)i;
            assert_int_equal(calm_ask(&c, 0, &ev, 3600 * NS_PER_S, (1000 + i) * NS_PER_S, &due_ns),
                             CALM_RUN);
        }
        a.situation.code = 1; /* the second is known still */
        assert_int_equal(calm_ask(&c, 0, &ev, 3600 * NS_PER_S, 2000 * NS_PER_S, &due_ns),
                         CALM_DROP);
        a.situation.code = 0;
        assert_int_equal(calm_ask(&c, 0, &ev, 3600 * NS_PER_S, 2000 * NS_PER_S, &due_ns),
                         over ? CALM_RUN : CALM_DROP);
    }
}

static void hook__at_most_one__the_next_waits_its_turn(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "one", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
    for (int i = 0; i < 3; i++)
        befall(b, EVENT_RAISED);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(hooks_running(b->hooks), 1);
        assert_true(hooks_busy(b->hooks));
        child_ends(b); /* and the next is begun */
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

static const struct hook_run *only_failed(const struct bench *b)
{
    const struct hook_run *r = hooks_failed(b->hooks, 0);
    assert_non_null(r);
    assert_null(hooks_failed(b->hooks, 1));
    return r;
}

/* A message while the network is away: again after 5 s, 10 s, 20 s ..., for an hour. */
static void hook__fails__is_tried_again_after_a_longer_wait_each_time(void **state)
{
    (void)state;
    struct bench *b = begin();
    char run[256], got[64];
    text_format(run, sizeof run, "/bin/sh -c \"echo $STOKEHOLD_ATTEMPT >> %s; exit 1\"", b->out);
    add(b, "message", run, HOOK_RAISED, PRIORITY_CAUTION);
    b->settings.hooks[0].again_ns = 100 * NS_PER_S;
    befall(b, EVENT_RAISED);
    child_ends(b);
    static const int waits_s[] = {5, 10, 20, 40};
    for (size_t i = 0; i < sizeof waits_s / sizeof *waits_s; i++) {
        assert_int_equal(only_failed(b)->attempts, i + 1);
        assert_false(hooks_busy(b->hooks)); /* a log that has ended does not wait for it */
        b->now.mono_ns += waits_s[i] * NS_PER_S - 1;
        hooks_turn(b->hooks, b->now);
        assert_int_equal(hooks_running(b->hooks), 0);
        b->now.mono_ns += 1;
        hooks_turn(b->hooks, b->now);
        assert_int_equal(hooks_running(b->hooks), 1);
        child_ends(b);
    }
    assert_null(hooks_failed(b->hooks, 0)); /* the next would come after its 100 s */
    read_out(b, got, sizeof got);
    assert_string_equal(got, "1\n2\n3\n4\n5\n");
    struct hook_stats st;
    hooks_stats(b->hooks, 0, &st);
    assert_int_equal(st.runs, 5);
    assert_int_equal(st.failures, 5);
    assert_int_equal(st.good_wall_ns, 0);
    assert_true(st.failed);
    end(b);
}

static void hook__works_at_the_second_attempt__is_not_tried_again(void **state)
{
    (void)state;
    struct bench *b = begin();
    struct hook_stats st;
    char run[256];
    text_format(run, sizeof run, "/usr/bin/test -e %s", b->out);
    add(b, "message", run, HOOK_RAISED, PRIORITY_CAUTION);
    b->settings.hooks[0].again_ns = 3600 * NS_PER_S;
    befall(b, EVENT_RAISED);
    child_ends(b);
    fclose(fopen(b->out, "w"));
    b->now.mono_ns += HOOKS_AGAIN_NS;
    hooks_turn(b->hooks, b->now);
    child_ends(b);
    assert_null(hooks_failed(b->hooks, 0));
    hooks_stats(b->hooks, 0, &st);
    assert_false(st.failed);
    assert_int_equal(st.runs, 2);
    assert_true(st.good_wall_ns == b->now.wall_ns);
    end(b);
}

/* A message that cannot be sent must not stand in the way of the next alarm's. */
static void hook__failed_one_waits__a_new_one_runs_at_once(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "message", "/bin/false", HOOK_RAISED, PRIORITY_CAUTION);
    b->settings.hooks[0].again_ns = 3600 * NS_PER_S;
    befall(b, EVENT_RAISED);
    child_ends(b);
    assert_int_equal(only_failed(b)->attempts, 1);
    befall(b, EVENT_RAISED);
    assert_int_equal(hooks_running(b->hooks), 1);
    end(b);
}

static void hook__writes__whole_lines_come_back_the_last_one_too(void **state)
{
    (void)state;
    struct bench *b = begin();
    add(b, "talk", "/bin/sh -c \"printf 'one\\n<1>t\\033wo\\nand no end'; echo err >&2\"",
        HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    child_ends(b);
    assert_string_equal(b->lines, "talk|one\ntalk|<1>t?wo\ntalk|and no enderr\n");
    end(b);
}

/* Somebody kills the helper process: what ran is lost and said, and the next runs all the same. */
static void hook__helper_process_killed__said_and_another_takes_its_place(void **state)
{
    (void)state;
    struct bench *b = begin();
    struct bus_condition c;
    char run[256];
    int first;
    text_format(run, sizeof run, "/bin/sh -c \"echo $PPID > %s\"", b->out);
    add(b, "who", run, HOOK_RAISED, PRIORITY_CAUTION);
    /* ends by itself soon after the helper process, since nobody is left to end it */
    add(b, "slow", "/bin/sh -c \"exec tail --pid=$PPID -f /dev/null\"", HOOK_RECTIFIED,
        PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    child_ends(b);
    char got[32];
    read_out(b, got, sizeof got);
    assert_int_equal(sscanf(got, "%d", &first), 1);
    assert_true(first > 1);
    befall(b, EVENT_RECTIFIED);
    assert_int_equal(hooks_running(b->hooks), 1);
    kill(first, SIGKILL);
    child_ends(b);
    assert_int_equal(hooks_running(b->hooks), 0);
    assert_true(hooks_condition(b->hooks, &c));
    assert_string_equal(c.text, "hook slow was ended by signal 9");
    befall(b, EVENT_RAISED);
    child_ends(b);
    struct hook_stats st;
    hooks_stats(b->hooks, 0, &st);
    assert_false(st.failed);
    assert_int_equal(st.runs, 2);
    end(b);
}

/* Starting a program reads the disk, which may stand still: no other waits for it. Here a program
 * on a pipe that nobody writes to stands for one that cannot be read. */
static void hook__one_hangs_before_its_first_byte__others_run(void **state)
{
    (void)state;
    struct bench *b = begin();
    char path[128], run[256];
    text_format(path, sizeof path, "%s/fifo", b->dir);
    assert_int_equal(mkfifo(path, 0700), 0);
    text_format(run, sizeof run, "/bin/sh %s", path);
    add(b, "hangs", run, HOOK_RAISED, PRIORITY_CAUTION);
    add(b, "runs", "/bin/true", HOOK_RAISED, PRIORITY_CAUTION);
    befall(b, EVENT_RAISED);
    assert_int_equal(hooks_running(b->hooks), 2);
    child_ends(b);
    struct hook_stats st;
    hooks_stats(b->hooks, 1, &st);
    assert_true(st.good_wall_ns > 0);
    assert_int_equal(hooks_running(b->hooks), 1);
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

/* "ab c" takes five bytes with the ends of its words, and three places with the end of the list. */
static void split__room_to_the_last_byte__and_no_more(void **state)
{
    (void)state;
    char buf[16], *argv[4];
    for (size_t cap = 0; cap < 8; cap++)
        assert_int_equal(hooks_split("ab c", buf, cap, argv, 3), cap >= 5 ? 2 : 0);
    for (int max = 1; max < 5; max++)
        assert_int_equal(hooks_split("ab c", buf, sizeof buf, argv, max), max >= 3 ? 2 : 0);
    assert_string_equal(argv[0], "ab");
    assert_string_equal(argv[1], "c");
    assert_null(argv[2]);
    assert_ptr_equal(argv[0], buf);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hook__end_that_was_none__is_never_told),
        cmocka_unit_test(calm__each_answer),
        cmocka_unit_test(calm__full__the_oldest_is_forgotten),
        cmocka_unit_test(hook__standard_input__is_empty),
        cmocka_unit_test(wait__until_the_next_is_due),
        cmocka_unit_test(hook__alarm_raised__gets_the_fields_and_no_shell_sees_them),
        cmocka_unit_test(hook__alert_without_figures__leaves_their_variables_empty),
        cmocka_unit_test(hook__plug_is_loose__runs_once_in_the_time),
        cmocka_unit_test(hook__flapping_grows_worse__is_told_at_once),
        cmocka_unit_test(hook__end_of_what_flaps__is_held_and_taken_back),
        cmocka_unit_test(hook__held_end_when_a_log_has_ended__runs_at_once),
        cmocka_unit_test(hook__end_after_the_time_or_of_a_trial__is_told_at_once),
        cmocka_unit_test(hook__back_after_acknowledging__is_told_again),
        cmocka_unit_test(hook__other_events_priorities_and_rules__are_left_alone),
        cmocka_unit_test(hook__fails__is_a_caution_until_it_works),
        cmocka_unit_test(hook__program_not_there__is_said),
        cmocka_unit_test(hook__longer_than_its_limit__is_killed_with_its_children),
        cmocka_unit_test(hook__deaf_to_the_request_to_end__is_killed_for_good),
        cmocka_unit_test(hook__at_most_one__the_next_waits_its_turn),
        cmocka_unit_test(hook__more_than_can_wait__oldest_is_dropped_and_said),
        cmocka_unit_test(hook__reconfigured_away__what_waits_is_forgotten),
        cmocka_unit_test(hook__fails__is_tried_again_after_a_longer_wait_each_time),
        cmocka_unit_test(hook__works_at_the_second_attempt__is_not_tried_again),
        cmocka_unit_test(hook__failed_one_waits__a_new_one_runs_at_once),
        cmocka_unit_test(hook__writes__whole_lines_come_back_the_last_one_too),
        cmocka_unit_test(hook__helper_process_killed__said_and_another_takes_its_place),
        cmocka_unit_test(hook__one_hangs_before_its_first_byte__others_run),
        cmocka_unit_test(split__quotes_and_blanks__give_words),
        cmocka_unit_test(split__room_to_the_last_byte__and_no_more),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
