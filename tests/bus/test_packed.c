/* Logs that are not plain text: zstd and gzip (packed here by the libraries themselves, the
 * reference implementations), captures (pcap written by libpcap, pcapng by hand after
 * draft-ietf-opsawg-pcapng), an incident's directory. */
#include "bus/seal.h"
#include "bus/source.h"

#include "support/check.h"
#include "support/program.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#ifdef WITH_ZSTD
#include <zstd.h>
#endif
#ifdef WITH_ZLIB
#include <zlib.h>
#endif
#include <pcap/pcap.h>

#define FRAMES 20000

static char path[64];

/* Not every build has a format to write. */
__attribute__((unused)) static void write_path(const void *data, size_t len)
{
    snprintf(path, sizeof path, "%s/packed", program_scratch());
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, data, len), (long)len);
    close(fd);
}

/* Frame i has i for its id's low bits; noise in the data so that packing does not make it tiny. */
#if defined WITH_ZSTD || defined WITH_ZLIB
static char *make_text(size_t *len)
{
    size_t cap = FRAMES * 60;
    char *text = test_malloc(cap);
    uint32_t random = 7;
    *len = 0;
    for (int i = 0; i < FRAMES; i++) {
        random = random * 1664525u + 1013904223u;
        *len +=
            (size_t)snprintf(text + *len, cap - *len, "(17600000%02d.%06d) can0 09F2%04X#%08X\n",
                             i / 1000, i % 1000, i, random);
    }
    return text;
}
#endif

/* Reads what is at path; every frame must be the next one. How many came. */
static int count_frames(struct source *s)
{
    int next = 0;
    struct frame f[100];
    size_t n;
    struct err e = {""};
    enum source_state state;
    while ((state = source_read(s, f, 100, &n, &e)) == SOURCE_READY) {
        for (size_t i = 0; i < n; i++)
            assert_int_equal(f[i].id, 0x09F20000 + next++);
    }
    if (state != SOURCE_END)
        fail_msg("%s", e.text);
    return next;
}

#if defined WITH_ZSTD || defined WITH_ZLIB
static void check_packed(const void *packed, size_t len)
{
    struct err e = {""};
    write_path(packed, len);
    struct source *s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    assert_int_equal(count_frames(s), FRAMES);
    assert_int_equal(source_stats(s)->bad_lines, 0);
    assert_int_equal(source_stats(s)->bytes, len);
    assert_true(source_rewind(s));
    assert_int_equal(count_frames(s), FRAMES);
    source_close(s);

    /* cut in the middle: what came before is good, one complaint says so */
    write_path(packed, len / 2);
    s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    int n = count_frames(s);
    assert_in_range(n, FRAMES / 10, FRAMES - 1);
    const struct source_stats *st = source_stats(s);
    assert_in_range(st->bad_lines, 1, 2); /* the line that was cut as well */
    assert_string_equal(st->complaints[st->complaint_count - 1].reason,
                        "the packed data is cut short");
    source_close(s);

    /* damaged in the middle: ends there with a word, no crash */
    unsigned char *bad = test_malloc(len);
    memcpy(bad, packed, len);
    memset(bad + len / 2, 0xEE, 64);
    write_path(bad, len);
    s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    struct frame f[100];
    size_t got;
    while (source_read(s, f, 100, &got, &e) == SOURCE_READY)
        ;
    assert_true(source_stats(s)->bad_lines > 0);
    source_close(s);
    test_free(bad);
}
#endif

static void packed__zstd_in_two_frames__reads_as_text(void **state)
{
    (void)state;
#ifdef WITH_ZSTD
    size_t len, cap, n;
    char *text = make_text(&len);
    cap = ZSTD_compressBound(len) + 100;
    char *packed = test_malloc(cap);
    size_t half = len / 3;
    n = ZSTD_compress(packed, cap, text, half, 3);
    assert_false(ZSTD_isError(n));
    n += ZSTD_compress(packed + n, cap - n, text + half, len - half, 3);
    check_packed(packed, n);
    test_free(packed);
    test_free(text);
#else
    skip();
#endif
}

