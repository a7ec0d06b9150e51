#include "bus/link.h"

#include "base/text.h"

#include <errno.h>
#include <linux/can/netlink.h>
#include <linux/if_link.h>
#include <linux/netlink.h>
#include <linux/rtnetlink.h>
#include <net/if.h>
#include <net/if_arp.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include "base/banned.h"

int link_open(bool watch)
{
    int fd =
        socket(AF_NETLINK, SOCK_RAW | SOCK_CLOEXEC | (watch ? SOCK_NONBLOCK : 0), NETLINK_ROUTE);
    if (fd < 0)
        return -1;
    struct sockaddr_nl address = {.nl_family = AF_NETLINK, .nl_groups = watch ? RTMGRP_LINK : 0};
    /* The kernel answers within the call; the time-out is for a kernel that does not. */
    struct timeval limit = {.tv_usec = 200000};
    if (bind(fd, (struct sockaddr *)&address, sizeof address) != 0 ||
        setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &limit, sizeof limit) != 0) {
        close(fd);
        return -1;
    }
    return fd;
}

bool link_changed(int watch_fd)
{
    char junk[8192];
    bool any = false;
    for (;;) {
        ssize_t n = recv(watch_fd, junk, sizeof junk, MSG_DONTWAIT);
        /* an overrun (ENOBUFS) means that there was more news than room */
        if (n > 0 || (n < 0 && errno == ENOBUFS))
            any = true;
        else if (n == 0 || errno != EINTR)
            return any;
    }
}

/* ---- attributes ----------------------------------------------------------------------------- */

/* A run of attributes: each a length and a type, aligned to four bytes. */
struct attributes {
    const char *at, *end;
};

static bool next_attribute(struct attributes *a, unsigned *type, struct attributes *value)
{
    struct rtattr head;
    if ((size_t)(a->end - a->at) < sizeof head)
        return false;
    memcpy(&head, a->at, sizeof head);
    if (head.rta_len < sizeof head || head.rta_len > (size_t)(a->end - a->at))
        return false;
    *type = head.rta_type & 0x3FFFu /* without the two flag bits */;
    value->at = a->at + sizeof head;
    value->end = a->at + head.rta_len;
    size_t step = ((size_t)head.rta_len + 3) & ~(size_t)3;
    a->at = step < (size_t)(a->end - a->at) ? a->at + step : a->end;
    return true;
}

/* False when the value is too short to hold it. */
static bool copy_value(const struct attributes *value, void *dst, size_t len)
{
    if ((size_t)(value->end - value->at) < len)
        return false;
    memcpy(dst, value->at, len);
    return true;
}

static bool value_is(const struct attributes *value, const char *word)
{
    size_t len = (size_t)(value->end - value->at);
    return len > strlen(word) && memcmp(value->at, word, strlen(word) + 1) == 0;
}

static enum controller_state controller_of(uint32_t state)
{
    switch (state) {
    case CAN_STATE_ERROR_ACTIVE:
        return CONTROLLER_ACTIVE;
    case CAN_STATE_ERROR_WARNING:
        return CONTROLLER_WARNING;
    case CAN_STATE_ERROR_PASSIVE:
        return CONTROLLER_PASSIVE;
    case CAN_STATE_BUS_OFF:
        return CONTROLLER_BUS_OFF;
    default:
        return CONTROLLER_UNKNOWN;
    }
}

static void read_can_data(struct attributes data, struct link_info *out)
{
    unsigned type;
    struct attributes value;
    while (next_attribute(&data, &type, &value)) {
        struct can_bittiming timing;
        struct can_berr_counter counter;
        uint32_t state;
        if (type == IFLA_CAN_BITTIMING && copy_value(&value, &timing, sizeof timing)) {
            out->bitrate = timing.bitrate;
        } else if (type == IFLA_CAN_STATE && copy_value(&value, &state, sizeof state)) {
            out->controller = controller_of(state);
        } else if (type == IFLA_CAN_BERR_COUNTER && copy_value(&value, &counter, sizeof counter)) {
            out->tx_errors = counter.txerr;
            out->rx_errors = counter.rxerr;
        }
    }
}

