/* Live interfaces on a real kernel: bus/socketcan.c against other sockets, the slcan driver and
 * the kernel's own word. Runs in the guest of boot.sh, or on any machine that may lose vcan0,
 * vcan1 and can0. */
#include "bus/socketcan.h"

#include "base/when.h"
#include "bus/bits.h"
#include "bus/clock.h"
#include "bus/timeline.h"
#include "can/guest.h"
#include "support/check.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/can.h>
#include <linux/can/error.h>
#include <linux/can/raw.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <poll.h>
#include <pthread.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#define EFF(id) (CAN_EFF_FLAG | (id))

static struct source *open_ifaces(const char *a, const char *b)
{
    const char *names[] = {a, b};
    struct err e = {""};
    struct source *s = socketcan_open(names, b ? 2 : 1, &e);
    if (!s)
        fail_msg("%s", e.text);
    return s;
}

/* The next frame within ms; false when none came. */
static bool frame_within(struct source *s, struct frame *f, int ms)
{
    for (int64_t until = guest_ms() + ms;;) {
        size_t n;
        struct err e;
        if (source_read(s, f, 1, &n, &e) == SOURCE_READY)
            return true;
        int left = (int)(until - guest_ms());
        struct pollfd p = {.fd = source_fd(s), .events = POLLIN};
        if (left <= 0)
            return false;
        poll(&p, 1, left);
    }
}

static bool next_frame(struct source *s, struct frame *f)
{
    return frame_within(s, f, GUEST_PATIENCE_MS);
}

/* Waits for a condition to begin or end; how many ms that took, -1 when it did not come. */
static int await_condition(struct source *s, enum condition_sort sort, int iface, bool stands,
                           char text[120])
{
    int64_t from = guest_ms();
    while (guest_ms() < from + GUEST_PATIENCE_MS) {
        struct bus_condition c;
        while (socketcan_condition(s, &c)) {
            if (c.code == CONDITION_CODE(sort, iface) && c.stands == stands) {
                if (text)
                    memcpy(text, c.text, sizeof c.text);
                return (int)(guest_ms() - from);
            }
        }
        guest_sleep_ms(5);
    }
    return -1;
}

static bool controller_becomes(struct source *s, enum controller_state wanted)
{
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; guest_ms() < until; guest_sleep_ms(10)) {
        struct socketcan_iface i;
        if (socketcan_iface_get(s, 0, &i) && i.controller == wanted)
            return true;
    }
    return false;
}

static void live__frames_of_two_interfaces__carry_kernel_time_and_name(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", "vcan1");
    int a = guest_socket("vcan0"), b = guest_socket("vcan1");
    struct stamp before = clock_now();
    assert_true(guest_send(a, EFF(0x09F2000A), "\x00\xA9\x16\xD2\x04\x7F\xFF\xFF", 8));
    assert_true(guest_send(b, 0x123 | CAN_RTR_FLAG, "", 0));
    struct stamp after = clock_now();
    struct frame f[2];
    assert_true(next_frame(s, &f[0]));
    assert_true(next_frame(s, &f[1]));
    const struct frame *first = f[0].iface == 0 ? &f[0] : &f[1];
    const struct frame *second = f[0].iface == 0 ? &f[1] : &f[0];
    assert_int_equal(first->id, 0x09F2000A);
    assert_int_equal(first->flags & ~FRAME_SENT, FRAME_EXTENDED);
    assert_int_equal(first->len, 8);
    assert_memory_equal(first->data, "\x00\xA9\x16\xD2\x04\x7F\xFF\xFF", 8);
    assert_true(first->wall_ns >= before.wall_ns && first->wall_ns <= after.wall_ns);
    assert_true(first->mono_ns >= before.mono_ns && first->mono_ns <= after.mono_ns + NS_PER_MS);
    assert_int_equal(second->iface, 1);
    assert_true(second->flags & FRAME_REMOTE);
    assert_string_equal(source_iface_name(s, 1), "vcan1");
    assert_false(frame_within(s, f, 50));
    close(a);
    close(b);
    source_close(s);
}

