#include "bus/can_port.h"

#include "base/text.h"
#include "bus/bits.h"
#include "bus/clock.h"

#include <errno.h>
#include <linux/can.h>
#include <linux/can/error.h>
#include <linux/can/raw.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/banned.h"

#define RECEIVE_BYTES   (8 * 1024 * 1024)
#define ASSUMED_BITRATE 250000 /* IEC 61162-3 */
#define LOST_STANDS_NS  (60 * NS_PER_S)

/* Says a condition once when it begins and once when it is over. */
static void set_condition(struct can_port *p, enum condition_sort sort, bool stands,
                          enum priority priority, struct stamp at, const char *text)
{
    uint32_t bit = 1u << sort;
    if (((p->standing & bit) != 0) == stands)
        return;
    p->standing ^= bit;
    struct bus_condition c = {
        .code = CONDITION_CODE(sort, p->iface), .priority = priority, .stands = stands, .at = at};
    text_format(c.text, sizeof c.text, "%s%s", p->known.name, text);
    condition_put(p->conditions, &c);
}

void port_init(struct can_port *p, uint8_t iface, const char *name, struct condition_queue *q)
{
    *p = (struct can_port){.iface = iface, .fd = -1, .conditions = q};
    text_copy(p->known.name, sizeof p->known.name, name);
    p->known.tx_errors = p->known.rx_errors = -1;
}

void port_fini(struct can_port *p)
{
    if (p->fd >= 0)
        close(p->fd);
    p->fd = -1;
}

int port_socket(int *receive_bytes)
{
    int fd = socket(PF_CAN, SOCK_RAW | SOCK_CLOEXEC | SOCK_NONBLOCK, CAN_RAW);
    if (fd < 0)
        return -1;
    int on = 1, size = RECEIVE_BYTES;
    can_err_mask_t all_errors = CAN_ERR_MASK;
    /* The forced size needs CAP_NET_ADMIN; without it net.core.rmem_max is the limit. */
    if (setsockopt(fd, SOL_SOCKET, SO_RCVBUFFORCE, &size, sizeof size) != 0)
        (void)setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &size, sizeof size);
    socklen_t len = sizeof *receive_bytes;
    if (getsockopt(fd, SOL_SOCKET, SO_RCVBUF, receive_bytes, &len) != 0)
        *receive_bytes = 0;
    (void)setsockopt(fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on);
    (void)setsockopt(fd, SOL_SOCKET, SO_RXQ_OVFL, &on, sizeof on);
    (void)setsockopt(fd, SOL_CAN_RAW, CAN_RAW_ERR_FILTER, &all_errors, sizeof all_errors);
    (void)setsockopt(fd, SOL_CAN_RAW, CAN_RAW_FD_FRAMES, &on, sizeof on);
    return fd;
}

/* ---- the interface -------------------------------------------------------------------------- */

static void set_controller(struct can_port *p, enum controller_state state, struct stamp at)
{
    p->known.controller = state;
    char text[80];
    text_format(text, sizeof text, " is bus-off: check bit rate, wiring and termination");
    set_condition(p, CONDITION_BUS_OFF, state == CONTROLLER_BUS_OFF, PRIORITY_WARNING, at,
                  state == CONTROLLER_BUS_OFF ? text : " is no longer bus-off");
    set_condition(p, CONDITION_PASSIVE, state == CONTROLLER_PASSIVE, PRIORITY_CAUTION, at,
                  state == CONTROLLER_PASSIVE ? " is error-passive: check wiring and termination"
                                              : " is no longer error-passive");
}

static void close_socket(struct can_port *p)
{
    if (p->fd >= 0)
        close(p->fd);
    p->fd = -1;
    p->bound_index = 0;
}

/* A socket of its own for each life of an interface: one bound again after its interface was
 * deleted has lost its filters and receives nothing. */
static bool open_socket(struct can_port *p, struct stamp now)
{
    close_socket(p);
    int fd = port_socket(&p->receive_bytes);
    if (fd < 0)
        return false;
    struct sockaddr_can address = {.can_family = AF_CAN, .can_ifindex = p->link.index};
    if (bind(fd, (struct sockaddr *)&address, sizeof address) != 0) {
        int why = errno;
        close(fd);
        errno = why;
        return false;
    }
    p->fd = fd;
    p->bound_index = p->link.index;
    p->dropped = 0;
    p->empty_mono_ns = now.mono_ns;
    return true;
}

/* The interface is not read, or is again. Another cause is said again. */
static void set_missing(struct can_port *p, bool missing, const char *text, struct stamp now)
{
    if (missing && strcmp(text, p->missing) != 0)
        p->standing &= ~(1u << CONDITION_MISSING);
    text_copy(p->missing, sizeof p->missing, missing ? text : "");
    set_condition(p, CONDITION_MISSING, missing, PRIORITY_WARNING, now, text);
}

