/* The program's parts against can-utils on the same traffic: candump's own output in every form
 * against what was sent, the record against candump's log, canplayer feeding the record back,
 * canbusload's counts of bits. Runs in the guest of boot.sh. */
#include "bus/bits.h"
#include "bus/candump.h"
#include "bus/clock.h"
#include "bus/socketcan.h"
#include "can/guest.h"
#include "record/record.h"
#include "support/check.h"

#include <dirent.h>
#include <linux/can.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define FRAMES 300

/* A made-up frame of any sort that a bus carries. */
static struct frame make_frame(uint32_t i)
{
    static uint32_t random = 1;
    struct frame f = {.len = (uint8_t)(i % 9), .flags = i % 7 == 3 ? 0 : FRAME_EXTENDED};
    random = random * 1664525u + 1013904223u;
    f.id = f.flags ? random >> 3 : random >> 21;
    if (i % 11 == 5)
        f.flags |= FRAME_REMOTE;
    for (int k = 0; k < f.len && !(f.flags & FRAME_REMOTE); k++) {
        random = random * 1664525u + 1013904223u;
        f.data[k] = (uint8_t)(random >> 24);
    }
    return f;
}

static void send_frames(const char *iface, bool remote, struct frame sent[FRAMES])
{
    int fd = guest_socket(iface);
    for (uint32_t i = 0; i < FRAMES; i++) {
        sent[i] = make_frame(i);
        if (!remote)
            sent[i].flags &= (uint8_t)~FRAME_REMOTE;
        uint32_t flags = (sent[i].flags & FRAME_EXTENDED ? CAN_EFF_FLAG : 0) |
                         (sent[i].flags & FRAME_REMOTE ? CAN_RTR_FLAG : 0);
        assert_true(guest_send(fd, sent[i].id | flags, sent[i].data, sent[i].len));
        if (i % 50 == 49)
            guest_sleep_ms(20);
    }
    close(fd);
}

/* Reads a log; asserts that it holds the frames that were sent, in order. */
static void check_log(const char *path, const struct frame *sent, struct frame *read)
{
    struct err e = {""};
    struct source *s = source_open_log(path, NULL, &e);
    if (!s)
        fail_msg("%s", e.text);
    size_t total = 0, n;
    while (source_read(s, read + total, FRAMES + 1 - total, &n, &e) == SOURCE_READY)
        total += n;
    if (source_stats(s)->bad_lines > 0)
        fail_msg("%s: line %llu: %s", path, (unsigned long long)source_stats(s)->complaints[0].line,
                 source_stats(s)->complaints[0].reason);
    assert_int_equal(total, FRAMES);
    for (int i = 0; i < FRAMES; i++) {
        assert_int_equal(read[i].id, sent[i].id);
        assert_int_equal(read[i].len, sent[i].len);
        assert_int_equal(read[i].flags & (FRAME_EXTENDED | FRAME_REMOTE), sent[i].flags);
        assert_memory_equal(read[i].data, sent[i].data, 8);
    }
    source_close(s);
}

static void candump__every_form_it_writes__reads_as_what_was_sent(void **state)
{
    (void)state;
    static const char *const options[] = {"-L", "-L -x", "-ta", "-tA", "-tz", "-td", "-ta -a -x"};
    enum { FORMS = sizeof options / sizeof options[0] };
    static struct frame sent[FRAMES], read[FORMS][FRAMES + 1];
    pid_t pid[FORMS];
    char text[200];
    setenv("TZ", "Europe/Berlin", 1);
    for (int i = 0; i < FORMS; i++) {
        char command[100];
        /* a buffer that outlasts seven of them on the guest's one processor */
        snprintf(command, sizeof command, "candump -r 2000000 %s vcan0", options[i]);
        snprintf(text, sizeof text, "/run/form%d", i);
        pid[i] = guest_start(command, text);
    }
    guest_await_listeners("vcan0", FORMS);
    struct stamp before = clock_now();
    send_frames("vcan0", true, sent);
    struct stamp after = clock_now();
    for (int i = 0; i < FORMS; i++) {
        snprintf(text, sizeof text, "/run/form%d", i);
        guest_await_lines(text, FRAMES);
        guest_end(pid[i], SIGTERM);
        check_log(text, sent, read[i]);
    }
    for (int k = 0; k < FRAMES; k++) {
        assert_true(read[0][k].wall_ns >= before.wall_ns && read[0][k].wall_ns <= after.wall_ns);
        /* the date form is of local time; differences and time from zero have lost only the start
         */
        assert_int_equal(read[3][k].wall_ns, read[0][k].wall_ns);
        assert_int_equal(read[2][k].wall_ns, read[0][k].wall_ns);
        assert_int_equal(read[4][k].wall_ns, read[0][k].wall_ns - read[0][0].wall_ns);
        assert_int_equal(read[5][k].wall_ns, read[0][k].wall_ns - read[0][0].wall_ns);
    }
    unsetenv("TZ");
}

