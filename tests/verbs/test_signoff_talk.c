/* The sign-off as a dialogue on a bus that goes on: a child asks, this program answers and sends
 * frames. No sleeps: each step waits for the words that lead to the next. */
#include "support/check.h"
#include "support/program.h"

#include "bus/candump.h"
#include "config/config.h"
#include "verbs/signoff_talk.h"

#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define PATIENCE_MS 60000

struct talker {
    pid_t pid;
    int answers, bus, said;
    char seen[16384];
    size_t len;
    double clock_s;
};

static struct frame exhaust(double c, int64_t mono_ns)
{
    long raw = (long)((c + 273.15) / 0.01 + 0.5);
    return (struct frame){
        .flags = FRAME_EXTENDED,
        .id = 0x15FD0820U,
        .len = 8,
        .mono_ns = mono_ns,
        .wall_ns = mono_ns,
        .data = {0xFF, 0, 14, (uint8_t)raw, (uint8_t)(raw >> 8), 0xFF, 0xFF, 0xFF}};
}

/* What was heard before the questions: an exhaust of a box that said its NAME. */
static struct muster *heard(uint64_t name)
{
    struct muster *m = muster_new(NULL);
    struct frame claim = {
        .flags = FRAME_EXTENDED, .id = 0x18EEFF20U, .len = 8, .mono_ns = NS_PER_S};
    memcpy(claim.data, &name, 8); /* low byte first, as here */
    muster_frames(m, &claim, 1);
    for (int i = 2; i < 20; i++) {
        struct frame f = exhaust(20, i * NS_PER_S);
        muster_frames(m, &f, 1);
    }
    muster_close(m);
    return m;
}

static struct talker *start(const char *list, struct muster *m)
{
    struct talker *k = calloc(1, sizeof *k);
    int answers[2], bus[2], said[2];
    assert_int_equal(pipe(answers) | pipe(bus) | pipe(said), 0);
    k->clock_s = 1000;
    k->pid = fork();
    assert_true(k->pid >= 0);
    if (k->pid == 0) {
        char path[40];
        close(answers[1]);
        close(bus[1]);
        close(said[0]);
        snprintf(path, sizeof path, "/proc/self/fd/%d", bus[0]);
        struct talk t = {.file = list,
                         .heard = m,
                         .source = source_open_log(path, NULL, NULL),
                         .in = answers[0],
                         .out = fdopen(said[1], "w")};
        _exit(t.source ? signoff_talk(&t) : 99);
    }
    close(answers[0]);
    close(bus[0]);
    close(said[1]);
    k->answers = answers[1];
    k->bus = bus[1];
    k->said = said[0];
    return k;
}

/* Waits for one of two; returns whether it was the first. What comes after it counts on. */
static bool either(struct talker *k, const char *first, const char *second)
{
    for (;;) {
        char *at = strstr(k->seen, first);
        const char *words = at ? first : second;
        at = at ? at : strstr(k->seen, second);
        if (at) {
            k->len -= (size_t)(at - k->seen) + strlen(words);
            memmove(k->seen, at + strlen(words), k->len + 1);
            return words == first;
        }
        struct pollfd p = {.fd = k->said, .events = POLLIN};
        ssize_t n = poll(&p, 1, PATIENCE_MS) > 0
                        ? read(k->said, k->seen + k->len, sizeof k->seen - 1 - k->len)
                        : 0;
        if (n <= 0)
            fail_msg("never said '%s' but:\n%s", first, k->seen);
        k->len += (size_t)n;
        k->seen[k->len] = '\0';
    }
}

static void expect(struct talker *k, const char *words)
{
    (void)either(k, words, words);
}

static void answer(struct talker *k, const char *line)
{
    assert_int_equal(write(k->answers, line, strlen(line)), strlen(line));
}

/* Ten readings, a second apart, from here to there. */
static void send_exhaust(struct talker *k, double from, double to)
{
    for (int i = 0; i <= 10; i++) {
        char line[CANDUMP_LINE_MAX];
        struct frame f = exhaust(from + (to - from) * i / 10, (int64_t)(k->clock_s * 1e9));
        size_t n = candump_format(line, sizeof line, &f, "can0");
        k->clock_s += 1;
        assert_int_equal(write(k->bus, line, n), n);
    }
}

