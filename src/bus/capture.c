#include "bus/capture.h"

#include "base/text.h"
#include "bus/capture_ifaces.h"
#include "bus/source_kind.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#ifdef WITH_PCAP
#include <pcap/pcap.h>
#endif

#include "base/banned.h"

#ifdef WITH_PCAP

#define HEAD_BYTES 8 /* id, length, CAN FD flags, two reserved */
#define FD_FRAME   0x04

struct capture {
    pcap_t *pcap;
    struct capture_ifaces *ifaces; /* NULL: one, "can0" */
    bool ended;
    char path[4096];
};

static pcap_t *open_pcap(const char *path, struct err *e)
{
    char shown[200], why[PCAP_ERRBUF_SIZE] = "";
    text_clean(shown, sizeof shown, path, strlen(path));
    int fd = strcmp(path, "-") == 0 ? dup(STDIN_FILENO) : -1;
    FILE *in = fd >= 0 ? fdopen(fd, "rb") : fopen(path, "rbe");
    if (!in) {
        err_set(e, "cannot read '%s': %s", shown, strerror(errno));
        return NULL;
    }
    pcap_t *p = pcap_fopen_offline_with_tstamp_precision(in, PCAP_TSTAMP_PRECISION_NANO, why);
    if (!p) {
        fclose(in);
        err_set(e, "cannot read '%s' as a capture: %s", shown, why);
        return NULL;
    }
    if (pcap_datalink(p) != DLT_CAN_SOCKETCAN) {
        err_set(e, "'%s' is a capture of link type %d, not of CAN (%d)", shown, pcap_datalink(p),
                DLT_CAN_SOCKETCAN);
        pcap_close(p);
        return NULL;
    }
    return p;
}

/* NULL when *f was filled, otherwise why not. */
static const char *read_packet(const struct pcap_pkthdr *h, const uint8_t *b, struct frame *f)
{
    *f = (struct frame){0};
    if (h->caplen < HEAD_BYTES)
        return "packet is shorter than the head of a CAN frame";
    uint32_t id = (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
    uint8_t len = b[4];
    if (len > 64)
        return "packet says more data than a frame can hold";
    if (b[5] & FD_FRAME || len > 8)
        f->flags |= FRAME_FD;
    /* the same three bits as in linux/can.h */
    if (id & 0x20000000)
        f->flags |= FRAME_ERROR;
    else if (id & 0x80000000)
        f->flags |= FRAME_EXTENDED;
    if (id & 0x40000000)
        f->flags |= FRAME_REMOTE;
    f->id = id & (f->flags & (FRAME_EXTENDED | FRAME_ERROR) ? 0x1FFFFFFF : 0x7FF);
    f->len = len > 8 ? 8 : len;
    if (len > 8)
        f->flags |= FRAME_CUT;
    if (!(f->flags & FRAME_REMOTE)) {
        if (h->caplen < HEAD_BYTES + (uint32_t)f->len)
            return "packet was cut by the capture";
        memcpy(f->data, b + HEAD_BYTES, f->len);
    }
    /* with nanosecond precision asked for, tv_usec holds nanoseconds */
    if (h->ts.tv_sec < 0 || h->ts.tv_sec >= INT64_MAX / NS_PER_S || h->ts.tv_usec < 0 ||
        h->ts.tv_usec >= NS_PER_S)
        return "time is beyond what a clock can show";
    f->wall_ns = (int64_t)h->ts.tv_sec * NS_PER_S + h->ts.tv_usec;
    return NULL;
}

/* -1 where there are too many. One call for each packet, whatever becomes of it. */
static int next_iface(struct source *s)
{
    struct capture *c = s->state;
    const char *name = c->ifaces ? capture_ifaces_next(c->ifaces) : NULL;
    if (!name)
        name = "can0";
    return source_iface_index(s, name, strlen(name));
}

static enum source_state capture_read(struct source *s, struct frame *out, size_t max, size_t *n,
                                      struct err *e)
{
    (void)e;
    struct capture *c = s->state;
    while (*n < max && !c->ended) {
        struct pcap_pkthdr *h;
        const uint8_t *bytes;
        int got = pcap_next_ex(c->pcap, &h, &bytes);
        if (got != 1) { /* the end, or a file that was cut */
            c->ended = true;
            if (got != PCAP_ERROR_BREAK)
                source_complain(s, s->stats.lines + 1, pcap_geterr(c->pcap));
            break;
        }
        s->stats.lines++;
        int iface = next_iface(s);
        const char *reason = read_packet(h, bytes, &out[*n]);
        if (!reason && iface < 0)
            reason = "one interface more than can be told apart";
        if (reason) {
            source_complain(s, s->stats.lines, reason);
            continue;
        }
        out[*n].iface = (uint8_t)iface;
        source_stamp(s, &out[*n]);
        ++*n;
    }
    long at = ftell(pcap_file(c->pcap));
    s->stats.bytes = c->ended ? s->stats.size : at > 0 ? (uint64_t)at : 0;
    return *n > 0 ? SOURCE_READY : SOURCE_END;
}

static bool capture_rewind(struct source *s)
{
    struct capture *c = s->state;
    if (strcmp(c->path, "-") == 0)
        return false;
    pcap_t *again = open_pcap(c->path, NULL);
    if (!again)
        return false;
    pcap_close(c->pcap);
    c->pcap = again;
    capture_ifaces_close(c->ifaces);
    c->ifaces = capture_ifaces_open(c->path);
    c->ended = false;
    return true;
}

static void capture_close(struct source *s)
{
    struct capture *c = s->state;
    if (c->pcap)
        pcap_close(c->pcap);
    capture_ifaces_close(c->ifaces);
    free(c);
}

static const struct source_kind capture_kind = {
    .read = capture_read, .rewind = capture_rewind, .close = capture_close};

struct source *capture_open(const char *path, struct err *e)
{
    pcap_t *p = open_pcap(path, e);
    if (!p)
        return NULL;
    struct capture *c = calloc(1, sizeof *c);
    struct source *s = c ? source_new(&capture_kind, c) : NULL;
    if (!s) {
        free(c);
        pcap_close(p);
        err_set(e, "out of memory");
        return NULL;
    }
    c->pcap = p;
    text_copy(c->path, sizeof c->path, path);
    struct stat st;
    if (stat(path, &st) == 0)
        s->stats.size = (uint64_t)st.st_size;
    c->ifaces = strcmp(path, "-") == 0 ? NULL : capture_ifaces_open(path);
    if (!c->ifaces)
        source_iface_index(s, "can0", 4);
    return s;
}

#else

struct source *capture_open(const char *path, struct err *e)
{
    char shown[200];
    text_clean(shown, sizeof shown, path, strlen(path));
    err_set(e, "'%s' is a packet capture, which this program was built without libpcap for", shown);
    return NULL;
}

#endif
