/* Every value that an independent library put into a message comes out of `stokehold export`: the
 * vectors of tests/vectors/iec.txt and j1939.txt (their first lines name library and version) as a
 * folder of logs, each message a trip of its own. Nothing else comes out. Which keys there must be,
 * in which unit and from which messages, is typed here a second time. Run from the top of the
 * project. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#define APART_S  18000 /* hours apart: a trip of its own */
#define FIRST_S  1700000000L
#define ROWS_MAX 64 /* of one message: the indicators of a bank of switches and some */

struct promise {
    const char *key; /* without the numbers after it */
    const char *unit;
    int numbers;  /* after the key: 0 none, 1 its place, 2 a line or phase as well */
    long pgns[6]; /* every one of which must give it */
    int given[6];
};

static struct promise promises[] = {
    {"ac-in-volts", "V", 2, {127503}, {0}},
    {"ac-in-amps", "A", 2, {127503}, {0}},
    {"ac-in-hertz", "Hz", 2, {127503}, {0}},
    {"ac-in-watts", "W", 2, {127503}, {0}},
    {"ac-out-volts", "V", 2, {127504}, {0}},
    {"ac-out-amps", "A", 2, {127504}, {0}},
    {"ac-out-hertz", "Hz", 2, {127504}, {0}},
    {"ac-out-watts", "W", 2, {127504}, {0}},
    {"ac-volts", "V", 2, {127747, 127748, 127749, 65027, 65024, 65021}, {0}},
    {"ac-hertz", "Hz", 2, {127747, 127748, 127749, 65027, 65024, 65021}, {0}},
    {"ac-amps", "A", 2, {127744, 127745, 127746, 65027, 65024, 65021}, {0}},
    {"ac-watts", "W", 2, {127744, 127745, 127746, 65026, 65023, 65020}, {0}},
    {"dc-volts", "V", 1, {127751}, {0}},
    {"dc-amps", "A", 1, {127751}, {0}},
    {"charger", "", 1, {127507}, {0}},
    {"inverter", "", 1, {127509}, {0}},
    {"converter", "", 1, {127750}, {0}},
    {"battery-capacity", "Ah", 1, {127513}, {0}},
    {"rail-pressure", "kPa", 1, {65243}, {0}},
    {"turbo-speed", "rpm", 1, {65245}, {0}},
    {"gear-now", "", 1, {61445}, {0}},
    {"total-fuel", "L", 1, {65257, 64777}, {0}},
    {"exhaust-gas-left", "°C", 1, {65031}, {0}},
    {"exhaust-gas-right", "°C", 1, {65031}, {0}},
    {"intake-air", "°C", 1, {65270, 65129}, {0}},
    {"coolant-level", "%", 1, {65263}, {0}},
    {"oil-level", "%", 1, {65263}, {0}},
    {"fan", "%", 1, {65213}, {0}},
    {"oil-temp-2", "°C", 1, {65188}, {0}},
    {"egr-temp", "°C", 1, {65188}, {0}},
    {"charge-air", "°C", 1, {65129}, {0}},
    {"coolant", "°C", 1, {127489, 65262, 65129}, {0}},
    {"manifold-pressure", "kPa", 1, {64976}, {0}},
    {"manifold-pressure-2", "kPa", 1, {64976}, {0}},
    {"rated-speed", "rpm", 1, {127498}, {0}},
};
enum { PROMISES = sizeof promises / sizeof *promises };

struct expected {
    const char *key;
    double value, tolerance;
    bool none;  /* no value */
    bool quiet; /* nor an error: what was never there has no row either */
    bool found;
};

struct row {
    const char *key, *value, *unit;
};

/* Hours between the logs, a millisecond between the frames of a message. */
static double time_of(int message)
{
    return (double)FIRST_S + (double)message * APART_S;
}

static char *slurp(const char *path)
{
    FILE *f = fopen(path, "r");
    if (f == NULL)
        fail_msg("cannot open %s: run the tests from the top of the project", path);
    static char text[1 << 20];
    size_t n = fread(text, 1, sizeof text - 1, f);
    assert_true(n < sizeof text - 1);
    fclose(f);
    text[n] = '\0';
    return text;
}

/* The frames of each message as a log of its own; how many there are. */
static int write_logs(const char *vectors, const char *folder)
{
    char path[300], log[4000] = "";
    int message = 0, frames = 0;
    assert_int_equal(mkdir(folder, 0700), 0);
    for (char *rest = NULL, *line = strtok_r(slurp(vectors), "\n", &rest);;
         line = strtok_r(NULL, "\n", &rest)) {
        bool next = line == NULL || strncmp(line, "message ", 8) == 0;
        if (next && frames > 0) {
            snprintf(path, sizeof path, "%s/%05d.log", folder, message - 1);
            FILE *f = fopen(path, "w");
            assert_non_null(f);
            assert_true(fputs(log, f) >= 0);
            assert_int_equal(fclose(f), 0);
        }
        if (line == NULL)
            return message;
        if (next) {
            message++;
            frames = 0;
        } else if (strncmp(line, "frame ", 6) == 0) {
            size_t used = frames > 0 ? strlen(log) : 0;
            assert_true(used + 80 < sizeof log);
            snprintf(log + used, sizeof log - used, "(%.6f) can0 %s\n",
                     time_of(message - 1) + frames++ * 0.001, line + 6);
        }
    }
}

