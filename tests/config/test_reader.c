/* The line reader: what INI readers often do quietly (glue an indented line to the one above, keep
 * a comment after a value, cut long names and lines, stop at a NUL byte) is said, or does no harm.
 */
#include "conf.h"

#include <base/text.h>

static void indented_key__is_a_key_of_its_own(void **state)
{
    (void)state;
    struct settings *s = conf_good("[vessel]\n  name = Tern Point\n\t engines = 2\n");
    assert_string_equal(s->vessel, "Tern Point");
    assert_int_equal(s->engines, 2);
    settings_free(s);
}

static void comment_behind_value__is_cut(void **state)
{
    (void)state;
    struct settings *s = conf_good("# top\n; top\n[vessel] # the boat\nname = A#1;B  # not this\n"
                                   "engines = 1 ; nor this\n");
    assert_string_equal(s->vessel, "A#1;B");
    assert_int_equal(s->engines, 1);
    settings_free(s);
}

static void crlf_and_byte_order_mark__are_no_part_of_it(void **state)
{
    (void)state;
    struct settings *s = conf_good("\xEF\xBB\xBF[vessel]\r\nname = Tern\r\n\r\nengines = 2\r\n");
    assert_string_equal(s->vessel, "Tern");
    assert_int_equal(s->engines, 2);
    settings_free(s);
}

static void no_newline_at_the_end__is_read(void **state)
{
    (void)state;
    struct settings *s = conf_good("[vessel]\nengines = 3");
    assert_int_equal(s->engines, 3);
    settings_free(s);
}

static void equals_in_value__is_kept(void **state)
{
    (void)state;
    struct settings *s = conf_good("[screen]\nsound = run\nsound command = play a=b c:d\n");
    assert_string_equal(s->screen.sound_command, "play a=b c:d");
    settings_free(s);
}

static void line_of_200__is_named_and_later_numbers_hold(void **state)
{
    (void)state;
    char text[1000];
    char filler[260];
    memset(filler, 'x', sizeof filler);
    filler[sizeof filler - 1] = '\0';
    text_format(text, sizeof text, "[vessel]\nname = %s\nengines = 99\n", filler);
    assert_says(text, "t.conf:2: longer than 190 characters",
                "t.conf:3: [vessel] engines: 99 is outside 1..8");
}

static void long_comment__does_no_harm(void **state)
{
    (void)state;
    char text[3000], filler[2000];
    memset(filler, '-', sizeof filler);
    filler[sizeof filler - 1] = '\0';
    text_format(text, sizeof text, "# %s\n[vessel] ; %s\nengines = 2\n", filler, "x");
    struct settings *s = conf_good(text);
    assert_int_equal(s->engines, 2);
    settings_free(s);
}

static void line_of_a_megabyte__is_one_message(void **state)
{
    (void)state;
    enum { SIZE = 1 << 20 };
    char *text = malloc(SIZE + 40);
    assert_non_null(text);
    memset(text, 'a', SIZE);
    text_copy(text + SIZE, 40, "\n[vessel]\nengines = 99\n");
    assert_says(text, "t.conf:1: longer than 190 characters",
                "t.conf:3: [vessel] engines: 99 is outside 1..8");
    free(text);
}

static void nul_byte__is_said_and_the_rest_read(void **state)
{
    (void)state;
    static const char text[] = "[vessel]\nname = a\0b\nengines = 99\n";
    struct config_messages *m;
    assert_null(load_bytes("t.conf", text, sizeof text - 1, &m));
    assert_int_equal(config_message_count(m), 2);
    assert_string_equal(config_message(m, 0), "t.conf:2: a NUL byte: is this a text file?");
    assert_string_equal(config_message(m, 1), "t.conf:3: [vessel] engines: 99 is outside 1..8");
    config_messages_free(m);
}

static void broken_sections__are_said_and_their_keys_passed_over(void **state)
{
    (void)state;
    assert_says(
        "[vessel\nname = x\n[units] speed = kn\n[]\nx = 1\n"
        "[limit this-name-is-much-too-long-to-be-that-of-any-rule-of-ours]\ny = 2\n",
        "t.conf:1: a section needs a closing ']'",
        "t.conf:3: nothing may follow the ']' of a section",
        "t.conf:4: unknown section [] (known: vessel, engine, units, precision, alerts, screen, "
        "keys, "
        "pane, trial, fuel, channel, limit, rise, departure, split, silent, conflict, span, "
        "reported, bus, "
        "state, combined, season, self, hook)",
        "t.conf:6: a section name is longer than 48 characters");
}

static void names_of_sections__are_asked_for_and_refused(void **state)
{
    (void)state;
    assert_says("[limit]\n[units metric]\n[engine 253]\n[limit two words]\n",
                "t.conf:1: [limit] needs a name: write [limit NAME]",
                "t.conf:2: [units metric] takes no name: write [units]",
                "t.conf:3: [engine 253] an engine's number is 0 to 252, as on the bus",
                "t.conf:4: [limit two words] a rule's name is at most 39 letters, digits, '-', "
                "'_' or '.'");
}