#ifdef WITH_ZSTD
/* How many frames are read of sealed data, and what is complained of it, "" for nothing. */
static int read_sealed(const void *packed, size_t len, char complaint[80])
{
    struct err e = {""};
    write_path(packed, len);
    struct source *s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    int n = count_frames(s);
    const struct source_stats *st = source_stats(s);
    snprintf(complaint, 80, "%s", st->complaint_count ? st->complaints[0].reason : "");
    source_close(s);
    return n;
}

/* An hour of the record carries the sum of its lines; its seal is passed over by zstd itself.
 */
static void packed__sealed_and_changed__is_said(void **state)
{
    (void)state;
    size_t len, cap, n;
    char *text = make_text(&len), sum[SHA256_TEXT], complaint[80];
    struct sha256 sha;
    sha256_init(&sha);
    sha256_add(&sha, text, len);
    sha256_text(&sha, sum);
    cap = ZSTD_compressBound(len) + SEAL_SIZE;
    uint8_t *packed = test_malloc(cap);
    n = ZSTD_compress(packed, cap, text, len, 3);
    assert_false(ZSTD_isError(n));
    seal_make(packed + n, sum);
    char *again = test_malloc(len);
    assert_int_equal(ZSTD_decompress(again, len, packed, n + SEAL_SIZE), len);
    assert_memory_equal(again, text, len);
    assert_int_equal(read_sealed(packed, n + SEAL_SIZE, complaint), FRAMES);
    assert_string_equal(complaint, "");
    /* one digit of one frame's data, packed again before the same seal */
    char *digit = text + len - 2;
    *digit = *digit == '0' ? '1' : '0';
    n = ZSTD_compress(packed, cap, text, len, 3);
    seal_make(packed + n, sum);
    assert_int_equal(read_sealed(packed, n + SEAL_SIZE, complaint), FRAMES);
    assert_non_null(strstr(complaint, "the record was changed"));
    /* without its seal nobody can tell */
    assert_int_equal(read_sealed(packed, n, complaint), FRAMES);
    assert_string_equal(complaint, "");
    test_free(again);
    test_free(packed);
    test_free(text);
}
#endif

static void packed__gzip_in_two_members__reads_as_text(void **state)
{
    (void)state;
#ifdef WITH_ZLIB
    size_t len;
    char *text = make_text(&len);
    write_path("", 0);
    gzFile z = gzopen(path, "wb");
    assert_int_equal(gzwrite(z, text, (unsigned)(len / 3)), (int)(len / 3));
    gzclose(z);
    z = gzopen(path, "ab");
    assert_int_equal(gzwrite(z, text + len / 3, (unsigned)(len - len / 3)), (int)(len - len / 3));
    gzclose(z);
    FILE *in = fopen(path, "rb");
    char *packed = test_malloc(len);
    size_t n = fread(packed, 1, len, in);
    fclose(in);
    check_packed(packed, n);
    test_free(packed);
    test_free(text);
#else
    skip();
#endif
}