static int end(struct talker *k)
{
    int status;
    close(k->answers);
    assert_int_equal(waitpid(k->pid, &status, 0), k->pid);
    close(k->bus);
    close(k->said);
    free(k);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* Frames and answers come by two ways: enter until what was sent has been taken. */
static void enter_until(struct talker *k, const char *words, const char *question)
{
    do
        answer(k, "\n");
    while (!either(k, words, question));
}

static void ice__is_kept_only_once_it_stands__with_name_and_correction(void **state)
{
    char list[PROGRAM_PATH];
    struct muster *m = heard(0xC0968200FF000408);
    struct err e;

    (void)state;
    snprintf(list, sizeof list, "%s/ice.sign", program_scratch());
    struct talker *k = start(list, m);
    expect(k, "1 open");
    expect(k, "your name");
    answer(k, "R. Example\n");
    expect(k, "exhaust.0  address 32, NAME C0968200FF000408\n");
    expect(k, "no reading yet");
    expect(k, "q end:");
    answer(k, "x\n"); /* not one of them: asked again */
    expect(k, "q end:");
    answer(k, "i\n");
    expect(k, "tolerance");
    answer(k, "cold\n");
    expect(k, "tolerance");
    answer(k, "1 K\n");
    expect(k, "note");
    answer(k, "elbow\n");
    expect(k, "enter when its reading stands:");
    answer(k, "\n");
    expect(k, "was not heard");
    expect(k, "stands:");
    send_exhaust(k, 20, 4);
    enter_until(k, "still moves", "stands:");
    expect(k, "stands:");
    for (int i = 0; i < 6; i++)
        send_exhaust(k, 0.4, 0.4);
    enter_until(k, "  pass\n", "stands:");
    assert_int_equal(end(k), 0);

    struct signoff *s = signoff_read(list, &e);
    assert_non_null(s);
    assert_int_equal(s->count, 1);
    assert_int_equal(s->entries[0].check, SIGNOFF_ICE);
    assert_near(s->entries[0].reading, 0.4, 0.3);
    assert_true(s->entries[0].name == 0xC0968200FF000408);
    assert_string_equal(s->entries[0].by, "R. Example");
    assert_string_equal(s->entries[0].note, "elbow");
    assert_int_equal(s->entries[0].verdict, SIGNOFF_PASS);
    assert_int_equal(signoff_standing(s, m, &m->values[0]), SIGNOFF_CONFIRMED);
    signoff_free(s);
    muster_free(m);

    /* the same list with another box behind the key: it is asked about again */
    m = heard(0xC0968200FF000409);
    k = start(list, m);
    expect(k, "1 open");
    answer(k, "R. Example\n");
    expect(k, "another box than the one that was confirmed");
    expect(k, "q end:");
    answer(k, "q\n");
    assert_int_equal(end(k), 0);
    muster_free(m);
}

static void warmed__counts_from_the_question(void **state)
{
    char list[PROGRAM_PATH];
    struct muster *m = heard(1);
    struct err e;

    (void)state;
    snprintf(list, sizeof list, "%s/warm.sign", program_scratch());
    struct talker *k = start(list, m);
    expect(k, "your name");
    answer(k, "R. Example\n");
    expect(k, "q end:");
    answer(k, "w\n");
    expect(k, "note");
    answer(k, "\n");
    expect(k, "enter when it was felt:");
    send_exhaust(k, 25, 31);
    enter_until(k, "  pass\n", "felt:");
    assert_int_equal(end(k), 0);
    struct signoff *s = signoff_read(list, &e);
    assert_non_null(s);
    assert_int_equal(s->count, 1);
    assert_int_equal(s->entries[0].check, SIGNOFF_WARMED);
    assert_string_equal(s->entries[0].note, "");
    signoff_free(s);
    muster_free(m);
}

static void nobody_confirms__or_the_answers_end__nothing_is_written(void **state)
{
    char list[PROGRAM_PATH];
    struct muster *m = heard(1);
    static const char *const answers[] = {"\n", "", "R. Example\n", "R. Example\ns\n"};

    (void)state;
    snprintf(list, sizeof list, "%s/none.sign", program_scratch());
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        struct talker *k = start(list, m);
        expect(k, "your name");
        answer(k, answers[i]);
        assert_int_equal(end(k), 0);
        assert_int_not_equal(access(list, F_OK), 0);
    }
    struct talker *k = start("/nonexistent/list", m);
    expect(k, "your name");
    answer(k, "R. Example\n");
    expect(k, "q end:"); /* readings count from here */
    send_exhaust(k, 20, 20);
    answer(k, "c\n20 C\n\n\n");
    while (!either(k, "  reads 20.00", "tries again:"))
        answer(k, "\n");
    assert_int_equal(end(k), 3);
    muster_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ice__is_kept_only_once_it_stands__with_name_and_correction),
        cmocka_unit_test(warmed__counts_from_the_question),
        cmocka_unit_test(nobody_confirms__or_the_answers_end__nothing_is_written),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