/* Of 64 bytes 8 are kept: the frame says so, and a condition does. */
static void live__long_can_fd_frame__is_cut_and_said(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    int a = guest_socket("vcan0"), on = 1;
    char text[120] = "";
    assert_int_equal(setsockopt(a, SOL_CAN_RAW, CAN_RAW_FD_FRAMES, &on, sizeof on), 0);
    struct canfd_frame k = {.can_id = EFF(0x18FEF121), .len = 64};
    memset(k.data, 0x5A, sizeof k.data);
    assert_int_equal(write(a, &k, sizeof k), (long)sizeof k);
    struct frame f;
    assert_true(next_frame(s, &f));
    assert_int_equal(f.flags & (FRAME_FD | FRAME_CUT), FRAME_FD | FRAME_CUT);
    assert_int_equal(f.len, 8);
    assert_int_equal(source_stats(s)->cut, 1);
    assert_true(await_condition(s, CONDITION_CUT, 0, true, text) >= 0);
    assert_non_null(strstr(text, "vcan0: CAN FD frames, of which only the first 8 bytes"));
    close(a);
    source_close(s);
}

static void live__wall_clock_steps_an_hour__mono_does_not(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    int a = guest_socket("vcan0");
    struct timespec wall;
    clock_gettime(CLOCK_REALTIME, &wall);
    int64_t mono[3];
    for (int i = 0; i < 3; i++) {
        struct frame f;
        assert_true(guest_send(a, 0x123, "", 0));
        assert_true(next_frame(s, &f));
        mono[i] = f.mono_ns;
        wall.tv_sec += i == 0 ? 3600 : -7200;
        assert_int_equal(clock_settime(CLOCK_REALTIME, &wall), 0);
    }
    wall.tv_sec += 2 * 7200 - 3600; /* as it was: one step forward, two back */
    clock_settime(CLOCK_REALTIME, &wall);
    assert_true(mono[1] >= mono[0] && mono[1] - mono[0] < NS_PER_S);
    assert_true(mono[2] >= mono[1] && mono[2] - mono[1] < NS_PER_S);
    close(a);
    source_close(s);
}

static void live__down_and_up__said_and_picked_up(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    char text[120];
    struct frame f;
    for (int round = 0; round < 2; round++) {
        assert_int_equal(guest_run("ip link set vcan0 down"), 0);
        assert_true(await_condition(s, CONDITION_DOWN, 0, true, text) >= 0);
        assert_string_equal(text, "vcan0 is down: ip link set vcan0 up");
        assert_int_equal(guest_run("ip link set vcan0 up"), 0);
        assert_true(await_condition(s, CONDITION_DOWN, 0, false, NULL) >= 0);
        int a = guest_socket("vcan0");
        assert_true(guest_send(a, 0x123, "", 0));
        assert_true(next_frame(s, &f));
        close(a);
    }
    source_close(s);
}

static void live__deleted_and_made_again__picked_up(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    char text[120];
    struct frame f;
    assert_int_equal(guest_run("ip link del vcan0"), 0);
    assert_true(await_condition(s, CONDITION_MISSING, 0, true, text) >= 0);
    assert_non_null(strstr(text, "vcan0: no such interface"));
    assert_int_equal(guest_run("ip link add vcan0 type vcan"), 0);
    assert_int_equal(guest_run("ip link set vcan0 up"), 0);
    assert_true(await_condition(s, CONDITION_MISSING, 0, false, NULL) >= 0);
    int a = guest_socket("vcan0");
    bool got = false;
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; !got && guest_ms() < until;) {
        assert_true(guest_send(a, 0x123, "", 0));
        got = frame_within(s, &f, 20);
    }
    assert_true(got);
    close(a);
    source_close(s);
}