static void capture__pcap_of_libpcap__gives_its_frames(void **state)
{
    (void)state;
    write_path("", 0);
    pcap_t *p =
        pcap_open_dead_with_tstamp_precision(DLT_CAN_SOCKETCAN, 64, PCAP_TSTAMP_PRECISION_NANO);
    pcap_dumper_t *out = pcap_dump_open(p, path);
    assert_non_null(out);
    static const uint8_t packets[][16] = {
        {0x89, 0xF2, 0x00, 0x0A, 8, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8},
        {0x00, 0x00, 0x01, 0x23, 2, 0, 0, 0, 1, 2},
        {0xD8, 0xEA, 0xFF, 0xFE, 3, 0, 0, 0}, /* remote */
        {0x20, 0x00, 0x00, 0x04, 8, 0, 0, 0, 0, 4, 0, 0, 0, 0, 0x60, 0},
        {0x00, 0x00, 0x01, 0x23, 8, 0, 0, 0, 1}, /* cut by the capture */
    };
    static const uint32_t lengths[] = {16, 10, 8, 16, 9};
    for (int i = 0; i < 5; i++) {
        struct pcap_pkthdr h = {.ts = {1760000000 + i, 123456789}, .caplen = lengths[i], .len = 16};
        pcap_dump((unsigned char *)out, &h, packets[i]);
    }
    pcap_dump_close(out);
    pcap_close(p);
    struct err e = {""};
    struct source *s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    for (int round = 0; round < 2; round++) {
        struct frame f[8];
        size_t n;
        assert_int_equal(source_read(s, f, 8, &n, &e), SOURCE_READY);
        assert_int_equal(n, 4);
        assert_int_equal(f[0].wall_ns, INT64_C(1760000000123456789));
        assert_int_equal(f[1].mono_ns - f[0].mono_ns, INT64_C(1000000000));
        assert_int_equal(f[0].id, 0x09F2000A);
        assert_int_equal(f[0].flags, FRAME_EXTENDED);
        assert_memory_equal(f[0].data, "\1\2\3\4\5\6\7\10", 8);
        assert_int_equal(f[1].id, 0x123);
        assert_int_equal(f[1].flags, 0);
        assert_int_equal(f[1].len, 2);
        assert_int_equal(f[2].flags, FRAME_EXTENDED | FRAME_REMOTE);
        assert_int_equal(f[2].id, 0x18EAFFFE);
        assert_int_equal(f[3].flags, FRAME_ERROR);
        assert_int_equal(f[3].id, 4);
        assert_int_equal(source_read(s, f, 8, &n, &e), SOURCE_END);
        assert_int_equal(source_stats(s)->bad_lines, 1);
        assert_string_equal(source_iface_name(s, f[0].iface), "can0");
        assert_true(source_rewind(s));
    }
    source_close(s);
    /* the last packet cut: a complaint, not a failure */
    assert_int_equal(truncate(path, 24 + 32 + 20), 0);
    s = source_open_log(path, NULL, &e);
    struct frame f[8];
    size_t n;
    assert_int_equal(source_read(s, f, 8, &n, &e), SOURCE_READY);
    assert_int_equal(n, 1);
    assert_int_equal(source_read(s, f, 8, &n, &e), SOURCE_END);
    assert_int_equal(source_stats(s)->bad_lines, 1);
    source_close(s);
}

static void capture__pcapng__gives_its_frames(void **state)
{
    (void)state;
    /* section header, one interface (227, nanoseconds by if_tsresol 9), one enhanced packet */
    static const uint8_t file[] = {
        0x0A, 0x0D, 0x0D, 0x0A, 28, 0, 0, 0, 0x4D, 0x3C, 0x2B, 0x1A, 1, 0, 0, 0, 255, 255, 255, 255,
        255, 255, 255, 255, 28, 0, 0, 0, 1, 0, 0, 0, 32, 0, 0, 0, 227, 0, 0, 0, 64, 0, 0, 0, 9, 0,
        1, 0, 9, 0, 0, 0, 0, 0, 0, 0, 32, 0, 0, 0, 6, 0, 0, 0, 48, 0, 0, 0, 0, 0, 0, 0,
        /* 1760000000123456789 is 0x186CC6ACDC0BCD15 */
        0xAC, 0xC6, 0x6C, 0x18, 0x15, 0xCD, 0x0B, 0xDC, 16, 0, 0, 0, 16, 0, 0, 0, 0x89, 0xF2, 0x00,
        0x0A, 8, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 48, 0, 0, 0};
    write_path(file, sizeof file);
    struct err e = {""};
    struct source *s = source_open_log(path, NULL, &e);
    if (!s)
        fail_msg("%s", e.text);
    struct frame f[2];
    size_t n;
    assert_int_equal(source_read(s, f, 2, &n, &e), SOURCE_READY);
    assert_int_equal(n, 1);
    assert_int_equal(f[0].id, 0x09F2000A);
    assert_int_equal(f[0].wall_ns, INT64_C(1760000000123456789));
    source_close(s);
}

/* A pcapng file by hand, after draft-ietf-opsawg-pcapng, in either byte order. */
struct hand {
    uint8_t b[4096];
    size_t len;
    bool big;
};

