/* Logs as a source: both supplies (memory and streams), what is no frame, time that misbehaves. */
#include "bus/socketcan.h"
#include "bus/source.h"

#include "base/when.h"
#include "bus/timeline.h"
#include "support/check.h"
#include "support/program.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define LINE(t) "(" t ") can0 09F2000A#00A916D2047FFFFF\n"
#define S       NS_PER_S

static struct source *open_text(const char *text)
{
    struct source *s = source_open_memory(text, strlen(text), NULL);
    assert_non_null(s);
    return s;
}

/* All frames; asserts that the source ends well. */
static size_t read_all(struct source *s, struct frame *out, size_t max, size_t batch)
{
    size_t total = 0;
    for (;;) {
        size_t n, room = max - total < batch ? max - total : batch;
        assert_true(room > 0);
        struct err e = {""};
        enum source_state state = source_read(s, out + total, room, &n, &e);
        total += n;
        if (state == SOURCE_END)
            return total;
        assert_int_equal(state, SOURCE_READY);
    }
}

static void log__frames_and_rubbish__reads_on_and_counts(void **state)
{
    (void)state;
    struct source *s = open_text(LINE(
        "1760000000.000000") "\n"
                             "rubbish\n"
                             "\x80\x01\xFE\n"
                             "   \r\n" LINE(
                                 "1760000000.100000") "(1760000000.150000) can1 09F2000A#00\r\n"
                                                      "(1760000000.2000");
    struct frame f[10];
    assert_int_equal(read_all(s, f, 10, 10), 3);
    const struct source_stats *st = source_stats(s);
    assert_int_equal(st->frames, 3);
    assert_int_equal(st->lines, 8);
    assert_int_equal(st->bad_lines, 3);
    assert_int_equal(st->complaint_count, 3);
    assert_int_equal(st->complaints[0].line, 3);
    assert_int_equal(st->complaints[1].line, 4);
    assert_string_equal(st->complaints[1].reason, "not text");
    assert_int_equal(st->complaints[2].line, 8);
    assert_int_equal(st->bytes, st->size);
    assert_true(st->clock_known);
    assert_int_equal(f[2].iface, 1);
    assert_int_equal(f[2].len, 1);
    assert_int_equal(source_iface_count(s), 2);
    assert_string_equal(source_iface_name(s, 0), "can0");
    assert_string_equal(source_iface_name(s, 1), "can1");
    assert_string_equal(source_iface_name(s, 2), "");
    source_close(s);
}

static void log__many_bad_lines__keeps_the_first_few(void **state)
{
    (void)state;
    struct source *s = open_text("a\nb\nc\nd\ne\nf\ng\n");
    struct frame f[2];
    assert_int_equal(read_all(s, f, 2, 2), 0);
    assert_int_equal(source_stats(s)->bad_lines, 7);
    assert_int_equal(source_stats(s)->complaint_count, SOURCE_COMPLAINTS);
    assert_int_equal(source_stats(s)->complaints[SOURCE_COMPLAINTS - 1].line, 5);
    source_close(s);
}

static void log__empty__ends(void **state)
{
    (void)state;
    struct source *s = open_text("");
    struct frame f[2];
    assert_int_equal(read_all(s, f, 2, 2), 0);
    assert_int_equal(source_stats(s)->bad_lines, 0);
    source_close(s);
}

/* A last line without its end: eight bytes cannot have lost any, fewer may have. */
static void log__last_line_without_end__counts_only_when_whole(void **state)
{
    (void)state;
    struct frame f[2];
    struct source *s = open_text("(1760000000.000000) can0 09F2000A#00A916D2047FFFFF");
    assert_int_equal(read_all(s, f, 2, 2), 1);
    source_close(s);
    s = open_text("(1760000000.000000) can0 09F2000A#00A916D2047FFF");
    assert_int_equal(read_all(s, f, 2, 2), 0);
    assert_int_equal(source_stats(s)->bad_lines, 1);
    source_close(s);
    s = open_text(" (1760000000.000000)  can0  123   [2]  11 22");
    assert_int_equal(read_all(s, f, 2, 2), 1);
    source_close(s);
}

static void log__error_frame_explained__is_no_bad_line(void **state)
{
    (void)state;
    struct source *s = open_text(
        " (1760000000.000000)  can0  20000004   [8]  00 04 00 00 00 00 60 00   ERRORFRAME\n"
        "\tcontroller-problem{rx-error-warning}\n" LINE("1760000000.100000") "\tno reason to\n");
    struct frame f[4];
    assert_int_equal(read_all(s, f, 4, 4), 2);
    assert_int_equal(source_stats(s)->bad_lines, 1);
    assert_int_equal(source_stats(s)->error_frames, 1);
    source_close(s);
}

