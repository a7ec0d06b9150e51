/* The rolling record: what is written is what candump would have written, nothing written is ever
 * touched again, the disk may refuse. Turns are driven by the test's own clock, one by the thread.
 */
#include "record/record.h"

#include "bus/candump.h"
#include "bus/clock.h"
#include "bus/seal.h"
#include "bus/source.h"
#include "record/incident.h"
#include "record/store.h"
#include "support/check.h"

#include <dirent.h>
#include <fcntl.h>
#include <ftw.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/wait.h>
#include <unistd.h>

#define HOUR (3600 * NS_PER_S)
#define T0   (INT64_C(1760000400) * NS_PER_S) /* 2025-10-09 09:00:00 UTC: a full hour */

static char dir[64];

static int remove_entry(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
    (void)st, (void)type, (void)ftw;
    return remove(path);
}

static int set_up(void **state)
{
    (void)state;
    snprintf(dir, sizeof dir, "/tmp/stokehold-record-XXXXXX");
    return mkdtemp(dir) ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    nftw(dir, remove_entry, 16, FTW_DEPTH | FTW_PHYS);
    return 0;
}

static struct stamp at(int64_t ns)
{
    /* After any time that a machine has been up: opening a record reads the real clock. */
    return (struct stamp){T0 + ns, INT64_C(1000000000) * NS_PER_S + ns};
}

/* Opens at `now` with turns by hand. */
static struct record *open_record(uint64_t cap, int64_t around_ns)
{
    struct record_options o = {.dir = dir,
                               .cap_bytes = cap,
                               .before_ns = around_ns,
                               .after_ns = around_ns,
                               .no_thread = true};
    struct err e = {""};
    struct record *r = record_open(&o, &e);
    if (!r)
        fail_msg("%s", e.text);
    record_name_iface(r, 0, "can0");
    record_name_iface(r, 1, "can1");
    return r;
}

static struct frame make_frame(unsigned i, struct stamp t)
{
    struct frame f = {.wall_ns = t.wall_ns,
                      .mono_ns = t.mono_ns,
                      .id = 0x09F20000 + (i & 0xFFFF),
                      .iface = i & 1,
                      .len = 8,
                      .flags = FRAME_EXTENDED};
    memcpy(f.data, &i, sizeof i);
    return f;
}

static void add_frames(struct record *r, unsigned from, unsigned count, struct stamp t)
{
    for (unsigned i = from; i < from + count; i++) {
        struct frame f = make_frame(i, t);
        record_frames(r, &f, 1);
    }
}

/* Names in the directory that begin with prefix and end with suffix; the last in order is kept. */
static int count_names(const char *sub, const char *prefix, const char *suffix, char last[256])
{
    char path[400];
    snprintf(path, sizeof path, "%s/%s", dir, sub);
    DIR *d = opendir(path);
    int n = 0;
    last[0] = '\0';
    for (struct dirent *e; d && (e = readdir(d));) {
        size_t len = strlen(e->d_name), tail = strlen(suffix);
        if (strncmp(e->d_name, prefix, strlen(prefix)) != 0 || len < tail ||
            strcmp(e->d_name + len - tail, suffix) != 0)
            continue;
        n++;
        if (strcmp(e->d_name, last) > 0)
            snprintf(last, 256, "%s", e->d_name);
    }
    if (d)
        closedir(d);
    return n;
}

/* Reads a log of the record; asserts that its frames are from, from + 1, ... How many there are. */
static unsigned check_log(const char *name, unsigned from)
{
    char path[600];
    struct err e = {""};
    snprintf(path, sizeof path, "%s/%s", dir, name);
    struct source *s = source_open_logs((const char *const[]){path}, 1, NULL, &e);
    if (!s)
        fail_msg("%s", e.text);
    struct frame f[100];
    size_t n;
    unsigned next = from;
    while (source_read(s, f, 100, &n, &e) == SOURCE_READY) {
        for (size_t i = 0; i < n; i++, next++) {
            unsigned number;
            memcpy(&number, f[i].data, sizeof number);
            assert_int_equal(number, next);
            assert_string_equal(source_iface_name(s, f[i].iface), next & 1 ? "can1" : "can0");
        }
    }
    assert_int_equal(source_stats(s)->bad_lines, 0);
    assert_int_equal(source_stats(s)->complaint_count, 0);
    source_close(s);
    return next - from;
}

static void record__frames__are_the_lines_candump_writes(void **state)
{
    (void)state;
    struct record *r = open_record(0, 0);
    add_frames(r, 0, 1000, at(0));
    record_turn(r, at(0));
    record_turn(r, at(NS_PER_S));
    struct record_stats st;
    record_stats(r, 0, &st);
    assert_int_equal(st.frames, 1000);
    assert_int_equal(st.lost_frames, 0);
    assert_true(st.writing);
    record_close(r, NULL);
    char name[256];
    assert_int_equal(count_names("", "frames-", ".log", name), 2);
    assert_string_equal(name, "frames-000002-20251009T09Z.log");
    assert_int_equal(check_log(name, 0), 1000);
    char path[400], line[200];
    snprintf(path, sizeof path, "%s/%s", dir, name);
    FILE *in = fopen(path, "r");
    assert_non_null(fgets(line, sizeof line, in));
    assert_string_equal(line, "(1760000400.000000) can0 09F20000#0000000000000000\n");
    fclose(in);
}

