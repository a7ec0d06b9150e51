/* `stokehold sift` alone, for a processor that has no curses at hand. */
#include "verbs/verbs.h"

#include <locale.h>

#include "base/banned.h"

int main(int argc, char **argv)
{
    setlocale(LC_CTYPE, "");
    return verbs_flush(verb_sift(argc, argv));
}

/* Of verbs/verbs.c, which knows every verb and so needs the whole program. */
int verbs_flush(int status)
{
    return fflush(stdout) == 0 ? status : EXIT_SOURCE;
}
