#include "verbs/verbs.h"

#include "base/text.h"

#include <errno.h>
#include <string.h>

#include "base/banned.h"

/* In the order of the help. */
static const struct verb verbs[] = {
    {"watch", "the board in the terminal, live or replaying a log", verb_watch},
    {"tend", "the same watch without a screen: warns, records, runs hooks", verb_tend},
    {"sift", "runs the rules over a log and says what happened and when", verb_sift},
    {"export", "decoded readings as CSV or JSON lines", verb_export},
    {"muster", "roll call of the bus or of a log, and what is wrong with it", verb_muster},
    {"config", "checks a configuration, prints the effective one or the reference", verb_config},
    {"trial", "sea-trial report from a log: speed, burn, economy, temperatures", verb_trial},
    {"season", "what a season's trips were like, and what slowly worsens", verb_season},
    {"drill", "writes the log of an invented trip with a chosen fault", verb_drill},
    {NULL, NULL, NULL},
};

const struct verb *verbs_find(const char *name)
{
    for (size_t i = 0; verbs[i].name; i++)
        if (strcmp(verbs[i].name, name) == 0)
            return &verbs[i];
    return NULL;
}

void verbs_help(FILE *out)
{
    fputs("stokehold keeps watch over a boat's engine room.\n\n"
          "usage: stokehold VERB [OPTIONS] SOURCE...\n\n",
          out);
    for (size_t i = 0; verbs[i].name; i++)
        fprintf(out, "  %-7s %s\n", verbs[i].name, verbs[i].does);
    fputs("\nA SOURCE is a CAN interface (can0), a log written by candump, or - for a log on\n"
          "standard input. `stokehold VERB --help` lists a verb's options; man stokehold has\n"
          "the rest. It warns; it does not replace the engine maker's alarms, a fire or CO\n"
          "detector, or a licensed technician.\n",
          out);
}

void verbs_unknown(const char *name)
{
    const char *near = NULL;
    int best = 3;
    for (size_t i = 0; verbs[i].name; i++) {
        int d = text_distance(name, verbs[i].name);
        if (d < best) {
            best = d;
            near = verbs[i].name;
        }
    }
    char shown[40];
    text_clean(shown, sizeof shown, name, strlen(name));
    fprintf(stderr, "stokehold: no verb '%s'", shown);
    if (near)
        fprintf(stderr, ", did you mean '%s'?", near);
    fputs("\nstokehold --help lists them\n", stderr);
}

int verbs_flush(int status)
{
    if ((fflush(stdout) == 0 && !ferror(stdout)) || errno == EPIPE)
        return status;
    fprintf(stderr, "stokehold: cannot write the output: %s\n", strerror(errno));
    return status == EXIT_DONE || status == EXIT_FINDINGS ? EXIT_SOURCE : status;
}
