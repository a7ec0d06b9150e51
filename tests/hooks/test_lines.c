/* Lines of the state file and of the local socket: every field of an alert comes back as it was,
 * every field that is wrong makes the line wrong, and a line that does not fit is none. */
#include "hooks/lines.h"

#include "support/check.h"

#include "base/text.h"

#include <limits.h>
#include <stdio.h>

/* Every field differs from every other, and from what an empty alert has. */
static const struct alert full = {
    .id = 4000000001,
    .situation = {.group = SITUATION_REPORTED,
                  .iface = 3,
                  .source = 253,
                  .id = {QTY_COOLANT, 7, 2},
                  .code = 4123456789},
    .kind = KIND_REPORTED,
    .priority = PRIORITY_ALARM,
    .state = ALERT_ACKNOWLEDGED,
    .rule = "rule's name",
    .channel = "coolant.7",
    .value = 101.5,
    .unit = UNIT_C,
    .decimals = 4,
    .text = "PORT COOLANT 102 °C: stop",
    .what = "PORT COOLANT 102 °C",
    .action = "stop the engine",
    .trouble = (enum trouble)(TROUBLE_COUNT - 1),
    .steps = (enum trouble)1,
    .already = true,
    .stage = STAGE_CERTAIN,
    .engine = 6,
    .worst = 103.75,
    .worse = -1,
    .worst_at = {1001, 1002},
    .limit_passed = {1003, 1004},
    .beyond_ns = 1005,
    .stopped = {1006, 1007},
    .first = {1008, 1009},
    .raised = {1010, 1011},
    .changed = {1012, 1013},
    .rectified = {1014, 1015},
    .acknowledged = {1016, -1017},
    .active = true,
    .repeats = 4200000003,
    .figures = {1.5, 2.5, 3.5, 4.5, 5.5, 6.5, 7.5, 8.5, 9.5},
    .silent_until_ns = -1018,
};

static char *written(struct line *l, const struct alert *a)
{
    line_alert(l, "alert", a);
    assert_false(l->overflow);
    assert_int_equal(l->text[l->len - 1], '\n');
    assert_int_equal(l->text[l->len], '\0');
    l->text[l->len - 1] = '\0';
    return l->text;
}

static bool taken(char *line, struct alert *a)
{
    struct fields f;
    fields_begin(&f, line);
    assert_string_equal(fields_text(&f), "alert");
    return fields_alert(&f, a);
}

static void same_stamp(struct stamp a, struct stamp b)
{
    assert_true(a.wall_ns == b.wall_ns);
    assert_true(a.mono_ns == b.mono_ns);
}

static void same_up_to_the_text(const struct alert *a, const struct alert *b)
{
    assert_int_equal(a->id, b->id);
    assert_int_equal(a->situation.group, b->situation.group);
    assert_int_equal(a->situation.iface, b->situation.iface);
    assert_int_equal(a->situation.source, b->situation.source);
    assert_int_equal(a->situation.id.quantity, b->situation.id.quantity);
    assert_int_equal(a->situation.id.place, b->situation.id.place);
    assert_int_equal(a->situation.id.sub, b->situation.id.sub);
    assert_int_equal(a->situation.code, b->situation.code);
    assert_int_equal(a->kind, b->kind);
    assert_int_equal(a->priority, b->priority);
    assert_int_equal(a->state, b->state);
    assert_int_equal(a->active, b->active);
    assert_int_equal(a->repeats, b->repeats);
    assert_int_equal(a->unit, b->unit);
    assert_int_equal(a->decimals, b->decimals);
    same_stamp(a->raised, b->raised);
    same_stamp(a->changed, b->changed);
    same_stamp(a->rectified, b->rectified);
    same_stamp(a->acknowledged, b->acknowledged);
    assert_true(a->silent_until_ns == b->silent_until_ns);
    assert_near(a->value, b->value, 0);
    assert_near(a->figures.value, b->figures.value, 0);
    assert_near(a->figures.expected, b->figures.expected, 0);
    assert_near(a->figures.allowance, b->figures.allowance, 0);
    assert_near(a->figures.noise, b->figures.noise, 0);
    assert_near(a->figures.statistic, b->figures.statistic, 0);
    assert_near(a->figures.threshold, b->figures.threshold, 0);
    assert_near(a->figures.rate_per_min, b->figures.rate_per_min, 0);
    assert_near(a->figures.seconds_to_limit, b->figures.seconds_to_limit, 0);
    assert_near(a->figures.limit, b->figures.limit, 0);
    assert_string_equal(a->rule, b->rule);
    assert_string_equal(a->channel, b->channel);
    assert_string_equal(a->text, b->text);
}

