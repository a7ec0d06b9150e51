/* The program itself on a real kernel: what it sends (nothing, but for what is asked for by name)
 * and what it refuses to send. Runs in the guest of boot.sh. */
#include "can/guest.h"
#include "support/check.h"

#include <linux/can.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROGRAM STOKEHOLD_PROGRAM

/* How many frames others have put and put within ms on the bus of fd; the last one is kept. */
static int hear(int fd, int ms, struct can_frame *last)
{
    int n = 0;
    for (int64_t until = guest_ms() + ms;;) {
        struct pollfd p = {.fd = fd, .events = POLLIN};
        int left = (int)(until - guest_ms());
        if (left <= 0 || poll(&p, 1, left) <= 0)
            return n;
        if (read(fd, last, sizeof *last) == (ssize_t)sizeof *last)
            n++;
    }
}

static void muster__ask__sends_exactly_one_frame(void **state)
{
    (void)state;
    int fd = guest_socket("vcan0");
    struct can_frame f;
    pid_t pid = guest_start(PROGRAM " muster --ask --for 1 vcan0", "/run/muster-said");
    int status = guest_end(pid, 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(hear(fd, 100, &f), 1);
    assert_int_equal(f.can_id, CAN_EFF_FLAG | 0x18EAFFFE);
    assert_int_equal(f.len, 3);
    assert_memory_equal(f.data, "\x00\xEE\x00", 3);
    assert_non_null(strstr(guest_file("/run/muster-said"), "sent one frame on vcan0"));
    close(fd);
}

static void muster__without_ask__sends_nothing(void **state)
{
    (void)state;
    int fd = guest_socket("vcan0");
    struct can_frame f;
    pid_t pid = guest_start(PROGRAM " muster --for 1 vcan0", "/run/muster-said");
    assert_true(WIFEXITED(guest_end(pid, 0)));
    assert_int_equal(hear(fd, 100, &f), 0);
    close(fd);
}

static void drill__onto_a_real_bus__is_refused_and_sends_nothing(void **state)
{
    (void)state;
    struct adapter *a = adapter_start("can0");
    pid_t pid = guest_start(PROGRAM " drill --to can0", "/run/drill-said");
    int status = guest_end(pid, 0);
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 3)
        fail_msg("status %d: %s", status, guest_file("/run/drill-said"));
    assert_non_null(strstr(guest_file("/run/drill-said"), "'can0' is a real bus"));
    assert_int_equal(adapter_heard(a), 0);
    adapter_unplug(a);
}

static void drill__onto_a_virtual_bus__plays_in_its_own_time(void **state)
{
    (void)state;
    int fd = guest_socket("vcan0");
    struct can_frame f;
    pid_t pid = guest_start(PROGRAM " drill --minutes 5 --to vcan0", NULL);
    struct pollfd first = {.fd = fd, .events = POLLIN};
    assert_int_equal(poll(&first, 1, GUEST_PATIENCE_MS), 1);
    int heard = hear(fd, 3000, &f);
    /* two engines at their standards' periods: some tens of frames a second, not thousands */
    assert_in_range(heard, 60, 600);
    int status = guest_end(pid, SIGTERM);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGTERM);
    close(fd);
}

static void sift_and_export__of_a_log__send_nothing(void **state)
{
    (void)state;
    assert_int_equal(guest_run(PROGRAM " drill --minutes 4 -o /run/trip.log"), 0);
    int fd = guest_socket("vcan0");
    struct can_frame f;
    pid_t sift = guest_start(PROGRAM " sift /run/trip.log", "/run/sift-said");
    pid_t export = guest_start(PROGRAM " export /run/trip.log", "/run/export-said");
    assert_int_equal(guest_end(sift, 0), 0);
    assert_int_equal(guest_end(export, 0), 0);
    assert_int_equal(hear(fd, 100, &f), 0);
    close(fd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(muster__ask__sends_exactly_one_frame),
        cmocka_unit_test(muster__without_ask__sends_nothing),
        cmocka_unit_test(drill__onto_a_real_bus__is_refused_and_sends_nothing),
        cmocka_unit_test(drill__onto_a_virtual_bus__plays_in_its_own_time),
        cmocka_unit_test(sift_and_export__of_a_log__send_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
