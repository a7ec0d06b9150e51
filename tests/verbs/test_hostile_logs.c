/* Logs that are not what they should be, through every verb that reads one: each says so, none
 * falls over. Packed by libzstd, the reference implementation. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#ifdef WITH_ZSTD
#include <zstd.h>
#endif

static const char *const verbs[] = {
    "export", "sift",       "sift --json",       "muster",
    "trial",  "tend --utc", "watch --speed max", "watch --once --speed max",
};
#define VERBS (sizeof verbs / sizeof *verbs)

static struct outcome on(const char *verb, const char *name, bool piped)
{
    char arguments[300];
    snprintf(arguments, sizeof arguments, piped ? "%s - < %s/%s" : "%s %s/%s", verb,
             program_scratch(), name);
    return program_run(arguments, NULL);
}

static void write_scratch(const char *name, const void *data, size_t len)
{
    char path[200];
    snprintf(path, sizeof path, "%s/%s", program_scratch(), name);
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    assert_int_equal(fwrite(data, 1, len, f), len);
    assert_int_equal(fclose(f), 0);
}

static void check_said(const struct outcome *o, const char *verb, const char *words)
{
    if (o->status > 3 || !strstr(o->err, words) || strchr(o->err, 27) || strchr(o->out, 27))
        fail_msg("%s: status %d, said: %s", verb, o->status, o->err);
}

static void long_can_fd_frames__every_verb__says_that_data_is_missing(void **state)
{
    (void)state;
    char text[400] = "(1760000000.000000) can0 18FEF121##1";
    for (int i = 0; i < 64; i++)
        strcat(text, "5A");
    strcat(text, "\n(1760000000.100000) can0 123##10102\n");
    write_scratch("fd.log", text, strlen(text));
    for (size_t v = 0; v < VERBS; v++) {
        struct outcome o = on(verbs[v], "fd.log", false);
        check_said(&o, verbs[v],
                   "fd.log: 1 CAN FD frame longer than 8 bytes: the rest is not kept");
        outcome_free(&o);
    }
}

#ifdef WITH_ZSTD
/* The first 200 kB of a trip, packed. The caller frees. */
static char *packed_log(size_t *len)
{
    char path[PROGRAM_PATH];
    assert_int_equal(program_drill(path, "whole.log", "--fault none --minutes 5 --seed 4"), 0);
    size_t room = 200000, n;
    char *text = malloc(room), *packed = malloc(room);
    FILE *f = fopen(path, "rb");
    assert_non_null(f);
    n = fread(text, 1, room, f);
    fclose(f);
    *len = ZSTD_compress(packed, room, text, n, 3);
    assert_false(ZSTD_isError(*len));
    free(text);
    return packed;
}

/* Cut in the frame header, in a block's header, in blocks and in the checksum's place. */
static void packed_log__cut_anywhere__every_verb_says_so(void **state)
{
    (void)state;
    size_t len;
    char *packed = packed_log(&len);
    size_t cuts[] = {4, 5, 9, 13, 100, len / 3, len / 2, len - 100, len - 1};
    for (size_t i = 0; i < sizeof cuts / sizeof *cuts; i++) {
        write_scratch("cut.zst", packed, cuts[i]);
        for (size_t v = 0; v < VERBS; v++) {
            struct outcome o = on(verbs[v], "cut.zst", (i + v) % 2);
            check_said(&o, verbs[v], ": the packed data is cut short\n");
            assert_null(strstr(o.err, ":0:")); /* no line has that number */
            outcome_free(&o);
        }
    }
    free(packed);
}

/* Bytes turned over in the middle: noise, a wrong length, a wrong block. */
static void packed_log__damaged__every_verb_lives(void **state)
{
    (void)state;
    size_t len;
    char *packed = packed_log(&len);
    uint32_t random = 1;
    for (size_t i = 0; i < 4 * VERBS; i++) {
        random = random * 1664525u + 1013904223u;
        size_t at = 4 + (random >> 8) % (len - 4);
        char was = packed[at];
        packed[at] = (char)(was ^ (char)(1 + random % 255));
        write_scratch("bad.zst", packed, len);
        struct outcome o = on(verbs[i % VERBS], "bad.zst", false);
        check_said(&o, verbs[i % VERBS], "");
        outcome_free(&o);
        packed[at] = was;
    }
    free(packed);
}
#endif

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(long_can_fd_frames__every_verb__says_that_data_is_missing),
#ifdef WITH_ZSTD
        cmocka_unit_test(packed_log__cut_anywhere__every_verb_says_so),
        cmocka_unit_test(packed_log__damaged__every_verb_lives),
#endif
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