static void log__sorts_of_frames__are_counted(void **state)
{
    (void)state;
    struct source *s = open_text("(1760000000.000000) can0 123#R\n"
                                 "(1760000000.000000) can0 123##111\n"
                                 "(1760000000.000000) can0 20000004#0004000000006000\n"
                                 "(1760000000.000000) can0 18EAFFFE#00EE00\n"
                                 "(1760000000.000000) can0 18EAFFFE#R T\n");
    struct frame f[8];
    assert_int_equal(read_all(s, f, 8, 8), 5);
    const struct source_stats *st = source_stats(s);
    assert_int_equal(st->standard, 2);
    assert_int_equal(st->remote, 2);
    assert_int_equal(st->fd, 1);
    assert_int_equal(st->cut, 0);
    assert_int_equal(st->error_frames, 1);
    source_close(s);
}

/* 64 bytes do not fit a frame here: what is kept says that it is not all. */
static void log__long_can_fd_frame__is_cut_and_counted(void **state)
{
    (void)state;
#define EIGHT "1122334455667788"
    struct source *s = open_text(
        "(1760000000.000000) can0 123##1" EIGHT EIGHT EIGHT EIGHT EIGHT EIGHT EIGHT EIGHT "\n"
        "(1760000000.000000)  can0  123  [12]  11 22 33 44 55 66 77 88 99 AA BB CC\n"
        "(1760000000.000000) can0 123##1" EIGHT "\n");
    struct frame f[8];
    assert_int_equal(read_all(s, f, 8, 8), 3);
    assert_int_equal(f[0].flags & (FRAME_FD | FRAME_CUT), FRAME_FD | FRAME_CUT);
    assert_int_equal(f[0].len, 8);
    assert_int_equal(f[1].flags & (FRAME_FD | FRAME_CUT), FRAME_FD | FRAME_CUT);
    assert_int_equal(f[2].flags & (FRAME_FD | FRAME_CUT), FRAME_FD);
    assert_int_equal(source_stats(s)->fd, 3);
    assert_int_equal(source_stats(s)->cut, 2);
    source_close(s);
}

static void log__time_back_and_gap__mono_never_goes_back(void **state)
{
    (void)state;
    struct source *s = open_text(LINE("1760000000.000000") LINE("1760000001.000000")
                                     LINE("1760000000.500000") LINE("1760000000.600000")
                                         LINE("1760000100.600000") LINE("1860000000.000000"));
    struct frame f[8];
    assert_int_equal(read_all(s, f, 8, 8), 6);
    assert_int_equal(f[0].mono_ns, TIMELINE_START);
    assert_int_equal(f[1].mono_ns - f[0].mono_ns, S);
    assert_int_equal(f[2].mono_ns, f[1].mono_ns);
    assert_int_equal(f[3].mono_ns - f[2].mono_ns, S / 10);
    assert_true(f[4].flags & FRAME_GAP);
    assert_int_equal(f[4].mono_ns - f[3].mono_ns, 100 * S);
    assert_true(f[5].flags & FRAME_GAP);
    assert_int_equal(f[5].mono_ns - f[4].mono_ns, TIMELINE_GAP_SHOWN);
    assert_int_equal(source_stats(s)->steps_back, 1);
    assert_int_equal(source_stats(s)->gaps, 2);
    source_close(s);
}

static void log__seventeen_interfaces__the_last_is_a_complaint(void **state)
{
    (void)state;
    char text[2000] = "";
    size_t at = 0;
    for (int i = 0; i < 17; i++)
        at +=
            (size_t)snprintf(text + at, sizeof text - at, "(1760000000.000000) can%d 123#00\n", i);
    struct source *s = open_text(text);
    struct frame f[20];
    assert_int_equal(read_all(s, f, 20, 20), 16);
    assert_int_equal(source_stats(s)->bad_lines, 1);
    assert_int_equal(source_iface_count(s), SOURCE_IFACES);
    source_close(s);
}