void port_refresh(struct can_port *p, int netlink_fd, struct stamp now)
{
    char why[sizeof p->missing];
    bool asked = link_query(netlink_fd, p->known.name, &p->link);
    int error = errno;
    const struct link_info *l = &p->link;
    bool present = l->present && l->is_can, deaf = false;
    p->known.present = present;
    p->known.up = present && l->up;
    p->known.is_virtual = l->is_virtual;
    p->known.bitrate = l->bitrate;
    if (l->tx_errors >= 0) {
        p->known.tx_errors = l->tx_errors;
        p->known.rx_errors = l->rx_errors;
    }
    if (!present) {
        close_socket(p);
    } else if (p->fd < 0 || p->bound_index != l->index) {
        deaf = !open_socket(p, now);
        error = errno;
    }
    text_format(why, sizeof why, " cannot be read: %s", strerror(error));
    /* after the socket: whoever reads that it is back may count on its being listened to */
    set_missing(p, !present || deaf,
                !asked || deaf ? why
                : present      ? " is back"
                : l->present   ? " is no CAN interface: waiting for one"
                               : ": no such interface, waiting for it",
                now);
    char text[100];
    text_format(text, sizeof text, " is down: ip link set %s up%s", p->known.name,
                l->is_virtual ? "" : " type can bitrate 250000");
    set_condition(p, CONDITION_DOWN, present && !l->up, PRIORITY_WARNING, now,
                  present && !l->up ? text : " is up");
    if (!present || !l->up)
        set_controller(p, CONTROLLER_UNKNOWN, now);
    else if (l->controller != CONTROLLER_UNKNOWN)
        set_controller(p, l->controller, now);
}

/* ---- frames --------------------------------------------------------------------------------- */

static void take_error_frame(struct can_port *p, const struct frame *f, struct stamp at)
{
    p->known.error_frames++;
    if (f->id & CAN_ERR_CNT) {
        p->known.tx_errors = f->data[6];
        p->known.rx_errors = f->data[7];
    }
    if (f->id & CAN_ERR_BUSOFF)
        set_controller(p, CONTROLLER_BUS_OFF, at);
    else if (f->id & CAN_ERR_RESTARTED)
        set_controller(p, CONTROLLER_ACTIVE, at);
    if (!(f->id & CAN_ERR_CRTL))
        return;
    if (f->data[1] & (CAN_ERR_CRTL_RX_PASSIVE | CAN_ERR_CRTL_TX_PASSIVE))
        set_controller(p, CONTROLLER_PASSIVE, at);
    else if (f->data[1] & (CAN_ERR_CRTL_RX_WARNING | CAN_ERR_CRTL_TX_WARNING))
        set_controller(p, CONTROLLER_WARNING, at);
    else if (f->data[1] & CAN_ERR_CRTL_ACTIVE)
        set_controller(p, CONTROLLER_ACTIVE, at);
}

/* What the kernel gave into a frame; times are the caller's. */
static void convert(const struct canfd_frame *k, size_t size, int flags, struct frame *f)
{
    *f = (struct frame){0};
    if (k->can_id & CAN_ERR_FLAG) {
        f->flags = FRAME_ERROR;
        f->id = k->can_id & CAN_ERR_MASK;
    } else if (k->can_id & CAN_EFF_FLAG) {
        f->flags = FRAME_EXTENDED;
        f->id = k->can_id & CAN_EFF_MASK;
    } else {
        f->id = k->can_id & CAN_SFF_MASK;
    }
    if (k->can_id & CAN_RTR_FLAG)
        f->flags |= FRAME_REMOTE;
    if (size == CANFD_MTU)
        f->flags |= FRAME_FD;
    /* sent by this machine, be it another program */
    if (flags & MSG_DONTROUTE)
        f->flags |= FRAME_SENT;
    f->len = k->len > 8 ? 8 : k->len;
    if (k->len > 8)
        f->flags |= FRAME_CUT;
    if (!(f->flags & FRAME_REMOTE))
        memcpy(f->data, k->data, f->len);
}

struct receipt {
    int64_t wall_ns; /* 0: the kernel gave no time */
    uint32_t dropped;
    bool has_dropped;
};

static void read_control(struct msghdr *m, struct receipt *r)
{
    *r = (struct receipt){0};
    for (struct cmsghdr *c = CMSG_FIRSTHDR(m); c; c = CMSG_NXTHDR(m, c)) {
        if (c->cmsg_level != SOL_SOCKET)
            continue;
        if (c->cmsg_type == SCM_TIMESTAMPNS) {
            struct timespec t;
            memcpy(&t, CMSG_DATA(c), sizeof t);
            r->wall_ns = (int64_t)t.tv_sec * NS_PER_S + t.tv_nsec;
        } else if (c->cmsg_type == SO_RXQ_OVFL) {
            memcpy(&r->dropped, CMSG_DATA(c), sizeof r->dropped);
            r->has_dropped = true;
        }
    }
}

static void note_dropped(struct can_port *p, uint32_t dropped, struct stamp now)
{
    uint32_t more = dropped - p->dropped;
    p->dropped = dropped;
    if (more == 0)
        return;
    p->known.lost_frames += more;
    p->lost_mono_ns = now.mono_ns;
    set_condition(p, CONDITION_LOST, true, PRIORITY_CAUTION, now,
                  ": the kernel had to drop frames, this machine was too slow");
}