static void store__torn_last_line__is_cut_and_no_earlier_byte_touched(void **state)
{
    (void)state;
    struct store s;
    struct err e;
    assert_true(store_init(&s, dir));
    assert_int_equal(store_open(&s, at(0), &e), STORE_OK);
    char name[STORE_NAME_SIZE], path[300];
    memcpy(name, s.file.name, sizeof name);
    store_fini(&s);
    snprintf(path, sizeof path, "%s/%s", dir, name);
    static const char good[] = "(1760000400.000000) can0 123#00\nrubbish that was there\n";
    static const char *const tails[] = {"", "(1760000401.00", "\0\0\0\0\0\0"};
    static const size_t lengths[] = {0, 14, 6};
    for (int i = 0; i < 3; i++) {
        FILE *out = fopen(path, "w");
        fwrite(good, 1, sizeof good - 1, out);
        fwrite(tails[i], 1, lengths[i], out);
        fclose(out);
        assert_true(store_init(&s, dir));
        assert_int_equal(store_open(&s, at(60 * NS_PER_S), &e), STORE_OK);
        assert_string_equal(s.file.name, name); /* same hour: it goes on */
        char *room = store_room(&s, 5);
        memcpy(room, "next\n", 5);
        store_added(&s, 5);
        assert_true(store_flush(&s, &e));
        store_fini(&s);
        char text[200] = "";
        FILE *in = fopen(path, "r");
        size_t n = fread(text, 1, sizeof text, in);
        fclose(in);
        assert_int_equal(n, sizeof good - 1 + 5);
        assert_memory_equal(text, good, sizeof good - 1);
        assert_memory_equal(text + sizeof good - 1, "next\n", 5);
    }
}

static void store__torn_line_longer_than_a_block__is_cut(void **state)
{
    (void)state;
    char path[100];
    snprintf(path, sizeof path, "%s/x", dir);
    int fd = open(path, O_RDWR | O_CREAT, 0600);
    assert_int_equal(write(fd, "a\n", 2), 2);
    char many[10000];
    memset(many, 'x', sizeof many);
    assert_int_equal(write(fd, many, sizeof many), sizeof many);
    assert_true(store_repair(fd));
    assert_int_equal(lseek(fd, 0, SEEK_END), 2);
    assert_int_equal(ftruncate(fd, 0), 0);
    assert_int_equal(write(fd, many, sizeof many), sizeof many);
    assert_true(store_repair(fd));
    assert_int_equal(lseek(fd, 0, SEEK_END), 0);
    close(fd);
}

static void record__second_writer__is_refused_with_the_pid(void **state)
{
    (void)state;
    struct record *r = open_record(0, 0);
    struct record_options o = {.dir = dir, .no_thread = true};
    struct err e = {""};
    char pid[40];
    assert_null(record_open(&o, &e));
    snprintf(pid, sizeof pid, "process %ld", (long)getpid());
    assert_non_null(strstr(e.text, pid));
    record_close(r, NULL);
    r = record_open(&o, &e);
    assert_non_null(r);
    record_close(r, NULL);
}

#ifdef WITH_ZSTD
static bool is_sealed(const char *name)
{
    char file[600], sum[SHA256_TEXT];
    uint8_t tail[SEAL_SIZE];
    snprintf(file, sizeof file, "%s/%s", dir, name);
    FILE *f = fopen(file, "r");
    assert_non_null(f);
    assert_int_equal(fseek(f, -(long)SEAL_SIZE, SEEK_END), 0);
    bool sealed = fread(tail, 1, sizeof tail, f) == sizeof tail && seal_read(tail, sum);
    fclose(f);
    return sealed;
}
#endif

/* An hour is over: a new file; the old one packed once no incident can need it; read all the same.
 */
static void record__hours_go_by__files_rotate_and_are_packed(void **state)
{
    (void)state;
    struct record *r = open_record(0, 60 * NS_PER_S);
    for (unsigned hour = 0; hour < 4; hour++) {
        add_frames(r, hour * 1000, 1000, at(hour * HOUR));
        record_turn(r, at(hour * HOUR));
        record_turn(r, at(hour * HOUR + NS_PER_S));
    }
    for (int i = 0; i < 100; i++)
        record_turn(r, at(3 * HOUR + (i + 2) * 3 * NS_PER_S));
    record_close(r, NULL);
    char name[256];
#ifdef WITH_ZSTD
    assert_int_equal(count_names("", "frames-", ".log", name), 1);
    assert_int_equal(check_log(name, 3000), 1000);
    assert_int_equal(count_names("", "frames-", ".log.zst", name),
                     4);                           /* one is the opening hour's */
    assert_int_equal(check_log(name, 2000), 1000); /* and its seal is that of its lines */
    assert_true(is_sealed(name));
    assert_int_equal(count_names("", "frames-", ".part", name), 0);
#else
    assert_int_equal(count_names("", "frames-", ".log", name), 5);
    assert_int_equal(check_log(name, 3000), 1000);
#endif
}

static uint64_t size_of_frames(void)
{
    struct store s;
    assert_true(store_init(&s, dir));
    s.dir_fd = open(dir, O_RDONLY | O_DIRECTORY);
    size_t count;
    struct store_file *all = store_list(&s, &count);
    uint64_t total = 0;
    for (size_t i = 0; i < count; i++)
        total += all[i].bytes;
    free(all);
    store_fini(&s);
    return total;
}