static void put32(struct hand *h, uint32_t v)
{
    for (int i = 0; i < 4; i++)
        h->b[h->len++] = (uint8_t)(v >> 8 * (h->big ? 3 - i : i));
}

static void put16(struct hand *h, unsigned v)
{
    for (int i = 0; i < 2; i++)
        h->b[h->len++] = (uint8_t)(v >> 8 * (h->big ? 1 - i : i));
}

static size_t begin_block(struct hand *h, uint32_t type)
{
    size_t at = h->len;
    put32(h, type);
    put32(h, 0);
    return at;
}

static void end_block(struct hand *h, size_t at)
{
    while (h->len % 4)
        h->b[h->len++] = 0;
    uint32_t len = (uint32_t)(h->len - at + 4);
    put32(h, len);
    size_t end = h->len;
    h->len = at + 4;
    put32(h, len);
    h->len = end;
}

static void put_section(struct hand *h, bool big)
{
    h->big = big;
    size_t at = begin_block(h, 0x0A0D0D0A);
    put32(h, 0x1A2B3C4D);
    put16(h, 1);
    put16(h, 0);
    put32(h, 0xFFFFFFFF);
    put32(h, 0xFFFFFFFF);
    end_block(h, at);
}

static void put_interface(struct hand *h, const char *name)
{
    size_t at = begin_block(h, 1);
    put16(h, 227);
    put16(h, 0);
    put32(h, 64);
    if (name) {
        put16(h, 3); /* if_description, passed over */
        put16(h, 5);
        memcpy(h->b + h->len, "bow\0\0\0\0", 8);
        h->len += 8;
        put16(h, 2); /* if_name */
        put16(h, (unsigned)strlen(name));
        memcpy(h->b + h->len, name, strlen(name));
        h->len += strlen(name);
        while (h->len % 4)
            h->b[h->len++] = 0;
        put32(h, 0);
    }
    end_block(h, at);
}

static void put_packet(struct hand *h, unsigned iface, uint8_t source)
{
    const uint8_t frame[16] = {0x89, 0xF2, 0x00, source, 8};
    size_t at = begin_block(h, 6);
    put32(h, iface);
    put32(h, 0x00063F0A); /* microseconds since 1970, high word */
    put32(h, 0x5B5A8000);
    put32(h, 16);
    put32(h, 16);
    memcpy(h->b + h->len, frame, 16);
    h->len += 16;
    end_block(h, at);
}

/* Which interfaces the frames are said to be of, apart by blanks. */
static void say_ifaces(struct source *s, char *out, size_t cap)
{
    struct frame f[16];
    struct err e;
    size_t n, at = 0;
    out[0] = '\0';
    while (source_read(s, f, 16, &n, &e) == SOURCE_READY)
        for (size_t i = 0; i < n; i++)
            at += (size_t)snprintf(out + at, cap - at, "%d:%s ", (int)(f[i].id & 0xFF),
                                   source_iface_name(s, f[i].iface));
}

static void capture__pcapng_of_several_interfaces__names_each(void **state)
{
    (void)state;
    struct hand h = {.len = 0};
    char said[200];
    struct err e = {""};
    put_section(&h, false);
    put_interface(&h, "vcan1");
    put_interface(&h, "ca\033n2");
    put_packet(&h, 1, 1);
    put_packet(&h, 0, 2);
    put_interface(&h, NULL);
    put_packet(&h, 2, 3);
    put_packet(&h, 1, 4);
    write_path(h.b, h.len);
    struct source *s = source_open_log(path, NULL, &e);
    if (!s)
        fail_msg("%s", e.text);
    for (int i = 0; i < 2; i++) { /* and again from the start */
        say_ifaces(s, said, sizeof said);
        assert_null(strchr(said, 27));
        assert_non_null(strstr(said, "2:vcan1 3:can2 4:ca"));
        assert_int_equal(strncmp(said, "1:ca", 4), 0);
        assert_true(source_rewind(s));
    }
    assert_int_equal(source_iface_count(s), 3);
    source_close(s);
    /* big-endian, and every prefix of it */
    h.len = 0;
    put_section(&h, true);
    put_interface(&h, "port");
    put_interface(&h, "starboard");
    put_packet(&h, 1, 1);
    put_packet(&h, 0, 2);
    for (size_t len = 4; len <= h.len; len++) {
        write_path(h.b, len);
        s = source_open_log(path, NULL, &e);
        said[0] = '\0';
        if (s)
            say_ifaces(s, said, sizeof said);
        source_close(s);
        if (said[0])
            assert_int_equal(strncmp(said, "1:starboard ", 12), 0);
    }
    assert_string_equal(said, "1:starboard 2:port ");
}