static void misspelt__gets_a_suggestion(void **state)
{
    (void)state;
    assert_says("[vesel]\nname = x\n[channel coolant.0]\nlable = x\nzzzzzz = 1\n"
                "[channel exhuast.1]\n[engine 0]\nnmae = P\n",
                "t.conf:1: unknown section [vesel] (did you mean 'vessel'?)",
                "t.conf:4: [channel coolant.0] unknown key 'lable' (did you mean 'label'?)",
                "t.conf:5: [channel coolant.0] unknown key 'zzzzzz' (known: label, source, sensor, "
                "offset, gain, span, nominal volts, chemistry, capacity, from, ohms, thermistor, "
                "head density, "
                "calibration, shape, length, width, height, strapping, unusable, slosh, feed, "
                "return, accuracy, hidden, ...)",
                "t.conf:6: [channel exhuast.1] no channel is called 'exhuast.1' (did you mean "
                "'exhaust'?)",
                "t.conf:8: [engine 0] unknown key 'nmae' (did you mean 'name'?)");
}

static void lines_that_are_nothing__are_said(void **state)
{
    (void)state;
    assert_says("name = early\n[vessel]\nwhat\n= 3\nname =\n",
                "t.conf:1: 'name' stands before the first [section]",
                "t.conf:3: expected 'key = value' or '[section]'",
                "t.conf:4: a key is missing before '='");
}

static void twice__is_said_with_the_first_line(void **state)
{
    (void)state;
    assert_says("[vessel]\nname = a\nengines = 1\nname = b\n[units]\n[vessel]\nengines = 2\n",
                "t.conf:4: [vessel] name: already given on line 2",
                "t.conf:6: [vessel] is already there on line 1");
}

static void escape_codes__never_reach_a_message(void **state)
{
    (void)state;
    assert_says("[ves\x1b[31msel]\n[vessel]\nna\x9bme = 1\nname = a\x1b[2Jb\n",
                "t.conf:1: a section name has characters that cannot be shown",
                "t.conf:3: [vessel] unknown key 'na?me' (did you mean 'name'?)",
                "t.conf:4: [vessel] name: 'a?[2Jb' has characters that cannot be shown");
}

static void a_thousand_errors__are_bounded_and_counted(void **state)
{
    (void)state;
    char *text = malloc(20000);
    assert_non_null(text);
    text_copy(text, 20000, "[vessel]\n");
    for (int i = 0; i < 1000; i++)
        text_append(text, 20000, "k%d = 1\n", i);
    struct config_messages *m;
    assert_null(config_load_text("t.conf", text, &m));
    assert_int_equal(config_message_count(m), 101);
    assert_non_null(strstr(config_message(m, 0), "t.conf:2: [vessel] unknown key 'k0'"));
    assert_string_equal(config_message(m, 100), "t.conf: 900 more of the kind");
    config_messages_free(m);
    free(text);
}

static void too_many_lines__is_said(void **state)
{
    (void)state;
    char *text = malloc(70000);
    assert_non_null(text);
    memset(text, '\n', 69999);
    text[69999] = '\0';
    assert_says(text, "t.conf:65535: more than 65534 lines");
    free(text);
}

static void unreadable_files__are_said(void **state)
{
    (void)state;
    struct config_messages *m;
    assert_null(config_load("tests/config/no-such-file", &m));
    assert_string_equal(config_message(m, 0),
                        "tests/config/no-such-file: cannot be read: No such file or directory");
    config_messages_free(m);
    assert_null(config_load("/", &m));
    assert_string_equal(config_message(m, 0), "/: cannot be read: Is a directory");
    config_messages_free(m);
    assert_null(config_load("/dev/zero", &m));
    assert_string_equal(config_message(m, 0), "/dev/zero: larger than any configuration");
    config_messages_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(indented_key__is_a_key_of_its_own),
        cmocka_unit_test(comment_behind_value__is_cut),
        cmocka_unit_test(crlf_and_byte_order_mark__are_no_part_of_it),
        cmocka_unit_test(no_newline_at_the_end__is_read),
        cmocka_unit_test(equals_in_value__is_kept),
        cmocka_unit_test(line_of_200__is_named_and_later_numbers_hold),
        cmocka_unit_test(long_comment__does_no_harm),
        cmocka_unit_test(line_of_a_megabyte__is_one_message),
        cmocka_unit_test(nul_byte__is_said_and_the_rest_read),
        cmocka_unit_test(broken_sections__are_said_and_their_keys_passed_over),
        cmocka_unit_test(names_of_sections__are_asked_for_and_refused),
        cmocka_unit_test(misspelt__gets_a_suggestion),
        cmocka_unit_test(lines_that_are_nothing__are_said),
        cmocka_unit_test(twice__is_said_with_the_first_line),
        cmocka_unit_test(escape_codes__never_reach_a_message),
        cmocka_unit_test(a_thousand_errors__are_bounded_and_counted),
        cmocka_unit_test(too_many_lines__is_said),
        cmocka_unit_test(unreadable_files__are_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
