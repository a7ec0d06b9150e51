/* A made-up kernel in place of the system calls by which bus/ looks at CAN interfaces, for one test
 * program: what it says is from rtnetlink(7), linux/can/netlink.h, linux/can/error.h and
 * Documentation/networking/can.rst. The true one is for tests/can. */
#ifndef STOKEHOLD_TESTS_KERNEL_H
#define STOKEHOLD_TESTS_KERNEL_H

#include "bus/clock.h"
#include "bus/timeline.h"
#include "support/check.h"

#include <errno.h>
#include <linux/can.h>
#include <linux/can/netlink.h>
#include <linux/can/raw.h>
#include <linux/if_link.h>
#include <linux/netlink.h>
#include <linux/rtnetlink.h>
#include <net/if.h>
#include <net/if_arp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#define NO_FD 1000 /* what it hands out counts on from here: never a real descriptor */

static struct kernel {
    int next_fd, open, refuse_socket, refuse_bind, refuse_option;
    int bound_index;
    bool has_forced_size;
    int options[8], option_count; /* names in the order in which they were set */
    struct timespec wall, mono;
    /* netlink */
    char reply[2048];
    size_t reply_len;
    int stale; /* answers that wait from before */
    char asked[IFNAMSIZ];
    int news[6], news_at; /* of the watching socket: bytes, or an errno below nought; 0 ends it */
    int refuse_send;
    /* ioctl */
    int io_index, io_type, io_flags;
    /* frames */
    struct canfd_frame frames[80];
    int sizes[80], flags[80], frame_count, taken, read_errno;
    int64_t stamped_ns[80]; /* 0: without a time */
    int64_t dropped[80];    /* -1: without a count */
} k;

static int open_fd(void)
{
    if (k.refuse_socket) {
        errno = k.refuse_socket;
        return -1;
    }
    k.open++;
    return NO_FD + k.next_fd++;
}

int socket(int domain, int type, int protocol)
{
    (void)type;
    (void)protocol;
    assert_true(domain == PF_CAN || domain == AF_NETLINK);
    return open_fd();
}

int close(int fd)
{
    if (fd < NO_FD)
        return (int)syscall(SYS_close, fd);
    k.open--;
    return 0;
}

int bind(int fd, __CONST_SOCKADDR_ARG to, socklen_t len)
{
    (void)fd;
    (void)len;
    if (k.refuse_bind) {
        errno = k.refuse_bind;
        return -1;
    }
    if (to.__sockaddr__->sa_family == AF_CAN) {
        struct sockaddr_can can;
        memcpy(&can, to.__sockaddr__, sizeof can);
        k.bound_index = can.can_ifindex;
    }
    return 0;
}

int setsockopt(int fd, int level, int name, const void *value, socklen_t len)
{
    (void)fd;
    (void)level;
    (void)value;
    (void)len;
    if (k.refuse_option == name)
        return -1;
    k.options[k.option_count++ % 8] = name;
    k.has_forced_size |= name == SO_RCVBUFFORCE;
    return 0;
}

int getsockopt(int fd, int level, int name, void *value, socklen_t *len)
{
    int size = k.has_forced_size ? 16777216 : 425984;
    (void)fd;
    (void)level;
    assert_int_equal(name, SO_RCVBUF);
    memcpy(value, &size, sizeof size);
    *len = sizeof size;
    return 0;
}

ssize_t send(int fd, const void *data, size_t len, int flags)
{
    (void)fd;
    (void)flags;
    size_t at = sizeof(struct nlmsghdr) + sizeof(struct ifinfomsg) + sizeof(struct rtattr);
    assert_int_equal(k.stale, 0);
    assert_int_equal(len, at + IFNAMSIZ);
    memcpy(k.asked, (const char *)data + at, IFNAMSIZ);
    if (k.refuse_send) {
        errno = k.refuse_send;
        return -1;
    }
    return (ssize_t)len;
}

ssize_t recv(int fd, void *data, size_t len, int flags)
{
    (void)fd;
    if (k.news_at >= 0) { /* the watching one */
        int n = k.news[k.news_at++];
        errno = n < 0 ? -n : EAGAIN;
        return n > 0 ? n : -1;
    }
    if (flags & MSG_DONTWAIT) {
        errno = EAGAIN;
        return k.stale > 0 ? k.stale-- : -1;
    }
    assert_true(k.reply_len <= len);
    memcpy(data, k.reply, k.reply_len);
    return (ssize_t)k.reply_len;
}

int ioctl(int fd, unsigned long request, ...)
{
    va_list args;
    (void)fd;
    va_start(args, request);
    struct ifreq *r = va_arg(args, struct ifreq *);
    va_end(args);
    snprintf(k.asked, sizeof k.asked, "%s", r->ifr_name);
    if (k.io_index < 0)
        return -1;
    if (request == SIOCGIFINDEX)
        r->ifr_ifindex = k.io_index;
    else if (request == SIOCGIFHWADDR)
        r->ifr_hwaddr.sa_family = (sa_family_t)k.io_type;
    else if (request == SIOCGIFFLAGS)
        r->ifr_flags = (short)k.io_flags;
    return 0;
}

int clock_gettime(clockid_t id, struct timespec *t)
{
    *t = id == CLOCK_REALTIME ? k.wall : k.mono;
    return 0;
}