static void read_link_info(struct attributes info, struct link_info *out)
{
    unsigned type;
    struct attributes value, data = {0};
    bool is_can_driver = false;
    while (next_attribute(&info, &type, &value)) {
        if (type == IFLA_INFO_KIND) {
            out->is_virtual = value_is(&value, "vcan") || value_is(&value, "vxcan");
            is_can_driver = value_is(&value, "can");
        } else if (type == IFLA_INFO_DATA) {
            data = value;
        }
    }
    if (is_can_driver && data.at)
        read_can_data(data, out);
}

static void read_reply(const char *payload, size_t len, struct link_info *out)
{
    struct ifinfomsg link;
    if (len < sizeof link)
        return;
    memcpy(&link, payload, sizeof link);
    out->present = true;
    out->index = link.ifi_index;
    out->is_can = link.ifi_type == ARPHRD_CAN;
    out->up = link.ifi_flags & IFF_UP;
    out->carrier = link.ifi_flags & IFF_RUNNING;
    size_t head = (sizeof link + 3) & ~(size_t)3;
    struct attributes all = {payload + head, payload + len}, value;
    unsigned type;
    while (head <= len && next_attribute(&all, &type, &value)) {
        if (type == IFLA_LINKINFO)
            read_link_info(value, out);
    }
}

/* ---- asking --------------------------------------------------------------------------------- */

static bool ask_netlink(int fd, const char *name, struct link_info *out)
{
    struct {
        struct nlmsghdr head;
        struct ifinfomsg link;
        struct rtattr name_head;
        char name[IFNAMSIZ];
    } request = {
        .head = {.nlmsg_len = sizeof request,
                 .nlmsg_type = RTM_GETLINK,
                 .nlmsg_flags = NLM_F_REQUEST},
        .link = {.ifi_family = AF_UNSPEC},
        .name_head = {.rta_len = sizeof(struct rtattr) + IFNAMSIZ, .rta_type = IFLA_IFNAME},
    };
    if (!text_copy(request.name, sizeof request.name, name))
        return true; /* too long for any interface */
    char reply[16384];
    /* an answer that came too late for its question must not be taken for this one's */
    while (recv(fd, reply, sizeof reply, MSG_DONTWAIT) > 0)
        ;
    if (send(fd, &request, sizeof request, 0) < 0)
        return false;
    ssize_t n = recv(fd, reply, sizeof reply, 0);
    struct nlmsghdr head;
    if (n < (ssize_t)sizeof head)
        return false;
    memcpy(&head, reply, sizeof head);
    if (head.nlmsg_len > (size_t)n || head.nlmsg_len < sizeof head)
        return false;
    if (head.nlmsg_type == RTM_NEWLINK)
        read_reply(reply + sizeof head, head.nlmsg_len - sizeof head, out);
    return true; /* any other answer: there is no such interface */
}

static bool ask_ioctl(const char *name, struct link_info *out)
{
    struct ifreq r = {0};
    if (!text_copy(r.ifr_name, sizeof r.ifr_name, name))
        return true; /* too long for any interface */
    int fd = socket(PF_CAN, SOCK_RAW | SOCK_CLOEXEC, 1 /* CAN_RAW */);
    if (fd < 0)
        return false;
    if (ioctl(fd, SIOCGIFINDEX, &r) == 0) {
        out->present = true;
        out->index = r.ifr_ifindex;
        if (ioctl(fd, SIOCGIFHWADDR, &r) == 0)
            out->is_can = r.ifr_hwaddr.sa_family == ARPHRD_CAN;
        if (ioctl(fd, SIOCGIFFLAGS, &r) == 0) {
            out->up = r.ifr_flags & IFF_UP;
            out->carrier = r.ifr_flags & IFF_RUNNING;
        }
    }
    close(fd);
    return true;
}

bool link_query(int netlink_fd, const char *name, struct link_info *out)
{
    *out = (struct link_info){.tx_errors = -1, .rx_errors = -1};
    return (netlink_fd >= 0 && ask_netlink(netlink_fd, name, out)) || ask_ioctl(name, out);
}