/* The only frames log in a directory. */
static void find_frames(const char *dir, char *path, size_t cap)
{
    DIR *d = opendir(dir);
    assert_non_null(d);
    for (struct dirent *e; (e = readdir(d));) {
        if (strncmp(e->d_name, "frames-", 7) == 0)
            snprintf(path, cap, "%s/%s", dir, e->d_name);
    }
    closedir(d);
}

/* What was sent reaches the source of vcan0 and goes into a record. */
static void record_all(struct source *s, struct record *r)
{
    int64_t until = guest_ms() + GUEST_PATIENCE_MS;
    for (size_t taken = 0; taken < FRAMES && guest_ms() < until;) {
        struct frame f[64];
        size_t n;
        if (source_read(s, f, 64, &n, NULL) == SOURCE_READY) {
            record_frames(r, f, n);
            taken += n;
        } else {
            struct pollfd p = {.fd = source_fd(s), .events = POLLIN};
            poll(&p, 1, 50);
        }
    }
}

static void record__same_traffic_as_candump__same_frames_times_within_1_ms(void **state)
{
    (void)state;
    static struct frame sent[FRAMES], theirs[FRAMES + 1], ours[FRAMES + 1], again[FRAMES + 1];
    const char *name = "vcan0";
    struct err e;
    struct source *s = socketcan_open(&name, 1, &e);
    struct record_options o = {.dir = "/run/record"};
    struct record *r = record_open(&o, &e);
    assert_non_null(s);
    assert_non_null(r);
    record_name_iface(r, 0, "vcan0");
    pid_t dump = guest_start("candump -r 2000000 -L vcan0", "/run/candump.log");
    guest_await_listeners("vcan0", 2);
    send_frames("vcan0", true, sent);
    record_all(s, r);
    record_close(r, NULL);
    source_close(s);
    guest_await_lines("/run/candump.log", FRAMES);
    guest_end(dump, SIGTERM);
    char path[300] = "";
    find_frames("/run/record", path, sizeof path);
    check_log("/run/candump.log", sent, theirs);
    check_log(path, sent, ours);
    for (int i = 0; i < FRAMES; i++)
        assert_in_range(llabs(ours[i].wall_ns - theirs[i].wall_ns), 0, NS_PER_MS);

    /* and canplayer understands what was recorded */
    char command[400];
    dump = guest_start("candump -r 2000000 -L vcan1", "/run/played.log");
    guest_await_listeners("vcan1", 1);
    snprintf(command, sizeof command, "canplayer -I %s vcan1=vcan0", path);
    assert_int_equal(guest_run(command), 0);
    guest_await_lines("/run/played.log", FRAMES);
    guest_end(dump, SIGTERM);
    check_log("/run/played.log", sent, again);
}

/* The sums of the two middle columns that canbusload prints: frames and bits. */
static void read_load(const char *path, unsigned long *frames, unsigned long *bits)
{
    char line[200];
    FILE *in = fopen(path, "r");
    assert_non_null(in);
    *frames = *bits = 0;
    while (fgets(line, sizeof line, in)) {
        unsigned long f, b;
        const char *p = strstr(line, "vcan1@250000");
        if (p && sscanf(p + 12, "%lu %lu", &f, &b) == 2) {
            *frames += f;
            *bits += b;
        }
    }
    fclose(in);
}

/* It counts once a second. */
static void await_load(const char *path)
{
    unsigned long frames = 0, bits;
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; frames < FRAMES && guest_ms() < until;) {
        guest_sleep_ms(50);
        read_load(path, &frames, &bits);
    }
}

static void bits__same_frames__same_count_as_canbusload(void **state)
{
    (void)state;
    static struct frame sent[FRAMES];
    pid_t exact = guest_start("canbusload -e vcan1@250000", "/run/exact");
    pid_t worst = guest_start("canbusload vcan1@250000", "/run/worst");
    pid_t plain = guest_start("canbusload -i vcan1@250000", "/run/plain");
    guest_await_listeners("vcan1", 3);
    /* canbusload counts data that a remote frame asks for but does not carry: none here */
    send_frames("vcan1", false, sent);
    await_load("/run/exact");
    await_load("/run/worst");
    await_load("/run/plain");
    guest_end(exact, SIGTERM);
    guest_end(worst, SIGTERM);
    guest_end(plain, SIGTERM);
    unsigned long want_exact = 0, want_worst = 0, want_plain = 0, frames, bits;
    for (int i = 0; i < FRAMES; i++) {
        want_exact += bits_exact(&sent[i]);
        want_worst += bits_worst(&sent[i]);
        want_plain += bits_plain(&sent[i]);
    }
    read_load("/run/plain", &frames, &bits);
    assert_int_equal(frames, FRAMES);
    assert_int_equal(bits, want_plain);
    read_load("/run/worst", &frames, &bits);
    assert_int_equal(frames, FRAMES);
    assert_int_equal(bits, want_worst);
    read_load("/run/exact", &frames, &bits);
    assert_int_equal(frames, FRAMES);
    assert_int_equal(bits, want_exact);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(candump__every_form_it_writes__reads_as_what_was_sent),
        cmocka_unit_test(record__same_traffic_as_candump__same_frames_times_within_1_ms),
        cmocka_unit_test(bits__same_frames__same_count_as_canbusload),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
