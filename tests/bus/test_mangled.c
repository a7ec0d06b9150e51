/* Logs of every form, whole and mangled by machine: how many frames each gives, what is complained
 * of, and a sum over all that the frames hold, kept as one golden text. It says that nothing has
 * changed, not that it is right: the other tests of bus do. `GOLDEN=write` writes it again.
 * Captures as draft-ietf-opsawg-pcap and draft-ietf-opsawg-pcapng have them. */
#include "bus/source.h"
#include "support/check.h"
#include "support/golden.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/banned.h"

#define ROOM     8192
#define VARIANTS 150

struct log {
    uint8_t bytes[ROOM];
    size_t len;
    bool big;    /* end first */
    bool binary; /* read from a file */
};

/* ---- logs that are whole -------------------------------------------------------------------- */

static const char plain[] = "(1760000000.123456) can0 09F2000A#00A916D2047FFFFF\n"
                            "(1760000000.223456) can0 123#DEADBEEF T\n"
                            "(1760000000.323456) can1 18EAFFFE#R\n"
                            "(1760000000.423456) can1 18EAFFFE#R5\n"
                            "(1760000001.000001) vcan-long.name0 123##1112233\n"
                            "(1760000001.1) can0 19F21425##0112233445566778899AABBCC R\n"
                            "(1760000001.200000000) can0 20000004#0004000000006000\n"
                            "(1760000001.100000) can0 123#1122334455667788_E\n"
                            "\n"
                            "(1760000009.500000) can0 09f2000a#00a916\n"
                            "(1760000010.000000) can0 7FF#\n"
                            "(1760020010.999999) can0 09F2000A#00A916D2047FFFFF\r\n"
                            "(1760020011.000000) can0 09F2000A#00A916D2047FFFFF\n"
                            "# no frame\n"
                            "(1760020011.250000) can0 1FFFFFFF#0102030405060708\n";
static const char screen[] =
    " (1760000000.123456)  can0  09F2000A   [8]  00 A9 16 D2 04 7F FF FF\n"
    " (1760000000.223456)  can0  TX - -  123   [2]  11 22   '.\"'\n"
    " (1760000000.323456)  can0  RX B E  123   [0]  remote request\n"
    " (1760000000.423456)  can1  123  [02]  11 22\n"
    " (1760000000.523456)  can1  18FEF100  [12]  11 22 33 44 55 66 77 88 99 AA BB CC\n"
    " (1760000000.623456)  can0  123   {E}  11 22 33 44 55 66 77 88\n"
    " (1760000000.723456)  can0  20000004   [8]  00 04 00 00 00 00 60 00   ERRORFRAME\n"
    "\tcontroller-problem{rx-error-warning}\n"
    " (1760000000.823456)  can0  7FF   [1]  0f\n";
static const char dates[] = "(2026-03-29 01:59:58.000000) can0 09F2000A#01\n"
                            "(2026-03-29 01:59:59.900000) can0 09F2000A#02\n"
                            "(2026-03-29 03:00:00.100000) can0 09F2000A#03\n"
                            "(2026-10-25 02:30:00.000001) can0 09F2000A#04\n"
                            "(2026-10-25 02:59:59.999999) can0 09F2000A#05\n"
                            "(2026-10-25 02:00:00.000000) can0 09F2000A#06\n"
                            "(2028-02-29 23:59:60.5) can0 09F2000A#07\n"
                            "(1970-01-01 00:00:00) can0 09F2000A#08\n";
static const char relative[] = "(000.000000) can0 09F2000A#01\n(000.250000) can0 09F2000A#02\n"
                               "(001.000123) can0 09F2000A#03\n(002.5) can0 09F2000A#04\n"
                               "(000.100000) can0 09F2000A#05\n(012.000000) can0 09F2000A#06\n"
                               "(9999.000000) can0 09F2000A#07\n";

static void text_of(struct log *l, const char *text)
{
    l->len = strlen(text);
    memcpy(l->bytes, text, l->len);
}

static void number(struct log *l, unsigned bytes, uint64_t v)
{
    for (unsigned i = 0; i < bytes; i++)
        l->bytes[l->len++] = (uint8_t)(v >> 8 * (l->big ? bytes - 1 - i : i));
}

static void can_frame(struct log *l, uint32_t id, unsigned n, unsigned flags)
{
    bool big = l->big;
    l->big = true; /* the id is big-endian whatever the file is */
    number(l, 4, id);
    l->big = big;
    number(l, 1, n);
    number(l, 1, flags);
    number(l, 2, 0);
    for (unsigned i = 0; i < n; i++)
        number(l, 1, 17 * (i + 1));
}

