/* A log read between two moments, and what is said of logs that hold nothing of what was asked for
 * or have lines that are no frames. */
#include "session/log_reader.h"

#include "base/text.h"
#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

static struct log_reader reader;
static char path[PROGRAM_PATH];

/* Five frames a second apart from 14:00:00 on. */
static const char five[] = "(1777903200.0) can0 09F80226#00\n(1777903201.0) can0 09F80226#01\n"
                           "(1777903202.0) can0 09F80226#02\n(1777903203.0) can0 09F80226#03\n"
                           "(1777903204.0) can0 09F80226#04\n";

static void open_log(const char *text)
{
    static const char *paths[1];
    struct err e;
    text_copy(path, sizeof path, program_file("read.log", text));
    paths[0] = path;
    assert_true(log_reader_open(&reader, paths, 1, NULL, &e));
}

static void ask(const char *from, const char *to)
{
    reader.range.has_from = from != NULL;
    reader.range.has_to = to != NULL;
    if (from)
        assert_true(when_parse_in_log(from, &reader.range.from));
    if (to)
        assert_true(when_parse_in_log(to, &reader.range.to));
}

/* The first bytes of the frames that were within. */
static const char *within(void)
{
    static char seen[16];
    struct err e;
    size_t n = 0;
    while (log_reader_next(&reader, &e) == SOURCE_READY) {
        assert_true(reader.n > 0);
        for (size_t i = 0; i < reader.n && reader.within; i++)
            seen[n++] = (char)('0' + reader.frames[i].data[0]);
    }
    assert_true(reader.over);
    assert_int_equal(reader.within_count, n);
    seen[n] = '\0';
    return seen;
}

