/* Picks the verb. Everything else is in verbs/, one file a verb. */
#include "verbs/verbs.h"

#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "base/banned.h"

int main(int argc, char **argv)
{
    /* Characters follow the user's locale; numbers and times never do. */
    setlocale(LC_CTYPE, "");
    if (argc < 2) {
        verbs_help(stderr);
        return EXIT_USAGE;
    }
    const char *word = argv[1];
    if (strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0 || strcmp(word, "help") == 0) {
        verbs_help(stdout);
        return verbs_flush(EXIT_DONE);
    }
    if (strcmp(word, "--version") == 0) {
        puts("stokehold " STOKEHOLD_VERSION);
        return verbs_flush(EXIT_DONE);
    }
    const struct verb *verb = verbs_find(word);
    if (!verb) {
        verbs_unknown(word);
        return EXIT_USAGE;
    }
    return verbs_flush(verb->run(argc - 1, argv + 1));
}
