/* Sound: patterns of the bell, and the user's command. */
#include "hooks/horn.h"
#include "support/check.h"
#include "support/program.h"
#include "session/sound.h"

#include <poll.h>
#include <stdio.h>

#define S NS_PER_S

static const struct screen_setting bell = {.sound = "bell"};

/* Strokes from `from` to `to` seconds after an alarm began that nobody acknowledges. */
static uint64_t strokes(enum alert_sound sound, bool emergency, double from, double to)
{
    struct sounder s = {.setting = &bell, .muted = true}; /* counted, not heard: no terminal */
    uint64_t before = 0;
    for (int64_t ns = 0; ns < (int64_t)(to * 1e9); ns += S / 20) {
        struct sound_due due = {sound, emergency, ns};
        if (ns < (int64_t)(from * 1e9) + S / 20)
            before = s.strokes;
        sound_turn(&s, NULL, &due, 1000 * S + ns);
    }
    return s.strokes - before;
}

static void sound__priorities__have_patterns_of_their_own(void **state)
{
    (void)state;
    assert_int_equal(strokes(SOUND_NONE, false, 0, 10), 0);
    assert_int_equal(strokes(SOUND_WARNING, false, 0, 100), 1); /* once */
    assert_int_equal(strokes(SOUND_ALARM, false, 0, 10), 10);   /* in twos, every two seconds */
    assert_int_equal(strokes(SOUND_ALARM, true, 0, 10), 20);    /* without a pause */
}

/* The table of src/session/sound.c a second time: from when on which strokes, and how long a cycle
 * takes. */
static void sound__patterns__change_at_their_moments(void **state)
{
    static const struct {
        struct sound_due due;
        struct sound_pattern p;
    } rows[] = {
        {{SOUND_NONE, false, 90 * S}, {0, 0, 0}},
        {{SOUND_WARNING, false, 0}, {1, 0, 1}},
        {{SOUND_WARNING, false, 900 * S}, {1, 0, 1}},
        {{SOUND_ALARM, false, 0}, {2, 2 * S, 1}},
        {{SOUND_ALARM, false, 30 * S - 1}, {2, 2 * S, 1}},
        {{SOUND_ALARM, false, 30 * S}, {3, 3 * S / 2, 2}},
        {{SOUND_ALARM, false, 60 * S - 1}, {3, 3 * S / 2, 2}},
        {{SOUND_ALARM, false, 60 * S}, {4, 3 * S / 2, 3}},
        {{SOUND_ALARM, true, 0}, {1, S / 2, 1}},
        {{SOUND_ALARM, true, 30 * S - 1}, {1, S / 2, 1}},
        {{SOUND_ALARM, true, 30 * S}, {1, S / 4, 2}},
    };
    static const struct {
        int64_t ns;
        enum alert_sound sound; /* SOUND_NONE: over */
        bool emergency;
    } trial[] = {
        {0, SOUND_WARNING, false},   {2 * S - 1, SOUND_WARNING, false},
        {2 * S, SOUND_ALARM, false}, {6 * S - 1, SOUND_ALARM, false},
        {6 * S, SOUND_ALARM, true},  {8 * S - 1, SOUND_ALARM, true},
        {8 * S, SOUND_NONE, false},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct sound_pattern p = sound_pattern(&rows[i].due);
        assert_int_equal(p.strokes, rows[i].p.strokes);
        assert_true(p.cycle_ns == rows[i].p.cycle_ns);
        assert_int_equal(p.step, rows[i].p.step);
    }
    for (size_t i = 0; i < sizeof trial / sizeof *trial; i++) {
        struct sound_due due = {SOUND_NONE, false, 0};
        assert_int_equal(sound_tried(trial[i].ns, &due), trial[i].sound != SOUND_NONE);
        assert_int_equal(due.sound, trial[i].sound);
        assert_int_equal(due.emergency, trial[i].emergency);
    }
}

static void sound__nobody_acknowledges__gets_denser(void **state)
{
    (void)state;
    uint64_t first = strokes(SOUND_ALARM, false, 0, 30);
    uint64_t second = strokes(SOUND_ALARM, false, 30, 60);
    uint64_t third = strokes(SOUND_ALARM, false, 60, 90);
    assert_int_equal(first, 30);
    assert_true(second > first * 3 / 2);
    assert_true(third > second);
    assert_true(strokes(SOUND_ALARM, true, 30, 60) > strokes(SOUND_ALARM, true, 0, 30) * 3 / 2);
    /* And at no time is an alarm as dense as an emergency of the same age. */
    assert_true(strokes(SOUND_ALARM, true, 60, 90) > third);
    assert_int_equal(sound_pattern(&(struct sound_due){SOUND_ALARM, false, 45 * S}).step, 2);
}

/* It is the trip's time that counts, so a log replayed fast sounds as it would have then. */
static void sound__waiting__is_of_the_trip(void **state)
{
    (void)state;
    struct alert a = {.state = ALERT_UNACKNOWLEDGED, .raised = {5 * S, 100 * S}};
    assert_int_equal(sound_waiting_ns(&a, (struct stamp){0, 140 * S}), 40 * S);
    a.state = ALERT_SILENCED;
    assert_int_equal(sound_waiting_ns(&a, (struct stamp){0, 140 * S}), 0);
}

