/* What the kernel says of an interface: by netlink, and by ioctl where that is refused. */
#include "bus/link.h"

#include "bus/kernel.h"

#include "base/banned.h"

static void link__driver_interface__tells_all_that_netlink_has(void **state)
{
    (void)state;
    static const struct {
        uint32_t state;
        enum controller_state is;
    } states[] = {{CAN_STATE_ERROR_ACTIVE, CONTROLLER_ACTIVE},
                  {CAN_STATE_ERROR_WARNING, CONTROLLER_WARNING},
                  {CAN_STATE_ERROR_PASSIVE, CONTROLLER_PASSIVE},
                  {CAN_STATE_BUS_OFF, CONTROLLER_BUS_OFF},
                  {CAN_STATE_STOPPED, CONTROLLER_UNKNOWN}};
    for (size_t i = 0; i < sizeof states / sizeof *states; i++) {
        struct link_info l;
        kernel_begin();
        k.stale = 1; /* one byte: an answer to an older question */
        answer_can(4, IFF_UP | IFF_RUNNING, states[i].state);
        assert_true(link_query(3, "can0", &l));
        assert_string_equal(k.asked, "can0");
        assert_true(l.present && l.is_can && l.up && l.carrier);
        assert_false(l.is_virtual);
        assert_int_equal(l.index, 4);
        assert_int_equal(l.bitrate, 125000);
        assert_int_equal(l.controller, states[i].is);
        assert_int_equal(l.tx_errors, 7);
        assert_int_equal(l.rx_errors, 9);
        assert_int_equal(k.open, 0);
    }
}

static void link__virtual_and_other_kinds__are_told_apart(void **state)
{
    (void)state;
    static const struct {
        const char *kind;
        bool is_virtual;
    } kinds[] = {{"vcan", true}, {"vxcan", true}, {"can", false}, {"vca", false}, {"vcanx", false}};
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        struct link_info l;
        kernel_begin();
        answer_virtual(2, kinds[i].kind, IFF_RUNNING);
        assert_true(link_query(3, "x", &l));
        assert_int_equal(l.is_virtual, kinds[i].is_virtual);
        assert_true(l.present && l.carrier && !l.up);
        assert_int_equal(l.bitrate, 0);
        assert_int_equal(l.tx_errors, -1);
        assert_int_equal(l.rx_errors, -1);
    }
}

/* Whatever is cut, nothing is read past what came, and what came before the cut counts. */
static void link__answer_cut_anywhere__is_read_as_far_as_it_goes(void **state)
{
    (void)state;
    struct link_info l;
    kernel_begin();
    answer_can(4, IFF_UP, CAN_STATE_BUS_OFF);
    size_t whole = k.reply_len, least = sizeof(struct nlmsghdr) + sizeof(struct ifinfomsg);
    for (size_t len = 0; len <= whole; len++) {
        uint32_t says = (uint32_t)len;
        memcpy(k.reply, &says, sizeof says);
        k.reply_len = len;
        k.io_index = -1;
        assert_true(link_query(3, "can0", &l));
        assert_int_equal(l.present, len >= least);
        assert_int_equal(l.bitrate, len == whole ? 125000 : 0);
        k.reply_len = len ? len - 1 : 0; /* says more than it holds: the other way is asked */
        k.io_index = 9;
        assert_true(link_query(3, "can0", &l));
        assert_int_equal(l.index, 9);
    }
}

static void link__nobody_to_ask__says_so(void **state)
{
    (void)state;
    struct link_info l;
    kernel_begin();
    answer_nothing();
    k.io_index = 5; /* not asked: netlink knows that there is none */
    assert_true(link_query(3, "can0", &l));
    assert_false(l.present);
    k.refuse_send = EPERM;
    k.io_type = ARPHRD_CAN;
    k.io_flags = IFF_UP | IFF_RUNNING;
    assert_true(link_query(3, "can7", &l)); /* by ioctl */
    assert_true(l.present && l.is_can && l.up && l.carrier);
    assert_int_equal(l.index, 5);
    assert_string_equal(k.asked, "can7");
    k.io_type = ARPHRD_ETHER;
    k.io_flags = IFF_RUNNING;
    assert_true(link_query(-1, "eth0", &l));
    assert_true(l.present && !l.is_can && !l.up && l.carrier);
    assert_int_equal(l.tx_errors, -1);
    k.refuse_socket = EMFILE;
    assert_false(link_query(-1, "can0", &l));
    assert_int_equal(errno, EMFILE);
    k.refuse_socket = 0;
    assert_true(link_query(-1, "a-name-longer-than-any", &l));
    assert_false(l.present);
    assert_true(link_query(3, "a-name-longer-than-any", &l));
    assert_false(l.present);
    assert_int_equal(k.open, 0);
}

static void link__socket__is_closed_where_it_cannot_be_used(void **state)
{
    (void)state;
    kernel_begin();
    int fd = link_open(true);
    assert_true(fd >= NO_FD);
    assert_int_equal(k.options[0], SO_RCVTIMEO);
    k.refuse_bind = EACCES;
    assert_int_equal(link_open(false), -1);
    assert_int_equal(k.open, 1);
    k.refuse_bind = 0;
    k.refuse_option = SO_RCVTIMEO;
    assert_int_equal(link_open(false), -1);
    assert_int_equal(k.open, 1);
    k.refuse_socket = EACCES;
    assert_int_equal(link_open(false), -1);
}

static void link__news__is_read_away(void **state)
{
    (void)state;
    static const struct {
        int news[6];
        bool any;
    } cases[] = {{{0}, false},         {{1, 0}, true},        {{400, -EINTR, 20, 0}, true},
                 {{-EINTR, 0}, false}, {{-ENOBUFS, 0}, true}, {{-EBADF}, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        kernel_begin();
        k.news_at = 0;
        memcpy(k.news, cases[i].news, sizeof k.news);
        assert_int_equal(link_changed(3), cases[i].any);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(link__driver_interface__tells_all_that_netlink_has),
        cmocka_unit_test(link__virtual_and_other_kinds__are_told_apart),
        cmocka_unit_test(link__answer_cut_anywhere__is_read_as_far_as_it_goes),
        cmocka_unit_test(link__nobody_to_ask__says_so),
        cmocka_unit_test(link__socket__is_closed_where_it_cannot_be_used),
        cmocka_unit_test(link__news__is_read_away),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