static void log__from_zero__wall_counts_from_zero(void **state)
{
    (void)state;
    struct source *s = open_text(" (000.000000)  can0  123   [1]  0A\n"
                                 " (000.250000)  can0  123   [1]  0A\n"
                                 " (001.000000)  can0  123   [1]  0A\n");
    struct frame f[4];
    assert_int_equal(read_all(s, f, 4, 4), 3);
    assert_int_equal(f[1].wall_ns, S / 4);
    assert_int_equal(f[2].wall_ns, S);
    assert_false(source_stats(s)->clock_known);
    source_close(s);
}

static void log__differences__wall_accumulates(void **state)
{
    (void)state;
    struct source *s = open_text(" (000.000000)  can0  123   [1]  0A\n"
                                 " (000.250000)  can0  123   [1]  0A\n"
                                 " (000.100000)  can0  123   [1]  0A\n"
                                 " (000.250000)  can0  123   [1]  0A\n");
    struct frame f[5];
    assert_int_equal(read_all(s, f, 5, 5), 4);
    assert_int_equal(f[1].wall_ns, S / 4);
    assert_int_equal(f[2].wall_ns, S * 35 / 100);
    assert_int_equal(f[3].wall_ns, S * 6 / 10);
    assert_int_equal(f[3].mono_ns - f[0].mono_ns, S * 6 / 10);
    assert_false(source_stats(s)->clock_known);
    assert_int_equal(source_stats(s)->steps_back, 0);
    /* and again, from the start */
    assert_true(source_rewind(s));
    assert_int_equal(read_all(s, f, 5, 5), 4);
    assert_int_equal(f[3].wall_ns, S * 6 / 10);
    source_close(s);
}

static int64_t first_wall(const char *text, const char *zone)
{
    struct source_options options = {.zone = zone};
    struct source *s = source_open_memory(text, strlen(text), &options);
    assert_non_null(s);
    struct frame f[2];
    assert_int_equal(read_all(s, f, 2, 2), 1);
    source_close(s);
    return f[0].wall_ns;
}

/* Summer time in Berlin is UTC+2, winter time UTC+1 (IANA time zone database). */
static void log__local_date__follows_the_zone(void **state)
{
    (void)state;
    static const char summer[] = " (2026-05-04 14:12:07.123456)  can0  123   [1]  0A\n";
    static const char winter[] = " (2026-01-04 14:12:07.123456)  can0  123   [1]  0A\n";
    const int64_t utc = INT64_C(1777903927123456000);
    assert_int_equal(first_wall(summer, "UTC"), utc);
    assert_int_equal(first_wall(summer, "+02:00"), utc - 2 * 3600 * S);
    assert_int_equal(first_wall(summer, "-0330"), utc + 12600 * S);
    if (access("/usr/share/zoneinfo/Europe/Berlin", R_OK) == 0) {
        assert_int_equal(first_wall(summer, "Europe/Berlin"), utc - 2 * 3600 * S);
        assert_int_equal(first_wall(winter, "Europe/Berlin"), utc - 120 * 86400 * S - 3600 * S);
    }
    setenv("TZ", "XXX-3", 1);
    assert_int_equal(first_wall(summer, NULL), utc - 3 * 3600 * S);
    unsetenv("TZ");
}

static void log__no_such_zone__is_refused(void **state)
{
    (void)state;
    struct source_options options = {.zone = "Nowhere/Atall"};
    assert_null(source_open_memory("", 0, &options));
    options.zone = "+25";
    assert_null(source_open_memory("", 0, &options));
    options.zone = "../../etc/passwd";
    assert_null(source_open_memory("", 0, &options));
}

/* The explanation of an error frame at the end is no excuse for what a log begins with. */
static void log__read_again__begins_afresh(void **state)
{
    (void)state;
    static const char text[] = "\tno frame before it\n(1760000000.000000) can0 09F20000#00\n"
                               "(1760000000.100000) can0 20000080#0000000000000000\n";
    struct source *s = source_open_memory(text, sizeof text - 1, NULL);
    struct err e;
    struct frame f[4];
    size_t n;
    assert_non_null(s);
    for (int round = 0; round < 3; round++) {
        while (source_read(s, f, 4, &n, &e) == SOURCE_READY)
            ;
        assert_int_equal(source_stats(s)->bad_lines, 1);
        assert_int_equal(source_stats(s)->error_frames, 1);
        assert_int_equal(source_stats(s)->lines, 3);
        assert_true(source_rewind(s));
    }
    source_close(s);
}

static char *write_file(const char *text, size_t len)
{
    static char path[64];
    snprintf(path, sizeof path, "%s/XXXXXX", program_scratch());
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    while (len > 0) {
        ssize_t n = write(fd, text, len);
        assert_true(n > 0);
        text += n;
        len -= (size_t)n;
    }
    close(fd);
    return path;
}

