/* The particulars of a trial: what is begun can be read, what is wrong names its line. */
#include "report/papers/particulars.h"
#include "report/papers/write.h"

#include "support/check.h"
#include "support/program.h"

#include "base/text.h"

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
    assert_int_equal(strncmp(text, "# stokehold ", 12), 0); /* it says what it is */
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

static void expect_json(void (*write)(FILE *, const struct papers *), const struct papers *p,
                        const char *wanted)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);

    write(out, p);
    fclose(out);
    assert_string_equal(text, wanted);
    free(text);
}

/* As RFC 8259 has it; what is not known is null, and without a configuration there is no digest. */
static void json__particulars_source_and_logs(void **state)
{
    static const struct page_log logs[] = {{"a.log", "12ab"}, {"b.log", ""}};
    struct particulars p = {.lines = 2};
    struct page_source s = {"9.8", "boat.conf", "34cd", logs, 2};

    (void)state;
    text_copy(p.line[0].text, sizeof p.line[0].text, "A");
    text_copy(p.line[1].text, sizeof p.line[1].text, "B");
    char first[200], lines[600], keys[600];
    text_format(first, sizeof first, "\"title\":\"%s\"", particulars_title(p.line[0].kind));
    text_format(lines, sizeof lines,
                "{\"record\":\"particular\",%s,\"text\":\"A\"}\n"
                "{\"record\":\"particular\",%s,\"text\":\"B\"}\n"
                "{\"record\":\"source\",\"version\":\"9.8\",\"configuration\":\"boat.conf\","
                "\"configuration_sha256\":\"34cd\"}\n"
                "{\"record\":\"log\",\"name\":\"a.log\",\"sha256\":\"12ab\"}\n"
                "{\"record\":\"log\",\"name\":\"b.log\",\"sha256\":null}\n",
                first, first);
    text_format(keys, sizeof keys,
                "\"particulars\":[{%s,\"text\":\"A\"},\n{%s,\"text\":\"B\"}],\n"
                "\"source\":{\"version\":\"9.8\",\"configuration\":\"boat.conf\","
                "\"configuration_sha256\":\"34cd\"},\n\"logs\":["
                "{\"name\":\"a.log\",\"sha256\":\"12ab\"},\n"
                "{\"name\":\"b.log\",\"sha256\":null}],\n",
                first, first);
    expect_json(papers_json_lines, &(struct papers){&p, &s}, lines);
    expect_json(papers_json_keys, &(struct papers){&p, &s}, keys);
    s.config_sha256 = "";
    s.logs = 0;
    expect_json(papers_json_lines, &(struct papers){NULL, &s},
                "{\"record\":\"source\",\"version\":\"9.8\",\"configuration\":\"boat.conf\","
                "\"configuration_sha256\":null}\n");
    s.config = NULL;
    s.config_sha256 = "34cd";
    expect_json(papers_json_keys, &(struct papers){NULL, &s},
                "\"particulars\":[],\n\"source\":{\"version\":\"9.8\",\"configuration\":null,"
                "\"configuration_sha256\":null},\n\"logs\":[],\n");
    expect_json(papers_json_lines, &(struct papers){NULL, NULL}, "");
    expect_json(papers_json_keys, &(struct papers){NULL, NULL},
                "\"particulars\":[],\n\"source\":null,\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(begun__can_be_read_as_it_stands_and_filled_in),
        cmocka_unit_test(lines__come_in_the_order_of_the_table),
        cmocka_unit_test(wrong__names_its_line),
        cmocka_unit_test(json__particulars_source_and_logs),
        cmocka_unit_test(text_from_the_file__is_made_printable),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
