#include "bus/candump.h"

#include "base/when.h"

#include <string.h>

#include "base/banned.h"

#define ONES UINT64_C(0x0101010101010101)

#define BAD_STAMP  "does not begin with a time stamp in brackets"
#define BAD_IFACE  "no interface name after the time stamp"
#define BAD_ID     "id is not 3 or 8 hexadecimal digits of a CAN id"
#define BAD_DATA   "data is not pairs of hexadecimal digits"
#define BAD_LENGTH "length and data do not agree"
#define BAD_TAIL   "something after the data"
#define BAD_LONG   "more data than a frame can hold"

#define MAX_SECONDS INT64_C(9000000000) /* nanoseconds in 64 bits reach a little further */

/* 0..15, or 0x80 for anything but a hexadecimal digit. */
static inline unsigned hex_value(char c)
{
    unsigned u = (unsigned char)c;
    if (u - '0' < 10)
        return u - '0';
    u |= 0x20;
    return u - 'a' < 6 ? u - 'a' + 10 : 0x80;
}

static inline bool is_digit(char c)
{
    return (unsigned char)(c - '0') < 10;
}

/* ---- the careful reader --------------------------------------------------------------------- */

struct cursor {
    const char *p, *end;
};

static size_t left(const struct cursor *c)
{
    return (size_t)(c->end - c->p);
}

static bool take(struct cursor *c, char wanted)
{
    if (c->p == c->end || *c->p != wanted)
        return false;
    c->p++;
    return true;
}

static bool take_word(struct cursor *c, const char *word)
{
    size_t n = strlen(word);
    if (left(c) < n || memcmp(c->p, word, n) != 0)
        return false;
    c->p += n;
    return true;
}

/* Blanks; returns how many. */
static size_t skip_blanks(struct cursor *c)
{
    const char *from = c->p;
    while (c->p < c->end && *c->p == ' ')
        c->p++;
    return (size_t)(c->p - from);
}

/* Exactly n decimal digits (n <= 9). */
static bool take_number(struct cursor *c, size_t n, int64_t *out)
{
    if (left(c) < n)
        return false;
    int64_t v = 0;
    for (size_t i = 0; i < n; i++) {
        if (!is_digit(c->p[i]))
            return false;
        v = v * 10 + (c->p[i] - '0');
    }
    c->p += n;
    *out = v;
    return true;
}

/* ".123456" into nanoseconds; nothing there is 0. Digits past the ninth are dropped. */
static bool take_fraction(struct cursor *c, int64_t *ns)
{
    *ns = 0;
    if (!take(c, '.'))
        return true;
    int64_t weight = NS_PER_S / 10;
    const char *from = c->p;
    for (; c->p < c->end && is_digit(*c->p); c->p++, weight /= 10)
        *ns += (*c->p - '0') * weight;
    return c->p != from;
}

/* Days from 1970-01-01 of a date in the Gregorian calendar: years counted from March, so that the
 * leap day is the last of its year. */
static int64_t days_of_date(int64_t year, int64_t month, int64_t day)
{
    int64_t y = month > 2 ? year : year - 1;
    int64_t month_from_march = month > 2 ? month - 3 : month + 9;
    int64_t era = y / 400, year_of_era = y % 400;
    int64_t day_of_year = (153 * month_from_march + 2) / 5 + day - 1;
    return era * 146097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year -
           719468;
}

/* "2026-05-04 14:12:07" */
static bool take_date(struct cursor *c, int64_t *seconds)
{
    int64_t year, month, day, hour, minute, second;
    if (!take_number(c, 4, &year) || !take(c, '-') || !take_number(c, 2, &month) || !take(c, '-') ||
        !take_number(c, 2, &day) || !take(c, ' ') || !take_number(c, 2, &hour) || !take(c, ':') ||
        !take_number(c, 2, &minute) || !take(c, ':') || !take_number(c, 2, &second))
        return false;
    /* nanoseconds since 1970 in 64 bits end in 2262 */
    if (year < 1970 || year > 2250 || month < 1 || month > 12 || day < 1 || day > 31 || hour > 23 ||
        minute > 59 || second > 60)
        return false;
    *seconds = days_of_date(year, month, day) * 86400 + hour * 3600 + minute * 60 + second;
    return true;
}