/* The kernel's wall time put on the monotonic clock: as old as the wall clock says, but no older
 * than the moment at which the socket was empty, so that a step of the wall clock does no harm. */
static int64_t map_time(const struct can_port *p, int64_t wall_ns, struct stamp now,
                        int64_t floor_ns)
{
    int64_t age = now.wall_ns - wall_ns;
    int64_t oldest = p->empty_mono_ns > floor_ns ? p->empty_mono_ns : floor_ns;
    int64_t mono = age > 0 ? now.mono_ns - age : now.mono_ns;
    return mono > oldest ? mono : oldest;
}

static void count_frame(struct can_port *p, const struct frame *f, struct stamp at)
{
    p->known.frames++;
    p->second_frames++;
    if (f->flags & FRAME_ERROR) {
        take_error_frame(p, f, at);
        return;
    }
    if (f->flags & FRAME_CUT) {
        p->cut_mono_ns = at.mono_ns;
        set_condition(p, CONDITION_CUT, true, PRIORITY_CAUTION, at,
                      ": CAN FD frames, of which only the first 8 bytes are kept and none is read");
    }
    p->second_bits += bits_exact(f);
    p->second_bits_worst += bits_worst(f);
    /* a controller that is bus-off hears nothing */
    if (p->known.controller == CONTROLLER_BUS_OFF && !(f->flags & FRAME_SENT))
        set_controller(p, CONTROLLER_ACTIVE, at);
}

size_t port_read(struct can_port *p, struct frame *out, int64_t *floor_ns, bool *lost_link)
{
    struct canfd_frame raw[PORT_BATCH];
    struct mmsghdr messages[PORT_BATCH];
    struct iovec parts[PORT_BATCH];
    _Alignas(struct cmsghdr) char
        control[PORT_BATCH][CMSG_SPACE(sizeof(struct timespec)) + CMSG_SPACE(sizeof(uint32_t))];
    for (size_t i = 0; i < PORT_BATCH; i++) {
        parts[i] = (struct iovec){&raw[i], sizeof raw[i]};
        messages[i] = (struct mmsghdr){.msg_hdr = {.msg_iov = &parts[i],
                                                   .msg_iovlen = 1,
                                                   .msg_control = control[i],
                                                   .msg_controllen = sizeof control[i]}};
    }
    int64_t before_ns = clock_now().mono_ns;
    int got = recvmmsg(p->fd, messages, PORT_BATCH, MSG_DONTWAIT, NULL);
    struct stamp now = clock_now();
    if (got < 0) {
        int why = errno;
        *lost_link = why != EAGAIN && why != EINTR;
        if (why == ENODEV) /* deleted; another may stand there by now, under the same index */
            close_socket(p);
        if (why == EAGAIN)
            p->empty_mono_ns = before_ns;
        return 0;
    }
    size_t n = 0;
    for (int i = 0; i < got; i++) {
        if (messages[i].msg_len != CAN_MTU && messages[i].msg_len != CANFD_MTU)
            continue;
        struct receipt r;
        read_control(&messages[i].msg_hdr, &r);
        struct frame *f = &out[n++];
        convert(&raw[i], messages[i].msg_len, messages[i].msg_hdr.msg_flags, f);
        f->iface = p->iface;
        f->wall_ns = r.wall_ns ? r.wall_ns : now.wall_ns;
        f->mono_ns = *floor_ns = map_time(p, f->wall_ns, now, *floor_ns);
        if (r.has_dropped)
            note_dropped(p, r.dropped, now);
        count_frame(p, f, (struct stamp){f->wall_ns, f->mono_ns});
    }
    if (got < PORT_BATCH)
        p->empty_mono_ns = before_ns;
    return n;
}

bool port_tick(struct can_port *p, struct stamp now)
{
    if ((p->standing & 1u << CONDITION_LOST) && now.mono_ns - p->lost_mono_ns > LOST_STANDS_NS)
        set_condition(p, CONDITION_LOST, false, PRIORITY_CAUTION, now,
                      ": no frame was dropped for a minute");
    if ((p->standing & 1u << CONDITION_CUT) && now.mono_ns - p->cut_mono_ns > LOST_STANDS_NS)
        set_condition(p, CONDITION_CUT, false, PRIORITY_CAUTION, now,
                      ": no CAN FD frame for a minute");
    int64_t elapsed = now.mono_ns - p->second_mono_ns;
    if (elapsed < NS_PER_S)
        return false;
    if (p->second_mono_ns > 0) {
        double bits =
            (double)(p->known.bitrate ? p->known.bitrate : ASSUMED_BITRATE) * when_seconds(elapsed);
        p->known.load_percent = 100 * (double)p->second_bits / bits;
        p->known.load_worst_percent = 100 * (double)p->second_bits_worst / bits;
        p->known.frames_per_s = (double)p->second_frames / when_seconds(elapsed);
    }
    p->second_mono_ns = now.mono_ns;
    p->second_bits = p->second_bits_worst = p->second_frames = 0;
    return true;
}
