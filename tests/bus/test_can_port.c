/* A CAN interface that is read: it comes and goes, error frames, dropped frames, times, load. */
#include "bus/can_port.h"

#include "bus/kernel.h"

#include <linux/can/error.h>

#include "base/banned.h"

static struct condition_queue *queue;
static struct can_port port;

static struct stamp at_s(double s)
{
    return (struct stamp){INT64_C(1780000000000000000) + (int64_t)(s * 1e9), (int64_t)(s * 1e9)};
}

static void port_begin(void)
{
    kernel_begin();
    kernel_at(1780000010000, 10000);
    port_init(&port, 2, "can0", queue);
    assert_int_equal(port.fd, -1);
    assert_int_equal(port.known.tx_errors, -1);
    assert_int_equal(port.known.rx_errors, -1);
}

/* The next condition is this one, or there is none (NULL). */
static void said(enum condition_sort sort, bool stands, enum priority priority, const char *text)
{
    struct bus_condition c;
    bool any = condition_take(queue, &c);
    if (!text) {
        if (any)
            fail_msg("also said: %s", c.text);
        return;
    }
    assert_true(any);
    assert_string_equal(c.text, text);
    assert_int_equal(c.code, CONDITION_CODE(sort, 2));
    assert_int_equal(c.stands, stands);
    assert_int_equal(c.priority, priority);
}
#define NOTHING_MORE said(CONDITION_MISSING, false, PRIORITY_WARNING, NULL)

static int set_up(void **state)
{
    (void)state;
    queue = condition_queue_new();
    return queue ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    port_fini(&port);
    condition_queue_free(queue);
    return 0;
}

static void port__interface_comes_and_goes__is_said_once_each(void **state)
{
    (void)state;
    port_begin();
    answer_nothing();
    port_refresh(&port, 3, at_s(1));
    said(CONDITION_MISSING, true, PRIORITY_WARNING, "can0: no such interface, waiting for it");
    port_refresh(&port, 3, at_s(2));
    NOTHING_MORE;
    assert_false(port.known.present || port.known.up);
    answer_begin(6, ARPHRD_ETHER, IFF_UP);
    answer_end();
    port_refresh(&port, 3, at_s(3));
    said(CONDITION_MISSING, true, PRIORITY_WARNING, "can0 is no CAN interface: waiting for one");
    NOTHING_MORE;
    assert_int_equal(port.fd, -1);
    answer_can(4, 0, CAN_STATE_STOPPED);
    port_refresh(&port, 3, at_s(4));
    said(CONDITION_MISSING, false, PRIORITY_WARNING, "can0 is back");
    said(CONDITION_DOWN, true, PRIORITY_WARNING,
         "can0 is down: ip link set can0 up type can bitrate 250000");
    NOTHING_MORE;
    assert_true(port.known.present && !port.known.up);
    int first = port.fd;
    assert_true(first >= NO_FD);
    assert_int_equal(k.bound_index, 4);
    answer_can(4, IFF_UP, CAN_STATE_ERROR_ACTIVE);
    port_refresh(&port, 3, at_s(5));
    said(CONDITION_DOWN, false, PRIORITY_WARNING, "can0 is up");
    assert_int_equal(port.fd, first);
    assert_int_equal(port.known.controller, CONTROLLER_ACTIVE);
    assert_int_equal(port.known.bitrate, 125000);
    assert_int_equal(port.known.tx_errors, 7);
    assert_int_equal(port.known.rx_errors, 9);
    answer_virtual(8, "vcan", 0); /* another one under the same name */
    port_refresh(&port, 3, at_s(6));
    said(CONDITION_DOWN, true, PRIORITY_WARNING, "can0 is down: ip link set can0 up");
    NOTHING_MORE;
    assert_int_not_equal(port.fd, first);
    assert_int_equal(k.bound_index, 8);
    assert_int_equal(k.open, 1);
    assert_int_equal(port.empty_mono_ns, at_s(6).mono_ns);
    assert_true(port.known.is_virtual);
    assert_int_equal(port.known.controller, CONTROLLER_UNKNOWN);
    assert_int_equal(port.known.tx_errors, 7); /* what was told last */
    answer_nothing();
    port_refresh(&port, 3, at_s(7));
    said(CONDITION_MISSING, true, PRIORITY_WARNING, "can0: no such interface, waiting for it");
    said(CONDITION_DOWN, false, PRIORITY_WARNING, "can0 is up");
    assert_int_equal(k.open, 0);
}