static void live__missing_at_start__is_waited_for(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan9", NULL);
    struct bus_condition c;
    assert_true(socketcan_condition(s, &c));
    assert_int_equal(c.code, CONDITION_CODE(CONDITION_MISSING, 0));
    assert_true(c.stands);
    assert_int_equal(guest_run("ip link add vcan9 type vcan"), 0);
    assert_true(await_condition(s, CONDITION_MISSING, 0, false, NULL) >= 0);
    assert_int_equal(guest_run("ip link set vcan9 up"), 0);
    assert_true(await_condition(s, CONDITION_DOWN, 0, false, NULL) >= 0);
    int a = guest_socket("vcan9");
    struct frame f;
    assert_true(guest_send(a, 0x123, "", 0));
    assert_true(next_frame(s, &f));
    close(a);
    source_close(s);
    assert_int_equal(guest_run("ip link del vcan9"), 0);
}

static int open_files(void)
{
    int n = 0;
    for (int fd = 0; fd < 256; fd++)
        n += fcntl(fd, F_GETFD) != -1;
    return n;
}

static void live__opened_and_closed__leaves_nothing_open(void **state)
{
    (void)state;
    int before = open_files();
    for (int i = 0; i < 3; i++) {
        struct source *s = open_ifaces("vcan0", "vcan9"); /* one is there, one is not */
        assert_true(open_files() > before);
        source_close(s);
        assert_int_equal(open_files(), before);
    }
}

static void live__injected_error_frames__give_controller_states(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    int a = guest_socket("vcan0");
    const uint8_t passive[8] = {0, CAN_ERR_CRTL_TX_PASSIVE, 0, 0, 0, 0, 130, 7};
    const uint8_t active[8] = {0, CAN_ERR_CRTL_ACTIVE};
    assert_true(guest_send(a, CAN_ERR_FLAG | CAN_ERR_CRTL | CAN_ERR_CNT, passive, 8));
    assert_true(controller_becomes(s, CONTROLLER_PASSIVE));
    assert_true(await_condition(s, CONDITION_PASSIVE, 0, true, NULL) >= 0);
    struct socketcan_iface i;
    assert_true(socketcan_iface_get(s, 0, &i));
    assert_int_equal(i.tx_errors, 130);
    assert_int_equal(i.rx_errors, 7);
    assert_int_equal(i.error_frames, 1);
    assert_true(guest_send(a, CAN_ERR_FLAG | CAN_ERR_CRTL, active, 8));
    assert_true(await_condition(s, CONDITION_PASSIVE, 0, false, NULL) >= 0);
    assert_true(guest_send(a, CAN_ERR_FLAG | CAN_ERR_BUSOFF, "\0\0\0\0\0\0\0\0", 8));
    assert_true(await_condition(s, CONDITION_BUS_OFF, 0, true, NULL) >= 0);
    assert_true(guest_send(a, CAN_ERR_FLAG | CAN_ERR_RESTARTED, "\0\0\0\0\0\0\0\0", 8));
    assert_true(await_condition(s, CONDITION_BUS_OFF, 0, false, NULL) >= 0);
    struct frame f;
    assert_true(next_frame(s, &f));
    assert_true(f.flags & FRAME_ERROR);
    close(a);
    source_close(s);
}

