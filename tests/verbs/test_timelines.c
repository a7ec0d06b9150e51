/* What is said of whole trips, kept as golden texts: each fault on a boat drawn at random, as
 * `sift --explain` and as `sift --json` say it; one trip as the other verbs that read logs say it.
 * The drill's bytes are those of one kind of processor (DEVELOPERS.md), and so are these. */
#include "support/check.h"
#include "support/golden.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct text {
    char *bytes;
    size_t size;
    FILE *out;
};

static void begin(struct text *t)
{
    *t = (struct text){0};
    t->out = open_memstream(&t->bytes, &t->size);
    assert_non_null(t->out);
}

static void keep(struct text *t, const char *name)
{
    fclose(t->out);
    golden_check("verbs", name, t->bytes);
    free(t->bytes);
}

/* What a verb says of the log, below a line that repeats what was asked. The log goes by its
 * name alone. */
static void ask(struct text *t, const char *verb, const char *path)
{
    char arguments[PROGRAM_PATH + 200];
    struct outcome o;

    snprintf(arguments, sizeof arguments, "%s '%s'", verb, path);
    o = program_run_with("TZ=UTC COLUMNS=100 LINES=30", arguments, NULL);
    assert_true(o.status < 2);
    assert_string_equal(o.err, "");
    fprintf(t->out, "---- %s\n", verb);
    for (const char *p = o.out, *at; *p; p = at + strlen(path)) {
        at = strstr(p, path);
        fprintf(t->out, "%.*s", at ? (int)(at - p) : (int)strlen(p), p);
        if (!at)
            break;
        fputs("trip.log", t->out);
    }
    outcome_free(&o);
}

static const struct {
    const char *fault, *options;
} trips[] = {
    {"impeller", "--random --seed 31"},     {"vanes", "--random --seed 41"},
    {"fouled", "--random --seed 42"},       {"seacock", "--random --seed 43"},
    {"coolant-pump", "--random --seed 44"}, {"fire", "--random --seed 45"},
    {"sensor-open", "--random --seed 46"},  {"sensor-silent", "--random --seed 47"},
    {"two-boxes", "--random --seed 48"},    {"none", "--random --seed 49"},
};

static void every_fault__on_a_random_boat__is_told_as_kept(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof trips / sizeof trips[0]; i++) {
        char path[PROGRAM_PATH], options[120], name[60];
        struct text t;

        snprintf(options, sizeof options, "--fault %s %s", trips[i].fault, trips[i].options);
        assert_int_equal(program_drill(path, "trip.log", options), 0);
        begin(&t);
        ask(&t, "sift --explain", path);
        ask(&t, "sift --json", path);
        if (i % 3 == 2)
            ask(&t, "muster", path);
        snprintf(name, sizeof name, "timeline-%s", trips[i].fault);
        keep(&t, name);
    }
}

static void a_full_boat__is_told_as_kept(void **state)
{
    (void)state;
    char path[PROGRAM_PATH];
    struct text t;

    assert_int_equal(
        program_drill(path, "trip.log", "--boat full --minutes 12 --seed 6 --fault impeller"), 0);
    begin(&t);
    ask(&t, "sift --explain", path);
    ask(&t, "sift --from 14:04 --to 14:07", path);
    ask(&t, "sift --json --from +5:30 --to +6:30", path);
    ask(&t, "watch --plain --speed max", path);
    ask(&t, "watch --once --to +4:00", path);
    ask(&t, "export --from +5:00 --to +5:02 --all --derived", path);
    ask(&t, "export --from +8:30 --to +8:31 --json", path);
    ask(&t, "muster", path);
    ask(&t, "muster --json", path);
    keep(&t, "full-boat");
}

/* All but what differs from run to run, or from version to version. */
static void the_metrics_of_a_full_boat__are_as_kept(void **state)
{
    (void)state;
    char path[PROGRAM_PATH], file[PROGRAM_PATH], verb[2 * PROGRAM_PATH + 40], line[1000];
    struct text t;
    struct outcome o;
    FILE *in;

    assert_int_equal(
        program_drill(path, "trip.log", "--boat full --minutes 12 --seed 6 --fault impeller"), 0);
    snprintf(file, sizeof file, "%s/boat.prom", program_scratch());
    snprintf(verb, sizeof verb, "tend --metrics '%s' '%s'", file, path);
    o = program_run_with("TZ=UTC", verb, NULL);
    assert_int_equal(o.status, 0);
    outcome_free(&o);
    in = fopen(file, "r");
    assert_non_null(in);
    begin(&t);
    while (fgets(line, sizeof line, in))
        if (line[0] == '#' || (!strstr(line, "_timestamp_seconds ") && !strstr(line, "version=")))
            fputs(line, t.out);
    fclose(in);
    keep(&t, "metrics");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_fault__on_a_random_boat__is_told_as_kept),
        cmocka_unit_test(a_full_boat__is_told_as_kept),
        cmocka_unit_test(the_metrics_of_a_full_boat__are_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