static bool take_stamp(struct cursor *c, struct candump_line *out)
{
    if (!take(c, '('))
        return false;
    int64_t seconds = 0, ns;
    if (left(c) > 4 && c->p[4] == '-') {
        if (!take_date(c, &seconds))
            return false;
        out->stamp = CANDUMP_LOCAL;
    } else {
        int digits = 0;
        /* Ten digits reach the year 2286, eleven nanoseconds would not fit. */
        for (; c->p < c->end && is_digit(*c->p); c->p++) {
            if (++digits > 10)
                return false;
            seconds = seconds * 10 + (*c->p - '0');
        }
        if (digits == 0 || seconds > MAX_SECONDS)
            return false;
        /* candump pads seconds since the epoch to ten digits and counts from zero to three. */
        out->stamp = digits == 10 || seconds >= 100000000 ? CANDUMP_EPOCH : CANDUMP_RELATIVE;
    }
    if (!take_fraction(c, &ns) || !take(c, ')'))
        return false;
    out->frame.wall_ns = seconds * NS_PER_S + ns;
    return true;
}

static bool take_name(struct cursor *c, struct candump_line *out)
{
    out->iface = c->p;
    while (c->p<c->end && * c->p> ' ' && *c->p < 0x7F)
        c->p++;
    out->iface_len = (size_t)(c->p - out->iface);
    return out->iface_len > 0 && out->iface_len <= CANDUMP_NAME_MAX;
}

static bool take_id(struct cursor *c, struct frame *f)
{
    uint32_t id = 0;
    int digits = 0;
    for (; c->p < c->end && hex_value(*c->p) < 16; c->p++) {
        if (++digits > 8)
            return false;
        id = id << 4 | hex_value(*c->p);
    }
    if (digits == 3) {
        f->id = id;
        return id <= 0x7FF;
    }
    if (digits != 8 || id > 0x3FFFFFFF)
        return false;
    f->flags |= id & 0x20000000 ? FRAME_ERROR : FRAME_EXTENDED;
    f->id = id & 0x1FFFFFFF;
    return true;
}

/* Pairs of digits up to anything else; `between` is '\0' or the blank between two bytes. Returns
 * how many bytes there were (the first 8 are kept), or -1 for half a byte. */
static int take_data(struct cursor *c, char between, struct frame *f)
{
    int n = 0;
    while (c->p < c->end && hex_value(*c->p) < 16) {
        if (left(c) < 2 || hex_value(c->p[1]) > 15)
            return -1;
        if (n < 8)
            f->data[n] = (uint8_t)(hex_value(c->p[0]) << 4 | hex_value(c->p[1]));
        c->p += 2;
        n++;
        if (between && left(c) > 1 && *c->p == between && hex_value(c->p[1]) < 16)
            c->p++;
    }
    return n;
}

static const char *parse_direction(struct cursor *c, struct frame *f)
{
    skip_blanks(c);
    if (take(c, 'T'))
        f->flags |= FRAME_SENT;
    else
        (void)take(c, 'R');
    skip_blanks(c);
    return c->p == c->end ? NULL : BAD_TAIL;
}

static void keep_length(struct frame *f, int n)
{
    f->len = (uint8_t)(n > 8 ? 8 : n);
    if (n > 8)
        f->flags |= FRAME_CUT;
}

