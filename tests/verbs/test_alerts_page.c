/* docs/alerts.md is what the program says: the table of what to do, and the story of each drill
 * fault line by line. `--print` prints the page (make docs/alerts.md). */
#include "support/check.h"
#include "support/program.h"

#include "alerts/action.h"

#include <stdio.h>
#include <stdlib.h>

static const char page_path[] = "docs/alerts.md", form_path[] = "docs/alerts.md.in";

static char *read_whole(const char *path)
{
    FILE *in = fopen(path, "r");
    char *text = NULL, buf[4096];
    size_t size = 0, n;
    assert_non_null(in);
    FILE *copy = open_memstream(&text, &size);
    while ((n = fread(buf, 1, sizeof buf, in)) > 0)
        fwrite(buf, 1, n, copy);
    fclose(in);
    fclose(copy);
    return text;
}

static const char *const faults[] = {"impeller",     "vanes", "fouled",      "seacock",
                                     "coolant-pump", "fire",  "sensor-open", "sensor-silent",
                                     "two-boxes",    "none"};
enum { FAULTS = sizeof faults / sizeof *faults };

static struct outcome story(const char *fault)
{
    char path[PROGRAM_PATH], options[120], arguments[320];
    snprintf(options, sizeof options, "--fault %s --seed 5 --minutes 30", fault);
    assert_int_equal(program_drill(path, "story.log", options), 0);
    snprintf(arguments, sizeof arguments, "sift --utc '%s'", path);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    return o;
}

static void put_drills(FILE *out)
{
    for (int i = 0; i < FAULTS; i++) {
        struct outcome o = story(faults[i]);
        fprintf(out, "%s### %s\n\n```\n%s```\n", i > 0 ? "\n" : "", faults[i], o.out);
        outcome_free(&o);
    }
}

/* The page, to be freed. */
static char *fill_in(void)
{
    char *form = read_whole(form_path), *page = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&page, &size);
    char *table = strstr(form, "@TABLE@\n"), *drills = strstr(form, "@DRILLS@\n");
    assert_true(table && drills && table < drills);
    *table = *drills = '\0';
    fputs(form, out);
    action_print(out);
    fputs(table + strlen("@TABLE@\n"), out);
    put_drills(out);
    fputs(drills + strlen("@DRILLS@\n"), out);
    fclose(out);
    free(form);
    return page;
}

static void page__is_what_the_program_says(void **state)
{
    (void)state;
    char *is = read_whole(page_path), *should = fill_in();
    size_t at = 0, line = 1;
    while (is[at] && is[at] == should[at])
        line += is[at++] == '\n';
    if (is[at] || should[at])
        fail_msg("%s:%zu differs from what the program says: run `make %s`, read the difference",
                 page_path, line, page_path);
    free(is);
    free(should);
}

/* Whoever reads only these lines knows what to do with the engine. */
static void story__of_each_fault_that_heats__says_stop_then_let_cool(void **state)
{
    (void)state;
    char *page = read_whole(page_path);
    for (int i = 0; i < FAULTS; i++) {
        char heading[48];
        snprintf(heading, sizeof heading, "### %s\n", faults[i]);
        char *from = strstr(page, heading);
        assert_non_null(from);
        char *to = strstr(from + 4, "### "), kept = to ? *to : '\0';
        if (to)
            *to = '\0';
        bool heats = i < 6, fire = strcmp(faults[i], "fire") == 0;
        assert_int_equal(strstr(from, fire ? "stop engines" : "stop engine when safe") != NULL,
                         heats);
        assert_int_equal(strstr(from, "still standing at the end") != NULL ||
                             strstr(from, ", over ") != NULL,
                         strcmp(faults[i], "none") != 0);
        if (to)
            *to = kept;
    }
    free(page);
}

int main(int argc, char **argv)
{
    if (argc > 1 && strcmp(argv[1], "--print") == 0) {
        char *page = fill_in();
        fputs(page, stdout);
        free(page);
        return 0;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(page__is_what_the_program_says),
        cmocka_unit_test(story__of_each_fault_that_heats__says_stop_then_let_cool),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