static void record__cap__oldest_go_first(void **state)
{
    (void)state;
    struct record *r = open_record(400000, 1);
    unsigned next = 0;
    for (int i = 0; i < 800; i++, next += 200) {
        add_frames(r, next, 200, at(i * NS_PER_S));
        record_turn(r, at(i * NS_PER_S));
    }
    record_close(r, NULL);
    uint64_t total = size_of_frames();
    assert_in_range(total, 50000, 460000);
    char name[256];
    assert_int_equal(count_names("", "frames-000001", "", name), 0);
    assert_true(count_names("", "frames-", "", name) > 2);
}

static char *read_text(const char *sub, const char *name)
{
    static char text[4000];
    char path[600];
    snprintf(path, sizeof path, "%s/%s/%s", dir, sub, name);
    FILE *in = fopen(path, "r");
    if (!in)
        fail_msg("no %s", path);
    size_t n = fread(text, 1, sizeof text - 1, in);
    text[n] = '\0';
    fclose(in);
    return text;
}

/* A frame a second for five minutes, an alarm at 150 s, an incident of 60 s to both sides. */
static void record__alarm__sets_the_time_around_it_aside(void **state)
{
    (void)state;
    struct record *r = open_record(0, 60 * NS_PER_S);
    record_set_config(r, "[vessel]\nname = Drake\n");
    for (unsigned i = 0; i < 300; i++) {
        struct stamp now = at(i * NS_PER_S);
        add_frames(r, i, 1, now);
        if (i == 50)
            record_alert(r, "{\"text\":\"too early for it\"}\n", now);
        if (i == 140)
            record_alert(r, "{\"text\":\"before\"}\n", now);
        if (i == 150) {
            record_alert(r, "{\"text\":\"the alarm\"}\n", now);
            record_incident(r, "exhaust hot/../x", 0, now);
        }
        if (i == 180)
            record_alert(r, "{\"text\":\"after\"}\n", now);
        record_turn(r, now);
    }
    record_close(r, NULL);
    char name[256], sub[300];
    assert_int_equal(count_names("incidents", "2025", "", name), 1);
    assert_string_equal(name, "20251009T090230Z-exhaust-hot----x");
    snprintf(sub, sizeof sub, "incidents/%s", name);
    unsigned n = check_log(sub, 90);
    assert_in_range(n, 120, 123);
    assert_string_equal(read_text(sub, "stokehold.conf"), "[vessel]\nname = Drake\n");
    assert_non_null(strstr(read_text(sub, "incident.json"), "\"complete\":true"));
    assert_string_equal(read_text(sub, "alerts.jsonl"),
                        "{\"text\":\"before\"}\n{\"text\":\"the alarm\"}\n{\"text\":\"after\"}\n");
    assert_non_null(strstr(read_text("", "alerts-202510.jsonl"), "too early"));
}

/* Words that somebody set stay with the record, and with the incident that they were set in. */
static void record__marks__stay_with_the_record_and_its_incident(void **state)
{
    (void)state;
    struct record *r = open_record(0, 60 * NS_PER_S);
    for (unsigned i = 0; i < 300; i++) {
        struct stamp now = at(i * NS_PER_S);
        add_frames(r, i, 1, now);
        if (i == 10)
            record_mark(r, "# head 1\n", "one before\n", now);
        if (i == 150)
            record_incident(r, "mark", 0, now);
        if (i == 150 || i == 160)
            record_mark(r, "# head 1\n", i == 150 ? "smell of rubber\n" : "gone\n", now);
        record_turn(r, now);
    }
    record_close(r, NULL);
    char name[256], sub[300];
    assert_int_equal(count_names("incidents", "2025", "-mark", name), 1);
    snprintf(sub, sizeof sub, "incidents/%s", name);
    assert_string_equal(read_text(sub, "marks"), "# head 1\nsmell of rubber\ngone\n");
    assert_string_equal(read_text("", "marks"), "# head 1\none before\nsmell of rubber\ngone\n");
}

static void record__second_alarm_within__prolongs_the_incident(void **state)
{
    (void)state;
    struct record *r = open_record(0, 60 * NS_PER_S);
    for (unsigned i = 0; i < 300; i++) {
        struct stamp now = at(i * NS_PER_S);
        add_frames(r, i, 1, now);
        if (i == 100 || i == 150)
            record_incident(r, "x", 0, now);
        record_turn(r, now);
    }
    record_close(r, NULL);
    char name[256], sub[300];
    assert_int_equal(count_names("incidents", "2025", "", name), 1);
    snprintf(sub, sizeof sub, "incidents/%s", name);
    assert_in_range(check_log(sub, 40), 170, 173);
}

/* The hour ends between the alarm and what came before it: two files make one incident. */
static void record__incident_over_the_hour__is_whole(void **state)
{
    (void)state;
    struct record *r = open_record(0, 60 * NS_PER_S);
    for (unsigned i = 0; i < 300; i++) {
        struct stamp now = at(HOUR - 130 * NS_PER_S + i * NS_PER_S);
        add_frames(r, i, 1, now);
        if (i == 150)
            record_incident(r, "x", 0, now);
        record_turn(r, now);
    }
    record_close(r, NULL);
    char name[256], sub[300];
    assert_int_equal(count_names("incidents", "2025", "", name), 1);
    snprintf(sub, sizeof sub, "incidents/%s", name);
    assert_in_range(check_log(sub, 90), 120, 123);
}

