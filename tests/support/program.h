/* Runs the built program as a user's shell would and keeps what it said. */
#ifndef STOKEHOLD_TESTS_PROGRAM_H
#define STOKEHOLD_TESTS_PROGRAM_H

#include <stddef.h>

struct outcome {
    int status;      /* exit status, 128 + n for a signal */
    char *out, *err; /* NUL-terminated; outcome_free frees them */
    size_t out_len;
};

/* Runs `stokehold ARGUMENTS` through the shell (so that pipes and variables can be written), with
 * input (may be NULL) as standard input. Fails the test when it cannot be run. */
struct outcome program_run(const char *arguments, const char *input);
/* The same with variables before the program: "LC_ALL=C TZ=UTC". COMMA_LOCALE: one that writes 3,5
 * for three and a half, made by the Makefile. */
#define COMMA_LOCALE "LOCPATH=${STOKEHOLD_LOCALES:-build/locale} LC_ALL=de_DE.UTF-8"
struct outcome program_run_with(const char *variables, const char *arguments, const char *input);
void outcome_free(struct outcome *o);

/* A fresh directory for this test program, removed at exit; never ends in a slash. */
const char *program_scratch(void);
/* A fresh directory in it; its path, good until the next call. */
const char *program_folder(void);
/* Writes a file there; returns its path, good until the next call. */
const char *program_file(const char *name, const char *text);
/* Drills a trip with these options into a file there, whose path is put into path; the drill's exit
 * status, for a set-up to return. */
#define PROGRAM_PATH 200
int program_drill(char path[PROGRAM_PATH], const char *name, const char *options);

#endif
