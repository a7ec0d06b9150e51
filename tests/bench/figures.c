/* The figures of a sea trial and their errors, over many random voyages of which everything is
 * known. `figures [TRIALS [SEED]]` (400, 1); exit 1 where a goal is missed. */
#include "config/config.h"
#include "report/coverage.h"

#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
    unsigned long trials = argc > 1 ? strtoul(argv[1], NULL, 10) : 400;
    unsigned long seed = argc > 2 ? strtoul(argv[2], NULL, 10) : 1;
    struct config_messages *messages = NULL;
    struct settings *settings = config_load(NULL, &messages);
    struct coverage c = {0};
    int missed = 0;

    if (!settings)
        return 2;
    for (unsigned long i = 0; i < trials; i++)
        coverage_add(&c, settings, seed + i);
    printf("%d random sea trials, seeds from %lu\n", c.trials, seed);
    printf("%-26s %6s  %-28s %s\n", "figure", "n", "within two errors, 90 to 99 %",
           "stated over needed, at most 1.3");
    for (int f = 0; f < COVER_FIGURES; f++) {
        const struct coverage_of *of = &c.figure[f];
        double held = of->n ? coverage_held(of) : 0, wide = of->n ? coverage_wide(of) : 99;
        int bad = !(held >= 90 && held <= 99) || wide > 1.3;

        printf("%-26s %6zu  %6.1f %%                      %.2f%s\n",
               coverage_name((enum coverage_figure)f), of->n, held, wide, bad ? "  MISSED" : "");
        missed += bad;
    }
    printf("invented or negative figures: %d; cheapest speeds where there is none: %d; found: %zu "
           "of %d\n",
           c.invented, c.false_best, c.figure[COVER_BEST].n, c.best_there);
    missed += c.invented > 0 || c.false_best > 0;
    coverage_free(&c);
    settings_free(settings);
    config_messages_free(messages);
    return missed > 0;
}