static void record__restart_within_an_incident__it_goes_on(void **state)
{
    (void)state;
    struct stamp now = clock_now(); /* record_open looks at the real clock */
    struct record *r = open_record(0, 60 * NS_PER_S);
    for (unsigned i = 0; i < 20; i++) {
        add_frames(r, i, 1, (struct stamp){now.wall_ns - (20 - i) * NS_PER_S, now.mono_ns});
        record_turn(r, (struct stamp){now.wall_ns, now.mono_ns + i});
    }
    record_incident(r, "x", 0, now);
    record_turn(r, now);
    record_close(r, NULL);
    char name[256], sub[300];
    assert_int_equal(count_names("incidents", "20", "", name), 1);
    snprintf(sub, sizeof sub, "incidents/%s", name);
    assert_non_null(strstr(read_text(sub, "incident.json"), "\"complete\":false"));

    r = open_record(0, 60 * NS_PER_S);
    for (unsigned i = 20; i < 40; i++) {
        struct stamp t = {now.wall_ns + (i - 20) * NS_PER_S, now.mono_ns + (i - 20) * NS_PER_S};
        add_frames(r, i, 1, t);
        record_turn(r, t);
    }
    record_turn(r, (struct stamp){now.wall_ns + 62 * NS_PER_S, now.mono_ns + 62 * NS_PER_S});
    record_turn(r, (struct stamp){now.wall_ns + 63 * NS_PER_S, now.mono_ns + 63 * NS_PER_S});
    record_close(r, NULL);
    assert_int_equal(check_log(sub, 0), 40);
    assert_non_null(strstr(read_text(sub, "incident.json"), "\"complete\":true"));
    assert_int_equal(count_names("incidents", "20", "", name), 1);
}

static bool condition_is(struct record *r, enum condition_sort sort, bool stands, char text[120])
{
    struct bus_condition c;
    bool found = false;
    while (record_condition(r, &c)) {
        found = c.code == CONDITION_CODE(sort, 0) && c.stands == stands;
        memcpy(text, c.text, sizeof c.text);
    }
    return found;
}

/* A limit on the size of files stands for a full disk: it, too, cuts a write within a line. */
static void record__disk_refuses__says_so_and_goes_on_without_a_torn_line(void **state)
{
    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    struct rlimit before, tight;
    getrlimit(RLIMIT_FSIZE, &before);
    struct record *r = open_record(0, 0);
    char text[120] = "";
    record_turn(r, at(0)); /* into the file of the test's hour */
    add_frames(r, 0, 100, at(0));
    record_turn(r, at(NS_PER_S));
    tight = before;
    tight.rlim_cur = 7777; /* within a line of 51 bytes */
    setrlimit(RLIMIT_FSIZE, &tight);
    add_frames(r, 100, 100, at(2 * NS_PER_S));
    record_turn(r, at(2 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, true, text));
    assert_non_null(strstr(text, "cannot record to"));
    for (int i = 0; i < 20; i++) /* said once, not at every try */
        record_turn(r, at(3 * NS_PER_S + i * NS_PER_S));
    struct bus_condition c;
    assert_false(record_condition(r, &c));
    add_frames(r, 200, 100, at(24 * NS_PER_S));
    setrlimit(RLIMIT_FSIZE, &before);
    record_turn(r, at(25 * NS_PER_S));
    record_turn(r, at(28 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, false, text));
    record_close(r, NULL);
    char name[256];
    count_names("", "frames-", ".log", name);
    assert_int_equal(check_log(name, 0), 300);
}

static int lowest_free_fd(void)
{
    int fd = dup(STDIN_FILENO);
    assert_true(fd >= 0);
    close(fd);
    return fd;
}

static int count_fds(void)
{
    int n = 0;
    for (int fd = 0; fd < 1024; fd++)
        n += fcntl(fd, F_GETFD) >= 0;
    return n;
}

/* No descriptor is left for the next hour's file: the old one is kept, and nothing is lost, not a
 * descriptor either. */
static void record__next_hour_cannot_be_opened__goes_on_in_the_old_file(void **state)
{
    (void)state;
    struct rlimit before, tight;
    char text[120] = "", name[256];
    int fds = count_fds();
    getrlimit(RLIMIT_NOFILE, &before);
    struct record *r = open_record(0, 0);
    record_turn(r, at(0));
    add_frames(r, 0, 100, at(0));
    record_turn(r, at(NS_PER_S));
    tight = before;
    tight.rlim_cur = (rlim_t)lowest_free_fd();
    setrlimit(RLIMIT_NOFILE, &tight);
    add_frames(r, 100, 100, at(HOUR));
    record_turn(r, at(HOUR));
    assert_true(condition_is(r, CONDITION_RECORD, true, text));
    assert_non_null(strstr(text, "cannot record to"));
    setrlimit(RLIMIT_NOFILE, &before);
    add_frames(r, 200, 100, at(HOUR));
    for (int i = 3; i < 6; i++)
        record_turn(r, at(HOUR + i * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, false, text));
    record_close(r, NULL);
    assert_int_equal(count_names("", "frames-", ".log", name), 2);
    assert_int_equal(check_log("", 0), 300); /* the directory, one file after the other */
    assert_int_equal(count_fds(), fds);
}

/* ---- a disk that is really full ---- */

static bool write_text(const char *path, const char *text)
{
    int fd = open(path, O_WRONLY | O_CLOEXEC);
    bool good = fd >= 0 && write(fd, text, strlen(text)) == (ssize_t)strlen(text);
    if (fd >= 0)
        close(fd);
    return good;
}

/* Puts a small file system in memory over `dir`, in namespaces of this process's own; false where
 * the kernel does not allow that. */
