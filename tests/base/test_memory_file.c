/* A stream into memory: all of it or nothing. */
#include "base/memory_file.h"
#include "support/check.h"

#include <stdlib.h>
#include <string.h>

static void memory_file__written_in_parts__gives_the_whole(void **state)
{
    (void)state;
    struct memory_file m;
    size_t len = 0;
    assert_true(memory_file_open(&m));
    for (int i = 0; i < 20000; i++)
        fprintf(m.out, "%05d\n", i);
    char *text = memory_file_close(&m, &len);
    assert_non_null(text);
    assert_int_equal(len, 120000);
    assert_int_equal(strlen(text), len);
    for (int i = 0; i < 20000; i++)
        assert_int_equal(strtol(text + 6 * i, NULL, 10), i);
    free(text);
}

static void memory_file__nothing_written__is_empty_text(void **state)
{
    (void)state;
    struct memory_file m;
    size_t len = 1;
    assert_true(memory_file_open(&m));
    char *text = memory_file_close(&m, &len);
    assert_non_null(text);
    assert_int_equal(len, 0);
    assert_string_equal(text, "");
    free(text);
}

/* What has no room is lost, and what came after it does not make up for it. */
static void memory_file__no_room_in_the_middle__gives_nothing(void **state)
{
    (void)state;
    struct memory_file m;
    size_t len = 0;
    assert_true(memory_file_open(&m));
    fputs("begin", m.out);
    fflush(m.out);
    m.len += MEMORY_FILE_MOST; /* as if so much had been written */
    fputs("middle", m.out);
    fflush(m.out);
    m.len -= MEMORY_FILE_MOST;
    fputs("end", m.out);
    assert_null(memory_file_close(&m, &len));
}

static void memory_file__no_room_at_the_very_end__gives_nothing(void **state)
{
    (void)state;
    struct memory_file m;
    size_t len = 0;
    assert_true(memory_file_open(&m));
    fputs("still in the stream's buffer", m.out);
    m.len += MEMORY_FILE_MOST;
    assert_null(memory_file_close(&m, &len));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_file__written_in_parts__gives_the_whole),
        cmocka_unit_test(memory_file__nothing_written__is_empty_text),
        cmocka_unit_test(memory_file__no_room_in_the_middle__gives_nothing),
        cmocka_unit_test(memory_file__no_room_at_the_very_end__gives_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