/* A file far larger than the buffer, lines of every length across its edges, one line of 1 MB. */
static void log__large_file__gives_the_same_as_memory(void **state)
{
    (void)state;
    size_t cap = 4000000, len = 0;
    char *text = test_malloc(cap);
    int frames = 0, bad = 0;
    for (int i = 0; i < 20000; i++) {
        len += (size_t)snprintf(text + len, cap - len, "(17600000%02d.%06d) can%d 09F2%04X#%.*s\n",
                                i / 1000, i % 1000 * 1000, i % 3 == 0, i & 0xFFFF, 2 * (i % 9),
                                "0123456789ABCDEF");
        frames++;
        if (i % 5000 == 4999) {
            memset(text + len, i % 10000 == 4999 ? 'x' : 0, 600000);
            len += 600000;
            text[len++] = '\n';
            bad++;
        }
    }
    struct frame *a = test_malloc((size_t)(frames + 1) * sizeof *a);
    struct frame *b = test_malloc((size_t)(frames + 1) * sizeof *b);
    struct source *memory = source_open_memory(text, len, NULL);
    assert_int_equal(read_all(memory, a, (size_t)frames + 1, 1000), frames);
    char *path = write_file(text, len);
    struct err e = {""};
    struct source *file = source_open_log(path, NULL, &e);
    assert_non_null(file);
    assert_int_equal(source_fd(file), -1);
    for (int round = 0; round < 2; round++) {
        assert_int_equal(read_all(file, b, (size_t)frames + 1, 7), frames);
        for (int i = 0; i < frames; i++) {
            assert_int_equal(a[i].wall_ns, b[i].wall_ns);
            assert_int_equal(a[i].mono_ns, b[i].mono_ns);
            assert_int_equal(a[i].id, b[i].id);
            assert_int_equal(a[i].id, 0x09F20000u + ((unsigned)i & 0xFFFF));
            assert_int_equal(a[i].len, i % 9);
            assert_int_equal(b[i].len, i % 9);
            assert_int_equal(a[i].iface, b[i].iface);
            assert_memory_equal(a[i].data, b[i].data, 8);
        }
        assert_int_equal(source_stats(file)->bad_lines, bad);
        assert_int_equal(source_stats(memory)->bad_lines, bad);
        assert_int_equal(source_stats(file)->lines, source_stats(memory)->lines);
        assert_int_equal(source_stats(file)->bytes, len);
        assert_true(source_rewind(file));
    }
    source_close(file);
    source_close(memory);
    test_free(a);
    test_free(b);
    test_free(text);
}

static void log__fifo_in_small_pieces__waits_and_goes_on(void **state)
{
    (void)state;
    char path[64];
    snprintf(path, sizeof path, "%s/fifo", program_folder());
    assert_int_equal(mkfifo(path, 0600), 0);
    int hold = open(path, O_RDWR);
    assert_true(hold >= 0);
    struct err e = {""};
    struct source *s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    assert_true(source_fd(s) >= 0);
    assert_false(source_rewind(s));
    struct frame f[4];
    size_t n;
    assert_int_equal(source_read(s, f, 4, &n, &e), SOURCE_WAIT);
    static const char text[] = LINE("1760000000.000000") LINE("1760000001.000000");
    size_t seen = 0;
    for (size_t i = 0; i + 1 < sizeof text; i++) {
        assert_int_equal(write(hold, &text[i], 1), 1);
        enum source_state got = source_read(s, f, 4, &n, &e);
        assert_int_equal(got, text[i] == '\n' ? SOURCE_READY : SOURCE_WAIT);
        seen += n;
    }
    assert_int_equal(seen, 2);
    close(hold);
    assert_int_equal(source_read(s, f, 4, &n, &e), SOURCE_END);
    source_close(s);
}

/* A `tend` that was held up in open could not be ended by a signal. */
static void log__fifo_nobody_writes_yet__opens_and_waits(void **state)
{
    (void)state;
    char name[64];
    snprintf(name, sizeof name, "%s/fifo", program_folder());
    assert_int_equal(mkfifo(name, 0600), 0);
    struct err e = {""};
    alarm(10); /* ends the test where opening waits */
    struct source *s = source_open_log(name, NULL, &e);
    alarm(0);
    assert_non_null(s);
    struct frame f[4];
    size_t n = 0;
    assert_int_equal(source_read(s, f, 4, &n, &e), SOURCE_WAIT);
    source_close(s);
}