static bool mount_small_disk(const char *size)
{
    char map[40];
    unsigned uid = getuid(), gid = getgid();
    if (unshare(CLONE_NEWUSER | CLONE_NEWNS) != 0)
        return false;
    snprintf(map, sizeof map, "0 %u 1", uid);
    if (!write_text("/proc/self/uid_map", map) || !write_text("/proc/self/setgroups", "deny"))
        return false;
    snprintf(map, sizeof map, "0 %u 1", gid);
    return write_text("/proc/self/gid_map", map) && mount("small", dir, "tmpfs", 0, size) == 0;
}

static void fill_disk(const char *path)
{
    static const char block[4096];
    int fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    assert_true(fd >= 0);
    while (write(fd, block, sizeof block) > 0)
        ;
    close(fd);
}

/* Frames of all hours, which must follow one another without a hole and without a bad line: the
 * number of the first, and how many. */
static unsigned frames_of_all(unsigned *first)
{
    struct store s;
    size_t count;
    unsigned found = 0;
    assert_true(store_init(&s, dir));
    s.dir_fd = open(dir, O_RDONLY | O_DIRECTORY);
    struct store_file *all = store_list(&s, &count);
    for (size_t i = 0; i < count; i++) {
        char path[200];
        struct err e;
        struct frame f[100];
        size_t n;
        if (strstr(all[i].name, "-20250101T"))
            continue; /* of another season */
        snprintf(path, sizeof path, "%s/%s", dir, all[i].name);
        struct source *source = source_open_logs((const char *const[]){path}, 1, NULL, &e);
        assert_non_null(source);
        while (source_read(source, f, 100, &n, &e) == SOURCE_READY)
            for (size_t k = 0; k < n; k++) {
                unsigned number;
                memcpy(&number, f[k].data, sizeof number);
                if (found == 0)
                    *first = number;
                assert_int_equal(number, *first + found++);
            }
        assert_int_equal(source_stats(source)->bad_lines, 0);
        source_close(source);
    }
    free(all);
    store_fini(&s);
    return found;
}

/* Frames, then a full disk over the change of the hour and with an alarm, then room again: it is
 * said once, frames held meanwhile are written, and no line is torn. */
static void record_on_small_disk(void)
{
    char text[120] = "", fill[100];
    snprintf(fill, sizeof fill, "%s/fill", dir);
    struct record *r = open_record(0, 0);
    record_turn(r, at(0));
    add_frames(r, 0, 100, at(0));
    record_turn(r, at(NS_PER_S));
    fill_disk(fill);
    add_frames(r, 100, 400, at(2 * NS_PER_S));
    record_turn(r, at(2 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, true, text));
    assert_non_null(strstr(text, "No space left on device"));
    record_incident(r, "exhaust", 0, at(3 * NS_PER_S));
    record_alert(r, "{\"a\":1}\n", at(3 * NS_PER_S));
    for (int i = 0; i < 30; i++)
        record_turn(r, at(HOUR - 10 * NS_PER_S + i * NS_PER_S));
    add_frames(r, 500, 100, at(HOUR + 30 * NS_PER_S));
    assert_int_equal(unlink(fill), 0);
    for (int i = 0; i < 30; i++)
        record_turn(r, at(HOUR + 31 * NS_PER_S + i * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, false, text));
    struct record_stats st;
    record_stats(r, 0, &st);
    record_close(r, NULL);
    /* the oldest may have been given up, never the newest, and there is no hole between */
    unsigned first, found = frames_of_all(&first);
    assert_int_equal(first + found, 600);
    assert_int_equal(st.lost_frames, 0);
    assert_true(found >= 200);
}

static void on_small_disk(const char *size, void (*body)(void))
{
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        if (!mount_small_disk(size))
            _exit(77);
        body(); /* a failed assertion ends in the runner, with another status */
        _exit(0);
    }
    int status;
    assert_int_equal(waitpid(pid, &status, 0), pid);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 77)
        skip();
    assert_int_equal(status, 0);
}

static void record__disk_full__says_so_and_resumes(void **state)
{
    (void)state;
    on_small_disk("size=64k", record_on_small_disk);
}

/* A card with 4 MB of hours of another season on it, far below the cap, and others take the rest.
 */
static void old_hours_on_full_disk(void)
{
    char path[160], text[120], name[256];
    static char block[500000];
    memset(block, '\n', sizeof block);
    for (int i = 1; i <= 8; i++) {
        snprintf(path, sizeof path, "%s/frames-%06d-20250101T%02dZ.log.zst", dir, i, i);
        int fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
        assert_int_equal(write(fd, block, sizeof block), sizeof block);
        close(fd);
    }
    snprintf(path, sizeof path, "%s/fill", dir);
    fill_disk(path);
    struct record *r = open_record(0, 1);
    for (unsigned i = 0; i < 100; i++) { /* 5 MB of frames, an hour of them */
        add_frames(r, i * 1000, 1000, at(i * NS_PER_S));
        record_turn(r, at(i * NS_PER_S));
    }
    struct record_stats st;
    record_stats(r, 0, &st);
    assert_true(st.writing);
    assert_int_equal(st.lost_frames, 0);
    assert_false(condition_is(r, CONDITION_RECORD, true, text));
    record_close(r, NULL);
    assert_int_equal(count_names("", "frames-000001", "", name), 0);
    unsigned first, found = frames_of_all(&first);
    assert_int_equal(first + found, 100000); /* the newest are there */
    assert_true(found > 20000);
}

static void record__disk_full_of_old_hours__gives_them_up(void **state)
{
    (void)state;
    on_small_disk("size=6m", old_hours_on_full_disk);
}

