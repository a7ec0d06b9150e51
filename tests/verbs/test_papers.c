/* What trial, muster and the page of sift say of whole trips of several boats, in the units of
 * several skippers: the text whole, the other forms (JSON, a page) by their sums. The trips
 * are drilled; the golden texts hold what is said, other tests whether it is right. */
#include "base/sha256.h"

#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TEXT (512 * 1024)

static const char us[] = "[units]\ntemperature = F\npressure = psi\nvolume = gal\nflow = gal/h\n"
                         "speed = mph\n";
static const char imperial[] = "[units]\npressure = bar\nvolume = imp gal\nflow = imp gal/h\n"
                               "speed = km/h\n";
/* Of an engine more than there is, and limits that a healthy trip comes to. */
static const char strict[] = "[vessel]\nengines = 3\n[limit exhaust-hot]\nabove = 40 C\n"
                             "[limit coolant-warm]\nabove = 45 C\n[limit oil-pressure-low]\n"
                             "below = 300 kPa\n[precision]\ntemperature = 1\n";

static const struct paper {
    const char *name, *drill, *config, *range;
} papers[] = {
    {"trial-meter", "--trip trial --fault meter-high --engine 0 --seed 5", us, ""},
    {"trial-swapped", "--trip trial --fault swapped --seed 6", imperial, "--to +50:00"},
    {"full-impeller", "--boat full --fault impeller --at +03:00 --minutes 7 --seed 9", us, ""},
    {"open", "--fault sensor-open --at +03:00 --minutes 6 --seed 10", imperial, ""},
    {"silent", "--fault sensor-silent --at +03:00 --minutes 6 --seed 11 --engines 1", strict, ""},
    {"fire", "--fault fire --at +03:00 --minutes 6 --seed 12", "", "--from +02:00"},
    {"seacock", "--fault seacock --at +03:00 --minutes 6 --seed 13", strict, "--to +04:00"},
};

static char log_path[PROGRAM_PATH];

/* Names that differ from run to run are replaced. */
static void plain(char *text)
{
    const char *dir = program_scratch(); /* named after the process */
    size_t len = strlen(dir);
    for (char *at = text; (at = strstr(at, dir)) != NULL; at++)
        memmove(at, at + len, strlen(at + len) + 1);
}

static void add(char *all, const char *heading, const char *text)
{
    size_t n = strlen(all);
    assert_true(n + strlen(heading) + strlen(text) + 20 < TEXT);
    sprintf(all + n, "=== %s\n%s", heading, text);
}

/* What a verb says, and with which status it ends; of what is not for people the sum. */
static void say(char *all, const char *verb, const char *options, const char *range, bool whole)
{
    char arguments[900], heading[200];
    snprintf(arguments, sizeof arguments, "%s -c '%s/papers.conf' --utc %s %s '%s'", verb,
             program_scratch(), options, range, log_path);
    struct outcome o = program_run(arguments, NULL);
    plain(o.out);
    plain(o.err);
    snprintf(heading, sizeof heading, "%s %s: %d", verb, strstr(options, "--html") ? "" : options,
             o.status);
    if (whole) {
        add(all, heading, o.out);
        add(all, "standard error", o.err);
    } else {
        struct sha256 sha;
        char sum[120], digits[SHA256_TEXT];
        sha256_init(&sha);
        sha256_add(&sha, o.out, strlen(o.out));
        snprintf(sum, sizeof sum, "%zu bytes, %s\n", strlen(o.out), sha256_text(&sha, digits));
        add(all, heading, sum);
    }
    outcome_free(&o);
}

static void papers__of_whole_trips__as_before(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
        const struct paper *p = &papers[i];
        char name[80], *all = calloc(1, TEXT);
        assert_non_null(all);
        assert_int_equal(program_drill(log_path, "trip.log", p->drill), 0);
        program_file("papers.conf", p->config);
        if (strstr(p->name, "trial")) {
            say(all, "trial", "", p->range, true);
            say(all, "trial", "--json", p->range, false);
        } else {
            say(all, "muster", "", p->range, true);
            say(all, "muster", "--json", p->range, false);
            say(all, "muster", "--html /dev/stdout", p->range, false);
            say(all, "muster", "--write-config /dev/stdout", p->range, true);
            say(all, "sift", "--html /dev/stdout", p->range, false);
        }
        snprintf(name, sizeof name, "papers-%s", p->name);
        golden_check("verbs", name, all);
        free(all);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(papers__of_whole_trips__as_before),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
