/* Whole trips with every fault on boats drawn at random, and on a boat with everything aboard: what
 * was read and worked out, in a line for every channel (of every third), and the whole life of
 * every alert. Kept as golden texts: they say that nothing has changed, not that it is right (what
 * is right is for tests/cooling and `make bench-detect`). `GOLDEN=write` writes them again. The
 * drill's bytes are those of one kind of processor (DEVELOPERS.md), and so are these. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"
#include "verbs/tally.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

static const struct {
    const char *name, *options;
    bool escalate;
} trips[] = {
    {"impeller", "--fault impeller --random --seed 501", true},
    {"vanes", "--fault vanes --random --seed 511", false},
    {"fouled", "--fault fouled --random --seed 521", true},
    {"seacock", "--fault seacock --random --seed 531", false},
    {"coolant-pump", "--fault coolant-pump --random --seed 541", true},
    {"fire", "--fault fire --random --seed 551", false},
    {"sensor-open", "--fault sensor-open --random --seed 561", false},
    {"sensor-silent", "--fault sensor-silent --random --seed 571", true},
    {"two-boxes", "--fault two-boxes --random --seed 581", true},
    {"none", "--random --seed 591", false},
    {"one-engine", "--fault impeller --engines 1 --at +07:00 --minutes 16 --seed 3", true},
    {"full-fire", "--fault fire --boat full --at +08:00 --minutes 18 --seed 4", true},
    {"full-coolant",
     "--fault coolant-pump --boat full --engine port --at +08:00 --minutes 18 --seed 5", false},
};

static void told(FILE *out, const char *path, bool escalate)
{
    char arguments[PROGRAM_PATH + 60];
    snprintf(arguments, sizeof arguments, "sift --json%s '%s'", escalate ? " --escalate" : "",
             path);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    assert_string_equal(o.err, "");
    fputs(o.out, out);
    outcome_free(&o);
}

static void trips__with_every_fault__are_read_and_told_as_kept(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof trips / sizeof *trips; i++) {
        char path[PROGRAM_PATH], name[60], *text;
        size_t size;
        FILE *out = open_memstream(&text, &size);
        assert_non_null(out);
        assert_int_equal(program_drill(path, "sail.log", trips[i].options), 0);
        if (i % 3 == 2) /* a full boat among them */
            tally(out, path);
        told(out, path, trips[i].escalate);
        fclose(out);
        snprintf(name, sizeof name, "sail-%s", trips[i].name);
        golden_check("verbs", name, text);
        free(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(trips__with_every_fault__are_read_and_told_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
