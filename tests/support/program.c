#include "support/program.h"

#include "support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

static char scratch[64];
static pid_t owner; /* of the scratch: a child that ends leaves it alone */

static void scratch_remove(void)
{
    char command[96];
    if (getpid() != owner)
        return;
    snprintf(command, sizeof command, "rm -rf '%s'", scratch);
    if (system(command) != 0)
        fprintf(stderr, "cannot remove %s\n", scratch);
}

const char *program_scratch(void)
{
    if (!scratch[0]) {
        snprintf(scratch, sizeof scratch, "/tmp/stokehold-test.XXXXXX");
        assert_non_null(mkdtemp(scratch));
        owner = getpid();
        atexit(scratch_remove);
    }
    return scratch;
}

const char *program_folder(void)
{
    static char path[96];
    snprintf(path, sizeof path, "%s/XXXXXX", program_scratch());
    assert_non_null(mkdtemp(path));
    return path;
}

const char *program_file(const char *name, const char *text)
{
    static char path[160];
    snprintf(path, sizeof path, "%s/%s", program_scratch(), name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    assert_true(fputs(text, f) >= 0);
    assert_int_equal(fclose(f), 0);
    return path;
}

static char *slurp(const char *name, size_t *len)
{
    char path[160];
    snprintf(path, sizeof path, "%s/%s", program_scratch(), name);
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    long size = ftell(f);
    rewind(f);
    char *text = malloc((size_t)size + 1);
    assert_non_null(text);
    size_t n = fread(text, 1, (size_t)size, f);
    text[n] = '\0';
    fclose(f);
    if (len)
        *len = n;
    return text;
}

struct outcome program_run_with(const char *variables, const char *arguments, const char *input)
{
    struct outcome o = {0};
    char command[2048];
    const char *dir = program_scratch();
    program_file("in", input ? input : "");
    int n = snprintf(command, sizeof command, "(%s '%s' %s) <'%s/in' >'%s/out' 2>'%s/err'",
                     variables, STOKEHOLD_PROGRAM, arguments, dir, dir, dir);
    assert_true(n > 0 && (size_t)n < sizeof command);
    int status = system(command);
    assert_true(status >= 0);
    o.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    o.out = slurp("out", &o.out_len);
    o.err = slurp("err", NULL);
    return o;
}

struct outcome program_run(const char *arguments, const char *input)
{
    return program_run_with("TZ=UTC", arguments, input);
}

void outcome_free(struct outcome *o)
{
    free(o->out);
    free(o->err);
    o->out = o->err = NULL;
}

int program_drill(char path[PROGRAM_PATH], const char *name, const char *options)
{
    char arguments[500];
    snprintf(path, PROGRAM_PATH, "%s/%s", program_scratch(), name);
    snprintf(arguments, sizeof arguments, "drill %s -o '%s'", options, path);
    struct outcome o = program_run(arguments, NULL);
    int status = o.status;
    outcome_free(&o);
    return status;
}