static void live__real_driver__states_bit_rate_and_unplugging(void **state)
{
    (void)state;
    struct adapter *a = adapter_start("can0");
    struct source *s = open_ifaces("can0", NULL);
    struct socketcan_iface i;
    struct frame f;
    char text[120];
    assert_true(socketcan_iface_get(s, 0, &i));
    assert_int_equal(i.bitrate, 250000);
    assert_false(i.is_virtual);
    adapter_say(a, "T18FEF10081122334455667788");
    assert_true(next_frame(s, &f));
    assert_int_equal(f.id, 0x18FEF100);
    assert_memory_equal(f.data, "\x11\x22\x33\x44\x55\x66\x77\x88", 8);
    adapter_say(a, "sw100020");
    assert_true(controller_becomes(s, CONTROLLER_WARNING));
    adapter_say(a, "sp130020");
    assert_true(await_condition(s, CONDITION_PASSIVE, 0, true, NULL) >= 0);
    adapter_say(a, "sa000000");
    assert_true(await_condition(s, CONDITION_PASSIVE, 0, false, NULL) >= 0);
    adapter_say(a, "sb000000");
    assert_true(await_condition(s, CONDITION_BUS_OFF, 0, true, text) >= 0);
    assert_non_null(strstr(text, "can0 is bus-off"));
    assert_int_equal(guest_run("ip link set can0 down"), 0);
    assert_int_equal(guest_run("ip link set can0 up"), 0);
    assert_true(await_condition(s, CONDITION_BUS_OFF, 0, false, NULL) >= 0);
    assert_true(controller_becomes(s, CONTROLLER_ACTIVE));
    adapter_say(a, "T18FEF10081122334455667789");
    for (f.data[7] = 0; f.data[7] != 0x89;)
        assert_true(next_frame(s, &f));
    /* reading has put nothing on the bus */
    assert_int_equal(adapter_heard(a), 0);
    adapter_unplug(a);
    assert_true(await_condition(s, CONDITION_MISSING, 0, true, NULL) >= 0);
    a = adapter_start("can0");
    assert_true(await_condition(s, CONDITION_MISSING, 0, false, NULL) >= 0);
    assert_true(await_condition(s, CONDITION_DOWN, 0, false, NULL) >= 0);
    adapter_say(a, "T18FEF10081122334455667787");
    for (f.data[7] = 0; f.data[7] != 0x87;)
        assert_true(next_frame(s, &f));
    adapter_unplug(a);
    source_close(s);
}

#define FULL_BUS     1909 /* 8-byte frames a second at 250 kbit/s */
#define FLOOD_S      6
#define FLOOD_FRAMES (FULL_BUS * FLOOD_S)

static void *flood_thread(void *arg)
{
    int fd = guest_socket("vcan0");
    *(unsigned *)arg = guest_flood(fd, FULL_BUS, FLOOD_S);
    close(fd);
    return NULL;
}

/* A bus at 250 kbit/s full of 8-byte frames, 1909 a second, while nobody takes frames for 5 s. */
static void live__full_bus_and_a_stall_of_5_s__loses_nothing(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    unsigned sent = 0, got = 0;
    pthread_t t;
    assert_int_equal(pthread_create(&t, NULL, flood_thread, &sent), 0);
    guest_sleep_ms(5000);
    struct socketcan_iface i;
    assert_true(socketcan_iface_get(s, 0, &i));
    struct frame f;
    int64_t mono = 0;
    bool in_order = true;
    while (got < FLOOD_FRAMES && next_frame(s, &f)) {
        unsigned number = f.data[0] | (unsigned)f.data[1] << 8 | (unsigned)f.data[2] << 16;
        in_order = in_order && number == got && f.mono_ns >= mono;
        mono = f.mono_ns;
        got++;
    }
    pthread_join(t, NULL);
    print_message("%u sent, %u read, %llu dropped, load %.1f %% (worst case %.1f %%)\n", sent, got,
                  (unsigned long long)source_stats(s)->lost_frames, i.load_percent,
                  i.load_worst_percent);
    assert_int_equal(got, sent);
    assert_true(in_order);
    assert_int_equal(source_stats(s)->lost_frames, 0);
    assert_false(frame_within(s, &f, 100));
    assert_in_range((int)i.load_percent, 80, 130); /* of one second, on a busy machine */
    assert_true(i.load_worst_percent > i.load_percent);
    source_close(s);
}

