/* What was exported of a log, in a line for every channel: for golden texts. */
#ifndef STOKEHOLD_TESTS_TALLY_H
#define STOKEHOLD_TESTS_TALLY_H

#include "support/check.h"
#include "support/program.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct tally {
    char key[64], unit[16];
    unsigned rows, without;
    double sum, along; /* of the values; the same with how many came before: order counts */
};
#define TALLIES 800

static inline void tally_line(struct tally *t, size_t *n, char *line)
{
    char *part[5] = {0};
    size_t i = 0;
    for (char *p = line; p && i < 5; i++)
        part[i] = strsep(&p, ",\n");
    assert_true(i == 5);
    for (i = 0; i < *n && strcmp(t[i].key, part[1]) != 0; i++)
        ;
    if (i == *n) {
        assert_true(++*n <= TALLIES);
        snprintf(t[i].key, sizeof t[i].key, "%s", part[1]);
        snprintf(t[i].unit, sizeof t[i].unit, "%s", part[3]);
    }
    t[i].rows++;
    t[i].without += !part[2][0];
    t[i].sum += strtod(part[2], NULL);
    t[i].along += t[i].rows * strtod(part[2], NULL);
}

/* Per channel: rows, those without a value, and sums. */
static inline void tally(FILE *out, const char *path)
{
    static struct tally t[TALLIES];
    char arguments[PROGRAM_PATH + 60];
    size_t n = 0;
    memset(t, 0, sizeof t);
    snprintf(arguments, sizeof arguments, "export --all --derived '%s'", path);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    char *next = o.out;
    assert_string_equal(strsep(&next, "\n"), "time,channel,value,unit,source");
    for (char *line; (line = strsep(&next, "\n")) && *line;)
        tally_line(t, &n, line);
    for (size_t i = 0; i < n; i++)
        fprintf(out, "%-30s %6u %5u %.10g %.10g %s\n", t[i].key, t[i].rows, t[i].without, t[i].sum,
                t[i].along, t[i].unit);
    outcome_free(&o);
}

#endif
