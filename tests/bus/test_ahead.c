/* A log read ahead by a thread against the same log read in place: the same batches, counters and
 * names at every step. */
#include "bus/ahead.h"

#include "bus/source_kind.h"

#include "support/check.h"
#include "support/program.h"

#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#define LINES 20000 /* more than the ring holds */

static char path[64];

/* Plain lines, among them a second interface, 11-bit and CAN FD frames, error frames, lines that
 * are none, steps back and a gap. */
static void write_log(void)
{
    snprintf(path, sizeof path, "%s/XXXXXX", program_scratch());
    FILE *out = fdopen(mkstemp(path), "w");
    assert_non_null(out);
    for (int i = 0; i < LINES; i++) {
        int second = 1760000000 + i / 500 + (i > LINES / 2 ? 600 : 0);
        const char *iface = i > 7000 && i % 3 == 0 ? "can1" : "can0";
        if (i % 977 == 0)
            fprintf(out, "this is line %d and no frame\n", i);
        else if (i % 613 == 0)
            fprintf(out, "(%d.%06d) %s 123#11%02X\n", second, 7 * i % 1000, iface, i & 255);
        else if (i % 1709 == 0)
            fprintf(out, "(%d.%06d) %s 12345678##1%032X\n", second, 7 * i % 1000, iface, i);
        else if (i % 2111 == 0)
            fprintf(out, "(%d.%06d) %s 20000080#0000000000000000\n", second, 7 * i % 1000, iface);
        else
            fprintf(out, "(%d.%06d) %s 09F2%04X#%016X\n", second, 7 * i % 1000, iface, i, 3 * i);
    }
    fprintf(out, "(1760009999.000000) can0 09F20000#01");
    assert_int_equal(fclose(out), 0);
}

static struct source *open_plain(void)
{
    struct err e = {""};
    struct source *s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    return s;
}

static struct source *open_ahead(void)
{
    struct source *plain = open_plain(), *s = source_ahead(plain);
    assert_ptr_not_equal(s, plain); /* it is read by a thread */
    return s;
}

static void assert_same_stats(const struct source *a, const struct source *b)
{
    const struct source_stats *x = source_stats(a), *y = source_stats(b);
    assert_int_equal(x->frames, y->frames);
    assert_int_equal(x->bytes, y->bytes);
    assert_int_equal(x->size, y->size);
    assert_int_equal(x->lines, y->lines);
    assert_int_equal(x->bad_lines, y->bad_lines);
    assert_int_equal(x->remote, y->remote);
    assert_int_equal(x->error_frames, y->error_frames);
    assert_int_equal(x->fd, y->fd);
    assert_int_equal(x->standard, y->standard);
    assert_int_equal(x->cut, y->cut);
    assert_int_equal(x->steps_back, y->steps_back);
    assert_int_equal(x->gaps, y->gaps);
    assert_int_equal(x->clock_known, y->clock_known);
    assert_int_equal(x->complaint_count, y->complaint_count);
    for (int i = 0; i < x->complaint_count; i++) {
        assert_int_equal(x->complaints[i].line, y->complaints[i].line);
        assert_string_equal(x->complaints[i].reason, y->complaints[i].reason);
    }
    assert_int_equal(source_iface_count(a), source_iface_count(b));
    for (int i = 0; i < source_iface_count(a); i++)
        assert_string_equal(source_iface_name(a, (uint8_t)i), source_iface_name(b, (uint8_t)i));
}

static void assert_same_frame(const struct frame *a, const struct frame *b)
{
    assert_true(a->wall_ns == b->wall_ns && a->mono_ns == b->mono_ns);
    assert_int_equal(a->id, b->id);
    assert_int_equal(a->iface, b->iface);
    assert_int_equal(a->len, b->len);
    assert_int_equal(a->flags, b->flags);
    assert_memory_equal(a->data, b->data, a->len);
}

/* To the end, or for `most` batches. */
static void assert_same_course(struct source *plain, struct source *ahead, int most)
{
    static struct frame x[SOURCE_BATCH], y[SOURCE_BATCH];
    struct err e = {""};
    for (int i = 0; i < most; i++) {
        size_t n, m;
        enum source_state was = source_read(plain, x, SOURCE_BATCH, &n, &e);
        assert_int_equal(source_read(ahead, y, SOURCE_BATCH, &m, &e), was);
        assert_int_equal(m, n);
        for (size_t k = 0; k < n; k++)
            assert_same_frame(&y[k], &x[k]);
        assert_same_stats(ahead, plain);
        if (was != SOURCE_READY) {
            assert_int_equal(was, SOURCE_END);
            assert_int_equal(source_read(ahead, y, SOURCE_BATCH, &m, &e), SOURCE_END);
            return;
        }
    }
}

