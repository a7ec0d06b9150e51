/* Part of make bench: what a season of a year of daily trips costs. A drilled boat with two engines
 * sails four trips; they are repeated day by day, kept as the program keeps them (older ones
 * thinned out), and the file is read again. Processor time, the median of many. Exit 1 beyond 2 MB
 * or 5 ms. */
#include "season/model.h"
#include "season_sail.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <time.h>

#include "base/banned.h"

#define DAY_NS (INT64_C(86400) * 1000000000)
#define TIMES  51

static double now_ms(void)
{
    struct timespec t;

    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return x < y ? -1 : x > y;
}

/* The days of a year, each one of the trips again. */
static bool repeat(const struct season *from, struct season *to)
{
    for (int day = 0; day < 365; day++) {
        int trip = day % from->trip_count, first = 0, overlaps;
        while (from->steps[first].trip != trip)
            first++;
        int64_t by_ns = day * DAY_NS - (from->trips[trip].from_ns - from->trips[0].from_ns);
        struct season_trip t = from->trips[trip];
        struct season_step *steps = malloc((size_t)from->step_count * sizeof *steps);
        int count = 0;
        for (int i = first; i < from->step_count && from->steps[i].trip == trip; i++) {
            steps[count] = from->steps[i];
            steps[count++].wall_ns += by_ns;
        }
        t.from_ns += by_ns;
        t.to_ns += by_ns;
        bool added = season_add(to, &t, steps, count, &overlaps);
        free(steps);
        if (!added)
            return false;
        season_thin(to);
    }
    return true;
}

static bool write_file(const char *path, const struct season *s)
{
    FILE *out = fopen(path, "w");

    if (!out)
        return false;
    season_write(out, s);
    return fclose(out) == 0;
}

static double median_read(const char *path)
{
    double ms[TIMES];

    for (int i = 0; i < TIMES; i++) {
        struct season s;
        struct err e;
        double from = now_ms();
        if (!season_read(path, false, &s, &e)) {
            fprintf(stderr, "%s\n", e.text);
            exit(1);
        }
        ms[i] = now_ms() - from;
        season_free(&s);
    }
    qsort(ms, TIMES, sizeof *ms, by_size);
    return ms[TIMES / 2];
}

int main(int argc, char **argv)
{
    static struct drill_season boat;
    struct season_outcome ignored = {0};
    struct season sailed = {0}, year = {0};
    struct stat st;

    if (argc != 2) {
        fputs("usage: season_read FILE\n", stderr);
        return 2;
    }
    drill_season_make(&boat, DRILL_SEASON_HEALTHY, 1, 4, 2);
    season_sail_into(&boat, &ignored, false, &sailed);
    if (!repeat(&sailed, &year) || !write_file(argv[1], &year) || stat(argv[1], &st) != 0) {
        fprintf(stderr, "cannot make %s\n", argv[1]);
        return 1;
    }
    double ms = median_read(argv[1]);
    printf("a season of 365 daily trips: %d trips and %d steps kept, %.2f MB, read in %.1f ms\n",
           year.trip_count, year.step_count, (double)st.st_size / 1e6, ms);
    bool missed = st.st_size > 2000000 || ms > 5;
    season_free(&sailed);
    season_free(&year);
    return missed;
}
