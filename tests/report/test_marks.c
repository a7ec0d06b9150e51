/* Marks: what is kept beside a log is found again, wherever it belongs; what is wrong names its
 * line. */
#include "report/papers/marks.h"

#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define AT INT64_C(1777903927250) * NS_PER_MS /* 2026-05-04T14:12:07.250Z, by date(1) */

static const char *contents(const char *path)
{
    static char text[2000];
    FILE *f = fopen(path, "r");

    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    return text;
}

static const char *fresh(const char *name)
{
    const char *path = program_file(name, "");

    unlink(path);
    return path;
}

static void kept__begins_with_its_name_and_version_and_is_read_again(void **state)
{
    const char *path = fresh("trip.log.marks");
    struct marks m = {0};
    struct err e;

    (void)state;
    assert_true(marks_append(path, &(struct mark){AT, "smell of rubber"}, &e));
    assert_true(marks_append(path, &(struct mark){AT - NS_PER_S, ""}, &e));
    assert_string_equal(contents(path), "# stokehold marks 1\n"
                                        "2026-05-04T14:12:07.250Z smell of rubber\n"
                                        "2026-05-04T14:12:06.250Z\n");
    assert_true(marks_read(path, &m, &e));
    assert_int_equal(m.count, 2);
    assert_true(m.mark[0].wall_ns == AT - NS_PER_S);
    assert_string_equal(m.mark[0].words, "");
    assert_true(m.mark[1].wall_ns == AT);
    assert_string_equal(m.mark[1].words, "smell of rubber");
}

static void torn_line__does_not_join_the_next_mark(void **state)
{
    const char *path = program_file("torn.marks", "# stokehold marks 1\n2026-05-04T14:12:07Z hel");
    struct marks m = {0};
    struct err e;

    (void)state;
    assert_true(marks_append(path, &(struct mark){AT, "after"}, &e));
    assert_true(marks_read(path, &m, &e));
    assert_int_equal(m.count, 2);
    assert_string_equal(m.mark[0].words, "hel");
    assert_string_equal(m.mark[1].words, "after");
}

static void wrong__names_file_and_line(void **state)
{
    static const struct {
        const char *text, *said;
    } wrong[] = {
        {"# stokehold marks 1\n\n14:12 helm\n", ":3: no time such as"},
        {"# stokehold marks 1\n+02:00 helm\n", ":2: no time such as"},
        {"# stokehold marks 2\n", ":1: of a later version"},
        {"# stokehold marks\n", ":1: a file of another kind"},
        {"# stokehold season 1\n", ":1: a file of another kind"},
    };
    struct marks m = {0};
    struct err e;

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        const char *path = program_file("wrong.marks", wrong[i].text);

        assert_false(marks_read(path, &m, &e));
        assert_memory_equal(e.text, path, strlen(path));
        assert_non_null(strstr(e.text, wrong[i].said));
    }
    assert_false(marks_append("/nonexistent/x.marks", &(struct mark){AT, ""}, &e));
    assert_non_null(strstr(e.text, "/nonexistent/x.marks"));
}

static void file_of_hand__other_forms_of_time_and_escapes(void **state)
{
    struct marks m = {0};
    struct err e;

    (void)state;
    assert_true(marks_read(program_file("hand.marks", "2026-05-04T16:12:07.25+02:00\t a \033[31mb\n"
                                                      "# a remark\n1777903927.25 c\n"),
                           &m, &e));
    assert_int_equal(m.count, 2);
    assert_true(m.mark[0].wall_ns == AT && m.mark[1].wall_ns == AT);
    assert_string_equal(m.mark[0].words, "a ?[31mb");
    assert_string_equal(m.mark[1].words, "c");
}

static void all__of_a_log_of_a_record_and_of_a_directory(void **state)
{
    char dir[PROGRAM_PATH], path[PROGRAM_PATH + 40];
    struct marks m = {0}, hour = {0}, none = {0};
    struct err e;

    (void)state;
    snprintf(dir, sizeof dir, "%s/monday", program_scratch());
    mkdir(dir, 0700);
    assert_true(marks_of_record(path, sizeof path, dir));
    assert_true(marks_append(path, &(struct mark){AT, "of the record"}, &e));
    snprintf(path, sizeof path, "%s/trip.log.marks", dir);
    assert_true(marks_append(path, &(struct mark){AT + 1 * NS_PER_S, "of the trip"}, &e));
    snprintf(path, sizeof path, "%s/other.log.marks", dir);
    assert_true(marks_append(path, &(struct mark){AT + 2 * NS_PER_S, "of another"}, &e));

    assert_true(marks_read_all(dir, &m, &e));
    assert_int_equal(m.count, 3);
    assert_string_equal(m.mark[0].words, "of the record");
    assert_string_equal(m.mark[2].words, "of another");
    snprintf(path, sizeof path, "%s/trip.log", dir);
    assert_true(marks_read_all(path, &hour, &e));
    assert_int_equal(hour.count, 2);
    assert_string_equal(hour.mark[1].words, "of the trip");
    assert_true(marks_read_all("-", &none, &e));
    assert_true(marks_read_all("/nonexistent/trip.log", &none, &e));
    assert_int_equal(none.count, 0);
}

static void full__is_counted_not_kept(void **state)
{
    static struct marks m;

    (void)state;
    for (int i = 0; i < MARKS_MAX; i++)
        assert_true(marks_add(&m, -i, "x"));
    assert_false(marks_add(&m, 5, "one too many"));
    assert_int_equal(m.count, MARKS_MAX);
    assert_int_equal(m.lost, 1);
    assert_true(m.mark[0].wall_ns == 1 - MARKS_MAX && m.mark[MARKS_MAX - 1].wall_ns == 0);
}

/* Times as date(1) has them, to the millisecond that has begun; before 1970 too. */
static void line__time_to_the_millisecond(void **state)
{
    static const struct {
        int64_t wall_ns;
        const char *words, *line;
    } rows[] = {
        {INT64_C(1777903200) * NS_PER_S, "buoy 3", "2026-05-04T14:00:00.000Z buoy 3\n"},
        {INT64_C(1777903200) * NS_PER_S - 1, "", "2026-05-04T13:59:59.999Z\n"},
        {INT64_C(1777903200) * NS_PER_S + 1, "", "2026-05-04T14:00:00.000Z\n"},
        {AT + 999999, "x", "2026-05-04T14:12:07.250Z x\n"},
        {0, "", "1970-01-01T00:00:00.000Z\n"},
        {-1, "", "1969-12-31T23:59:59.999Z\n"},
        {-NS_PER_S, "", "1969-12-31T23:59:59.000Z\n"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct mark k = {.wall_ns = rows[i].wall_ns};
        char line[80];

        snprintf(k.words, sizeof k.words, "%s", rows[i].words);
        marks_format(line, sizeof line, &k);
        assert_string_equal(line, rows[i].line);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kept__begins_with_its_name_and_version_and_is_read_again),
        cmocka_unit_test(torn_line__does_not_join_the_next_mark),
        cmocka_unit_test(wrong__names_file_and_line),
        cmocka_unit_test(file_of_hand__other_forms_of_time_and_escapes),
        cmocka_unit_test(all__of_a_log_of_a_record_and_of_a_directory),
        cmocka_unit_test(line__time_to_the_millisecond),
        cmocka_unit_test(full__is_counted_not_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