/* After "09F2000A#". */
static const char *parse_log_body(struct cursor *c, struct candump_line *out)
{
    struct frame *f = &out->frame;
    if (take(c, 'R')) {
        f->flags |= FRAME_REMOTE;
        if (c->p < c->end && *c->p >= '0' && *c->p <= '8')
            f->len = (uint8_t)(*c->p++ - '0');
    } else {
        int most = 8;
        if (take(c, '#')) { /* the digit holds the bit rate switch and error state: not used here */
            if (c->p == c->end || hex_value(*c->p) > 15)
                return BAD_DATA;
            c->p++;
            f->flags |= FRAME_FD;
            most = 64;
        }
        int n = take_data(c, '\0', f);
        if (n < 0)
            return BAD_DATA;
        if (n > most)
            return BAD_LONG;
        keep_length(f, n);
        out->whole = n == most;
    }
    if (f->len == 8 && take(c, '_')) { /* a raw length code of 9 to 15 still means 8 bytes */
        if (c->p == c->end || hex_value(*c->p) > 15 || hex_value(*c->p) < 9)
            return BAD_LENGTH;
        c->p++;
    }
    return parse_direction(c, f);
}

/* "[8]", "[08]" (CAN FD), "{E}" (8 bytes, raw length code). */
static const char *take_length(struct cursor *c, struct frame *f, int *length)
{
    if (take(c, '{')) {
        if (left(c) < 2 || hex_value(*c->p) > 15 || hex_value(*c->p) < 9 || c->p[1] != '}')
            return BAD_LENGTH;
        c->p += 2;
        *length = 8;
        return NULL;
    }
    if (!take(c, '[') || c->p == c->end || !is_digit(*c->p))
        return BAD_LENGTH;
    int n = *c->p++ - '0';
    if (c->p < c->end && is_digit(*c->p)) {
        n = n * 10 + (*c->p++ - '0');
        f->flags |= FRAME_FD;
    }
    if (!take(c, ']'))
        return BAD_LENGTH;
    *length = n;
    return n > (f->flags & FRAME_FD ? 64 : 8) ? BAD_LONG : NULL;
}

/* After the id of the screen form. */
static const char *parse_screen_body(struct cursor *c, struct candump_line *out)
{
    struct frame *f = &out->frame;
    int length;
    skip_blanks(c);
    const char *reason = take_length(c, f, &length);
    if (reason)
        return reason;
    keep_length(f, length);
    skip_blanks(c);
    if (take_word(c, "remote request")) {
        f->flags |= FRAME_REMOTE;
        out->whole = true;
    } else {
        if (take_data(c, ' ', f) != length)
            return BAD_LENGTH;
        out->whole = true;
    }
    /* What candump says for people, the bytes as characters included, may be anything. */
    if (c->p < c->end && *c->p != ' ' && c->p[-1] != ' ')
        return BAD_TAIL;
    return NULL;
}

/* "RX - -" and "TX B E", which candump -x puts after the interface. */
static void take_extra(struct cursor *c, struct frame *f)
{
    struct cursor ahead = *c;
    bool sent = take_word(&ahead, "TX ");
    if (!sent && !take_word(&ahead, "RX "))
        return;
    skip_blanks(&ahead);
    if (left(&ahead) < 4 || ahead.p[1] != ' ' || ahead.p[3] != ' ')
        return;
    ahead.p += 3;
    skip_blanks(&ahead);
    if (sent)
        f->flags |= FRAME_SENT;
    *c = ahead;
}

const char *candump_parse(const char *line, size_t len, struct candump_line *out)
{
    *out = (struct candump_line){.stamp = CANDUMP_EPOCH};
    struct cursor c = {line, line + len};
    skip_blanks(&c);
    if (!take_stamp(&c, out))
        return BAD_STAMP;
    if (skip_blanks(&c) == 0 || !take_name(&c, out) || skip_blanks(&c) == 0)
        return BAD_IFACE;
    take_extra(&c, &out->frame);
    if (!take_id(&c, &out->frame))
        return BAD_ID;
    if (take(&c, '#'))
        return parse_log_body(&c, out);
    if (c.p < c.end && *c.p == ' ')
        return parse_screen_body(&c, out);
    return BAD_ID;
}

/* ---- the quick reader ----------------------------------------------------------------------- */

/* Eight characters, the first one in the lowest byte. */
static inline uint64_t load_eight(const char *p)
{
    uint64_t x;
    memcpy(&x, p, 8);
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    x = __builtin_bswap64(x);
#endif
    return x;
}

/* Eight upper-case hexadecimal digits at once: every byte is turned into its value and back into
 * a digit, and only what comes back the same was one. *out has the first pair in its lowest byte.
 */
