#include "bus/capture.h"

#include "base/text.h"
#include "bus/source_kind.h"

#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define BUFFER_BYTES   (256 * 1024)
#define BLOCK_KEEP     4096        /* of a block or packet; no frame and no name needs more */
#define BLOCK_MOST     (64u << 20) /* longer makes no sense */
#define LINKTYPE_CAN   227
#define NG_SECTION     0x0A0D0D0Au
#define NG_INTERFACE   1
#define NG_OBSOLETE    2
#define NG_SIMPLE      3
#define NG_ENHANCED    6
#define NG_MAGIC       0x1A2B3C4Du
#define NG_IF_NAME     2
#define NG_IF_TSRESOL  9
#define NG_IF_TSOFFSET 14
#define IFACES_MAX     64 /* interfaces of a section that are told apart */
#define HEAD_BYTES     8  /* of a packet: id, length, CAN FD flags, two reserved */
#define FD_FRAME       0x04

#define BAD_CUT   "the capture is cut short"
#define BAD_BLOCK "the capture makes no sense from here: the rest is not read"

struct capture_iface {
    unsigned link;
    uint8_t resolution; /* as if_tsresol writes it */
    int64_t offset_s;
    char name[32];
};

struct capture {
    struct bytes *in;
    uint8_t *buffer; /* BUFFER_BYTES; buffer[begin..end) is to be read */
    size_t begin, end;
    uint64_t skip; /* bytes to pass over before the next block */
    bool input_ended, over;
    bool headed;    /* the file's head was read */
    bool pcapng;    /* otherwise pcap */
    bool big;       /* byte order */
    bool nano;      /* pcap: nanoseconds */
    unsigned count; /* interfaces of this section */
    struct capture_iface ifaces[IFACES_MAX];
};

struct packet {
    int64_t wall_ns; /* -1: it has none, or none that a clock can show */
    unsigned iface;
    uint32_t captured;   /* bytes of it in the file */
    const uint8_t *data; /* as many, at most BLOCK_KEEP */
};

