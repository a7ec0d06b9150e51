/* The two acts of sending that a user can ask for by name: the roll call's one request, and a
 * drill onto a virtual interface. Nothing else in the program writes to a CAN socket. */
#include "bus/socketcan.h"

#include "base/text.h"
#include "bus/link.h"

#include <errno.h>
#include <linux/can.h>
#include <linux/can/raw.h>
#include <poll.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

/* Request (PGN 59904) from the null address 254 to all for address claims (PGN 60928), priority 6:
 * SAE J1939-21 5.4.2, J1939-81 4.2.1. */
#define ASK_ID 0x18EAFFFEu
static const uint8_t ask_data[3] = {0x00, 0xEE, 0x00};

#define SEND_MS 2000

/* A socket that hears nothing, bound to an interface that is up. -1 and e otherwise. */
static int open_to_send(const char *iface, const struct link_info *link, struct err *e)
{
    char shown[40];
    text_clean(shown, sizeof shown, iface, strlen(iface));
    if (!link->present || !link->is_can) {
        err_set(e, link->present ? "'%s' is not a CAN interface" : "no such interface '%s'", shown);
        return -1;
    }
    if (!link->up) {
        err_set(e, "'%s' is down: ip link set %s up%s", shown, shown,
                link->is_virtual ? "" : " type can bitrate 250000");
        return -1;
    }
    int fd = socket(PF_CAN, SOCK_RAW | SOCK_CLOEXEC | SOCK_NONBLOCK, CAN_RAW);
    struct sockaddr_can address = {.can_family = AF_CAN, .can_ifindex = link->index};
    if (fd < 0 || setsockopt(fd, SOL_CAN_RAW, CAN_RAW_FILTER, NULL, 0) != 0 ||
        bind(fd, (struct sockaddr *)&address, sizeof address) != 0) {
        err_set(e, "cannot send on '%s': %s", shown, strerror(errno));
        if (fd >= 0)
            close(fd);
        return -1;
    }
    return fd;
}

static void query(const char *iface, struct link_info *link)
{
    int netlink = link_open(false);
    link_query(netlink, iface, link);
    if (netlink >= 0)
        close(netlink);
}

bool socketcan_send(int fd, const struct frame *f, struct err *e)
{
    struct can_frame k = {.can_id = f->id, .len = f->len > 8 ? 8 : f->len};
    if (f->flags & FRAME_ERROR)
        k.can_id |= CAN_ERR_FLAG;
    else if (f->flags & FRAME_EXTENDED)
        k.can_id |= CAN_EFF_FLAG;
    if (f->flags & FRAME_REMOTE)
        k.can_id |= CAN_RTR_FLAG;
    memcpy(k.data, f->data, k.len);
    for (;;) {
        if (write(fd, &k, sizeof k) == (ssize_t)sizeof k)
            return true;
        if (errno == EINTR)
            continue;
        if (errno != EAGAIN && errno != ENOBUFS)
            return err_set(e, "cannot send: %s", strerror(errno));
        /* The interface's own queue is full (ENOBUFS), which poll does not tell: wait a little. */
        struct pollfd p = {.fd = fd, .events = errno == EAGAIN ? POLLOUT : 0};
        int ready = poll(&p, 1, errno == EAGAIN ? SEND_MS : 2);
        if (ready == 0 && p.events)
            return err_set(e, "cannot send: the interface takes no frames");
    }
}

bool socketcan_ask(const char *iface, struct err *e)
{
    struct link_info link;
    query(iface, &link);
    int fd = open_to_send(iface, &link, e);
    if (fd < 0)
        return false;
    struct frame f = {.id = ASK_ID, .flags = FRAME_EXTENDED, .len = sizeof ask_data};
    memcpy(f.data, ask_data, sizeof ask_data);
    bool sent = socketcan_send(fd, &f, e);
    close(fd);
    return sent;
}

int socketcan_open_virtual(const char *iface, struct err *e)
{
    struct link_info link;
    query(iface, &link);
    if (link.present && link.is_can && !link.is_virtual) {
        char shown[40];
        text_clean(shown, sizeof shown, iface, strlen(iface));
        err_set(e,
                "'%s' is a real bus: made-up frames go to a virtual interface (vcan, vxcan) only",
                shown);
        return -1;
    }
    return open_to_send(iface, &link, e);
}
