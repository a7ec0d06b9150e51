/* Ids, fast packets and the transport protocol. Vectors: docs of the Linux kernel's J1939 stack,
 * can-utils' J1939 kick-start guide, unit tests of the open-source stacks AgIsoStack++,
 * python-can-j1939 and of cantools; named at each. */
#include "wire/frames.h"

#include "wire/catalogue.h"

#include "base/banned.h"

static void *make_wire(void)
{
    struct wire *w = wire_new();
    assert_non_null(w);
    return w;
}

static int setup(void **state)
{
    *state = make_wire();
    return 0;
}

static int teardown(void **state)
{
    wire_free(*state);
    return 0;
}

static void id__published_examples__split_and_joined(void **state)
{
    (void)state;
    static const struct {
        uint32_t id;
        struct wire_id w;
    } cases[] = {
        /* cantools, tests of J1939 id packing; PF 0x12 is PDU1, so PS is the destination */
        {0x14123456, {.pgn = 0x01200, .priority = 5, .destination = 0x34, .source = 0x56}},
        {0x1FFFFFFF, {.pgn = 0x3FFFF, .priority = 7, .destination = 255, .source = 255}},
        /* AgIsoStack++ identifier tests */
        {0x18EF1C80, {.pgn = 0x0EF00, .priority = 6, .destination = 0x1C, .source = 0x80}},
        /* can-utils kick-start guide */
        {0x1823FF40, {.pgn = 0x02300, .priority = 6, .destination = 255, .source = 0x40}},
        {0x18234140, {.pgn = 0x02300, .priority = 6, .destination = 0x41, .source = 0x40}},
        {0x1923FF80, {.pgn = 0x12300, .priority = 6, .destination = 255, .source = 0x80}},
        {0x19234080, {.pgn = 0x12300, .priority = 6, .destination = 0x40, .source = 0x80}},
        {0x1B214080, {.pgn = 0x32100, .priority = 6, .destination = 0x40, .source = 0x80}},
        /* computed from the standard's bit positions */
        {0x09F20000, {.pgn = 127488, .priority = 2, .destination = 255, .source = 0}},
        {0x19F21123, {.pgn = 127505, .priority = 6, .destination = 255, .source = 0x23}},
        {0x15FD0810, {.pgn = 130312, .priority = 5, .destination = 255, .source = 0x10}},
        {0x0CF00400, {.pgn = 61444, .priority = 3, .destination = 255, .source = 0}},
        {0x18FECA00, {.pgn = 65226, .priority = 6, .destination = 255, .source = 0}},
        {0x18EAFFFE, {.pgn = 59904, .priority = 6, .destination = 255, .source = 254}},
        {0x18EEFF23, {.pgn = 60928, .priority = 6, .destination = 255, .source = 0x23}},
        {0x1DF01123, {.pgn = 126993, .priority = 7, .destination = 255, .source = 0x23}},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct wire_id w = wire_id_decode(cases[i].id);
        assert_int_equal(w.pgn, cases[i].w.pgn);
        assert_int_equal(w.priority, cases[i].w.priority);
        assert_int_equal(w.destination, cases[i].w.destination);
        assert_int_equal(w.source, cases[i].w.source);
        assert_int_equal(wire_id_encode(cases[i].w), cases[i].id);
    }
}

static void single__known_pgn__is_a_message(void **state)
{
    struct message m;
    assert_true(feed(*state, "09F20020#00401FDC0500FFFF", 5, &m));
    assert_int_equal(m.pgn, 127488);
    assert_int_equal(m.source, 0x20);
    assert_int_equal(m.priority, 2);
    assert_int_equal(m.multi, 0);
    assert_int_equal(m.len, 8);
    assert_int_equal(m.at.mono_ns, 5000000);
    assert_ptr_equal(m.row, catalogue_find(127488));
}

static void single__unknown_pgn__only_when_all_are_wanted(void **state)
{
    struct message m;
    assert_false(feed(*state, "09F80152#0102030405060708", 0, &m)); /* 129025 is not read */
    assert_int_equal(wire_stats(*state)->unknown, 1);
    wire_want_all(*state, true);
    assert_true(feed(*state, "09F80152#0102030405060708", 1, &m));
    assert_int_equal(m.pgn, 129025);
    assert_null(m.row);
    assert_int_equal(wire_stats(*state)->unknown, 2);
}

