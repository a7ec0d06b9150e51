/* Sound: patterns of the bell, and the user's command. */
#include "hooks/horn.h"
#include "support/check.h"
#include "support/program.h"
#include "session/sound.h"

#include <poll.h>
#include <stdio.h>

#define S NS_PER_S

static void sound_strokes__patterns__differ_by_priority(void **state)
{
    (void)state;
    assert_int_equal(sound_strokes(SOUND_NONE, false, 10 * S), 0);
    /* A warning sounds once. */
    assert_int_equal(sound_strokes(SOUND_WARNING, false, 0), 1);
    assert_int_equal(sound_strokes(SOUND_WARNING, false, 100 * S), 1);
    /* An alarm in twos, every two seconds. */
    assert_int_equal(sound_strokes(SOUND_ALARM, false, 0), 1);
    assert_int_equal(sound_strokes(SOUND_ALARM, false, S / 4), 2);
    assert_int_equal(sound_strokes(SOUND_ALARM, false, 2 * S - 1), 2);
    assert_int_equal(sound_strokes(SOUND_ALARM, false, 2 * S), 3);
    assert_int_equal(sound_strokes(SOUND_ALARM, false, 10 * S - 1), 10);
    /* An emergency alarm without a pause. */
    assert_int_equal(sound_strokes(SOUND_ALARM, true, 10 * S - 1), 20);
}

static bool file_says(const char *path, const char *wanted)
{
    char text[64] = "";
    FILE *f = fopen(path, "r");
    if (!f)
        return false;
    size_t n = fread(text, 1, sizeof text - 1, f);
    fclose(f);
    text[n] = '\0';
    return strcmp(text, wanted) == 0;
}

/* Until the one that runs has ended; true when it failed. */
static bool wait_for_horn(struct horn *h)
{
    bool failed = false;
    while (h->running) {
        struct pollfd p = {.fd = starter_fd(h->starter), .events = POLLIN};
        assert_int_equal(poll(&p, 1, 60000), 1);
        failed |= horn_turn(h);
    }
    return failed;
}

static void horn_blow__runs_the_words_without_a_shell(void **state)
{
    (void)state;
    char line[300], path[200];
    struct horn h;
    horn_init(&h);
    snprintf(path, sizeof path, "%s/said", program_scratch());
    snprintf(line, sizeof line, "sh -c \"echo $0 >%s\"", path);
    assert_true(horn_blow(&h, line, "emergency", 0));
    assert_false(wait_for_horn(&h));
    assert_true(file_says(path, "emergency\n"));
    assert_false(horn_blow(&h, "", "alarm", 0));
    /* known a moment later only: then something else must sound */
    assert_true(horn_blow(&h, "/nonexistent/horn", "alarm", 0));
    assert_true(wait_for_horn(&h));
    horn_fini(&h);
}

/* A player that hangs (a sound device that is gone) must not keep the next alarm silent. */
static void horn_blow__hangs_and_is_deaf__is_killed_and_said(void **state)
{
    (void)state;
    struct horn h;
    horn_init(&h);
    const char *deaf = "sh -c \"trap '' TERM HUP INT; while :; do sleep 1000; done\"";
    assert_true(horn_blow(&h, deaf, "alarm", S));
    int first = h.id;
    assert_true(horn_blow(&h, deaf, "alarm", S + HORN_LONGEST_NS - 1)); /* may still be at it */
    assert_int_equal(h.id, first);
    assert_false(horn_blow(&h, deaf, "alarm", S + HORN_LONGEST_NS));
    assert_int_not_equal(h.id, first);
    assert_true(h.running);
    assert_true(h.failed);
    horn_fini(&h);
}

static void horn_blow__failed_last_time__asks_for_another_sound_until_it_works(void **state)
{
    (void)state;
    struct horn h;
    horn_init(&h);
    assert_true(horn_blow(&h, "sh -c \"exit 1\"", "alarm", S));
    wait_for_horn(&h);
    assert_false(horn_blow(&h, "sh -c \"exit 0\"", "alarm", 2 * S));
    wait_for_horn(&h);
    assert_true(horn_blow(&h, "sh -c \"exit 0\"", "alarm", 3 * S));
    wait_for_horn(&h);
    horn_fini(&h);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_strokes__patterns__differ_by_priority),
        cmocka_unit_test(horn_blow__runs_the_words_without_a_shell),
        cmocka_unit_test(horn_blow__hangs_and_is_deaf__is_killed_and_said),
        cmocka_unit_test(horn_blow__failed_last_time__asks_for_another_sound_until_it_works),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