static const struct {
    uint32_t id;
    unsigned n, flags;
} frames[] = {
    {0x89F2000A, 8, 0}, {0x123, 2, 0}, {0xD8EAFFFE, 0, 0}, {0x20000004, 8, 0}, {0x98FEF100, 12, 4}};
#define FRAMES (sizeof frames / sizeof *frames)

static void pcap_of(struct log *l, bool big, uint32_t magic)
{
    l->big = big;
    number(l, 4, magic);
    number(l, 2, 2);
    number(l, 2, 4);
    number(l, 8, 0);
    number(l, 4, 262144);
    number(l, 4, 227);
    for (unsigned i = 0; i < FRAMES; i++) {
        number(l, 4, 1760000000 + i);
        number(l, 4, 123456 * i);
        number(l, 4, 8 + frames[i].n);
        number(l, 4, 8 + frames[i].n);
        can_frame(l, frames[i].id, frames[i].n, frames[i].flags);
    }
}

/* A block of pcapng around what `fill` puts into it. */
static size_t block(struct log *l, uint32_t type)
{
    number(l, 4, type);
    number(l, 4, 0);
    return l->len - 8;
}

static void block_end(struct log *l, size_t at)
{
    while (l->len % 4)
        number(l, 1, 0);
    size_t len = l->len + 4 - at, end;
    number(l, 4, len);
    end = l->len;
    l->len = at + 4;
    number(l, 4, len);
    l->len = end;
}

static void interface(struct log *l, const char *name, unsigned resolution)
{
    size_t at = block(l, 1);
    number(l, 2, 227);
    number(l, 2, 0);
    number(l, 4, 0);
    number(l, 2, 2); /* its name */
    number(l, 2, strlen(name));
    memcpy(l->bytes + l->len, name, strlen(name));
    l->len += strlen(name);
    while (l->len % 4)
        number(l, 1, 0);
    number(l, 2, 9); /* what its times count in */
    number(l, 2, 1);
    number(l, 1, resolution);
    number(l, 3, 0);
    number(l, 4, 0);
    block_end(l, at);
}

static void pcapng_of(struct log *l, bool big)
{
    static const uint64_t second[] = {1000000, 1000000000, 1024};
    l->big = big;
    size_t at = block(l, 0x0A0D0D0A);
    number(l, 4, 0x1A2B3C4D);
    number(l, 2, 1);
    number(l, 2, 0);
    number(l, 8, UINT64_MAX);
    block_end(l, at);
    interface(l, "can0", 6);
    interface(l, "can-b", 9);
    interface(l, "vcan3", 0x8A);
    for (unsigned i = 0; i < 3 * FRAMES; i++) {
        uint64_t t = second[i % 3] * 1760000000 + second[i % 3] / 8 * i;
        at = block(l, 6);
        number(l, 4, i % 3);
        number(l, 4, t >> 32);
        number(l, 4, t & 0xFFFFFFFF);
        number(l, 4, 8 + frames[i % FRAMES].n);
        number(l, 4, 8 + frames[i % FRAMES].n);
        can_frame(l, frames[i % FRAMES].id, frames[i % FRAMES].n, frames[i % FRAMES].flags);
        block_end(l, at);
        if (i == 4) { /* a block of a sort that nobody knows */
            at = block(l, 0x0BAD);
            number(l, 8, 7);
            block_end(l, at);
        }
    }
    at = block(l, 3); /* a simple packet has no time */
    number(l, 4, 10);
    can_frame(l, 0x321, 2, 0);
    block_end(l, at);
}

/* ---- mangling ------------------------------------------------------------------------------- */

static uint32_t state;

static unsigned draw(size_t below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)((state >> 8) % below);
}

static void mangle(struct log *l)
{
    static const char useful[] = "0123456789AF#R()._ [-]:{}T\n\r\t";
    size_t at = draw(l->len), n = 1 + draw(3);
    n = n < l->len - at ? n : l->len - at;
    switch (draw(7)) {
    case 0:
    case 1:
        l->bytes[at] = (uint8_t)useful[draw(sizeof useful - 1)];
        break;
    case 2:
        l->bytes[at] = (uint8_t)(l->bytes[at] + (draw(2) ? 1 : -1));
        break;
    case 3:
        l->bytes[at] ^= (uint8_t)(1u << draw(8));
        break;
    case 4:
        memmove(l->bytes + at, l->bytes + at + n, l->len - at - n);
        l->len -= n;
        break;
    case 5:
        memmove(l->bytes + at + n, l->bytes + at, l->len - at);
        l->len += n;
        break;
    default:
        if (draw(3) == 0)
            l->len = at + 1;
    }
}

