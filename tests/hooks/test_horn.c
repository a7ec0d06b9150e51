/* The user's command for sound: what it is told, one at a time, and that a sound which cannot be
 * made is said, so that another is. Time is an argument; a command's end is waited for, with a
 * limit. */
#include "hooks/horn.h"

#include "support/check.h"
#include "support/program.h"

#include <poll.h>
#include <stdio.h>
#include <string.h>

#define LIMIT_MS 60000

static bool blow(struct horn *h, const char *line, int step, int64_t now_ns)
{
    struct horn_call call = {.line = line, .priority = "alarm", .step = step};
    return horn_blow(h, &call, now_ns);
}

/* Until the command has ended; whether it has just failed. */
static bool ended(struct horn *h)
{
    bool failed = false;
    while (h->running) {
        struct pollfd p = {.fd = starter_fd(h->starter), .events = POLLIN};
        assert_int_equal(poll(&p, 1, LIMIT_MS), 1);
        failed = horn_turn(h);
    }
    return failed;
}

/* What the command wrote, each word on a line of its own. */
static void assert_told(const char *file, const char *want)
{
    char got[200] = "";
    FILE *f = fopen(file, "r");
    assert_non_null(f);
    got[fread(got, 1, sizeof got - 1, f)] = '\0';
    fclose(f);
    assert_string_equal(got, want);
}

static void command__with_places_and_without__is_told_priority_and_step(void **state)
{
    (void)state;
    static const struct {
        const char *words, *want;
    } cases[] = {
        {"a {priority} b{step}c", "a\nalarm\nb3c\n"},
        {"a b", "a\nb\nalarm\n"},
        {"{step}", "3\n"},
    };
    struct horn h;
    char file[200], line[400];
    horn_init(&h);
    snprintf(file, sizeof file, "%s/told", program_scratch());
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        snprintf(line, sizeof line, "/bin/sh -c \"printf '%%s\\n' $@ > %s\" sh %s", file,
                 cases[i].words);
        assert_true(blow(&h, line, 3, 1));
        assert_false(ended(&h));
        assert_told(file, cases[i].want);
    }
    horn_fini(&h);
}

/* Nothing is started then, and the caller sounds something else. */
static void command__that_is_none__is_refused(void **state)
{
    (void)state;
    struct horn h;
    char line[600] = "/bin/true ", word[430] = "/bin/true ";
    memset(line + 10, 'a', sizeof line - 11); /* a line, and a word of one, that are too long */
    memset(word + 10, 'a', sizeof word - 11);
    const char *const lines[] = {"", "\"no end", line, word};
    horn_init(&h);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        assert_false(blow(&h, lines[i], 1, 1));
        assert_false(h.running);
        assert_int_equal(h.id, 0);
    }
    horn_fini(&h);
}

static void command__fails__the_next_call_says_so_until_one_is_good(void **state)
{
    (void)state;
    struct horn h;
    horn_init(&h);
    assert_true(blow(&h, "/bin/sh -c \"exit 3\"", 1, 1));
    assert_true(ended(&h));
    assert_false(blow(&h, "/bin/true", 1, 2)); /* it runs, and something else must sound too */
    assert_true(h.running);
    assert_false(ended(&h));
    assert_true(blow(&h, "/bin/true", 1, 3));
    assert_false(ended(&h));
    assert_true(blow(&h, "/no/such/program", 1, 4));
    assert_true(ended(&h));
    horn_fini(&h);
}

static void command__still_runs__no_second_one_until_it_is_given_up(void **state)
{
    (void)state;
    struct horn h;
    horn_init(&h);
    assert_true(blow(&h, "/bin/sleep 1000", 1, 1));
    assert_true(blow(&h, "/bin/true", 1, HORN_LONGEST_NS));
    assert_int_equal(h.id, 1);
    /* now it will not end by itself: another is started, and it counts as failed */
    assert_false(blow(&h, "/bin/true", 1, HORN_LONGEST_NS + 1));
    assert_int_equal(h.id, 2);
    assert_false(ended(&h));
    assert_true(blow(&h, "/bin/true", 1, HORN_LONGEST_NS + 2));
    assert_false(ended(&h));
    horn_fini(&h);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(command__with_places_and_without__is_told_priority_and_step),
        cmocka_unit_test(command__that_is_none__is_refused),
        cmocka_unit_test(command__fails__the_next_call_says_so_until_one_is_good),
        cmocka_unit_test(command__still_runs__no_second_one_until_it_is_given_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