static void port__no_socket__says_why(void **state)
{
    (void)state;
    port_begin();
    answer_can(4, IFF_UP, CAN_STATE_ERROR_ACTIVE);
    k.refuse_bind = ENODEV;
    port_refresh(&port, 3, at_s(1));
    said(CONDITION_MISSING, true, PRIORITY_WARNING, "can0 cannot be read: No such device");
    NOTHING_MORE;
    assert_int_equal(k.open, 0);
    k.refuse_bind = 0;
    k.refuse_socket = EMFILE;
    port_refresh(&port, 3, at_s(2));
    said(CONDITION_MISSING, true, PRIORITY_WARNING, "can0 cannot be read: Too many open files");
    port_refresh(&port, -1, at_s(3));
    NOTHING_MORE; /* the same cause, whoever was asked */
    k.refuse_socket = 0;
    port_refresh(&port, 3, at_s(4));
    said(CONDITION_MISSING, false, PRIORITY_WARNING, "can0 is back");
    NOTHING_MORE;
    assert_int_equal(port.receive_bytes, 16777216);
    port_fini(&port);
    k.has_forced_size = false;
    k.refuse_option = SO_RCVBUFFORCE;
    k.option_count = 0;
    port_refresh(&port, 3, at_s(5));
    assert_int_equal(port.receive_bytes, 425984);
    assert_int_equal(k.option_count, 5);
    static const int wanted[] = {SO_RCVBUF, SO_TIMESTAMPNS, SO_RXQ_OVFL, CAN_RAW_ERR_FILTER,
                                 CAN_RAW_FD_FRAMES};
    assert_memory_equal(k.options, wanted, sizeof wanted);
}

/* Adds a frame for the next reading. */
static void comes(uint32_t id, int len, int size, int flags, int64_t stamped_ns, int64_t dropped)
{
    int i = k.frame_count++;
    k.frames[i] = (struct canfd_frame){.can_id = id, .len = (uint8_t)len};
    for (int b = 0; b < 64; b++)
        k.frames[i].data[b] = (uint8_t)(0x11 * (b + 1));
    k.sizes[i] = size;
    k.flags[i] = flags;
    k.stamped_ns[i] = stamped_ns;
    k.dropped[i] = dropped;
}

static size_t take(struct frame *out, int64_t *floor_ns)
{
    bool lost = true, *lost_link = &lost;
    lost = false;
    size_t n = port_read(&port, out, floor_ns, lost_link);
    assert_false(lost);
    k.frame_count = k.taken = 0;
    return n;
}

static void port_up(void)
{
    port_begin();
    answer_can(4, IFF_UP, CAN_STATE_ERROR_ACTIVE);
    port_refresh(&port, 3, at_s(1));
    NOTHING_MORE;
}

static void port__frames__are_what_the_kernel_gave(void **state)
{
    (void)state;
    struct frame f[PORT_BATCH];
    int64_t floor_ns = 0;
    port_up();
    comes(0x123, 2, CAN_MTU, 0, 0, -1);
    comes(CAN_EFF_FLAG | 0x19F2000A, 8, CAN_MTU, MSG_DONTROUTE, 0, -1);
    comes(CAN_EFF_FLAG | CAN_RTR_FLAG | 0x18EA0001, 3, CAN_MTU, 0, 0, -1);
    comes(CAN_EFF_FLAG | 0x18FEF100, 9, CANFD_MTU, 0, 0, -1);
    comes(CAN_EFF_FLAG | 0x18FEF100, 8, CANFD_MTU, 0, 0, -1);
    comes(0x7FF, 1, CAN_MTU - 1, 0, 0, -1); /* no frame */
    assert_int_equal(take(f, &floor_ns), 5);
    assert_int_equal(f[0].id, 0x123);
    assert_int_equal(f[0].flags, 0);
    assert_int_equal(f[0].len, 2);
    assert_memory_equal(f[0].data, "\x11\x22\0\0\0\0\0\0", 8);
    assert_int_equal(f[0].iface, 2);
    assert_int_equal(f[1].id, 0x19F2000A);
    assert_int_equal(f[1].flags, FRAME_EXTENDED | FRAME_SENT);
    assert_memory_equal(f[1].data, "\x11\x22\x33\x44\x55\x66\x77\x88", 8);
    assert_int_equal(f[2].flags, FRAME_EXTENDED | FRAME_REMOTE);
    assert_int_equal(f[2].len, 3);
    assert_memory_equal(f[2].data, "\0\0\0\0\0\0\0\0", 8);
    assert_int_equal(f[3].flags, FRAME_EXTENDED | FRAME_FD | FRAME_CUT);
    assert_int_equal(f[3].len, 8);
    assert_int_equal(f[4].flags, FRAME_EXTENDED | FRAME_FD);
    said(CONDITION_CUT, true, PRIORITY_CAUTION,
         "can0: CAN FD frames, of which only the first 8 bytes are kept and none is read");
    NOTHING_MORE;
    assert_int_equal(port.known.frames, 5);
    assert_int_equal(port.known.error_frames, 0);
    port_tick(&port, (struct stamp){0, f[3].mono_ns + 60 * NS_PER_S});
    NOTHING_MORE;
    port_tick(&port, (struct stamp){0, f[3].mono_ns + 60 * NS_PER_S + 1});
    said(CONDITION_CUT, false, PRIORITY_CAUTION, "can0: no CAN FD frame for a minute");
    NOTHING_MORE;
}

