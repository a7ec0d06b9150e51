/* make bench-season: seasons of random boats, each trip's messages straight into the season watch.
 * Prints how early wear is said, and how quiet healthy boats are. SEASON_ARGS: --seed N (default:
 * the clock), --seasons N of each kind, --kind NAME, --verbose. Exit 1 where a goal is missed. */
#include "base/text.h"
#include "season_sail.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return x < y ? -1 : x > y;
}

int main(int argc, char **argv)
{
    long seed = (long)time(NULL) % 100000000, seasons = 40;
    const char *only = NULL;
    bool missed = false, verbose = false;

    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--verbose") == 0)
            verbose = true;
        else if (i + 1 < argc && strcmp(argv[i], "--kind") == 0)
            only = argv[++i];
        else if (i + 1 >= argc ||
                 !text_to_long(argv[i + 1], 0, 2000000000,
                               strcmp(argv[i], "--seed") == 0 ? &seed : &seasons)) {
            fputs("usage: season [--seed N] [--seasons N] [--kind NAME] [--verbose]\n", stderr);
            return 2;
        } else {
            i++;
        }
    }
    printf("seed %ld, %ld seasons of each kind\n", seed, seasons);
    puts("kind            seasons  <6K said   <12K warned  first word at  false cautions warnings "
         "questions");
    for (int k = 0; k < DRILL_SEASON_KINDS; k++) {
        struct season_outcome o = {0};
        const char *name = drill_season_name((enum drill_season_kind)k);

        if (only && strcmp(only, name) != 0)
            continue;
        for (int i = 0; i < seasons; i++) {
            static struct drill_season s;
            drill_season_make(&s, (enum drill_season_kind)k,
                              (uint64_t)(only ? seed + i : seed + 1000 * k + i), 0, 0);
            if (verbose)
                printf("%s seed %d: %d engines, engine %d, event %d, %s load, %s sea\n", name, i,
                       s.boat.engines, s.engine, s.event, s.sensors.no_load ? "no" : "with",
                       s.sensors.no_sea ? "no" : "with");
            season_sail(&s, &o, verbose);
        }
        qsort(o.first_k, (size_t)o.firsts, sizeof *o.first_k, by_size);
        printf("%-14s  %7d  %3d of %3d  %4d of %3d   median %4.1f K  %8d %13d %9d", name, o.seasons,
               o.early, o.due6, o.warned, o.due12, o.firsts ? o.first_k[o.firsts / 2] : NAN,
               o.cautions, o.warnings, o.questions);
        if (k == DRILL_SEASON_STRAINER)
            printf("   within its trip %d", o.strainer);
        if (k == DRILL_SEASON_BATTERY)
            printf("   before 9 %% less %d of %d", o.battery, o.due9);
        putchar('\n');
        fflush(stdout);
        bool wears = k == DRILL_SEASON_IMPELLER || k == DRILL_SEASON_SCALE;
        missed |= wears && (o.early * 10 < o.due6 * 9 || o.warned < o.due12);
        missed |= k == DRILL_SEASON_HEALTHY && (o.cautions * 10 > o.seasons || o.warnings > 0);
        missed |= k == DRILL_SEASON_BATTERY &&
                  (o.battery * 10 < o.due9 * 9 || o.cautions * 10 > o.seasons || o.warnings > 0);
        missed |= k == DRILL_SEASON_STRAINER && o.strainer * 10 < o.seasons * 9;
        missed |= (k == DRILL_SEASON_PROBE || k == DRILL_SEASON_WORN) &&
                  (o.cautions * 10 > o.seasons || o.warnings > 0);
    }
    return missed;
}