static uint32_t get32(const struct capture *c, const uint8_t *b)
{
    if (c->big)
        return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
    return (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 | b[0];
}

static unsigned get16(const struct capture *c, const uint8_t *b)
{
    return c->big ? (unsigned)b[0] << 8 | b[1] : (unsigned)b[1] << 8 | b[0];
}

bool capture_recognize(const void *first, size_t len)
{
    /* pcap in both byte orders and both precisions, and pcapng's section header */
    static const uint8_t marks[][CAPTURE_FIRST] = {{0xD4, 0xC3, 0xB2, 0xA1},
                                                   {0xA1, 0xB2, 0xC3, 0xD4},
                                                   {0x4D, 0x3C, 0xB2, 0xA1},
                                                   {0xA1, 0xB2, 0x3C, 0x4D},
                                                   {0x0A, 0x0D, 0x0D, 0x0A}};
    for (size_t i = 0; len >= CAPTURE_FIRST && i < sizeof marks / sizeof marks[0]; i++)
        if (memcmp(first, marks[i], CAPTURE_FIRST) == 0)
            return true;
    return false;
}

/* ---- bytes ---- */

/* READY once `wanted` bytes are in the buffer; END where they will never be. */
static enum bytes_state need(struct capture *c, size_t wanted, struct err *e)
{
    while (c->end - c->begin < wanted) {
        size_t got, kept = c->end - c->begin;
        if (c->input_ended)
            return BYTES_END;
        memmove(c->buffer, c->buffer + c->begin, kept);
        c->begin = 0;
        c->end = kept;
        enum bytes_state state = bytes_fill(c->in, c->buffer + kept, BUFFER_BYTES - kept, &got, e);
        c->end += got;
        c->input_ended = state == BYTES_END;
        if (state == BYTES_WAIT || state == BYTES_FAILED)
            return state;
    }
    return BYTES_READY;
}

static enum bytes_state pass_over(struct capture *c, struct err *e)
{
    while (c->skip > 0) {
        enum bytes_state state = need(c, 1, e);
        if (state != BYTES_READY)
            return state;
        size_t n = c->end - c->begin;
        if (n > c->skip)
            n = (size_t)c->skip;
        c->begin += n;
        c->skip -= n;
    }
    return BYTES_READY;
}

/* Takes `keep` bytes of a piece that is `len` long; the rest is passed over later. */
static const uint8_t *take(struct capture *c, size_t keep, uint64_t len)
{
    const uint8_t *p = c->buffer + c->begin;
    c->begin += keep;
    c->skip = len - keep;
    return p;
}

/* ---- times ---- */

/* Seconds and a part of one into ns since 1970; -1 where 64 bits do not hold them. */
static int64_t to_ns(uint64_t s, int64_t offset_s, uint64_t ns)
{
    const int64_t most = INT64_MAX / NS_PER_S;
    if (s > (uint64_t)most || offset_s > most || offset_s < -most)
        return -1;
    int64_t at = (int64_t)s + offset_s;
    return at < 0 || at >= most || ns >= (uint64_t)NS_PER_S ? -1 : at * NS_PER_S + (int64_t)ns;
}

/* if_tsresol: a negative power of ten, or of two where the highest bit is set. */
static int64_t ng_time(const struct capture_iface *f, uint32_t high, uint32_t low)
{
    uint64_t t = (uint64_t)high << 32 | low, unit = 1, ns;
    unsigned power = f->resolution & 0x7F;
    if (f->resolution & 0x80) {
        if (power > 63)
            return -1;
        ns = t & ((UINT64_C(1) << power) - 1);
        t >>= power;
        if (power > 32) { /* finer than a nanosecond: room for the product */
            ns >>= power - 32;
            power = 32;
        }
        return to_ns(t, f->offset_s, ns * (uint64_t)NS_PER_S >> power);
    }
    if (power > 19)
        return -1;
    for (unsigned i = 0; i < power; i++)
        unit *= 10;
    ns = t % unit;
    for (unsigned i = power; i < 9; i++)
        ns *= 10;
    for (unsigned i = 9; i < power; i++)
        ns /= 10;
    return to_ns(t / unit, f->offset_s, ns);
}

/* ---- blocks ---- */

/* Options come after the 8 fixed bytes. */
static void take_interface(struct capture *c, const uint8_t *body, size_t len)
{
    unsigned id = c->count++;
    if (id >= IFACES_MAX || len < 8)
        return;
    struct capture_iface *f = &c->ifaces[id];
    *f = (struct capture_iface){.link = get16(c, body), .resolution = 6};
    text_format(f->name, sizeof f->name, "can%u", id);
    for (size_t at = 8; at + 4 <= len;) {
        unsigned code = get16(c, body + at), size = get16(c, body + at + 2);
        const uint8_t *value = body + at + 4;
        at += 4;
        if (code == 0 || size > len - at)
            return;
        if (code == NG_IF_NAME && size > 0)
            text_clean(f->name, sizeof f->name, (const char *)value, size);
        else if (code == NG_IF_TSRESOL && size == 1)
            f->resolution = *value;
        else if (code == NG_IF_TSOFFSET && size == 8)
            f->offset_s = (int64_t)((uint64_t)get32(c, value + (c->big ? 0 : 4)) << 32 |
                                    get32(c, value + (c->big ? 4 : 0)));
        at += (size + 3u) & ~3u;
    }
}

/* A block's body as a packet; false where it is none. */
static bool ng_packet(const struct capture *c, uint32_t type, const uint8_t *body, size_t len,
                      struct packet *out)
{
    size_t head = type == NG_SIMPLE ? 4 : 20;
    if ((type != NG_ENHANCED && type != NG_OBSOLETE && type != NG_SIMPLE) || len < head)
        return false;
    *out = (struct packet){.wall_ns = -1, .data = body + head};
    if (type == NG_SIMPLE) {
        out->captured = get32(c, body);
    } else {
        out->iface = type == NG_ENHANCED ? get32(c, body) : get16(c, body);
        out->captured = get32(c, body + 12);
        if (out->iface < c->count && out->iface < IFACES_MAX)
            out->wall_ns = ng_time(&c->ifaces[out->iface], get32(c, body + 4), get32(c, body + 8));
    }
    if (out->captured > len - head)
        out->captured = (uint32_t)(len - head);
    return true;
}

/* The next packet of a pcapng file. END with *complaint where the file ends out of order. */
static enum bytes_state ng_next(struct capture *c, struct packet *out, const char **complaint,
                                struct err *e)
{
    for (;;) {
        enum bytes_state state = pass_over(c, e);
        if (state == BYTES_READY)
            state = need(c, 12, e);
        if (state == BYTES_END && (c->end > c->begin || c->skip > 0))
            *complaint = BAD_CUT;
        if (state != BYTES_READY)
            return state;
        const uint8_t *head = c->buffer + c->begin;
        uint32_t type = get32(c, head); /* a section's is the same in both byte orders */
        if (type == NG_SECTION) {
            c->big = head[8] == 0x1A;
            c->count = 0;
        }
        uint32_t len = get32(c, head + 4);
        if (len < 12 || len % 4 != 0 || len > BLOCK_MOST ||
            (type == NG_SECTION && get32(c, head + 8) != NG_MAGIC)) {
            *complaint = BAD_BLOCK;
            return BYTES_END;
        }
        size_t keep = len < BLOCK_KEEP ? len : BLOCK_KEEP;
        state = need(c, keep, e);
        if (state == BYTES_END)
            *complaint = BAD_CUT;
        if (state != BYTES_READY)
            return state;
        const uint8_t *body = take(c, keep, len) + 8;
        size_t body_len = len <= BLOCK_KEEP ? keep - 12 : keep - 8;
        if (type == NG_INTERFACE)
            take_interface(c, body, body_len);
        else if (ng_packet(c, type, body, body_len, out))
            return BYTES_READY;
    }
}

static enum bytes_state pcap_next(struct capture *c, struct packet *out, const char **complaint,
                                  struct err *e)
{
    enum bytes_state state = pass_over(c, e);
    if (state == BYTES_READY)
        state = need(c, 16, e);
    if (state == BYTES_END && (c->end > c->begin || c->skip > 0))
        *complaint = BAD_CUT;
    if (state != BYTES_READY)
        return state;
    const uint8_t *head = c->buffer + c->begin;
    uint32_t s = get32(c, head), part = get32(c, head + 4), captured = get32(c, head + 8);
    if (captured > BLOCK_MOST) {
        *complaint = BAD_BLOCK;
        return BYTES_END;
    }
    size_t keep = 16 + (captured < BLOCK_KEEP ? captured : BLOCK_KEEP);
    state = need(c, keep, e);
    if (state == BYTES_END)
        *complaint = BAD_CUT;
    if (state != BYTES_READY)
        return state;
    *out = (struct packet){.wall_ns = to_ns(s, 0, c->nano ? part : (uint64_t)part * 1000),
                           .captured = captured,
                           .data = take(c, keep, 16u + captured) + 16};
    return BYTES_READY;
}

/* The head of the file. pcapng begins with a block like any other. */
static enum bytes_state take_head(struct capture *c, const char **complaint, struct err *e)
{
    enum bytes_state state = need(c, CAPTURE_FIRST, e);
    if (state != BYTES_READY)
        return state;
    const uint8_t *p = c->buffer + c->begin;
    c->pcapng = p[0] == 0x0A;
    if (!c->pcapng) {
        state = need(c, 24, e);
        if (state == BYTES_END)
            *complaint = BAD_CUT;
        if (state != BYTES_READY)
            return state;
        p = take(c, 24, 24);
        c->big = p[0] == 0xA1;
        c->nano = p[0] == 0x4D || p[3] == 0x4D;
        c->count = 1;
        /* the high half of the link type's word says how long a checksum is */
        c->ifaces[0] = (struct capture_iface){.link = get32(c, p + 20) & 0xFFFF, .name = "can0"};
    }
    c->headed = true;
    return BYTES_READY;
}

/* ---- packets ---- */

/* NULL when *f was filled, otherwise why not. */
static const char *read_packet(const struct packet *p, struct frame *f)
{
    const uint8_t *b = p->data;
    *f = (struct frame){0};
    if (p->captured < HEAD_BYTES)
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
        if (p->captured < HEAD_BYTES + (uint32_t)f->len)
            return "packet was cut by the capture";
        memcpy(f->data, b + HEAD_BYTES, f->len);
    }
    if (p->wall_ns < 0)
        return "packet has no time, or one beyond what a clock can show";
    f->wall_ns = p->wall_ns;
    return NULL;
}