static void frame__not_29_bit_data__is_ignored(void **state)
{
    struct message m;
    static const uint8_t flags[] = {0, FRAME_EXTENDED | FRAME_REMOTE, FRAME_EXTENDED | FRAME_ERROR,
                                    FRAME_EXTENDED | FRAME_FD};
    for (size_t i = 0; i < sizeof flags; i++) {
        struct frame f = frame_of("09F20020#00401FDC0500FFFF", 0);
        f.flags = flags[i];
        assert_false(wire_frame(*state, &f, &m));
    }
    struct frame f = frame_of("09F20020#00401FDC0500FFFF", 0);
    f.len = 200; /* no source makes such a frame: it must do no harm all the same */
    assert_false(wire_frame(*state, &f, &m));
    assert_int_equal(wire_stats(*state)->ignored, 5);
}

/* The worked 127489 of four frames, decoded by the reference library to the values that
 * test_decode.c checks. */
static const char *const dynamic[] = {"09F20120#401A00AC0D300EBB", "09F20120#418A69057B0080EE",
                                      "09F20120#4236001A042C01FF", "09F20120#4382000000413CFF"};

static void fast__in_order__is_put_together(void **state)
{
    struct message m;
    for (int i = 0; i < 3; i++)
        assert_false(feed(*state, dynamic[i], i, &m));
    assert_true(feed(*state, dynamic[3], 3, &m));
    assert_int_equal(m.pgn, 127489);
    assert_int_equal(m.len, 26);
    assert_int_equal(m.multi, 1);
    assert_int_equal(m.at.mono_ns, 3000000); /* the time of its last frame */
    static const uint8_t want[] = {0x00, 0xAC, 0x0D, 0x30, 0x0E, 0xBB, 0x8A, 0x69, 0x05,
                                   0x7B, 0x00, 0x80, 0xEE, 0x36, 0x00, 0x1A, 0x04, 0x2C,
                                   0x01, 0xFF, 0x82, 0x00, 0x00, 0x00, 0x41, 0x3C};
    assert_memory_equal(m.data, want, sizeof want);
    assert_int_equal(wire_stats(*state)->fast_done, 1);
    assert_int_equal(wire_stats(*state)->fast_lost, 0);
}

static void fast__a_frame_lost__packet_is_lost_once_and_the_next_is_whole(void **state)
{
    for (int missing = 0; missing < 4; missing++) {
        struct wire *w = make_wire();
        struct message m;
        for (int i = 0; i < 4; i++)
            if (i != missing)
                assert_false(feed(w, dynamic[i], i, &m));
        int done = 0;
        for (int i = 0; i < 4; i++)
            done += feed(w, dynamic[i], 500 + i, &m);
        assert_int_equal(done, 1);
        assert_int_equal(wire_stats(w)->fast_lost, 1);
        assert_int_equal(wire_stats(w)->fast_done, 1);
        wire_free(w);
    }
    (void)state;
}

static void fast__frames_doubled__are_taken_once(void **state)
{
    struct message m;
    int done = 0;
    for (int i = 0; i < 4; i++) {
        done += feed(*state, dynamic[i], 2 * i, &m);
        if (i < 3)
            done += feed(*state, dynamic[i], 2 * i + 1, &m);
    }
    assert_int_equal(done, 1);
    assert_int_equal(m.len, 26);
    assert_int_equal(wire_stats(*state)->doubled, 3);
    assert_int_equal(wire_stats(*state)->fast_lost, 0);
}

static void fast__out_of_order__is_given_up(void **state)
{
    struct message m;
    static const int order[] = {0, 2, 1, 3};
    for (int i = 0; i < 4; i++)
        assert_false(feed(*state, dynamic[order[i]], i, &m));
    assert_int_equal(wire_stats(*state)->fast_lost, 1);
    assert_int_equal(wire_stats(*state)->fast_done, 0);
}

static void fast__stands_still__times_out(void **state)
{
    struct message m;
    feed(*state, dynamic[0], 0, &m);
    feed(*state, dynamic[1], 750, &m); /* just in time */
    feed(*state, dynamic[2], 1501, &m);
    assert_false(feed(*state, dynamic[3], 1502, &m));
    assert_int_equal(wire_stats(*state)->timeouts, 1);
    assert_int_equal(wire_stats(*state)->fast_lost, 2); /* and the rest without a beginning */
}