/* Nobody hears a condition after the end: what could not be written then is told to who closes. */
static void record__disk_gone_at_the_end__says_so(void **state)
{
    (void)state;
    struct err e = {""};
    struct record *r = open_record(0, 1);
    add_frames(r, 0, 10, at(0));
    record_turn(r, at(0));
    record_alert(r, "{\"event\":\"raised\"}", at(NS_PER_S));
    assert_true(record_close(r, &e));
    assert_string_equal(e.text, "");
    r = open_record(0, 1);
    add_frames(r, 10, 10, at(2 * NS_PER_S));
    record_turn(r, at(2 * NS_PER_S));
    tear_down(NULL);
    record_alert(r, "{\"event\":\"raised\"}", at(3 * NS_PER_S));
    assert_false(record_close(r, &e));
    assert_non_null(strstr(e.text, "alerts-202510.jsonl"));
    assert_true(record_close(NULL, &e));
}

static int remove_incident(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
    (void)st, (void)type;
    return ftw->level > 0 ? remove(path) : 0;
}

/* What stands beside an incident's frames may be refused while the record goes on: that is said. */
static void incident__its_files_refused__says_so(void **state)
{
    (void)state;
    char text[200], path[160];
    struct record *r = open_record(0, 1);
    add_frames(r, 0, 10, at(0));
    record_incident(r, "exhaust", 1, at(NS_PER_S));
    record_turn(r, at(NS_PER_S));
    assert_false(condition_is(r, CONDITION_RECORD, true, text));
    snprintf(path, sizeof path, "%s/incidents", dir);
    nftw(path, remove_incident, 16, FTW_DEPTH | FTW_PHYS);
    record_alert(r, "{\"event\":\"raised\"}", at(2 * NS_PER_S));
    record_turn(r, at(2 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, true, text));
    assert_non_null(strstr(text, "the record itself is whole"));
    record_turn(r, at(3 * NS_PER_S)); /* it has ended in between, which could not be noted either */
    record_turn(r, at(4 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, false, text));
    record_close(r, NULL);
}

/* Nobody else is there: a twentieth is left for the state file and the journal. */
static void hours_beside_a_reserve(void)
{
    struct statvfs v;
    struct record *r = open_record(0, 1);
    for (unsigned i = 0; i < 300; i++) {
        add_frames(r, i * 1000, 1000, at(i * NS_PER_S));
        record_turn(r, at(i * NS_PER_S));
        if (i % 10 != 0)
            continue; /* it looks every ten seconds */
        assert_int_equal(statvfs(dir, &v), 0);
        assert_true(v.f_bfree >= v.f_blocks / 20);
    }
    record_close(r, NULL);
}

static void record__disk_of_its_own__leaves_a_reserve(void **state)
{
    (void)state;
    on_small_disk("size=12m", hours_beside_a_reserve);
}

/* ---- incidents that are over ---- */

static void make_incident(int hour, const char *state_text, size_t bytes)
{
    char path[200];
    snprintf(path, sizeof path, "%s/incidents", dir);
    mkdir(path, 0700);
    snprintf(path, sizeof path, "%s/incidents/20250101T%02d0000Z-x", dir, hour);
    mkdir(path, 0700);
    snprintf(path, sizeof path, "%s/incidents/20250101T%02d0000Z-x/incident.json", dir, hour);
    FILE *f = fopen(path, "w");
    fputs(state_text, f);
    fclose(f);
    snprintf(path, sizeof path, "%s/incidents/20250101T%02d0000Z-x/frames.log.zst", dir, hour);
    f = fopen(path, "w");
    for (size_t i = 0; i < bytes; i++)
        fputc('x', f);
    fclose(f);
}

#define INCIDENT(waiting)                                                                          \
    "{\"format\":\"stokehold incident\",\"version\":2,\"name\":\"x\",\"from\":1735700000,"         \
    "\"to\":1735700600,\"complete\":true,\"alarms\":2,\"waiting\":" waiting "}\n"

/* A quarter of the cap is for incidents: those that were acknowledged go first, each is said. */
static void record__more_incidents_than_fit__acknowledged_and_oldest_go_first(void **state)
{
    (void)state;
    static const char before[] = "{\"name\":\"x\",\"from\":1735700000,\"to\":1735700600,"
                                 "\"complete\":true}\n"; /* version 1 */
    char name[256], text[120] = "";
    make_incident(1, before, 30000);
    make_incident(2, INCIDENT("[7]"), 30000);
    make_incident(3, INCIDENT("[]"), 30000);
    make_incident(4, INCIDENT("[]"), 30000);
    make_incident(5, INCIDENT("[]"), 30000); /* the latest */
    struct record *r = open_record(400000, 1);
    record_turn(r, at(0)); /* a new hour: it looks */
    assert_true(condition_is(r, CONDITION_RECORD_GIVEN, true, text));
    assert_string_equal(text, "no room: the incident 20250101T040000Z-x was given up");
    assert_int_equal(count_names("incidents", "2025", "", name), 3);
    assert_int_equal(count_names("incidents", "20250101T03", "", name), 0);
    assert_int_equal(count_names("incidents", "20250101T04", "", name), 0);
    record_turn(r, at(HOUR + NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD_GIVEN, false, text));
    record_close(r, NULL);
}