static void port__times__are_the_kernels_on_the_monotonic_clock(void **state)
{
    (void)state;
    struct frame f[PORT_BATCH];
    int64_t floor_ns = 0, wall = INT64_C(1780000010000000000);
    port_up(); /* found empty 1 s after the start; it is 10 s now */
    comes(1, 0, CAN_MTU, 0, wall - 3 * NS_PER_S + 5, -1);
    comes(1, 0, CAN_MTU, 0, wall - 4 * NS_PER_S, -1); /* older than the one before: as old */
    comes(1, 0, CAN_MTU, 0, wall - 2 * NS_PER_S, -1);
    comes(1, 0, CAN_MTU, 0, wall + 50, -1); /* the wall clock was put back: now */
    comes(1, 0, CAN_MTU, 0, 0, -1);
    assert_int_equal(take(f, &floor_ns), 5);
    assert_int_equal(f[0].wall_ns, wall - 3 * NS_PER_S + 5);
    assert_int_equal(f[0].mono_ns, 7 * NS_PER_S + 5);
    assert_int_equal(f[1].mono_ns, 7 * NS_PER_S + 5);
    assert_int_equal(f[2].mono_ns, 8 * NS_PER_S);
    assert_int_equal(f[3].mono_ns, 10 * NS_PER_S);
    assert_int_equal(f[4].wall_ns, wall);
    assert_int_equal(f[4].mono_ns, 10 * NS_PER_S);
    assert_int_equal(floor_ns, 10 * NS_PER_S);
    /* The wall clock steps an hour: no older than when the socket was found empty. */
    kernel_at(1780003611000, 11000);
    comes(1, 0, CAN_MTU, 0, wall + 500 * NS_PER_MS, -1);
    floor_ns = 0;
    assert_int_equal(take(f, &floor_ns), 1);
    assert_int_equal(f[0].mono_ns, 10 * NS_PER_S);
}

static void port__as_many_as_it_takes__may_be_more(void **state)
{
    (void)state;
    struct frame f[PORT_BATCH];
    int64_t floor_ns = 0, empty;
    port_up();
    empty = port.empty_mono_ns;
    for (int i = 0; i < PORT_BATCH; i++)
        comes(1, 0, CAN_MTU, 0, 0, -1);
    assert_int_equal(take(f, &floor_ns), PORT_BATCH);
    assert_int_equal(port.empty_mono_ns, empty);
    for (int i = 0; i < PORT_BATCH - 1; i++)
        comes(1, 0, CAN_MTU, 0, 0, -1);
    assert_int_equal(take(f, &floor_ns), PORT_BATCH - 1);
    assert_int_equal(port.empty_mono_ns, 10 * NS_PER_S);
}