static void fast__senders_sequences_and_interfaces_interleave__all_whole(void **state)
{
    struct message m;
    int done = 0;
    for (int i = 0; i < 4; i++)
        for (int who = 0; who < 3; who++) {
            struct frame f = frame_of(dynamic[i], i);
            if (who == 1)
                f.id = 0x09F20121; /* another source */
            if (who == 2)
                f.iface = 1;
            f.data[2] = i == 0 ? (uint8_t)who : f.data[2]; /* instance */
            if (wire_frame(*state, &f, &m)) {
                assert_int_equal(m.data[0], who);
                assert_int_equal(m.source, who == 1 ? 0x21 : 0x20);
                assert_int_equal(m.iface, who == 2 ? 1 : 0);
                done++;
            }
        }
    assert_int_equal(done, 3);
    done = 0;
    for (int i = 0; i < 4; i++) /* one sender, two packets under way */
        for (int sequence = 0; sequence < 2; sequence++) {
            struct frame f = frame_of(dynamic[i], 10 + i);
            f.data[0] = (uint8_t)(sequence << 5 | i);
            done += wire_frame(*state, &f, &m);
        }
    assert_int_equal(done, 2);
    assert_int_equal(wire_stats(*state)->fast_lost, 0);
}

static void fast__lengths__223_taken_224_oversize_0_refused(void **state)
{
    struct message m;
    struct frame f = frame_of("09F01420#00DF000102030405", 0); /* 126996, longest */
    bool done = wire_frame(*state, &f, &m);
    for (int i = 1; i < 32; i++) {
        assert_false(done);
        f = frame_of("09F01420#0000000000000000", i);
        f.data[0] = (uint8_t)i;
        memset(f.data + 1, i, 7);
        done = wire_frame(*state, &f, &m);
    }
    assert_true(done); /* 6 + 31 * 7 = 223 */
    assert_int_equal(m.len, 223);
    assert_int_equal(m.data[5], 5);
    assert_int_equal(m.data[222], 31);
    assert_false(feed(*state, "09F01420#20E0000102030405", 100, &m));
    assert_int_equal(wire_stats(*state)->oversize, 1);
    assert_false(feed(*state, "09F01420#4000", 101, &m));
    assert_int_equal(wire_stats(*state)->fast_lost, 1);
}

static void fast__short_packet_or_frame(void **state)
{
    struct message m;
    assert_true(feed(*state, "09F20920#0002AABBFFFFFFFF", 0, &m)); /* whole in one frame */
    assert_int_equal(m.len, 2);
    assert_true(feed(*state, "09F20920#2002AABB", 1, &m)); /* without padding */
    assert_int_equal(m.len, 2);
    assert_false(feed(*state, "09F20920#4009AABB", 2, &m)); /* its first frame cut */
    assert_false(feed(*state, "09F20920#60", 3, &m));
    assert_false(feed(*state, "09F20920#", 4, &m));
    assert_int_equal(wire_stats(*state)->fast_lost, 2);
}

static void fast__more_than_the_pool_holds__oldest_gives_way(void **state)
{
    struct message m;
    for (int source = 0; source < 250; source++)
        for (int sequence = 0; sequence < 8; sequence++) {
            struct frame f = frame_of(dynamic[0], source);
            f.id = 0x09F20100U | (uint32_t)source;
            f.data[0] = (uint8_t)(sequence << 5);
            assert_false(wire_frame(*state, &f, &m));
        }
    assert_int_equal(wire_stats(*state)->evicted, 250 * 4); /* eight less four, of each sender */
    int done = 0;                                           /* the latest one is still there */
    for (int i = 1; i < 4; i++) {
        struct frame f = frame_of(dynamic[i], 251);
        f.id = 0x09F20100U | 249;
        f.data[0] = (uint8_t)(7 << 5 | i);
        done += wire_frame(*state, &f, &m);
    }
    assert_int_equal(done, 1);
}

