/* The two acts of sending, and what opening says where it is refused, before a made-up kernel. */
#include "bus/socketcan.h"

#include "bus/kernel.h"

#include <poll.h>

#include "base/banned.h"

static struct {
    int fails[8], at; /* what each write fails of; 0: taken */
    int polls, events, wait_ms, ready;
    struct can_frame frame;
    int frames;
} line;

ssize_t write(int fd, const void *data, size_t len)
{
    if (fd < NO_FD)
        return syscall(SYS_write, fd, data, len);
    int why = line.fails[line.at];
    if (why) {
        line.at++;
        errno = why;
        return -1;
    }
    assert_int_equal(len, sizeof line.frame);
    memcpy(&line.frame, data, len);
    line.frames++;
    return (ssize_t)len;
}

int poll(struct pollfd *p, nfds_t n, int ms)
{
    assert_int_equal(n, 1);
    line.polls++;
    line.events = p->events;
    line.wait_ms = ms;
    return line.ready;
}

static void begin(void)
{
    memset(&line, 0, sizeof line);
    kernel_begin();
    answer_virtual(4, "vcan", IFF_UP);
}

/* SAE J1939-21 5.4.2: a request is PGN 59904 with the PGN asked for; 60928 is 0x00EE00. */
static void ask__interface_that_is_up__gets_one_request(void **state)
{
    (void)state;
    struct err e = {""};
    begin();
    answer_can(4, IFF_UP, CAN_STATE_ERROR_ACTIVE);
    assert_true(socketcan_ask("can0", &e));
    assert_int_equal(line.frames, 1);
    assert_int_equal(line.frame.can_id, CAN_EFF_FLAG | 0x18EAFFFE);
    assert_int_equal(line.frame.len, 3);
    assert_memory_equal(line.frame.data, "\x00\xEE\x00\0\0\0\0\0", 8);
    assert_int_equal(k.bound_index, 4);
    assert_int_equal(k.options[k.option_count - 1], CAN_RAW_FILTER); /* and hears nothing */
    assert_int_equal(k.open, 0);
    line.fails[0] = ENETDOWN;
    assert_false(socketcan_ask("can0", &e));
    assert_string_equal(e.text, "cannot send: Network is down");
    assert_int_equal(k.open, 0);
}

static void ask__interface_that_cannot__is_refused_with_the_cause(void **state)
{
    (void)state;
    struct err e = {""};
    begin();
    answer_nothing();
    assert_false(socketcan_ask("can\a0", &e));
    assert_string_equal(e.text, "no such interface 'can?0'");
    answer_begin(3, ARPHRD_ETHER, IFF_UP);
    answer_end();
    assert_false(socketcan_ask("eth0", &e));
    assert_string_equal(e.text, "'eth0' is not a CAN interface");
    answer_can(4, 0, CAN_STATE_STOPPED);
    assert_false(socketcan_ask("can0", &e));
    assert_string_equal(e.text, "'can0' is down: ip link set can0 up type can bitrate 250000");
    answer_virtual(4, "vxcan", 0);
    assert_false(socketcan_ask("vcan0", &e));
    assert_string_equal(e.text, "'vcan0' is down: ip link set vcan0 up");
    answer_virtual(4, "vcan", IFF_UP);
    k.refuse_option = CAN_RAW_FILTER;
    errno = EPERM;
    assert_false(socketcan_ask("vcan0", &e));
    assert_int_equal(strncmp(e.text, "cannot send on 'vcan0': ", 24), 0);
    assert_int_equal(k.open, 0);
    assert_int_equal(line.frames, 0);
}

static void open_virtual__real_bus__is_refused(void **state)
{
    (void)state;
    struct err e = {""};
    begin();
    int fd = socketcan_open_virtual("vcan0", &e);
    assert_true(fd >= NO_FD);
    assert_int_equal(k.open, 1);
    answer_can(4, IFF_UP, CAN_STATE_ERROR_ACTIVE);
    assert_int_equal(socketcan_open_virtual("can0", &e), -1);
    assert_string_equal(
        e.text,
        "'can0' is a real bus: made-up frames go to a virtual interface (vcan, vxcan) only");
    answer_nothing();
    assert_int_equal(socketcan_open_virtual("can0", &e), -1);
    assert_string_equal(e.text, "no such interface 'can0'");
    assert_int_equal(k.open, 1);
}