static void record__one_incident_larger_than_its_share__latest_is_kept(void **state)
{
    (void)state;
    char name[256];
    make_incident(1, INCIDENT("[]"), 30000);
    make_incident(2, INCIDENT("[]"), 300000);
    struct record *r = open_record(400000, 1);
    record_turn(r, at(0));
    record_turn(r, at(HOUR));
    record_close(r, NULL);
    assert_int_equal(count_names("incidents", "2025", "", name), 1);
    assert_string_equal(name, "20250101T020000Z-x");
}

static void record__alarm_acknowledged__its_incident_notes_that(void **state)
{
    (void)state;
    char name[256], sub[300];
    struct record *r = open_record(0, 60 * NS_PER_S);
    record_turn(r, at(0));
    record_incident(r, "x", 3, at(0));
    record_incident(r, "x", 4, at(NS_PER_S));
    record_incident(r, "x", 4, at(2 * NS_PER_S)); /* the same has grown */
    record_turn(r, at(2 * NS_PER_S));
    assert_int_equal(count_names("incidents", "2025", "", name), 1);
    snprintf(sub, sizeof sub, "incidents/%s", name);
    assert_non_null(strstr(read_text(sub, "incident.json"), "\"alarms\":2,\"waiting\":[3,4]"));
    record_acknowledged(r, 3, at(3 * NS_PER_S));
    record_turn(r, at(3 * NS_PER_S));
    assert_non_null(strstr(read_text(sub, "incident.json"), "\"waiting\":[4]"));
    record_turn(r, at(100 * NS_PER_S));
    record_turn(r, at(101 * NS_PER_S));
    assert_non_null(strstr(read_text(sub, "incident.json"), "\"complete\":true"));
    record_acknowledged(r, 4, at(102 * NS_PER_S)); /* when it is over */
    record_turn(r, at(102 * NS_PER_S));
    assert_non_null(
        strstr(read_text(sub, "incident.json"), "\"complete\":true,\"alarms\":2,\"waiting\":[]"));
    record_close(r, NULL);
}

#ifdef WITH_ZSTD
static void record__incident_over__is_packed_and_read_as_before(void **state)
{
    (void)state;
    char name[256], sub[300];
    struct record *r = open_record(0, 60 * NS_PER_S);
    for (unsigned i = 0; i < 300; i++) {
        add_frames(r, i, 1, at(i * NS_PER_S));
        if (i == 100)
            record_incident(r, "x", 0, at(i * NS_PER_S));
        record_turn(r, at(i * NS_PER_S));
    }
    record_close(r, NULL);
    assert_int_equal(count_names("incidents", "2025", "", name), 1);
    snprintf(sub, sizeof sub, "incidents/%s", name);
    assert_int_equal(count_names(sub, "frames.log", ".zst", name), 1);
    assert_int_equal(count_names(sub, "frames.log", ".log", name), 0);
    assert_in_range(check_log(sub, 40), 120, 123);
}
#endif

static void record__directory_removed__says_so_and_starts_again(void **state)
{
    (void)state;
    struct record *r = open_record(0, 0);
    char text[120] = "", name[256];
    add_frames(r, 0, 10, at(0));
    record_turn(r, at(0));
    record_turn(r, at(2 * NS_PER_S));
    nftw(dir, remove_entry, 16, FTW_DEPTH | FTW_PHYS);
    record_turn(r, at(4 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, true, text));
    assert_non_null(strstr(text, "is gone"));
    add_frames(r, 10, 10, at(5 * NS_PER_S));
    record_turn(r, at(7 * NS_PER_S));
    record_turn(r, at(8 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD, false, text));
    record_close(r, NULL);
    assert_int_equal(count_names("", "frames-", ".log", name), 1);
    assert_int_equal(check_log(name, 10), 10);
}

static void record__ring_full__loss_is_counted_and_said(void **state)
{
    (void)state;
    struct record *r = open_record(0, 0);
    char text[120];
    add_frames(r, 0, 70000, at(0));
    struct record_stats st;
    record_stats(r, 0, &st);
    assert_int_equal(st.lost_frames, 70000 - 65536);
    record_turn(r, at(0));
    assert_true(condition_is(r, CONDITION_RECORD_LOST, true, text));
    record_turn(r, at(70 * NS_PER_S));
    assert_true(condition_is(r, CONDITION_RECORD_LOST, false, text));
    record_close(r, NULL);
}

/* A log waits while the disk is at work, for as many as it wants to read and no longer. */
static void record__has_room__until_the_ring_is_full_and_after_a_turn(void **state)
{
    (void)state;
    struct record *r = open_record(0, 0);
    record_turn(r, at(0));
    add_frames(r, 0, 65536 - 100, at(0));
    assert_true(record_has_room(r, 100, at(0).mono_ns));
    assert_false(record_has_room(r, 101, at(0).mono_ns));
    record_turn(r, at(0));
    assert_true(record_has_room(r, 65536, at(0).mono_ns));
    for (int i = 0; i < 128; i++) { /* half of the orders that can wait */
        assert_true(record_has_room(r, 1, at(0).mono_ns));
        record_alert(r, "{}\n", at(0));
    }
    assert_true(record_has_room(r, 1, at(0).mono_ns));
    record_alert(r, "{}\n", at(0));
    assert_false(record_has_room(r, 1, at(0).mono_ns));
    record_turn(r, at(0));
    assert_true(record_has_room(r, 1, at(0).mono_ns));
    record_close(r, NULL);
}