static void sound__loop_was_held_up__does_not_make_up_for_it(void **state)
{
    (void)state;
    struct sounder s = {.setting = &bell, .muted = true};
    struct sound_due due = {SOUND_ALARM, false, 0};
    sound_turn(&s, NULL, &due, 1000 * S);
    for (int i = 0; i < 10; i++)
        sound_turn(&s, NULL, &due, 1060 * S + i);
    assert_int_equal(s.strokes, 2);
}

static void sound__tried__goes_through_all_and_gives_way_to_a_real_one(void **state)
{
    (void)state;
    struct sounder s = {.setting = &bell, .muted = true};
    struct sound_due none = {SOUND_NONE, false, 0}, real = {SOUND_WARNING, false, 0};
    struct sound_due due;
    bool heard[3] = {false, false, false};
    for (int64_t ns = 0; sound_tried(ns, &due); ns += S / 4)
        heard[due.emergency ? 2 : due.sound == SOUND_ALARM] = true;
    assert_true(heard[0] && heard[1] && heard[2]);
    sound_try(&s, 1000 * S);
    int64_t ns = 0;
    for (; ns < 20 * S; ns += S / 20)
        sound_turn(&s, NULL, &none, 1000 * S + ns);
    assert_int_equal(s.strokes, 1 + 4 + 4); /* 2 s of one, 4 s of twos, 2 s without a pause */
    assert_true(s.tried_ns == 0);
    sound_try(&s, 2000 * S);
    sound_turn(&s, NULL, &none, 2000 * S);
    sound_turn(&s, NULL, &real, 2003 * S);
    assert_true(s.tried_ns == 0);
    assert_int_equal(s.last, SOUND_WARNING);
}

static void sound__off__is_known_whoever_switched_it_off(void **state)
{
    (void)state;
    static const struct screen_setting off = {.sound = "off"};
    assert_true(sound_is_off(&(struct sounder){.setting = &off}));
    assert_true(sound_is_off(&(struct sounder){.setting = &bell, .muted = true}));
    assert_false(sound_is_off(&(struct sounder){.setting = &bell}));
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

static bool blow(struct horn *h, const char *line, const char *priority, int64_t now_ns)
{
    return horn_blow(h, &(struct horn_call){line, priority, 1}, now_ns);
}

static void horn_blow__names_in_the_command__are_filled_in(void **state)
{
    (void)state;
    char line[300], path[200];
    struct horn h;
    horn_init(&h);
    snprintf(path, sizeof path, "%s/filled", program_scratch());
    snprintf(line, sizeof line, "sh -c \"echo $# $0 $1 >%s\" a/{priority}-{step}.wav x{step}",
             path);
    assert_true(horn_blow(&h, &(struct horn_call){line, "alarm", 3}, 0));
    assert_false(wait_for_horn(&h));
    assert_true(file_says(path, "1 a/alarm-3.wav x3\n")); /* and no priority after them */
    horn_fini(&h);
}

static void horn_blow__runs_the_words_without_a_shell(void **state)
{
    (void)state;
    char line[300], path[200];
    struct horn h;
    horn_init(&h);
    snprintf(path, sizeof path, "%s/said", program_scratch());
    snprintf(line, sizeof line, "sh -c \"echo $0 >%s\"", path);
    assert_true(blow(&h, line, "emergency", 0));
    assert_false(wait_for_horn(&h));
    assert_true(file_says(path, "emergency\n"));
    assert_false(blow(&h, "", "alarm", 0));
    /* known a moment later only: then something else must sound */
    assert_true(blow(&h, "/nonexistent/horn", "alarm", 0));
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
    assert_true(blow(&h, deaf, "alarm", S));
    int first = h.id;
    assert_true(blow(&h, deaf, "alarm", S + HORN_LONGEST_NS - 1)); /* may still be at it */
    assert_int_equal(h.id, first);
    assert_false(blow(&h, deaf, "alarm", S + HORN_LONGEST_NS));
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
    assert_true(blow(&h, "sh -c \"exit 1\"", "alarm", S));
    wait_for_horn(&h);
    assert_false(blow(&h, "sh -c \"exit 0\"", "alarm", 2 * S));
    wait_for_horn(&h);
    assert_true(blow(&h, "sh -c \"exit 0\"", "alarm", 3 * S));
    wait_for_horn(&h);
    horn_fini(&h);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound__patterns__change_at_their_moments),
        cmocka_unit_test(sound__priorities__have_patterns_of_their_own),
        cmocka_unit_test(sound__nobody_acknowledges__gets_denser),
        cmocka_unit_test(sound__waiting__is_of_the_trip),
        cmocka_unit_test(sound__loop_was_held_up__does_not_make_up_for_it),
        cmocka_unit_test(sound__tried__goes_through_all_and_gives_way_to_a_real_one),
        cmocka_unit_test(sound__off__is_known_whoever_switched_it_off),
        cmocka_unit_test(horn_blow__names_in_the_command__are_filled_in),
        cmocka_unit_test(horn_blow__runs_the_words_without_a_shell),
        cmocka_unit_test(horn_blow__hangs_and_is_deaf__is_killed_and_said),
        cmocka_unit_test(horn_blow__failed_last_time__asks_for_another_sound_until_it_works),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