/* All that may be on one bus, each with four packets under way at once, a frame of each in turn. */
static void fast__253_senders_at_once__none_is_lost(void **state)
{
    static const uint32_t ids[] = {0x09F20100, 0x19F20F00, 0x19F21000, 0x19F21300};
    struct message m;
    int done = 0;
    for (int i = 0; i < 4; i++)
        for (unsigned source = 0; source < 253; source++)
            for (int k = 0; k < 4; k++) {
                struct frame f = frame_of(dynamic[i], i);
                f.id = ids[k] | source;
                done += wire_frame(*state, &f, &m);
            }
    assert_int_equal(done, 4 * 253);
    assert_int_equal(wire_stats(*state)->fast_lost, 0);
}

static void fast__gap_in_the_record__forgets_what_was_under_way(void **state)
{
    struct message m;
    for (int i = 0; i < 3; i++)
        feed(*state, dynamic[i], i, &m);
    struct frame f = frame_of(dynamic[3], 3);
    f.flags |= FRAME_GAP;
    assert_false(wire_frame(*state, &f, &m));
}

/* can-utils kick-start guide: 20 bytes 0123456789ABCDEF0123... as PGN 0x12300 from 0x80. The PGN
 * is not in the catalogue, so all are wanted. */
static const uint8_t kick_start[20] = {0x01, 0x23, 0x45, 0x67, 0x89, 0xAB, 0xCD, 0xEF, 0x01, 0x23,
                                       0x45, 0x67, 0x89, 0xAB, 0xCD, 0xEF, 0x01, 0x23, 0x45, 0x67};
static const char *const bam[] = {"18ECFF80#20140003FF002301", "18EBFF80#010123456789ABCD",
                                  "18EBFF80#02EF0123456789AB", "18EBFF80#03CDEF01234567FF"};

static void tp__announced_to_all__is_put_together(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    for (int i = 0; i < 3; i++)
        assert_false(feed(*state, bam[i], 50 * i, &m));
    assert_true(feed(*state, bam[3], 150, &m));
    assert_int_equal(m.pgn, 0x12300);
    assert_int_equal(m.source, 0x80);
    assert_int_equal(m.destination, 255);
    assert_int_equal(m.len, 20);
    assert_int_equal(m.multi, 2);
    assert_memory_equal(m.data, kick_start, 20);
    assert_int_equal(m.at.mono_ns, 150000000);
}

static void tp__unknown_pgn__is_not_handed_out(void **state)
{
    struct message m;
    for (int i = 0; i < 4; i++)
        assert_false(feed(*state, bam[i], i, &m));
    assert_int_equal(wire_stats(*state)->tp_done, 1);
}

static void tp__connection_overheard__is_put_together(void **state)
{
    /* The guide prints the end-of-message frame with the sender's address; the receiver sends it.
     */
    static const char *const rts[] = {"18EC9080#1014000303002301", "18EC8090#110301FFFF002301",
                                      "18EB9080#010123456789ABCD", "18EB9080#02EF0123456789AB",
                                      "18EB9080#03CDEF01234567FF"};
    struct message m;
    wire_want_all(*state, true);
    for (int i = 0; i < 4; i++)
        assert_false(feed(*state, rts[i], i, &m));
    assert_true(feed(*state, rts[4], 4, &m));
    assert_int_equal(m.destination, 0x90);
    assert_int_equal(m.len, 20);
    assert_memory_equal(m.data, kick_start, 20);
    assert_false(feed(*state, "18EC8090#13140003FF002301", 5, &m));
    assert_int_equal(wire_stats(*state)->tp_done, 1);
    assert_int_equal(wire_stats(*state)->tp_lost, 0);
}

static void tp__python_can_j1939_example__pgn_65200(void **state)
{
    static const char *const frames[] = {"00ECFF01#20140003FFB0FE00", "00EBFF01#0101020304050607",
                                         "00EBFF01#0201020304050607", "00EBFF01#03010203040506FF"};
    struct message m;
    bool done = false;
    wire_want_all(*state, true);
    for (int i = 0; i < 4; i++)
        done = feed(*state, frames[i], i, &m);
    assert_true(done);
    assert_int_equal(m.pgn, 65200);
    assert_int_equal(m.len, 20);
}

static void tp__priority_7__is_taken(void **state)
{
    /* AgIsoStack++ sends these at priority 7 (id 1CECABAA), the kernel at 6. */
    struct message m;
    wire_want_all(*state, true);
    bool done = false;
    for (int i = 0; i < 4; i++) {
        struct frame f = frame_of(bam[i], i);
        f.id |= UINT32_C(7) << 26;
        done = wire_frame(*state, &f, &m);
    }
    assert_true(done);
}