static inline bool hex_eight(const char *p, uint32_t *out)
{
    uint64_t x = load_eight(p);
    uint64_t v = (x & 0x0F * ONES) + 9 * ((x >> 6) & ONES);
    uint64_t is_letter = ((v + 6 * ONES) >> 4) & ONES;
    if (((v & 0xF0 * ONES) | ((v + 0x30 * ONES + 7 * is_letter) ^ x)) != 0)
        return false;
    v = (v << 4 | v >> 8) & UINT64_C(0x00FF00FF00FF00FF);
    v = (v | v >> 8) & UINT64_C(0x0000FFFF0000FFFF);
    *out = (uint32_t)(v | v >> 16);
    return true;
}

static inline void store_four(uint8_t *dst, uint32_t v)
{
#if __BYTE_ORDER__ == __ORDER_BIG_ENDIAN__
    v = __builtin_bswap32(v);
#endif
    memcpy(dst, &v, sizeof v);
}

/* Six decimal digits: as above, then neighbours are joined three times. */
static inline bool decimal_six(const char *p, uint32_t *out)
{
    uint64_t x = load_eight(p) << 16 | ('0' | '0' << 8);
    uint64_t v = x ^ 0x30 * ONES;
    if (((v | (v + 6 * ONES)) & 0xF0 * ONES) != 0)
        return false;
    v = v * 10 + (v >> 8);
    v = (((v & UINT64_C(0x000000FF000000FF)) * UINT64_C(0x000F424000000064)) +
         (((v >> 16) & UINT64_C(0x000000FF000000FF)) * UINT64_C(0x0000271000000001))) >>
        32;
    *out = (uint32_t)v;
    return true;
}

/* Remembers "(1760000000." and what it stands for. */
static bool quick_head(struct candump_quick *q, const char *p)
{
    if (p[0] != '(' || p[11] != '.')
        return false;
    int64_t seconds = 0;
    for (int i = 1; i <= 10; i++) {
        if (!is_digit(p[i]))
            return false;
        seconds = seconds * 10 + (p[i] - '0');
    }
    if (seconds > MAX_SECONDS)
        return false;
    memcpy(q->head, p, 12);
    q->head_ns = seconds * NS_PER_S;
    return true;
}

static void quick_remember(struct candump_quick *q, int index)
{
    q->last = index;
    q->last_name = load_eight(q->names[index]);
    unsigned length = q->lengths[index];
    q->last_mask = length > 8 ? 0 : length == 8 ? UINT64_MAX : (UINT64_C(1) << 8 * length) - 1;
}

static inline bool quick_name(struct candump_quick *q, const char *p)
{
    /* nearly always the same short name as in the line before: compared in one piece */
    if (((load_eight(p) ^ q->last_name) & q->last_mask) == 0 && q->last_mask != 0)
        return true;
    for (int i = 0; i < q->count; i++) {
        if (q->lengths[i] > 0 && memcmp(p, q->names[i], q->lengths[i]) == 0) {
            quick_remember(q, i);
            return true;
        }
    }
    return false;
}

/* Data of up to 8 bytes, in either case; returns where it ends. */
static const char *quick_short_data(const char *p, struct frame *out)
{
    uint8_t n = 0;
    memset(out->data, 0, sizeof out->data);
    while (n < 8) {
        unsigned high = hex_value(p[0]), low = hex_value(p[1]);
        if ((high | low) > 15)
            break;
        out->data[n++] = (uint8_t)(high << 4 | low);
        p += 2;
    }
    out->len = n;
    return p;
}