/* Frames that a processor's queue had no room for before any socket was asked: the second column of
 * the kernel's own statistics (Documentation/networking, softnet_stat), which no socket counts. */
static unsigned backlog_drops(void)
{
    char line[300];
    unsigned all = 0, taken, dropped;
    FILE *in = fopen("/proc/net/softnet_stat", "r");
    assert_non_null(in);
    while (fgets(line, sizeof line, in))
        if (sscanf(line, "%x %x", &taken, &dropped) == 2)
            all += dropped;
    fclose(in);
    return all;
}

/* The drop counter is the kernel's: a ring and buffer that are full for long lose and say so. */
static void live__nobody_reads_for_too_long__loss_is_counted(void **state)
{
    (void)state;
    struct source *s = open_ifaces("vcan0", NULL);
    int a = guest_socket("vcan0");
    unsigned sent = 0, got = 0, before = backlog_drops();
    for (; sent < 60000; sent++)
        assert_true(guest_send(a, EFF(0x09F2000A), "\1\2\3\4\5\6\7\10", 8));
    /* The count comes with the first frame after the loss: a few more until one comes through. */
    struct frame f = {0};
    while (f.id != 0x123 && sent < 60000 + GUEST_PATIENCE_MS / 100) {
        assert_true(guest_send(a, 0x123, "", 0));
        sent++;
        while (f.id != 0x123 && frame_within(s, &f, 100))
            got++;
    }
    while (got + source_stats(s)->lost_frames + backlog_drops() - before < sent &&
           next_frame(s, &f))
        got++;
    assert_false(frame_within(s, &f, 100));
    unsigned unseen = backlog_drops() - before;
    unsigned lost = (unsigned)source_stats(s)->lost_frames;
    print_message("%u sent, %u read, %u dropped, %u before the socket\n", sent, got, lost, unseen);
    assert_int_equal(got + lost + unseen, sent);
    if (lost > 0)
        assert_true(await_condition(s, CONDITION_LOST, 0, true, NULL) >= 0);
    close(a);
    source_close(s);
}

static void ask__virtual_interface__sends_one_request_for_claims(void **state)
{
    (void)state;
    int listener = guest_socket("vcan0");
    struct err e = {""};
    assert_true(socketcan_ask("vcan0", &e));
    struct can_frame f;
    struct pollfd p = {.fd = listener, .events = POLLIN};
    assert_int_equal(poll(&p, 1, GUEST_PATIENCE_MS), 1);
    assert_int_equal(read(listener, &f, sizeof f), sizeof f);
    assert_int_equal(f.can_id, EFF(0x18EAFFFE)); /* J1939-21: priority 6, 59904, to all, from 254 */
    assert_int_equal(f.len, 3);
    assert_memory_equal(f.data, "\x00\xEE\x00", 3); /* 60928, low byte first */
    assert_int_equal(poll(&p, 1, 300), 0);
    close(listener);
    assert_false(socketcan_ask("vcan7", &e));
    assert_string_equal(e.text, "no such interface 'vcan7'");
}

static void drill__real_interface__is_refused(void **state)
{
    (void)state;
    struct adapter *a = adapter_start("can0");
    struct err e = {""};
    assert_int_equal(socketcan_open_virtual("can0", &e), -1);
    assert_non_null(strstr(e.text, "'can0' is a real bus"));
    int fd = socketcan_open_virtual("vcan0", &e);
    assert_true(fd >= 0);
    struct frame f = {.id = 0x09F2000A, .flags = FRAME_EXTENDED, .len = 2, .data = {1, 2}};
    int listener = guest_socket("vcan0");
    assert_true(socketcan_send(fd, &f, &e));
    struct can_frame k;
    assert_int_equal(read(listener, &k, sizeof k), sizeof k);
    assert_int_equal(k.can_id, EFF(0x09F2000A));
    close(listener);
    close(fd);
    assert_int_equal(adapter_heard(a), 0);
    adapter_unplug(a);
}