/* The next row of the CSV, if it is one of this message. */
static bool take_row(char **csv, int message, struct row *row)
{
    char *p = *csv, *end = strchr(p, '\n');
    if (end == NULL || fabs(strtod(p, NULL) - time_of(message)) > 60)
        return false;
    *end = '\0';
    *csv = end + 1;
    const char *fields[5];
    for (int i = 0; i < 5; i++) {
        fields[i] = p;
        p = i < 4 ? strchr(p, ',') : NULL;
        assert_true(i == 4 || p != NULL);
        if (p != NULL)
            *p++ = '\0';
    }
    *row = (struct row){fields[1], fields[2], fields[3]};
    return true;
}

static void keep_promise(const struct row *row, long pgn)
{
    for (int i = 0; i < PROMISES; i++) {
        struct promise *p = &promises[i];
        size_t n = strlen(p->key);
        if (strncmp(row->key, p->key, n) != 0 || (row->key[n] != '.' && row->key[n] != '\0'))
            continue;
        int place, line, numbers = sscanf(row->key + n, ".%d.%d", &place, &line);
        assert_int_equal(numbers < 0 ? 0 : numbers, p->numbers);
        assert_string_equal(row->unit, p->unit);
        for (int k = 0; k < 6; k++)
            p->given[k] += p->pgns[k] == pgn;
    }
}

/* Every row of the message is among those expected, and none of those is missing; how many have a
 * value. */
static int compare(char **csv, int message, long pgn, struct expected *wanted, int count)
{
    struct row row;
    int good = 0;
    while (take_row(csv, message, &row)) {
        struct expected *e = NULL;
        for (int i = 0; i < count; i++)
            if (strcmp(wanted[i].key, row.key) == 0 && !wanted[i].found)
                e = &wanted[i];
        if (e == NULL)
            fail_msg("message %d, PGN %ld: %s was never put in", message, pgn, row.key);
        e->found = true;
        if (e->none != (row.value[0] == '\0'))
            fail_msg("message %d, PGN %ld: %s is '%s'", message, pgn, row.key, row.value);
        if (e->none)
            continue;
        good++;
        const char *point = strchr(row.value, '.');
        double rounded = 0.5 * pow(10, point ? 1.0 - (double)strlen(point) : 0);
        assert_near(strtod(row.value, NULL), e->value,
                    e->tolerance * (1 + 1e-6) + rounded * 1.001 + 1e-9 + fabs(e->value) * 1e-11);
        keep_promise(&row, pgn);
    }
    for (int i = 0; i < count; i++)
        if (!wanted[i].found && !wanted[i].quiet)
            fail_msg("message %d, PGN %ld: %s does not come out", message, pgn, wanted[i].key);
    return good;
}

static void check_vectors(const char *vectors, const char *name, int values_at_least)
{
    char folder[200], arguments[260];
    snprintf(folder, sizeof folder, "%s/%s", program_scratch(), name);
    int messages = write_logs(vectors, folder), message = -1, count = 0, values = 0;
    snprintf(arguments, sizeof arguments, "export --all '%s'", folder);
    struct outcome o = program_run(arguments, NULL);
    assert_int_equal(o.status, 0);
    char *csv = strchr(o.out, '\n') + 1;
    struct expected wanted[ROWS_MAX];
    long pgn = 0;
    for (char *rest = NULL, *line = strtok_r(slurp(vectors), "\n", &rest);;
         line = strtok_r(NULL, "\n", &rest)) {
        if (line == NULL || strncmp(line, "message ", 8) == 0) {
            if (message >= 0)
                values += compare(&csv, message, pgn, wanted, count);
            if (line == NULL)
                break;
            message++;
            count = 0;
            pgn = strtol(line + 8, NULL, 10);
            continue;
        }
        char *words = NULL;
        const char *kind = strtok_r(line, " ", &words), *key = strtok_r(NULL, " ", &words);
        struct expected *e = &wanted[count];
        bool value = kind && strcmp(kind, "value") == 0, none = kind && strcmp(kind, "none") == 0;
        if (!value && !none && !(kind && strcmp(kind, "error") == 0))
            continue;
        assert_true(count < ROWS_MAX);
        *e = (struct expected){.key = key, .none = !value, .quiet = none};
        if (value) {
            e->value = strtod(words, &words);
            e->tolerance = strtod(words, NULL);
        }
        count++;
    }
    assert_int_equal(*csv, '\0');
    print_message("%s: %d messages, %d values\n", vectors, messages, values);
    assert_true(values >= values_at_least);
    outcome_free(&o);
}

static void export__what_a_library_encoded__comes_out_and_nothing_else(void **state)
{
    (void)state;
    check_vectors("tests/vectors/iec.txt", "iec", 1000);
}

static void export__what_a_library_decoded__comes_out_and_nothing_else(void **state)
{
    (void)state;
    check_vectors("tests/vectors/j1939.txt", "j1939", 500);
}

static void export__every_promised_key__came_from_each_of_its_messages(void **state)
{
    (void)state;
    for (int i = 0; i < PROMISES; i++)
        for (int k = 0; k < 6 && promises[i].pgns[k] != 0; k++)
            if (promises[i].given[k] < 5)
                fail_msg("%s came %d times from PGN %ld", promises[i].key, promises[i].given[k],
                         promises[i].pgns[k]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(export__what_a_library_encoded__comes_out_and_nothing_else),
        cmocka_unit_test(export__what_a_library_decoded__comes_out_and_nothing_else),
        cmocka_unit_test(export__every_promised_key__came_from_each_of_its_messages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