static void alert__every_field__comes_back(void **state)
{
    (void)state;
    struct line l;
    struct alert a;
    assert_true(taken(written(&l, &full), &a));
    same_up_to_the_text(&a, &full);
    assert_int_equal(a.trouble, full.trouble);
    assert_int_equal(a.stage, full.stage);
    assert_int_equal(a.engine, full.engine);
    assert_int_equal(a.worse, full.worse);
    assert_near(a.worst, full.worst, 0);
    same_stamp(a.worst_at, full.worst_at);
    same_stamp(a.limit_passed, full.limit_passed);
    assert_true(a.beyond_ns == full.beyond_ns);
    same_stamp(a.stopped, full.stopped);
    same_stamp(a.first, full.first);
    assert_string_equal(a.what, full.what);
    assert_string_equal(a.action, full.action);
    assert_int_equal(a.steps, full.steps);
    assert_true(a.already);
}

/* A file of an older version stays readable, so the order of the fields may never change. */
static void alert__as_a_line__has_its_fields_in_this_order(void **state)
{
    (void)state;
    struct line l;
    char want[LINE_SIZE];
    text_format(
        want, sizeof want,
        "alert\t4000000001\t%d\t3\t253\t%d\t7\t2\t4123456789\t%d\t%d\t3\t1\t4200000003\t%d\t4"
        "\t1010\t1011\t1012\t1013\t1014\t1015\t1016\t-1017\t-1018\t101.5\t1.5\t2.5\t3.5"
        "\t4.5\t5.5\t6.5\t7.5\t8.5\t9.5\trule's name\tcoolant.7"
        "\tPORT COOLANT 102 °C: stop\t%d\t%d\t6\t-1\t103.75\t1001\t1002\t1003\t1004\t1005"
        "\t1006\t1007\t1008\t1009\tPORT COOLANT 102 °C\tstop the engine\t1\t1",
        (int)SITUATION_REPORTED, (int)QTY_COOLANT, (int)KIND_REPORTED, (int)PRIORITY_ALARM,
        (int)UNIT_C, (int)TROUBLE_COUNT - 1, (int)STAGE_CERTAIN);
    assert_string_equal(written(&l, &full), want);
}

/* The line with field `n` (0 is the word) replaced. */
static char *replaced(char *dst, size_t cap, const char *line, int n, const char *by)
{
    dst[0] = '\0';
    for (int i = 0; line; i++) {
        const char *tab = strchr(line, '\t');
        int len = tab ? (int)(tab - line) : (int)strlen(line);
        if (i == n)
            text_append(dst, cap, "%s%s", i ? "\t" : "", by);
        else
            text_append(dst, cap, "%s%.*s", i ? "\t" : "", len, line);
        line = tab ? tab + 1 : NULL;
    }
    return dst;
}

static bool takes(int field, long long value)
{
    struct line l;
    struct alert a;
    char other[LINE_SIZE], number[32];
    text_format(number, sizeof number, "%lld", value);
    return taken(replaced(other, sizeof other, written(&l, &full), field, number), &a);
}

/* What is beyond the list a field is of, or beyond any time there is, is no alert: the file was
 * damaged, or somebody else speaks. Half of all time there is may lie to either side. */
static void alert__integer_at_its_bounds__is_taken_and_beyond_not(void **state)
{
    (void)state;
    static const long long far = LLONG_MAX / 2;
    const struct {
        int field;
        long long low, high;
    } rows[] = {
        {1, 1, 4294967295},
        {2, 0, SITUATION_SEASON},
        {3, 0, 255},
        {4, 0, 255},
        {5, 0, QTY_COUNT - 1},
        {6, 0, 255},
        {7, 0, 255},
        {8, 0, 4294967295},
        {9, 0, KIND_COUNT - 1},
        {10, 0, PRIORITY_EMERGENCY},
        {11, 0, ALERT_RECTIFIED},
        {12, 0, 1},
        {13, 0, 4294967295},
        {14, 0, UNIT_COUNT - 1},
        {15, 0, 9},
        {16, -far, far},
        {17, -far, far},
        {18, -far, far},
        {19, -far, far},
        {20, -far, far},
        {21, -far, far},
        {22, -far, far},
        {23, -far, far},
        {24, -far, far},
        {38, 0, TROUBLE_COUNT - 1},
        {39, 0, STAGE_OVER},
        {40, -1, 8}, /* all of them, nobody's, or one of eight */
        {41, -1, 1},
        {43, -far, far},
        {44, -far, far},
        {45, -far, far},
        {46, -far, far},
        {47, 0, far},
        {48, -far, far},
        {49, -far, far},
        {50, -far, far},
        {51, -far, far},
        {54, 0, TROUBLE_COUNT - 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bool good = takes(rows[i].field, rows[i].low) && takes(rows[i].field, rows[i].high) &&
                    !takes(rows[i].field, rows[i].low - 1) &&
                    !takes(rows[i].field, rows[i].high + 1);
        if (!good)
            print_error("field %d\n", rows[i].field);
        assert_true(good);
    }
}

static void alert__number_that_is_none__is_not_taken(void **state)
{
    (void)state;
    static const int numbers[] = {25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 42};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        struct line l;
        struct alert a;
        char other[LINE_SIZE];
        char *line = written(&l, &full);
        assert_false(taken(replaced(other, sizeof other, line, numbers[i], "warm"), &a));
        assert_false(taken(replaced(other, sizeof other, line, numbers[i], ""), &a));
        assert_true(taken(replaced(other, sizeof other, line, numbers[i], "-"), &a));
    }
}

