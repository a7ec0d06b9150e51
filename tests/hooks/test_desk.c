/* The thread that touches files: what is written, told once, taken over by a newer text, and what
 * is refused while it is at work. A work that waits for the test holds it up. */
#include "hooks/desk.h"

#include "support/check.h"
#include "support/program.h"

#include <poll.h>
#include <pthread.h>
#include <semaphore.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#define LONG_MS 60000 /* far longer than any of this takes */

static struct desk *desk;
static char folder[100], paths[DESK_FILES][140];
static pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER;
static sem_t at_work;
static int worked;

static int begin(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "%s", program_folder());
    sem_init(&at_work, 0, 0);
    worked = 0;
    desk = desk_new();
    for (int i = 0; desk && i < DESK_FILES; i++) {
        snprintf(paths[i], sizeof paths[i], "%s/%d", folder, i);
        desk_place(desk, (enum desk_file)i, paths[i], (mode_t)(0600 + 010 * i), i == 0);
    }
    return desk ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    sem_destroy(&at_work);
    return 0;
}

static void hold(void *ctx)
{
    sem_post(&at_work);
    pthread_mutex_lock(&gate);
    ++*(int *)ctx;
    pthread_mutex_unlock(&gate);
}

static void hold_up(void)
{
    pthread_mutex_lock(&gate);
    assert_true(desk_ask(desk, hold, &worked));
    while (sem_wait(&at_work) != 0)
        ;
}

static void put(enum desk_file f, const char *text)
{
    char *copy = strdup(text);
    assert_non_null(copy);
    desk_write(desk, f, copy, strlen(text));
}

static const char *kept(enum desk_file f)
{
    static char text[100];
    FILE *in = fopen(paths[f], "r");
    if (!in)
        return NULL;
    text[fread(text, 1, sizeof text - 1, in)] = '\0';
    fclose(in);
    return text;
}

static void await_news(void)
{
    struct pollfd p = {.fd = desk_fd(desk), .events = POLLIN};
    assert_int_equal(poll(&p, 1, LONG_MS), 1);
    desk_heard(desk);
}

static void write__each_file__is_told_once(void **state)
{
    (void)state;
    struct err e;
    for (int i = 0; i < DESK_FILES; i++) {
        bool good = false;
        struct stat st;
        struct pollfd p = {.fd = desk_fd(desk), .events = POLLIN};
        assert_int_equal(poll(&p, 1, 0), 0);
        put((enum desk_file)i, "what is kept\n");
        await_news();
        for (int k = 0; k < DESK_FILES; k++)
            assert_int_equal(desk_written(desk, (enum desk_file)k, &good, &e), k == i);
        assert_false(desk_written(desk, (enum desk_file)i, &good, &e));
        assert_true(good);
        assert_string_equal(kept((enum desk_file)i), "what is kept\n");
        assert_int_equal(stat(paths[i], &st), 0);
        assert_int_equal(st.st_mode & 0777, 0600 + 010 * i);
    }
    assert_true(desk_free(desk, LONG_MS, &e));
}

static void write__nowhere__is_said(void **state)
{
    (void)state;
    struct err e = {""};
    bool good = true;
    snprintf(paths[DESK_METRICS], sizeof paths[0], "%s/no/such", folder);
    put(DESK_METRICS, "lost");
    await_news();
    assert_true(desk_written(desk, DESK_METRICS, &good, &e));
    assert_false(good);
    assert_non_null(strstr(e.text, "/no/such'"));
    put(DESK_METRICS, "lost again");
    e.text[0] = '\0';
    assert_false(desk_free(desk, LONG_MS, &e)); /* nobody asked for the last one */
    assert_non_null(strstr(e.text, "/no/such'"));
}

static void work__one_at_a_time(void **state)
{
    (void)state;
    struct err e;
    bool good;
    assert_true(desk_since(desk) == 0);
    hold_up();
    assert_true(desk_since(desk) != 0);
    assert_false(desk_ask(desk, hold, &worked));
    assert_false(desk_done(desk));
    assert_false(desk_wait(desk, 1));
    put(DESK_STATE, "older");
    put(DESK_STATE, "newer"); /* in place of the one that waits */
    assert_false(desk_written(desk, DESK_STATE, &good, &e));
    assert_null(kept(DESK_STATE));
    pthread_mutex_unlock(&gate);
    assert_true(desk_wait(desk, LONG_MS));
    assert_int_equal(worked, 1);
    assert_false(desk_done(desk)); /* told once */
    assert_false(desk_wait(desk, 1));
    while (!desk_written(desk, DESK_STATE, &good, &e))
        await_news();
    assert_true(good);
    assert_string_equal(kept(DESK_STATE), "newer");
    assert_true(desk_since(desk) == 0);
    /* done, and not yet asked for: none goes before */
    assert_true(desk_ask(desk, hold, &worked));
    while (sem_wait(&at_work) != 0)
        ;
    put(DESK_METRICS, "after it");
    while (!desk_written(desk, DESK_METRICS, &good, &e))
        await_news();
    assert_false(desk_ask(desk, hold, &worked));
    assert_true(desk_done(desk));
    assert_int_equal(worked, 2);
    assert_true(desk_free(desk, LONG_MS, &e));
}

static void free__what_waits__is_written_before(void **state)
{
    (void)state;
    struct err e;
    hold_up();
    put(DESK_METRICS, "last");
    put(DESK_GOOD_CONFIG, "last but one");
    pthread_mutex_unlock(&gate);
    assert_true(desk_free(desk, LONG_MS, &e));
    assert_string_equal(kept(DESK_METRICS), "last");
    assert_string_equal(kept(DESK_GOOD_CONFIG), "last but one");
    assert_null(kept(DESK_STATE));
    assert_true(desk_free(NULL, 0, &e));
}

#define WITH_DESK(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_DESK(write__each_file__is_told_once),
        WITH_DESK(write__nowhere__is_said),
        WITH_DESK(work__one_at_a_time),
        WITH_DESK(free__what_waits__is_written_before),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
