/* Both completions in their own shells: verbs, options, and the values that an option takes. */
#include "support/check.h"
#include "support/program.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

static const struct {
    const char *words; /* what stands on the line, the last one being completed */
    const char *offers, *never;
} rows[] = {
    {"si", "sift", "tend"},
    {"config ''", "print", "night"},
    {"watch --theme ''", "night", "--theme"},
    {"watch --color ''", "256", "can0"},
    {"sift --fail-on ''", "emergency", "--fail-on"},
    {"drill --trip ''", "trial", "impeller"},
    {"drill --fault ''", "two-boxes", "trial"},
    {"muster --check ''", "ice-water", "--check"},
    {"sift --", "--fail-on", "--theme"},
};

static bool is_offered(const char *out, const char *word)
{
    size_t len = strlen(word);
    for (const char *p = out; (p = strstr(p, word)); p += len)
        if ((p == out || p[-1] == '\n') && (p[len] == '\n' || p[len] == ':'))
            return true;
    return false;
}

/* script: takes the words as its arguments and prints what is offered, a line each. */
static void check_shell(const char *shell, const char *script)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char command[1600], path[200];
        snprintf(path, sizeof path, "%s/offered", program_scratch());
        snprintf(command, sizeof command, "%s -c '%s' x '%s' %s >'%s' 2>&1", shell, script,
                 STOKEHOLD_PROGRAM, rows[i].words, path);
        assert_int_equal(system(command), 0);
        FILE *f = fopen(path, "r");
        assert_non_null(f);
        char out[8192];
        out[fread(out, 1, sizeof out - 1, f)] = '\0';
        fclose(f);
        /* bash offers those that begin with the word, zsh leaves that to the shell */
        bool all = strcmp(shell, "zsh -f") == 0 && i == 0;
        if (!is_offered(out, rows[i].offers) || (!all && is_offered(out, rows[i].never)))
            fail_msg("%s: %s offers\n%s", shell, rows[i].words, out);
    }
}

static void completion__of_bash__offers_what_the_program_takes(void **state)
{
    (void)state;
    check_shell("bash", "source docs/completion/stokehold.bash; COMP_WORDS=(\"$@\"); "
                        "COMP_CWORD=$(($# - 1)); _stokehold; "
                        "printf \"%s\\n\" \"${COMPREPLY[@]}\"");
}

/* The functions that zsh has only while it completes are stood in for. */
static void completion__of_zsh__offers_what_the_program_takes(void **state)
{
    (void)state;
    check_shell("zsh -f", "compadd() { [ \"$1\" = -- ] && shift; print -l -- \"$@\" }; "
                          "_describe() { print -l -- ${(P)2} }; _files() { : }; "
                          "complete_it() { local -a words; words=(\"$@\"); local CURRENT=$#; "
                          "source docs/completion/_stokehold }; complete_it \"$@\"; true");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(completion__of_bash__offers_what_the_program_takes),
        cmocka_unit_test(completion__of_zsh__offers_what_the_program_takes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