static uint32_t add(uint32_t sum, uint64_t v)
{
    for (int i = 0; i < 8; i++)
        sum = (sum ^ (uint8_t)(v >> 8 * i)) * 16777619u;
    return sum;
}

static struct source *open_file(const struct log *l, const struct source_options *options,
                                struct err *e)
{
    char path[] = "/tmp/stokehold-mangled-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, l->bytes, l->len), l->len);
    close(fd);
    struct source *s = source_open_log(path, options, e);
    unlink(path);
    return s;
}

/* At most two frames at a time, so that what is kept between readings counts. */
static void read_log(FILE *out, const struct log *l, const struct source_options *options)
{
    struct err e = {""};
    struct source *s = l->binary ? open_file(l, options, &e)
                                 : source_open_memory((const char *)l->bytes, l->len, options);
    struct frame f[2];
    enum source_state is;
    uint32_t sum = 2166136261u;
    size_t n;
    assert_non_null(s);
    while ((is = source_read(s, f, 2, &n, &e)) == SOURCE_READY)
        for (size_t i = 0; i < n; i++) {
            sum = add(add(sum, (uint64_t)f[i].wall_ns), (uint64_t)f[i].mono_ns);
            sum = add(add(add(sum, f[i].id), f[i].len), f[i].flags);
            for (size_t b = 0; b < 8; b++)
                sum = add(sum, f[i].data[b]);
            for (const char *c = source_iface_name(s, f[i].iface); *c; c++)
                sum = add(sum, (uint64_t)*c);
        }
    const struct source_stats *t = source_stats(s);
    fprintf(out, "%u %u/%u %u%u%u%u%u %u %u %08x", (unsigned)t->frames, (unsigned)t->bad_lines,
            (unsigned)t->lines, (unsigned)t->remote, (unsigned)t->error_frames, (unsigned)t->fd,
            (unsigned)t->standard, (unsigned)t->cut, (unsigned)t->steps_back, (unsigned)t->gaps,
            sum);
    for (int i = 0; i < t->complaint_count && i < 2; i++)
        fprintf(out, " | %u %s", (unsigned)t->complaints[i].line, t->complaints[i].reason);
    fprintf(out, "%s%s%s\n", t->clock_known ? "" : " no clock", is == SOURCE_FAILED ? " ! " : "",
            is == SOURCE_FAILED ? e.text : "");
    source_close(s);
}

static void try(FILE *out, const char *name, const struct log *whole, const char *zone)
{
    struct source_options options = {.zone = zone};
    static struct log l;
    fprintf(out, "---- %s\n", name);
    read_log(out, whole, &options);
    state = 7919u * (uint32_t)(whole->len + strlen(name));
    for (int v = 0; v < VARIANTS; v++) {
        l = *whole;
        for (unsigned n = 1 + draw(2); n-- > 0;)
            mangle(&l);
        read_log(out, &l, &options);
    }
}

static void logs__of_every_form_and_mangled__are_read_as_kept(void **unused)
{
    (void)unused;
    static struct log l;
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    text_of(&l, plain);
    try(out, "log form", &l, NULL);
    text_of(&l, screen);
    try(out, "screen form", &l, NULL);
    text_of(&l, dates);
    try(out, "dates in Berlin", &l, "Europe/Berlin");
    try(out, "dates at -03:30", &l, "-03:30");
    text_of(&l, relative);
    try(out, "from zero", &l, NULL);
    for (int big = 0; big < 2; big++) {
        l = (struct log){.binary = true};
        pcap_of(&l, big, 0xA1B2C3D4);
        try(out, big ? "pcap, big end first" : "pcap", &l, NULL);
        l = (struct log){.binary = true};
        pcapng_of(&l, big);
        try(out, big ? "pcapng, big end first" : "pcapng", &l, NULL);
    }
    l = (struct log){.binary = true};
    pcap_of(&l, false, 0xA1B23C4D);
    try(out, "pcap in ns", &l, NULL);
    fclose(out);
    golden_check("bus", "mangled", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(logs__of_every_form_and_mangled__are_read_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