/* A block too long to be kept whole, which is passed over, stands last: wherever such a file is cut
 * but between two blocks, one complaint says so. */
static void capture__cut_anywhere__is_said_once(void **state)
{
    (void)state;
    struct hand h = {.len = 0};
    struct err e = {""};
    size_t ends[4], blocks = 0;
    put_section(&h, false);
    put_interface(&h, "can0");
    ends[blocks++] = h.len;
    put_packet(&h, 0, 1);
    ends[blocks++] = h.len;
    size_t at = begin_block(&h, 0x0BAD);
    memset(h.b + h.len, 'x', 3000);
    h.len += 3000;
    end_block(&h, at);
    ends[blocks++] = h.len;
    size_t next = 0;
    for (size_t len = ends[0]; len <= h.len; len++) {
        char said[200] = "";
        write_path(h.b, len);
        struct source *s = source_open_log(path, NULL, &e);
        assert_non_null(s);
        say_ifaces(s, said, sizeof said);
        bool between = len == ends[next];
        next += between;
        assert_string_equal(said, len >= ends[1] ? "1:can0 " : "");
        assert_int_equal(source_stats(s)->bad_lines, between ? 0 : 1);
        source_close(s);
    }
    assert_int_equal(next, blocks);
}

/* Bytes that come through a pipe one at a time; what the source says to each is kept. */
static int count_through_pipe(const void *data, size_t len, int *waits)
{
    int ends[2], frames = 0;
    char name[40];
    struct err e = {""};
    struct frame f[16];
    size_t n;
    enum source_state state = SOURCE_WAIT;
    assert_int_equal(pipe(ends), 0);
    snprintf(name, sizeof name, "/proc/self/fd/%d", ends[0]);
    struct source *s = source_open_log(name, NULL, &e);
    assert_non_null(s);
    *waits = 0;
    for (size_t i = 0; i <= len && state != SOURCE_END; i++) {
        if (i < len)
            assert_int_equal(write(ends[1], (const char *)data + i, 1), 1);
        else
            close(ends[1]);
        while ((state = source_read(s, f, 16, &n, &e)) == SOURCE_READY)
            frames += (int)n;
        *waits += state == SOURCE_WAIT;
        assert_int_not_equal(state, SOURCE_FAILED);
    }
    assert_int_equal(state, SOURCE_END);
    assert_int_equal(source_stats(s)->bad_lines, 0);
    assert_true(source_stats(s)->is_capture);
    source_close(s);
    close(ends[0]);
    return frames;
}

static void capture__through_a_pipe_that_pauses__is_known_and_read(void **state)
{
    (void)state;
    struct hand h = {.len = 0};
    int waits;
    put_section(&h, false);
    put_interface(&h, "can0");
    put_packet(&h, 0, 1);
    put_packet(&h, 0, 2);
    assert_int_equal(count_through_pipe(h.b, h.len, &waits), 2);
    assert_int_equal(waits, (int)h.len);
#ifdef WITH_ZLIB
    write_path("", 0);
    gzFile z = gzopen(path, "wb");
    assert_int_equal(gzwrite(z, h.b, (unsigned)h.len), (int)h.len);
    gzclose(z);
    char packed[sizeof h.b];
    FILE *in = fopen(path, "rb");
    size_t len = fread(packed, 1, sizeof packed, in);
    fclose(in);
    assert_int_equal(count_through_pipe(packed, len, &waits), 2);
#endif
}

