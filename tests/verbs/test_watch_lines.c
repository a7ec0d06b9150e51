/* The watch without a screen, of logs made by hand: what is said line by line as a sensor grows hot
 * and cools, what the letters typed in do, and the one board that is printed at a size. Kept as
 * texts. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define UTF8  "TZ=UTC LC_ALL=C.UTF-8"
#define ASCII "TZ=UTC LC_ALL=C"

static char hot[PROGRAM_PATH], bare[PROGRAM_PATH];

/* A minute of two engines at 2000 rpm, an exhaust every two seconds (PGN 130312, source 14, steps
 * of 0.01 K): port 45 °C; starboard 60 °C, from the 20th to the 40th second 99 °C. Battery 12.65 V.
 */
static void write_trip(char *path, const char *name, double first_s)
{
    static char log[800 * 60];
    size_t n = 0;
    for (int i = 0; i < 600; i++) {
        double t = first_s + i / 10.0;
        n += (size_t)snprintf(log + n, sizeof log - n,
                              "(%.6f) can0 09F200%02d#%02d401FFFFF7FFFFF\n", t, 10 + i % 2, i % 2);
        if (i % 20 < 2) {
            int e = i % 20;
            double c = e == 0 ? 45 : i >= 200 && i < 400 ? 99 : 60;
            unsigned raw = (unsigned)((c + 273.15) * 100 + 0.5);
            n += (size_t)snprintf(log + n, sizeof log - n,
                                  "(%.6f) can0 15FD0823#FF%02X0E%02X%02XFFFFFF\n", t + 0.01, e,
                                  raw & 255, raw >> 8);
        }
        if (i % 15 == 3)
            n += (size_t)snprintf(log + n, sizeof log - n,
                                  "(%.6f) can0 19F21428#00F104FF7FFFFFFF\n", t + 0.02);
        assert_true(n < sizeof log - 200);
    }
    snprintf(path, PROGRAM_PATH, "%s", program_file(name, log));
}

static int make_logs(void **state)
{
    (void)state;
    write_trip(hot, "hot.log", 1777903200);
    write_trip(bare, "bare.log", 0); /* no clock times */
    return 0;
}

static void put_run(FILE *out, const char *variables, const char *arguments, const char *log,
                    const char *input)
{
    char all[300];
    snprintf(all, sizeof all, "%s '%s'", arguments, log);
    struct outcome o = program_run_with(variables, all, input);
    /* The scratch directory has another name each time. */
    char *at = strstr(o.out, "watching ");
    fprintf(out, "== %s, %s: %d\n%s", arguments, strstr(variables, "UTF") ? "UTF-8" : "ASCII",
            o.status, at == o.out ? strchr(o.out, '\n') + 1 : o.out);
    assert_null(strchr(o.out, '\033'));
    outcome_free(&o);
}

static void plain__of_a_log__says_each_change(void **state)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    (void)state;
    assert_non_null(out);
    put_run(out, UTF8, "watch --plain --speed max", hot, NULL);
    put_run(out, ASCII, "watch --plain --speed max", hot, NULL);
    put_run(out, UTF8, "watch --plain --speed max", bare, NULL);
    put_run(out, UTF8, "watch --plain --speed max --from +00:30", hot, NULL);
    put_run(out, UTF8, "watch --plain --speed max --to +00:10", hot, NULL);
    fclose(out);
    golden_check("verbs", "watch-plain", text);
    free(text);
}

static void plain__letters__are_obeyed(void **state)
{
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    (void)state;
    assert_non_null(out);
    put_run(out, UTF8, "watch --plain --speed max --to +00:30", hot, "\n");
    put_run(out, UTF8, "watch --plain --speed max --to +00:30", hot, "a\nall\nstop\nx");
    put_run(out, UTF8, "watch --plain --speed max --to +00:30", hot, "quit\na\n");
    fclose(out);
    golden_check("verbs", "watch-letters", text);
    free(text);
}

static void once__at_each_size__one_board(void **state)
{
    static const char *const sizes[] = {"80x24", "60x12", "100x2", "40x1", "1x1"};
    char *text = NULL;
    size_t len = 0;
    FILE *out = open_memstream(&text, &len);
    (void)state;
    assert_non_null(out);
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        char arguments[60];
        snprintf(arguments, sizeof arguments, "watch --once --size %s", sizes[i]);
        put_run(out, UTF8, arguments, hot, NULL);
    }
    put_run(out, UTF8, "watch --once", hot, NULL); /* no terminal: 80x24 */
    put_run(out, ASCII, "watch --once --to +00:25 --size 80x10", hot, NULL);
    put_run(out, UTF8, "watch --once --size 80x10", bare, NULL);
    fclose(out);
    golden_check("verbs", "watch-once", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain__of_a_log__says_each_change),
        cmocka_unit_test(plain__letters__are_obeyed),
        cmocka_unit_test(once__at_each_size__one_board),
    };
    return cmocka_run_group_tests(tests, make_logs, NULL);
}