static inline void add_control(struct msghdr *m, struct cmsghdr **c, int type, const void *value,
                               size_t len)
{
    *c = *c ? CMSG_NXTHDR(m, *c) : CMSG_FIRSTHDR(m);
    assert_non_null(*c);
    (*c)->cmsg_level = SOL_SOCKET;
    (*c)->cmsg_type = type;
    (*c)->cmsg_len = CMSG_LEN(len);
    memcpy(CMSG_DATA(*c), value, len);
}

int recvmmsg(int fd, struct mmsghdr *out, unsigned most, int flags, struct timespec *limit)
{
    (void)fd;
    (void)flags;
    (void)limit;
    if (k.read_errno) {
        errno = k.read_errno;
        return -1;
    }
    unsigned n = 0;
    for (; n < most && k.taken < k.frame_count; n++, k.taken++) {
        struct msghdr *m = &out[n].msg_hdr;
        struct cmsghdr *c = NULL;
        size_t room = m->msg_controllen;
        memset(m->msg_control, 0, room);
        memcpy(m->msg_iov->iov_base, &k.frames[k.taken], sizeof k.frames[0]);
        out[n].msg_len = (unsigned)k.sizes[k.taken];
        m->msg_flags = k.flags[k.taken];
        if (k.stamped_ns[k.taken]) {
            struct timespec t = {k.stamped_ns[k.taken] / NS_PER_S,
                                 k.stamped_ns[k.taken] % NS_PER_S};
            add_control(m, &c, SCM_TIMESTAMPNS, &t, sizeof t);
        }
        if (k.dropped[k.taken] >= 0) {
            uint32_t count = (uint32_t)k.dropped[k.taken];
            add_control(m, &c, SO_RXQ_OVFL, &count, sizeof count);
        }
        m->msg_controllen =
            c ? (size_t)((char *)c - (char *)m->msg_control) + CMSG_ALIGN(c->cmsg_len) : 0;
    }
    return (int)n;
}

static inline void kernel_begin(void)
{
    k = (struct kernel){.news_at = -1, .io_index = -1};
}

static inline void kernel_at(int64_t wall_ms, int64_t mono_ms)
{
    k.wall = (struct timespec){wall_ms / 1000, wall_ms % 1000 * 1000000};
    mono_ms -= TIMELINE_START / NS_PER_MS;
    k.mono = (struct timespec){mono_ms / 1000, mono_ms % 1000 * 1000000};
}

/* ---- answers of netlink --------------------------------------------------------------------- */

static size_t nest; /* where the length of the attribute stands that holds others */

static inline void add(const void *data, size_t len)
{
    memcpy(k.reply + k.reply_len, data, len);
    k.reply_len += (len + 3) & ~(size_t)3;
}

static inline size_t add_attribute(int type, const void *data, size_t len)
{
    size_t at = k.reply_len;
    struct rtattr head = {(unsigned short)(sizeof head + len), (unsigned short)type};
    add(&head, sizeof head);
    if (data)
        add(data, len);
    return at;
}

static inline void close_attribute(size_t at)
{
    unsigned short len = (unsigned short)(k.reply_len - at);
    memcpy(k.reply + at, &len, sizeof len);
}

static inline void answer_begin(int index, int type, unsigned flags)
{
    struct nlmsghdr head = {.nlmsg_type = RTM_NEWLINK};
    struct ifinfomsg link = {
        .ifi_index = index, .ifi_type = (unsigned short)type, .ifi_flags = flags};
    memset(k.reply, 0, sizeof k.reply);
    k.reply_len = 0;
    add(&head, sizeof head);
    add(&link, sizeof link);
    add_attribute(IFLA_MTU, "\x10\0\0\0", 4);
}

static inline void answer_end(void)
{
    uint32_t len = (uint32_t)k.reply_len;
    memcpy(k.reply, &len, sizeof len);
}

static inline void answer_kind(const char *kind)
{
    nest = add_attribute(IFLA_LINKINFO, NULL, 0);
    add_attribute(IFLA_INFO_KIND, kind, strlen(kind) + 1);
}

/* An interface of a driver, whose controller is in this state. */
static inline void answer_can(int index, unsigned flags, uint32_t state)
{
    struct can_bittiming timing = {.bitrate = 125000};
    struct can_berr_counter counter = {.txerr = 7, .rxerr = 9};
    answer_begin(index, ARPHRD_CAN, flags);
    answer_kind("can");
    size_t data = add_attribute(IFLA_INFO_DATA | NLA_F_NESTED, NULL, 0);
    add_attribute(IFLA_CAN_BITTIMING, &timing, sizeof timing);
    add_attribute(IFLA_CAN_STATE, &state, sizeof state);
    add_attribute(IFLA_CAN_BERR_COUNTER, &counter, sizeof counter);
    close_attribute(data);
    close_attribute(nest);
    answer_end();
}

static inline void answer_virtual(int index, const char *kind, unsigned flags)
{
    answer_begin(index, ARPHRD_CAN, flags);
    answer_kind(kind);
    close_attribute(nest);
    answer_end();
}

static inline void answer_nothing(void)
{
    struct nlmsghdr head = {.nlmsg_len = sizeof head, .nlmsg_type = NLMSG_ERROR};
    memcpy(k.reply, &head, sizeof head);
    k.reply_len = sizeof head;
}

#endif
