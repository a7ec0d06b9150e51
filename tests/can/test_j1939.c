/* The transport protocol against the kernel's own j1939 module
 * (Documentation/networking/j1939.rst): what its socket sends as a broadcast (BAM) or as a
 * connection (RTS, CTS) comes out of the assembler whole. Runs in the guest of boot.sh. */
#include "bus/socketcan.h"

#include "can/guest.h"
#include "support/check.h"
#include "wire/dm1.h"
#include "wire/wire.h"

#include <errno.h>
#include <linux/can.h>
#include <linux/can/j1939.h>
#include <net/if.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

#define PGN_DM1 65226u

struct bus {
    struct source *source;
    struct wire *wire;
    struct message message;
};

static int start(void **state)
{
    static struct bus b;
    const char *names[] = {"vcan0"};
    struct err e = {""};
    b = (struct bus){.source = socketcan_open(names, 1, &e), .wire = wire_new()};
    if (b.source == NULL)
        fail_msg("%s", e.text);
    *state = &b;
    return 0;
}

static int stop(void **state)
{
    struct bus *b = *state;
    source_close(b->source);
    wire_free(b->wire);
    return 0;
}

static struct sockaddr_can address(uint8_t who, uint32_t pgn)
{
    struct sockaddr_can a = {.can_family = AF_CAN, .can_ifindex = (int)if_nametoindex("vcan0")};
    a.can_addr.j1939.name = J1939_NO_NAME;
    a.can_addr.j1939.addr = who;
    a.can_addr.j1939.pgn = pgn;
    return a;
}

/* A socket of the kernel's with this address on the bus. */
static int node(uint8_t who)
{
    int fd = socket(PF_CAN, SOCK_DGRAM | SOCK_CLOEXEC, CAN_J1939), yes = 1;
    if (fd < 0)
        fail_msg("no j1939 socket: %s", strerror(errno));
    struct sockaddr_can me = address(who, J1939_NO_PGN);
    assert_int_equal(setsockopt(fd, SOL_SOCKET, SO_BROADCAST, &yes, sizeof yes), 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&me, sizeof me), 0);
    return fd;
}

/* The next whole message that took more than one frame; fails where none comes. */
static void await_message(struct bus *b)
{
    for (int64_t until = guest_ms() + GUEST_PATIENCE_MS; guest_ms() < until;) {
        static struct frame f;
        size_t n;
        struct err e;
        if (source_read(b->source, &f, 1, &n, &e) != SOURCE_READY) {
            struct pollfd p = {.fd = source_fd(b->source), .events = POLLIN};
            poll(&p, 1, 100);
            continue;
        }
        if (wire_frame(b->wire, &f, &b->message) && b->message.multi == 2)
            return;
    }
    fail_msg("the message never came");
}

static void send_and_compare(struct bus *b, uint8_t from, uint8_t to, const uint8_t *data,
                             size_t len)
{
    int sender = node(from), receiver = to == J1939_NO_ADDR ? -1 : node(to);
    struct sockaddr_can there = address(to, PGN_DM1);
    assert_int_equal(sendto(sender, data, len, 0, (struct sockaddr *)&there, sizeof there),
                     (ssize_t)len);
    await_message(b);
    const struct message *m = &b->message;
    assert_int_equal(m->pgn, PGN_DM1);
    assert_int_equal(m->source, from);
    assert_int_equal(m->destination, to);
    assert_int_equal(m->len, len);
    assert_memory_equal(m->data, data, len);
    close(sender);
    if (receiver >= 0)
        close(receiver);
}

static void fill(uint8_t *data, size_t len)
{
    uint32_t x = (uint32_t)len;
    for (size_t i = 0; i < len; i++)
        data[i] = (uint8_t)((x = x * 1664525u + 1013904223u) >> 24);
}

static void broadcast__any_size__comes_out_as_it_went_in(void **state)
{
    static const size_t sizes[] = {9, 13, 14, 15, 100};
    uint8_t data[100];
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        fill(data, sizes[i]);
        send_and_compare(*state, 0x11, J1939_NO_ADDR, data, sizes[i]);
    }
}

static void connection__any_size__comes_out_as_it_went_in(void **state)
{
    static const size_t sizes[] = {9, 14, 15, 1784, 1785};
    static uint8_t data[MESSAGE_MAX];
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        fill(data, sizes[i]);
        send_and_compare(*state, 0x80, 0x90, data, sizes[i]);
    }
}

static void trouble_codes__more_than_a_frame_holds__are_all_there(void **state)
{
    /* SPN 110 FMI 0 twice, SPN 100 FMI 1 three times; the amber lamp. */
    static const uint8_t data[] = {0x04, 0xFF, 0x6E, 0, 0, 2, 0x64, 0, 1, 3};
    struct bus *b = *state;
    struct dm1 d;
    send_and_compare(b, 0x00, J1939_NO_ADDR, data, sizeof data);
    assert_true(dm1_decode(&b->message, &d));
    assert_int_equal(d.code_count, 2);
    assert_int_equal(d.lamps[DM1_AMBER_WARNING], LAMP_ON);
    assert_int_equal(d.codes[0].spn, 110);
    assert_int_equal(d.codes[0].fmi, 0);
    assert_int_equal(d.codes[0].count, 2);
    assert_int_equal(d.codes[1].spn, 100);
    assert_int_equal(d.codes[1].fmi, 1);
    assert_int_equal(d.codes[1].count, 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(broadcast__any_size__comes_out_as_it_went_in, start, stop),
        cmocka_unit_test_setup_teardown(connection__any_size__comes_out_as_it_went_in, start, stop),
        cmocka_unit_test_setup_teardown(trouble_codes__more_than_a_frame_holds__are_all_there,
                                        start, stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