/* Lines of the versions before: without the story, without whose steps to take, and without whether
 * the limit was seen to be passed. */
static void alert__of_an_older_version__what_is_not_there_is_not_known(void **state)
{
    (void)state;
    struct line l;
    struct alert a;
    char *line = written(&l, &full);
    char shorter[LINE_SIZE];
    *strrchr(line, '\t') = '\0';
    text_copy(shorter, sizeof shorter, line);
    assert_true(taken(shorter, &a));
    assert_int_equal(a.steps, full.steps);
    assert_false(a.already);
    *strrchr(line, '\t') = '\0';
    text_copy(shorter, sizeof shorter, line);
    assert_true(taken(line, &a));
    assert_int_equal(a.steps, full.trouble); /* its own */
    assert_string_equal(a.action, full.action);
    char *end = strstr(shorter, ": stop\t");
    assert_non_null(end);
    end[6] = '\0';
    assert_true(taken(shorter, &a));
    same_up_to_the_text(&a, &full);
    assert_true(isnan(a.worst));
    assert_int_equal(a.trouble, 0);
    assert_int_equal(a.worse, 0);
    assert_int_equal(a.limit_passed.wall_ns, 0);
    assert_string_equal(a.what, "");
}

static void alert__one_field_more__is_not_taken(void **state)
{
    (void)state;
    struct line l;
    struct alert a;
    char longer[LINE_SIZE];
    text_format(longer, sizeof longer, "%s\t1", written(&l, &full));
    assert_false(taken(longer, &a));
}

static void integer__as_text__whole_or_none(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        bool good;
        int64_t value;
    } rows[] = {
        {"0", true, 0},
        {"-1", true, -1},
        {"9223372036854775807", true, INT64_MAX},
        {"-9223372036854775808", true, INT64_MIN},
        {"9223372036854775808", false, INT64_MIN},
        {"-9223372036854775809", false, INT64_MIN},
        {"", false, INT64_MIN},
        {"-", false, INT64_MIN},
        {"5x", false, INT64_MIN},
        {"5.0", false, INT64_MIN},
        {"x", false, INT64_MIN},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char line[64];
        struct fields f;
        text_format(line, sizeof line, "%s\t7", rows[i].text);
        fields_begin(&f, line);
        assert_true(fields_integer(&f, INT64_MIN, INT64_MAX) == rows[i].value);
        assert_int_equal(!f.bad, rows[i].good);
        assert_int_equal(fields_integer(&f, 0, 7), 7); /* the next is read all the same */
        assert_int_equal(!f.bad, rows[i].good);        /* and does not make it good */
        assert_int_equal(fields_integer(&f, 3, 9), 3); /* there is no more */
        assert_true(f.bad);
    }
}

static void text__past_the_last__is_empty_and_bad(void **state)
{
    (void)state;
    char line[] = "one\t\ttwo words";
    struct fields f;
    fields_begin(&f, line);
    assert_string_equal(fields_text(&f), "one");
    assert_string_equal(fields_text(&f), "");
    assert_false(f.bad);
    assert_string_equal(fields_text(&f), "two words");
    assert_false(f.bad);
    assert_null(f.at);
    assert_string_equal(fields_text(&f), "");
    assert_true(f.bad);
}

/* LINE_SIZE holds the line, its end and the NUL after it: one byte more and it is no line. */
static void line__fits_to_the_last_byte(void **state)
{
    (void)state;
    for (int over = 0; over < 3; over++) {
        struct line l;
        line_begin(&l, "w");
        while (l.len + 20 < LINE_SIZE)
            line_text(&l, "123456789");
        char rest[32] = "";
        size_t left = LINE_SIZE - 2 - l.len - 1; /* its tab, and what the end needs */
        while (strlen(rest) < left + (size_t)over)
            text_append(rest, sizeof rest, "r");
        line_text(&l, rest);
        assert_int_equal(l.overflow, over > 0);
        line_end(&l);
        assert_int_equal(l.len, over > 0 ? 0 : LINE_SIZE - 1);
        assert_int_equal(strlen(l.text), l.len);
        line_begin(&l, "again"); /* the next one is not harmed */
        assert_false(l.overflow);
        line_end(&l);
        assert_string_equal(l.text, "again\n");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(alert__every_field__comes_back),
        cmocka_unit_test(alert__as_a_line__has_its_fields_in_this_order),
        cmocka_unit_test(alert__integer_at_its_bounds__is_taken_and_beyond_not),
        cmocka_unit_test(alert__number_that_is_none__is_not_taken),
        cmocka_unit_test(alert__of_an_older_version__what_is_not_there_is_not_known),
        cmocka_unit_test(alert__one_field_more__is_not_taken),
        cmocka_unit_test(integer__as_text__whole_or_none),
        cmocka_unit_test(text__past_the_last__is_empty_and_bad),
        cmocka_unit_test(line__fits_to_the_last_byte),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