/* What has a dot and is no interface is a mistyped log, not an interface to wait for. */
static void interface_name__mistyped_log__is_not_waited_for(void **state)
{
    (void)state;
    assert_false(socketcan_is_name("no-such-trip.log"));
    assert_false(socketcan_is_name("nowhere/trip"));
    assert_true(socketcan_is_name("can97"));
    assert_true(socketcan_is_unknown("can97"));
    assert_false(socketcan_is_unknown("-"));
    struct err e = {"cannot read it"};
    assert_false(socketcan_say_unknown("no-such-\x1b[2J.log", &e));
    assert_string_equal(e.text, "'no-such-?[2J.log' is neither a log nor an interface that is "
                                "there now: cannot read it");
}

static void log__cannot_be_opened__says_why(void **state)
{
    (void)state;
    struct err e = {""};
    assert_null(source_open_log("/nonexistent/x.log", NULL, &e));
    assert_non_null(strstr(e.text, "cannot read '/nonexistent/x.log'"));
    assert_null(source_open_log("/tmp", NULL, &e));
    assert_non_null(strstr(e.text, "directory"));
    assert_null(source_open_log("/nonexistent/\x1b[31m", NULL, &e));
    assert_null(strchr(e.text, '\x1b'));
}

/* An interface may be called by the sign that pads text on the bus. */
static void log__interface_called_at__keeps_its_name(void **state)
{
    (void)state;
    static const char text[] = "(3) @ TX -   123 [0]\n(4) can@ 123 [0]\n(5) can 123 [0]\n";
    struct source *s = source_open_memory(text, sizeof text - 1, NULL);
    struct frame f[4];
    size_t n;
    struct err e;
    assert_int_equal(source_read(s, f, 4, &n, &e), SOURCE_READY);
    assert_int_equal(n, 3);
    assert_int_equal(f[0].flags, FRAME_SENT);
    assert_string_equal(source_iface_name(s, f[0].iface), "@");
    assert_string_equal(source_iface_name(s, f[1].iface), "can@");
    assert_string_equal(source_iface_name(s, f[2].iface), "can");
    source_close(s);
}

/* ---- several logs as one ---- */

static char folder[64];

static void put_log(const char *name, const char *text)
{
    char file[128];
    snprintf(file, sizeof file, "%s/%s", folder, name);
    FILE *out = fopen(file, "w");
    assert_non_null(out);
    fputs(text, out);
    fclose(out);
}

static int remove_folder(void **state)
{
    (void)state;
    char command[96];
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command);
}

