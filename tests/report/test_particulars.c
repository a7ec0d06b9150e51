/* The particulars of a trial: what is begun can be read, what is wrong names its line. */
#include "report/papers/particulars.h"

#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>

static void begun__can_be_read_as_it_stands_and_filled_in(void **state)
{
    struct particulars p;
    struct err e;
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    (void)state;
    particulars_begin(out, "Example");
    fclose(out);
    assert_true(particulars_read(program_file("begun", text), &p, &e));
    assert_int_equal(p.lines, 1); /* the name alone is known */
    assert_string_equal(p.line[0].text, "Example");
    for (int i = 0; particulars_title(i); i++)
        assert_true(strlen(particulars_title(i)) > 0);
    free(text);
}

static void lines__come_in_the_order_of_the_table(void **state)
{
    struct particulars p;
    struct err e;

    (void)state;
    assert_true(
        particulars_read(program_file("p", "# x\nremark = two\n place = A = B \nremark = three\n"
                                           "people = C\nwind =\n"),
                         &p, &e));
    assert_int_equal(p.lines, 4);
    assert_string_equal(p.line[0].text, "A = B");
    assert_string_equal(particulars_title(p.line[0].kind), "Place");
    assert_string_equal(p.line[1].text, "C");
    assert_string_equal(p.line[2].text, "two");
    assert_string_equal(p.line[3].text, "three");
}

static void wrong__names_its_line(void **state)
{
    static const struct {
        const char *text, *said;
    } wrong[] = {
        {"place = A\n\nwheather = B\n", ":3: no such key"},
        {"place = A\nplace = B\n", ":2: given twice"},
        {"place A\n", ":1: not `key = value`"},
    };
    struct particulars p;
    struct err e;

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        assert_false(particulars_read(program_file("w", wrong[i].text), &p, &e));
        assert_non_null(strstr(e.text, wrong[i].said));
    }
    assert_false(particulars_read("/nonexistent/particulars", &p, &e));
}

static void text_from_the_file__is_made_printable(void **state)
{
    struct particulars p;
    struct err e;

    (void)state;
    assert_true(particulars_read(program_file("c", "place = A\033[31mB\n"), &p, &e));
    assert_null(strchr(p.line[0].text, '\033'));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(begun__can_be_read_as_it_stands_and_filled_in),
        cmocka_unit_test(lines__come_in_the_order_of_the_table),
        cmocka_unit_test(wrong__names_its_line),
        cmocka_unit_test(text_from_the_file__is_made_printable),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
