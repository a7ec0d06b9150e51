/* Several logs read as one: in the order of their first frames, an incident by its frames alone,
 * and the words where it cannot be. */
#include "bus/source.h"

#include "support/check.h"
#include "support/program.h"

#include "base/text.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char dir[512];

static const char *in_dir(const char *name)
{
    static char path[4][640];
    static int next;
    next = (next + 1) % 4;
    text_format(path[next], sizeof path[next], "%s/%s", dir, name);
    return path[next];
}

static void write_log(const char *name, int second, unsigned byte)
{
    FILE *f = fopen(in_dir(name), "w");
    assert_non_null(f);
    if (byte)
        fprintf(f, "(%d.000000) can0 09F20020#%02X\n", 1760000000 + second, byte);
    fclose(f);
}

static int setup(void **state)
{
    static int n;
    (void)state;
    text_format(dir, sizeof dir, "%s/logs%d", program_scratch(), n++);
    return mkdir(dir, 0700);
}

/* The first bytes of all frames, in the order they come. */
static const char *order(const char *const *paths, int count)
{
    static char text[64];
    struct err e = {""};
    struct source *s = source_open_logs(paths, count, NULL, &e);
    text[0] = '\0';
    if (!s)
        fail_msg("%s", e.text);
    for (;;) {
        struct frame f[4];
        size_t n = 0;
        enum source_state state = source_read(s, f, 4, &n, &e);
        for (size_t i = 0; i < n; i++)
            text_append(text, sizeof text, "%02X ", f[i].data[0]);
        if (state == SOURCE_END)
            break;
        assert_int_equal(state, SOURCE_READY);
    }
    source_close(s);
    return text;
}

static void refused(const char *const *paths, int count, const char *words)
{
    struct err e = {""};
    assert_null(source_open_logs(paths, count, NULL, &e));
    assert_string_equal(e.text, words);
}

static void logs__in_any_order__are_read_in_that_of_their_first_frames(void **state)
{
    (void)state;
    write_log("z.log", 10, 0x11);
    write_log("a.log", 30, 0x33);
    write_log("m.log", 20, 0x22);
    write_log("empty.log", 0, 0);
    write_log("b.log", 30, 0x34); /* at the same moment: by name */
    const char *paths[] = {in_dir("b.log"), in_dir("empty.log"), in_dir("z.log"), in_dir("a.log")};
    assert_string_equal(order(paths, 4), "11 33 34 ");
    const char *all[] = {dir};
    assert_string_equal(order(all, 1), "11 22 33 34 ");
}

/* What is not named as a log is none, and no directory is gone into. */
static void directory__its_logs_by_their_names__and_no_other_file(void **state)
{
    (void)state;
    write_log("trip.log", 10, 0x11);
    write_log("notes.txt", 5, 0x99);
    write_log("log", 6, 0x98);
    assert_int_equal(mkdir(in_dir("deeper.log"), 0700), 0);
    const char *paths[] = {dir};
    assert_string_equal(order(paths, 1), "11 ");
}

static void directory__of_an_incident__its_frames_alone(void **state)
{
    (void)state;
    write_log("frames.log", 10, 0x11);
    write_log("other.log", 5, 0x99);
    const char *paths[] = {dir};
    assert_string_equal(order(paths, 1), "11 ");
}

static void refused__says_which_and_why(void **state)
{
    (void)state;
    char words[800];
    const char *empty[] = {dir};
    text_format(words, sizeof words,
                "'%s' is a directory without a log file (.log, .pcap, .pcapng)", dir);
    refused(empty, 1, words);
    write_log("trip.log", 10, 0x11);
    const char *with_input[] = {in_dir("trip.log"), "-"};
    refused(with_input, 2, "standard input cannot be read together with other logs");
    const char *with_none[] = {in_dir("trip.log"), "/no/such/place.log"};
    refused(with_none, 2, "cannot read '/no/such/place.log': No such file or directory");
    const char *none_first[] = {"/no/such/place.log", in_dir("trip.log")};
    refused(none_first, 2, "cannot read '/no/such/place.log': No such file or directory");
    assert_int_equal(mkfifo(in_dir("pipe"), 0600), 0);
    int fd = open(in_dir("pipe"), O_RDWR | O_CLOEXEC); /* somebody writes into it */
    static const char line[] = "(1760000000.000000) can0 09F20020#77\n";
    assert_int_equal(write(fd, line, sizeof line - 1), sizeof line - 1);
    const char *with_pipe[] = {in_dir("trip.log"), in_dir("pipe")};
    text_format(words, sizeof words,
                "'%s' cannot be read together with other logs: it is not a file", in_dir("pipe"));
    refused(with_pipe, 2, words);
    close(fd);
}

static void stats__of_all__are_added(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        char name[16];
        text_format(name, sizeof name, "%d.log", i);
        FILE *f = fopen(in_dir(name), "w");
        assert_non_null(f);
        fprintf(f, "(%d.0) can0 09F20020#01\nrubbish\n(%d.5) can0 09F20020#R\n",
                1760000000 + 10 * i, 1760000000 + 10 * i);
        fclose(f);
    }
    struct err e = {""};
    const char *paths[] = {dir};
    struct source *s = source_open_logs(paths, 1, NULL, &e);
    assert_non_null(s);
    struct frame f[8];
    size_t n;
    while (source_read(s, f, 8, &n, &e) == SOURCE_READY)
        ;
    const struct source_stats *st = source_stats(s);
    assert_int_equal(st->lines, 9);
    assert_int_equal(st->bad_lines, 3);
    assert_int_equal(st->remote, 3);
    assert_int_equal(st->frames, 6);
    assert_int_equal(st->bytes, st->size);
    assert_true(st->clock_known);
    source_close(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#define T(f) cmocka_unit_test_setup(f, setup)
        T(logs__in_any_order__are_read_in_that_of_their_first_frames),
        T(directory__its_logs_by_their_names__and_no_other_file),
        T(directory__of_an_incident__its_frames_alone),
        T(refused__says_which_and_why),
        T(stats__of_all__are_added),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