static void port__reading_fails__link_is_lost_but_for_a_pause(void **state)
{
    (void)state;
    static const struct {
        int why;
        bool lost, closed, empty;
    } cases[] = {{EAGAIN, false, false, true},
                 {EINTR, false, false, false},
                 {ENETDOWN, true, false, false},
                 {ENODEV, true, true, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct frame f[PORT_BATCH];
        int64_t floor_ns = 0;
        bool lost = false;
        port_up();
        k.read_errno = cases[i].why;
        assert_int_equal(port_read(&port, f, &floor_ns, &lost), 0);
        assert_int_equal(lost, cases[i].lost);
        assert_int_equal(port.fd < 0, cases[i].closed);
        assert_int_equal(port.bound_index, cases[i].closed ? 0 : 4);
        assert_int_equal(port.empty_mono_ns, (cases[i].empty ? 10 : 1) * NS_PER_S);
        port_fini(&port);
        assert_int_equal(k.open, 0);
    }
}

static void port__dropped_frames__are_counted_and_forgotten_after_a_minute(void **state)
{
    (void)state;
    struct frame f[PORT_BATCH];
    int64_t floor_ns = 0;
    port_up();
    comes(1, 0, CAN_MTU, 0, 0, 0);
    take(f, &floor_ns);
    NOTHING_MORE;
    comes(1, 0, CAN_MTU, 0, 0, 3);
    comes(1, 0, CAN_MTU, 0, 0, 3);
    comes(1, 0, CAN_MTU, 0, 0, 5);
    comes(1, 0, CAN_MTU, 0, 0, -1);
    take(f, &floor_ns);
    assert_int_equal(port.known.lost_frames, 5);
    said(CONDITION_LOST, true, PRIORITY_CAUTION,
         "can0: the kernel had to drop frames, this machine was too slow");
    kernel_at(1780000030000, 30000);
    comes(1, 0, CAN_MTU, 0, 0, 4); /* a counter that went round */
    k.dropped[0] = 4 - 1 + (INT64_C(1) << 32);
    take(f, &floor_ns);
    assert_int_equal(port.known.lost_frames, UINT64_C(5) + 0xFFFFFFFE);
    NOTHING_MORE;
    port_tick(&port, at_s(90));
    NOTHING_MORE;
    port_tick(&port, at_s(90.001));
    said(CONDITION_LOST, false, PRIORITY_CAUTION, "can0: no frame was dropped for a minute");
    port_tick(&port, at_s(91));
    NOTHING_MORE;
}

/* An error frame: its classes, what the controller says, both counters. */
static void error_comes(uint32_t classes, int controller, int tx, int rx)
{
    comes(CAN_ERR_FLAG | classes, 8, CAN_MTU, 0, 0, -1);
    uint8_t *d = k.frames[k.frame_count - 1].data;
    memset(d, 0, 8);
    d[1] = (uint8_t)controller;
    d[6] = (uint8_t)tx;
    d[7] = (uint8_t)rx;
}

static void port__error_frames__tell_the_controllers_state(void **state)
{
    (void)state;
    static const struct {
        uint32_t classes;
        int controller;
        enum controller_state is;
    } cases[] = {
        {CAN_ERR_CRTL, CAN_ERR_CRTL_RX_WARNING, CONTROLLER_WARNING},
        {CAN_ERR_CRTL, CAN_ERR_CRTL_ACTIVE, CONTROLLER_ACTIVE},
        {CAN_ERR_CRTL, CAN_ERR_CRTL_TX_WARNING, CONTROLLER_WARNING},
        {CAN_ERR_CRTL, CAN_ERR_CRTL_RX_PASSIVE, CONTROLLER_PASSIVE},
        {CAN_ERR_PROT, CAN_ERR_CRTL_ACTIVE, CONTROLLER_PASSIVE}, /* says nothing of it */
        {CAN_ERR_CRTL, CAN_ERR_CRTL_ACTIVE, CONTROLLER_ACTIVE},
        {CAN_ERR_CRTL, CAN_ERR_CRTL_TX_PASSIVE | CAN_ERR_CRTL_TX_WARNING, CONTROLLER_PASSIVE},
        {CAN_ERR_CRTL, 0, CONTROLLER_PASSIVE},
        {CAN_ERR_BUSOFF, 0, CONTROLLER_BUS_OFF},
        {CAN_ERR_RESTARTED, 0, CONTROLLER_ACTIVE},
        {CAN_ERR_BUSOFF | CAN_ERR_RESTARTED, 0, CONTROLLER_BUS_OFF},
    };
    struct frame f[PORT_BATCH];
    int64_t floor_ns = 0;
    port_up();
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        error_comes(cases[i].classes, cases[i].controller, 0, 0);
        assert_int_equal(take(f, &floor_ns), 1);
        assert_int_equal(f[0].flags, FRAME_ERROR);
        assert_int_equal(f[0].id, cases[i].classes);
        assert_int_equal(port.known.controller, cases[i].is);
        assert_int_equal(port.known.error_frames, i + 1);
        assert_int_equal(port.known.tx_errors, 7);
    }
    error_comes(CAN_ERR_CNT, 0, 130, 99);
    take(f, &floor_ns);
    assert_int_equal(port.known.tx_errors, 130);
    assert_int_equal(port.known.rx_errors, 99);
    for (int i = 0; i < 2; i++) {
        said(CONDITION_PASSIVE, true, PRIORITY_CAUTION,
             "can0 is error-passive: check wiring and termination");
        if (i == 1)
            said(CONDITION_BUS_OFF, true, PRIORITY_WARNING,
                 "can0 is bus-off: check bit rate, wiring and termination");
        said(CONDITION_PASSIVE, false, PRIORITY_CAUTION, "can0 is no longer error-passive");
    }
    said(CONDITION_BUS_OFF, false, PRIORITY_WARNING, "can0 is no longer bus-off");
    said(CONDITION_BUS_OFF, true, PRIORITY_WARNING,
         "can0 is bus-off: check bit rate, wiring and termination");
    /* What it hears again says that it is over; what was sent here does not. */
    comes(1, 0, CAN_MTU, MSG_DONTROUTE, 0, -1);
    take(f, &floor_ns);
    NOTHING_MORE;
    comes(1, 0, CAN_MTU, 0, 0, -1);
    take(f, &floor_ns);
    said(CONDITION_BUS_OFF, false, PRIORITY_WARNING, "can0 is no longer bus-off");
    assert_int_equal(port.known.controller, CONTROLLER_ACTIVE);
    NOTHING_MORE;
}