size_t candump_quick_read(struct candump_quick *q, const char *p, struct frame *out)
{
    const char *start = p;
    /* a disk that lost a block left NULs, and so begins a head that nothing was remembered in */
    if (p[0] != '(' || (memcmp(p, q->head, 12) != 0 && !quick_head(q, p)))
        return 0;
    uint32_t us;
    if (!decimal_six(p + 12, &us))
        return 0;
    int64_t ns = us * NS_PER_US;
    p += 18;
    if (is_digit(p[0]) && is_digit(p[1]) && is_digit(p[2])) {
        ns += (p[0] - '0') * 100 + (p[1] - '0') * 10 + (p[2] - '0');
        p += 3;
    }
    if (p[0] != ')' || p[1] != ' ' || !quick_name(q, p + 2))
        return 0;
    p += 2 + q->lengths[q->last];

    uint32_t id, low, high;
    if (!hex_eight(p, &id) || p[8] != '#')
        return 0;
    id = __builtin_bswap32(id);
    if (id > 0x1FFFFFFF)
        return 0;
    p += 9;
    if (hex_eight(p, &low) && hex_eight(p + 8, &high)) {
        store_four(out->data, low);
        store_four(out->data + 4, high);
        out->len = 8;
        p += 16;
    } else {
        p = quick_short_data(p, out);
    }
    out->flags = FRAME_EXTENDED;
    if (p[0] == ' ' && (p[1] == 'R' || p[1] == 'T')) {
        if (p[1] == 'T')
            out->flags |= FRAME_SENT;
        p += 2;
    }
    if (p[0] == '\r')
        p++;
    if (p[0] != '\n')
        return 0;
    out->wall_ns = q->head_ns + ns;
    out->id = id;
    out->iface = (uint8_t)q->last;
    return (size_t)(p + 1 - start);
}

void candump_quick_learn(struct candump_quick *q, uint8_t index, const char *name)
{
    size_t len = strnlen(name, CANDUMP_NAME_MAX);
    memcpy(q->names[index], name, len);
    q->names[index][len] = ' ';
    q->lengths[index] = (uint8_t)(len + 1);
    if (q->count <= index)
        q->count = index + 1;
    quick_remember(q, index);
}

/* ---- writing -------------------------------------------------------------------------------- */

/* `digits` decimal digits of v at p; returns what comes after them. */
static char *put_number(char *p, uint64_t v, int digits)
{
    for (int i = digits - 1; i >= 0; i--, v /= 10)
        p[i] = (char)('0' + v % 10);
    return p + digits;
}

static char *put_hex(char *p, uint32_t v, int digits)
{
    for (int i = digits - 1; i >= 0; i--, v >>= 4)
        p[i] = "0123456789ABCDEF"[v & 15];
    return p + digits;
}

size_t candump_format(char *dst, size_t cap, const struct frame *f, const char *iface)
{
    size_t name_len = strnlen(iface, CANDUMP_NAME_MAX);
    /* stamp, name, id, "##0", data, direction, end: never more than this */
    if (cap < 1 + 10 + 1 + 9 + 2 + name_len + 1 + 8 + 3 + 16 + 2 + 2)
        return 0;
    uint64_t wall = f->wall_ns > 0 ? (uint64_t)f->wall_ns : 0;
    uint64_t ns = wall % (uint64_t)NS_PER_S;
    char *p = dst;
    *p++ = '(';
    p = put_number(p, wall / (uint64_t)NS_PER_S, 10);
    *p++ = '.';
    p = put_number(p, ns / 1000, 6);
    *p++ = ')';
    *p++ = ' ';
    memcpy(p, iface, name_len);
    p += name_len;
    *p++ = ' ';
    if (f->flags & FRAME_ERROR)
        p = put_hex(p, f->id | 0x20000000, 8);
    else
        p = put_hex(p, f->id, f->flags & FRAME_EXTENDED ? 8 : 3);
    *p++ = '#';
    int len = f->len > 8 ? 8 : f->len;
    if (f->flags & FRAME_REMOTE) {
        *p++ = 'R';
        if (len > 0)
            *p++ = (char)('0' + len);
    } else {
        if (f->flags & FRAME_FD) {
            *p++ = '#';
            *p++ = '0';
        }
        for (int i = 0; i < len; i++)
            p = put_hex(p, f->data[i], 2);
    }
    if (f->flags & FRAME_SENT) {
        *p++ = ' ';
        *p++ = 'T';
    }
    *p++ = '\n';
    *p = '\0';
    return (size_t)(p - dst);
}
