/* Who gives way on the record's disk, on a disk that is as large and as full as the test says: what
 * the C library would be asked of it is answered here. */
#include "record/room.h"

#include "record/shelf.h"
#include "support/check.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/syscall.h>
#include <unistd.h>

#define EACH  1000                             /* bytes of each old hour */
#define HOURS 4                                /* numbered from 1 */
#define T0    (INT64_C(1760000400) * NS_PER_S) /* 2025-10-09 09:00:00 UTC: a full hour */

/* ---- the disk ---- */

static unsigned long disk_size, disk_free;
static bool disk_silent;  /* says nothing of its room */
static int refusals;      /* writes that fail before one succeeds */
static int refusal_errno; /* and how */

/* Instead of the C library's. */
int fstatvfs(int fd, struct statvfs *out)
{
    (void)fd;
    *out = (struct statvfs){.f_frsize = 1, .f_blocks = disk_size, .f_bavail = disk_free};
    return disk_silent ? -1 : 0;
}

ssize_t write(int fd, const void *data, size_t len)
{
    if (fd > 2 && refusals > 0) {
        refusals--;
        errno = refusal_errno;
        return -1;
    }
    return syscall(SYS_write, fd, data, len);
}

/* ---- a directory with old hours ---- */

static char dir[64];
static struct store store;
static struct incident incident;
static struct told told;
static struct room room;

static struct stamp at(int64_t ns)
{
    return (struct stamp){T0 + ns, 5000 * NS_PER_S + ns};
}

static int remove_entry(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
    (void)st, (void)type, (void)ftw;
    return remove(path);
}