static void range__both_ends_count(void **state)
{
    static const struct {
        const char *from, *to, *seen;
    } rows[] = {
        {NULL, NULL, "01234"},         {"+00:00", NULL, "01234"},
        {"+00:01", NULL, "1234"},      {"+00:04", NULL, "4"},
        {"+00:04.1", NULL, ""},        {NULL, "+00:03", "0123"},
        {NULL, "+00:00", "0"},         {"+00:01", "+00:03", "123"},
        {"+00:01.5", "+00:02.5", "2"}, {"14:00:02", "14:00:02", "2"},
        {"14:00:03", "14:00:02", ""},  {"2026-05-04 14:00:01", "2026-05-04 14:00:01", "1"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        open_log(five);
        ask(rows[i].from, rows[i].to);
        assert_string_equal(within(), rows[i].seen);
        assert_true(reader.first_ns == INT64_C(1777903200) * NS_PER_S);
        assert_true(log_reader_rewind(&reader)); /* once more, the same */
        assert_string_equal(within(), rows[i].seen);
        log_reader_close(&reader);
    }
}

/* What stands after the file's name. */
static void nothing_says(const char *text, const char *from, const char *to, const char *wanted)
{
    char said[400];
    open_log(text);
    ask(from, to);
    within();
    bool nothing = log_reader_nothing(&reader, path, said, sizeof said);
    assert_int_equal(nothing, wanted != NULL);
    if (wanted) {
        assert_memory_equal(said, path, strlen(path));
        assert_string_equal(said + strlen(path), wanted);
    }
    log_reader_close(&reader);
}

static void nothing__what_it_is_instead(void **state)
{
    (void)state;
    nothing_says("", NULL, NULL, ": no frame in it: it is empty");
    nothing_says("\n\n \n", NULL, NULL, ": no frame in it: nothing but blanks");
    nothing_says("hello\n", NULL, NULL,
                 ": no frame in it: 1 line of text, but not of candump (line 1 does not begin with "
                 "a time stamp in brackets)");
    nothing_says(
        "\nhello\nagain\n", NULL, NULL,
        ": no frame in it: 3 lines of text, but not of candump (line 2 does not begin with "
        "a time stamp in brackets)");
    nothing_says(five, "15:00", "16:00",
                 ": no frame between --from and --to: it has 2026-05-04 14:00:00 to 2026-05-04 "
                 "14:00:04");
    nothing_says(
        five, NULL, "2026-05-04 13:59:59",
        ": no frame between --from and --to: it begins at 2026-05-04 14:00:00, after --to");
    nothing_says(five, "+00:03", "+00:02",
                 ": no frame between --from and --to: --from is after --to");
    nothing_says("(0.0) can0 09F80226#00\n(1.0) can0 09F80226#01\n", "+00:09", NULL,
                 ": no frame between --from and --to: it has +00:00 to +00:01");
    nothing_says(five, "+00:04", NULL, NULL);
    /* read no further than that: nothing is said of its end */
    nothing_says(five, "+00:01.5", "+00:01.5",
                 ": no frame between --from and --to: it has none from 2026-05-04 14:00:01 to "
                 "2026-05-04 14:00:02");
    nothing_says("\x01\x02\x7f\n", NULL, NULL, ": no frame in it: binary data, and not a capture");
    char said[200];
    open_log(five); /* nothing yet is not nothing */
    assert_false(log_reader_nothing(&reader, path, said, sizeof said));
    log_reader_close(&reader);
    assert_string_equal(log_name(said, sizeof said, "-"), "standard input");
    assert_string_equal(log_name(said, sizeof said, "a\x1b.log"), "a?.log");
}

/* ---- on stderr ---- */

static const char *reported(int status)
{
    static char said[4000];
    FILE *f = tmpfile();
    assert_non_null(f);
    fflush(stderr);
    int before = dup(STDERR_FILENO);
    assert_true(before >= 0 && dup2(fileno(f), STDERR_FILENO) >= 0);
    int got = log_reader_report(&reader, "sift", path);
    fflush(stderr);
    dup2(before, STDERR_FILENO);
    close(before);
    rewind(f);
    size_t n = fread(said, 1, sizeof said - 1, f);
    said[n] = '\0';
    fclose(f);
    assert_int_equal(got, status);
    return said;
}

/* "P" stands for the path. */
static void check_report(const char *text, int status, const char *wanted)
{
    char all[4000];
    size_t n = 0;
    open_log(text);
    ask(NULL, NULL);
    within();
    for (const char *p = wanted; *p; p++)
        n += (size_t)snprintf(all + n, sizeof all - n, "%.*s", *p == 'P' ? PROGRAM_PATH : 1,
                              *p == 'P' ? path : p);
    assert_string_equal(reported(status), all);
    log_reader_close(&reader);
}

static void report__lines_that_are_no_frames_and_frames_that_were_cut(void **state)
{
    char many[2000] = "(1777903200.0) can0 09F80226#00\n", wanted[2000] = "";

    (void)state;
    check_report(five, EXIT_DONE, "");
    check_report("(1777903200.0) can0 09F80226#00\nhello\n(1777903201.0) can0 09F80226#01\n",
                 EXIT_DONE, "P:2: does not begin with a time stamp in brackets\n");
    for (int i = 0; i < SOURCE_COMPLAINTS + 2; i++) {
        text_append(many, sizeof many, "hello\n");
        if (i < SOURCE_COMPLAINTS)
            text_append(wanted, sizeof wanted,
                        "P:%d: does not begin with a time stamp in brackets\n", i + 2);
    }
    text_append(wanted, sizeof wanted, "P: 2 more lines are not frames\n");
    check_report(many, EXIT_DONE, wanted);
    check_report("(1777903200.0) can0 09F80226##0001122334455667788\n", EXIT_DONE,
                 "P: 1 CAN FD frame longer than 8 bytes: the rest is not kept\n");
    check_report("(1777903200.0) can0 09F80226##0001122334455667788\n"
                 "(1777903200.1) can0 09F80226##0001122334455667788\n"
                 "(1777903200.2) can0 09F80226##00011223344556677\n",
                 EXIT_DONE, "P: 2 CAN FD frames longer than 8 bytes: the rest is not kept\n");
    check_report("(0.0) can0 09F80226#00\n", EXIT_DONE,
                 "stokehold sift: P has no clock times; times count from its start\n");
    check_report("", EXIT_SOURCE, "stokehold sift: P: no frame in it: it is empty\n");
}

static bool take(void *ctx, const struct log_reader *r)
{
    size_t *left = ctx;
    *left -= r->n < *left ? r->n : *left;
    return *left > 0;
}

/* To the end, or as far as somebody wants it. */
static void run__until_it_is_enough(void **state)
{
    (void)state;
    for (size_t wanted = 1; wanted <= 9; wanted += 4) {
        size_t left = wanted;
        open_log(five);
        ask(NULL, NULL);
        const struct log_taker taker = {.ctx = &left, .frames = take};
        assert_int_equal(log_reader_run(&reader, "sift", path, &taker), EXIT_DONE);
        assert_int_equal(left, wanted > 5 ? wanted - 5 : 0);
        assert_int_equal(reader.over, wanted > 5);
        log_reader_close(&reader);
    }
}

int main(void)
{
    setenv("TZ", "UTC", 1);
    tzset();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(range__both_ends_count),
        cmocka_unit_test(nothing__what_it_is_instead),
        cmocka_unit_test(run__until_it_is_enough),
        cmocka_unit_test(report__lines_that_are_no_frames_and_frames_that_were_cut),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