static void tp__packet_lost__transfer_is_lost_and_the_next_is_whole(void **state)
{
    (void)state;
    for (int missing = 0; missing < 4; missing++) {
        struct wire *w = make_wire();
        struct message m;
        wire_want_all(w, true);
        int done = 0;
        for (int i = 0; i < 4; i++)
            if (i != missing)
                done += feed(w, bam[i], i, &m);
        for (int i = 0; i < 4; i++)
            done += feed(w, bam[i], 100 + i, &m);
        assert_int_equal(done, 1);
        assert_int_equal(wire_stats(w)->tp_lost, 1);
        assert_int_equal(wire_stats(w)->tp_done, 1);
        wire_free(w);
    }
}

static void tp__packets_doubled_and_out_of_order(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    static const int doubled[] = {0, 0, 1, 1, 2, 2, 3};
    int done = 0;
    for (size_t i = 0; i < 7; i++)
        done += feed(*state, bam[doubled[i]], (int64_t)i, &m);
    assert_int_equal(done, 1);
    assert_memory_equal(m.data, kick_start, 20);
    assert_int_equal(wire_stats(*state)->doubled, 3);
    static const int swapped[] = {0, 2, 1, 3};
    for (size_t i = 0; i < 4; i++)
        done += feed(*state, bam[swapped[i]], 100 + (int64_t)i, &m);
    assert_int_equal(done, 1);
    assert_true(wire_stats(*state)->tp_lost >= 1);
}

static void tp__connection_repeats_a_packet__is_whole(void **state)
{
    static const char *const frames[] = {
        "18EC9080#1014000303002301", "18EC8090#110301FFFF002301", "18EB9080#010123456789ABCD",
        "18EB9080#03CDEF01234567FF", /* packet 2 was not heard here or there */
        "18EC8090#110202FFFF002301", "18EB9080#02EF0123456789AB", "18EB9080#03CDEF01234567FF"};
    struct message m;
    wire_want_all(*state, true);
    bool done = false;
    for (int i = 0; i < 7; i++)
        done = feed(*state, frames[i], i * 10, &m);
    assert_true(done);
    assert_memory_equal(m.data, kick_start, 20);
    assert_int_equal(wire_stats(*state)->tp_lost, 0);
}

static void tp__receiver_is_further_than_we_are__is_lost(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    feed(*state, "18EC9080#1014000303002301", 0, &m);
    feed(*state, "18EC8090#110101FFFF002301", 1, &m);
    feed(*state, "18EC8090#110202FFFF002301", 2, &m); /* it has packet 1 */
    assert_false(feed(*state, "18EB9080#02EF0123456789AB", 3, &m));
    assert_int_equal(wire_stats(*state)->tp_lost, 1);
}

static void tp__aborted__by_either_side(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    feed(*state, "18EC9080#1014000303002301", 0, &m);
    feed(*state, "18EC8090#FF01FFFFFF002301", 1, &m); /* the receiver: busy */
    feed(*state, "18EC9080#1014000303002301", 2, &m);
    feed(*state, "18EC9080#FF03FFFFFF002301", 3, &m); /* the sender: time-out */
    assert_false(feed(*state, "18EB9080#010123456789ABCD", 4, &m));
    assert_int_equal(wire_stats(*state)->tp_aborted, 2);
}

/* What follows an abort is of no transfer, though it be every packet of it. */
static void tp__aborted__its_other_packets_make_no_message(void **state)
{
    static const char *const data[] = {"18EB9080#010123456789ABCD", "18EB9080#02EF0123456789AB",
                                       "18EB9080#03CDEF01234567FF"};
    struct message m;
    wire_want_all(*state, true);
    feed(*state, "18EC9080#1014000303002301", 0, &m);
    feed(*state, "18EC8090#FF01FFFFFF002301", 1, &m);
    for (int i = 0; i < 3; i++)
        assert_false(feed(*state, data[i], 2 + i, &m));
    assert_int_equal(wire_stats(*state)->tp_done, 0);
}

/* A gap in the record forgets a transfer that was under way; one on another interface is another.
 */