static int make_folder(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/stokehold-logs-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static void logs__of_a_directory__are_read_in_order_of_time_on_one_clock(void **state)
{
    (void)state;
    put_log("a-second.log", "(1760003600.0) can1 09F20000#01\n(1760003600.5) can0 09F20000#02\n");
    put_log("b-first.log", "(1760000000.0) can0 09F20000#00\n");
    put_log("c-empty.log", "");
    put_log("d-next-trip.log", "not a frame\n(1760018000.6) can0 09F20000#03\n");
    put_log("notes.txt", "(1760000000.0) can0 09F20000#09\n");
    const char *paths[] = {folder};
    struct err e = {""};
    struct source *s = source_open_logs(paths, 1, NULL, &e);
    assert_non_null(s);
    for (int round = 0; round < 2; round++) {
        struct frame f[8];
        size_t n;
        uint64_t trips[4];
        unsigned count = 0;
        int64_t mono[4];
        while (source_read(s, f, 8, &n, &e) == SOURCE_READY)
            for (size_t i = 0; i < n; i++) {
                assert_true(source_stats(s)->lines > count); /* of the log that is read, too */
                assert_in_range(count, 0, 3);
                assert_int_equal(f[i].data[0], count);
                assert_string_equal(source_iface_name(s, f[i].iface), count == 1 ? "can1" : "can0");
                trips[count] = source_stats(s)->trips;
                mono[count++] = f[i].mono_ns;
            }
        assert_int_equal(count, 4);
        /* a gap in the record goes on by ten minutes at most, as within one log */
        assert_int_equal(mono[1] - mono[0], INT64_C(600000000000));
        assert_int_equal(mono[2] - mono[1], INT64_C(500000000));
        assert_int_equal(trips[2], 0);
        assert_int_equal(trips[3], 1); /* 4 h and 0.1 s after the one before */
        assert_int_equal(source_stats(s)->frames, 4);
        assert_int_equal(source_stats(s)->bad_lines, 1);
        struct source_part part;
        assert_true(source_part(s, 2, &part));
        assert_non_null(strstr(part.path, "d-next-trip.log"));
        assert_int_equal(part.stats.bad_lines, 1);
        assert_true(source_part(s, 3, &part));
        assert_non_null(strstr(part.path, "c-empty.log"));
        assert_int_equal(part.stats.frames, 0);
        assert_false(source_part(s, 4, &part));
        assert_true(source_rewind(s));
    }
    source_close(s);
}

static void logs__that_overlap__say_so(void **state)
{
    (void)state;
    put_log("a.log", "(1760000000.0) can0 09F20000#01\n(1760000009.0) can0 09F20000#02\n");
    put_log("b.log", "(1760000005.0) can1 09F20000#01\n");
    struct err e = {""};
    struct source *s = source_open_logs((const char *const[]){folder}, 1, NULL, &e);
    assert_non_null(s);
    struct frame f[8];
    size_t n;
    while (source_read(s, f, 8, &n, &e) == SOURCE_READY)
        ;
    struct source_part part;
    assert_true(source_part(s, 0, &part));
    assert_false(part.overlaps);
    assert_true(source_part(s, 1, &part));
    assert_true(part.overlaps);
    source_close(s);
    assert_null(source_open_logs((const char *const[]){"-", folder}, 2, NULL, &e));
    assert_non_null(strstr(e.text, "together with other logs"));
}

/* Standard input as a file: whoever reads it has a place of its own in it. */
static void log__standard_input_read_twice__is_the_same_twice(void **state)
{
    (void)state;
    put_log("a.log", "rubbish\n(1760000000.0) can0 09F20000#01\n(1760000009.0) can0 09F20000#02\n");
    char file[128];
    snprintf(file, sizeof file, "%s/a.log", folder);
    int kept = dup(0), fd = open(file, O_RDONLY);
    assert_int_equal(lseek(fd, 8, SEEK_SET), 8); /* the rubbish was read by somebody else */
    assert_int_equal(dup2(fd, 0), 0);
    close(fd);
    struct err e = {""};
    struct source *s[2] = {source_open_log("-", NULL, &e), source_open_log("-", NULL, &e)};
    for (int i = 0; i < 2; i++)
        for (int k = 1; k <= 2; k++) {
            struct frame f;
            size_t n;
            assert_int_equal(source_read(s[i], &f, 1, &n, &e), SOURCE_READY);
            assert_int_equal(f.data[0], k);
        }
    assert_int_equal(source_stats(s[1])->bad_lines, 0);
    source_close(s[0]);
    source_close(s[1]);
    dup2(kept, 0);
    close(kept);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(log__read_again__begins_afresh),
        cmocka_unit_test(log__frames_and_rubbish__reads_on_and_counts),
        cmocka_unit_test(log__many_bad_lines__keeps_the_first_few),
        cmocka_unit_test(log__empty__ends),
        cmocka_unit_test(log__last_line_without_end__counts_only_when_whole),
        cmocka_unit_test(log__error_frame_explained__is_no_bad_line),
        cmocka_unit_test(log__sorts_of_frames__are_counted),
        cmocka_unit_test(log__long_can_fd_frame__is_cut_and_counted),
        cmocka_unit_test(log__time_back_and_gap__mono_never_goes_back),
        cmocka_unit_test(log__seventeen_interfaces__the_last_is_a_complaint),
        cmocka_unit_test(log__from_zero__wall_counts_from_zero),
        cmocka_unit_test(log__differences__wall_accumulates),
        cmocka_unit_test(log__local_date__follows_the_zone),
        cmocka_unit_test(log__no_such_zone__is_refused),
        cmocka_unit_test(log__large_file__gives_the_same_as_memory),
        cmocka_unit_test(log__fifo_in_small_pieces__waits_and_goes_on),
        cmocka_unit_test(log__fifo_nobody_writes_yet__opens_and_waits),
        cmocka_unit_test(interface_name__mistyped_log__is_not_waited_for),
        cmocka_unit_test(log__cannot_be_opened__says_why),
        cmocka_unit_test(log__interface_called_at__keeps_its_name),
        cmocka_unit_test_setup_teardown(
            logs__of_a_directory__are_read_in_order_of_time_on_one_clock, make_folder,
            remove_folder),
        cmocka_unit_test_setup_teardown(logs__that_overlap__say_so, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(log__standard_input_read_twice__is_the_same_twice,
                                        make_folder, remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