static void send__frame__is_what_the_kernel_takes(void **state)
{
    (void)state;
    static const struct {
        uint8_t flags;
        uint32_t id, sent;
        uint8_t len, kept;
    } cases[] = {{FRAME_EXTENDED, 0x19F2000A, CAN_EFF_FLAG | 0x19F2000A, 8, 8},
                 {0, 0x7A1, 0x7A1, 1, 1},
                 {FRAME_REMOTE, 0x7A1, CAN_RTR_FLAG | 0x7A1, 9, 8},
                 {FRAME_ERROR | FRAME_EXTENDED, 0x40, CAN_ERR_FLAG | 0x40, 0, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct err e = {""};
        struct frame f = {.id = cases[i].id, .flags = cases[i].flags, .len = cases[i].len};
        memcpy(f.data, "\1\2\3\4\5\6\7\10", 8);
        begin();
        assert_true(socketcan_send(NO_FD, &f, &e));
        assert_int_equal(line.frame.can_id, cases[i].sent);
        assert_int_equal(line.frame.len, cases[i].kept);
        for (int b = 0; b < 8; b++)
            assert_int_equal(line.frame.data[b], b < cases[i].kept ? b + 1 : 0);
    }
}

static void send__full_queue__is_waited_for(void **state)
{
    (void)state;
    struct err e = {""};
    struct frame f = {.id = 1};
    begin();
    line.fails[0] = EINTR;
    assert_true(socketcan_send(NO_FD, &f, &e));
    assert_int_equal(line.polls, 0);
    begin();
    line.fails[0] = line.fails[1] = ENOBUFS; /* the interface's own queue: poll tells nothing */
    assert_true(socketcan_send(NO_FD, &f, &e));
    assert_int_equal(line.polls, 2);
    assert_int_equal(line.events, 0);
    assert_int_equal(line.wait_ms, 2);
    begin();
    line.fails[0] = EAGAIN;
    line.ready = 1;
    assert_true(socketcan_send(NO_FD, &f, &e));
    assert_int_equal(line.events, POLLOUT);
    assert_int_equal(line.wait_ms, 2000);
    begin();
    line.fails[0] = EAGAIN;
    assert_false(socketcan_send(NO_FD, &f, &e));
    assert_string_equal(e.text, "cannot send: the interface takes no frames");
    assert_int_equal(line.frames, 0);
}

static void open__no_socket__says_what_to_do(void **state)
{
    (void)state;
    static const struct {
        int why;
        const char *text;
    } cases[] = {
        {EAFNOSUPPORT, "this kernel has no CAN: load it with 'modprobe can_raw', or a sandbox "
                       "hides it (RestrictAddressFamilies= must name AF_CAN)"},
        {EPROTONOSUPPORT, "this kernel has no raw CAN sockets: 'modprobe can_raw'"},
        {EPERM, "CAN sockets are refused here, by a sandbox or a container"},
        {EACCES, "CAN sockets are refused here, by a sandbox or a container"},
        {EMFILE, "cannot open a CAN socket: Too many open files"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct err e = {""};
        begin();
        k.refuse_socket = cases[i].why;
        assert_null(socketcan_open((const char *[]){"can0"}, 1, &e));
        assert_string_equal(e.text, cases[i].text);
    }
}

static void open__names__are_looked_at_first(void **state)
{
    (void)state;
    static const struct {
        const char *names[2];
        int count;
        const char *text;
    } cases[] = {
        {{"can0"}, 0, "between 1 and 16 interfaces can be watched at once"},
        {{"can0"}, 17, "between 1 and 16 interfaces can be watched at once"},
        {{""}, 1, "'' cannot be the name of an interface"},
        {{"can0", "a-name-of-16-byt"}, 2, "'a-name-of-16-byt' cannot be the name of an interface"},
        {{"can\t0"}, 1, "'can?0' cannot be the name of an interface"},
        {{"can0", "can0"}, 2, "'can0' is named twice"},
        {{"eth0"}, 1, "'eth0' is not a CAN interface"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct err e = {""};
        begin();
        if (strcmp(cases[i].names[0], "eth0") == 0) {
            k.io_index = 2;
            k.io_type = ARPHRD_ETHER;
        }
        assert_null(socketcan_open(cases[i].names, cases[i].count, &e));
        assert_string_equal(e.text, cases[i].text);
        assert_int_equal(k.open, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ask__interface_that_is_up__gets_one_request),
        cmocka_unit_test(ask__interface_that_cannot__is_refused_with_the_cause),
        cmocka_unit_test(open_virtual__real_bus__is_refused),
        cmocka_unit_test(send__frame__is_what_the_kernel_takes),
        cmocka_unit_test(send__full_queue__is_waited_for),
        cmocka_unit_test(open__no_socket__says_what_to_do),
        cmocka_unit_test(open__names__are_looked_at_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