static void take_packet(struct source *s, const struct packet *p, struct frame *out, size_t *n)
{
    const struct capture *c = s->state;
    const char *reason = NULL;
    int iface = -1;
    s->stats.lines++;
    if (p->iface >= c->count || p->iface >= IFACES_MAX)
        reason = "packet of an interface that the capture does not describe";
    else if (c->ifaces[p->iface].link != LINKTYPE_CAN)
        reason = "packet is not of CAN (link type 227)";
    if (!reason)
        reason = read_packet(p, out);
    if (!reason) {
        const char *name = c->ifaces[p->iface].name;
        iface = source_iface_index(s, name, strlen(name));
        if (iface < 0)
            reason = "one interface more than can be told apart";
    }
    if (reason) {
        source_complain(s, s->stats.lines, reason);
        return;
    }
    out->iface = (uint8_t)iface;
    source_stamp(s, out);
    ++*n;
}

static enum source_state capture_read(struct source *s, struct frame *out, size_t max, size_t *n,
                                      struct err *e)
{
    struct capture *c = s->state;
    enum bytes_state state = c->over ? BYTES_END : BYTES_READY;
    while (*n < max && state == BYTES_READY) {
        struct packet p;
        const char *complaint = NULL;
        if (!c->headed)
            state = take_head(c, &complaint, e);
        if (c->headed)
            state = (c->pcapng ? ng_next : pcap_next)(c, &p, &complaint, e);
        if (state == BYTES_READY)
            take_packet(s, &p, &out[*n], n);
        if (state != BYTES_END)
            continue;
        c->over = true;
        if (bytes_complaint(c->in))
            complaint = bytes_complaint(c->in);
        if (complaint)
            source_complain(s, s->stats.lines + 1, complaint);
    }
    s->stats.bytes = bytes_read(c->in);
    if (*n > 0 || state == BYTES_READY)
        return SOURCE_READY;
    return state == BYTES_WAIT ? SOURCE_WAIT : state == BYTES_END ? SOURCE_END : SOURCE_FAILED;
}

static bool capture_rewind(struct source *s)
{
    struct capture *c = s->state;
    if (!bytes_rewind(c->in))
        return false;
    c->begin = c->end = 0;
    c->skip = 0;
    c->input_ended = c->over = c->headed = c->big = false;
    c->count = 0;
    return true;
}

static int capture_fd(const struct source *s)
{
    const struct capture *c = s->state;
    return bytes_fd(c->in);
}

static void capture_close(struct source *s)
{
    struct capture *c = s->state;
    bytes_close(c->in);
    free(c->buffer);
    free(c);
}

static const struct source_kind capture_kind = {
    .read = capture_read, .rewind = capture_rewind, .fd = capture_fd, .close = capture_close};

bool capture_become(struct source *s, struct bytes *in, const void *first, size_t len,
                    struct err *e)
{
    struct capture *c = calloc(1, sizeof *c);
    if (c)
        c->buffer = malloc(BUFFER_BYTES);
    if (!c || !c->buffer || len > BUFFER_BYTES) {
        free(c);
        return err_set(e, "out of memory");
    }
    memcpy(c->buffer, first, len);
    c->end = len;
    c->in = in;
    s->kind = &capture_kind;
    s->state = c;
    s->stats.is_capture = true;
    return true;
}