/* Times in units of 2^-n and 10^-n s, and counted from another moment than 1970; the figures are
 * worked out by hand from the definition of if_tsresol and if_tsoffset. */
static void capture__resolutions_of_time__come_out_in_ns(void **state)
{
    (void)state;
    static const struct {
        uint8_t resolution;
        uint32_t high, low, offset;
        int64_t ns; /* -1: no time that can be */
    } rows[] = {
        {0, 0, 1760000000, 0, INT64_C(1760000000000000000)},
        {6, 0x00063F0A, 0x5B5A8000, 0, INT64_C(1758163575144448000)},
        {0x80 | 1, 0, 0xD1CEF001, 0, INT64_C(1760000000500000000)},
        {0x80 | 32, 1760000000, 0x40000000, 0, INT64_C(1760000000250000000)},
        {3, 0, 1500, 1760000000, INT64_C(1760000001500000000)},
        {19, 0x8AC72304, 0x89E80000, 1760000000, INT64_C(1760000001000000000)}, /* 10^19 of them */
        {20, 0x8AC72304, 0x89E80000, 1760000000, -1},
        {0x80 | 33, 0, 0x80000000, 1760000000, INT64_C(1760000000250000000)},
        {0x80 | 63, 0x80000000, 0, 1760000000, INT64_C(1760000001000000000)},
        {0x80 | 63, 0xC0000000, 0, 1760000000, INT64_C(1760000001500000000)},
        {0x80 | 64, 0x80000000, 0, 1760000000, -1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct hand h = {.len = 0};
        struct err e = {""};
        struct frame f;
        size_t n;
        put_section(&h, true);
        size_t at = begin_block(&h, 1);
        put16(&h, 227), put16(&h, 0), put32(&h, 64);
        put16(&h, 9), put16(&h, 1), put32(&h, (uint32_t)rows[i].resolution << 24);
        put16(&h, 14), put16(&h, 8), put32(&h, 0), put32(&h, rows[i].offset);
        put32(&h, 0);
        end_block(&h, at);
        size_t packet = h.len;
        put_packet(&h, 0, 1);
        size_t end = h.len;
        h.len = packet + 12;
        put32(&h, rows[i].high), put32(&h, rows[i].low);
        h.len = end;
        write_path(h.b, h.len);
        struct source *s = source_open_log(path, NULL, &e);
        assert_non_null(s);
        enum source_state is = source_read(s, &f, 1, &n, &e);
        assert_int_equal(is, rows[i].ns < 0 ? SOURCE_END : SOURCE_READY);
        if (is == SOURCE_READY)
            assert_int_equal(f.wall_ns, rows[i].ns);
        source_close(s);
    }
}

/* if_tsoffset is a signed number of 64 bits in the byte order of its section. */
static void capture__offset_of_time__is_of_64_bits_in_either_byte_order(void **state)
{
    (void)state;
    static const int64_t offsets[] = {-256, INT64_C(0x100000001), INT64_C(-0x100000001)};
    for (size_t i = 0; i < sizeof offsets / sizeof *offsets; i++)
        for (int big = 0; big < 2; big++) {
            struct hand h = {.len = 0};
            struct err e = {""};
            struct frame f;
            size_t n;
            uint32_t high = (uint32_t)((uint64_t)offsets[i] >> 32), low = (uint32_t)offsets[i];
            uint64_t ticks = UINT64_C(6000000000) * 1000000; /* us */
            put_section(&h, big);
            size_t at = begin_block(&h, 1);
            put16(&h, 227), put16(&h, 0), put32(&h, 64);
            put16(&h, 14), put16(&h, 8), put32(&h, big ? high : low), put32(&h, big ? low : high);
            put32(&h, 0);
            end_block(&h, at);
            size_t packet = h.len;
            put_packet(&h, 0, 1);
            size_t end = h.len;
            h.len = packet + 12;
            put32(&h, (uint32_t)(ticks >> 32)), put32(&h, (uint32_t)ticks);
            h.len = end;
            write_path(h.b, h.len);
            struct source *s = source_open_log(path, NULL, &e);
            assert_non_null(s);
            enum source_state state_now = source_read(s, &f, 1, &n, &e);
            int64_t seconds = INT64_C(6000000000) + offsets[i];
            if (seconds > INT64_MAX / 1000000000) { /* no clock can show it */
                assert_int_not_equal(state_now, SOURCE_READY);
            } else {
                assert_int_equal(state_now, SOURCE_READY);
                assert_int_equal(f.wall_ns, seconds * 1000000000);
            }
            source_close(s);
        }
}

/* A time 200,000 years from now: a 64-bit count of microseconds can say that. */
static void capture__time_beyond_reason__is_a_complaint(void **state)
{
    (void)state;
    struct hand h = {.len = 0};
    struct err e = {""};
    put_section(&h, false);
    put_interface(&h, "can0");
    put_packet(&h, 0, 1);
    size_t high = h.len + 12; /* of the next packet: behind type, length and interface */
    put_packet(&h, 0, 2);
    put_packet(&h, 0, 3);
    memset(h.b + high, 0x5A, 4);
    write_path(h.b, h.len);
    struct source *s = source_open_log(path, NULL, &e);
    assert_non_null(s);
    char said[200];
    say_ifaces(s, said, sizeof said);
    assert_string_equal(said, "1:can0 3:can0 ");
    assert_int_equal(source_stats(s)->bad_lines, 1);
    source_close(s);
}

static void capture__of_ethernet__gives_no_frame_and_says_why(void **state)
{
    (void)state;
    write_path("", 0);
    pcap_t *p = pcap_open_dead(DLT_EN10MB, 64);
    pcap_dumper_t *out = pcap_dump_open(p, path);
    struct pcap_pkthdr h = {.ts = {1760000000, 0}, .caplen = 16, .len = 16};
    pcap_dump((unsigned char *)out, &h, (const unsigned char *)"not a frame at all");
    pcap_dump_close(out);
    pcap_close(p);
    struct err e = {""};
    struct source *s = source_open_log(path, NULL, &e);
    struct frame f[2];
    size_t n;
    assert_int_equal(source_read(s, f, 2, &n, &e), SOURCE_END);
    assert_true(source_stats(s)->is_capture);
    assert_non_null(strstr(source_stats(s)->complaints[0].reason, "not of CAN"));
    source_close(s);
}

static void incident__directory__reads_its_frames(void **state)
{
    (void)state;
    const char *dir = program_folder();
    char file[120];
    struct err e = {""};
    assert_null(source_open_logs((const char *const[]){dir}, 1, NULL, &e));
    assert_non_null(strstr(e.text, "a directory without a log"));
    snprintf(file, sizeof file, "%s/frames.log", dir);
    FILE *out = fopen(file, "w");
    fputs("(1760000000.000000) can0 09F20000#00\n", out);
    fclose(out);
    struct source *s = source_open_logs((const char *const[]){dir}, 1, NULL, &e);
    assert_non_null(s);
    assert_int_equal(count_frames(s), 1);
    source_close(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
#ifdef WITH_ZSTD
        cmocka_unit_test(packed__sealed_and_changed__is_said),
#endif
        cmocka_unit_test(packed__zstd_in_two_frames__reads_as_text),
        cmocka_unit_test(packed__gzip_in_two_members__reads_as_text),
        cmocka_unit_test(capture__pcap_of_libpcap__gives_its_frames),
        cmocka_unit_test(capture__pcapng__gives_its_frames),
        cmocka_unit_test(capture__pcapng_of_several_interfaces__names_each),
        cmocka_unit_test(capture__cut_anywhere__is_said_once),
        cmocka_unit_test(capture__through_a_pipe_that_pauses__is_known_and_read),
        cmocka_unit_test(capture__resolutions_of_time__come_out_in_ns),
        cmocka_unit_test(capture__offset_of_time__is_of_64_bits_in_either_byte_order),
        cmocka_unit_test(capture__time_beyond_reason__is_a_complaint),
        cmocka_unit_test(capture__of_ethernet__gives_no_frame_and_says_why),
        cmocka_unit_test(incident__directory__reads_its_frames),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