static void whole_log__ahead__as_in_place(void **state)
{
    (void)state;
    write_log();
    struct source *plain = open_plain(), *ahead = open_ahead();
    assert_same_course(plain, ahead, LINES);
    assert_true(source_stats(ahead)->bad_lines > LINES / 977); /* the cut line too */
    assert_true(source_stats(ahead)->steps_back > 0 && source_stats(ahead)->gaps > 0);
    assert_int_equal(source_iface_count(ahead), 2);
    source_close(plain);
    source_close(ahead);
}

static void rewound__in_the_middle_and_at_the_end__from_the_first_frame_again(void **state)
{
    (void)state;
    write_log();
    struct source *plain = open_plain(), *ahead = open_ahead();
    for (int i = 0; i < 3; i++) {
        assert_same_course(plain, ahead, i < 2 ? 5 : LINES);
        assert_true(source_rewind(plain) && source_rewind(ahead));
    }
    assert_same_course(plain, ahead, LINES);
    source_close(plain);
    source_close(ahead);
}

static void small_pieces__are_asked_for__every_frame_in_order(void **state)
{
    (void)state;
    write_log();
    struct source *plain = open_plain(), *ahead = open_ahead();
    struct frame x, y[7];
    struct err e = {""};
    size_t n, m;
    while (source_read(ahead, y, 7, &m, &e) == SOURCE_READY)
        for (size_t k = 0; k < m; k++) {
            assert_int_equal(source_read(plain, &x, 1, &n, &e), SOURCE_READY);
            assert_same_frame(&y[k], &x);
        }
    assert_int_equal(source_read(plain, &x, 1, &n, &e), SOURCE_END);
    assert_same_stats(ahead, plain);
    source_close(plain);
    source_close(ahead);
}

static void closed__at_any_time__ends(void **state)
{
    (void)state;
    write_log();
    source_close(open_ahead()); /* before it was read */
    for (int i = 0; i < 50; i++) {
        struct source *plain = open_plain(), *ahead = open_ahead();
        assert_same_course(plain, ahead, 1 + i % 20);
        source_close(plain);
        source_close(ahead);
    }
}

/* ---- what a helper makes ---- */

struct made {
    size_t n;
    uint64_t sum;
};

static uint64_t sum_of(const struct frame *f, size_t n)
{
    uint64_t sum = n;
    for (size_t i = 0; i < n; i++)
        sum = 31 * sum + f[i].id + (uint64_t)f[i].mono_ns + f[i].data[f[i].len / 2];
    return sum;
}

static void make_sum(void *ctx, const struct frame *f, size_t n, void *room)
{
    struct made *m = room;
    m->n = n;
    m->sum = sum_of(f, n);
    ++*(size_t *)ctx;
}

static void helper__every_batch__is_handed_out_with_what_was_made_of_it(void **state)
{
    (void)state;
    static struct frame out[SOURCE_BATCH];
    size_t made = 0, batches = 0, n;
    struct err e = {""};
    write_log();
    struct source *s = open_ahead();
    struct source_helper h = {.ctx = &made, .room = sizeof(struct made), .make = make_sum};
    assert_null(source_made(s));
    assert_true(source_help(s, &h));
    assert_false(source_help(s, &h)); /* one is all */
    while (source_read(s, out, SOURCE_BATCH, &n, &e) == SOURCE_READY) {
        const struct made *m = source_made(s);
        assert_non_null(m);
        assert_int_equal(m->n, n);
        assert_true(m->sum == sum_of(out, n));
        batches++;
    }
    assert_null(source_made(s));
    assert_false(source_rewind(s)); /* who makes it would not know */
    source_close(s);
    assert_int_equal(made, batches);
    assert_true(batches > 16); /* the ring went round */
}

static void helper__batches_in_pieces_or_no_thread__nothing_is_said_of_them(void **state)
{
    (void)state;
    static struct frame out[SOURCE_BATCH];
    size_t made = 0, n;
    struct err e = {""};
    struct source_helper h = {.ctx = &made, .room = sizeof(struct made), .make = make_sum};
    write_log();
    struct source *plain = open_plain(), *s = open_ahead();
    assert_false(source_help(plain, &h));
    assert_null(source_made(plain));
    assert_true(source_help(s, &h));
    for (int i = 0; i < 50; i++) {
        assert_int_equal(source_read(s, out, 100, &n, &e), SOURCE_READY);
        assert_null(source_made(s));
    }
    source_close(plain);
    source_close(s);
}