/* A disk that refuses may do so for ever: nobody is to wait for it. */
static void record__has_room__where_the_disk_refuses(void **state)
{
    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    struct rlimit before, tight;
    getrlimit(RLIMIT_FSIZE, &before);
    struct record *r = open_record(0, 0);
    record_turn(r, at(0));
    tight = before;
    tight.rlim_cur = 7777;
    setrlimit(RLIMIT_FSIZE, &tight);
    add_frames(r, 0, 65536, at(0));
    assert_false(record_has_room(r, 1, at(0).mono_ns));
    record_turn(r, at(0));
    add_frames(r, 65536, 65536, at(0));
    assert_true(record_has_room(r, 1, at(0).mono_ns));
    setrlimit(RLIMIT_FSIZE, &before);
    record_close(r, NULL);
}

/* A process that does as `child` does, and says 'x' when it has: then it is killed. */
static void kill_after(void (*child)(void))
{
    int pipe_fd[2];
    assert_int_equal(pipe(pipe_fd), 0);
    pid_t pid = fork();
    if (pid == 0) {
        child();
        (void)!write(pipe_fd[1], "x", 1);
        pause();
        _exit(0);
    }
    char x;
    assert_int_equal(read(pipe_fd[0], &x, 1), 1);
    kill(pid, SIGKILL);
    waitpid(pid, NULL, 0);
    close(pipe_fd[0]);
    close(pipe_fd[1]);
}

/* Turns as often as the thread has them, to one second after the frames came. */
static void record_a_second(void)
{
    struct record *r = open_record(0, 0);
    record_turn(r, at(0));
    add_frames(r, 0, 5000, at(0));
    for (int ms = 250; ms <= 1000; ms += 250)
        record_turn(r, at(ms * NS_PER_MS));
    add_frames(r, 5000, 100, at(NS_PER_S));
}

/* All but the last second is on the disk, and nothing is torn. */
static void record__killed__lost_at_most_a_second(void **state)
{
    (void)state;
    char name[256];
    kill_after(record_a_second);
    assert_int_equal(count_names("", "frames-", "-20251009T09Z.log", name), 1);
    assert_int_equal(check_log(name, 0), 5000);
    struct record *r = open_record(0, 0); /* the lock went with the process */
    record_close(r, NULL);
}

/* Lines of all files of frames: the thread goes by the real clock, and an hour may end. */
static int count_lines(void)
{
    int lines = 0;
    DIR *d = opendir(dir);
    for (struct dirent *e; d && (e = readdir(d));) {
        char path[600];
        if (strncmp(e->d_name, "frames-", 7) != 0)
            continue;
        snprintf(path, sizeof path, "%s/%s", dir, e->d_name);
        FILE *f = fopen(path, "r");
        for (int c; f && (c = getc(f)) != EOF;)
            lines += c == '\n';
        if (f)
            fclose(f);
    }
    if (d)
        closedir(d);
    return lines;
}

/* Told of each change in the directory, until all frames are there. */
static void record_by_thread(void)
{
    struct record_options o = {.dir = dir};
    struct record *r = record_open(&o, NULL);
    int watch = inotify_init1(IN_CLOEXEC);
    if (!r || inotify_add_watch(watch, dir, IN_MODIFY) < 0)
        _exit(1);
    record_name_iface(r, 0, "can0");
    record_name_iface(r, 1, "can1");
    add_frames(r, 0, 5000, clock_now());
    char events[4096];
    while (count_lines() < 5000)
        if (read(watch, events, sizeof events) <= 0)
            _exit(1);
}

static void record__thread__writes_unasked_and_dies_whole(void **state)
{
    (void)state;
    kill_after(record_by_thread);
    assert_int_equal(count_lines(), 5000);
    struct record *r = open_record(0, 0);
    record_close(r, NULL);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(record__frames__are_the_lines_candump_writes),
        TEST(store__torn_last_line__is_cut_and_no_earlier_byte_touched),
        TEST(store__torn_line_longer_than_a_block__is_cut),
        TEST(record__second_writer__is_refused_with_the_pid),
        TEST(record__hours_go_by__files_rotate_and_are_packed),
        TEST(record__cap__oldest_go_first),
        TEST(record__alarm__sets_the_time_around_it_aside),
        TEST(record__marks__stay_with_the_record_and_its_incident),
        TEST(record__second_alarm_within__prolongs_the_incident),
        TEST(record__incident_over_the_hour__is_whole),
        TEST(record__restart_within_an_incident__it_goes_on),
        TEST(record__disk_refuses__says_so_and_goes_on_without_a_torn_line),
        TEST(record__next_hour_cannot_be_opened__goes_on_in_the_old_file),
        TEST(record__disk_full__says_so_and_resumes),
        TEST(record__disk_full_of_old_hours__gives_them_up),
        TEST(record__disk_gone_at_the_end__says_so),
        TEST(incident__its_files_refused__says_so),
        TEST(record__disk_of_its_own__leaves_a_reserve),
        TEST(record__more_incidents_than_fit__acknowledged_and_oldest_go_first),
        TEST(record__one_incident_larger_than_its_share__latest_is_kept),
        TEST(record__alarm_acknowledged__its_incident_notes_that),
#ifdef WITH_ZSTD
        TEST(record__incident_over__is_packed_and_read_as_before),
#endif
        TEST(record__directory_removed__says_so_and_starts_again),
        TEST(record__ring_full__loss_is_counted_and_said),
        TEST(record__has_room__until_the_ring_is_full_and_after_a_turn),
        TEST(record__has_room__where_the_disk_refuses),
        TEST(record__killed__lost_at_most_a_second),
        TEST(record__thread__writes_unasked_and_dies_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
