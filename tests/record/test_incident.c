/* An incident's own account: which of its alarms still wait for somebody, and what it is called. */
#include "record/incident.h"

#include "support/check.h"
#include "support/program.h"

#include "base/text.h"

#include <dirent.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#define AT ((struct stamp){INT64_C(1760000400) * NS_PER_S, 5000 * NS_PER_S}) /* 09:00 UTC */

static struct store store;
static struct incident inc;

static int setup(void **state)
{
    static int n;
    char dir[600];
    struct err e;
    (void)state;
    text_format(dir, sizeof dir, "%s/incident%d", program_scratch(), n++);
    return store_init(&store, dir) && store_open(&store, AT, &e) == STORE_OK ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    incident_leave(&inc);
    store_close(&store);
    store_fini(&store);
    return 0;
}

static void begin(const char *name)
{
    struct err e = {""};
    if (!incident_begin(&inc, &store, name, AT, 60 * NS_PER_S, 60 * NS_PER_S, NULL, &e))
        fail_msg("%s", e.text);
}

static const char *its_name(void)
{
    return inc.dir + strlen("incidents/");
}

static void alarms__each_acknowledged__none_waits(void **state)
{
    (void)state;
    begin("x");
    assert_string_equal(its_name(), "20251009T090000Z-x");
    assert_false(incident_is_acknowledged(&store, its_name())); /* set aside by hand */
    for (uint32_t id = 1; id <= INCIDENT_ALARMS; id++) {
        incident_alarm(&inc, &store, id);
        incident_alarm(&inc, &store, id); /* it grows, and is no other */
        assert_int_equal(inc.alarms, id);
    }
    for (uint32_t id = INCIDENT_ALARMS; id >= 1; id--) {
        assert_false(incident_is_acknowledged(&store, its_name()));
        assert_true(incident_acknowledged(&inc, &store, id));
        assert_false(incident_acknowledged(&inc, &store, id));
    }
    assert_true(incident_is_acknowledged(&store, its_name()));
    assert_false(incident_acknowledged(&inc, &store, 99));
}

/* Owner and group may read what is kept, nobody else. */
static void files__modes__owner_and_group_alone(void **state)
{
    (void)state;
    char path[700];
    struct stat st;
    int files = 0;
    mode_t before = umask(0);
    begin("x");
    incident_alarm(&inc, &store, 1);
    incident_alert(&inc, &store, "{}");
    umask(before);
    text_format(path, sizeof path, "%s/%s", store.dir, inc.dir);
    assert_int_equal(stat(path, &st), 0);
    assert_int_equal(st.st_mode & 0777, 0750);
    DIR *d = opendir(path);
    assert_non_null(d);
    for (struct dirent *entry; (entry = readdir(d));) {
        if (entry->d_name[0] == '.')
            continue;
        text_format(path, sizeof path, "%s/%s/%s", store.dir, inc.dir, entry->d_name);
        assert_int_equal(stat(path, &st), 0);
        if (S_ISREG(st.st_mode)) {
            assert_int_equal(st.st_mode & 0777, 0640);
            files++;
        }
    }
    closedir(d);
    assert_true(files >= 2);
}

/* More than can be told apart: it is never taken for seen, whatever is acknowledged. */
static void alarms__one_too_many__waits_for_ever(void **state)
{
    (void)state;
    begin("x");
    for (uint32_t id = 1; id <= INCIDENT_ALARMS + 1; id++)
        incident_alarm(&inc, &store, id);
    assert_int_equal(inc.alarms, INCIDENT_ALARMS + 1);
    for (uint32_t k = 0; k < INCIDENT_ALARMS; k++) /* the last place stands for all the others */
        assert_int_equal(inc.waiting[k], k < INCIDENT_ALARMS - 1 ? k + 1 : 0);
    for (uint32_t id = 1; id <= INCIDENT_ALARMS + 1; id++)
        assert_int_equal(incident_acknowledged(&inc, &store, id), id < INCIDENT_ALARMS);
    assert_int_equal(inc.waiting_count, 1);
    assert_false(incident_is_acknowledged(&store, its_name()));
}

/* Over, and acknowledged only then: noted in its own file, by its name. */
static void acknowledged__after_it_is_over__is_noted_in_its_file(void **state)
{
    (void)state;
    char name[100];
    begin("pump");
    incident_alarm(&inc, &store, 7);
    incident_alarm(&inc, &store, 8);
    text_copy(name, sizeof name, its_name());
    incident_leave(&inc);
    assert_false(incident_acknowledged(&inc, &store, 7)); /* none goes on */
    assert_false(incident_note_acknowledged(&store, name, 9));
    assert_true(incident_note_acknowledged(&store, name, 7));
    assert_false(incident_note_acknowledged(&store, name, 7));
    assert_false(incident_is_acknowledged(&store, name));
    assert_true(incident_note_acknowledged(&store, name, 8));
    assert_true(incident_is_acknowledged(&store, name));
    assert_false(incident_note_acknowledged(&store, "no-such", 8));
    assert_false(incident_is_acknowledged(&store, "no-such"));
}

static void name__long_and_strange__is_cut_and_made_plain(void **state)
{
    (void)state;
    char name[100], want[100];
    memset(name, 'n', sizeof name - 1);
    name[sizeof name - 1] = '\0';
    memcpy(name, "a/.. b", 6);
    begin(name);
    memset(want, 'n', sizeof want);
    memcpy(want, "a----b", 6);
    want[63] = '\0';
    assert_string_equal(its_name() + strlen("20251009T090000Z-"), want);
}

/* It ends once its time is over, not a nanosecond before. */
/* A record of a frame a second, three minutes up to AT, with a spoilt line before each: what is set
 * aside begins with the first frame of the last minute. */
static void start__spoilt_lines__are_passed_over_and_no_more(void **state)
{
    (void)state;
    struct err e = {""};
    size_t len = 0, wanted = 0;
    char *room = store_room(&store, 180 * 64);
    assert_non_null(room);
    for (int k = -180; k < 0; k++) {
        len += (size_t)snprintf(room + len, 64, "no frame\n");
        if (k == -60)
            wanted = len;
        len += (size_t)snprintf(room + len, 64, "(%lld.000000) can0 09F20000#00FF\n",
                                (long long)(AT.wall_ns / NS_PER_S + k));
    }
    store_added(&store, len);
    assert_true(store_flush(&store, &e));
    begin("x");
    assert_int_equal(inc.number, store.file.number);
    assert_int_equal(inc.offset, wanted);
}

static void step__ends_when_its_time_is_over(void **state)
{
    (void)state;
    struct stamp now = AT;
    begin("x");
    now.mono_ns += 60 * NS_PER_S - 1;
    while (incident_step(&inc, &store, now))
        ;
    assert_true(inc.running);
    incident_prolong(&inc, &store, now, NS_PER_S);
    now.mono_ns += NS_PER_S - 1;
    while (incident_step(&inc, &store, now))
        ;
    assert_true(inc.running);
    now.mono_ns++;
    while (incident_step(&inc, &store, now))
        ;
    assert_false(inc.running);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup_teardown(f, setup, teardown)
        T(alarms__each_acknowledged__none_waits),
        T(alarms__one_too_many__waits_for_ever),
        T(files__modes__owner_and_group_alone),
        T(acknowledged__after_it_is_over__is_noted_in_its_file),
        T(name__long_and_strange__is_cut_and_made_plain),
        T(start__spoilt_lines__are_passed_over_and_no_more),
        T(step__ends_when_its_time_is_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
