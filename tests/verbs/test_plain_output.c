/* What a verb prints into a pipe: text without one escape or other control character, whatever the
 * terminal behind it is said to be, on both outputs, in its help and in its refusals, and with
 * input that tries to smuggle some in; and the same bytes in a locale that writes 3,5 for 3.5. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LOUD "TERM=xterm-256color COLORTERM=truecolor LC_ALL=C.UTF-8 TZ=UTC"

static char trip[PROGRAM_PATH], calm_conf[200], evil_conf[200], evil_log[200];

static int make_files(void **state)
{
    (void)state;
    int failed =
        program_drill(trip, "trip.log", "--fault impeller --at +02:00 --minutes 5 --seed 3");
    snprintf(calm_conf, sizeof calm_conf, "%s",
             program_file("calm.conf", "[vessel]\nname = Tern Point\n"));
    snprintf(evil_conf, sizeof evil_conf, "%s",
             program_file("evil.conf", "[vessel]\nname = \033[31mred\n\033]0;x\007 = 1\n[\033[2J]\n"
                                       "[screen]\ntheme = \033[5m\n"));
    snprintf(evil_log, sizeof evil_log, "%s",
             program_file("evil.log", "(1760000000.000001) can0 09F20020#00401FDC0500FFFF\n"
                                      "\033[2J\033]0;x\007\n"
                                      "(1760000000.1) can\033[31m0 09F20020#00401FDC0500FFFF\n"));
    return failed;
}

/* %T the trip, %C a good configuration, %E a bad one, %L a log with escapes in it, %S the scratch
 * directory. Every verb of the help must have a row. */
static const char *const runs[] = {
    "watch --once '%T'",
    "watch --once '%L'",
    "watch '%T'",
    "watch --plain --speed max '%T'",
    "watch --theme '\033[31m' '%T'",
    "tend '%T'",
    "tend '%L'",
    "sift '%T'",
    "sift --json '%T'",
    "sift '%L'",
    "export '%T'",
    "export --json '%T'",
    "export '%L'",
    "muster '%T'",
    "muster --json '%T'",
    "muster '%L'",
    "config check '%E'",
    "config print",
    "config print '%C'",
    "config keys",
    "trial '%T'",
    "trial '%L'",
    "season /no/such",
    "season --json '%T'",
    "drill --minutes 2 --fault '\033[31m' -o '%S/x.log'",
    "drill --minutes 2 -o '%S/x.log'",
};

static void expand(char *dst, size_t cap, const char *form)
{
    size_t n = 0;
    for (; *form && n + 210 < cap; form++) {
        const char *word = form[0] != '%'   ? NULL
                           : form[1] == 'T' ? trip
                           : form[1] == 'C' ? calm_conf
                           : form[1] == 'E' ? evil_conf
                           : form[1] == 'L' ? evil_log
                           : form[1] == 'S' ? program_scratch()
                                            : NULL;
        if (word) {
            n += (size_t)snprintf(dst + n, cap - n, "%s", word);
            form++;
        } else {
            dst[n++] = *form;
        }
    }
    dst[n] = '\0';
}

static void check_text(const char *arguments, const char *text, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        unsigned char c = (unsigned char)text[i];
        /* U+0080 to U+009F are controls too; in UTF-8 they begin with C2. */
        bool c1 = c == 0xC2 && (unsigned char)text[i + 1] < 0xA0;
        if ((c < ' ' && c != '\n' && c != '\t') || c == 127 || c1)
            fail_msg("%s: byte %02x at %d", arguments, c, (int)i);
    }
}

static size_t check_run(const char *arguments)
{
    struct outcome o = program_run_with(LOUD, arguments, NULL);
    if (o.status > 4)
        fail_msg("%s: status %d", arguments, o.status);
    size_t said = o.out_len + strlen(o.err);
    check_text(arguments, o.out, o.out_len);
    check_text(arguments, o.err, strlen(o.err));
    outcome_free(&o);
    return said;
}

static void every_verb__into_a_pipe__has_no_escape(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++) {
        char arguments[900];
        expand(arguments, sizeof arguments, runs[i]);
        size_t said = check_run(arguments);
        /* a drill that goes well has nothing to say */
        if (said == 0 && strncmp(runs[i], "drill", 5) != 0)
            fail_msg("%s: says nothing", arguments);
    }
}

/* The list of the help is what there is. */
static void every_verb__help_and_refusals__have_no_escape(void **state)
{
    (void)state;
    static const char *const forms[] = {"%s --help", "%s", "%s --nosuch", "%s --\033[31m",
                                        "%s '/nonexistent/\033[31m'"};
    struct outcome help = program_run("--help", NULL);
    int verbs = 0;
    for (char *line = strtok(help.out, "\n"); line; line = strtok(NULL, "\n")) {
        char verb[20], arguments[100];
        if (strncmp(line, "  ", 2) != 0 || sscanf(line, "  %19[a-z] ", verb) != 1)
            continue;
        verbs++;
        bool has_row = false;
        for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++)
            has_row |= strncmp(runs[i], verb, strlen(verb)) == 0;
        if (!has_row)
            fail_msg("%s is not in the table above", verb);
        for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
            snprintf(arguments, sizeof arguments, forms[i], verb);
            assert_true(check_run(arguments) > 0);
        }
    }
    assert_true(verbs >= 8);
    outcome_free(&help);
    assert_true(check_run("'\033[31m'") > 0);
    assert_true(check_run("--version") > 0);
}

static void every_format__in_a_locale_with_a_comma__is_the_same(void **state)
{
    (void)state;
    static const char *const formats[] = {"export '%T'", "export --json '%T'", "sift --json '%T'",
                                          "muster --json '%T'", "config print '%C'"};
    for (size_t i = 0; i < sizeof formats / sizeof formats[0]; i++) {
        char arguments[900];
        expand(arguments, sizeof arguments, formats[i]);
        struct outcome plain = program_run_with("LC_ALL=C TZ=UTC", arguments, NULL);
        struct outcome comma = program_run_with(COMMA_LOCALE " TZ=UTC", arguments, NULL);
        assert_true(plain.out_len > 0);
        assert_string_equal(plain.out, comma.out);
        outcome_free(&plain);
        outcome_free(&comma);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_verb__into_a_pipe__has_no_escape),
        cmocka_unit_test(every_verb__help_and_refusals__have_no_escape),
        cmocka_unit_test(every_format__in_a_locale_with_a_comma__is_the_same),
    };
    return cmocka_run_group_tests(tests, make_files, NULL);
}