/* Runs f in a child; its exit status. */
static int in_child(int (*f)(void))
{
    pid_t pid = fork();
    if (pid == 0)
        _exit(f());
    int status;
    assert_int_equal(waitpid(pid, &status, 0), pid);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static int read_as_nobody(void)
{
    if (setgid(65534) != 0 || setuid(65534) != 0)
        return 10;
    const char *name = "vcan0";
    struct err e;
    struct source *s = socketcan_open(&name, 1, &e);
    if (!s)
        return 11;
    struct frame f;
    bool got = next_frame(s, &f);
    char text[300];
    socketcan_describe(s, text, sizeof text);
    printf("%s\n", text);
    fflush(stdout);
    source_close(s);
    return got ? 0 : 12;
}

static void *send_some(void *arg)
{
    _Atomic bool *enough = arg;
    int a = guest_socket("vcan0");
    for (; !*enough; guest_sleep_ms(20))
        guest_send(a, 0x123, "", 0);
    close(a);
    return NULL;
}

static void live__ordinary_user__can_read(void **state)
{
    (void)state;
    pthread_t t;
    _Atomic bool enough = false;
    assert_int_equal(pthread_create(&t, NULL, send_some, &enough), 0);
    int status = in_child(read_as_nobody);
    enough = true;
    pthread_join(t, NULL);
    assert_int_equal(status, 0);
}

/* What systemd's RestrictAddressFamilies= does: socket(AF_CAN) gives EAFNOSUPPORT. */
static int refused_family(void)
{
    struct sock_filter code[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_socket, 0, 3),
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, args[0])),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, AF_CAN, 0, 1),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ERRNO | EAFNOSUPPORT),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
    };
    struct sock_fprog program = {.len = sizeof code / sizeof code[0], .filter = code};
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
        prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program) != 0)
        return 10;
    const char *name = "vcan0";
    struct err e = {""};
    if (socketcan_open(&name, 1, &e))
        return 11;
    return strstr(e.text, "RestrictAddressFamilies") ? 0 : 12;
}

static void live__socket_family_refused__says_so(void **state)
{
    (void)state;
    assert_int_equal(in_child(refused_family), 0);
}

static void live__no_can_interface__is_refused(void **state)
{
    (void)state;
    const char *name = "lo";
    struct err e = {""};
    assert_null(socketcan_open(&name, 1, &e));
    assert_string_equal(e.text, "'lo' is not a CAN interface");
    assert_true(socketcan_is_name("can0"));
    assert_false(socketcan_is_name("-"));
    assert_false(socketcan_is_name("trip.log/"));
    assert_false(socketcan_is_name("/tmp"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(live__frames_of_two_interfaces__carry_kernel_time_and_name),
        cmocka_unit_test(live__long_can_fd_frame__is_cut_and_said),
        cmocka_unit_test(live__wall_clock_steps_an_hour__mono_does_not),
        cmocka_unit_test(live__down_and_up__said_and_picked_up),
        cmocka_unit_test(live__deleted_and_made_again__picked_up),
        cmocka_unit_test(live__missing_at_start__is_waited_for),
        cmocka_unit_test(live__opened_and_closed__leaves_nothing_open),
        cmocka_unit_test(live__injected_error_frames__give_controller_states),
        cmocka_unit_test(live__real_driver__states_bit_rate_and_unplugging),
        cmocka_unit_test(live__full_bus_and_a_stall_of_5_s__loses_nothing),
        cmocka_unit_test(live__nobody_reads_for_too_long__loss_is_counted),
        cmocka_unit_test(ask__virtual_interface__sends_one_request_for_claims),
        cmocka_unit_test(drill__real_interface__is_refused),
        cmocka_unit_test(live__ordinary_user__can_read),
        cmocka_unit_test(live__socket_family_refused__says_so),
        cmocka_unit_test(live__no_can_interface__is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