/* ---- what is streamed ---- */

static struct source *open_pipe(int ends[2])
{
    struct err e = {""};
    char name[40];
    assert_int_equal(pipe(ends), 0);
    snprintf(name, sizeof name, "/dev/fd/%d", ends[0]);
    struct source *s = source_open_log(name, NULL, &e);
    assert_non_null(s);
    struct source *ahead = source_ahead(s);
    assert_ptr_not_equal(ahead, s);
    close(ends[0]);
    return ahead;
}

static void put_line(int fd, int i)
{
    char line[80];
    int n = snprintf(line, sizeof line, "(1760000000.%06d) can0 09F2%04X#%016X\n", i, i, i);
    assert_int_equal(write(fd, line, (size_t)n), n);
}

/* As a verb waits: asks, polls where there is nothing, asks again. */
static enum source_state read_patiently(struct source *s, struct frame *out, size_t *n)
{
    struct err e = {""};
    enum source_state state;
    while ((state = source_read(s, out, SOURCE_BATCH, n, &e)) == SOURCE_WAIT) {
        struct pollfd p = {.fd = source_fd(s), .events = POLLIN};
        assert_int_equal(poll(&p, 1, 10000), 1); /* a failure, and not a delay */
    }
    return state;
}

static void pipe_that_pauses__each_line__is_handed_on_before_the_next_is_written(void **state)
{
    (void)state;
    static struct frame out[SOURCE_BATCH];
    int ends[2];
    size_t n;
    struct err e = {""};
    struct source *s = open_pipe(ends);
    for (int i = 0; i < 200; i++) {
        put_line(ends[1], i);
        assert_int_equal(read_patiently(s, out, &n), SOURCE_READY);
        assert_int_equal(n, 1);
        assert_int_equal(out[0].id, 0x09F20000 + i);
        if (i % 2) /* nothing there: said at once, again and again */
            for (int k = 0; k < 3; k++)
                assert_int_equal(source_read(s, out, SOURCE_BATCH, &n, &e), SOURCE_WAIT);
    }
    assert_false(source_rewind(s));
    close(ends[1]);
    assert_int_equal(read_patiently(s, out, &n), SOURCE_END);
    source_close(s);
}

static void pipe_that_pauses__closed_meanwhile__ends(void **state)
{
    (void)state;
    static struct frame out[SOURCE_BATCH];
    int ends[2];
    size_t n;
    struct err e = {""};
    struct source *s = open_pipe(ends);
    assert_int_equal(source_read(s, out, SOURCE_BATCH, &n, &e), SOURCE_WAIT);
    source_close(s);
    close(ends[1]);
}

/* A file that is open and cannot be read: the memory of a process, at an address without any. */
static void log_that_fails__ahead__says_why(void **state)
{
    (void)state;
    struct err e = {""}, why = {""};
    struct frame f;
    size_t n;
    struct source *plain = source_open_log("/proc/self/mem", NULL, &e);
    struct source *ahead = source_ahead(source_open_log("/proc/self/mem", NULL, &e));
    assert_non_null(plain);
    assert_int_equal(source_read(plain, &f, 1, &n, &e), SOURCE_FAILED);
    assert_int_equal(source_read(ahead, &f, 1, &n, &why), SOURCE_FAILED);
    assert_string_equal(why.text, e.text);
    assert_non_null(strstr(why.text, "Input/output error"));
    source_close(plain);
    source_close(ahead);
}

static void nothing__ahead__is_nothing(void **state)
{
    (void)state;
    assert_null(source_ahead(NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_log__ahead__as_in_place),
        cmocka_unit_test(rewound__in_the_middle_and_at_the_end__from_the_first_frame_again),
        cmocka_unit_test(small_pieces__are_asked_for__every_frame_in_order),
        cmocka_unit_test(closed__at_any_time__ends),
        cmocka_unit_test(helper__every_batch__is_handed_out_with_what_was_made_of_it),
        cmocka_unit_test(helper__batches_in_pieces_or_no_thread__nothing_is_said_of_them),
        cmocka_unit_test(pipe_that_pauses__each_line__is_handed_on_before_the_next_is_written),
        cmocka_unit_test(pipe_that_pauses__closed_meanwhile__ends),
        cmocka_unit_test(log_that_fails__ahead__says_why),
        cmocka_unit_test(nothing__ahead__is_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