/* 100 frames without data in two seconds at 125 kbit/s. An 11-bit frame without data is 47 bits
 * with its gap, stuffed at worst 55 (CAN 2.0: 34 bits are subject to stuffing, one in four of all
 * but the first); 0x555 is stuffed in its nought length and CRC alone. */
static void port__load__is_counted_over_whole_seconds(void **state)
{
    (void)state;
    struct frame f[PORT_BATCH];
    int64_t floor_ns = 0;
    port_up();
    assert_true(port_tick(&port, at_s(20)));
    assert_true(port.known.frames_per_s == 0);
    for (int round = 0; round < 2; round++) {
        for (int i = 0; i < 50; i++)
            comes(0x555, 0, CAN_MTU, 0, 0, -1);
        take(f, &floor_ns);
    }
    assert_false(port_tick(&port, at_s(20.999)));
    assert_true(port_tick(&port, at_s(22)));
    assert_near(port.known.frames_per_s, 50, 1e-9);
    assert_near(port.known.load_worst_percent, 100 * 100 * 55 / 250e3, 1e-9);
    assert_true(port.known.load_percent >= 100 * 100 * 47 / 250e3);
    assert_true(port.known.load_percent < port.known.load_worst_percent);
    assert_true(port_tick(&port, at_s(23)));
    assert_true(port.known.frames_per_s == 0 && port.known.load_percent == 0);
    /* Where the bit rate is not known it is taken for 250 kbit/s (IEC 61162-3). */
    port.known.bitrate = 0;
    comes(0x555, 0, CAN_MTU, 0, 0, -1);
    take(f, &floor_ns);
    assert_true(port_tick(&port, at_s(24)));
    assert_near(port.known.load_worst_percent, 100 * 55 / 250e3, 1e-9);
    assert_near(port.known.frames_per_s, 1, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(port__interface_comes_and_goes__is_said_once_each),
        cmocka_unit_test(port__no_socket__says_why),
        cmocka_unit_test(port__frames__are_what_the_kernel_gave),
        cmocka_unit_test(port__times__are_the_kernels_on_the_monotonic_clock),
        cmocka_unit_test(port__as_many_as_it_takes__may_be_more),
        cmocka_unit_test(port__reading_fails__link_is_lost_but_for_a_pause),
        cmocka_unit_test(port__dropped_frames__are_counted_and_forgotten_after_a_minute),
        cmocka_unit_test(port__error_frames__tell_the_controllers_state),
        cmocka_unit_test(port__load__is_counted_over_whole_seconds),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