static void tp__gap_or_another_interface__is_not_the_same_transfer(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    for (int i = 0; i < 3; i++)
        feed(*state, bam[i], i, &m);
    struct frame f = frame_of(bam[3], 3);
    f.flags |= FRAME_GAP;
    assert_false(wire_frame(*state, &f, &m));
    int done = 0;
    for (int i = 0; i < 4; i++)
        for (uint8_t iface = 0; iface < 3; iface++) {
            f = frame_of(bam[i], 100 + i);
            f.iface = iface;
            if (i == 1)
                f.data[1] = iface;
            if (!wire_frame(*state, &f, &m))
                continue;
            assert_int_equal(m.iface, iface);
            assert_int_equal(m.data[0], iface);
            done++;
        }
    assert_int_equal(done, 3);
}

static void tp__pauses__bam_750_ms_connection_1250_ms(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    static const int64_t in_time[] = {0, 750, 1500, 2250}, late[] = {5000, 5750, 6501, 6502};
    bool done = false;
    for (int i = 0; i < 4; i++)
        done = feed(*state, bam[i], in_time[i], &m);
    assert_true(done);
    for (int i = 0; i < 4; i++)
        assert_false(feed(*state, bam[i], late[i], &m));
    assert_int_equal(wire_stats(*state)->timeouts, 1);
    feed(*state, "18EC9080#1014000303002301", 10000, &m);
    feed(*state, "18EC8090#110301FFFF002301", 11250, &m);
    feed(*state, "18EB9080#010123456789ABCD", 12500, &m);
    feed(*state, "18EB9080#02EF0123456789AB", 12550, &m);
    assert_true(feed(*state, "18EB9080#03CDEF01234567FF", 12600, &m));
}

static void tp__two_senders_interleave__both_whole(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    int done = 0;
    for (int i = 0; i < 4; i++)
        for (uint32_t source = 0x80; source < 0x84; source++) {
            struct frame f = frame_of(bam[i], i);
            f.id = (f.id & ~UINT32_C(0xFF)) | source;
            if (wire_frame(*state, &f, &m)) {
                assert_int_equal(m.source, source);
                assert_memory_equal(m.data, kick_start, 20);
                done++;
            }
        }
    assert_int_equal(done, 4);
}

static void tp__sizes__1785_taken_more_is_oversize(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    bool done = feed(*state, "18ECFF80#20F906FFFF002301", 0, &m);
    for (int i = 1; i <= 255; i++) {
        assert_false(done);
        struct frame f = frame_of("18EBFF80#0000000000000000", i);
        f.data[0] = (uint8_t)i;
        memset(f.data + 1, i, 7);
        done = wire_frame(*state, &f, &m);
    }
    assert_true(done);
    assert_int_equal(m.len, MESSAGE_MAX);
    assert_int_equal(m.data[1784], 255);
    assert_false(feed(*state, "18ECFF80#20FA06FFFF002301", 300, &m));
    assert_int_equal(wire_stats(*state)->oversize, 1);
    assert_false(feed(*state, "18ECFF80#20140002FF002301", 301, &m)); /* 20 bytes are 3 packets */
    assert_false(feed(*state, "18ECFF80#20000000FF002301", 302, &m));
    assert_int_equal(wire_stats(*state)->tp_lost, 2);
}

static void tp__253_senders_at_once__none_is_lost(void **state)
{
    struct message m;
    int done = 0;
    wire_want_all(*state, true);
    for (int i = 0; i < 4; i++)
        for (uint32_t source = 0; source < 253; source++) {
            struct frame f = frame_of(bam[i], 10 * i);
            f.id = (f.id & ~UINT32_C(0xFF)) | source;
            done += wire_frame(*state, &f, &m);
        }
    assert_int_equal(done, 253);
    assert_int_equal(wire_stats(*state)->tp_lost, 0);
}

/* One sender, to so many others at once: an announcement to each. */
static void tp__more_than_the_pool_holds__oldest_gives_way(void **state)
{
    struct message m;
    wire_want_all(*state, true);
    for (uint32_t to = 0; to < 100; to++) {
        struct frame f = frame_of("18EC0080#10140003FF002301", to);
        f.id |= to << 8;
        assert_false(wire_frame(*state, &f, &m));
    }
    assert_int_equal(wire_stats(*state)->evicted, 96); /* 100 less 4 */
    int done = 0;
    for (int i = 1; i < 4; i++) {
        struct frame f = frame_of(bam[i], 100);
        f.id = 0x18EB0080 | 99 << 8;
        done += wire_frame(*state, &f, &m);
    }
    assert_int_equal(done, 1);
}