static void make_file(const char *name, size_t bytes)
{
    char path[300];
    snprintf(path, sizeof path, "%s/%s", dir, name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    for (size_t i = 1; i < bytes; i++)
        fputc('x', f);
    fputc('\n', f);
    fclose(f);
}

static void make_incident(const char *name, size_t bytes)
{
    char path[300];
    snprintf(path, sizeof path, "%s/incidents", dir);
    mkdir(path, 0755);
    snprintf(path, sizeof path, "%s/incidents/%s", dir, name);
    assert_int_equal(mkdir(path, 0755), 0);
    snprintf(path, sizeof path, "incidents/%s/frames.log", name);
    make_file(path, bytes);
}

static int set_up(void **state)
{
    struct err e;
    (void)state;
    disk_size = 1000000;
    disk_free = 900000;
    disk_silent = false;
    refusals = 0;
    snprintf(dir, sizeof dir, "/tmp/stokehold-room-XXXXXX");
    if (!mkdtemp(dir))
        return -1;
    for (int i = 1; i <= HOURS; i++) {
        char name[64];
        snprintf(name, sizeof name, "frames-%06d-20251009T%02dZ.log", i, i);
        make_file(name, EACH);
    }
    incident = (struct incident){.out = -1};
    told = (struct told){0};
    room = (struct room){.store = &store, .incident = &incident, .told = &told, .cap = 8 << 20};
    return store_init(&store, dir) && told_init(&told) && store_open(&store, at(0), &e) == STORE_OK
               ? 0
               : -1;
}

static int tear_down(void **state)
{
    (void)state;
    store_close(&store);
    store_fini(&store);
    told_fini(&told);
    return nftw(dir, remove_entry, 8, FTW_DEPTH | FTW_PHYS);
}

/* The number of the oldest hour that is there, and that those after it are there too. */
static int oldest(void)
{
    size_t count;
    struct store_file *all = store_list(&store, &count);
    assert_non_null(all);
    int first = (int)all[0].number;
    for (size_t i = 0; i < count; i++)
        assert_int_equal(all[i].number, first + (int)i);
    assert_int_equal(all[count - 1].number, HOURS + 1); /* the one being written */
    free(all);
    return first;
}

static bool has_incident(const char *name)
{
    char path[300];
    snprintf(path, sizeof path, "%s/incidents/%s", dir, name);
    return access(path, F_OK) == 0;
}

static void hold(const char *line)
{
    char *to = store_room(&store, strlen(line));
    memcpy(to, line, strlen(line));
    store_added(&store, strlen(line));
}

/* ---- tests ---- */

static void part__an_eighth_but_never_next_to_nothing(void **state)
{
    (void)state;
    static const struct {
        uint64_t cap, bytes, part;
    } cases[] = {
        {8 << 20, 8 << 20, 1 << 20}, {8 << 20, 524296, 65537}, {8 << 20, 524288, 65536},
        {8 << 20, 524280, 65536},    {8 << 20, 0, 65536},      {524288, 0, 65536},
        {524280, 0, 65535},          {80000, 80000, 10000},    {80000, 0, 10000},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        room.cap = cases[i].cap;
        room.bytes = cases[i].bytes;
        if (room_part(&room) != cases[i].part)
            fail_msg("case %zu: %llu", i, (unsigned long long)room_part(&room));
    }
}

static void due__ten_seconds_after_a_look(void **state)
{
    (void)state;
    (void)room_keep(&room, at(7));
    assert_false(room_is_due(&room, at(7 + 10 * NS_PER_S - 1)));
    assert_true(room_is_due(&room, at(7 + 10 * NS_PER_S)));
}

static void keep__over_the_cap__oldest_go_until_it_fits(void **state)
{
    (void)state;
    room.cap = HOURS * EACH;
    assert_int_equal(room_keep(&room, at(0)), disk_free);
    assert_int_equal(oldest(), 1); /* exactly the cap is within it */
    assert_int_equal(room.bytes, HOURS * EACH);
    room.cap = HOURS * EACH - 1;
    (void)room_keep(&room, at(0));
    assert_int_equal(oldest(), 2);
    room.cap = 0;
    (void)room_keep(&room, at(0));
    assert_int_equal(oldest(), HOURS + 1); /* never the one being written */
}

static void keep__incident_runs__its_hours_stay(void **state)
{
    (void)state;
    room.cap = 0;
    incident.running = true;
    incident.number = 3;
    (void)room_keep(&room, at(0));
    assert_int_equal(oldest(), 3);
    incident.running = false;
    (void)room_keep(&room, at(0));
    assert_int_equal(oldest(), HOURS + 1);
}

/* A twentieth of the disk is for others: 50 000 of a million. */
static void keep__disk_is_nearly_full__the_reserve_stays_free(void **state)
{
    (void)state;
    make_incident("20251009T010000Z-a", 10);
    make_incident("20251009T020000Z-b", 10);
    disk_free = 50000;
    assert_int_equal(room_keep(&room, at(0)), 50000);
    assert_int_equal(oldest(), 1);
    assert_int_equal(room.bytes, HOURS * EACH);
    disk_free = 49999; /* one byte too few: one hour */
    assert_int_equal(room_keep(&room, at(0)), 49999);
    assert_int_equal(oldest(), 2);
    assert_int_equal(room.bytes, HOURS * EACH - 1);
    disk_free = 10; /* far too few: all there is, and no number below nought */
    (void)room_keep(&room, at(0));
    assert_int_equal(oldest(), HOURS + 1);
    assert_int_equal(room.bytes, 0);
    assert_true(has_incident("20251009T010000Z-a")); /* hours were enough */
}

/* Hours that cannot go: then an incident that is over, the oldest, and it is said. */
static void keep__hours_are_needed__an_old_incident_goes_and_is_named(void **state)
{
    (void)state;
    struct bus_condition c;
    make_incident("20251009T010000Z-a", 10);
    make_incident("20251009T020000Z-b", 10);
    incident.running = true;
    incident.number = 1;
    disk_free = 49999;
    (void)room_keep(&room, at(0));
    assert_int_equal(oldest(), 1);
    assert_false(has_incident("20251009T010000Z-a"));
    assert_true(has_incident("20251009T020000Z-b"));
    assert_true(condition_take(told.conditions, &c));
    assert_non_null(strstr(c.text, "20251009T010000Z-a was given up"));
    assert_int_equal(c.at.mono_ns, at(0).mono_ns);
    disk_free = 50000;
    (void)room_keep(&room, at(0));
    assert_false(condition_take(told.conditions, &c));
}

static void keep__disk_does_not_tell__the_cap_alone(void **state)
{
    (void)state;
    disk_silent = true;
    room.cap = 2 * EACH;
    assert_int_equal(room_keep(&room, at(0)), -1);
    assert_int_equal(oldest(), 3);
    assert_int_equal(room.bytes, 2 * EACH);
}

static void shelf__more_than_a_quarter_of_the_cap__oldest_go_never_the_latest(void **state)
{
    (void)state;
    make_incident("20251009T010000Z-a", 500);
    make_incident("20251009T020000Z-b", 500);
    make_incident("20251009T030000Z-c", 500);
    room.cap = 6000;
    room_keep_shelf(&room, at(0));
    assert_true(has_incident("20251009T010000Z-a"));
    room.cap = 5996; /* a quarter is 1499 */
    room_keep_shelf(&room, at(0));
    assert_false(has_incident("20251009T010000Z-a"));
    assert_true(has_incident("20251009T020000Z-b"));
    room.cap = 0;
    room_keep_shelf(&room, at(0));
    assert_false(has_incident("20251009T020000Z-b"));
    assert_true(has_incident("20251009T030000Z-c"));
}

/* Hours first, then incidents, then hours that the running one still needs. */
static void flush__disk_is_full__gives_up_in_order(void **state)
{
    (void)state;
    static const struct {
        int refusals, oldest;
        bool incident_a;
    } steps[] = {{1, 2, true}, {1, 3, true}, {1, 3, false}, {1, 4, false}, {1, 5, false}};
    struct err e;
    make_incident("20251009T010000Z-a", 10);
    make_incident("20251009T020000Z-b", 10);
    incident.running = true;
    incident.number = 3;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        hold("a line\n");
        refusals = steps[i].refusals;
        refusal_errno = ENOSPC;
        assert_true(room_flush(&room, at(0), &e));
        assert_int_equal(oldest(), steps[i].oldest);
        assert_int_equal(has_incident("20251009T010000Z-a"), steps[i].incident_a);
    }
    hold("a line\n");
    refusals = 1;
    assert_false(room_flush(&room, at(0), &e)); /* nothing is left to give up */
    assert_non_null(strstr(e.text, "No space left on device"));
    assert_true(has_incident("20251009T020000Z-b"));
    assert_true(room_flush(&room, at(0), &e)); /* and what was held is still held */
}

/* A broken disk costs no hour. */
static void flush__disk_is_broken__gives_nothing_up(void **state)
{
    (void)state;
    struct err e;
    hold("a line\n");
    refusals = 1;
    refusal_errno = EIO;
    assert_false(room_flush(&room, at(0), &e));
    assert_non_null(strstr(e.text, "Input/output error"));
    assert_int_equal(oldest(), 1);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(part__an_eighth_but_never_next_to_nothing),
        TEST(due__ten_seconds_after_a_look),
        TEST(keep__over_the_cap__oldest_go_until_it_fits),
        TEST(keep__incident_runs__its_hours_stay),
        TEST(keep__disk_is_nearly_full__the_reserve_stays_free),
        TEST(keep__hours_are_needed__an_old_incident_goes_and_is_named),
        TEST(keep__disk_does_not_tell__the_cap_alone),
        TEST(shelf__more_than_a_quarter_of_the_cap__oldest_go_never_the_latest),
        TEST(flush__disk_is_full__gives_up_in_order),
        TEST(flush__disk_is_broken__gives_nothing_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