static void feed_prefix(void *ctx, const void *data, size_t len)
{
    (void)ctx;
    const uint8_t *d = data;
    struct wire *w = make_wire();
    struct message m;
    for (size_t at = 0; at < len; at += 13) {
        struct frame f = {.flags = FRAME_EXTENDED};
        uint8_t part[13] = {0};
        memcpy(part, d + at, len - at < 13 ? len - at : 13);
        f.id = (uint32_t)(part[0] << 24 | part[1] << 16 | part[2] << 8 | part[3]);
        f.len = part[4];
        memcpy(f.data, part + 5, 8);
        if (wire_frame(w, &f, &m))
            assert_true(m.len <= MESSAGE_MAX);
    }
    wire_free(w);
}

static void frames__every_prefix__does_no_harm(void **state)
{
    (void)state;
    uint8_t bytes[13 * 12];
    size_t n = 0;
    const char *const *sets[] = {dynamic, bam};
    for (int again = 0; again < 3; again++)
        for (int i = 0; i < 4; i++) {
            struct frame f = frame_of(sets[again % 2][i], 0);
            uint8_t head[5] = {(uint8_t)(f.id >> 24), (uint8_t)(f.id >> 16), (uint8_t)(f.id >> 8),
                               (uint8_t)f.id, f.len};
            memcpy(bytes + n, head, 5);
            memcpy(bytes + n + 5, f.data, 8);
            n += 13;
        }
    for_every_prefix(bytes, n, feed_prefix, NULL);
}

#define WITH_WIRE(f) cmocka_unit_test_setup_teardown(f, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(id__published_examples__split_and_joined),
        WITH_WIRE(single__known_pgn__is_a_message),
        WITH_WIRE(single__unknown_pgn__only_when_all_are_wanted),
        WITH_WIRE(frame__not_29_bit_data__is_ignored),
        WITH_WIRE(fast__in_order__is_put_together),
        WITH_WIRE(fast__a_frame_lost__packet_is_lost_once_and_the_next_is_whole),
        WITH_WIRE(fast__frames_doubled__are_taken_once),
        WITH_WIRE(fast__out_of_order__is_given_up),
        WITH_WIRE(fast__stands_still__times_out),
        WITH_WIRE(fast__senders_sequences_and_interfaces_interleave__all_whole),
        WITH_WIRE(fast__lengths__223_taken_224_oversize_0_refused),
        WITH_WIRE(fast__short_packet_or_frame),
        WITH_WIRE(fast__253_senders_at_once__none_is_lost),
        WITH_WIRE(tp__253_senders_at_once__none_is_lost),
        WITH_WIRE(fast__more_than_the_pool_holds__oldest_gives_way),
        WITH_WIRE(fast__gap_in_the_record__forgets_what_was_under_way),
        WITH_WIRE(tp__announced_to_all__is_put_together),
        WITH_WIRE(tp__unknown_pgn__is_not_handed_out),
        WITH_WIRE(tp__connection_overheard__is_put_together),
        WITH_WIRE(tp__python_can_j1939_example__pgn_65200),
        WITH_WIRE(tp__priority_7__is_taken),
        cmocka_unit_test(tp__packet_lost__transfer_is_lost_and_the_next_is_whole),
        WITH_WIRE(tp__packets_doubled_and_out_of_order),
        WITH_WIRE(tp__connection_repeats_a_packet__is_whole),
        WITH_WIRE(tp__receiver_is_further_than_we_are__is_lost),
        WITH_WIRE(tp__aborted__by_either_side),
        WITH_WIRE(tp__aborted__its_other_packets_make_no_message),
        WITH_WIRE(tp__gap_or_another_interface__is_not_the_same_transfer),
        WITH_WIRE(tp__pauses__bam_750_ms_connection_1250_ms),
        WITH_WIRE(tp__two_senders_interleave__both_whole),
        WITH_WIRE(tp__sizes__1785_taken_more_is_oversize),
        WITH_WIRE(tp__more_than_the_pool_holds__oldest_gives_way),
        cmocka_unit_test(frames__every_prefix__does_no_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
